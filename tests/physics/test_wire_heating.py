"""Warm wires against another correlation, a general root finder and the energy balance."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.constants import Stefan_Boltzmann
from scipy.optimize import brentq

from linkcalc.physics.wire_heating import shed_heat, steady_temperature

COPPER = {"resistivity": 1.7241e-8, "temperature_coefficient": 0.00393, "strand_factor": 1.1}
AIR = 293.15


@pytest.mark.parametrize("diameter", [0.8e-3, 1.5e-3, 3e-3, 8e-3])
@pytest.mark.parametrize("above", [10.0, 30.0, 60.0])
def test_convection_is_up_to_a_quarter_below_another_correlation(diameter, above):
    # V. T. Morgan, The overall convective heat transfer from smooth circular cylinders,
    # Advances in Heat Transfer 11 (1975): Nu = C Ra^n for Ra from 1e-2 to 1e2 and to 1e4
    # (coefficients from memory). Air at 300 K: 1.58e-5 m^2/s, 0.0262 W/(m K) (handbook
    # tables; from memory).
    rayleigh = 9.81 * above * diameter**3 * 0.71 / (308.0 * 1.66e-5**2)
    factor, power = (1.02, 0.148) if rayleigh < 100.0 else (0.850, 0.188)
    expected = math.pi * 0.0268 * factor * rayleigh**power * above
    found = shed_heat(
        surface_temperature=AIR + above, air_temperature=AIR, diameter=diameter, emissivity=0.0
    )
    assert 0.75 * expected < found < 1.05 * expected


def test_radiation_is_that_of_a_grey_body():
    surface = {"surface_temperature": 350.0, "air_temperature": AIR, "diameter": 2e-3}
    black, white = (shed_heat(**surface, emissivity=value) for value in (0.8, 0.0))
    expected = 0.8 * math.pi * 2e-3 * Stefan_Boltzmann * (350.0**4 - AIR**4)
    assert black - white == pytest.approx(expected, rel=1e-9)


def test_thin_air_carries_less_away():
    surface = {"surface_temperature": 330.0, "air_temperature": AIR, "diameter": 2e-3}
    assert shed_heat(**surface, pressure=70e3) < shed_heat(**surface)
    assert shed_heat(**surface | {"surface_temperature": AIR}) == pytest.approx(0.0, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.0, 8.0),
    st.floats(0.1e-6, 1e-6),
    st.floats(1e-3, 6e-3),
    st.integers(1, 12),
    st.sampled_from([0.1, np.inf]),
)
def test_temperature_is_the_root_of_the_heat_balance(current, area, diameter, conductors, core):
    lead = {"area": area, "outer_diameter": diameter, "conductors": float(conductors)}
    found = steady_temperature(
        current=current, air_temperature=AIR, core_conductivity=core, **lead, **COPPER
    )

    def heat(celsius):
        ohms = 1.1 * 1.7241e-8 * (1.0 + 0.00393 * (celsius - 20.0)) / area
        return conductors * current**2 * ohms

    def lacking(kelvin):
        made = heat(kelvin - 273.15)
        surface = kelvin - made / (4.0 * math.pi * core)
        if surface < AIR:
            return made + AIR - surface
        given_off = shed_heat(surface_temperature=surface, air_temperature=AIR, diameter=diameter)
        return made - given_off

    if np.isnan(found):
        assert lacking(AIR + 400.0) > 0.0
        return
    assert lacking(found - 1e-4) > 0.0 or current < 0.01
    assert lacking(found + 1e-4) < 0.0
    if current > 0.1:
        known = brentq(lacking, AIR, found + 1.0, xtol=1e-10)
        assert found == pytest.approx(known, rel=0, abs=1e-5)


def test_a_bundle_is_warmer_than_the_same_wires_apart_and_its_core_warmer_still():
    common = {"current": 1.5, "area": 0.2e-6, "air_temperature": AIR, **COPPER}
    alone = steady_temperature(outer_diameter=1.3e-3, **common)
    bundle = steady_temperature(outer_diameter=4.6e-3, conductors=12.0, **common)
    core = steady_temperature(
        outer_diameter=4.6e-3, conductors=12.0, core_conductivity=0.1, **common
    )
    assert AIR < alone < bundle < core < AIR + 100.0


def test_a_current_that_burns_the_wire_has_no_steady_temperature():
    wire = {"area": 0.08e-6, "outer_diameter": 1e-3, "air_temperature": AIR, **COPPER}
    found = steady_temperature(current=np.array([0.0, 1.0, 60.0, np.nan]), **wire)
    assert found[0] == pytest.approx(AIR, abs=1e-6)
    assert AIR < found[1] < AIR + 40.0
    assert np.isnan(found[2:]).all()
