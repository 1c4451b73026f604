"""The one evaluation: an aircraft as arrays in, loads, voltages and margins out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.evaluation import loads, margins
from linkcalc.evaluation.governing import BASES, PLAIN, Governing, govern, swept
from linkcalc.evaluation.inputs import by_run
from linkcalc.evaluation.linkage import Linkages, Reach, prepare
from linkcalc.evaluation.loads import BEST, ENDS, surface_flow
from linkcalc.evaluation.rates import Search, least_rate, searches
from linkcalc.evaluation.search import CLOSE, Look, nodes
from linkcalc.evaluation.supply import Delivered, delivered, of_single_runs
from linkcalc.physics import servo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.physics.servo import Curves

    Floats = NDArray[np.float64]

__all__ = [
    "Answer",
    "Asked",
    "Burden",
    "Start",
    "begin",
    "burden",
    "commanded",
    "evaluate",
    "prepare",
    "servo_share",
    "under_load_reach",
    "weakened",
]


class Start(NamedTuple):
    """Where an evaluation starts from.

    Attributes
    ----------
    reached : Reach
        What linkage, servo travel and compliance allow, shape (1 or basis, ..., case or 1, run).
    deflection : ndarray, shape (1 or basis, ..., case, run, deflection)
        Nodes over the part of the commanded range that is reached [rad].
    still : Still or None
        What no speed changes there; None where a linkage is elastic.
    free_play : ndarray, shape (run,) or (..., case, run)
        Total play at every run's surfaces at neutral, nan where nothing is given [rad].
    """

    reached: Reach
    deflection: Floats
    still: loads.Still | None
    free_play: Floats


class Asked(NamedTuple):
    """What is asked for, where that is not everything of every run.

    Attributes
    ----------
    modes : frozenset of str
        Margins.
    own : ndarray of int, shape (case,)
        The one run of each case.
    """

    modes: frozenset[str]
    own: NDArray[np.intp]


class Burden(NamedTuple):
    """What surfaces ask of their servos, whatever the servos and their supply can do.

    Attributes
    ----------
    linkages : Linkages
        Made ready.
    reached : Reach
        As `Start` has it.
    governing : Governing
        Loads where they are largest.
    slowest : tuple of Search
        For every basis, where a surface can be slowest; empty where no rate is asked for.
    """

    linkages: Linkages
    reached: Reach
    governing: Governing
    slowest: tuple[Search, ...]


_ALL = frozenset(margins.Margins._fields)


class Answer(NamedTuple):
    """All that an evaluation finds out. The basis axis is (verdict, plain).

    Attributes
    ----------
    dynamic_pressure : ndarray, shape (..., case, run)
        At the first surface of each run [Pa].
    reach : Reach
        What linkage, servo travel and compliance allow, shape (basis, ..., case, run).
    governing : Governing
        Loads where they are largest.
    delivered : Delivered
        Voltages and currents.
    torque_available : ndarray, shape (basis, ..., case, run)
        Stall torque at the voltage of the servo's own limit, over the datasheet factor [N m].
    no_load, stall : ndarray, shape (basis, ..., case, run)
        No-load speed [rad/s] and stall torque at the voltage at work, over the datasheet
        factor [N m].
    rate : ndarray, shape (basis, ..., case, run)
        Least rate of the surface under load, negative where the servo stalls [rad/s].
    jam_force : ndarray, shape (run,)
        Force that a servo would put into a jammed surface's rod at neutral, from the
        printed torque at the voltage without load; nan without details [N].
    margins : Margins
        By mode, with the basis axis.
    """

    dynamic_pressure: Floats
    reach: Reach
    governing: Governing
    delivered: Delivered
    torque_available: Floats
    no_load: Floats
    stall: Floats
    rate: Floats
    jam_force: Floats
    margins: margins.Margins


def evaluate(
    inputs: Inputs,
    factors: Factors,
    linkages: Linkages | None = None,
    bases: tuple[int, ...] | None = None,
    *,
    look: Look = CLOSE,
    start: Start | None = None,
    asked: Asked | None = None,
    known: Burden | None = None,
) -> Answer:
    """Evaluate every run in every case, for the verdict and plainly.

    Parameters
    ----------
    inputs : Inputs
        The aircraft. Speeds may have axes in front of case and run.
    factors : Factors
        Arrays with the basis axis first, as `factors.both` makes them. *Plain* is the
        whole evaluation on the best line of the air load with every factor 1.
    linkages : Linkages, optional
        What `prepare` makes of the inputs, where it is at hand.
    bases : tuple of int, optional
        What each place of the basis axis stands for; the verdict's and the plain one when
        left out.
    look : Look
        How closely to look for the governing deflections.
    start : Start, optional
        What `begin` makes of the same arguments, where it is at hand.
    asked : Asked, optional
        Of which margins and runs the answer has to tell, with a look without details; whatever
        else may then be nan, and margins as if they did not apply.
    known : Burden, optional
        What `burden` makes of the same arguments, where it is at hand. Servos and supply may
        be others.

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
    modes = _ALL if asked is None else asked.modes
    if known is None:
        known = burden(inputs, factors, linkages, bases, look=look, start=start, modes=modes)
    governing, linkages = known.governing, known.linkages
    curves = weakened(inputs, factors)
    move = _of_every_servo(governing.move, curves)
    electric = _electric(inputs, curves, move, factors.torque, asked, details=look.details)
    at_run = _of_runs(inputs, curves)
    no_load, stall = servo.speed_line(at_run, electric.at_work)
    slowest_rate = np.full(move.shape, np.nan)
    if known.slowest:
        slowest_rate = least_rate(known.slowest, no_load=no_load, stall=stall)
    available = servo.stall_torque(at_run, electric.at_limit)
    found = margins.Found(
        move=move,
        available=available,
        hold=governing.hold_most,
        hold_capacity=factors.hold_fraction * stall,
        least=electric.least,
        receiver_least=electric.receiver_least,
        required_current=electric.required_current,
        current_at_work=electric.source_current,
        regulator_heat=electric.regulator_heat,
        regulator_rating=electric.regulator_rating,
        rate=np.maximum(slowest_rate, 0.0),
        compression=governing.compression,
        critical_load=governing.critical_load,
        joint_force=governing.joint_force,
        joint_rating=governing.joint_rating,
        free_play=_free_play(inputs, linkages) if start is None else start.free_play,
        divergence=governing.divergence,
    )
    return Answer(
        dynamic_pressure=surface_flow(inputs)["dynamic_pressure"][..., inputs.surfaces.first],
        reach=known.reached,
        governing=governing,
        delivered=electric,
        torque_available=available,
        no_load=no_load,
        stall=stall,
        rate=slowest_rate,
        jam_force=_jam_force(inputs, linkages) if look.details else np.full(1, np.nan),
        margins=margins.compare(inputs, factors, known.reached, found, modes),
    )


