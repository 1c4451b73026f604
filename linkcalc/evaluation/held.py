"""How far a surface can be held against the air, with the torque factor and without."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.governing import VERDICT, worst_move
from linkcalc.evaluation.loads import bear

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages, Reach

    Floats = NDArray[np.float64]

__all__ = ["Held", "held", "outward"]

_NODES = 61
_ZOOM_NODES = 33
_ZOOMS = 6


class Held(NamedTuple):
    """Deflections that can be held, as magnitudes; the first axis is (up, down).

    Attributes
    ----------
    factored : ndarray, shape (2, ..., case, run)
        With the torque factor [rad].
    blow_back : ndarray, shape (2, ..., case, run)
        With a torque factor of 1 [rad].
    """

    factored: Floats
    blow_back: Floats


def outward(excess: Callable[[Floats], Floats], end: Floats) -> Floats:
    """Walk from zero outward and return how far something stays held.

    Parameters
    ----------
    excess : callable
        Positions, shape (..., n), to what is over, zero or more where it is held; nan
        counts as not held.
    end : ndarray, shape (...)
        Where to stop, of either sign.

    Returns
    -------
    ndarray, shape (...)
        The position up to which everything from zero on is held, to 1e-9 of the way;
        zero where it is not held at zero.

    Examples
    --------
    >>> round(float(outward(lambda x: 0.5 - x, np.array(2.0))), 6)
    0.5
    >>> float(outward(lambda x: -1 - x, np.array(2.0)))
    0.0
    """
    start = np.zeros_like(end)
    for zoom in range(_ZOOMS):
        share = np.linspace(0.0, 1.0, _ZOOM_NODES if zoom else _NODES)
        position = start[..., None] + (end - start)[..., None] * share
        position[..., -1] = end
        good = excess(position) >= 0
        lost = ~good
        first = np.where(lost.any(-1), lost.argmax(-1), good.shape[-1])
        last = good.shape[-1] - 1
        at = np.clip(first, 1, last)[..., None]
        below = np.take_along_axis(position, at - 1, -1)[..., 0]
        above = np.take_along_axis(position, at, -1)[..., 0]
        start = np.where(first > last, end, np.where(first == 0, start, below))
        end = np.where(first == 0, start, above)
        if np.all(start == end):
            break
    return start


def held(
    inputs: Inputs,
    linkages: Linkages,
    reached: Reach,
    available: Floats,
    share: Floats,
    *,
    factor: float,
) -> Held:
    """Return the deflections that can be held at the speed of the case.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    reached : Reach
        Under load, shape (basis or 1, ..., case or 1, run).
    available : ndarray, shape (..., case, run)
        Torque available, on the verdict's basis [N m].
    share : ndarray, shape (..., case, run)
        Of the load that each servo takes, on the verdict's basis [-].
    factor : float
        On the torque to move.

    Returns
    -------
    Held
        Sought from neutral outward up to the full throw.
    """
    cases = inputs.cases
    low = np.maximum(cases.throw_low, reached.low[VERDICT]) + np.zeros(available.shape)
    high = np.minimum(cases.throw_high, reached.high[VERDICT]) + np.zeros(available.shape)
    ends = np.stack([np.broadcast_to(end, (2, *end.shape)) for end in (low, high)])
    factors = np.array([factor, 1.0]).reshape(1, 2, *(1,) * available.ndim)

    def excess(deflection: Floats) -> Floats:
        flat = deflection.reshape(4, *deflection.shape[2:])
        bearing = bear(inputs, linkages, flat)
        move = (
            share[..., None] * worst_move(bearing, VERDICT) + inputs.runs.shaft_friction[..., None]
        )
        return np.asarray(
            available[..., None] - move.reshape(deflection.shape) * factors[..., None]
        )

    found = np.abs(outward(excess, ends))
    found = np.where(np.isnan(available) | np.isnan(ends), np.nan, found)
    return Held(found[:, 0], found[:, 1])
