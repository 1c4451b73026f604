"""Parts for several runs at once, each its own: one supply feeds all, so they are chosen together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.checking import refuse_unknown_solvers, settled
from linkcalc.choosing.joint_search import ADDITIVE, DIGITS, JointSearch, Question
from linkcalc.choosing.part_limits import Limits, bays_of
from linkcalc.choosing.question import doubts_of, indices, refuse_unknown
from linkcalc.choosing.run_parts import RunParts
from linkcalc.errors import InputError, InputFaults
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.study.running import Crew, Workers
from linkcalc.units import si as read_si

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Mapping, Sequence

    from linkcalc.catalogue import Catalogue
    from linkcalc.choosing.best_first import Front, Member

__all__ = ["OBJECTIVES_OF_SETS", "JointChoice", "JointSet", "RunChoice", "choose_each"]

OBJECTIVES_OF_SETS = (*ADDITIVE, "margin")
"""What sets of parts may be compared by."""


class RunChoice(NamedTuple):
    """What one run gets.

    Attributes
    ----------
    run : str
        Its name.
    parts : dict of str to str
        By what is chosen, the part or the value; empty where no set was found.
    offered, left : int
        Candidates that there were, and that pass with nothing else on the supply; all that are not
        known to be out where it was interrupted before.
    empty : str
        Why none is left; empty where one is.
    out : dict of str to int
        By the reason, candidates that were left out before anything was evaluated.
    unsound : dict of str to str
        What is no candidate because no aircraft could have it, and why.
    """

    run: str
    parts: dict[str, str]
    offered: int
    left: int
    empty: str
    out: dict[str, int]
    unsound: dict[str, str]


class JointSet(NamedTuple):
    """A set of parts that no other set beats.

    Attributes
    ----------
    values : tuple of float
        By objective.
    parts : tuple of dict of str to str
        What each run gets, as in `RunChoice`.
    """

    values: tuple[float, ...]
    parts: tuple[dict[str, str], ...]


class JointChoice(NamedTuple):
    """Parts for several runs, each its own.

    Attributes
    ----------
    aircraft, catalogue : str
        Their names.
    by, unit : str
        What the set is the best by, the first objective, and in what unit that is.
    runs : tuple of RunChoice
        What each gets.
    cost, bound : float
        What the set comes to by that, nan where none was found; and what no set that passes is
        better than, infinite where there is none.
    exact : bool
        Whether this is known: the set is the best, or there is none.
    tried : int
        Different sets, and beginnings of sets, whose margins were asked for.
    margin : float
        Least margin of these runs with the set; nan where there is none.
    described : Aircraft or None
        The aircraft with the set.
    doubts : dict of str to tuple of str
        By the name of a servo, the rules that its datasheet breaks.
    objectives, units : tuple of str
        What sets are compared by, the most important first, and units of its values.
    front : tuple of JointSet
        The Pareto front, the set in front: sets that no other one beats in every objective; of
        those that are alike in all of them one. Empty where the set is not known to be
        the best.
    front_bound : float
        Every set that is missing from the front comes to this at least by the first objective,
        or to a margin of this at most; nan where none is missing.
    complete : bool
        False where it was interrupted.
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
    objectives: tuple[str, ...]
    units: tuple[str, ...]
    front: tuple[JointSet, ...]
    front_bound: float
    complete: bool

    def __repr__(self) -> str:
        """What the set comes to; all of it would fill a book."""
        found = "no set" if self.described is None else f"{self.by} {self.cost:.4g} {self.unit}"
        return f"<JointChoice {self.aircraft!r} from {self.catalogue!r}, {found.strip()}>"


