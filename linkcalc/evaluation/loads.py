"""Hinge moments at a deflection, and the torque that the servo needs against them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.evaluation.linkage import Position, position
from linkcalc.physics import air
from linkcalc.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]

__all__ = [
    "BEST",
    "HIGH",
    "LINES",
    "LOW",
    "Bearing",
    "bear",
    "surface_flow",
    "to_hold",
    "to_move",
    "worst",
]

LINES = ("low", "best", "high")
"""Lines of the air load, in the sense of the moment that opposes the deflection."""

LOW, BEST, HIGH, OTHER_HIGH = range(4)
_ENDS = (HIGH, LOW, OTHER_HIGH)


class Bearing(NamedTuple):
    """What every surface and servo bears at a deflection.

    Attributes
    ----------
    place : Position
        Where the linkages stand.
    moments : ndarray, shape (line, ..., case, surface, deflection)
        Hinge moments, air load and weight together, positive trailing edge down, on
        the low, best and high line, and once more the high line, at zero deflection
        with its other sign [N m].
    hold : ndarray, shape (line, ..., case, run, deflection)
        Servo torque that holds them, signed [N m].
    """

    place: Position
    moments: Floats
    hold: Floats


def surface_flow(inputs: Inputs) -> dict[str, Floats]:
    """Return what the air does at every surface.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.

    Returns
    -------
    dict of str to ndarray, shape (..., case, surface)
        ``dynamic_pressure`` [Pa], ``incidence`` and ``largest_incidence`` [rad].

    Notes
    -----
    Incidence is positive where the stream has a component along n = aft x hinge axis:
    alpha on a level surface, beta on a fin, alpha cos G + beta sin G on the starboard
    panel of a vee with dihedral G, alpha cos G - beta sin G on the port one.
    """
    cases, normal = inputs.cases, inputs.surfaces.normal
    to_starboard, upwards = normal[..., 1], normal[..., 2]
    alpha, beta = cases.incidence[..., None], cases.sideslip[..., None]
    speed = cases.speed[..., inputs.surfaces.owner]
    return {
        "dynamic_pressure": np.asarray(
            air.dynamic_pressure(density=cases.density[..., None], speed=speed)
        ),
        "incidence": alpha * upwards - beta * to_starboard,
        "largest_incidence": np.abs(alpha * upwards) + np.abs(beta * to_starboard),
    }


def _weight(inputs: Inputs, deflection: Floats) -> Floats:
    """Moment of every surface's own weight about its hinge line [N m].

    M = h . (r x m g N), r the centre of mass turned by the deflection about h.
    """
    surfaces = inputs.surfaces
    felt = STANDARD_GRAVITY * surfaces.mass[..., None] * inputs.cases.load_factor[..., None, :]
    square = np.cross(surfaces.axis, surfaces.lever)  # where the lever goes by a quarter turn
    at_neutral, at_quarter = (
        np.sum(surfaces.axis * np.cross(lever, felt), axis=-1)[..., None]
        for lever in (surfaces.lever, square)
    )
    return np.asarray(at_neutral * np.cos(deflection) + at_quarter * np.sin(deflection))


def _moments(inputs: Inputs, deflection: Floats) -> Floats:
    """Return the hinge moments on all lines, shape (line, ..., case, surface, deflection)."""
    flow = surface_flow(inputs)
    shape = np.broadcast_shapes(deflection.shape, (*flow["incidence"].shape, deflection.shape[-1]))
    deflection = np.broadcast_to(deflection, shape)
    made = np.empty((4, *shape))
    chosen = np.array(inputs.surfaces.solver)
    for name in dict.fromkeys(inputs.surfaces.solver):
        which = slice(None) if (chosen == name).all() else np.flatnonzero(chosen == name)
        if not name:  # its solver has failed: no load is known
            made[..., which, :] = np.nan
            continue
        fields = flow | inputs.surfaces.fields
        offered = {key: value[..., which, None] for key, value in fields.items()}
        offered["deflection"] = deflection[..., which, :]
        answer = solvers.call_hinge_moment(solvers.load("hinge moment", name), offered)
        for index, line in enumerate(LINES):
            made[index, ..., which, :] = answer[line]
    flips = (deflection == 0) & (made[LOW] != made[HIGH])
    made[OTHER_HIGH] = np.where(flips, -made[HIGH], made[HIGH])
    return np.asarray(made + _weight(inputs, deflection))


def to_hold(inputs: Inputs, moments: Floats, slope: Floats) -> Floats:
    r"""Return the servo torque that holds the surfaces of every run, by virtual work.

    .. math:: T_{hold} = -\sum_i M_i \, d\delta_i / d\theta

    Parameters
    ----------
    inputs : Inputs
        Surfaces are used.
    moments, slope : ndarray, shape (..., surface, deflection)
        Hinge moments [N m] and slopes of the linkages [-].

    Returns
    -------
    ndarray, shape (..., run, deflection)
        Signed as the torque that the servo gives [N m].
    """
    return np.asarray(-np.add.reduceat(moments * slope, inputs.surfaces.first, axis=-2))


def to_move(inputs: Inputs, hold: Floats, moments: Floats, slope: Floats) -> Floats:
    r"""Return the servo torque that moves the surfaces of every run against their load.

    .. math:: T_{move} = |T_{hold}| + (1/\eta - 1) \sum_i |M_i \, d\delta_i / d\theta|

    Parameters
    ----------
    inputs : Inputs
        Surfaces and runs are used.
    hold : ndarray, shape (..., run, deflection)
        Torque to hold [N m].
    moments, slope : ndarray, shape (..., surface, deflection)
        Hinge moments [N m] and slopes of the linkages [-].

    Returns
    -------
    ndarray, shape (..., run, deflection)
        Zero or more [N m]. For one surface |T_hold| / eta; where surfaces balance each
        other their friction stays.
    """
    borne = np.add.reduceat(np.abs(moments * slope), inputs.surfaces.first, axis=-2)
    return np.asarray(np.abs(hold) + (1 / inputs.runs.efficiency[..., None] - 1) * borne)


def bear(inputs: Inputs, linkages: Linkages, deflection: Floats) -> Bearing:
    """Return what every surface and servo bears.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.
    linkages : Linkages
        Made from them.
    deflection : ndarray, shape (..., case, run, deflection)
        Of the first surface of each run [rad].

    Returns
    -------
    Bearing
        nan where a linkage does not reach.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    place = position(linkages, deflection)
    moments = _moments(inputs, place.deflection)
    return Bearing(place, moments, to_hold(inputs, moments, place.slope))


def worst(inputs: Inputs, bearing: Bearing) -> tuple[Floats, Floats]:
    """Return torque to hold and moments on the end of the band that asks for the most.

    Parameters
    ----------
    inputs : Inputs
        Surfaces are used.
    bearing : Bearing
        At some deflections.

    Returns
    -------
    tuple of ndarray
        Torque to hold, shape (..., case, run, deflection), of the end with the larger
        magnitude, and the moments behind it, shape (..., case, surface, deflection);
        the same end for all surfaces of one servo.
    """
    hold, moments = (array[_ENDS[0]] for array in (bearing.hold, bearing.moments))
    for end in _ENDS[1:]:
        larger = np.abs(bearing.hold[end]) > np.abs(hold)
        hold = np.where(larger, bearing.hold[end], hold)
        moments = np.where(larger[..., inputs.surfaces.owner, :], bearing.moments[end], moments)
    return hold, moments
