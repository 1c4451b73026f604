"""What is true of every pushrod: closure, continuity, virtual work, symmetry, reversal."""

import math

import mpmath
import numpy as np
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from linkcalc.mechanism import pushrod
from linkcalc.testing.strategies import pushrods, servo_angles_within

VALID, LONGER, SHORTER, PAST, NO_GEOMETRY = range(5)
LENGTHS = ("servo_pivot", "arm", "hinge_pivot", "horn")
AXES = ("servo_axis", "hinge_axis")

few = settings(max_examples=12, deadline=None)
many = settings(max_examples=25, deadline=None)


def triples(numbers):
    return st.tuples(numbers, numbers, numbers).map(lambda triple: np.array(triple, dtype=float))


rounded = st.floats(-2.0, 2.0).map(lambda number: round(number, 4))


@st.composite
def loops(draw):
    """Loops of any shape; small whole numbers make joints in line and dead centres common."""
    numbers = draw(st.sampled_from([st.integers(-3, 3), rounded]))
    flat = draw(st.booleans())
    axis = np.array([0.0, 0.0, 1.0])
    loop = {name: draw(triples(numbers)) for name in LENGTHS}
    if flat:
        loop = {name: vector - axis * vector[2] for name, vector in loop.items()}
    for name in AXES:
        loop[name] = draw(st.sampled_from([1.0, -2.0])) * axis if flat else draw(triples(numbers))
    if draw(st.booleans()):
        loop["rod_length"] = draw(st.floats(0.9, 1.1)) * float(
            np.linalg.norm(loop["servo_pivot"] + loop["arm"] - loop["hinge_pivot"] - loop["horn"])
        )
    return loop


def plane(arm, horn, ground, rod=None):
    """Loop in the plane, both arms square to the line of pivots."""
    loop = {
        "servo_pivot": np.zeros(3),
        "servo_axis": np.array([0.0, 1.0, 0.0]),
        "arm": np.array([0.0, 0.0, arm]),
        "hinge_pivot": np.array([ground, 0.0, 0.0]),
        "hinge_axis": np.array([0.0, 1.0, 0.0]),
        "horn": np.array([0.0, 0.0, horn]),
    }
    return loop if rod is None else loop | {"rod_length": rod}


@many
@given(loops())
@example(plane(1.0, 1.0, 4.0))  # parallelogram
@example(plane(1.0, 1.0, 4.0, 4.0 + 1e-9))  # all but a parallelogram, on either side
@example(plane(1.0, 1.0, 4.0, 4.0 - 1e-9))
@example(plane(2.0, 2.0, 2.0))  # rhombus
@example(plane(3.0, 1.0, 0.5, 3.0))
@example(plane(4.0, 1.0, 4.0, 1.0))  # kite
@example(plane(0.01, 1.0, 4.0))
@example(plane(50.0, 1.0, 4.0))
def test_answer_is_the_closed_stretch_around_neutral_and_nothing_else(vectors, loop):
    ends = pushrod.limits(**loop)
    angle = np.linspace(-7.0, 7.0, 1401)
    if (ends.reason == NO_GEOMETRY).any():
        assert (pushrod.solve(angle, **loop).reason == NO_GEOMETRY).all()
        return
    nearest, furthest = vectors.spans(loop, np.concatenate([angle, [0.0]]))
    rod = vectors.rod(loop)
    slack = 1e-9 * (rod + furthest.max())
    if not nearest[-1] - slack < rod < furthest[-1] + slack:
        expected = LONGER if rod < nearest[-1] else SHORTER
        assert (pushrod.solve(angle, **loop).reason == expected).all()
        assert (pushrod.invert(angle, **loop).reason == expected).all()
        return
    solution = pushrod.solve(angle, **loop)
    valid = solution.reason == VALID
    lower, upper = ends.servo_angle
    np.testing.assert_array_equal(valid, (angle > lower) & (angle < upper))
    for number in solution[:3]:
        np.testing.assert_array_equal(np.isnan(number), ~valid)
    # It closes, the rod has its length, and there is no gap between here and neutral.
    closed = (nearest[:-1] <= rod + slack) & (rod - slack <= furthest[:-1])
    assert closed[valid].all()
    gap = vectors.distance(loop, angle[valid], solution.surface_angle[valid]) - rod
    assert_allclose(gap, 0.0, atol=1e-3 * slack)
    # Elsewhere the reason is what the distances say.
    clear = np.minimum(abs(rod - nearest), abs(furthest - rod))[:-1] > slack
    expected = np.where(closed, PAST, np.where(rod < nearest[:-1], LONGER, SHORTER))
    np.testing.assert_array_equal(
        solution.reason[~valid & clear], expected[~valid & clear].astype(int)
    )


