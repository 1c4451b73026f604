"""How far a surface can be held against the air, with the torque factor and without."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.governing import worst_move
from linkcalc.evaluation.loads import bear
from linkcalc.evaluation.roots import first_root

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages, Reach

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Held", "held", "outward"]

_NODES = 61
_LOST = 1e6  # demand where nothing is known


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


def outward(demand: Callable[[Floats], Floats], end: Floats) -> Floats:
    """Walk from zero outward and return how far something stays held.

    Parameters
    ----------
    demand : callable
        Positions, shape (..., n), to demand over supply less one, zero or less where it is
        held; nan counts as not held. It may have longer axes than the positions.
    end : ndarray, shape (...), at least one axis
        Where to stop, of either sign.

    Returns
    -------
    ndarray, shape (...)
        The position up to which everything from zero on is held, to 1e-7 of the demand;
        zero where it is not held at zero.

    Notes
    -----
    The first of evenly spaced nodes that is not held, then the root before it.

    Examples
    --------
    >>> outward(lambda x: x / 0.5 - 1, np.array([2.0, 0.3])).round(6).tolist()
    [0.5, 0.3]
    >>> outward(lambda x: 1 + x, np.array([2.0])).tolist()
    [0.0]
    """
    position = end[..., None] * np.linspace(0.0, 1.0, _NODES)
    position[..., -1] = end
    value = _known(demand(position))
    position = np.broadcast_to(position, value.shape)
    end = np.broadcast_to(end, value.shape[:-1])
    good = value <= 0
    first = np.where(good.all(-1), _NODES, good.argmin(-1))
    there = np.where(first == _NODES, end, 0.0)
    sought = np.nonzero((first > 0) & (first < _NODES))
    last = first[sought]
    index = [last - 1, last, np.where(last > 1, last - 2, last + 1)]

    def at(place: Floats, which: Whole) -> Floats:
        trial = np.array(there)
        trial[sought] = 0.0
        chosen = tuple(axis[which] for axis in sought)
        trial[chosen] = place
        return _known(demand(trial[..., None])[..., 0])[chosen][None]

    there[sought], _ = first_root(
        at,
        [position[*sought, each] for each in index],
        [value[*sought, each][None] for each in index],
    )
    return there


def _known(value: Floats) -> Floats:
    return np.where(np.isnan(value), _LOST, value)


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
    low = np.maximum(cases.throw_low, reached.low[0]) + np.zeros(available.shape)
    high = np.minimum(cases.throw_high, reached.high[0]) + np.zeros(available.shape)
    ends = np.stack([low, high])[:, None]
    given = available[..., None]
    factors = np.array([factor, 1.0]).reshape(1, 2, *(1,) * available.ndim)

    def demand(deflection: Floats) -> Floats:
        flat = deflection.reshape(-1, *deflection.shape[2:])
        bearing = bear(inputs, linkages, flat)
        move = (
            share[..., None] * worst_move(bearing, inputs.basis)
            + inputs.runs.shaft_friction[..., None]
        )
        needed = move.reshape(deflection.shape) * factors[..., None]
        return np.where(given > 0, needed / np.where(given > 0, given, 1.0) - 1, np.nan)

    found = np.abs(outward(demand, ends))
    found = np.where(np.isnan(available) | np.isnan(ends), np.nan, found)
    return Held(found[:, 0], found[:, 1])
