"""The one evaluation: an aircraft as arrays in, loads, voltages and margins out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation import margins
from linkcalc.evaluation.factors import PLAIN, Factors
from linkcalc.evaluation.governing import Governing, govern
from linkcalc.evaluation.linkage import Reach, prepare, reach
from linkcalc.evaluation.loads import surface_flow
from linkcalc.evaluation.supply import Delivered, delivered
from linkcalc.physics import servo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs

    Floats = NDArray[np.float64]

__all__ = ["Answer", "evaluate"]


class Answer(NamedTuple):
    """All that an evaluation finds out. The basis axis is (verdict, plain).

    Attributes
    ----------
    dynamic_pressure : ndarray, shape (..., case, run)
        At the first surface of each run [Pa].
    low, high : ndarray, shape (..., case, run)
        Part of the commanded range that is reached [rad].
    reach : Reach
        What linkage and servo travel allow.
    governing : Governing
        Loads where they are largest.
    delivered : Delivered
        Voltages and currents.
    torque_available : ndarray, shape (basis, ..., case, run)
        Stall torque at the voltage of the servo's own limit, over the datasheet factor [N m].
    margins : Margins
        By mode, with the basis axis.
    """

    dynamic_pressure: Floats
    low: Floats
    high: Floats
    reach: Reach
    governing: Governing
    delivered: Delivered
    torque_available: Floats
    margins: margins.Margins


def evaluate(inputs: Inputs, factors: Factors) -> Answer:
    """Evaluate every run in every case, for the verdict and plainly.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    factors : Factors
        Factors of safety for the verdict. *Plain* is the whole evaluation on the best
        line of the air load with every factor 1.

    Returns
    -------
    Answer
        nan where something cannot be computed; nan is never a pass.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.

    Notes
    -----
    Pure: nothing is read or kept, no argument is changed, and there is no loop over
    cases or deflections.
    """
    linkages = prepare(inputs)
    reached = reach(linkages, inputs.runs.travel)
    low = np.maximum(inputs.cases.low, reached.low)
    high = np.minimum(inputs.cases.high, reached.high)
    empty = ~(low <= high)  # the whole range lies beyond what is reached
    low, high = np.where(empty, np.nan, low), np.where(empty, np.nan, high)
    governing = govern(inputs, linkages, low, high)
    both = _both(factors, governing.move.ndim)
    printed = inputs.servos.curves
    slope = printed.stall_torque_slope / both.datasheet[..., None]
    curves = printed._replace(stall_torque_slope=slope)
    electric = delivered(inputs, curves, governing.move, both.torque)
    available = servo.stall_torque(curves, electric.at_limit)
    return Answer(
        dynamic_pressure=surface_flow(inputs)["dynamic_pressure"][..., inputs.surfaces.first],
        low=low,
        high=high,
        reach=reached,
        governing=governing,
        delivered=electric,
        torque_available=available,
        margins=margins.compare(
            inputs, both, reached, governing.move, electric, available=available
        ),
    )


def _both(factors: Factors, axes: int) -> Factors:
    """Stack the factors with those of the plain margins along the basis axis."""
    tail = (1,) * (axes - 1)
    pairs = zip(factors, PLAIN, strict=True)
    return Factors(*(np.array(pair).reshape(2, *tail) for pair in pairs))
