"""The solver: a point mass that dives, and pulls out as hard as it may."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.physics import air
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc.solver_fields import DIVE_FIELDS, DIVE_TABLES
from linkcalc_dive import pull_out
from linkcalc_dive.faults import refuse_bad_fields
from linkcalc_dive.flight import Airframe, Elevator, taken
from linkcalc_dive.least_height import least_height
from linkcalc_dive.polar import table
from linkcalc_dive.pull_out import GREATEST_MACH, NO_START, RECOVERED, WARNED_MACH, Entry
from linkcalc_dive.reachable import upward
from linkcalc_dive.speeds import terminal_speed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from linkcalc_dive.polar import Table
    from linkcalc_dive.pull_out import Dive, Outcome

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]
    Reach = Callable[[Floats], tuple[Floats, Floats]]

__all__ = ["FIELDS", "TABLES", "Described", "PointMass", "describe", "follow"]

FIELDS: Mapping[str, str] = MappingProxyType(DIVE_FIELDS)
"""Needed, with the unit of each."""

TABLES = DIVE_TABLES
"""Those that are columns of one table for all dives, and may be empty."""

_AT_ONCE = 2000  # dives whose ways are kept in memory together


class Described(NamedTuple):
    """Dives ready to be followed, all arrays of shape (n,).

    Attributes
    ----------
    craft : Airframe
        The aircraft.
    elevator : Elevator
        Its elevator.
    entry : Entry
        How each dive begins; a speed of nan is the terminal one.
    ceiling : ndarray, shape (n,)
        For the minimum height, nan where none is sought [m].
    shape : tuple of int
        Of the fields together.
    """

    craft: Airframe
    elevator: Elevator
    entry: Entry
    ceiling: Floats
    shape: tuple[int, ...]


class PointMass:
    r"""A dive and its pull-out by the equations of a point mass in still air.

    Straight on at n = cos gamma for a height lost and a delay, then with the least of the load
    factors that the structure bears, the wing lifts and the servo lets the elevator reach
    (`linkcalc_dive.flight` states the equations), until the path is level.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands.
    fields
        Fields needed, with the unit of each: all of `linkcalc.solvers.DIVE_FIELDS`.
    reasons
        What the numbers of a reason mean.

    Notes
    -----
    No wind, no pitching motion: the load factor is there at once. The equations are those of
    incompressible flow; ``beyond_incompressible`` tells where a dive becomes faster than Mach
    0.3, and one that becomes faster than Mach 0.7 is not followed further.

    Examples
    --------
    >>> dive = dict.fromkeys(PointMass().fields, np.float64(np.nan))
    >>> dive |= {name: np.zeros(0) for name in TABLES}
    >>> dive |= {"mass": 2.0, "wing_area": 0.35, "zero_lift_drag": 0.03, "induced_factor": 0.04,
    ...     "maximum_lift": 1.1, "limit_load_factor": 6.0, "field_altitude": 0.0,
    ...     "start_height": 150.0, "start_speed": 15.0, "dive_angle": 1.2, "drop": 60.0,
    ...     "delay": 0.5}
    >>> found = PointMass()(dive, None)
    >>> PointMass.reasons[int(found["reason"])]
    'recovers'
    """

    name: str = "point_mass"
    description: str = "point mass in still air; structure, lift and servo limit the pull-out"
    sources: tuple[str, ...] = (
        "J. D. Anderson, Aircraft Performance and Design, 1999, ch. 6 (pull-up, eq. 6.41)",
        "B. Etkin and L. D. Reid, Dynamics of Flight, 3rd ed., 1996 (angle per g; from memory)",
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {"field_altitude": (air.LEAST_ALTITUDE, air.GREATEST_ALTITUDE), "dive_angle": (0.0, 1.571)}
    )
    fields: Mapping[str, str] = FIELDS
    reasons: tuple[str, ...] = pull_out.REASONS

    def __call__(self, fields: Mapping[str, Floats], reach: Reach | None) -> Mapping[str, Any]:
        """Follow dives.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As `linkcalc.solvers.DiveSolver` describes them.
        reach : callable or None
            Likewise.

        Returns
        -------
        mapping of str to ndarray
            What `linkcalc.solvers.DiveSolver` lists, and ``terminal_reason`` (a place in
            `linkcalc_dive.speeds.REASONS`), ``beyond_incompressible``, ``duration`` [s],
            ``share_structure``, ``share_lift`` and ``share_servo`` (of the pull-out's time in
            which each limited the load factor).

        Raises
        ------
        InputError
            A field cannot be used: which, what was found, what was expected.
        SolverError
            ``reach`` returned what it may not.
        """
        described = describe(fields, reach)
        craft, entry = described.craft, described.entry
        terminal = terminal_speed(craft, path_angle=entry.path_angle, height=entry.height)
        found = follow(described)[1]
        answer = {
            "terminal_speed": terminal.speed,
            "terminal_reason": terminal.reason,
            "dive_speed": found.greatest_speed,
            "pull_out_speed": found.pull_out_speed,
            "greatest_dynamic_pressure": found.greatest_dynamic_pressure,
            "greatest_mach": found.greatest_mach,
            "greatest_load_factor": found.greatest_load_factor,
            "height_lost": found.height_lost,
            "lowest_height": found.lowest_height,
            "minimum_height": _minimum_height(described),
            "reason": found.reason,
            "beyond_incompressible": found.greatest_mach > WARNED_MACH,
            "duration": found.duration,
            "share_structure": found.share[0],
            "share_lift": found.share[1],
            "share_servo": found.share[2],
        }
        return {name: value.reshape(described.shape) for name, value in answer.items()}

    def way(self, fields: Mapping[str, Floats], reach: Reach | None) -> tuple[Floats, Floats]:
        """Follow one dive, for a picture of it.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As for a call, of a single dive.
        reach : callable or None
            Likewise.

        Returns
        -------
        speed, height : ndarray, shape (step,)
            True airspeed [m/s] and height above the ground [m] from start to end.
        """
        from linkcalc_dive import envelope  # noqa: PLC0415 - it imports this module

        found = envelope.way(fields, reach)
        return found.speed, found.height

    def load_factors(
        self, fields: Mapping[str, Floats], reach: Reach | None, *, speed: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Return what limits the load factor at some speeds, for a picture of it.

        Parameters
        ----------
        fields : mapping of str to ndarray
            As for a call, of a single dive.
        reach : callable or None
            Likewise.
        speed : ndarray, shape (n,)
            True airspeeds, more than zero, up to that of Mach 0.7 [m/s].

        Returns
        -------
        structure, lift, servo : ndarray, shape (n,)
            Load factors in a level path at the start height [1].
        """
        from linkcalc_dive import envelope  # noqa: PLC0415 - it imports this module

        found = envelope.load_factors_at(fields, reach, speed=speed)
        return found.structure, found.lift, found.servo


