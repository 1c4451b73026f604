"""Many aircraft at once: variants of one description as axes in front of its arrays.

An array that is the same in all variants stays as it is, so nothing is computed
twice that does not depend on what varies: the air load not by servo, the supply
not by deflection.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.inputs import Cases
from linkcalc.sampled import Sampled

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs

__all__ = [
    "Part",
    "Path",
    "flattened",
    "inserted",
    "joined",
    "leaves",
    "of_samples",
    "own_axes",
    "picked",
    "varies_by_case",
    "varying",
    "with_leaves",
]

Path = tuple[str | int, ...]

ALIKE = ("owner", "first", "rank", "solver", "parent", "servo_node", "receiver_node", "basis")
_ROWS = "curves"
WHOLE = (("solver",), ("chains",), ("node_names",))
"""Tuples that are leaves themselves: ends of their paths."""


class Part(NamedTuple):
    """Some variants of an aircraft.

    Attributes
    ----------
    places : ndarray of int, shape (variant,)
        Which they are.
    inputs : Inputs
        Of one, or gathered from sampled quantities: what depends on these has an axis of
        samples in front.
    """

    places: NDArray[np.intp]
    inputs: Inputs


def leaves(tree: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """List the arrays of a tree of tuples and mappings, with where they are.

    Parameters
    ----------
    tree : tuple, dict or array
        Nested to any depth.
    path : tuple
        Where the tree itself is.

    Yields
    ------
    tuple
        Field names, keys or places on the way, and what is there.

    Examples
    --------
    >>> dict(leaves({"load": (1.0, 2.0)}))
    {('load', 0): 1.0, ('load', 1): 2.0}
    """
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from leaves(value, (*path, key))
    elif isinstance(tree, tuple) and path[-1:] not in WHOLE:
        names = getattr(tree, "_fields", range(len(tree)))
        for name, value in zip(names, tree, strict=True):
            yield from leaves(value, (*path, name))
    else:
        yield path, tree


def with_leaves(tree: Any, change: Callable[[Path, Any], Any], path: Path = ()) -> Any:
    """Return a tree of the same shape with every leaf changed.

    Parameters
    ----------
    tree : tuple, dict or array
        Nested to any depth.
    change : callable
        Where a leaf is and what it is, to what it becomes.
    path : tuple
        Where the tree itself is.

    Returns
    -------
    tuple, dict or array
        Of the types of the given one.

    Examples
    --------
    >>> with_leaves({"load": (1.0, 2.0)}, lambda path, value: 2 * value)
    {'load': (2.0, 4.0)}
    """
    if isinstance(tree, dict):
        return {key: with_leaves(value, change, (*path, key)) for key, value in tree.items()}
    if isinstance(tree, tuple) and path[-1:] not in WHOLE:
        if hasattr(tree, "_fields"):
            pairs = zip(tree._fields, tree, strict=True)
            return type(tree)(*(with_leaves(value, change, (*path, name)) for name, value in pairs))
        return tuple(with_leaves(value, change, (*path, at)) for at, value in enumerate(tree))
    return change(path, tree)


def inserted(base: Inputs, axes: Sequence[Sequence[Inputs | Part]]) -> Inputs:
    """Return an aircraft with its variants along axes of their own.

    Parameters
    ----------
    base : Inputs
        The aircraft as it is.
    axes : sequence of sequence of Inputs or Part
        For every axis the same aircraft with one thing put otherwise.

    Returns
    -------
    Inputs
        With an axis for each in front of the cases; what no variant changes has none, and
        what one axis changes has length 1 along the others.

    Raises
    ------
    ValueError
        Two axes change the same array, so that they are no axes of their own, or a
        variant changes what is no number: the count of surfaces, a solver, the tree.

    Notes
    -----
    `evaluate` takes the answer as it takes any aircraft, with factors of as many axes.
    """
    return joined(base, [varying(base, variants) for variants in axes])


def joined(base: Inputs, found: Sequence[dict[Path, NDArray[Any]]]) -> Inputs:
    """Return an aircraft with what differs between its variants along axes of their own.

    Parameters
    ----------
    base : Inputs
        The aircraft as it is.
    found : sequence of dict of tuple to ndarray
        For every axis what differs, as `varying` finds it.

    Returns
    -------
    Inputs
        As `inserted` has it.

    Raises
    ------
    ValueError
        Two axes change the same array, so that they are no axes of their own.
    """
    twice = [path for one, other in _pairs(found) for path in one if path in other]
    if twice:
        raise ValueError(f"two axes change {'.'.join(map(str, twice[0]))}")
    count = len(found)

    def change(path: Path, leaf: Any) -> Any:
        for place, varied in enumerate(found):
            if path in varied:
                stack = varied[path]
                case = () if path[0] == "cases" and path[1] in _BY_CASE else (1,)
                ahead = [1] * count
                ahead[place] = len(stack)
                return stack.reshape(*ahead, *case, *stack.shape[1:])
        return leaf

    made: Inputs = with_leaves(base, change)
    speed = made.cases.speed  # tells everybody how many axes there are
    speed = speed.reshape((1,) * (count + 2 - speed.ndim) + speed.shape)
    return made._replace(cases=made.cases._replace(speed=speed))


def of_samples(inputs: Inputs) -> Inputs:
    """Put the axis of samples in front of that of the cases.

    Parameters
    ----------
    inputs : Inputs
        Gathered from an aircraft of sampled quantities: what depends on them has an axis
        of samples in front of its own.

    Returns
    -------
    Inputs
        As `inserted` would make it of an aircraft for every sample.
    """

    def change(path: Path, leaf: Any) -> Any:
        if isinstance(leaf, (str, tuple)) or path[-1] in ALIKE:
            return leaf
        plain, own = np.asarray(leaf), own_axes(path)
        by_case = path[0] == "cases" and path[1] in _BY_CASE
        if by_case or plain.ndim == own:
            return plain if isinstance(leaf, Sampled) else leaf
        return plain.reshape(len(plain), 1, *plain.shape[1:])

    made: Inputs = with_leaves(inputs, change)
    speed = made.cases.speed  # tells everybody how many axes there are
    return made._replace(cases=made.cases._replace(speed=speed.reshape(-1, *speed.shape[-2:])))


_BY_CASE = tuple(name for name in Cases._fields if not name.startswith("throw"))


def _pairs(items: Sequence[Any]) -> Iterator[tuple[Any, Any]]:
    return ((one, other) for i, one in enumerate(items) for other in items[:i])


def varying(base: Inputs, variants: Sequence[Inputs | Part]) -> dict[Path, NDArray[Any]]:
    """Return what differs between variants of an aircraft.

    Parameters
    ----------
    base : Inputs
        The aircraft as it is.
    variants : sequence of Inputs or Part
        The same with something put otherwise; of parts, all places occur once.

    Returns
    -------
    dict of tuple to ndarray, shape (variant, ...)
        Where each array that is not the same in all of them is, and it in every variant.

    Raises
    ------
    ValueError
        A variant changes what is no number.
    """
    parts = [
        each if isinstance(each, Part) else Part(np.array([place]), each)
        for place, each in enumerate(variants)
    ]
    listed = [dict(leaves(part.inputs)) for part in parts]
    known = dict(leaves(base)).keys()
    if any(each.keys() != known for each in listed):
        raise ValueError("a variant names flows at surfaces that the aircraft as it is does not")
    made = {}
    for path, leaf in leaves(base):
        values: list[Any] = [each.get(path) for each in listed]
        if path[-1] == "node_names":  # what a lead is called changes nothing
            continue
        if path[-1] in ALIKE or not isinstance(leaf, (float, int, np.ndarray, np.generic)):
            if not all(_same(leaf, value) for value in values):
                raise ValueError(f"a variant has another {'.'.join(map(str, path))}")
            continue
        if _ROWS in path:
            values = _as_long(values)
        arrays = [np.asarray(value) for value in values]
        if any(_differs(np.asarray(leaf), each) for each in arrays):
            made[path] = _stacked(path, parts, arrays)
    return made


def _differs(leaf: NDArray[Any], other: NDArray[Any]) -> bool:
    """Tell whether a leaf is not the same in all variants of a part."""
    if leaf.shape != other.shape[other.ndim - leaf.ndim :]:
        return True
    same = np.asarray(other == leaf)
    if same.all():
        return False
    return other.dtype.kind != "f" or not (same | (np.isnan(leaf) & np.isnan(other))).all()


def _stacked(path: Path, parts: Sequence[Part], arrays: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Return a leaf in every variant, shape (variant, ...)."""
    own = own_axes(path) + (path[0] == "cases" and path[1] in _BY_CASE)
    count = sum(len(part.places) for part in parts)
    made = np.empty((count, *arrays[0].shape[arrays[0].ndim - own :]), arrays[0].dtype)
    for part, array in zip(parts, arrays, strict=True):
        made[part.places] = array
    return made


