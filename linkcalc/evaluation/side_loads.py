"""What the bearings of a linkage carry: the servo's output shaft, bellcranks, the hinges."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.loads import BEST, ENDS
from linkcalc.mechanism.stages import Shaft
from linkcalc.mechanism.vectors import cross, dot, length

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Chained, Inputs
    from linkcalc.evaluation.loads import Bearing

    Floats = NDArray[np.float64]

__all__ = ["SideLoads", "side_loads"]


class SideLoads(NamedTuple):
    """Forces square to the axes, where the force in a rod or cable is largest.

    Attributes
    ----------
    shaft : ndarray, shape (..., case, run)
        On the output shaft of the servo; of several surfaces added up as magnitudes [N].
    bellcrank : ndarray, shape (..., case, run)
        Largest on any bellcrank; nan where there is none [N].
    hinge : ndarray, shape (..., case, run)
        From rods or cables on the hinges of a surface, the largest of several [N].
    """

    shaft: Floats
    bellcrank: Floats
    hinge: Floats


def side_loads(inputs: Inputs, bearing: Bearing, share: Floats, *, plain: bool) -> SideLoads:
    """Return what bearings carry.

    Parameters
    ----------
    inputs : Inputs
        Geometry, surfaces and chains are used.
    bearing : Bearing
        At the deflection where the force in a rod is largest, one deflection each.
    share : ndarray, shape (..., case, run)
        Of the load that each servo of a run takes [-].
    plain : bool
        Whether on the best line; the worse end of the band otherwise.

    Returns
    -------
    SideLoads
        nan where nothing is reached.
    """
    lines = [BEST] if plain else list(ENDS)
    owner, first = inputs.surfaces.owner, inputs.surfaces.first
    chained = {item.surface: item for item in inputs.chains}
    moments = bearing.moments[lines][..., 0]
    stand = np.broadcast_to(
        bearing.place.servo_angle[..., owner, 0], (len(bearing.moments), *moments.shape[1:])
    )[lines]
    made = np.full((3, *moments.shape), np.nan)
    rods = np.array([i for i in range(len(owner)) if i not in chained], dtype=np.intp)
    if rods.size:
        made[..., rods] = _of_rods(inputs, bearing, lines, stand, moments, rods)
    for surface, item in chained.items():
        made[..., surface] = _of_chain(item, stand[..., surface], moments[..., surface])
    shaft, bellcrank, hinge = np.fmax.reduce(made, axis=1) * share[..., owner]
    return SideLoads(
        np.add.reduceat(shaft, first, axis=-1),
        np.fmax.reduceat(bellcrank, first, axis=-1),
        np.maximum.reduceat(hinge, first, axis=-1),
    )


def _of_rods(  # noqa: PLR0917 - what stands where, line by line
    inputs: Inputs,
    bearing: Bearing,
    lines: list[int],
    stand: Floats,
    moments: Floats,
    rods: NDArray[np.intp],
) -> Floats:
    """Loads of plain pushrods: one force, seen square to either axis."""
    shape = (len(lines), *moments.shape[1:])
    deflection, rod_force = bearing.place.deflection, bearing.place.rod_force
    surface, force = (
        np.broadcast_to(value[lines] if len(value) > 1 else value, (*shape, 1))[..., 0]
        for value in (deflection, rod_force)
    )
    if len(rods) < shape[-1]:
        surface, force, stand, moments = (
            value[..., rods] for value in (surface, force, stand, moments)
        )
    of = {
        name: _first(value[..., rods, :] if len(rods) < shape[-1] else value, stand.ndim)
        for name, value in inputs.geometry._asdict().items()
        if name != "rod_length"
    }
    axes = [of[name] / length(of[name]) for name in ("servo_axis", "hinge_axis")]
    rod = of["servo_pivot"] - of["hinge_pivot"] + _swung(of["arm"], axes[0], stand)
    rod = rod - _swung(of["horn"], axes[1], surface)
    pull = np.abs(force * moments) / length(rod)
    ends = [pull * length(cross(rod, axis)) for axis in axes]
    return np.stack([ends[0], np.full(ends[0].shape, np.nan), ends[1]])


def _swung(tip: Floats, axis: Floats, angle: Floats) -> Floats:
    """Turn the tip of an arm about a unit vector, components first."""
    along = axis * dot(axis, tip)
    return along + (tip - along) * np.cos(angle) + cross(axis, tip) * np.sin(angle)


def _first(vector: Floats, axes: int) -> Floats:
    """Components first, with as many axes behind them as angles have."""
    parts = np.moveaxis(vector, -1, 0)
    return parts.reshape(3, *(1,) * (axes - parts.ndim + 1), *parts.shape[1:])


def _of_chain(item: Chained, stand: Floats, moments: Floats) -> Floats:
    """Loads of a chain; bodies on one shaft, as of a torque rod, are carried by the same bearings."""
    loads = [bearing.radial for bearing in item.chain.statics(stand, moments).bearings]
    groups = [[loads[0]]]
    for stage, load in zip(item.chain.stages, loads[1:], strict=True):
        if isinstance(stage, Shaft):
            groups[-1].append(load)
        else:
            groups.append([load])
    shaft, hinge = np.maximum.reduce(groups[0]), np.maximum.reduce(groups[-1])
    between = [load for group in groups[1:-1] for load in group]
    nothing = np.full(shaft.shape, np.nan)
    return np.stack([shaft, np.maximum.reduce(between) if between else nothing, hinge])
