"""Products of parts that are too large to keep: worked in parts, of which the best are kept."""

from __future__ import annotations

import os
from collections import Counter
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.choosing.ranked_choice import ranked
from linkcalc.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.choosing.part_axes import PartAxis
    from linkcalc.choosing.ranked_choice import Asked, Choice
    from linkcalc.choosing.ranking import Standing

    Whole = NDArray[np.intp]

__all__ = ["KEPT", "ranked_in_parts"]

KEPT = 1000
"""Candidates of each part that are kept beside its front."""

_EACH = 2000.0  # bytes that a combination takes, with its standing


def ranked_in_parts(asked: Asked, axes: tuple[PartAxis, ...], memory: float) -> Choice:
    """Rank combinations, in parts where they would take too much memory.

    Parameters
    ----------
    asked : Asked
        What is asked of them.
    axes : tuple of PartAxis
        What is chosen from.
    memory : float
        What the answer may take, about [bytes].

    Returns
    -------
    Choice
        Of all candidates; in parts, of the front and the first `KEPT` of each, so that
        its front and its first `KEPT` are those of all, and the other numbers are counts.

    Raises
    ------
    InputError
        The memory is not more than nothing.
    """
    most = memory / _EACH
    if not most >= 1:
        raise InputError(
            "memory", memory, f"at least {_EACH:g} bytes", "Allow more memory, or leave it out."
        )
    shape = [len(axis.parts) for axis in axes]
    if prod(shape) <= most:
        return ranked(asked, axes)
    return _Parts(asked, axes).of([np.arange(count) for count in shape], most)


class _Parts(NamedTuple):
    asked: Asked
    axes: tuple[PartAxis, ...]

    def of(self, whole: list[Whole], most: float) -> Choice:
        """Work part after part, and rank what is kept of them."""
        kept: list[Whole] = []
        lost: list[tuple[Whole, str]] = []
        out: Counter[str] = Counter()
        total, passing, count, complete = 0, 0, 0, True
        for count, part in enumerate(_halved(whole, most), start=1):
            axes = self._taken(part)
            found = ranked(self._told(count, total), axes)
            total, passing = total + found.total, passing + found.passing
            kept.append(_best_of(found, part))
            losers = [each for each in found.ranking.standings if not each.place]
            out.update(_reason(each) for each in losers)
            lost += [(_whole(found, part, [each.candidate]), _reason(each)) for each in losers[:1]]
            complete = found.combinations.complete
            if not complete:
                break
        chosen = np.concatenate(kept, axis=1)
        if not passing and lost:  # one of them stands for those that are out
            chosen, reason = lost[0]
            out.subtract([reason])
        used = [np.unique(places) for places in chosen]
        wanted = np.zeros([len(each) for each in used], dtype=np.bool_)
        wanted[tuple(np.searchsorted(u, c) for u, c in zip(used, chosen, strict=True))] = True
        final = ranked(self.asked._replace(keep="", progress=None), self._taken(used), wanted)
        size = prod(len(each) for each in whole)
        note = (
            f"{size} combinations would take {size * _EACH / 1e9:.3g} GB at once: they were worked "
            f"in {count} parts, and of those that will do the front and the first {KEPT} are kept."
        )
        return final._replace(
            total=total,
            passing=passing,
            out={reason: number for reason, number in out.items() if number},
            note=note,
            empty=final.empty and f"None of {total} candidates will do.",
            combinations=final.combinations._replace(complete=complete),
        )

    def _taken(self, part: Sequence[Whole]) -> tuple[PartAxis, ...]:
        pairs = zip(self.axes, part, strict=True)
        return tuple(axis.taken(places.tolist()) for axis, places in pairs)

    def _told(self, count: int, before: int) -> Asked:
        """Return what is asked of one part: its own file, and progress behind the others."""
        size, told, keep = prod(len(a.parts) for a in self.axes), self.asked.progress, ""
        if self.asked.keep:
            path = Path(os.fspath(self.asked.keep))
            keep = os.fspath(path.with_name(f"{path.stem}-{count}{path.suffix}"))
        if told is None:
            return self.asked._replace(keep=keep)
        return self.asked._replace(
            keep=keep, progress=lambda done, _: told(min(before + done, size), size)
        )


def _halved(whole: list[Whole], most: float) -> Iterator[list[Whole]]:
    """Cut the longest axis in two until every part is small enough."""
    sizes = [len(each) for each in whole]
    if prod(sizes) <= most:
        yield whole
        return
    at = int(np.argmax(sizes))
    for half in np.array_split(whole[at], 2):
        yield from _halved([*whole[:at], half, *whole[at + 1 :]], most)


def _best_of(found: Choice, part: Sequence[Whole]) -> Whole:
    """Return where the front and the first candidates of a part are, shape (axis, candidate)."""
    best = [
        each.candidate
        for each in found.ranking.standings
        if each.place is not None and (each.place <= KEPT or each.on_front)
    ]
    return _whole(found, part, best)


def _whole(found: Choice, part: Sequence[Whole], candidates: list[int]) -> Whole:
    """Return where candidates of a part are among all values, shape (axis, candidate)."""
    pairs = zip(part, found.places[:, candidates], strict=True)
    return np.stack([places[at] for places, at in pairs])


def _reason(each: Standing) -> str:
    return each.lost.partition(":")[0]
