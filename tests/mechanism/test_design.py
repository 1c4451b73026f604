"""Arms, horns and rods found from what they should do: put back, they do it."""

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import fsolve
from scipy.spatial.transform import Rotation

from linkcalc.mechanism import pushrod
from linkcalc.mechanism.design import (
    arm_for_throws,
    horn_for_throws,
    lean_for_differential,
    rod_length_for,
)
from linkcalc.testing.strategies import pushrods, servo_angles_within

FOUND, NO_LEVER, DEAD_CENTRE, NO_LEAN, NOTHING = range(5)
LEVEL = {
    "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.010),
    "hinge_pivot": (0.12, 0.0, 0.0), "hinge_axis": (0.0, 1.0, 0.0), "horn": (0.0, 0.0, 0.014),
}  # fmt: skip
some = settings(max_examples=30, deadline=None)


def without(loop, *names):
    return {name: value for name, value in loop.items() if name not in names}


@pytest.mark.parametrize("up_down", [(20.0, 20.0), (25.0, 12.0), (8.0, 15.0)])
def test_arm_found_solves_the_distances_of_three_positions(vectors, up_down):
    throws = np.radians([-up_down[0], up_down[1]])
    travel = np.radians([-45.0, 40.0])
    lever = arm_for_throws(throws, travel, **without(LEVEL, "arm"), arm_direction=(0, 0, 1))
    assert lever.reason == FOUND

    def gaps(trial):
        radius, lean = trial
        loop = LEVEL | {"arm": (radius * math.sin(lean), 0.0, radius * math.cos(lean))}
        start = vectors.distance(loop, 0.0, 0.0)
        return [float(vectors.distance(loop, turn, surface) - start) * 1e3
                for turn, surface in zip(travel, throws, strict=True)]  # fmt: skip

    solved = fsolve(gaps, (0.006, 0.0), xtol=1e-13)
    assert_allclose([lever.radius, lever.lean], solved, rtol=0, atol=1e-9)
    assert_allclose(lever.rod_length, vectors.rod(LEVEL | {"arm": lever.vector}), rtol=1e-12)


@some
@given(pushrods(), st.data())
def test_arm_and_horn_are_found_again_from_what_they_do(loop, data):
    low = -data.draw(st.floats(0.1, 0.5))
    high = data.draw(st.floats(0.1, 0.5))
    travel = np.array([low, high])
    motion = pushrod.solve(travel, **loop)
    assume(not motion.reason.any())
    assume(np.abs(motion.surface_angle).min() > 0.02)
    assume(np.prod(np.sign(motion.surface_angle)) < 0)
    # The levers found lie square to their axes, at the pivots: put them there first.
    for name, axis, pivot in (("arm", "servo_axis", "servo_pivot"),
                              ("horn", "hinge_axis", "hinge_pivot")):  # fmt: skip
        line = loop[axis] / np.linalg.norm(loop[axis])
        along = line * (loop[name] @ line)
        loop[pivot], loop[name] = loop[pivot] + along, loop[name] - along
    arm = arm_for_throws(
        motion.surface_angle, travel, **without(loop, "arm"), arm_direction=loop["arm"]
    )
    horn = horn_for_throws(
        motion.surface_angle, travel, **without(loop, "horn"), horn_direction=loop["horn"]
    )
    for found, name in ((arm, "arm"), (horn, "horn")):
        assert found.reason == FOUND
        assert_allclose(found.vector, loop[name], rtol=0, atol=1e-7)
        assert_allclose(found.lean, 0.0, atol=1e-5)


def test_throws_that_no_lever_gives_say_so():
    travel, rest = (-0.7, 0.7), {"arm_direction": (0, 0, 1)}
    asked = arm_for_throws([0.0, 0.0], travel, **without(LEVEL, "arm"), **rest)
    assert asked.reason == NO_LEVER
    # So far round the horn passes its dead centre on the way.
    far = arm_for_throws([-2.8, 2.9], travel, **without(LEVEL, "arm"), **rest)
    assert far.reason == DEAD_CENTRE
    assert np.isnan(far.radius)
    broken = arm_for_throws(
        [-0.2, 0.2], travel, **without(LEVEL, "arm", "servo_axis"), servo_axis=(0, 0, 0), **rest
    )
    assert broken.reason == NOTHING


