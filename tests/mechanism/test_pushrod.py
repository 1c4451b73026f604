"""Pushrods against published four-bars, closed forms worked by hand and the reasons given."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from linkcalc.mechanism import pushrod

VALID, LONGER, SHORTER, PAST, NO_GEOMETRY = range(5)

# Reference values with their sources; tests/reference holds the file as it was collected.
_TABLE = Path(__file__).parents[1] / "reference" / "linkage.csv"
with _TABLE.open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

# R. L. Norton, Design of Machinery: position example and Table P4-1 rows a and g, as in the
# file. Last two columns: a horn on the open and on the crossed side, chosen by looking at the
# drawing, from which the rod's length leads to the position asked for [deg].
FOUR_BARS = [  # first row of six, ground, crank, coupler, rocker, crank angle [deg], open, crossed
    (1, 100.0, 40.0, 120.0, 80.0, 40.0, 60.0, -90.0),
    (7, 6.0, 2.0, 7.0, 9.0, 30.0, 90.0, -90.0),
    (13, 6.0, 8.0, 8.0, 9.0, 25.0, 0.0, 120.0),
]

# Row a driven at its rocker: the short horn could turn all the way round, the long arm not.
DRIVEN_ROCKER = {
    "ground": 6.0, "crank": 9.0, "coupler": 7.0, "rocker": 2.0, "at": 60.0, "horn": 60.0,
}  # fmt: skip

# The two spatial cases of the file, lengths in millimetres there and here.
CASE_A = {
    "servo_pivot": (0.0, 0.0, 0.0),
    "servo_axis": (0.0, 1.0, 0.0),
    "arm": (0.0, 0.0, 15.0),
    "hinge_pivot": (120.0, 25.0, -5.0),
    "hinge_axis": (0.258819, 0.965926, 0.0),
    "horn": (0.0, 0.0, 12.0),
}
CASE_C = CASE_A | {
    "hinge_pivot": (120.0, 0.0, -5.0),
    "hinge_axis": (0.0, 1.0, 0.0),
    "horn": (0.0, 0.0, 20.0),
}

PARALLELOGRAM = {
    "servo_pivot": (0.0, 0.0, 0.0),
    "servo_axis": (0.0, 1.0, 0.0),
    "arm": (0.0, 0.0, 0.015),
    "hinge_pivot": (0.1, 0.0, 0.0),
    "hinge_axis": (0.0, 1.0, 0.0),
    "horn": (0.0, 0.0, 0.015),
}
UNEQUAL = PARALLELOGRAM | {
    "arm": (0.0, 0.0, 6.0),
    "horn": (0.0, 0.0, 3.0),
    "hinge_pivot": (10.0, 0.0, 0.0),
}


def polar(size, degrees):
    return np.array(
        [size * math.cos(math.radians(degrees)), size * math.sin(math.radians(degrees)), 0]
    )


def four_bar(*, ground, crank, coupler, rocker, at, horn):
    """Pushrod in the plane of x and y, angles from the ground link, counter-clockwise."""
    return {
        "servo_pivot": (0.0, 0.0, 0.0),
        "servo_axis": (0.0, 0.0, 1.0),
        "arm": polar(crank, at),
        "hinge_pivot": (ground, 0.0, 0.0),
        "hinge_axis": (0.0, 0.0, 1.0),
        "horn": polar(rocker, horn),
        "rod_length": coupler,
    }


def folded(degrees):
    return (degrees + 180.0) % 360.0 - 180.0


def assert_agrees(value, row):
    expected, tolerance = float(row["expected"]), float(row["tolerance"])
    if row["tolerance_kind"] == "rel":
        tolerance *= abs(expected)
    assert value == pytest.approx(expected, rel=0.0, abs=tolerance), row["id"]


@pytest.mark.parametrize("branch", [0, 1], ids=["open", "crossed"])
@pytest.mark.parametrize("case", FOUR_BARS, ids=["example", "row a", "row g"])
def test_four_bar_agrees_with_norton(case, branch):
    first, ground, crank, coupler, rocker, at, *sides = case
    horn = sides[branch]
    sizes = {"ground": ground, "crank": crank, "coupler": coupler, "rocker": rocker}
    solution = pushrod.solve(0.0, **four_bar(**sizes, at=at, horn=horn))
    rocker_angle = horn + math.degrees(solution.surface_angle)
    rod = np.array([ground, 0, 0]) + polar(rocker, rocker_angle) - polar(crank, at)
    rows = [ROWS[f"linkage-{first + 3 * branch + k:02}"] for k in range(3)]
    assert f"branch={['open', 'crossed'][branch]}" in rows[0]["inputs"]
    assert_agrees(math.degrees(math.atan2(rod[1], rod[0])), rows[0])
    assert_agrees(folded(rocker_angle), rows[1])
    # Torque ratio rocker over crank is crank rate over rocker rate.
    assert_agrees(1.0 / solution.slope, rows[2])


@pytest.mark.parametrize("branch", [0, 1], ids=["open", "crossed"])
@pytest.mark.parametrize("case", FOUR_BARS, ids=["example", "row a", "row g"])
def test_four_bar_turns_to_the_position_of_norton_from_elsewhere(case, branch):
    first, ground, crank, coupler, rocker, at, *sides = case
    # All three cranks turn all the way round (Grashof), so any turn leads to the same place.
    sizes = {"ground": ground, "crank": crank, "coupler": coupler, "rocker": rocker}
    away = four_bar(**sizes, at=at, horn=sides[branch])
    there = sides[branch] + math.degrees(pushrod.solve(math.radians(200.0), **away).surface_angle)
    back = four_bar(**sizes, at=at + 200.0, horn=there)
    reached = there + math.degrees(pushrod.solve(math.radians(-200.0), **back).surface_angle)
    assert_agrees(folded(reached), ROWS[f"linkage-{first + 3 * branch + 1:02}"])


@pytest.mark.parametrize("number", range(19, 30))
def test_spatial_case_agrees_with_the_distance_of_its_joints(number):
    row = ROWS[f"linkage-{number}"]
    servo_angle = math.radians(float(row["inputs"].split("input rotation=")[1].split(" deg")[0]))
    case = CASE_A if number < 24 else CASE_C
    assert_agrees(math.degrees(pushrod.solve(servo_angle, **case).surface_angle), row)


def test_infeasible_position_is_reported_with_its_reason():
    row = ROWS["linkage-30"]
    assert (row["inputs"], row["expected"]) == (
        "case A; input rotation=-45 deg",
        "no real solution",
    )
    solution = pushrod.solve(math.radians(-45.0), **CASE_A)
    # The arm's joint is further from the hinge line than rod and horn together reach.
    assert solution.reason == LONGER
    assert np.isnan(solution[:3]).all()


def test_grashof_crank_turns_all_the_way_round():
    row = ROWS["linkage-31"]
    assert row["expected"].startswith("Grashof crank-rocker")
    ground, crank, coupler, rocker = (float(size) for size in row["inputs"].split(","))
    loop = four_bar(ground=ground, crank=crank, coupler=coupler, rocker=rocker, at=30.0, horn=90.0)
    ends = pushrod.limits(**loop)
    assert ends.servo_angle.tolist() == [-math.inf, math.inf]
    assert ends.reason.tolist() == [VALID, VALID]
    # The rocker comes back after a turn, without one of its own.
    assert_allclose(
        pushrod.solve([2 * math.pi, -40 * math.pi], **loop).surface_angle,
        pushrod.solve(0.0, **loop).surface_angle,
        rtol=0,
        atol=1e-12,
    )


def test_parallelogram_turns_the_surface_with_the_servo():
    angle = np.linspace(-1.5, 1.5, 61)
    solution = pushrod.solve(angle, **PARALLELOGRAM)
    assert_allclose(solution.surface_angle, angle, rtol=0, atol=1e-12)
    assert_allclose(solution.slope, 1.0, rtol=0, atol=1e-11)
    # The rod stays level, its lever about the hinge line is 15 mm times the cosine.
    assert_allclose(solution.rod_force, 1.0 / (0.015 * np.cos(angle)), rtol=1e-11)
    inverse = pushrod.invert(angle, **PARALLELOGRAM)
    assert_allclose(inverse.servo_angle, angle, rtol=0, atol=1e-12)
    assert not inverse.reason.any()


def test_parallelogram_ends_where_all_is_in_one_line():
    ends = pushrod.limits(**PARALLELOGRAM)
    assert_allclose(ends.servo_angle, [-math.pi / 2, math.pi / 2], rtol=0, atol=1e-12)
    assert ends.reason.tolist() == [PAST, PAST]
    beyond = [-7.0, -2.0, 1.58, 3.0, 6.3]
    assert (pushrod.solve(beyond, **PARALLELOGRAM).reason == PAST).all()
    assert (pushrod.invert(beyond, **PARALLELOGRAM).reason == PAST).all()


@pytest.mark.parametrize("where", [0.0, 0.3, 1.0, 20.0])
def test_parallelogram_ends_in_line_wherever_it_stands(where):
    # Rounding of the pivots' coordinates opens or closes the change point by a hair.
    across = 0.1 * np.array([math.cos(where), 0.0, math.sin(where)])
    arm = 0.015 * np.array([-math.sin(where), 0.0, math.cos(where)])
    pivot = np.array([where, -where, where / 3])
    moved = PARALLELOGRAM | {
        "servo_pivot": pivot, "hinge_pivot": pivot + across, "arm": arm, "horn": arm,
    }  # fmt: skip
    ends = pushrod.limits(**moved)
    assert_allclose(ends.servo_angle, [-math.pi / 2, math.pi / 2], rtol=0, atol=1e-6)
    assert (pushrod.solve([-1.6, 1.6], **moved).reason != VALID).all()


def test_dead_centres_agree_with_the_law_of_cosines():
    # Arm 6, horn 3, pivots 10 apart, rod^2 = 10^2 + 3^2. Horn and rod are in one line where
    # the arm's joint is rod + horn, or rod - horn, away from the hinge line. The arm then
    # stands at this angle to the line of pivots; at neutral at a right one.
    rod = math.sqrt(109.0)
    stretched, overlapped = (
        math.pi / 2 - math.acos((10.0**2 + 6.0**2 - (rod + side * 3.0) ** 2) / (2 * 10.0 * 6.0))
        for side in (1.0, -1.0)
    )
    ends = pushrod.limits(**UNEQUAL)
    assert_allclose(ends.servo_angle, [stretched, overlapped], rtol=1e-13)
    assert ends.reason.tolist() == [LONGER, SHORTER]
    a_little = 1e-9
    outward = a_little * np.array([-1.0, 1.0])
    inside = pushrod.solve(ends.servo_angle - outward, **UNEQUAL)
    beyond = pushrod.solve(ends.servo_angle + outward, **UNEQUAL)
    assert inside.reason.tolist() == [VALID, VALID]
    assert beyond.reason.tolist() == [LONGER, SHORTER]


def test_arm_dead_centres_end_the_inverse_by_the_law_of_cosines():
    # The same loop driven from its other end: arm 3, horn 6. The horn stands at a right angle
    # to the line of pivots at neutral and turns away from the servo with a positive angle.
    loop = UNEQUAL | {"arm": UNEQUAL["horn"], "horn": UNEQUAL["arm"]}
    rod = math.sqrt(109.0)
    stretched, overlapped = (
        math.acos((10.0**2 + 6.0**2 - (rod + side * 3.0) ** 2) / (2 * 10.0 * 6.0)) - math.pi / 2
        for side in (1.0, -1.0)
    )
    a_little = 1e-9
    ends = np.array([overlapped + a_little, stretched - a_little])
    assert pushrod.invert(ends, **loop).reason.tolist() == [VALID, VALID]
    ends = np.array([overlapped - a_little, stretched + a_little])
    assert pushrod.invert(ends, **loop).reason.tolist() == [SHORTER, LONGER]


def test_loop_with_a_mirror_plane_undoes_itself():
    # Exchanging x and y exchanges servo and surface and reverses both turns. So the surface
    # angle of the surface angle is the servo angle; and at neutral both arms have the same
    # lever on the rod.
    loop = {
        "servo_pivot": (0.0, 1.0, 0.0),
        "servo_axis": (1.0, 0.0, 0.0),
        "arm": (0.0, 0.0, 0.2),
        "hinge_pivot": (1.0, 0.0, 0.0),
        "hinge_axis": (0.0, -1.0, 0.0),
        "horn": (0.0, 0.0, 0.2),
    }
    angle = np.linspace(-0.9, 0.9, 21)
    solution = pushrod.solve(angle, **loop)
    assert not solution.reason.any()
    assert abs(solution.surface_angle[0] + angle[0]) > 0.01
    again = pushrod.solve(solution.surface_angle, **loop)
    assert_allclose(again.surface_angle, angle, rtol=0, atol=1e-13)
    # A turn about x carries the top of the arm to -y, one about -y carries the horn's to -x.
    assert_allclose(solution.slope[10], -1.0, rtol=1e-14)


def test_surface_is_at_zero_with_the_servo_wherever_the_arms_point():
    angle = np.radians(np.arange(0.0, 360.0, 15.0))
    point = np.stack([np.cos(angle), np.zeros(24), np.sin(angle)], axis=-1)
    loop = UNEQUAL | {"arm": 6.0 * point, "horn": 3.0 * point[:, None] + [0.01, 0.0, 0.003]}
    for kernel in (pushrod.solve, pushrod.invert):
        turned, *_, reason = kernel(0.0, **loop)
        assert np.mean(reason == VALID) > 0.9
        assert_allclose(turned[reason == VALID], 0.0, rtol=0, atol=1e-11)


def test_rod_ahead_on_top_is_in_tension_under_a_positive_moment():
    # x aft, z up, hinge axis to starboard: a moment that turns the trailing edge down pulls a
    # horn on top aft, away from a servo ahead of it. Lever 20 mm.
    loop = PARALLELOGRAM | {"horn": (0.0, 0.0, 0.020), "hinge_pivot": (0.1, 0.0, -0.005)}
    assert pushrod.solve(0.0, **loop).rod_force == pytest.approx(1.0 / 0.020, rel=1e-14)
    astern = loop | {"hinge_pivot": (-0.1, 0.0, -0.005)}
    assert pushrod.solve(0.0, **astern).rod_force == pytest.approx(-1.0 / 0.020, rel=1e-14)
    below = loop | {"horn": (0.0, 0.0, -0.020), "hinge_pivot": (0.1, 0.0, 0.035)}
    assert pushrod.solve(0.0, **below).rod_force == pytest.approx(-1.0 / 0.020, rel=1e-14)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_drag_link_carries_the_surface_round_with_the_servo(turn):
    # Pivots 1 apart, arm, rod and horn 3, 2.5 and 3: the shortest link is fixed, so both turn.
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0),
        "servo_axis": (0.0, 1.0, 0.0),
        "arm": (0.0, 0.0, 3.0),
        "hinge_pivot": (1.0, 0.0, 0.0),
        "hinge_axis": (0.0, turn, 0.0),
        "horn": (3.0, 0.0, 0.0),
        "rod_length": 2.5,
    }
    assert np.isinf(pushrod.limits(**loop).servo_angle).all()
    angle = np.linspace(-20.0, 20.0, 4001)
    solution = pushrod.solve(angle, **loop)
    assert not solution.reason.any()
    assert np.abs(np.diff(solution.surface_angle)).max() < 0.1
    turns = np.array([-3, -1, 1, 2, 1000])
    start = pushrod.solve(0.3, **loop).surface_angle
    there = pushrod.solve(0.3 + 2 * math.pi * turns, **loop).surface_angle
    assert_allclose(there - start, 2 * math.pi * turns * turn, rtol=1e-14, atol=1e-12)
    back = pushrod.invert(solution.surface_angle, **loop)
    assert_allclose(back.servo_angle, angle, rtol=0, atol=1e-11)


def test_surface_that_could_turn_round_ends_at_the_horn():
    loop = four_bar(**DRIVEN_ROCKER)
    ends = pushrod.limits(**loop)
    assert np.isfinite(ends.servo_angle).all()
    surface = np.linspace(-13.0, 13.0, 2601)
    inverse = pushrod.invert(surface, **loop)
    reached = surface[inverse.reason == VALID]
    assert 1.0 < np.ptp(reached) < 2 * math.pi
    assert set(inverse.reason) == {VALID, PAST}
    assert_allclose(np.diff(reached), 0.01, rtol=1e-9)  # one stretch, not two


def test_loop_that_closes_again_beyond_a_gap_stays_nan():
    # There are two separate stretches of the arm's circle, one on either side of the pivots.
    loop = four_bar(**DRIVEN_ROCKER)
    lower, upper = pushrod.limits(**loop).servo_angle
    angle = np.linspace(-math.pi, math.pi, 3601)
    solution = pushrod.solve(angle, **loop)
    inside = (angle > lower) & (angle < upper)
    assert (solution.reason[inside] == VALID).all()
    assert set(solution.reason[~inside]) == {LONGER, SHORTER, PAST}
    assert np.isnan(solution.surface_angle[~inside]).all()


def test_rod_length_moves_the_neutral_of_the_surface():
    # In the plane, horn 3 square to a rod of 8; law of cosines for the triangle of hinge line,
    # arm joint and horn joint, whose side from joint to hinge line is sqrt(73).
    loop = PARALLELOGRAM | {
        "arm": (0.0, 0.0, 3.0), "horn": (0.0, 0.0, 3.0), "hinge_pivot": (8.0, 0.0, 0.0),
    }  # fmt: skip
    side = math.sqrt(73.0)

    def corner(rod):
        return math.acos((side**2 + 9.0 - rod**2) / (2 * side * 3.0))

    # From all but folded to all but stretched; then seen from the other side of the plane.
    rod = np.array([5.6, 7.0, 8.0, 8.5, 9.0, 11.5])
    expected = np.array([corner(length) - corner(8.0) for length in rod])
    for sense in (1.0, -1.0):
        loop["hinge_axis"] = (0.0, sense, 0.0)
        solution = pushrod.solve(0.0, **loop, rod_length=rod)
        assert_allclose(solution.surface_angle, sense * expected, rtol=0, atol=1e-13)
        inverse = pushrod.invert(sense * expected, **loop, rod_length=rod)
        assert_allclose(inverse.servo_angle, 0.0, atol=1e-13)
        # A little to one side, where the servo has to follow by the slope.
        inverse = pushrod.invert(sense * expected + 1e-6, **loop, rod_length=rod)
        assert_allclose(inverse.servo_angle, 1e-6 / solution.slope, rtol=1e-4)


def test_rod_length_beyond_a_dead_centre_says_which_way():
    # The joint of the arm is sqrt(73) from the hinge line: rods from 5.54 to 11.54 close.
    loop = PARALLELOGRAM | {
        "arm": (0.0, 0.0, 3.0), "horn": (0.0, 0.0, 3.0), "hinge_pivot": (8.0, 0.0, 0.0),
    }  # fmt: skip
    side = math.sqrt(73.0)
    rod = side + np.array([-3.001, -2.999, 2.999, 3.001])
    expected = [LONGER, VALID, VALID, SHORTER]
    assert pushrod.solve(0.0, **loop, rod_length=rod).reason.tolist() == expected
    ends = pushrod.limits(**loop, rod_length=rod)
    assert ends.reason[[0, 3]].tolist() == [[LONGER, LONGER], [SHORTER, SHORTER]]
    assert np.isnan(ends.servo_angle[[0, 3]]).all()
    assert (np.diff(ends.servo_angle[1:3]) > 0.0).all()
    # No branch leads from neutral to anywhere else.
    everywhere = np.linspace(-3.0, 3.0, 13)
    assert (pushrod.solve(everywhere, **loop, rod_length=rod[0]).reason == LONGER).all()
    assert (pushrod.invert(everywhere, **loop, rod_length=rod[3]).reason == SHORTER).all()


def test_neutral_at_a_dead_centre_has_no_branch():
    # Horn in line with the rod, which is as long as it can get for this side.
    loop = PARALLELOGRAM | {"arm": (0.0, 0.0, 0.01), "horn": (0.02, 0.0, 0.0)}
    loop["hinge_pivot"] = (0.1, 0.0, 0.01)
    assert pushrod.limits(**loop).servo_angle.tolist() == [0.0, 0.0]
    assert pushrod.solve(0.0, **loop).reason == PAST
    assert (pushrod.invert([0.0, 0.1], **loop).reason != VALID).all()
    moved = pushrod.solve([-0.1, 0.1], **loop)
    assert moved.reason.tolist() == [PAST, SHORTER]
    assert pushrod.limits(**loop).reason.tolist() == [PAST, SHORTER]
    assert np.isnan(moved.surface_angle).all()


NAN, INF = math.nan, math.inf
NO_LOOP = {
    "arm is not finite": {"arm": (0.0, NAN, 0.01)},
    "pivot is infinite": {"servo_pivot": (INF, 0.0, 0.0)},
    "pivots too far apart": {"servo_pivot": (1.7e308, 0, 0), "hinge_pivot": (-1.7e308, 0, 0)},
    "axis is zero": {"hinge_axis": (0.0, 0.0, 0.0)},
    "axis is infinite": {"servo_axis": (0.0, INF, 0.0)},
    "arm is zero": {"arm": (0.0, 0.0, 0.0)},
    "horn is zero": {"horn": (0.0, 0.0, 0.0)},
    "arm joint on the servo axis": {"arm": (0.0, -0.02, 0.0)},
    "horn joint on the hinge line": {"hinge_axis": (1.0, 2.0, 3.0), "horn": (0.1, 0.2, 0.3)},
    "joints meet": {"hinge_pivot": (0.0, 0.0, 0.0)},
    "rod is zero": {"rod_length": 0.0},
    "rod is negative": {"rod_length": -0.1},
    "rod is not finite": {"rod_length": NAN},
    "rod is infinite": {"rod_length": INF},
}


@pytest.mark.parametrize("change", NO_LOOP.values(), ids=NO_LOOP)
def test_what_is_no_loop_gives_reason_4(change):
    loop = PARALLELOGRAM | change
    for kernel in (pushrod.solve, pushrod.invert):
        *numbers, reason = kernel([0.0, 0.1], **loop)
        assert reason.tolist() == [NO_GEOMETRY, NO_GEOMETRY]
        assert np.isnan(numbers).all()
    ends = pushrod.limits(**loop)
    assert ends.reason.tolist() == [NO_GEOMETRY, NO_GEOMETRY]
    assert np.isnan(ends.servo_angle).all()


@pytest.mark.parametrize("kernel", [pushrod.solve, pushrod.invert])
def test_angle_that_is_not_finite_gives_reason_4(kernel):
    *numbers, reason = kernel([NAN, 0.1, INF, -INF], **PARALLELOGRAM)
    assert reason.tolist() == [NO_GEOMETRY, VALID, NO_GEOMETRY, NO_GEOMETRY]
    for number in numbers:
        assert np.isnan(number).tolist() == [True, False, True, True]


def test_one_bad_geometry_leaves_its_neighbours_alone():
    arm = np.array([[0.0, 0.0, 0.015], [0.0, NAN, 0.0], [0.0, 0.015, 0.0], [0.0, 0.0, 0.015]])
    solution = pushrod.solve(0.2, **(PARALLELOGRAM | {"arm": arm}))
    assert solution.reason.tolist() == [VALID, NO_GEOMETRY, NO_GEOMETRY, VALID]
    assert_allclose(solution.surface_angle[[0, 3]], 0.2, rtol=0, atol=1e-12)


def test_far_too_long_a_rod_is_too_long_and_no_overflow():
    assert pushrod.solve(0.1, **PARALLELOGRAM, rod_length=1e300).reason == SHORTER


@pytest.mark.parametrize("name", ["servo_pivot", "servo_axis", "arm", "hinge_pivot", "horn"])
@pytest.mark.parametrize("value", [1.0, (1.0, 2.0)])
def test_vector_of_the_wrong_size_is_named(name, value):
    with pytest.raises(ValueError, match=f"{name}: a vector needs a last axis of 3"):
        pushrod.solve(0.0, **(PARALLELOGRAM | {name: value}))


def test_scalars_give_scalars():
    solution = pushrod.solve(0.1, **PARALLELOGRAM)
    assert [np.shape(value) for value in solution] == [()] * 4
    assert all(isinstance(value, np.float64) for value in solution[:3])
    assert isinstance(pushrod.invert(0.1, **PARALLELOGRAM).servo_angle, np.float64)
    ends = pushrod.limits(**PARALLELOGRAM)
    assert [np.shape(value) for value in ends] == [(2,), (2,)]


def test_shapes_broadcast_together():
    arm = np.array([[0.0, 0.0, 0.010], [0.0, 0.0, 0.015]])[:, None, None]
    horn = np.array([[0.0, 0.0, 0.012], [0.0, 0.0, 0.015], [0.0, 0.0, 0.018]])[:, None]
    loop = PARALLELOGRAM | {"arm": arm, "horn": horn}
    angle = np.linspace(-0.5, 0.5, 5)
    whole = pushrod.solve(angle, **loop)
    inverse = pushrod.invert(whole.surface_angle, **loop)
    ends = pushrod.limits(**loop)
    assert whole.surface_angle.shape == inverse.servo_angle.shape == (2, 3, 5)
    assert ends.servo_angle.shape == (2, 3, 1, 2)
    assert pushrod.solve(np.zeros((0,)), **PARALLELOGRAM).surface_angle.shape == (0,)
    for i in range(2):
        for j in range(3):
            one = PARALLELOGRAM | {"arm": arm[i, 0, 0], "horn": horn[j, 0]}
            for k in range(5):
                single = pushrod.solve(angle[k], **one)
                assert_allclose(
                    [field[i, j, k] for field in whole], [*single], rtol=1e-13, atol=1e-15
                )


@pytest.mark.parametrize("shape", [(100_001,), (3, 40_000), (40_000, 3), (2, 30_000, 2)])
def test_large_arrays_are_evaluated_in_parts_with_the_same_result(shape):
    angle = np.linspace(-0.7, 0.7, math.prod(shape)).reshape(shape)
    angle.flat[1] = NAN
    whole = pushrod.solve(angle, **CASE_A)
    inverse = pushrod.invert(angle, **CASE_A)
    picked = (..., slice(None, None, 997)) if shape[-1] > 1000 else (slice(None, None, 997),)
    for big, small in (
        (whole, pushrod.solve(angle[picked], **CASE_A)),
        (inverse, pushrod.invert(angle[picked], **CASE_A)),
    ):
        for field, few in zip(big, small, strict=True):
            np.testing.assert_array_equal(field[picked], few)


def test_many_geometries_are_evaluated_in_parts_with_the_same_result():
    horn = np.zeros((2_000, 1, 3))
    horn[:, 0, 2] = np.linspace(0.012, 0.05, 2_000)
    angle = np.linspace(-0.7, 0.7, 40)
    whole = pushrod.solve(angle, **(PARALLELOGRAM | {"horn": horn}))
    few = pushrod.solve(angle, **(PARALLELOGRAM | {"horn": horn[::499]}))
    for field, part in zip(whole, few, strict=True):
        np.testing.assert_array_equal(field[::499], part)


def test_arguments_are_not_changed():
    loop = {name: np.array(value) for name, value in CASE_A.items()}
    before = {name: value.copy() for name, value in loop.items()}
    angle = np.array([0.1, NAN, 9.0])
    pushrod.solve(angle, **loop)
    pushrod.invert(angle, **loop)
    pushrod.limits(**loop)
    np.testing.assert_array_equal(angle, [0.1, NAN, 9.0])
    for name, value in loop.items():
        np.testing.assert_array_equal(value, before[name])
