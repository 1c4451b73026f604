"""Ranking: candidates in order, the front marked, and for every loser the reason why it lost."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.choosing.pareto import dominators, pareto_front
from linkcalc.choosing.selection import select

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.choosing.selection import Constraint, Selection

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Objective", "Ranking", "Standing", "rank"]


class Objective(NamedTuple):
    """What is to be as small, or as large, as can be.

    Attributes
    ----------
    name : str
        Such as ``"mass"``.
    values : ndarray, shape (candidate,)
        nan where it is not known: such a candidate is not ranked.
    unit : str
        Of the values, as it is to be shown.
    largest : bool
        Whether large is good, as for a margin.
    """

    name: str
    values: Floats
    unit: str = ""
    largest: bool = False

    @property
    def cost(self) -> Floats:
        """What is to be small."""
        values = np.asarray(self.values, dtype=np.float64)
        return -values if self.largest else values

    def shown(self, candidate: int) -> str:
        """Return the value of a candidate in words.

        Parameters
        ----------
        candidate : int
            Its index.

        Returns
        -------
        str
            Four digits and the unit.
        """
        return f"{self.values[candidate]:.4g} {self.unit}".rstrip()


class Standing(NamedTuple):
    """Where one candidate came.

    Attributes
    ----------
    name : str
        Of the candidate.
    candidate : int
        Where it stands in what was given.
    place : int or None
        1 for the first; None if it is out of the ranking.
    on_front : bool
        Whether no candidate left beats it in every objective.
    values : tuple of float
        By objective.
    lost : str
        Why it is not the first; empty for the first.
    """

    name: str
    candidate: int
    place: int | None
    on_front: bool
    values: tuple[float, ...]
    lost: str


class Ranking(NamedTuple):
    """All candidates, the first one in front, those out of the ranking at the end.

    Attributes
    ----------
    objectives, units : tuple of str
        Names, the most important first, and units of their values.
    standings : tuple of Standing
        Every candidate.
    selection : Selection
        What the constraints left.
    """

    objectives: tuple[str, ...]
    units: tuple[str, ...]
    standings: tuple[Standing, ...]
    selection: Selection

    @property
    def best(self) -> Standing | None:
        """The first one; None where nothing is left."""
        return next((each for each in self.standings if each.place == 1), None)

    @property
    def front(self) -> tuple[Standing, ...]:
        """Those that no other one beats in every objective."""
        return tuple(each for each in self.standings if each.on_front)


def rank(
    names: Sequence[str], objectives: Sequence[Objective], constraints: Sequence[Constraint] = ()
) -> Ranking:
    """Rank candidates by the first objective, then the next; names decide between equals.

    Parameters
    ----------
    names : sequence of str, length candidate
        Each once, so that the order in which candidates are given never matters.
    objectives : sequence of Objective
        At least one, the most important first.
    constraints : sequence of Constraint, shapes (candidate,)
        What a candidate has to fulfil.

    Returns
    -------
    Ranking
        Every candidate with its place, and the reason why it is not the first.

    Raises
    ------
    ValueError
        No objective, two candidates of one name, or arrays of another length.

    Examples
    --------
    >>> mass = Objective("mass", np.array([12.0, 9.0, 30.0]), "g")
    >>> price = Objective("price", np.array([5.0, 8.0, 9.0]), "EUR")
    >>> for each in rank(["knot", "dunlin", "curlew"], [mass, price]).standings:
    ...     print(each.place, each.name, each.on_front, each.lost or "the first")
    1 dunlin True the first
    2 knot True mass 12 g, against 9 g of dunlin
    3 curlew False dunlin is better: mass 9 g against 30 g, price 8 EUR against 9 EUR
    """
    count = len(names)
    if not objectives or any(np.shape(each.values) != (count,) for each in objectives):
        raise ValueError(f"expected at least one objective, each with {count} values")
    if len(set(names)) != count:
        raise ValueError("two candidates of one name")
    costs = np.stack([each.cost for each in objectives], axis=1)
    selection = select(constraints, (count,))
    ranked = selection.kept & ~np.isnan(costs).any(axis=1)
    left = np.flatnonzero(ranked)
    by_name = np.argsort(np.argsort(np.asarray(names, dtype=object), kind="stable"))
    order = left[np.lexsort((by_name[left], *costs[left].T[::-1]))]
    on_front = np.zeros(count, dtype=np.bool_)
    on_front[left] = pareto_front(costs[left])
    better = dominators(costs, order[on_front[order]])
    telling = _Telling(names, objectives, constraints, selection, better)
    values = np.stack([np.asarray(each.values, float) for each in objectives], axis=1)
    out = sorted(np.flatnonzero(~ranked).tolist(), key=by_name.__getitem__)
    standings = [
        Standing(
            names[index],
            index,
            place if ranked[index] else None,
            bool(on_front[index]),
            tuple(values[index].tolist()),
            telling.lost(index, int(order[0]) if order.size else -1),
        )
        for place, index in enumerate([*order.tolist(), *out], start=1)
    ]
    ranked_by = (tuple(each.name for each in objectives), tuple(each.unit for each in objectives))
    return Ranking(*ranked_by, tuple(standings), selection)


class _Telling(NamedTuple):
    """What is needed to say why a candidate lost."""

    names: Sequence[str]
    objectives: Sequence[Objective]
    constraints: Sequence[Constraint]
    selection: Selection
    better: Whole

    def lost(self, index: int, first: int) -> str:
        """Say why a candidate is not the first."""
        if index == first:
            return ""
        removed = int(self.selection.removed_by[index])
        if removed >= 0:
            return self._not_fulfilled(self.constraints[removed], index)
        unknown = [each.name for each in self.objectives if np.isnan(each.values[index])]
        if unknown:
            return f"{', '.join(unknown)} not known"
        winner = int(self.better[index])
        if winner >= 0:
            return f"{self.names[winner]} is better: {self._compared(winner, index)}"
        for each in self.objectives:
            if each.cost[index] != each.cost[first]:
                return (
                    f"{each.name} {each.shown(index)}, "
                    f"against {each.shown(first)} of {self.names[first]}"
                )
        return f"equal to {self.names[first]}, whose name comes first"

    def _compared(self, winner: int, index: int) -> str:
        return ", ".join(
            f"{each.name} {each.shown(winner)} against {each.shown(index)}"
            for each in self.objectives
            if each.cost[winner] < each.cost[index]
        )

    @staticmethod
    def _not_fulfilled(constraint: Constraint, index: int) -> str:
        more = constraint.details[index] if constraint.details else ""
        if constraint.figures is None:
            return f"not {constraint.name}" + (f": {more}" if more else "")
        figure = np.broadcast_to(constraint.figures, constraint.holds.shape)[index]
        words = "not known" if np.isnan(figure) else f"{figure:.4g} {constraint.unit}".rstrip()
        return f"not {constraint.name}: {words}" + (f", {more}" if more else "")
