"""Pull-outs against closed forms, a second integration, and what must be true of any."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_dive import circular
from linkcalc_dive.dives import describe
from linkcalc_dive.point_mass import PointMass
from linkcalc_dive.pull_out import REASONS, dive, energy_error, outcome
from tests.plugins.dive.described import fields, second_way, servo, solve

ANGLES = st.floats(0.2, 0.5 * math.pi)
SPEEDS = st.floats(14.0, 60.0)


@pytest.mark.parametrize("angle", [0.3, 1.0, 0.5 * math.pi])
@pytest.mark.parametrize("speed", [30.0, 60.0])
def test_a_pull_out_without_drag_loses_the_height_of_the_closed_form(angle, speed):
    nothing = {"zero_lift_drag": 0.0, "induced_factor": 0.0, "maximum_lift": 50.0}
    found = solve(**nothing, start_speed=speed, dive_angle=angle, start_height=500.0)
    # V (n - cos gamma) stays the same: dV / d gamma = -V sin gamma / (n - cos gamma)
    end = speed * (6.0 - math.cos(angle)) / 5.0
    expected = (end**2 - speed**2) / (2 * 9.80665)
    assert found["height_lost"] == pytest.approx(expected, rel=1e-8)
    assert found["dive_speed"] == pytest.approx(end, rel=1e-8)
    closed = circular.height_lost_without_drag(speed=speed, load_factor=6.0, dive_angle=angle)
    assert found["height_lost"] == pytest.approx(closed, rel=1e-8)


POLAR = ([0.0, 0.3, 0.6, 1.1], [0.021, 0.024, 0.037, 0.080])
SECOND = [
    {},
    {"dive_angle": 0.5 * math.pi, "start_speed": 14.0, "start_height": 300.0, "delay": 1.5},
    {"strength": 400.0, "start_speed": 45.0},
    {"strength": 40.0, "start_speed": 45.0, "start_height": 400.0, "dive_angle": 1.4},
    {"strength": 5.0, "start_speed": 30.0, "trim_dynamic_pressure": 200.0, "start_height": 900.0},
    {"polar": POLAR, "start_speed": 35.0, "delay": 0.7},
    {"field_altitude": 3000.0, "start_speed": 40.0, "dive_angle": 1.2},
]


@pytest.mark.parametrize("case", SECOND)
def test_scipy_finds_the_same_pull_out(case):
    lost, pressure, load_factor, recovers = second_way(**case)
    reach = servo(case["strength"]) if "strength" in case else None
    changes = {name: value for name, value in case.items() if name not in {"strength", "polar"}}
    if "polar" in case:
        changes |= dict(zip(("polar_lift", "polar_drag"), case["polar"], strict=True))
    found = solve(reach, **changes)
    assert recovers
    # the table of the reach is within 2e-6 rad of it
    assert found["height_lost"] == pytest.approx(lost, rel=1e-8 if reach is None else 5e-5)
    assert found["greatest_dynamic_pressure"] == pytest.approx(pressure, rel=1e-5)
    assert found["greatest_load_factor"] == pytest.approx(load_factor, rel=1e-3)


@given(ANGLES, SPEEDS, st.floats(5.0, 1000.0), st.floats(0.0, 2.0))
def test_no_energy_is_won_or_lost_along_the_way(angle, speed, strength, delay):
    described = describe(
        fields(dive_angle=[angle], start_speed=speed, start_height=300.0, delay=delay),
        servo(strength),
    )
    followed = dive(described.craft, described.elevator, described.entry)
    assert energy_error(followed)[0] < 1e-8
    # and the work of the drag is what the polar says, summed up by hand
    way = followed.states[:, :, 0]
    way = way[~np.isnan(way[:, 0])]
    assert np.all(np.diff(way[:, 3]) >= 0)


def test_the_step_has_no_part_in_the_answer():
    described = describe(
        fields(
            dive_angle=np.linspace(0.2, 1.5, 7), start_speed=40.0, start_height=300.0, delay=0.3
        ),
        servo(60.0),
    )
    found = []
    for relative, longest in ((1e-10, 1.0), (1e-12, 1.0), (1e-10, 0.003)):
        parts = (described.craft, described.elevator, described.entry)
        followed = dive(*parts, relative=relative, longest_step=longest)
        found.append(outcome(*parts[:2], followed).height_lost)
    assert np.all(np.isfinite(found))
    np.testing.assert_allclose(found[0], found[1], rtol=1e-7)
    np.testing.assert_allclose(found[0], found[2], rtol=1e-7)


def test_a_dive_alone_and_one_among_many_are_the_same():
    angles = np.linspace(0.2, 1.5, 40)
    speeds = np.linspace(15.0, 60.0, 3)[:, None]
    reach = servo(60.0)
    many = solve(reach, dive_angle=angles, start_speed=speeds, start_height=300.0, delay=0.3)
    assert many["height_lost"].shape == (3, 40)
    for place in ((0, 0), (1, 17), (2, 39)):
        one = solve(
            reach,
            dive_angle=angles[place[1]],
            start_speed=speeds[place[0], 0],
            start_height=300.0,
            delay=0.3,
        )
        # the table of the reach is made for the fastest of them
        assert one["height_lost"] == pytest.approx(many["height_lost"][place], rel=1e-5)
        assert one["reason"] == many["reason"][place]


@given(ANGLES, SPEEDS, st.floats(10.0, 500.0), st.floats(1.0, 3.0))
def test_a_stronger_servo_never_raises_the_height_lost(angle, speed, strength, more):
    dived = {"dive_angle": angle, "start_speed": speed, "start_height": 2000.0}
    weak = solve(servo(strength), **dived)["height_lost"]
    strong = solve(servo(strength * more), **dived)["height_lost"]
    none = solve(None, **dived)["height_lost"]
    slack = 1e-4 * none
    if math.isfinite(weak):
        assert none - slack <= strong <= weak + slack


@given(ANGLES, SPEEDS, st.floats(0.0, 0.1))
def test_more_structure_never_raises_the_height_lost(angle, speed, drag):
    dived = {"dive_angle": angle, "start_speed": speed, "start_height": 2000.0}
    lost = [
        float(solve(**dived, zero_lift_drag=drag, limit_load_factor=n)["height_lost"])
        for n in (3.0, 4.5, 9.0)
    ]
    # more load factor costs more induced drag, which slows it further; never the other way
    assert lost == sorted(lost, reverse=True)


@given(ANGLES, SPEEDS)
def test_more_height_never_makes_recovery_worse_where_no_limit_acts_by_pressure(angle, speed):
    heights = np.geomspace(3.0, 300.0, 25)
    found = solve(
        dive_angle=angle, start_speed=speed, start_height=heights, maximum_lift=1e3,
        induced_factor=0.0,
    )  # fmt: skip
    recovers = found["reason"] == 0
    assert np.all(np.diff(recovers.astype(int)) >= 0)


def test_a_shallow_dip_below_the_ground_is_no_recovery():
    low, high = 10.0, 150.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        recovers = solve(start_height=middle, start_speed=40.0)["reason"] == 0
        low, high = (low, middle) if recovers else (middle, high)
    just = solve(start_height=high, start_speed=40.0)
    assert just["lowest_height"] == pytest.approx(0.0, abs=1e-6)
    # scipy, with steps of 0.02 s at most and no more, says the same of where that is
    assert just["height_lost"] == pytest.approx(
        second_way(start_height=high, start_speed=40.0)[0], rel=1e-8
    )
    for depth in (1.0, 1e-2, 1e-4, 1e-6):
        under = solve(start_height=low - depth, start_speed=40.0)
        assert int(under["reason"]) in {2, 3}
        assert np.isnan(under["height_lost"])
        assert solve(start_height=high + depth, start_speed=40.0)["lowest_height"] > 0.5 * depth


@pytest.mark.parametrize(
    ("reason", "changes", "strength"),
    [
        (0, {}, None),
        (1, {"start_height": 20.0, "delay": 5.0}, None),
        (1, {"start_height": 20.0, "drop": 30.0}, None),
        (2, {"start_height": 10.0, "start_speed": 60.0, "dive_angle": 1.5}, None),
        (3, {"start_height": 3.0, "start_speed": 12.0, "dive_angle": 1.5}, None),
        (4, {"start_height": 60.0, "start_speed": 60.0, "trim_dynamic_pressure": 4e3}, 5.0),
        (6, {"start_height": 15e3, "drop": 14e3, "dive_angle": 1.5, "mass": 300.0}, None),
        (9, {"start_speed": 50.0, "start_height": 900.0, "trim_dynamic_pressure": 1e5}, 0.1),
        (7, {"polar_lift": [0.0, 0.5], "polar_drag": [0.02, 0.03], "start_speed": 25.0}, None),
    ],
)
def test_why_a_dive_does_not_recover_is_told(reason, changes, strength):
    found = solve(servo(strength) if strength else None, **changes)
    assert found["reason"] == reason
    assert np.isfinite(found["height_lost"]) == (reason == 0)
    assert len(PointMass.reasons[reason]) > 5


def test_a_reach_that_is_not_known_is_no_recovery():
    def reach(pressure):
        return np.where(pressure > 600.0, np.nan, -0.3), np.full(pressure.shape, 0.3)

    assert "not known" in REASONS[int(solve(reach, start_speed=40.0)["reason"])]
    assert solve(reach, start_speed=18.0)["reason"] == 0


def test_a_dive_that_never_ends_has_no_recovery():
    # a limit load factor below cos gamma cannot bend the path up; from 10 km it takes longer
    found = solve(limit_load_factor=0.999, dive_angle=0.05, start_height=12e3, start_speed=20.0)
    assert REASONS[int(found["reason"])] == "comes neither level nor down within 400 s"
    assert found["duration"] == pytest.approx(400.0)


def test_a_dive_may_start_at_its_terminal_speed():
    found = solve(start_speed=math.nan, start_height=1500.0)
    assert found["reason"] == 0
    assert found["dive_speed"] >= found["terminal_speed"] - 1e-9
    assert solve(start_speed=found["terminal_speed"], start_height=1500.0)["height_lost"] == (
        pytest.approx(found["height_lost"], rel=1e-9)
    )
    shallow = solve(start_speed=math.nan, dive_angle=0.02)
    assert REASONS[int(shallow["reason"])] == "has no terminal speed to start from"


def test_what_limits_the_load_factor_is_told_by_its_share_of_the_time():
    found = solve(servo(30.0), start_speed=50.0, start_height=900.0, trim_dynamic_pressure=300.0)
    shares = [float(found[f"share_{limit}"]) for limit in ("structure", "lift", "servo")]
    assert sum(shares) == pytest.approx(1.0)
    assert shares[2] > 0.5
    free = solve(start_speed=50.0, start_height=400.0)
    assert free["share_servo"] == 0.0
    assert found["height_lost"] > free["height_lost"]


def test_fast_dives_are_marked():
    assert not solve()["beyond_incompressible"]
    assert solve(start_speed=110.0, start_height=900.0)["beyond_incompressible"]


def test_nothing_given_is_changed():
    given = fields(start_speed=np.linspace(20.0, 40.0, 3))
    before = {name: value.copy() for name, value in given.items()}
    PointMass()(given, servo(100.0))
    for name, value in given.items():
        np.testing.assert_array_equal(value, before[name])
