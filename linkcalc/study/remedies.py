"""What would help: for every shortfall of an aircraft, the least single changes that clear it."""

from __future__ import annotations

import difflib
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.checking import check, settled
from linkcalc.errors import Fault, InputFaults, shown
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.results import MODES
from linkcalc.study.changes import changes
from linkcalc.study.least import least
from linkcalc.study.trials import Trials, resolution

if TYPE_CHECKING:
    import os
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.study.changes import Change

    Floats = NDArray[np.float64]

__all__ = ["Effect", "Futile", "Place", "Remedies", "Remedy", "Shortfall", "remedies"]


class Place(NamedTuple):
    """One margin of an aircraft.

    Attributes
    ----------
    run, case, mode : str
        By name.
    """

    run: str
    case: str
    mode: str


class Effect(NamedTuple):
    """What a change does to something.

    Attributes
    ----------
    before, after : float or None
        None where there is no value, or the mode does not apply.
    """

    before: float | None
    after: float | None


class Remedy(NamedTuple):
    """The least change of one kind that clears a shortfall.

    Attributes
    ----------
    kind, place : str
        What is changed, and where.
    before, after : str
        As one would write it in an aircraft file.
    factor : float
        What stands there afterwards over what stands there now [-].
    margin : float or None
        Of the shortfall, afterwards; None where the mode no longer applies [-].
    rate : Effect
        Least rate of the surface under load, in the case [deg/s].
    travel : Effect
        Margin of travel of the run in the case [-].
    resolution : Effect
        Surface angle per servo angle at neutral [-].
    losses : tuple of (Place, Effect)
        Every other margin that turns negative or loses more than a third, those that
        turn negative first.
    short : tuple of int
        Margins of the whole aircraft that are short, before and after.
    """

    kind: str
    place: str
    before: str
    after: str
    factor: float
    margin: float | None
    rate: Effect
    travel: Effect
    resolution: Effect
    losses: tuple[tuple[Place, Effect], ...]
    short: tuple[int, int]


class Futile(NamedTuple):
    """A kind of change that does not clear a shortfall.

    Attributes
    ----------
    kind, place : str
        What was changed, and where.
    before : str
        What stands there now.
    bound : str
        How far it was sought.
    best : str
        Where the margin was largest; empty where no change made it larger.
    margin : float or None
        There [-].
    reason : str
        Why the search ended before the bound; empty where it did not.
    """

    kind: str
    place: str
    before: str
    bound: str
    best: str
    margin: float | None
    reason: str


class Shortfall(NamedTuple):
    """A margin that applies and is below zero.

    Attributes
    ----------
    place : Place
        Which.
    margin : float
        As it is now [-].
    remedies : tuple of Remedy
        What clears it.
    futile : tuple of Futile
        What does not.
    """

    place: Place
    margin: float
    remedies: tuple[Remedy, ...]
    futile: tuple[Futile, ...]


class Remedies(NamedTuple):
    """The answer to what would help.

    Attributes
    ----------
    aircraft : str
        Its name.
    shortfalls : tuple of Shortfall
        Of the runs and cases asked for, by run and case.
    unknown : tuple of (Place, str)
        Margins that cannot be computed, and why. They are no pass, but there is nothing
        to search from.
    """

    aircraft: str
    shortfalls: tuple[Shortfall, ...]
    unknown: tuple[tuple[Place, str], ...]

    def _repr_html_(self) -> str:
        """Every remedy of every shortfall, for a notebook."""
        from linkcalc.notebook import margin_words, table  # noqa: PLC0415 - a search never asks

        rows = []
        for short in self.shortfalls:
            where = f"{short.place.mode} of {short.place.run} in {short.place.case}"
            now = margin_words(short.margin)
            rows += [
                [
                    where,
                    now,
                    f"{each.place}: {each.before} to {each.after}",
                    margin_words(each.margin),
                ]
                for each in short.remedies
            ] or [[where, now, "no single change clears it", ""]]
        rows += [[f"{place.mode} of {place.run} in {place.case}", "not computed", reason, ""]
                 for place, reason in self.unknown]  # fmt: skip
        heads = ["shortfall", "margin now", "change", "margin then"]
        return table(f"Remedies for {self.aircraft}", heads, rows)


def remedies(
    aircraft: Aircraft | str | os.PathLike[str],
    *,
    run: str | None = None,
    case: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Remedies:
    """Find what would clear every shortfall of an aircraft.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    run, case : str, optional
        Only this control run, only this case.
    progress : callable, optional
        Is told how many shortfalls are done, and of how many.

    Returns
    -------
    Remedies
        For each kind of change the least one that clears the shortfall, with what it
        costs elsewhere.

    Raises
    ------
    InputFaults
        The description cannot be used, or there is no such run or case.

    Notes
    -----
    Every change is put into the aircraft and the whole aircraft evaluated again, so that
    a lead that is made thicker also helps whoever shares it. The search goes outward from
    what stands there to a bound of its kind, then closes in between the last size that
    fails and the first that clears. A twentieth less of the change that is told does not
    clear the shortfall, nor does the next smaller standard size; a window that clears
    between two sizes of the outward search may be missed. A change that is less than
    a millionth is told as a millionth.
    """
    described = aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft)
    described = settled(described)
    runs = _chosen("run", run, [item.name for item in described.runs])
    cases = _chosen("case", case, [item.name for item in described.cases])
    trials = Trials(described)
    places = [
        (mode, number, index)
        for index in runs
        for number in cases
        for mode in range(len(MODES))
        if trials.base.margins[mode, number, index] < 0
    ]
    found = []
    for done, place in enumerate(places):
        if progress is not None:
            progress(done, len(places))
        found.append(_shortfall(trials, place))
    if progress is not None:
        progress(len(places), len(places))
    return Remedies(described.name, tuple(found), tuple(_unknown(trials, runs, cases)))


