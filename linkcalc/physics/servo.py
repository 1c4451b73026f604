"""Datasheet curves of a servo: torque, speed and current against voltage.

A datasheet prints a few rows, each at one voltage, of four columns: stall
torque, no-load speed, stall current and no-load current. Here the rows become
curves of voltage, and at any one voltage the straight lines of a permanent
magnet motor behind a gearbox join the no-load point to the stalled one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = float | NDArray[np.float64]

__all__ = [
    "Curves",
    "below_first_row",
    "current",
    "curves",
    "no_load_current",
    "no_load_speed",
    "rate",
    "speed_line",
    "stall_current",
    "stall_torque",
]

_TINY = float(np.finfo(np.float64).tiny)


class Curves(NamedTuple):
    """Columns of a datasheet as sums of ramps, one ramp for each row.

    Ramp k rises from the voltage of row k - 1 to that of row k, the first one
    from zero volts, and is level elsewhere. All arrays have the shape
    (..., servo, row) and are made by `curves`.
    """

    ramp_start: NDArray[np.float64]
    """Voltage at which each ramp begins [V]."""
    ramp_width: NDArray[np.float64]
    """Voltage over which each ramp rises; zero for a repeated row [V]."""
    stall_torque_slope: NDArray[np.float64]
    """Rise of the stall torque on each ramp [N m/V]."""
    no_load_speed_slope: NDArray[np.float64]
    """Rise of the no-load speed on each ramp [rad/(s V)]."""
    stall_current_slope: NDArray[np.float64]
    """Rise of the stall current on each ramp [A/V]."""
    no_load_current_slope: NDArray[np.float64]
    """Rise of the no-load current on each ramp [A/V]."""


def curves(
    *,
    voltage: Floats,
    stall_torque: Floats,
    no_load_speed: Floats,
    stall_current: Floats,
    no_load_current: Floats,
) -> Curves:
    """Curves through the rows of a datasheet.

    Between two rows every column is linear in the voltage. Below the first
    row every column goes to zero linearly with the voltage. Above the last
    row the figures of the last row stand.

    Parameters
    ----------
    voltage : array, shape (..., servo, row)
        Voltage of each row, more than zero and ascending along the last axis
        [V]. A servo with fewer rows than another repeats its last row.
    stall_torque : array, shape (..., servo, row)
        Torque at which the shaft stops, more than zero [N m].
    no_load_speed : array, shape (..., servo, row)
        Speed of the free shaft, more than zero [rad/s].
    stall_current : array, shape (..., servo, row)
        Current of the stopped servo, more than `no_load_current` [A].
    no_load_current : array, shape (..., servo, row)
        Current of the free shaft at speed, zero or more [A].

    Returns
    -------
    Curves
        Arrays of the shape to which the arguments broadcast. nan in a row
        gives nan out on the ramps that meet in it, and so at every voltage.

    Notes
    -----
    That torque, speed and current fall in proportion to the voltage below
    the first row is the straight-line motor without losses at its brushes,
    and it is optimistic where the electronics of a servo shut down first;
    `below_first_row` tells where it was used. That nothing rises above the
    last row is a choice on the safe side for torque. Values are not checked
    here: that is done once, where the quantities enter.

    Examples
    --------
    One servo with two rows, at 5 V and at 6 V:

    >>> rows = curves(
    ...     voltage=np.array([[5.0, 6.0]]),
    ...     stall_torque=np.array([[1.0, 1.4]]),
    ...     no_load_speed=np.array([[6.0, 7.0]]),
    ...     stall_current=np.array([[1.5, 1.9]]),
    ...     no_load_current=np.array([[0.2, 0.2]]),
    ... )
    >>> [float(stall_torque(rows, np.array([v]))[0]) for v in (0.0, 2.5, 5.5, 9.0)]
    [0.0, 0.5, 1.2, 1.4]
    """
    rows = np.broadcast_arrays(
        *(
            np.asarray(column, dtype=np.float64)
            for column in (voltage, stall_torque, no_load_speed, stall_current, no_load_current)
        )
    )
    end = np.array(rows[0])
    start = np.zeros_like(end)
    start[..., 1:] = end[..., :-1]
    width = end - start
    # A repeated row has no width, and then its ramp must not rise. nan stays nan.
    run = np.where(width == 0.0, np.inf, width)
    slopes = []
    for column in rows[1:]:
        rise = np.array(column)
        rise[..., 1:] -= column[..., :-1]
        slopes.append(rise / run)
    return Curves(start, width, *slopes)


def _column(curves: Curves, slope: NDArray[np.float64], voltage: Floats) -> NDArray[np.float64]:
    """Value of one column at a voltage [the column's unit]."""
    return _columns(curves, (slope,), voltage)[0]


def _columns(
    curves: Curves, slopes: tuple[NDArray[np.float64], ...], voltage: Floats
) -> list[NDArray[np.float64]]:
    """Values of several columns at a voltage [each column's unit]."""
    totals: list[NDArray[np.float64]] = []
    # Rows are few and servos many: one pass for each row keeps the long axes innermost.
    for row in range(curves.ramp_width.shape[-1]):
        past = voltage - curves.ramp_start[..., row]
        climbed = np.minimum(np.maximum(past, 0.0), curves.ramp_width[..., row])
        terms = [slope[..., row] * climbed for slope in slopes]
        totals = [total + term for total, term in zip(totals, terms, strict=True)] if row else terms
    return totals


def stall_torque(curves: Curves, voltage: Floats) -> NDArray[np.float64]:
    """Torque at which the shaft stops.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V]. A negative voltage counts as none.

    Returns
    -------
    array, shape (..., servo)
        Stall torque T_s, zero or more [N m]. nan in gives nan out.

    Examples
    --------
    >>> row = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 6.0}
    >>> rows = curves(
    ...     **{name: np.array([[value]]) for name, value in row.items()},
    ...     stall_current=np.array([[2.0]]),
    ...     no_load_current=np.array([[0.2]]),
    ... )
    >>> stall_torque(rows, np.array([5.0]))
    array([0.25])
    """
    return _column(curves, curves.stall_torque_slope, voltage)


def no_load_speed(curves: Curves, voltage: Floats) -> NDArray[np.float64]:
    """Speed of the free shaft.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V]. A negative voltage counts as none.

    Returns
    -------
    array, shape (..., servo)
        No-load speed omega_0, zero or more [rad/s]. nan in gives nan out.
    """
    return _column(curves, curves.no_load_speed_slope, voltage)


def speed_line(curves: Curves, voltage: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ends of the straight line of speed over torque.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V]. A negative voltage counts as none.

    Returns
    -------
    speed, torque : array, shape (..., servo)
        As `no_load_speed` [rad/s] and `stall_torque` [N m] have them.
    """
    slopes = curves.no_load_speed_slope, curves.stall_torque_slope
    speed, torque = _columns(curves, slopes, voltage)
    return speed, torque


def stall_current(curves: Curves, voltage: Floats) -> NDArray[np.float64]:
    """Current of the stopped servo.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V]. A negative voltage counts as none.

    Returns
    -------
    array, shape (..., servo)
        Stall current I_s, zero or more [A]. nan in gives nan out.
    """
    return _column(curves, curves.stall_current_slope, voltage)


def no_load_current(curves: Curves, voltage: Floats) -> NDArray[np.float64]:
    """Current of the free shaft at speed.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V]. A negative voltage counts as none.

    Returns
    -------
    array, shape (..., servo)
        No-load current I_0, zero or more [A]. nan in gives nan out.
    """
    return _column(curves, curves.no_load_current_slope, voltage)


def below_first_row(curves: Curves, voltage: Floats) -> NDArray[np.bool_]:
    """Whether a voltage lies below the first row of the datasheet.

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage at the servo's plug [V].

    Returns
    -------
    array of bool, shape (..., servo)
        True where the figures were scaled down from the first row; at the
        row itself, and where the voltage is nan, False.
    """
    return np.asarray(voltage < curves.ramp_width[..., 0])


def _fraction(torque: Floats, stall_torque: Floats) -> NDArray[np.float64]:
    """Share of the stall torque, at most 1 [-]; 0 for no torque at no voltage."""
    most = np.maximum(np.maximum(torque, stall_torque), _TINY)
    return np.asarray(torque / most)


def current(curves: Curves, voltage: Floats, torque: Floats) -> NDArray[np.float64]:
    r"""Current of a servo that moves against a torque.

    .. math:: I = I_0 + (I_s - I_0) \min(1, T / T_s)

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage V at the servo's plug [V]. A negative voltage counts as none.
    torque : float or array, shape (..., servo)
        Torque T on the shaft, against the motion, zero or more [N m]. A
        negative one is outside the contract: pass the magnitude.

    Returns
    -------
    array, shape (..., servo)
        Current I, zero or more [A]: the stall current from T = T_s(V)
        upwards, and zero without voltage. nan in gives nan out.

    Notes
    -----
    A servo that holds still against the same torque draws no more than this.

    Examples
    --------
    A third of the stall torque, at 2.0 A stalled and 0.2 A free:

    >>> row = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 6.0}
    >>> rows = curves(
    ...     **{name: np.array([[value]]) for name, value in row.items()},
    ...     stall_current=np.array([[2.0]]),
    ...     no_load_current=np.array([[0.2]]),
    ... )
    >>> current(rows, 6.0, np.array([0.1]))
    array([0.8])
    """
    slopes = (curves.stall_torque_slope, curves.stall_current_slope, curves.no_load_current_slope)
    stalling, stalled, free = _columns(curves, slopes, voltage)
    return np.asarray(free + (stalled - free) * _fraction(torque, stalling))


def rate(curves: Curves, voltage: Floats, torque: Floats) -> NDArray[np.float64]:
    r"""Speed of a servo that moves against a torque.

    .. math:: \omega = \omega_0 \max(0, 1 - T / T_s)

    Parameters
    ----------
    curves : Curves
        Datasheet curves, shape (..., servo, row).
    voltage : float or array, shape (..., servo)
        Voltage V at the servo's plug [V]. A negative voltage counts as none.
    torque : float or array, shape (..., servo)
        Torque T on the shaft, against the motion, zero or more [N m]. A
        negative one is outside the contract: pass the magnitude.

    Returns
    -------
    array, shape (..., servo)
        Speed of the shaft, zero or more [rad/s]: zero from T = T_s(V)
        upwards and without voltage. nan in gives nan out.

    Examples
    --------
    >>> row = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 6.0}
    >>> rows = curves(
    ...     **{name: np.array([[value]]) for name, value in row.items()},
    ...     stall_current=np.array([[2.0]]),
    ...     no_load_current=np.array([[0.2]]),
    ... )
    >>> rate(rows, 6.0, np.array([0.1]))
    array([4.])
    """
    slopes = (curves.stall_torque_slope, curves.no_load_speed_slope)
    stalling, free = _columns(curves, slopes, voltage)
    return np.asarray(free * (1.0 - _fraction(torque, stalling)))
