"""Margins: what is needed against what there is, mode by mode."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Reach
    from linkcalc.evaluation.supply import Delivered

    Floats = NDArray[np.float64]

__all__ = ["Comparison", "Margins", "compare"]


class Comparison(NamedTuple):
    """One mode. nan where something cannot be computed.

    Attributes
    ----------
    required : ndarray, shape (basis, ..., case, run)
        Without the factor.
    available : ndarray, shape (basis, ..., case, run)
        What there is.
    margin : ndarray, shape (basis, ..., case, run)
        available / (required x factor) - 1 [-].
    """

    required: Floats
    available: Floats
    margin: Floats


class Margins(NamedTuple):
    """Every mode.

    Attributes
    ----------
    torque, travel, voltage, over_voltage, current : Comparison
        By mode [N m, rad, V, V, A].
    """

    torque: Comparison
    travel: Comparison
    voltage: Comparison
    over_voltage: Comparison
    current: Comparison


def _against(required: Floats, available: Floats, factor: Floats) -> Comparison:
    """Compare; where nothing is required there is no margin."""
    shape = np.broadcast_shapes(np.shape(required), np.shape(available), np.shape(factor))
    required, available = np.broadcast_to(required, shape), np.broadcast_to(available, shape)
    needed = np.where(required > 0, required * factor, np.nan)
    return Comparison(required, available, available / needed - 1)


def _worse(one: Comparison, other: Comparison) -> Comparison:
    """Return the one with the lesser margin, element by element; nan is the worst."""
    take = (other.margin < one.margin) | np.isnan(other.margin)
    return Comparison(*(np.where(take, b, a) for a, b in zip(one, other, strict=True)))


def compare(
    inputs: Inputs,
    factors: Factors,
    reached: Reach,
    move: Floats,
    electric: Delivered,
    *,
    available: Floats,
) -> Margins:
    """Return the margins of all modes.

    Parameters
    ----------
    inputs : Inputs
        Servos, supply and cases are used.
    factors : Factors
        Arrays that broadcast with (basis, ..., case, run).
    reached : Reach
        By linkage and servo travel.
    move : ndarray, shape (basis, ..., case, run)
        Largest torque to move [N m].
    electric : Delivered
        Voltages and currents.
    available : ndarray, shape (basis, ..., case, run)
        Torque available [N m].

    Returns
    -------
    Margins
        nan where something cannot be computed.
    """
    supply, servos = inputs.supply, inputs.servos
    none = np.zeros_like(move)
    at_servo = _against(servos.minimum + none, electric.least, factors.voltage)
    at_receiver = _against(
        supply.receiver_minimum + none, electric.receiver_least[..., None], factors.voltage
    )
    return Margins(
        torque=_against(move, available, factors.torque),
        travel=_travel(inputs, reached, factors.travel),
        voltage=_worse(at_servo, at_receiver),
        over_voltage=_against(supply.voltage + none, servos.maximum, factors.over_voltage),
        current=_against(
            electric.required_current[..., None] + none, np.float64(supply.limit), factors.current
        ),
    )


def _travel(inputs: Inputs, reached: Reach, factor: Floats) -> Comparison:
    """Compare each side's commanded end with the end reached.

    The worse side counts. A side asked for nothing is skipped; where neutral itself is
    not reached there is no margin.
    """
    up = _against(np.maximum(-inputs.cases.low, 0.0), -reached.low, factor)
    down = _against(np.maximum(inputs.cases.high, 0.0), reached.high, factor)
    take_up = (up.margin < down.margin) | np.isnan(down.margin)
    worse = Comparison(*(np.where(take_up, a, b) for a, b in zip(up, down, strict=True)))
    lost = np.isnan(reached.low)
    return worse._replace(margin=np.where(lost, np.nan, worse.margin))
