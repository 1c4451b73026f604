"""Linkages from the model to plain SI arrays: geometry, chains, and what rods and joints stand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.evaluation.inputs import Geometry, Rods
from linkcalc.evaluation.joints import weakest
from linkcalc.mechanism import pushrod
from linkcalc.model.defaults import ROD_LENGTHS, resolve
from linkcalc.model.materials import MATERIALS
from linkcalc.model.pushrod import Pushrod
from linkcalc.model.value_classes import given, si, stated
from linkcalc.physics import columns
from linkcalc.sampled import scalar, side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.gather_chains import Made
    from linkcalc.evaluation.notes import Notes
    from linkcalc.model import ControlHorn, ControlRun, Linkage, ServoArm

    Floats = NDArray[np.float64]

__all__ = ["chains_of", "geometry", "hinge_axis", "rods"]


def chains_of(runs: Sequence[ControlRun], notes: Notes) -> dict[int, Made]:
    """Make the chains of those surfaces that have stages.

    Parameters
    ----------
    runs : sequence of ControlRun
        Of an aircraft.
    notes : Notes
        Receives a line for every default.

    Returns
    -------
    dict of int to Made
        By the number of the surface.

    Raises
    ------
    InputFaults
        A stage is missing, or does not close at neutral.
    """
    made: dict[int, Made] = {}
    surface = -1
    for run, lines in zip(runs, notes.runs, strict=True):
        for index, linkage in enumerate(run.linkages):
            surface += 1
            if not linkage.stages:
                continue
            from linkcalc.evaluation.gather_chains import make  # noqa: PLC0415 - few have them

            made[surface] = make(linkage, hinge_axis(linkage), _place(run, index), lines)
    return made


def _place(run: ControlRun, index: int) -> str:
    return f"runs[{run.name!r}]" + (f".linkages[{index}]" if len(run.linkages) > 1 else "")


def geometry(runs: Sequence[ControlRun], chains: dict[int, Made], notes: Notes) -> Geometry:
    """Lay pushrods out in space.

    Parameters
    ----------
    runs : sequence of ControlRun
        Of an aircraft.
    chains : dict of int to Made
        Surfaces that have stages.
    notes : Notes
        Receives a line for every default.

    Returns
    -------
    Geometry
        One row for each surface.

    Raises
    ------
    InputFaults
        A pushrod does not close at neutral.
    """
    places: list[str] = []
    rows: list[tuple[Any, ...]] = []
    for run, lines in zip(runs, notes.runs, strict=True):
        for index, linkage in enumerate(run.linkages):
            chained = chains.get(len(rows))
            places.append(_place(run, index))
            rows.append(chained.last if chained else _row(linkage, lines))
    columns = zip(Geometry._fields, zip(*rows, strict=True), strict=True)
    made = Geometry(
        **{name: side_by_side(each, own=int(name != "rod_length")) for name, each in columns}
    )
    reasons = pushrod.solve(np.float64(0.0), **made._asdict()).reason
    faults = [
        Fault(
            "",
            place,
            _CLOSURE[int(reasons[..., index].flat[0])],
            "arm, rod and horn that close at neutral",
            "Check pivots, vectors and the rod's length.",
        )
        for index, place in enumerate(places)
        if index not in chains and scalar(reasons[..., index]) != 0
    ]
    if faults:
        raise InputFaults(faults)
    return made


_CLOSURE = {
    1: "a rod that is too short to close at neutral",
    2: "a rod that is too long to close at neutral",
    3: "a rod that closes only beyond a dead centre",
    4: "arm, rod and horn that cannot close at neutral",
}


def _row(linkage: Linkage, lines: list[str]) -> tuple[Any, ...]:
    """Return arm, rod and horn of a plain pushrod as `Geometry` has them."""
    arm, horn = linkage.arm, linkage.horn
    if arm is None or horn is None:
        raise AssertionError  # the model's rules ask for both
    rod = linkage.pushrod
    return _in_space(arm, horn, rod) if arm.pivot else _laid_out(arm, horn, rod, lines)


def _in_space(arm: ServoArm, horn: ControlHorn, rod: Pushrod) -> tuple[Any, ...]:
    ends = [
        np.array(value, dtype=np.float64)
        for value in (arm.pivot, arm.vector, horn.pivot, horn.vector)
    ]
    closing = float(
        np.linalg.norm(ends[2] + ends[3] - ends[0] - ends[1])
    )  # vectors have no samples
    length = si(rod, "length", closing)
    return (arm.pivot, arm.axis, arm.vector, horn.pivot, horn.axis, horn.vector, length)


def _laid_out(start: ServoArm, end: ControlHorn, rod: Pushrod, lines: list[str]) -> tuple[Any, ...]:
    """Lay a planar linkage out: the rod along x, arm and horn upwards but for their lean."""
    arm_radius, horn_radius = si(start, "radius"), si(end, "radius")
    length = si(rod, "length")
    if np.isnan(length):
        length = scalar(ROD_LENGTHS * np.maximum(arm_radius, horn_radius))
        lines.append(
            f"pushrod length not given: {length * 1000:.4g} mm, {ROD_LENGTHS:g} x the longer radius (common practice, no source)"
        )
    arm = _leaning(arm_radius, si(start, "lean", 0.0))
    horn = _leaning(horn_radius, si(end, "lean", 0.0))
    pivot = side_by_side((arm[..., 0] + length - horn[..., 0], 0.0, arm[..., 2] - horn[..., 2]))
    across = (0.0, 1.0, 0.0)
    return ((0.0, 0.0, 0.0), across, arm, pivot, across, horn, length)


def _leaning(radius: float, lean: float) -> Floats:
    return side_by_side((radius * np.sin(lean), 0.0, radius * np.cos(lean)))


def rods(
    runs: Sequence[ControlRun], chains: dict[int, Made], lengths: Floats, notes: Notes
) -> Rods:
    """Tell what rods, cables and their joints stand.

    Parameters
    ----------
    runs : sequence of ControlRun
        Of an aircraft.
    chains : dict of int to Made
        Surfaces that have stages.
    lengths : ndarray, shape (surface,)
        Of the pushrods [m].
    notes : Notes
        Receives a line for every default.

    Returns
    -------
    Rods
        Member by member.
    """
    loads: list[float] = []
    ratings: list[float] = []
    plays: list[float] = []
    owner: list[int] = []
    for index, (run, lines) in enumerate(zip(runs, notes.runs, strict=True)):
        for linkage in run.linkages:
            chained = chains.get(len(plays))
            if chained:
                loads += _of_members(linkage, chained, lines)
                ratings += chained.ratings or (math.inf,)
            else:
                length = scalar(lengths[..., len(plays)])
                loads.append(_critical_load(linkage.pushrod, length, lines))
                ratings.append(weakest(linkage, lines))
            plays.append(si(linkage, "joint_play"))
            owner += [index] * (len(loads) - len(owner))
    return Rods(
        side_by_side(loads),
        side_by_side(ratings),
        side_by_side(plays),
        np.array(owner, dtype=np.intp),
        np.searchsorted(owner, np.arange(len(runs))),
    )


def _of_members(linkage: Linkage, chained: Made, lines: list[str]) -> list[float]:
    """Return the critical loads of a chain's rods, and infinity for its cables."""
    made: list[float] = []
    for stage, length in zip(linkage.stages, chained.lengths, strict=True):
        if stage.kind == "pushrod":
            made.append(_critical_load(stage.pushrod or Pushrod(), length, lines))
        elif stage.kind == "cables":
            made += [math.inf, math.inf]
    return made or [math.inf]


