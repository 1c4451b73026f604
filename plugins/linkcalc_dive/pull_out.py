"""A dive and what follows: straight down, a moment of nothing, and the pull-out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics import air
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc_dive.flight import (
    DRAG_WORK,
    HEIGHT,
    LIFT,
    PATH_ANGLE,
    SERVO,
    SPEED,
    STRUCTURE,
    TIME,
    limits,
    pulling,
    straight,
    taken,
)
from linkcalc_dive.stepping import End, march

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc_dive.flight import Airframe, Elevator
    from linkcalc_dive.stepping import Rate

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = [
    "ABSOLUTE",
    "GREATEST_MACH",
    "LONGEST",
    "REASONS",
    "RELATIVE",
    "WARNED_MACH",
    "Dive",
    "Entry",
    "Outcome",
    "dive",
    "energy_error",
    "outcome",
]

RELATIVE = 1e-10
"""Relative tolerance of the integration."""

ABSOLUTE = np.array([1e-9, 1e-11, 1e-8, 1e-7, 1e-9])
"""Absolute tolerance, for each row of a state."""

LONGEST = 400.0
"""A dive that has come neither level nor down in this time has no recovery [s]."""

WARNED_MACH, GREATEST_MACH = 0.3, 0.7
"""Above the first the incompressible equations err by some percent; above the second they
are refused."""

_LONGEST_STEP = 1.0  # s

RECOVERED, EARLY, _, _, _, TOO_LONG, TOO_FAST, UNKNOWN, NO_START, TURNED = range(10)
_GROUND = 2  # with what limits the load factor added

REASONS = (
    "recovers",
    "reaches the ground before the pull-out begins",
    "reaches the ground: the structure's limit load factor does not bend the path enough",
    "reaches the ground: the wing's greatest lift does not bend the path enough",
    "reaches the ground: the servo does not hold enough elevator to bend the path enough",
    "comes neither level nor down within 400 s",
    "becomes faster than Mach 0.7, where these equations do not hold",
    (
        "cannot be followed: something is not known on the way (drag beyond the polar's points, "
        "the elevator's reach at the dynamic pressure, air above 20 km), or it takes twenty "
        "thousand steps"
    ),
    "has no terminal speed to start from",
    "turns over onto its back: the elevator that is left does not even hold the nose",
)
"""In words, what came of a dive; the place is the number of the reason."""


class Entry(NamedTuple):
    """How dives begin; arrays of one shape, (n,).

    Attributes
    ----------
    speed : ndarray
        True airspeed, more than zero [m/s].
    path_angle : ndarray
        Path angle gamma, less than zero [rad].
    height : ndarray
        Above the ground, more than zero [m].
    drop : ndarray
        Height lost on a straight path before anybody thinks of the pull-out, zero or more [m].
    delay : ndarray
        From then to the pull-out, zero or more [s].
    """

    speed: Floats
    path_angle: Floats
    height: Floats
    drop: Floats
    delay: Floats


class Dive(NamedTuple):
    """Dives, followed to their end.

    Attributes
    ----------
    states : ndarray, shape (step, row, n)
        The way, rows as in `flight`; nan where a path has no more of it.
    rates : ndarray, shape (step, row, n)
        There.
    pulling : ndarray of bool, shape (step,)
        Which of the steps belong to the pull-out.
    last : ndarray, shape (row, n)
        The end.
    reason : ndarray of int, shape (n,)
        What came of it, a place in `REASONS`.
    """

    states: Floats
    rates: Floats
    pulling: NDArray[np.bool_]
    last: Floats
    reason: Whole


class Outcome(NamedTuple):
    """What came of dives; arrays of shape (n,).

    Attributes
    ----------
    reason : ndarray of int
        A place in `REASONS`; 0 recovers.
    height_lost : ndarray
        From the start to level flight, nan without recovery [m].
    lowest_height : ndarray
        Above the ground, where it came level; nan without recovery [m].
    greatest_speed, greatest_dynamic_pressure, greatest_mach, greatest_load_factor : ndarray
        On the way, to its end, whatever that was [m/s], [Pa], [1], [1].
    pull_out_speed : ndarray
        Where the pull-out began, nan if it did not [m/s].
    duration : ndarray
        [s].
    share : ndarray, shape (3, n)
        Of the pull-out's time, in which structure, lift and servo limited the load factor [1].
    """

    reason: Whole
    height_lost: Floats
    lowest_height: Floats
    greatest_speed: Floats
    greatest_dynamic_pressure: Floats
    greatest_mach: Floats
    greatest_load_factor: Floats
    pull_out_speed: Floats
    duration: Floats
    share: Floats


def dive(
    craft: Airframe,
    elevator: Elevator,
    entry: Entry,
    *,
    relative: float = RELATIVE,
    longest_step: float = _LONGEST_STEP,
) -> Dive:
    """Follow dives from their entry to level flight, the ground, or the end of patience.

    Parameters
    ----------
    craft : Airframe
        Arrays of shape (n,).
    elevator : Elevator
        Likewise.
    entry : Entry
        Likewise.
    relative : float
        Relative tolerance of the integration.
    longest_step : float
        [s].

    Returns
    -------
    Dive
        All of them, each with steps of its own.

    Notes
    -----
    Each of three phases is integrated from where the one before ended: straight down to the
    height of the pull-out, straight on for the delay, and with the greatest load factor that
    structure, lift and servo allow until the path is level. While the path points down the
    height only falls, so the point where it comes level is the lowest, and a path that dips
    into the ground between two steps is found there.
    """
    count = len(entry.speed)
    if not count:
        none = np.zeros((1, TIME + 1, 0))
        return Dive(none, none, np.ones(1, dtype=bool), none[0], np.zeros(0, dtype=np.intp))
    on = _Followed(craft, elevator, entry, relative, longest_step)
    on.phase(_straight, End(HEIGHT, 1.0, entry.height - entry.drop), EARLY)
    on.phase(_straight, End(TIME, -1.0, on.state[TIME] + entry.delay), EARLY)
    on.phase(_pulling, End(PATH_ANGLE, -1.0, np.zeros(count)), _GROUND)
    on.reason[on.which] = RECOVERED
    states, slopes = np.concatenate(on.ways, axis=1)
    return Dive(states, slopes, np.concatenate(on.pulling), on.state, on.reason)


class _Followed:
    """Dives on their way, phase by phase."""

    def __init__(
        self,
        craft: Airframe,
        elevator: Elevator,
        entry: Entry,
        relative: float,
        longest_step: float,
    ) -> None:
        count = len(entry.speed)
        zero = np.zeros(count)
        self.craft, self.elevator = craft, elevator
        self.relative, self.longest_step = relative, longest_step
        self.state = np.stack((entry.speed, entry.path_angle, entry.height, zero, zero))
        sound = air.speed_of_sound(
            temperature=air.temperature(altitude=craft.ground + entry.height)
        )
        self.fastest = GREATEST_MACH * np.asarray(sound)
        self.reason = np.full(count, -1)
        self.which = np.arange(count)
        self.ways: list[Floats] = []
        self.pulling: list[NDArray[np.bool_]] = []

    def phase(self, rates: Callable[[Airframe, Elevator], Rate], goal: End, at_ground: int) -> None:
        """Follow those that are still on their way to a goal, and drop those that miss it."""
        on = self.which
        if not on.size:
            return
        craft, elevator = taken(self.craft, on), taken(self.elevator, on)
        done = march(
            lambda which: rates(taken(craft, which), taken(elevator, which)),
            self.state[:, on],
            [
                goal._replace(level=np.asarray(goal.level)[on]),
                End(HEIGHT, 1.0, 0.0),
                End(TIME, -1.0, LONGEST),
                End(SPEED, -1.0, self.fastest[on]),
                End(PATH_ANGLE, 1.0, -math.pi),
            ],
            relative=self.relative,
            absolute=ABSOLUTE,
            longest=self.longest_step,
        )
        way = np.full((2, *done.states.shape[:2], self.state.shape[1]), np.nan)
        way[..., on] = done.states, done.rates
        self.ways.append(way)
        self.pulling.append(np.full(way.shape[1], rates is _pulling))
        self.state[:, on] = done.last
        self.reason[on] = np.array([-1, at_ground, TOO_LONG, TOO_FAST, TURNED, UNKNOWN])[
            done.ended_by
        ]
        self.which = on[done.ended_by == 0]


def _straight(craft: Airframe, elevator: Elevator) -> Rate:
    del elevator
    return straight(craft)


def _pulling(craft: Airframe, elevator: Elevator) -> Rate:
    return pulling(craft, elevator)


def outcome(craft: Airframe, elevator: Elevator, followed: Dive) -> Outcome:
    """Tell what came of dives.

    Parameters
    ----------
    craft : Airframe
        Arrays of shape (n,).
    elevator : Elevator
        Likewise.
    followed : Dive
        From `dive`.

    Returns
    -------
    Outcome
        The peaks of speed and pressure are found between the steps; load factor and Mach number
        are taken at the steps, which lie some tenths of a second apart and closer together where
        another limit begins to act.
    """
    states, rates, pull = followed.states, followed.rates, followed.pulling
    altitude = craft.ground + states[:, HEIGHT]
    density = np.asarray(air.density(altitude=altitude))
    pressure = np.asarray(air.dynamic_pressure(density=density, speed=states[:, SPEED]))
    sound = np.asarray(air.speed_of_sound(temperature=air.temperature(altitude=altitude)))
    found = limits(
        craft,
        elevator,
        density=density[pull],
        dynamic_pressure=pressure[pull],
        path_angle=states[pull, PATH_ANGLE],
    )
    load_factor, share = found.min(0), _shares(found, states[pull, TIME])
    reason = followed.reason.copy()
    ground = reason == _GROUND
    reason[ground] += share[:, ground].argmax(0)
    recovered = reason == RECOVERED
    start, end = states[0], followed.last
    speed, time = states[:, SPEED], states[:, TIME]
    begun = speed[pull]
    growth = 2 * rates[:, SPEED] / speed + rates[:, HEIGHT] * _density_gradient(altitude) / density
    return Outcome(
        reason=reason,
        height_lost=np.where(recovered, start[HEIGHT] - end[HEIGHT], np.nan),
        lowest_height=np.where(recovered, end[HEIGHT], np.nan),
        greatest_speed=_peak(speed, rates[:, SPEED], time),
        greatest_dynamic_pressure=_peak(pressure, pressure * growth, time),
        greatest_mach=_most(speed / sound),
        greatest_load_factor=_most(load_factor),
        pull_out_speed=begun[0] if len(begun) else np.full(len(reason), np.nan),
        duration=end[TIME],
        share=share,
    )


def _density_gradient(altitude: Floats) -> Floats:
    """Change of density with height, over two metres [kg/m^4]."""
    above, below = (np.asarray(air.density(altitude=altitude + by)) for by in (1.0, -1.0))
    return np.asarray(0.5 * (above - below))


def _most(values: Floats) -> Floats:
    """Greatest along the way; nan where there is none."""
    known = np.where(np.isnan(values), -np.inf, values)
    most = known.max(0, initial=-np.inf)
    return np.where(np.isinf(most), np.nan, most)


def _peak(values: Floats, rates: Floats, time: Floats) -> Floats:
    """Greatest along a way: at a step, or at the top of the cubic through two with their rates."""
    step = np.diff(time, axis=0)
    left, rise, fall = values[:-1], rates[:-1] * step, rates[1:] * step
    turns = (rise > 0) & (fall < 0)
    # a s^3 + b s^2 + rise s + left, 0 <= s <= 1
    a, b = rise + fall - 2 * np.diff(values, axis=0), 3 * np.diff(values, axis=0) - 2 * rise - fall
    root = np.sqrt(np.where(turns, b * b - 3 * a * rise, 0.0))
    place = np.where(turns, rise / np.where(turns, root - b, 1.0), 0.0)
    top = ((a * place + b) * place + rise) * place + left
    return np.fmax(_most(values), _most(np.where(turns, top, np.nan)))


def _shares(found: Floats, time: Floats) -> Floats:
    """Share of the time in which each limit is the least."""
    limiting = np.where(np.isnan(found), np.inf, found).argmin(0)[:-1]
    step = np.nan_to_num(np.diff(time, axis=0))
    spent = np.stack([(step * (limiting == limit)).sum(0) for limit in (STRUCTURE, LIFT, SERVO)])
    total = spent.sum(0)
    return np.asarray(spent / np.where(total > 0, total, 1.0))


def energy_error(followed: Dive) -> Floats:
    """Return how far the energy balance is off at worst along each path.

    Parameters
    ----------
    followed : Dive
        From `dive`.

    Returns
    -------
    ndarray, shape (n,)
        The largest change of V^2/2 + g h + work of the drag since the start, over V^2/2 + g h at
        the start [1].
    """
    states = followed.states
    mechanical = 0.5 * states[:, SPEED] ** 2 + STANDARD_GRAVITY * states[:, HEIGHT]
    off = np.abs(mechanical + states[:, DRAG_WORK] - mechanical[0]) / mechanical[0]
    return _most(off)
