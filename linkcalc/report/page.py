"""A check as one page of HTML that needs nothing else: no network, no script, no second file."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.report import nomenclature, pictures, small_print, terms
from linkcalc.report.layout import cut, printable, signed
from linkcalc.report.measures import amount, as_stated, figure, reworded
from linkcalc.report.outcome import NOT_CHECKED, not_checked, outcome
from linkcalc.report.step_lines import case_steps
from linkcalc.report.svg import laid_out
from linkcalc.report.text import CAUTION, value_names
from linkcalc.saving import save
from linkcalc.study.curves import Curves, curves

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator

    from jinja2 import Environment

    from linkcalc.evaluation.load_steps import LoadStep
    from linkcalc.model import Aircraft
    from linkcalc.report.chart import Chart
    from linkcalc.report.measures import Measures
    from linkcalc.report.nomenclature import Entry
    from linkcalc.report.svg import View
    from linkcalc.results import CaseReport, Margin, RunReport, Value

__all__ = ["html", "write_html"]

_LONGEST = 120  # characters of a name in a heading
_FOLDER = Path(__file__).parent / "templates"
_INDEX = re.compile(r"_(\w+)")
_STRIP, _UNIT = 1.5, 24.0  # of the small bar beside a margin: its ends, and its length for 1
_OF_A_CASE = (
    pictures.margin_against_deflection,
    pictures.margin_against_speed,
    pictures.air_load,
    pictures.voltage_along_the_lead,
)


class _Figure(NamedTuple):
    """A picture with its place on the page."""

    id: str
    chart: Chart
    view: View


class _Cell(NamedTuple):
    """A value in a table: its number, its band, where it was taken, why there is none."""

    words: str
    band: str
    note: str


class _Row(NamedTuple):
    """A value in every case of a run."""

    name: str
    anchor: str
    symbol: str
    unit: str
    cells: list[_Cell]


class _MarginRow(NamedTuple):
    """A margin in a table."""

    margin: Margin
    symbol: str
    anchor: str
    required: str
    factor: str
    available: str
    words: str
    plain: str
    reason: str


def html(
    aircraft: Curves | Aircraft | str | os.PathLike[str], *, measures: Measures | None = None
) -> str:
    """Return the report of a check as one self-contained page.

    Parameters
    ----------
    aircraft : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.

    Returns
    -------
    str
        HTML. Verdict first, then the least margins, then every run with its pictures and
        numbers, then defaults, factors, and how each number is computed. Everything that a
        file brings stands there as text.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.

    Examples
    --------
    >>> page = html("examples/sandpiper.toml")
    >>> page.startswith("<!DOCTYPE html>"), "Sandpiper survey glider" in page
    (True, True)
    """
    found = aircraft if isinstance(aircraft, Curves) else curves(aircraft)
    page = _Page(found, measures or as_stated(found.aircraft))
    style, script = (
        (_FOLDER / name).read_text(encoding="utf-8") for name in ("report.css", "report.js")
    )
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    template = _environment().get_template("report.html")
    return template.render(
        report=found.report,
        outcome=outcome(found.report),
        not_checked=list(not_checked(found.report)),
        margin_words=terms.MARGIN,
        caution=CAUTION,
        style=style,
        script=script,
        digest=digest,
        **page.parts(),
    )


def write_html(
    path: str | os.PathLike[str],
    aircraft: Curves | Aircraft | str | os.PathLike[str],
    *,
    measures: Measures | None = None,
    force: bool = False,
) -> None:
    """Write the report of a check as one self-contained page, whole or not at all.

    Parameters
    ----------
    path : str or path
        Where to.
    aircraft : Curves, Aircraft, str or path
        As for `html`.
    measures : Measures, optional
        As for `html`.
    force : bool
        Whether a file of that name is replaced.

    Raises
    ------
    InputFaults
        The description cannot be used, or the file not be written.
    """
    page = html(aircraft, measures=measures)
    save(path, page.encode(), force=force)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - only a page pays

    made = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        finalize=_shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    filters: dict[str, Callable[..., Any]] = {
        "name": _name,
        "cut": lambda words: cut(words, _LONGEST),
        "formula": _formula,
        "signed": _minus_sign,
        "strip": _strip,
    }
    made.filters |= filters
    return made


def _shown(value: Any) -> Any:
    """Return what the template shows, text without signs that steer what stands beside it."""
    return printable(value) if type(value) is str else value


def _name(words: str) -> Any:
    """Return a name from the file as text that cannot turn the order of what stands beside it."""
    from markupsafe import Markup  # noqa: PLC0415 - it comes with jinja2

    return Markup("<bdi>{}</bdi>").format(printable(words))


def _formula(words: str) -> Any:
    """Return a formula with its indices set lower."""
    from markupsafe import Markup, escape  # noqa: PLC0415 - it comes with jinja2

    return Markup(_INDEX.sub(r"<sub>\1</sub>", str(escape(words))))  # noqa: S704 - escaped before


def _minus_sign(margin: float | None) -> str:
    return signed(margin).replace("-", "\N{MINUS SIGN}")


def _strip(margin: float | None) -> dict[str, Any]:
    """Return a small bar that starts at zero: to the left what is lacking, to the right what is over."""
    if margin is None:
        return {"unknown": True}
    end = max(-1.0, min(_STRIP, margin))
    zero = _UNIT
    return {
        "unknown": False,
        "x": round(zero + min(end, 0.0) * _UNIT, 1),
        "width": round(max(abs(end) * _UNIT, 0.8), 1),
        "short": margin < 0,
        "beyond": margin > _STRIP,
    }


def _anchor(name: str) -> str:
    """Return where the page explains a value or a mode."""
    return "term-" + re.sub(r"\W+", "-", nomenclature.explained_as(name))


class _Page:
    """Collects what the template shows."""

    def __init__(self, found: Curves, measures: Measures) -> None:
        self.found, self.report, self.measures = found, found.report, measures

    def parts(self) -> dict[str, Any]:
        """Return the parts of the page by name."""
        report, runs = self.report, [self.run(r, run) for r, run in enumerate(self.report.runs)]
        names = {row.name for run in runs for row in run["rows"]}
        whole = {name for case in report.aircraft_cases for name in case.values} | set(report.whole)
        values = (
            (nomenclature.VALUES, terms.VALUES, names),
            (nomenclature.AIRCRAFT, terms.AIRCRAFT, whole),
        )
        return {
            "short": list(self.shortfalls()),
            "whole": [(name, self.words(value)) for name, value in report.whole.items()],
            "runs": runs,
            "case_names": [case.name for case in report.aircraft_cases],
            "whole_rows": self.rows(list(report.aircraft_cases[0].values), report.aircraft_cases),
            "defaults": self.defaults(),
            "not_applying": small_print.told_not_applying(report.runs, NOT_CHECKED),
            "factors": [small_print.factor_row(*item) for item in report.factors.items()],
            "modes": list(_explained(nomenclature.MODES, terms.MODES, set(terms.MODES))),
            "values_explained": [each for known in values for each in _explained(*known)],
            "symbols": nomenclature.SYMBOLS,
        }

    def shortfalls(self) -> Iterator[dict[str, Any]]:
        """List the margins that stand in the way, the least first."""
        every = [
            (run_number, case_number, run, case, margin)
            for run_number, run in enumerate(self.report.runs)
            for case_number, case in enumerate(run.cases)
            for margin in case.margins
            if not margin.passes
        ]
        every.sort(key=lambda item: -2.0 if item[4].margin is None else item[4].margin)
        for r, c, run, case, margin in every:
            yield {"run": run.name, "case": case.name, "at": f"run-{r}-case-{c}", "margin": margin,
                   "reason": reworded(margin.reason or "", self.measures)}  # fmt: skip

    def run(self, r: int, run: RunReport) -> dict[str, Any]:
        """Return the parts of one run."""
        drawing = pictures.linkage(self.found, run.name, self.measures)
        held = {case.name: case for case in run.cases}
        notes: dict[str, list[str]] = {}
        for case in run.cases:
            for note in case.notes:
                if not small_print.is_default(note) and not note.startswith(NOT_CHECKED):
                    notes.setdefault(reworded(note, self.measures), []).append(case.name)
        return {
            "id": f"run-{r}",
            "name": run.name,
            "least": [held.get(case.name) for case in self.report.aircraft_cases],
            "linkage": _Figure(f"run-{r}-linkage", drawing, laid_out(drawing)),
            "cases": [self.case(r, c, run, case) for c, case in enumerate(run.cases)],
            "case_names": [case.name for case in run.cases],
            "rows": self.rows(value_names(run), run.cases) if run.cases else [],
            "working": self.working(run),
            "steps": [(label, cases, list(map(_step, steps)))
                      for label, cases, steps in case_steps(run)],
            "notes": {note: [] if len(where) == len(run.cases) else where
                      for note, where in notes.items()},
        }  # fmt: skip

    def working(self, run: RunReport) -> Any:
        """Return the calculation of a run written out, in the case with the least torque margin."""
        from markupsafe import Markup  # noqa: PLC0415 - comes with jinja2

        from linkcalc.report.workbook import workbook_fragment  # noqa: PLC0415 - sympy is slow
        from linkcalc.study.workbook import workbook  # noqa: PLC0415 - to import

        if not run.cases:
            return None
        book = workbook(self.found.checked, run=run.name)
        return Markup(workbook_fragment(book, level=3))  # noqa: S704 - escaped where it was made

    def case(self, r: int, c: int, run: RunReport, case: CaseReport) -> dict[str, Any]:
        """Return the parts of one run in one case."""
        figures = []
        for number, draw in enumerate(_OF_A_CASE):
            chart = draw(self.found, run.name, case.name, self.measures)
            figures.append(_Figure(f"run-{r}-case-{c}-{number}", chart, laid_out(chart)))
        at = self.found.place(run.name, case.name)[1]
        path = self.found.paths[r]
        volts = self.measures["V"]
        way = [
            (station, *(_known(line[at, place] * volts.factor) for line in (path.at_work, path.at_limit)))
            for place, station in enumerate(path.stations)
        ]  # fmt: skip
        return {
            "id": f"run-{r}-case-{c}",
            "name": case.name,
            "governing": case.margin(case.governing),
            "margins": [self.margin(margin) for margin in case.margins if margin.applies],
            "figures": figures,
            "way": way,
            "volts": volts.symbol,
        }

    def margin(self, margin: Margin) -> _MarginRow:
        """Return the row of a margin."""
        return _MarginRow(
            margin,
            nomenclature.MODES[margin.mode].symbol,
            _anchor(margin.mode),
            amount(margin.required, self.measures),
            figure(margin.factor),
            amount(margin.available, self.measures),
            _minus_sign(margin.margin),
            _minus_sign(margin.plain),
            reworded(margin.reason or "", self.measures) if margin.margin is None else "",
        )

    def rows(self, names: list[str], cases: Any) -> list[_Row]:
        """Return the rows of a table of values, a cell for each case."""
        beside = [
            name.removesuffix("up") + "down" for name in names if name.endswith("deflection up")
        ]
        made = []
        for name in sorted((*names, *beside), key=_order(names)):
            first: Value = cases[0].values[name]
            _, symbol = self.measures.get(
                first.unit, (1.0, "" if first.unit == "1" else first.unit)
            )
            entry = nomenclature.entry_of(name)
            cells = [self.cell(name, case.values[name]) for case in cases]
            made.append(
                _Row(
                    name,
                    _anchor(name) if entry else "",
                    entry.symbol if entry else "",
                    symbol,
                    cells,
                )
            )
        return made

    def cell(self, name: str, value: Value) -> _Cell:
        """Return a value as a cell."""
        if value.value is None:
            return _Cell(
                "none", "", reworded(value.reason or "not computed in this case", self.measures)
            )
        factor, _ = self.measures.get(value.unit, (1.0, ""))
        show = (
            _minus_sign
            if name.startswith("torque margin")
            else lambda number: _known(number * factor)
        )
        band = ""
        if value.low is not None and value.high is not None and value.low != value.high:
            band = f"{show(value.low)} to {show(value.high)}"
        return _Cell(show(value.value), band, reworded(value.at or "", self.measures))

    def words(self, value: Value) -> str:
        """Return a value of the whole aircraft in words."""
        if value.value is None:
            return reworded(value.reason or "", self.measures)
        at = f", {reworded(value.at, self.measures)}" if value.at else ""
        return amount(value, self.measures) + at

    def defaults(self) -> dict[str, list[str]]:
        """Return what stood in for what was not given, by place."""
        places = small_print.by_place(
            self.report.runs, lambda case: filter(small_print.is_default, case.notes)
        )
        found = {"supply, leads, receiver": list(self.report.notes), **places}
        return {place: notes for place, notes in found.items() if notes}


def _step(step: LoadStep) -> dict[str, str]:
    """Return a step of a solver as cells."""
    unit = "" if step.unit == "1" else f" {step.unit}"

    def shown(number: float | None) -> str:
        return "not known" if number is None else _known(number)

    return {
        "name": f"{step.slope}: {step.name}",
        "before": shown(step.before) + unit,
        "factor": shown(step.factor),
        "after": shown(step.after) + unit,
        "remaining": "" if step.remaining is None else f"± {step.remaining:.2g}{unit}",
        "source": step.source,
        "edge": step.edge or "",
    }


def _order(names: list[str]) -> Any:
    """Put "down" right behind its "up"."""
    place = {name: 2 * number for number, name in enumerate(names)}
    return lambda name: place.get(name, place.get(name.removesuffix("down") + "up", 0) + 1)


def _known(number: float) -> str:
    """Return a number of a table, with words where there is none."""
    return "not known" if number != number else figure(float(number)).replace("-", "\N{MINUS SIGN}")  # noqa: PLR0124 - nan


def _explained(
    entries: dict[str, Entry], meanings: dict[str, str], used: set[str]
) -> Iterator[tuple[str, str, Entry, str]]:
    """Yield name, anchor, entry and meaning of what a report tells."""
    known = {nomenclature.explained_as(name) for name in used}
    for name, entry in entries.items():
        if name in known:
            yield name, _anchor(name), entry, meanings[name]