def _critical_load(rod: Pushrod, whole: float, lines: list[str]) -> float:
    material = MATERIALS[rod.material or "steel wire"]
    if rod.material is None:
        lines.append("pushrod material not given: steel wire (common practice, no source)")
    if not given(rod, "free_length"):
        lines.append("free length of the pushrod not given: its whole length")
    diameter = resolve(stated(rod, "diameter"), "rod diameter", lines)
    section = columns.round_section(
        outer_diameter=diameter, inner_diameter=si(rod, "inner_diameter", 0.0)
    )
    length = si(rod, "free_length")
    load = columns.critical_load(
        modulus=si(rod, "modulus", material.modulus),
        yield_strength=material.yield_strength,
        area=section.area,
        second_moment=section.second_moment,
        free_length=whole if np.isnan(length) else length,
        end_coefficient=resolve(rod.end_coefficient, "rod end coefficient", lines),
    )
    return scalar(load)


def hinge_axis(linkage: Linkage) -> Floats:
    """Return the hinge axis in body axes, a unit vector to starboard, on a fin upwards.

    Parameters
    ----------
    linkage : Linkage
        One that is drawn knows the sweep too; the plane then says nothing new.

    Returns
    -------
    ndarray, shape (3,)
        A unit vector.
    """
    surface = linkage.surface
    horns = [linkage.horn, *(stage.horn for stage in linkage.stages)]
    drawn = next((horn.axis for horn in reversed(horns) if horn is not None), None)
    if drawn is not None:
        axis = np.array(drawn, dtype=np.float64)
        return np.asarray(axis / np.linalg.norm(axis))
    angle = {"fin": math.pi / 2, "vee": si(surface, "dihedral", 0.0)}.get(
        surface.plane or "level", 0.0
    )
    if surface.plane == "vee" and surface.side == "port":
        angle = -angle
    return side_by_side([0.0, np.cos(angle) if surface.plane != "fin" else 0.0, np.sin(angle)])
