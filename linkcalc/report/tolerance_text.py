"""How sure the margins are, as text in 80 columns and as a document for other programs."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.report.layout import WIDTH, cut, heading, printable, signed, wrapped
from linkcalc.report.text import CAUTION
from linkcalc.units import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.study.tolerance import ToleranceReport
    from linkcalc.tolerances.chances import Estimate
    from linkcalc.tolerances.driver import OutputStudy
    from linkcalc.tolerances.indices import Indices
    from linkcalc.tolerances.reliability import RareChance

    Floats = NDArray[np.float64]

__all__ = ["TOLERANCE", "tolerance_document", "tolerance_text"]

TOLERANCE = "linkcalc.tolerance/1"
"""The schema of the document."""

_HOW = (
    "Chance is that of a margin below zero or not computed, every factor of safety included. The "
    "standard deviation is given as sampled and by the law of propagation from the slopes at "
    "the stated values; ! marks where they part. Errors of the method for the air load are not in it."
)
_SHOWN = 24
_SPREADS, _FACTORS, _LEAST_SHARE = 5, 4, 0.03  # margins, factors of each, least total index
SHARES = (0.01, 0.05, 0.5, 0.95)
"""Quantiles that are told."""


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
    state = "" if found.reached else ", some margins less sure than was asked for"
    stopped = "; stopped by the keyboard" if found.interrupted else ""
    lines += wrapped(
        f"{_share(whole.low)} to {_share(whole.high)} with {percent} % confidence, from "
        f"{found.number} samples (seed {found.seed}){state}{stopped}: {whole.method}. {_HOW}",
        0,
    )
    lines.append("")
    lines += _table(found, bold=bold)
    lines += _placards(found, bold=bold)
    lines += _rare(found, bold=bold)
    lines += _slopes(found, bold=bold)
    lines += _spread(found, bold=bold)
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
    lines = heading(
        "  placard speed [m/s]   stated   1 % below   5 % below   half below   95 % below",
        bold=bold,
    )
    for (run, case), one in found.placard_speeds.items():
        low, lower, middle, upper = (_speed(one.quantile(share).value) for share in SHARES)
        lines += wrapped(printable(f"{run}, {case}"), 2)
        lines.append(f"{_speed(one.local.value):>30}{low:>12}{lower:>12}{middle:>13}{upper:>13}")
    return [*lines, ""]


def _rare(found: ToleranceReport, *, bold: bool) -> list[str]:
    """Return how likely shortfalls are that no sample had."""
    if not found.rare:
        return []
    lines = heading("  rare shortfalls", bold=bold)
    for (run, case, mode), one in found.rare.items():
        first, sampled = one.first_order, one.sampled
        if sampled is None:
            words = f"{first.reason}."
        else:
            likely = sorted(
                zip(one.values, first.importance.tolist(), strict=True), key=lambda pair: -pair[1]
            )[:2]
            words = (
                f"{_share(sampled.value)} ({_share(sampled.low)} to {_share(sampled.high)}) by "
                f"importance sampling with {one.number} points; {_share(first.chance)} by "
                f"first-order reliability, {first.distance:.1f} standard scores away. It comes most "
                f"of {' and '.join(place for place, _ in likely)}."
            )
        lines += wrapped(printable(f"{mode} of {run}, {case}: {words}"), 2)
    if any(one.sampled for one in found.rare.values()):
        lines += wrapped("A second way to fall short, far from the likeliest, may be missed.", 2)
    return [*lines, ""]


def _slopes(found: ToleranceReport, *, bold: bool) -> list[str]:
    """Return how what is least sure follows each input at the stated values."""
    lines = heading(
        "  what moves it: change for 1 % more, and for one standard uncertainty", bold=bold
    )
    unsure = False
    for run, case, mode in _shown(found)[:_SPREADS]:
        local = found.margins[run, case, mode].local
        lines += wrapped(printable(f"{mode} of {run}, {case}"), 2)
        part = np.where(np.isnan(local.per_tolerance), np.inf, np.abs(local.per_tolerance))
        for place in np.argsort(-part, kind="stable")[:_FACTORS].tolist():
            if part[place] > _LEAST_SHARE * part.max():
                slope, error = local.derivative[place], local.error[place]
                vague = not error <= 0.1 * abs(slope)
                unsure |= vague
                each = (local.per_percent[place], local.per_tolerance[place])
                told = "".join(f"{value:>+10.2g}" for value in each)
                lines += _beside(f"{told}{'?' if vague else ' '}  ", local.names[place])
    if unsure:
        lines += wrapped("? the slope may be off by more than a tenth: it is not smooth there.", 2)
    return [*lines, ""]


def _beside(numbers: str, words: str) -> list[str]:
    """Return words in lines beside their numbers."""
    return textwrap.wrap(
        printable(words),
        WIDTH,
        initial_indent=f"    {numbers}",
        subsequent_indent=" " * (len(numbers) + 4),
    )


def _spread(found: ToleranceReport, *, bold: bool) -> list[str]:
    """Return the Sobol indices of what may fall short, and of what is nearest to it."""
    if found.whole_indices is None:
        return []
    whole = found.whole_indices
    lines = heading("  what the spread comes from", bold=bold)
    percent = round(100 * found.whole.confidence)
    lines += wrapped(
        f"Sobol indices with {percent} % confidence, from {whole.number} points, "
        f"{whole.evaluations} evaluations: the share of the variance that each brings by itself, "
        "and together with all that it acts with.",
        2,
    )
    each = [("least margin of the aircraft", whole)] + [
        (f"{mode} of {run}, {case}", found.indices[run, case, mode])
        for run, case, mode in _shown(found)[:_SPREADS]
    ]
    for name, one in each:
        lines += wrapped(printable(f"{name}{': ' * bool(one.reason)}{one.reason}"), 2)
        order = sorted(range(len(one.total)), key=lambda place: -one.total[place])
        for place in order[:_FACTORS]:
            if one.total[place] >= _LEAST_SHARE:
                shares = (
                    _index(one.first, one.first_interval, place),
                    _index(one.total, one.total_interval, place),
                )
                lines += _beside(f"{shares[0]:14}{shares[1]:14}", _moved(one.factors[place]))
    return [*lines, ""]


def _index(values: Floats, intervals: Floats, place: int) -> str:
    half = (intervals[place, 1] - intervals[place, 0]) / 2.0
    return f"{values[place]:.2f} ± {half:.2f}"


def _moved(factor: tuple[str, ...]) -> str:
    more = f" and {len(factor) - 3} more" if len(factor) > 3 else ""
    return ", ".join(factor[:3]) + more + " (they move together)" * (len(factor) > 1)


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _speed(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "no limit" if value > 0 else "none"


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
            {
                "run": run,
                "case": case,
                "mode": mode,
                **_output(one),
                "inputs": _inputs(one),
                "rare": _rare_document(found.rare.get((run, case, mode))),
                "indices": _indices_document(found.indices.get((run, case, mode))),
            }
            for (run, case, mode), one in found.margins.items()
        ],
        "whole_indices": _indices_document(found.whole_indices),
        "placard_speeds": [
            {
                "run": run,
                "case": case,
                "unit": "m/s",
                "stated": _number(one.local.value),
                "mean": _estimate(one.mean),
                "standard_deviation": _estimate(one.standard_deviation),
                "no_limit": int((one.values == math.inf).sum()),
                "not_computed": one.chance.not_computed,
                **_quantiles(one),
            }
            for (run, case), one in found.placard_speeds.items()
        ],
        "quantities": [
            {
                "place": one.place,
                "value": one.stated[0].si,
                "tolerance": one.stated[0].tolerance,
                "unit": KINDS[one.kind].unit,
                "distribution": one.stated[0].spread,
                "multiple": one.stated[0].multiple or None,
                "source": one.source,
            }
            for one in found.quantities
        ],
        "together": [
            [found.inputs.names[place] for place in factor]
            for factor in found.inputs.factors
            if len(factor) > 1
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
    return {"quantiles": [{"share": share, **_estimate(one.quantile(share))} for share in SHARES]}


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


def _rare_document(found: RareChance | None) -> dict[str, Any] | None:
    if found is None:
        return None
    first = found.first_order
    return {
        "points": found.number,
        "sampled": None if found.sampled is None else _estimate(found.sampled),
        "first_order": _number(first.chance),
        "distance": _number(first.distance),
        "likeliest": [
            {"place": place, "value": value, "importance": importance}
            for (place, value), importance in zip(
                found.values.items(), first.importance.tolist(), strict=False
            )
        ],
        "reason": first.reason or None,
    }


def _indices_document(found: Indices | None) -> dict[str, Any] | None:
    if found is None:
        return None
    columns = (found.first, found.first_interval, found.total, found.total_interval)
    return {
        "points": found.number,
        "evaluations": found.evaluations,
        "reason": found.reason or None,
        "factors": [
            {
                "places": list(factor),
                "first": dict(zip(_NAMES, map(_number, (one, *one_ends)), strict=True)),
                "total": dict(zip(_NAMES, map(_number, (whole, *whole_ends)), strict=True)),
            }
            for factor, one, one_ends, whole, whole_ends in zip(
                found.factors, *(each.tolist() for each in columns), strict=True
            )
        ],
    }


_NAMES = ("value", "low", "high")
