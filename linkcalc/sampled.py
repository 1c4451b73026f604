"""Numbers that stand for many samples at once, and what happens where samples part ways.

A description whose quantities are `Sampled` goes through the same rules and the same
preparation as one of plain numbers. Arithmetic acts on all samples; a question is answered
where all samples answer alike, and else raises `Apart`, so that whoever asked can take
each side by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]
    T = TypeVar("T")

__all__ = [
    "Apart",
    "Sampled",
    "Unsampled",
    "is_sampled",
    "parted",
    "sampled",
    "scalar",
    "side_by_side",
]


class Apart(Exception):  # noqa: N818 - no error: a way that forks
    """Samples answer a question differently.

    Parameters
    ----------
    answer : ndarray of bool, shape (sample,)
        Of every sample.
    """

    def __init__(self, answer: NDArray[np.bool_]) -> None:
        super().__init__("samples answer a question differently")
        self.answer = answer


class Unsampled(Exception):  # noqa: N818 - no error: it has to be done one by one
    """Samples have come where only single numbers can be worked with."""


class Sampled(np.ndarray[Any, Any]):
    """An array whose first axis is that of samples; a number for each where it has no other.

    In words it is the first sample. Its truth is that of all samples, or `Apart` is raised.
    """

    def __bool__(self) -> bool:
        answer = np.asarray(self, dtype=np.bool_)
        if answer.ndim > 1:
            raise ValueError("the truth of several numbers of each sample")
        if answer.all() or not answer.any():
            return bool(answer.flat[0])
        raise Apart(answer)

    def __format__(self, words: str) -> str:
        return format(np.asarray(self).flat[0].item(), words)


def sampled(values: Any) -> Sampled:
    """Return numbers as those of samples.

    Parameters
    ----------
    values : array_like, shape (sample, ...)
        At least one sample.

    Returns
    -------
    Sampled
        Without copying where it is an array.

    Examples
    --------
    >>> arm = sampled([0.012, 0.013])
    >>> bool(arm > 0), f"{1000 * arm:g} mm"
    (True, '12 mm')
    """
    return np.asarray(values).view(Sampled)


def is_sampled(value: Any) -> bool:
    """Tell whether something stands for many samples.

    Parameters
    ----------
    value : object
        Anything.

    Returns
    -------
    bool
        Whether it is `Sampled`.
    """
    return isinstance(value, Sampled)


def scalar(value: Any) -> float:
    """Return what a kernel returned as one number: a float, or as many as there are samples.

    Parameters
    ----------
    value : float or ndarray, shape () or (sample,)
        Kernels return plain arrays, whatever they were given.

    Returns
    -------
    float or Sampled
        For arithmetic both are the same.
    """
    return sampled(value) if np.ndim(value) else float(value)  # type: ignore[return-value] # as said


def parted(which: Whole, work: Callable[[Whole], T]) -> Iterator[tuple[Whole, T]]:
    """Do some work for samples, apart where they answer a question differently.

    Parameters
    ----------
    which : ndarray of int, shape (sample,)
        The samples.
    work : callable
        Which of them, at least one, to whatever comes of it. May raise `Apart`, whose answers
        begin with those of these samples.

    Yields
    ------
    tuple
        Samples that went together, and what came of them.

    Examples
    --------
    >>> arm = sampled([1.0, 3.0, 2.0])
    >>> sized = lambda which: "long" if arm[which] > 1.5 else "short"
    >>> [(which.tolist(), words) for which, words in parted(np.arange(3), sized)]
    [([1, 2], 'long'), ([0], 'short')]
    """
    waiting = [which]
    while waiting:
        part = waiting.pop()
        try:
            made = work(part)
        except Apart as apart:
            answer = apart.answer[: len(part)]
            waiting += [part[~answer], part[answer]]
        else:
            yield part, made


def side_by_side(values: Sequence[Any], own: int = 0) -> Floats:
    """Put numbers, or arrays of one shape, side by side along a new axis.

    Parameters
    ----------
    values : sequence of float or ndarray
        Plain ones have the axes of their own alone; sampled ones that of samples in front.
    own : int
        Axes of each that are not that of samples.

    Returns
    -------
    ndarray, shape (value, own...) or (sample, value, own...)
        The latter, and `Sampled`, where one of them is.

    Examples
    --------
    >>> side_by_side([1.0, 2.0]).tolist(), side_by_side([1.0, sampled([2.0, 3.0])]).tolist()
    ([1.0, 2.0], [[1.0, 2.0], [1.0, 3.0]])
    """
    if Sampled not in map(type, values):
        return np.array(values, dtype=np.float64)
    wide = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values))
    return np.stack(wide, axis=-1 - own).view(Sampled)
