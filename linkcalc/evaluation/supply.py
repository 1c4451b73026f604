"""What arrives at every servo: at work, with one servo at its limit, with all stalled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.physics import servo
from linkcalc.physics.demand import ServoDemand

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs, Supply
    from linkcalc.physics.servo import Curves

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = [
    "Delivered",
    "Inrush",
    "delivered",
    "every_state",
    "inrush",
    "of_single_runs",
]


_AT_ONCE = 100_000  # servos in states that are solved together
_MANY = 1000  # loads of a single run from which it pays to solve its limit apart from them
_STALLED = 1e30  # more torque than any servo has [N m]


class Inrush(NamedTuple):
    """All servos starting at once.

    Attributes
    ----------
    servo : ndarray, shape (case, run)
        Voltage of every run's servos [V].
    receiver, current : ndarray, shape (case,)
        Voltage of the receiver [V] and current of the source, up to its limit [A].
    """

    servo: Floats
    receiver: Floats
    current: Floats


class Delivered(NamedTuple):
    """Voltages and currents. A *state* is the working point or one run's servos at their limit.

    Of axes in front of the cases each has those that it depends on, where a run is alone.

    Attributes
    ----------
    at_work, current_at_work : ndarray, shape (..., case, run)
        Voltage [V] and current [A] of a servo of every run with all at their largest load.
    at_limit : ndarray, shape (..., case, run)
        Voltage of a servo of every run when that run is itself at its limit [V].
    least, receiver_least : ndarray, shape (..., case, run) and (..., case)
        Least voltage of every run's servos and of the receiver over all states [V].
    source_current : ndarray, shape (..., case)
        At work [A].
    required_current : ndarray, shape (..., case)
        Most that is drawn over all states with the source's limit lifted [A].
    all_stalled, all_stalled_current : ndarray, shape (..., case, run) and (..., case)
        Voltages [V] and source current [A] with every servo stalled.
    all_stalled_receiver : ndarray, shape (..., case)
        Voltage of the receiver then [V].
    latch_up, scaled, stalled : ndarray of bool, shape (..., case, run)
        Whether a lower solution exists too, whether a voltage lies below the first
        datasheet row in some state, whether the servo stalls at work.
    ground_rise : ndarray, shape (..., case, run)
        Greatest rise of the ground at every run's servos over that of the receiver [V]; nan
        where the solver does not tell.
    regulator_heat, regulator_rating : ndarray, shape (..., case)
        Heat at work of the regulator that is nearest to what it can shed, and that [W].
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
    all_stalled_receiver: Floats
    latch_up: Flags
    scaled: Flags
    stalled: Flags
    ground_rise: Floats
    regulator_heat: Floats
    regulator_rating: Floats


def _states(load: Floats, factor: Floats, *, stalled: bool) -> Floats:
    """Return the load of every run in every state, shape (state, ..., case, run).

    First the working point, then each run at its limit with the others at their load
    times the factor, and if asked for all stalled. A run at its limit has a load that stalls
    anything.
    """
    count = load.shape[-1]
    limits = np.broadcast_to(load * factor, (count, *load.shape)).copy()
    index = np.arange(count)
    limits[index, ..., index] = _STALLED
    last = [np.full((1, *load.shape), _STALLED)] if stalled else []
    return np.concatenate((load[None], limits, *last))


def _unknown(shape: tuple[int, ...]) -> Delivered:
    """Return what is known when the supply solver has failed: nothing."""
    by_run, by_case = np.full(shape, np.nan), np.full(shape[:-1], np.nan)
    no = np.zeros(shape, dtype=bool)
    flags = (no, no, no)
    return Delivered(
        *(by_run,) * 4, *(by_case,) * 3, by_run, by_case, by_case, *flags, by_run, by_case, by_case
    )


def delivered(
    inputs: Inputs, curves: Curves, load: Floats, factor: Floats, *, stalled: bool = True
) -> Delivered:
    """Solve the supply in every state.

    Parameters
    ----------
    inputs : Inputs
        Servos, supply and cases are used.
    curves : Curves
        Of the servos, stall torque divided by the datasheet factor.
    load : ndarray, shape (..., case, run)
        Largest torque that each servo of a run needs to move [N m]; nan counts as
        stalled, so that a run which cannot be computed never helps another.
    factor : ndarray
        On the load of the other runs; broadcasts with it.
    stalled : bool
        Whether to solve the state with all stalled, too, which no margin asks for, and to tell
        where servos stall or are scaled.

    Returns
    -------
    Delivered
        nan where no voltage satisfies the equations. A dead servo draws nothing.
    """
    if not inputs.supply.solver:
        return _unknown(load.shape)
    load = np.where(np.isnan(load), _STALLED, load)
    if load.shape[-1] == 1 and load.size >= _MANY:
        # At its limit it does not matter what a run has to move, and no other is there.
        work = _told(inputs, curves, load[None], stalled=stalled)
        limit = np.full((1,) * (load.ndim + 1), _STALLED)
        return _joined(work, _told(inputs, curves, limit, stalled=stalled))
    return _told(inputs, curves, _states(load, factor, stalled=stalled), stalled=stalled)


