"""A report as one JSON document, for other programs."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linkcalc.errors import InputFaults
    from linkcalc.results import CaseReport, Margin, Report, Value

__all__ = ["FAULTS", "REPORT", "document", "dumped", "faults_document"]

REPORT = "linkcalc.report/1"
FAULTS = "linkcalc.faults/1"


def document(report: Report) -> dict[str, Any]:
    """Return a report as a tree of plain values.

    Parameters
    ----------
    report : Report
        What `linkcalc.check` returns.

    Returns
    -------
    dict
        The document that the page on the report describes; no nan, no infinity.
    """
    return {
        "schema": REPORT,
        "aircraft": report.aircraft,
        "verdict": report.verdict,
        "whole": _values(report.whole),
        "factors": report.factors,
        "notes": list(report.notes),
        "retention": list(report.retention),
        "runs": [
            {"name": run.name, "cases": [_case(case) for case in run.cases]} for run in report.runs
        ],
        "aircraft_cases": [
            {
                "name": case.name,
                "values": _values(case.values),
                "notes": list(case.notes),
                "passes": case.passes,
            }
            for case in report.aircraft_cases
        ],
        "cautions": [caution._asdict() for caution in report.cautions],
    }


def _values(values: dict[str, Value]) -> dict[str, Any]:
    return {name: value._asdict() for name, value in values.items()}


def _case(case: CaseReport) -> dict[str, Any]:
    return {
        "name": case.name,
        "governing": case.governing,
        "margins": [_margin(margin) for margin in case.margins],
        "values": _values(case.values),
        "notes": list(case.notes),
        "steps": [step._asdict() for step in case.steps],
    }


def _margin(margin: Margin) -> dict[str, Any]:
    return margin._asdict() | {
        "required": margin.required._asdict(),
        "available": margin.available._asdict(),
    }


def faults_document(error: InputFaults) -> dict[str, Any]:
    """Return what is wrong with an input as a tree of plain values.

    Parameters
    ----------
    error : InputFaults
        All faults of one input.

    Returns
    -------
    dict
        The document that the page on the report describes.
    """
    return {"schema": FAULTS, "faults": [fault._asdict() for fault in error.faults]}


def dumped(tree: dict[str, Any]) -> str:
    """Return a tree of plain values as JSON text.

    Parameters
    ----------
    tree : dict
        From `document` or `faults_document`.

    Returns
    -------
    str
        ASCII, so that no terminal's encoding can spoil it.

    Raises
    ------
    ValueError
        There is a nan or an infinity in it.
    """
    return json.dumps(tree, indent=2, allow_nan=False)
