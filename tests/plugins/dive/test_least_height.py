"""The least height of a recovery, also where more height is no help."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_dive.least_height import least_height
from tests.plugins.dive.described import servo, solve


def found_for(recovers, ceiling=100.0):
    return least_height(recovers, floor=np.array([0.0]), ceiling=np.array([ceiling]))[0]


@given(st.floats(0.5, 99.0))
def test_a_single_border_is_found(border):
    assert found_for(lambda height, _: height >= border) == pytest.approx(border, abs=1e-3)


@given(st.floats(1.0, 40.0), st.floats(45.0, 60.0), st.floats(10.0, 30.0))
def test_of_several_borders_the_greatest_counts(low, start, width):
    def recovers(height, _):
        return (height >= low) & ~((height > start) & (height < start + width))

    assert found_for(recovers) == pytest.approx(start + width, abs=1e-3)


def test_no_recovery_from_the_ceiling_is_no_least_height():
    assert np.isnan(found_for(lambda height, _: height < 80.0))


def test_each_aircraft_has_its_own():
    borders = np.array([10.0, 50.0, 200.0])
    found = least_height(
        lambda height, which: height >= borders[which],
        floor=np.zeros(3),
        ceiling=np.array([100.0, 100.0, 100.0]),
    )
    np.testing.assert_allclose(found, [10.0, 50.0, np.nan], atol=1e-3)


def test_from_the_least_height_up_a_glider_recovers_and_just_below_it_does_not():
    reach = servo(60.0)
    dived = {"start_speed": 35.0, "dive_angle": 1.3, "delay": 0.5, "trim_dynamic_pressure": 200.0}
    least = float(solve(reach, **dived, ceiling=400.0)["minimum_height"])
    assert 0 < least < 400
    heights = np.linspace(least, 400.0, 50)
    assert np.all(solve(reach, **dived, start_height=heights)["reason"] == 0)
    assert solve(reach, **dived, start_height=least - 0.01)["reason"] != 0


def test_in_thin_air_more_height_may_take_recovery_away():
    # A heavy, clean aircraft in a dive that has gone on to its terminal speed: in thinner air that
    # speed is greater, and from high up it is beyond Mach 0.7.
    heavy = {"mass": 10.0, "start_speed": np.nan, "dive_angle": 1.2, "maximum_lift": 1.3}
    heights = np.linspace(500.0, 15e3, 30)
    recovers = solve(**heavy, start_height=heights)["reason"] == 0
    assert recovers[:10].all()
    assert not recovers[-5:].any()
    assert np.isnan(solve(**heavy, ceiling=15e3)["minimum_height"])
    least = float(solve(**heavy, ceiling=4000.0)["minimum_height"])
    assert 100.0 < least < 4000.0
