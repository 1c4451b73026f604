"""Puts followed dives into a report: values, notes, and what they mean for the verdict."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.diving.following import WARNED_MACH
from linkcalc.results import AircraftCase, Value

if TYPE_CHECKING:
    from linkcalc.diving.following import Followed
    from linkcalc.results import Report

__all__ = ["dive_notes", "dive_values", "told"]

_VALUES = {
    "terminal speed": ("terminal_speed", "m/s"),
    "dive speed": ("dive_speed", "m/s"),
    "pull-out speed": ("pull_out_speed", "m/s"),
    "peak dynamic pressure": ("greatest_dynamic_pressure", "Pa"),
    "greatest Mach number": ("greatest_mach", "1"),
    "greatest load factor": ("greatest_load_factor", "1"),
    "height lost": ("height_lost", "m"),
    "lowest height": ("lowest_height", "m"),
    "least height to recover": ("minimum_height", "m"),
}
_NO_TERMINAL = "none: drag and weight balance at no speed in reach of the equations"
_NO_HEIGHT = "does not recover from the ceiling that it is sought up to"


def dive_values(dive: Followed) -> dict[str, Value]:
    """Return the values of one dive.

    Parameters
    ----------
    dive : Followed
        From `linkcalc.diving.following.follow`.

    Returns
    -------
    dict of str to Value
        By name; null with the reason where there is none.
    """
    reasons = {"terminal speed": _NO_TERMINAL, "least height to recover": _NO_HEIGHT}
    made = {}
    for name, (key, unit) in _VALUES.items():
        reason = reasons.get(name, dive.reason) if dive.found else dive.reason
        made[name] = _value(dive.found.get(key, math.nan), unit, reason)
    if dive.reach is not None:
        servo = dive.found.get("share_servo", math.nan)
        made["share of the pull-out limited by the servo"] = _value(servo, "1", dive.reason)
        lost = dive.unlimited.get("height_lost", math.nan)
        made["height lost, servo without limit"] = _value(lost, "m", "no recovery with it either")
    recovery = None if dive.recovers else dive.reason
    made["recovers"] = Value(1.0 if dive.recovers else None, "1", reason=recovery)
    return made


def _value(value: float, unit: str, reason: str) -> Value:
    known = math.isfinite(value)
    return Value(value if known else None, unit, reason=None if known else reason)


def dive_notes(dive: Followed) -> tuple[str, ...]:
    """Return what there is to say about one dive, the outcome first.

    Parameters
    ----------
    dive : Followed
        From `linkcalc.diving.following.follow`.

    Returns
    -------
    tuple of str
        Sentences.
    """
    start = float(dive.fields["start_height"])
    notes = []
    if not dive.found:
        notes.append(f"the dive could not be followed, so this falls short: {dive.reason}")
    elif dive.recovers:
        notes.append(
            f"recovers from {start:.4g} m: level {dive.found['lowest_height']:.4g} m above the field"
        )
    else:
        notes.append(f"does not recover from {start:.4g} m, so this falls short: {dive.reason}")
    if dive.found and not dive.speed_given:
        whole = (
            "the greatest of the dive" if dive.recovers else "the greatest as far as the dive goes"
        )
        notes.append(f"speed not given: {dive.found['dive_speed']:.4g} m/s, {whole}")
    if dive.found.get("greatest_mach", 0.0) > WARNED_MACH:
        notes.append(
            f"Mach {dive.found['greatest_mach']:.2f} is reached: above Mach {WARNED_MACH:g} air "
            "loads and drag of incompressible flow err by some percent, and to the unsafe side"
        )
    return (*notes, *dive.notes)


def _faster(report: Report, dive: Followed) -> tuple[str, ...]:
    """Say where a dive comes to more than the speed that the file gives for its case."""
    reached = dive.found.get("greatest_dynamic_pressure", math.nan)
    pressures = [
        case.values["dynamic pressure"].value
        for run in report.runs
        for case in run.cases
        if case.name == dive.case
    ]
    least = min((value for value in pressures if value is not None), default=math.nan)
    if not (dive.speed_given and reached > least * (1 + 1e-9)):
        return ()
    words = (
        f"the dive comes to {dive.found['dive_speed']:.4g} m/s and {reached:.4g} Pa, more than the "
        f"{least:.4g} Pa of the speed that the file gives: the margins do not cover it"
    )
    return (words,)


def told(report: Report, followed: tuple[Followed, ...], order: tuple[str, ...]) -> Report:
    """Put dives into a report.

    Parameters
    ----------
    report : Report
        Of the aircraft at the speeds of its cases.
    followed : tuple of Followed
        Its dives.
    order : tuple of str
        The names of all cases, those included whose dive could not be followed.

    Returns
    -------
    Report
        With the values and notes of every dive in its case. The verdict is ``"short"`` where an
        aircraft does not recover, or a dive could not be followed.
    """
    dives = {dive.case: dive for dive in followed}
    written = {case.name: case for case in report.aircraft_cases}
    cases = []
    for name in order:
        case = written.get(name, AircraftCase(name, {}))
        if name in dives:
            dive = dives[name]
            case = case._replace(
                values={**case.values, **dive_values(dive)},
                notes=(*dive_notes(dive), *_faster(report, dive)),
                passes=dive.recovers,
            )
        cases.append(case)
    recovered = all(case.passes for case in cases)
    return report._replace(
        verdict=report.verdict if recovered else "short", aircraft_cases=tuple(cases)
    )
