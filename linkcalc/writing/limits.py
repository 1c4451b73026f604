"""Limits of speed, of a run and of the whole aircraft."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.results import MODES, Value
from linkcalc.writing.reasons import no_torque

if TYPE_CHECKING:
    from linkcalc.writing.columns import Columns

__all__ = ["limit_of", "limits_of_dives", "limits_of_runs", "whole_values"]

_STARTS = "from {:.4g} m/s on it is held; at lower speeds weight or camber is too much"
_NEVER = "not held at any speed up to {:.4g} m/s"


def limit_of(columns: Columns, name: str, c: int, r: int) -> Value:
    """Return a limit of speed, or why there is none.

    Parameters
    ----------
    columns : Columns
        What was computed.
    name : str
        ``torque_limit``, ``freeze`` or ``placard``.
    c, r : int
        The case and the run.

    Returns
    -------
    Value
        [m/s].
    """
    parts = {part: column[c][r] for part, column in columns.limits[name].items()}
    if not math.isnan(parts["speed"]):
        ends = f"ended by {MODES[parts['mode']]}" if name == "placard" else None
        return Value(parts["speed"], "m/s", at=ends)
    if parts["at_zero"]:
        return Value(None, "m/s", reason=_none_up_to(columns))
    if math.isnan(columns.margins["torque"][2][0][c][r]):
        return Value(None, "m/s", reason=no_torque(columns, c, r))
    if not math.isnan(parts["from_speed"]):
        return Value(None, "m/s", reason=_STARTS.format(parts["from_speed"]))
    return Value(None, "m/s", reason=_NEVER.format(columns.results.speeds.greatest))


def whole_values(columns: Columns) -> dict[str, Value]:
    """Return the placard speeds of the aircraft.

    Parameters
    ----------
    columns : Columns
        What was computed.

    Returns
    -------
    dict of str to Value
        By name.
    """
    kinds = {"placard speed": "dive", "manoeuvre placard speed": "manoeuvre"}
    return {name: _least(columns, "placard", kind) for name, kind in kinds.items()}


def limits_of_dives(columns: Columns) -> dict[str, Value]:
    """Return the least placard and freeze speed over the runs of dive cases.

    Parameters
    ----------
    columns : Columns
        What was computed.

    Returns
    -------
    dict of str to Value
        Each with the run and the case that it is from; null with a reason.
    """
    return {f"{name} speed": _least(columns, name, "dive") for name in ("placard", "freeze")}


def limits_of_runs(columns: Columns) -> dict[tuple[str, str], dict[str, Value]]:
    """Return placard and freeze speed of every run in every case.

    Parameters
    ----------
    columns : Columns
        What was computed.

    Returns
    -------
    dict of (str, str) to dict of str to Value
        By run and case.
    """
    return {
        (run.name, case.name): {
            f"{name} speed": limit_of(columns, name, c, r) for name in ("placard", "freeze")
        }
        for r, run in enumerate(columns.aircraft.runs)
        for c, case in enumerate(columns.aircraft.cases)
    }


def _least(columns: Columns, name: str, kind: str) -> Value:
    """Return the least limit of speed over the runs in cases of a kind."""
    cases = [c for c, case in enumerate(columns.aircraft.cases) if case.kind == kind]
    if not cases:
        return Value(None, "m/s", reason=f"there is no case of the kind {kind!r}")
    live = columns.gathered.inputs.cases.live
    least: tuple[float, str] | None = None
    for c in cases:
        for r, run in enumerate(columns.aircraft.runs):
            if live[c, r] == 0:
                continue
            value = limit_of(columns, name, c, r)
            if value.value is None and columns.limits[name]["at_zero"][c][r]:
                continue  # nothing ends it below the greatest speed that is sought
            if value.value is None:
                return Value(None, "m/s", reason=f"{run.name!r}: {value.reason}")
            if least is None or value.value < least[0]:
                where = f"{run.name!r} in {columns.aircraft.cases[c].name!r}"
                least = (value.value, f"{where}, {value.at}" if value.at else where)
    if least is None:
        return Value(None, "m/s", reason=_none_up_to(columns))
    return Value(least[0], "m/s", at=least[1])


def _none_up_to(columns: Columns) -> str:
    """Say that nothing limits the speed."""
    return f"none up to {columns.results.speeds.greatest:.4g} m/s"