def choose_each(
    aircraft: Aircraft | str | os.PathLike[str],
    catalogue: Catalogue,
    *,
    runs: Sequence[str] | None = None,
    over: Sequence[str] | Mapping[str, Sequence[Any] | None] = ("servo",),
    by: str | Sequence[str] = "mass",
    same_servo: bool = False,
    most_mass: object = None,
    most_price: float | None = None,
    bay: Sequence[object] | Mapping[str, Sequence[object]] | None = None,
    spline: str | None = None,
    voltage: object = None,
    undoubted: bool = False,
    total_mass: object = None,
    total_price: float | None = None,
    most_tries: int = 20_000,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
    keep: str | os.PathLike[str] = "",
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
    by : str or sequence of str
        `OBJECTIVES_OF_SETS`, the most important first: mass, price and balance of all runs
        together, to be least, and the least margin, to be greatest. Of several, the
        Pareto front is told.
    same_servo : bool
        Whether all runs get the same servo; their holes, rods and wires may still differ.
    most_mass, most_price, bay, spline, voltage, undoubted : object, optional
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
    keep : str or path
        File that evaluated sets are kept in, and taken from when the same is asked again.

    Returns
    -------
    JointChoice
        The best set of all that pass, and those that no other one beats; where the search was
        cut short or interrupted, one that passes and what no other can be better than.

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
    Runs get their parts one after another, the best sets first (`front_of_sets`). A beginning
    is evaluated with the servos of all runs that have no parts yet dead: they draw nothing.
    More current elsewhere never raises a voltage, and no margin rises as a voltage falls, so
    a beginning that is short stays short, the whole of it is left out at once, and its margin
    is the most that any of its sets can have. This does not hold with a switching regulator at
    a lead, which draws more as its voltage falls, or one whose heat is checked: there
    nothing is left out before all runs have their parts. A set has to fulfil what `choose`
    asks of a candidate. Sums are compared in 1e-9 of their unit, and margins to 1e-9.

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
    objectives = (by,) if isinstance(by, str) else tuple(dict.fromkeys(by))
    refuse_unknown(objectives, OBJECTIVES_OF_SETS, described, own)
    bays = {index: bays_of(bay, described, [index]) for index in own}
    limits = Limits(
        most_mass, most_price, (), spline, voltage, None, None, catalogue.currency or "", undoubted
    )
    totals = _totals(total_mass, total_price)
    question = Question(objectives, same_servo, totals, most_tries, progress, keep)

    def search(crew: Crew, *, sound: bool) -> JointSearch:
        offered = [
            RunParts.of(described, catalogue, at, over, limits._replace(bays=bays[at]), sound=sound)
            for at in own
        ]
        return JointSearch(described, offered, crew, question)

    with Crew(workers or Workers()) as crew:
        try:
            made = search(crew, sound=False)
        except InputFaults:  # a part that no aircraft could have, or something else
            made = search(crew, sound=True)
        return _Answer(made, catalogue).of(made.front())


def _totals(mass: object, price: float | None) -> list[tuple[str, float]]:
    """Return limits on figures of all parts together."""
    made = [] if mass is None else [("mass", read_si("total_mass", mass, "mass"))]
    return made if price is None else [*made, ("price", price)]


class _Answer(NamedTuple):
    """Says what a search has found, in words and quantities."""

    search: JointSearch
    catalogue: Catalogue

    def of(self, found: Front) -> JointChoice:
        search, by = self.search, self.search.question.by
        front = [self._set(each) for each in found.members]
        made: Aircraft | None = None
        if found.members:
            made = search.assembly.described(search.candidates(found.members[0]))
        bound = self._shown(found.bound, by[0])
        best = front[0].values[0] if front else math.nan
        every = doubts_of([axis for run in search.runs for axis in run.axes])
        return JointChoice(
            aircraft=search.aircraft.name,
            catalogue=self.catalogue.name,
            by=by[0],
            unit=self._unit(by[0]),
            runs=tuple(self._told(place, front) for place in range(len(search.runs))),
            cost=best,
            bound=best if front and found.proven else bound,
            exact=found.proven,
            tried=search.tried,
            margin=math.nan if made is None else search.checked_margin(made),
            described=made,
            doubts={name: tuple(dict.fromkeys(rules)) for name, rules in every.items()},
            objectives=by,
            units=tuple(map(self._unit, by)),
            front=tuple(front) if found.proven else (),
            front_bound=math.nan if found.whole else bound,
            complete=not found.interrupted,
        )

    def _unit(self, objective: str) -> str:
        if objective == "price":
            return self.catalogue.currency or ""
        return ADDITIVE[objective][2] if objective in ADDITIVE else ""

    def _shown(self, cost: float, objective: str) -> float:
        """Return what a search has counted as it is shown."""
        return cost / 10.0**DIGITS if objective in ADDITIVE else -cost

    def _set(self, member: Member) -> JointSet:
        search = self.search
        pairs = zip(search.runs, search.candidates(member), strict=True)
        shown = map(self._shown, member.costs, search.question.by)
        return JointSet(tuple(shown), tuple(run.named(at) for run, at in pairs))

    def _told(self, place: int, front: list[JointSet]) -> RunChoice:
        search, run = self.search, self.search.runs[place]
        left, empty = len(search.alone[place]), run.empty
        if not empty and not left:
            count = run.candidates.shape[1]
            empty = f"None of {count} candidates passes, even with nothing else on the supply."
        return RunChoice(
            run=search.aircraft.runs[run.at].name,
            parts=front[0].parts[place] if front else {},
            offered=run.offered,
            left=left,
            empty=empty,
            out=run.out,
            unsound=dict(run.unsound),
        )