@many
@given(loops())
@example(plane(1.0, 1.0, 4.0))
@example(plane(4.0, 1.0, 4.0, 1.0))
def test_limits_are_where_the_distance_first_leaves_or_touches_its_range(vectors, loop):
    ends = pushrod.limits(**loop)
    assume(not np.isnan(ends.servo_angle).any() and ends.servo_angle[1] > 0.0)
    nearest, furthest = vectors.spans(loop, ends.servo_angle.clip(-1e3, 1e3))
    rod = vectors.rod(loop)
    for side, end, reason, near, far in zip((-1.0, 1.0), *ends, nearest, furthest, strict=True):
        if math.isinf(end):
            assert reason == VALID
            around = vectors.spans(loop, np.linspace(0.0, 2 * math.pi, 721))
            assert (around[0] < rod).all()
            assert (rod < around[1]).all()
            continue
        assert min(abs(rod - near), abs(rod - far)) < 1e-9 * (rod + far)
        beyond = vectors.spans(loop, np.array([end + side * 1e-4]))
        if reason == PAST:
            assert beyond[0] < rod < beyond[1]
        elif reason == LONGER:
            assert rod < beyond[0]
        else:
            assert rod > beyond[1]
            assert reason == SHORTER


@many
@given(loops())
@example(plane(3.0, 1.0, 0.5, 3.0))
def test_surface_angle_is_continuous_up_to_the_dead_centres(loop):
    lower, upper = pushrod.limits(**loop).servo_angle.clip(-15.0, 15.0)
    assume(upper > 0.0)
    # Dense towards the ends, where the surface angle has the shape of a square root.
    angle = (lower + upper) / 2 - (upper - lower) / 2 * np.cos(np.linspace(0.0, math.pi, 401)[1:-1])
    assert not pushrod.solve(angle, **loop).reason.any()
    # The longest step shrinks as it is halved; a jump would stay.
    for _ in range(12):
        step = np.abs(np.diff(pushrod.solve(angle, **loop).surface_angle))
        longest = int(step.argmax())
        angle = np.linspace(angle[longest], angle[longest + 1], 9)
    assert step.max() < 1e-3


@few
@given(pushrods(), st.data())
def test_surface_angle_agrees_with_following_the_distance_from_neutral(vectors, loop, data):
    angle = data.draw(servo_angles_within(loop))
    solution = pushrod.solve(angle, **loop)
    followed = vectors.followed(loop, angle, steps=25)
    # The bracketing knows the distance to about 1e-16 m in 0.6 m, over arms of 5 mm.
    assert_allclose(solution.surface_angle, followed, rtol=0, atol=1e-10)


@few
@given(pushrods(), st.data())
def test_surface_angle_agrees_with_forty_digits(loop, data):
    angle = data.draw(servo_angles_within(loop, share=0.8))
    assume(abs(angle) > 1e-3)
    solution = pushrod.solve(angle, **loop)

    def turned(vector, axis, turn):
        size = mpmath.sqrt(sum(x**2 for x in axis))
        k, cosine, sine = [x / size for x in axis], mpmath.cos(turn), mpmath.sin(turn)
        across = [k[i - 2] * vector[i - 1] - k[i - 1] * vector[i - 2] for i in range(3)]
        along = sum(a * b for a, b in zip(k, vector, strict=True)) * (1 - cosine)
        return [vector[i] * cosine + across[i] * sine + k[i] * along for i in range(3)]

    with mpmath.workdps(40):
        exact = {name: [mpmath.mpf(float(x)) for x in vector] for name, vector in loop.items()}

        def squared(servo, surface):
            arm = turned(exact["arm"], exact["servo_axis"], servo)
            horn = turned(exact["horn"], exact["hinge_axis"], surface)
            pivots = zip(exact["servo_pivot"], exact["hinge_pivot"], strict=True)
            return sum((s + a - h - b) ** 2 for (s, h), a, b in zip(pivots, arm, horn, strict=True))

        rod = squared(mpmath.mpf(0), mpmath.mpf(0))
        surface = mpmath.findroot(
            lambda trial: squared(mpmath.mpf(angle), trial) - rod,
            (float(solution.surface_angle) - 1e-9, float(solution.surface_angle) + 1e-9),
        )
        error = float(surface - mpmath.mpf(float(solution.surface_angle)))
    # Pivots up to a metre from the origin round by 1e-16 m, on arms of at least 5 mm; the
    # slope and the rod's lever pass it on.
    pivots = 2e-16 * (1.0 + abs(solution.slope) + abs(solution.rod_force))
    assert abs(error) < 1e-13 + 8.0 * pivots


