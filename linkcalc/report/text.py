"""A report as text that a flyer reads from the top down, in 80 columns."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, NamedTuple

from linkcalc.report import dives, small_print, terms
from linkcalc.report.layout import (
    WIDTH,
    bar,
    counted,
    cut,
    heading,
    inside,
    printable,
    signed,
    wrapped,
)
from linkcalc.report.measures import METRIC, amount, figure, heights, reworded
from linkcalc.report.outcome import NOT_CHECKED, not_checked, outcome
from linkcalc.report.step_lines import case_steps, step_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from linkcalc.errors import InputFaults
    from linkcalc.report.measures import Measures
    from linkcalc.results import CaseReport, Margin, Report, RunReport, Value

    Columns = Sequence[tuple[str, dict[str, Value]]]

__all__ = ["CAUTION", "faults_text", "text", "value_names"]

CAUTION = (
    "An estimate for models and light unmanned aircraft; not for anything that carries a "
    "person. Prove the installation by a bench proof load before flight. Keep clear of moving "
    "parts. Follow local rules and licensed practice."
)
"""Stands at the end of every report."""

_NARROWEST, _WIDEST = 11, 18
"""Columns of a table, in characters."""

_SEVERAL = ("servos at work", "dead servos", "share of each servo")
"""Values that are worth a row where several servos work the same surfaces."""

_WITHIN = "datasheet factor"
"""A value that has no row: it is told among the factors within."""

_WORTH = {"hold time": 0.0, "ground rise": 0.2, "deadband": 0.0}
"""Values that have a row only where they are more than this in some case [s, V, deg]."""

_ROWS = (
    *_SEVERAL,
    "dynamic pressure",
    "governing deflection",
    "hinge moment",
    "hold torque",
    "moving torque",
    "torque available",
    "torque margin",
    "torque margin, best air load",
    "voltage at work",
    "voltage at limit",
    "current at work",
    "rod force",
    "shaft load",
    "bellcrank load",
    "hinge load",
    "jam force",
    "held deflection up",
    "blow-back deflection up",
    "surface rate under load",
    "torque limit speed",
    "freeze speed",
    "placard speed",
)
"""Values of a run in the order of the table; "down" stands beside "up"."""


def text(
    report: Report,
    *,
    measures: Measures = METRIC,
    run: str | None = None,
    case: str | None = None,
    brief: bool = False,
    bold: bool = False,
) -> str:
    """Return a report as text.

    Parameters
    ----------
    report : Report
        What `linkcalc.check` returns.
    measures : Measures, optional
        Units to show.
    run, case : str, optional
        The only run and the only case to show.
    brief : bool
        Whether verdict and summary are enough.
    bold : bool
        Whether verdict and headings are set in bold, for a terminal.

    Returns
    -------
    str
        Verdict first, then the governing margin of every run and case, then the numbers
        run by run, what stood in for what was not given, the factors, the words
        explained, and the caution.
    """
    page = _Page(report, measures, run, case, bold=bold)
    lines = [*page.verdict(), "", *page.summary()]
    if not brief:
        whole = (
            [page.whole, page.dives]
            if any(dives.of(c.values) for c in page.cases)
            else [page.whole]
        )
        if report.cautions:
            whole.append(page.cautions)
        for section in [page.runs, *(whole if run is None else []), page.small_print]:
            lines += ["", *section()]
    return "\n".join([*lines, "", *textwrap.wrap(CAUTION, WIDTH)]) + "\n"


class _Row(NamedTuple):
    """A row of a table: its label, and what stands in the column of a case."""

    label: str
    cell: Callable[[dict[str, Value]], str]


class _Page:
    """Writes the sections of one report."""

    def __init__(
        self, report: Report, measures: Measures, run: str | None, case: str | None, *, bold: bool
    ) -> None:
        self.report, self.measures, self.bold = report, measures, bold
        self.shown = [
            part._replace(cases=tuple(c for c in part.cases if case in {None, c.name}))
            for part in report.runs
            if run in {None, part.name}
        ]
        self.narrowed = run is not None or case is not None
        self.cases = [c for c in report.aircraft_cases if case in {None, c.name}]

    def head(self, words: str) -> list[str]:
        """Return a heading."""
        return heading(words, bold=self.bold)

    # verdict and summary ----------------------------------------------------------

    def verdict(self) -> Iterator[str]:
        """Say what the outcome is and what was left out."""
        report = self.report
        yield from self.head(f"{report.verdict.upper()}: {report.aircraft}")
        yield from wrapped(outcome(report), 0)
        left_out = "; ".join(not_checked(report))
        if left_out:
            yield from wrapped(f"Not given, not checked: {left_out}.", 0)
        if self.narrowed:
            yield from wrapped("Only a part is shown; the verdict is that of the whole.", 0)
        yield ""
        yield from wrapped(terms.MARGIN, 0)

    def summary(self) -> Iterator[str]:
        """List the governing margin of every run in every case, once for runs that are alike."""
        yield from self.head("LEAST MARGIN OF EVERY RUN IN EVERY CASE, WITH THE TORQUE MARGIN")
        yield (
            f"  {'control run, flight case':29} {'governed by':12} {'margin':>7} {'plain':>7} "
            f"{'torque':>7}"
        )
        alike: dict[tuple[str, ...], list[str]] = {}
        for run in self.shown:
            alike.setdefault(tuple(self.least(run)), []).append(run.name)
        for lines, names in alike.items():
            yield from (f"  {cut(name, WIDTH - 2)}" for name in names)
            yield from lines

    def least(self, run: RunReport) -> Iterator[str]:
        """Return a line for each case of a run."""
        found = {case.name: case for case in run.cases}
        for name, values in [(case.name, case.values) for case in self.cases]:
            label = f"    {cut(name, 27):27}"
            if name not in found:
                why = "every servo dead" if dives.OF_ALL in values else "its dive is not followed"
                yield f"{label} {why}"
                continue
            governing = found[name].margin(found[name].governing)
            yield (
                f"{label} {governing.mode:12} {signed(governing.margin):>7} "
                f"{signed(governing.plain):>7} {signed(found[name].margin('torque').margin):>7} "
                f"{bar(governing.margin)}"
            )

    # run by run -------------------------------------------------------------------

    def runs(self) -> Iterator[str]:
        """Tell the numbers of every run, once for runs that are alike."""
        alike: dict[tuple[str, ...], list[str]] = {}
        for run in self.shown:
            alike.setdefault(tuple(self.run(run)), []).append(run.name)
        for index, (body, names) in enumerate(alike.items()):
            yield from [""] * (index > 0)
            yield from self.head(" / ".join(names) + " (alike)" * (len(names) > 1))
            yield from body

    def run(self, run: RunReport) -> Iterator[str]:
        """Tell the numbers of one run: its worst case in full, or all of them."""
        if not run.cases:
            yield "  every servo dead"
            return
        worst = min(run.cases, key=_least)
        full = [case for case in run.cases if case is worst or self.narrowed]
        for case in full:
            yield from self.margins(case)
        for case in run.cases:
            if case not in full:
                applying = [margin for margin in case.margins if margin.applies]
                told = ", ".join(f"{margin.mode} {signed(margin.margin)}" for margin in applying)
                yield from wrapped(f"In '{case.name}': {told}.")
        yield from self.factors_within(run)
        yield from self.table(value_names(run), [(case.name, case.values) for case in run.cases])
        yield from self.steps(run)
        yield from _notes(run)

    def steps(self, run: RunReport) -> Iterator[str]:
        """Tell how the air load's solver came to its slopes, where it tells."""
        for label, cases, steps in case_steps(run):
            where = f" ({inside(cases)})" if cases else ""
            yield from wrapped(f"Slopes of the air load by {label}{where}:")
            for step in steps:
                yield from wrapped(step_words(step), 4)

    def margins(self, case: CaseReport) -> Iterator[str]:
        """Return the table of the margins that apply in a case."""
        if lost := [m.mode for m in case.margins if m.applies and m.margin is None]:
            yield from wrapped(f"In '{case.name}' it could not be computed: {', '.join(lost)}.")
        else:
            yield from wrapped(f"In '{case.name}' the least margin is {case.governing}.")
        yield (
            f"  {'mode':12} {'required':>14} {'factor':8}{'available':>14} "
            f"{'margin':>7} {'plain':>7}"
        )
        for margin in case.margins:
            if margin.applies:
                yield from self.margin(margin)

    def margin(self, margin: Margin) -> Iterator[str]:
        """Return the line of one margin."""
        required, available = (
            amount(value, self.measures) for value in (margin.required, margin.available)
        )
        yield (
            f"  {margin.mode:12} {required:>14} x {figure(margin.factor):6}{available:>14} "
            f"{signed(margin.margin):>7} {signed(margin.plain):>7} {bar(margin.margin)}"
        )
        if margin.margin is None:
            yield from wrapped(reworded(margin.reason or "", self.measures), 15)

    def factors_within(self, run: RunReport) -> list[str]:
        """Tell the factors that stand inside the numbers of the table."""
        used = self.report.factors
        applying = {margin.mode for case in run.cases for margin in case.margins if margin.applies}
        told = [f"stall torque is the printed one / {figure(used['datasheet'])}"]
        if any(_number(case, _WITHIN) == 1 for case in run.cases) and used["datasheet"] != 1:
            told = ["stall torque is the measured one, not divided"]
        if any(_number(case, "servos at work") > 1 for case in run.cases):
            told.append(f"share of each servo has x {figure(used['mismatch'])} in it")
        rods = [mode for mode in ("buckling", "joint") if mode in applying]
        if rods:
            told.append(f"required in {' and '.join(rods)} has x {figure(used['torque'])} in it")
        if "hold" in applying:
            told.append(f"{figure(used['hold_fraction'])} of the stall torque may be held")
        return wrapped(f"Factors within: {'; '.join(told)}.")

    # tables of values -------------------------------------------------------------

    def table(self, names: Sequence[str], columns: Columns) -> Iterator[str]:
        """Return a table of values with a column for each case, some columns at a time."""
        reasons: dict[str, str] = {}
        rows = [row for name in names for row in self.rows(name, columns, reasons)]
        labels = max(len(row.label) for row in rows) + 3
        most = max(1, (WIDTH - labels) // _NARROWEST)
        blocks = math.ceil(len(columns) / most)
        count = math.ceil(len(columns) / blocks)
        width = min(_WIDEST, (WIDTH - labels) // count)
        for start in range(0, len(columns), count):
            block = columns[start : start + count]
            heads = [textwrap.wrap(printable(name), width - 1)[:3] for name, _ in block]
            for line in range(max(map(len, heads))):
                words = (head[line] if line < len(head) else "" for head in heads)
                yield f"{'':{labels}}{''.join(f'{word:>{width}}' for word in words)}".rstrip()
            for row in rows:
                cells = (cut(row.cell(values), width - 1) for _, values in block)
                yield f"  {row.label:{labels - 2}}{''.join(f'{cell:>{width}}' for cell in cells)}"
        for reason, mark in reasons.items():
            yield from wrapped(f"{mark} {reworded(reason, self.measures)}")

    def rows(self, name: str, columns: Columns, reasons: dict[str, str]) -> Iterator[_Row]:
        """Return the rows of one value; reasons for gaps are collected with their marks."""
        unit = columns[0][1][name].unit
        factor, symbol = self.measures.get(unit, (1.0, unit))

        def shown(value: Value | None, digits: int = 4) -> str:
            if value is None or value.value is None:
                reason = (value.reason if value else None) or "not computed in this case"
                return f"none {reasons.setdefault(reason, f'[{len(reasons) + 1}]')}"
            return figure(value.value * factor, digits)

        def end_of(values: dict[str, Value], end: str) -> str:
            found: float | None = getattr(values[name], end)
            return "none" if found is None else figure(found * factor)

        if name.endswith("deflection up"):
            down = name.removesuffix("up") + "down"
            yield _Row(
                f"{name.removesuffix(' deflection up')} up/down [{symbol}]",
                lambda values: _joined(shown(values[name], 3), shown(values[down], 3)),
            )
            return
        if name == "torque margin":  # the verdict's stands among the margins
            yield _Row(f"{name}, lowest air load", lambda values: signed(values[name].high))
            return
        if name.startswith("torque margin"):
            yield _Row(name, lambda values: signed(values[name].value))
            return
        label = name if unit == "1" else f"{name} [{symbol}]"
        yield _Row(label, lambda values: shown(values.get(name)))
        if name == "moving torque":
            yield _Row("  by the lowest air load", lambda values: end_of(values, "low"))
            if any(values[name].high != values[name].value for _, values in columns):
                yield _Row("  by the highest air load", lambda values: end_of(values, "high"))
        if name == "placard speed":
            yield _Row("  ended by", lambda values: _ending(values[name]) or "-")

    # the aircraft as a whole ------------------------------------------------------

    def whole(self) -> Iterator[str]:
        """Tell what belongs to the aircraft as a whole."""
        yield from self.head("THE AIRCRAFT AS A WHOLE")
        columns = [(case.name, dives.without(case.values)) for case in self.cases]
        columns = [column for column in columns if column[1]]
        if columns:
            yield from self.table(list(columns[0][1]), columns)
        for name, value in self.report.whole.items():
            told, end, where = amount(value, self.measures), _ending(value), value.at or ""
            if value.value is None:
                told = reworded(value.reason or "", self.measures)
            elif end:
                where = where.removesuffix(f", ended by {end}")
                told += f"; above it {end} falls short first, on {where}"
            elif where:
                told += f", {where}"
            yield from wrapped(f"{name}: {told}")

    def dives(self) -> Iterator[str]:
        """Tell what comes of the dives that were followed."""
        yield from self.head("DIVES AND PULL-OUTS")
        columns = [(case.name, dives.of(case.values)) for case in self.cases]
        columns = [column for column in columns if column[1]]
        page = _Page(self.report, heights(self.measures), None, None, bold=self.bold)
        yield from page.table(list(columns[0][1]), columns)
        for case in self.cases:
            if case.notes:
                yield from wrapped(f"{case.name}: {'; '.join(case.notes)}.")

    def cautions(self) -> Iterator[str]:
        """Tell what to look at so that nothing flutters."""
        yield from self.head("FLUTTER: CAUTIONS, NO ANALYSIS")
        for caution in self.report.cautions:
            yield from wrapped(f"{caution.text} ({caution.source})")

    def small_print(self) -> Iterator[str]:
        """Tell the defaults, what does not apply, the factors, and what the words mean."""
        yield from self.head("WHAT STOOD IN FOR WHAT WAS NOT GIVEN")
        yield from small_print.defaults(self.report, self.shown)
        yield ""
        yield from self.head("WHAT DOES NOT APPLY")
        yield from small_print.not_applying(self.shown, NOT_CHECKED)
        yield ""
        yield from self.head("BEFORE FLIGHT: WHAT HOLDS THE LINKAGES TOGETHER")
        for line in self.report.retention:
            yield from wrapped(f"[ ] {line}")
        yield ""
        yield from self.head("FACTORS OF SAFETY")
        yield from small_print.factors(self.report.factors)
        yield ""
        yield from self.head("WHAT THE WORDS MEAN")
        cases = [case for run in self.shown for case in run.cases]
        modes = {margin.mode for case in cases for margin in case.margins if margin.applies}
        names = {name for run in self.shown if run.cases for name in value_names(run)}
        yield from small_print.words(modes, names)


def value_names(run: RunReport) -> list[str]:
    """Return the values of a run that are shown, in the order of the table.

    Parameters
    ----------
    run : RunReport
        With one case or more.

    Returns
    -------
    list of str
        Names; "down" stands beside "up" and is not among them.
    """
    found = run.cases[0].values
    dead = max(_number(case, "dead servos") for case in run.cases)
    most = max(_number(case, "servos at work") for case in run.cases)
    left_out = {_WITHIN} if most + dead > 1 else {_WITHIN, *_SEVERAL}
    left_out |= {"dead servos"} if dead == 0 else set()
    left_out |= {
        name
        for name, worth in _WORTH.items()
        if not any(_number(case, name) > worth for case in run.cases)
    }
    left_out |= {name for name in _CARRIED if all(_is_rod_force(case, name) for case in run.cases)}
    others = [name for name in found if not _has_row(name)]
    return [name for name in (*_ROWS, *others) if name in found and name not in left_out]


_CARRIED = ("shaft load", "hinge load")


def _is_rod_force(case: CaseReport, name: str) -> bool:
    """Tell whether a bearing carries the rod's force and nothing else, as in a plane."""
    force = abs(_number(case, "rod force"))
    return abs(_number(case, name) - force) <= 1e-3 * force


def _number(case: CaseReport, name: str) -> float:
    """Return a value of a case, zero where there is none."""
    return (case.values[name].value or 0.0) if name in case.values else 0.0


def _has_row(name: str) -> bool:
    return name in _ROWS or name.removesuffix("down") + "up" in _ROWS


def _joined(up: str, down: str) -> str:
    return up if up == down and up.startswith("none") else f"{up}/{down}"


def _least(case: CaseReport) -> float:
    """Return the least margin of a case; one that could not be computed comes first."""
    margins = [margin.margin for margin in case.margins if margin.applies]
    return min((-2.0 if margin is None else margin for margin in margins), default=0.0)


def _notes(run: RunReport) -> Iterator[str]:
    """Tell what to watch; defaults are told once for all runs."""
    watched: dict[str, list[str]] = {}
    for case in run.cases:
        for note in case.notes:
            if not small_print.is_default(note) and not note.startswith(NOT_CHECKED):
                watched.setdefault(note, []).append(case.name)
    for note, cases in watched.items():
        where = "" if len(cases) == len(run.cases) else f" ({inside(cases)})"
        yield from wrapped(f"Note: {note}{where}.")


def _ending(value: Value) -> str:
    """Return the mode that ends a placard speed."""
    _, words, mode = (value.at or "").rpartition("ended by ")
    return mode if words else ""


def faults_text(
    error: InputFaults, what: str = "This cannot be checked", outcome: str = "evaluated"
) -> str:
    """Return what is wrong with an input as text.

    Parameters
    ----------
    error : InputFaults
        All faults of one input.
    what : str
        What cannot be done because of them.
    outcome : str
        What was therefore not done.

    Returns
    -------
    str
        One paragraph for each fault.
    """
    lines = [f"{what}: {counted(len(error.faults), 'fault')}. Nothing was {outcome}."]
    for fault in error.faults:
        lines += ["", printable(": ".join(part for part in (fault.file, fault.place) if part))]
        lines += wrapped(f"found     {fault.found}")
        lines += wrapped(f"expected  {fault.expected}")
        lines += wrapped(f"remedy    {fault.remedy}")
    return "\n".join(lines) + "\n"
