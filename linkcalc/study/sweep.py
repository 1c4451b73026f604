"""Any fields of an aircraft over ranges: margins and values as labelled arrays."""

from __future__ import annotations

import re
from functools import partial
from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import refuse_unknown_solvers, settled
from linkcalc.errors import InputError, shown, told
from linkcalc.evaluation.axes import flattened
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import Factors, both, factors
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.results import MODES
from linkcalc.study.merging import of_samples
from linkcalc.study.paths import placed, spec_at
from linkcalc.study.running import Workers, worked
from linkcalc.study.space import Axis, Space, part
from linkcalc.study.trials import margins_that_apply
from linkcalc.units import state

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Mapping, Sequence

    import xarray
    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["field_axis", "over_of", "sweep"]

_AT_ONCE = 400_000  # nodes of deflection that are looked at together: some tens of megabytes
_NODES = 61
_MOST = 2_000_000  # combinations times runs times cases in one answer


class _Quantity(NamedTuple):
    name: str
    unit: str
    of: Callable[[Answer], Floats]


_VALUES = (
    _Quantity("hinge moment", "N*m", lambda a: a.governing.moment),
    _Quantity("governing deflection", "deg", lambda a: np.degrees(a.governing.deflection)),
    _Quantity("moving torque", "N*m", lambda a: a.governing.move[0]),
    _Quantity("torque available", "N*m", lambda a: a.torque_available[0]),
    _Quantity("voltage at work", "V", lambda a: a.delivered.at_work[0]),
    _Quantity("voltage at limit", "V", lambda a: a.delivered.at_limit[0]),
    _Quantity("current at work", "A", lambda a: a.delivered.current_at_work[0]),
    _Quantity("rod force", "N", lambda a: a.governing.rod_force),
    _Quantity("surface rate under load", "deg/s", lambda a: np.degrees(np.maximum(a.rate[0], 0.0))),
)
_SPEEDS = ("torque limit speed", "freeze speed", "placard speed")


def field_axis(path: str, values: Sequence[Any]) -> Axis:
    """Return a field of an aircraft as an axis.

    Parameters
    ----------
    path : str
        Where it is, such as ``runs['elevator'].arm`` or ``leads.tail.gauge``.
    values : sequence
        What it takes, one after another.

    Returns
    -------
    Axis
        With the values in words for labels.
    """
    kept = tuple(values)

    def many(aircraft: Aircraft, at: Whole) -> Aircraft | None:
        spec = spec_at(aircraft, path)
        if spec is None or spec.form != "quantity":
            return None
        sizes = np.array([state(path, kept[place], spec.kind).si for place in range(len(kept))])
        return placed(aircraft, path, of_samples(spec.kind, sizes[at]))

    return Axis(
        path,
        tuple(str(each) for each in kept),
        lambda aircraft, at: placed(aircraft, path, kept[at]),
        many,
    )


def over_of(words: Sequence[str], kinds: Sequence[str] = ()) -> dict[str, Any]:
    """Read fields and their values as a command line has them.

    Parameters
    ----------
    words : sequence of str
        Each a path, an equals sign, and values with semicolons between.
    kinds : sequence of str
        What may stand without values, for all that a catalogue has.

    Returns
    -------
    dict of str to list or None
        For `sweep`; plain numbers are numbers, all else text; None for all.

    Raises
    ------
    InputError
        One is none of these, or a path stands twice.

    Examples
    --------
    >>> over_of(["supply.voltage=5 V; 6 V"])
    {'supply.voltage': ['5 V', '6 V']}
    """
    made: dict[str, Any] = {}
    for each in words:
        path, equals, listed = each.partition("=")
        values = [_number(value.strip()) for value in listed.split(";") if value.strip()]
        path = path.strip()
        whole = path in kinds and not equals
        if not whole and not (path and equals and values):
            expected = "PATH=VALUES, such as 'supply.voltage=5 V; 6 V'"
            if kinds:
                expected = f"{', '.join(kinds)}, or {expected}"
            raise InputError("--over", each, expected, "Write an equals sign and values.")
        if path in made:
            found = told(f"{shown(path)} twice")
            remedy = "Write all its values behind one --over."
            raise InputError("--over", found, "each field once", remedy)
        made[path] = None if whole else values
    return made


