"""Sets of parts, for every run its own, put together without describing every set."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.evaluation import axes as stacks
from linkcalc.evaluation.gather import gather
from linkcalc.study.space import Space, alike, taken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft
    from linkcalc.study.space import Axis

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Assembly", "RunOfSet"]

_CORNERS = 3  # sets described whole, against what is put together


class RunOfSet(NamedTuple):
    """A run that gets parts of its own.

    Attributes
    ----------
    run : int
        Which.
    axes : sequence of Axis
        What it gets, each changing this run alone.
    candidates : ndarray of int, shape (axis, candidate)
        Which values of the axes each candidate has.
    """

    run: int
    axes: Sequence[Axis]
    candidates: Whole


class _Change(NamedTuple):
    """What the candidates of a run make of one array."""

    values: Floats  # (candidate, case or 1, ...)
    touched: NDArray[np.bool_]  # (...)


class Assembly:
    """An aircraft whose runs get one candidate each.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    members : sequence of RunOfSet
        Runs with their candidates.

    Raises
    ------
    InputError
        What two runs get acts on the same thing, or on each other.
    InputFaults
        A candidate is no aircraft that can be evaluated.

    Notes
    -----
    The values of each axis of each run are put into the aircraft once. A set takes from
    each run's candidate the numbers that this run's candidates change at all. That runs do
    not act on one another is tried on some sets that are described whole.
    """

    def __init__(self, aircraft: Aircraft, members: Sequence[RunOfSet]) -> None:
        self.aircraft, self.members = aircraft, tuple(members)
        self.base = _plain(gather(aircraft).inputs)
        self._changes = [self._changed(member) for member in self.members]
        self._refuse_shared()
        for each in self._corners():
            self._refuse_acting(each)

    def _changed(self, member: RunOfSet) -> dict[Any, _Change]:
        space = Space(self.aircraft, member.axes)
        made: dict[Any, _Change] = {}
        count = member.candidates.shape[1]
        inputs = _plain(taken(space.whole, space.places(member.candidates)))
        for (path, before), (_, after) in zip(
            stacks.leaves(self.base), stacks.leaves(inputs), strict=True
        ):
            if path[-1] in stacks.ALIKE or not isinstance(before, (float, np.ndarray, np.generic)):
                continue
            now, then = _side_by_side(path, before, after)
            differs = (now != then) & ~(np.isnan(now) & np.isnan(then))
            if differs.any():
                values = np.broadcast_to(then, (count, *then.shape[1:]))
                made[path] = _Change(values, differs.any(axis=(0, 1)))
        return made

    @property
    def numbers(self) -> tuple[Any, ...]:
        """All that the inputs of a set are made of."""
        return (self.base, tuple(self._changes))

    def _refuse_shared(self) -> None:
        for index, one in enumerate(self._changes):
            for at, other in enumerate(self._changes[:index]):
                for path in one.keys() & other.keys():
                    if _overlap(one[path].touched, other[path].touched):
                        self._refuse((self.members[at].run, self.members[index].run))

    def _refuse(self, runs: Sequence[int]) -> None:
        names = " and ".join(repr(self.aircraft.runs[index].name) for index in runs)
        raise InputError(
            "runs",
            told(f"parts of {names} that act on each other, such as a lead that feeds both"),
            "runs that each get parts of their own",
            "Choose the same parts for them together, or leave that kind of part out.",
        )

    def described(self, chosen: Sequence[int]) -> Aircraft:
        """Return the aircraft with a set.

        Parameters
        ----------
        chosen : sequence of int
            The candidate of each member.

        Returns
        -------
        Aircraft
            As a file could describe it.
        """
        made = self.aircraft
        for member, candidate in zip(self.members, chosen, strict=True):
            for axis, value in zip(member.axes, member.candidates[:, candidate], strict=True):
                made = axis.put(made, int(value))
        return made

    def inputs(self, sets: Sequence[Sequence[int]]) -> Inputs:
        """Return sets side by side, as the evaluation takes them.

        Parameters
        ----------
        sets : sequence of sequence of int, shape (set, member)
            The candidate of each member; -1 for one that is taken as dead, and draws nothing.

        Returns
        -------
        Inputs
            With an axis of sets in front of the cases.
        """
        chosen = np.asarray(sets, dtype=np.intp)

        def change(path: tuple[Any, ...], leaf: Any) -> Any:
            made = leaf
            for at, changes in enumerate(self._changes):
                if path in changes:
                    made = _with(path, made, changes[path], chosen[:, at])
            if path == ("cases", "live"):
                made = np.array(np.broadcast_to(made, (len(chosen), *np.shape(leaf))))
                for at, member in enumerate(self.members):
                    made[chosen[:, at] < 0, :, member.run] = 0.0
            return made

        made: Inputs = stacks.with_leaves(self.base, change)
        speed = made.cases.speed
        speed = speed.reshape((1,) * (3 - speed.ndim) + speed.shape)
        return made._replace(cases=made.cases._replace(speed=speed))

    def _corners(self) -> list[list[int]]:
        counts = [member.candidates.shape[1] for member in self.members]
        if not all(counts):
            return []
        choice = np.random.default_rng(len(counts))
        last = [count - 1 for count in counts]
        return [last, *([int(choice.integers(n)) for n in counts] for _ in range(_CORNERS - 1))]

    def _refuse_acting(self, chosen: list[int]) -> None:
        """Refuse runs of which a set is not what it is described as."""
        ours = self.inputs([chosen])
        theirs = _plain(gather(self.described(chosen)).inputs)
        pairs = zip(stacks.leaves(ours), stacks.leaves(theirs), strict=True)
        if not all(alike(path, one, other) for (path, one), (_, other) in pairs):
            self._refuse([member.run for member in self.members])


def _plain(inputs: Inputs) -> Inputs:
    """Return inputs whose level ramps, which say nothing, all begin at nothing."""
    curves = inputs.servos.curves
    starts = np.where(curves.ramp_width > 0, curves.ramp_start, 0.0)
    servos = inputs.servos._replace(curves=curves._replace(ramp_start=starts))
    return inputs._replace(servos=servos)


def _side_by_side(path: tuple[Any, ...], before: Any, after: Any) -> tuple[Floats, Floats]:
    """Return two leaves as (candidate or 1, case or 1, ...), ramps of datasheets as long."""
    own = stacks.own_axes(path)
    pair = []
    for leaf in (np.asarray(before), np.asarray(after)):
        shape = leaf.shape
        pair.append(leaf.reshape((1,) * (2 + own - len(shape)) + shape))
    return _as_long(path, *pair)


def _as_long(path: tuple[Any, ...], one: Floats, other: Floats) -> tuple[Floats, Floats]:
    if "curves" not in path:
        return one, other
    rows = max(one.shape[-1], other.shape[-1])
    each = (
        np.pad(leaf, (*[(0, 0)] * (leaf.ndim - 1), (0, rows - leaf.shape[-1])))
        for leaf in (one, other)
    )
    return next(each), next(each)


def _overlap(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> bool:
    """Tell whether two masks have something in common; of ramps the shorter counts."""
    if one.shape != other.shape:
        rows = min(one.shape[-1], other.shape[-1])
        one, other = one[..., :rows], other[..., :rows]
    return bool((one & other).any())


def _with(path: tuple[Any, ...], leaf: Any, change: _Change, chosen: Whole) -> Floats:
    """Put what a run's candidates change into an array of sets."""
    now, values = _side_by_side(path, leaf, change.values)
    touched = change.touched
    if touched.shape != values.shape[2:]:  # the ramps of other runs are longer
        touched = np.pad(
            touched, (*[(0, 0)] * (touched.ndim - 1), (0, values.shape[-1] - touched.shape[-1]))
        )
    decided = (chosen >= 0).reshape(-1, *[1] * (values.ndim - 1))
    return np.where(touched & decided, values[np.maximum(chosen, 0)], now)
