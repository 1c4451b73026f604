"""The way from theory to the slopes of an air load, a line for each step."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from linkcalc.report.measures import figure

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.evaluation.load_steps import LoadStep
    from linkcalc.results import RunReport
    from linkcalc.study.methods import SlopeStep

__all__ = ["case_steps", "step_words"]


def step_words(step: LoadStep | SlopeStep) -> str:
    """Return a step as a line: value before, factor, value after, source.

    Parameters
    ----------
    step : LoadStep or SlopeStep
        The step.

    Returns
    -------
    str
        With the error that is known to remain, and the edge of a chart that was read.
    """
    numbers = (step.before, step.factor, step.after)
    before, factor, after = ("not known" if each is None else figure(each) for each in numbers)
    unit = "" if step.unit == "1" else f" {step.unit}"
    left = "" if step.remaining is None else f", known to remain +-{step.remaining:.2g}{unit}"
    edge = "" if step.edge is None else f"; at the edge of its range: {step.edge}"
    return (
        f"{step.slope} {step.name}: {before} x {factor} = {after}{unit}{left} ({step.source}{edge})"
    )


def case_steps(run: RunReport) -> Iterator[tuple[str, list[str], list[LoadStep]]]:
    """Group the steps of a run: by surface and solver, cases that take the same ones together.

    Parameters
    ----------
    run : RunReport
        The run.

    Yields
    ------
    tuple of str, list of str, list of LoadStep
        The solver, with the surface if there are several; the cases, empty for all; the steps.
    """
    alike: dict[tuple[LoadStep, ...], list[str]] = {}
    for case in run.cases:
        for _, group in groupby(case.steps, lambda step: (step.surface, step.solver)):
            alike.setdefault(tuple(group), []).append(case.name)
    several = len({(steps[0].surface, steps[0].solver) for steps in alike}) > 1
    for steps, cases in alike.items():
        label = f"{steps[0].solver}, surface {steps[0].surface}" if several else steps[0].solver
        yield label, ([] if len(cases) == len(run.cases) else cases), list(steps)
