"""Speeds of straight dives."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_dive.flight import Airframe
from linkcalc_dive.polar import Table
from linkcalc_dive.pull_out import Entry, dive
from linkcalc_dive.speeds import REASONS, speed_reached, terminal_speed
from tests.plugins.dive.described import fields, standard_density

G = 9.80665


def craft(drag=0.02, factor=0.04, mass=2.0, *, polar=None, propeller=None, lift=1.1, ground=0.0):
    numbers = (mass, 0.35, drag, factor, lift, 6.0, ground)
    return Airframe(*(np.array([number]) for number in numbers), polar, propeller)


def terminal(angle, height=0.0, **changes):
    return terminal_speed(
        craft(**changes), path_angle=np.array([-angle]), height=np.array([height])
    )


@given(st.floats(0.1, 0.5 * math.pi), st.floats(0.0, 3000.0), st.floats(0.005, 0.08))
def test_terminal_speed_is_the_greater_root_of_the_parabola(angle, height, drag):
    # S C_D0 q^2 - W sin q + k (W cos)^2 / S = 0
    weight, cosine = 2.0 * G, math.cos(angle)
    found = terminal(angle, height, drag=drag)
    under = (weight * math.sin(angle)) ** 2 - 4 * drag * 0.04 * (weight * cosine) ** 2
    if under < 0:
        assert found.reason[0] == 1
        assert np.isnan(found.speed[0])
        return
    q = (weight * math.sin(angle) + math.sqrt(under)) / (2 * 0.35 * drag)
    if q * 0.35 * 1.1 < weight * cosine:
        assert found.reason[0] == 1
    else:
        speed = math.sqrt(2 * q / standard_density(height))
        assert found.speed[0] == pytest.approx(speed, rel=1e-9)


@given(st.floats(0.1, 0.5 * math.pi), st.floats(0.005, 0.05), st.floats(1.0, 2.0))
def test_more_drag_never_raises_the_terminal_speed(angle, drag, more):
    one, other = terminal(angle, drag=drag).speed[0], terminal(angle, drag=drag * more).speed[0]
    assert not other > one * (1 + 1e-12)
    third = terminal(angle, drag=drag, factor=0.04 * more).speed[0]
    assert not third > one * (1 + 1e-12)


@given(st.floats(0.15, 1.5), st.floats(0.01, 0.05))
def test_a_steeper_dive_is_faster(angle, drag):
    one, other = terminal(angle, drag=drag).speed[0], terminal(angle + 0.05, drag=drag).speed[0]
    assert np.isnan(one) or other > one


def test_air_half_as_dense_gives_root_two_times_the_speed():
    low, high = terminal(0.5 * math.pi).speed[0], terminal(0.5 * math.pi, 6000.0).speed[0]
    ratio = standard_density(0.0) / standard_density(6000.0)
    assert high / low == pytest.approx(math.sqrt(ratio), rel=1e-9)


def test_a_table_on_the_parabola_gives_its_terminal_speed():
    lifts = np.linspace(0.0, 1.2, 2001)
    polar = Table(lifts, 0.02 + 0.04 * lifts**2)
    assert terminal(0.6, polar=polar, drag=9.0).speed[0] == pytest.approx(
        terminal(0.6).speed[0], rel=1e-6
    )


def test_a_propellers_drag_area_counts_as_so_much_wing():
    propeller = Table(np.array([0.0, 100.0]), np.array([0.0035, 0.0035]))
    found = terminal(0.5 * math.pi, propeller=propeller)
    assert found.speed[0] == pytest.approx(terminal(0.5 * math.pi, drag=0.03).speed[0], rel=1e-9)


def test_why_there_is_no_terminal_speed_is_told():
    assert "too shallow" in REASONS[terminal(0.01).reason[0]]
    assert "Mach 0.7" in REASONS[terminal(1.5, mass=500.0).reason[0]]
    narrow = Table(np.array([0.5, 1.0]), np.array([0.02, 0.06]))
    assert "not known" in REASONS[terminal(1.5, polar=narrow).reason[0]]
    assert "air is not" in REASONS[terminal(1.5, height=25e3).reason[0]]


def test_a_balance_that_asks_for_more_lift_than_the_wing_has_is_no_terminal_speed():
    # With C_D0 = 1 the parabola's root is q = 28.6 Pa, where C_L would be 16.2 N / (q S) = 1.6.
    assert terminal(0.6, drag=1.0).reason[0] == 1
    assert np.isnan(terminal(0.6, drag=1.0).speed[0])
    weight, sine, cosine = 2.0 * G, math.sin(0.6), math.cos(0.6)
    root = math.sqrt((weight * sine) ** 2 - 4 * 0.04 * (weight * cosine) ** 2)
    q = (weight * sine + root) / (2 * 0.35)
    assert q == pytest.approx(28.6, abs=0.1)
    assert terminal(0.6, drag=1.0, lift=1.7).speed[0] == pytest.approx(
        math.sqrt(2 * q / standard_density(0.0)), rel=1e-9
    )


@given(st.floats(0.3, 1.5), st.floats(15.0, 50.0), st.floats(10.0, 400.0))
def test_speed_reached_is_that_of_the_equations_in_time(angle, speed, drop):
    one = craft()
    found = speed_reached(
        one,
        speed=np.array([speed]),
        path_angle=np.array([-angle]),
        height=np.array([500.0]),
        drop=np.array([drop]),
    )
    entry = Entry(*(np.array([value]) for value in (speed, -angle, 500.0, drop, 0.0)))
    from linkcalc_dive.dives import describe  # noqa: PLC0415 - the elevator alone

    followed = dive(one, describe(fields(mass=[2.0]), None).elevator, entry)
    straight = followed.states[~followed.pulling, 0, 0]
    assert found[0] == pytest.approx(straight[~np.isnan(straight)][-1], rel=1e-8)


def test_a_long_dive_comes_to_its_terminal_speed():
    found = speed_reached(
        craft(),
        speed=np.array([15.0]),
        path_angle=np.array([-1.2]),
        height=np.array([1500.0]),
        drop=np.array([1500.0]),
    )
    # it lags behind the air that grows denser, and is a little faster than at the ground
    assert found[0] == pytest.approx(terminal(1.2).speed[0], rel=0.02)
    assert found[0] > terminal(1.2).speed[0]
