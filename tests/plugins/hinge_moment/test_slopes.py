"""Closed forms of the thin-aerofoil slopes against published values and quadrature."""

import csv
import math
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope

REFERENCE = Path(__file__).parents[2] / "reference" / "hinge_thin_airfoil.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def chord_ratio_of(row):
    return float(re.search(r"flap_chord_ratio=([\d.]+)", row["inputs"])[1])


def tolerance_of(row):
    return {row["tolerance_kind"]: float(row["tolerance"])}


# The second way: Glauert's series for the circulation of a bent line, summed to its closed
# pressure difference, and the moment by quadrature. On x = (1 - cos t) / 2 with unit chord.


def pressure_of_incidence(t):
    return 4.0 * (1.0 + math.cos(t)) / math.sin(t)


def pressure_of_deflection(t, hinge):
    # A_0 = (pi - hinge) / pi and A_n = 2 sin(n hinge) / (n pi); the sum over sines is a logarithm
    smooth = (math.pi - hinge) * (1.0 + math.cos(t)) / math.sin(t)
    peak = math.log(abs(math.sin(0.5 * (t + hinge)) / math.sin(0.5 * (t - hinge))))
    return 4.0 / math.pi * (smooth + peak)


def integral(function, low, high):
    return quad(function, low, high, epsabs=1e-11, epsrel=1e-9, limit=200)[0]


@cache
def by_quadrature(quantity, ratio):
    hinge = math.acos(2.0 * ratio - 1.0)

    def plate_load(t):
        return pressure_of_incidence(t) * 0.5 * math.sin(t)

    def flap_load(t):
        return pressure_of_deflection(t, hinge) * 0.5 * math.sin(t)

    def arm(t):
        return 0.5 * (math.cos(hinge) - math.cos(t))

    def pitch(t):
        return -flap_load(t) * (0.5 * (1.0 - math.cos(t)) - 0.25)

    def chord(function):
        return integral(function, 0.0, hinge) + integral(function, hinge, math.pi)

    def hinge_moment(load):
        return -integral(lambda t: load(t) * arm(t), hinge, math.pi) / ratio**2

    return {
        "a2": lambda: chord(flap_load),
        "flap effectiveness tau = a2/a1": lambda: chord(flap_load) / (2.0 * math.pi),
        "m": lambda: chord(pitch),
        "b1 = c_h_alpha": lambda: hinge_moment(plate_load),
        "limit of b1 for flap = whole chord": lambda: hinge_moment(plate_load),
        "b2 = c_h_delta": lambda: hinge_moment(flap_load),
    }[quantity.rsplit(", ", maxsplit=1)[-1]]()


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_quadrature_of_the_pressure_agrees_with_the_reference(row):
    # what the closed forms are held to below has to be right itself, in lift and moment too
    expected = pytest.approx(float(row["expected"]), **tolerance_of(row))
    assert by_quadrature(row["quantity"], chord_ratio_of(row)) == expected


HINGE_ROWS = [row for row in ROWS if "b1" in row["quantity"] or "b2" in row["quantity"]]


@pytest.mark.parametrize("row", HINGE_ROWS, ids=[row["id"] for row in HINGE_ROWS])
def test_slopes_agree_with_glauert(row):
    slope = incidence_slope if "b1" in row["quantity"] else deflection_slope
    expected = pytest.approx(float(row["expected"]), **tolerance_of(row))
    assert slope(chord_ratio=chord_ratio_of(row)) == expected


@pytest.mark.parametrize("ratio", [0.02, 0.137, 0.33, 0.62, 0.9, 1.0])
def test_slopes_agree_with_quadrature_of_the_pressure(ratio):
    b1, b2 = (by_quadrature(name, ratio) for name in ("b1 = c_h_alpha", "b2 = c_h_delta"))
    # the quadrature's own error, absolute 1e-11, is divided by the square of the ratio
    assert incidence_slope(chord_ratio=ratio) == pytest.approx(b1, rel=1e-7)
    assert deflection_slope(chord_ratio=ratio) == pytest.approx(b2, rel=1e-7)


def test_with_the_hinge_at_the_leading_edge_lift_acts_at_the_quarter_chord():
    # deflection and incidence are then the same thing: 2 pi times an arm of 1/4
    assert incidence_slope(chord_ratio=1.0) == pytest.approx(-0.5 * math.pi, rel=1e-14)
    assert deflection_slope(chord_ratio=1.0) == pytest.approx(-0.5 * math.pi, rel=1e-14)


def test_a_small_flap_feels_incidence_as_the_trailing_edge_of_a_plate_does():
    # Near the trailing edge the pressure difference of a plate is 4 sqrt(s), s the distance
    # to the edge over the chord: b1 -> -(4 / E^2) * integral of sqrt(s) (E - s) = -16/15 sqrt(E).
    ratio = 1e-4
    expected = -16.0 / 15.0 * math.sqrt(ratio)
    assert incidence_slope(chord_ratio=ratio) == pytest.approx(expected, rel=2e-4)


def test_slopes_run_smoothly_into_the_whole_chord():
    # both series begin -pi/2 + pi (1 - E): next to E = 1 only rounding may be left of it
    ratio = math.nextafter(1.0, 0.0)
    assert incidence_slope(chord_ratio=ratio) == pytest.approx(-0.5 * math.pi, rel=1e-14)
    assert deflection_slope(chord_ratio=ratio) == pytest.approx(-0.5 * math.pi, rel=1e-14)


@given(st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_a_larger_chord_ratio_never_makes_the_slopes_smaller(one, other):
    low, high = sorted((one, other))
    for slope in (incidence_slope, deflection_slope):
        assert slope(chord_ratio=high) <= slope(chord_ratio=low) + 1e-9


@given(st.floats(0.01, 1.0))
def test_deflection_counts_at_least_as_much_as_incidence(ratio):
    # a deflected flap lies in the stream that its own camber has turned down
    b1, b2 = incidence_slope(chord_ratio=ratio), deflection_slope(chord_ratio=ratio)
    assert b2 <= b1 + 1e-9 < 1e-9


@pytest.mark.parametrize("ratio", [-0.1, 0.0, 1.000001, math.nan, math.inf])
def test_a_chord_ratio_out_of_range_has_no_slope(ratio):
    assert math.isnan(incidence_slope(chord_ratio=ratio))
    assert math.isnan(deflection_slope(chord_ratio=ratio))


def test_slopes_of_an_array_are_those_of_its_elements():
    ratios = np.array([[0.1, 0.25], [0.4, 1.0]])
    before = ratios.copy()
    for slope in (incidence_slope, deflection_slope):
        one_by_one = [[slope(chord_ratio=ratio) for ratio in row] for row in ratios.tolist()]
        np.testing.assert_array_equal(slope(chord_ratio=ratios), one_by_one)
    np.testing.assert_array_equal(ratios, before)
