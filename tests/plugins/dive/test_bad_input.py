"""What cannot be dived with is refused, by name."""

import math

import numpy as np
import pytest

from linkcalc.errors import InputError, SolverError
from linkcalc.physics.dive_entries import PRESETS, preset
from tests.plugins.dive.described import servo, solve


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("dive_angle", 0.0, "at most pi/2"),
        ("dive_angle", -0.3, "at most pi/2"),
        ("dive_angle", 1.58, "at most pi/2"),
        ("dive_angle", math.nan, "at most pi/2"),
        ("start_height", 0.0, "above the ground"),
        ("start_height", -5.0, "above the ground"),
        ("start_height", 25e3, "below 20 km"),
        ("mass", 0.0, "above zero"),
        ("mass", math.inf, "above zero"),
        ("mass", math.nan, "above zero"),
        ("wing_area", -0.3, "above zero"),
        ("zero_lift_drag", -0.01, "zero or more"),
        ("induced_factor", -0.01, "zero or more"),
        ("maximum_lift", 0.0, "above zero"),
        ("limit_load_factor", 0.0, "above zero"),
        ("delay", -1.0, "zero or more"),
        ("drop", -1.0, "zero or more"),
        ("ceiling", -1.0, "above the ground"),
        ("field_altitude", -6000.0, "-5 km"),
        ("start_speed", 0.0, "above zero"),
        ("start_speed", 240.0, "Mach 0.7"),
    ],
)
def test_a_field_that_makes_no_sense_is_refused(name, value, expected):
    with pytest.raises(InputError, match=expected) as caught:
        solve(**{name: np.array([value])})
    assert caught.value.fault.place == name
    assert caught.value.fault.remedy


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("trim_dynamic_pressure", 0.0),
        ("trim_dynamic_pressure", math.nan),
        ("trim_deflection", math.nan),
        ("static_margin", -0.05),
        ("static_margin", math.nan),
        ("tail_volume", 0.0),
        ("tail_lift_slope", math.nan),
        ("tail_arm", -0.7),
        ("elevator_effectiveness", 0.0),
        ("load_factor_slope", -3.0),
    ],
)
def test_a_servo_that_limits_needs_trim_and_tail(name, value):
    with pytest.raises(InputError) as caught:
        solve(servo(100.0), **{name: value})
    assert caught.value.fault.place == name
    solve(None, **{name: value})  # without a servo nobody asks


def test_a_load_factor_per_degree_stands_for_the_tail():
    tail = dict.fromkeys(
        ("static_margin", "tail_volume", "tail_lift_slope", "tail_arm", "elevator_effectiveness"),
        math.nan,
    )
    found = solve(servo(100.0), **tail, load_factor_slope=20.0, start_speed=30.0)
    assert found["reason"] == 0
    assert found["share_servo"] >= 0


@pytest.mark.parametrize(
    ("columns", "match"),
    [
        ({"polar_lift": [0.0, 1.0, 0.5], "polar_drag": [0.02, 0.03, 0.04]}, "0.5 after 1"),
        ({"polar_lift": [0.0, 1.0], "polar_drag": [0.02, -0.03]}, "-0.03 at 1"),
        ({"polar_lift": [0.0, 1.0]}, "shape"),
        ({"propeller_speed": [0.0, 0.0], "propeller_drag_area": [0.0, 0.1]}, "0 after 0"),
    ],
)
def test_a_table_that_is_none_is_refused(columns, match):
    with pytest.raises(InputError, match=match):
        solve(**columns)


@pytest.mark.parametrize(
    ("reach", "match"),
    [
        (lambda q: (0.3 + 0 * q, 0.3 + 0 * q), "wrong side"),
        (lambda q: (-0.3 + 0 * q, -0.3 + 0 * q), "wrong side"),
        (lambda q: (-0.3, 0.3 + 0 * q), "shape"),
    ],
)
def test_a_reach_that_is_none_is_refused(reach, match):
    with pytest.raises(SolverError, match=match):
        solve(reach)


def test_presets_are_known_by_name():
    assert sorted(PRESETS) == ["missed pull-out", "spin exit", "stall"]
    assert 0 < preset("stall").dive_angle <= 0.5 * math.pi
    with pytest.raises(InputError, match="stall, spin exit, missed pull-out"):
        preset("loop")
