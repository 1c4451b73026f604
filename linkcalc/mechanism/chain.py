r"""A linkage: a chain of stages from the servo's shaft to the hinge line.

The output of each stage is the input of the next: two pushrods that share a bellcrank, a pushrod
and a torque rod, a pair of cables, one shaft. Angles go through the chain stage by stage, slopes
multiply, and by virtual work an external moment M on the surface is

.. math:: M_k = M \prod_{j > k} \frac{d\,\mathrm{output}_j}{d\,\mathrm{input}_j}

on the output of stage k, which holds it with its members. Bodies are counted from the servo arm,
0, to the surface, the number of stages.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.branch import NO_GEOMETRY, VALID
from linkcalc.mechanism.ready import Limits
from linkcalc.mechanism.rods import Reaction, reaction
from linkcalc.mechanism.stage import BENT, Hold, Motion, Turn

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from linkcalc.mechanism.stage import Stage

    Floats = NDArray[np.float64]

__all__ = ["Chain", "Followed", "Statics", "make_chain"]

_STEPS = 512  # on either side of neutral, in the search of the ends
_BISECTIONS = 48
_BEYOND = 1e-9
_TURN = 2.0 * np.pi


class Followed(NamedTuple):
    """Every body's angle; nan from the first stage on that has no answer.

    Attributes
    ----------
    angles : array, shape (body, ...)
        From neutral, servo arm first and surface last [rad].
    slopes : array, shape (stage, ...)
        Rate of each stage's output with its input [-].
    reason : array of int8, shape (...)
        Of the first stage that has no answer; index into `stage.REASONS`.
    stage : array of int, shape (...)
        Which stage that is, counted from 0; -1 for none.
    """

    angles: Floats
    slopes: Floats
    reason: NDArray[np.int8]
    stage: NDArray[np.intp]


class Statics(NamedTuple):
    """Forces everywhere in a chain that holds a moment, without friction.

    Attributes
    ----------
    torque : array, shape (...)
        That the servo has to hold, right-handed about its axis [N m].
    moments : array, shape (stage, ...)
        External moment on the output of each stage [N m].
    holds : tuple of Hold
        Members of each stage: names, tensions, directions.
    bearings : tuple of Reaction
        What each body's bearing has to carry from its rods and cables alone: the servo's output
        shaft, the bellcranks, the hinges.
    """

    torque: Floats
    moments: Floats
    holds: tuple[Hold, ...]
    bearings: tuple[Reaction, ...]


class Chain(NamedTuple):
    """Stages in a row; made by `make_chain`.

    Attributes
    ----------
    stages : tuple of Stage
        From servo to surface.
    joint_limits : array, shape (stage, 2)
        Greatest lean of the joints on the input and on the output of each stage, infinite where
        nothing is known [rad].
    """

    stages: tuple[Stage, ...]
    joint_limits: Floats

    def follow(self, servo_angle: ArrayLike, sense: ArrayLike = 1.0) -> Followed:
        """Angles of all bodies.

        Parameters
        ----------
        servo_angle : array, shape (...)
            From neutral [rad].
        sense : array, shape (...), optional
            Sign of the external moment on the surface; matters to cables alone [-].

        Returns
        -------
        Followed
            Angles, slopes, and what ends them.
        """
        senses = self._senses(np.asarray(sense, dtype=np.float64))
        angle = np.asarray(servo_angle, dtype=np.float64)
        angles, slopes, reasons = [angle], [], []
        for stage, here, limit in zip(self.stages, senses, self.joint_limits, strict=True):
            motion = stage.solve(angle, here)
            reason = motion.reason
            if np.isfinite(limit).any():
                bent = stage.hold(angle, np.where(here >= 0.0, 1.0, -1.0)).bent
                lean = (bent > limit.reshape(2, *(1,) * (bent.ndim - 1))).any(axis=0)
                reason = np.where((reason == VALID) & lean, BENT, reason)
            good = reason == VALID
            angle = np.where(good, motion.output_angle, np.nan)
            angles.append(angle)
            slopes.append(np.where(good, motion.slope, np.nan))
            reasons.append(reason)
        shape = np.broadcast_shapes(*(np.shape(value) for value in (*angles, *slopes)))
        every = np.stack([np.broadcast_to(reason, shape) for reason in reasons])
        first = (every != VALID).argmax(axis=0)
        reason = np.take_along_axis(every, first[None], axis=0)[0]
        return Followed(
            np.stack([np.broadcast_to(value, shape) for value in angles]),
            np.stack([np.broadcast_to(value, shape) for value in slopes]),
            reason.astype(np.int8),
            np.where(reason == VALID, -1, first),
        )

    def solve(self, servo_angle: ArrayLike, sense: ArrayLike = 1.0) -> Motion:
        """Surface angle and slope.

        Parameters
        ----------
        servo_angle : array, shape (...)
            From neutral [rad].
        sense : array, shape (...), optional
            As for `follow` [-].

        Returns
        -------
        Motion
            nan beside a reason.
        """
        found = self.follow(servo_angle, sense)
        return Motion(found.angles[-1], found.slopes.prod(axis=0), found.reason)

    def invert(self, surface_angle: ArrayLike, sense: ArrayLike = 1.0) -> Turn:
        """Servo angle that puts the surface at an angle.

        Parameters
        ----------
        surface_angle : array, shape (...)
            From neutral [rad].
        sense : array, shape (...), optional
            As for `follow` [-].

        Returns
        -------
        Turn
            On the branch from neutral: solving for it gives the surface angle back. A joint bent
            beyond its limit on the spot is reason 5.
        """
        angle = np.asarray(surface_angle, dtype=np.float64)
        senses = self._senses(np.asarray(sense, dtype=np.float64))
        reason = np.zeros(angle.shape, dtype=np.int8)
        for stage, here in zip(self.stages[::-1], senses[::-1], strict=True):
            turn = stage.invert(angle, here)
            reason = np.where(reason == VALID, turn.reason, reason)
            angle = turn.input_angle
        again = self.follow(angle, sense).reason
        reason = np.where(reason == VALID, again, reason).astype(np.int8)
        return Turn(np.where(reason == VALID, angle, np.nan), reason)

    def limits(self, sense: ArrayLike = 1.0) -> Limits:
        """How far the servo can turn from neutral before some stage has no answer.

        Parameters
        ----------
        sense : array, shape (...), optional
            As for `follow` [-].

        Returns
        -------
        Limits, arrays of shape (..., 2)
            Negative side first, and the reason just beyond. Found by walking outward in steps of a
            512th of the first stage's reach, two turns at most, and halving: what opens and closes
            again within one step is missed.
        """
        own = self.stages[0].limits()
        ends, reasons = [], []
        for side, reach in enumerate(np.moveaxis(own.servo_angle, -1, 0)):
            sign = 2.0 * side - 1.0
            far = np.where(np.isfinite(reach), np.abs(reach), 2.0 * _TURN)
            share = np.linspace(0.0, 1.0, _STEPS + 1)[1:]
            share = share.reshape(-1, *(1,) * max(far.ndim, np.ndim(sense)))
            share[-1] *= 1.0 - 1e-12  # the first stage's own end is no step beyond it
            bad = self.follow(sign * far * share, sense).reason != VALID
            ended = bad.any(axis=0)
            index = np.where(ended, bad.argmax(axis=0), 0)
            high = far * (index + 1.0) / _STEPS
            low = far * index / _STEPS
            for _ in range(_BISECTIONS):
                middle = 0.5 * (low + high)
                beyond = self.follow(sign * middle, sense).reason != VALID
                high, low = np.where(beyond, middle, high), np.where(beyond, low, middle)
            # Just beyond: at the end itself rounding would decide
            reason = self.follow(sign * (high + _BEYOND * far), sense).reason
            turns = np.isinf(np.where(ended, 0.0, reach))
            end = np.where(ended, low, np.where(turns, np.inf, far))
            reason = np.where(ended, reason, own.reason[..., side])
            lost = (index == 0) & ended & (low <= far * 2.0**-40)  # neutral itself
            ends.append(np.where(lost & (reason == NO_GEOMETRY), np.nan, sign * end))
            reasons.append(reason)
        return Limits(np.stack(ends, axis=-1), np.stack(reasons, axis=-1).astype(np.int8))

    def transmission(self, servo_angle: ArrayLike, sense: ArrayLike = 1.0) -> Floats:
        """How far from a dead centre of an output the worst stage is.

        Parameters
        ----------
        servo_angle : array, shape (...)
            From neutral [rad].
        sense : array, shape (...), optional
            As for `follow` [-].

        Returns
        -------
        array, shape (...)
            Sine of the transmission angle, 1 square and 0 at the dead centre; nan where there is
            no answer [-].
        """
        holds = self.statics(servo_angle, np.where(np.asarray(sense) >= 0.0, 1.0, -1.0)).holds
        return np.asarray(np.stack([hold.transmission for hold in holds]).min(axis=0))

    def statics(self, servo_angle: ArrayLike, moment: ArrayLike) -> Statics:
        """Forces in every member and on every bearing.

        Parameters
        ----------
        servo_angle : array, shape (...)
            From neutral [rad].
        moment : array, shape (...)
            External moment on the surface, about its axis [N m].

        Returns
        -------
        Statics
            nan where there is no answer. With a moment of 1 N m the tensions are those per unit
            moment, but for cables with preload.
        """
        moment = np.asarray(moment, dtype=np.float64)
        found = self.follow(servo_angle, moment)
        shape = np.broadcast_shapes(found.reason.shape, moment.shape)
        loads = [np.broadcast_to(moment, shape)]
        for slope in found.slopes[::-1]:
            loads.append(loads[-1] * slope)
        *moments, at_servo = loads
        moments = moments[::-1]
        holds = tuple(
            stage.hold(np.broadcast_to(angle, shape), load)
            for stage, angle, load in zip(self.stages, found.angles, moments, strict=False)
        )
        pulls = [(hold.tension[..., None] * hold.direction).sum(axis=0) for hold in holds]
        nothing = np.zeros((*shape, 3))
        forces = [
            after - before
            for before, after in zip([*pulls, nothing], [nothing, *pulls], strict=True)
        ]
        axes = [self.stages[0].input_axis, *(stage.output_axis for stage in self.stages)]
        bearings = tuple(reaction(force, axis) for force, axis in zip(forces, axes, strict=True))
        return Statics(-at_servo, np.stack(moments), holds, bearings)

    def _senses(self, sense: Floats) -> list[Floats]:
        """Sign of the moment on each stage's output, by the slopes at neutral."""
        senses = [sense]
        for stage in self.stages[:0:-1]:
            slope = stage.solve(0.0, senses[0]).slope
            senses.insert(0, np.where(np.isnan(slope), senses[0], senses[0] * np.sign(slope)))
        return senses


