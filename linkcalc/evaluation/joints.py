"""The weakest joint of a rod, and what is to be looked at so that none comes apart."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.model.value_classes import si
from linkcalc.physics import joints
from linkcalc.sampled import scalar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from linkcalc.model import Aircraft, Joint, Linkage, LinkageStage

__all__ = ["retention", "weakest"]

_ALWAYS = (
    "servo arm: screw in and tight, arm fully on its spline",
    "servo: every mounting screw in; nothing gives under a push at the arm",
    "full travel, other controls at their ends: nothing binds or touches",
)
_BY_KIND = {
    "clevis": "clevis: pin through both cheeks, and a keeper over them",
    "ball link": "ball link: not at its cone's end at full travel; bears a hard pull",
    "thread": "thread: engaged as far as was counted on; lock nut or locking compound",
    "clamp screw": "clamp screw: tight and locked; a bend or a collar on the rod beyond it",
}
_ROD = "rod: a keeper, a lock nut or a bend holds it at either end"
_CABLES = "cables: ends crimped twice, turnbuckles locked; none leaves its guide"
_TORQUE_ROD = "torque rod: cannot leave the surface; the horn cannot turn on it"
_DRIVE = "direct drive: cannot come off the shaft; hinges carry the surface"


def weakest(owner: Linkage | LinkageStage, lines: list[str]) -> float:
    """Return what the weakest joint of a rod bears.

    Parameters
    ----------
    owner : Linkage or LinkageStage
        Its `joint_rating` and `joints` are used.
    lines : list of str
        Receives a line for every joint that is not checked.

    Returns
    -------
    float
        Least of all that is known; infinite where nothing is [N].
    """
    known = [si(owner, "joint_rating", math.inf)]
    for joint in owner.joints:
        force = _capacity(joint)
        if np.isnan(force):
            lines.append(f"{joint.kind} without a rating or data: not checked")
        else:
            known.append(force)
    return functools.reduce(np.minimum, known)


def _capacity(joint: Joint) -> float:
    """Return the least of a joint's rating and what follows from its data; nan without either."""
    found = [si(joint, "rating")]
    strength = si(joint, "shear_strength")
    if joint.kind == "clevis":
        diameter = si(joint, "pin_diameter")
        found.append(scalar(joints.pin_shear(diameter=diameter, shear_strength=strength)))
    if joint.kind == "thread":
        found.append(
            scalar(
                joints.thread_shear(
                    diameter=si(joint, "thread_diameter"),
                    engaged_length=si(joint, "engaged_length"),
                    shear_strength=strength,
                )
            )
        )
    if joint.kind == "clamp screw" and joint.friction is not None:
        force = si(joint, "clamping_force")
        found.append(scalar(joints.clamp_slip(clamping_force=force, friction=joint.friction)))
    return functools.reduce(np.fmin, found)


def retention(aircraft: Aircraft) -> tuple[str, ...]:
    """Return what holds the linkages of an aircraft together, as a list to go through.

    Parameters
    ----------
    aircraft : Aircraft
        Linkages, stages and joints are used.

    Returns
    -------
    tuple of str
        One line for each thing to look at; common practice, no source.
    """
    linkages = [linkage for run in aircraft.runs for linkage in run.linkages]
    return (*_ALWAYS, *dict.fromkeys(line for linkage in linkages for line in _of(linkage)))


def _of(linkage: Linkage) -> Iterator[str]:
    if not linkage.stages:
        yield from _named(linkage.joints, _ROD)
    for stage in linkage.stages:
        yield from _named(stage.joints, _BY_STAGE[stage.kind])


_BY_STAGE = {
    "pushrod": _ROD,
    "cables": _CABLES,
    "torque rod": _TORQUE_ROD,
    "direct drive": _DRIVE,
}


def _named(held: Sequence[Joint], otherwise: str) -> Iterator[str]:
    if not held or otherwise is _CABLES:
        yield otherwise
    for joint in held:
        yield _BY_KIND[joint.kind]
