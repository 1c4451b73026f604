"""The lines of the envelope's pictures."""

import numpy as np
import pytest

from linkcalc_dive.envelope import load_factors_at, way
from tests.plugins.dive.described import THROW, fields, servo, solve, standard_density


def test_a_way_begins_at_the_start_and_ends_where_the_dive_does():
    asked = {"start_speed": 30.0, "start_height": 200.0, "delay": 0.5, "drop": 20.0}
    found, answer = way(fields(**asked), servo(200.0)), solve(servo(200.0), **asked)
    assert (found.speed[0], found.height[0], found.time[0]) == (30.0, 200.0, 0.0)
    assert found.height[-1] == pytest.approx(200.0 - float(answer["height_lost"]), rel=1e-12)
    assert found.time[-1] == pytest.approx(float(answer["duration"]))
    assert np.all(np.diff(found.height) <= 0)
    assert np.all(np.diff(found.time) >= 0)


def test_load_factors_are_those_of_the_moments_in_level_flight():
    speeds = np.array([12.0, 30.0, 60.0])
    found = load_factors_at(fields(start_height=100.0), servo(200.0), speed=speeds)
    rho = standard_density(100.0)
    q = 0.5 * rho * speeds**2
    weight, tail = 2.0 * 9.80665, 0.5 * 4.0
    np.testing.assert_allclose(found.structure, 6.0)
    np.testing.assert_allclose(found.lift, 1.1 * q * 0.35 / weight, rtol=1e-9)
    up = -THROW * np.minimum(1.0, 200.0 / q)
    # the balance of moments, solved for n by hand
    per_n = 0.1 * weight / (q * 0.35) + tail * 0.7 * 9.80665 / speeds**2
    rest = (
        tail * 0.5 * (-0.02 - up) + 0.1 * weight / (0.35 * 80.0) + tail * 0.7 * 9.80665 / speeds**2
    )
    np.testing.assert_allclose(found.servo, rest / per_n, rtol=1e-4)


def test_without_a_servo_nothing_is_its_limit():
    found = load_factors_at(fields(), None, speed=np.array([20.0, 30.0]))
    assert np.all(np.isinf(found.servo))
