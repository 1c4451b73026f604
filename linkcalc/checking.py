"""An aircraft in, a margin report out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.errors import Fault, InputFaults, SolverError
from linkcalc.evaluation.evaluate import evaluate, prepare, servo_share
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.held import held
from linkcalc.evaluation.load_steps import load_steps
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.evaluation.supply import inrush
from linkcalc.evaluation.validity import beyond
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.model.value_classes import given
from linkcalc.physics.servo_sheet import hold_time
from linkcalc.writing.columns import Columns, Results
from linkcalc.writing.limits import limits_of_dives, limits_of_runs
from linkcalc.writing.whole import report

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator

    from linkcalc.diving.following import Followed
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.gather import Gathered
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.results import Report

__all__ = ["Checked", "check", "checked", "refuse_unknown_solvers", "settled"]


def check(aircraft: Aircraft | str | os.PathLike[str]) -> Report:
    """Check every control run of an aircraft in every flight case.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.

    Returns
    -------
    Report
        Every margin of every run in every case, with what was needed and what there is.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.

    Examples
    --------
    >>> report = check("examples/sandpiper.toml")
    >>> report.runs[0].cases[1].margin("torque").required.unit
    'N*m'
    """
    return checked(aircraft).report()


class Checked(NamedTuple):
    """An aircraft and what was computed for it.

    Attributes
    ----------
    described : Aircraft
        As it was given, or read.
    gathered : Gathered
        Its arrays and notes.
    inputs : Inputs
        The arrays without the solvers that have failed.
    results : Results
        What was computed.
    failures : dict of str to str
        Solvers that have failed, and why.
    dives : tuple of Followed
        Dives that were followed.
    order : tuple of str
        Names of the cases as they were described, those that came to nothing among them.
    """

    described: Aircraft
    gathered: Gathered
    inputs: Inputs
    results: Results
    failures: dict[str, str]
    dives: tuple[Followed, ...]
    order: tuple[str, ...]

    def report(self) -> Report:
        """Return the report.

        Returns
        -------
        Report
            As `check` does.
        """
        columns = Columns(self.described, self.gathered, self.results, self.failures)
        if self.described.airframe is None:
            return report(columns)
        return _with_airframe(columns, self.inputs, self.dives, self.order)


def checked(aircraft: Aircraft | str | os.PathLike[str]) -> Checked:
    """Check an aircraft and return the arrays behind its report.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.

    Returns
    -------
    Checked
        From which the report is written.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.
    """
    described = aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft)
    order = tuple(case.name for case in described.cases)
    dives: tuple[Followed, ...] = ()
    try:
        if described.airframe is not None:  # nobody else pays for it
            described, dives = _with_dives(described)
        gathered = gather(described)
        refuse_unknown_solvers(described)
    except InputFaults as error:
        file = "" if isinstance(aircraft, Aircraft) else str(aircraft)
        raise InputFaults(fault._replace(file=file) for fault in error.faults) from None
    inputs, failures = gathered.inputs, {}
    while True:
        try:
            results = _results(inputs, factors(described.factors))
            break
        except SolverError as error:  # goes on without it: its margins have a reason, no value
            failures[error.solver] = str(error)
            inputs = _without(inputs, error.solver)
    return Checked(described, gathered, inputs, results, failures, dives, order)


def settled(aircraft: Aircraft) -> Aircraft:
    """Return an aircraft with a speed in every case.

    Parameters
    ----------
    aircraft : Aircraft
        As it was described.

    Returns
    -------
    Aircraft
        The same object where every case has a speed; else with the greatest of their dives.

    Raises
    ------
    InputFaults
        A dive cannot be followed.
    """
    if all(case.entry is None or given(case, "speed") for case in aircraft.cases):
        return aircraft
    return _with_dives(aircraft)[0]


def _with_dives(aircraft: Aircraft) -> tuple[Aircraft, tuple[Followed, ...]]:
    """Follow the dives, and put the speeds that they reach where the file gives none."""
    from linkcalc.diving.following import follow, settle  # noqa: PLC0415 - for an airframe only

    refuse_unknown_solvers(aircraft)  # or the reach of the elevator would fail for it
    followed = follow(aircraft)
    return (settle(aircraft, followed) if followed else aircraft), followed


def _with_airframe(
    columns: Columns, inputs: Inputs, dives: tuple[Followed, ...], order: tuple[str, ...]
) -> Report:
    """Tell of the dives, and of the speeds that may be flown on each line of the air load."""
    from linkcalc.diving.flutter import cautioned  # noqa: PLC0415 - for an airframe only
    from linkcalc.diving.placard import placarded, speeds_on_lines  # noqa: PLC0415 - likewise
    from linkcalc.diving.telling import told  # noqa: PLC0415 - likewise

    results = columns.results
    on_lines = speeds_on_lines(inputs, results.factors, results.speeds)
    lines = {
        line: Columns(
            columns.aircraft, columns.gathered, results._replace(speeds=speeds), columns.failures
        )
        for line, speeds in on_lines.items()
    }
    with_speeds = placarded(
        report(columns),
        columns.aircraft,
        dives,
        {line: limits_of_dives(each) for line, each in lines.items()},
        {line: limits_of_runs(each) for line, each in lines.items()},
    )
    return cautioned(told(with_speeds, dives, order), columns.aircraft)


def _results(inputs: Inputs, used: Factors) -> Results:
    linkages = prepare(inputs)
    stacked = both(used, 3)
    warming = inputs.supply.warming is not None and inputs.supply.solver
    if warming:
        from linkcalc.evaluation import wire_heat  # noqa: PLC0415 - few files ask for it

        inputs = wire_heat.with_warm_copper(inputs, stacked, linkages)
    answer = evaluate(inputs, stacked, linkages)
    share = servo_share(inputs, stacked)[0]
    reach = held(
        inputs, linkages, answer.reach, answer.torque_available[0], share, factor=used.torque
    )
    speeds = find_speeds(inputs, used, linkages)
    hold = answer.margins.hold  # against the share of the stall torque that may be held for long
    time = hold_time(
        torque_share=hold.required[0],
        continuous_share=hold.available[0],
        time_constant=inputs.servos.time_constant,
    )
    warm = None
    if warming:
        current = wire_heat.at_work(inputs, stacked, answer.governing.move)
        warm = wire_heat.copper(inputs, current)
    starting = inrush(inputs, inputs.servos.curves)
    deadband = inputs.servos.deadband * np.abs(linkages.neutral.slope[linkages.starts, 0])
    return Results(
        used,
        answer,
        share,
        reach,
        speeds,
        np.asarray(time),
        deadband,
        beyond(inputs),
        starting,
        warm,
        load_steps(inputs),
    )


def refuse_unknown_solvers(aircraft: Aircraft) -> None:
    """Refuse solvers that are not installed, with the place where the file names them.

    Parameters
    ----------
    aircraft : Aircraft
        As described.

    Raises
    ------
    InputFaults
        One for each such place.
    """
    faults = [
        Fault(
            "",
            place,
            f"the {kind} solver {name!r}",
            f"one of {', '.join(known)}",
            "Check the spelling, or install the package that brings it.",
        )
        for kind, place, name, known in _named_solvers(aircraft)
        if name not in known
    ]
    if faults:
        raise InputFaults(faults)


def _named_solvers(aircraft: Aircraft) -> Iterator[tuple[str, str, str, list[str]]]:
    by_name = [
        (f"runs[{run.name!r}].surface.solver", linkage.surface.solver)
        for run in aircraft.runs
        for linkage in run.linkages
        if linkage.surface.solver is not None
    ]
    if by_name:
        known = solvers.names("hinge moment")
        yield from (("hinge moment", place, name, known) for place, name in by_name)
    if aircraft.supply.solver != "tree":
        known = solvers.names("supply")
        yield "supply", "supply.solver", aircraft.supply.solver, known


def _without(inputs: Inputs, solver: str) -> Inputs:
    """Return the inputs with a solver that has failed taken out."""
    surfaces, supply = inputs.surfaces, inputs.supply
    if solver == supply.solver:
        return inputs._replace(supply=supply._replace(solver=""))
    left = tuple("" if name == solver else name for name in surfaces.solver)
    if left == surfaces.solver:
        raise SolverError(
            f"The solver {solver!r} failed and is not the one that was asked for.", solver
        )
    return inputs._replace(surfaces=surfaces._replace(solver=left))