def _chosen(what: str, name: str | None, known: list[str]) -> list[int]:
    if name is None:
        return list(range(len(known)))
    if name in known:
        return [known.index(name)]
    close = difflib.get_close_matches(name[:120], known, n=1, cutoff=0.0)
    expected = f"the name of a {'control run' if what == 'run' else 'flight case'}"
    raise InputFaults([Fault("", what, shown(name), expected, f"Did you mean {close[0]!r}?")])


def _shortfall(trials: Trials, place: tuple[int, int, int]) -> Shortfall:
    mode, case, run = place
    now = float(trials.base.margins[place])
    helps: list[Remedy] = []
    futile: list[Futile] = []
    for change in changes(trials.aircraft, trials.base.inputs, run, case):
        if MODES[mode] not in change.modes:
            continue
        tried: dict[float, float] = {}

        def margin(
            factor: float, change: Change = change, tried: dict[float, float] = tried
        ) -> float:
            outcome = trials.outcome(change, factor)
            tried[factor] = math.nan if isinstance(outcome, str) else float(outcome.margins[place])
            return tried[factor]

        factor = least(margin, now, change.sizes, stepped=change.stepped, tidy=change.tidy)
        if factor is None:
            futile.append(_futile(trials, change, now, tried))
        else:
            helps.append(_remedy(trials, place, change, factor))
    return Shortfall(_named(trials.aircraft, place), now, tuple(helps), tuple(futile))


def _named(aircraft: Aircraft, place: tuple[int, int, int]) -> Place:
    mode, case, run = place
    return Place(aircraft.runs[run].name, aircraft.cases[case].name, MODES[mode])


def _futile(trials: Trials, change: Change, now: float, tried: dict[float, float]) -> Futile:
    known = {factor: value for factor, value in tried.items() if value > now}
    best = max(known, key=known.__getitem__, default=None)
    outcome = trials.outcome(change, change.sizes[-1]) if change.sizes else ""
    return Futile(
        change.kind,
        change.place,
        change.told(1.0),
        change.told(change.sizes[-1]) if change.sizes else "",
        "" if best is None else change.told(best),
        None if best is None else known[best],
        outcome if isinstance(outcome, str) else "",
    )


def _remedy(trials: Trials, place: tuple[int, int, int], change: Change, factor: float) -> Remedy:
    _, case, run = place
    before, after = trials.base, trials.outcome(change, factor)
    if isinstance(after, str):
        raise TypeError(f"a change that clears is refused: {after}")  # `least` never returns one
    travel = MODES.index("travel")
    return Remedy(
        change.kind,
        change.place,
        change.told(1.0),
        change.told(factor),
        factor,
        _plain(after.margins[place]),
        Effect(*(_plain(math.degrees(item.rate[case, run])) for item in (before, after))),
        Effect(*(_plain(item.margins[travel, case, run]) for item in (before, after))),
        Effect(*(_plain(resolution(item.inputs, run)) for item in (before, after))),
        tuple(_losses(trials.aircraft, before.margins, after.margins)),
        (_count(before.margins), _count(after.margins)),
    )


def _plain(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _count(margins: Floats) -> int:
    return int(np.count_nonzero(~(margins >= 0)))


def _losses(aircraft: Aircraft, before: Floats, after: Floats) -> list[tuple[Place, Effect]]:
    """List what turns negative, then what loses more than a third."""
    turned = (before >= 0) & ~(after >= 0)
    known = np.where(np.isfinite(before), before, -np.inf)
    less = ~turned & (
        after < known - np.where(known > -np.inf, np.maximum(np.abs(known) / 3, 1e-6), 0.0)
    )
    return [
        (
            _named(aircraft, (mode, case, run)),
            Effect(_plain(before[mode, case, run]), _plain(after[mode, case, run])),
        )
        for which in (turned, less)
        for mode, case, run in np.argwhere(which).tolist()
    ]


def _unknown(trials: Trials, runs: list[int], cases: list[int]) -> list[tuple[Place, str]]:
    """List the margins that cannot be computed, with the reasons that a check gives."""
    missing = [
        (mode, case, run)
        for run in runs
        for case in cases
        for mode in range(len(MODES))
        if np.isnan(trials.base.margins[mode, case, run])
    ]
    if not missing:
        return []
    report = check(trials.aircraft)
    reasons = {
        (run.name, case.name, margin.mode): margin.reason
        for run in report.runs
        for case in run.cases
        for margin in case.margins
    }
    places = [_named(trials.aircraft, place) for place in missing]
    return [(place, reasons[place] or "it cannot be computed") for place in places]
