"""Linkages that are chains of stages, beside plain pushrods, asked like these.

Cables pull and cannot push, so where a surface stands depends on the sign of the moment on it,
its sense. What has no cable does not look at that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism import pushrod
from linkcalc.mechanism.cables import Cables
from linkcalc.mechanism.elastic import free_play, without_preload
from linkcalc.mechanism.ready import Inverse, Limits, Ready, Solution

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from linkcalc.evaluation.inputs import Chained, Geometry, Inputs
    from linkcalc.mechanism.chain import Chain

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Mixed", "forces", "mixed", "play", "sided"]

_SENSES = (1.0, -1.0)
_STEPS = 512  # on either side of neutral, in the search of where the surface turns back
_BISECTIONS = 48


class Mixed(NamedTuple):
    """Several linkages, some plain pushrods and some chains.

    Attributes
    ----------
    surfaces : int
        How many.
    ready : Ready or None
        The plain pushrods, shape (pushrod, 1).
    plain : ndarray of int, shape (pushrod,)
        Which these are.
    chains : tuple of (int, Chain)
        Which the chains are, and they.
    """

    surfaces: int
    ready: Ready | None
    plain: Whole
    chains: tuple[tuple[int, Chain], ...]

    def solve(self, servo_angle: ArrayLike, sense: Floats | float = 1.0) -> Solution:
        """Return surface angles.

        Parameters
        ----------
        servo_angle : ndarray, shape (..., linkage or 1, deflection), or a number
            From neutral [rad].
        sense : ndarray, shape (..., linkage, deflection), optional
            Sign of the moment on each surface [-].

        Returns
        -------
        Solution
            As of `pushrod.solve`; the force is that in the last rod, or in the taut cable of the
            last pair, zero without either.
        """
        angle, sense = self._spread(servo_angle, sense)
        made = np.empty((3, *angle.shape))
        reason = np.empty(angle.shape, dtype=np.int8)
        if self.ready is not None:
            found = self.ready.solve(angle[..., self.plain, :])
            for place, value in zip(made, found[:3], strict=True):
                place[..., self.plain, :] = value
            reason[..., self.plain, :] = found.reason
        for row, chain in self.chains:
            at, way = angle[..., row, :], sense[..., row, :]
            motion = chain.solve(at, way)
            made[0][..., row, :], made[1][..., row, :] = motion.output_angle, motion.slope
            made[2][..., row, :] = _last_force(chain, at, way)
            reason[..., row, :] = motion.reason
        return Solution(made[0], made[1], made[2], reason)

    def invert(self, surface_angle: Floats, sense: Floats | float = 1.0) -> Inverse:
        """Return servo angles.

        Parameters
        ----------
        surface_angle : ndarray, shape (..., linkage, deflection)
            From neutral [rad].
        sense : ndarray, shape (..., linkage, deflection), optional
            Sign of the moment on each surface [-].

        Returns
        -------
        Inverse
            As of `pushrod.invert`.
        """
        angle, sense = self._spread(surface_angle, sense)
        made, reason = np.empty(angle.shape), np.empty(angle.shape, dtype=np.int8)
        if self.ready is not None:
            found = self.ready.invert(angle[..., self.plain, :])
            made[..., self.plain, :], reason[..., self.plain, :] = found
        for row, chain in self.chains:
            turn = chain.invert(angle[..., row, :], sense[..., row, :])
            made[..., row, :], reason[..., row, :] = turn
        return Inverse(made, reason)

    def limits(self) -> Limits:
        """Return how far each servo can turn, with cables the nearer end of both senses.

        Returns
        -------
        Limits
            Shape (linkage, 1, 2).
        """
        found = None if self.ready is None else self.ready.limits()
        front = () if found is None else found.reason.shape[:-3]
        angle = np.empty((*front, self.surfaces, 1, 2))
        reason = np.empty(angle.shape, dtype=np.int8)
        if found is not None:
            angle[..., self.plain, :, :], reason[..., self.plain, :, :] = found
        for row, chain in self.chains:
            ends = [chain.limits(sense) for sense in _SENSES]
            nearer = np.abs(ends[0].servo_angle) <= np.abs(ends[1].servo_angle)
            angle[..., row, 0, :] = np.where(nearer, ends[0].servo_angle, ends[1].servo_angle)
            reason[..., row, 0, :] = np.where(nearer, ends[0].reason, ends[1].reason)
        return Limits(angle, reason)

    def surface_limits(self) -> Floats:
        """Return the surface angles at which the surface turns back, as `Ready` does.

        Returns
        -------
        ndarray, shape (linkage, 1, 2)
            Negative and positive side; infinite where there is none [rad].
        """
        found = np.empty((0, 1, 2)) if self.ready is None else self.ready.surface_limits()
        made = np.empty((*found.shape[:-3], self.surfaces, 1, 2))
        made[..., self.plain, :, :] = found
        for row, chain in self.chains:
            ends = np.array([_turning(chain, sense) for sense in _SENSES])
            made[..., row, 0, :] = ends[:, 0].max(), ends[:, 1].min()
        return made

    def _spread(self, angle: ArrayLike, sense: Floats | float) -> tuple[Floats, Floats]:
        front = () if self.ready is None else self.ready.start.shape[:-2]
        whole = np.broadcast_shapes(np.shape(angle), np.shape(sense), (*front, self.surfaces, 1))
        return np.broadcast_to(angle, whole), np.broadcast_to(np.asarray(sense, float), whole)


def mixed(geometry: Geometry, chains: Sequence[Chained], surfaces: Whole) -> Mixed:
    """Make some linkages ready.

    Parameters
    ----------
    geometry : Geometry
        Of all surfaces.
    chains : sequence of Chained
        Those surfaces that have a chain.
    surfaces : ndarray of int
        The surfaces to take.

    Returns
    -------
    Mixed
        In the order of `surfaces`.
    """
    known = {item.surface: without_preload(item.chain) for item in chains}
    plain = np.array([i for i, s in enumerate(surfaces) if s not in known], dtype=np.intp)
    ready = None
    if plain.size:
        which = surfaces[plain]
        ready = pushrod.prepare(
            **{
                name: value[..., which, None]
                if name == "rod_length"
                else value[..., which, None, :]
                for name, value in geometry._asdict().items()
            }
        )
    taken = tuple((i, known[int(s)]) for i, s in enumerate(surfaces) if int(s) in known)
    return Mixed(len(surfaces), ready, plain, taken)


def sided(chains: Sequence[Chained]) -> bool:
    """Tell whether where a surface stands depends on the sign of its load.

    Parameters
    ----------
    chains : sequence of Chained
        Of an aircraft.

    Returns
    -------
    bool
        Whether any has cables.
    """
    return any(isinstance(stage, Cables) for item in chains for stage in item.chain.stages)


def _last_force(chain: Chain, angle: Floats, sense: Floats) -> Floats:
    moment = np.where(sense >= 0.0, 1.0, -1.0)
    holds = [hold for hold in chain.statics(angle, moment).holds if hold.names]
    if not holds:
        return np.where(np.isnan(angle), np.nan, 0.0)
    tension = holds[-1].tension
    most = np.abs(tension).argmax(axis=0)[None]
    return np.asarray(np.take_along_axis(tension, most, axis=0)[0] * moment)


def _turning(chain: Chain, sense: float) -> tuple[float, float]:
    """Surface angles where the slope changes its sign, sorted; infinite where it does not."""
    start = np.sign(chain.solve(0.0, sense).slope)
    ends = [-np.inf, np.inf]
    for way, end in zip(_SENSES, chain.limits(sense).servo_angle[::-1], strict=True):
        far = min(abs(float(end)), np.pi)

        def turned(share: ArrayLike, way: float = way, far: float = far) -> Floats:
            return np.asarray(
                np.sign(chain.solve(way * far * np.asarray(share), sense).slope) == -start
            )

        share = np.linspace(0.0, 1.0, _STEPS + 1)[1:]
        back = turned(share)
        if not back.any():
            continue
        high = float(share[back.argmax()])
        low = high - 1.0 / _STEPS
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if turned(middle) else (middle, high)
        angle = float(chain.solve(way * far * low, sense).output_angle)
        ends[int(angle > 0.0)] = angle
    return ends[0], ends[1]


def forces(inputs: Inputs, servo_angle: Floats, rod_force: Floats, moments: Floats) -> Floats:
    """Return the force in every rod and cable.

    Parameters
    ----------
    inputs : Inputs
        Rods and chains are used.
    servo_angle : ndarray, shape (..., run, deflection)
        From neutral [rad].
    rod_force : ndarray, shape (..., surface, deflection)
        Tension per unit moment, of surfaces without a chain [1/m].
    moments : ndarray, shape (line, ..., surface, deflection)
        On the surfaces [N m].

    Returns
    -------
    ndarray, shape (line, ..., member, deflection)
        Tension positive [N].
    """
    known = {item.surface: item for item in inputs.chains}
    owner = inputs.surfaces.owner
    parts = []
    for surface in range(len(owner)):
        moment = moments[..., surface, :]
        item = known.get(surface)
        if item is None:
            parts.append((moment * rod_force[..., surface, :])[None])
            continue
        angle = np.broadcast_to(servo_angle[..., owner[surface], :], moment.shape)
        tensions = [hold.tension for hold in item.chain.statics(angle, moment).holds if hold.names]
        nothing = np.zeros((1, *moment.shape))
        parts.append(np.concatenate(tensions) if tensions else nothing)
    return np.moveaxis(np.concatenate(parts), 0, -2)


def play(inputs: Inputs, item: Chained) -> Floats:
    """Return the total play of a surface at neutral, to first order.

    Parameters
    ----------
    inputs : Inputs
        Runs and surfaces are used.
    item : Chained
        The surface's chain.

    Returns
    -------
    ndarray, shape (...)
        Joints, gears and the slack of cables; nan where nothing is given [rad].
    """
    gears = np.asarray(inputs.runs.gear_play[..., inputs.surfaces.owner[item.surface]])
    clearances = [np.nan_to_num(gap) for gap in item.clearances]
    none, one = (
        float(free_play(item.chain, 0.0, servo_play=servo, clearances=clearances).linear.total)
        for servo in (0.0, 1.0)
    )
    total = none + np.nan_to_num(gears) * (one - none)  # to first order it is a sum
    unknown = np.isnan(gears) & np.isnan(item.clearances).all() & (total == 0.0)
    return np.asarray(np.where(unknown, np.nan, total))
