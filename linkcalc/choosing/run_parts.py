"""What one run may get: the combinations of parts that what is asked of parts leaves."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.choosing.part_axes import KINDS_OF_AXES
from linkcalc.choosing.part_limits import fitting
from linkcalc.choosing.question import axes_of
from linkcalc.choosing.selection import select, why_empty
from linkcalc.choosing.sound_parts import sound_parts
from linkcalc.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import Catalogue
    from linkcalc.choosing.part_axes import PartAxis
    from linkcalc.choosing.part_limits import Limits
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["RunParts"]


class RunParts(NamedTuple):
    """A run with the candidates that what is asked of parts leaves.

    Attributes
    ----------
    at : int
        Which run.
    axes : tuple of PartAxis
        What is chosen from, less what no candidate has.
    candidates : ndarray of int, shape (axis, candidate)
        Which value of each axis.
    offered : int
        Candidates that there were.
    out : dict of str to int
        By the reason, candidates that were left out.
    unsound : tuple of tuple of str
        What is no candidate because no aircraft could have it, and why.
    empty : str
        Why none is left; empty where one is.
    """

    at: int
    axes: tuple[PartAxis, ...]
    candidates: Whole
    offered: int
    out: dict[str, int]
    unsound: tuple[tuple[str, str], ...]
    empty: str

    @classmethod
    def of(
        cls,
        aircraft: Aircraft,
        catalogue: Catalogue,
        index: int,
        over: Sequence[str] | Mapping[str, Sequence[Any] | None],
        limits: Limits,
        *,
        sound: bool = False,
    ) -> RunParts:
        """Return what a run may get.

        Parameters
        ----------
        aircraft : Aircraft
            That parts are chosen for.
        catalogue : Catalogue
            What may be bought.
        index : int
            Which run.
        over : sequence of str, or mapping of str to sequence
            Kinds of parts, as `linkcalc.choose_each` takes them.
        limits : Limits
            What is asked of parts.
        sound : bool
            Whether to try every value alone, and leave out what no aircraft could have.

        Returns
        -------
        RunParts
            Candidates in the order of the catalogue.

        Raises
        ------
        InputError
            Something that is no part, or cannot be chosen for this run.
        """
        for kind in [over] if isinstance(over, str) else over:
            if kind not in KINDS_OF_AXES:
                words = ", ".join(repr(each) for each in KINDS_OF_AXES)
                raise InputError("over", kind, f"some of {words}", "Sweep over fields instead.")
        axes = axes_of(over, aircraft, catalogue, [index])
        if sound:
            axes = sound_parts(axes, aircraft)
        every = np.stack(np.nonzero(fitting(axes)))
        constraints = limits.constraints(axes, every)
        selection = select(constraints, every.shape[1:])
        left = every[:, selection.kept]
        used = [np.unique(places) for places in left]
        less = tuple(axis.taken(kept.tolist()) for axis, kept in zip(axes, used, strict=True))
        found = [np.searchsorted(kept, places) for kept, places in zip(used, left, strict=True)]
        removed = Counter(selection.removed_by[~selection.kept].tolist())
        return cls(
            index,
            less,
            np.stack(found),
            every.shape[1],
            {f"not {constraints[at].name}": removed[at] for at in sorted(removed)},
            tuple(pair for axis in axes for pair in axis.unsound),
            why_empty(constraints, selection),
        )

    def figure(self, name: str) -> Floats:
        """Return a figure of every candidate.

        Parameters
        ----------
        name : str
            Such as ``"mass"``, as `PartAxis` has it.

        Returns
        -------
        ndarray, shape (candidate,)
            Of all its parts together.
        """
        each = [
            getattr(axis, name)[place]
            for axis, place in zip(self.axes, self.candidates, strict=True)
        ]
        return np.asarray(np.sum(each, axis=0))

    def named(self, candidate: int) -> dict[str, str]:
        """Return what a candidate consists of.

        Parameters
        ----------
        candidate : int
            Which.

        Returns
        -------
        dict of str to str
            By kind, the part or the value.
        """
        return {
            axis.kind: axis.axis.labels[place]
            for axis, place in zip(self.axes, self.candidates[:, candidate].tolist(), strict=True)
        }

    def in_order(self, costs: Floats, unknown: str) -> RunParts:
        """Return the candidates in order of cost and name, less those whose cost is not known.

        Parameters
        ----------
        costs : ndarray, shape (candidate, objective)
            The most important objective first; nan where not known.
        unknown : str
            What is not known of those.

        Returns
        -------
        RunParts
            The order of the catalogue is of no account.
        """
        known = ~np.isnan(costs).any(axis=1)
        names = [", ".join(self.named(at).values()) for at in range(len(costs))]
        order = sorted(
            np.flatnonzero(known).tolist(), key=lambda at: (costs[at].tolist(), names[at])
        )
        lost = len(costs) - len(order)
        empty = f"The {unknown} of no candidate is known." if lost and not order else self.empty
        return self._replace(
            candidates=self.candidates[:, order],
            empty=empty,
            out={**self.out, f"{unknown} not known": lost} if lost else self.out,
        )
