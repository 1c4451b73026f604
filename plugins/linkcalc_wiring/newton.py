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

The chords are taken to voltages at equal steps, to the corners that straight
pieces of the demand make between them, and to points nearby; a bend closer
than two steps, a sixteenth of the open-circuit voltage, to another can be
missed, unless it is less than a tenth short of what breaks the proof.

References
----------
.. [1] J. M. Ortega and W. C. Rheinboldt, Iterative Solution of Nonlinear
   Equations in Several Variables. New York: Academic Press, 1970, chapter 7
   (Newton's method; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc_wiring.levels import gathered, least_pivot, linear_step
from linkcalc_wiring.network import ACCEPTED, LEAST, NEAR, SOLVED, Ends, corners

if TYPE_CHECKING:
    from linkcalc_wiring.levels import Array, Circuit
    from linkcalc_wiring.network import Demand, Flags, Loads

__all__ = ["settle"]

_MOST_STEPS = 12
_SURE = 0.1  # least pivot of a proof [-]
_STEPS = 32  # of the chords over the whole range
_STEPS_ABOVE = 8  # over no more than a quarter of it


# Whatever is not finite proves nothing, and is thrown away.
@np.errstate(all="ignore")
def settle(circuit: Circuit, loads: Loads, *, everywhere: bool) -> tuple[Ends, Flags]:
    """Find voltages by Newton's method, and tell where they are proved.

    Parameters
    ----------
    circuit : Circuit
        The tree and its source, without a limit of current.
    loads : Loads
        What draws current from it.
    everywhere : bool
        Whether to prove that no other voltage satisfies the network, not
        only that no greater one does.

    Returns
    -------
    ends : Ends
        Voltages and currents, without latch-up.
    proved : array of bool, shape (case)
        Whether they are the greatest that satisfy the network to 1e-10 of the
        open-circuit voltage. False wherever a demand is nan, negative or
        infinite.
    """
    full = circuit.open_circuit_voltage
    at, near = circuit.layout.servo_position, NEAR * full
    voltage = np.empty((circuit.layout.positions, 1, full.size))
    voltage[:] = full
    for _ in range(_MOST_STEPS):
        here = voltage.take(at, axis=0)
        current, below = loads.demand(np.array((here, here - near)))
        drawn, slope = gathered(circuit.layout, np.array((current, (current - below) / near)))
        residual, change, total = linear_step(circuit, voltage, drawn + loads.constant, slope)
        wrong = np.abs(residual).max(axis=0)[0]
        if not (wrong > SOLVED * full).any():
            break
        voltage = np.minimum(np.maximum(voltage + change, LEAST * full), full)
    ends = Ends(
        voltage=voltage[:, 0],
        current=current[:, 0],
        total=total[0],
        solved=wrong <= ACCEPTED * full,
        latch_up=np.zeros(full.shape, dtype=np.bool_),
    )
    chord, usable = _least_chord(loads.demand, here, full, everywhere=everywhere)
    pivot = least_pivot(circuit, gathered(circuit.layout, chord))[0]
    return ends, ends.solved & usable & (pivot > _SURE)


def _least_chord(
    demand: Demand, voltage: Array, full: Array, *, everywhere: bool
) -> tuple[Array, Flags]:
    """Least slope of any chord of each demand [A/V], and where all of the demand is usable.

    `voltage` has the shape (servo, start, case), and so has the slope.
    """
    sag = np.maximum(full - voltage, 0.0)
    low = np.broadcast_to(LEAST * full, voltage.shape) if everywhere else voltage
    coarse = not everywhere and not (sag > 0.25 * full).any()
    share = np.linspace(0.0, 1.0, (_STEPS_ABOVE if coarse else _STEPS) + 1)
    rows = low + share[:, None, None, None] * (full - low)
    beside = NEAR * full
    asked = np.concatenate((rows, (voltage, np.maximum(voltage - beside, LEAST * full), voltage + beside)))
    current = demand(asked)
    corner = corners(rows, current[:-3])
    asked, current = np.concatenate((asked, corner)), np.concatenate((current, demand(corner)))
    gap = asked - voltage
    apart = np.abs(gap) > 0.5 * beside
    rise = current - current[len(rows)]
    chord = np.where(apart, rise, np.inf) / np.where(apart, gap, 1.0)
    usable = ((current >= 0.0) & (current < np.inf)).all(axis=(0, 1, 2))
    return chord.min(axis=0), usable