def _same(one: Any, other: Any) -> bool:
    """Tell whether two leaves that are no numbers are alike, all through."""
    pairs = list(leaves(one)), list(leaves(other))
    if [path for path, _ in pairs[0]] != [path for path, _ in pairs[1]]:
        return False
    arrays = ((np.asarray(a), np.asarray(b)) for (_, a), (_, b) in zip(*pairs, strict=True))
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in arrays)


def _as_long(values: Sequence[Any]) -> list[Any]:
    """Return ramps of datasheets with level ones behind, so that all have as many."""
    longest = max(value.shape[-1] for value in values)
    return [
        np.pad(value, (*[(0, 0)] * (value.ndim - 1), (0, longest - value.shape[-1])))
        for value in values
    ]


_OWN_AXES = {  # of a leaf that is not one for each run, surface, servo or node
    **dict.fromkeys(
        ("servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn", "normal"), 2
    ),
    **dict.fromkeys(
        ("density", "viscosity", "flight_speed", "incidence", "sideslip", "sustained"), 0
    ),
    **dict.fromkeys(("limit", "receiver_minimum", "input_voltage", "heat_rating"), 0),
    **dict.fromkeys(("inrush_multiple", "air_temperature", "warming"), 0),
    "sent": 2,
    **dict.fromkeys(("open_circuit_voltage", "internal_resistance", "current_limit"), 0),
    **dict.fromkeys(("seek_latch_up", "seek_details", "return_contacts"), 0),
}
_OWN_BY_PARENT = {"swing": 2, "curves": 2}


