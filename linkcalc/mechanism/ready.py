"""A pushrod made ready: its branches from servo to surface and back, and where they end."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.branch import (
    LONGER,
    NO_GEOMETRY,
    PAST,
    SHORTER,
    VALID,
    Branch,
    closure_rate,
)
from linkcalc.mechanism.dead_centres import ends, look, touch_tolerance
from linkcalc.mechanism.follow import outputs, solutions
from linkcalc.mechanism.loop import discriminant

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from linkcalc.mechanism.geometry import Geometry

__all__ = ["Inverse", "Limits", "Ready", "Solution", "made_ready"]

_ONE, _NOTHING = np.ones(()), np.zeros(())  # cosine and sine of no angle
_NEAR = 1e-6  # further from a dead centre rounding does not reach it [rad]
_FLAT = 1e-6  # a discriminant with less slope than this is judged by its curvature [1/rad]


class Solution(NamedTuple):
    """Where a pushrod puts the surface; nan where `reason` is not 0.

    Attributes
    ----------
    surface_angle : float or array, shape (...)
        Angle of the surface from neutral, right-handed about the hinge axis [rad].
    slope : float or array, shape (...)
        Rate of the surface angle with the servo angle [-].
    rod_force : float or array, shape (...)
        Force in the rod, tension positive, that balances an external moment of one about the
        hinge axis on the surface [1/m].
    reason : int or array of int8, shape (...)
        0 valid; 1 the rod would have to be longer, or 2 shorter: the loop does not close at this
        angle; 3 it closes, but beyond a dead centre or a gap; 4 no geometry.
    """

    surface_angle: NDArray[np.float64]
    slope: NDArray[np.float64]
    rod_force: NDArray[np.float64]
    reason: NDArray[np.int8]


class Inverse(NamedTuple):
    """Where the servo has to stand; nan where `reason` is not 0.

    Attributes
    ----------
    servo_angle : float or array, shape (...)
        Servo angle from neutral, right-handed about the servo axis [rad].
    reason : int or array of int8, shape (...)
        As of `Solution`; 1 or 2 beyond the arm's dead centre, 3 beyond the horn's.
    """

    servo_angle: NDArray[np.float64]
    reason: NDArray[np.int8]


class Limits(NamedTuple):
    """How far the servo can turn.

    Attributes
    ----------
    servo_angle : array, shape (..., 2)
        Servo angle of the first dead centre of the horn on the negative and on the positive
        side [rad]; infinite where the arm can turn all the way round, nan without a loop.
    reason : array of int8, shape (..., 2)
        What ends it: just beyond, the rod would have to be 1 longer or 2 shorter, or 3 the loop
        closes there too, as arms and rod in one line can. 0 beside an infinite angle.
    """

    servo_angle: NDArray[np.float64]
    reason: NDArray[np.int8]


class Ready(NamedTuple):
    """Pushrods whose branches and dead centres are known.

    Attributes
    ----------
    loop : Geometry
        What they are made from.
    solving : Branch
        From servo to surface.
    inverting : Branch or None
        From surface to servo; None until it is needed.
    start, lever : array, shape (...)
        Surface angle at servo angle 0 [rad], and what turns the closure's rate into a
        rod force [1/m].
    """

    loop: Geometry
    solving: Branch
    inverting: Branch | None
    start: NDArray[np.float64]
    lever: NDArray[np.float64]

    def both_ways(self) -> Ready:
        """Return the same with the branch from surface to servo.

        Returns
        -------
        Ready
            So that `invert` has nothing to prepare.
        """
        return self._replace(inverting=self._back())

    def _back(self) -> Branch:
        return self.inverting or _inverting(self.loop, self.solving, self.start)

    def solve(self, servo_angle: ArrayLike) -> Solution:
        """Return what `pushrod.solve` returns.

        Parameters
        ----------
        servo_angle : float or array, shape (...)
            From neutral [rad].

        Returns
        -------
        Solution
            Surface angle, slope, rod force and reason.
        """
        angle = np.asarray(servo_angle, dtype=np.float64)
        surface, slope, force, reason = solutions(angle, self.solving, self.lever)
        return Solution(surface[()], slope[()], force[()], reason[()])

    def invert(self, surface_angle: ArrayLike) -> Inverse:
        """Return what `pushrod.invert` returns.

        Parameters
        ----------
        surface_angle : float or array, shape (...)
            From neutral [rad].

        Returns
        -------
        Inverse
            Servo angle and reason.
        """
        angle = np.asarray(surface_angle, dtype=np.float64)
        servo_angle, reason = _inverses(angle, self._back(), self.solving, self.start)
        return Inverse(servo_angle[()], reason[()])

    def limits(self) -> Limits:
        """Return what `pushrod.limits` returns.

        Returns
        -------
        Limits
            Servo angles and reasons, negative and positive side on the last axis.
        """
        sides = [_end(self.solving, side) for side in (-1.0, 1.0)]
        angle, reason = (np.stack(pair, axis=-1) for pair in zip(*sides, strict=True))
        return Limits(angle, reason.astype(np.int8))

    def surface_limits(self) -> NDArray[np.float64]:
        """Return the surface angles at which arm or horn come to a dead centre.

        Returns
        -------
        array, shape (..., 2)
            Negative and positive side; infinite where there is none [rad].
        """
        back = self._back()
        return np.stack([self.start + back.lower, self.start + back.upper], axis=-1)


def made_ready(loop: Geometry) -> Ready:
    """Find the branch from servo to surface.

    Parameters
    ----------
    loop : Geometry
        Pushrods.

    Returns
    -------
    Ready
        For `solve` and `limits`; `invert` finds the way back each time.
    """
    solving, start, lever = _solving(loop)
    return Ready(loop, solving, None, start, lever)


def _solving(
    loop: Geometry,
) -> tuple[Branch, NDArray[np.float64], NDArray[np.float64]]:
    """Branch from servo to surface, surface angle at servo angle 0, lever of the rod force."""
    weights, unit = loop.from_servo()
    neutral = weights.values(_ONE, _NOTHING)
    sign = np.where(neutral.b < 0.0, -1.0, 1.0)
    square, tolerance = discriminant(neutral), touch_tolerance(neutral)
    # With the closing length C would be A, and the root B itself.
    closing = np.arctan2(np.abs(neutral.b), neutral.a)
    start = sign * (closing - np.arctan2(np.sqrt(np.maximum(square, 0.0)), neutral.c))
    open_ended = np.where(neutral.c > 0.0, LONGER, SHORTER)
    fault = np.where(square < -tolerance, open_ended, VALID)
    fault = np.where(loop.sound, fault, NO_GEOMETRY).astype(np.int8)
    dead = (neutral.b**2 <= tolerance) | (square <= tolerance)
    stretch = np.asarray(loop.stretch / np.where(loop.sound, unit, 1.0))
    branch = Branch.starting(weights, sign, start, stretch)
    branch = _ended(branch, dead | (fault != VALID))._replace(fault=fault)
    with np.errstate(over="ignore"):  # a loop of some 1e-300 m: the force is infinite
        lever = loop.rod / (np.where(loop.sound, unit, 1.0) * loop.unit)
    return branch, np.asarray(start), lever


def _inverting(loop: Geometry, solving: Branch, start: NDArray[np.float64]) -> Branch:
    """Branch from surface to servo, its input counted from the surface angle at servo 0."""
    weights = loop.from_surface()[0].shifted(start)
    neutral = weights.values(_ONE, _NOTHING)
    sign = np.where(neutral.b < 0.0, -1.0, 1.0)
    dead = (neutral.b**2 <= touch_tolerance(neutral)) | (solving.fault != VALID)
    nothing = np.zeros_like(start)  # at its own input 0 the loop closes
    branch = _ended(Branch.starting(weights, sign, nothing, nothing), dead)
    lower, upper = branch.lower, branch.upper
    for end in (solving.lower, solving.upper):
        reached, same = _horn_end(solving, end, sign)
        reached = reached - start
        lower = np.where(same & (reached < 0.0), np.maximum(lower, reached), lower)
        upper = np.where(same & (reached > 0.0), np.minimum(upper, reached), upper)
    return branch._replace(lower=np.asarray(lower), upper=np.asarray(upper), fault=solving.fault)


def _ended(branch: Branch, dead: NDArray[np.bool_]) -> Branch:
    """Return the branch up to its dead centres, or nowhere if it starts at one."""
    found = ends(branch.weights)
    return branch._replace(
        lower=np.where(dead, 0.0, found.lower), upper=np.where(dead, 0.0, found.upper)
    )


def _horn_end(
    solving: Branch, end: NDArray[np.float64], sign: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Surface angle at a dead centre of the horn, and whether the inverse comes to it.

    It does if the arm has passed no dead centre of its own before, which would have turned
    over the sign of the closure's rate with the servo angle.
    """
    exists = np.isfinite(end)
    angle = np.where(exists, end, 0.0)
    cosine, sine = np.cos(angle), np.sin(angle)
    values, nothing = solving.weights.values(cosine, sine), np.zeros_like(angle)
    with np.errstate(invalid="ignore"):  # 0/0 if the arm's joint is on the hinge line: no sign
        rate = closure_rate(values, solving.weights.rates(cosine, sine), nothing)
    return solving.output(angle, values, nothing), exists & (np.sign(rate) == sign)


