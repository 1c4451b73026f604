"""Hinge moments at a deflection, and the torque that the servo needs against them."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.evaluation.inputs import by_run
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
    "ENDS",
    "HIGH",
    "LINES",
    "LOW",
    "Air",
    "Bearing",
    "Still",
    "air_load",
    "bear",
    "motions",
    "still",
    "surface_flow",
    "to_hold",
    "to_move",
]

LINES = ("low", "best", "high")
"""Lines of the air load, in the sense of the moment that opposes the deflection."""

LOW, BEST, HIGH, OTHER_HIGH = range(4)
ENDS = (HIGH, LOW, OTHER_HIGH)
"""Ends of the band: a verdict takes the one that asks for the most."""

_STEP = 1e-5  # for the slope of a moment with deflection [rad]
_SETTLED = 1e-12  # a deflection under load is found to this [rad]
_ROUNDS = 30
_MOTIONS = frozenset(solvers.MOTION_FIELDS)


class Air(NamedTuple):
    """Moments on every surface about its own hinge line, air load and weight together.

    Attributes
    ----------
    moments : ndarray, shape (line, ..., case, surface, deflection)
        Positive trailing edge down, on the low, best and high line, and once more the
        high line, at zero deflection with its other sign [N m].
    stiffening : ndarray, shape (..., case, surface, deflection)
        Largest dM/d(deflection) on the signed best line with C_h_delta scaled by one half,
        one and k_s; zero where no linkage gives way, for nothing feels it there [N m/rad].
    """

    moments: Floats
    stiffening: Floats


class Bearing(NamedTuple):
    """What every surface and servo bears at a deflection.

    The line axis of `place` has length 1 where no linkage is elastic: then a servo stands
    in one place whatever the load.

    Attributes
    ----------
    place : Position
        Where the linkages stand, shape (line or 1, ..., run or surface, deflection).
    moments : ndarray, shape (line, ..., case, surface, deflection)
        As `Air` has them [N m].
    stiffening : ndarray, shape (..., case, surface, deflection)
        As `Air` has it [N m/rad].
    hold : ndarray, shape (line or 1, ..., case, run, deflection)
        Servo torque that holds them, signed, all servos of a run together [N m].
    move : ndarray, shape (line or 1, ..., case, run, deflection)
        Servo torque that moves them, zero or more, all servos of a run together and
        without the friction at their shafts [N m].
    forces : ndarray, shape (line, ..., case, member, deflection), or None
        In rods and cables, tension positive; None where each surface has one pushrod [N].
    """

    place: Position
    moments: Floats
    stiffening: Floats
    hold: Floats
    move: Floats
    forces: Floats | None = None


class Still(NamedTuple):
    """What no speed changes, where no linkage gives way.

    Attributes
    ----------
    place : Position
        Where the linkages stand at some deflections.
    weight : ndarray, shape (..., case, surface, deflection)
        Moment of every surface's own weight there [N m].
    """

    place: Position
    weight: Floats


def still(inputs: Inputs, linkages: Linkages, deflection: Floats) -> Still:
    """Return what no speed changes at some deflections.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.
    linkages : Linkages
        Made from them, none of which gives way.
    deflection : ndarray, shape (..., case, run, deflection)
        Of the first surface of each run [rad].

    Returns
    -------
    Still
        nan where a linkage does not reach.
    """
    place = position(linkages, deflection)
    return Still(place, _weight(inputs, place.deflection)[0])


def surface_flow(inputs: Inputs) -> dict[str, Floats]:
    """Return what the air does at every surface.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.

    Returns
    -------
    dict of str to ndarray, shape (..., case, surface)
        ``dynamic_pressure`` [Pa], ``density`` [kg/m^3], ``viscosity`` [Pa s], ``incidence`` and
        ``largest_incidence`` [rad].

    Notes
    -----
    Incidence is positive where the stream has a component along n = aft x hinge axis:
    alpha on a level surface, beta on a fin, alpha cos G + beta sin G on the starboard
    panel of a vee with dihedral G, alpha cos G - beta sin G on the port one.
    """
    cases, normal = inputs.cases, inputs.surfaces.normal
    to_starboard, upwards = normal[..., 1], normal[..., 2]
    alpha, beta = cases.incidence[..., None], cases.sideslip[..., None]
    speed = cases.speed.take(inputs.surfaces.owner, axis=-1)
    flow = {
        "dynamic_pressure": np.asarray(
            air.dynamic_pressure(density=cases.density[..., None], speed=speed)
        ),
        "density": np.broadcast_to(cases.density[..., None], speed.shape),
        "viscosity": np.broadcast_to(cases.viscosity[..., None], speed.shape),
        "incidence": alpha * upwards - beta * to_starboard,
        "largest_incidence": np.abs(alpha * upwards) + np.abs(beta * to_starboard),
    }
    if cases.local:
        local, set_at = cases.local, alpha * upwards + cases.local["setting"]
        behind = set_at - local["downwash"]
        flow["incidence"] = behind - beta * to_starboard + local["turned"]
        worse = np.maximum(np.abs(set_at), np.abs(behind))
        flow["largest_incidence"] = worse + np.abs(beta * to_starboard) + local["turned_most"]
    return flow


def motions(inputs: Inputs) -> dict[str, Floats]:
    """Return how the incidence of every surface varies over it, for solvers that take it.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.

    Returns
    -------
    dict of str to ndarray, shape (..., case, surface)
        By the names of `linkcalc.solvers.MOTION_FIELDS`.
    """
    cases = inputs.cases
    aside = -cases.sideslip[..., None] * inputs.surfaces.normal[..., 1]
    nothing = np.zeros(aside.shape)
    local = cases.local
    return {
        "aside_incidence": aside + local.get("turned_aside", nothing),
        "roll_incidence": local.get("turned_by_roll", nothing),
        "incidence_per_span": local.get("per_span", nothing),
        "incidence_per_chord": local.get("per_chord", nothing),
    }


def _weight(inputs: Inputs, deflection: Floats) -> tuple[Floats, Floats | None]:
    """Moment of every surface's own weight about its hinge line [N m], and its slope [N m/rad].

    No slope where no linkage gives way: nothing feels it there.

    M = h . (r x m g N) = m g N . (h x r), r the centre of mass turned by the deflection about h.
    """
    surfaces = inputs.surfaces
    felt = STANDARD_GRAVITY * inputs.cases.load_factor[..., None, :]
    at_neutral, at_quarter = (
        (surfaces.mass * (felt * swing).sum(-1))[..., None] for swing in surfaces.swing
    )
    cosine, sine = np.cos(deflection), np.sin(deflection)
    moment = at_neutral * cosine + at_quarter * sine
    if not surfaces.compliance.any():
        return moment, None
    return moment, at_quarter * cosine - at_neutral * sine


def air_load(inputs: Inputs, deflection: Floats, weight: Floats | None = None) -> Air:
    """Return the hinge moments on all lines.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.
    deflection : ndarray, shape (..., case, surface, deflection)
        Of every surface [rad].
    weight : ndarray, optional
        Moment of every surface's own weight there, where it is known [N m].

    Returns
    -------
    Air
        nan where the deflection is nan or the surface's solver has failed.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    flow = surface_flow(inputs)
    shape = np.broadcast_shapes(deflection.shape, (*_around(inputs, flow), deflection.shape[-1]))
    deflection = np.broadcast_to(deflection, shape)
    gives = inputs.surfaces.compliance.any()
    made = np.moveaxis(np.empty((4, shape[-1], *shape[:-1])), 1, -1)  # the nodes first in memory
    stiffening = np.empty(shape) if gives else np.broadcast_to(0.0, shape)
    fields = {key: value[..., None] for key, value in (flow | inputs.surfaces.fields).items()}
    chosen = np.array(inputs.surfaces.solver)
    for name in dict.fromkeys(inputs.surfaces.solver):
        which = slice(None) if (chosen == name).all() else np.flatnonzero(chosen == name)
        if not name:  # its solver has failed: no load is known
            made[..., which, :] = np.nan
            if gives:
                stiffening[..., which, :] = np.nan
            continue
        offered = {key: value[..., which, :] for key, value in fields.items()}
        offered["deflection"] = deflection[..., which, :]
        solver = solvers.load("hinge moment", name)
        if not _MOTIONS.isdisjoint(getattr(solver, "optional", ())):
            offered |= {key: value[..., which][..., None] for key, value in motions(inputs).items()}
        answer = solvers.call_hinge_moment(solver, offered)
        for index, line in enumerate((*LINES, "other_high")):
            made[index][..., which, :] = answer[line]  # one index at a time: two would move axes
        if gives:
            size = offered["dynamic_pressure"] * offered["area"] * offered["chord"]
            slope = size * answer["C_h_delta"]
            steeper = np.maximum(slope, answer["k_s"] * slope)
            stiffening[..., which, :] = np.maximum(0.5 * slope, steeper)
    if inputs.cases.local:
        made, stiffening = _from_outside(inputs, flow, deflection, Air(made, stiffening))
    rise: Floats | None = None
    if weight is None:
        weight, rise = _weight(inputs, deflection)
    made += weight
    return Air(made, stiffening if rise is None else stiffening + rise)


