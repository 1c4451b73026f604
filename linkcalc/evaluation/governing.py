"""The deflections that govern: where a run needs the most torque, where its rod bears the most."""

from __future__ import annotations

import functools
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.inputs import by_run
from linkcalc.evaluation.linkage import Position
from linkcalc.evaluation.loads import BEST, ENDS, HIGH, LOW, Bearing, bear
from linkcalc.evaluation.margins import Margins
from linkcalc.evaluation.search import every_function, greatest
from linkcalc.evaluation.side_loads import side_loads

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.evaluation.loads import Still
    from linkcalc.evaluation.search import Greatest, Look

    Floats = NDArray[np.float64]

__all__ = [
    "BASES",
    "MILD",
    "PLAIN",
    "VERDICT",
    "Governing",
    "Sweep",
    "counting_line",
    "govern",
    "swept",
    "taken",
    "worst_move",
]

VERDICT, PLAIN, MILD = 0, 1, 2
"""What a place of the basis axis stands for: the worse end of the band, the best line, the low line."""

BASES = (VERDICT, PLAIN)
"""The basis axis of a check: for the verdict with every factor, and plainly."""


class Governing(NamedTuple):
    """Every run at the deflections that govern; torques are those of one servo.

    Attributes
    ----------
    move, hold_most : ndarray, shape (basis, ..., case, run)
        Largest torque to move, and to hold [N m].
    deflection : ndarray, shape (..., case, run)
        Where the torque to move is largest, for the verdict [rad].
    moment, hold : ndarray, shape (..., case, run)
        Hinge moment of the first surface and torque to hold there, on the same line [N m].
    moment_lines, hold_lines, move_lines : ndarray, shape (line, ..., case, run)
        The same on the low, best and high line [N m].
    compression, critical_load : ndarray, shape (basis, ..., case, run)
        Greatest compression of the rod nearest to its critical load, and that load [N].
    joint_force, joint_rating : ndarray, shape (basis, ..., case, run)
        Greatest force in the rod nearest to the rating of its joints, and that rating [N].
    rod_force, rod_force_at : ndarray, shape (..., case, run)
        Force of largest magnitude in any rod, tension positive [N], and where it is [rad].
    divergence : ndarray, shape (..., case, run)
        Largest C dM/d(deflection) of any surface [-].
    shaft_load, bellcrank_load, hinge_load : ndarray, shape (..., case, run)
        What bearings carry where the rod force is, as `side_loads.SideLoads` has it [N].
    """

    move: Floats
    hold_most: Floats
    deflection: Floats
    moment: Floats
    hold: Floats
    moment_lines: Floats
    hold_lines: Floats
    move_lines: Floats
    compression: Floats
    critical_load: Floats
    joint_force: Floats
    joint_rating: Floats
    rod_force: Floats
    rod_force_at: Floats
    divergence: Floats
    shaft_load: Floats
    bellcrank_load: Floats
    hinge_load: Floats


class Sweep(NamedTuple):
    """What is borne at evenly spaced deflections from end to end of a range.

    Attributes
    ----------
    deflection : ndarray, shape (1 or basis, ..., case, run, deflection)
        Of the first surface of every run; nan where there is no range [rad].
    bearing : Bearing
        There.
    look : Look
        How closely searches from here may look.
    worst : bool
        Whether torques are asked for on the worst end of the band alone.
    """

    deflection: Floats
    bearing: Bearing
    look: Look
    worst: bool = False


def swept(
    inputs: Inputs,
    linkages: Linkages,
    deflection: Floats,
    look: Look,
    *,
    known: Still | None = None,
    bases: tuple[int, ...] = BASES,
) -> Sweep:
    """Return what is borne over a range.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    deflection : ndarray, shape (1 or basis, ..., case, run, deflection)
        The nodes that searches start from; nan where there is no range [rad].
    look : Look
        How closely to look.
    known : Still, optional
        What no speed changes there, if it is known.
    bases : tuple of int
        What each place of the basis axis stands for.

    Returns
    -------
    Sweep
        At these nodes.
    """
    worst = not look.details and set(bases) == {VERDICT}
    bearing = bear(inputs, linkages, deflection, known, worst=worst)
    return Sweep(deflection, bearing, look, worst)


