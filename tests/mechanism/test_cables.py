"""Pull-pull cables against distances of joints, springs and hand calculations."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from linkcalc.mechanism.cables import make_cables
from linkcalc.mechanism.chain import make_chain
from linkcalc.mechanism.stages import make_pushrod

VALID, NO_GEOMETRY, SLACK = 0, 4, 6

# A rudder behind its servo, both about z: first cable on port, to hold a positive moment.
RUDDER = {
    "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 0.0, 1.0),
    "arms": [(0.0, -0.020, 0.0), (0.0, 0.020, 0.0)],
    "hinge_pivot": (0.8, 0.0, 0.0), "hinge_axis": (0.0, 0.0, 1.0),
    "horns": [(0.0, -0.025, 0.0), (0.0, 0.025, 0.0)],
}  # fmt: skip
# The horns' holes lie 6 mm aft of the hinge line, the arms' in line with the shaft.
OFFSET = RUDDER | {"horns": [(0.006, -0.025, 0.0), (0.006, 0.025, 0.0)]}


def half(loop, index):
    """One cable of a pair as a pushrod."""
    parts = {name: loop[name] for name in loop if name.endswith(("pivot", "axis"))}
    return parts | {"arm": loop["arms"][index], "horn": loop["horns"][index]}


@pytest.mark.parametrize("loop", [RUDDER, OFFSET], ids=["square", "offset"])
@pytest.mark.parametrize("angle", [-0.5, 0.2, 0.6])
def test_taut_cable_keeps_its_length_and_follows_the_sign_of_the_moment(vectors, loop, angle):
    stage = make_cables(**loop)
    for sense, index in ((1.0, 0), (-1.0, 1)):
        surface = vectors.followed(half(loop, index), angle)
        assert_allclose(stage.solve(angle, sense).output_angle, surface, rtol=0, atol=1e-12)
        assert_allclose(stage.invert(surface, sense).input_angle, angle, rtol=0, atol=1e-12)
        held = stage.hold(angle, 0.3 * sense)
        other = 1 - index
        assert held.tension[other] == 0.0
        # The pull of the taut one about the hinge balances the moment.
        arm, horn = vectors.joints(half(loop, index), angle, surface)
        pull = held.tension[index] * (arm - horn) / np.linalg.norm(arm - horn)
        turning = np.cross(horn - np.array(loop["hinge_pivot"]), pull)[2]
        assert_allclose(turning + 0.3 * sense, 0.0, atol=1e-12)
        # And the other one is longer than from joint to joint by its slack.
        slack = vectors.rod(half(loop, other)) - vectors.distance(half(loop, other), angle, surface)
        assert_allclose(stage.rigging(angle).slack[other], slack, rtol=0, atol=1e-13)


def test_parallel_cables_stay_taut_and_offset_horns_slacken_one():
    angle = np.linspace(-0.7, 0.7, 15)
    equal = RUDDER | {"horns": RUDDER["arms"]}
    assert_allclose(make_cables(**equal).rigging(angle).slack, 0.0, atol=1e-12)
    slack = make_cables(**OFFSET).rigging(angle).slack
    assert_allclose(slack[:, 7], 0.0, atol=1e-15)
    assert (np.abs(slack[:, [0, -1]]) > 1e-4).all()  # holes aft of the hinge line: tenths of a mm


def test_cables_that_are_too_long_let_neutral_jump():
    # A millimetre on 25 mm either way: asin(1/25) to the rod's first order.
    stage = make_cables(**RUDDER, slack=0.001)
    ends = [float(stage.solve(0.0, sense).output_angle) for sense in (1.0, -1.0)]
    assert_allclose(ends, [math.asin(0.04), -math.asin(0.04)], rtol=2e-3)
    assert_allclose(stage.rigging(0.0).gap, ends[0] - ends[1], rtol=1e-12)
    assert stage.rigging(0.0).slack.min() > 0.0
    chain = make_chain([stage])
    assert_allclose(chain.solve(0.1, [1.0, -1.0]).output_angle,
                    [float(stage.solve(0.1, s).output_angle) for s in (1.0, -1.0)])  # fmt: skip


def test_cable_alone_pulls_and_is_never_asked_to_push():
    single = make_cables(**RUDDER, present=(True, False))
    held = single.solve([0.1, 0.1], [1.0, -1.0])
    assert held.reason.tolist() == [VALID, SLACK]
    assert np.isnan(held.output_angle).tolist() == [False, True]
    assert single.invert(0.1, -1.0).reason == SLACK
    # Named in the other order it is the same cable.
    swapped = RUDDER | {name: RUDDER[name][::-1] for name in ("arms", "horns")}
    again = make_cables(**swapped, present=(False, True))
    assert again.solve([0.1, 0.1], [1.0, -1.0]).reason.tolist() == [VALID, SLACK]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_cables_on_one_side_are_no_pair(side):
    same = RUDDER | {"arms": [(0, side * 0.02, 0)] * 2, "horns": [(0, side * 0.025, 0)] * 2}
    stage = make_cables(**same)
    assert stage.solve(0.1).reason == NO_GEOMETRY
    assert (stage.limits().reason == NO_GEOMETRY).all()
    with pytest.raises(ValueError, match="slack at neutral has no preload"):
        make_cables(**RUDDER, slack=0.001, preload=20.0)


def test_preload_is_shared_until_one_cable_is_slack():
    # 20 N in each on 25 mm: the second one lets go at 2 x 20 N x 25 mm = 1 N m.
    stage = make_cables(**RUDDER, preload=20.0)
    moment = np.array([0.0, 0.5, 1.0, 1.5, -1.5])
    tension = stage.hold(0.0, moment).tension
    # The cables lean by 5 mm in 800.
    assert_allclose(tension[0], [20.0, 30.0, 40.0, 60.0, 0.0], rtol=1e-4)
    assert_allclose(tension[1], [20.0, 10.0, 0.0, 0.0, 60.0], rtol=1e-4, atol=1e-3)
    # Both pull at the shaft, whatever the moment is.
    shaft = make_chain([stage]).statics(0.0, 0.5).bearings[0]
    assert_allclose(shaft.force, [40.0, -20.0 * 5 / 800, 0.0], rtol=1e-4, atol=1e-3)


@pytest.mark.parametrize("moment", [-1.2, -0.2, 0.0, 0.4, 1.5])
@pytest.mark.parametrize("angle", [-0.4, 0.0, 0.3])
def test_stretched_cables_rest_where_their_energy_is_least(vectors, angle, moment):
    # Length of cable 0.8 m; 1 mm steel strand, about 5e4 N/m.
    stage = make_cables(**OFFSET, preload=15.0, stiffness=5e4)

    def energy(surface):
        total = -moment * surface
        for index in (0, 1):
            loop = half(OFFSET, index)
            pull = vectors.distance(loop, angle, surface) - vectors.rod(loop) + 15.0 / 5e4
            total += 0.5 * 5e4 * max(float(pull), 0.0) ** 2
        return total

    middle = float(stage.rigging(angle).angles.mean())
    least = minimize_scalar(
        energy, bounds=(middle - 0.2, middle + 0.2), method="bounded", options={"xatol": 1e-9}
    )
    found = stage.stretched(angle, moment)
    # A minimum is known to the root of the rounding of the energy only.
    assert_allclose(found.surface_angle, least.x, rtol=0, atol=2e-6)
    for index in (0, 1):
        loop = half(OFFSET, index)
        pull = vectors.distance(loop, angle, found.surface_angle) - vectors.rod(loop) + 15.0 / 5e4
        assert_allclose(found.tension[index], max(float(pull), 0.0) * 5e4, atol=1e-6)


def test_tension_to_first_order_agrees_with_finite_stretch():
    stage = make_cables(**RUDDER, preload=15.0, stiffness=5e4)
    angle, moment = np.array([0.0, 0.1]), np.array([0.3, -0.3])
    assert_allclose(
        stage.hold(angle, moment).tension, stage.stretched(angle, moment).tension, rtol=0.02
    )


def test_stretch_over_the_travel_is_counted_in_the_tension():
    # Holes aft of the hinge line: at 0.15 rad the pair has lost a part of its preload of 15 N.
    stage = make_cables(**OFFSET, preload=15.0, stiffness=5e4)
    held, exact = stage.hold(0.15, 0.05).tension, stage.stretched(0.15, 0.05).tension
    assert (exact < 0.95 * np.array([16.0, 14.0])).all()
    assert_allclose(held, exact, rtol=0.03)  # to first order


@pytest.mark.parametrize("angle", [-0.4, 0.3])
def test_what_a_taut_cable_says_of_itself_is_what_a_rod_in_its_place_says(angle):
    stage = make_cables(**OFFSET)
    rods = [make_pushrod(**half(OFFSET, index)) for index in (0, 1)]
    for moment, rod in zip((0.3, -0.3), rods, strict=True):
        cable, alone = stage.hold(angle, moment), rod.hold(angle, moment)
        assert_allclose(cable.transmission, alone.transmission, rtol=1e-9)
        assert_allclose(cable.bent, alone.bent, atol=1e-9)
    assert abs(np.subtract(*(rod.hold(angle, 1.0).transmission for rod in rods))) > 1e-3


def test_cables_end_where_the_nearer_of_both_does():
    turned = {"arms": OFFSET["horns"], "horns": OFFSET["arms"]}  # the longer levers drive
    loop = OFFSET | turned
    ends = [make_pushrod(**half(loop, index)).limits() for index in (0, 1)]
    sizes = np.abs([each.servo_angle for each in ends])
    assert np.isfinite(sizes).all()
    assert np.abs(sizes[0] - sizes[1]).min() > 0.1
    found = make_cables(**loop).limits()
    assert_allclose(found.servo_angle, sizes.min(axis=0) * [-1.0, 1.0], rtol=1e-9)


def test_cables_behind_a_bellcrank_get_the_sign_of_the_moment_there():
    # The pushrod from bellcrank to surface turns the other way, so the cable that is taut is
    # the other one.
    horns = [(0.0, -0.020, 0.0), (0.0, 0.020, 0.0)]
    cables = make_cables(**(RUDDER | {"horns": horns, "arms": horns}), slack=0.0005)
    back = {
        "servo_pivot": (0.8, 0, 0), "servo_axis": (0, 0, 1), "arm": (0, 0.02, 0),
        "hinge_pivot": (0.9, 0, 0), "hinge_axis": (0, 0, 1), "horn": (0, -0.02, 0),
    }  # fmt: skip
    chain = make_chain([cables, make_pushrod(**back)])
    assert chain.solve(0.0).slope < 0.0
    pulled = chain.statics(0.0, 0.2)
    assert (pulled.moments[0] < 0.0).all()
    assert pulled.holds[0].tension[0] == 0.0
    assert pulled.holds[0].tension[1] > 0.0
    # A positive moment on the surface moves it in its own sense through the slack.
    assert chain.solve(0.0, 1.0).output_angle > chain.solve(0.0, -1.0).output_angle
