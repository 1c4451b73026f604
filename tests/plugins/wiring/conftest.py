"""Supply trees to draw, and the circuit solved a second way, by nodal analysis."""

import numpy as np
import pytest

from linkcalc_wiring.tree import Tree


class Circuits:
    """Fields of supply trees, and what general circuit theory says about them."""

    @staticmethod
    def fields(parent, resistance, **others):
        """Fields of a tree with measured leads and a stiff source of 8 V."""
        return {
            "parent": np.asarray(parent),
            "length": np.zeros(len(parent)),
            "conductor_area": np.array(np.nan),
            "copper_temperature": np.array(np.nan),
            "strand_factor": np.array(np.nan),
            "contacts": np.array(np.nan),
            "return_area": np.array(np.nan),
            "return_contacts": np.array(np.nan),
            "resistivity": np.array(1.7241e-8),
            "temperature_coefficient": np.array(0.00393),
            "regulated_voltage": np.array(np.nan),
            "dropout": np.array(0.0),
            "output_resistance": np.array(0.0),
            "output_limit": np.array(np.inf),
            "efficiency": np.array(np.nan),
            "quiescent_current": np.array(0.0),
            "contact_resistance": np.array(np.nan),
            "loop_resistance": np.asarray(resistance, dtype=np.float64),
            "load": np.zeros(len(parent)),
            "servo_node": np.array([len(parent) - 1]),
            "open_circuit_voltage": np.array(8.0),
            "internal_resistance": np.array(0.0),
            "current_limit": np.array(np.inf),
            "seek_latch_up": np.array(1.0),
            "seek_details": np.array(0.0),
        } | others

    def one_lead(self, demand, resistance, **others):
        """Solve one servo at the end of one lead."""
        return Tree()(self.fields([-1], np.asarray(resistance)[..., None], **others), demand)

    @staticmethod
    def constant(current):
        """Demand that does not know its voltage."""
        return lambda voltage: np.asarray(current) + np.zeros_like(voltage)

    @staticmethod
    def paths(parent):
        """Matrix of 1 where the lead of a column carries the current of a row's node."""
        count = len(parent)
        carries = np.zeros((count, count))
        for node in range(count):
            at = node
            while at >= 0:
                carries[node, at] = 1.0
                at = parent[at]
        return carries

    def shared(self, parent, resistance, internal):
        """Resistance matrix: volts lost at a row's node for an ampere at a column's."""
        carries = self.paths(parent)
        return carries @ np.diag(resistance) @ carries.T + internal

    @staticmethod
    def nodal(parent, resistance, source, internal, current):
        """Node voltages for given currents, by nodal analysis with the terminals as last node."""
        count = len(parent)
        conductance = np.zeros((count + 1, count + 1))
        for node, ohms in enumerate(resistance):
            other = parent[node] if parent[node] >= 0 else count
            for row, column, sign in (
                (node, node, 1),
                (other, other, 1),
                (node, other, -1),
                (other, node, -1),
            ):
                conductance[row, column] += sign / ohms
        conductance[count, count] += 1.0 / internal
        injected = np.append(-np.asarray(current), source / internal)
        return np.linalg.solve(conductance, injected)[:count]


@pytest.fixture(scope="session")
def circuits():
    return Circuits()
