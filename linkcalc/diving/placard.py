"""What may be flown: placard and freeze speeds on every line of the air load, and their margins."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.diving.fields import stall_speed
from linkcalc.evaluation.evaluate import prepare
from linkcalc.evaluation.governing import MILD, PLAIN, VERDICT
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.model.value_classes import stated
from linkcalc.results import Value

if TYPE_CHECKING:
    from linkcalc.diving.following import Followed
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.speeds import Speeds
    from linkcalc.model import Aircraft
    from linkcalc.results import CaseReport, Report

__all__ = ["LINES", "placarded", "speeds_on_lines"]

LINES = {"low": MILD, "best": PLAIN, "high": VERDICT}
"""Lines of the air load, by the place of the basis axis that stands for each."""

Limits = dict[str, Value]


def speeds_on_lines(inputs: Inputs, factors: Factors, verdict: Speeds) -> dict[str, Speeds]:
    """Find the limits of speed on the low, the best and the high line of the air load.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    factors : Factors
        For the verdict; they hold on every line.
    verdict : Speeds
        Those of the verdict's line, which are not sought again.

    Returns
    -------
    dict of str to Speeds
        By line.
    """
    linkages = prepare(inputs)
    return {
        line: verdict
        if basis == inputs.basis
        else find_speeds(inputs._replace(basis=basis), factors, linkages)
        for line, basis in LINES.items()
    }


def placarded(
    report: Report,
    aircraft: Aircraft,
    followed: tuple[Followed, ...],
    whole: dict[str, Limits],
    runs: dict[str, dict[tuple[str, str], Limits]],
) -> Report:
    """Put the speeds that may be flown into a report.

    Parameters
    ----------
    report : Report
        Of the aircraft.
    aircraft : Aircraft
        With an airframe.
    followed : tuple of Followed
        Its dives.
    whole : dict of str to dict of str to Value
        By line, the least placard and freeze speed over the runs of dive cases.
    runs : dict of str to dict
        By line, those of every run and case.

    Returns
    -------
    Report
        With them beside those of the verdict; and with the margins of the placard speed over
        stall, cruise and dive speed: placard speed / that speed - 1.
    """
    told_runs = tuple(
        run._replace(
            cases=tuple(
                _case(case, {n: each[run.name, case.name] for n, each in runs.items()})
                for case in run.cases
            )
        )
        for run in report.runs
    )
    made = {**report.whole, **_by_line(whole)}
    made.update(_margins(aircraft, followed, report.whole["placard speed"]))
    return report._replace(whole=made, runs=told_runs)


def _case(case: CaseReport, limits: dict[str, Limits]) -> CaseReport:
    return case._replace(values={**case.values, **_by_line(limits)})


def _by_line(limits: dict[str, Limits]) -> Limits:
    names = next(iter(limits.values()))
    return {f"{name}, {line} air load": limits[line][name] for name in names for line in limits}


def _margins(
    aircraft: Aircraft, followed: tuple[Followed, ...], placard: Value
) -> dict[str, Value]:
    """Return the speeds that a placard is held against, and how much it has over each."""
    made = {}
    for name, value in _speeds(aircraft, followed).items():
        made[f"{name} speed"] = value
        missing = value.reason if value.value is None else placard.reason
        known = placard.value is not None and value.value is not None
        margin = placard.value / value.value - 1 if known else None  # type: ignore[operator]
        made[f"margin of the placard over {name} speed"] = Value(
            margin, "1", reason=None if known else missing
        )
    return made


def _speeds(aircraft: Aircraft, followed: tuple[Followed, ...]) -> dict[str, Value]:
    frame = aircraft.airframe
    cruise = None if frame is None else stated(frame, "cruise_speed")
    stall = math.nan if frame is None else stall_speed(frame)
    return {
        "stall": Value(stall, "m/s", at="sea level, one g"),
        "cruise": Value(None, "m/s", reason="no cruise speed is given")
        if cruise is None
        else Value(cruise.si, "m/s"),
        "dive": _dive_speed(aircraft, followed),
    }


def _dive_speed(aircraft: Aircraft, followed: tuple[Followed, ...]) -> Value:
    held = stated(aircraft, "dive_speed")
    given = [] if held is None else [(float(held.si), "as given")]
    reached = [
        (dive.found["dive_speed"], f"reached in {dive.case!r}") for dive in followed if dive.found
    ]
    if not given and (not reached or len(reached) < len(followed)):
        return Value(None, "m/s", reason="no dive speed is given, and not every dive was followed")
    speed, where = max(given + reached)
    return Value(speed, "m/s", at=where)
