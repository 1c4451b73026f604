"""A second way through chains of stages: loops closed by a root finder, forces by statics.

Nothing here comes from the library. Rods and cables are distances that a bracketed root finder
closes one after another; moments go from surface to servo by the levers of each force.
"""

from __future__ import annotations

import math

from tests.evaluation import independent
from tests.evaluation.independent import minus, plus, times, turned

FAR = math.pi / 2


class Rod(independent.Mechanism):
    """One rod from arm to arm."""

    def __init__(self, *ends, rod=None):
        super().__init__(independent.Linkage(None, *ends, rod), FAR)

    def back(self, output, moment):
        """Input angle, external moment on the input, and tensions."""
        angle = self.servo(output)
        pull = moment / self.horn_lever(angle, output) * -1.0
        # the rod pulls the horn against the external moment; what it does to the arm is external
        return angle, pull * self.arm_lever(angle, output), [pull]


class Cables:
    """Two cables, of which the one that pulls against the moment is taut."""

    def __init__(self, first, second, preload=0.0):
        self.pair, self.preload = (first, second), preload

    def back(self, output, moment):
        for number, cable in enumerate(self.pair):
            angle, passed, (pull,) = cable.back(output, moment)
            if pull >= 0.0 and moment != 0.0:
                tensions = [0.0, 0.0]
                tensions[number] = pull
                return angle, passed, tensions
        return angle, 0.0, [0.0, 0.0]


class Shaft:
    """Turns as one."""

    def back(self, output, moment):
        return output, moment, []


def through(stages, delta, moment):
    """Servo angle, torque that the servo has to hold, and all tensions from servo to surface."""
    tensions = []
    for stage in reversed(stages):
        delta, moment, own = stage.back(delta, moment)
        tensions = own + tensions
    return delta, -moment, tensions


def in_plane(rows):
    """Lay stages out by radii: (arm, arm lean, length, horn, horn lean, turn), each from the last."""
    made, pivot, turn = [], (0.0, 0.0, 0.0), 0.0
    across = (0.0, 1.0, 0.0)
    for arm, arm_lean, length, horn, horn_lean, more in rows:
        turn += more
        along, square = directions(turn)

        def leaning(radius, lean, along=along, square=square):
            return plus(
                times(radius * math.sin(lean), along), times(radius * math.cos(lean), square)
            )

        tip, end = leaning(arm, arm_lean), leaning(horn, horn_lean)
        hinge = minus(plus(plus(pivot, tip), times(length, along)), end)
        made.append(Rod(pivot, across, tip, hinge, across, end, rod=length))
        pivot = hinge
    return made


def directions(turn):
    """Along a rod and square to it, turned right-handed about starboard."""
    along = turned((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), turn)
    return along, turned((0.0, 0.0, 1.0), (0.0, 1.0, 0.0), turn)
