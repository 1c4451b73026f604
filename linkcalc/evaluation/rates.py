"""The least rate of a surface under load, over the range that a case asks for."""

from __future__ import annotations

from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.axes import picked
from linkcalc.evaluation.governing import taken, worst_move
from linkcalc.evaluation.inputs import by_run
from linkcalc.evaluation.linkage import picked_linkages
from linkcalc.evaluation.loads import bear
from linkcalc.evaluation.search import FINER_NODES, beside, best_of_some, nodes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.governing import Sweep
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.evaluation.loads import Bearing

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = ["Search", "least_rate", "searches"]

_MANY = 8  # servos on a linkage from which it pays to find out where one can be slowest
_PLACES = 9  # over one by torque, at which nodes are compared
_BLOCK = 8192  # servos on lines that are looked at together
_NEAR = 1e-8  # of the greatest, within which a node may be it


def searches(
    inputs: Inputs, linkages: Linkages, sweep: Sweep, share: Floats, bases: tuple[int, ...]
) -> tuple[Search, ...]:
    """Make ready to look for the least rate of surfaces.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    sweep : Sweep
        Over the part of the commanded range that is reached.
    share : ndarray, shape (basis, ..., case, run)
        Of the load that each servo of a run takes [-].
    bases : tuple of int
        What each place of the basis axis stands for.

    Returns
    -------
    tuple of Search
        One for each basis.
    """
    return tuple(
        Search(inputs, linkages, sweep, share[place], place, basis)
        for place, basis in enumerate(bases)
    )


def least_rate(ready: Sequence[Search], *, no_load: Floats, stall: Floats) -> Floats:
    r"""Return the least rate of any surface over the range.

    .. math:: \min_\delta \left| \frac{d\delta}{d\theta} \right| \omega_0
              \left(1 - \frac{T_{move}(\delta)}{T_s}\right)

    Parameters
    ----------
    ready : sequence of Search
        For each basis, as `searches` makes them.
    no_load, stall : ndarray, shape (basis, ..., case, run)
        No-load speed [rad/s] and stall torque [N m] of every servo at its voltage.

    Returns
    -------
    ndarray, shape (basis, ..., case, run)
        Rate of the slowest surface, negative where the servo stalls; nan where nothing is
        reached or the servo has no torque [rad/s].

    Notes
    -----
    Slopes and torques are those of the linkage and the air, whatever the servo: many
    servos on one linkage share them, and where they are looked at more closely, too.
    """
    per_torque = np.where(stall > 0, stall, np.nan)
    np.divide(1.0, per_torque, out=per_torque)
    made = np.stack([search.greatest(each) for search, each in zip(ready, per_torque, strict=True)])
    return np.negative(made, out=made) * no_load


class _Tables(NamedTuple):
    """Slope of the slowest surface and torque to move at some deflections."""

    slope: Floats
    torque: Floats

    def slowness(self, per_torque: Floats) -> Floats:
        """Return how much slower than standing still; -1 times the slope without load."""
        return np.asarray((self.torque * per_torque - 1) * self.slope)


def _may_count(tables: _Tables, least: Floats, most: Floats) -> Flags:
    r"""Tell at which nodes some servo may be slowest, shape (..., node).

    The slowness at a node is a straight line over one by torque, and the greatest of them is
    convex: between two places it lies above the lines that are greatest at these. A node
    whose line lies below their crossing, and below both at the places, never counts.
    """
    share = np.linspace(0.0, 1.0, _PLACES)
    place = least[..., None] + (most - least)[..., None] * share
    rise = tables.torque * tables.slope
    height = rise[..., None] * place[..., None, :] - tables.slope[..., None]  # (..., node, place)
    filled = np.where(np.isnan(height), -np.inf, height)
    best = filled.argmax(-2)
    wide = np.broadcast_to(rise, height.shape[:-1])
    slope = np.broadcast_to(tables.slope, height.shape[:-1])
    lines = [np.take_along_axis(each, best, -1) for each in (wide, slope)]
    apart = np.diff(lines[0], axis=-1)
    crossing = np.diff(lines[1], axis=-1) / np.where(apart == 0, 1.0, apart)
    crossing = np.where(
        apart == 0, place[..., :-1], np.clip(crossing, place[..., :-1], place[..., 1:])
    )
    every = np.concatenate((place, crossing), axis=-1)
    height = wide[..., None] * every[..., None, :] - slope[..., None]
    known = np.take_along_axis(wide, best, -1), np.take_along_axis(slope, best, -1)
    bound = np.concatenate(
        (known[0] * place - known[1], known[0][..., :-1] * crossing - known[1][..., :-1]), axis=-1
    )[..., None, :]
    return np.asarray((height >= bound - _NEAR * np.abs(bound)).any(-1))