def _told(inputs: Inputs, curves: Curves, loads: Floats, *, stalled: bool) -> Delivered:
    """Solve some states, the working point first, and put together what is told of them."""
    servos, source, states = inputs.servos, inputs.supply, len(loads)
    answer, lifted = _solved(inputs, curves, loads)
    current = _of_runs(answer["servo_current"], servos.first)
    voltage, below = _at_runs(inputs, curves, answer["servo_voltage"])
    index = np.arange(loads.shape[-1])
    asked = slice(max(1, states - stalled))
    unknown = np.broadcast_to(np.nan, voltage[0].shape)
    flags = np.zeros((2, *voltage[0].shape), dtype=np.bool_)
    if stalled:
        stall = _of_runs(servo.stall_torque(curves, answer["servo_voltage"][0]), servos.first)
        flags = np.stack(np.broadcast_arrays(below[asked].any(0), loads[0] >= stall))
    return Delivered(
        at_work=voltage[0],
        current_at_work=current[0],
        at_limit=np.moveaxis(voltage[1 + index, ..., index], 0, -1) if states > 1 else unknown,
        least=voltage[asked].min(0),
        receiver_least=answer["node_voltage"][asked, ..., source.receiver_node].min(0),
        source_current=answer["source_current"][0],
        required_current=lifted["source_current"][asked].max(0),
        all_stalled=voltage[-1] if stalled else unknown,
        all_stalled_current=answer["source_current"][-1] if stalled else unknown[..., 0],
        all_stalled_receiver=(
            answer["node_voltage"][-1, ..., source.receiver_node] if stalled else unknown[..., 0]
        ),
        latch_up=np.broadcast_to(answer["latch_up"][asked].any(0)[..., None], voltage[0].shape),
        scaled=flags[0],
        stalled=flags[1],
        ground_rise=_ground_rise(inputs, answer, asked, unknown),
        **_warmest(source, answer, unknown[..., 0]),
    )


def _joined(work: Delivered, limit: Delivered) -> Delivered:
    """Return what is told of a run that is alone, at work and at its limit: then all are stalled."""
    return work._replace(
        at_limit=limit.at_work,
        least=np.minimum(work.least, limit.least),
        receiver_least=np.minimum(work.receiver_least, limit.receiver_least),
        required_current=np.maximum(work.required_current, limit.required_current),
        all_stalled=limit.all_stalled,
        all_stalled_current=limit.all_stalled_current,
        all_stalled_receiver=limit.all_stalled_receiver,
        latch_up=work.latch_up | limit.latch_up,
        scaled=work.scaled | limit.scaled,
        ground_rise=np.maximum(work.ground_rise, limit.ground_rise),
    )


def _of_runs(values: Any, first: Whole) -> Any:
    """Return the values of the first servo of every run; the same array where each run has one."""
    return values if values.shape[-1] == len(first) else values[..., first]


def _at_runs(inputs: Inputs, curves: Curves, voltage: Floats) -> tuple[Floats, Flags]:
    """Return the voltage of every run's servos, nan where it is refused, and whether it is scaled."""
    servos = inputs.servos
    below = np.asarray(_of_runs(servo.below_first_row(curves, voltage), servos.first))
    found, refused = _of_runs(voltage, servos.first), below & servos.refuse_below
    return (np.where(refused, np.nan, found) if refused.any() else found), below


def _ground_rise(inputs: Inputs, answer: dict[str, Any], asked: slice, unknown: Floats) -> Floats:
    if "ground_rise" not in answer:
        return unknown
    rise = answer["ground_rise"][asked]
    servos = np.asarray(inputs.supply.fields["servo_node"])[inputs.servos.first]
    receiver = rise[..., inputs.supply.receiver_node, None]
    return np.asarray((rise[..., servos] - receiver).max(0))


def _warmest(source: Supply, answer: dict[str, Any], unknown: Floats) -> dict[str, Floats]:
    """Find the regulator that is nearest to its rating; nan where none has one."""
    known = np.isfinite(source.node_heat_rating)
    rated = np.flatnonzero(known.reshape(-1, known.shape[-1]).any(0))
    if not rated.size or "regulator_heat" not in answer:
        return {"regulator_heat": unknown, "regulator_rating": unknown}
    heat, rating = answer["regulator_heat"][0][..., rated], source.node_heat_rating[..., rated]
    share = np.where(np.isfinite(rating), heat / rating, -np.inf)
    worst = np.argmax(share, axis=-1)[..., None]
    return {
        "regulator_heat": np.take_along_axis(heat, worst, -1)[..., 0],
        "regulator_rating": np.take_along_axis(np.broadcast_to(rating, heat.shape), worst, -1)[
            ..., 0
        ],
    }


