"""Drag of an aircraft from its lift: a parabola or a table, and what a propeller adds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    Floats: TypeAlias = float | Array

__all__ = ["Table", "drag_coefficient", "table"]


class Table(NamedTuple):
    """A function known at points and linear between them.

    Attributes
    ----------
    at : ndarray, shape (point,)
        Ascending.
    value : ndarray, shape (point,)
        There.
    """

    at: Array
    value: Array


def table(name: str, at: Floats, value: Floats, *, least: float = -math.inf) -> Table:
    """Make a table, and refuse one that is none.

    Parameters
    ----------
    name : str
        What the two columns belong to, for a message.
    at : array, shape (point,)
        Where the values are known, ascending.
    value : array, shape (point,)
        The values.
    least : float
        Least value that makes sense.

    Returns
    -------
    Table
        The two as float64 arrays.

    Raises
    ------
    InputError
        Fewer than two points, columns of different length, a number that is not finite,
        points that do not ascend, or a value below the least.

    Examples
    --------
    >>> table("polar", [0.0, 1.0], [0.02, 0.05]).value.tolist()
    [0.02, 0.05]
    """
    points, values = np.asarray(at, dtype=np.float64), np.asarray(value, dtype=np.float64)
    expected = "two columns of the same length, at least two rows of finite numbers"
    if points.ndim != 1 or points.shape != values.shape or len(points) < 2:
        raise InputError(
            name,
            told(f"columns of shape {points.shape} and {values.shape}"),
            expected,
            "Give a value for every point.",
        )
    if not (np.isfinite(points).all() and np.isfinite(values).all()):
        raise InputError(name, told("a number that is not finite"), expected, "Mend the row.")
    falls = np.nonzero(np.diff(points) <= 0)[0]
    if falls.size:
        raise InputError(
            name,
            told(f"{points[falls[0] + 1]:g} after {points[falls[0]]:g} in the first column"),
            "rows in ascending order, each point once",
            "Sort the rows, and give each point once.",
        )
    low = np.nonzero(values < least)[0]
    if low.size:
        raise InputError(
            name,
            told(f"{values[low[0]]:g} at {points[low[0]]:g}"),
            f"values of {least:g} or more",
            "Mend the row; a drag below zero would be a thrust.",
        )
    return Table(points, values)


def drag_coefficient(
    *, lift: Floats, zero_lift_drag: Floats, induced_factor: Floats, polar: Table | None = None
) -> Floats:
    r"""Drag coefficient at a lift coefficient.

    .. math:: C_D = C_{D0} + k C_L^2

    Parameters
    ----------
    lift : float or array, shape (...)
        Lift coefficient C_L [1].
    zero_lift_drag, induced_factor : float or array, shape (...)
        C_D0 and k [1].
    polar : Table, optional
        C_D against C_L [1]: the parabola is then not used. Linear between the points.

    Returns
    -------
    float or array, shape (...)
        C_D, referred to the wing area [1]; nan where a table does not reach.

    Examples
    --------
    >>> round(drag_coefficient(lift=0.5, zero_lift_drag=0.02, induced_factor=0.04), 4)
    0.03
    """
    if polar is None:
        return zero_lift_drag + induced_factor * lift**2
    return np.interp(lift, polar.at, polar.value, left=np.nan, right=np.nan)
