"""Combinations of parts, evaluated and ranked, with the reason why each loser lost."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.choosing.part_limits import Said, fitting
from linkcalc.choosing.placards import placard_speeds
from linkcalc.choosing.question import doubts_of
from linkcalc.choosing.ranking import Objective, rank
from linkcalc.choosing.selection import Constraint, select, why_empty
from linkcalc.choosing.sure_margins import sure_margins
from linkcalc.results import MODES
from linkcalc.study.combinations import combinations

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.choosing.part_axes import PartAxis
    from linkcalc.choosing.part_limits import Limits
    from linkcalc.choosing.ranking import Ranking
    from linkcalc.model import Aircraft
    from linkcalc.study.combinations import Combinations
    from linkcalc.study.running import Workers

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Asked", "Choice", "ranked"]


class Choice(NamedTuple):
    """Which parts to order for some runs.

    Attributes
    ----------
    aircraft, catalogue : str
        Their names.
    runs : tuple of str
        The runs that get the parts, all the same ones.
    axes : tuple of PartAxis
        What was chosen from.
    places : ndarray of int, shape (axis, candidate)
        Which value of each axis a candidate has.
    ranking : Ranking
        Every candidate: its place, or the reason why it is out.
    combinations : Combinations
        Least margins of every combination.
    total, passing : int
        Candidates, and those that will do; more than the ranking has where there were too many
        to keep.
    out : dict of str to int
        By the reason, candidates that are out and were not kept.
    note : str
        That there were too many to keep; empty where there were not.
    empty : str
        Why nothing is left; empty where something is.
    doubts : dict of str to tuple of str
        By the name of a servo, the rules that its datasheet breaks: a figure that is too good to
        be true wins every comparison.
    """

    aircraft: str
    catalogue: str
    runs: tuple[str, ...]
    axes: tuple[PartAxis, ...]
    places: Whole
    ranking: Ranking
    combinations: Combinations
    total: int
    passing: int
    out: dict[str, int]
    note: str
    empty: str
    doubts: dict[str, tuple[str, ...]]

    def __repr__(self) -> str:
        """How many will do; all of it would fill a book."""
        will = f"{self.passing} of {self.total} candidates will do"
        return f"<Choice {self.aircraft!r} from {self.catalogue!r}, {will}>"

    def values(self, candidate: int) -> dict[str, str]:
        """Return what a candidate consists of.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        dict of str to str
            By axis, the value in words.
        """
        return {
            each.kind: each.axis.labels[place]
            for each, place in zip(self.axes, self.places[:, candidate], strict=True)
        }

    def least_margins(self, candidate: int) -> dict[str, float]:
        """Return the least margin of each mode in the runs that are chosen for.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        dict of str to float
            nan where one could not be computed, infinite where the mode does not apply.
        """
        found = self.combinations.found.by_mode[tuple(self.places[:, candidate])]
        return dict(zip(MODES, found.tolist(), strict=True))

    @property
    def unsound(self) -> dict[str, str]:
        """What could not be tried because no aircraft could have it, and why."""
        return {label: words for each in self.axes for label, words in each.unsound}

    def doubtful(self, candidate: int) -> bool:
        """Tell whether a candidate has a servo whose datasheet is doubted.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        bool
            Whether `doubts` has its servo.
        """
        return self.values(candidate).get("servo") in self.doubts

    def described(self, candidate: int) -> Aircraft:
        """Return the aircraft with a candidate.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        Aircraft
            As a file could describe it.
        """
        return self.combinations.space.described(self.places[:, candidate].tolist())


class Asked(NamedTuple):
    """What is asked of combinations of parts.

    Attributes
    ----------
    aircraft : Aircraft
        That they are for.
    catalogue : str
        Its name.
    own : sequence of int
        Runs that get them.
    by : sequence of str
        What they are ranked by.
    limits : Limits
        What is asked of the parts.
    workers, progress, keep, confidence
        As `linkcalc.choose` takes them.
    """

    aircraft: Aircraft
    catalogue: str
    own: Sequence[int]
    by: Sequence[str]
    limits: Limits
    workers: Workers | None
    progress: Callable[[int, int], None] | None
    keep: str | os.PathLike[str]
    confidence: float | None = None


def ranked(
    asked: Asked, axes: tuple[PartAxis, ...], wanted: NDArray[np.bool_] | None = None
) -> Choice:
    """Evaluate combinations of parts and rank them.

    Parameters
    ----------
    asked : Asked
        What is asked of them.
    axes : tuple of PartAxis
        What is chosen from.
    wanted : ndarray of bool, shape (axis, ...), optional
        Which of the combinations are candidates; all that fit on one another when left out.

    Returns
    -------
    Choice
        Every candidate with its place, or the reason why it is out.
    """
    fits = fitting(axes) if wanted is None else wanted
    candidates = np.stack(np.nonzero(fits))
    constraints = asked.limits.constraints(axes, candidates)
    found = combinations(
        asked.aircraft,
        [each.axis for each in axes],
        runs=asked.own,
        wanted=fits,
        modes=True,
        workers=asked.workers,
        progress=asked.progress,
        keep=asked.keep,
    )
    constraints += _margins_hold(found, candidates, asked.own)
    margins = found.margin[tuple(candidates)]
    if asked.confidence is not None:
        kept = select(constraints, candidates.shape[1:]).kept
        margins = _surely(asked, found, candidates, kept)
        words = f"every margin zero or more with {asked.confidence:.0%} confidence"
        constraints.append(Constraint(words, margins >= 0, margins))
    kept = select(constraints, candidates.shape[1:]).kept
    tried = _Tried(axes, candidates, found, kept, margins)
    objectives = [tried.objective(name, asked) for name in asked.by]
    ranking = rank(_names(axes, candidates), objectives, constraints)
    return Choice(
        aircraft=asked.aircraft.name,
        catalogue=asked.catalogue,
        runs=tuple(asked.aircraft.runs[index].name for index in asked.own),
        axes=axes,
        places=candidates,
        ranking=ranking,
        combinations=found,
        total=candidates.shape[1],
        passing=sum(each.place is not None for each in ranking.standings),
        out={},
        note="",
        empty=why_empty(constraints, ranking.selection),
        doubts=doubts_of(axes),
    )


class _Tried(NamedTuple):
    """Candidates that were evaluated, and which of them will do."""

    axes: tuple[PartAxis, ...]
    candidates: Whole
    found: Combinations
    kept: NDArray[np.bool_]
    margins: Floats

    def objective(self, name: str, asked: Asked) -> Objective:
        """Return what a ranking goes by."""
        if name == "margin":
            # A supply is solved to some 1e-13: what differs by less is alike.
            words = "margin" if asked.confidence is None else f"margin {asked.confidence:.0%}"
            return Objective(words, np.round(self.margins, 9), largest=True)
        if name == "placard":
            passing = np.zeros(self.found.margin.shape, dtype=np.bool_)
            passing[tuple(self.candidates)] = self.kept
            speeds = placard_speeds(self.found.space, passing, asked.own, workers=asked.workers)
            rounded = np.round(speeds[tuple(self.candidates)] * 3.6, 6)
            return Objective("placard", rounded, "km/h", largest=True)
        if name == "mass":
            return Objective("mass", self._sum("mass") * 1e3, "g")
        if name == "price":
            return Objective("price", self._sum("price"), asked.limits.currency)
        return Objective("balance", self._sum("moment") * 1e3, "g·m")

    def _sum(self, figure: str) -> Floats:
        """Add a figure up over all that a candidate consists of."""
        pairs = zip(self.axes, self.candidates, strict=True)
        each = [getattr(axis, figure)[place] for axis, place in pairs]
        return np.asarray(np.sum(each, axis=0))


def _surely(
    asked: Asked, found: Combinations, candidates: Whole, kept: NDArray[np.bool_]
) -> Floats:
    """Return the margins that candidates which will do keep with the confidence that is asked for."""
    passing = np.zeros(found.margin.shape, dtype=np.bool_)
    passing[tuple(candidates)] = kept
    sure = sure_margins(
        found.space,
        passing,
        asked.own,
        asked.confidence or 0.0,
        workers=asked.workers,
        progress=asked.progress,
    )
    return np.asarray(sure[tuple(candidates)])


def _names(axes: Sequence[PartAxis], candidates: Whole) -> list[str]:
    """Return what every candidate consists of, each name once."""
    each = [
        [axis.axis.labels[place] for place in places.tolist()]
        for axis, places in zip(axes, candidates, strict=True)
    ]
    return [", ".join(labels) for labels in zip(*each, strict=True)]


def _margins_hold(found: Combinations, candidates: Whole, own: Sequence[int]) -> list[Constraint]:
    """Return what margins have to fulfil: those of the runs, and of others those that hold now."""

    def ended(index: int, *, beside: bool = False) -> str:
        told_of = found.ended(candidates[:, index].tolist(), beside=beside)
        return f"{told_of.mode} of {told_of.run!r} in {told_of.case!r}"

    count = candidates.shape[1]
    made = []
    if not found.complete:
        tried = found.worked[tuple(candidates)]
        made.append(Constraint("tried before the interruption", tried))
    mine = found.found.margin[tuple(candidates)]
    details = Said(count, ended)
    made.append(Constraint("every margin zero or more", mine >= 0, mine, details=details))
    if len(own) < len(found.space.aircraft.runs):
        rest = found.found.beside[tuple(candidates)]
        held = "every margin of other runs that holds now zero or more"
        beside = Said(count, lambda index: ended(index, beside=True))
        made.append(Constraint(held, rest >= 0, rest, details=beside))
    return made
