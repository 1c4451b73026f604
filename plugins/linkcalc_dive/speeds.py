"""Speeds of a straight dive: the terminal one, and the one reached on the way down."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics import air
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc_dive import load_factors
from linkcalc_dive.flight import drag, taken
from linkcalc_dive.stepping import End, march

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc_dive.flight import Airframe

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["REASONS", "Terminal", "speed_reached", "terminal_speed"]

_GREATEST_MACH = 0.7
_NODES = 400
_HALVINGS = 60
_SLOWEST = 1e-2  # of the greatest speed; where the scan ends

REASONS = (
    "there is a terminal speed",
    "the dive is too shallow: drag is greater than the weight's pull at any speed the wing can fly",
    "drag balances the weight only above Mach 0.7, where these equations do not hold",
    (
        "the drag is not known at the lift coefficients of this dive (beyond the polar's points), "
        "or the air is not (above 20 km)"
    ),
)
"""In words, why there is a terminal speed or none; the place is the number of the reason."""


class Terminal(NamedTuple):
    """A terminal speed.

    Attributes
    ----------
    speed : ndarray, shape (...)
        True airspeed; nan beside a reason other than 0 [m/s].
    mach : ndarray, shape (...)
        [1].
    reason : ndarray of int, shape (...)
        A place in `REASONS`.
    """

    speed: Floats
    mach: Floats
    reason: Whole


def terminal_speed(craft: Airframe, *, path_angle: Floats, height: Floats) -> Terminal:
    r"""Speed at which a straight dive no longer changes.

    .. math:: m g \sin(-\gamma) = D(V), \qquad n = \cos\gamma

    Parameters
    ----------
    craft : Airframe
        Arrays that broadcast with the others.
    path_angle : ndarray, shape (...)
        Path angle gamma, less than zero [rad].
    height : ndarray, shape (...)
        Above the ground, at which the density is taken and held [m].

    Returns
    -------
    Terminal
        The greatest speed at which the two are equal, which is the one that a dive comes to
        from above.

    Notes
    -----
    Sought from Mach 0.7 downwards on 400 speeds, then by halving, to the last digit. Below the
    speed at which the wing carries m g cos gamma there is no straight flight.

    Examples
    --------
    >>> from linkcalc_dive.flight import Airframe
    >>> glider = Airframe(*np.array([2.0, 0.35, 0.03, 0.0, 1.2, 6.0, 0.0]), None, None)
    >>> down = terminal_speed(glider, path_angle=np.array(-np.pi / 2), height=np.array(0.0))
    >>> round(float(down.speed), 2)
    55.22
    """
    altitude = craft.ground + height
    density = np.asarray(air.density(altitude=altitude))
    sound = np.asarray(air.speed_of_sound(temperature=air.temperature(altitude=altitude)))
    weight = craft.mass * STANDARD_GRAVITY
    carried, pull = np.cos(path_angle), weight * np.sin(-path_angle)
    top = np.asarray(_GREATEST_MACH * sound + 0 * pull)

    def surplus(speed: Floats) -> Floats:
        """Drag over the weight's pull, less one; infinitely much where the wing does not carry."""
        pressure = np.asarray(air.dynamic_pressure(density=density, speed=speed))
        found = drag(craft, speed=speed, dynamic_pressure=pressure, load_factor=carried)
        lift = load_factors.at_lift(
            maximum_lift=craft.maximum_lift,
            weight=weight,
            dynamic_pressure=pressure,
            wing_area=craft.wing_area,
        )
        return np.asarray(np.where(lift < carried, np.inf, found / pull - 1))

    speeds = top * np.geomspace(1.0, _SLOWEST, _NODES)[:, *(None,) * top.ndim]
    at = surplus(speeds)
    slower = (at <= 0) & ~np.isinf(at)
    first = slower.argmax(0)
    found = slower.any(0) & (first > 0)
    before = np.maximum(first - 1, 0)[None]
    low = np.take_along_axis(speeds, first[None], 0)[0]
    high = np.take_along_axis(speeds, before, 0)[0]
    unknown = np.isnan(np.take_along_axis(at, before, 0)[0]) | np.isnan(at[0])
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        slow = surplus(middle) <= 0
        low, high = np.where(slow, middle, low), np.where(slow, high, middle)
    reason = np.where(slower.any(0), np.where(first == 0, 2, 0), 1)
    reason = np.where(unknown | (np.isnan(at).any(0) & ~slower.any(0)), 3, reason)
    speed = np.where(found & (reason == 0), 0.5 * (low + high), np.nan)
    return Terminal(speed, speed / sound, reason)


