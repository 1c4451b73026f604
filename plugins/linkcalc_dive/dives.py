"""Dives made ready from the fields of a solver, and followed in blocks."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics import air
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc.solver_fields import DIVE_FIELDS, DIVE_TABLES
from linkcalc_dive import pull_out
from linkcalc_dive.faults import refuse_bad_fields
from linkcalc_dive.flight import Airframe, Elevator, taken
from linkcalc_dive.least_height import least_height
from linkcalc_dive.polar import table
from linkcalc_dive.pull_out import GREATEST_MACH, NO_START, RECOVERED, Entry
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

__all__ = ["FIELDS", "TABLES", "Described", "describe", "follow", "minimum_height"]

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


def minimum_height(described: Described) -> Floats:
    """Return the least start height from which each dive that asks for it recovers.

    Parameters
    ----------
    described : Described
        From `describe`; ``ceiling`` bounds the search.

    Returns
    -------
    ndarray, shape (n,)
        nan where none is sought, or none up to the ceiling is enough [m].
    """
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
