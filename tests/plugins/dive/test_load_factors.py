"""Load factors against the balance of moments that they come from."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_dive import load_factors

G = 9.80665


@given(
    st.floats(-0.4, 0.1),
    st.floats(50.0, 4000.0),
    st.floats(-1.5, 0.0),
    st.floats(0.01, 0.3),
    st.floats(0.3, 1.0),
    st.floats(0.6, 1.3),
)
def test_moments_about_the_centre_of_mass_balance(  # noqa: PLR0917 - drawn by hypothesis
    delta, q, gamma, margin, volume, density
):
    mass, area, arm, slope, tau, q_trim, trim = 2.0, 0.35, 0.7, 4.0, 0.5, 80.0, -0.02
    damping = load_factors.pitch_damping(
        density=density, wing_area=area, tail_arm=arm, tail_volume=volume,
        tail_lift_slope=slope, mass=mass,
    )  # fmt: skip
    n = load_factors.at_elevator(
        deflection=delta, dynamic_pressure=q, path_angle=gamma, wing_loading=mass * G / area,
        trim_dynamic_pressure=q_trim, trim_deflection=trim, static_margin=margin,
        damping=damping, tail_power=volume * slope * tau,
    )  # fmt: skip
    lift, lift_trim = n * mass * G / (q * area), mass * G / (q_trim * area)
    speed_squared = 2 * q / density
    # the tail swings down by arm x rate of pitch, the rate is that of the path
    rate_times_speed = G * (n - math.cos(gamma))
    moments = (
        -margin * (lift - lift_trim),
        -volume * slope * tau * (delta - trim),
        -volume * slope * arm * rate_times_speed / speed_squared,
    )
    assert sum(moments) == pytest.approx(0.0, abs=1e-9 * (1 + sum(map(abs, moments))))


def test_as_trimmed_it_flies_level():
    given_ = {
        "deflection": -0.02, "dynamic_pressure": 80.0, "trim_dynamic_pressure": 80.0,
        "trim_deflection": -0.02,
    }  # fmt: skip
    n = load_factors.at_elevator(
        **given_, path_angle=0.0, wing_loading=56.0, static_margin=0.1, damping=0.2, tail_power=1.0
    )
    assert n == pytest.approx(1.0, rel=1e-12)
    assert load_factors.at_elevator_by_slope(**given_, load_factor_slope=20.0) == 1.0


def test_a_slope_measured_in_level_flight_stands_for_the_tail():
    # Without damping G = P q_t S / (m g h)
    tail = {"wing_loading": 56.0, "static_margin": 0.1, "damping": 0.0, "tail_power": 1.2}
    shared = {
        "deflection": -0.1, "dynamic_pressure": 300.0, "trim_dynamic_pressure": 80.0,
        "trim_deflection": 0.01,
    }  # fmt: skip
    by_slope = load_factors.at_elevator_by_slope(
        **shared, load_factor_slope=1.2 * 80.0 / (56.0 * 0.1)
    )
    assert load_factors.at_elevator(**shared, **tail, path_angle=-0.5) == pytest.approx(by_slope)


@given(st.floats(-0.3, 0.0), st.floats(0.001, 0.1))
def test_more_up_elevator_is_more_load_factor(delta, more):
    def n(deflection):
        return load_factors.at_elevator(
            deflection=deflection, dynamic_pressure=300.0, path_angle=-1.0, wing_loading=56.0,
            trim_dynamic_pressure=80.0, trim_deflection=0.0, static_margin=0.1, damping=0.1,
            tail_power=1.0,
        )  # fmt: skip

    assert n(delta - more) > n(delta)


def test_level_flight_at_stall_speed_takes_all_the_lift():
    # V_s = sqrt(2 W / (rho S C_L,max)): n = 1 there, 4 at twice the speed
    weight, area, lift = 20.0, 0.4, 1.25
    q = weight / (area * lift)
    for times, n in ((1.0, 1.0), (2.0, 4.0)):
        found = load_factors.at_lift(
            maximum_lift=lift, weight=weight, dynamic_pressure=q * times**2, wing_area=area
        )
        assert found == pytest.approx(n)
