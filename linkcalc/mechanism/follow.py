"""A branch followed to many input angles at once, in half angles wherever these hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from linkcalc.mechanism import half_angle
from linkcalc.mechanism.branch import (
    LONGER,
    NO_GEOMETRY,
    PAST,
    SHORTER,
    VALID,
    Branch,
    along,
    blockwise,
    cut,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Followed", "outputs", "room_for", "solutions"]

_BLOCK = 16384  # elements whose room is a megabyte, which stays in a core's cache


Followed: TypeAlias = (
    "tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.int8]]"
)
"""Output angle [rad], its rate with the input angle [-], rod force per unit moment on the output
[1/m], all nan where the reason is not 0, and the reason."""


def solutions(angle: Floats, branch: Branch, lever: Floats) -> Followed:
    """Output angle, slope, rod force and reason.

    Parameters
    ----------
    angle : array, shape (...)
        Input angles; nan and reason 4 where they are not finite [rad].
    branch : Branch, arrays of shape (...)
        Geometries that broadcast with the angles.
    lever : array, shape (...)
        What the closure's rate with the output angle divides to a rod force [1/m].

    Returns
    -------
    Followed, arrays of shape (...)
        Output, slope, force and reason. Memory in use besides them is a megabyte or two, whatever their size.
    """
    shape = np.broadcast_shapes(angle.shape, branch.sign.shape)
    found = room_for(shape)
    with np.errstate(over="ignore"):  # a loop of some 1e-300 m: the force is infinite
        _fill(angle, branch, -branch.sign * lever, found)
        if not branch.steady.all():
            general = blockwise(_solutions, angle, branch, lever)
            _replace(found, general, ~branch.steady)
    return found


def room_for(shape: tuple[int, ...]) -> Followed:
    """Arrays to be filled, the reasons with zeros.

    Parameters
    ----------
    shape : tuple of int
        Of each.

    Returns
    -------
    Followed, arrays of that shape
        Not yet anything.
    """
    reason = np.zeros(shape, dtype=np.int8)
    return np.empty(shape), np.empty(shape), np.empty(shape), reason


def outputs(angle: Floats, branch: Branch) -> tuple[Floats, NDArray[np.int8]]:
    """Output angle and reason alone.

    Parameters
    ----------
    angle : array, shape (...)
        Input angles; nan and reason 4 where they are not finite [rad].
    branch : Branch, arrays of shape (...)
        Geometries that broadcast with the angles.

    Returns
    -------
    output : array, shape (...)
        Output angle, nan where the reason is not 0 [rad].
    reason : array of int8, shape (...)
        One of the reasons of `linkcalc.mechanism.branch`.
    """
    shape = np.broadcast_shapes(angle.shape, branch.sign.shape)
    output, reason = np.empty(shape), np.zeros(shape, dtype=np.int8)
    _fill(angle, branch, branch.sign, (output, reason))
    if not branch.steady.all():
        general = blockwise(_outputs, angle, branch)
        _replace((output, reason), general, ~branch.steady)
    return output, reason


def _replace(
    targets: tuple[NDArray[Any], ...], values: tuple[NDArray[Any], ...], where: NDArray[np.bool_]
) -> None:
    for target, value in zip(targets, values, strict=True):
        np.copyto(target, value, where=where)


def _fill(angle: Floats, branch: Branch, lever: Floats, targets: tuple[NDArray[Any], ...]) -> None:
    """Fill output, slope and force, or the output alone, and the reason, part by part."""
    shape = targets[-1].shape
    if not shape:
        targets, shape = tuple(target[None] for target in targets), (1,)
    # The three rows of a quadratic stand before all axes of the targets.
    front = (3, *(1,) * (len(shape) - branch.sign.ndim), *branch.sign.shape)
    half = half_angle.Quadratics(*(row.reshape(front) for row in branch.half))
    branch = branch._replace(half=half)
    axis, parts = cut(shape, _BLOCK)
    room = _room(along(targets[-1], axis, parts[0]).shape) if parts else _room((0,))
    for part in parts:
        here = tuple(along(target, axis, part) for target in targets)
        _part(
            along(angle, axis, part),
            branch.part(axis, part) if len(parts) > 1 else branch,
            along(lever, axis, part),
            here,
            along(room, axis, slice(here[-1].shape[axis])),
        )


def _room(shape: tuple[int, ...]) -> Floats:
    return np.empty((half_angle.ROWS, *shape))


def _part(
    angle: Floats, branch: Branch, lever: Floats, targets: tuple[NDArray[Any], ...], room: Floats
) -> None:
    """Fill one part of the targets."""
    reason = targets[-1]
    inside = (angle > branch.lower) & (angle < branch.upper)
    whole = inside.all()
    usable = angle if whole else np.where(np.isfinite(angle), angle, 0.0)
    tangent = half_angle.half_tangent(usable)
    square = half_angle.closure(tangent, branch.half, room)
    if not whole or not square.min(initial=1.0) > 0.0:
        closed = branch.sign * (room[0] + room[2]) > 0.0
        beyond = np.where(square >= 0.0, PAST, np.where(closed, LONGER, SHORTER))
        known = np.where(inside & (square > 0.0), VALID, beyond)
        known = np.where(branch.fault != VALID, branch.fault, known)
        reason[...] = np.where(np.isfinite(angle), known, NO_GEOMETRY)
        np.copyto(square, np.nan, where=reason != VALID)
    np.sqrt(square, out=square)
    half_angle.answer(tangent, room, lever, *targets[:-1])


def _solutions(angle: Floats, branch: Branch, lever: Floats) -> tuple[NDArray[Any], ...]:
    """`Followed` in full angles, for angles that may not be finite."""
    finite = np.isfinite(angle)
    points = branch.points(np.where(finite, angle, 0.0))
    return _masked((points.output, points.slope(), -lever / points.root, points.reason), finite)


def _outputs(angle: Floats, branch: Branch) -> tuple[NDArray[Any], ...]:
    """Output and reason in full angles, for angles that may not be finite."""
    finite = np.isfinite(angle)
    points = branch.points(np.where(finite, angle, 0.0))
    return _masked((points.output, points.reason), finite)


def _masked(
    results: tuple[NDArray[Any], ...], finite: NDArray[np.bool_]
) -> tuple[NDArray[Any], ...]:
    """Put nan and the reason where the angle is not finite; the reason comes last."""
    *numbers, reason = results
    return (
        *(np.where(finite, number, np.nan) for number in numbers),
        np.where(finite, reason, NO_GEOMETRY).astype(np.int8),
    )
