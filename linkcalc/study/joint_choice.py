"""Parts for several runs at once, each its own: one supply feeds all, so they are chosen together."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import refuse_unknown_solvers, settled
from linkcalc.errors import InputError
from linkcalc.evaluation.factors import factors
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.model.aircraft import leads
from linkcalc.study.assembly import Assembly, Member
from linkcalc.study.best_first import best_set
from linkcalc.study.choice_question import axes_of, doubts_of, indices, refuse_unknown
from linkcalc.study.choosing import judged, judged_margins
from linkcalc.study.part_axes import KINDS_OF_AXES
from linkcalc.study.part_limits import Limits, fitting
from linkcalc.study.running import Crew, Workers
from linkcalc.study.selection import select, why_empty
from linkcalc.study.trials import Trials
from linkcalc.units import si as read_si

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import Catalogue
    from linkcalc.study.best_first import Best
    from linkcalc.study.part_axes import PartAxis

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["ADDITIVE", "JointChoice", "RunChoice", "choose_each"]

ADDITIVE = {
    "mass": ("mass", 1e3, "g"),
    "price": ("price", 1.0, ""),
    "balance": ("moment", 1e3, "g·m"),
}
"""What a set of parts may be the least of: figure, factor and unit."""

_TASK = 32  # sets that are evaluated together


class RunChoice(NamedTuple):
    """What one run gets.

    Attributes
    ----------
    run : str
        Its name.
    parts : dict of str to str
        By what is chosen, the part or the value; empty where no set was found.
    offered, left : int
        Candidates that there were, and that pass with nothing else on the supply.
    empty : str
        Why none is left; empty where one is.
    """

    run: str
    parts: dict[str, str]
    offered: int
    left: int
    empty: str


class JointChoice(NamedTuple):
    """Parts for several runs, each its own.

    Attributes
    ----------
    aircraft, catalogue : str
        Their names.
    by, unit : str
        What the set is the least of, and in what unit that is.
    runs : tuple of RunChoice
        What each gets.
    cost, bound : float
        What the set comes to, nan where none was found; and what no set that passes is
        less than, infinite where there is none.
    exact : bool
        Whether the search came to its end: the set is the best, or there is none.
    tried : int
        Sets, and beginnings of sets, that were evaluated.
    margin : float
        Least margin of these runs with the set; nan where there is none.
    described : Aircraft or None
        The aircraft with the set.
    doubts : dict of str to tuple of str
        By the name of a servo, the rules that its datasheet breaks.
    """

    aircraft: str
    catalogue: str
    by: str
    unit: str
    runs: tuple[RunChoice, ...]
    cost: float
    bound: float
    exact: bool
    tried: int
    margin: float
    described: Aircraft | None
    doubts: dict[str, tuple[str, ...]]


def choose_each(
    aircraft: Aircraft | str | os.PathLike[str],
    catalogue: Catalogue,
    *,
    runs: Sequence[str] | None = None,
    over: Sequence[str] | Mapping[str, Sequence[Any] | None] = ("servo",),
    by: str = "mass",
    same_servo: bool = False,
    most_mass: object = None,
    most_price: float | None = None,
    bay: Sequence[object] | None = None,
    spline: str | None = None,
    voltage: object = None,
    total_mass: object = None,
    total_price: float | None = None,
    most_tries: int = 20_000,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> JointChoice:
    """Choose parts for several runs, for each its own, so that all of them pass together.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or its file.
    catalogue : Catalogue
        What may be bought.
    runs : sequence of str, optional
        The runs that get parts; all of them when left out.
    over : sequence of str, or mapping of str to sequence
        What is chosen for each: kinds of parts, as for `choose`; fields are no parts.
    by : str
        What is to be least over all runs: mass, price or balance.
    same_servo : bool
        Whether all runs get the same servo; their holes, rods and wires may still differ.
    most_mass, most_price, bay, spline, voltage : object, optional
        Of each servo, as for `choose`.
    total_mass, total_price : object, optional
        Of all parts together, as for `choose`.
    most_tries : int
        Sets, and beginnings of sets, that are evaluated before the search settles for
        what it can find, and says what it may have missed.
    workers : Workers, optional
        Processes or a cluster; this process alone by default. They change no digit.
    progress : callable, optional
        Is told how many sets were tried, and how many may be.

    Returns
    -------
    JointChoice
        The set that is the least of all that pass; where the search was cut short, one that
        passes and what no other can be less than.

    Raises
    ------
    InputFaults
        The aircraft cannot be used.
    InputError
        As `choose`; or two runs share what is chosen for them.
    SolverError
        A solver fails with a part of the catalogue that works with those of the file.

    Notes
    -----
    Runs get their parts one after another, the cheapest sets first (`best_set`). A beginning
    is evaluated with the servos of all runs that have no parts yet dead: they draw nothing.
    More current elsewhere never raises a voltage, and no margin rises as a voltage falls, so
    a beginning that is short stays short, and the whole of it is left out at once. This does
    not hold with a switching regulator at a lead, which draws more as its voltage falls: there
    nothing is left out before all runs have their parts. A set has to fulfil what `choose` asks of a candidate.

    Examples
    --------
    >>> import linkcalc
    >>> found = choose_each(
    ...     "examples/sandpiper.toml",
    ...     linkcalc.read_catalogue("examples/catalogue/parts.toml"),
    ...     runs=["elevator", "rudder"],
    ...     by="price",
    ... )
    >>> found.exact, sorted(each.run for each in found.runs)
    (True, ['elevator', 'rudder'])
    """
    if most_tries < 1:
        raise InputError(
            "most_tries", most_tries, "one or more", "Allow at least one try, or leave it out."
        )
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    refuse_unknown_solvers(described)
    own = indices(described, runs)
    refuse_unknown([by], tuple(ADDITIVE), described, own)
    limits = Limits(
        most_mass, most_price, bay, spline, voltage, None, None, catalogue.currency or ""
    )
    chosen = [_RunParts.of(described, catalogue, index, over, limits) for index in own]
    totals = _totals(total_mass, total_price)
    with Crew(workers or Workers()) as crew:
        search = _Joint(described, chosen, crew, by, totals)
        best = search.best(same_servo=same_servo, most=most_tries, progress=progress)
        return search.answer(catalogue, best)


def _totals(mass: object, price: float | None) -> list[tuple[str, float]]:
    """Return limits on figures of all parts together."""
    made = [] if mass is None else [("mass", read_si("total_mass", mass, "mass"))]
    return made if price is None else [*made, ("price", price)]


class _RunParts(NamedTuple):
    """A run with the candidates that what is asked of parts leaves."""

    at: int
    axes: tuple[PartAxis, ...]
    candidates: Whole  # (axis, candidate)
    offered: int
    empty: str

    @classmethod
    def of(
        cls,
        aircraft: Aircraft,
        catalogue: Catalogue,
        index: int,
        over: Sequence[str] | Mapping[str, Sequence[Any] | None],
        limits: Limits,
    ) -> _RunParts:
        for kind in [over] if isinstance(over, str) else over:
            if kind not in KINDS_OF_AXES:
                words = ", ".join(repr(each) for each in KINDS_OF_AXES)
                raise InputError("over", kind, f"some of {words}", "Sweep over fields instead.")
        axes = axes_of(over, aircraft, catalogue, [index])
        every = np.stack(np.nonzero(fitting(axes)))
        constraints = limits.constraints(axes, every)
        selection = select(constraints, every.shape[1:])
        left = every[:, selection.kept]
        used = [np.unique(places) for places in left]
        less = tuple(axis.taken(kept.tolist()) for axis, kept in zip(axes, used, strict=True))
        found = [np.searchsorted(kept, places) for kept, places in zip(used, left, strict=True)]
        empty = why_empty(constraints, selection)
        return cls(index, less, np.stack(found), every.shape[1], empty)

    def figure(self, name: str) -> Floats:
        """Return a figure of every candidate."""
        each = [
            getattr(axis, name)[place]
            for axis, place in zip(self.axes, self.candidates, strict=True)
        ]
        return np.asarray(np.sum(each, axis=0))

    def named(self, candidate: int) -> dict[str, str]:
        """Return what a candidate consists of."""
        return {
            axis.kind: axis.axis.labels[place]
            for axis, place in zip(self.axes, self.candidates[:, candidate].tolist(), strict=True)
        }

    def servo(self, candidate: int) -> str:
        """Return the servo of a candidate; empty where none is chosen."""
        return self.named(candidate).get("servo", "")

    def only(self, kept: NDArray[np.bool_]) -> _RunParts:
        """Return the run with some of its candidates."""
        return self._replace(candidates=self.candidates[:, kept])


class _Joint:
    """Evaluates sets, and beginnings of them."""

    def __init__(
        self,
        aircraft: Aircraft,
        runs: Sequence[_RunParts],
        crew: Crew,
        by: str,
        totals: Sequence[tuple[str, float]],
    ) -> None:
        self.aircraft, self.crew, self.by, self.totals = aircraft, crew, by, totals
        self.trials = Trials(aircraft)
        self.judged = judged(self.trials.base.margins, [each.at for each in runs])
        self.runs = [self._in_order(each) for each in runs]
        self.alone: list[Whole] = []
        self.tried = 0
        if not all(each.candidates.size for each in self.runs):
            return
        members = [
            Member(each.at, [axis.axis for axis in each.axes], each.candidates)
            for each in self.runs
        ]
        self.assembly = Assembly(aircraft, members)
        self.prunes = _falls_with_load(aircraft)
        work = partial(judged_margins, used=factors(aircraft.factors), judged=self.judged)
        self.work = work

    def _in_order(self, run: _RunParts) -> _RunParts:
        """Put the candidates in order of cost and name; leave out those whose cost is not known."""
        costs = run.figure(ADDITIVE[self.by][0])
        names = [", ".join(run.named(at).values()) for at in range(costs.size)]
        order = sorted(
            np.flatnonzero(~np.isnan(costs)).tolist(), key=lambda at: (costs[at], names[at])
        )
        empty = run.empty
        if costs.size and not order:
            empty = f"The {self.by} of no candidate is known."
        return run._replace(candidates=run.candidates[:, order], empty=empty)

    def _passing(self, sets: Sequence[Sequence[int]]) -> list[bool]:
        """Tell which sets have every margin that counts at zero or more; -1 stands for dead servos."""
        tasks = [(self.trials.working(self.assembly.inputs(block)),) for block in _blocks(sets)]
        self.tried += len(sets)
        found = self.crew.each(self.work, tasks)
        return [
            bool(good)
            for each in found
            for good in np.atleast_1d((each.margin >= 0) & (each.beside >= 0))
        ]

    def best(
        self, *, same_servo: bool, most: int, progress: Callable[[int, int], None] | None
    ) -> Best | None:
        """Return the best set, in places among the candidates that pass alone."""
        if not all(each.candidates.size for each in self.runs):
            return None
        self.alone = [self._alone(place) for place in range(len(self.runs))]
        options = self._leagues(same_servo=same_servo)
        name, *_ = ADDITIVE[self.by]
        costs = [run.figure(name) for run in self.runs]
        leagues = [
            [cost[option] for cost, option in zip(costs, league, strict=True)] for league in options
        ]
        self.options = options

        def holds(league: int, sets: list[tuple[int, ...]]) -> list[bool]:
            return self._hold([self._candidates(league, each) for each in sets])

        return best_set(leagues, holds, most=most, progress=progress)

    def _alone(self, place: int) -> NDArray[np.intp]:
        """Return the candidates of a run that pass with all others dead."""
        count = self.runs[place].candidates.shape[1]
        if not self.prunes:
            return np.arange(count)
        sets = [[-1] * len(self.runs) for _ in range(count)]
        for candidate, each in enumerate(sets):
            each[place] = candidate
        return np.flatnonzero(self._passing(sets))

    def _leagues(self, *, same_servo: bool) -> list[list[Whole]]:
        """Return the options of every run: all of them, or those of one servo."""
        if not same_servo:
            return [self.alone]
        servos = [
            np.array([run.servo(at) for at in alone.tolist()], dtype=object)
            for run, alone in zip(self.runs, self.alone, strict=True)
        ]
        names = sorted(set.intersection(*(set(each.tolist()) for each in servos)))
        return [
            [alone[each == name] for alone, each in zip(self.alone, servos, strict=True)]
            for name in names
        ]

    def _candidates(self, league: int, places: Sequence[int]) -> list[int]:
        """Return the candidate of every run; -1 for those that have none yet."""
        options = self.options[league]
        made = [int(options[run][place]) for run, place in enumerate(places)]
        return [*made, *[-1] * (len(self.runs) - len(made))]

    def _hold(self, sets: list[list[int]]) -> list[bool]:
        """Tell which sets pass, and which beginnings may still become a set that does."""
        good = [self._within(each) for each in sets]
        asked = [
            index
            for index, each in enumerate(sets)
            if good[index] and (self.prunes or each[-1] >= 0)
        ]
        for index, passes in zip(asked, self._passing([sets[i] for i in asked]), strict=True):
            good[index] = passes
        return good

    def _within(self, chosen: Sequence[int]) -> bool:
        """Tell whether a set keeps within the limits on all parts together."""
        for name, most in self.totals:
            pairs = zip(self.runs, chosen, self.alone, strict=True)
            each = [
                float(figures[at]) if at >= 0 else float(figures[left].min())
                for run, at, left in pairs
                for figures in [run.figure(name)]
            ]
            if not math.fsum(each) <= most:
                return False
        return True

    def answer(self, catalogue: Catalogue, best: Best | None) -> JointChoice:
        """Return what was found, in words and quantities."""
        figure, factor, unit = ADDITIVE[self.by]
        chosen: list[int] | None = None
        if best is not None and best.chosen is not None:
            chosen = self._candidates(best.league, best.chosen)
        made = None if chosen is None else self.assembly.described(chosen)
        cost = math.nan
        if chosen is not None:
            cost = math.fsum(
                float(run.figure(figure)[at]) for run, at in zip(self.runs, chosen, strict=True)
            )
        every = doubts_of([axis for run in self.runs for axis in run.axes])
        return JointChoice(
            self.aircraft.name,
            catalogue.name,
            self.by,
            unit if self.by != "price" else catalogue.currency or "",
            tuple(self._told(place, chosen) for place in range(len(self.runs))),
            cost * factor,
            math.inf if best is None else best.bound * factor,
            best is None or best.exact,
            self.tried,
            math.nan if made is None else self._margin(made),
            made,
            {name: tuple(dict.fromkeys(rules)) for name, rules in every.items()},
        )

    def _margin(self, made: Aircraft) -> float:
        """Check the set as a file would be checked, and return its least margin."""
        margins = self.trials.margins(made)
        own = margins[..., self.judged.own]
        if not ((own >= 0).all() and (margins[self.judged.held] >= 0).all()):
            raise RuntimeError("a set that passed put together is short when described whole")
        return float(own.min())

    def _told(self, place: int, chosen: list[int] | None) -> RunChoice:
        run = self.runs[place]
        left = len(self.alone[place]) if self.alone else run.candidates.shape[1]
        empty = run.empty
        if not empty and not left:
            count = run.candidates.shape[1]
            empty = f"None of {count} candidates passes, even with nothing else on the supply."
        parts = {} if chosen is None else run.named(chosen[place])
        return RunChoice(self.aircraft.runs[run.at].name, parts, run.offered, left, empty)


def _blocks(sets: Sequence[Sequence[int]]) -> list[Sequence[Sequence[int]]]:
    return [sets[start : start + _TASK] for start in range(0, len(sets), _TASK)]


def _falls_with_load(aircraft: Aircraft) -> bool:
    """Tell whether more current elsewhere can only lower margins."""
    regulators = [lead.regulator for lead in leads(aircraft) if lead.regulator is not None]
    return all(each.kind != "switching" for each in regulators)