def burden(
    inputs: Inputs,
    factors: Factors,
    linkages: Linkages | None = None,
    bases: tuple[int, ...] | None = None,
    *,
    look: Look = CLOSE,
    start: Start | None = None,
    modes: frozenset[str] = _ALL,
) -> Burden:
    """Return what surfaces ask of their servos.

    Parameters
    ----------
    inputs : Inputs
        All but servos and supply are used.
    factors : Factors
        Arrays with the basis axis first.
    linkages : Linkages, optional
        What `prepare` makes of the inputs, where it is at hand.
    bases : tuple of int, optional
        What each place of the basis axis stands for, as `evaluate` takes them.
    look : Look
        How closely to look for the governing deflections.
    start : Start, optional
        What `begin` makes of the same arguments, where it is at hand.
    modes : frozenset of str
        Margins that are asked for; what only others need may be left out.

    Returns
    -------
    Burden
        The same for any servos and supply behind these surfaces, linkages and cases.

    Raises
    ------
    SolverError
        A hinge-moment solver is missing, broken, or returned what it may not.
    """
    linkages = linkages or prepare(inputs)
    bases = bases or (inputs.basis, PLAIN)
    start = start or begin(inputs, linkages, look, bases)
    share = servo_share(inputs, factors)
    sweep = swept(inputs, linkages, start.deflection, look, known=start.still, bases=bases)
    ready = searches(inputs, linkages, sweep, share, bases) if "speed" in modes else ()
    return Burden(
        linkages,
        start.reached,
        govern(inputs, linkages, sweep, share, bases, modes=modes),
        ready,
    )


