"""Which parts to order: the least margin and the cost of every combination."""

from __future__ import annotations

from functools import partial
from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import refuse_unknown_solvers, settled
from linkcalc.evaluation.factors import factors
from linkcalc.results import MODES
from linkcalc.study.running import Workers, worked
from linkcalc.study.space import Axis, Space
from linkcalc.study.verdict import LOOK, least_margins

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Combinations", "Ended", "combinations"]

_AT_ONCE = 5_000_000  # nodes of deflection in a block, of all runs and cases


class Ended(NamedTuple):
    """What has the least margin of one combination.

    Attributes
    ----------
    mode, run, case : str
        Which mode, of which run in which case.
    margin : float
        The least; nan where one could not be computed, which counts as the least.
    """

    mode: str
    run: str
    case: str
    margin: float


class Combinations(NamedTuple):
    """The least margin of every combination.

    Attributes
    ----------
    space : Space
        What was combined.
    margin : ndarray, shape (axis, ...)
        Least margin over all runs, cases and modes that apply; nan where one of them
        could not be computed, -inf where an interruption came before.
    place : ndarray of int, shape (axis, ...)
        Where it is, counted along (mode, case, run).
    complete : bool
        Whether all of them were worked.
    """

    space: Space
    margin: Floats
    place: Whole
    complete: bool

    def passes(self) -> NDArray[np.bool_]:
        """Tell which combinations have every margin at zero or more.

        Returns
        -------
        ndarray of bool, shape (axis, ...)
            nan never passes.
        """
        return np.asarray(self.margin >= 0)

    def ended(self, at: Sequence[int]) -> Ended:
        """Tell what has the least margin of one combination.

        Parameters
        ----------
        at : sequence of int
            Place of the value of each axis.

        Returns
        -------
        Ended
            In words.
        """
        aircraft = self.space.aircraft
        counts = len(MODES), len(aircraft.cases), len(aircraft.runs)
        mode, case, run = np.unravel_index(int(self.place[tuple(at)]), counts)
        return Ended(
            MODES[mode],
            aircraft.runs[run].name,
            aircraft.cases[case].name,
            float(self.margin[tuple(at)]),
        )

    def _repr_html_(self) -> str:
        """The combinations with the greatest least margin, for a notebook."""
        from linkcalc.notebook import margin_words, table  # noqa: PLC0415 - a study never asks

        ranked = np.where(np.isfinite(self.margin), self.margin, -np.inf)
        rows = []
        for flat in np.argsort(-ranked, axis=None, kind="stable")[:24]:
            at = tuple(int(index) for index in np.unravel_index(int(flat), ranked.shape))
            ended, axes = self.ended(at), self.space.axes
            known = ended.margin if np.isfinite(ended.margin) else None
            labels = [axis.labels[index] for axis, index in zip(axes, at, strict=True)]
            rows.append([*labels, margin_words(known), f"{ended.mode} of {ended.run}"])
        caption = f"{int(self.passes().sum())} of {self.margin.size} combinations will do."
        return table(caption, [*(axis.name for axis in self.space.axes), "margin", "of"], rows)


def combinations(
    aircraft: Aircraft,
    axes: Sequence[Axis],
    *,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Combinations:
    """Evaluate an aircraft with every combination of the values of some axes.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    axes : sequence of Axis
        What may be put otherwise.
    workers : Workers, optional
        Processes or a cluster; this process alone by default.
    progress : callable, optional
        Is told how many combinations are done, and of how many.

    Returns
    -------
    Combinations
        The least margin of each, the same to 1e-12 as a check of it finds.

    Raises
    ------
    InputError, InputFaults
        An axis, a value or the aircraft cannot be used.

    Notes
    -----
    Blocks of combinations go through the one evaluation. What does not depend on an axis
    is computed once for all its values: the air load once for all servos and wires.

    Examples
    --------
    >>> from linkcalc import read_aircraft
    >>> from linkcalc.study.sweep import field_axis
    >>> glider = read_aircraft("examples/sandpiper.toml")
    >>> holes = field_axis("runs['outboard aileron, starboard'].arm", ["7 mm", "9 mm", "12 mm"])
    >>> found = combinations(glider, [holes])
    >>> found.margin.shape, found.ended([0]).mode
    ((3,), 'speed')
    """
    refuse_unknown_solvers(aircraft)
    aircraft = settled(aircraft)  # a dive's speed stays that of the aircraft as described
    space = Space(aircraft, axes)
    per = LOOK.nodes * len(aircraft.cases) * len(aircraft.runs)
    lengths = [prod(space.shape[index] for index in group) for group in space.groups]
    margin, place = np.full(lengths, -np.inf), np.zeros(lengths, dtype=np.intp)
    places: list[tuple[slice, ...]] = []

    def tasks() -> Any:
        for block in space.blocks(max(1, _AT_ONCE // per)):
            places.append(block.place)
            yield (block.inputs,)

    work = partial(least_margins, used=factors(aircraft.factors))
    complete, done = True, 0
    try:
        for index, (least, where) in worked(work, tasks(), workers or Workers()):
            margin[places[index]], place[places[index]] = least, where
            done += least.size
            if progress:
                progress(done, space.size)
    except KeyboardInterrupt:
        complete = False
    return Combinations(space, space.spread(margin, 0), space.spread(place, 0), complete)