def _end(solving: Branch, side: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Servo angle that ends the negative (-1) or positive (1) side, and the reason."""
    end = solving.lower if side < 0.0 else solving.upper
    angle = np.where(np.isfinite(end), end, 0.0)
    seen = look(solving.weights, angle)
    flat = seen.touches | (np.abs(seen.slope) < _FLAT)
    closes = np.where(flat, seen.curve, side * seen.slope) > 0.0
    values = solving.weights.values(np.cos(angle), np.sin(angle))
    reason = np.where(closes, PAST, np.where(values.c > 0.0, LONGER, SHORTER))
    reason = np.where(np.isfinite(end), reason, VALID)
    faulty = solving.fault != VALID
    return np.where(faulty, np.nan, end), np.where(faulty, solving.fault, reason)


def _inverses(
    angle: NDArray[np.float64],
    inverting: Branch,
    solving: Branch,
    start: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.int8]]:
    """Servo angle and reason."""
    servo_angle, reason = outputs(np.asarray(angle - start), inverting)
    near = (servo_angle < solving.lower + _NEAR) | (servo_angle > solving.upper - _NEAR)
    if near.any():
        # So close to the horn's dead centre that rounding may have put the servo beyond it.
        lost = near & (outputs(servo_angle, solving)[1] != VALID)
        servo_angle = np.where(lost, np.nan, servo_angle)
        reason = np.where(lost, PAST, reason).astype(np.int8)
    return servo_angle, reason
