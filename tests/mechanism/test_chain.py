"""Chains against distances of joints, equilibrium of every body, and hand calculations."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.optimize import brentq

from linkcalc.mechanism import elastic
from linkcalc.mechanism.cables import make_cables
from linkcalc.mechanism.chain import make_chain
from linkcalc.mechanism.stages import direct_drive, make_pushrod, torque_rod

VALID, LONGER, SHORTER, PAST, NO_GEOMETRY, BENT = range(6)

with (Path(__file__).parents[1] / "reference" / "linkage.csv").open(
    encoding="utf-8", newline=""
) as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

# A servo on its side drives a bellcrank, that a horn in another plane. Nothing is square.
FIRST = {
    "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.1, 0.0, 1.0), "arm": (0.002, 0.012, 0.003),
    "hinge_pivot": (0.2, 0.01, 0.0), "hinge_axis": (0.0, 0.0, 2.0), "horn": (-0.001, 0.015, 0.004),
}  # fmt: skip
SECOND = {
    "servo_pivot": (0.2, 0.01, 0.0), "servo_axis": (0.0, 0.0, 1.0), "arm": (0.018, -0.002, -0.005),
    "hinge_pivot": (0.21, 0.35, -0.02), "hinge_axis": (1.0, 0.2, 0.0), "horn": (0.0, 0.002, 0.016),
}  # fmt: skip
LEVEL = {
    "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.010),
    "hinge_pivot": (0.1, 0.0, -0.010), "hinge_axis": (0.0, 1.0, 0.0), "horn": (0.0, 0.0, 0.020),
}  # fmt: skip


@pytest.fixture
def chain():
    return make_chain([make_pushrod(**FIRST), make_pushrod(**SECOND)])


ANGLES = [-0.6, -0.25, 0.0, 0.1, 0.5]


@pytest.mark.parametrize("angle", ANGLES)
def test_bellcrank_chain_agrees_with_following_the_distances(vectors, chain, angle):
    crank = vectors.followed(FIRST, angle)
    surface = vectors.followed(SECOND, crank)
    found = chain.follow(angle)
    assert_allclose(found.angles, [angle, crank, surface], rtol=0, atol=1e-12)
    assert found.reason == VALID
    assert found.stage == -1
    assert_allclose(chain.invert(surface).input_angle, angle, rtol=0, atol=1e-11)
    step = 1e-5
    ahead, behind = (
        vectors.followed(SECOND, vectors.followed(FIRST, angle + side)) for side in (step, -step)
    )
    slope = (ahead - behind) / (2 * step)
    assert_allclose(chain.solve(angle).slope, slope, rtol=1e-8)
    # Virtual work: the servo holds what the surface would do.
    assert_allclose(chain.statics(angle, 0.7).torque, -0.7 * slope, rtol=1e-8)


@pytest.mark.parametrize("angle", ANGLES)
def test_every_body_of_a_bellcrank_chain_is_in_equilibrium(vectors, chain, angle):
    moment = 0.7
    crank = vectors.followed(FIRST, angle)
    surface = vectors.followed(SECOND, crank)
    statics = chain.statics(angle, moment)
    (arm, crank_in), (crank_out, horn) = (
        vectors.joints(FIRST, angle, crank), vectors.joints(SECOND, crank, surface),
    )  # fmt: skip
    tension = [float(hold.tension[0]) for hold in statics.holds]
    first = tension[0] * (crank_in - arm) / np.linalg.norm(crank_in - arm)  # on the servo arm
    second = tension[1] * (horn - crank_out) / np.linalg.norm(horn - crank_out)  # on the bellcrank

    def about(axis, pivot, *loads):
        line = np.asarray(axis) / np.linalg.norm(axis)
        return sum(line @ np.cross(joint - np.asarray(pivot), force) for joint, force in loads)

    hinge = about(SECOND["hinge_axis"], SECOND["hinge_pivot"], (horn, -second))
    assert_allclose(hinge + moment, 0.0, atol=1e-12)
    on_crank = about((0, 0, 1), SECOND["servo_pivot"], (crank_in, -first), (crank_out, second))
    assert_allclose(on_crank, 0.0, atol=1e-12)
    on_arm = about(FIRST["servo_axis"], FIRST["servo_pivot"], (arm, first))
    assert_allclose(on_arm + statics.torque, 0.0, atol=1e-12)
    loads = [first, second - first, -second]
    for bearing, force in zip(statics.bearings, loads, strict=True):
        assert_allclose(bearing.force, force, atol=1e-9)
    axis = np.array(FIRST["servo_axis"]) / np.linalg.norm(FIRST["servo_axis"])
    assert_allclose(statics.bearings[0].axial, axis @ first, rtol=1e-12)
    assert_allclose(
        statics.bearings[0].radial, np.linalg.norm(first - axis * (axis @ first)), rtol=1e-12
    )


def test_forces_of_a_level_pushrod_are_those_of_its_levers():
    # 0.3 N m trailing edge down on a horn of 20 mm above: 15 N of tension; a rod ahead of the
    # hinge on top holds it. The servo arm of 10 mm is pulled aft by it.
    statics = make_chain([make_pushrod(**LEVEL)]).statics(0.0, 0.3)
    assert_allclose(statics.holds[0].tension, [15.0])
    assert_allclose(statics.torque, -0.15)
    assert_allclose(statics.bearings[0].force, [15.0, 0.0, 0.0], atol=1e-12)
    assert_allclose(statics.bearings[1].force, [-15.0, 0.0, 0.0], atol=1e-12)
    assert_allclose(statics.bearings[0].radial, 15.0)


def test_servo_on_its_side_drives_alike():
    # The servo lies on its side: its axis up instead of along the hinge line, the rod in the same
    # place. At neutral the arm moves the rod as before.
    side = LEVEL | {"servo_axis": (0.0, 0.0, 1.0), "arm": (0.0, -0.010, 0.010)}
    side["servo_pivot"] = (0.0, 0.010, 0.0)
    upright, lying = (make_chain([make_pushrod(**loop)]) for loop in (LEVEL, side))
    assert_allclose(lying.solve(0.0).slope, upright.solve(0.0).slope, rtol=1e-12)
    # And leaves the plane as it turns: the joint on the horn leans.
    assert lying.statics(0.5, 1.0).holds[0].bent[1] > 0.01
    assert upright.statics(0.5, 1.0).holds[0].bent[1] < 1e-12


def test_joint_that_leans_to_its_limit_ends_the_reach():
    # Pin of the arm's joint upright, servo lying: the rod leans by asin(its rise / length).
    lying = LEVEL | {"servo_pivot": (0.0, 0.010, 0.0), "servo_axis": (0.0, 0.0, 1.0)}
    lying["arm"] = (0.0, -0.010, 0.010)
    free = make_chain([make_pushrod(**lying)])
    held = make_chain([make_pushrod(**lying)], joint_limits=[(math.inf, 0.03)])
    angle = np.linspace(0.0, 1.0, 101)
    leaning = np.array([free.statics(turn, 1.0).holds[0].bent[1] for turn in angle])
    np.testing.assert_array_equal(held.solve(angle).reason, np.where(leaning > 0.03, BENT, VALID))
    ends = held.limits()
    assert ends.reason[1] == BENT
    at_end = free.statics(ends.servo_angle[1], 1.0).holds[0].bent[1]
    assert_allclose(at_end, 0.03, atol=1e-9)
    inner = brentq(lambda turn: float(free.statics(turn, 1.0).holds[0].bent[1]) - 0.03, 0.0, 1.0)
    assert_allclose(ends.servo_angle[1], inner, atol=1e-9)


def test_lean_of_a_joint_is_the_angle_out_of_the_plane_square_to_its_pin(vectors):
    angle, pin = 0.4, np.array([0.2, 1.0, -0.1])
    stage = make_pushrod(**FIRST, arm_pin=pin)
    surface = vectors.followed(FIRST, angle)
    arm, horn = vectors.joints(FIRST, angle, surface)
    turned = vectors.turned(pin, FIRST["servo_axis"], angle)
    rod = (arm - horn) / np.linalg.norm(arm - horn)
    expected = math.asin(abs(rod @ turned) / np.linalg.norm(turned))
    assert_allclose(stage.hold(angle, 1.0).bent[0], expected, rtol=1e-10)


def test_transmission_is_the_sine_between_way_and_plane_square_to_the_rod(vectors, chain):
    angle = 0.5
    crank = vectors.followed(FIRST, angle)
    surface = vectors.followed(SECOND, crank)
    sines = []
    for loop, turn, output in ((FIRST, angle, crank), (SECOND, crank, surface)):
        arm, horn = vectors.joints(loop, turn, output)
        way = np.cross(loop["hinge_axis"], horn - np.array(loop["hinge_pivot"]))
        sines.append(abs(way @ (arm - horn)) / np.linalg.norm(way) / np.linalg.norm(arm - horn))
    assert_allclose(chain.transmission(angle), min(sines), rtol=1e-9)


def test_limits_of_a_chain_are_where_some_stage_ends(chain):
    ends = chain.limits()
    for side, end, reason in zip((-1.0, 1.0), *ends, strict=True):
        inside, outside = chain.follow(end * (1 - 1e-9)), chain.follow(end * (1 + 1e-9))
        assert inside.reason == VALID
        assert outside.reason == reason != VALID
        assert side * end > 0.0
        assert (chain.follow(np.linspace(0.0, end, 4001)[1:-1]).reason == VALID).all()


def test_second_stage_may_end_a_chain_first():
    first = LEVEL | {"arm": (0.0, 0.0, 0.02), "horn": (0.0, 0.0, 0.02), "hinge_pivot": (0.1, 0, 0)}
    second = first | {"servo_pivot": (0.1, 0, 0), "hinge_pivot": (0.2, 0, 0)}
    second |= {"arm": (0.0, 0.0, 0.020), "horn": (0.0, 0.0, 0.015)}
    chain = make_chain([make_pushrod(**first), make_pushrod(**second)])
    found = chain.limits()
    alone = make_chain([make_pushrod(**second)]).limits()
    # The first is a parallelogram, so the second's end is the chain's.
    assert_allclose(found.servo_angle, alone.servo_angle, atol=1e-9)
    assert found.reason.tolist() == alone.reason.tolist()
    assert chain.follow(found.servo_angle[1] + 1e-6).stage == 1


def test_chain_that_turns_all_the_way_round_has_no_end():
    short = LEVEL | {"arm": (0.0, 0.0, 0.005)}
    ends = make_chain([make_pushrod(**short), torque_rod(axis=(0, 1, 0))]).limits()
    assert ends.servo_angle.tolist() == [-math.inf, math.inf]
    assert ends.reason.tolist() == [VALID, VALID]


def test_grashof_crank_rocker_turns_all_the_way_round_at_its_shortest_link():
    row = ROWS["linkage-31"]
    assert row["expected"].startswith("Grashof crank-rocker")
    shortest, ground, coupler, rocker = 2.0, 6.0, 7.0, 9.0
    assert row["inputs"] == "6,2,7,9"
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 0.0, 1.0), "arm": (0.0, shortest, 0.0),
        "hinge_pivot": (ground, 0.0, 0.0), "hinge_axis": (0.0, 0.0, 1.0), "horn": (0.0, rocker, 0),
        "rod_length": coupler,
    }  # fmt: skip
    crank = make_chain([make_pushrod(**loop)])
    assert np.isinf(crank.limits().servo_angle).all()
    swing = crank.solve(np.linspace(0.0, 2 * math.pi, 361)).output_angle
    assert np.ptp(swing) < math.pi  # the rocker only swings
    rocking = loop | {
        "arm": (0.0, rocker, 0.0), "horn": (0.0, shortest, 0.0), "servo_pivot": (ground, 0.0, 0.0),
        "hinge_pivot": (0.0, 0.0, 0.0),
    }  # fmt: skip
    assert np.isfinite(make_chain([make_pushrod(**rocking)]).limits().servo_angle).all()


def test_direct_drive_hands_the_angle_on():
    chain = make_chain([direct_drive(servo_axis=(0, 1, 0), hinge_axis=(0, -3, 0))])
    assert chain.solve([0.2, -0.4]).output_angle.tolist() == [-0.2, 0.4]
    assert chain.invert(0.3).input_angle == -0.3
    statics = chain.statics(0.1, 0.5)
    assert statics.torque == 0.5
    assert statics.holds[0].names == ()
    assert_allclose(statics.bearings[0].force, 0.0)
    skew = direct_drive(servo_axis=(0, 1, 0), hinge_axis=(0, 1, 0.01)).solve(0.1)
    assert skew.reason == NO_GEOMETRY
    assert np.isnan(skew.output_angle)


@pytest.mark.parametrize(
    ("stages", "message"),
    [
        ([], "at least one"),
        ([FIRST, LEVEL], r"stages\[0\] and stages\[1\].*missing"),
        ([FIRST, SECOND | {"servo_axis": (0.0, 0.0, -1.0)}], "missing"),
    ],
)
def test_chain_with_a_stage_missing_is_refused(stages, message):
    with pytest.raises(ValueError, match=message):
        make_chain([make_pushrod(**stage) for stage in stages])


def test_angles_broadcast_through_a_chain(chain):
    angle = np.linspace(-0.5, 0.5, 6).reshape(2, 1, 3)
    moment = np.array([[1.0], [-2.0]])
    statics = chain.statics(angle, moment)
    assert statics.torque.shape == (2, 2, 3)
    assert statics.holds[1].tension.shape == (1, 2, 2, 3)
    assert statics.bearings[1].force.shape == (2, 2, 3, 3)
    one = chain.statics(angle[1, 0, 2], -2.0)
    assert_allclose(statics.bearings[1].force[1, 1, 2], one.bearings[1].force, rtol=1e-12)


# Elasticity and play


def test_compliance_is_the_turn_by_the_stretch_of_every_member(chain):
    angle, moment, soft = 0.3, 1e-4, [2e-5, 5e-5]
    found = elastic.compliance(chain, angle, members=soft)
    tension = [hold.tension[0] for hold in chain.statics(angle, moment).holds]
    longer = [
        make_pushrod(**loop, rod_length=_closing(loop) + pull * give)
        for loop, pull, give in zip((FIRST, SECOND), tension, soft, strict=True)
    ]
    moved = make_chain(longer).solve(angle).output_angle - chain.solve(angle).output_angle
    assert_allclose(found.total, moved / moment, rtol=1e-3)
    assert (found.values > 0.0).all()


def test_servo_that_gives_way_turns_the_surface_by_the_square_of_the_slope(chain):
    angle, moment, soft = -0.2, 1e-5, 0.3
    found = elastic.compliance(chain, angle, shafts=[soft, 0.0, 0.07])
    torque = chain.statics(angle, moment).torque
    given = chain.solve(angle - soft * torque).output_angle - chain.solve(angle).output_angle
    assert_allclose(found.values[0], given / moment, rtol=1e-4)
    assert_allclose(found.values[2], 0.07)


def test_mount_that_gives_way_moves_the_servo_along_its_force(chain):
    angle, moment, soft = 0.1, 1e-4, 1e-4
    found = elastic.compliance(chain, angle, mounts=[soft])
    force = chain.statics(angle, moment).bearings[0].force
    moved = FIRST | {"servo_pivot": soft * force}
    other = make_chain([make_pushrod(**moved, rod_length=_closing(FIRST)), make_pushrod(**SECOND)])
    turn = other.solve(angle).output_angle - chain.solve(angle).output_angle
    assert_allclose(found.total, turn / moment, rtol=1e-3)


@pytest.mark.parametrize("sense", [1.0, -1.0])
@pytest.mark.parametrize("preload", [0.0, 60.0, 500.0])
def test_preload_is_no_part_of_what_a_moment_does(preload, sense):
    """By hand: 1 N m at a horn of 14 mm is 1/0.014 N in one cable, and on the servo's mount.

    60 N and more keep the other one taut too, whose force there without the moment does no work.
    """
    square = np.array([[0.0, 0.0, 0.014], [0.0, 0.0, -0.014]])
    cables = make_cables(
        servo_pivot=np.zeros(3),
        servo_axis=np.array([0.0, 1.0, 0.0]),
        arms=square,
        hinge_pivot=np.array([0.8, 0.0, 0.0]),
        hinge_axis=np.array([0.0, 1.0, 0.0]),
        horns=square,
        preload=preload,
        stiffness=40e3,
    )
    found = elastic.compliance(
        make_chain([cables]), 0.0, members=[2e-5], shafts=[0.3], mounts=[1e-6], sense=sense
    )
    assert found.names == ("members of stage 0", "shaft of body 0", "mount of body 0")
    assert_allclose(found.values, [2e-5 / 0.014**2, 0.3, 1e-6 / 0.014**2], rtol=1e-12)


def test_a_horn_bends_as_a_beam_by_its_strain_energy():
    # Castigliano: the deflection under a unit force is the integral of x^2 / (E I)
    bent, _ = quad(lambda x: x**2 / (3.2e9 * 4e-12), 0.0, 0.025)
    assert_allclose(
        elastic.cantilever_compliance(length=0.025, modulus=3.2e9, second_moment=4e-12),
        bent,
        rtol=1e-9,
    )
    # and a rod stretches by its strain times its length
    assert_allclose(
        elastic.rod_compliance(length=0.3, modulus=200e9, area=3e-6), 0.3 / (200e9 * 3e-6)
    )


def test_torque_rod_twists_as_a_shaft():
    # Round shaft: 0.3 m of 4 mm, G = 80 GPa; T l / (G J) with J = pi d^4 / 32.
    found = elastic.torque_rod_compliance(length=0.3, shear_modulus=80e9, outer_diameter=0.004)
    assert_allclose(found, 0.3 / (80e9 * math.pi * 0.004**4 / 32))
    bent = elastic.torque_rod_compliance(
        length=0.0, shear_modulus=80e9, outer_diameter=0.004, bent_length=0.02, modulus=200e9
    )
    # The tip of a cantilever of 20 mm: F b^3 / (3 E I), over b for the angle, over F b.
    assert_allclose(bent, 0.02**3 / (3 * 200e9 * math.pi * 0.004**4 / 64) / 0.02**2)


def test_free_play_agrees_with_the_reference():
    row = ROWS["linkage-32"]
    assert row["inputs"] == "slop=0.10 mm at horn arm 12 mm"
    square = LEVEL | {"arm": (0.0, 0.0, 0.012), "horn": (0.0, 0.0, 0.012), "hinge_pivot": (1, 0, 0)}
    found = elastic.free_play(make_chain([make_pushrod(**square)]), 0.0, clearances=[0.1e-3])
    expected = pytest.approx(float(row["expected"]), rel=float(row["tolerance"]))
    assert math.degrees(found.linear.total) == expected
    assert math.degrees(found.exact) == expected


def test_free_play_is_the_span_over_all_ends_of_the_clearances(vectors, chain):
    angle, servo, clearances = 0.4, 0.03, [4e-4, 7e-4]
    found = elastic.free_play(chain, angle, servo_play=servo, clearances=clearances)
    ends = []
    for turn in (-servo / 2, servo / 2):
        for one in (-clearances[0] / 2, clearances[0] / 2):
            for two in (-clearances[1] / 2, clearances[1] / 2):
                loops = [FIRST | {"rod_length": _closing(FIRST) + one},
                         SECOND | {"rod_length": _closing(SECOND) + two}]  # fmt: skip
                crank = _near(vectors, loops[0], angle + turn, chain.follow(angle).angles[1])
                ends.append(_near(vectors, loops[1], crank, chain.follow(angle).angles[2]))
    assert_allclose(found.exact, max(ends) - min(ends), rtol=1e-9)
    assert_allclose(found.linear.total, found.exact, rtol=0.02)
    assert found.linear.names == ("servo", "clearance of stage 0", "clearance of stage 1",
                                  "slack of cables")  # fmt: skip
    assert_allclose(found.linear.values[0], abs(chain.solve(angle).slope) * servo)


def _closing(loop):
    rod = np.add(loop["servo_pivot"], loop["arm"]) - np.add(loop["hinge_pivot"], loop["horn"])
    return float(np.linalg.norm(rod))


def _near(vectors, loop, turn, guess):
    def gap(trial):
        return float(vectors.distance(loop, turn, trial)) - vectors.rod(loop)

    return brentq(gap, guess - 0.15, guess + 0.15, xtol=1e-15)


@pytest.mark.parametrize(
    "change",
    [
        {"arm": (0, 0, 0)},
        {"servo_axis": (0, 0, 0)},
        {"horn": (0, 0.02, 0)},
        {"arm": (0, math.nan, 0)},
    ],
    ids=["no arm", "no axis", "joint on its axis", "not finite"],
)
def test_stage_without_geometry_gives_nan_and_its_reason(change):
    chain = make_chain([make_pushrod(**(LEVEL | change))])
    found = chain.follow([0.0, 0.1])
    assert found.reason.tolist() == [NO_GEOMETRY, NO_GEOMETRY]
    assert found.stage.tolist() == [0, 0]
    assert np.isnan(found.angles[1]).all()
    ends = chain.limits()
    assert np.isnan(ends.servo_angle).all()
    assert ends.reason.tolist() == [NO_GEOMETRY, NO_GEOMETRY]
    statics = chain.statics(0.1, 1.0)
    assert np.isnan(statics.torque)
    assert np.isnan(statics.holds[0].tension).all()
    assert chain.invert(0.1).reason == NO_GEOMETRY
    assert np.isnan(elastic.compliance(chain, 0.1, members=[1e-6]).total)


def test_travel_past_a_dead_centre_is_told_and_not_clipped():
    short = LEVEL | {"horn": (0.0, 0.0, 0.006)}
    chain = make_chain([make_pushrod(**short)])
    end = chain.limits().servo_angle[1]
    found = chain.solve([end - 0.01, end + 0.01])
    assert found.reason[0] == VALID
    assert found.reason[1] in {LONGER, SHORTER}
    assert np.isnan(found.output_angle).tolist() == [False, True]


@pytest.mark.parametrize("limits", [[(0.1, 0.1)] * 2, [(0.0, 0.1)], [(math.nan, 0.1)]])
def test_joint_limits_that_are_none_are_refused(limits):
    with pytest.raises(ValueError, match="joint_limits: two angles above zero"):
        make_chain([make_pushrod(**LEVEL)], joint_limits=limits)
