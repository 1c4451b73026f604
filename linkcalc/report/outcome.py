"""The verdict of a report in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.report.layout import counted, turned

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.results import Report

__all__ = ["NOT_CHECKED", "not_checked", "outcome"]

NOT_CHECKED = "not given, not checked"
"""Why a mode about which nothing is given does not apply."""


def outcome(report: Report) -> str:
    """Say in a sentence what the outcome is.

    Parameters
    ----------
    report : Report
        What `linkcalc.check` returns.

    Returns
    -------
    str
        How many runs, cases, shortfalls.
    """
    margins = [margin for run in report.runs for case in run.cases for margin in case.margins]
    known = [margin.margin for margin in margins if margin.applies]
    short = sum(margin is not None and margin < 0 for margin in known)
    lost = "could not be computed"
    alone = () if short else (f"margin {lost}", f"margins {lost}")
    counts = (
        counted(short, "margin is below zero", "margins are below zero"),
        counted(known.count(None), *(alone or (lost, lost))),
        counted(
            sum(not case.passes for case in report.aircraft_cases),
            "dive has no recovery",
            "dives have no recovery",
        ),
    )
    told = " and ".join(words for words in counts if words)
    runs = counted(len(report.runs), "control run")
    cases = counted(len(report.aircraft_cases), "flight case")
    return f"{runs} in {cases}: {told or 'every margin that applies is zero or more'}."


def not_checked(report: Report) -> Iterator[str]:
    """List the modes that were not checked, with the runs where it is not so for all.

    Parameters
    ----------
    report : Report
        What `linkcalc.check` returns.

    Yields
    ------
    str
        Modes, and where.
    """
    places: dict[str, dict[str, None]] = {}
    for run in report.runs:
        for case in run.cases:
            for margin in case.margins:
                if margin.reason == NOT_CHECKED:
                    places.setdefault(margin.mode, {})[run.name] = None
    for runs, modes in turned(places).items():
        everywhere = len(runs) == len(report.runs)
        yield ", ".join(modes) + ("" if everywhere else f" (on {'; '.join(runs)})")