@pytest.mark.parametrize("wanted", [0.6, 1.0, 1.5, 2.2])
def test_lean_gives_the_differential(wanted):
    travel = np.radians([-40.0, 40.0])
    found = lean_for_differential(wanted, travel, **LEVEL)
    assert found.reason == FOUND
    throws = pushrod.solve(travel, **(LEVEL | {"arm": found.arm})).surface_angle
    assert_allclose(throws, found.throws, atol=1e-12)
    assert_allclose(abs(throws[0] / throws[1]), wanted, rtol=1e-9)
    expected = 0.010 * np.array([math.sin(found.lean), 0.0, math.cos(found.lean)])
    assert_allclose(found.arm, expected, atol=1e-15)
    # Leaning aft the arm draws further when it swings forward.
    assert np.sign(found.lean - lean_for_differential(1.0, travel, **LEVEL).lean) == np.sign(
        wanted - 1.0
    )


def test_of_two_leans_the_lesser_is_taken():
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.4498, 1.8549, -0.7779),
        "arm": (0.0099, -0.0065, 0.0113), "hinge_pivot": (0.0411, 0.0157, 0.0075),
        "hinge_axis": (0.0085, 0.5181, -0.6654), "horn": (-0.0016, 0.0053, 0.0194),
    }  # fmt: skip
    travel, wanted = (-0.490, 0.306), 1.68
    axis = np.array(loop["servo_axis"]) / np.linalg.norm(loop["servo_axis"])
    leans = np.linspace(-1.2, 1.2, 481)
    arms = Rotation.from_rotvec(leans[:, None] * axis).apply(loop["arm"])
    motion = pushrod.solve(travel, **(loop | {"arm": arms[:, None]}))
    forth = motion.slope[:, 0] * motion.slope[:, 1] > 0  # past a dead centre there is no throw
    ratio = np.abs(motion.surface_angle[:, 0] / motion.surface_angle[:, 1])
    short = np.where(forth, np.sign(ratio - wanted), np.nan)
    roots = leans[:-1][short[:-1] * short[1:] < 0]
    assert len(roots) == 2
    assert abs(roots[0]) > abs(roots[1]) + 0.1
    found = lean_for_differential(wanted, travel, **loop)
    assert_allclose(found.lean, roots[1], atol=0.006)


def test_a_direction_along_the_axis_changes_no_lever():
    throws, travel, rest = (-0.3, 0.25), (-0.7, 0.7), without(LEVEL, "arm")
    square, oblique = (
        arm_for_throws(throws, travel, **rest, arm_direction=direction)
        for direction in ((0, 0, 1), (0, 0.7, 1))
    )
    assert square.reason == FOUND
    assert_allclose(oblique.vector, square.vector, atol=1e-12)
    assert_allclose(oblique.lean, square.lean, atol=1e-12)


def test_leans_are_found_for_whole_arrays_and_say_where_there_is_none():
    horns = np.array([[0.0, 0.0, 0.014], [0.0, 0.0, 0.020], [0.0, 0.0, 0.0]])
    loop = LEVEL | {"horn": horns}
    found = lean_for_differential([[1.5], [50.0]], (-0.6, 0.6), **loop)
    assert found.reason.tolist() == [[FOUND, FOUND, NOTHING], [NO_LEAN, NO_LEAN, NOTHING]]
    one = lean_for_differential(1.5, (-0.6, 0.6), **(LEVEL | {"horn": horns[1]}))
    assert_allclose(found.lean[0, 1], one.lean, atol=1e-12)
    assert found.throws.shape == (2, 3, 2)


@some
@given(pushrods(), st.data())
def test_rod_length_found_centres_the_surface(loop, data):
    servo = data.draw(servo_angles_within(loop, share=0.5, reach=0.5))
    surface = float(pushrod.solve(servo, **loop).surface_angle)
    closing = float(rod_length_for(0.0, **loop))
    assert_allclose(rod_length_for(surface, servo, **loop), closing, rtol=1e-12)
    length = rod_length_for(0.05, **loop)
    adjusted = pushrod.solve(0.0, **loop, rod_length=length)
    assume(adjusted.reason == 0)
    assert_allclose(adjusted.surface_angle, 0.05, atol=1e-10)


def test_designing_alone_loads_scipy():
    code = (
        "import sys, linkcalc.mechanism.design, linkcalc.mechanism.chain; "
        "print(any(name.startswith(('scipy', 'sympy')) for name in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
