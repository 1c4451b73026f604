"""The report of one aircraft, put together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.evaluation.joints import retention
from linkcalc.results import MODES, AircraftCase, CaseReport, Report, RunReport
from linkcalc.writing.limits import whole_values
from linkcalc.writing.margins import margin_of
from linkcalc.writing.notes import notes_of
from linkcalc.writing.supply import brown_outs
from linkcalc.writing.values import case_values, values_of

if TYPE_CHECKING:
    from linkcalc.writing.columns import Columns

__all__ = ["report"]


def report(columns: Columns) -> Report:
    """Return the report of an aircraft.

    Parameters
    ----------
    columns : Columns
        What was computed.

    Returns
    -------
    Report
        A run whose servos are all dead in a case is not in that case.
    """
    live = columns.gathered.inputs.cases.live
    runs = tuple(
        RunReport(
            run.name,
            tuple(
                _case(columns, c, r) for c in range(len(columns.aircraft.cases)) if live[c, r] > 0
            ),
        )
        for r, run in enumerate(columns.aircraft.runs)
    )
    passes = all(margin.passes for run in runs for case in run.cases for margin in case.margins)
    cases = tuple(
        AircraftCase(case.name, case_values(columns, c))
        for c, case in enumerate(columns.aircraft.cases)
    )
    return Report(
        columns.aircraft.name,
        "pass" if passes and any(run.cases for run in runs) else "short",
        whole_values(columns),
        runs,
        cases,
        columns.results.factors._asdict()
        | {"free_play_limit": math.degrees(columns.results.factors.free_play_limit)},
        (*columns.gathered.notes.aircraft, *_supply_notes(columns)),
        retention(columns.aircraft),
    )


def _case(columns: Columns, c: int, r: int) -> CaseReport:
    """Return one run in one case."""
    margins = tuple(margin_of(columns, c, r, mode) for mode in MODES)
    least = min(  # one that could not be computed is a failure, whatever the others leave
        (margin for margin in margins if margin.applies),
        key=lambda item: -math.inf if item.margin is None else item.margin,
    )
    return CaseReport(
        columns.aircraft.cases[c].name,
        least.mode,
        margins,
        values_of(columns, c, r),
        tuple(notes_of(columns, c, r, margins)),
        tuple(columns.results.steps.get((c, r), ())),
    )


def _supply_notes(columns: Columns) -> list[str]:
    """Say what no margin looks at: who goes without volts, and how warm copper is judged."""
    electric, starting = columns.results.answer.delivered, columns.results.inrush
    notes = list(brown_outs(columns.aircraft, columns.gathered.inputs, electric, starting))
    if columns.results.copper is not None:
        from linkcalc.evaluation.wire_heat import RULE  # noqa: PLC0415 - few files ask for it

        notes.append(RULE)
    return notes
