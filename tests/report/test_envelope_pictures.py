"""Pictures of an aircraft file in one call: their lines are those of the check, and closed forms."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.report.envelope_pictures import (
    dive_picture,
    load_factor_picture,
    margin_picture,
    reach_picture,
)
from tests.diving.described import written

WEAK = ('stall_torque = "1.6 kg·cm"', 'stall_torque = "0.6 kg·cm"')


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return written(
        tmp_path_factory.mktemp("file"),
        WEAK,
        ('preset = "stall"', 'preset = "stall"\ndrop = "40 m"'),
    )


@pytest.fixture(scope="module")
def report(path):
    return linkcalc.check(path)


def lines(axes):
    return {line.get_label(): np.array(line.get_data()) for line in axes.get_lines()}


def test_where_the_reach_falls_to_the_commanded_end_is_the_freeze_speed(path, report):
    values = report.runs[0].cases[0].values
    drawn = [line.get_data() for line in reach_picture(path).get_lines()]
    speed, up = drawn[0]
    at = np.interp(values["freeze speed"].value, speed, up)
    assert at == pytest.approx(-18 / 3, abs=0.15)  # a third of the throw, between the points drawn
    assert np.all(np.array(drawn[1][1]) >= 0)
    assert np.all(np.array(up) <= 0)


def test_the_torque_margin_crosses_zero_at_the_limit_of_torque(path, report):
    values = report.runs[0].cases[0].values
    speed, margin = lines(margin_picture(path, "elevator"))["torque"]
    found = np.interp(0.0, -margin, speed)
    assert found == pytest.approx(values["torque limit speed"].value, rel=5e-3)


def test_dives_end_where_the_check_says(path, report):
    values = report.aircraft_cases[0].values
    drawn = lines(dive_picture(path))
    speed, height = drawn["with the servo that is fitted"]
    assert height[-1] == pytest.approx(values["lowest height"].value, abs=1e-6)
    assert speed.max() == pytest.approx(values["dive speed"].value, rel=1e-4)
    assert height[0] == 150
    free = drawn["servo without limit"][1]
    assert 150 - free[-1] == pytest.approx(
        values["height lost, servo without limit"].value, abs=1e-6
    )


def test_the_lift_line_is_the_square_of_the_speed_over_the_stall_speed(path):
    axes = load_factor_picture(path)
    speed, factor = lines(axes)["lift of the wing"]
    # 1976 standard atmosphere at 150 m: rho / rho0 = (1 - 6.5e-3 x 150 / 288.15)^4.25588
    density = 1.225 * (1 - 6.5e-3 * 150 / 288.15) ** 4.25588
    stall = math.sqrt(2 * 2.1 * 9.80665 / (density * 0.38 * 1.1))
    assert factor == pytest.approx((speed / stall) ** 2, rel=1e-5)
    assert "servo on the elevator" in lines(axes)


def test_pictures_say_what_they_cannot_draw(path):
    with pytest.raises(InputError, match="one of out of a stall"):
        reach_picture(path, case="loop")
    with pytest.raises(InputError, match="a case with an entry"):
        dive_picture("examples/sandpiper.toml")


def test_a_case_without_a_dive_has_pictures_of_reach_and_margins():
    axes = margin_picture("examples/sandpiper.toml", "elevator", "dive from the cloud edge")
    assert "torque" in lines(axes)
    assert reach_picture("examples/sandpiper.toml", "rudder").get_title().startswith("rudder")
