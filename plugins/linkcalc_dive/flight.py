"""The equations of motion of a point mass in still air."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from linkcalc.physics import air
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc_dive import load_factors
from linkcalc_dive.polar import drag_coefficient

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc_dive.polar import Table

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = [
    "DRAG_WORK",
    "HEIGHT",
    "LIFT",
    "LIMITS",
    "PATH_ANGLE",
    "SERVO",
    "SPEED",
    "STRUCTURE",
    "TIME",
    "Airframe",
    "Elevator",
    "drag",
    "limits",
    "pulling",
    "straight",
    "taken",
]

SPEED, PATH_ANGLE, HEIGHT, DRAG_WORK, TIME = range(5)
"""Rows of a state: V [m/s], gamma [rad], h above the ground [m], what the air has taken over
the mass [J/kg], t [s]."""

STRUCTURE, LIFT, SERVO = range(3)
"""What limits a load factor."""

LIMITS = ("structure", "lift", "servo")
"""The same in words."""


class Airframe(NamedTuple):
    """An aircraft as a point mass, in the air over some ground; arrays of one shape.

    Attributes
    ----------
    mass : ndarray
        Mass m, more than zero [kg].
    wing_area : ndarray
        S, more than zero [m^2].
    zero_lift_drag, induced_factor : ndarray
        C_D0 and k of the parabola [1].
    maximum_lift : ndarray
        C_L,max [1].
    limit_load_factor : ndarray
        Limit load factor [1].
    ground : ndarray
        Geometric altitude of the ground [m].
    polar : Table or None
        C_D against C_L instead of the parabola; one for all.
    propeller : Table or None
        Drag area [m^2] against true airspeed [m/s]; one for all. Beyond its ends the drag area
        at the end stands.
    """

    mass: Floats
    wing_area: Floats
    zero_lift_drag: Floats
    induced_factor: Floats
    maximum_lift: Floats
    limit_load_factor: Floats
    ground: Floats
    polar: Table | None
    propeller: Table | None


class Elevator(NamedTuple):
    """What an elevator does; arrays of one shape.

    Attributes
    ----------
    trim_dynamic_pressure, trim_deflection : ndarray
        Of steady level flight as trimmed [Pa], [rad].
    load_factor_slope : ndarray
        Load factor for a radian of up elevator in level flight at that pressure; nan where it
        is to be found from the tail [1/rad].
    static_margin, tail_volume, tail_lift_slope, tail_arm, elevator_effectiveness : ndarray
        As `load_factors.at_elevator` and `load_factors.pitch_damping` take them; the last
        is tau [1], [1], [1/rad], [m], [1].
    up : Table or None
        Deflection that is reached upwards, zero or less [rad], against q [Pa]; one for all.
        None: the servo does not limit.
    """

    trim_dynamic_pressure: Floats
    trim_deflection: Floats
    load_factor_slope: Floats
    static_margin: Floats
    tail_volume: Floats
    tail_lift_slope: Floats
    tail_arm: Floats
    elevator_effectiveness: Floats
    up: Table | None


Described = TypeVar("Described", Airframe, Elevator)


def taken(described: Described, which: Whole) -> Described:
    """Take some of what has been described.

    Parameters
    ----------
    described : Airframe or Elevator
        With arrays of shape (n,).
    which : ndarray of int, shape (m,)
        The numbers wanted.

    Returns
    -------
    Airframe or Elevator
        With arrays of shape (m,); tables stay.
    """
    parts: dict[str, Any] = {
        name: value[which]
        for name, value in described._asdict().items()
        if isinstance(value, np.ndarray)
    }
    return described._replace(**parts)


def drag(
    craft: Airframe, *, speed: Floats, dynamic_pressure: Floats, load_factor: Floats
) -> Floats:
    """Drag of the aircraft with its propeller.

    Parameters
    ----------
    craft : Airframe
        Arrays that broadcast with the others.
    speed : ndarray, shape (...)
        True airspeed [m/s].
    dynamic_pressure : ndarray, shape (...)
        More than zero [Pa].
    load_factor : ndarray, shape (...)
        Load factor n [1].

    Returns
    -------
    ndarray, shape (...)
        D, against the path [N]; nan where the polar does not reach.
    """
    lift = load_factors.lift_coefficient(
        load_factor=load_factor,
        weight=craft.mass * STANDARD_GRAVITY,
        dynamic_pressure=dynamic_pressure,
        wing_area=craft.wing_area,
    )
    coefficient = drag_coefficient(
        lift=lift,
        zero_lift_drag=craft.zero_lift_drag,
        induced_factor=craft.induced_factor,
        polar=craft.polar,
    )
    area = craft.wing_area * coefficient
    if craft.propeller is not None:
        area = area + np.interp(speed, craft.propeller.at, craft.propeller.value)
    return np.asarray(dynamic_pressure * area)


def limits(
    craft: Airframe,
    elevator: Elevator,
    *,
    density: Floats,
    dynamic_pressure: Floats,
    path_angle: Floats,
) -> Floats:
    """Load factors at which structure, lift and servo limit a pull-out.

    Parameters
    ----------
    craft : Airframe
        Arrays that broadcast with the others.
    elevator : Elevator
        Likewise.
    density : ndarray, shape (...)
        [kg/m^3].
    dynamic_pressure : ndarray, shape (...)
        Dynamic pressure q [Pa].
    path_angle : ndarray, shape (...)
        Path angle gamma, positive upward [rad].

    Returns
    -------
    ndarray, shape (3, ...)
        In the order of `LIMITS`; infinite for a servo that does not limit, nan where what it
        reaches is not known.
    """
    weight = craft.mass * STANDARD_GRAVITY
    lift = np.asarray(
        load_factors.at_lift(
            maximum_lift=craft.maximum_lift,
            weight=weight,
            dynamic_pressure=dynamic_pressure,
            wing_area=craft.wing_area,
        )
    )
    structure = np.broadcast_to(craft.limit_load_factor, lift.shape)
    if elevator.up is None:
        return np.stack((structure, lift, np.full(lift.shape, np.inf)))
    up = np.interp(dynamic_pressure, elevator.up.at, elevator.up.value, left=np.nan, right=np.nan)
    trim = {
        "deflection": up,
        "dynamic_pressure": dynamic_pressure,
        "trim_dynamic_pressure": elevator.trim_dynamic_pressure,
        "trim_deflection": elevator.trim_deflection,
    }
    by_tail = np.isnan(elevator.load_factor_slope)
    servo = load_factors.at_elevator_by_slope(**trim, load_factor_slope=elevator.load_factor_slope)
    if by_tail.any():
        damping = load_factors.pitch_damping(
            density=density,
            wing_area=craft.wing_area,
            tail_arm=elevator.tail_arm,
            tail_volume=elevator.tail_volume,
            tail_lift_slope=elevator.tail_lift_slope,
            mass=craft.mass,
        )
        found = load_factors.at_elevator(
            **trim,
            path_angle=path_angle,
            wing_loading=weight / craft.wing_area,
            static_margin=elevator.static_margin,
            damping=damping,
            tail_power=elevator.tail_volume
            * elevator.tail_lift_slope
            * elevator.elevator_effectiveness,
        )
        servo = np.where(by_tail, found, servo)
    return np.stack((structure, lift, servo))


def straight(craft: Airframe) -> Callable[[Floats], Floats]:
    r"""Rates of flight along a straight path.

    Parameters
    ----------
    craft : Airframe
        Arrays of shape (n,).

    Returns
    -------
    callable
        From states, shape (row, n), to their rates, as `pulling` states them, with n = cos
        gamma: the path stays straight as long as the wing can carry it.
    """

    def rate(state: Floats) -> Floats:
        _, pressure = _air(craft, state)
        wanted = np.cos(state[PATH_ANGLE])
        lift = load_factors.at_lift(
            maximum_lift=craft.maximum_lift,
            weight=craft.mass * STANDARD_GRAVITY,
            dynamic_pressure=pressure,
            wing_area=craft.wing_area,
        )
        return _rates(craft, state, pressure, np.minimum(wanted, lift))

    return rate


def pulling(craft: Airframe, elevator: Elevator) -> Callable[[Floats], Floats]:
    r"""Rates of flight with the greatest load factor that structure, lift and servo allow.

    .. math::
        \dot V = -\frac{D}{m} - g \sin\gamma, \qquad
        V \dot\gamma = g (n - \cos\gamma), \qquad
        \dot h = V \sin\gamma

    Parameters
    ----------
    craft : Airframe
        Arrays of shape (n,).
    elevator : Elevator
        Likewise.

    Returns
    -------
    callable
        From states, shape (row, n), to their rates; nan where something is not known.
    """

    def rate(state: Floats) -> Floats:
        density, pressure = _air(craft, state)
        found = limits(
            craft,
            elevator,
            density=density,
            dynamic_pressure=pressure,
            path_angle=state[PATH_ANGLE],
        )
        return _rates(craft, state, pressure, found.min(0))

    return rate


def _air(craft: Airframe, state: Floats) -> tuple[Floats, Floats]:
    """Density and dynamic pressure."""
    density = np.asarray(air.density(altitude=craft.ground + state[HEIGHT]))
    return density, np.asarray(air.dynamic_pressure(density=density, speed=state[SPEED]))


def _rates(craft: Airframe, state: Floats, pressure: Floats, load_factor: Floats) -> Floats:
    speed, angle = state[SPEED], state[PATH_ANGLE]
    with np.errstate(divide="ignore", invalid="ignore"):  # a trial step may come to no speed
        decelerating = (
            drag(craft, speed=speed, dynamic_pressure=pressure, load_factor=load_factor)
            / craft.mass
        )
        turning = STANDARD_GRAVITY * (load_factor - np.cos(angle)) / speed
    sine = np.sin(angle)
    return np.stack(
        (
            -decelerating - STANDARD_GRAVITY * sine,
            turning,
            speed * sine,
            decelerating * speed,
            np.ones(speed.shape),
        )
    )
