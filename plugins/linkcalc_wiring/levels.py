"""Tree sweeps: the circuit of a supply tree, level by level.

The source's terminals stand at position 0, then come the nodes, sorted so
that every level of the tree is one slice and the nodes that hang on one
parent are neighbours; a node without resistance to its parent has the
parent's position. A sweep inwards adds up currents, and reduces what lies
behind each lead to a straight line of current against voltage; a sweep
outwards hands the voltages down again. Both visit every node once, a whole
level at a time, and are exact for a linear circuit.

Arrays have the shape (position, start, case): `start` counts searches that
run side by side, `case` whatever else the caller varies.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from linkcalc.errors import SolverError

__all__ = [
    "Circuit",
    "Hung",
    "Layout",
    "Level",
    "arrange",
    "farthest",
    "gathered",
    "least_pivot",
    "linear_step",
    "straight_voltages",
]

Array: TypeAlias = NDArray[np.float64]
Indices: TypeAlias = NDArray[np.intp]

# Smallest pivot of the elimination [-]. A smaller one means that the straight
# lines find no voltage, or none that is near. The pivot is then raised, as if
# a conductance drew nothing at the present voltage: the step is finite again.
_LEAST_PIVOT = 1e-6

_HIDDEN = 1e-100  # stands for zero where its inverse is taken [-]
_SOME = 1e-3  # of the voltage at a regulator's input stands for its output where that has none
_FEW_CASES = 64  # up to which np.add.reduceat is the quicker way
_MOST_CURRENT = 1e300  # stands for an infinite limit where that is multiplied [A]


class Hung(NamedTuple):
    """What hangs on which position, grouped by position."""

    order: Indices
    """Indices that sort what hangs by the position that it hangs on."""
    holders: Indices | slice
    """Positions that something hangs on, each once; a slice where they are neighbours."""
    starts: Indices
    """Where the group of each of `holders` begins in that order."""
    ordered: bool
    """Whether the order is the one that they have."""


class Level(NamedTuple):
    """Ends of leads, or outputs of regulators, that are equally far away from the source."""

    nodes: slice
    """Their positions."""
    parents: Indices
    """Position of the parent of each."""
    holders: Indices | slice
    """Positions of the parents, each once; a slice where they are neighbours."""
    starts: Indices
    """Where the nodes of each of `holders` begin within the level."""
    regulated: bool
    """Whether they are the outputs of regulators, and not the ends of leads."""


class Layout(NamedTuple):
    """Shape of a tree, without any of its values."""

    node_position: Indices
    """Position of each node, in the caller's order."""
    positions: int
    """Number of positions."""
    levels: tuple[Level, ...]
    """Levels from the source outwards."""
    servo_position: Indices
    """Position of the node that each servo hangs on."""
    servos: Hung
    """The servos, grouped by position."""
    input_position: Indices
    """Position of the input of each node's regulator; without one, that of the node."""
    distinct: bool
    """Whether every node has a position of its own, and no regulator."""


class Regulators(NamedTuple):
    """Regulators of a circuit, arrays of the shape (position, 1, case).

    Of a position that is no regulator's output no value is used.
    """

    voltage: Array
    """Regulated voltage without load; infinite for one that passes its input on [V]."""
    dropout: Array
    """Least voltage between input and output, zero or more [V]."""
    limit: Array
    """Greatest output current, infinite for none [A]."""
    efficiency: Array
    """Power out over power in of a switching one; nan for a linear one [-]."""
    quiescent: Array
    """Current that it takes for itself [A]."""


class Circuit(NamedTuple):
    """A tree with its resistances, and the source that feeds it."""

    layout: Layout
    """Shape of the tree."""
    resistance: Array
    """Loop resistance of the lead that feeds each position; at position 0 the
    internal resistance of the source, at the output of a regulator its output
    resistance, shape (position, 1, case) [ohm]."""
    open_circuit_voltage: Array
    """Voltage of the source without load, more than zero, shape (case) [V]."""
    current_limit: Array | None
    """Greatest current of the source, infinite for none, shape (case) [A]; None
    if there is none in any case."""
    regulators: Regulators | None = None
    """What stands before the positions of regulated levels; None if there is none."""

    def some(self, cases: Indices) -> Circuit:
        """Circuit of some cases alone.

        Parameters
        ----------
        cases : array of int
            Which ones.

        Returns
        -------
        Circuit
            The same tree.
        """
        limit, regulators = self.current_limit, self.regulators
        return Circuit(
            self.layout,
            self.resistance[..., cases],
            self.open_circuit_voltage[cases],
            None if limit is None else limit[cases],
            None if regulators is None else Regulators(*(each[..., cases] for each in regulators)),
        )


