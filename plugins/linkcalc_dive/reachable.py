"""What the servo lets the elevator reach, asked once and kept as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import SolverError
from linkcalc_dive.polar import Table

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["upward"]

_FIRST = 65  # pressures asked for, evenly spaced in their square root
_ROUNDS = 14
_CLOSE = 2e-6  # rad, between what is asked and the straight line beside it
_MOST = 20_000


def upward(reach: Callable[[Floats], tuple[Floats, Floats]], greatest: float) -> Table:
    """Ask how far up the elevator is reached, closely enough for straight lines between.

    Parameters
    ----------
    reach : callable
        From dynamic pressures, shape (n,) [Pa], to the deflections reached on the negative
        and the positive side, each of shape (n,) [rad]; nan where undefined.
    greatest : float
        Up to which pressure, more than zero [Pa].

    Returns
    -------
    Table
        Deflection on the negative side against dynamic pressure; nan where it is undefined.

    Raises
    ------
    SolverError
        What was called returned another shape, or a value on the wrong side of zero.

    Notes
    -----
    Intervals are halved until the value in the middle is within 2e-6 rad of the straight
    line, at most 14 times, so that a bend is found where it is. Where the curve is undefined
    it is followed to the last pressure asked for that is defined.

    Examples
    --------
    >>> found = upward(lambda q: (-np.minimum(0.3, 60.0 / np.maximum(q, 1.0)), 0.3 + 0 * q), 400.0)
    >>> round(float(np.interp(300.0, found.at, found.value)), 4)
    -0.2
    """
    at = greatest * np.linspace(0.0, 1.0, _FIRST) ** 2
    value = _asked(reach, at)
    low, high = np.arange(_FIRST - 1), np.arange(1, _FIRST)
    for _ in range(_ROUNDS):
        middle = 0.5 * (at[low] + at[high])
        there = _asked(reach, middle)
        straight = 0.5 * (value[low] + value[high])
        off = ~(np.abs(there - straight) <= _CLOSE) & ~(np.isnan(there) & np.isnan(straight))
        number = len(at) + np.arange(len(middle))
        at, value = np.concatenate((at, middle)), np.concatenate((value, there))
        low, high = (
            np.concatenate((low[off], number[off])),
            np.concatenate((number[off], high[off])),
        )
        if not low.size or len(at) > _MOST:
            break
    order = np.argsort(at, kind="stable")
    return Table(at[order], value[order])


def _asked(reach: Callable[[Floats], tuple[Floats, Floats]], at: Floats) -> Floats:
    low, high = (np.asarray(side, dtype=np.float64) for side in reach(at))
    if low.shape != at.shape or high.shape != at.shape:
        raise SolverError(
            f"reach(q) returned shapes {low.shape} and {high.shape} instead of {at.shape}."
        )
    if np.any(low > 0) or np.any(high < 0):
        raise SolverError(
            "reach(q) returned a deflection on the wrong side of zero; the negative side comes first."
        )
    return low
