"""The deflections that govern: where a run needs the most torque, where its rod bears the most."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.linkage import Position
from linkcalc.evaluation.loads import BEST, HIGH, Bearing, bear, to_move, worst
from linkcalc.evaluation.search import greatest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]

__all__ = ["Governing", "govern"]

_MOVE, _MOVE_PLAIN, _FORCE = range(3)


class Governing(NamedTuple):
    """Every run at the deflection where it needs the most torque.

    Attributes
    ----------
    move : ndarray, shape (basis, ..., case, run)
        Torque to move, with the band of the air load and on its best line [N m].
    deflection : ndarray, shape (..., case, run)
        Governing deflection [rad].
    moment, hold : ndarray, shape (..., case, run)
        Hinge moment of the first surface and torque to hold, on the same line [N m].
    moment_lines, hold_lines, move_lines : ndarray, shape (line, ..., case, run)
        The same on the low, best and high line [N m].
    rod_force : ndarray, shape (..., case, run)
        Of largest magnitude over the range, tension positive, first surface [N].
    rod_force_at : ndarray, shape (..., case, run)
        Deflection where it is [rad].
    """

    move: Floats
    deflection: Floats
    moment: Floats
    hold: Floats
    moment_lines: Floats
    hold_lines: Floats
    move_lines: Floats
    rod_force: Floats
    rod_force_at: Floats


def govern(inputs: Inputs, linkages: Linkages, low: Floats, high: Floats) -> Governing:
    """Find the governing deflections of every run in every case.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    low, high : ndarray, shape (..., case, run)
        Part of the commanded range that is reached; nan where there is none [rad].

    Returns
    -------
    Governing
        nan where nothing is reached.
    """

    def sizes(deflection: Floats) -> Floats:
        bearing = bear(inputs, linkages, deflection)
        return np.stack(
            (
                _move(inputs, _taken(bearing, _MOVE)),
                _move_plain(inputs, _taken(bearing, _MOVE_PLAIN)),
                np.abs(_rod_force(inputs, _taken(bearing, _FORCE))),
            )
        )

    found = greatest(sizes, low, high)
    there = bear(inputs, linkages, found.at[..., None])
    bearing = _taken(there, _MOVE)
    hold, moments = worst(inputs, bearing)
    first, lines = inputs.surfaces.first, slice(HIGH + 1)
    move = to_move(inputs, bearing.hold, bearing.moments, bearing.place.slope)
    return Governing(
        move=found.value[: _MOVE_PLAIN + 1],
        deflection=found.at[_MOVE],
        moment=moments[..., first, 0],
        hold=hold[..., 0],
        moment_lines=bearing.moments[lines][..., first, 0],
        hold_lines=bearing.hold[lines][..., 0],
        move_lines=move[lines][..., 0],
        rod_force=_rod_force(inputs, _taken(there, _FORCE))[..., 0],
        rod_force_at=found.at[_FORCE],
    )


def _taken(bearing: Bearing, function: int) -> Bearing:
    """Return the part of one function, where each has positions of its own."""
    index = function if bearing.place.slope.shape[0] > 1 else 0
    place = Position(*(array[index] for array in bearing.place))
    return Bearing(place, bearing.moments[:, index], bearing.hold[:, index])


def _move(inputs: Inputs, bearing: Bearing) -> Floats:
    hold, moments = worst(inputs, bearing)
    return to_move(inputs, hold, moments, bearing.place.slope)


def _move_plain(inputs: Inputs, bearing: Bearing) -> Floats:
    return to_move(inputs, bearing.hold[BEST], bearing.moments[BEST], bearing.place.slope)


def _rod_force(inputs: Inputs, bearing: Bearing) -> Floats:
    """Force in the first rod of every run, the larger of both ends of the band, tension positive [N]."""
    first = inputs.surfaces.first
    forces = (bearing.moments * bearing.place.rod_force)[..., first, :]
    largest = forces[HIGH]
    for other in forces:
        largest = np.where(np.abs(other) > np.abs(largest), other, largest)
    return largest
