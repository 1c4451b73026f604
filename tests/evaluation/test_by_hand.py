"""One run worked through by hand: definitions, the law of cosines and Ohm's law."""

import math

import pytest

import linkcalc
from tests.evaluation.aircraft import SINGLE

# q = rho V^2 / 2; q S c of a surface 0.5 m by 0.04 m
PRESSURE = 0.5 * 1.25 * 40.0**2
SIZE = PRESSURE * 0.5 * 0.04 * 0.04
DELTA = math.radians(20.0)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    path = tmp_path_factory.mktemp("hand") / "aircraft.toml"
    path.write_text(SINGLE[0], encoding="utf-8")
    return linkcalc.check(path).runs[0].cases[0]


def mechanical_advantage(delta):
    """Torque of the servo over moment of the surface: lever of the rod at arm over that at horn."""
    arm, horn, rod = 0.010, 0.020, 0.200
    # Servo at the origin, rod level at neutral: the hinge lies a rod further aft, 10 mm lower.
    tip = (rod + horn * math.sin(delta), arm - horn + horn * math.cos(delta))
    far = math.hypot(*tip)
    inside = math.acos((arm**2 + far**2 - rod**2) / (2 * arm * far))
    raised = math.atan2(tip[1], tip[0]) + inside
    end = (arm * math.cos(raised), arm * math.sin(raised))
    along = ((tip[0] - end[0]) / rod, (tip[1] - end[1]) / rod)
    lever_at_arm = abs(end[0] * along[1] - end[1] * along[0])
    lever_at_horn = abs((tip[0] - rod) * along[1] - (tip[1] - arm + horn) * along[0])
    return lever_at_arm / lever_at_horn, lever_at_horn


def test_dynamic_pressure_is_half_rho_v_squared(case):
    assert case.values["dynamic pressure"].value == pytest.approx(PRESSURE, rel=1e-12)


def test_hinge_moment_opposes_the_greater_deflection(case):
    assert case.values["governing deflection"].value == pytest.approx(20.0, rel=1e-12)
    assert case.values["hinge moment"].value == pytest.approx(-0.5 * DELTA * SIZE, rel=1e-9)


def test_servo_torque_is_the_moment_times_the_ratio_of_levers_over_efficiency(case):
    moment = 0.5 * DELTA * SIZE
    advantage, lever = mechanical_advantage(DELTA)
    assert case.values["hold torque"].value == pytest.approx(moment * advantage, rel=1e-9)
    assert case.values["moving torque"].value == pytest.approx(moment * advantage / 0.8, rel=1e-9)
    # The rod runs above the hinge; the air lifts the trailing edge, so that it is pushed.
    assert case.values["rod force"].value == pytest.approx(-moment / lever, rel=1e-9)


def test_voltage_at_the_limit_follows_from_the_stall_current_in_the_leads(case):
    # 2 A at 6 V and in proportion below: V = 6 - 0.1 (0.2 + V / 3) - 0.3 V / 3
    volts = (6.0 - 0.1 * 0.2) / (1.0 + 0.4 / 3.0)
    assert case.values["voltage at limit"].value == pytest.approx(volts, rel=1e-9)
    assert case.values["torque available"].value == pytest.approx(0.3 * volts / 6 / 1.2, rel=1e-9)


def test_torque_margin_is_available_over_required_times_factor_less_one(case):
    advantage, _ = mechanical_advantage(DELTA)
    required = 0.5 * DELTA * SIZE * advantage / 0.8
    available = 0.3 * (5.98 / (1.0 + 0.4 / 3.0)) / 6 / 1.2
    margin = case.margin("torque")
    assert margin.margin == pytest.approx(available / (1.25 * required) - 1, rel=1e-7)
    # No factor: nor the datasheet's.
    assert margin.plain == pytest.approx(1.2 * available / required - 1, rel=1e-7)


def test_voltage_margin_takes_the_least_voltage_over_the_stated_minimum(case):
    margin = case.margin("voltage")
    servo, receiver = 5.98 / (1.0 + 0.4 / 3.0), 6.0 - 0.1 * (0.2 + 5.98 / (3.0 + 0.4))
    assert servo / 4.8 < receiver / 4.0  # 0.8 x 6 V of the servo, 4 V of the receiver
    assert margin.margin == pytest.approx(servo / 4.8 - 1, rel=1e-9)


def test_a_source_on_its_rated_maximum_is_no_over_voltage(case):
    assert case.margin("over-voltage").margin == pytest.approx(0.0, abs=1e-12)


# Here the surface turns half as far as the servo at neutral: what forgets the slope shows.


@pytest.fixture
def changed(tmp_path):
    def of(*changes):
        words = SINGLE[0]
        for old, new in changes:
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words, encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0]

    return of


def test_friction_at_the_hinge_is_moved_by_the_ratio_of_levers(changed):
    rubbing = changed(("throw =", 'hinge_friction = "5 mNm", throw ='))
    advantage, _ = mechanical_advantage(DELTA)
    moved = 0.5 * DELTA * SIZE * advantage / 0.8 + 0.005 * advantage
    assert rubbing.values["moving torque"].value == pytest.approx(moved, rel=1e-9)


def test_play_in_the_gears_halves_on_its_way_to_the_surface(changed):
    loose = changed(("rows =", 'gear_play = "1 deg"\nrows ='))
    assert loose.margin("free play").required.value == pytest.approx(0.5, rel=1e-9)


def test_a_jammed_surface_gets_the_stall_torque_over_the_servos_own_arm(case):
    # Printed 300 mN m at the 6 V of the source, arm of 10 mm square to the rod.
    assert case.values["jam force"].value == pytest.approx(30.0, rel=1e-9)


def test_divergence_counts_the_compliance_against_the_factor(changed):
    # A moment that grows with the deflection: dM/d(delta) of + 0.5 q S c.
    soft = changed(
        ("pushrod =", 'compliance = "10 deg/Nm"\npushrod ='),
        ("torque = 1.25", "torque = 1.25, divergence = 2"),
        ('"-0.5 1/rad"', '"0.5 1/rad"'),
    )
    share = math.radians(10.0) * 0.5 * SIZE
    assert soft.margin("divergence").required.value == pytest.approx(share, rel=1e-9)
    assert soft.margin("divergence").margin == pytest.approx(1 - 2 * share, rel=1e-9)