def speed_reached(
    craft: Airframe, *, speed: Floats, path_angle: Floats, height: Floats, drop: Floats
) -> Floats:
    r"""Speed after a straight dive through some height.

    .. math:: \frac{d}{dx} \frac{V^2}{2} = g - \frac{D}{m \sin(-\gamma)}

    with x the height lost.

    Parameters
    ----------
    craft : Airframe
        Arrays of shape (n,).
    speed : ndarray, shape (n,)
        True airspeed at the start, zero or more [m/s].
    path_angle : ndarray, shape (n,)
        Path angle gamma, less than zero, held [rad].
    height : ndarray, shape (n,)
        Of the start above the ground [m].
    drop : ndarray, shape (n,)
        Height lost, zero or more [m].

    Returns
    -------
    ndarray, shape (n,)
        True airspeed [m/s]; nan where the drag is not known, and where the speed falls to
        nothing on the way.

    Notes
    -----
    The path is held straight, and the lift coefficient is n = cos gamma or C_L,max, whichever
    is less: a start from rest has no lift and no drag.

    Examples
    --------
    >>> from linkcalc_dive.flight import Airframe
    >>> one = np.ones(1)
    >>> glider = Airframe(2.0 * one, 0.35 * one, 0.03 * one, 0 * one, one, 6 * one, 0 * one, None, None)
    >>> after = speed_reached(glider, speed=0 * one, path_angle=-np.pi / 2 * one, height=100 * one,
    ...     drop=100 * one)
    >>> round(float(after[0]), 1)
    38.1
    """

    def rates(which: Whole) -> Callable[[Floats], Floats]:
        return _against_height(taken(craft, which), path_angle[which], height[which])

    start = np.stack((0.5 * speed**2, np.zeros(speed.shape)))
    done = march(
        rates,
        start,
        [End(1, -1.0, drop)],
        relative=1e-11,
        absolute=np.array([1e-9, 1e-9]),
        longest=50.0,
    )
    return np.asarray(np.where(done.ended_by == 0, np.sqrt(2 * done.last[0]), np.nan))


def _against_height(own: Airframe, angle: Floats, start: Floats) -> Callable[[Floats], Floats]:
    """Rates of (V^2 / 2, height lost) against the height lost."""
    sine, cosine = np.sin(-angle), np.cos(angle)

    def rate(state: Floats) -> Floats:
        half_square, lost = state
        density = np.asarray(air.density(altitude=own.ground + start - lost))
        with np.errstate(invalid="ignore"):
            velocity = np.sqrt(2 * half_square)
        pressure = density * half_square
        lift = load_factors.at_lift(
            maximum_lift=own.maximum_lift,
            weight=own.mass * STANDARD_GRAVITY,
            dynamic_pressure=pressure,
            wing_area=own.wing_area,
        )
        # at rest no lift coefficient has a value, and it does not matter
        some = np.where(pressure == 0, 1.0, pressure)
        force = drag(
            own,
            speed=velocity,
            dynamic_pressure=some,
            load_factor=np.where(pressure == 0, 0.0, np.minimum(cosine, lift)),
        )
        force = np.where(pressure == 0, 0.0, force)
        return np.stack((STANDARD_GRAVITY - force / (own.mass * sine), np.ones(lost.shape)))

    return rate
