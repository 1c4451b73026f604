"""Linkages against a rigid-body simulator, MuJoCo: pushrods in space, bellcranks and cables.

Bodies turn on hinges, rods are tendons between two sites that are held at their length, cables are
tendons that may not get longer. The simulator holds constraints softly: how far it lets them give
is measured in every test from its own tendon lengths, and bounds the tolerance. Angles agree to
1e-6 rad, torques and tensions to 1e-5 of their size.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from linkcalc.mechanism.cables import make_cables
from linkcalc.mechanism.chain import make_chain
from linkcalc.mechanism.stages import make_pushrod

mujoco = pytest.importorskip("mujoco")

ANGLE, FORCE = 1e-6, 1e-5
SCALE = 10.0  # lengths in decimetres: the simulator likes sizes of one
STEPS, STEP = 6000, 5e-4

FIRST = {
    "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.1, 0.0, 1.0), "arm": (0.002, 0.012, 0.003),
    "hinge_pivot": (0.2, 0.01, 0.0), "hinge_axis": (0.0, 0.0, 2.0), "horn": (-0.001, 0.015, 0.004),
}  # fmt: skip
SECOND = {
    "servo_pivot": (0.2, 0.01, 0.0), "servo_axis": (0.0, 0.0, 1.0), "arm": (0.018, -0.002, -0.005),
    "hinge_pivot": (0.21, 0.35, -0.02), "hinge_axis": (1.0, 0.2, 0.0), "horn": (0.0, 0.002, 0.016),
}  # fmt: skip


def text(vector):
    return " ".join(f"{value:.17g}" for value in np.atleast_1d(vector))


def model(bodies, tendons, *, rigid):
    """Bodies as (pivot, axis, sites), tendons as pairs of sites."""
    parts = []
    for number, (pivot, axis, sites) in enumerate(bodies):
        marks = "".join(
            f'<site name="{name}" pos="{text(SCALE * np.asarray(place))}"/>'
            for name, place in sites.items()
        )
        parts.append(
            f'<body pos="{text(SCALE * np.asarray(pivot))}">'
            f'<inertial pos="0 0 0" mass="1" diaginertia="0.01 0.01 0.01"/>'
            f'<joint name="body {number}" type="hinge" axis="{text(axis)}" damping="0.2"/>'
            f"{marks}</body>"
        )
    cords = "".join(
        f'<spatial name="tendon {number}" {"" if rigid else LIMITED.format(length)}>'
        f'<site site="{one}"/><site site="{two}"/></spatial>'
        for number, (one, two, length) in enumerate(tendons)
    )
    soft = 'solref="0.002 1" solimp="0.9999 0.9999 0.001"'
    held = "".join(
        f'<tendon tendon1="tendon {number}" {soft}/>'
        for number in range(len(tendons) if rigid else 0)
    )
    return mujoco.MjModel.from_xml_string(
        f'<mujoco><option timestep="{STEP}" gravity="0 0 0" tolerance="1e-12" iterations="200"/>'
        f"<worldbody>{''.join(parts)}</worldbody><tendon>{cords}</tendon>"
        f'<equality><joint name="servo" joint1="body 0" {soft}/>{held}</equality></mujoco>'
    )


LIMITED = 'limited="true" range="0 {:.17g}" solreflimit="0.002 1" solimplimit="0.9999 0.9999 0.001"'


def settled(machine, angle, moment):
    """Turn the servo to an angle step by step, then let the moment act until all is at rest."""
    data = mujoco.MjData(machine)
    for step in range(STEPS):
        machine.eq_data[0, 0] = angle * min(1.0, 2.0 * step / STEPS)
        data.qfrc_applied[-1] = moment * min(1.0, max(0.0, 4.0 * step / STEPS - 2.0))
        mujoco.mj_step(machine, data)
    assert np.abs(data.qvel).max() < 1e-5, "not at rest"
    assert abs(data.qpos[0] - angle) < 1e-3
    return data


def servo_torque(data):
    """What holds the servo: the constraint's force on its joint."""
    return float(data.qfrc_constraint[0] - _from_tendons(data)[0])


def _from_tendons(data):
    # The first equality is the servo's; all other constraints pull through tendons.
    rows = np.arange(data.nefc) != 0
    jacobian = data.efc_J.reshape(data.nefc, -1) if data.efc_J.size else np.zeros((0, 0))
    return jacobian[rows].T @ data.efc_force[rows]


