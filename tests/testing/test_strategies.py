"""Strategies: what they promise, and that they do draw what they may."""

import math

import numpy as np
import pytest
from hypothesis import find, given, settings, target
from hypothesis import strategies as st
from hypothesis.errors import InvalidArgument

from linkcalc.mechanism import pushrod
from linkcalc.testing.strategies import pushrods, servo_angles_within

NAMES = {"servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn"}
some = settings(max_examples=25, deadline=None)


def axes_are_parallel(loop):
    return bool(np.linalg.norm(np.cross(loop["servo_axis"], loop["hinge_axis"])) < 1e-12)


def in_one_plane(loop):
    axis = loop["hinge_axis"]
    across = loop["hinge_pivot"] - loop["servo_pivot"]
    return all(abs(vector @ axis) < 1e-12 for vector in (across, loop["arm"], loop["horn"]))


@some
@given(pushrods())
def test_pushrod_closes_at_neutral_clear_of_dead_centres(loop):
    assert set(loop) == NAMES
    assert all(vector.shape == (3,) for vector in loop.values())
    solution = pushrod.solve(0.0, **loop)
    assert solution.reason == 0
    assert 0.0 < abs(solution.slope) < math.inf


@settings(max_examples=120, deadline=None)
@given(pushrods(planar=True))
def test_rod_has_a_lever_on_both_arms(loop):
    rod = loop["hinge_pivot"] + loop["horn"] - loop["servo_pivot"] - loop["arm"]
    # Lever of the rod about either axis over the arm, which is square to the axis here.
    levers = [
        abs(axis @ np.cross(arm, rod)) / (np.linalg.norm(axis) * np.linalg.norm(arm))
        for axis, arm in ((loop["servo_axis"], loop["arm"]), (loop["hinge_axis"], loop["horn"]))
    ]
    least = min(levers) / float(np.linalg.norm(rod))
    target(-least)  # the search goes where the promise is hardest to keep
    assert least > 0.2 * (1 - 1e-9)


@some
@given(pushrods(planar=True))
def test_planar_pushrod_is_planar(loop):
    assert axes_are_parallel(loop)
    assert in_one_plane(loop)


@pytest.mark.parametrize(("planar", "kinds"), [(None, {True, False}), (True, {True})])
def test_kinds_of_pushrods_asked_for_are_drawn(planar, kinds):
    seen = set()

    @settings(max_examples=40, database=None, deadline=None)
    @given(pushrods(planar=planar))
    def collect(loop):
        seen.add(in_one_plane(loop))

    collect()
    assert seen == kinds


def test_spatial_pushrods_are_drawn_with_axes_at_an_angle():
    seen = []

    @settings(max_examples=40, database=None, deadline=None)
    @given(pushrods(planar=False))
    def collect(loop):
        seen.append(axes_are_parallel(loop))

    collect()
    assert seen.count(False) > len(seen) / 2


def test_both_senses_of_axes_and_horn_are_drawn():
    signs = set()

    @settings(max_examples=60, database=None, deadline=None)
    @given(pushrods(planar=True))
    def collect(loop):
        alike = np.sign(loop["servo_axis"] @ loop["hinge_axis"])
        signs.add((alike, np.sign(pushrod.solve(0.0, **loop).slope)))

    collect()
    assert signs == {(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)}


@some
@given(pushrods(), st.floats(0.05, 0.95), st.floats(0.1, 3.0), st.data())
def test_servo_angles_are_within_share_and_reach(loop, share, reach, data):
    angle = data.draw(servo_angles_within(loop, share=share, reach=reach))
    lower, upper = pushrod.limits(**loop).servo_angle
    assert abs(angle) <= reach
    assert share * lower <= angle <= share * upper
    assert pushrod.solve(angle, **loop).reason == 0


def test_servo_angles_come_near_both_ends():
    loop = {
        "servo_pivot": np.zeros(3),
        "servo_axis": np.array([0.0, 1.0, 0.0]),
        "arm": np.array([0.0, 0.0, 0.015]),
        "hinge_pivot": np.array([0.1, 0.0, 0.0]),
        "hinge_axis": np.array([0.0, 1.0, 0.0]),
        "horn": np.array([0.0, 0.0, 0.015]),
    }
    for side in (-1.0, 1.0):  # a parallelogram: a quarter of a turn each way
        angle = find(
            servo_angles_within(loop, share=0.9),
            lambda angle, side=side: side * angle > 0.8 * math.pi / 2,
            settings=settings(max_examples=500, database=None),
        )
        assert side * angle <= 0.9 * math.pi / 2


@pytest.mark.parametrize("planar", [1, 0, "yes", []])
def test_planar_has_to_be_true_false_or_none(planar):
    with pytest.raises(InvalidArgument, match="must be True, False or None"):
        pushrods(planar=planar)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"share": 0.0}, "share=0.0 must be more than 0 and less than 1"),
        ({"share": 1.0}, "share=1.0 must be more than 0"),
        ({"share": math.nan}, "share=nan must be"),
        ({"reach": 0.0}, "reach=0.0 must be more than 0 and finite"),
        ({"reach": math.inf}, "reach=inf must be more than 0 and finite"),
    ],
)
def test_argument_out_of_range_is_named(arguments, words):
    with pytest.raises(InvalidArgument, match=words):
        servo_angles_within({}, **arguments)


def test_pushrod_without_a_loop_is_refused():
    loop = {name: np.array([0.0, 0.0, 1.0]) for name in NAMES}
    with pytest.raises(InvalidArgument, match="must be one loop that closes at neutral"):
        servo_angles_within(loop)