def _hang(on: Indices) -> Hung:
    """Group what hangs by the position that it hangs on."""
    order = np.argsort(on, kind="stable")
    holders, starts = np.unique(on[order], return_index=True)
    ordered = bool((order == np.arange(on.size)).all())
    if holders.size and holders[-1] - holders[0] == holders.size - 1:
        return Hung(order, slice(int(holders[0]), int(holders[-1]) + 1), starts, ordered)
    return Hung(order, holders, starts, ordered)


@lru_cache(maxsize=128)
def arrange(
    parent: tuple[int, ...],
    joined: tuple[bool, ...],
    servo_node: tuple[int, ...],
    regulated: tuple[bool, ...] = (),
) -> Layout:
    """Sort the nodes of a tree into levels.

    Parameters
    ----------
    parent : tuple of int, one for each node
        The node's parent, or -1 for a node that is fed from the source's
        terminals.
    joined : tuple of bool, one for each node
        Whether nothing lies between the node and its parent, so that both
        have one voltage.
    servo_node : tuple of int, one for each servo
        The node that the servo hangs on.
    regulated : tuple of bool, one for each node, or empty
        Whether a regulator stands at the node, which is then its output; the
        lead to the node ends at its input.

    Returns
    -------
    Layout
        Positions, levels and servos.

    Raises
    ------
    linkcalc.errors.SolverError
        A parent or a servo's node is no node of the tree, or nodes hang on
        each other in a ring.

    Examples
    --------
    A bus on the terminals, two leads on the bus:

    >>> layout = arrange((-1, 0, 0), (True, False, False), (1, 2))
    >>> layout.node_position, len(layout.levels)
    (array([0, 1, 2]), 1)
    """
    parents, apart = np.array(parent, dtype=np.intp), ~np.array(joined, dtype=np.bool_)
    _refuse_strangers("parent of node", parents, -1, parents.size)
    _refuse_strangers("node of servo", np.array(servo_node, dtype=np.intp), 0, parents.size)
    steady = np.zeros(parents.size, dtype=np.bool_)
    steady[: len(regulated)] = regulated
    position, inputs = np.zeros((2, parents.size), dtype=np.intp)
    placed = np.zeros(parents.size, dtype=np.bool_)
    levels: list[Level] = []
    positions = 1
    ready = np.flatnonzero(parents < 0)
    while ready.size:
        position[ready] = np.where(parents[ready] < 0, 0, position[parents[ready]])
        placed[ready] = True
        for kind in (apart, steady):
            inputs[ready] = position[ready]
            led = ready[kind[ready]]
            if led.size:
                on = position[led]
                order, holders, starts, _ = _hang(on)
                own = slice(positions, positions + led.size)
                position[led[order]] = np.arange(own.start, own.stop)
                levels.append(Level(own, on[order], holders, starts, kind is steady))
                positions = own.stop
        ready = np.flatnonzero(~placed & (parents >= 0) & placed[parents])
    if not placed.all():
        lost = np.flatnonzero(~placed)
        raise SolverError(
            f"supply tree: no way from the source to {lost.size} of {parents.size} nodes, "
            f"node {lost[0]} among them, for some hang on each other in a ring; "
            "give one of the ring a parent that leads to the source"
        )
    servo_position = position[np.array(servo_node, dtype=np.intp)]
    hung = _hang(servo_position)
    distinct = len(set(position.tolist())) == position.size and not steady.any()
    return Layout(position, positions, tuple(levels), servo_position, hung, inputs, distinct)


def _refuse_strangers(what: str, nodes: Indices, least: int, count: int) -> None:
    """Raise if an index is no node of a tree of so many nodes."""
    wrong = np.flatnonzero((nodes < least) | (nodes >= count))
    if wrong.size:
        terminals = " or -1 for the source's terminals" if least < 0 else ""
        raise SolverError(
            f"supply tree: {what} {wrong[0]} is {nodes[wrong[0]]}, which is no node; "
            f"give a node from 0 to {count - 1}{terminals}"
        )