@many
@given(pushrods(), st.data())
def test_rod_length_is_kept_to_rounding(vectors, loop, data):
    angle = data.draw(servo_angles_within(loop))
    gap = vectors.distance(loop, angle, pushrod.solve(angle, **loop).surface_angle)
    assert_allclose(gap, vectors.rod(loop), rtol=0, atol=1e-14)


@many
@given(pushrods(), st.data())
def test_rod_force_holds_the_surface_and_servo_by_virtual_work(vectors, loop, data):
    angle = data.draw(servo_angles_within(loop))
    solution = pushrod.solve(angle, **loop)
    arm_joint, horn_joint = vectors.joints(loop, angle, solution.surface_angle)
    pull = (arm_joint - horn_joint) / np.linalg.norm(arm_joint - horn_joint)  # on the surface
    axis = {name: loop[name] / np.linalg.norm(loop[name]) for name in AXES}
    on_surface = axis["hinge_axis"] @ np.cross(
        horn_joint - loop["hinge_pivot"], solution.rod_force * pull
    )
    on_servo = axis["servo_axis"] @ np.cross(
        arm_joint - loop["servo_pivot"], -solution.rod_force * pull
    )
    external = 1.0
    assert_allclose(on_surface + external, 0.0, atol=1e-9)
    # The servo has to hold -M d(surface)/d(servo).
    assert_allclose(-on_servo, -external * solution.slope, rtol=1e-9, atol=1e-9)


@many
@given(pushrods(), st.data())
def test_slope_agrees_with_central_differences(loop, data):
    angle = data.draw(servo_angles_within(loop, share=0.8))
    step = 1e-4
    at = pushrod.solve(angle + step * np.array([-2.0, -1.0, 1.0, 2.0]), **loop)
    assume(not at.reason.any())
    # Five points: the error is of the fourth order in the step.
    slope = np.dot([1.0, -8.0, 8.0, -1.0], at.surface_angle) / (12.0 * step)
    assert_allclose(pushrod.solve(angle, **loop).slope, slope, rtol=1e-7, atol=1e-9)


@many
@given(loops())
@example(plane(1.0, 1.0, 4.0))
@example(plane(3.0, 1.0, 0.5, 3.0))
@example(plane(1.0, 3.0, 4.0))
def test_solving_the_inverse_gives_the_surface_angle_back(loop):
    surface = np.linspace(-7.0, 7.0, 701)
    inverse = pushrod.invert(surface, **loop)
    valid = inverse.reason == VALID
    np.testing.assert_array_equal(np.isnan(inverse.servo_angle), ~valid)
    back = pushrod.solve(inverse.servo_angle[valid], **loop)
    assert not back.reason.any()
    # Rounding of the servo angle comes back multiplied by the slope, and near a dead centre of
    # both arms by more.
    error = np.abs(back.surface_angle - surface[valid])
    assert (error <= 1e-12 * (1.0 + back.slope**2 + back.rod_force**2)).all()


