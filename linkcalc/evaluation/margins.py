"""Margins: what is needed against what there is, mode by mode."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.inputs import by_run

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Reach

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["Comparison", "Found", "Margins", "compare"]


class Comparison(NamedTuple):
    """One mode. nan where something cannot be computed.

    Of the axes between basis and case each has those that it depends on, and length 1 along
    others.

    Attributes
    ----------
    required : ndarray, shape (basis, ..., case, run)
        Without the factor.
    available : ndarray, shape (basis, ..., case, run)
        What there is.
    margin : ndarray, shape (basis, ..., case, run)
        available / (required x factor) - 1 [-].
    applies : ndarray of bool, shape (basis, ..., case, run)
        Whether the mode has a meaning here.
    """

    required: Floats
    available: Floats
    margin: Floats
    applies: Flags


class Margins(NamedTuple):
    """Every mode, in the order of a report.

    Attributes
    ----------
    torque, travel, voltage, over_voltage, current, speed, hold, buckling : Comparison
        By mode [N m, rad, V, V, A, rad/s, N m, N].
    joint, source_heat, gear, free_play, divergence : Comparison
        By mode [N, W, N m, rad, 1].
    """

    torque: Comparison
    travel: Comparison
    voltage: Comparison
    over_voltage: Comparison
    current: Comparison
    speed: Comparison
    hold: Comparison
    buckling: Comparison
    joint: Comparison
    source_heat: Comparison
    gear: Comparison
    free_play: Comparison
    divergence: Comparison


class Found(NamedTuple):
    """What the steps of an evaluation have found, for `compare`.

    Attributes
    ----------
    move, available : ndarray, shape (basis, ..., case, run)
        Largest torque to move, and torque available [N m].
    hold, hold_capacity : ndarray, shape (basis, ..., case, run)
        Largest torque to hold, and what the servo may hold for long [N m].
    least, receiver_least : ndarray, shape (basis, ..., case, run) and (basis, ..., case)
        Least voltages [V].
    required_current, current_at_work : ndarray, shape (basis, ..., case)
        Of the source, its limit lifted, and at work [A].
    regulator_heat, regulator_rating : ndarray, shape (basis, ..., case)
        Of the regulator of a lead nearest to what it can shed [W].
    rate : ndarray, shape (basis, ..., case, run)
        Least rate of the surface [rad/s].
    compression, critical_load, joint_force, joint_rating : ndarray, shape (basis, ..., case, run)
        Of the rods [N].
    free_play : ndarray, shape (run,)
        Total play at the surface, nan where nothing is given [rad].
    divergence : ndarray, shape (..., case, run)
        Largest C dM/d(deflection) [-].
    """

    move: Floats
    available: Floats
    hold: Floats
    hold_capacity: Floats
    least: Floats
    receiver_least: Floats
    required_current: Floats
    current_at_work: Floats
    regulator_heat: Floats
    regulator_rating: Floats
    rate: Floats
    compression: Floats
    critical_load: Floats
    joint_force: Floats
    joint_rating: Floats
    free_play: Floats
    divergence: Floats


def _against(
    required: Floats, available: Floats, factor: Floats, applies: Flags | None = None
) -> Comparison:
    """Compare; where nothing is required there is no margin."""
    applies = np.ones((), dtype=bool) if applies is None else applies
    shape = np.broadcast_shapes(required.shape, available.shape, factor.shape, applies.shape)
    required, available, applies = (
        _by_run(value, shape) for value in (required, available, applies)
    )
    if not applies.any():
        return Comparison(required, available, np.full(applies.shape, np.nan), applies)
    needed = np.where(required > 0, required * factor, np.nan)
    with np.errstate(over="ignore"):  # next to nothing is required
        margin = available / needed - 1
    return Comparison(required, available, margin, applies)


def _by_run(value: Any, shape: tuple[int, ...]) -> Any:
    """Return a value for every basis, case and run; of the axes between it keeps its own."""
    own = ((1,) * (len(shape) - value.ndim) + value.shape)[1:-2]
    wide = (shape[0], *own, *shape[-2:])
    return value if value.shape == wide else np.broadcast_to(value, wide)


def _worse(one: Comparison, other: Comparison) -> Comparison:
    """Return the one with the lesser margin, element by element; nan is the worst."""
    take = (other.margin < one.margin) | np.isnan(other.margin)
    if not take.any():
        return one
    return Comparison(*(np.where(take, b, a) for a, b in zip(one, other, strict=True)))


def compare(
    inputs: Inputs,
    factors: Factors,
    reached: Reach,
    found: Found,
    modes: Collection[str] = Margins._fields,
) -> Margins:
    """Return the margins of all modes, or of some.

    Parameters
    ----------
    inputs : Inputs
        Runs, servos, supply and cases are used.
    factors : Factors
        Arrays that broadcast with (basis, ..., case, run).
    reached : Reach
        Under load, by linkage, servo travel and compliance, shape (basis, ..., case, run).
    found : Found
        What the other steps have found.
    modes : collection of str
        Which are asked for; the others do not apply, and have axes of length 1.

    Returns
    -------
    Margins
        nan where something cannot be computed. Of axes in front of the cases a mode has those
        that it depends on.
    """
    made = _Compared(inputs, factors, reached, found)
    return Margins(*(getattr(made, n)() if n in modes else _UNASKED for n in Margins._fields))


_NONE = np.full((1, 1, 1), np.nan)
_UNASKED = Comparison(_NONE, _NONE, _NONE, np.zeros(_NONE.shape, dtype=bool))


class _Compared:
    """Comparisons by mode, each made when it is asked for."""

    def __init__(self, inputs: Inputs, factors: Factors, reached: Reach, found: Found) -> None:
        self.inputs, self.factors, self.reached, self.found = inputs, factors, reached, found
        move = found.move  # axes in front of the cases are left to what differs along them
        self.none = np.zeros((len(move), *(1,) * (move.ndim - 3), *move.shape[-2:]))

    def torque(self) -> Comparison:
        return _against(self.found.move, self.found.available, self.factors.torque)

    def travel(self) -> Comparison:
        return _travel(self.inputs, self.reached, self.factors.travel)

    def voltage(self) -> Comparison:
        """Compare the voltages of servos and of the receiver; the worse counts."""
        found, least = self.found, _of_case(self.inputs.supply.receiver_minimum)
        factor = self.factors.voltage
        return _worse(
            _against(self.inputs.servos.minimum + self.none, found.least, factor),
            _against(least + self.none, found.receiver_least[..., None], factor),
        )

    def over_voltage(self) -> Comparison:
        most = self.inputs.servos.maximum
        return _against(self.inputs.supply.voltage + self.none, most, self.factors.over_voltage)

    def current(self) -> Comparison:
        limit = _of_case(self.inputs.supply.limit)
        required = self.found.required_current[..., None] + self.none
        return _against(required, limit, self.factors.current, np.isfinite(limit))

    def speed(self) -> Comparison:
        wanted = self.inputs.cases.wanted_rate + self.none
        return _against(wanted, self.found.rate, self.factors.speed)

    def hold(self) -> Comparison:
        lasts = self.inputs.cases.sustained[:, None]
        return _against(self.found.hold, self.found.hold_capacity, self.factors.hold, lasts)

    def buckling(self) -> Comparison:
        found, factors = self.found, self.factors
        squeezed = ~(found.compression <= 0)
        required = found.compression * factors.torque
        return _against(required, found.critical_load, factors.buckling, squeezed)

    def joint(self) -> Comparison:
        found, factors = self.found, self.factors
        factor = np.where(self.inputs.runs.cables, factors.cable_joint, factors.joint)
        required, rating = found.joint_force * factors.torque, found.joint_rating
        return _against(required, rating, factor, np.isfinite(rating))

    def source_heat(self) -> Comparison:
        """Compare the heat of a regulator at the source and of those in the tree."""
        supply, found, factor = self.inputs.supply, self.found, self.factors.source_heat
        drop = _of_case(supply.input_voltage) - supply.voltage
        return _hotter(
            _against(
                drop * found.current_at_work[..., None] + self.none,
                _of_case(supply.heat_rating),
                factor,
                np.asarray(np.isfinite(drop)),
            ),
            _against(
                found.regulator_heat[..., None] + self.none,
                found.regulator_rating[..., None],
                factor,
                np.asarray(np.isfinite(supply.node_heat_rating).any()),
            ),
        )

    def gear(self) -> Comparison:
        strength = self.inputs.runs.gear_strength
        return _against(self.found.hold, strength, self.factors.gear, np.isfinite(strength))

    def free_play(self) -> Comparison:
        play, factors = self.found.free_play, self.factors
        required, limit = play + self.none, factors.free_play_limit
        return _against(required, limit, factors.free_play, np.isfinite(play))

    def divergence(self) -> Comparison:
        required = self.found.divergence + self.none
        return _divergence(self.inputs, required, self.factors.divergence)


def _of_case(value: float | Floats) -> Floats:
    """Return what is one number in a case with an axis for runs."""
    return np.asarray(value)[..., None]


def _hotter(source: Comparison, tree: Comparison) -> Comparison:
    """Return the regulator with the lesser margin, of those that apply."""
    if not tree.applies.any():
        return source
    take = tree.applies & (~source.applies | ~(tree.margin >= source.margin))
    pairs = zip(source, tree, strict=True)
    return Comparison(*(np.where(take, b, a) for a, b in pairs))


def _divergence(inputs: Inputs, required: Floats, factor: Floats) -> Comparison:
    """Compare for static divergence: 1 - factor x required, for runs with an elastic linkage."""
    elastic = by_run(np.maximum, inputs.surfaces.compliance, inputs.surfaces.first, axis=-1) > 0
    one = np.ones_like(required)
    return Comparison(
        required, one, 1 - factor * required, np.broadcast_to(elastic, required.shape)
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
    return worse._replace(margin=np.where(np.isnan(reached.low), np.nan, worse.margin))
