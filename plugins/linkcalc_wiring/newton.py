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

from linkcalc_wiring.levels import gathered, least_pivot, linear_step
from linkcalc_wiring.network import ACCEPTED, LEAST, NEAR, Ends, corners

if TYPE_CHECKING:
    from linkcalc_wiring.levels import Array, Circuit
    from linkcalc_wiring.network import Demand, Flags, Loads

__all__ = ["settle"]

_MOST_STEPS = 12
_SURE = 0.1  # least pivot of a proof [-]
_NEARLY = 1e-6  # residual from which one more step ends it, as a share of the open-circuit voltage
_STEPS = 32  # of the chords over the whole range; over a part of it as many as fall to it
_FEWEST_STEPS = 4


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
        residual, change, _ = linear_step(circuit, voltage, drawn + loads.constant, slope)
        voltage = np.minimum(np.maximum(voltage + change, LEAST * full), full)
        # The step from here squares what is left, and is judged below.
        if not (np.abs(residual).max(axis=0)[0] > _NEARLY * full).any():
            break
    here = voltage.take(at, axis=0)
    current, chord, usable = _least_chord(loads.demand, here, full, everywhere=everywhere)
    drawn, slope = gathered(circuit.layout, np.array((current, chord)))
    residual, _, total = linear_step(circuit, voltage, drawn + loads.constant, slope)
    solved = np.abs(residual).max(axis=0)[0] <= ACCEPTED * full
    ends = Ends(
        voltage=voltage[:, 0],
        current=current[:, 0],
        total=total[0],
        solved=solved,
        latch_up=np.zeros(full.shape, dtype=np.bool_),
    )
    return ends, solved & usable & (least_pivot(circuit, slope)[0] > _SURE)


def _least_chord(
    demand: Demand, voltage: Array, full: Array, *, everywhere: bool
) -> tuple[Array, Array, Flags]:
    """Current [A] and least slope of any chord of each demand [A/V], and where all of it is usable.

    `voltage` has the shape (servo, start, case), and so have current and slope.
    """
    deepest = float(np.max(1.0 - voltage / full, initial=0.0))
    if everywhere or not deepest <= 1.0:
        low, steps = np.broadcast_to(LEAST * full, voltage.shape), _STEPS
    else:
        low, steps = voltage, min(_STEPS, max(_FEWEST_STEPS, math.ceil(_STEPS * deepest)))
    share = np.linspace(0.0, 1.0, steps + 1)[:, None, None, None]
    beside = NEAR * full
    nearby = (voltage, np.maximum(voltage - beside, LEAST * full), voltage + beside)
    asked = np.concatenate((nearby, low + share * (full - low)))
    current = demand(asked)
    if everywhere:
        corner = corners(asked[len(nearby) :], current[len(nearby) :])
        asked = np.concatenate((asked, corner))
        current = np.concatenate((current, demand(corner)))
    gap = asked - voltage
    apart = np.abs(gap) > 0.5 * beside
    chord = np.where(apart, current - current[0], np.inf) / np.where(apart, gap, 1.0)
    usable = np.asarray(((current >= 0.0) & (current < np.inf)).all(axis=(0, 1, 2)))
    return current[0], chord.min(axis=0), usable