@many
@given(loops())
@example(plane(1.0, 1.0, 4.0))
@example(plane(1.0, 3.0, 4.0))
@example(plane(3.0, 1.0, 4.0))
@example(plane(3.0, 1.0, 0.5, 3.0))
def test_inverse_reaches_as_far_as_the_surface_runs_one_way(loop):
    lower, upper = pushrod.limits(**loop).servo_angle.clip(-7.0, 7.0)
    assume(upper > 0.0)
    half = np.linspace(0.0, math.pi / 2, 1501)[:-1]
    for end in (lower, upper):
        angle = end * np.sin(half)
        solution = pushrod.solve(angle, **loop)
        assert not solution.reason.any()
        assume(abs(solution.slope[0]) > 1e-3)
        turns_back = np.flatnonzero(np.sign(solution.slope) != np.sign(solution.slope[0]))
        one_way = slice(0, turns_back[0] - 1 if turns_back.size else -1)
        inverse = pushrod.invert(solution.surface_angle[one_way], **loop)
        flat = np.abs(solution.slope[one_way])
        clear = (flat > 1e-4) & (flat < 1e4) & (np.abs(solution.rod_force[one_way]) < 1e4)
        assert (inverse.reason[clear] == VALID).all()
        good = inverse.reason == VALID
        error = np.abs(inverse.servo_angle - angle[one_way])[good]
        # Near a dead centre of either arm rounding is multiplied, near one of both most.
        weak = flat[good] ** -2 + flat[good] ** 2 + solution.rod_force[one_way][good] ** 2
        assert (error <= 1e-12 * (1.0 + weak)).all()
        if turns_back.size:
            # Just beyond the arm's dead centre the surface does not get.
            last = turns_back[0]
            way = np.sign(solution.surface_angle[last] - solution.surface_angle[0])
            extreme = way * (way * solution.surface_angle[: last + 1]).max()
            beyond = pushrod.invert(extreme + way * 0.02, **loop)
            assert beyond.reason != VALID


@many
@given(pushrods(), st.data())
def test_servo_and_surface_may_change_roles(loop, data):
    swapped = {
        "servo_pivot": loop["hinge_pivot"], "servo_axis": loop["hinge_axis"], "arm": loop["horn"],
        "hinge_pivot": loop["servo_pivot"], "hinge_axis": loop["servo_axis"], "horn": loop["arm"],
    }  # fmt: skip
    surface = data.draw(servo_angles_within(swapped))
    inverse, solution = pushrod.invert(surface, **loop), pushrod.solve(surface, **swapped)
    assume(inverse.reason == VALID)
    assert_allclose(inverse.servo_angle, solution.surface_angle, rtol=0, atol=1e-12)
    there = pushrod.solve(inverse.servo_angle, **loop)
    assert_allclose(there.slope * solution.slope, 1.0, rtol=1e-6)


@many
@given(pushrods(), st.data())
def test_neutral_may_be_anywhere_on_the_branch(vectors, loop, data):
    here = data.draw(servo_angles_within(loop, share=0.7))
    there = data.draw(servo_angles_within(loop, share=0.7))
    surface = pushrod.solve(here, **loop).surface_angle
    moved = loop | {
        "arm": vectors.turned(loop["arm"], loop["servo_axis"], here),
        "horn": vectors.turned(loop["horn"], loop["hinge_axis"], surface),
    }
    assert_allclose(
        surface + pushrod.solve(there - here, **moved).surface_angle,
        pushrod.solve(there, **loop).surface_angle,
        rtol=0,
        atol=1e-11,
    )
    assert_allclose(
        here + pushrod.limits(**moved).servo_angle,
        pushrod.limits(**loop).servo_angle,
        rtol=0,
        atol=1e-9,
    )


@many
@given(pushrods(), st.floats(0.99, 1.01), st.data())
def test_another_rod_length_is_another_neutral(vectors, loop, share, data):
    adjusted = loop | {"rod_length": share * vectors.rod(loop)}
    start = pushrod.solve(0.0, **adjusted)
    assume(start.reason == VALID)
    moved = loop | {"horn": vectors.turned(loop["horn"], loop["hinge_axis"], start.surface_angle)}
    assert_allclose(vectors.rod(moved), adjusted["rod_length"], rtol=1e-14)
    assume(abs(start.slope) < 100.0)
    angle = data.draw(servo_angles_within(adjusted))
    expected = pushrod.solve(angle, **moved)
    assert_allclose(
        pushrod.solve(angle, **adjusted).surface_angle,
        start.surface_angle + expected.surface_angle,
        rtol=0,
        atol=1e-10,
    )
    surface = start.surface_angle + 0.1
    one, other = pushrod.invert(surface, **adjusted), pushrod.invert(0.1, **moved)
    assert one.reason == other.reason
    assert_allclose(one.servo_angle, other.servo_angle, rtol=0, atol=1e-9)


