"""Demands that can be taken apart, against the servo's own lines and their differences."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcalc.physics import servo
from linkcalc.physics.demand import ServoDemand, cut


@st.composite
def demands(draw, servos=3):
    """Draw servos of their own kinds, ascending rows and torques, some of them dead."""
    rows = draw(st.integers(1, 3))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    ascending = {
        name: np.cumsum(random.uniform(low, high, (servos, rows)), axis=1)
        for name, low, high in (
            ("voltage", 0.5, 3.0),
            ("stall_torque", 0.01, 0.5),
            ("no_load_speed", 0.5, 2.0),
            ("no_load_current", 0.0, 0.1),
        )
    }
    own = np.cumsum(random.uniform(0.01, 1.0, (servos, rows)), axis=1)
    curves = servo.curves(**ascending, stall_current=ascending["no_load_current"] + own)
    torque = random.uniform(0.0, 1.2, (5, servos)) * ascending["stall_torque"][:, -1]
    share = random.choice([0.0, 1.0, 1.0], servos)
    return ServoDemand(curves, torque, share), random


@settings(max_examples=60, deadline=None)
@given(demands())
def test_a_part_has_the_currents_of_its_cases(drawn):
    demand, random = drawn
    voltage = random.uniform(0.01, 9.0, (5, 3))
    whole = demand(voltage)
    expected = servo.current(demand.curves, voltage, demand.torque) * demand.share
    assert (whole == expected).all()
    for cases in (slice(1, 4), np.array([4, 0])):
        part = demand.part((5,), cases)
        tolerance = {"rel": 1e-12, "abs": 1e-14}
        assert part.current(voltage[cases].T) == pytest.approx(whole[cases].T, **tolerance)
        assert part.line(voltage[cases].T)[0] == pytest.approx(whole[cases].T, **tolerance)


@settings(max_examples=60, deadline=None)
@given(demands())
def test_slopes_are_those_of_differences_away_from_bends(drawn):
    demand, random = drawn
    voltage = random.uniform(0.1, 9.0, (3, 5))
    part, step = demand.part((5,), slice(None)), 1e-6
    _, slope = part.line(voltage)
    below, above = (part.current(voltage + side) for side in (-step, step))
    here = part.current(voltage)
    smooth = np.abs(above + below - 2.0 * here) < 1e-10
    assert smooth.any()
    difference = (above - below) / (2.0 * step)
    assert slope[smooth] == pytest.approx(difference[smooth], rel=1e-5, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(demands())
def test_no_chord_is_flatter_than_the_bound(drawn):
    demand, random = drawn
    part = demand.part((5,), slice(None))
    one, other = random.uniform(1e-3, 12.0, (2, 3, 5))
    chord = (part.current(one) - part.current(other)) / (one - other)
    assert (chord >= part.least_slope - 1e-9).all()


def test_the_bound_of_a_servo_whose_current_falls_is_a_slope_that_it_has():
    # Between its rows the torque rises, the stall current hardly: under a constant torque
    # the current falls, most steeply right at the first row: T (d T_s - b D) / T_s^2.
    curves = servo.curves(
        voltage=np.array([[5.0, 6.0]]),
        stall_torque=np.array([[0.5, 1.0]]),
        no_load_speed=np.array([[6.0, 7.0]]),
        stall_current=np.array([[2.0, 2.1]]),
        no_load_current=np.array([[0.0, 0.0]]),
    )
    part = ServoDemand(curves, np.array([[0.4]])).part((1,), slice(None))
    expected = 0.4 * (0.1 * 0.5 - 0.5 * 2.0) / 0.5**2
    assert part.least_slope.item() == pytest.approx(expected)
    near = 5.0 + 1e-7
    difference = (part.current(np.array([[near]])) - part.current(np.array([[5.0]]))) / 1e-7
    assert difference.item() == pytest.approx(expected, rel=1e-4)


def test_a_servo_with_one_row_never_asks_for_less_with_more_voltage():
    curves = servo.curves(
        voltage=np.array([[6.0]]),
        stall_torque=np.array([[0.5]]),
        no_load_speed=np.array([[6.0]]),
        stall_current=np.array([[2.0]]),
        no_load_current=np.array([[0.2]]),
    )
    part = ServoDemand(curves, np.array([[0.1], [0.9], [0.0]])).part((3,), slice(None))
    assert (np.broadcast_to(part.least_slope, (1, 3)) == 0.0).all()


@pytest.mark.parametrize("cases", [slice(2, 9), np.array([11, 0, 5])])
@pytest.mark.parametrize("lead", [(), (1, 1), (4,), (1, 4), (3, 1), (3, 4)])
def test_cut_is_what_broadcasting_and_indexing_give(lead, cases):
    values = np.arange(np.prod((*lead, 2)), dtype=float).reshape(*lead, 2)
    whole = np.broadcast_to(values, (3, 4, 2)).reshape(12, 2)[cases].T
    found = cut(values, 1, (3, 4), cases)
    assert found.shape[0] == 2
    assert (np.broadcast_to(found, whole.shape) == whole).all()


@pytest.mark.parametrize("cases", [slice(299_990, 300_000), np.array([299_999, 0, 500])])
@pytest.mark.parametrize("lead", [(500,), (1, 500), (600, 1)])
def test_cut_of_very_many_cases_is_what_broadcasting_and_indexing_give(lead, cases):
    values = np.arange(np.prod((*lead, 2)), dtype=float).reshape(*lead, 2)
    whole = np.broadcast_to(values, (600, 500, 2)).reshape(300_000, 2)[cases].T
    assert (cut(values, 1, (600, 500), cases) == whole).all()


def test_torques_and_shares_without_axes_hold_for_all_servos():
    rows = {name: np.array([[5.0], [6.0]]) for name in ("voltage", "no_load_speed")}
    curves = servo.curves(
        **rows,
        stall_torque=np.array([[0.5], [0.6]]),
        stall_current=np.array([[2.0], [2.5]]),
        no_load_current=np.array([[0.2], [0.2]]),
    )
    demand = ServoDemand(curves, 0.3, 0.5)
    assert demand.shape == ()
    voltage = np.array([4.0, 5.0])
    current, _ = demand.part((), slice(None)).line(voltage[:, None])
    assert current[:, 0] == pytest.approx(demand(voltage), rel=1e-14)
    assert demand(voltage) == pytest.approx(0.5 * servo.current(curves, voltage, 0.3))