def _jam_force(inputs: Inputs, linkages: Linkages) -> Floats:
    """Return the force of a servo's printed torque in the rod of a surface that is jammed at neutral."""
    printed = servo.stall_torque(_of_runs(inputs, inputs.servos.curves), inputs.supply.voltage)
    neutral = linkages.neutral
    per_torque = (neutral.rod_force / neutral.slope)[..., linkages.starts, 0]
    return np.asarray(np.abs(printed * per_torque))


def _electric(
    inputs: Inputs,
    curves: Curves,
    move: Floats,
    factor: Floats,
    asked: Asked | None,
    *,
    details: bool,
) -> Delivered:
    """Solve the supply in every state, or in those that single runs ask for."""
    if asked is None or not asked.modes.isdisjoint(_EVERY_STATE):
        return delivered(inputs, curves, move, factor, stalled=details)
    work = not asked.modes.isdisjoint(_AT_WORK)
    limit = "torque" in asked.modes
    return of_single_runs(inputs, curves, move, factor, asked.own, work=work, limit=limit)


_EVERY_STATE = {"voltage", "current"}  # margins that need every state of the supply
_AT_WORK = {"speed", "hold", "source_heat"}  # and those that need the working point


def begin(inputs: Inputs, linkages: Linkages, look: Look, bases: tuple[int, ...] = BASES) -> Start:
    """Return where an evaluation starts from.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    look : Look
        How closely to look for the governing deflections.
    bases : tuple of int
        What each place of the basis axis stands for.

    Returns
    -------
    Start
        Where no linkage is elastic it holds at any speed.
    """
    reached = under_load_reach(inputs, linkages, inputs.cases.speed.ndim + 1, bases)
    deflection = nodes(*commanded(inputs, reached), look.nodes)
    if len(inputs.surfaces.owner) > len(inputs.surfaces.first):
        _look_beside_neutral(deflection)
    elastic = linkages.sided or inputs.surfaces.compliance.any()
    still = None if elastic else loads.still(inputs, linkages, deflection)
    return Start(reached, deflection, still, _free_play(inputs, linkages))


_BESIDE = 1e-9  # [rad]


def _look_beside_neutral(deflection: Floats) -> None:
    """Put the last node but one beside neutral where a range ends there.

    The lines of a surface at neutral change sides there, those of another surface on the same
    servo may not: what they come to together is not what they are at neutral itself.
    """
    for end, near, side in ((-1, -2, -_BESIDE), (0, 1, _BESIDE)):
        at_neutral = deflection[..., end] == 0
        deflection[..., near] = np.where(at_neutral, side, deflection[..., near])


def servo_share(inputs: Inputs, factors: Factors) -> Floats:
    """Return the share of the load that each servo of a run takes.

    Parameters
    ----------
    inputs : Inputs
        Cases are used.
    factors : Factors
        With the basis axis.

    Returns
    -------
    ndarray, shape (basis, ..., case, run)
        1 for a single servo, mismatch / number for several; nan where all are dead.
    """
    live = inputs.cases.live
    several = np.where(live > 1, factors.mismatch / np.maximum(live, 1.0), 1.0)
    return np.asarray(np.where(live > 0, several, np.nan))