def _few(counting: Flags) -> Whole:
    """Return the nodes that count, as many for every range, shape (..., n), ascending."""
    most = max(1, int(counting.sum(-1).max()))
    return np.sort(np.argsort(~counting, axis=-1, kind="stable")[..., :most], axis=-1)


def _seen(tables: _Tables, per_torque: Floats, kept: Whole) -> tuple[Whole, Floats, Flags]:
    """Look at all servos on every line of nodes, in blocks that stay in cache.

    Tables have the shape (line, node), `kept` (line, kept node), one over torque (line, servo).
    Return best node, value, and whether it needs no closer look.
    """
    lines, servos = per_torque.shape
    count = tables.slope.shape[-1]
    rows, columns = max(1, _BLOCK // servos), min(servos, _BLOCK)
    made = (
        np.empty((lines, servos), dtype=np.intp),
        np.empty((lines, servos)),
        np.empty((lines, servos), dtype=np.bool_),
    )
    for row in range(0, lines, rows):
        some = kept[row : row + rows].T
        first = count * np.arange(row, row + some.shape[1])
        for column in range(0, servos, columns):
            at = slice(row, row + rows), slice(column, column + columns)

            def slowness(node: Whole, x: Floats = per_torque[at], first: Whole = first) -> Floats:
                each = (table.take(first + node)[..., None] for table in tables)
                return _Tables(*each).slowness(x)

            for room, found in zip(made, best_of_some(slowness, some, count - 1), strict=True):
                room[at] = found
    return made


class _Ranges:
    """Ranges from node to node that were looked at more closely, each with finer nodes in a row.

    A range is known by its middle node: one of those that a search starts from, counted along
    all of them, or one of those in a row.
    """

    def __init__(self, count: int) -> None:
        self.row = np.full(count, -1, dtype=np.int32)
        self.position = np.empty((0, FINER_NODES))
        self.slope, self.torque = self.position.copy(), self.position.copy()
        self._count = count

    def within(self, row: Whole, node: Whole) -> Whole:
        """Return what ranges around nodes in some rows are known by."""
        return np.asarray(self._count + row.astype(np.intp) * FINER_NODES + node)

    def add(self, key: Whole, position: Floats, tables: _Tables) -> None:
        """Keep what was seen in some ranges, shape (range, node)."""
        known, new = len(self.position), len(key)
        nowhere = np.full(new * FINER_NODES, -1, dtype=np.int32)
        self.row = np.concatenate((self.row, nowhere))
        self.row[key] = np.arange(known, known + new)
        self.position = np.concatenate((self.position, position))
        self.slope = np.concatenate((self.slope, tables.slope))
        self.torque = np.concatenate((self.torque, tables.torque))


class Search:
    """For the least rate on one basis, of many servos on every linkage.

    What is found out about a linkage on the way is kept for the next servos.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    sweep : Sweep
        Over the part of the commanded range that is reached.
    share : ndarray, shape (..., case, run)
        Of the load that each servo of a run takes [-].
    place : int
        On the basis axis.
    basis : int
        What that stands for.
    """

    def __init__(  # noqa: PLR0917 - what a search is about
        self,
        inputs: Inputs,
        linkages: Linkages,
        sweep: Sweep,
        share: Floats,
        place: int,
        basis: int,
    ) -> None:
        # Loads alone are asked for: what has nothing to do with them need not be picked.
        nothing: Any = ()
        self.inputs = inputs._replace(servos=nothing, supply=nothing, rods=nothing)
        self.linkages, self.basis = linkages, basis
        self.share, self.zooms = share, sweep.look.zooms
        self.deflection = sweep.deflection[place if sweep.deflection.shape[0] > 1 else 0]
        part = taken(sweep.bearing, place)
        self.tables = self._tables_of(part, share, inputs.runs.shaft_friction)
        shapes = (self.deflection.shape, self.tables.slope.shape, self.tables.torque.shape)
        self.shape = np.broadcast_shapes(*shapes)
        self.ranges = _Ranges(prod(self.shape))

    def _tables_of(self, bearing: Bearing, share: Floats, friction: Floats) -> _Tables:
        """Return what is asked for at the deflections of a bearing."""
        slope = np.abs(bearing.place.slope)
        slope = by_run(np.minimum, slope, self.inputs.surfaces.first, axis=-2)
        torque = share[..., None] * worst_move(bearing, self.basis) + friction[..., None]
        # Over the lines, which differ where a linkage is elastic.
        return _Tables(slope.min(0), torque)

    def greatest(self, per_torque: Floats) -> Floats:
        """Return the greatest slowness between the ends, to 1e-7 of it.

        Parameters
        ----------
        per_torque : ndarray, shape (..., case, run)
            One over the stall torque of every servo; nan where it has none [1/(N m)].

        Returns
        -------
        ndarray, shape (..., case, run)
            Torque over stall torque less one, times the slope; nan where nothing is reached [-].
        """
        best, top, settled = self._seen(per_torque)
        flat = np.flatnonzero(~settled)
        if not flat.size:
            return top
        left, values = np.unravel_index(flat, top.shape), top.reshape(-1)
        count, best = self.shape[-1], best[left]
        element = np.arange(np.prod(self.shape[:-1])).reshape(self.shape[:-1])
        element = np.broadcast_to(element, top.shape)[left]
        nodes_of = np.broadcast_to(self.deflection, self.shape).reshape(-1, count)
        x = np.broadcast_to(per_torque, top.shape)[left]
        below = nodes_of[element, np.maximum(best - 1, 0)]
        above = nodes_of[element, np.minimum(best + 1, count - 1)]
        key, ranges = element * count + best, self.ranges
        for _ in range(self.zooms - 1):
            row = self._looked_at(key, element, below, above)
            seen = beside(_Tables(ranges.slope[row], ranges.torque[row]).slowness(x[:, None]))
            values[flat] = seen.value
            here = ranges.position[row, seen.best]
            ends = (here == nodes_of[element, 0]) | (here == nodes_of[element, -1])
            go = ~(seen.close | ends)
            if not go.any():
                break
            below, above = (ranges.position[row, each][go] for each in seen.beside)
            key = ranges.within(row[go], seen.best[go])
            element, x, flat = element[go], x[go], flat[go]
        return np.asarray(values.reshape(top.shape))

    def _looked_at(self, key: Whole, element: Whole, below: Floats, above: Floats) -> Whole:
        """Return the rows of ranges between two nodes, and look more closely at those that are new."""
        row: Any = self.ranges.row[key]
        if (row < 0).any():
            left = np.flatnonzero(row < 0)
            new, first = np.unique(key[left], return_index=True)
            some = left[first]
            position = nodes(below[some], above[some], FINER_NODES)
            self.ranges.add(new, position, self._at(element[some], position))
            row = self.ranges.row[key]
        return np.asarray(row)

    def _seen(self, per_torque: Floats) -> tuple[Whole, Floats, Flags]:
        """Return the node where each servo is slowest, how slow, and whether that needs no closer look."""
        lines, count = self.shape[:-1], self.shape[-1]
        shape = np.broadcast_shapes(per_torque.shape, lines)
        over = tuple(axis for axis, one in enumerate(lines) if one == 1 != shape[axis])
        kept = None
        if per_torque.size >= _MANY * prod(lines):
            ends = (each.reduce(per_torque, over, keepdims=True) for each in (np.fmin, np.fmax))
            kept = _few(_may_count(self.tables, *ends))
        if kept is None or 2 * kept.shape[-1] > count:
            seen = beside(self.tables.slowness(per_torque[..., None]))
            return seen.best, seen.value, seen.close | seen.at_end
        tables = (
            np.ascontiguousarray(np.broadcast_to(each, self.shape)).reshape(prod(lines), -1)
            for each in self.tables
        )
        last = tuple(range(len(shape) - len(over), len(shape)))
        turned = np.moveaxis(np.broadcast_to(per_torque, shape), over, last)
        kept = np.broadcast_to(kept, (*lines, kept.shape[-1])).reshape(prod(lines), -1)
        found: Any = _seen(_Tables(*tables), turned.reshape(prod(lines), -1), kept)
        best, top, settled = (
            np.ascontiguousarray(np.moveaxis(each.reshape(turned.shape), last, over))
            for each in found
        )
        return best, top, settled

    def _at(self, element: Whole, position: Floats) -> _Tables:
        """Return slope and torque of single runs, each at deflections of its own, shape (n, node)."""
        *where, run = np.unravel_index(element, self.shape[:-1])
        trial = picked(self.inputs, tuple(where))
        linkages = picked_linkages(self.linkages, tuple(where), trial)
        share = np.broadcast_to(self.share, self.shape[:-1]).reshape(-1)[element]
        runs = self.shape[-2]
        asked = np.broadcast_to(position[:, None], (len(position), runs, position.shape[-1]))
        shares = np.broadcast_to(share[:, None], (len(position), runs))
        found = self._tables_of(bear(trial, linkages, asked), shares, trial.runs.shaft_friction)
        row = np.arange(len(element))
        return _Tables(*(np.broadcast_to(each, asked.shape)[row, run] for each in found))