def taken(bearing: Bearing, function: int) -> Bearing:
    """Return the part of one function, where each has positions of its own.

    Parameters
    ----------
    bearing : Bearing
        With a function axis, of length 1 where all look at the same deflections.
    function : int
        Which.

    Returns
    -------
    Bearing
        Without that axis.
    """
    index = function if bearing.stiffening.shape[0] > 1 else 0
    place = Position(*(array[:, index if array.shape[1] > 1 else 0] for array in bearing.place))
    return Bearing(
        place,
        bearing.moments[:, index],
        bearing.stiffening[index],
        bearing.hold[:, index],
        bearing.move[:, index],
        None if bearing.forces is None else bearing.forces[:, index],
    )


def _worse_end(bearing: Bearing) -> NDArray[np.intp]:
    """Return the end of the band with the larger torque to hold, shape (1, ..., run, deflection)."""
    sizes = np.abs(bearing.hold[list(ENDS)])
    return np.asarray(np.array(ENDS)[np.argmax(sizes, axis=0)][None])


def _on(array: Floats, line: NDArray[np.intp]) -> Floats:
    return np.asarray(np.take_along_axis(array, line, 0)[0])


def _lines(basis: int) -> list[int]:
    """Return the lines of the air load that a basis looks at."""
    return {VERDICT: list(ENDS), PLAIN: [BEST], MILD: [LOW]}[basis]


def worst_move(bearing: Bearing, basis: int) -> Floats:
    """Return the torque to move on the line that counts.

    Parameters
    ----------
    bearing : Bearing
        At some deflections.
    basis : int
        `VERDICT` for the end of the band with the larger torque to hold, `PLAIN` for the
        best line, `MILD` for the low one.

    Returns
    -------
    ndarray, shape (..., case, run, deflection)
        Of all servos of a run together [N m].
    """
    if len(bearing.move) == 1:
        return np.asarray(bearing.move[0])
    if basis == VERDICT:
        if bearing.moments.shape[-2] == bearing.hold.shape[-2]:  # the larger the one, the other
            low, *others = (bearing.move[end] for end in ENDS)
            return functools.reduce(np.maximum, others, low)
        return _on(bearing.move, _worse_end(bearing))
    return np.asarray(bearing.move[_lines(basis)[0]])


def _hold_size(bearing: Bearing, basis: int) -> Floats:
    lines = [0] if len(bearing.hold) == 1 else _lines(basis)
    return functools.reduce(np.maximum, (np.abs(bearing.hold[line]) for line in lines))


def _forces(bearing: Bearing, basis: int) -> Iterator[Floats]:
    """Force in every member on each line that counts, tension positive, shape (..., member, deflection)."""
    each = bearing.place.rod_force
    for line in _lines(basis):
        if bearing.forces is not None:
            yield bearing.forces[line]
        else:
            yield bearing.moments[line] * each[line if len(each) > 1 else 0]


def _compression(inputs: Inputs, bearing: Bearing, basis: int) -> Floats:
    """Compression over critical load, per rod."""
    squeezed = -functools.reduce(np.minimum, _forces(bearing, basis))
    return np.asarray(np.maximum(squeezed, 0.0) / inputs.rods.critical_load[..., None])


def _joint(inputs: Inputs, bearing: Bearing, basis: int) -> Floats:
    """Force over the rating of the joints, per rod."""
    return np.asarray(_largest_force(bearing, basis) / inputs.rods.joint_rating[..., None])


def _largest_force(bearing: Bearing, basis: int) -> Floats:
    return functools.reduce(np.maximum, (np.abs(force) for force in _forces(bearing, basis)))


def _by_run(inputs: Inputs, values: Floats) -> Floats:
    return by_run(np.maximum, values, inputs.rods.first, axis=-2)


def _divergence(inputs: Inputs, bearing: Bearing) -> Floats:
    values = bearing.stiffening * inputs.surfaces.compliance[..., None]
    return by_run(np.maximum, values, inputs.surfaces.first, axis=-2)


_BY_BASIS = ("move", "hold", "squeeze", "joint")
_FUNCTIONS = (*_BY_BASIS, "force", "divergence")
"""What is looked for; the first four by basis."""

_ASKS = {  # modes for which it is; the force of the rods is in no margin
    "move": {"torque", "voltage", "current", "speed", "hold", "source_heat"},
    "hold": {"hold", "gear"},
    "squeeze": {"buckling"},
    "joint": {"joint"},
    "divergence": {"divergence"},
}