@many
@given(pushrods(), st.floats(0.99, 1.01))
def test_rod_length_keeps_the_side_of_the_rod_that_the_horn_is_on(vectors, loop, share):
    adjusted = loop | {"rod_length": share * vectors.rod(loop)}
    before, after = pushrod.solve(0.0, **loop), pushrod.solve(0.0, **adjusted)
    assume(after.reason == VALID)
    assert np.sign(after.rod_force) == np.sign(before.rod_force)
    # A longer rod turns the surface the way the rod pushes.
    pushed = -np.sign(before.rod_force) * np.sign(share - 1.0)
    assert np.sign(after.surface_angle) == -pushed or share == 1.0


@many
@given(pushrods(), st.data())
def test_mirror_image_moves_alike(loop, data):
    normal = data.draw(triples(st.floats(-1.0, 1.0)))
    assume(np.linalg.norm(normal) > 0.1)
    mirror = np.eye(3) - 2.0 * np.outer(normal, normal) / (normal @ normal)
    # An axis of rotation is mirrored with its sense.
    image = {name: (-1.0 if name in AXES else 1.0) * mirror @ loop[name] for name in loop}
    angle = data.draw(servo_angles_within(loop))
    for mirrored, original in zip(
        pushrod.solve(angle, **image), pushrod.solve(angle, **loop), strict=True
    ):
        assert_allclose(mirrored, original, rtol=1e-9, atol=1e-11)


@many
@given(pushrods(), st.data())
def test_reversed_axes_reverse_the_angles(loop, data):
    angle = data.draw(servo_angles_within(loop))
    turned_servo = loop | {"servo_axis": -2.0 * loop["servo_axis"]}
    turned_hinge = loop | {"hinge_axis": -0.5 * loop["hinge_axis"]}
    surface = pushrod.solve(angle, **loop).surface_angle
    assert_allclose(pushrod.solve(-angle, **turned_servo).surface_angle, surface, atol=1e-12)
    assert_allclose(pushrod.solve(angle, **turned_hinge).surface_angle, -surface, atol=1e-12)


@many
@given(pushrods(), st.sampled_from([1e3, 1e-9, 1e12, 2.0**-40, 1e150, 1e-150]), st.data())
def test_scale_of_lengths_changes_no_angle(loop, scale, data):
    about = loop | {
        "servo_pivot": np.zeros(3), "hinge_pivot": loop["hinge_pivot"] - loop["servo_pivot"],
    }  # fmt: skip
    angle = data.draw(servo_angles_within(about))
    grown = {name: scale * about[name] if name in LENGTHS else about[name] for name in about}
    one, other = pushrod.solve(angle, **about), pushrod.solve(angle, **grown)
    assert_allclose(other.surface_angle, one.surface_angle, rtol=0, atol=1e-12)
    assert_allclose(other.slope, one.slope, rtol=1e-10, atol=1e-12)
    assert_allclose(other.rod_force * scale, one.rod_force, rtol=1e-10)
    assert_allclose(
        pushrod.limits(**grown).servo_angle, pushrod.limits(**about).servo_angle, atol=1e-9
    )


@few
@given(st.lists(pushrods(), min_size=2, max_size=4), st.data())
def test_scalar_equals_array_element(several, data):
    stacked = {name: np.stack([loop[name] for loop in several]) for name in several[0]}
    angle = data.draw(servo_angles_within(several[0]))
    together = pushrod.solve(angle, **stacked)
    inverses = pushrod.invert(angle, **stacked)
    ends = pushrod.limits(**stacked)
    for index, loop in enumerate(several):
        for whole, one in (
            (together, pushrod.solve(angle, **loop)),
            (inverses, pushrod.invert(angle, **loop)),
            (ends, pushrod.limits(**loop)),
        ):
            for field, value in zip(whole, one, strict=True):
                assert_allclose(field[index], value, rtol=1e-11, atol=1e-13)