def _around(inputs: Inputs, flow: dict[str, Floats]) -> tuple[int, ...]:
    """Return the axes before the deflection that flow and surfaces have together."""
    varied = [value.shape for value in inputs.surfaces.fields.values() if value.ndim > 1]
    pressure, incidence = flow["dynamic_pressure"], flow["largest_incidence"]
    return np.broadcast_shapes(pressure.shape, incidence.shape, *varied)


def _from_outside(
    inputs: Inputs, flow: dict[str, Floats], deflection: Floats, load: Air
) -> tuple[Floats, Floats]:
    """Put a ground gust in the place of the air load, and add what a hand does.

    Both come either way: against the deflection on the high line, with it on the low one.
    """
    local = {name: value[..., None] for name, value in inputs.cases.local.items()}
    against = np.where(deflection < 0, 1.0, -1.0)
    other = np.where(deflection == 0, -against, against)
    way = np.stack((-against, against, against, other))  # low, best, high, other high
    gust = local["gust_size"] * flow["dynamic_pressure"][..., None]
    in_air = np.isnan(gust)
    made = np.where(in_air, load.moments, way * gust) + way * local["by_hand"]
    return made, np.where(in_air, load.stiffening, 0.0)


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
    return np.asarray(-by_run(np.add, moments * slope, inputs.surfaces.first, axis=-2))