def own_axes(path: Path) -> int:
    """Return how many axes a leaf has of its own, that of the cases and all in front not counted.

    Parameters
    ----------
    path : tuple
        Where it is, as `leaves` tells.

    Returns
    -------
    int
        Axes for surface, run, servo or node, and what comes behind.
    """
    if len(path) > 1 and path[-2] in _OWN_BY_PARENT:
        return _OWN_BY_PARENT[str(path[-2])]
    return _OWN_AXES.get(str(path[-1]), 1)


def flattened(inputs: Inputs) -> Inputs:
    """Return an aircraft whose variants are cases.

    Parameters
    ----------
    inputs : Inputs
        With any axes in front of the cases.

    Returns
    -------
    Inputs
        Without them: every variant in every case is a case, the cases of one variant side
        by side. What varies has an axis for them.
    """
    shape = _common(inputs)
    if len(shape) == 1:
        return inputs

    def change(path: Path, leaf: Any) -> Any:
        if isinstance(leaf, (str, tuple)):
            return leaf
        own, given = own_axes(path), np.ndim(leaf)
        by_case = path[0] == "cases" and path[1] in _BY_CASE
        if path[-1] in ALIKE or (given <= own and not by_case):
            return leaf
        behind = np.shape(leaf)[given - own :]
        return np.broadcast_to(leaf, (*shape, *behind)).reshape(-1, *behind)

    made: Inputs = with_leaves(inputs, change)
    return made


def varies_by_case(inputs: Inputs) -> bool:
    """Tell whether more than the flight cases themselves differs from case to case.

    Parameters
    ----------
    inputs : Inputs
        Without axes in front of the cases.

    Returns
    -------
    bool
        As `flattened` leaves it where there were variants.
    """
    return any(
        np.ndim(leaf) > own_axes(path)
        for path, leaf in leaves(inputs)
        if path[0] != "cases" and isinstance(leaf, np.ndarray) and path[-1] not in ALIKE
    )


def picked(inputs: Inputs, where: tuple[NDArray[np.intp], ...]) -> Inputs:
    """Return an aircraft in some of its variants and cases, each as often as it is named.

    Parameters
    ----------
    inputs : Inputs
        With any axes in front of the cases.
    where : tuple of ndarray of int, shape (n,)
        Which, along every axis up to that of the cases.

    Returns
    -------
    Inputs
        With n cases and no axes in front of them.
    """

    def change(path: Path, leaf: Any) -> Any:
        if isinstance(leaf, (str, tuple)) or path[-1] in ALIKE:
            return leaf
        ahead = np.shape(leaf)[: np.ndim(leaf) - own_axes(path)]
        if not ahead:
            return leaf
        chosen = where[len(where) - len(ahead) :]
        return leaf[tuple(i if n > 1 else 0 * i for i, n in zip(chosen, ahead, strict=True))]

    made: Inputs = with_leaves(inputs, change)
    return made


def _common(inputs: Inputs) -> tuple[int, ...]:
    """Return the axes in front of run or surface that all leaves have together."""
    found = []
    for path, leaf in leaves(inputs):
        if isinstance(leaf, (str, tuple)) or path[-1] in ALIKE:
            continue
        found.append(np.shape(leaf)[: np.ndim(leaf) - own_axes(path)])
    return np.broadcast_shapes(*found)