def _wanted(inputs: Inputs, modes: Collection[str]) -> list[str]:
    """List what margins ask for, without what does not apply to any run."""
    idle = set() if np.isfinite(inputs.rods.joint_rating).any() else {"joint"}
    idle |= set() if inputs.surfaces.compliance.any() else {"divergence"}
    asked = [name for name, of in _ASKS.items() if not (of.isdisjoint(modes) or name in idle)]
    return asked or ["move"]


def _functions(
    inputs: Inputs, share: Floats, bases: tuple[int, ...], wanted: Collection[str]
) -> list[Callable[[Bearing], Floats]]:
    """List what is looked for: what has bases with these in a row, then what has none."""
    friction = inputs.runs.shaft_friction[..., None]

    def move(bearing: Bearing, place: int, basis: int) -> Floats:
        return np.asarray(share[place] * worst_move(bearing, basis) + friction)

    def hold(bearing: Bearing, place: int, basis: int) -> Floats:
        return np.asarray(share[place] * _hold_size(bearing, basis))

    def squeeze(bearing: Bearing, place: int, basis: int) -> Floats:
        return np.asarray(share[place] * _by_run(inputs, _compression(inputs, bearing, basis)))

    def joint(bearing: Bearing, place: int, basis: int) -> Floats:
        return np.asarray(share[place] * _by_run(inputs, _joint(inputs, bearing, basis)))

    def force(bearing: Bearing) -> Floats:
        return np.asarray(share[0] * _by_run(inputs, _largest_force(bearing, bases[0])))

    made: list[Callable[[Bearing], Floats]] = [
        partial(function, place=place, basis=basis)
        for name, function in zip(_BY_BASIS, (move, hold, squeeze, joint), strict=True)
        for place, basis in enumerate(bases)
        if name in wanted
    ]
    made += [force] if "force" in wanted else []
    return [*made, partial(_divergence, inputs)] if "divergence" in wanted else made


def govern(
    inputs: Inputs,
    linkages: Linkages,
    sweep: Sweep,
    share: Floats,
    bases: tuple[int, ...] = BASES,
    *,
    modes: Collection[str] = Margins._fields,
) -> Governing:
    """Find the governing deflections of every run in every case.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, rods, runs and cases are used.
    linkages : Linkages
        Made from them.
    sweep : Sweep
        Over the part of the commanded range that is reached.
    share : ndarray, shape (basis, ..., case, run)
        Of the load that each servo of a run takes [-].
    bases : tuple of int
        What each place of the basis axis stands for.
    modes : collection of str
        Margins that are asked for, where no details are.

    Returns
    -------
    Governing
        nan where nothing is reached, and what is not asked for.
    """
    details, count = sweep.look.details, len(bases)
    wanted = list(_FUNCTIONS) if details else _wanted(inputs, modes)
    functions = _functions(inputs, share[..., None], bases, wanted)
    places = [place for name in wanted for place in range(count if name in _BY_BASIS else 1)]
    start = sweep.deflection if len(sweep.deflection) == 1 else sweep.deflection[places]

    def sizes(deflection: Floats) -> Floats:
        known = deflection is sweep.deflection
        bearing = sweep.bearing if known else bear(inputs, linkages, deflection, worst=sweep.worst)
        made = [function(taken(bearing, index)) for index, function in enumerate(functions)]
        return every_function(made)

    found = greatest(sizes, start, sweep.look.zooms)
    values = {
        name: found.value[count * index : count * index + (count if name in _BY_BASIS else 1)]
        for index, name in enumerate(wanted)
    }
    if not details:
        return _sizes_alone(inputs, found, values, count)
    there = bear(inputs, linkages, found.at[..., None])
    squeezed = _nearest(
        inputs, inputs.rods.critical_load, _ratios(inputs, _compression, there, 2 * count, bases)
    )
    pulled = _nearest(
        inputs, inputs.rods.joint_rating, _ratios(inputs, _joint, there, 3 * count, bases)
    )
    force = len(_BY_BASIS) * count
    at_move, at_force = taken(there, 0), taken(there, force)
    carried = side_loads(inputs, at_force, share[0], plain=bases[0] == PLAIN)
    line, first, lines = counting_line(at_move, bases[0]), inputs.surfaces.first, slice(HIGH + 1)
    moments = at_move.moments[..., first, :]
    return Governing(
        move=values["move"],
        hold_most=values["hold"],
        deflection=found.at[0],
        moment=_on(moments, line)[..., 0],
        hold=(share[0][..., None] * _on(at_move.hold, line))[..., 0],
        moment_lines=moments[lines][..., 0],
        hold_lines=share[0] * at_move.hold[lines][..., 0],
        move_lines=share[0] * at_move.move[lines][..., 0] + inputs.runs.shaft_friction,
        # what does not buckle has no critical load, and a ratio of zero
        compression=values["squeeze"] * np.where(values["squeeze"] == 0.0, 0.0, squeezed),
        critical_load=squeezed,
        joint_force=values["joint"] * np.where(np.isfinite(pulled), pulled, np.nan),
        joint_rating=pulled,
        rod_force=share[0] * _signed_force(inputs, at_force, bases[0]),
        rod_force_at=found.at[force],
        divergence=found.value[force + 1],
        shaft_load=carried.shaft,
        bellcrank_load=carried.bellcrank,
        hinge_load=carried.hinge,
    )


