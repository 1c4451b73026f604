r"""Newton's method from the open-circuit voltage, and a proof that it found the greatest solution.

Almost every network of an aircraft has one solution, near its open-circuit
voltage. Newton's method gets there in a few steps, but it may pass a greater
solution on the way, so that what it finds has to be proved:

*   Let x satisfy the network, and let any other y do so too. The currents of
    the servos differ by :math:`\sigma_j (y_j - x_j)`, where :math:`\sigma_j`
    is the slope of a chord of the demand through x. With R the matrix of
    resistances, :math:`(1 + R \Sigma)(y - x) = 0`.
*   R is positive semidefinite. If :math:`1 + L^T S L`, with R = L L^T and S
    the *least* slopes of any chord, is positive definite, it is so with every
    larger slope as well, and y = x. In a tree that is so where every pivot
    of the elimination is positive, one sweep inwards.

Chords over all voltages prove that the solution is the only one, so that the
supply can't stay at lower voltages. Chords to higher voltages alone prove that
it is the greatest, which is all that a caller may want. Where the proof fails,
there may be several solutions or none: `linkcalc_wiring.network` tells.

The chords are taken to points nearby and to voltages at equal steps of a
thirty-second of the open-circuit voltage, for a proof over all voltages also to
the corners that straight pieces of the demand make between them. A bend closer
than two steps to another can be missed, and that only where it breaks a proof
by which a tenth of every pivot was left.

References
----------
.. [1] J. M. Ortega and W. C. Rheinboldt, Iterative Solution of Nonlinear
   Equations in Several Variables. New York: Academic Press, 1970, chapter 7
   (Newton's method; from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_wiring.levels import farthest, least_pivot, straight_voltages
from linkcalc_wiring.network import ACCEPTED, LEAST, NEAR, Ends, corners

if TYPE_CHECKING:
    from collections.abc import Callable

    from linkcalc_wiring.levels import Array, Circuit
    from linkcalc_wiring.network import Demand, Flags

__all__ = ["Asked", "settle"]

_MOST_STEPS = 12
_SURE = 0.1  # least pivot of a proof [-]
_NEARLY = 1e-5  # step after which no other is needed, as a share of the open-circuit voltage
_STEPS = 32  # of the chords over the whole range; over a part of it as many as fall to it
_FEWEST_STEPS = 4


class Asked:
    """What is known about a demand that can only be asked for.

    Parameters
    ----------
    demand : callable
        Current of every servo at its voltage [V] -> [A], both of the shape
        (point, servo, start, case).
    servos : int
        Number of servos.
    full : array, shape (case)
        Open-circuit voltage [V].
    everywhere : bool
        Whether chords are wanted to all voltages, not only to higher ones.
    """

    def __init__(self, demand: Demand, servos: int, full: Array, *, everywhere: bool) -> None:
        self._demand, self._full, self._everywhere = demand, full, everywhere
        self._shape = (servos, full.size)

    def _ask(self, voltage: Array) -> Array:
        """Ask for the current at voltages of the shape (point, servo, case)."""
        return self._demand(voltage[:, :, None])[:, :, 0]

    def current(self, voltage: Array) -> Array:
        """Current at a voltage.

        Parameters
        ----------
        voltage : array, shape (servo, case)
            Voltage [V].

        Returns
        -------
        array, shape (servo, case)
            Current [A].
        """
        return np.asarray(self._ask(voltage[None])[0])

    def line(self, voltage: Array) -> tuple[Array, Array]:
        """Current at a voltage, and the slope to a point right below.

        Parameters
        ----------
        voltage : array, shape (servo, case), or (1, case) where all are alike
            Voltage [V].

        Returns
        -------
        current, slope : array, shape (servo, case)
            Current [A] and its slope [A/V].
        """
        near = NEAR * self._full
        asked = np.empty((2, *self._shape))
        asked[0], asked[1] = voltage, voltage - near
        current, below = self._ask(asked)
        return current, (current - below) / near

    def least_slope(self, voltage: Array, current: Array) -> Array:
        """Least slope of the chords to a number of points.

        Parameters
        ----------
        voltage, current : array, shape (servo, case)
            Where the chords start [V] and the current there [A].

        Returns
        -------
        array, shape (servo, case)
            Slope [A/V]; nan where a demand is nan, infinite or negative.
        """
        full = self._full
        deepest = float(np.max(1.0 - voltage / full, initial=0.0))
        if self._everywhere or not deepest <= 1.0:
            low, steps = np.broadcast_to(LEAST * full, voltage.shape), _STEPS
        else:
            low, steps = voltage, min(_STEPS, max(_FEWEST_STEPS, math.ceil(_STEPS * deepest)))
        share = np.linspace(0.0, 1.0, steps + 1)[:, None, None]
        beside = NEAR * full
        nearby = (np.maximum(voltage - beside, LEAST * full), voltage + beside)
        asked = np.concatenate((nearby, low + share * (full - low)))
        answered = self._ask(asked)
        if self._everywhere:
            corner = corners(asked[len(nearby) :], answered[len(nearby) :])
            asked = np.concatenate((asked, corner))
            answered = np.concatenate((answered, self._ask(corner)))
        gap = asked - voltage
        apart = np.abs(gap) > 0.5 * beside
        chord = np.where(apart, answered - current, np.inf) / np.where(apart, gap, 1.0)
        usable = ((answered >= 0.0) & (answered < np.inf)).all(axis=0)
        return np.where(usable, chord.min(axis=0), np.nan)


# Whatever is not finite proves nothing, and is thrown away.
@np.errstate(all="ignore")
def settle(
    circuit: Circuit,
    constant: Array,
    line: Callable[[Array], tuple[Array, Array]],
    asked: Callable[[Array], Array],
    least_slope: Callable[[Array, Array], Array],
) -> tuple[Ends, Flags]:
    """Find voltages by Newton's method, and tell where they are proved.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source, without a limit of current and without regulators.
    constant : array, shape (position, case)
        Constant current at each position [A].
    line : callable
        Voltage of every servo [V] -> its current [A] and the slope of that
        [A/V], all of the shape (servo, case).
    asked : callable
        Voltage of every servo [V] -> its current alone [A], likewise.
    least_slope : callable
        Voltages [V] and currents [A] -> a bound of the slope of all chords
        through these points [A/V], all of the shape (servo, case); nan
        proves nothing.

    Returns
    -------
    ends : Ends
        Voltages and currents, without latch-up.
    proved : array of bool, shape (case)
        Whether they are the greatest that satisfy the network to 1e-10 of the
        open-circuit voltage. False wherever a demand is nan, negative or
        infinite.

    Notes
    -----
    Each step solves the circuit exactly for a straight line in place of each
    demand. What the lines lack at the voltages found is all that is missing,
    and no residual is larger than what it loses on the way from the source.
    """
    full, at = circuit.open_circuit_voltage, circuit.layout.servo_position
    floor = LEAST * full
    here = full[None]  # the same for all servos, until it is known better
    wide = (len(at), full.size)
    settled: Flags = np.zeros(full.shape, dtype=np.bool_)
    kept: tuple[Array, ...] = ()
    for step in range(_MOST_STEPS):
        current, slope = line(here)
        offset = slope * here
        offset = np.subtract(current, offset, out=offset)
        if not step:
            offset, slope = np.broadcast_to(offset, wide), np.broadcast_to(slope, wide)
        voltage, before = straight_voltages(circuit, constant, offset, slope), here
        here = voltage.take(at, axis=0)
        np.maximum(here, floor, out=here)
        made = voltage, here, offset, slope
        if settled.any():  # what has settled stays, whatever other cases need
            for new, old in zip(made, kept, strict=True):
                np.copyto(new, old, where=settled)
        # The step from here squares what is left, and is judged below.
        if step:
            settled = np.asarray((np.abs(here - before) <= _NEARLY * full).all(axis=0))
        if settled.all():
            break
        kept = made
    current = asked(here)
    missing = current - offset
    missing -= slope * here
    sunk = voltage.min(axis=0) < floor
    missing = np.abs(missing, out=missing).sum(axis=0)
    solved = missing * circuit.resistance[:, 0].max(axis=0) <= ACCEPTED * full
    usable = (current.min(axis=0, initial=np.inf) >= 0.0) & ~sunk
    ends = Ends(
        voltage=voltage,
        current=current,
        total=current.sum(axis=0) + constant.sum(axis=0),
        solved=solved & usable,
        latch_up=np.zeros(full.shape, dtype=np.bool_),
    )
    least = np.broadcast_to(least_slope(here, current), here.shape)
    # The trace bounds the largest eigenvalue: all servos as far away as the farthest node.
    if (1.0 + np.minimum(least, 0.0).sum(axis=0) * farthest(circuit) > _SURE).all():
        return ends, ends.solved
    return ends, ends.solved & (least_pivot(circuit, least) > _SURE)