def weakened(inputs: Inputs, factors: Factors) -> Curves:
    """Return the curves of the servos, printed stall torques divided by the datasheet factor.

    Parameters
    ----------
    inputs : Inputs
        Servos are used.
    factors : Factors
        With the basis axis.

    Returns
    -------
    Curves
        Stall torque of shape (basis, ..., servo, row).
    """
    given, servos = inputs.servos.curves, inputs.servos
    divisor = np.where(servos.measured[..., servos.owner], 1.0, factors.datasheet)[..., None]
    return given._replace(stall_torque_slope=given.stall_torque_slope / divisor)


def _of_every_servo(move: Floats, curves: Curves) -> Floats:
    """Return the loads along the axes that only the servos have, where they have any."""
    lead = curves.stall_torque_slope.shape[:-2]
    if len(lead) < move.ndim - 1 or lead[1:-1] == move.shape[1:-2]:
        return move
    axes = np.broadcast_shapes(lead, move.shape[:-1])
    return np.broadcast_to(move, (*axes, move.shape[-1]))


def _of_runs(inputs: Inputs, curves: Curves) -> Curves:
    """Return the curves of the first servo of every run."""
    return type(curves)(*(column[..., inputs.servos.first, :] for column in curves))


def under_load_reach(
    inputs: Inputs, linkages: Linkages, axes: int, bases: tuple[int, ...] = BASES
) -> Reach:
    """Return how far every run gets when its linkage gives way under load.

    Parameters
    ----------
    inputs : Inputs
        Surfaces, runs and cases are used.
    linkages : Linkages
        Made from them.
    axes : int
        Axes of the answer, the basis axis first.
    bases : tuple of int
        What each place of the basis axis stands for.

    Returns
    -------
    Reach
        Shape (1 or basis, ..., case or 1, run); one basis where no linkage is elastic.
    """
    stiff = linkages.stiff
    ones = (1,) * axes
    if not inputs.surfaces.compliance.any():
        return Reach(*(end.reshape(*ones[: axes - end.ndim], *end.shape) for end in stiff))
    made = []
    for end, worse in ((stiff.low, np.fmax), (stiff.high, np.fmin)):
        start = np.zeros((*end.shape[:-1], len(inputs.surfaces.owner), 1))
        start[..., inputs.surfaces.first, 0] = end
        lines = loads.under_load(inputs, start[None])
        held = lines[..., inputs.surfaces.first, 0]
        verdict, plain = worse.reduce(held[list(ENDS)]), held[BEST]
        made.append(np.stack([plain if basis == PLAIN else verdict for basis in bases]))
    return Reach(*made)


def commanded(inputs: Inputs, reached: Reach) -> tuple[Floats, Floats]:
    """Return the part of the commanded range that is reached.

    Parameters
    ----------
    inputs : Inputs
        Cases are used.
    reached : Reach
        Under load.

    Returns
    -------
    tuple of ndarray
        Its ends, shape (basis or 1, ..., case, run); nan where nothing is reached [rad].
    """
    low = np.maximum(inputs.cases.low, reached.low)
    high = np.minimum(inputs.cases.high, reached.high)
    empty = ~(low <= high)
    return np.where(empty, np.nan, low), np.where(empty, np.nan, high)


def _free_play(inputs: Inputs, linkages: Linkages) -> Floats:
    """Total play at every run's surfaces at neutral: joints over their lever, gears times the slope."""
    neutral = linkages.neutral
    lever, slope = np.abs(neutral.rod_force[..., 0]), np.abs(neutral.slope[..., 0])
    joints, gears = inputs.rods.joint_play, inputs.runs.gear_play[..., inputs.surfaces.owner]
    play = np.nan_to_num(joints) * lever + np.nan_to_num(gears) * slope
    play = np.where(np.isnan(joints) & np.isnan(gears), np.nan, play)
    if inputs.chains:
        from linkcalc.evaluation import chains  # noqa: PLC0415 - few files have chains

        for item in inputs.chains:
            play[..., item.surface] = chains.play(inputs, item)
    return by_run(np.fmax, play, inputs.surfaces.first, axis=-1)
