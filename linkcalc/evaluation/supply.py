"""What arrives at every servo: at work, with one servo at its limit, with all stalled."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.physics import servo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.physics.servo import Curves

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["Delivered", "delivered"]


_STALLED = 1e30  # more torque than any servo has [N m]


class Delivered(NamedTuple):
    """Voltages and currents. A *state* is the working point or one servo at its limit.

    Attributes
    ----------
    at_work, current_at_work : ndarray, shape (..., case, run)
        Voltage [V] and current [A] of every servo with all at their largest load.
    at_limit : ndarray, shape (..., case, run)
        Voltage of every servo when it is itself at its limit [V].
    least, receiver_least : ndarray, shape (..., case, run) and (..., case)
        Least voltage of every servo and of the receiver over all states [V].
    source_current : ndarray, shape (..., case)
        At work [A].
    required_current : ndarray, shape (..., case)
        Most that is drawn over all states with the source's limit lifted [A].
    all_stalled, all_stalled_current : ndarray, shape (..., case, run) and (..., case)
        Voltages [V] and source current [A] with every servo stalled.
    latch_up, scaled, stalled : ndarray of bool, shape (..., case, run)
        Whether a lower solution exists too, whether a voltage lies below the first
        datasheet row in some state, whether the servo stalls at work.
    """

    at_work: Floats
    current_at_work: Floats
    at_limit: Floats
    least: Floats
    receiver_least: Floats
    source_current: Floats
    required_current: Floats
    all_stalled: Floats
    all_stalled_current: Floats
    latch_up: Flags
    scaled: Flags
    stalled: Flags


def _states(load: Floats, factor: Floats) -> Floats:
    """Return the load of every servo in every state, shape (state, ..., case, run).

    First the working point, then each servo at its limit with the others at their
    load times the factor, last all stalled. A servo at its limit has a load that stalls anything.
    """
    count = load.shape[-1]
    limits = np.broadcast_to(load * factor, (count, *load.shape)).copy()
    index = np.arange(count)
    limits[index, ..., index] = _STALLED
    return np.concatenate((load[None], limits, np.full((1, *load.shape), _STALLED)))


def _unknown(shape: tuple[int, ...]) -> Delivered:
    """Return what is known when the supply solver has failed: nothing."""
    by_run, by_case, no = (
        np.full(shape, np.nan),
        np.full(shape[:-1], np.nan),
        np.zeros(shape, dtype=bool),
    )
    return Delivered(
        by_run, by_run, by_run, by_run, by_case, by_case, by_case, by_run, by_case, no, no, no
    )


def delivered(inputs: Inputs, curves: Curves, load: Floats, factor: Floats) -> Delivered:
    """Solve the supply in every state.

    Parameters
    ----------
    inputs : Inputs
        Servos and supply are used.
    curves : Curves
        Of the servos, stall torque divided by the datasheet factor.
    load : ndarray, shape (..., case, run)
        Largest torque that each servo needs to move [N m]; nan counts as stalled, so
        that a run which cannot be computed never helps another.
    factor : ndarray
        On the load of the other servos; broadcasts with it.

    Returns
    -------
    Delivered
        nan where no voltage satisfies the equations.
    """
    if not inputs.supply.solver:
        return _unknown(load.shape)
    loads = _states(np.where(np.isnan(load), _STALLED, load), factor)
    servos, source = inputs.servos, inputs.supply
    solver = solvers.load("supply", source.solver)

    def demand(voltage: Floats) -> Floats:
        return servo.current(curves, voltage, loads)

    answer = solvers.call_supply(solver, source.fields, demand)
    voltage = np.array(answer["servo_voltage"])
    below = servo.below_first_row(curves, voltage)
    voltage[below & servos.refuse_below] = np.nan
    lifted = answer
    if np.isfinite(source.limit):
        free = {**source.fields, "current_limit": np.float64(np.inf)}
        lifted = solvers.call_supply(solver, free, demand)
    count = load.shape[-1]
    index = np.arange(count)
    stalled = loads[0] >= servo.stall_torque(curves, voltage[0])
    return Delivered(
        at_work=voltage[0],
        current_at_work=answer["servo_current"][0],
        at_limit=np.moveaxis(voltage[1 + index, ..., index], 0, -1),
        least=voltage[:-1].min(0),
        receiver_least=answer["node_voltage"][:-1, ..., source.receiver_node].min(0),
        source_current=answer["source_current"][0],
        required_current=lifted["source_current"][:-1].max(0),
        all_stalled=voltage[-1],
        all_stalled_current=answer["source_current"][-1],
        latch_up=np.broadcast_to(answer["latch_up"][:-1].any(0)[..., None], load.shape),
        scaled=np.asarray(below[:-1].any(0)),
        stalled=stalled,
    )
