"""What was computed for one aircraft, and the same as plain numbers that words are made from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation.supply_fields import node_names
from linkcalc.results import Value

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.gather import Gathered
    from linkcalc.evaluation.held import Held
    from linkcalc.evaluation.load_steps import LoadStep
    from linkcalc.evaluation.speeds import Speeds
    from linkcalc.evaluation.supply import Inrush
    from linkcalc.evaluation.wire_heat import Copper
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]

__all__ = ["Columns", "Results", "at_deflection", "finite", "told"]


class Results(NamedTuple):
    """What was computed for one aircraft.

    Attributes
    ----------
    factors : Factors
        That were used.
    answer : Answer
        At the speeds of the cases.
    share : ndarray, shape (case, run)
        Of the load, that each servo takes.
    held : Held
        Deflections that can be held there.
    speeds : Speeds
        Limits of speed.
    hold_time : ndarray, shape (case, run)
        How long the largest load may be held; infinite for as long as it lasts [s].
    deadband : ndarray, shape (run,)
        Of each servo, at the first surface; nan where it is not given [rad].
    beyond : dict of (case, run) to list of str
        What lies outside the range of validity of a solver.
    inrush : Inrush or None
        All servos starting at once, where the file states how much they draw.
    copper : Copper or None
        How warm the copper gets, shape (case, node), where the file states the air around it.
    steps : dict of (case, run) to list of LoadStep
        How solvers of the air load came to their slopes, where they tell.
    """

    factors: Factors
    answer: Answer
    share: Floats
    held: Held
    speeds: Speeds
    hold_time: Floats
    deadband: Floats
    beyond: dict[tuple[int, int], list[str]]
    inrush: Inrush | None
    copper: Copper | None
    steps: dict[tuple[int, int], list[LoadStep]]


class Columns:
    """Everything of one aircraft as nested lists, by case and run.

    Numbers are looked up one by one to be told, and a list hands one out ten times as fast as an array.

    Parameters
    ----------
    aircraft : Aircraft
        As it was described.
    gathered : Gathered
        Arrays and notes made from it.
    results : Results
        What was computed.
    failures : dict of str to str
        Solvers that have failed, and why.
    """

    def __init__(
        self, aircraft: Aircraft, gathered: Gathered, results: Results, failures: dict[str, str]
    ) -> None:
        answer = results.answer
        self.aircraft, self.gathered, self.results = aircraft, gathered, results
        self.failures = failures
        self.node_names = () if results.copper is None else node_names(aircraft)
        self.margins = {
            mode.replace("_", " ").replace("over voltage", "over-voltage"): [
                np.broadcast_to(column, answer.governing.move.shape).tolist()
                for column in comparison
            ]
            for mode, comparison in answer.margins._asdict().items()
        }
        self.governing = {
            name: value.tolist() for name, value in answer.governing._asdict().items()
        }
        self.delivered = {
            name: value[0].tolist() for name, value in answer.delivered._asdict().items()
        }
        self.available = answer.torque_available[0].tolist()
        self.rate = answer.rate[0].tolist()
        self.share = results.share.tolist()
        self.pressure = answer.dynamic_pressure.tolist()
        self.jam_force = answer.jam_force.tolist()
        self.held = {name: value.tolist() for name, value in results.held._asdict().items()}
        self.limits = {
            name: {part: column.tolist() for part, column in limit._asdict().items()}
            for name, limit in results.speeds._asdict().items()
            if name != "greatest"
        }
        self.neutral_lost = [
            math.isnan(value) for value in answer.reach.low[0].reshape(-1, len(aircraft.runs))[0]
        ]


def at_deflection(deflection: float) -> str | None:
    """Say where a value was found.

    Parameters
    ----------
    deflection : float
        [rad].

    Returns
    -------
    str or None
        None for nan.
    """
    return None if math.isnan(deflection) else f"deflection {math.degrees(deflection):.4g} deg"


def finite(value: float) -> float | None:
    """Return a number that can be told.

    Parameters
    ----------
    value : float
        Any.

    Returns
    -------
    float or None
        None for nan and infinity.
    """
    return value if math.isfinite(value) else None


def told(
    value: float, unit: str, reason: str, lines: list[float] | None = None, at: str | None = None
) -> Value:
    """Return a value, or the reason why there is none.

    Parameters
    ----------
    value : float
        In the unit; told if it is finite.
    unit : str
        As in `linkcalc.results.Value`.
    reason : str
        Told if it is not.
    lines : list of float, optional
        The same on each line of the air load, of which the least and the greatest are told.
    at : str, optional
        Where it was found.

    Returns
    -------
    Value
        With either a number or a reason.
    """
    known = finite(value)
    if known is None:
        return Value(None, unit, reason=reason)
    if lines and all(math.isfinite(line) for line in lines):
        return Value(known, unit, min(lines), max(lines), at)
    return Value(known, unit, at=at)
