"""How the solvers of an aircraft came to their slopes, and where a chart of theirs ended."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.errors import SolverError
from linkcalc.evaluation.loads import surface_flow
from linkcalc.solver_steps import call_steps

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.solver_steps import Step

__all__ = ["LoadStep", "edge_notes", "load_steps", "steps_at"]


class LoadStep(NamedTuple):
    """One step of a solver from theory to one surface in one case.

    Attributes
    ----------
    surface : int
        Which of its run's surfaces, from 1 on.
    solver, slope, name : str
        Whose, of which coefficient, and what is counted.
    before, factor, after : float or None
        Value before [`unit`], factor [1], value after [`unit`]; None where it is not known.
    unit, source : str
        Of the values, and where the factor is from.
    remaining : float or None
        Error that is known to remain in the value after, either way [`unit`].
    beyond : bool
        Whether a range of the step ended before the place that was asked for, so that the value
        at its edge counts.
    edge : str or None
        Which, in words.
    """

    surface: int
    solver: str
    slope: str
    name: str
    before: float | None
    factor: float | None
    after: float | None
    unit: str
    source: str
    remaining: float | None
    beyond: bool
    edge: str | None


def load_steps(inputs: Inputs) -> dict[tuple[int, int], list[LoadStep]]:
    """Return the steps of all surfaces, of the solvers that tell them.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used, at the speeds of the cases.

    Returns
    -------
    dict of (case, run) to list of LoadStep
        By surface; one that takes the very steps of its run's first is not told again. Empty
        where no solver tells any, and on the ground, where none is asked.

    Raises
    ------
    SolverError
        A solver cannot tell its steps.
    """
    found: dict[tuple[int, int], list[LoadStep]] = {}
    chosen = np.array(inputs.surfaces.solver)
    for name in dict.fromkeys(inputs.surfaces.solver):
        try:
            solver = solvers.load("hinge moment", name) if name else None
        except SolverError:
            continue  # told where its loads are missing
        if getattr(solver, "steps", None) is not None:
            _ask(inputs, name, np.flatnonzero(chosen == name).tolist(), found)
    for steps in found.values():
        first = [step._replace(surface=1) for step in steps if step.surface == steps[0].surface]
        alike = [
            number
            for number in {step.surface for step in steps}
            if number != steps[0].surface
            and [step._replace(surface=1) for step in steps if step.surface == number] == first
        ]
        steps[:] = [step for step in steps if step.surface not in alike]
    return found


def _ask(
    inputs: Inputs, name: str, which: list[int], found: dict[tuple[int, int], list[LoadStep]]
) -> None:
    """Put the steps of one solver beside those of the others."""
    surfaces, gust = inputs.surfaces, inputs.cases.local.get("gust_size")
    for (case, place), told in steps_at(inputs, name, which).items():
        surface = which[place]
        if gust is not None and not np.isnan(gust[case, surface]):
            continue
        run = int(surfaces.owner[surface])
        number = surface - int(surfaces.first[run]) + 1
        steps = found.setdefault((case, run), [])
        steps += [step._replace(surface=number) for step in told]


def steps_at(inputs: Inputs, name: str, which: list[int]) -> dict[tuple[int, int], list[LoadStep]]:
    """Return the steps of one solver for some surfaces in all cases.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used.
    name : str
        Of the solver.
    which : list of int
        The surfaces.

    Returns
    -------
    dict of (case, place in which) to list of LoadStep
        Each taken as the first surface of its run; empty lists of a solver that tells none.

    Raises
    ------
    SolverError
        The solver is missing, broken, or cannot tell its steps.
    """
    shape = (len(inputs.cases.density), len(which))
    offered = {
        key: np.broadcast_to(value[..., which], shape)
        for key, value in (surface_flow(inputs) | inputs.surfaces.fields).items()
    }
    told = call_steps(solvers.load("hinge moment", name), offered)
    return {place: [_at(step, place, name) for step in told] for place in np.ndindex(shape)}


def _at(step: Step, place: tuple[int, ...], solver: str) -> LoadStep:
    """Return a step at one surface in one case."""
    edge = "; ".join(
        f"{limit.name} {np.asarray(limit.value)[place]:.4g}, good from {limit.least:.4g} to {limit.most:.4g}"
        for limit in step.limits
        if limit.left[place]
    )
    numbers = (step.before, step.factor, step.after)
    before, factor, after = (_known(value, place) for value in numbers)
    return LoadStep(
        1,
        solver,
        step.slope,
        step.name,
        before,
        factor,
        after,
        step.unit,
        step.source,
        None if step.remaining is None else _known(step.remaining, place),
        bool(edge),
        edge or None,
    )


def _known(value: Any, place: tuple[int, ...]) -> float | None:
    number = float(np.asarray(value)[place])
    return number if math.isfinite(number) else None


def edge_notes(steps: list[LoadStep]) -> Iterator[str]:
    """Say what was read at the edge of a chart.

    Parameters
    ----------
    steps : list of LoadStep
        Of a run in a case.

    Yields
    ------
    str
        A line for each edge, the same edge told once.
    """
    told: dict[tuple[str, str], list[str]] = {}
    for step in steps:
        if step.edge is not None:
            names = told.setdefault((step.solver, step.edge), [])
            label = f"{step.slope} by {step.name}"
            names += [] if label in names else [label]
    for (solver, edge), names in told.items():
        yield f"{solver} takes the edge of its range for {' and '.join(names)}: {edge}"
