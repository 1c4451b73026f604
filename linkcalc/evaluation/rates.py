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
from linkcalc.evaluation.search import FINER_NODES, Seen, beside, beside_first, nodes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.governing import Sweep
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.evaluation.loads import Bearing

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = ["least_rate"]

_MANY = 8  # servos on a linkage from which it pays to find out where one can be slowest
_PLACES = 9  # over one by torque, at which nodes are compared
_BLOCK = 4096  # servos on lines that are looked at together
_NEAR = 1e-8  # of the greatest, within which a node may be it


def least_rate(
    inputs: Inputs,
    linkages: Linkages,
    sweep: Sweep,
    *,
    no_load: Floats,
    stall: Floats,
    share: Floats,
    bases: tuple[int, ...],
) -> Floats:
    r"""Return the least rate of any surface over the range.

    .. math:: \min_\delta \left| \frac{d\delta}{d\theta} \right| \omega_0
              \left(1 - \frac{T_{move}(\delta)}{T_s}\right)

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    sweep : Sweep
        Over the part of the commanded range that is reached.
    no_load, stall : ndarray, shape (basis, ..., case, run)
        No-load speed [rad/s] and stall torque [N m] of every servo at its voltage.
    share : ndarray, shape (basis, ..., case, run)
        Of the load that each servo of a run takes [-].
    bases : tuple of int
        What each place of the basis axis stands for.

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
    per_torque = 1 / np.where(stall > 0, stall, np.nan)
    made = [
        -_Search(inputs, linkages, sweep, share[place], place, basis).greatest(per_torque[place])
        for place, basis in enumerate(bases)
    ]
    return np.stack(made) * no_load


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


def _asked(counting: Flags) -> Whole:
    """Return the nodes to look at: those that count, theirs beside them, and the ends' three.

    As many for every range, shape (..., n), ascending.
    """
    kept = np.array(counting)
    kept[..., 1:] |= counting[..., :-1]
    kept[..., :-1] |= counting[..., 1:]
    kept[..., :3] = kept[..., -3:] = True
    most = int(kept.sum(-1).max())
    first = np.argsort(~kept, axis=-1, kind="stable")[..., :most]
    return np.sort(first, axis=-1)


def _seen(tables: _Tables, per_torque: Floats, kept: Whole) -> list[Any]:
    """Look at all servos on every line of nodes, in blocks that stay in cache.

    Tables and `kept` have the shape (line, node), one over torque has (line, servo). Return
    best node, the one below and the one above, value, and whether it is close and at an end.
    """
    lines, servos = per_torque.shape
    made: list[Any] = [np.empty((lines, servos), dtype=np.intp) for _ in range(3)]
    made += [np.empty((lines, servos)), *(np.empty((lines, servos), dtype=np.bool_) for _ in "ab")]
    rows, columns = max(1, _BLOCK // servos), min(servos, _BLOCK)
    slope, torque = (np.ascontiguousarray(each.T)[..., None] for each in tables)
    for row in range(0, lines, rows):
        for column in range(0, servos, columns):
            at = slice(row, row + rows), slice(column, column + columns)
            value = torque[:, at[0]] * per_torque[at]
            value -= 1
            value *= slope[:, at[0]]
            seen = beside_first(value)
            for each, found in zip(made[3:], (seen.value, seen.close, seen.at_end), strict=True):
                each[at] = found
            for each, found in zip(made, (seen.best, *seen.beside), strict=False):
                each[at] = np.take_along_axis(kept[at[0]], found, -1)
    return made


class _Search:
    """On one basis, for many servos on every linkage."""

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
        self.tables = self.tables_of(part, share, inputs.runs.shaft_friction)
        shapes = (self.deflection.shape, self.tables.slope.shape, self.tables.torque.shape)
        self.shape = np.broadcast_shapes(*shapes)

    def tables_of(self, bearing: Bearing, share: Floats, friction: Floats) -> _Tables:
        """Return what is asked for at the deflections of a bearing."""
        slope = np.abs(bearing.place.slope)
        slope = by_run(np.minimum, slope, self.inputs.surfaces.first, axis=-2)
        torque = share[..., None] * worst_move(bearing, self.basis) + friction[..., None]
        # Over the lines, which differ where a linkage is elastic.
        return _Tables(slope.min(0), torque)

    def greatest(self, per_torque: Floats) -> Floats:
        """Return the greatest slowness between the ends, to 1e-7 of it."""
        seen = self.seen(per_torque)
        top, left = seen.value, np.nonzero(~(seen.close | seen.at_end))
        if not left[0].size:
            return top
        count = self.shape[-1]
        element = np.arange(np.prod(self.shape[:-1])).reshape(self.shape[:-1])
        element = np.broadcast_to(element, top.shape)[left]
        nodes_of = np.broadcast_to(self.deflection, self.shape).reshape(-1, count)
        x = np.broadcast_to(per_torque, top.shape)[left]
        index = seen.best[left]
        below, above = (nodes_of[element, each[left]] for each in seen.beside)
        key = element * count + index
        for _ in range(self.zooms - 1):
            _, first, same = np.unique(key, return_index=True, return_inverse=True)
            position = nodes(below[first], above[first], FINER_NODES)
            finer = _Tables(*(each[same] for each in self.at(element[first], position)))
            seen = beside(finer.slowness(x[:, None]))
            top[left] = seen.value
            here = position[same, seen.best]
            ends = (here == nodes_of[element, 0]) | (here == nodes_of[element, -1])
            go = ~(seen.close | ends)
            if not go.any():
                break
            below, above = (position[same, each][go] for each in seen.beside)
            key = (same * FINER_NODES + seen.best)[go]
            element, x, left = element[go], x[go], tuple(axis[go] for axis in left)
        return top

    def seen(self, per_torque: Floats) -> Seen:
        """Look at the nodes at which some of these servos can be slowest, and those beside them."""
        lines, count = self.shape[:-1], self.shape[-1]
        if per_torque.size < _MANY * prod(lines):
            return beside(self.tables.slowness(per_torque[..., None]))
        shape = np.broadcast_shapes(per_torque.shape, lines)
        over = tuple(axis for axis, one in enumerate(lines) if one == 1 != shape[axis])
        ends = (each.reduce(per_torque, over, keepdims=True) for each in (np.fmin, np.fmax))
        kept = _asked(_may_count(self.tables, *ends))
        if 2 * kept.shape[-1] > count:
            return beside(self.tables.slowness(per_torque[..., None]))
        wide = (*kept.shape[:-1], count)
        tables = (
            np.take_along_axis(np.broadcast_to(each, wide), kept, -1).reshape(prod(lines), -1)
            for each in self.tables
        )
        last = tuple(range(len(shape) - len(over), len(shape)))
        turned = np.moveaxis(np.broadcast_to(per_torque, shape), over, last)
        found = _seen(
            _Tables(*tables), turned.reshape(prod(lines), -1), kept.reshape(prod(lines), -1)
        )
        best, below, above, top, close, end = (
            np.ascontiguousarray(np.moveaxis(each.reshape(turned.shape), last, over))
            for each in found
        )
        return Seen(best, (below, above), top, close, end)

    def at(self, element: Whole, position: Floats) -> _Tables:
        """Return slope and torque of single runs, each at deflections of its own, shape (n, node)."""
        *where, run = np.unravel_index(element, self.shape[:-1])
        trial = picked(self.inputs, tuple(where))
        linkages = picked_linkages(self.linkages, tuple(where), trial)
        share = np.broadcast_to(self.share, self.shape[:-1]).reshape(-1)[element]
        runs = self.shape[-2]
        asked = np.broadcast_to(position[:, None], (len(position), runs, position.shape[-1]))
        shares = np.broadcast_to(share[:, None], (len(position), runs))
        found = self.tables_of(bear(trial, linkages, asked), shares, trial.runs.shaft_friction)
        row = np.arange(len(element))
        return _Tables(*(np.broadcast_to(each, asked.shape)[row, run] for each in found))
