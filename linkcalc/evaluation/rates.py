"""The least rate of a surface under load, over the range that a case asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.axes import picked
from linkcalc.evaluation.governing import taken, worst_move
from linkcalc.evaluation.inputs import by_run
from linkcalc.evaluation.linkage import picked_linkages
from linkcalc.evaluation.loads import bear
from linkcalc.evaluation.search import FINER_NODES, beside, nodes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.governing import Sweep
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.evaluation.loads import Bearing

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["least_rate"]


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
        self.inputs, self.linkages, self.basis = inputs, linkages, basis
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
        value = self.tables.slowness(per_torque[..., None])
        seen = beside(value)
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