def to_move(inputs: Inputs, hold: Floats, moments: Floats, slope: Floats) -> Floats:
    r"""Return the servo torque that moves the surfaces of every run against their load.

    .. math:: T_{move} = |T_{hold}| + (1/\eta - 1) \sum_i |M_i \, d\delta_i / d\theta|
              + \sum_i M_{f,i} |d\delta_i / d\theta|

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
        Zero or more [N m]. For one surface without friction |T_hold| / eta; where surfaces
        balance each other their friction stays. The friction at the servo's shaft is not
        in it.
    """
    surfaces, cases = inputs.surfaces, moments.shape[-3:-2]
    share = (1 / inputs.runs.efficiency - 1)[..., surfaces.owner]
    lost = np.abs(moments)
    lost *= _in_every_case(share, cases)
    lost += _in_every_case(surfaces.hinge_friction, cases)
    lost *= np.abs(slope)
    move = by_run(np.add, lost, surfaces.first, axis=-2)
    move += np.abs(hold)
    return move


def _in_every_case(value: Floats, cases: tuple[int, ...]) -> Floats:
    """Return what belongs to surfaces with an axis for cases, laid out in full, and one for nodes.

    With gaps between the rows numpy would walk along one case at a time.
    """
    alike = value.ndim > 1 and value.shape[-2:-1] == cases
    shape = (*value.shape[:-2], *cases, value.shape[-1])
    return (value if alike else np.ascontiguousarray(np.broadcast_to(value, shape)))[..., None]


