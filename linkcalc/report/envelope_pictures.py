"""From an aircraft, or its file, to a picture of its envelope in one call.

Each function checks the aircraft, computes the lines and hands them to
`linkcalc.report.envelope`. They need the ``report`` extra.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.checking import check
from linkcalc.diving.fields import stall_speed
from linkcalc.diving.following import Followed, follow, settle
from linkcalc.errors import InputError
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.reach_of_pressure import at_pressures, reach_of_pressure
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.report import envelope
from linkcalc.report.envelope import Mark

if TYPE_CHECKING:
    import os

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.results import CaseReport, Report, Value

    Floats = NDArray[np.float64]
    Source = Aircraft | str | os.PathLike[str]

__all__ = ["dive_picture", "load_factor_picture", "margin_picture", "reach_picture"]

_POINTS = 81
_BEYOND = 1.25  # how far a picture goes past the last of its marks
_FASTEST = 200.0  # where nothing limits [m/s]
_DRAWN = 2.0  # a margin that is more than this at every speed is not drawn
_MOST_LINES = 7


class _Subject(NamedTuple):
    """An aircraft at the speeds of its cases, and one run in one case of it."""

    aircraft: Aircraft
    report: Report
    run: int
    case: int
    found: CaseReport


def _described(source: Source) -> tuple[Aircraft, tuple[Followed, ...]]:
    aircraft = source if isinstance(source, Aircraft) else read_aircraft(source)
    return aircraft, follow(aircraft)


def _chosen(what: str, name: str | None, names: list[str]) -> int:
    if name is None:
        return 0
    if name not in names:
        raise InputError(what, name, f"one of {', '.join(names)}", "Check the spelling.")
    return names.index(name)


def _subject(source: Source, run: str | None, case: str | None) -> _Subject:
    aircraft, followed = _described(source)
    report = check(aircraft)
    settled = settle(aircraft, followed) if followed else aircraft
    names = [item.name for item in settled.cases]
    r = _chosen("run", run, [item.name for item in settled.runs])
    c = _chosen("case", case, names)
    found = [item for item in report.runs[r].cases if item.name == names[c]]
    if not found:
        raise InputError(
            "case", names[c], "a case in which a servo of the run lives", "Choose another case."
        )
    return _Subject(settled, report, r, c, found[0])


def _marks(found: CaseReport, inputs: Inputs, case: int) -> tuple[Mark, ...]:
    here = Mark("this case", float(inputs.cases.flight_speed[case]))
    return (
        here,
        Mark("placard", _number(found.values["placard speed"])),
        Mark("freeze", _number(found.values["freeze speed"])),
    )


def _number(value: Value) -> float:
    return math.nan if value.value is None else value.value


def _speeds(marks: tuple[Mark, ...]) -> Floats:
    known = [mark.speed for mark in marks if math.isfinite(mark.speed)]
    top = _BEYOND * max(known, default=_FASTEST / _BEYOND)
    return np.linspace(0.02 * top, top, _POINTS)


def reach_picture(
    aircraft: Source, run: str | None = None, case: str | None = None, *, axes: Axes | None = None
) -> Axes:
    """Draw how far a surface is reached against speed, with the travel that the case commands.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    run, case : str, optional
        Which; the first of each if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        The blow-back deflections of the run's first surface, in the air of the case.
    """
    at = _subject(aircraft, run, case)
    inputs = gather(at.aircraft).inputs
    marks = _marks(at.found, inputs, at.case)
    speed = _speeds(marks)
    reach = reach_of_pressure(
        inputs, factors(at.aircraft.factors), prepare(inputs), case=at.case, run=at.run
    )
    up, down = reach(0.5 * inputs.cases.density[at.case] * speed**2)
    low, high = (float(end[at.case, at.run]) for end in (inputs.cases.low, inputs.cases.high))
    return envelope.reachable_deflection(
        speed,
        up,
        down,
        name=f"{at.aircraft.runs[at.run].name}, {at.found.name}",
        commanded=(low, high),
        marks=marks,
        axes=axes,
    )


def margin_picture(
    aircraft: Source, run: str | None = None, case: str | None = None, *, axes: Axes | None = None
) -> Axes:
    """Draw the margins of a run against speed, in the air and with the demands of a case.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    run, case : str, optional
        As for `reach_picture`.
    axes : matplotlib.axes.Axes, optional
        As `reach_picture` takes them.

    Returns
    -------
    matplotlib.axes.Axes
        Every mode that applies and that falls below 2 at some speed, the seven least of them.
    """
    at = _subject(aircraft, run, case)
    inputs = gather(at.aircraft).inputs
    marks = _marks(at.found, inputs, at.case)
    speed = _speeds(marks)
    trial = at_pressures(inputs, at.case, 0.5 * inputs.cases.density[at.case] * speed**2)
    answer = evaluate(trial, both(factors(at.aircraft.factors), 3), prepare(inputs))
    shape = answer.governing.move.shape
    applying = {margin.mode for margin in at.found.margins if margin.applies}
    margins = {}
    for mode, comparison in answer.margins._asdict().items():
        called = mode.replace("_", " ").replace("over voltage", "over-voltage")
        line = np.broadcast_to(comparison.margin, shape)[0, :, at.run]
        if called in applying and np.nanmin(line, initial=math.inf) < _DRAWN:
            margins[called] = line
    least = sorted(margins, key=lambda called: float(np.nanmin(margins[called])))[:_MOST_LINES]
    return envelope.margin_against_speed(
        speed,
        {called: margins[called] for called in margins if called in least},
        name=f"{at.aircraft.runs[at.run].name}, {at.found.name}",
        marks=marks,
        axes=axes,
    )


def _dive(source: Source, case: str | None, what: str) -> tuple[Aircraft, Report, Followed, Any]:
    aircraft, followed = _described(source)
    if aircraft.airframe is None or not followed:
        raise InputError(
            "cases",
            aircraft.name,
            "a case with an entry",
            "Add an [airframe], and an entry to a dive.",
        )
    dive = followed[_chosen("case", case, [item.case for item in followed])]
    solver = solvers.load("dive", aircraft.airframe.solver)
    if not dive.found or not hasattr(solver, what):
        raise InputError(
            "airframe.solver",
            aircraft.airframe.solver,
            f"a solver whose dives can be drawn, with {what!r}",
            dive.reason,
        )
    return aircraft, check(aircraft), dive, solver


def dive_picture(aircraft: Source, case: str | None = None, *, axes: Axes | None = None) -> Axes:
    """Draw speed against height in a dive, with the servo's limit and without.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    case : str, optional
        A case with an entry; the first of them if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        From the start to where the path is level, or to the ground.
    """
    _, report, dive, solver = _dive(aircraft, case, "way")
    ways = {"servo without limit": solver.way(dive.fields, None)}
    if dive.reach is not None:
        ways = {"with the servo that is fitted": solver.way(dive.fields, dive.reach), **ways}
    else:
        ways = {"structure and lift limit": ways["servo without limit"]}
    marks = (
        Mark("placard", _number(report.whole["placard speed"])),
        Mark("freeze", _number(report.whole["freeze speed, high air load"])),
    )
    drawn = envelope.speed_against_height(ways, marks=marks, axes=axes)
    drawn.set_title(f"{dive.case}: dive and pull-out")
    return drawn


def load_factor_picture(
    aircraft: Source, case: str | None = None, *, axes: Axes | None = None
) -> Axes:
    """Draw the load factors that can be pulled against speed, with the servo's boundary.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    case : str, optional
        As for `dive_picture`.
    axes : matplotlib.axes.Axes, optional
        As `dive_picture` takes them.

    Returns
    -------
    matplotlib.axes.Axes
        In a level path at the start height of the dive.
    """
    described, report, dive, solver = _dive(aircraft, case, "load_factors")
    marks = (
        Mark("stall", stall_speed(described.airframe)),  # type: ignore[arg-type]  # it dives
        Mark("dive", dive.found["dive_speed"]),
        Mark("placard", _number(report.whole["placard speed"])),
    )
    speed = _speeds(marks)
    structure, lift, servo = solver.load_factors(dive.fields, dive.reach, speed=speed)
    drawn = envelope.load_factor_against_speed(
        speed,
        structure=structure,
        lift=lift,
        servo=servo if dive.reach is not None else None,
        marks=marks,
        axes=axes,
    )
    drawn.set_title(f"{dive.case}: load factor that can be pulled (filled)")
    return drawn
