"""Constraints on candidates: which remain, which constraint removed the others, and the last one."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["Constraint", "Selection", "select", "why_empty"]


class Constraint(NamedTuple):
    """What a candidate has to fulfil.

    Attributes
    ----------
    name : str
        As a flyer says it, such as ``"mass at most 20 g"``.
    holds : ndarray of bool, shape (...)
        By candidate; broadcasts to the axes of all candidates, so that what depends on the
        servo alone has one value for each servo.
    figures : ndarray or None, shape (...)
        What was compared, for the reason; nan says that it is not known.
    unit : str
        Of the figures, as it is to be shown.
    details : sequence of str
        Words for every candidate, where there is more to say.
    """

    name: str
    holds: NDArray[np.bool_]
    figures: NDArray[np.float64] | None = None
    unit: str = ""
    details: Sequence[str] = ()

    def taken(self, places: NDArray[np.intp]) -> Constraint:
        """Return the constraint on candidates that share what it is about.

        Parameters
        ----------
        places : ndarray of int, shape (candidate,)
            Which of the things that this one is about each candidate has: its servo, say.

        Returns
        -------
        Constraint
            With a value for each candidate.
        """
        figures = None if self.figures is None else self.figures[places]
        words = [self.details[place] for place in places.tolist()] if len(self.details) else ()
        return self._replace(holds=self.holds[places], figures=figures, details=words)


class Selection(NamedTuple):
    """What remains of some candidates.

    Attributes
    ----------
    kept : ndarray of bool, shape of the candidates
        Those that fulfil every constraint.
    removed_by : ndarray of int, same shape
        Index of the first constraint that a candidate does not fulfil; -1 if it is kept.
    left : tuple of int
        Candidates left after each constraint, in their order.
    alone : tuple of int
        Candidates that this constraint alone removes: what dropping it would bring back.
    emptied_by : str or None
        Name of the constraint that removed the last candidate.
    """

    kept: NDArray[np.bool_]
    removed_by: NDArray[np.intp]
    left: tuple[int, ...]
    alone: tuple[int, ...]
    emptied_by: str | None


def select(constraints: Sequence[Constraint], shape: tuple[int, ...]) -> Selection:
    """Apply constraints in their order.

    Parameters
    ----------
    constraints : sequence of Constraint
        The order matters only to which of several is named, never to what remains.
    shape : tuple of int
        Axes of the candidates.

    Returns
    -------
    Selection
        What remains, and what removed the rest.

    Raises
    ------
    ValueError
        A constraint does not broadcast to the shape.

    Examples
    --------
    >>> found = select(
    ...     [
    ...         Constraint("light", np.array([True, True, False])),
    ...         Constraint("cheap", np.array([False, False, True])),
    ...     ],
    ...     (3,),
    ... )
    >>> found.left, found.removed_by.tolist(), found.emptied_by
    ((2, 0), [1, 1, 0], 'cheap')
    """
    kept = np.ones(shape, dtype=np.bool_)
    removed_by = np.full(shape, -1, dtype=np.intp)
    broken = np.zeros(shape, dtype=np.intp)
    left, emptied_by, before = [], None, kept.size
    for index, constraint in enumerate(constraints):
        holds = np.broadcast_to(constraint.holds, shape)
        removed_by[kept & ~holds] = index
        kept &= holds
        broken += ~holds
        left.append(int(np.count_nonzero(kept)))
        if before and not left[-1]:
            emptied_by = constraint.name
        before = left[-1]
    only = broken == 1
    alone = [int(np.count_nonzero(only & (removed_by == at))) for at in range(len(constraints))]
    return Selection(kept, removed_by, tuple(left), tuple(alone), emptied_by)


def why_empty(constraints: Sequence[Constraint], selection: Selection) -> str:
    """Say in words why nothing remains, and what would help.

    Parameters
    ----------
    constraints : sequence of Constraint
        That were applied.
    selection : Selection
        What `select` made of them.

    Returns
    -------
    str
        Empty where something remains.

    Examples
    --------
    >>> light = Constraint("mass at most 20 g", np.array([True, False]))
    >>> cheap = Constraint("price at most 9 EUR", np.array([False, False]))
    >>> why_empty([light, cheap], select([light, cheap], (2,)))
    "'price at most 9 EUR' removed the last 1 of 2 candidates; without it 1 would remain."
    """
    count = math.prod(selection.kept.shape)
    if not count:
        return "There are no candidates."
    if selection.emptied_by is None:
        return ""
    at = next(index for index, left in enumerate(selection.left) if not left)
    before = selection.left[at - 1] if at else count
    helps = [
        f"without {'it' if index == at else repr(constraint.name)} {gain} would remain"
        for index, (constraint, gain) in enumerate(zip(constraints, selection.alone, strict=True))
        if gain
    ]
    remedy = ", ".join(helps) or "no single constraint is to blame"
    return f"{selection.emptied_by!r} removed the last {before} of {count} candidates; {remedy}."