def describe(fields: Mapping[str, Floats], reach: Reach | None) -> Described:
    """Make dives ready from their fields.

    Parameters
    ----------
    fields : mapping of str to ndarray
        As `linkcalc.solvers.DiveSolver` describes them.
    reach : callable or None
        Likewise.

    Returns
    -------
    Described
        Flat; ``shape`` is what the fields broadcast to.

    Raises
    ------
    InputError
        A field cannot be used.
    SolverError
        ``reach`` returned what it may not.
    """
    names = [name for name in FIELDS if name not in TABLES]
    given = {name: np.asarray(fields[name], dtype=np.float64) for name in names}
    refuse_bad_fields(given, servo=reach is not None)
    together = np.broadcast_arrays(*given.values())
    shape = together[0].shape
    f = {name: value.ravel() for name, value in zip(names, together, strict=True)}
    polar = _optional("polar", fields["polar_lift"], fields["polar_drag"], least=0.0)
    propeller = _optional("propeller", fields["propeller_speed"], fields["propeller_drag_area"])
    craft = Airframe(
        mass=f["mass"],
        wing_area=f["wing_area"],
        zero_lift_drag=f["zero_lift_drag"],
        induced_factor=f["induced_factor"],
        maximum_lift=f["maximum_lift"],
        limit_load_factor=f["limit_load_factor"],
        ground=f["field_altitude"],
        polar=polar,
        propeller=propeller,
    )
    elevator = Elevator(
        **{name: f[name] for name in Elevator._fields if name != "up"},
        up=None if reach is None else upward(reach, _greatest_pressure(f, craft)),
    )
    entry = Entry(f["start_speed"], -f["dive_angle"], f["start_height"], f["drop"], f["delay"])
    return Described(craft, elevator, entry, f["ceiling"], shape)


