"""A report as text that a flyer reads from the top down, in 80 columns."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.checking import CaseReport, Margin, Report, Value
    from linkcalc.errors import InputFaults

__all__ = ["CAUTION", "faults_text", "text"]

WIDTH = 80

CAUTION = (
    "An estimate for models and light unmanned aircraft; not for anything that carries a "
    "person. Prove the installation by a bench proof load before flight. Keep clear of moving "
    "parts. Follow local rules and licensed practice."
)
"""Stands at the end of every report."""


def text(report: Report) -> str:
    """Return a report as text.

    Parameters
    ----------
    report : Report
        What `linkcalc.check` returns.

    Returns
    -------
    str
        Verdict first, then the governing margin of every run and case, then every
        margin with the factor that changed it, the notes and the caution.
    """
    lines = [*_verdict(report), "", *_summary(report), ""]
    for run in report.runs:
        lines += [printable(run.name), "-" * min(WIDTH, len(run.name))]
        for case in run.cases:
            lines += [*_case(case), ""]
    lines += [*_whole(report), "", *_notes(report), "", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


def printable(words: str) -> str:
    r"""Return text that a file brought, without what could steer a terminal.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        The same with unprintable characters replaced.

    Examples
    --------
    >>> printable("aileron\x1b[2J")
    'aileron?[2J'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in words)


def _verdict(report: Report) -> list[str]:
    margins = [margin for run in report.runs for case in run.cases for margin in case.margins]
    short = sum(
        margin.applies and margin.margin is not None and margin.margin < 0 for margin in margins
    )
    missing = sum(margin.applies and margin.margin is None for margin in margins)
    counts = [f"{short} margins below zero"] * bool(short) + [f"{missing} not computed"] * bool(
        missing
    )
    told = ", ".join(counts) or "every margin that applies is zero or more"
    heading = f"{report.verdict.upper()}: {printable(report.aircraft)}"
    where = f"{len(report.runs)} control runs in {len(report.runs[0].cases)} cases: {told}."
    return [*textwrap.wrap(heading, WIDTH), *textwrap.wrap(where, WIDTH)]


def _summary(report: Report) -> Iterator[str]:
    yield "least margin of each run in each case"
    for run in report.runs:
        for case in run.cases:
            least = case.margin(case.governing)
            label = f"{_cut(run.name, 30):30} {_cut(case.name, 23):23}"
            yield f"  {label} {case.governing:12} {_signed(least.margin):>7}"


def _cut(words: str, width: int) -> str:
    words = printable(words)
    return words if len(words) <= width else words[: width - 1] + "~"


def _case(case: CaseReport) -> Iterator[str]:
    yield from textwrap.wrap(
        f"in {printable(case.name)!r} {case.governing} governs", WIDTH, initial_indent="  "
    )
    yield f"    {'mode':12} {'required':>12}  {'x factor':9}{'available':>12}  {'margin':>7} {'plain':>7}"
    for margin in case.margins:
        if margin.applies and margin.reason != "not yet computed":
            yield from _margin(margin)
    waiting = [margin.mode for margin in case.margins if margin.reason == "not yet computed"]
    if waiting:
        yield from _wrapped("not yet computed, so no pass: " + ", ".join(waiting), 4)
    for margin in case.margins:
        if not margin.applies:
            yield from _wrapped(f"{margin.mode}: {margin.reason}", 4)
    yield from _wrapped(
        "; ".join(
            _told(name, value) for name, value in case.values.items() if value.value is not None
        ),
        4,
    )
    for note in case.notes:
        yield from _wrapped(note, 4)


def _margin(margin: Margin) -> Iterator[str]:
    required, available = (_amount(value) for value in (margin.required, margin.available))
    yield (
        f"    {margin.mode:12} {required:>12}  x {margin.factor:<7.4g}{available:>12}  "
        f"{_signed(margin.margin):>7} {_signed(margin.plain):>7}  {_bar(margin.margin)}"
    )
    if margin.reason:
        yield from _wrapped(margin.reason, 17)


def _bar(margin: float | None) -> str:
    """Return a bar from zero: to the left what is lacking, to the right what is over."""
    if margin is None:
        return "?"
    length = round(min(1.0, abs(margin)) * 4)
    return ("<" * length).rjust(4) + "|" if margin < 0 else "    |" + ">" * length


def _signed(number: float | None) -> str:
    if number is None:
        return "none"
    return f"{number:+.2f}" if abs(number) < 1000 else f"{number:+.0e}"


def _amount(value: Value) -> str:
    return "none" if value.value is None else f"{value.value:.4g} {value.unit}"


def _told(name: str, value: Value) -> str:
    band = (
        f" ({value.low:.4g} to {value.high:.4g})"
        if value.low is not None and value.high is not None
        else ""
    )
    where = f" at {value.at}" if value.at else ""
    return f"{name} {_amount(value)}{band}{where}"


def _wrapped(words: str, indent: int) -> list[str]:
    pad = " " * indent
    return textwrap.wrap(printable(words), WIDTH, initial_indent=pad, subsequent_indent=pad + "  ")


def _whole(report: Report) -> Iterator[str]:
    yield "the aircraft as a whole"
    for case in report.aircraft_cases:
        values = "; ".join(_told(name, value) for name, value in case.values.items())
        yield from _wrapped(f"in {case.name!r}: {values}", 2)
    for name, value in report.whole.items():
        yield from _wrapped(
            f"{name}: {_amount(value) if value.value is not None else value.reason}", 2
        )


def _notes(report: Report) -> Iterator[str]:
    yield "factors and what stands in for what was not given"
    yield from _wrapped(
        "; ".join(
            f"{name.replace('_', '-')} {factor:g}" for name, factor in report.factors.items()
        ),
        2,
    )
    for note in report.notes:
        yield from _wrapped(note, 2)


def faults_text(error: InputFaults) -> str:
    """Return what is wrong with an input as text.

    Parameters
    ----------
    error : InputFaults
        All faults of one input.

    Returns
    -------
    str
        One paragraph for each fault.
    """
    count = len(error.faults)
    lines = [f"This cannot be checked: {count} fault{'s' * (count > 1)}. Nothing was evaluated."]
    for fault in error.faults:
        lines += ["", printable(": ".join(part for part in (fault.file, fault.place) if part))]
        lines += _wrapped(f"found     {fault.found}", 2)
        lines += _wrapped(f"expected  {fault.expected}", 2)
        lines += _wrapped(f"remedy    {fault.remedy}", 2)
    return "\n".join(lines) + "\n"
