"""How sure the margins are, as text in 80 columns and as a document for other programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import cut, heading, printable, signed, wrapped
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from linkcalc.study.tolerance import ToleranceReport
    from linkcalc.tolerances.chances import Estimate
    from linkcalc.tolerances.driver import OutputStudy

__all__ = ["TOLERANCE", "tolerance_document", "tolerance_text"]

TOLERANCE = "linkcalc.tolerance/1"
"""The schema of the document."""

_HOW = (
    "Chance is that of a margin below zero or not computed, every factor of safety included. The "
    "standard deviation is given as sampled and by the law of propagation from the slopes at "
    "the stated values; ! marks where they part. Errors of the method for the air load are not in it."
)
_SHOWN = 24


def tolerance_text(found: ToleranceReport, *, bold: bool = False) -> str:
    """Return how sure the margins are as text.

    Parameters
    ----------
    found : ToleranceReport
        What `linkcalc.tolerance` returns.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        The chance of a shortfall, the least sure margins, and what to measure first.
    """
    whole = found.whole.chance
    percent = round(100 * found.whole.confidence)
    lines = heading(
        f"CHANCE OF A SHORTFALL {_share(whole.chance)}: {printable(found.aircraft)}", bold=bold
    )
    state = "" if found.reached else ", less sure than was asked for"
    stopped = "; stopped by the keyboard" if found.interrupted else ""
    lines += wrapped(
        f"{_share(whole.low)} to {_share(whole.high)} with {percent} % confidence, from "
        f"{found.number} samples (seed {found.seed}){state}{stopped}: {whole.method}. {_HOW}",
        0,
    )
    lines.append("")
    lines += _table(found, bold=bold)
    lines += _placards(found, bold=bold)
    lines += heading("  what to measure first", bold=bold)
    for words in found.advice:
        lines += wrapped(printable(words), 2)
    lines += ["", *heading("  tolerances", bold=bold)]
    stated = sum(one.source == "stated" for one in found.quantities)
    lines += wrapped(f"{stated} stated, {len(found.quantities) - stated} common ones.", 2)
    for words in found.notes:
        lines += wrapped(printable(words), 2)
    return "\n".join([*lines, "", *wrapped(CAUTION, 0)]) + "\n"


def _shown(found: ToleranceReport) -> list[tuple[str, str, str]]:
    """Return the margins that fell short in any sample, and the least sure one of every other run."""
    ordered = sorted(
        found.margins,
        key=lambda key: (
            -found.margins[key].chance.chance,
            found.margins[key].quantile(0.05).value,
        ),
    )
    short = [key for key in ordered if found.margins[key].chance.events][:_SHOWN]
    runs = {run for run, _, _ in short}
    least: dict[str, tuple[str, str, str]] = {}
    for key in ordered:
        if key[0] not in runs:
            least.setdefault(key[0], key)
    return short + list(least.values())


def _table(found: ToleranceReport, *, bold: bool) -> list[str]:
    """Return what may fall short, and what is nearest to it."""
    shown = _shown(found)
    lines = heading(
        "  margin              stated  5 % below   deviation    linear   chance, at most",
        bold=bold,
    )
    last: tuple[str, str] | None = None
    reasons: dict[str, list[str]] = {}
    for run, case, mode in shown:
        one = found.margins[run, case, mode]
        if (run, case) != last:
            lines += wrapped(printable(f"{run}, {case}"), 2)
            last = run, case
        mark = "!" if one.parting else " "
        lines.append(
            f"    {mode:16}{signed(_number(one.local.value)):>8}"
            f"{signed(_number(one.quantile(0.05).value)):>11}{_deviation(one.standard_deviation.value):>12}"
            f"{_deviation(one.local.standard_deviation):>10}{mark}"
            f"{_share(one.chance.chance):>8}{_share(one.chance.high):>9}"
        )
        if one.parting:
            reasons.setdefault(one.parting, []).append(f"{mode} of {run}")
    rest = [one.chance.high for key, one in found.margins.items() if key not in shown]
    if rest:
        lines += wrapped(f"{len(rest)} more, each with a chance of at most {_share(max(rest))}.", 2)
    for reason, places in reasons.items():
        lines += wrapped(f"! {cut(', '.join(places), 150)}: {printable(reason)}.", 2)
    return [*lines, ""]


def _placards(found: ToleranceReport, *, bold: bool) -> list[str]:
    if not found.placard_speeds:
        return []
    lines = heading("  placard speed                        5 % below     half below", bold=bold)
    for (run, case), one in found.placard_speeds.items():
        low, middle = (one.quantile(share).value for share in (0.05, 0.5))
        lines += wrapped(printable(f"{run}, {case}"), 2)
        lines.append(f"{_speed(low):>49}{_speed(middle):>15}")
    return [*lines, ""]


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _speed(value: float) -> str:
    return f"{value:.3g} m/s" if math.isfinite(value) else "none"


def _deviation(value: float) -> str:
    return f"{value:.3g}" if math.isfinite(value) else "none"


def _share(value: float) -> str:
    """Return a chance in at most seven characters."""
    if 0 < value < 1e-4:
        return f"{100 * value:.0e} %"
    return f"{100 * value:.{1 if value < 0.9995 else 0}f} %" if value else "0 %"


def tolerance_document(found: ToleranceReport) -> dict[str, Any]:
    """Return how sure the margins are as a document.

    Parameters
    ----------
    found : ToleranceReport
        What `linkcalc.tolerance` returns.

    Returns
    -------
    dict
        For JSON; None where there is no value.
    """
    return {
        "schema": TOLERANCE,
        "aircraft": found.aircraft,
        "samples": found.number,
        "seed": found.seed,
        "reached": found.reached,
        "interrupted": found.interrupted,
        "confidence": found.whole.confidence,
        "whole": _output(found.whole),
        "margins": [
            {"run": run, "case": case, "mode": mode, **_output(one), "inputs": _inputs(one)}
            for (run, case, mode), one in found.margins.items()
        ],
        "placard_speeds": [
            {"run": run, "case": case, "unit": "m/s", **_quantiles(one)}
            for (run, case), one in found.placard_speeds.items()
        ],
        "quantities": [
            {
                "place": one.place,
                "value": one.stated[0].si,
                "tolerance": one.stated[0].tolerance,
                "distribution": one.stated[0].spread,
                "source": one.source,
            }
            for one in found.quantities
        ],
        "advice": list(found.advice),
        "notes": list(found.notes),
    }


def _output(one: OutputStudy) -> dict[str, Any]:
    return {
        "stated": _number(one.local.value),
        "chance": one.chance._asdict(),
        "mean": _estimate(one.mean),
        "standard_deviation": _estimate(one.standard_deviation),
        "linear_standard_deviation": _number(one.local.standard_deviation),
        "parting": one.parting or None,
        **_quantiles(one),
    }


def _quantiles(one: OutputStudy) -> dict[str, Any]:
    return {
        "quantiles": [
            {"share": share, **_estimate(one.quantile(share))} for share in (0.01, 0.05, 0.5, 0.95)
        ]
    }


def _estimate(found: Estimate) -> dict[str, float | None]:
    return {name: _number(value) for name, value in found._asdict().items()}


def _inputs(one: OutputStudy) -> list[dict[str, Any]]:
    local = one.local
    columns = (local.derivative, local.error, local.per_percent, local.per_tolerance)
    names = ("derivative", "error", "per_percent", "per_tolerance")
    return [
        {"place": place, **dict(zip(names, map(_number, row), strict=True))}
        for place, *row in zip(local.names, *(each.tolist() for each in columns), strict=True)
        if any(row)
    ]
