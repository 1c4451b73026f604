"""Servos that are compared, as an axis in front of cases and runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.gather import gather_servos
from linkcalc.model.value_classes import replace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import ServoPart
    from linkcalc.evaluation.inputs import Inputs, Runs, Servos
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Candidates", "candidates", "put_in"]

_OF_RUNS = ("gear_strength", "gear_play")
_OF_SERVOS = (
    "deadband",
    "time_constant",
    "measured",
    "refuse_below",
    "first_voltage",
    "minimum",
    "maximum",
)


class Candidates(NamedTuple):
    """Servos as arrays, as if each were that of a run of its own.

    Attributes
    ----------
    runs : Runs
        What a servo brings to its run, shape (candidate,).
    servos : Servos
        Curves of shape (candidate, row), the rest (candidate,).
    """

    runs: Runs
    servos: Servos

    @property
    def travel(self) -> Floats:
        """Travel of each either side of neutral [rad]."""
        return self.runs.travel


def candidates(aircraft: Aircraft, servos: Sequence[ServoPart], runs: Sequence[int]) -> Candidates:
    """Turn parts into arrays.

    Parameters
    ----------
    aircraft : Aircraft
        That they are for.
    servos : sequence of ServoPart
        At least one.
    runs : sequence of int
        Runs that get them.

    Returns
    -------
    Candidates
        As a check of the aircraft with each of them would have it.
    """
    first = aircraft.runs[runs[0]]
    return Candidates(
        *gather_servos([replace(first, servo=each.servo(), servo_count=1) for each in servos])
    )


def put_in(inputs: Inputs, tried: Candidates, chosen: Whole, runs: Sequence[int]) -> Inputs:
    """Put candidates into some runs, side by side.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with speeds of shape (1, case, run).
    tried : Candidates
        All of them, of the travel that the runs in `inputs` have.
    chosen : ndarray of int, shape (candidate,)
        Which of them.
    runs : sequence of int
        Runs that get each.

    Returns
    -------
    Inputs
        With servos of shape (candidate, 1, run), curves of shape (candidate, 1, servo, row).
    """
    servos, own = inputs.servos, list(runs)
    at = np.flatnonzero(np.isin(servos.owner, own))
    rows = max(servos.curves.ramp_start.shape[-1], tried.servos.curves.ramp_start.shape[-1])
    columns = []
    for name, mine in servos.curves._asdict().items():
        theirs = getattr(tried.servos.curves, name)[chosen]
        level = name == "ramp_start"
        made = np.repeat(_padded(mine, rows, level=level)[None, None], len(chosen), axis=0)
        made[:, :, at] = _padded(theirs, rows, level=level)[:, None, None]
        columns.append(made)
    return inputs._replace(
        runs=inputs.runs._replace(**_side_by_side(inputs.runs, tried.runs, _OF_RUNS, chosen, own)),
        servos=servos._replace(
            curves=type(servos.curves)(*columns),
            **_side_by_side(servos, tried.servos, _OF_SERVOS, chosen, own),
        ),
    )


def _padded(column: Floats, rows: int, *, level: bool) -> Floats:
    """Add rows that do nothing: ramps without width, which begin where the last one does."""
    more = rows - column.shape[-1]
    if not more:
        return column
    fill = column[..., -1:] if level else np.zeros_like(column[..., -1:])
    return np.concatenate((column, np.repeat(fill, more, axis=-1)), axis=-1)


def _side_by_side(
    mine: Runs | Servos, theirs: Runs | Servos, names: Sequence[str], chosen: Whole, own: list[int]
) -> dict[str, Any]:
    """Return fields by run with those of the candidates in the runs that get them."""
    made = {}
    for name in names:
        values = np.repeat(getattr(mine, name)[None, None], len(chosen), axis=0)
        values[..., own] = getattr(theirs, name)[chosen][:, None, None]
        made[name] = values
    return made
