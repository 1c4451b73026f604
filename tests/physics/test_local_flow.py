"""Flow at a surface: momentum theory by its own balances, downwash by the lifting line."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from linkcalc.physics.local_flow import (
    downwash_angle,
    gust_incidence,
    slipstream,
    slipstream_at_full_power,
    tail_incidence,
)

THRUSTS, SPEEDS = st.floats(0.1, 200.0), st.floats(0.0, 60.0)
AREAS, DENSITIES = st.floats(0.01, 1.0), st.floats(0.5, 1.5)


@pytest.mark.parametrize(("lift", "aspect_ratio"), [(0.5, 8.0), (1.0, 5.0), (-0.3, 12.0)])
def test_downwash_is_that_of_the_trailing_vortices_of_an_elliptic_wing(lift, aspect_ratio):
    # span 2, circulation G sqrt(1 - y^2): far behind, the sheet of dG/dy induces at y = 0.3
    # (1 / 2 pi) * integral of (dG/dy) / (y - y') dy' = G / 2. With y = cos t it is Glauert's
    # integral of cos t / (cos t - cos t0), here by quadrature with Cauchy's weight.
    chord_mean = 2.0 / aspect_ratio
    root = lift * 2.0 * chord_mean / math.pi  # G: lift = integral of G sqrt(1 - y^2) = G pi / 2

    def strength(y):
        return root * y / math.sqrt(1.0 - y * y)

    # singular ends are cut off evenly: their far contributions are smooth
    edge = math.sin(1.5)
    inner, _ = quad(strength, -edge, edge, weight="cauchy", wvar=0.3)

    def outer(t):  # y = sin t
        return root * math.sin(t) / (math.sin(t) - 0.3)

    ends = quad(outer, 1.5, 0.5 * math.pi)[0] + quad(outer, -0.5 * math.pi, -1.5)[0]
    expected = (inner + ends) / (2.0 * math.pi)
    made = downwash_angle(lift_coefficient=lift, aspect_ratio=aspect_ratio)
    assert made == pytest.approx(expected, rel=1e-6)


def test_a_tail_sees_less_incidence_behind_a_wing_that_lifts():
    made = tail_incidence(incidence=0.1, downwash=0.03, setting=-0.02)
    assert made == pytest.approx(0.05, rel=1e-12)
    assert math.isnan(downwash_angle(lift_coefficient=0.5, aspect_ratio=0.0))


def test_an_upward_gust_raises_the_incidence():
    assert gust_incidence(gust_speed=20.0, airspeed=20.0) == pytest.approx(math.pi / 4)
    assert gust_incidence(gust_speed=-1.0, airspeed=50.0) == pytest.approx(-0.02, rel=1e-3)
    # a wind square to a parked surface
    assert gust_incidence(gust_speed=5.0, airspeed=0.0) == pytest.approx(math.pi / 2)


@given(thrust=THRUSTS, speed=SPEEDS, density=DENSITIES, disc_area=AREAS)
def test_thrust_is_what_the_stream_gains_in_momentum(thrust, speed, density, disc_area):
    flow = slipstream(thrust=thrust, speed=speed, density=density, disc_area=disc_area)
    through = density * disc_area * flow.at_disc  # kg/s
    assert through * (flow.far - speed) == pytest.approx(thrust, rel=1e-9)
    # and its power what the stream gains in energy
    gained = 0.5 * through * (flow.far**2 - speed**2)
    assert thrust * flow.at_disc == pytest.approx(gained, rel=1e-9)


@given(static=THRUSTS, speed=SPEEDS, density=DENSITIES, disc_area=AREAS)
def test_at_full_power_the_power_into_the_stream_is_that_of_standing_still(
    static, speed, density, disc_area
):
    air = {"density": density, "disc_area": disc_area}
    still = slipstream(thrust=static, speed=0.0, **air)
    power = static * still.at_disc

    def excess(thrust):
        return thrust * float(slipstream(thrust=thrust, speed=speed, **air).at_disc) - power

    expected = brentq(excess, 0.0, 2.0 * static, xtol=1e-13 * static)
    made = slipstream_at_full_power(static_thrust=static, speed=speed, **air)
    assert made.thrust == pytest.approx(expected, rel=1e-7)
    same = slipstream(thrust=made.thrust, speed=speed, **air)
    assert made.far == pytest.approx(float(same.far), rel=1e-9)
    assert made.at_disc == pytest.approx(float(same.at_disc), rel=1e-9)


def test_standing_still_the_two_are_one():
    # V_s = sqrt(2 T / rho A) = sqrt(2 x 10 / (1.25 x 0.05)) = 17.8885 m/s
    air = {"speed": 0.0, "density": 1.25, "disc_area": 0.05}
    assert slipstream(thrust=10.0, **air).far == pytest.approx(math.sqrt(320.0))
    made = slipstream_at_full_power(static_thrust=10.0, **air)
    assert made.far == pytest.approx(math.sqrt(320.0))
    assert made.thrust == pytest.approx(10.0)


def test_what_cannot_be_is_nan():
    air = {"speed": 5.0, "density": 1.2, "disc_area": 0.05}
    assert math.isnan(slipstream(thrust=-10.0, **air).far)
    assert math.isnan(slipstream(thrust=1.0, **air | {"disc_area": 0.0}).far)
    assert math.isnan(slipstream_at_full_power(static_thrust=-1.0, **air).far)
    assert slipstream_at_full_power(static_thrust=0.0, **air).far == 5.0
    made = slipstream_at_full_power(static_thrust=np.array([1.0, 2.0]), **air)
    assert made.far.shape == (2,)
