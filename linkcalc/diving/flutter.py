"""Flutter: what to look at, what is published about it, and that nothing here predicts it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError
from linkcalc.model.value_classes import stated
from linkcalc.results import Caution

if TYPE_CHECKING:
    from linkcalc.model import Aircraft, ControlSurface, Linkage
    from linkcalc.results import CaseReport, Report

__all__ = [
    "FREEDOM_FACTOR",
    "FREE_PLAY_LIMITS",
    "NO_ANALYSIS",
    "cautioned",
    "cautions",
]


_PRACTICE = "common practice, no source"
_LIMITS = "MIL-A-8870, repeated in FAA AC 23.629-1B, for full-size aeroplanes (from memory, low confidence)"

FREEDOM_FACTOR = 1.2
"""A full-size aeroplane shown by analysis is free from flutter up to this times its dive speed:
14 CFR 23.629(c), text before 2017."""

FREE_PLAY_LIMITS: dict[str, float] = {
    "aileron beyond 75 % of the span": math.radians(0.13),
    "aileron at 50 to 75 % of the span": math.radians(0.57),
    "aileron inboard of 50 % of the span": math.radians(1.15),
    "tab, span under 35 % of the surface": math.radians(1.15),
    "tab, span 35 % of the surface or more": math.radians(0.57),
    "all-moving surface": math.radians(0.034),
}
"""Total free play that is published as a limit, by the kind of surface [rad]: MIL-A-8870, repeated
in FAA AC 23.629-1B, for full-size aeroplanes (from memory, low confidence)."""

NO_ANALYSIS = Caution(
    "not a flutter analysis",
    "Flutter depends on masses, stiffnesses and modes of wing, tail and fuselage that nobody has "
    "given here. Good torque margins say nothing about it. Go up in speed in small steps, listen "
    "for a buzz, slow down at once when one is heard, and look for looseness before the next "
    "flight. Follow local rules and licensed practice.",
    _PRACTICE,
)
"""Said whatever has been given."""


def cautions(
    *,
    name: str,
    mass_moment: float = math.nan,
    free_play: float = math.nan,
    compliance: float = math.nan,
    dive_speed: float = math.nan,
    kind: str | None = None,
) -> tuple[Caution, ...]:
    """Return what there is to say about a surface and flutter.

    Parameters
    ----------
    name : str
        Of the surface.
    mass_moment : float
        Mass of the moving surface, balance weights included, times the distance of its centre
        of mass aft of the hinge line; nan where not given [kg m].
    free_play : float
        Total play at the surface; nan where not given [rad].
    compliance : float
        Deflection per hinge moment with the servo held; nan where not given [rad/(N m)].
    dive_speed : float
        Greatest true airspeed that is reached; nan where not known [m/s].
    kind : str, optional
        A key of `FREE_PLAY_LIMITS`, where a published limit applies.

    Returns
    -------
    tuple of Caution
        First that this is no flutter analysis. What is not given is said to be not given and
        not looked at.

    Raises
    ------
    InputError
        The kind is none that a limit is published for.

    Examples
    --------
    >>> found = cautions(name="elevator", mass_moment=0.0008, free_play=0.02)
    >>> [caution.subject for caution in found]
    ['not a flutter analysis', 'mass balance', 'free play', 'stiffness']
    """
    if kind is not None and kind not in FREE_PLAY_LIMITS:
        raise InputError(
            "kind",
            kind,
            f"one of {'; '.join(FREE_PLAY_LIMITS)}",
            "Choose one of these, or leave it out.",
        )
    found = [NO_ANALYSIS, _balance(name, mass_moment), _play(name, free_play, kind)]
    found.append(_stiffness(name, compliance))
    if not np.isnan(dive_speed):
        found.append(_speed(name, dive_speed))
    return tuple(found)


def _speed(name: str, dive_speed: float) -> Caution:
    return Caution(
        "speed",
        f"{name}: {dive_speed:.1f} m/s is the dive speed. A full-size aeroplane is shown to be free "
        f"from flutter up to {FREEDOM_FACTOR:g} times that, {FREEDOM_FACTOR * dive_speed:.1f} m/s.",
        "14 CFR 23.629(c), text before 2017",
    )


def _balance(name: str, moment: float) -> Caution:
    if np.isnan(moment):
        text = f"{name}: mass and centre of mass are not given, balance is not looked at."
    elif moment > 0:
        text = (
            f"{name}: the centre of mass lies behind the hinge line, {moment * 1e6:.0f} g mm. A "
            "surface that is heavy behind its hinge line can be driven by the bending of what "
            "carries it. Balance it to zero, or show otherwise that it is safe."
        )
    else:
        text = (
            f"{name}: the centre of mass lies on or ahead of the hinge line, {moment * 1e6:.0f} "
            "g mm. That is static balance of the whole; along the span it may still be "
            "unbalanced, most at the tips."
        )
    return Caution("mass balance", text, _PRACTICE)


def _play(name: str, play: float, kind: str | None) -> Caution:
    if np.isnan(play):
        return Caution("free play", f"{name}: play is not given, and not looked at.", _PRACTICE)
    measured = f"{name}: {math.degrees(play):.2f} deg of play in all"
    if kind is None:
        return Caution(
            "free play",
            f"{measured}. No published limit was asked for; remove what can be felt.",
            _PRACTICE,
        )
    limit = FREE_PLAY_LIMITS[kind]
    against = "within" if play <= limit else "more than"
    return Caution(
        "free play",
        f"{measured}, {against} the {math.degrees(limit):.3g} deg for this kind ({kind}).",
        _LIMITS,
    )


def _stiffness(name: str, compliance: float) -> Caution:
    if np.isnan(compliance):
        text = f"{name}: the give of the linkage is not given, stiffness is not looked at."
    elif compliance <= 0:
        text = f"{name}: the linkage is taken as rigid, which no linkage is."
    else:
        text = (
            f"{name}: the linkage yields {math.degrees(compliance):.2f} deg for each N m, a "
            f"stiffness of {1 / compliance:.2f} N m/rad. The stiffer the better; a servo without "
            "power holds only by its gears."
        )
    return Caution("stiffness", text, _PRACTICE)


def cautioned(report: Report, aircraft: Aircraft) -> Report:
    """Put the cautions about flutter of every surface into a report.

    Parameters
    ----------
    report : Report
        With the dive speed of the aircraft among its values, and the play of every run.
    aircraft : Aircraft
        As it was described.

    Returns
    -------
    Report
        First that this is no flutter analysis, then surface by surface: mass balance, free
        play and stiffness; then the dive speed. What is alike is said once.
    """
    play = {run.name: _play_of(run.cases[0]) for run in report.runs if run.cases}
    found: dict[Caution, None] = {NO_ANALYSIS: None}
    for run in aircraft.runs:
        for number, linkage in enumerate(run.linkages, start=1):
            surface = linkage.surface
            several = f", surface {number}" if len(run.linkages) > 1 else ""
            made = cautions(
                name=f"{run.name}{several}",
                mass_moment=_si(surface, "mass") * _si(surface, "mass_centre"),
                free_play=play.get(run.name, math.nan),
                compliance=_si(linkage, "compliance"),
                kind=_kind(surface),
            )
            found.update(dict.fromkeys(made))
    dive = report.whole["dive speed"].value
    if dive is not None:
        found[_speed("the aircraft", dive)] = None
    return report._replace(cautions=tuple(found))


def _play_of(case: CaseReport) -> float:
    margin = case.margin("free play")
    play = margin.required.value if margin.applies else None
    return math.nan if play is None else math.radians(play)


def _kind(surface: ControlSurface) -> str | None:
    whole = surface.hinge_position is not None
    return surface.published_play_limit or ("all-moving surface" if whole else None)


def _si(owner: Linkage | ControlSurface, name: str) -> float:
    held = stated(owner, name)
    return math.nan if held is None else float(held.si)
