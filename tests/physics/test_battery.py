"""Batteries against what their cells are named by, Arrhenius' law and a circuit by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import gas_constant

from linkcalc.errors import SolverError
from linkcalc.physics.battery import CHEMISTRIES, internal_resistance, open_circuit_voltage

KINDS = st.sampled_from(sorted(CHEMISTRIES))


@pytest.mark.parametrize(
    ("kind", "nominal", "full"),
    [
        # Voltages printed on cells, and charged to (common practice, no source). A rested
        # cell of the last two falls below the voltage that it was charged to.
        ("lithium polymer", 3.7, 4.2),
        ("lithium ion", 3.6, 4.2),
        ("lithium iron phosphate", 3.2, 3.65),
        ("nickel metal hydride", 1.2, 1.45),
    ],
)
def test_cells_are_near_their_nominal_voltage_for_most_of_their_charge(kind, nominal, full):
    charge = np.linspace(0.15, 0.85, 50)
    mean = np.mean(open_circuit_voltage(kind, cells=1, state_of_charge=charge))
    assert mean == pytest.approx(nominal, rel=0.07)
    top = open_circuit_voltage(kind, cells=1, state_of_charge=1.0)
    assert 0.94 * full <= top <= full


@given(KINDS, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(1, 8))
def test_more_charge_is_more_voltage_and_cells_add(kind, one, other, cells):
    less, more = sorted((one, other))
    low, high = open_circuit_voltage(kind, cells=1, state_of_charge=np.array([less, more]))
    assert 0.0 < low <= high
    pack = open_circuit_voltage(kind, cells=cells, state_of_charge=less)
    assert pack == pytest.approx(cells * low)


def test_charge_outside_of_its_range_has_no_voltage():
    charge = np.array([-0.01, 0.0, 1.0, 1.01, np.nan])
    volts = open_circuit_voltage("lithium ion", cells=1, state_of_charge=charge)
    assert np.isnan(volts).tolist() == [True, False, False, True, True]


@given(KINDS, st.floats(250.0, 320.0), st.floats(0.001, 0.1), st.integers(1, 8))
def test_the_cold_raises_the_resistance_by_arrhenius_law(kind, kelvin, ohms, cells):
    energy = CHEMISTRIES[kind].activation_energy
    expected = (
        cells * ohms * math.exp(energy * (298.15 - kelvin) / (gas_constant * kelvin * 298.15))
    )
    found = internal_resistance(kind, cells=cells, temperature=kelvin, cell_resistance=ohms)
    assert found == pytest.approx(expected, rel=1e-9)


def test_a_measured_resistance_counts_before_the_capacity():
    both = {"cells": 2, "temperature": 298.15, "capacity": 3600.0 * 2.2}
    estimated = internal_resistance("lithium polymer", **both)
    assert estimated == pytest.approx(2 * 0.012 / 2.2)  # 12 milliohm times ampere-hours
    measured = internal_resistance("lithium polymer", cell_resistance=0.004, **both)
    assert measured == pytest.approx(0.008)
    neither = internal_resistance("lithium polymer", cells=2, temperature=298.15)
    assert np.isnan(neither)
    mixed = internal_resistance(
        "lithium polymer", cell_resistance=np.array([np.nan, 0.004]), **both
    )
    assert mixed == pytest.approx([estimated, measured])


def test_a_cold_pack_resists_more():
    charge = open_circuit_voltage("lithium ion", cells=2, state_of_charge=0.3)
    ohms = internal_resistance(
        "lithium ion", cells=2, temperature=np.array([298.15, 263.15]), cell_resistance=0.03
    )
    assert charge == pytest.approx(2 * 3.61)
    assert ohms[0] == pytest.approx(0.06)
    assert ohms[1] > 3.0 * ohms[0]


@pytest.mark.parametrize("chemistry", ["lipo", "", "Lithium ion"])
def test_an_unknown_chemistry_is_told_with_those_there_are(chemistry):
    with pytest.raises(SolverError, match=r"no chemistry is called .*; there are lithium polymer"):
        open_circuit_voltage(chemistry, cells=2, state_of_charge=0.5)
    with pytest.raises(SolverError, match="nickel metal hydride"):
        internal_resistance(chemistry, cells=2, temperature=298.15)
