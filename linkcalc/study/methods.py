"""All hinge-moment solvers side by side: how far the methods agree on the same aircraft."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.checking import check, settled
from linkcalc.errors import SolverError
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.load_steps import steps_at
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

__all__ = ["Comparison", "Estimate", "SlopeStep", "compare_methods"]

_FLOW = (
    "deflection",
    "dynamic_pressure",
    "density",
    "viscosity",
    "incidence",
    "largest_incidence",
)
"""What is known of every surface in every case."""


class Estimate(NamedTuple):
    """What one solver makes of one run in one case.

    Attributes
    ----------
    run, case, solver : str
        Names.
    used : bool
        Whether it is the solver of the check.
    deflection : float or None
        Where moving the surface takes most [rad]; None where it cannot be told.
    low, best, high : float or None
        Hinge moment there, air load and weight, by line, positive trailing edge down [N m].
    margin : float or None
        Torque margin on the verdict's line, with every factor [1].
    reason : str or None
        Why there is nothing.
    """

    run: str
    case: str
    solver: str
    used: bool
    deflection: float | None
    low: float | None
    best: float | None
    high: float | None
    margin: float | None
    reason: str | None


class SlopeStep(NamedTuple):
    """One step of a solver from theory to a surface.

    Attributes
    ----------
    run, case, solver, slope, name : str
        Whose, of which coefficient, and what is counted.
    before, factor, after : float or None
        Value before [`unit`], factor [1], value after [`unit`]; None where it is not known.
    source : str
        Where the factor is from.
    beyond : bool
        Whether a chart ended before the place that was asked for.
    unit : str
        Of the values before and after.
    remaining : float or None
        Error that is known to remain in the value after, either way [`unit`].
    edge : str or None
        Which chart ended, in words.
    """

    run: str
    case: str
    solver: str
    slope: str
    name: str
    before: float | None
    factor: float | None
    after: float | None
    source: str
    beyond: bool
    unit: str = "1/rad"
    remaining: float | None = None
    edge: str | None = None


class Comparison(NamedTuple):
    """All solvers on one aircraft.

    Attributes
    ----------
    aircraft : str
        Its name.
    estimates : tuple of Estimate
        By run, case and solver.
    steps : tuple of SlopeStep
        Of the first surface of every run, of the solvers that tell their steps.
    """

    aircraft: str
    estimates: tuple[Estimate, ...]
    steps: tuple[SlopeStep, ...]


def compare_methods(aircraft: Aircraft | str | os.PathLike[str]) -> Comparison:
    """Set all installed hinge-moment solvers side by side.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.

    Returns
    -------
    Comparison
        Every run is evaluated with every solver that has what it needs; a solver that
        lacks something, or fails, has the reason instead.

    Raises
    ------
    InputFaults
        The description cannot be used.

    Notes
    -----
    While one run tries a solver all others that can do so try it too, so that what they draw from
    the supply changes with them.

    Examples
    --------
    >>> found = compare_methods("examples/sandpiper.toml")
    >>> sorted({each.solver for each in found.estimates if each.reason is None})
    ['plate', 'split_flap', 'thin_aerofoil']
    """
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    check(described)  # refuses what cannot be checked, in its own words
    inputs = gather(described).inputs
    linkages, used = prepare(inputs), factors(described.factors)
    names = solvers.names("hinge moment")
    columns = {name: _column(described, inputs, linkages, used, name) for name in names}
    estimates = tuple(
        columns[name][c, r]
        for r in range(len(described.runs))
        for c in range(len(described.cases))
        for name in names
    )
    steps = tuple(step for name in names for step in _steps(described, inputs, name))
    return Comparison(described.name, estimates, steps)


def _lacking(inputs: Inputs, name: str) -> list[str]:
    """Return for each surface what a solver does not know; empty where it can be asked."""
    solver = solvers.load("hinge moment", name)
    fields = inputs.surfaces.fields
    whole = np.isfinite(fields["hinge_position"])
    told = []
    for index, own in enumerate(inputs.surfaces.solver):
        missing = [
            field
            for field in solver.fields
            if field not in _FLOW and np.isnan(fields[field][index])
        ]
        if "half_span" in missing:
            told.append("not given: planform")
        elif missing:
            told.append(f"not given: {', '.join(missing)}")
        elif whole[index] and own != name and "hinge_position" not in solver.fields:
            told.append("not for a surface that moves as a whole")
        else:
            told.append("")
    return told


def _column(
    aircraft: Aircraft, inputs: Inputs, linkages: Linkages, used: Factors, name: str
) -> dict[tuple[int, int], Estimate]:
    """Return what one solver makes of every run in every case."""
    surfaces = inputs.surfaces
    places = [(c, r) for c in range(len(aircraft.cases)) for r in range(len(aircraft.runs))]
    try:
        lacking = _lacking(inputs, name)
        chosen = tuple(
            own if why else name for own, why in zip(surfaces.solver, lacking, strict=True)
        )
        trial = inputs._replace(surfaces=surfaces._replace(solver=chosen))
        answer = evaluate(trial, both(used, 3), linkages)
    except SolverError as error:
        reason = str(error)
        return {place: _nothing(aircraft, inputs, name, place, reason) for place in places}
    made = {}
    for c, r in places:
        reasons = [
            why for why, owner in zip(lacking, surfaces.owner, strict=True) if why and owner == r
        ]
        if not reasons and inputs.cases.live[c, r] == 0:
            reasons = ["all its servos are taken as dead"]
        if reasons:
            made[c, r] = _nothing(aircraft, inputs, name, (c, r), reasons[0])
        else:
            made[c, r] = _estimate(aircraft, inputs, name, (c, r), answer)
    return made


def _is_used(inputs: Inputs, name: str, run: int) -> bool:
    return inputs.surfaces.solver[int(inputs.surfaces.first[run])] == name


def _nothing(
    aircraft: Aircraft, inputs: Inputs, name: str, place: tuple[int, int], reason: str
) -> Estimate:
    case, run = place
    names = aircraft.runs[run].name, aircraft.cases[case].name
    return Estimate(*names, name, _is_used(inputs, name, run), None, None, None, None, None, reason)


def _estimate(
    aircraft: Aircraft, inputs: Inputs, name: str, place: tuple[int, int], answer: Answer
) -> Estimate:
    case, run = place
    found = answer.governing
    deflection = _known(found.deflection[case, run])
    low, best, high = (_known(line[case, run]) for line in found.moment_lines[:3])
    margin = _known(answer.margins.torque.margin[0][case, run])
    names = aircraft.runs[run].name, aircraft.cases[case].name
    reason = None
    if None in {deflection, low, best, high}:
        deflection = low = best = high = margin = None
        reason = "it cannot be computed; see the check"
    used = _is_used(inputs, name, run)
    return Estimate(*names, name, used, deflection, low, best, high, margin, reason)


def _known(value: Any) -> float | None:
    return float(value) if math.isfinite(value) else None


def _steps(aircraft: Aircraft, inputs: Inputs, name: str) -> Iterator[SlopeStep]:
    """Yield the steps of a solver that tells them, for the first surface of every run it can do."""
    try:
        lacking = _lacking(inputs, name)
        doing = [r for r, first in enumerate(inputs.surfaces.first) if not lacking[first]]
        told = steps_at(inputs, name, [int(inputs.surfaces.first[r]) for r in doing])
    except SolverError:
        return  # told among the estimates, or there are none
    for place, r in enumerate(doing):
        for c, case in enumerate(aircraft.cases):
            for step in told[c, place]:
                yield SlopeStep(
                    aircraft.runs[r].name,
                    case.name,
                    name,
                    step.slope,
                    step.name,
                    step.before,
                    step.factor,
                    step.after,
                    step.source,
                    step.beyond,
                    step.unit,
                    step.remaining,
                    step.edge,
                )
