"""Given coefficients against the definition of C_h, worked by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_hinge_moment.given import Given

# Worked by hand from H = C_h q S_f c_f (Etkin & Reid, Dynamics of Flight, 3rd ed., sec. 2.5),
# q S_f c_f = 200 Pa * 0.02 m^2 * 0.1 m = 0.4 N m:
# C_h = 0.01 + (-0.2)(0.1) + (-0.5)(0.2) = -0.11, H = -0.044 N m.
CASE = {
    "dynamic_pressure": 200.0,
    "incidence": 0.1,
    "deflection": 0.2,
    "area": 0.02,
    "chord": 0.1,
    "C_h0": 0.01,
    "C_h_alpha": -0.2,
    "C_h_delta": -0.5,
    "band_low": 1.0,
    "band_high": 1.0,
}


def solve(**changes):
    fields = {name: np.asarray(value) for name, value in (CASE | changes).items()}
    return Given()(fields)


def test_moment_is_the_definition_of_the_coefficient():
    moment = solve()
    for line in ("low", "best", "high"):
        assert moment[line] == pytest.approx(-0.044, rel=1e-14)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # each coefficient alone, times 0.4 N m
        ({"C_h_alpha": 0.0, "C_h_delta": 0.0}, 0.004),
        ({"C_h0": 0.0, "C_h_delta": 0.0}, -0.008),
        ({"C_h0": 0.0, "C_h_alpha": 0.0}, -0.040),
        ({"C_h0": 0.0, "C_h_alpha": 0.0, "deflection": -0.2}, 0.040),
        ({"C_h0": 0.0, "C_h_delta": 0.0, "incidence": -0.1}, 0.008),
    ],
)
def test_each_coefficient_works_in_its_own_sense(changes, expected):
    assert solve(**changes)["best"] == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("changes", "low", "high"),
    [
        # opposing moment 0.044: 0.5 and 1.5 times that, up for a surface that is down
        ({}, -0.022, -0.066),
        # mirror image
        ({"deflection": -0.2, "incidence": -0.1, "C_h0": -0.01}, 0.022, 0.066),
        # an overbalanced surface helps: the greater multiple is the lower line
        ({"C_h_delta": 0.5, "C_h_alpha": 0.0, "C_h0": 0.0}, 0.060, 0.020),
    ],
)
def test_a_band_is_counted_in_the_moment_that_opposes_the_deflection(changes, low, high):
    moment = solve(**changes, band_low=0.5, band_high=1.5)
    assert moment["low"] == pytest.approx(low, rel=1e-14)
    assert moment["high"] == pytest.approx(high, rel=1e-14)


def test_coefficients_are_reported_as_given():
    moment = solve(band_low=0.5, band_high=1.5)
    assert moment["C_h0"] == 0.01
    assert moment["C_h_alpha"] == -0.2
    assert moment["C_h_delta"] == -0.5
    assert moment["k_s"] == 1.5


@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(-2.0, 2.0))
def test_without_a_band_the_three_lines_are_one(incidence, deflection, slope):
    moment = solve(incidence=incidence, deflection=deflection, C_h_delta=slope)
    assert moment["low"] == moment["best"] == moment["high"]
