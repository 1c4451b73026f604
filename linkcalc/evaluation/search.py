"""The greatest values of functions of deflection, for all runs and cases at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = [
    "CLOSE",
    "FINER_NODES",
    "Greatest",
    "Look",
    "Seen",
    "beside",
    "best_of_some",
    "every_function",
    "greatest",
    "nodes",
]


class Look(NamedTuple):
    """How closely to look.

    Attributes
    ----------
    nodes : int
        Positions from end to end at first.
    zooms : int
        How often to look closer around the best one, at most.
    details : bool
        Whether to look at the governing deflections once more for all that is told of
        them, or for the largest values alone.
    """

    nodes: int
    zooms: int
    details: bool = True


CLOSE = Look(nodes=61, zooms=8)
"""For a check."""

FINER_NODES = 17
"""Nodes between the neighbours of the best one, when it is looked at more closely."""

_GOOD = 1e-7  # of the value: ten times finer than what is promised
_TIE = 1e-9


class Greatest(NamedTuple):
    """Where functions are greatest.

    Attributes
    ----------
    at : ndarray, shape (function, ...)
        Position; of equal ones the most positive.
    value : ndarray, shape (function, ...)
        Value there.
    """

    at: Floats
    value: Floats


def nodes(low: Floats, high: Floats, count: int = CLOSE.nodes) -> Floats:
    """Return evenly spaced positions from `low` to `high`, zero among them where it lies between.

    Parameters
    ----------
    low, high : ndarray, shape (...)
        Ends.
    count : int
        How many.

    Returns
    -------
    ndarray, shape (..., count)
        Ascending; the one nearest to zero is moved onto it. In memory the nodes come first, and
        so they do in whatever is computed from them: numpy walks along the long rows of the rest.

    Examples
    --------
    >>> nodes(np.array(-0.1), np.array(0.3), count=4).round(3).tolist()
    [-0.1, 0.0, 0.167, 0.3]
    """
    low, high = np.asarray(low), np.asarray(high)
    width, share = high - low, np.linspace(0.0, 1.0, count)
    made: Floats = low + width * share.reshape(-1, *(1,) * width.ndim)
    made[-1] = high
    inner = (low < 0) & (high > 0)
    if inner.any():
        middle = np.where(inner, -low / np.where(inner, width, 1.0), 0.5) * (count - 1)
        at = np.clip(np.rint(middle), 1, count - 2).astype(np.intp)[None]
        neutral = np.where(inner, 0.0, np.take_along_axis(made, at, 0)[0])
        np.put_along_axis(made, at, neutral[None], 0)
    return np.moveaxis(made, 0, -1)


def every_function(values: Sequence[Floats]) -> Floats:
    """Return several functions of a row of nodes in one array.

    Parameters
    ----------
    values : sequence of ndarray, shape (..., n)
        They broadcast together.

    Returns
    -------
    ndarray, shape (function, ..., n)
        The nodes first in memory, as `nodes` has them.
    """
    alike = all(each.shape == values[0].shape for each in values)
    each = values if alike else np.broadcast_arrays(*values)
    return np.moveaxis(np.stack([np.moveaxis(one, -1, 0) for one in each], axis=1), 0, -1)


def _pick(array: Floats, index: NDArray[np.intp]) -> Floats:
    """Return the values at places along the last axis; other axes of length 1 serve all rows."""
    first = np.moveaxis(array, -1, 0)
    rows = np.arange(first[0].size).reshape(first[0].shape)
    return first.reshape(-1).take(index * rows.size + rows)


def _best(value: Floats) -> NDArray[np.intp]:
    """Return the index of the greatest value; of ties the last, which is the most positive."""
    top = value.max(-1, keepdims=True)
    if np.isfinite(top).all():  # there is no nan, nor infinity
        tied = value >= top - _TIE * np.abs(top)
    else:
        filled = np.where(np.isnan(value), -np.inf, value)
        top = filled.max(-1, keepdims=True)
        tied = filled >= top - _TIE * np.abs(np.where(np.isfinite(top), top, 0.0))
    from_last: NDArray[np.intp] = np.argmax(tied[..., ::-1], axis=-1)
    return np.asarray(value.shape[-1] - 1 - from_last)


def _at_end(value: Floats, index: NDArray[np.intp]) -> Flags:
    """Tell whether the best node is an end of the range towards which the function still rises."""
    first, last = (_rises(*(value[..., at] for at in ends)) for ends in ((0, 1, 2), (-1, -2, -3)))
    return np.asarray(((index == value.shape[-1] - 1) & last) | ((index == 0) & first))


def _rises(end: Floats, near: Floats, far: Floats) -> Flags:
    """Tell whether a function rises towards an end of its range.

    The slope at the end is taken from the last three nodes, with half again the
    correction for curvature that a parabola would need.
    """
    step = end - near
    return np.asarray(step + 0.75 * np.minimum(step - (near - far), 0.0) > 0)


def greatest(
    function: Callable[[Floats], Floats], start: Floats, zooms: int = CLOSE.zooms
) -> Greatest:
    """Find the greatest value of several functions between two ends, to 1e-6 of the value.

    Parameters
    ----------
    function : callable
        Positions, shape (1, ..., n) or (function, ..., n), to values of every function,
        shape (function, ..., n); nan is passed over. The first time it is given `start`
        itself.
    start : ndarray, shape (1, ..., n) or (function, ..., n)
        Positions from end to end, as `nodes` makes them, nan where there is no range.
    zooms : int
        How often to look closer, at most.

    Returns
    -------
    Greatest
        Position and value of each function; nan where there is no range or no value.

    Notes
    -----
    The nodes of `start` first, then ever finer ones around the best of them, until its
    neighbours are as good as equal, or it is an end of the range towards which the
    function rises. A peak narrower than the first interval can be missed; hinge moments
    and linkage slopes have none.

    Examples
    --------
    >>> found = greatest(lambda x: 1 - (x - 0.2) ** 2, nodes(np.array([-1.0]), np.array([1.0])))
    >>> round(float(found.at[0]), 3), round(float(found.value[0]), 6)
    (0.2, 1.0)
    """
    low, high = start[..., 0], start[..., -1]
    position, value = start, function(start)
    if zooms <= 1:
        best = _best(value)
        top = _pick(value, best)
        return Greatest(np.where(np.isnan(top), np.nan, _pick(start, best)), top)
    seen = beside(value)
    at, top, done = _pick(start, seen.best), seen.value, seen.close | seen.at_end
    for _ in range(zooms - 1):
        if done.all():
            break
        left, right = (_pick(position, each) for each in seen.beside)
        position = nodes(left, right, FINER_NODES)
        seen = beside(function(position))
        here = _pick(position, seen.best)
        # What has settled stays, whatever the others need.
        at, top = np.where(done, at, here), np.where(done, top, seen.value)
        done = done | seen.close | (here == low) | (here == high)
    return Greatest(np.where(np.isnan(top), np.nan, at), top)


class Seen(NamedTuple):
    """The best of a row of nodes.

    Attributes
    ----------
    best : ndarray of int, shape (...)
        Which; of equal ones the last.
    beside : two ndarray of int, shape (...)
        The nodes next to it, itself at an end of the row.
    value : ndarray, shape (...)
        Its value; nan where there is none.
    close : ndarray of bool, shape (...)
        Whether its neighbours are as good as equal, or there is no value.
    at_end : ndarray of bool, shape (...)
        Whether it is an end of the row towards which the function still rises.
    """

    best: NDArray[np.intp]
    beside: tuple[NDArray[np.intp], NDArray[np.intp]]
    value: Floats
    close: Flags
    at_end: Flags


def beside(value: Floats) -> Seen:
    """Look at the best of a row of nodes and its neighbours.

    Parameters
    ----------
    value : ndarray, shape (..., n)
        At ascending positions; nan is passed over.

    Returns
    -------
    Seen
        The best of each row.
    """
    index, last = _best(value), value.shape[-1] - 1
    best, near = _pick(value, index), (np.maximum(index - 1, 0), np.minimum(index + 1, last))
    lesser = np.fmin(*(_pick(value, item) for item in near))
    return Seen(index, near, best, _close(best, lesser), _at_end(value, index))


def _close(best: Floats, lesser: Floats) -> Flags:
    """Tell whether the lesser of two neighbours is as good as equal, or there is no range."""
    return np.asarray(~(best - lesser > _GOOD * np.abs(best)))


def best_of_some(
    function: Callable[[NDArray[np.intp]], Floats], kept: NDArray[np.intp], last: int
) -> tuple[NDArray[np.intp], Floats, Flags]:
    """Look for the best node of long rows among a few, of many functions on every row.

    Parameters
    ----------
    function : callable
        Nodes, shape (node, row), to values there, shape (node, row, function).
    kept : ndarray of int, shape (node, row)
        Among these nodes are the best ones; ascending.
    last : int
        The last node of a row, of all that there are.

    Returns
    -------
    node, value, settled : ndarray, shape (row, function)
        The best one, its value, and whether `beside` would call it close or at an end.
    """
    value = filled = function(kept)
    top = value.max(0)
    reached = top - _TIE * np.abs(top)
    if np.isnan(reached).any():
        filled = np.fmax(value, -np.inf)
        top = filled.max(0)
        reached = top - _TIE * np.abs(np.where(np.isfinite(top), top, 0.0))
    node, best = np.empty(top.shape, dtype=np.intp), np.empty(top.shape)
    settled = np.empty(top.shape, dtype=np.bool_)
    for each, here, known in zip(kept, value, filled, strict=True):
        wins = known >= reached  # of equal ones the last
        if not wins.any():
            continue
        near = function(np.stack((np.maximum(each - 1, 0), np.minimum(each + 1, last))))
        done = _close(here, np.fmin(*near))
        for end, inwards in ((0, 1), (last, -1)):
            there = (each == end)[:, None]
            if there.any():
                three = np.add.outer([end, end + inwards, end + 2 * inwards], 0 * each)
                done |= there & _rises(*function(three))
        for room, found in ((node, each[:, None]), (best, here), (settled, done)):
            np.copyto(room, found, where=wins)
    return node, best, settled
