r"""Pushrod between a servo arm and a control horn, in one plane or in space.

The servo arm turns about the servo's shaft, the horn about the hinge line, and a rod with a
ball link or clevis at either end joins their tips. Positions are closed form, on the branch
that is continuous with neutral; rates and forces are exact derivatives of the same closure.
Who asks one pushrod for many angles in many calls makes it ready once, with `prepare`.

References
----------
.. [1] R. L. Norton, Design of Machinery (from memory; position analysis of the four-bar
   linkage by its loop closure, dead centres, mechanical advantage by virtual work).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.mechanism import many, sweep
from linkcalc.mechanism.follow import room_for
from linkcalc.mechanism.geometry import NAMES as _NAMES
from linkcalc.mechanism.geometry import read, vector
from linkcalc.mechanism.ready import Inverse, Limits, Ready, Solution, made_ready

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["Inverse", "Limits", "Ready", "Solution", "invert", "limits", "prepare", "solve"]

_MANY, _FEW_ANGLES = 32, 8  # from where on dead centres cost more than the answers


def prepare(
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
) -> Ready:
    """Make pushrods ready to be asked for many angles.

    Parameters
    ----------
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn, rod_length : array_like
        As `solve` takes them.

    Returns
    -------
    Ready
        Its methods `solve`, `invert` and `limits` do what the functions of this module do,
        with angles that broadcast with the shape of the geometry.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Examples
    --------
    >>> ready = prepare(
    ...     servo_pivot=(0.0, 0.0, 0.0), servo_axis=(0.0, 1.0, 0.0), arm=(0.0, 0.0, 0.010),
    ...     hinge_pivot=(0.1, 0.0, -0.010), hinge_axis=(0.0, 1.0, 0.0), horn=(0.0, 0.0, 0.020),
    ... )
    >>> round(float(ready.solve(0.5).surface_angle), 4)
    0.242
    """
    pieces = (servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn)
    vectors = [vector(name, piece) for name, piece in zip(_NAMES, pieces, strict=True)]
    rod = None if rod_length is None else np.asarray(rod_length, dtype=np.float64)
    return many.both_ways(vectors, rod)


def solve(
    servo_angle: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
) -> Solution:
    r"""Surface angle, slope and rod force at servo angles.

    With p and q the vectors from the hinge pivot to the tips of the arm and of the horn, the
    rod keeps :math:`|p(\theta) - q(\delta)| = L`. The slope is

    .. math:: \frac{d\delta}{d\theta} = -\frac{F_\theta}{F_\delta},
              \qquad F = \tfrac12 (L^2 - |p - q|^2), \qquad F_\delta = w \cdot (q \times p),

    w the hinge axis, and the rod force per unit moment is :math:`-L / F_\delta`.

    Parameters
    ----------
    servo_angle : float or array, shape (...)
        Servo angles theta from neutral, right-handed about `servo_axis`, of any size [rad].
    servo_pivot, hinge_pivot : array, shape (..., 3)
        A point on the servo axis and one on the hinge line [m].
    servo_axis, hinge_axis : array, shape (..., 3)
        Directions of the axes; need not be unit vectors [any unit].
    arm, horn : array, shape (..., 3)
        From each pivot to its joint at neutral, where both angles are zero [m].
    rod_length : float or array, shape (...), optional
        Length L between the joints [m]. Without it the loop closes at neutral. Another length
        moves the surface angle at servo angle 0, by the branch that is continuous with the
        closing length; a length that has to cross a dead centre on the way gives reason 1
        (too short) or 2 (too long) at every servo angle.

    Returns
    -------
    Solution, arrays of shape (...)
        Everything broadcasts together. Angles are continuous, not wrapped, past +-pi. From
        the horn's first dead centre on, on either side of neutral, the values are nan, also
        where the loop closes again; at the dead centre itself slope and force are infinite. A servo angle, vector or length that is not finite, a length or
        an axis of zero, a joint on its own axis gives nan and reason 4.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Notes
    -----
    Rigid parts, no play. About 1e-15 rad, times the rod's length over the arms', away from dead
    centres; a dead centre at distance e from the servo angle costs a factor of
    :math:`1/\sqrt{e}`. A horn within a millionth of a radian or so of a dead centre stands at it:
    dimensions in binary numbers do not tell more.

    References
    ----------
    .. [1] R. L. Norton, Design of Machinery (from memory; four-bar position analysis, and
       mechanical advantage by virtual work).

    Examples
    --------
    An arm of 10 mm drives a horn of 20 mm, both square to the rod at neutral:

    >>> pushrod = {
    ...     "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.010),
    ...     "hinge_pivot": (0.1, 0.0, -0.010), "hinge_axis": (0.0, 1.0, 0.0),
    ...     "horn": (0.0, 0.0, 0.020),
    ... }
    >>> neutral = solve(0.0, **pushrod)
    >>> [float(value) for value in neutral]
    [0.0, 0.5, 50.0, 0.0]

    The surface is pushed down by the positive moment, and a rod ahead of it on top holds it in
    tension. A servo angle of half a radian gives about half as much:

    >>> round(float(solve(0.5, **pushrod).surface_angle), 3)
    0.242
    """
    angle = np.asarray(servo_angle, dtype=np.float64)
    pieces = (servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn)
    vectors = [vector(name, piece) for name, piece in zip(_NAMES, pieces, strict=True)]
    rod = None if rod_length is None else np.asarray(rod_length, dtype=np.float64)
    others = () if rod is None else (rod.shape,)
    geometries = np.broadcast_shapes(*others, *(piece.shape[:-1] for piece in vectors))
    shape = np.broadcast_shapes(angle.shape, geometries)
    count, size = math.prod(geometries), math.prod(shape)
    if count < _MANY or size > _FEW_ANGLES * count:
        return many.solutions(angle, vectors, rod)
    found = room_for(shape)
    sweep.solutions(angle, vectors, rod, found, many.solutions)
    return Solution(*found)


def invert(
    surface_angle: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
) -> Inverse:
    """Servo angle that puts the surface at an angle.

    The same loop with the two arms in each other's place, on the branch from neutral.

    Parameters
    ----------
    surface_angle : float or array, shape (...)
        Surface angles from neutral, right-handed about `hinge_axis`, of any size [rad].
    servo_pivot, hinge_pivot : array, shape (..., 3)
        A point on the servo axis and one on the hinge line [m].
    servo_axis, hinge_axis : array, shape (..., 3)
        Directions of the axes; need not be unit vectors [any unit].
    arm, horn : array, shape (..., 3)
        From each pivot to its joint at neutral, where both angles are zero [m].
    rod_length : float or array, shape (...), optional
        As for `solve`: with another length than the closing one the servo angle is zero at the
        surface angle that `solve` gives for servo angle 0 [m].

    Returns
    -------
    Inverse, arrays of shape (...)
        Everything broadcasts together. The way from neutral ends at the arm's dead centre,
        where the surface cannot go further (reason 1 or 2 beyond it), and at the horn's, where
        the servo cannot (reason 3): putting the servo angle into `solve` gives the surface
        angle back wherever the reason is 0. Reason 4 as for `solve`.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Examples
    --------
    >>> pushrod = {
    ...     "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.010),
    ...     "hinge_pivot": (0.1, 0.0, -0.010), "hinge_axis": (0.0, 1.0, 0.0),
    ...     "horn": (0.0, 0.0, 0.020),
    ... }
    >>> servo_angle = invert(0.2, **pushrod).servo_angle
    >>> round(float(solve(servo_angle, **pushrod).surface_angle), 12)
    0.2

    The arm ends before the surface has turned by a radian:

    >>> [float(value) for value in invert(1.0, **pushrod)]
    [nan, 1.0]
    """
    loop = read(
        servo_pivot=servo_pivot,
        servo_axis=servo_axis,
        arm=arm,
        hinge_pivot=hinge_pivot,
        hinge_axis=hinge_axis,
        horn=horn,
        rod_length=rod_length,
    )
    return made_ready(loop).invert(surface_angle)


def limits(
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
) -> Limits:
    """First dead centre of the horn on either side of neutral.

    Parameters
    ----------
    servo_pivot, hinge_pivot : array, shape (..., 3)
        A point on the servo axis and one on the hinge line [m].
    servo_axis, hinge_axis : array, shape (..., 3)
        Directions of the axes; need not be unit vectors [any unit].
    arm, horn : array, shape (..., 3)
        From each pivot to its joint at neutral, where both angles are zero [m].
    rod_length : float or array, shape (...), optional
        As for `solve` [m].

    Returns
    -------
    Limits, arrays of shape (..., 2)
        Negative side first. Both angles are zero where neutral itself is a dead centre. Where
        there is no loop the angles are nan and the reasons those of `solve`.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Examples
    --------
    Equal arms square to the rod can turn a quarter each way, until all is in one line:

    >>> pushrod = {
    ...     "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.015),
    ...     "hinge_pivot": (0.1, 0.0, 0.0), "hinge_axis": (0.0, 1.0, 0.0),
    ...     "horn": (0.0, 0.0, 0.015),
    ... }
    >>> limits(**pushrod).servo_angle.round(9).tolist()
    [-1.570796327, 1.570796327]
    >>> limits(**pushrod).reason.tolist()
    [3, 3]
    """
    loop = read(
        servo_pivot=servo_pivot,
        servo_axis=servo_axis,
        arm=arm,
        hinge_pivot=hinge_pivot,
        hinge_axis=hinge_axis,
        horn=horn,
        rod_length=rod_length,
    )
    return made_ready(loop).limits()
