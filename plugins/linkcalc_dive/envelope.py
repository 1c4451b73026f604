"""The lines of the envelope's pictures: ways of dives, and load factors against speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics import air
from linkcalc_dive.dives import describe, follow
from linkcalc_dive.flight import HEIGHT, LIFT, SERVO, SPEED, STRUCTURE, TIME, limits, taken

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Reach = Callable[[Floats], tuple[Floats, Floats]]

__all__ = ["LoadFactors", "Way", "load_factors_at", "way"]


class Way(NamedTuple):
    """One dive from start to end; arrays of shape (step,).

    Attributes
    ----------
    speed : ndarray
        True airspeed [m/s].
    height : ndarray
        Above the ground [m].
    time : ndarray
        [s].
    """

    speed: Floats
    height: Floats
    time: Floats


class LoadFactors(NamedTuple):
    """What limits the load factor at some speeds; arrays of shape (n,).

    Attributes
    ----------
    structure, lift, servo : ndarray
        Load factors [1]; the last infinite where no servo limits, nan where it is not known.
    """

    structure: Floats
    lift: Floats
    servo: Floats


def way(fields: Mapping[str, Floats], reach: Reach | None) -> Way:
    """Follow one dive and return its way.

    Parameters
    ----------
    fields : mapping of str to ndarray
        As `linkcalc.solvers.DiveSolver` describes them, of a single dive.
    reach : callable or None
        Likewise.

    Returns
    -------
    Way
        From start to end.
    """
    dives, _ = follow(describe(fields, reach))
    states = dives[0].states[:, :, 0]
    states = states[~np.isnan(states[:, TIME])]
    return Way(states[:, SPEED], states[:, HEIGHT], states[:, TIME])


def load_factors_at(
    fields: Mapping[str, Floats], reach: Reach | None, *, speed: Floats
) -> LoadFactors:
    """Return the load factors that can be held at some speeds, in a level path at the start height.

    Parameters
    ----------
    fields : mapping of str to ndarray
        As `linkcalc.solvers.DiveSolver` describes them, of a single dive.
    reach : callable or None
        Likewise.
    speed : ndarray, shape (n,)
        True airspeeds, more than zero, up to that of Mach 0.7 [m/s].

    Returns
    -------
    LoadFactors
        At each speed.
    """
    fastest = np.asarray(speed, dtype=np.float64)
    # the table of the reach is made for the start speed that is asked for
    described = describe({**fields, "start_speed": fastest.max()}, reach)
    which = np.zeros(len(fastest), dtype=np.intp)
    craft, elevator = taken(described.craft, which), taken(described.elevator, which)
    height = described.entry.height[which]
    density = np.asarray(air.density(altitude=craft.ground + height))
    found = limits(
        craft,
        elevator,
        density=density,
        dynamic_pressure=np.asarray(air.dynamic_pressure(density=density, speed=fastest)),
        path_angle=np.zeros(len(fastest)),
    )
    return LoadFactors(found[STRUCTURE], found[LIFT], found[SERVO])