def make_chain(
    stages: Sequence[Stage], *, joint_limits: Sequence[tuple[float, float]] | None = None
) -> Chain:
    """Join stages to a chain.

    Parameters
    ----------
    stages : sequence of Stage
        From servo to surface. Neighbours share a body, so the output axis of each has to be the
        input axis of the next, with its sense.
    joint_limits : sequence of tuple of two float, optional
        For each stage the greatest lean of its joints on input and output [rad]; infinite, that is
        not checked, if left out.

    Returns
    -------
    Chain
        The linkage.

    Raises
    ------
    ValueError
        There is no stage, neighbours do not share an axis (a stage is missing), or the joint
        limits are not two for each stage.

    Examples
    --------
    A servo drives a bellcrank that turns the motion by a right angle, and that a surface:

    >>> from linkcalc.mechanism.stages import make_pushrod
    >>> first = make_pushrod(servo_pivot=(0, 0, 0), servo_axis=(0, 0, 1), arm=(0, 0.012, 0),
    ...     hinge_pivot=(0.2, 0, 0), hinge_axis=(0, 0, 1), horn=(0, 0.012, 0))
    >>> second = make_pushrod(servo_pivot=(0.2, 0, 0), servo_axis=(0, 0, 1), arm=(0.012, 0, 0),
    ...     hinge_pivot=(0.2, 0.3, -0.015), hinge_axis=(1, 0, 0), horn=(0.012, 0, 0.015))
    >>> chain = make_chain([first, second])
    >>> motion = chain.solve(0.0)
    >>> float(motion.slope), int(motion.reason)  # 12 mm over 15 mm
    (-0.8, 0)
    """
    links = tuple(stages)
    if not links:
        raise ValueError("stages: a chain needs at least one")
    for number, (before, after) in enumerate(pairwise(links)):
        shared = reaction(before.output_axis, after.input_axis)
        if not (np.all(shared.radial <= 1e-9 * np.abs(shared.axial)) and np.all(shared.axial > 0)):
            raise ValueError(
                f"stages[{number}] and stages[{number + 1}]: the output axis of the one is not the "
                "input axis of the other; is a stage missing between them?"
            )
    limits = np.full((len(links), 2), np.inf) if joint_limits is None else np.array(joint_limits)
    if limits.shape != (len(links), 2) or not (limits > 0.0).all():
        raise ValueError(
            f"joint_limits: two angles above zero for each of the {len(links)} stages, found "
            f"{joint_limits!r}"
        )
    return Chain(links, limits.astype(np.float64))
