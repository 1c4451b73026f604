"""The set of least cost, one part for each place, by a search that takes the cheapest first."""

from __future__ import annotations

import heapq
import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

    Node = tuple[float, int, int, tuple[int, ...], int]
    """Cost at least, minus the places filled, league, what fills them, first option to try next."""

__all__ = ["Best", "best_set"]

_BRANCH = 32  # options of one place that are tried together
_WIDE = 4  # beginnings that are carried on together
_LEAST = 1000  # beginnings that are tried from the longest ones, at least


class Best(NamedTuple):
    """What a search has found.

    Attributes
    ----------
    league : int
        Which one the set is of.
    chosen : tuple of int or None
        Options by place; None where no set was found.
    bound : float
        No set costs less; infinite where there is none.
    exact : bool
        Whether the set is one of least cost, or there is none at all.
    tried : int
        Beginnings of sets, and sets, that were tried.
    """

    league: int
    chosen: tuple[int, ...] | None
    bound: float
    exact: bool
    tried: int


def best_set(
    leagues: Sequence[Sequence[Floats]],
    holds: Callable[[int, list[tuple[int, ...]]], Sequence[bool]],
    *,
    most: int,
    progress: Callable[[int, int], None] | None = None,
) -> Best:
    """Find the set of least cost that holds.

    Parameters
    ----------
    leagues : sequence of sequence of ndarray, shape (option,)
        For each league and place what the options cost, ascending. A set has one option for
        each place, all of one league.
    holds : callable
        League and beginnings of sets to whether each may still become a set; of a whole set,
        whether it is one. What has been refused has to stay refused however it goes on.
    most : int
        Beginnings that are tried in the order of what they cost at least. Then the search goes
        on from the longest beginnings, for as many again or a thousand, to find a set at all.
    progress : callable, optional
        Is told how many were tried, and how many may be.

    Returns
    -------
    Best
        Exact unless `most` was reached. An interruption counts as that.

    Notes
    -----
    A beginning costs at least its own options and the cheapest of every place that is left
    (the bound of a best-first branch and bound search, any textbook on integer optimisation).
    The first whole set whose turn it is costs no more than anything that is left.

    Examples
    --------
    The cheapest pair that is heavier than five:

    >>> import numpy as np
    >>> masses = [np.array([1.0, 2.0, 4.0]), np.array([1.0, 3.0])]
    >>> def holds(league, sets):
    ...     return [
    ...         len(each) < 2 or sum(m[i] for m, i in zip(masses, each, strict=True)) > 5
    ...         for each in sets
    ...     ]
    >>> best_set([masses], holds, most=100)[:4]
    (0, (2, 1), 7.0, True)
    """
    search = _Search(leagues)
    tried, bound, end = 0, math.inf, most + max(most, _LEAST)
    while (node := search.first()) is not None and tried < end:
        if search.is_whole(node):
            return Best(node[2], node[3], min(bound, node[0]), not search.deep, tried)
        if tried >= most and not search.deep:
            bound = node[0]
            search.go_deep()
        try:
            for league, children in search.children():
                tried += len(children)
                search.add(league, children, holds(league, children))
            if progress:
                progress(min(tried, end), end)
        except KeyboardInterrupt:
            return Best(-1, None, min(bound, node[0]), exact=False, tried=tried)
    exact = node is None
    return Best(-1, None, math.inf if exact else min(bound, search.least()), exact, tried)


class _Search:
    """Beginnings that are left, the cheapest one first, or the longest."""

    def __init__(self, leagues: Sequence[Sequence[Floats]]) -> None:
        self.leagues, self.deep = leagues, False
        self.rest = [  # of each league the least that the places from each on cost
            [math.fsum(each[0] for each in league[at:]) for at in range(len(league) + 1)]
            if all(len(each) for each in league)
            else []
            for league in leagues
        ]
        self.heap: list[tuple[tuple[float, ...], Node]] = []
        for index, rest in enumerate(self.rest):
            if rest:
                self._push((rest[0], 0, index, (), 0))

    def _push(self, node: Node) -> None:
        bound, depth, *_ = node
        heapq.heappush(self.heap, ((depth, bound) if self.deep else (bound, depth), node))

    def first(self) -> Node | None:
        """Return the one whose turn it is."""
        return self.heap[0][1] if self.heap else None

    def least(self) -> float:
        """Return what any that is left costs at least."""
        return min(node[0] for _, node in self.heap)

    def is_whole(self, node: Node) -> bool:
        """Tell whether every place is filled."""
        return -node[1] == len(self.leagues[node[2]])

    def go_deep(self) -> None:
        """Take the longest beginnings first from here on."""
        nodes, self.heap, self.deep = [node for _, node in self.heap], [], True
        for node in nodes:
            self._push(node)

    def children(self) -> list[tuple[int, list[tuple[int, ...]]]]:
        """Carry some beginnings on by one place, and keep what has not had its turn."""
        made = []
        for _ in range(_WIDE):
            node = self.first()
            if node is None or self.is_whole(node):
                break
            heapq.heappop(self.heap)
            _, depth, league, chosen, start = node
            count = len(self.leagues[league][-depth])
            end = min(start + _BRANCH, count)
            made.append((league, [(*chosen, option) for option in range(start, end)]))
            if end < count:
                self._push((self._bound(league, (*chosen, end)), depth, league, chosen, end))
        return made

    def add(self, league: int, children: list[tuple[int, ...]], good: Sequence[bool]) -> None:
        """Keep those that hold."""
        for child, holds in zip(children, good, strict=True):
            if holds:
                self._push((self._bound(league, child), -len(child), league, child, 0))

    def _bound(self, league: int, chosen: tuple[int, ...]) -> float:
        costs = self.leagues[league]
        known = [float(costs[place][option]) for place, option in enumerate(chosen)]
        return math.fsum((*known, self.rest[league][len(chosen)]))
