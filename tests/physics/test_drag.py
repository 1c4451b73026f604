"""Drag, built up and given; propellers that do not pull."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.errors import InputError
from linkcalc.physics import drag
from linkcalc.physics.propeller import stopped_drag_area, turning, windmilling
from linkcalc_dive.polar import drag_coefficient, table

PROPELLER = {"radius": 0.15, "pitch": 0.20, "solidity": 0.08}


# H. Schlichting, Boundary-Layer Theory, from memory: Blasius's 1.328 is 2 x 0.664, which the
# equation f''' + f f'' / 2 = 0 gives as 4 f''(0) = 4 x 0.332057.
def test_laminar_friction_is_that_of_blasius():
    assert drag.laminar_friction(reynolds_number=1e6) == pytest.approx(4 * 0.332057 / 1e3, rel=2e-4)


# J. D. Anderson, Fundamentals of Aerodynamics, from memory: the power law 0.074 / Re^(1/5) is
# another fit to the same measurements.
@pytest.mark.parametrize("reynolds_number", [5e5, 1e6, 5e6, 1e7])
def test_turbulent_friction_is_within_some_percent_of_the_power_law(reynolds_number):
    assert drag.turbulent_friction(reynolds_number=reynolds_number) == pytest.approx(
        0.074 / reynolds_number**0.2, rel=0.06
    )


def test_friction_with_transition_lies_between_and_ends_at_both():
    for re in (1e5, 1e6, 1e7):
        ends = [
            drag.laminar_friction(reynolds_number=re),
            drag.turbulent_friction(reynolds_number=re),
        ]
        shares = np.linspace(1.0, 0.0, 21)
        found = drag.friction_coefficient(reynolds_number=re, laminar_share=shares)
        assert found[[0, -1]] == pytest.approx(ends, rel=1e-12)
        assert np.all(np.diff(found) >= 0)


def test_friction_with_transition_is_prandtls():
    # Prandtl's 1700 / Re for transition at Re 5e5 (Schlichting, from memory): the same thing
    re = 3e6
    found = drag.friction_coefficient(reynolds_number=re, laminar_share=5e5 / re)
    turbulent = float(drag.turbulent_friction(reynolds_number=re))
    assert turbulent - found == pytest.approx(1700 / re, rel=0.06)


# Hoerner's charts, from memory: 25 % on a section of 12 %, 5 to 6 % on a body of 10 diameters
def test_form_factors_have_hoerners_size():
    assert drag.wing_form_factor(thickness_ratio=0.12) == pytest.approx(1.25, abs=0.01)
    assert drag.body_form_factor(fineness_ratio=10.0) == pytest.approx(1.055, abs=0.005)
    assert drag.wing_form_factor(thickness_ratio=0.0) == 1.0


def test_a_build_up_is_the_sum_of_its_parts():
    # worked by hand: 0.004 x 1.25 x 0.7 = 0.0035; 1.2 x 0.001 = 0.0012; 1.1 x 0.0047 / 0.35
    wing = drag.wetted_drag_area(friction=0.004, form_factor=1.25, wetted_area=0.7)
    gear = drag.frontal_drag_area(coefficient=1.2, frontal_area=0.001)
    found = drag.zero_lift_drag(drag_areas=[wing, gear], interference=0.1, wing_area=0.35)
    assert found == pytest.approx(0.0147714, rel=1e-5)


def test_induced_drag_is_that_of_the_lifting_line():
    # an elliptic wing, e = 1: C_L^2 / (pi A), Prandtl; C_L 0.5, A 10: 0.007958
    factor = drag.induced_drag_factor(aspect_ratio=10.0, span_efficiency=1.0)
    assert drag_coefficient(lift=0.5, zero_lift_drag=0.0, induced_factor=factor) == pytest.approx(
        0.007958, abs=5e-7
    )


def test_a_table_is_linear_between_its_points_and_nothing_beyond():
    polar = table("polar", [0.0, 0.5, 1.0], [0.02, 0.03, 0.06], least=0.0)
    found = drag_coefficient(
        lift=np.array([0.25, 0.75, 1.1, -0.1]), zero_lift_drag=9, induced_factor=9, polar=polar
    )
    np.testing.assert_allclose(found, [0.025, 0.045, np.nan, np.nan])


@pytest.mark.parametrize(
    ("at", "value", "match"),
    [
        ([0.0, 0.5, 0.5], [0.02, 0.03, 0.04], "0.5 after 0.5"),
        ([0.0, 0.5, 0.4], [0.02, 0.03, 0.04], "0.4 after 0.5"),
        ([0.0, 0.5], [0.02, -0.03], "-0.03 at 0.5"),
        ([0.0, 0.5], [0.02, math.nan], "not finite"),
        ([0.0, 0.5], [0.02], "shape"),
        ([0.0], [0.02], "shape"),
    ],
)
def test_a_table_that_is_none_is_refused(at, value, match):
    with pytest.raises(InputError, match=match):
        table("polar", at, value, least=0.0)


@given(
    st.floats(5.0, 80.0),
    st.floats(0.0, 900.0),
    st.floats(0.05, 0.5),
    st.floats(0.02, 0.2),
    st.floats(0.01, 0.05),
)
def test_power_taken_from_the_stream_is_power_found_again(speed, rotation, pitch, solidity, drag):
    found = turning(
        speed=speed, density=1.2, rotation=rotation, radius=0.15, pitch=pitch,
        solidity=solidity, section_drag=drag,
    )  # fmt: skip
    taken = 0.5 * 1.2 * speed**3 * found.drag_area
    parts = (found.shaft_power, found.profile_power, found.wake_power)
    assert taken == pytest.approx(sum(parts), rel=1e-9, abs=1e-9 * sum(map(abs, parts)))
    assert found.profile_power >= 0


@given(st.floats(5.0, 80.0), st.floats(0.0, 0.2), st.floats(0.08, 0.4), st.floats(0.03, 0.15))
def test_a_windmill_never_gives_more_than_betz_allows(speed, friction, pitch, solidity):
    # A. Betz, 1920: 16/27 of the power of the stream through the disc
    found, rate = windmilling(
        speed=speed, density=1.2, friction_torque=friction, radius=0.15, pitch=pitch,
        solidity=solidity,
    )  # fmt: skip
    stream = 0.5 * 1.2 * speed**3 * math.pi * 0.15**2
    assert found.shaft_power <= 16 / 27 * stream * (1 + 1e-12)
    # momentum theory: what is taken by shaft and friction is 4 a (1 - a)^2 of it
    a = found.slowed
    if a < 0.4999:
        share = 4 * a * (1 - a) ** 2
        assert found.shaft_power + found.profile_power == pytest.approx(share * stream, rel=1e-6)
    if rate > 0:
        assert found.shaft_power == pytest.approx(friction * rate, rel=1e-6, abs=1e-7)
        assert found.drag_area > 0


def test_a_windmill_without_friction_has_one_drag_area_at_all_speeds():
    speeds = np.array([10.0, 20.0, 60.0])
    found, rate = windmilling(speed=speeds, density=1.2, friction_torque=0.0, **PROPELLER)
    np.testing.assert_allclose(found.drag_area, found.drag_area[0], rtol=1e-9)
    np.testing.assert_allclose(rate / speeds, rate[0] / 10.0, rtol=1e-9)
    # it turns a little slower than its blades would screw through the air
    assert 0.7 < rate[0] * PROPELLER["pitch"] / (2 * math.pi * 10.0) < 1.0


def test_more_friction_brakes_more_until_the_propeller_stands():
    frictions = np.array([0.0, 0.005, 0.01, 0.02, 5.0])
    found, rate = windmilling(speed=30.0, density=1.2, friction_torque=frictions, **PROPELLER)
    assert np.all(np.diff(rate) < 0)
    assert rate[-1] == 0.0
    assert np.all(np.diff(found.drag_area[:3]) > 0)


def test_an_idling_propeller_pulls_slowly_and_brakes_fast():
    found = turning(speed=np.array([5.0, 60.0]), density=1.2, rotation=300.0, **PROPELLER)
    assert found.drag_area[0] < 0 < found.drag_area[1]
    assert found.shaft_power[0] < 0  # the shaft drives it


def test_a_stopped_propeller_drags_less_than_its_blades_broadside():
    area = 0.08 * math.pi * 0.15**2
    assert 0.5 * area < stopped_drag_area(radius=0.15, solidity=0.08) < 1.2 * area


@pytest.mark.parametrize("most", [0.6, 1.0])
def test_blades_that_hardly_turn_are_stalled_and_drive_with_their_greatest_lift(most):
    # the stream meets them square: its whole lift turns the shaft, at three quarters of the radius
    found = turning(speed=30.0, density=1.2, rotation=1e-3, maximum_lift=most, **PROPELLER)
    load = 0.5 * 1.2 * (30.0 * (1 - found.slowed)) ** 2 * 0.08 * math.pi * 0.15**2
    assert found.shaft_power / 1e-3 == pytest.approx(load * most * 0.75 * 0.15, rel=1e-4)