def gathered(layout: Layout, values: Array) -> Array:
    """Sum of what the servos of every position contribute.

    Parameters
    ----------
    layout : Layout
        Where the servos hang.
    values : array, shape (..., servo, start, case)
        A value of every servo.

    Returns
    -------
    array, shape (..., position, start, case)
        Sums, zero where no servo hangs. nan gives nan at its own position.
    """
    servos = layout.servos
    total = np.zeros((*values.shape[:-3], layout.positions, *values.shape[-2:]))
    if servos.order.size:
        ordered = values.take(servos.order, axis=-3)
        total[..., servos.holders, :, :] = np.add.reduceat(ordered, servos.starts, axis=-3)
    return total


def linear_step(
    circuit: Circuit, voltage: Array, drawn: Array, slope: Array
) -> tuple[Array, Array, Array]:
    r"""Residuals of a circuit, and the change of voltage that would end them.

    The current drawn at position n is taken as the straight line
    :math:`I_n + s_n d_n` of the change :math:`d_n` of its voltage. What hangs
    behind a lead of resistance r is then a line too: from A + B d at its outer
    end,

    .. math:: p = 1 + r B, \quad A' = (A - B e) / p, \quad B' = B / p

    at its inner end, with e the residual of Ohm's law in the lead.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source.
    voltage : array, shape (position, start, case)
        Present voltage of every position [V].
    drawn : array, shape (position, start, case)
        Current drawn at each position itself at that voltage [A].
    slope : array, shape (position, start, case)
        Slope s of the current drawn at each position [A/V].

    Returns
    -------
    residual : array, shape (position, start, case)
        Present residual e of Ohm's law in each lead, and at position 0 that
        of the source [V]. The source either holds its open-circuit voltage
        behind the internal resistance, or gives its greatest current at less
        voltage: of the two shortfalls, the current's as a share of its limit
        times the open-circuit voltage, the smaller one has to be zero.
    change : array, shape (position, start, case)
        Change d of every voltage that solves the linear circuit [V].
    total : array, shape (start, case)
        Current of the source at the present voltage [A].

    Notes
    -----
    The elimination is exact for positive pivots p, as they are wherever the
    slopes are zero or more. A pivot below 1e-6 is raised to that. nan in a
    case gives nan in that case only.

    References
    ----------
    .. [1] Kirchhoff's and Ohm's laws; Gaussian elimination in the order of a
       tree, which needs one pass inwards and one outwards.
    """
    ohms, levels = circuit.resistance, circuit.layout.levels
    falls = slope.min(initial=0.0) < 0.0 or circuit.regulators is not None
    residual, fixed, pivot, change = np.empty((4, *voltage.shape))
    lines = np.zeros((3, *voltage.shape))  # I, A and B: at outer ends, then at inner ones
    lines[0], lines[2] = drawn, slope
    for level in reversed(levels):
        own, lead, ends = level.nodes, ohms[level.nodes], lines[:, level.nodes]
        if level.regulated:
            residual[own], fixed[own], pivot[own], ends = _regulated(circuit, level, voltage, ends)
            lines[:, level.holders] += np.add.reduceat(ends, level.starts, axis=1)
            continue
        through, offset, steepness = ends
        miss = voltage[own] - voltage.take(level.parents, axis=0) + lead * through
        raised = 1.0 + lead * steepness
        if falls and raised.min() < _LEAST_PIVOT:
            # Without resistance the pivot is 1: nothing lacks, and nothing is divided by zero.
            lack = np.maximum(_LEAST_PIVOT - raised, 0.0)
            steepness += lack / np.where(lead > 0.0, lead, 1.0)
            raised = np.maximum(raised, _LEAST_PIVOT)
        residual[own], pivot[own], fixed[own] = miss, raised, miss + lead * offset
        offset -= steepness * miss
        ends[1:] /= raised
        lines[:, level.holders] += np.add.reduceat(ends, level.starts, axis=1)
    limit, full = circuit.current_limit, circuit.open_circuit_voltage
    source = _Feed(full, ohms[0], limit, 0.0)
    residual[0], change[0], _ = _source_step(voltage[0], lines[:, 0], source)
    for level in levels:
        own = level.nodes
        change[own] = (change.take(level.parents, axis=0) - fixed[own]) / pivot[own]
    return residual, change, lines[0, 0]


