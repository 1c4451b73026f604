"""A second way to look at a pushrod: the distance between its joints, nothing else.

Rotations are scipy's. Nothing here imports what it checks.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation


def turned(vector, axis, angle):
    unit = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    angle = np.asarray(angle, dtype=float)
    turn = Rotation.from_rotvec(angle.reshape(-1, 1) * unit)
    return turn.apply(vector).reshape(*angle.shape, 3)


def joints(pushrod, servo_angle, surface_angle):
    """Positions of both joints."""
    arm = turned(pushrod["arm"], pushrod["servo_axis"], servo_angle)
    horn = turned(pushrod["horn"], pushrod["hinge_axis"], surface_angle)
    return np.add(pushrod["servo_pivot"], arm), np.add(pushrod["hinge_pivot"], horn)


def distance(pushrod, servo_angle, surface_angle):
    arm_joint, horn_joint = joints(pushrod, servo_angle, surface_angle)
    return np.linalg.norm(arm_joint - horn_joint, axis=-1)


def rod(pushrod):
    length = pushrod.get("rod_length")
    return float(distance(pushrod, 0.0, 0.0)) if length is None else length


def spans(pushrod, servo_angle):
    """Least and greatest distance from the arm's joint to the circle of the horn's joint."""
    axis = np.asarray(pushrod["hinge_axis"], float) / np.linalg.norm(pushrod["hinge_axis"])
    joint = joints(pushrod, servo_angle, np.zeros_like(servo_angle))[0] - pushrod["hinge_pivot"]
    height = joint @ axis - np.dot(pushrod["horn"], axis)
    off_axis = np.linalg.norm(np.cross(axis, joint), axis=-1)
    radius = np.linalg.norm(np.cross(axis, pushrod["horn"]))
    return np.hypot(off_axis - radius, height), np.hypot(off_axis + radius, height)


def followed(pushrod, servo_angle, steps=60):
    """Surface angle by small steps from neutral, each a bracketed root of the distance."""
    length, surface, last = rod(pushrod), 0.0, 0.0
    for angle in np.linspace(0.0, servo_angle, steps + 1)[1:]:
        guess, last = 2.0 * surface - last, surface

        def gap(trial, angle=angle):
            return float(distance(pushrod, angle, trial)) - length

        width = 1e-3
        while gap(guess - width) * gap(guess + width) > 0.0:
            width *= 1.3
            assert width < 0.5, "lost the branch"
        surface = brentq(gap, guess - width, guess + width, xtol=1e-15)
    return surface


@pytest.fixture(scope="session")
def vectors():
    return SimpleNamespace(
        turned=turned, joints=joints, distance=distance, rod=rod, spans=spans, followed=followed
    )
