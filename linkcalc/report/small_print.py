"""The end of a report: what stood in for what was not given, the factors, the words explained."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.model.factors import SafetyFactors
from linkcalc.model.value_classes import stated
from linkcalc.report import terms
from linkcalc.report.layout import inside, turned, wrapped
from linkcalc.report.measures import figure

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from linkcalc.results import CaseReport, Report, RunReport

__all__ = [
    "by_place",
    "defaults",
    "factor_row",
    "factors",
    "is_default",
    "not_applying",
    "told_not_applying",
    "words",
]

_PRACTICE = "common practice, no source"


def is_default(note: str) -> bool:
    """Tell whether a note says what stood in for what was not given.

    Parameters
    ----------
    note : str
        A note of a report.

    Returns
    -------
    bool
        Whether it does.

    Examples
    --------
    >>> is_default("rod diameter not given: 2 mm (common practice, no source)")
    True
    """
    return " not given: " in note or " not given otherwise: " in note


def defaults(report: Report, runs: Sequence[RunReport]) -> Iterator[str]:
    """Tell once what stood in for what was not given, and where.

    Parameters
    ----------
    report : Report
        The report.
    runs : sequence of RunReport
        Those to show.

    Yields
    ------
    str
        Lines.
    """
    places = by_place(runs, lambda case: filter(is_default, case.notes))
    sections = {"supply, leads, receiver": list(report.notes), **places}
    told = [note for notes in sections.values() for note in notes]
    if any(_PRACTICE in note for note in told):
        yield f"  * {_PRACTICE}"
    for place, notes in sections.items():
        if notes:
            yield from wrapped(f"{place}:")
        for note in notes:
            yield from wrapped(f"- {note.replace(f'({_PRACTICE}', '(*')}".replace("(*)", "*"), 4)
    if not told:
        yield "  nothing"


def not_applying(runs: Sequence[RunReport], left_out: str) -> Iterator[str]:
    """Tell once which modes do not apply, why, and where.

    Parameters
    ----------
    runs : sequence of RunReport
        Those to show.
    left_out : str
        A reason that is told elsewhere.

    Yields
    ------
    str
        Lines.
    """
    places = told_not_applying(runs, left_out)
    for place, modes in places.items():
        yield from wrapped(f"{place}: {', '.join(modes)}")
    if not places:
        yield "  nothing"


def told_not_applying(runs: Sequence[RunReport], left_out: str) -> dict[str, list[str]]:
    """Return the modes that do not apply, with the reason, by place.

    Parameters
    ----------
    runs : sequence of RunReport
        Those to show.
    left_out : str
        A reason that is told elsewhere.

    Returns
    -------
    dict of str to list of str
        Modes by place.
    """

    def told(case: CaseReport) -> Iterator[str]:
        for margin in case.margins:
            if not margin.applies and margin.reason != left_out:
                yield f"{margin.mode} ({margin.reason})"

    return by_place(runs, told)


def by_place(
    runs: Sequence[RunReport], told: Callable[[CaseReport], Iterable[str]]
) -> dict[str, list[str]]:
    """Return what cases tell by the place that it concerns, runs before cases.

    Parameters
    ----------
    runs : sequence of RunReport
        Those to show.
    told : callable
        From a case to what it tells.

    Returns
    -------
    dict of str to list of str
        Sentences by place.
    """
    every = [(run.name, case.name) for run in runs for case in run.cases]
    found: dict[str, dict[tuple[str, str], None]] = {}
    for run in runs:
        for case in run.cases:
            for words in told(case):
                found.setdefault(words, {})[run.name, case.name] = None
    named = [(_place(where, every), words) for where, words in turned(found).items()]
    return dict(sorted(named, key=lambda item: item[0].startswith("in '")))


def _place(where: Sequence[tuple[str, str]], every: Sequence[tuple[str, str]]) -> str:
    """Name some runs and cases out of all of them in few words."""
    if len(where) == len(every):
        return "all control runs"
    runs, cases = dict.fromkeys(run for run, _ in where), dict.fromkeys(case for _, case in where)
    if len(where) == sum(run in runs for run, _ in every):
        return "; ".join(runs)
    whole = len(where) == sum(case in cases for _, case in every)
    return inside(cases) if whole else f"{'; '.join(runs)} {inside(cases)}"


def factors(used: Mapping[str, float]) -> Iterator[str]:
    """Tell every factor with its source; those of one value and source together.

    Parameters
    ----------
    used : mapping of str to float
        As a report has them.

    Yields
    ------
    str
        Lines.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for name, value in used.items():
        number, label, source = factor_row(name, value)
        groups.setdefault((number, source), []).append(label)
    for (number, source), labels in groups.items():
        yield from wrapped(f"{number}  {'; '.join(labels)} ({source})")


def factor_row(name: str, value: float) -> tuple[str, str, str]:
    """Return a factor's number, what it is on, and its source.

    Parameters
    ----------
    name : str
        Of the field.
    value : float
        As a report has it.

    Returns
    -------
    tuple of str
        Number, label and source.

    Examples
    --------
    >>> factor_row("mismatch", 1.2)[0]
    '1.2'
    """
    field = getattr(SafetyFactors, name)
    held, number, usual = field.spec, figure(value), field.default
    if held.form == "quantity":
        number, usual = f"{number} deg", stated(SafetyFactors(), name).number
    label = name.replace("over_", "over-").replace("_", " ")
    if value != 1 or held.form == "quantity":
        label = f"{label}: {held.doc[0].lower()}{held.doc[1:].rstrip('.')}"
    if abs(value - usual) > 1e-9:
        return number, label, f"as given; otherwise {held.default}"
    return number, label, held.default.partition(" (")[2].removesuffix(")")


def words(modes: set[str], names: set[str]) -> Iterator[str]:
    """Say what the words mean that were used.

    Parameters
    ----------
    modes : set of str
        Modes that apply.
    names : set of str
        Names of values.

    Yields
    ------
    str
        Lines.
    """
    for word, meaning in terms.MODES.items():
        if word in modes:
            yield from wrapped(f"{word}: {meaning}")
    for word, meaning in terms.VALUES.items():
        if word in names or f"{word} deflection up" in names:
            yield from wrapped(f"{word}: {meaning}")
