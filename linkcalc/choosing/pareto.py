"""The Pareto front: candidates that no other one beats in every objective at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["BLOCK", "dominators", "pareto_front"]

BLOCK = 1024
"""Candidates that are compared with as many others at once."""


def pareto_front(objectives: ArrayLike, *, block: int = BLOCK) -> NDArray[np.bool_]:
    """Tell which candidates no other one dominates.

    One candidate dominates another if it is at most as large in every objective and less
    in at least one. The front is exact: no sample, no tolerance.

    Parameters
    ----------
    objectives : array, shape (candidate, objective)
        What is to be small; what is to be large comes with its sign changed. Infinite values
        are compared like others.
    block : int
        Candidates that are compared with as many others at once; it bounds the memory to
        some ten bytes times its square, and changes nothing else.

    Returns
    -------
    ndarray of bool, shape (candidate,)
        True on the front. Candidates that are alike in every objective are on it together.
        One with a nan is not on it, and dominates no other.

    Raises
    ------
    ValueError
        The array has not two axes, or `block` is less than 1.

    Notes
    -----
    Sorted by their objectives in turn, a candidate can only be dominated by one before it,
    and then by one on the front: domination is transitive. So each block is held against the
    front found so far, then against itself, and the first objective need not be compared
    again.

    References
    ----------
    .. [1] The definition of efficiency in multiple-objective optimisation (any textbook on it).

    Examples
    --------
    Mass and price of four servos; the third is heavier and dearer than the first:

    >>> pareto_front([[9.0, 12.0], [12.0, 8.0], [10.0, 13.0], [9.0, 12.0]]).tolist()
    [True, True, False, True]
    """
    values = _columns(objectives, block)
    known = np.flatnonzero(~np.isnan(values).any(axis=1))
    front = np.zeros(len(values), dtype=np.bool_)
    if not values.shape[1] or not known.size:  # without an objective nothing is less than another
        front[known] = True
        return front
    order = known[np.lexsort(values[known].T[::-1])]
    ordered = values[order]
    alike = np.r_[0, np.cumsum((ordered[1:] != ordered[:-1]).any(axis=1))]
    distinct = ordered[np.flatnonzero(np.diff(alike, prepend=-1))]
    front[order] = _front_of_sorted(distinct, block)[alike]
    return front


def _columns(objectives: ArrayLike, block: int) -> Floats:
    values = np.asarray(objectives, dtype=np.float64)
    if values.ndim != 2:
        raise ValueError(
            f"objectives has the shape {values.shape}; expected (candidate, objective)"
        )
    if block < 1:
        raise ValueError(f"block is {block}; expected 1 or more")
    return values


def _front_of_sorted(distinct: Floats, block: int) -> NDArray[np.bool_]:
    """Find the front of rows that are all different and in ascending order."""
    on_front = np.zeros(len(distinct), dtype=np.bool_)
    rest = distinct[:, 1:]  # the first objective is in order already
    for start in range(0, len(distinct), block):
        alive = np.arange(start, min(start + block, len(distinct)))
        members = np.flatnonzero(on_front[:start])
        for first in range(0, members.size, block):
            beaten = _not_above(rest[members[first : first + block]], rest[alive]).any(axis=1)
            alive = alive[~beaten]
        earlier = np.tri(alive.size, k=-1, dtype=np.bool_)
        beaten = (_not_above(rest[alive], rest[alive]) & earlier).any(axis=1)
        on_front[alive[~beaten]] = True
    return on_front


def _not_above(those: Floats, these: Floats) -> NDArray[np.bool_]:
    """Tell, by (this, that), where that is at most as large as this in every column."""
    found = np.ones((len(these), len(those)), dtype=np.bool_)
    for column in range(these.shape[1]):
        found &= those[:, column] <= these[:, column, np.newaxis]
    return found


def dominators(objectives: ArrayLike, among: ArrayLike, *, block: int = BLOCK) -> Whole:
    """Name for every candidate one that dominates it.

    Parameters
    ----------
    objectives : array, shape (candidate, objective)
        As for `pareto_front`.
    among : array of int, shape (other,)
        Candidates to look among, the one to be named first in front: the front, in the order of
        a ranking.
    block : int
        As for `pareto_front`.

    Returns
    -------
    ndarray of int, shape (candidate,)
        The first of `among` that dominates the candidate; -1 where none does.

    Raises
    ------
    ValueError
        As `pareto_front`.

    Examples
    --------
    >>> dominators([[9.0, 12.0], [12.0, 8.0], [10.0, 13.0]], [1, 0]).tolist()
    [-1, -1, 0]
    """
    values = _columns(objectives, block)
    others = np.asarray(among, dtype=np.intp)
    found = np.full(len(values), -1, dtype=np.intp)
    for start in range(0, len(values), block):
        these = values[start : start + block]
        for first in range(0, others.size, block):
            those = others[first : first + block]
            dominates = _not_above(values[those], these)
            dominates &= ~_not_above(-values[those], -these)  # not alike: less in at least one
            named = dominates.any(axis=1) & (found[start : start + block] < 0)
            found[start : start + block][named] = those[dominates[named].argmax(axis=1)]
    return found
