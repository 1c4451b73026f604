"""The margins of a run in a case."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.results import Margin, Value
from linkcalc.writing.columns import at_deflection, finite, told
from linkcalc.writing.reasons import no_torque, not_applying, why

if TYPE_CHECKING:
    from linkcalc.writing.columns import Columns

__all__ = ["margin_of", "torque_margins"]

_UNITS = {
    "torque": "N*m",
    "travel": "deg",
    "voltage": "V",
    "over-voltage": "V",
    "current": "A",
    "speed": "deg/s",
    "hold": "N*m",
    "buckling": "N",
    "joint": "N",
    "source heat": "W",
    "gear": "N*m",
    "free play": "deg",
    "divergence": "1",
}
_IN_DEGREES = ("deg", "deg/s")
_NOTHING_ASKED = "nothing asked"


def margin_of(columns: Columns, c: int, r: int, mode: str) -> Margin:
    """Return one margin, or why there is none.

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
    Margin
        With a number, or with a reason.
    """
    required, available, margin, applies = (column[0][c][r] for column in columns.margins[mode])
    plain = columns.margins[mode][2][1][c][r]
    unit = _UNITS[mode]
    scale = math.degrees if unit in _IN_DEGREES else float
    factor = _factor(columns, r, mode)
    reason = None
    if not applies:
        reason = not_applying(columns, r, mode)
    elif required == 0 and mode not in {"torque", "divergence"}:
        applies, reason = False, _NOTHING_ASKED
    elif math.isnan(margin):
        reason = why(columns, c, r, mode)
    lines, at = None, None
    if mode == "torque":
        lines = [line[c][r] for line in columns.governing["move_lines"]]
        at = at_deflection(columns.governing["deflection"][c][r])
    return Margin(
        mode=mode,
        applies=bool(applies),
        margin=finite(margin) if applies else None,
        plain=finite(plain) if applies else None,
        factor=factor,
        required=told(scale(required), unit, reason or _NOTHING_ASKED, lines, at),
        available=told(scale(available), unit, reason or "no limit"),
        reason=reason,
    )


def _factor(columns: Columns, r: int, mode: str) -> float:
    """Return the factor of a mode."""
    cables = mode == "joint" and columns.gathered.inputs.runs.cables[r]
    name = "cable_joint" if cables else mode.replace("-", "_").replace(" ", "_")
    return float(getattr(columns.results.factors, name))


def torque_margins(columns: Columns, c: int, r: int) -> dict[str, Value]:
    """Return the torque margin with its band over the lines of the air load, and on the best of them.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int
        The case and the run.

    Returns
    -------
    dict of str to Value
        By name [1].
    """
    return {
        "torque margin": _by_line(columns, c, r),
        "torque margin, best air load": _on_best(columns, c, r),
    }


def _by_line(columns: Columns, c: int, r: int) -> Value:
    """Return the torque margin of the verdict, and those of the air-load lines there."""
    margin = columns.margins["torque"][2][0][c][r]
    moves = [line[c][r] for line in columns.governing["move_lines"]]
    lines = [_over(columns, c, r, move) for move in moves]
    at = at_deflection(columns.governing["deflection"][c][r])
    return told(margin, "1", no_torque(columns, c, r), lines, at)


def _on_best(columns: Columns, c: int, r: int) -> Value:
    """Return the torque margin on the best line, at the deflection where that takes most."""
    inputs, plain = columns.gathered.inputs, columns.governing["move"][1][c][r]
    friction = float(inputs.runs.shaft_friction[r])
    share = columns.share[c][r] * float(inputs.cases.live[c, r])  # the plain one has no mismatch
    move = (plain - friction) * share + friction
    return told(_over(columns, c, r, move), "1", no_torque(columns, c, r))


def _over(columns: Columns, c: int, r: int, move: float) -> float:
    """Return what is available over a torque to move with its factor, less one."""
    needed = move * float(columns.results.factors.torque)
    return columns.available[c][r] / needed - 1 if needed > 0 else math.nan