def _optional(name: str, at: Floats, value: Floats, least: float = -np.inf) -> Table | None:
    return table(name, at, value, least=least) if np.size(at) or np.size(value) else None


def _greatest_pressure(f: Mapping[str, Floats], craft: Airframe) -> float:
    """Return a dynamic pressure that no dive exceeds, from Mach 0.7 or from all height turned into speed."""
    ground = f["field_altitude"]
    height = np.fmax(f["start_height"], f["ceiling"])
    fastest = GREATEST_MACH * np.asarray(
        air.speed_of_sound(temperature=air.temperature(altitude=ground))
    )
    pushed = craft.propeller is not None and bool(np.any(craft.propeller.value < 0))
    if not pushed:
        fallen = np.sqrt(f["start_speed"] ** 2 + 2 * STANDARD_GRAVITY * height)
        fastest = np.fmin(fastest, fallen)  # a terminal speed to start from is not known yet
        fastest = np.where(
            np.isnan(f["start_speed"]), GREATEST_MACH * air.SEA_LEVEL_SPEED_OF_SOUND, fastest
        )
    density = np.asarray(air.density(altitude=ground))
    return 1.1 * float(np.max(air.dynamic_pressure(density=density, speed=fastest), initial=1.0))


def follow(described: Described) -> tuple[list[Dive], Outcome]:
    """Follow dives, in blocks so that memory stays bounded.

    Parameters
    ----------
    described : Described
        From `describe`.

    Returns
    -------
    list of Dive
        Block by block, in order.
    Outcome
        Of all.
    """
    craft, elevator, entry = described.craft, described.elevator, described.entry
    at_terminal = np.isnan(entry.speed)
    lost = np.zeros(at_terminal.shape, dtype=bool)
    if at_terminal.any():
        terminal = terminal_speed(craft, path_angle=entry.path_angle, height=entry.height).speed
        lost = at_terminal & np.isnan(terminal)
        entry = entry._replace(speed=np.where(at_terminal, terminal, entry.speed))
    count = len(entry.speed)
    dives, outcomes = [], []
    for start in range(0, max(count, 1), _AT_ONCE):
        which = np.arange(start, min(start + _AT_ONCE, count))
        block, moved = taken(craft, which), taken(elevator, which)
        followed = pull_out.dive(block, moved, Entry(*(value[which] for value in entry)))
        dives.append(followed)
        outcomes.append(pull_out.outcome(block, moved, followed))
    found = type(outcomes[0])(
        *(np.concatenate(parts, axis=-1) for parts in zip(*outcomes, strict=True))
    )
    return dives, found._replace(reason=np.where(lost, NO_START, found.reason))


def _minimum_height(described: Described) -> Floats:
    found = np.full(described.ceiling.shape, np.nan)
    sought = np.nonzero(~np.isnan(described.ceiling))[0]
    if not sought.size:
        return found

    def recovers(height: Floats, which: Whole) -> NDArray[np.bool_]:
        own = sought[which]
        entry = Entry(*(value[own] for value in described.entry))._replace(height=height)
        some = described._replace(
            craft=taken(described.craft, own), elevator=taken(described.elevator, own), entry=entry
        )
        return np.asarray(follow(some)[1].reason == RECOVERED)

    ceiling = described.ceiling[sought]
    found[sought] = least_height(recovers, floor=1e-3 * ceiling, ceiling=ceiling)
    return found