def bear(
    inputs: Inputs,
    linkages: Linkages,
    deflection: Floats,
    known: Still | None = None,
    *,
    worst: bool = False,
) -> Bearing:
    """Return what every surface and servo bears.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    deflection : ndarray, shape (..., case, run, deflection)
        Of the first surface of each run [rad].
    known : Still, optional
        What no speed changes there, if it is known.
    worst : bool
        Whether torques are asked for on the worst end of the band alone, and as magnitudes.

    Returns
    -------
    Bearing
        nan where a linkage does not reach. Torques on one line where only the worst was asked
        for, and the largest moment is sure to need the largest torque: where no linkage is
        elastic, and each servo has one surface.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    if linkages.sided or inputs.surfaces.compliance.any():
        place, air = _elastic(inputs, linkages, deflection)
    else:
        known = known or still(inputs, linkages, deflection)
        place = Position(*(array[None] for array in known.place))
        air = air_load(inputs, known.place.deflection, known.weight)
    carried, forces = air.moments, None
    if worst and len(place.slope) == 1 and len(inputs.surfaces.owner) == len(inputs.surfaces.first):
        ends = (np.abs(air.moments[end]) for end in ENDS)
        carried = functools.reduce(np.maximum, ends)[None]
    hold = to_hold(inputs, carried, place.slope)
    move = to_move(inputs, hold, carried, place.slope)
    if inputs.chains:
        from linkcalc.evaluation import chains  # noqa: PLC0415 - few files have chains

        forces = chains.forces(inputs, place.servo_angle, place.rod_force, air.moments)
    return Bearing(place, air.moments, air.stiffening, hold, move, forces)


def _elastic(inputs: Inputs, linkages: Linkages, deflection: Floats) -> tuple[Position, Air]:
    """Place linkages that give way: delta = delta(theta) + C M(delta), line by line."""
    surfaces, owner = inputs.surfaces, inputs.surfaces.owner
    first, alone = surfaces.first, len(surfaces.owner) == len(surfaces.first)
    every = deflection[..., owner, :]  # right for the first surface of each run
    if linkages.sided and not alone:
        every = position(linkages, deflection).deflection  # near enough for the signs of the loads
    air = air_load(inputs, every)
    give = surfaces.compliance[..., None]
    place = position(linkages, deflection - (give * air.moments)[..., first, :], air.moments)
    if alone:
        return place._replace(deflection=np.broadcast_to(deflection, place.slope.shape)), air
    angle = under_load(inputs, place.deflection)
    angle[..., first, :] = deflection
    moments = _on_own_line(inputs, angle)
    return place._replace(deflection=angle), Air(moments, air.stiffening)


def _on_own_line(inputs: Inputs, angle: Floats) -> Floats:
    """Return the moments of each line at that line's own deflections, shape (line, ...)."""
    moments = air_load(inputs, angle).moments  # of each line at the deflections of every line
    lines = np.arange(len(moments))
    return np.asarray(moments[lines, lines])


def under_load(inputs: Inputs, stiff: Floats) -> Floats:
    """Return where surfaces go under load when their servos stand still.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.
    stiff : ndarray, shape (line or 1, ..., case or 1, surface, deflection)
        Deflections with stiff linkages [rad].

    Returns
    -------
    ndarray, shape (line, ..., case, surface, deflection)
        Solution of delta = stiff + C M(delta) by Newton's method to 1e-12 rad; nan where
        it does not settle [rad].
    """
    give = inputs.surfaces.compliance[..., None]
    moments = air_load(inputs, stiff[0]).moments
    angle = np.array(np.broadcast_to(stiff, np.broadcast_shapes(moments.shape, give.shape)))
    for _ in range(_ROUNDS):
        pair = _on_own_line(inputs, np.stack((angle, angle + _STEP), axis=1))
        moments, rise = pair[:, 0], (pair[:, 1] - pair[:, 0]) / _STEP
        step = (stiff + give * moments - angle) / (1 - give * rise)
        angle = angle + np.clip(step, -0.2, 0.2)
        if not np.any(np.abs(step) > _SETTLED):
            break
    return np.where(np.abs(step) > 1e-9, np.nan, angle)
