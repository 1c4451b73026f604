"""Which servo to order: every one of a catalogue in some runs, through the one evaluation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.catalogue.plausibility import doubts
from linkcalc.checking import settled
from linkcalc.errors import InputError, told
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.model.value_classes import given, replace, stated
from linkcalc.results import MODES
from linkcalc.study.candidates import candidates, put_in
from linkcalc.study.ranking import Objective, rank
from linkcalc.study.selection import Constraint, why_empty
from linkcalc.study.trials import Trials, margins_that_apply
from linkcalc.units import si

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import Catalogue, ServoPart
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.study.ranking import Ranking

    Floats = NDArray[np.float64]

__all__ = ["OBJECTIVES", "Choice", "choose", "margins_of_servos"]

OBJECTIVES = ("mass", "price", "margin")
"""What a ranking may go by."""

AT_ONCE = 64
"""Servos that are evaluated together: their arrays then fit in cache."""


class Choice(NamedTuple):
    """Which servo to order for some runs.

    Attributes
    ----------
    aircraft, catalogue : str
        Their names.
    runs : tuple of str
        The runs that get the servo, all the same one.
    indices : tuple of int
        Where these runs stand in the aircraft, and in `margins`.
    ranking : Ranking
        Every servo of the catalogue: its place, or the reason why it is out.
    margins : ndarray, shape (mode, servo, case, run)
        Every margin with every servo, modes as in `linkcalc.results.MODES`, servos as in the
        catalogue; infinite where a mode does not apply, nan where it cannot be computed.
    empty : str
        Why no servo is left; empty where one is.
    doubts : dict of str to tuple of str
        By the name of a servo, the rules that its datasheet breaks: a figure that is too good to
        be true wins every comparison.
    """

    aircraft: str
    catalogue: str
    runs: tuple[str, ...]
    indices: tuple[int, ...]
    ranking: Ranking
    margins: Floats
    empty: str
    doubts: dict[str, tuple[str, ...]]


def choose(
    aircraft: Aircraft | str | os.PathLike[str],
    catalogue: Catalogue,
    *,
    runs: str | Sequence[str] | None = None,
    by: Sequence[str] = OBJECTIVES,
    most_mass: object = None,
    most_price: float | None = None,
    bay: Sequence[object] | None = None,
    spline: str | None = None,
) -> Choice:
    """Choose a servo for one run, or the same servo for several, with all else as it is.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or its file.
    catalogue : Catalogue
        Every servo in it is tried.
    runs : str or sequence of str, optional
        The runs that get the servo; all of them when left out.
    by : sequence of str
        `OBJECTIVES` to rank by, the most important first. Price ranks only servos that have
        one.
    most_mass : quantity, optional
        Of one servo, such as ``"20 g"``.
    most_price : float, optional
        Of one servo, in the currency of the catalogue.
    bay : sequence of three quantities, optional
        Length, width and height that the case has to fit in, as it stands in the catalogue. A
        servo whose size is not given does not fit.
    spline : str, optional
        That the arm at hand fits on.

    Returns
    -------
    Choice
        Every servo with its place and margins, or the reason why it is out.

    Raises
    ------
    InputFaults
        The aircraft cannot be used.
    InputError
        No run of that name, an objective that is none, no servo in the catalogue.
    SolverError
        A solver fails with a servo of the catalogue that works with those of the file.

    Notes
    -----
    A servo is out if a margin of its own runs is short or not computed in any case, or if it
    makes a margin of another run short, through the supply that they share, that is zero or
    more with the servos as they are. Everything is evaluated as in a check, with the servos as
    an axis of their own: loads and linkages are worked out once for a block of servos. Margins
    that differ by less than 1e-9 are ranked as alike.

    Examples
    --------
    >>> import linkcalc
    >>> found = choose(
    ...     "examples/sandpiper.toml",
    ...     linkcalc.read_catalogue("examples/catalogue/parts.toml"),
    ...     runs="rudder",
    ...     most_price=15,
    ... )
    >>> found.ranking.best.place, found.empty
    (1, '')
    """
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    own = _indices(described, runs)
    _refuse_unknown(by)
    if not catalogue.servos:
        raise InputError("catalogue", told("no servos"), "at least one servo", "Add some.")
    trials = Trials(described)
    now, found = trials.base.margins, _margins(trials, catalogue.servos, own, AT_ONCE)
    limits = _Limits(most_mass, most_price, bay, spline, catalogue.currency or "")
    constraints = [
        *limits.constraints(catalogue.servos),
        *_margins_hold(described, found, now, own),
    ]
    objectives = [_objective(name, catalogue, found[:, :, :, own]) for name in by]
    ranking = rank([servo.name for servo in catalogue.servos], objectives, constraints)
    names = tuple(described.runs[index].name for index in own)
    empty = why_empty(constraints, ranking.selection)
    doubtful: dict[str, tuple[str, ...]] = {}
    for doubt in doubts(catalogue.servos):
        doubtful[doubt.part] = (*doubtful.get(doubt.part, ()), doubt.rule)
    return Choice(
        described.name, catalogue.name, names, tuple(own), ranking, found, empty, doubtful
    )


def margins_of_servos(
    aircraft: Aircraft, servos: Sequence[ServoPart], runs: Sequence[int], *, block: int = AT_ONCE
) -> Floats:
    """Return every margin of an aircraft with each of some servos in some runs.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft.
    servos : sequence of ServoPart
        Each is put into all of the runs in its turn.
    runs : sequence of int
        Indices of the runs.
    block : int
        Servos that are evaluated together; it bounds the memory.

    Returns
    -------
    ndarray, shape (mode, servo, case, run)
        Infinite where a mode does not apply, nan where it cannot be computed.

    Raises
    ------
    InputFaults
        The aircraft cannot be used.
    SolverError
        As `choose`.
    """
    return _margins(Trials(aircraft), servos, runs, block)


def _margins(
    trials: Trials, servos: Sequence[ServoPart], runs: Sequence[int], block: int
) -> Floats:
    aircraft = trials.aircraft
    inputs = trials.working(trials.base.inputs)
    cases, count = len(inputs.cases.density), len(aircraft.runs)
    found = np.empty((len(MODES), len(servos), cases, count))
    if _felt_elsewhere(aircraft, inputs, runs):
        for place, part in enumerate(servos):
            found[:, place] = trials.margins(_with_servo(aircraft, part, runs))
        return found
    used = both(factors(aircraft.factors), 4)
    tried = candidates(aircraft, servos, runs)
    for travel in np.unique(tried.travel):
        reaching = _with_travel(inputs, runs, travel)
        linkages = prepare(reaching)
        alike = np.flatnonzero(tried.travel == travel)
        for start in range(0, alike.size, block):
            chosen = alike[start : start + block]
            with_servos = put_in(reaching, tried, chosen, runs)
            answer = evaluate(with_servos, used, linkages)
            found[:, chosen] = margins_that_apply(answer, with_servos)
    return found


def _felt_elsewhere(aircraft: Aircraft, inputs: Inputs, runs: Sequence[int]) -> bool:
    """Tell whether a servo changes more than its own figures: what its pulses, cables or leads do."""
    own = [aircraft.runs[index] for index in runs]
    staged = any(linkage.stages for run in own for linkage in run.linkages)
    return inputs.supply.warming is not None or staged or any(run.pulses for run in own)


def _with_servo(aircraft: Aircraft, part: ServoPart, runs: Sequence[int]) -> Aircraft:
    """Describe an aircraft with a servo in some runs."""
    taken, servo = {run.servo.name for run in aircraft.runs}, part.servo()
    while servo.name in taken:
        servo = replace(servo, name=f"{servo.name[:100]}'")
    changed = [
        replace(run, servo=servo) if index in runs else run
        for index, run in enumerate(aircraft.runs)
    ]
    return replace(aircraft, runs=changed)


def _with_travel(inputs: Inputs, runs: Sequence[int], travel: float) -> Inputs:
    """Return the inputs with the travel of servos that are compared, and room for their axis."""
    spans = inputs.runs.travel.copy()
    spans[list(runs)] = travel
    speeds = inputs.cases.speed[np.newaxis]
    return inputs._replace(
        runs=inputs.runs._replace(travel=spans), cases=inputs.cases._replace(speed=speeds)
    )


def _indices(aircraft: Aircraft, runs: str | Sequence[str] | None) -> list[int]:
    """Return the indices of the runs that get the servo."""
    known = [run.name for run in aircraft.runs]
    wanted = known if runs is None else [runs] if isinstance(runs, str) else list(runs)
    for name in wanted:
        if name not in known:
            words = ", ".join(repr(each) for each in known[:8])
            raise InputError("runs", name, f"names of control runs: {words}", "Check the name.")
    if not wanted:
        raise InputError("runs", told("none"), "at least one control run", "Name one.")
    return sorted({known.index(name) for name in wanted})


def _refuse_unknown(by: Sequence[str]) -> None:
    if isinstance(by, str) or not by or not set(by) <= set(OBJECTIVES):
        words = ", ".join(repr(each) for each in OBJECTIVES)
        raise InputError(
            "by", by, f"a list of one or more of {words}", "Name what counts most first."
        )


def _objective(name: str, catalogue: Catalogue, margins: Floats) -> Objective:
    """Return what a ranking goes by."""
    servos = catalogue.servos
    if name == "mass":
        return Objective("mass", np.array([stated(each, "mass").si for each in servos]) * 1e3, "g")
    if name == "price":
        prices = [math.nan if each.price is None else each.price for each in servos]
        return Objective("price", np.array(prices), catalogue.currency or "")
    # A supply is solved to some 1e-13: what differs by less is alike, in whatever order it came.
    return Objective("margin", np.round(_least(margins), 9), largest=True)


def _least(margins: Floats) -> Floats:
    """Return the least margin with every servo; nan where one is not computed."""
    return np.asarray(np.moveaxis(margins, 1, 0).reshape(margins.shape[1], -1).min(axis=1))


def _margins_hold(
    aircraft: Aircraft, found: Floats, now: Floats, own: Sequence[int]
) -> list[Constraint]:
    """Return what margins have to fulfil: those of the runs, and those that hold now."""
    others = [index for index in range(len(aircraft.runs)) if index not in own]
    mine = found[:, :, :, own]
    least = _least(mine)
    details = [_worst(aircraft, found[:, at], own) for at in range(found.shape[1])]
    made = [Constraint("every margin zero or more", least >= 0, least, details=details)]
    if others:
        held = (now >= 0)[:, np.newaxis]
        rest = np.where(held, found, np.inf)[:, :, :, others]
        beside = [
            _worst(aircraft, np.where(held[:, 0], found[:, at], np.inf), others)
            for at in range(found.shape[1])
        ]
        name = "every margin of other runs that holds now zero or more"
        made.append(Constraint(name, _least(rest) >= 0, _least(rest), details=beside))
    return made


def _worst(aircraft: Aircraft, margins: Floats, runs: Sequence[int]) -> str:
    """Name mode, run and case of the least margin; one that is not computed is the least."""
    chosen = margins[:, :, runs]
    mode, case, run = np.unravel_index(
        np.argmin(np.where(np.isnan(chosen), -np.inf, chosen)), chosen.shape
    )
    words = f"{aircraft.runs[runs[int(run)]].name!r} in {aircraft.cases[int(case)].name!r}"
    return f"{MODES[int(mode)]} of {words}"


class _Limits(NamedTuple):
    """What is asked of the part itself."""

    most_mass: object
    most_price: float | None
    bay: Sequence[object] | None
    spline: str | None
    currency: str

    def constraints(self, servos: Sequence[ServoPart]) -> list[Constraint]:
        """Return those that were asked for."""
        made = []
        if self.most_mass is not None:
            most = si("most_mass", self.most_mass, "mass")
            masses = np.array([stated(each, "mass").si for each in servos])
            name = f"mass at most {most * 1e3:.4g} g"
            made.append(Constraint(name, masses <= most, masses * 1e3, "g"))
        if self.most_price is not None:
            prices = np.array([math.nan if each.price is None else each.price for each in servos])
            name = f"price at most {self.most_price:g} {self.currency}".rstrip()
            made.append(Constraint(name, prices <= self.most_price, prices, self.currency))
        if self.bay is not None:
            made.append(_fits(self.bay, servos))
        if self.spline is not None:
            same = np.array([each.spline == self.spline for each in servos])
            words = [f"its spline is {each.spline or 'not given'}" for each in servos]
            made.append(Constraint(f"of spline {self.spline}", same, details=words))
        return made


_SIDES = ("length", "width", "height")


def _fits(bay: Sequence[object], servos: Sequence[ServoPart]) -> Constraint:
    if isinstance(bay, str) or len(bay) != len(_SIDES):
        raise InputError(
            "bay",
            bay,
            "length, width and height such as ('24 mm', '13 mm', '30 mm')",
            "Give three.",
        )
    room = [si(f"bay[{at}]", side, "length") for at, side in enumerate(bay)]
    fits, words = [], []
    for each in servos:
        sides = [stated(each, side) for side in _SIDES]
        known = given(each, *_SIDES)
        fits.append(known and all(side.si <= most for side, most in zip(sides, room, strict=True)))
        words.append(" x ".join(side.text for side in sides) if known else "its size is not given")
    return Constraint("inside the bay", np.array(fits), details=words)
