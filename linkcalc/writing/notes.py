"""What to watch, and what stood in for what was not given."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.evaluation.load_steps import edge_notes

if TYPE_CHECKING:
    from linkcalc.results import Margin
    from linkcalc.writing.columns import Columns

__all__ = ["notes_of"]

_SIGNAL_ROOM = 0.4
"""High level that an output of 3.3 V logic keeps over what an input asks for [V]: 2.4 V over
2.0 V (JEDEC JESD8C, from memory)."""
_WATCH = {
    "stalled": "stalled at the working point: the load is more than this servo gives there",
    "latch_up": "latch-up: a second, lower voltage satisfies the supply too; a brown-out may hold itself",
    "scaled": "a voltage below the first datasheet row was met: its figures were scaled with the voltage",
}


def notes_of(columns: Columns, c: int, r: int, margins: tuple[Margin, ...]) -> list[str]:
    """Return what stands in for what was not given, and what to watch.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int
        The case and the run.
    margins : tuple of Margin
        Of the run in the case.

    Returns
    -------
    list of str
        A note each.
    """
    unsaid = set()
    if columns.gathered.inputs.servos.refuse_below[r]:
        unsaid.add("scaled")
    if math.isnan(columns.governing["move"][0][c][r]):
        unsaid.add("stalled")  # a load that is not known counts as one, for the sake of the others
    notes = [
        words
        for flag, words in _WATCH.items()
        if columns.delivered[flag][c][r] and flag not in unsaid
    ]
    rise = columns.delivered["ground_rise"][c][r]
    if rise > _SIGNAL_ROOM:
        notes.append(
            f"the servo's ground rises {rise:.2g} V over the receiver's: a 3.3 V signal has "
            f"{_SIGNAL_ROOM:g} V of room (JESD8C levels, from memory); thicken the return conductor, "
            "or shift the signal's level"
        )
    notes += columns.results.beyond.get((c, r), [])
    notes += edge_notes(columns.results.steps.get((c, r), []))
    missing = [margin.mode for margin in margins if margin.reason == "not given, not checked"]
    if missing:
        notes.append(f"not given, not checked: {', '.join(missing)}")
    notes += _tension(columns, c, r)
    return [*notes, *columns.gathered.notes.runs[r], *columns.gathered.notes.cases[c]]


def _tension(columns: Columns, c: int, r: int) -> list[str]:
    """Say on which side of the surface a horn keeps the rod in tension.

    With the servo ahead of the hinge line, a moment that pushes the trailing edge down
    pulls at a rod on the upper side (on a fin: the port side).
    """
    force, moment = columns.governing["rod_force"][c][r], columns.governing["moment"][c][r]
    if math.isnan(force) or math.isnan(moment) or 0 in {force, moment}:
        return []
    inputs = columns.gathered.inputs
    first = inputs.surfaces.first[r]
    geometry = inputs.geometry
    if inputs.runs.cables[r] or np.isnan(geometry.rod_length[first]):
        return []
    ahead = geometry.servo_pivot[first, 0] < geometry.hinge_pivot[first, 0]
    upright = abs(inputs.surfaces.normal[first, 1]) > abs(inputs.surfaces.normal[first, 2])
    sides = ("port", "starboard") if upright else ("upper", "lower")
    pulls = sides[0] if (moment > 0) == ahead else sides[1]
    state = "tension" if force > 0 else "compression"
    where = f"the rod is in {state} where its force is largest"
    return [f"{where}; at the governing deflection a horn on the {pulls} side keeps it in tension"]
