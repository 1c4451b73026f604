"""Which parts to order: the least margin and the cost of every combination."""

from __future__ import annotations

from threading import get_ident
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import refuse_unknown_solvers, settled
from linkcalc.evaluation.factors import factors
from linkcalc.results import MODES
from linkcalc.study.keeping import Kept
from linkcalc.study.running import Workers, call_in, worked
from linkcalc.study.space import Axis, Space, part
from linkcalc.study.trials import Trials, mode_margins
from linkcalc.study.verdict import LOOK, asked_of_servos, same_burden, verdict

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Burden
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft
    from linkcalc.study.space import Place

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Combinations", "Ended", "Found", "Judged", "combinations", "judged", "judged_margins"]

_AT_ONCE = 7_500_000  # nodes of deflection in a block, of all runs and cases
_LISTED = 200_000  # the same where combinations are worked one beside the other
_SPARSE = 0.1  # share of wanted combinations below which they are worked one beside the other


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


class Judged(NamedTuple):
    """Which margins count for a combination.

    Attributes
    ----------
    own : ndarray of bool, shape (run,)
        Runs that are chosen for: all their margins.
    held : ndarray of bool, shape (mode, case, run)
        Margins of other runs: those that hold with the aircraft as it is. What is short
        before is not held against a combination.
    """

    own: NDArray[np.bool_]
    held: NDArray[np.bool_]


class Found(NamedTuple):
    """What is kept of the margins of some combinations.

    Attributes
    ----------
    margin, beside : ndarray, shape (...)
        Least margin of the runs that are chosen for, and of what counts of the others; nan
        where one could not be computed, infinite where nothing counts.
    place, beside_place : ndarray of int, shape (...)
        Where these are, counted along (mode, case, run).
    by_mode : ndarray, shape (..., mode)
        Least margin of the runs that are chosen for, by mode.
    """

    margin: Floats
    beside: Floats
    place: Whole
    beside_place: Whole
    by_mode: Floats

    @classmethod
    def nothing(cls, shape: Sequence[int], *, beside: bool = True, modes: bool = True) -> Found:
        """Return room for some combinations, none of which has been worked.

        Parameters
        ----------
        shape : sequence of int
            Of the combinations.
        beside : bool
            Whether there are other runs that count.
        modes : bool
            Whether margins are kept by mode.

        Returns
        -------
        Found
            Margins of -inf. What is not kept takes no room and cannot be written: other runs are
            infinite, modes nan.
        """
        short, none = np.full(shape, -np.inf), np.zeros(shape, dtype=np.intp)
        rest, rest_place = np.broadcast_to(np.inf, shape), np.broadcast_to(np.intp(0), shape)
        if beside:
            rest, rest_place = short.copy(), none.copy()
        wide = (*shape, len(MODES))
        by_mode = np.full(wide, -np.inf) if modes else np.broadcast_to(np.nan, wide)
        return cls(short, rest, none, rest_place, by_mode)


