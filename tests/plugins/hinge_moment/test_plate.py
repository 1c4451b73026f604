"""The free-streamline plate against published values and its own limits."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_hinge_moment.plate import (
    SLOPE_AT_ZERO,
    Plate,
    broadside_force,
    centre_of_pressure,
    hinge_moment_coefficient,
    normal_force_coefficient,
    separated_hinge_moment,
)
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil

REFERENCE = Path(__file__).parents[2] / "reference" / "flat_plate.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
THEORY = [row for row in ROWS if row["inputs"].startswith("alpha=")]
MEASURED = [row for row in ROWS if row["quantity"].startswith("C_D flat plate at 90 deg")]

KERNELS = {
    "C_N free-streamline plate": normal_force_coefficient,
    "centre of pressure from the leading edge, x/c": centre_of_pressure,
}


def angle_of(row):
    return math.radians(float(re.match(r"alpha=(\d+) deg", row["inputs"])[1]))


def solve(**changes):
    """Solve for a unit load, so that moments are coefficients."""
    fields = dict.fromkeys(Plate().fields, 1.0) | {"incidence": 0.0, "largest_incidence": 0.0}
    return Plate()({name: np.asarray(value) for name, value in (fields | changes).items()})


def moment_at(angle):
    """Nose-down moment about the leading edge, from the published values at one angle."""
    rows = [row for row in THEORY if math.isclose(angle_of(row), math.radians(angle))]
    force, centre = (float(row["expected"]) for row in rows)
    return force * centre


def test_every_row_of_the_reference_is_used():
    assert len(THEORY) + len(MEASURED) == len(ROWS)


@pytest.mark.parametrize("row", THEORY, ids=[row["id"] for row in THEORY])
def test_force_and_centre_of_pressure_agree_with_rayleigh(row):
    assert row["tolerance_kind"] == "rel"
    value = KERNELS[row["quantity"]](angle=angle_of(row))
    assert value == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]), abs=0)


@pytest.mark.parametrize("row", MEASURED, ids=[row["id"] for row in MEASURED])
def test_a_plate_broadside_bears_less_than_a_measured_one(row):
    # The reference calls the plate a lower bound; the scatter of the measurement is its tolerance.
    least = float(row["expected"]) * (1.0 - float(row["tolerance"]))
    assert normal_force_coefficient(angle=0.5 * math.pi) < least


def test_a_long_plate_broadside_measures_two_and_a_quarter_times_as_much():
    (row,) = (row for row in MEASURED if "ratio to the free-streamline" in row["notes"])
    printed = float(row["notes"].rsplit(" ", maxsplit=1)[-1])
    ratio = float(row["expected"]) / normal_force_coefficient(angle=0.5 * math.pi)
    assert ratio == pytest.approx(printed, abs=0.005)


def test_centre_of_pressure_has_the_limits_of_rayleigh():
    assert centre_of_pressure(angle=0.0) == 5.0 / 16.0
    assert centre_of_pressure(angle=0.5 * math.pi) == pytest.approx(0.5, rel=1e-15)


@pytest.mark.parametrize("angle", [2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0])
def test_moment_of_a_deflected_plate_is_force_times_arm(angle):
    # both factors are printed to 1e-4
    for deflection in (math.radians(angle), -math.radians(angle)):
        expected = -math.copysign(moment_at(angle), deflection)
        moment = solve(deflection=deflection)
        for line in ("low", "best", "high"):
            assert moment[line] == pytest.approx(expected, rel=2e-4)


def test_the_lines_stand_at_the_sum_and_the_difference_of_the_angles():
    # 45 deg of deflection, 15 deg of incidence that takes away: 30, and at most 60
    angles = {"deflection": math.radians(45.0), "incidence": math.radians(-15.0)}
    moment = solve(**angles, largest_incidence=math.radians(15.0))
    assert moment["low"] == pytest.approx(-moment_at(30), rel=2e-4)
    assert moment["best"] == pytest.approx(-moment_at(30), rel=2e-4)
    assert moment["high"] == pytest.approx(-moment_at(60), rel=2e-4)


def test_more_incidence_than_deflection_pushes_the_low_line_the_other_way():
    angles = {"deflection": math.radians(-5.0), "incidence": 0.0}
    moment = solve(**angles, largest_incidence=math.radians(10.0))
    assert moment["low"] == pytest.approx(-moment_at(5), rel=2e-4)
    assert moment["best"] == pytest.approx(moment_at(5), rel=2e-4)
    assert moment["high"] == pytest.approx(moment_at(15), rel=2e-4)


def test_a_band_too_narrow_for_the_incidence_is_stretched_to_best():
    angles = {"deflection": math.radians(10.0), "largest_incidence": 0.0}
    over = solve(**angles, incidence=math.radians(20.0))
    assert over["high"] == over["best"] == pytest.approx(-moment_at(30), rel=2e-4)
    under = solve(**angles, incidence=math.radians(-20.0))
    assert under["low"] == under["best"] == pytest.approx(moment_at(10), rel=2e-4)


@pytest.mark.parametrize("degrees", [91.0, 135.0, 180.0])
def test_past_broadside_the_value_at_broadside_stands(degrees):
    for sign in (1.0, -1.0):
        past = hinge_moment_coefficient(angle=sign * math.radians(degrees))
        assert past == pytest.approx(-sign * moment_at(90), rel=2e-4)
    high = solve(deflection=math.radians(85.0), largest_incidence=math.radians(degrees - 85.0))
    assert high["high"] == pytest.approx(-moment_at(90), rel=2e-4)


@given(st.floats(0.0, math.pi / 2), st.floats(0.0, math.pi / 2))
def test_a_steeper_plate_never_bears_less(one, other):
    low, high = sorted((one, other))
    assert -hinge_moment_coefficient(angle=low) <= -hinge_moment_coefficient(angle=high) + 1e-15


def test_slopes_are_those_at_no_angle():
    step = 1e-6
    rise = hinge_moment_coefficient(angle=step) - hinge_moment_coefficient(angle=-step)
    assert pytest.approx(rise / (2.0 * step), rel=1e-5) == SLOPE_AT_ZERO
    moment = solve(deflection=0.3, taper=0.0)
    # 4/3 for a surface that runs out in a point
    assert moment["C_h_alpha"] == pytest.approx(4.0 / 3.0 * rise / (2.0 * step), rel=1e-5)
    assert moment["C_h_delta"] == moment["C_h_alpha"]
    assert moment["C_h0"] == 0.0
    assert moment["k_s"] == 1.0


def test_a_point_bears_a_third_more_than_a_rectangle():
    square, point = solve(deflection=0.4), solve(deflection=0.4, taper=0.0)
    for line in ("low", "best", "high"):
        assert point[line] == pytest.approx(4.0 / 3.0 * square[line], rel=1e-12)


@given(st.floats(0.001, math.radians(30.0)), st.floats(0.05, 1.0))
def test_a_deflected_plate_bears_less_than_attached_flow(deflection, chord_ratio):
    fields = dict.fromkeys(ThinAerofoil().fields, 0.0) | {
        "dynamic_pressure": 1.0,
        "deflection": deflection,
        "area": 1.0,
        "chord": 1.0,
        "taper": 1.0,
        "chord_ratio": chord_ratio,
        "aspect_ratio": math.inf,
        "density": 1.0,
        "viscosity": 1e-9,
    }
    attached = ThinAerofoil()({name: np.asarray(value) for name, value in fields.items()})
    assert abs(solve(deflection=deflection)["best"]) < abs(attached["best"])


def test_nan_angles_give_nan_moments():
    moment = solve(deflection=np.array([0.2, math.nan]))
    for line in ("low", "best", "high"):
        np.testing.assert_array_equal(np.isnan(moment[line]), [False, True])


# --- fully separated: the measured force, by aspect ratio


@pytest.mark.parametrize("row", MEASURED, ids=[row["id"] for row in MEASURED])
def test_a_plate_broadside_bears_what_was_measured(row):
    ratio = 1.0 if "square" in row["inputs"] else math.inf
    assert broadside_force(aspect_ratio=ratio) == pytest.approx(
        float(row["expected"]), rel=float(row["tolerance"])
    )
    moment = separated_hinge_moment(angle=0.5 * math.pi, broadside=float(row["expected"]))
    assert moment == pytest.approx(-0.5 * float(row["expected"]), rel=1e-12)


@given(st.floats(0.01, 100.0))
def test_a_plate_does_not_care_which_of_its_edges_is_called_the_span(ratio):
    assert broadside_force(aspect_ratio=ratio) == pytest.approx(
        broadside_force(aspect_ratio=1.0 / ratio), rel=1e-12
    )


@given(st.floats(-math.pi / 2, math.pi / 2), st.floats(1.0, 100.0))
def test_a_separated_plate_never_bears_less_than_the_floor(angle, ratio):
    made = separated_hinge_moment(angle=angle, broadside=broadside_force(aspect_ratio=ratio))
    assert abs(made) >= abs(hinge_moment_coefficient(angle=angle))
    assert made * angle <= 0.0


@pytest.mark.parametrize("ratio", [0.0, -1.0, math.nan])
def test_a_plate_without_a_shape_has_no_force(ratio):
    assert math.isnan(broadside_force(aspect_ratio=ratio))
