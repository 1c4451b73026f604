"""Sets of parts, one for each run, evaluated together: which pass, and with what margin."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.choosing.assembly import Assembly, RunOfSet
from linkcalc.choosing.best_first import Front, Member, front_of_sets, least_costs
from linkcalc.evaluation.factors import factors
from linkcalc.model.aircraft import leads
from linkcalc.model.value_classes import given
from linkcalc.study.combinations import judged, judged_margins
from linkcalc.study.keeping import KeptFigures
from linkcalc.study.trials import Trials

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.choosing.run_parts import RunParts
    from linkcalc.model import Aircraft
    from linkcalc.study.running import Crew

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["ADDITIVE", "DIGITS", "JointSearch", "Question"]

ADDITIVE = {
    "mass": ("mass", 1e3, "g"),
    "price": ("price", 1.0, ""),
    "balance": ("moment", 1e3, "g·m"),
}
"""What a set of parts comes to: figure, factor and unit."""

DIGITS = 9
"""Decimals that are compared: a supply is solved to some 1e-13, and sums of floats differ in the last digit."""

_TASK = 32  # sets that are evaluated together
_TASKS = 32  # of these that are handed out together, and kept when they are done
_DEAD = -1  # stands for a run whose servos draw nothing


class Question(NamedTuple):
    """What is asked of sets.

    Attributes
    ----------
    by : tuple of str
        Objectives, the most important first.
    same_servo : bool
        Whether all runs get the same servo.
    totals : sequence of tuple of str and float
        Figures of all parts together, and their most.
    most : int
        Sets, and beginnings of sets, that are tried before the search settles.
    progress : callable or None
        Is told how many were tried, and how many may be.
    keep : str or path
        File that evaluated sets are kept in; empty for none.
    """

    by: tuple[str, ...]
    same_servo: bool
    totals: Sequence[tuple[str, float]]
    most: int
    progress: Callable[[int, int], None] | None
    keep: str | os.PathLike[str]


class JointSearch:
    """Looks for sets of parts that pass, one candidate for each run.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    runs : sequence of RunParts
        Runs with their candidates.
    crew : Crew
        Who works.
    question : Question
        What is asked of sets.

    Attributes
    ----------
    runs : list of RunParts
        With candidates in order of cost and name.
    alone : list of ndarray of int
        Of each run, those that pass with all servos of the others dead.
    tried : int
        Different sets, and beginnings of sets, whose margins were asked for.

    Raises
    ------
    InputError
        Two runs share what is chosen for them.
    InputFaults
        A candidate is no aircraft that can be evaluated, or the file is of another question.
    """

    def __init__(
        self, aircraft: Aircraft, runs: Sequence[RunParts], crew: Crew, question: Question
    ) -> None:
        self.aircraft, self.question, self._crew = aircraft, question, crew
        self.trials = Trials(aircraft)
        self.judged = judged(self.trials.base.margins, [each.at for each in runs])
        self._additive = [name for name in question.by if name in ADDITIVE]
        self.runs = [each.in_order(self._costs(each), " or ".join(self._additive)) for each in runs]
        self.alone: list[Whole] = [np.arange(each.candidates.shape[1]) for each in self.runs]
        self._best_alone = [math.inf] * len(self.runs)  # no margin of a set is greater
        self._asked: set[tuple[int, ...]] = set()
        self.possible = all(each.size for each in self.alone)
        if not self.possible:
            return
        members = [
            RunOfSet(each.at, [axis.axis for axis in each.axes], each.candidates)
            for each in self.runs
        ]
        self.assembly = Assembly(aircraft, members)
        self._prunes = _falls_with_load(aircraft)
        used = factors(aircraft.factors)
        self._work = partial(judged_margins, used=used, judged=self.judged)
        on = (self.assembly.numbers, self.judged, used)
        self._found = KeptFigures((len(self.runs), 2), question.keep, on)

    @property
    def tried(self) -> int:
        """Different sets, and beginnings of sets, whose margins were asked for."""
        return len(self._asked)

    def _costs(self, run: RunParts) -> Floats:
        """Return what the candidates of a run cost, as whole numbers, shape (candidate, objective).

        Sums of these are exact, in whatever order.
        """
        each = [ADDITIVE[name] for name in self._additive]
        columns = [run.figure(figure) * factor for figure, factor, _ in each]
        table = np.array(columns).reshape(len(columns), run.candidates.shape[1])
        return np.round(table.T * 10.0**DIGITS)

    def front(self) -> Front:
        """Return the sets that no other one beats, in places among the candidates that pass alone.

        Returns
        -------
        Front
            Costs are whole numbers, of units of 1e-9; an interruption keeps what was found.
        """
        if not self.possible:
            return Front((), math.inf, proven=True, tried=0, interrupted=False)
        margin_at = self.question.by.index("margin") if "margin" in self.question.by else None
        ahead = sum(each.size for each in self.alone) if self._prunes else 0
        try:
            for place in range(len(self.runs)):
                self.alone[place] = self._alone(place, ahead)
            return front_of_sets(
                self._leagues(),
                self._judge,
                most=self.question.most,
                margin_at=margin_at,
                progress=lambda done, end: self._tell(ahead + done, ahead + end),
            )
        except KeyboardInterrupt:  # before the search, which keeps what it has found
            bound = least_costs(self._leagues(), margin_at)
            return Front((), bound, proven=False, tried=0, interrupted=True)
        finally:
            self._found.save()

    def _tell(self, done: int, end: int) -> None:
        if self.question.progress:
            self.question.progress(done, end)

    def margins(self, sets: Sequence[tuple[int, ...]]) -> list[tuple[float, float]]:
        """Return the least margins of sets, of which only those not known are evaluated.

        Parameters
        ----------
        sets : sequence of tuple of int
            The candidate of every run; -1 stands for one whose servos are dead.

        Returns
        -------
        list of tuple of float
            Of the runs that are chosen for, and of what counts of the others; nan where one
            could not be computed, infinite where nothing counts.
        """
        new = [each for each in dict.fromkeys(sets) if each not in self._found.known]
        self._evaluate(new)
        self._asked.update(sets)
        return [(known[0], known[1]) for known in map(self._found.known.__getitem__, sets)]

    def _evaluate(self, new: list[tuple[int, ...]]) -> None:
        """Evaluate sets, and keep what was found."""
        blocks = [new[start : start + _TASK] for start in range(0, len(new), _TASK)]
        tasks = [(self.trials.working(self.assembly.inputs(block)),) for block in blocks]
        for block, each in zip(blocks, self._crew.each(self._work, tasks), strict=True):
            shape = (len(block),)
            pairs = zip(
                np.broadcast_to(each.margin, shape).tolist(),
                np.broadcast_to(each.beside, shape).tolist(),
                strict=True,
            )
            self._found.put(block, list(pairs))

    def _alone(self, place: int, end: int) -> Whole:
        """Return the candidates of a run that pass with all others dead, and keep their best margin."""
        every = self.alone[place]
        if not self._prunes:
            return every
        ahead, behind = (_DEAD,) * place, (_DEAD,) * (len(self.runs) - place - 1)
        found: list[tuple[float, float]] = []
        for start in range(0, every.size, _TASK * _TASKS):
            some = every[start : start + _TASK * _TASKS].tolist()
            found += self.margins([(*ahead, at, *behind) for at in some])
            self._tell(len(self._asked), end + self.question.most)
        good = [margin >= 0 and beside >= 0 for margin, beside in found]
        kept = [margin for (margin, _), holds in zip(found, good, strict=True) if holds]
        self._best_alone[place] = max(kept, default=math.inf)
        return every[good]

    def _leagues(self) -> list[list[Floats]]:
        """Return what the options of every run cost: all of them, or those of one servo."""
        self._options = [self.alone]
        if self.question.same_servo:
            servos = [
                np.array([run.named(at).get("servo", "") for at in alone.tolist()], dtype=object)
                for run, alone in zip(self.runs, self.alone, strict=True)
            ]
            names = sorted(set.intersection(*(set(each.tolist()) for each in servos)))
            self._options = [
                [alone[each == name] for alone, each in zip(self.alone, servos, strict=True)]
                for name in names
            ]
        self._limits = [
            (most, figures, [float(min(each[left], default=math.inf)) for each, left in pairs])
            for name, most in self.question.totals
            for figures in [[run.figure(name) for run in self.runs]]
            for pairs in [list(zip(figures, self.alone, strict=True))]
        ]
        costs = [self._costs(run) for run in self.runs]
        return [
            [each[option] for each, option in zip(costs, options, strict=True)]
            for options in self._options
        ]

    def candidates(self, member: Member) -> tuple[int, ...]:
        """Return the candidate of every run.

        Parameters
        ----------
        member : Member
            A set of the front.

        Returns
        -------
        tuple of int
            By run, as `RunParts` counts them.
        """
        return self._whole(member.league, member.chosen)

    def _whole(self, league: int, places: Sequence[int]) -> tuple[int, ...]:
        options = self._options[league]
        made = [int(options[run][place]) for run, place in enumerate(places)]
        return (*made, *[_DEAD] * (len(self.runs) - len(made)))

    def _judge(self, league: int, beginnings: list[tuple[int, ...]]) -> list[float]:
        """Return what margin each may have at most; nan where it can become no set that passes."""
        sets = [self._whole(league, each) for each in beginnings]
        within = [self._within(each) for each in sets]
        asked = [
            each
            for each, good in zip(sets, within, strict=True)
            if good and (self._prunes or each[-1] != _DEAD)
        ]
        found = dict(zip(asked, self.margins(asked), strict=True))
        made = []
        for each, good in zip(sets, within, strict=True):
            margin, beside = found.get(each, (math.inf, math.inf))
            holds = good and margin >= 0 and beside >= 0
            later = [best for at, best in zip(each, self._best_alone, strict=True) if at == _DEAD]
            made.append(round(min(margin, *later, math.inf), DIGITS) if holds else math.nan)
        return made

    def _within(self, chosen: Sequence[int]) -> bool:
        """Tell whether a set keeps within the limits on all parts together."""
        for most, figures, least in self._limits:
            trios = zip(figures, chosen, least, strict=True)
            each = [float(figure[at]) if at >= 0 else low for figure, at, low in trios]
            if not math.fsum(each) <= most:
                return False
        return True

    def checked_margin(self, made: Aircraft) -> float:
        """Check a set as a file would be checked.

        Parameters
        ----------
        made : Aircraft
            With the set.

        Returns
        -------
        float
            Least margin of the runs that are chosen for.

        Raises
        ------
        RuntimeError
            It does not pass.
        """
        margins = self.trials.margins(made)
        own = margins[..., self.judged.own]
        if not ((own >= 0).all() and (margins[self.judged.held] >= 0).all()):
            raise RuntimeError("a set that passed put together is short when described whole")
        return float(own.min())


def _falls_with_load(aircraft: Aircraft) -> bool:
    """Tell whether more current elsewhere can only lower margins."""
    regulators = [lead.regulator for lead in leads(aircraft) if lead.regulator is not None]
    return all(each.kind != "switching" and not given(each, "heat_rating") for each in regulators)