class _Feed(NamedTuple):
    """What feeds a part of a tree: the source, or a regulator."""

    full: Array
    """Voltage without load [V]."""
    ohms: Array
    """Resistance [ohm]."""
    limit: Array | None
    """Greatest current [A]."""
    least: Array | float
    """Bound of the voltage by which a residual of current is told [V]."""


def _regulated(
    circuit: Circuit, level: Level, voltage: Array, line: Array
) -> tuple[Array, Array, Array, Array]:
    """Reduce regulators, and what lies behind them, to lines at their inputs.

    Return the residual [V], f and p of the change (d - f) / p of the output's voltage for a
    change d of the input's, and current, offset and slope at the input. `line` holds the
    same of the output. A regulator that regulates, or is at its limit, has the output that
    it has whatever the input does: its p is infinite in all but name.
    """
    own, reg = level.nodes, circuit.regulators
    if reg is None:
        raise ValueError("a regulated level of a circuit without regulators")
    out, into = voltage[own], voltage.take(level.parents, axis=0)
    passed = into - reg.dropout[own]
    held, ohms = reg.voltage[own], circuit.resistance[own]
    feed = _Feed(np.minimum(held, passed), ohms, reg.limit[own], _SOME * into)
    lost, change, limited = _source_step(out, line, feed)
    through, offset, steepness = line
    pivot = np.maximum(1.0 + ohms * steepness, _LEAST_PIVOT)
    follows = np.where(limited | (held < passed), 0.0, 1.0 / pivot)
    drawn, rises = through + offset + steepness * change, steepness * follows
    efficiency, quiescent = reg.efficiency[own], reg.quiescent[own]
    linear = np.isnan(efficiency)
    # A switching regulator turns power over: with less voltage at its input it draws more.
    gain = 1.0 / (np.where(linear, 1.0, efficiency) * into)
    power, power_rises = (out + change) * drawn, follows * drawn + (out + change) * rises
    here = np.where(linear, through, out * through * gain) + quiescent
    there = np.where(linear, drawn, power * gain) + quiescent
    rises = np.where(linear, rises, (power_rises - power / into) * gain)
    # (d - f) / p with p = 1 / follows; where nothing follows, so large a p hides any d.
    rigid = 1.0 / np.maximum(follows, _HIDDEN)
    return lost, -change * rigid, rigid, np.array((here, there - here, rises))


def _in_order(values: Array, servos: Hung) -> Array:
    """Values of the servos, (servo, case), in the order of the positions."""
    return values if servos.ordered else values.take(servos.order, axis=0)


def _hand_in(values: Array, groups: Hung | Level, onto: Array) -> None:
    """Add rows of values, group by group, onto the rows of their holders, both (row, case)."""
    if len(values) == len(groups.starts):
        onto[groups.holders] += values
    elif values.shape[-1] < _FEW_CASES:
        onto[groups.holders] += np.add.reduceat(values, groups.starts, axis=0)
    else:  # reduceat is slow along rows
        sums = np.empty((len(groups.starts), values.shape[-1]))
        ends = [*groups.starts[1:].tolist(), len(values)]
        for row, (start, end) in enumerate(zip(groups.starts.tolist(), ends, strict=True)):
            np.add.reduce(values[start:end], axis=0, out=sums[row])
        onto[groups.holders] += sums