def inrush(inputs: Inputs, curves: Curves) -> Inrush | None:
    """Solve the supply with every servo at its start-up current.

    Parameters
    ----------
    inputs : Inputs
        Servos, supply and cases are used.
    curves : Curves
        Of the servos; their currents are used.

    Returns
    -------
    Inrush or None
        nan where no voltage satisfies the equations; None where the file states no
        multiple, or the solver has failed.

    Notes
    -----
    Steady: the capacitors of source and servos, which carry a start of milliseconds, are
    not in it. A dead servo draws nothing.
    """
    source = inputs.supply
    if not source.solver or np.isnan(source.inrush_multiple):
        return None
    loads = np.full((1, *inputs.cases.live.shape), _STALLED)
    demand = _demand(inputs, curves, loads, source.inrush_multiple)
    answer = solvers.call_supply(solvers.load("supply", source.solver), source.fields, demand)
    return Inrush(
        np.asarray(answer["servo_voltage"][0][..., inputs.servos.first]),
        np.asarray(answer["node_voltage"][0, ..., source.receiver_node]),
        np.asarray(answer["source_current"][0]),
    )


def every_state(inputs: Inputs, curves: Curves, load: Floats, factor: Floats) -> dict[str, Any]:
    """Solve the supply in every state, and return all that the solver tells.

    Parameters
    ----------
    inputs : Inputs
        Servos, supply and cases are used.
    curves : Curves
        Of the servos, stall torque divided by the datasheet factor.
    load : ndarray, shape (..., case, run)
        Largest torque that each servo of a run needs to move [N m]; nan counts as stalled.
    factor : ndarray
        On the load of the other runs; broadcasts with it.

    Returns
    -------
    dict of str to ndarray
        As supply solvers return them, with the state in front: the working point, each
        run at its limit, all stalled.
    """
    loads = _states(np.where(np.isnan(load), _STALLED, load), factor, stalled=True)
    return _solved(inputs, curves, loads)[0]


def _solved(inputs: Inputs, curves: Curves, loads: Floats) -> tuple[dict[str, Any], dict[str, Any]]:
    """Solve every state, and again with the source's limit lifted."""
    source = inputs.supply
    free = {**source.fields, "current_limit": np.float64(np.inf)}
    lifted = _in_blocks(inputs, free, curves, loads)
    if np.all(lifted["source_current"] <= source.limit):  # the limit changes nothing
        return lifted, lifted
    return _in_blocks(inputs, source.fields, curves, loads), lifted


def _in_blocks(
    inputs: Inputs, fields: dict[str, Any], curves: Curves, loads: Floats
) -> dict[str, Any]:
    """Solve every state, the states in blocks so that memory stays bounded."""
    solver = solvers.load("supply", inputs.supply.solver)
    at_once = max(1, _AT_ONCE * len(loads) // loads.size)
    blocks = [loads[start : start + at_once] for start in range(0, len(loads), at_once)]
    answers = [
        solvers.call_supply(solver, fields, _demand(inputs, curves, block)) for block in blocks
    ]
    if len(answers) == 1:
        return answers[0]
    return {name: np.concatenate([answer[name] for answer in answers]) for name in answers[0]}


def _demand(inputs: Inputs, curves: Curves, loads: Floats, multiple: float = 1.0) -> ServoDemand:
    """Return the current of every servo as a function of its voltage; a dead one draws nothing."""
    owner = inputs.servos.owner
    alive = inputs.cases.live[..., owner] > inputs.servos.rank
    share: Any = alive if multiple == 1.0 else multiple * alive
    return ServoDemand(curves, loads[..., owner], share)


def of_single_runs(
    inputs: Inputs,
    curves: Curves,
    load: Floats,
    factor: Floats,
    own: NDArray[np.intp],
    *,
    work: bool,
    limit: bool,
) -> Delivered:
    """Solve the supply for one run of each case, in the states that are asked for.

    Parameters
    ----------
    inputs : Inputs
        Servos, supply and cases are used.
    curves : Curves
        Of the servos, stall torque divided by the datasheet factor, with a basis axis.
    load : ndarray, shape (basis, case, run)
        Largest torque that each servo of a run needs to move [N m]; nan counts as stalled.
    factor : ndarray
        On the load of the other runs; broadcasts with it.
    own : ndarray of int, shape (case,)
        The run that is asked for.
    work, limit : bool
        Whether the working point is, and the state with that run at its limit.

    Returns
    -------
    Delivered
        As `delivered` has it, nan for other runs and in what needs other states.
    """
    unknown = _unknown(load.shape)
    if not (inputs.supply.solver and (work or limit)):
        return unknown
    at_work = np.where(np.isnan(load), _STALLED, load)
    at_limit = at_work * factor
    each = np.arange(len(own))
    at_limit[:, each, own] = _STALLED
    asked = [at_work] * work + [at_limit] * limit
    answer, _ = _solved(inputs, curves, np.stack(asked))
    voltage, _ = _at_runs(inputs, curves, answer["servo_voltage"])
    made = unknown._asdict()
    if limit:
        made["at_limit"] = np.full(load.shape, np.nan)
        made["at_limit"][:, each, own] = voltage[-1][:, each, own]
    if work:
        made |= {"at_work": voltage[0], "source_current": answer["source_current"][0]}
        made |= _warmest(inputs.supply, answer, unknown.source_current)
    return Delivered(**made)
