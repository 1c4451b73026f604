"""Strategies for chains and cables, and the ready-made properties on right and wrong linkages."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, find, given, settings
from hypothesis import strategies as st
from hypothesis.errors import InvalidArgument

from linkcalc.mechanism import pushrod
from linkcalc.testing import properties
from linkcalc.testing.linkages import arms, cables, chains, horns, pushrods_in_a_row
from linkcalc.testing.strategies import pushrods, servo_angles_within

some = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])


def kernel(angle, **keywords):
    return float(pushrod.solve(angle, **keywords).surface_angle)


def ratio_of_arms(angle, **keywords):
    """What a flyer does in the head, and no linkage does."""
    sizes = np.linalg.norm(keywords["arm"]) / np.linalg.norm(keywords["horn"])
    return math.copysign(sizes, pushrod.solve(0.0, **keywords).slope) * angle


@some
@given(st.data())
def test_kernel_has_every_property(data):
    loop = data.draw(pushrods())
    angle = data.draw(servo_angles_within(loop, share=0.8, reach=1.0))
    properties.closure(kernel, loop, angle)
    properties.virtual_work(kernel, loop, 0.9 * angle, tolerance=1e-5)
    normal = data.draw(st.sampled_from([(0, 1, 0), (1, 2, -1)]))
    properties.mirror(kernel, loop, angle, normal=normal)
    properties.scale(kernel, loop, angle, factor=1e3)


@some
@given(pushrods())
def test_surface_of_the_kernel_runs_one_way_between_the_dead_centres_of_both_arms(loop):
    swapped = {
        "servo_pivot": loop["hinge_pivot"], "servo_axis": loop["hinge_axis"], "arm": loop["horn"],
        "hinge_pivot": loop["servo_pivot"], "hinge_axis": loop["servo_axis"], "horn": loop["arm"],
    }  # fmt: skip
    ends = pushrod.limits(**loop).servo_angle
    # The arm's dead centres are the other way's ends.
    back = pushrod.limits(**swapped).servo_angle
    finite = np.where(np.isfinite(back), back, 0.0) * 0.999
    turns = np.abs(pushrod.solve(finite, **swapped).surface_angle)
    reach = min([0.9 * np.abs(ends).min(), *(0.9 * turns[np.isfinite(back)]), 1.5])
    assume(reach > 0.01)
    properties.monotone_range(kernel, loop, -reach, reach)


@pytest.mark.parametrize(
    ("prove", "words"),
    [
        (lambda loop: properties.closure(ratio_of_arms, loop, 0.4), "the rod is"),
        (lambda loop: properties.virtual_work(ratio_of_arms, loop, 0.4), "times as fast"),
        (
            lambda loop: properties.scale(
                lambda angle, **p: kernel(angle, **(p | {"horn": p["horn"] + [0, 0, 0.01]})),
                loop,
                0.4,
            ),
            "10 times as large",
        ),
        (
            lambda loop: properties.mirror(
                lambda angle, **p: kernel(angle, **(p | {"horn": p["horn"] + [0, 0.02, 0]})),
                loop,
                0.4,
            ),
            "in the mirror",
        ),
        (
            lambda loop: properties.monotone_range(
                lambda angle, **p: math.sin(3 * kernel(angle, **p)), loop, -1.0, 1.0
            ),
            "the surface goes",
        ),
    ],
    ids=["closure", "virtual work", "scale", "mirror", "monotone range"],
)
def test_wrong_linkage_is_told(prove, words):
    loop = {
        "servo_pivot": np.zeros(3), "servo_axis": np.array([0.0, 1.0, 0.2]),
        "arm": np.array([0.003, 0.0, 0.02]), "hinge_pivot": np.array([0.1, 0.01, 0.0]),
        "hinge_axis": np.array([0.1, 1.0, 0.0]), "horn": np.array([-0.002, 0.0, 0.02]),
    }  # fmt: skip
    with pytest.raises(AssertionError, match=words):
        prove(loop)


@some
@given(chains(), st.floats(-0.3, 0.3), st.floats(0.1, 2.0))
def test_no_work_is_lost_in_a_chain(chain, angle, moment):
    step = 1e-5
    around = chain.solve(angle + step * np.array([-2.0, -1.0, 1.0, 2.0]))
    assume(not around.reason.any())
    motion = chain.solve(angle)
    assume(abs(motion.slope) < 30.0)
    slope = np.dot([1.0, -8.0, 8.0, -1.0], around.output_angle) / (12.0 * step)
    statics = chain.statics(angle, moment)
    # Servo torque times its way and moment times the surface's sum to nothing.
    assert abs(float(statics.torque) + moment * slope) < 1e-5 * moment * (1.0 + slope**2)
    back = chain.invert(motion.output_angle)
    if back.reason == 0 and abs(motion.slope) > 0.05:
        assert abs(back.input_angle - angle) < 1e-8


@some
@given(chains(most=2), st.floats(-0.3, 0.3))
def test_no_work_is_lost_on_any_body_of_a_chain(chain, angle):
    statics = chain.statics(angle, 1.0)
    assume(np.isfinite(statics.torque))
    loads = [-statics.torque, *statics.moments]
    angles = chain.follow(angle).angles
    for number, stage in enumerate(chain.stages):
        slope = stage.solve(angles[number]).slope
        into, out = loads[number], loads[number + 1]
        assert abs(into - out * slope) < 1e-9 * (1.0 + abs(into))


@some
@given(cables(), st.floats(-0.4, 0.4), st.sampled_from([-1.0, 1.0]))
def test_no_work_is_lost_in_cables(pair, angle, sense):
    step = 1e-5
    around = pair.solve(angle + step * np.array([-2.0, -1.0, 1.0, 2.0]), sense)
    assume(not around.reason.any())
    slope = np.dot([1.0, -8.0, 8.0, -1.0], around.output_angle) / (12.0 * step)
    assert abs(slope - pair.solve(angle, sense).slope) < 1e-7 * (1.0 + abs(slope))
    held = pair.hold(angle, sense)
    assert (held.tension >= 0.0).all()


@some
@given(cables(slack=True))
def test_slack_cables_let_the_surface_jump(pair):
    assert pair.rigging(0.0).gap > 0.0


def test_chains_of_every_length_are_drawn_and_shrink_to_one_stage():
    quiet = settings(max_examples=200, deadline=None, database=None)
    assert len(find(chains(), lambda _: True, settings=quiet).stages) == 1
    drawn = settings(quiet, phases=[Phase.generate])
    three = find(chains(), lambda chain: len(chain.stages) == 3, settings=drawn)
    assert three.solve(0.0).reason == 0
    rods = find(chains(ends_in_torque_rod=True), lambda _: True, settings=drawn)
    assert rods.statics(0.0, 1.0).holds[-1].names == ()
    assert len(find(pushrods_in_a_row(least=2, most=2), lambda _: True, settings=drawn)) == 2


def test_knobs_out_of_range_are_refused():
    for wrong in (
        lambda: arms(shortest=0.0), lambda: arms(lean=2.0), lambda: chains(least=0),
        lambda: horns(shortest=0.1, longest=0.05),
    ):  # fmt: skip
        with pytest.raises(InvalidArgument):
            wrong()
