"""What a plain pushrod gives way by: its horn, what holds the servo's arm, its rod."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.mechanism import pushrod
from linkcalc.model.defaults import DEFAULTS
from linkcalc.model.materials import MATERIALS
from linkcalc.model.value_classes import given, si
from linkcalc.sampled import scalar, side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.evaluation.inputs import Geometry, Surfaces
    from linkcalc.evaluation.notes import Notes
    from linkcalc.model import ControlRun, Linkage

__all__ = ["with_parts", "yields"]

_PARTS = {
    "horn": "horn_stiffness",
    "arm and servo mount": "mount_stiffness",
    "rod": "rod_stiffness",
}


def yields(linkage: Linkage) -> bool:
    """Tell whether a linkage says how one of its parts gives way.

    Parameters
    ----------
    linkage : Linkage
        Any.

    Returns
    -------
    bool
        Whether `with_parts` counts something.
    """
    return linkage.rod_stretch == "computed" or any(given(linkage, key) for key in _PARTS.values())


def with_parts(
    surfaces: Surfaces, runs: Sequence[ControlRun], laid: Geometry, notes: Notes
) -> Surfaces:
    r"""Add what horns, arms with their mounts and rods give way to the compliances.

    A rod that bears f for a moment of one, and a part that moves by 1/k for a force of one along
    the rod, turn the surface by :math:`f^2 / k` for a moment of one (virtual work); f at neutral.

    Parameters
    ----------
    surfaces : Surfaces
        With the compliances that are given whole.
    runs : sequence of ControlRun
        Of an aircraft.
    laid : Geometry
        Its pushrods.
    notes : Notes
        Receives the share of every part.

    Returns
    -------
    Surfaces
        The same where no part says how it gives way.
    """
    linkages = [(number, each) for number, run in enumerate(runs) for each in run.linkages]
    if not any(yields(linkage) for _, linkage in linkages):
        return surfaces
    force = pushrod.solve(0.0, **laid._asdict()).rod_force
    whole: list[Any] = [surfaces.compliance[..., index] for index in range(len(linkages))]
    for index, (number, linkage) in enumerate(linkages):
        if yields(linkage):
            parts = _moves(linkage, scalar(laid.rod_length[..., index]))
            turns = {name: move * scalar(force[..., index]) ** 2 for name, move in parts.items()}
            if whole[index]:
                turns["the rest, as given"] = whole[index]
            whole[index] = sum(turns.values())
            notes.runs[number].append(_told(turns))
    return surfaces._replace(compliance=side_by_side(whole))


def _moves(linkage: Linkage, length: float) -> dict[str, float]:
    """Return the movement of each part for a force of one along the rod [m/N]."""
    made = {name: 1.0 / si(linkage, key) for name, key in _PARTS.items() if given(linkage, key)}
    if linkage.rod_stretch == "computed":
        rod = linkage.pushrod
        outer = si(rod, "diameter", DEFAULTS["rod diameter"].value)
        area = math.pi / 4.0 * (outer**2 - si(rod, "inner_diameter", 0.0) ** 2)
        modulus = si(rod, "modulus", MATERIALS[rod.material or "steel wire"].modulus)
        made["rod"] = length / (modulus * area)
    return made


def _told(turns: dict[str, float]) -> str:
    whole = sum(turns.values())
    shares = ", ".join(
        f"{name} {np.degrees(turn):.3g} deg/(N·m) ({turn / whole:.0%})"
        for name, turn in turns.items()
    )
    return f"compliance of the linkage: {np.degrees(whole):.3g} deg/(N·m) at neutral: {shares}"
