"""Parts that an aircraft could have: alone, and holes of arms and horns together."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from linkcalc.errors import InputFaults
from linkcalc.evaluation.gather import gather

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.choosing.part_axes import PartAxis
    from linkcalc.model import Aircraft

__all__ = ["sound_parts"]

_ENDS = "arm hole", "horn hole"


def sound_parts(axes: Sequence[PartAxis], aircraft: Aircraft) -> tuple[PartAxis, ...]:
    """Return axes without values that no aircraft could have.

    Parameters
    ----------
    axes : sequence of PartAxis
        What is chosen from.
    aircraft : Aircraft
        That parts are chosen for.

    Returns
    -------
    tuple of PartAxis
        What was left out is in `PartAxis.unsound` with its reason: values that are refused with
        all else as it is, and of holes that do not close with one another those that stand
        in the way of the most others, so that all that are left go together.
    """
    made = {axis.kind: axis.sound(aircraft) for axis in axes}
    arm, horn = (made.get(kind) for kind in _ENDS)
    if arm is not None and horn is not None:
        made.update(zip(_ENDS, _closing(arm, horn, aircraft), strict=True))
    return tuple(made.values())


def _closing(arm: PartAxis, horn: PartAxis, aircraft: Aircraft) -> tuple[PartAxis, PartAxis]:
    """Return the holes of both ends of which every pair closes."""
    axes = arm, horn
    bad: dict[tuple[int, int], str] = {}
    for at in range(len(arm.parts)):
        with_arm = arm.axis.put(aircraft, at)
        for hole in range(len(horn.parts)):
            try:
                gather(horn.axis.put(with_arm, hole))
            except InputFaults as error:
                bad[at, hole] = error.faults[0].found
    out: list[dict[int, tuple[str, str]]] = [{}, {}]
    while bad:
        counts = Counter((end, pair[end]) for pair in bad for end in (0, 1))
        end, worst = max(
            counts, key=lambda each: (counts[each], axes[each[0]].axis.labels[each[1]])
        )
        pair = next(each for each in bad if each[end] == worst)
        other = axes[1 - end]
        partner = f"{other.kind} {other.axis.labels[pair[1 - end]]}"
        out[end][worst] = axes[end].axis.labels[worst], f"with {partner}: {bad[pair]}"
        bad = {each: words for each, words in bad.items() if each[end] != worst}
    first, second = (
        axis.taken([at for at in range(len(axis.parts)) if at not in lost])._replace(
            unsound=(*axis.unsound, *lost.values())
        )
        for axis, lost in zip(axes, out, strict=True)
    )
    return first, second
