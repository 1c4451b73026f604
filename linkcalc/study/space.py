"""An aircraft in many variants: every value of every axis, through the one evaluation."""

from __future__ import annotations

from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np

from linkcalc.errors import InputError, InputFaults, LinkcalcError
from linkcalc.evaluation import axes as stacks
from linkcalc.evaluation.gather import gather
from linkcalc.sampled import Unsampled, parted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft

    Whole = NDArray[np.intp]

__all__ = ["Axis", "Space", "alike", "part", "taken"]

_MOST_DESCRIBED = 20_000  # aircraft that are described one by one for one group of axes
_TOGETHER = 1024  # combinations of one kind that are described together
_CORNERS = 6  # aircraft described whole, against what the axes make of them


class Axis(NamedTuple):
    """Something that takes several values.

    Attributes
    ----------
    name : str
        What.
    labels : tuple of str
        Its values in words.
    put : callable
        Aircraft and place of a value to the aircraft with it.
    many : callable, optional
        Aircraft, with samples or without, and places of values of one kind, to the aircraft
        with these as its samples; None where it has to be described with one after another.
    kinds : tuple of int
        Of every value: those of one kind differ in quantities alone. Empty if all do.
    """

    name: str
    labels: tuple[str, ...]
    put: Callable[[Aircraft, int], Aircraft]
    many: Callable[[Aircraft, Whole], Aircraft | None] | None = None
    kinds: tuple[int, ...] = ()

    def taken(self, values: Sequence[int]) -> Axis:
        """Return the axis with some of its values.

        Parameters
        ----------
        values : sequence of int
            Which, in the order in which they are to be.

        Returns
        -------
        Axis
            Of the same name.
        """
        kept, put, many = np.array(values, dtype=np.intp), self.put, self.many
        return Axis(
            self.name,
            tuple(self.labels[at] for at in kept),
            lambda aircraft, at: put(aircraft, int(kept[at])),
            None if many is None else lambda aircraft, at: many(aircraft, kept[at]),
            tuple(self.kinds[at] for at in kept) if self.kinds else (),
        )


Place: TypeAlias = "tuple[slice, ...] | tuple[Whole, ...]"
"""Which part of a space along each group; of some combinations, where each of them is."""


