"""The choice of wire, as text in 80 columns and as a document for other programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.report.drop import drop_document, drop_lines
from linkcalc.report.layout import counted, cut, heading, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.study.drops import Path
    from linkcalc.study.wires import Wire, Wiring

__all__ = ["WIRES", "wire_document", "wire_text"]

WIRES = "linkcalc.wires/1"
"""The schema of the document."""

_HOW = (
    "Alone is the thinnest gauge that will do for these leads while all others stay as they are, "
    "together the set for all of them at once. They differ, for what one lead loses another "
    "has to save. Mass counts copper and insulation of two power conductors and one for the "
    "signal; wall and density of the insulation are common practice, no source."
)
_VOLTS = (
    "Where the volts go {}, with each servo at its own limit, in the case in which least arrives "
    "at it:"
)
_HEAT = (
    "How warm the wire gets counts only where the file has supply.air_temperature and asks for "
    "computed copper temperatures. Not looked at: how it is handled. Thin wire breaks at solder joints "
    "and plugs first; the margins above zero are what is left for both."
)


def wire_text(found: Wiring, paths: Sequence[Path] = (), *, bold: bool = False) -> str:
    """Return the choice of wire as text.

    Parameters
    ----------
    found : Wiring
        What `linkcalc.study.wires.choose_wires` returns.
    paths : sequence of Path
        Where the volts go with the set that is told, one for each run.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        What may be fitted, lead by lead, and what it weighs.
    """
    lines = heading(f"{_verdict(found)}: {found.aircraft}", bold=bold)
    lines += [*wrapped(_HOW, 0), ""]
    lines += heading(
        "  leads                     length  pieces  now        alone      together", bold=bold
    )
    for wire in found.wires:
        lines += _rows(wire)
    lines.append("")
    now, chosen = (math.fsum(column) for column in zip(*map(_masses, found.wires), strict=True))
    lines += wrapped(f"Mass now {now * 1e3:.3g} g" + _then(chosen * 1e3, "g") + ".", 0)
    if all(not math.isnan(wire.arm) for wire in found.wires):
        moments = [
            math.fsum(wire.arm * mass for wire, mass in zip(found.wires, column, strict=True))
            for column in zip(*map(_masses, found.wires), strict=True)
        ]
        lines += wrapped(
            f"Mass times distance aft of the centre of gravity now {moments[0] * 1e3:.3g} g·m"
            + _then(moments[1] * 1e3, "g·m")
            + ".",
            0,
        )
    for wire in found.wires:
        if wire.fits is False:
            lines += wrapped(f"{_names(wire)}: bundle or connector do not pass the bore.", 0)
    lines += _reasons(found)
    if paths:
        which = "with that set" if found.passes else "with the wire as it is"
        lines += ["", *wrapped(_VOLTS.format(which), 0), ""]
        lines += drop_lines(paths, bold=bold)
    return "\n".join([*lines, "", *wrapped(_HEAT, 0), "", *wrapped(CAUTION, 0)]) + "\n"


def _verdict(found: Wiring) -> str:
    if not found.passes:
        return "NO WIRE WILL DO"
    return "WIRE THAT WILL DO" if found.passes_now else "OTHER WIRE WOULD DO"


def _names(wire: Wire) -> str:
    return ", ".join(wire.leads)


def _rows(wire: Wire) -> list[str]:
    names = wrapped(_names(wire), 2) if len(_names(wire)) > 24 else [f"  {_names(wire)}"]
    gauges = (cut(each or "none", 10) for each in (wire.now, wire.alone, wire.chosen))
    figures = f"{wire.length:7.3g} m {wire.pieces:7}  " + " ".join(f"{each:10}" for each in gauges)
    last = names.pop()
    if len(last) > 24:
        return [*names, last, (" " * 24 + figures).rstrip()]
    return [*names, (f"{last:24}" + figures).rstrip()]


def _masses(wire: Wire) -> tuple[float, float]:
    return wire.mass_now, wire.mass_chosen


def _then(value: float, unit: str) -> str:
    return "" if math.isnan(value) else f", together {value:.3g} {unit}"


def _reasons(found: Wiring) -> list[str]:
    lines = []
    if found.passes:
        order = "in the order of their mass" if found.by == "mass" else "in the order of balance"
        lines += wrapped(f"{counted(found.tried, 'set')} tried {order}; the last one passes.", 0)
        if not found.exact:
            lines += wrapped(
                "There were too many to try all: a gauge that fails with every other lead at "
                "its thickest was left out before.",
                0,
            )
    for run, modes in _short(found).items():
        lines += wrapped(f"With the thickest still short: {', '.join(modes)} of {run!r}.", 0)
    if found.others:
        lines += wrapped(f"No wire mends what is short in {', '.join(found.others)}.", 0)
    return lines


def _short(found: Wiring) -> dict[str, dict[str, None]]:
    """Return the modes that are short in any case, by run."""
    made: dict[str, dict[str, None]] = {}
    for mode, run, _ in found.short:
        made.setdefault(run, {})[mode] = None
    return made


def wire_document(found: Wiring, paths: Sequence[Path] = ()) -> dict[str, Any]:
    """Return the choice of wire as a document.

    Parameters
    ----------
    found : Wiring
        What `linkcalc.study.wires.choose_wires` returns.
    paths : sequence of Path
        As for `wire_text`.

    Returns
    -------
    dict
        For JSON; masses in kg, lengths in m, None where there is no value.
    """
    return {
        "schema": WIRES,
        "aircraft": found.aircraft,
        "by": found.by,
        "passes": found.passes,
        "passes_now": found.passes_now,
        "tried": found.tried,
        "exact": found.exact,
        "wires": [
            {
                name: None if isinstance(value, float) and math.isnan(value) else value
                for name, value in (wire._asdict() | {"leads": list(wire.leads)}).items()
            }
            for wire in found.wires
        ],
        "short": [dict(zip(("mode", "run", "case"), place, strict=True)) for place in found.short],
        "others": list(found.others),
        "paths": drop_document(paths),
    }
