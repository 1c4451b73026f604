"""The sets that no other set beats, one part for each place, by a search that takes the best first."""

from __future__ import annotations

import heapq
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Front", "Member", "front_of_sets", "least_costs"]

_BRANCH = 32  # options of one place that are tried together
_WIDE = 4  # beginnings that are carried on together
_LEAST = 1000  # beginnings that are tried from the longest ones, at least


class Member(NamedTuple):
    """A set that no other set beats.

    Attributes
    ----------
    league : int
        Which one it is of.
    chosen : tuple of int
        Options by place.
    costs : tuple of float
        By objective; a margin with its sign changed.
    """

    league: int
    chosen: tuple[int, ...]
    costs: tuple[float, ...]


class Front(NamedTuple):
    """What a search has found.

    Attributes
    ----------
    members : tuple of Member
        In the order of their costs, the first objective first.
    bound : float
        What sets that are not looked at cost at least by the first objective; infinite where
        none is left that could be a member.
    proven : bool
        Whether all of these are members of the front, the first is the best set by the
        first objective, and none means that there is none.
    tried : int
        Beginnings of sets, and sets, that were tried.
    interrupted : bool
        Whether the keyboard ended it.
    """

    members: tuple[Member, ...]
    bound: float
    proven: bool
    tried: int
    interrupted: bool

    @property
    def whole(self) -> bool:
        """Whether every member is there."""
        return self.proven and math.isinf(self.bound)


class _Node(NamedTuple):
    """A beginning that is left; they are compared in this order."""

    costs: tuple[float, ...]  # of any set that it may become, at least
    missing: int  # minus the places filled
    league: int
    chosen: tuple[int, ...]
    start: int  # first option to try next
    margin: float  # of any set that it may become, at most


