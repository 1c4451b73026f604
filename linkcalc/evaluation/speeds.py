"""How fast it may be flown: torque limit speed, freeze speed and placard speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, cast

import numpy as np

from linkcalc.evaluation.axes import picked, varies_by_case
from linkcalc.evaluation.evaluate import (
    Asked,
    Start,
    begin,
    burden,
    evaluate,
    weakened,
)
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.linkage import LaterLinkages, Position, Reach
from linkcalc.evaluation.loads import Still
from linkcalc.evaluation.margins import Margins
from linkcalc.evaluation.rates import least_rate
from linkcalc.evaluation.roots import first_root
from linkcalc.evaluation.search import Look
from linkcalc.evaluation.supply import of_single_runs
from linkcalc.physics import servo

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = ["GREATEST_MACH", "SPEED_OF_SOUND", "Limit", "Speeds", "find_placard", "find_speeds"]

GREATEST_MACH = 0.7
"""Speeds are sought up to this Mach number."""

SPEED_OF_SOUND = 340.294
"""At sea level, 1976 standard atmosphere [m/s]."""

_SCAN = 20
_SCANNED = (10, 12, 15)  # of these so many first: few servos last longer
_MANY = 32  # cases from which it pays to look whether faster ones are asked for
_GLANCE = Look(nodes=13, zooms=1, details=False)  # for the scan
_TRIAL = Look(nodes=13, zooms=8, details=False)
_AT_ONCE = 9_000  # servos that are looked at together
_FEWEST = 64  # of many that are looked at together: short arrays are summed in another order
_FEW = 512  # trials, up to which one look at all modes that any of them asks for is quicker
_GLANCED = 1500  # trials of the scan at once
_LINEAR = ("voltage", "speed", "divergence")  # modes whose margin itself is nearly linear in q
_PUSHED = {"buckling", "joint"}  # modes of rods
_TORQUE, _FREEZE, _EVERY = range(3)  # kinds of limit; the last takes all modes together
_HELD = -1.0  # excess of what is not asked for
_LOST = 1e6  # excess of what cannot be computed


class Limit(NamedTuple):
    """A speed up to which something holds, from just above zero.

    Attributes
    ----------
    speed : ndarray, shape (case, run)
        nan where there is none [m/s].
    at_zero : ndarray of bool, shape (case, run)
        Whether it holds just above zero.
    from_speed : ndarray, shape (case, run)
        Where it does not: the least speed at which it does, nan if at none [m/s].
    mode : ndarray of int, shape (case, run)
        What ends it, an index into `Margins`; -1 where nothing does.
    """

    speed: Floats
    at_zero: NDArray[np.bool_]
    from_speed: Floats
    mode: Whole


class Speeds(NamedTuple):
    """Limits of speed.

    Attributes
    ----------
    torque_limit, freeze, placard : Limit
        With the torque factor, with a torque factor of 1, and of all modes together.
    greatest : float
        Up to where they were sought [m/s].
    """

    torque_limit: Limit
    freeze: Limit
    placard: Limit
    greatest: float


def find_speeds(inputs: Inputs, factors: Factors, linkages: Linkages) -> Speeds:
    """Find the limits of speed of every run in every case.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, at the speeds of its cases, without axes in front of these:
        `axes.flattened` makes cases of variants.
    factors : Factors
        For the verdict, plain numbers.
    linkages : Linkages
        Made from the inputs.

    Returns
    -------
    Speeds
        At the density, incidence and load factor of each case, with the deflections that
        it asks for; the loads of all runs and the supply are computed anew at each speed.

    Notes
    -----
    A scan over 20 speeds, closer together where they are low, finds the first that fails;
    the root between it and the one before is found on the excess of demand over supply of
    the modes that fail there, which is nearly linear in the dynamic pressure. An interval of failure that lies between
    two speeds of the scan, at most some twenty metres a second apart, is not seen.
    """
    torque, freeze, placard = _limits(inputs, factors, linkages, (_TORQUE, _FREEZE, _EVERY))
    return Speeds(torque, freeze, placard, _GREATEST)


def find_placard(
    inputs: Inputs, factors: Factors, linkages: Linkages, like: Limit | None = None
) -> Limit:
    """Find the placard speed of every run in every case, and no other limit.

    Parameters
    ----------
    inputs : Inputs
        As `find_speeds` takes it.
    factors : Factors
        For the verdict, plain numbers.
    linkages : Linkages
        Made from the inputs.
    like : Limit, optional
        Of an aircraft that these are variants of, each with all its cases in a row: where to
        look first.

    Returns
    -------
    Limit
        As `find_speeds` has it.

    Notes
    -----
    Variants are first looked at just below the limits of their like. Where all holds there, and
    no load is larger at slower speeds of the scan, all holds at these too: more load draws more
    current, and in a network of resistances that leaves less voltage to everybody. The others,
    and all with a regulator in the tree or a linkage that gives way, are scanned as ever.
    """
    return _limits(inputs, factors, linkages, (_EVERY,), like)[0]


_GREATEST = GREATEST_MACH * SPEED_OF_SOUND


def _limits(
    inputs: Inputs,
    factors: Factors,
    linkages: Linkages,
    kinds: tuple[int, ...],
    like: Limit | None = None,
) -> list[Limit]:
    """Return the limits of some kinds."""
    scan = _GREATEST * (np.arange(1, _SCAN + 1) / _SCAN) ** 2
    scan[0] = 1e-3 * _GREATEST  # just above zero
    finder = _Finder(inputs, factors, linkages, kinds)
    table, lost, begun = finder.scan(scan, like)
    at_zero = ~lost[:, 0]
    refine = lost.any(1) & at_zero
    upper = np.where(refine, lost.argmax(1), 1)
    kind, case, run = pairs = np.nonzero(refine)  # of each limit that is sought
    last = upper[pairs]
    beyond = np.minimum(last + 1, table.shape[2] - 1)
    places = last - 1, last, np.where(last > begun[case] + 1, last - 2, beyond)
    heights = [table[kind, :, place, case, run].T for place in places]
    failing, which = heights[1] > 0, np.array(kinds)[kind]
    some = np.flatnonzero(failing.any(1) | ~failing.any())  # no other mode ends anything
    squared, modes = first_root(
        lambda trial, busy: finder.excess(
            trial, _Trials(which[busy], case[busy], run[busy], failing[:, busy])
        )[some],
        [scan[place] ** 2 for place in places],
        [height[some] for height in heights],
    )
    speed, mode = np.full(at_zero.shape, np.nan), np.full(at_zero.shape, -1)
    speed[pairs], mode[pairs] = np.sqrt(squared), some[modes]
    begins = np.where(at_zero | lost.all(1), np.nan, scan[np.argmax(~lost, axis=1)])
    return [Limit(*each) for each in zip(speed, at_zero, begins, mode, strict=True)]


class _Trials(NamedTuple):
    """Runs that are tried in cases: what kind of limit is sought, and which modes fail beyond it."""

    kind: Whole
    case: Whole
    run: Whole
    modes: NDArray[np.bool_]

    def some(self, which: Whole) -> _Trials:
        """Return some of them."""
        kind, case, run = (each[which] for each in self[:3])
        return _Trials(kind, case, run, self.modes[:, which])

    def alike(self) -> list[Whole]:
        """Return which of them ask for the same modes; all of them where they are few."""
        every = np.arange(len(self.run))
        if len(every) < _FEW:
            return [every]
        code = (1 << np.arange(len(self.modes))) @ self.modes
        return [np.flatnonzero(code == each) for each in np.unique(code)]


class _Finder:
    """Computes excesses of demand over supply at trial speeds.

    The kinds are torque, torque with a torque factor of 1, and the worst of all modes.
    A trial is a case of its own: one of the aircraft's cases at another flight speed.
    """

    def __init__(
        self, inputs: Inputs, factors: Factors, linkages: Linkages, kinds: tuple[int, ...]
    ) -> None:
        quiet = dict.fromkeys(("seek_latch_up", "seek_details"), np.float64(0.0))
        supply = inputs.supply._replace(fields={**inputs.supply.fields, **quiet})
        nothing: Any = ()  # chains alone are made ready again
        geometry = inputs.geometry if inputs.chains else nothing
        self.inputs = inputs._replace(supply=supply, geometry=geometry)
        self.others = self.inputs._replace(cases=nothing)
        self.linkages, self.bases, self.kinds = linkages, (inputs.basis,), kinds
        stiff = not inputs.surfaces.compliance.any()
        self.stiff = begin(self.inputs, linkages, _TRIAL, self.bases) if stiff else None
        self.factors = both(factors, 3)
        self.factors = Factors(*(value[:1] for value in self.factors))  # the verdict's alone
        self.varied = varies_by_case(inputs)
        # A linkage that gives way reaches less under load, and a regulator may go over to another
        # of several states: for these nothing is concluded from one speed about another.
        regulated = np.isfinite(inputs.supply.fields["regulated_voltage"]).any()
        self.steady = self.stiff is not None and self.stiff.still is not None and not regulated
        self.torque = factors.torque

    def scan(self, speeds: Floats, like: Limit | None) -> tuple[Floats, Flags, Whole]:
        """Return the excess of every run in every case, shape (kind, mode, speed, case, run).

        And whether any mode fails, shape (kind, speed, case, run), and the first speed that each
        case was looked at. Slow ones first: once all runs of a case have failed, or come to hold,
        faster ones tell nothing new, and stand as lost.
        """
        cases, runs = self.inputs.cases.speed.shape
        plan = list(self.plan(speeds, like))
        kinds, modes, most = len(self.kinds), len(Margins._fields), max(each[2][0] for each in plan)
        table, begun = np.full((kinds, modes, most, cases, runs), _LOST), np.zeros(cases, np.intp)
        lost = np.ones((kinds, len(speeds), cases, runs), dtype=bool)

        def note(within: tuple[int, int], case: Whole) -> Flags:
            at = slice(*within)
            table[:, :, at, case], fails, sure = self.glance(speeds, within, case)
            lost[:, at, case] = fails
            return sure

        for some, start, stops in plan:
            left, first = some, start
            for stop in stops:
                if stop > table.shape[2]:  # few have to be looked at so fast
                    more = np.full((kinds, modes, stop - table.shape[2], cases, runs), _LOST)
                    table = np.concatenate((table, more), axis=2)
                at_once = max(1, _GLANCED // (stop - first))
                for place in range(0, left.size, at_once):
                    part = self.enough(left[place : place + at_once])
                    sure = note((first, stop), part)
                    if 0 < first == start:
                        begun[part[sure]], lost[:, :first, part[sure]] = first, False
                        if not sure.all():
                            note((0, first), self.enough(part[~sure]))
                seen = lost[:, :stop, left]
                left, first = left[~(seen != seen[:, :1]).any(1).all((0, 2))], stop
                if not left.size:
                    break
        return table, lost, begun

    def enough(self, which: Whole) -> Whole:
        """Return the same, some of them twice where they are the few that are left of many."""
        few = len(which) < _FEWEST and len(self.inputs.cases.speed) >= _MANY
        return np.resize(which, _FEWEST) if few else which

    def plan(self, speeds: Floats, like: Limit | None) -> Iterator[tuple[Whole, int, list[int]]]:
        """Yield cases, the first speed to look at in them, and where to stop one time after another."""
        cases, stops = len(self.inputs.cases.speed), [*_SCANNED, len(speeds)]
        if like is None or not self.steady:
            yield np.arange(cases), 0, stops if cases >= _MANY else stops[-1:]
            return
        for case, (speed, at_zero) in enumerate(zip(like.speed, like.at_zero, strict=True)):
            fails = np.where(at_zero, np.searchsorted(speeds, speed), 0)  # nan comes last
            first, stop = max(int(fails.min()) - 2, 0), min(int(fails.max()) + 1, len(speeds))
            later = [each for each in stops if each > stop]
            yield np.arange(case, cases, len(like.speed)), first, [stop, *later]

    def glance(
        self, speeds: Floats, within: tuple[int, int], case: Whole
    ) -> tuple[Floats, Flags, Flags]:
        """Return the excess of every run in some cases, and whether any mode fails, as `scan` does.

        And whether all is sure to hold at all speeds before, shape (case,).
        """
        runs, (first, stop) = self.inputs.cases.speed.shape[-1], within
        index = np.tile(case, stop - first)
        trial = self.trial(index, np.repeat(speeds[first:stop], len(case)))
        linkages = self.linkages_of(trial, index)
        start = self.start(trial, linkages, index)
        found = evaluate(trial, self.factors, linkages, self.bases, look=_GLANCE, start=start)
        made = np.full((len(self.kinds), len(found.margins), len(index), runs), _HELD)
        for table, kind in zip(made, self.kinds, strict=True):
            if kind == _EVERY:
                every = [self.excess_of(trial, found, name) for name in Margins._fields]
                table[...] = np.stack(np.broadcast_arrays(*every))
            elif kind == _TORQUE:
                table[0] = _torque(found)
            else:
                table[0] = self.freeze(trial, found.governing.move[0])
        made = made.reshape(len(self.kinds), -1, stop - first, len(case), runs)
        fails = np.asarray((made > 0).any(1))
        sure = np.asarray(~fails[:, 0].any((0, 2)))
        if first and sure.any():
            sure[sure] = self.no_worse(speeds[:first], case[sure], found, np.flatnonzero(sure))
        return made, fails, sure

    def no_worse(self, speeds: Floats, case: Whole, above: Answer, where: Whole) -> Flags:
        """Tell in which cases what holds above holds at some slower speeds, shape (case,).

        Where no run bears more than above, none has less voltage, and no servo whose columns rise
        with the voltage less torque. With the voltage that there is above the rates have to be
        enough.
        """
        index = np.tile(case, len(speeds))
        trial = self.trial(index, np.repeat(speeds, len(case)))
        linkages, at = self.linkages_of(trial, index), np.tile(where, len(speeds))
        start = self.start(trial, linkages, index)
        borne = burden(trial, self.factors, linkages, self.bases, look=_GLANCE, start=start)
        here, there = borne.governing, above.governing
        rate = least_rate(borne.slowest, no_load=above.no_load[:, at], stall=above.stall[:, at])
        good = rate[0] >= trial.cases.wanted_rate * self.factors.speed[0]
        for name in ("move", "hold_most", "compression"):
            good &= getattr(here, name)[0] <= getattr(there, name)[0, at]
        columns = trial.servos.curves.stall_torque_slope, trial.servos.curves.no_load_speed_slope
        good &= (np.minimum(*columns).min((-2, -1)) >= 0)[..., None]
        good &= (here.joint_force <= there.joint_force[:, at])[0] | np.isinf(here.joint_rating[0])
        return np.asarray(good.reshape(len(speeds), len(case), -1).all((0, 2)))

    def excess(self, squared: Floats, trials: _Trials) -> Floats:
        """Return the excess of single runs, each in a case at a speed of its own, shape (mode, ...).

        Those that ask for the same modes together, in blocks, so that memory stays bounded.
        """
        made = np.full(trials.modes.shape, _HELD)
        at_once = max(1, _AT_ONCE // self.inputs.cases.speed.shape[-1])
        for which in trials.alike():
            for start in range(0, len(which), at_once):
                some = self.enough(which[start : start + at_once])
                made[:, some] = self.block(squared[some], trials.some(some))
        return np.where(trials.modes, made, _HELD)

    def block(self, squared: Floats, trials: _Trials) -> Floats:
        """Return the excess of a few single runs, shape (mode, ...)."""
        kind, case, run, modes = trials
        trial = self.trial(case, np.sqrt(squared))
        linkages = self.linkages_of(trial, case)
        any_asks = np.asarray(modes.any(1))
        asked = frozenset(name for name, one in zip(Margins._fields, any_asks, strict=True) if one)
        found = evaluate(
            trial,
            self.factors._replace(torque=np.where(kind == _FREEZE, 1.0, self.torque)[:, None]),
            linkages,
            self.bases,
            look=_TRIAL,
            start=self.start(trial, linkages, case, asked),
            asked=Asked(asked, run),
        )
        made, each = np.full(modes.shape, _HELD), np.arange(len(run))
        for name in asked:
            made[Margins._fields.index(name)] = self.excess_of(trial, found, name)[each, run]
        return made

    def excess_of(self, trial: Inputs, answer: Answer, name: str) -> Floats:
        """Return the excess of one mode, shape (..., case, run)."""
        mode = getattr(answer.margins, name)
        margin, idle = mode.margin[0], ~mode.applies[0]
        if name not in _LINEAR:
            return np.where(idle | (mode.required[0] == 0), _HELD, _demand(margin))
        if name == "speed":  # below stall too
            rate = answer.rate[0] / (trial.cases.wanted_rate * self.factors.speed[0]) - 1
            margin = np.where(np.isnan(margin), np.nan, rate)
        return np.where(idle, _HELD, np.where(np.isnan(margin), _LOST, -margin))

    def trial(self, case: Whole, flight_speed: Floats) -> Inputs:
        """Return the inputs with trials for cases; what the wash adds to V^2 is held."""
        cases = self.inputs.cases
        added = (cases.speed**2 - cases.flight_speed[:, None] ** 2)[case]
        taken = cases.repeated(case)
        taken["flight_speed"] = flight_speed
        taken["speed"] = np.sqrt(flight_speed[:, None] ** 2 + added)
        base = picked(self.others, (case,)) if self.varied else self.others
        return base._replace(cases=type(cases)(**taken))

    def linkages_of(self, trial: Inputs, case: Whole) -> Linkages:
        """Return the linkages of trials."""
        if not self.varied:
            return self.linkages
        later: Any = LaterLinkages(self.linkages, (case,), trial)
        return cast("Linkages", later)

    def start(
        self,
        trial: Inputs,
        linkages: Linkages,
        case: Whole,
        modes: frozenset[str] = frozenset(Margins._fields),
    ) -> Start:
        """Return where an evaluation of trials starts from; a stiff linkage does not feel the speed.

        What no mode asks for is left out.
        """
        held = self.stiff
        if held is None or held.still is None:
            return begin(trial, linkages, _TRIAL, self.bases)

        def of(nodes: Floats) -> Floats:
            return np.moveaxis(np.moveaxis(nodes, -1, 0).take(case, axis=-2), 0, -1)

        deflection, place = of(held.deflection), held.still.place
        unasked = np.broadcast_to(np.nan, deflection.shape)
        taken = Position(
            servo_angle=of(place.servo_angle) if trial.chains else unasked,
            deflection=deflection if place.deflection is held.deflection else of(place.deflection),
            slope=of(place.slope),
            rod_force=unasked if modes.isdisjoint(_PUSHED) else of(place.rod_force),
        )
        ends = (end[:, case] if end.shape[1] > 1 else end for end in held.reached)
        play = held.free_play if held.free_play.ndim == 1 else held.free_play[case]
        return Start(Reach(*ends), deflection, Still(taken, of(held.still.weight)), play)

    def freeze(self, trial: Inputs, move: Floats) -> Floats:
        """Return torque needed over torque at each run's own limit, less one, shape (trial, run)."""
        runs = move.shape[-1]
        row, own = np.divmod(np.arange(move.size), runs)
        each = trial._replace(cases=trial.cases._replace(live=trial.cases.live[row]))
        if self.varied:
            each = picked(trial, (row,))
        curves = weakened(each, self.factors)
        solved = of_single_runs(
            each, curves, move[row][None], np.ones(1), own, work=False, limit=True
        )
        voltage = solved.at_limit
        stall = servo.stall_torque(curves, voltage[..., self.inputs.servos.owner])[0]
        available = stall[np.arange(len(row)), self.inputs.servos.first[own]].reshape(-1, runs)
        lost = np.isnan(move) | ~(available > 0)
        excess = np.where(lost, _LOST, move / np.where(lost, 1.0, available) - 1)
        return np.where(move == 0, _HELD, excess)  # just above zero speed there may be no load


def _demand(margin: Floats) -> Floats:
    """Turn a margin into demand over supply less one: negative where it holds, nearly linear in q."""
    lost = np.isnan(margin)
    return np.where(lost, _LOST, 1 / np.maximum(np.where(lost, 0.0, margin) + 1, 1 / _LOST) - 1)


def _torque(answer: Answer) -> Floats:
    torque = answer.margins.torque
    return np.where(torque.required[0] == 0, _HELD, _demand(torque.margin[0]))
