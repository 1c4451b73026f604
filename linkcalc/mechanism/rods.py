r"""Where the joints of a rod or cable are, which way it pulls, and how far its joints are bent.

Vectors come and go with their components on the last axis, as in `linkcalc.mechanism.pushrod`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.vectors import cross, dot, length

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["Place", "Reaction", "bent", "place", "reaction", "turned"]


class Place(NamedTuple):
    """Where a rod is; nan where an angle is nan.

    Attributes
    ----------
    arm_joint, horn_joint : array, shape (..., 3)
        Positions of its ends [m].
    direction : array, shape (..., 3)
        Unit vector from the horn's joint to the arm's [-].
    length : array, shape (...)
        Distance of the joints [m].
    lever : array, shape (...)
        Rate of that distance with the surface angle, the servo held [m]: a tension of F balances
        an external moment of F times it.
    """

    arm_joint: Floats
    horn_joint: Floats
    direction: Floats
    length: Floats
    lever: Floats


class Reaction(NamedTuple):
    """What a bearing has to carry.

    Attributes
    ----------
    force : array, shape (..., 3)
        Force of what it carries on the bearing [N].
    radial : array, shape (...)
        Size of the part square to the axis, zero or more [N].
    axial : array, shape (...)
        Part along the axis, signed [N].
    """

    force: Floats
    radial: Floats
    axial: Floats


def turned(vector: ArrayLike, axis: ArrayLike, angle: ArrayLike) -> Floats:
    r"""Turn a vector about an axis.

    .. math:: v \cos\varphi + (k \times v) \sin\varphi + k (k \cdot v)(1 - \cos\varphi)

    Parameters
    ----------
    vector, axis : array, shape (..., 3)
        The vector [any unit]; the axis need not be a unit vector.
    angle : float or array, shape (...)
        Right-handed about the axis [rad].

    Returns
    -------
    array, shape (..., 3)
        Turned vector [same unit]; nan for an axis of zero, nan in gives nan out.

    References
    ----------
    .. [1] The rotation formula of Rodrigues (any text on mechanics).

    Examples
    --------
    >>> turned((1.0, 0.0, 0.0), (0.0, 0.0, 2.0), np.pi / 2).round(12).tolist()
    [0.0, 1.0, 0.0]
    """
    angle = np.asarray(angle, dtype=np.float64)
    parts = _first(vector, angle.ndim), _first(axis, angle.ndim)
    v, k = parts[0], _unit(parts[1])
    along = k * dot(k, v)
    return np.moveaxis(along + (v - along) * np.cos(angle) + cross(k, v) * np.sin(angle), 0, -1)


def place(
    servo_angle: ArrayLike,
    surface_angle: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
) -> Place:
    """Where a rod is at two angles, whether or not it closes there.

    Parameters
    ----------
    servo_angle, surface_angle : float or array, shape (...)
        From neutral [rad].
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : array, shape (..., 3)
        As for `pushrod.solve`.

    Returns
    -------
    Place, arrays of shape (..., 3) and (...)
        Everything broadcasts together.

    Examples
    --------
    >>> there = place(0.0, 0.0, servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0), arm=(0, 0, 0.010),
    ...     hinge_pivot=(0.1, 0, -0.010), hinge_axis=(0, 1, 0), horn=(0, 0, 0.020))
    >>> there.direction.tolist(), round(float(there.lever), 6)
    ([-1.0, 0.0, 0.0], 0.02)
    """
    swung = turned(horn, hinge_axis, surface_angle)
    arm_joint = np.asarray(servo_pivot) + turned(arm, servo_axis, servo_angle)
    horn_joint = np.asarray(hinge_pivot) + swung
    arm_joint, horn_joint = np.broadcast_arrays(arm_joint, horn_joint)
    rod = np.moveaxis(arm_joint - horn_joint, -1, 0)
    size = length(rod)
    rod = rod / np.where(size > 0.0, size, np.nan)
    axes = rod.ndim - 1
    moved = cross(_unit(_first(hinge_axis, axes)), _first(swung, axes))
    # The joint moves along `moved`, and away from the arm against `rod`.
    return Place(arm_joint, horn_joint, np.moveaxis(rod, 0, -1), size, -dot(rod, moved))


def bent(direction: ArrayLike, pin: ArrayLike, axis: ArrayLike, angle: ArrayLike) -> Floats:
    r"""Angle by which a rod leans out of the plane square to a joint's pin.

    A clevis swings freely about its pin and hardly out of that plane; a ball link leans up to
    its cone angle, where the socket meets the bolt.

    Parameters
    ----------
    direction : array, shape (..., 3)
        Unit vector along the rod [-].
    pin : array, shape (..., 3)
        Along the pin or the bolt of the ball, at neutral, in the arm or the horn that carries it;
        need not be a unit vector.
    axis : array, shape (..., 3)
        Axis about which that arm or horn turns.
    angle : float or array, shape (...)
        Angle by which it has turned [rad].

    Returns
    -------
    array, shape (...)
        In [0, pi/2] [rad]; nan in gives nan out.

    Examples
    --------
    >>> leaning = bent((np.cos(0.1), np.sin(0.1), 0.0), (0, 1, 0), (0, 1, 0), 0.0)
    >>> round(float(leaning), 12)
    0.1
    """
    rod = np.moveaxis(np.asarray(direction, dtype=np.float64), -1, 0)
    bolt = _unit(_first(turned(pin, axis, angle), rod.ndim - 1))
    return np.arctan2(np.abs(dot(rod, bolt)), length(cross(rod, bolt)))


def reaction(force: ArrayLike, axis: ArrayLike) -> Reaction:
    """Split the force on a bearing into what is square to its axis and what is along it.

    Parameters
    ----------
    force : array, shape (..., 3)
        On the bearing [N].
    axis : array, shape (..., 3)
        Its axis; need not be a unit vector.

    Returns
    -------
    Reaction
        The same force, its radial size and its axial part [N]; nan in gives nan out.

    Examples
    --------
    >>> load = reaction((3.0, -2.0, 4.0), (0.0, 1.0, 0.0))
    >>> float(load.radial), float(load.axial)
    (5.0, -2.0)
    """
    whole = np.asarray(force, dtype=np.float64)
    parts = np.moveaxis(whole, -1, 0)
    line = _unit(_first(axis, parts.ndim - 1))
    along = dot(line, parts)
    return Reaction(whole, length(parts - line * along), along)


def _first(vector: ArrayLike, axes: int) -> Floats:
    """Components first, with at least so many axes behind them."""
    array = np.moveaxis(np.asarray(vector, dtype=np.float64), -1, 0)
    return array.reshape(3, *(1,) * (axes - array.ndim + 1), *array.shape[1:])


def _unit(vector: Floats) -> Floats:
    size = length(vector)
    return vector / np.where(size > 0.0, size, np.nan)