def front_of_sets(
    leagues: Sequence[Sequence[Floats]],
    judge: Callable[[int, list[tuple[int, ...]]], Sequence[float]],
    *,
    most: int,
    margin_at: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Front:
    """Find the sets that hold, and that no other set that holds beats.

    Parameters
    ----------
    leagues : sequence of sequence of ndarray, shape (option, objective)
        For each league and place what the options cost, those of least cost by the first
        objective first. A set has one option for each place, all of one league, and costs
        their sum. Whole numbers are added without error.
    judge : callable
        League and beginnings of sets to the margin that any set has at most which each may
        become; of a whole set its margin; nan where it can become none. What has been refused
        has to stay refused however it goes on.
    most : int
        Beginnings that are tried in the order of what they cost at least. Where no set is found
        by then, the search goes on from the longest beginnings, for as many again or a
        thousand, to find one at all.
    margin_at : int, optional
        Where the margin stands among the objectives, the larger the better; it is none of
        them when left out.
    progress : callable, optional
        Is told how many were tried, and how many may be.

    Returns
    -------
    Front
        Of sets that are alike in all objectives one. Exact unless `most` was reached or the
        keyboard stopped it; then it has all members that cost less than its bound by the
        first objective.

    Notes
    -----
    A beginning costs at least its own options and, by each objective, the least of every
    place that is left (the bound of a best-first branch and bound search, any textbook on
    integer optimisation). Beginnings are taken in the order of these costs, the first
    objective first. What beats a set comes before it in that order, so a whole set whose
    turn it is is a member unless one of those found before beats it; and a beginning whose
    least costs are beaten becomes no member however it goes on.

    Examples
    --------
    Masses and prices of pairs that weigh five or more:

    >>> places = [np.array([[1.0, 9.0], [2.0, 5.0], [4.0, 3.0]]), np.array([[1.0, 2.0], [3.0, 1.0]])]
    >>> def judge(league, sets):
    ...     masses = [sum(p[i, 0] for p, i in zip(places, each, strict=False)) for each in sets]
    ...     return [
    ...         0.0 if len(each) < 2 or mass >= 5 else float("nan")
    ...         for each, mass in zip(sets, masses, strict=True)
    ...     ]
    >>> for each in front_of_sets([places], judge, most=100).members:
    ...     print(each.chosen, each.costs)
    (2, 0) (5.0, 5.0)
    (2, 1) (7.0, 4.0)
    """
    search = _Search(leagues, margin_at)
    tried, bound, end, interrupted = 0, search.least(), most + max(most, _LEAST), False
    try:
        while (node := search.first()) is not None:
            bound = bound if search.deep else node.costs[0]
            if search.is_whole(node):
                search.take()
                if search.deep:
                    break
                continue
            if tried >= most and (search.members or tried >= end):
                break
            if tried >= most and not search.deep:
                search.go_deep()
                continue
            for league, children in search.children():
                tried += len(children)
                search.add(league, children, judge(league, children))
            if progress:
                progress(min(tried, end), end)
        else:
            bound = math.inf  # nothing is left
    except KeyboardInterrupt:
        interrupted = True
    proven = math.isinf(bound) or (bool(search.members) and not search.deep)
    return Front(tuple(search.members), bound, proven, tried, interrupted)


def least_costs(leagues: Sequence[Sequence[Floats]], margin_at: int | None = None) -> float:
    """Return what any set costs at least by the first objective.

    Parameters
    ----------
    leagues : sequence of sequence of ndarray, shape (option, objective)
        As `front_of_sets` takes them.
    margin_at : int, optional
        As well.

    Returns
    -------
    float
        Infinite where there is no set, minus infinite where it is the margin.
    """
    return _Search(leagues, margin_at).least()


class _Search:
    """Beginnings that are left, the best first, or the longest."""

    def __init__(self, leagues: Sequence[Sequence[Floats]], margin_at: int | None) -> None:
        self.leagues, self.margin_at, self.deep = leagues, margin_at, False
        self.members: list[Member] = []
        self._beating = np.empty((0, 0))
        self._heap: list[tuple[tuple[int, ...], _Node]] = []
        self._least = [[_least_from(costs) for costs in league] for league in leagues]
        self._rest = [  # of each league the least that the places behind each cost
            [
                sum((least[0] for least in league[at:]), np.float64(0))
                for at in range(len(league) + 1)
            ]
            for league in self._least
        ]
        for index, league in enumerate(leagues):
            if all(len(each) for each in league):
                self._push(index, (), 0, math.inf)

    def _push(self, league: int, chosen: tuple[int, ...], start: int, margin: float) -> None:
        costs = self._costs(league, chosen, start, margin)
        node = _Node(costs, -len(chosen), league, chosen, start, margin)
        if not self._is_beaten(node):
            heapq.heappush(self._heap, (self._turn(node), node))

    def _turn(self, node: _Node) -> tuple[int, ...]:
        return (node.missing,) if self.deep else ()

    def _costs(
        self, league: int, chosen: tuple[int, ...], start: int, margin: float
    ) -> tuple[float, ...]:
        """Return what any set costs at least that begins like this, and goes on from there."""
        made = self._rest[league][len(chosen)]
        if start:
            least = self._least[league][len(chosen)]
            made = self._rest[league][len(chosen) + 1] + least[start]
        for place, option in enumerate(chosen):
            made = made + self.leagues[league][place][option]
        costs = np.atleast_1d(made).tolist()
        if self.margin_at is not None:
            costs.insert(self.margin_at, -margin)
        return tuple(costs)

    def _is_beaten(self, node: _Node) -> bool:
        """Tell whether a member costs at most as much by every objective."""
        return bool(self.members) and bool((self._beating <= node.costs).all(axis=1).any())

    def first(self) -> _Node | None:
        """Return the one whose turn it is."""
        while self._heap and self._is_beaten(self._heap[0][1]):
            heapq.heappop(self._heap)
        return self._heap[0][1] if self._heap else None

    def least(self) -> float:
        """Return what any that is left costs at least by the first objective."""
        return min((node.costs[0] for _, node in self._heap), default=math.inf)

    def is_whole(self, node: _Node) -> bool:
        """Tell whether every place is filled."""
        return -node.missing == len(self.leagues[node.league])

    def take(self) -> None:
        """Make a member of the one whose turn it is."""
        _, node = heapq.heappop(self._heap)
        self.members.append(Member(node.league, node.chosen, node.costs))
        self._beating = np.array([each.costs for each in self.members])

    def go_deep(self) -> None:
        """Take the longest beginnings first from here on."""
        nodes, self._heap, self.deep = [node for _, node in self._heap], [], True
        for node in nodes:
            heapq.heappush(self._heap, (self._turn(node), node))

    def children(self) -> list[tuple[int, list[tuple[int, ...]]]]:
        """Carry some beginnings on by one place, and keep what has not had its turn."""
        made = []
        for _ in range(_WIDE):
            node = self.first()
            if node is None or self.is_whole(node):
                break
            heapq.heappop(self._heap)
            count = len(self.leagues[node.league][-node.missing])
            end = min(node.start + _BRANCH, count)
            made.append(
                (node.league, [(*node.chosen, option) for option in range(node.start, end)])
            )
            if end < count:
                self._push(node.league, node.chosen, end, node.margin)
        return made

    def add(self, league: int, children: list[tuple[int, ...]], margins: Sequence[float]) -> None:
        """Keep those that may become a set."""
        for child, margin in zip(children, margins, strict=True):
            if not math.isnan(margin):
                self._push(league, child, 0, margin)


def _least_from(costs: Floats) -> Floats:
    """Return the least cost of the options from each one on, infinite behind the last."""
    behind = np.vstack([costs, np.full((1, costs.shape[1]), np.inf)])
    return np.asarray(np.minimum.accumulate(behind[::-1], axis=0)[::-1])
