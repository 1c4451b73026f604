"""How far a surface can be held, as a function of the dynamic pressure of flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.evaluation.evaluate import evaluate, servo_share
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.held import held
from linkcalc.evaluation.search import Look

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]
    Reach = Callable[[Floats], tuple[Floats, Floats]]

__all__ = ["at_pressures", "reach_of_pressure"]

_TRIAL = Look(nodes=13, zooms=8)
_AT_ONCE = 256  # pressures, so that memory stays bounded


def reach_of_pressure(
    inputs: Inputs,
    factors: Factors,
    linkages: Linkages,
    *,
    case: int,
    run: int,
    factored: bool = False,
) -> Reach:
    """Make the reach of one run in one case, for a solver that follows a dive.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    factors : Factors
        For the verdict, plain numbers.
    linkages : Linkages
        Made from the inputs.
    case, run : int
        Which case gives density, incidence, load factor, what the other runs have to do and
        what the wash adds; and which run is asked for.
    factored : bool
        The deflections held with the run's torque factor, instead of those to which the air
        blows it back.

    Returns
    -------
    callable
        From dynamic pressures of flight, shape (n,), zero or more [Pa], to the deflections of
        the run's first surface on the negative side (zero or less) and on the positive side
        (zero or more), each of shape (n,) [rad]; nan where undefined, and for a pressure that
        is nan or below zero.

    Notes
    -----
    At each pressure the loads of the other runs, with their own torque factors, and the voltages
    are computed anew, as for the limits of speed: the run has what is left when it is itself at
    its limit. What the wash adds to the square of the speed is held.
    """
    stacked = Factors(*(value[:1] for value in both(factors, 3)))
    silent = dict.fromkeys(("seek_latch_up", "seek_details"), np.float64(0.0))
    fields = {**inputs.supply.fields, **silent}
    quiet = inputs._replace(supply=inputs.supply._replace(fields=fields))

    def at_once(pressure: Floats) -> Floats:
        """Return the magnitudes of some pressures, shape (up or down, n)."""
        trial = at_pressures(quiet, case, pressure)
        answer = evaluate(trial, stacked, linkages, (inputs.basis,), look=_TRIAL)
        found = held(
            trial,
            linkages,
            answer.reach,
            answer.torque_available[0],
            servo_share(trial, stacked)[0],
            factor=factors.torque,
        )
        return np.asarray((found.factored if factored else found.blow_back)[..., run])

    def reach(pressure: Floats) -> tuple[Floats, Floats]:
        asked = np.asarray(pressure, dtype=np.float64)
        magnitudes = np.full((2, *asked.shape), np.nan)
        good = np.nonzero(asked >= 0)[0]
        for start in range(0, len(good), _AT_ONCE):
            some = good[start : start + _AT_ONCE]
            magnitudes[:, some] = at_once(asked[some])
        up, down = magnitudes
        return -up, down

    return reach


def at_pressures(inputs: Inputs, case: int, pressure: Floats) -> Inputs:
    """Return the inputs with one case at several dynamic pressures of flight.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    case : int
        Which case.
    pressure : ndarray, shape (n,)
        Zero or more [Pa].

    Returns
    -------
    Inputs
        With n cases, alike but for the speed; what the wash adds to its square is held.
    """
    cases = inputs.cases
    added = cases.speed[case] ** 2 - cases.flight_speed[case] ** 2
    squared = 2 * pressure / cases.density[case]
    taken = cases.repeated(np.full(len(pressure), case))
    taken["flight_speed"] = np.sqrt(squared)
    taken["speed"] = np.sqrt(squared[:, None] + added)
    return inputs._replace(cases=type(cases)(**taken))
