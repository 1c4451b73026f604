"""What a solved tree tells beside its voltages: currents of leads, grounds, heat of regulators."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from linkcalc_wiring.fields import Supply
    from linkcalc_wiring.levels import Array, Circuit, Regulators

__all__ = ["DETAILS", "detailed"]

DETAILS = ("lead_current", "lead_heat", "ground_rise", "regulator_input", "regulator_heat")
"""Names of the details, each of the shape (..., node)."""


def detailed(
    supply: Supply,
    circuit: Circuit,
    parent: tuple[int, ...],
    servo_node: tuple[int, ...],
    solved: tuple[Array, Array],
) -> dict[str, Array]:
    """Tell the details of a solved circuit.

    Parameters
    ----------
    supply : Supply
        Its leads and regulators.
    circuit : Circuit
        The circuit.
    parent : tuple of int
        The parent of each node, -1 for the source's terminals.
    servo_node : tuple of int
        The node that each servo hangs on.
    solved : (array, array)
        Voltages that satisfy it, shape (position, case) [V], and the current of
        each servo there, shape (servo, case) [A]; nan where none do.

    Returns
    -------
    dict of str to array, shape (node, case)
        lead_current, in the lead that feeds the node [A]; lead_heat, in both of its
        conductors and their contacts [W]; ground_rise, voltage of the node's ground over
        that of the source [V]; regulator_input, the voltage at the input of the node's
        regulator [V], and regulator_heat, the power that the regulator turns into heat
        [W]: both nan where there is none.
    """
    voltage, current = solved
    layout, reg = circuit.layout, circuit.regulators
    drawn = supply.load + 0.0 * voltage[0]
    for servo, node in enumerate(servo_node):
        drawn[node] += current[servo]
    ground, heat = np.zeros((2, *drawn.shape))
    into, shed = np.full((2, *drawn.shape), np.nan)
    outwards = _outwards(parent)
    for node in reversed(outwards):
        position, entry = int(layout.node_position[node]), int(layout.input_position[node])
        if reg is not None and position != entry:
            passed = np.isinf(reg.voltage[position, 0])
            given, drawn[node] = (
                voltage[position] * drawn[node],
                _taken(reg, position, (voltage[entry], voltage[position], drawn[node])),
            )
            into[node] = np.where(passed, np.nan, voltage[entry])
            shed[node] = into[node] * drawn[node] - given
        if parent[node] >= 0:
            drawn[parent[node]] += drawn[node]
        heat[node] = supply.resistance[node] * drawn[node] ** 2
    for node in outwards:
        below = ground[parent[node]] if parent[node] >= 0 else 0.0
        ground[node] = below + supply.ground[node] * drawn[node]
    return dict(zip(DETAILS, (drawn, heat, ground, into, shed), strict=True))


def _taken(reg: Regulators, position: int, at: tuple[Array, Array, Array]) -> Array:
    """Current at the input of a regulator, from its voltages and the current at its output [A]."""
    into, out, current = at
    efficiency = reg.efficiency[position, 0]
    switching = out * current / (efficiency * into)
    taken = np.where(np.isnan(efficiency), current, switching)
    return np.asarray(taken + reg.quiescent[position, 0])


def _outwards(parent: tuple[int, ...]) -> list[int]:
    """Nodes in an order in which every parent comes before its children."""
    depth: dict[int, int] = {-1: 0}

    def deep(node: int) -> int:
        if node not in depth:
            depth[node] = deep(parent[node]) + 1
        return depth[node]

    return sorted(range(len(parent)), key=deep)
