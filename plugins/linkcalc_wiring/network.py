r"""Monotone search: the greatest and the least voltages that satisfy a network.

A servo on a sagging supply may have several working points. In a network of
resistances a current drawn anywhere lowers the voltage everywhere, so that of
all solutions one is the greatest at every node at once, and the search can go
down to it from the open-circuit voltage without passing it:

*   From voltages that are nowhere below the greatest solution, each demand is
    replaced by a straight line through its present point that lies nowhere
    above it at lower voltages: its slope is that of the steepest chord to any
    lower voltage. The linear circuit with these lines, solved exactly, has
    lower voltages, and they are again nowhere below the greatest solution.
*   For a demand that is convex, such as a constant power, the steepest chord
    is the tangent, and the search is Newton's. Elsewhere the chord approaches
    the tangent as the range narrows on which it is asked for: a step is never
    longer than the range on which its lines are bounds.
*   Voltages that fall below zero prove that there is no solution.

The same from below, with the signs turned round, ends at the least solution,
or at zero where the current that the network asks for without voltage cannot
be delivered. Both searches run side by side; that their ends differ is
latch-up.

The chords are taken to a table of the demand at equal steps of voltage, to the
corners that its straight pieces make between the rows, to a point nearby and
to the end of the range. They can miss a bend of the demand that is closer than
two steps of the table, a sixteenth of the open-circuit voltage, to another
bend.

References
----------
.. [1] J. M. Ortega and W. C. Rheinboldt, Iterative Solution of Nonlinear
   Equations in Several Variables. New York: Academic Press, 1970, chapter 13
   (monotone convergence, Newton's method under convexity; from memory).
.. [2] A. Tarski, A lattice-theoretical fixpoint theorem and its applications,
   Pacific Journal of Mathematics 5 (1955) 285-309 (the greatest and the least
   fixed point of an increasing map; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc_wiring.levels import gathered, linear_step

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc_wiring.levels import Array, Circuit

    Demand = Callable[[Array], Array]
    Flags = NDArray[np.bool_]

__all__ = [
    "ACCEPTED",
    "LEAST",
    "NEAR",
    "SOLVED",
    "Ends",
    "Loads",
    "Table",
    "corners",
    "search",
    "tabulated",
]

_TABLE_STEPS = 32
_MOST_STEPS = 100
_CHORDS_AT_ONCE = 2**18  # keeps temporary arrays to a few megabytes

# Shares of the open-circuit voltage.
LEAST = 1e-6
"""Voltages below count as none."""
NEAR = 1e-7
"""Distance of the point nearby that a slope is taken to."""
SOLVED = 1e-12
"""Residual at which a search ends."""
ACCEPTED = 1e-10
"""Residual of a solution."""

_DIFFERENT = 1e-6  # distance of two solutions

# Not zero itself: a demand of constant power has no current there.
_FRACTIONS = np.linspace(0.0, 1.0, _TABLE_STEPS + 1)[:, None, None, None]
_FRACTIONS[0] = LEAST

# The search from above looks to lower voltages, the one from below to higher ones.
_SIDE = np.array([[1.0], [-1.0]])


class Table(NamedTuple):
    """Demand of every servo at voltages of its own, signs turned for the search from below.

    Both searches then look from larger heights to smaller ones.
    """

    height: Array
    """Voltages, negative for the search from below, shape (row, servo, start, case) [V]."""
    level: Array
    """Currents, likewise, shape (row, servo, start, case) [A]."""
    usable: Flags
    """Where all currents are finite and zero or more, shape (case)."""


class Loads(NamedTuple):
    """What draws current from a network."""

    constant: Array
    """Constant current at each position, shape (position, 1, case) [A]."""
    demand: Demand
    """Current of every servo at its voltage [V] -> [A], both of the shape
    (point, servo, start, case)."""


class Ends(NamedTuple):
    """Where the searches ended."""

    voltage: Array
    """Greatest voltages that satisfy the network, shape (position, case) [V]."""
    current: Array
    """Current of every servo there, shape (servo, case) [A]."""
    total: Array
    """Current of the source, shape (case) [A]."""
    solved: Flags
    """Whether they do satisfy it, shape (case)."""
    latch_up: Flags
    """Whether the search from below ended elsewhere, shape (case)."""


def tabulated(demand: Demand, servos: int, open_circuit_voltage: Array) -> Table:
    """Tabulate a demand, with the corners that lie between the rows.

    A demand of straight pieces has a corner within a step of the table where
    the lines of the steps on both sides meet there. It may be lower, or
    higher, than both ends of the step.

    Parameters
    ----------
    demand : callable
        Current of every servo at its voltage [V] -> [A], both of the shape
        (point, servo, start, case).
    servos : int
        Number of servos.
    open_circuit_voltage : array, shape (case)
        Highest voltage of the table, more than zero [V].

    Returns
    -------
    Table
        The rows, and after them one corner for each step but the outer ones;
        where the lines do not meet within a step, its lower row again. nan
        in a row makes a case unusable.
    """
    voltage = _FRACTIONS * open_circuit_voltage
    asked = np.broadcast_to(voltage, (len(voltage), servos, *voltage.shape[2:]))
    current = demand(asked)
    corner = corners(voltage, current)
    # Asked for, not computed: a demand that bends gently is nowhere where its chords meet.
    current = np.concatenate((current, demand(corner)))
    return Table(
        height=_SIDE * np.concatenate((asked, corner)),
        level=_SIDE * current,
        usable=np.all((current >= 0.0) & (current < np.inf), axis=(0, 1, 2)),
    )


def corners(voltage: Array, current: Array) -> Array:
    """Voltages between the rows of a table at which the lines of the neighbouring steps meet.

    Parameters
    ----------
    voltage : array, shape (row, ...)
        Ascending; steps of no width are allowed [V].
    current : array, shape (row, ...)
        There [A].

    Returns
    -------
    array, shape (row - 3, ...)
        One for each step but the outer ones; where the lines do not meet
        within it, its lower row again [V].
    """
    width = np.diff(voltage, axis=0)
    rise = np.diff(current, axis=0) / np.where(width > 0.0, width, 1.0)
    before, within, after = rise[:-2], rise[1:-1], rise[2:]
    meets = (within - after) * (before - within) > 0.0
    share = np.where(meets, within - after, 0.0) / np.where(meets, before - after, 1.0)
    return np.asarray(voltage[1:-2] + share * width[1:-1])


def search(circuit: Circuit, loads: Loads, usable: Flags) -> tuple[Ends, Flags]:
    """Greatest voltages that satisfy a network, and whether lower ones do.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source.
    loads : Loads
        What draws current from it.
    usable : array of bool, shape (case)
        Cases to solve; in the others no value means anything.

    Returns
    -------
    ends : Ends
        Voltages, currents, and what is known about them.
    usable : array of bool, shape (case)
        The same cases without those in which a demand is nan, infinite or negative.

    Notes
    -----
    Solved means that no residual is larger than 1e-10 of the open-circuit
    voltage. A case without a solution ends when one of its voltages has fallen
    below a millionth of that.
    """
    full = circuit.open_circuit_voltage
    table = tabulated(loads.demand, len(circuit.layout.servo_position), full)
    usable = usable & table.usable
    floor = LEAST * full
    voltage = np.empty((circuit.layout.positions, 2, full.size))
    voltage[:, 0], voltage[:, 1] = full, floor
    reach = np.full((2, full.size), np.inf)
    none = ~usable
    ended = np.array((none, none))
    for _ in range(_MOST_STEPS):
        at = voltage.take(circuit.layout.servo_position, axis=0)
        current, slope = _bounds(loads.demand, table, at, (reach, full))
        drawn, steepness = gathered(circuit.layout, np.array((current, slope)))
        drawn += loads.constant
        residual, change, total = linear_step(circuit, voltage, drawn, steepness)
        wrong = np.abs(residual).max(axis=0)
        ended |= wrong <= SOLVED * full
        if ended.all():
            break
        length = np.abs(change).max(axis=0)
        share = np.minimum(1.0, reach / np.maximum(length, NEAR * floor))
        # A step that was cut short may be followed by a longer one, another rarely is.
        reach = np.where(share < 1.0, 2.0, 0.5) * share * length
        before, voltage = voltage, np.where(ended, voltage, voltage + share * change)
        sunk = ~(voltage >= floor)
        if sunk.any():
            none |= sunk[:, 0].any(axis=0)
            voltage[:, 1] = np.where(sunk[:, 1], floor, voltage[:, 1])
            ended[1] |= (voltage[:, 1] == before[:, 1]).all(axis=0)
            ended |= none
            voltage = np.where(none, before, voltage)
    apart = np.abs(voltage[:, 0] - voltage[:, 1]).max(axis=0)
    ends = Ends(
        voltage=voltage[:, 0],
        current=current[:, 0],
        total=total[0],
        solved=~none & (wrong[0] <= ACCEPTED * full),
        latch_up=apart > _DIFFERENT * full,
    )
    return ends, usable


def _bounds(
    demand: Demand, table: Table, voltage: Array, within: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Current at each servo [A], and the slope of a line through it that bounds it [A/V].

    The line lies nowhere above the demand at voltages that are lower by no
    more than `reach`, and for the search from below nowhere under it at higher
    ones. `voltage` has the shape (servo, start, case), the reach (start, case);
    beside it stands the open-circuit voltage.
    """
    reach, full = within
    near = _SIDE * (NEAR * full)
    end = np.minimum(np.maximum(voltage - _SIDE * reach, LEAST * full), full)
    current, nearby, farthest = demand(np.array((voltage, voltage - near, end)))
    to_end = np.maximum(_SIDE * (voltage - end), NEAR * full)
    slope = np.maximum((current - nearby) / near, _SIDE * (current - farthest) / to_end)
    if (reach * _TABLE_STEPS > full).any():
        steepest = _steepest_chord(table, voltage, current, (NEAR * full, reach))
        slope = np.maximum(slope, steepest)
    return current, slope


def _steepest_chord(
    table: Table, voltage: Array, current: Array, between: tuple[Array, Array]
) -> Array:
    """Slope of the steepest chord to the rows of a table between two distances [A/V].

    Minus infinity where no row of the table lies there.
    """
    nearest, reach = between
    height, level = _SIDE * voltage, _SIDE * current
    steepest = np.full(voltage.shape, -np.inf)
    rows = max(1, _CHORDS_AT_ONCE // max(1, voltage.size))
    for first in range(0, len(table.height), rows):
        gap = height - table.height[first : first + rows]
        rise = level - table.level[first : first + rows]
        within = (gap > nearest) & (gap <= reach)
        chord = np.where(within, rise, -np.inf) / np.where(within, gap, 1.0)
        np.maximum(steepest, chord.max(axis=0), out=steepest)
    return steepest