_PLAIN = re.compile(r"[-+]?(?:[0-9]{1,15}(\.[0-9]{0,15})?|(\.[0-9]{1,15}))")


def _number(word: str) -> Any:
    """Return a plain number as one, anything else as it stands."""
    match = _PLAIN.fullmatch(word)
    if match is None:
        return word
    return float(word) if match[1] or match[2] else int(word)


def sweep(
    aircraft: Aircraft | str | os.PathLike[str],
    over: Mapping[str, Sequence[Any]],
    *,
    speeds: bool = False,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> xarray.Dataset:
    """Check an aircraft with every combination of values of some of its fields.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    over : mapping of str to sequence
        For every field by its path, such as ``cases['dive'].speed``, the values that it
        takes: quantities, their texts, numbers, words or parts.
    speeds : bool
        Whether to seek the limits of speed too, which takes some ten times as long.
    workers : Workers, optional
        Processes or a cluster; this process alone by default.
    progress : callable, optional
        Is told how many combinations are done, and of how many.

    Returns
    -------
    xarray.Dataset
        ``margin`` and ``plain margin`` with the dimensions mode, fields, case and run, nan
        where a mode does not apply or cannot be computed, ``applies`` to tell these apart,
        ``least margin``, and values in the units of their attribute ``units``. Where it was
        interrupted, the attribute ``complete`` is 0 and what is missing is nan.

    Raises
    ------
    InputError, InputFaults
        A field, a value or the aircraft cannot be used, or the answer would be too large.
    ImportError
        xarray is not installed: ``pip install 'linkcalc[study]'``.

    Examples
    --------
    >>> swept = sweep("examples/sandpiper.toml", {"supply.voltage": ["5 V", "6 V"]})
    >>> swept.margin.dims
    ('mode', 'supply.voltage', 'case', 'run')
    >>> float(swept["voltage at work"].min()) < 5
    True
    """
    import xarray  # noqa: PLC0415 - an extra, and slow to import

    described = aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft)
    refuse_unknown_solvers(described)
    described = settled(described)  # a dive's speed stays that of the aircraft as described
    counts, size = (len(described.cases), len(described.runs)), prod(map(len, over.values()))
    if size * prod(counts) > _MOST:
        found = f"{size} combinations of {prod(counts)} runs in cases"
        raise InputError("over", found, f"{_MOST} together at most", "Give fewer values.")
    space = Space(described, [field_axis(path, values) for path, values in over.items()])
    filled = _Filled(space, counts, speeds=speeds)
    used = factors(described.factors)
    at_once = max(1, _AT_ONCE // (_NODES * prod(counts)))
    places: list[tuple[slice, ...]] = []

    def tasks() -> Any:
        for place in space.blocks(at_once):
            places.append(place)
            yield (part(space.whole, place),)

    work = partial(_evaluated, used=used, groups=len(space.groups), speeds=speeds)
    complete = True
    try:
        for place, values in worked(work, tasks(), workers or Workers()):
            filled.put(places[place], values)
            if progress:
                progress(filled.done, space.size)
    except KeyboardInterrupt:
        complete = False
    return filled.dataset(xarray, over, described, complete=complete)


def _evaluated(inputs: Inputs, *, used: Factors, groups: int, speeds: bool) -> dict[str, Floats]:
    """Return margins and values of a block, the axes of its groups before case and run."""
    stacked, linkages = both(used, 3 + groups), prepare(inputs)
    inputs = with_warm_copper(inputs, stacked, linkages)
    answer = evaluate(inputs, stacked, linkages)
    shape = answer.rate.shape[1:]
    made = {quantity.name: quantity.of(answer) for quantity in _VALUES}
    made["margin"] = margins_that_apply(answer, inputs)
    plain = np.stack([np.broadcast_to(each.margin[1], shape) for each in answer.margins])
    made["plain margin"] = np.where(np.isinf(made["margin"]), np.inf, plain)
    if speeds:
        flat = flattened(inputs)
        found = find_speeds(flat, used, prepare(flat))
        limits = found.torque_limit, found.freeze, found.placard
        made |= {
            name: limit.speed.reshape(shape) for name, limit in zip(_SPEEDS, limits, strict=True)
        }
    return {
        name: np.broadcast_to(each, (*each.shape[: each.ndim - len(shape)], *shape))
        for name, each in made.items()
    }


_WRITTEN = re.compile(r"\s*([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)\s*(.*)")


def _coordinate(path: str, values: Sequence[Any]) -> tuple[str, Any, dict[str, str]]:
    """Return numbers with their unit where all values have the same, words otherwise."""
    if all(isinstance(each, (int, float)) for each in values):
        return path, np.array(values, dtype=np.float64), {"units": "1"}
    found = [_WRITTEN.fullmatch(str(each)) for each in values]
    units = {match[2].strip() for match in found if match}
    if all(found) and len(units) == 1:
        numbers = np.array([float(match[1]) for match in found if match])
        return path, numbers, {"units": units.pop() or "1"}
    return path, np.array([str(each) for each in values]), {}


class _Filled:
    """Arrays that blocks are put into."""

    def __init__(self, space: Space, counts: tuple[int, int], *, speeds: bool) -> None:
        self.space = space
        lengths = [prod(space.shape[index] for index in group) for group in space.groups]
        shape = (*lengths, *counts)
        names = [quantity.name for quantity in _VALUES] + (list(_SPEEDS) if speeds else [])
        self.values = {name: np.full(shape, np.nan) for name in names}
        for name in ("margin", "plain margin"):
            self.values[name] = np.full((len(MODES), *shape), np.nan)
        self.done = 0

    def put(self, place: tuple[slice, ...], values: dict[str, Floats]) -> None:
        for name, each in values.items():
            ahead = (slice(None),) * (self.values[name].ndim - len(place) - 2)
            self.values[name][(*ahead, *place)] = each
        self.done += prod(part.stop - part.start for part in place)

    def dataset(
        self, library: Any, over: Mapping[str, Sequence[Any]], aircraft: Aircraft, *, complete: bool
    ) -> xarray.Dataset:
        paths = tuple(over)
        dims = (*paths, "case", "run")
        spread = {name: self.space.spread(each, 2) for name, each in self.values.items()}
        margin = spread["margin"]
        applies = np.isfinite(margin) | np.isnan(margin)
        units = {quantity.name: quantity.unit for quantity in _VALUES}
        units |= dict.fromkeys(_SPEEDS, "m/s")
        least = np.where(np.isnan(margin).any(0), np.nan, margin.min(0))
        variables: dict[str, Any] = {
            "margin": (("mode", *dims), np.where(applies, margin, np.nan), {"units": "1"}),
            "plain margin": (
                ("mode", *dims),
                np.where(applies, spread["plain margin"], np.nan),
                {"units": "1"},
            ),
            "applies": (("mode", *dims), applies.astype(np.int8), {"units": "1"}),
            "least margin": (dims, least, {"units": "1"}),
        }
        for name, unit in units.items():
            if name in spread:
                variables[name] = (dims, spread[name], {"units": unit})
        names = [case.name for case in aircraft.cases], [run.name for run in aircraft.runs]
        coords: dict[str, Any] = {"mode": list(MODES), "case": names[0], "run": names[1]}
        coords |= {path: _coordinate(path, values) for path, values in over.items()}
        attributes = {
            "title": f"sweep of {aircraft.name}",
            "comment": "an estimate; prove the installation on the bench before flight",
            "complete": int(complete),
        }
        made: xarray.Dataset = library.Dataset(variables, coords, attributes)
        return made