def _sizes_alone(
    inputs: Inputs, found: Greatest, values: dict[str, Floats], count: int
) -> Governing:
    """Return the largest values, rod loads as parts of what the rods bear, and nothing else."""
    unknown = np.full(found.at[0].shape, np.nan)
    lines = np.full((HIGH + 1, *unknown.shape), np.nan)
    rated = np.isfinite(by_run(np.minimum, inputs.rods.joint_rating, inputs.rods.first, axis=-1))
    by_basis = np.full((count, *unknown.shape), np.nan)
    none = np.zeros_like(by_basis)
    squeeze = values.get("squeeze", by_basis)
    return Governing(
        move=values.get("move", by_basis),
        hold_most=values.get("hold", by_basis),
        deflection=found.at[0],
        moment=unknown,
        hold=unknown,
        moment_lines=lines,
        hold_lines=lines,
        move_lines=lines,
        compression=squeeze,
        critical_load=np.ones_like(squeeze),
        joint_force=np.where(rated, values.get("joint", none), np.nan),
        joint_rating=np.where(rated, 1.0, np.inf) + none,
        rod_force=unknown,
        rod_force_at=unknown,
        divergence=values["divergence"][0] if "divergence" in values else none[0],
        shaft_load=unknown,
        bellcrank_load=unknown,
        hinge_load=unknown,
    )


def counting_line(bearing: Bearing, basis: int) -> NDArray[np.intp]:
    """Return the line of the air load that counts for the torque.

    Parameters
    ----------
    bearing : Bearing
        At some deflections.
    basis : int
        `VERDICT` for the end of the band with the larger torque to hold, `PLAIN` for the
        best line.

    Returns
    -------
    ndarray of int, shape (1, ..., case, run, deflection)
        Places on the line axis.
    """
    worse = _worse_end(bearing)
    return np.full_like(worse, BEST) if basis == PLAIN else worse


def _ratios(
    inputs: Inputs,
    ratio: Callable[[Inputs, Bearing, int], Floats],
    there: Bearing,
    first: int,
    bases: tuple[int, ...],
) -> list[Floats]:
    return [ratio(inputs, taken(there, first + place), basis) for place, basis in enumerate(bases)]


def _nearest(inputs: Inputs, capacity: Floats, ratios: list[Floats]) -> Floats:
    """Return the capacity of the rod that is nearest to it, shape (basis, ..., run)."""
    made = []
    for ratio in ratios:
        most = _by_run(inputs, ratio)[..., inputs.rods.owner, :]
        chosen = np.where(ratio == most, capacity[..., None], np.inf)
        made.append(by_run(np.minimum, chosen, inputs.rods.first, axis=-2)[..., 0])
    return np.stack(made)


def _signed_force(inputs: Inputs, bearing: Bearing, basis: int) -> Floats:
    """Return the force of largest magnitude in any rod of a run, with its sign [N]."""
    forces = list(_forces(bearing, basis))
    most, least = (functools.reduce(each, forces) for each in (np.maximum, np.minimum))
    most = by_run(np.maximum, most, inputs.rods.first, axis=-2)
    least = by_run(np.minimum, least, inputs.rods.first, axis=-2)
    return np.where(np.abs(least) > np.abs(most), least, most)[..., 0]
