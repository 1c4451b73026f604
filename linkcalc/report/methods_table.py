"""Solvers side by side, as text in 80 columns and as a document for other programs."""

from __future__ import annotations

import math
from itertools import groupby
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import cut, heading, signed, wrapped
from linkcalc.report.step_lines import step_words
from linkcalc.report.text import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.study.methods import Comparison, Estimate, SlopeStep

__all__ = ["METHODS", "methods_document", "methods_text"]

METHODS = "linkcalc.methods/1"
"""The schema of the document."""

_HOW = (
    "Every run with every solver that has what it needs. Moments are air load and weight about the hinge "
    "line where moving the surface takes most torque, positive trailing edge down; the margin is that "
    "of torque with every factor. * is the solver of the check. Methods that agree may still be wrong "
    "together: the validation page tells how far each lies from what it was held to."
)


def methods_text(found: Comparison, *, bold: bool = False) -> str:
    """Return a comparison of solvers as text.

    Parameters
    ----------
    found : Comparison
        What `linkcalc.study.methods.compare_methods` returns.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        A table for each run in each case, then the steps of the solvers that tell them.
    """
    lines = heading(f"AIR LOAD BY EVERY SOLVER: {found.aircraft}", bold=bold)
    lines += wrapped(_HOW, 0)
    for (run, case), group in groupby(found.estimates, lambda each: (each.run, each.case)):
        lines += ["", *heading(f"{run}, {case}", bold=bold)]
        lines.append("  solver            at deg    low mN·m   best mN·m   high mN·m   margin")
        for each in group:
            lines += _row(each)
    by_place = groupby(found.steps, lambda each: (each.run, each.case, each.solver))
    for (run, case, solver), steps in by_place:
        lines += ["", *heading(f"Steps of {solver}: {run}, {case}", bold=bold)]
        for step in steps:
            lines += _step(step)
    return "\n".join([*lines, "", *wrapped(CAUTION, 0)]) + "\n"


def _row(each: Estimate) -> Iterator[str]:
    star = "*" if each.used else " "
    if each.reason is not None:
        first, *others = wrapped(f"{cut(each.solver, 16)}: {each.reason}")
        yield from (star + first[1:], *others)
        return
    label = f"{star} {cut(each.solver, 16):16}"
    moments = "".join(f"{1e3 * (value or 0.0):12.4g}" for value in (each.low, each.best, each.high))
    angle = math.degrees(each.deflection or 0.0)
    yield f"{label}{angle:8.4g}{moments}{signed(each.margin):>9}"


def _step(step: SlopeStep) -> Iterator[str]:
    yield from wrapped(step_words(step))


def methods_document(found: Comparison) -> dict[str, Any]:
    """Return a comparison of solvers as a tree of plain values.

    Parameters
    ----------
    found : Comparison
        What `linkcalc.study.methods.compare_methods` returns.

    Returns
    -------
    dict
        Angles in deg, moments in N*m, slopes in 1/rad; null with a reason, no nan.
    """
    estimates = []
    for each in found.estimates:
        row = each._asdict()
        if each.deflection is not None:
            row["deflection"] = math.degrees(each.deflection)
        estimates.append(row)
    return {
        "schema": METHODS,
        "aircraft": found.aircraft,
        "units": {"deflection": "deg", "moment": "N*m", "slope": "1/rad", "margin": "1"},
        "estimates": estimates,
        "steps": [step._asdict() for step in found.steps],
    }