class Combinations(NamedTuple):
    """The least margins of every combination.

    Attributes
    ----------
    space : Space
        What was combined.
    found : Found
        Margins, shape (axis, ...); -inf where a combination was not worked.
    worked : ndarray of bool, shape (axis, ...)
        Which were: those that were wanted, unless an interruption came before.
    complete : bool
        Whether all that were wanted were worked.
    """

    space: Space
    found: Found
    worked: NDArray[np.bool_]
    complete: bool

    @property
    def margin(self) -> Floats:
        """Least margin of the runs that are chosen for, shape (axis, ...)."""
        return self.found.margin

    @property
    def place(self) -> Whole:
        """Where it is, counted along (mode, case, run), shape (axis, ...)."""
        return self.found.place

    def passes(self) -> NDArray[np.bool_]:
        """Tell which combinations have every margin that counts at zero or more.

        Returns
        -------
        ndarray of bool, shape (axis, ...)
            nan never passes.
        """
        return np.asarray((self.found.margin >= 0) & (self.found.beside >= 0))

    def ended(self, at: Sequence[int], *, beside: bool = False) -> Ended:
        """Tell what has the least margin of one combination.

        Parameters
        ----------
        at : sequence of int
            Place of the value of each axis.
        beside : bool
            Whether of the other runs, not of those that are chosen for.

        Returns
        -------
        Ended
            In words.
        """
        aircraft, found = self.space.aircraft, self.found
        counts = len(MODES), len(aircraft.cases), len(aircraft.runs)
        place = (found.beside_place if beside else found.place)[tuple(at)]
        mode, case, run = np.unravel_index(int(place), counts)
        return Ended(
            MODES[mode],
            aircraft.runs[run].name,
            aircraft.cases[case].name,
            float((found.beside if beside else found.margin)[tuple(at)]),
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
    runs: Sequence[int] | None = None,
    wanted: NDArray[np.bool_] | None = None,
    modes: bool = False,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
    keep: str | os.PathLike[str] = "",
) -> Combinations:
    """Evaluate an aircraft with every combination of the values of some axes.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    axes : sequence of Axis
        What may be put otherwise.
    runs : sequence of int, optional
        Those that are chosen for: all their margins count, and of the others those that
        hold with the aircraft as it is. All of them when left out.
    wanted : ndarray of bool, shape (axis, ...), optional
        Combinations that are to be worked; all of them when left out.
    modes : bool
        Whether least margins are kept by mode, which takes six times the memory.
    workers : Workers, optional
        Processes or a cluster; this process alone by default.
    progress : callable, optional
        Is told how many combinations are done, and of how many.
    keep : str or path
        File that what is done is kept in, and taken from when the same is asked again;
        empty for none.

    Returns
    -------
    Combinations
        The least margins of each, the same to 1e-12 as a check of it finds.

    Raises
    ------
    InputError, InputFaults
        An axis, a value or the aircraft cannot be used.
    SolverError
        A solver fails with a combination that works with the aircraft as it is.

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
    workers = workers or Workers()
    call_in(workers, __name__)
    refuse_unknown_solvers(aircraft)
    aircraft = settled(aircraft)  # a dive's speed stays that of the aircraft as described
    space = Space(aircraft, axes)
    per = LOOK.nodes * len(aircraft.cases) * len(aircraft.runs)
    blocks: Iterator[Place] = space.blocks(max(1, _AT_ONCE // per))
    shape, total = space.lengths, space.size
    if wanted is not None and wanted.mean() < _SPARSE:
        listed = space.by_group(wanted)
        blocks, total = space.listed(listed, max(1, _LISTED // per)), int(wanted.sum())
    trials = None if runs is None else Trials(aircraft)
    counts, used = _judged_by(aircraft, trials, runs), factors(aircraft.factors)
    nothing = Found.nothing(shape, beside=bool(counts.held.any()), modes=modes)
    room = Kept(nothing, keep, (space.whole, counts, used, modes))
    places: list[tuple[Any, ...]] = []

    def tasks() -> Any:
        for block in blocks:
            if not room.done[block].all():
                places.append(block)
                yield (block,)

    whole = space.whole if trials is None else trials.working(space.whole)
    work = _Judge(whole, used, counts, modes=modes)
    complete, done = True, int(np.count_nonzero(room.done))
    try:
        for index, found in worked(work, tasks(), workers):
            room.put(places[index], found)
            done += found.margin.size
            if progress:
                progress(min(done, total), total)
    except KeyboardInterrupt:
        complete = False
    room.save()
    spread = (space.spread(each, each.ndim - len(space.groups)) for each in room.values)
    return Combinations(space, Found._make(spread), space.spread(room.done, 0), complete)


def _judged_by(aircraft: Aircraft, trials: Trials | None, runs: Sequence[int] | None) -> Judged:
    """Return which margins count: all of them where nothing is said of runs."""
    shape = len(MODES), len(aircraft.cases), len(aircraft.runs)
    return judged(np.zeros(shape) if trials is None else trials.base.margins, runs)


def judged(now: Floats, runs: Sequence[int] | None) -> Judged:
    """Return which margins count.

    Parameters
    ----------
    now : ndarray, shape (mode, case, run)
        Margins of the aircraft as it is; infinite where a mode does not apply.
    runs : sequence of int or None
        Those that are chosen for; None for all.

    Returns
    -------
    Judged
        All of theirs, and of the others those that hold now.
    """
    own = np.ones(now.shape[-1], dtype=np.bool_)
    if runs is not None:
        own[...] = False
        own[list(runs)] = True
    return Judged(own, (now >= 0) & ~own)


class _Judge:
    """Judges parts of a space one after another; what they have in common is computed once.

    By every thread for itself, for what is found on the way is kept, too.
    """

    def __init__(self, whole: Inputs, used: Factors, judged: Judged, *, modes: bool) -> None:
        self._whole, self._used, self._judged, self._modes = whole, used, judged, modes
        self._known: dict[int, tuple[Inputs, Burden]] = {}

    def __call__(self, place: Place) -> Found:
        """Return the least margins of a part."""
        inputs, thread = part(self._whole, place), get_ident()
        if thread in self._known and not same_burden(self._known[thread][0], inputs):
            del self._known[thread]  # before there is another
        if thread not in self._known:
            self._known[thread] = inputs, asked_of_servos(inputs, self._used)
        return judged_margins(
            inputs,
            used=self._used,
            judged=self._judged,
            modes=self._modes,
            known=self._known[thread][1],
        )


def judged_margins(
    inputs: Inputs,
    *,
    used: Factors,
    judged: Judged,
    modes: bool = False,
    known: Burden | None = None,
) -> Found:
    """Return the least margins of every combination of a block, and where they are.

    Parameters
    ----------
    inputs : Inputs
        With axes in front of the cases.
    used : Factors
        Plain numbers.
    judged : Judged
        Which margins count.
    modes : bool
        Whether to keep the least margins by mode.
    known : Burden, optional
        What surfaces ask of their servos, where it is at hand.

    Returns
    -------
    Found
        Shape of these axes.
    """
    answer, inputs = verdict(inputs, used, known=known)
    *lead, cases, runs = answer.rate.shape[1:]
    held = np.asarray(judged.held.any(axis=(1, 2)))
    count = len(MODES) * cases * runs
    mine, rest = (_Least(room, count) for room in (lead, lead if held.any() else [1] * len(lead)))
    by_mode = np.empty((*lead, len(MODES) * modes))
    every = bool(judged.own.all())
    for mode, margin in enumerate(mode_margins(answer, inputs)):
        margins = np.broadcast_to(margin, (*margin.shape[:-2], cases, runs))
        start = mode * cases * runs
        own = margins if every else np.where(judged.own, margins, np.inf)
        least = mine.take(own, start)
        if modes:
            by_mode[..., mode] = least
        if held[mode]:
            rest.take(np.where(judged.held[mode], margins, np.inf), start)
    return Found(mine.margin, rest.margin, mine.place, rest.place, by_mode)


class _Least:
    """The least of margins that come one mode after another; nan counts as the least.

    Places are numbers no longer than they have to be, for they may have to travel.
    """

    def __init__(self, shape: Sequence[int], places: int) -> None:
        self.margin, self.place = (
            np.full(shape, np.inf),
            np.zeros(shape, np.min_scalar_type(-places)),
        )
        self._known = self.margin.copy()

    def take(self, margins: Floats, start: int) -> Floats:
        """Take margins of shape (..., case, run), counted from a start; return their least."""
        rows = margins.reshape(*margins.shape[:-2], -1)
        lost = np.isnan(rows)
        known = np.where(lost, -np.inf, rows) if lost.any() else rows
        # Of one case and run there is nothing to look for along an axis of one.
        lowest = known[..., 0] if known.shape[-1] == 1 else np.asarray(known.min(-1))
        told = np.where(lost.any(-1), np.nan, lowest) if known is not rows else lowest
        lower = lowest < self._known
        if lower.any():
            at = start if known.shape[-1] == 1 else start + known.argmin(-1)
            np.copyto(self._known, lowest, where=lower)
            np.copyto(self.margin, told, where=lower)
            np.copyto(self.place, at, where=lower)
        return np.asarray(told)