def straight_voltages(circuit: Circuit, constant: Array, offset: Array, slope: Array) -> Array:
    r"""Voltages of a circuit whose servos draw straight lines of current against voltage.

    A line :math:`I = a + b V` at the outer end of a lead of resistance r is

    .. math:: I = \frac{a}{p} + \frac{b}{p} V, \quad p = 1 + r b

    at its inner end, and the voltage outside is :math:`(V - r a) / p`.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source, without a limit of current and without regulators.
    constant : array, shape (position, case)
        Constant current drawn at each position [A].
    offset : array, shape (servo, case)
        Current a of each servo's line without voltage [A].
    slope : array, shape (servo, case)
        Slope b of each servo's line [A/V].

    Returns
    -------
    array, shape (position, case)
        Voltages [V]; without meaning where a pivot p is not more than zero.

    References
    ----------
    .. [1] Kirchhoff's and Ohm's laws; Gaussian elimination in the order of a
       tree, which needs one pass inwards and one outwards.
    """
    ohms, layout = circuit.resistance[:, 0], circuit.layout
    servos, levels = layout.servos, layout.levels
    drawn, steepness = np.array(constant), np.zeros(constant.shape)
    _hand_in(_in_order(offset, servos), servos, drawn)
    _hand_in(_in_order(slope, servos), servos, steepness)
    share = np.empty(constant.shape)
    for level in reversed(levels):
        own = level.nodes
        pivot = ohms[own] * steepness[own]
        pivot += 1.0
        np.divide(1.0, pivot, out=share[own])
        _hand_in(drawn[own] * share[own], level, drawn)
        _hand_in(steepness[own] * share[own], level, steepness)
    drawn *= ohms
    voltage = np.empty(constant.shape)
    voltage[0] = (circuit.open_circuit_voltage - drawn[0]) / (1.0 + ohms[0] * steepness[0])
    for level in levels:
        own = level.nodes
        inner = voltage.take(level.parents, axis=0)
        inner -= drawn[own]
        np.multiply(inner, share[own], out=voltage[own])
    return voltage


def farthest(circuit: Circuit) -> Array:
    """Resistance that no way from the source exceeds.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source, without regulators.

    Returns
    -------
    array, shape (case)
        Internal resistance and the largest of each level [ohm].
    """
    ohms = circuit.resistance[:, 0]
    total = np.array(ohms[0])
    for level in circuit.layout.levels:
        total += ohms[level.nodes].max(axis=0)
    return total


def least_pivot(circuit: Circuit, slope: Array) -> Array:
    """Smallest pivot of the elimination for given slopes, one sweep inwards.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source, without a limit of current and without regulators.
    slope : array, shape (servo, case)
        Slope of the current of each servo [A/V].

    Returns
    -------
    array, shape (case)
        More than zero where the linear circuit, and with it every one with
        larger slopes, has one solution [-].

    References
    ----------
    .. [1] A symmetric matrix is positive definite where all pivots of its
       elimination are positive (Sylvester's criterion; from memory).
    """
    ohms, layout = circuit.resistance[:, 0], circuit.layout
    servos, levels = layout.servos, layout.levels
    steepness = np.zeros((layout.positions, slope.shape[-1]))
    _hand_in(_in_order(slope, servos), servos, steepness)
    least = np.full(slope.shape[-1], np.inf)
    for level in reversed(levels):
        ends = steepness[level.nodes]
        pivot = 1.0 + ohms[level.nodes] * ends
        smallest = pivot.min(axis=0)
        np.minimum(least, smallest, out=least)
        # Past a pivot of zero or less nothing is proved any more, whatever follows.
        if not smallest.min() > 0.0:
            pivot = np.where(pivot > 0.0, pivot, 1.0)
        _hand_in(ends / pivot, level, steepness)
    return np.asarray(np.minimum(least, 1.0 + ohms[0] * steepness[0]))


def _source_step(
    voltage: Array, line: Array, feed: _Feed
) -> tuple[Array, Array, NDArray[np.bool_] | bool]:
    """Residual and change of a source's terminal voltage, for a load's straight line [V].

    `line` holds the load's current, offset and slope at the present voltage. The third
    value tells where the limit counts.
    """
    current, offset, steepness = line
    full, ohms, limit, least = feed
    lost = full - voltage - ohms * current
    short = lost - ohms * offset
    change = short / np.maximum(1.0 + ohms * steepness, _LEAST_PIVOT)
    if limit is None:
        return lost, change, False
    # The source's own line has a corner where the limit begins. Downwards only the piece at
    # the present voltage is a bound all the way; upwards both pieces are.
    load = current + offset
    below = full - voltage > ohms * np.minimum(limit, _MOST_CURRENT)
    upwards = (short >= 0.0) & (load <= limit) & (load + steepness * change > limit)
    over = (below & (load > limit)) | upwards
    scale = np.maximum(full, least)
    rises = over & (steepness > _LEAST_PIVOT * limit / scale)
    met = np.where(rises, limit - load, 0.0) / np.where(rises, steepness, 1.0)
    change = np.where(over, np.where(rises, met, -scale / _LEAST_PIVOT), change)
    return np.minimum(lost, scale * (1.0 - current / limit)), change, over
