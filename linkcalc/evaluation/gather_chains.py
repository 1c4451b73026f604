"""From the stages of a linkage to a chain in SI, its members and what they stand."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.evaluation.joints import weakest
from linkcalc.mechanism import elastic
from linkcalc.mechanism.cables import Cables, make_cables
from linkcalc.mechanism.chain import Chain, make_chain
from linkcalc.mechanism.stage import REASONS
from linkcalc.mechanism.stages import make_pushrod, torque_rod
from linkcalc.model.defaults import ROD_LENGTHS
from linkcalc.model.materials import MATERIALS
from linkcalc.model.value_classes import si, stated

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.mechanism.stage import Stage
    from linkcalc.model import Linkage, LinkageStage, ServoArm

    Floats = NDArray[np.float64]

__all__ = ["Made", "make"]

_ACROSS = (0.0, 1.0, 0.0)
_SHEAR_MODULUS = 79e9  # steel wire: standard handbook value, from memory
_SAME = 1e-6  # pivots of one body lie on one axis within this [m]


class Made(NamedTuple):
    """A chain of a linkage.

    Attributes
    ----------
    chain : Chain
        From servo to surface.
    last : tuple
        Keywords of the last rod, or first cable, as `inputs.Geometry` has them; nan without one.
    rods : tuple of bool
        For each member, whether it is a rod; a cable otherwise.
    ratings : tuple of float
        For each member, of its weakest joint; infinite where not given [N].
    clearances : tuple of float
        For each stage, of its joints; nan where not given [m].
    lengths : tuple of float
        For each stage, of its rod; nan where it has none [m].
    compliance : float
        Of what the stages tell, at neutral [rad/(N m)].
    """

    chain: Chain
    last: tuple[Any, ...]
    rods: tuple[bool, ...]
    ratings: tuple[float, ...]
    clearances: tuple[float, ...]
    lengths: tuple[float, ...]
    compliance: float


class _Laid(NamedTuple):
    """Ends of one rod, or of a pair of cables, in space."""

    servo_pivot: Floats
    servo_axis: Floats
    arms: Floats
    hinge_pivot: Floats
    hinge_axis: Floats
    horns: Floats
    length: float


def make(linkage: Linkage, hinge_axis: Floats, place: str, lines: list[str]) -> Made:
    """Make the chain of a linkage.

    Parameters
    ----------
    linkage : Linkage
        With stages.
    hinge_axis : ndarray, shape (3,)
        Of the surface, where no stage is drawn in space.
    place : str
        Where the file has it.
    lines : list of str
        Receives a line for every default.

    Returns
    -------
    Made
        Closed at neutral.

    Raises
    ------
    InputFaults
        A stage is missing, or does not close at neutral.
    """
    stages = linkage.stages
    laid = _laid_out(stages, lines)
    axes = _neighbours(laid) if any(laid) else [hinge_axis] * len(stages)
    made = [_stage(*pair) for pair in zip(stages, laid, axes, strict=True)]
    limits = [(si(stage, "joint_limit", math.inf),) * 2 for stage in stages]
    try:
        chain = make_chain(made, joint_limits=limits)
    except ValueError:
        raise _missing(place) from None
    _joined(laid, place)
    _closed(chain, place)
    kinds = [stage.kind for stage in stages]
    members = [
        (stage.kind == "pushrod", rating)
        for stage in stages
        for rating in [weakest(stage, lines)] * {"pushrod": 1, "cables": 2}.get(stage.kind, 0)
    ]
    rods = [item for item in laid if item is not None]
    return Made(
        chain,
        _row(rods[-1]) if rods else (*[(math.nan,) * 3] * 6, math.nan),
        tuple(rod for rod, _ in members),
        tuple(rating for _, rating in members),
        tuple(si(stage, "joint_play") for stage in stages),
        tuple(
            item.length if item and kind == "pushrod" else math.nan
            for kind, item in zip(kinds, laid, strict=True)
        ),
        _compliance(chain, stages, lines),
    )


def _row(laid: _Laid) -> tuple[Any, ...]:
    return (
        laid.servo_pivot,
        laid.servo_axis,
        laid.arms[0],
        laid.hinge_pivot,
        laid.hinge_axis,
        laid.horns[0],
        laid.length,
    )


# layout --------------------------------------------------------------------------


def _laid_out(stages: Sequence[LinkageStage], lines: list[str]) -> list[_Laid | None]:
    """Lay every stage out in space; those drawn by radii one after another, the last along x."""
    turns = np.cumsum([si(stage, "turn", 0.0) for stage in stages])
    pulling = [index for index, stage in enumerate(stages) if stage.arm is not None]
    made: list[_Laid | None] = [None] * len(stages)
    pivot = np.zeros(3)
    for index in pulling:
        stage = stages[index]
        if stage.arm is not None and stage.arm.pivot is not None:
            made[index] = _in_space(stage)
            continue
        made[index] = laid = _by_radii(
            stage, pivot, float(turns[index] - turns[pulling[-1]]), lines
        )
        pivot = laid.hinge_pivot
    return made


def _in_space(stage: LinkageStage) -> _Laid:
    arms = _pair(stage.arm, stage.other_arm, _vector)
    horns = _pair(stage.horn, stage.other_horn, _vector)
    start, axis, end, hinge = (
        np.array(getattr(part, name), dtype=np.float64)
        for part in (stage.arm, stage.horn)
        for name in ("pivot", "axis")
    )
    drawn = float(np.linalg.norm(end + horns[0] - start - arms[0]))
    held = stage.pushrod and stated(stage.pushrod, "length")
    return _Laid(start, axis, arms, end, hinge, horns, float(held.si) if held else drawn)


def _vector(end: ServoArm) -> Floats:
    return np.array(end.vector, dtype=np.float64)


def _pair(
    first: ServoArm | None, other: ServoArm | None, vector: Callable[[ServoArm], Floats]
) -> Floats:
    """Joints of both cables; the second lies on the other side of the axis unless it is drawn."""
    if first is None:
        raise AssertionError  # the model's rules ask for it
    one = vector(first)
    return np.stack([one, vector(other) if other is not None else -one])


def _by_radii(stage: LinkageStage, pivot: Floats, turn: float, lines: list[str]) -> _Laid:
    along = np.array([math.cos(turn), 0.0, -math.sin(turn)])
    square = np.array([math.sin(turn), 0.0, math.cos(turn)])

    def first(end: ServoArm) -> Floats:
        lean = si(end, "lean", 0.0)
        return si(end, "radius") * (math.sin(lean) * along + math.cos(lean) * square)

    def other(end: ServoArm) -> Floats:  # on the other side, leaning the same way
        lean = si(end, "lean", 0.0)
        return si(end, "radius") * (math.sin(lean) * along - math.cos(lean) * square)

    arm, horn = stage.arm, stage.horn
    if arm is None or horn is None:
        raise AssertionError  # the model's rules ask for both
    arms = np.stack([first(arm), other(stage.other_arm or arm)])
    horns = np.stack([first(horn), other(stage.other_horn or horn)])
    held = stated(stage, "length") or (stage.pushrod and stated(stage.pushrod, "length"))
    length = float(held.si) if held else ROD_LENGTHS * max(si(arm, "radius"), si(horn, "radius"))
    if not held:
        lines.append(
            f"length of the {stage.kind} not given: {length * 1000:.4g} mm, {ROD_LENGTHS:g} x the "
            "longer radius (common practice, no source)"
        )
    end = pivot + arms[0] + length * along - horns[0]
    across = np.array(_ACROSS)
    return _Laid(pivot, across, arms, end, across, horns, length)


def _neighbours(laid: list[_Laid | None]) -> list[Any]:
    """Axis of every stage that has none of its own: that of the stage before, or after."""
    known = [(index, item) for index, item in enumerate(laid) if item is not None]
    axes = []
    for index in range(len(laid)):
        before = [item.hinge_axis for place, item in known if place <= index]
        axes.append(before[-1] if before else known[0][1].servo_axis)
    return axes


# stages --------------------------------------------------------------------------


def _stage(stage: LinkageStage, laid: _Laid | None, axis: Any) -> Stage:
    if laid is None:
        return torque_rod(axis=axis)
    ends = {name: getattr(laid, name) for name in _ENDS}
    if stage.kind == "pushrod":
        return make_pushrod(
            **ends, arm=laid.arms[0], horn=laid.horns[0], rod_length=np.float64(laid.length)
        )
    return make_cables(
        **ends,
        arms=laid.arms,
        horns=laid.horns,
        slack=si(stage, "slack", 0.0),
        preload=si(stage, "preload", 0.0),
        stiffness=si(stage, "stiffness", math.inf),
    )


_ENDS = ("servo_pivot", "servo_axis", "hinge_pivot", "hinge_axis")


def _compliance(chain: Chain, stages: Sequence[LinkageStage], lines: list[str]) -> float:
    """Compliance at neutral of rods, cables and torque rods that say how they stretch or twist."""
    members, shafts = [], [0.0]
    for stage in stages:
        stretch = 1.0 / si(stage, "stiffness", math.inf)
        members.append(stretch)
        shafts.append(_twist(stage) if stage.kind == "torque rod" else 0.0)
    found = elastic.compliance(chain, 0.0, members=members, shafts=shafts)
    other = elastic.compliance(chain, 0.0, members=members, shafts=shafts, sense=-1.0)
    made = max(float(found.total), float(other.total))
    if made > 0:
        lines.append(
            f"compliance of the stages: {math.degrees(made):.3g} deg/(N·m) at neutral, from stretch and "
            "twist; cables as if the slack one bore nothing, on the safe side"
        )
    return made


def _twist(stage: LinkageStage) -> float:
    return float(
        elastic.torque_rod_compliance(
            length=si(stage, "length"),
            shear_modulus=si(stage, "shear_modulus", _SHEAR_MODULUS),
            outer_diameter=si(stage, "diameter"),
            bent_length=si(stage, "bent_length", 0.0),
            modulus=si(stage, "modulus", MATERIALS["steel wire"].modulus),
        )
    )


# faults --------------------------------------------------------------------------


def _missing(place: str) -> InputFaults:
    return InputFaults(
        [
            Fault(
                "",
                f"{place}.stages",
                "neighbours that turn about different axes",
                "stages of which each drives the next: its horn on the pivot and axis of the next arm",
                "Check pivots and axes; is a stage missing?",
            )
        ]
    )


def _joined(laid: list[_Laid | None], place: str) -> None:
    """Refuse neighbours whose pivots do not lie on one axis."""
    known = [item for item in laid if item is not None]
    for before, after in pairwise(known):
        apart = np.cross(after.servo_pivot - before.hinge_pivot, before.hinge_axis)
        if np.linalg.norm(apart) > _SAME * np.linalg.norm(before.hinge_axis):
            raise _missing(place)


def _closed(chain: Chain, place: str) -> None:
    """Refuse a chain that has no answer at neutral."""
    for sense in (1.0, -1.0):
        found = chain.follow(0.0, sense)
        if found.reason:
            stage = chain.stages[int(found.stage)]
            expected = (
                "cables that pull the surface both ways and close at neutral"
                if isinstance(stage, Cables)
                else "arm, rod and horn that close at neutral"
            )
            raise InputFaults(
                [
                    Fault(
                        "",
                        f"{place}.stages[{int(found.stage)}]",
                        REASONS[int(found.reason)],
                        expected,
                        "Check pivots, vectors, lengths and the limit of the joints.",
                    )
                ]
            )