class Space:
    """All combinations of the values of some axes.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    axes : sequence of Axis
        What is put otherwise.

    Attributes
    ----------
    axes : tuple of Axis
        The same.
    shape : tuple of int
        Values of each axis.
    groups : tuple of tuple of int
        Axes that change the same numbers and are taken together; the rest are groups of
        one. Arrays of a block have an axis for each group.

    Raises
    ------
    InputError
        There is no axis, one has no value, or a factor is an axis.
    InputFaults
        A combination is no aircraft that can be evaluated.

    Notes
    -----
    Each value of a group is put into the aircraft once, never every combination. That
    groups do not act on one another is tried on some combinations; where they do, all
    axes are one group.
    """

    def __init__(self, aircraft: Aircraft, axes: Sequence[Axis]) -> None:
        if not axes:
            raise InputError("axes", "none", "at least one", "Say what is to vary.")
        for axis in axes:
            if not axis.labels:
                raise InputError(axis.name, "no value", "at least one", "Give its values.")
        self.aircraft, self.axes = aircraft, tuple(axes)
        self.shape = tuple(len(axis.labels) for axis in axes)
        self._base = gather(self.described((0,) * len(axes))).inputs
        try:
            self._combine()
        except LinkcalcError:  # a value that is refused for what it is
            raise
        except ValueError as error:
            remedy = "Leave that axis out, and check the aircraft once with each of its values."
            raise InputError("axes", str(error), "axes that change numbers", remedy) from None

    def _combine(self) -> None:
        """Find out what acts on what, and put all values side by side."""
        self.groups: tuple[tuple[int, ...], ...]
        single = [self._variants((index,)) for index in range(len(self.axes))]
        changed = [stacks.varying(self._base, variants) for variants in single]
        self.groups = _grouped([set(each) for each in changed])
        self._whole = self._side_by_side(changed)
        if not self._as_described():
            self.groups = (tuple(range(len(self.axes))),)
            self._whole = self._side_by_side(changed)

    @property
    def whole(self) -> Inputs:
        """All values of all groups side by side, as the evaluation takes them."""
        return self._whole

    @property
    def lengths(self) -> tuple[int, ...]:
        """Values of each group."""
        return tuple(prod(self.shape[index] for index in group) for group in self.groups)

    @property
    def size(self) -> int:
        """Number of combinations."""
        return prod(self.shape)

    def described(self, at: Sequence[int]) -> Aircraft:
        """Return the aircraft of one combination.

        Parameters
        ----------
        at : sequence of int
            Place of the value of each axis.

        Returns
        -------
        Aircraft
            As a file could describe it.
        """
        made = self.aircraft
        for axis, index in zip(self.axes, at, strict=True):
            made = axis.put(made, index)
        if made.factors != self.aircraft.factors:
            found = "a safety factor that varies"
            raise InputError("factors", found, "another axis", "Check the aircraft once with each.")
        return made

    def _variants(self, group: tuple[int, ...]) -> list[stacks.Part]:
        """Return the aircraft with every combination of the values of a group."""
        count = prod(self.shape[index] for index in group)
        if count > _MOST_DESCRIBED:
            names = ", ".join(self.axes[index].name for index in group)
            raise InputError(
                names,
                f"{count} combinations that act on each other",
                f"at most {_MOST_DESCRIBED}",
                "Give fewer values.",
            )
        places = np.stack(
            np.unravel_index(np.arange(count), [self.shape[index] for index in group])
        )
        return self._at_places(group, places)

    def _at_places(self, group: tuple[int, ...], places: Whole) -> list[stacks.Part]:
        """Return the aircraft with some combinations of the values of a group, shape (axis, place)."""
        kinds = np.zeros(places.shape[1], dtype=np.intp)
        for index, place in zip(group, places, strict=True):
            own = np.array(self.axes[index].kinds or [0])
            kinds = kinds * (own.max() + 1) + (own[place] if self.axes[index].kinds else 0)
        made: list[stacks.Part] = []
        for kind in np.unique(kinds):
            made += self._of_kind(group, places, np.flatnonzero(kinds == kind))
        return made

    def _of_kind(self, group: tuple[int, ...], places: Whole, which: Whole) -> list[stacks.Part]:
        """Describe some combinations of one kind, all at once where that can be."""
        made: list[stacks.Part] = []
        for start in range(0, len(which), _TOGETHER):
            some = which[start : start + _TOGETHER]
            for part, inputs in parted(some, lambda one: self._together(group, places[:, one])):
                if inputs is not None:
                    made.append(stacks.Part(part, inputs))
                    continue
                for one in part.tolist():
                    at = [0] * len(self.axes)
                    for index, value in zip(group, places[:, one].tolist(), strict=True):
                        at[index] = value
                    made.append(stacks.Part(np.array([one]), gather(self.described(at)).inputs))
        return made

    def _together(self, group: tuple[int, ...], places: Whole) -> Inputs | None:
        """Gather some combinations as samples; None where that cannot be, or one is refused."""
        try:
            return self._as_samples(group, places) if places.shape[1] > 1 else None
        except (InputError, InputFaults, Unsampled):
            return None  # described one by one, the one that is wrong is told

    def _as_samples(self, group: tuple[int, ...], places: Whole) -> Inputs | None:
        made = self.aircraft
        for index, axis in enumerate(self.axes):
            if index not in group:
                made = axis.put(made, 0)
                continue
            changed = axis.many(made, places[group.index(index)]) if axis.many else None
            if changed is None:
                return None
            made = changed
        return None if made.factors != self.aircraft.factors else gather(made).inputs

    def _side_by_side(self, changed: Sequence[dict[stacks.Path, Any]]) -> Inputs:
        """Put the values of all groups side by side, of which those of single axes are known."""
        varied = [
            changed[group[0]]
            if len(group) == 1
            else stacks.varying(self._base, self._variants(group))
            for group in self.groups
        ]
        return stacks.joined(self._base, varied)

    def _as_described(self) -> bool:
        """Tell whether some combinations have the numbers of aircraft that are described whole.

        The last values of all axes first, without what puts many values together.
        """
        choice = np.random.default_rng(len(self.shape))
        some = [[int(choice.integers(count)) for count in self.shape] for _ in range(_CORNERS - 1)]
        corners = np.array([[count - 1 for count in self.shape], *some], dtype=np.intp).T
        one, others = corners[:, 0].tolist(), corners[:, 1:]
        whole = stacks.Part(np.array([0]), gather(self.described(one)).inputs)
        rest = self._at_places(tuple(range(len(self.axes))), others)
        rest = [stacks.Part(1 + each.places, each.inputs) for each in rest]
        theirs = stacks.inserted(self._base, [[whole, *rest]])
        ours = taken(self._whole, self.places(corners))
        pairs = zip(stacks.leaves(ours), stacks.leaves(theirs), strict=True)
        return all(alike(path, one, other) for (path, one), (_, other) in pairs)

    def blocks(self, at_once: int) -> Iterator[tuple[slice, ...]]:
        """Cut the space into parts.

        Parameters
        ----------
        at_once : int
            Combinations in a part, at most, and parts are as good as equal; one value of all
            groups but the longest is never cut.

        Yields
        ------
        tuple of slice
            One after another, as `part` takes them.
        """
        lengths = self.lengths
        longest = int(np.argmax(lengths))
        rest = prod(lengths) // lengths[longest]
        parts = -(-lengths[longest] // max(1, at_once // rest))
        step = -(-lengths[longest] // parts)
        for start in range(0, lengths[longest], step):
            place = [slice(0, length) for length in lengths]
            place[longest] = slice(start, min(start + step, lengths[longest]))
            yield tuple(place)

    def listed(self, wanted: NDArray[np.bool_], at_once: int) -> Iterator[tuple[Whole, ...]]:
        """Cut some of the combinations into parts.

        Parameters
        ----------
        wanted : ndarray of bool, shape (group, ...)
            Which.
        at_once : int
            Combinations in a part, at most.

        Yields
        ------
        tuple of ndarray of int
            One after another, as `part` takes them.
        """
        every = np.nonzero(wanted)
        for start in range(0, len(every[0]), at_once):
            yield tuple(each[start : start + at_once] for each in every)

    def places(self, at: NDArray[np.intp]) -> list[NDArray[np.intp]]:
        """Return where some combinations are along every group.

        Parameters
        ----------
        at : ndarray of int, shape (axis, combination)
            Place of the value of each axis.

        Returns
        -------
        list of ndarray of int, shape (combination,)
            As `taken` takes it.
        """
        return [
            np.ravel_multi_index(tuple(at[i] for i in group), tuple(self.shape[i] for i in group))
            for group in self.groups
        ]

    def by_group(self, values: Any) -> Any:
        """Return an array with an axis for every group instead of the axes of the space.

        Parameters
        ----------
        values : ndarray, shape (axis, ...)
            By axis.

        Returns
        -------
        ndarray, shape (group, ...)
            As `spread` takes it.
        """
        order = [index for group in self.groups for index in group]
        lengths = [prod(self.shape[index] for index in group) for group in self.groups]
        return np.transpose(values, order).reshape(lengths)

    def spread(self, values: Any, behind: int) -> Any:
        """Return an array with an axis for every axis of the space instead of its groups.

        Parameters
        ----------
        values : ndarray, shape (..., group, behind)
            By group.
        behind : int
            Axes behind those of the groups.

        Returns
        -------
        ndarray, shape (..., axis, behind)
            In the order of the axes.
        """
        count = len(self.groups)
        ahead = values.ndim - count - behind
        order = [index for group in self.groups for index in group]
        lengths = [self.shape[index] for index in order]
        wide = values.reshape(
            *values.shape[:ahead], *lengths, *values.shape[values.ndim - behind :]
        )
        return np.moveaxis(
            wide,
            [ahead + place for place in range(len(order))],
            [ahead + index for index in order],
        )


def alike(path: tuple[Any, ...], one: Any, other: Any) -> bool:
    """Tell whether a leaf is the same, with level ramps behind or without.

    Parameters
    ----------
    path : tuple
        Where it is.
    one, other : object
        What is there.

    Returns
    -------
    bool
        nan is the same as nan, and axes of length 1 in front count for nothing.
    """
    if isinstance(one, (str, tuple)) or path[-1] in stacks.ALIKE:
        return True  # told before, if it is not
    if "curves" in path:
        rows = min(one.shape[-1], other.shape[-1])
        if one[..., rows:].any() or other[..., rows:].any():
            return False
        one, other = one[..., :rows], other[..., :rows]
    one, other = np.broadcast_arrays(one, other)
    return bool(np.array_equal(one, other, equal_nan=one.dtype.kind == "f"))


def _grouped(changed: Sequence[set[Any]]) -> tuple[tuple[int, ...], ...]:
    """Join axes that change the same leaf, directly or through another axis."""
    groups: list[tuple[list[int], set[Any]]] = []
    for index, leaves in enumerate(changed):
        joined, kept = ([index], set(leaves)), []
        for members, known in groups:
            if known & joined[1]:
                joined = ([*members, *joined[0]], known | joined[1])
            else:
                kept.append((members, known))
        groups = [*kept, joined]
    return tuple(sorted(tuple(sorted(members)) for members, _ in groups))


def taken(whole: Inputs, place: Sequence[NDArray[np.intp]]) -> Inputs:
    """Return some combinations side by side, in place of the axes in front of the cases.

    Parameters
    ----------
    whole : Inputs
        With any axes in front of the cases.
    place : sequence of ndarray of int, shape (combination,)
        Where each is along every one of these axes.

    Returns
    -------
    Inputs
        With one axis in front of the cases; of length 1 where nothing varies.
    """

    def change(path: tuple[Any, ...], leaf: Any) -> Any:
        if isinstance(leaf, (str, tuple)) or path[-1] in stacks.ALIKE:
            return leaf
        ahead = np.ndim(leaf) - stacks.own_axes(path) - 1  # axes in front of the case
        if ahead <= 0:
            return leaf
        lengths = leaf.shape[:ahead]
        if set(lengths) == {1}:
            return leaf.reshape(1, *leaf.shape[ahead:])
        chosen = place[len(place) - ahead :]
        return leaf[tuple(i if n > 1 else 0 * i for i, n in zip(chosen, lengths, strict=True))]

    made: Inputs = stacks.with_leaves(whole, change)
    return made


def part(whole: Inputs, place: Place) -> Inputs:
    """Return a part of a space, as the evaluation takes it.

    Parameters
    ----------
    whole : Inputs
        All of it, with an axis for every group in front of the cases.
    place : tuple of slice, or of ndarray of int, shape (combination,)
        Which part along each group; of some combinations, where each of them is.

    Returns
    -------
    Inputs
        With the same axes, or with one axis for the combinations. An array of which nothing
        is cut away is the very same one.
    """
    if not isinstance(place[0], slice):
        return taken(whole, place)
    count = len(place)

    def change(path: tuple[Any, ...], leaf: Any) -> Any:
        if isinstance(leaf, (str, tuple)) or path[-1] in stacks.ALIKE:
            return leaf
        ahead = np.ndim(leaf) - stacks.own_axes(path) - 1  # axes in front of the case
        if ahead <= 0:
            return leaf
        cuts = [
            slice(None) if length in {1, each.stop - each.start} else each
            for each, length in zip(place[count - ahead :], leaf.shape, strict=False)
        ]
        return leaf if all(each == slice(None) for each in cuts) else leaf[tuple(cuts)]

    made: Inputs = stacks.with_leaves(whole, change)
    return made
