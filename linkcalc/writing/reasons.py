"""Why a margin or a value is not there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from linkcalc.writing.columns import Columns

__all__ = ["NOT_APPLYING", "no_torque", "no_voltage", "not_applying", "why"]

NOT_APPLYING = {
    "current": "not given, not checked",
    "hold": "a brief case",
    "buckling": "the rod is never in compression",
    "joint": "not given, not checked",
    "source heat": "no linear regulator, or no heat rating of one",
    "gear": "not given, not checked",
    "free play": "not given, not checked",
    "divergence": "not given, not checked",
}
"""Why a mode does not apply, where that is the same for all."""

_NO_VOLTAGE = "no voltage satisfies the supply"
_REFUSED = "less arrives than the first datasheet row has, and the file refuses to scale below it"


def not_applying(columns: Columns, r: int, mode: str) -> str:
    """Say why a mode does not apply.

    Parameters
    ----------
    columns : Columns
        What was computed.
    r : int
        The run.
    mode : str
        As `linkcalc.results.MODES` has it.

    Returns
    -------
    str
        In words.
    """
    rods = columns.gathered.inputs.rods
    if mode == "buckling" and np.isinf(rods.critical_load[rods.owner == r]).all():
        return "nothing there that buckles: cables, or a direct drive"
    return NOT_APPLYING[mode]


def why(columns: Columns, c: int, r: int, mode: str) -> str:
    """Say why a margin that applies cannot be computed.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int
        The case and the run.
    mode : str
        As `linkcalc.results.MODES` has it.

    Returns
    -------
    str
        In words.
    """
    if mode == "travel":
        return "neutral is not reached"
    if mode in {"voltage", "current", "source heat"}:
        return no_voltage(columns, c, r)
    return no_torque(columns, c, r)


def no_torque(columns: Columns, c: int, r: int) -> str:
    """Say why there is no torque margin.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int
        The case and the run.

    Returns
    -------
    str
        In words.
    """
    failed = [columns.failures[name] for name in _asked(columns, r) if name in columns.failures]
    if failed:
        return failed[0]
    if columns.neutral_lost[r]:
        return "neutral is not reached"
    move = columns.governing["move"][0][c][r]
    if math.isnan(move):
        return "no part of the commanded range is reached"
    return (
        "no load at any deflection: something is missing in the file"
        if move == 0
        else no_voltage(columns, c, r)
    )


def _asked(columns: Columns, r: int) -> list[str]:
    """Return the hinge-moment solvers of a run."""
    surfaces = columns.gathered.inputs.surfaces
    return [name for name, owner in zip(surfaces.solver, surfaces.owner, strict=True) if owner == r]


def no_voltage(columns: Columns, c: int | None = None, r: int | None = None) -> str:
    """Say why there is no voltage.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int, optional
        The case and the run; left out, all of them.

    Returns
    -------
    str
        In words.
    """
    failed = columns.failures.get(columns.gathered.inputs.supply.solver)
    if c is not None and not failed and columns.delivered["scaled"][c][r]:
        refused = columns.gathered.inputs.servos.refuse_below[r]
        return _REFUSED if refused else _NO_VOLTAGE
    return failed or _NO_VOLTAGE