@pytest.mark.parametrize("angle", [-0.5, 0.3])
def test_pushrod_in_space_agrees_with_the_simulator(angle):
    moment = 0.4
    chain = make_chain([make_pushrod(**FIRST)])
    machine = model(
        [
            (FIRST["servo_pivot"], FIRST["servo_axis"], {"arm": FIRST["arm"]}),
            (FIRST["hinge_pivot"], FIRST["hinge_axis"], {"horn": FIRST["horn"]}),
        ],
        [("arm", "horn", 0.0)],
        rigid=True,
    )
    data = settled(machine, angle, moment)
    stretch = abs(data.ten_length[0] - machine.tendon_length0[0])
    statics = chain.statics(angle, moment)
    slack = stretch * abs(statics.holds[0].tension[0] / moment) / SCALE
    found = chain.solve(data.qpos[0])
    assert slack < ANGLE
    assert_allclose(data.qpos[1], found.output_angle, rtol=0, atol=ANGLE)
    assert_allclose(servo_torque(data), statics.torque, rtol=FORCE)
    # Tension: the constraint pulls the tendon shorter with it.
    assert_allclose(-data.efc_force[1] * SCALE, statics.holds[0].tension[0], rtol=FORCE)


@pytest.mark.parametrize("angle", [-0.4, 0.5])
def test_bellcrank_chain_agrees_with_the_simulator(angle):
    moment = -0.3
    chain = make_chain([make_pushrod(**FIRST), make_pushrod(**SECOND)])
    machine = model(
        [
            (FIRST["servo_pivot"], FIRST["servo_axis"], {"arm": FIRST["arm"]}),
            (
                FIRST["hinge_pivot"],
                FIRST["hinge_axis"],
                {"in": FIRST["horn"], "out": SECOND["arm"]},
            ),
            (SECOND["hinge_pivot"], SECOND["hinge_axis"], {"horn": SECOND["horn"]}),
        ],
        [("arm", "in", 0.0), ("out", "horn", 0.0)],
        rigid=True,
    )
    data = settled(machine, angle, moment)
    found, statics = chain.follow(data.qpos[0]), chain.statics(data.qpos[0], moment)
    assert_allclose(data.qpos, found.angles, rtol=0, atol=ANGLE)
    assert_allclose(servo_torque(data), statics.torque, rtol=FORCE)
    tensions = [float(hold.tension[0]) for hold in statics.holds]
    assert_allclose(-data.efc_force[1:3] * SCALE, tensions, rtol=FORCE)


@pytest.mark.parametrize("moment", [0.3, -0.3])
@pytest.mark.parametrize("angle", [-0.4, 0.25])
def test_pull_pull_cables_agree_with_the_simulator(angle, moment):
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 0.0, 1.0),
        "arms": [(0.0, -0.020, 0.0), (0.0, 0.020, 0.0)],
        "hinge_pivot": (0.3, 0.0, 0.0), "hinge_axis": (0.0, 0.1, 1.0),
        "horns": [(-0.004, -0.025, 0.0), (-0.004, 0.025, 0.002)],
    }  # fmt: skip
    chain = make_chain([make_cables(**loop, slack=0.0005)])
    lengths = chain.stages[0].rigged * SCALE
    machine = model(
        [
            (loop["servo_pivot"], loop["servo_axis"], dict(zip("ab", loop["arms"], strict=True))),
            (loop["hinge_pivot"], loop["hinge_axis"], dict(zip("cd", loop["horns"], strict=True))),
        ],
        [("a", "c", lengths[0]), ("b", "d", lengths[1])],
        rigid=False,
    )
    data = settled(machine, angle, moment)
    assert_allclose(
        data.qpos[1], chain.solve(data.qpos[0], math.copysign(1.0, moment)).output_angle,
        rtol=0, atol=ANGLE,
    )  # fmt: skip
    statics = chain.statics(data.qpos[0], moment)
    assert_allclose(servo_torque(data), statics.torque, rtol=FORCE)
    taut = int(np.argmax(statics.holds[0].tension))
    assert taut == (0 if moment > 0.0 else 1)
    slack = lengths - data.ten_length
    assert slack[1 - taut] > 1e-4
    assert abs(slack[taut]) < 1e-4
