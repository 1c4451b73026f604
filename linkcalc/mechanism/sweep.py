r"""Many pushrods at a few angles each: the way there is vouched for, no dead centre is sought.

Where every geometry is asked for one angle, finding its dead centres would cost a hundred times
the answer. All that has to be known is that none lies between neutral and the angle. With t from
0 to T, a quadratic in t lies between the least and the greatest of its three Bernstein
coefficients, so that

.. math:: \min(b)^2 > \max |n| \, \max |g|

over those of B, N and G says that :math:`B^2 - N G` stays positive on the way, and B with it.
What this does not vouch for is done again the careful way.

References
----------
.. [1] G. Farin, Curves and Surfaces for Computer-Aided Geometric Design (from memory; the
   convex-hull property of the Bernstein form).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.mechanism.branch import LONGER, PAST, SHORTER, VALID, along, cut
from linkcalc.mechanism.half_angle import ROWS, Quadratics, answer, closure, half_tangent
from linkcalc.mechanism.vectors import cross

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.mechanism.follow import Followed

    Floats = NDArray[np.float64]

__all__ = ["solutions"]

_BLOCK = 8192  # geometries whose vectors and weights stay in a core's cache
_OFF_AXIS = 1e-12  # share of its loop that an arm has to move the rod by at neutral
_CLEAR = 1e-11  # share of its scale by which the discriminant is positive; see dead_centres.TOUCH
_NODES = 9
_OPEN = -1  # no reason: not yet known
_LEAST = 1e-140  # below it a product of two loses digits [m^2]


def solutions(
    angle: Floats,
    vectors: Sequence[Floats],
    rod: Floats | None,
    targets: Followed,
    careful: Callable[..., Followed],
) -> None:
    """Fill in the solutions of many pushrods.

    Parameters
    ----------
    angle : array, shape (...)
        Servo angles [rad].
    vectors : sequence of six arrays, shape (..., 3)
        The vectors servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn of `pushrod.solve`.
    rod : array, shape (...), or None
        Length of the rod [m].
    targets : Followed, arrays of shape (...)
        To be filled; they have the shape to which all the others broadcast.
    careful : callable
        Takes angles, vectors and rods of shape (n,), (n, 3) and (n,) and returns their solutions.
    """
    shape = targets[-1].shape
    axis, parts = cut(shape, _BLOCK)
    room = np.empty((ROWS, *along(targets[-1], axis, parts[0]).shape))
    # Components first, then as many axes as the targets have
    first = [np.moveaxis(_deep(vector, len(shape) + 1), -1, 0) for vector in vectors]
    angle, rod = _deep(angle, len(shape)), None if rod is None else _deep(rod, len(shape))
    for part in parts:
        output, slope, force, reason = (along(target, axis, part) for target in targets)
        here = output, slope, force, reason
        angles = along(angle, axis, part)
        few = [along(vector, axis, part) for vector in first]
        rods = None if rod is None else along(rod, axis, part)
        size = here[-1].shape[axis]
        with np.errstate(all="ignore"):  # what comes of it is not vouched for
            sound = _part(angles, few, rods, here, along(room, axis, slice(size)))
        if not sound.all():
            lost, shape = ~sound, sound.shape
            some = [np.broadcast_to(vector, (3, *shape))[:, lost] for vector in few]
            given = None if rods is None else np.broadcast_to(rods, shape)[lost]
            _mend(here, lost, (np.broadcast_to(angles, shape)[lost], some, given), careful)


def _mend(
    here: Followed,
    lost: NDArray[np.bool_],
    asked: tuple[Floats, list[Floats], Floats | None],
    careful: Callable[..., Followed],
) -> None:
    """Do again what is lost: judged along the way if that tells, else the careful way."""
    angle, vectors, rod = asked
    with np.errstate(all="ignore"):
        reason = _judged(angle, vectors, rod)
    here[-1][lost] = reason
    nowhere = np.zeros(lost.shape, dtype=bool)
    nowhere[lost] = reason != VALID
    for number in here[:-1]:
        np.copyto(number, np.nan, where=nowhere)
    open_ = reason == _OPEN
    if open_.any():
        again = careful(
            angle[open_],
            [vector[:, open_].T for vector in vectors],
            None if rod is None else rod[open_],
        )
        nowhere[lost] = open_
        output, slope, force, reasons = here
        output[nowhere], slope[nowhere], force[nowhere], reasons[nowhere] = again


def _judged(angle: Floats, vectors: list[Floats], rod: Floats | None) -> NDArray[np.int8]:
    """Reasons of a few geometries, shape (n,), from nodes along the way; -1 where these do not tell.

    The products of Bernstein coefficients are those of the discriminant between two nodes.
    """
    tangent = half_tangent(angle)
    loop, _ = _quadratics(vectors, rod)
    nodes = np.linspace(0.0, 1.0, _NODES)[:, None] * tangent
    before, after = nodes[:-1], nodes[1:]
    at = np.stack([(c * nodes + b) * nodes + a for a, b, c in zip(*loop, strict=True)])
    middle = np.stack(
        [a + 0.5 * b * (before + after) + c * before * after for a, b, c in zip(*loop, strict=True)]
    )
    (n0, b0, g0), (n1, b1, g1), (n2, b2, g2) = at[:, :-1], middle, at[:, 1:]
    discriminant = at[1] * at[1] - at[0] * at[2]
    inner = np.stack(
        [
            b0 * b1 - 0.5 * (n0 * g1 + n1 * g0),
            (b0 * b2 + 2.0 * b1 * b1) / 3.0 - (n0 * g2 + 4.0 * n1 * g1 + n2 * g0) / 6.0,
            b1 * b2 - 0.5 * (n1 * g2 + n2 * g1),
        ]
    )
    scale = np.abs(loop.zeroth[1]) + np.abs(loop.zeroth[2]) + np.abs(loop.first[0]) + _LEAST
    clear = _CLEAR * scale * scale
    started = (discriminant[0] > clear) & (np.abs(loop.first[0]) > _OFF_AXIS * scale)
    started &= (np.abs(angle) < math.pi) & np.isfinite(scale)
    one_way = (at[1] * at[1, 0] > 0.0).all(axis=0) & (b1 * at[1, 0] > 0.0).all(axis=0)
    closed = (discriminant > clear).all(axis=0) & (inner > clear).all(axis=(0, 1))
    ended = np.where(at[0, -1] + at[2, -1] > 0.0, LONGER, SHORTER)
    reason = np.where(closed & one_way, VALID, _OPEN)
    passed = (discriminant < -clear).any(axis=0) & (discriminant[-1] > clear)
    reason = np.where(passed, PAST, reason)
    reason = np.where(discriminant[-1] < -clear, ended, reason)
    return np.where(started, reason, _OPEN).astype(np.int8)


def _part(
    angle: Floats, vectors: list[Floats], rod: Floats | None, here: Followed, room: Floats
) -> NDArray[np.bool_]:
    """Fill one part, and say for which of it the way is vouched for."""
    tangent = half_tangent(angle)
    loop, length = _quadratics(vectors, rod)
    square = closure(tangent, loop, room)
    sound = (np.abs(angle) < math.pi) & _vouched(tangent, loop, room[:3])
    np.sqrt(square, out=square)
    np.copysign(square, loop.zeroth[1], out=square)
    answer(tangent, room, -length, *here[:-1])
    return sound


def _quadratics(vectors: list[Floats], rod: Floats | None) -> tuple[Quadratics, Floats]:
    """Quadratics in square metres with the sign of B as it is, and the length of the rod."""
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn = vectors
    offset = np.subtract(servo_pivot, hinge_pivot, order="C")
    servo_axis, hinge_axis = _unit(servo_axis), _unit(hinge_axis)
    arm, horn = np.array(arm, order="C"), np.array(horn, order="C")
    spoke = servo_axis * _dot(servo_axis, arm)
    centre = offset + spoke
    np.subtract(arm, spoke, out=spoke)
    arms = np.empty((3, *np.broadcast_shapes(centre.shape, spoke.shape)))
    np.add(offset, arm, out=arms[0])
    cross(servo_axis, arm, out=arms[1])
    np.subtract(centre, spoke, out=arms[2])
    horns = np.empty((2, *np.broadcast_shapes(hinge_axis.shape, horn.shape)))
    cross(hinge_axis, horn, out=horns[0])
    np.multiply(hinge_axis, _dot(hinge_axis, horn), out=horns[1])
    np.subtract(horn, horns[1], out=horns[1])
    centre = centre - horn
    line = arms[0] - horn
    squared = _dot(line, line)
    loop = np.empty((3, 3, *squared.shape))
    np.einsum("ax...,bx...->ab...", arms, horns, out=loop[:, 1:])
    loop[0, 0] = 0.0 if rod is None else 0.5 * (squared - rod * rod)
    loop[1, 0] = _dot(arms[1], centre)
    loop[2, 0] = loop[0, 0] - 2.0 * _dot(spoke, centre)
    loop[:, 2] *= 2.0
    loop[:, 2] += loop[:, 0]
    loop[1] *= 2.0
    return Quadratics(*loop), np.sqrt(squared) if rod is None else rod


def _unit(axis: Floats) -> Floats:
    """Copy of an axis, of length one."""
    axis = np.array(axis, order="C")
    axis *= 1.0 / np.sqrt(_dot(axis, axis))
    return axis


def _dot(first: Floats, second: Floats) -> Floats:
    """Scalar product in one pass; `vectors.dot` is quicker for a few."""
    return np.asarray(np.einsum("x...,x...->...", first, second))


def _deep(array: Floats, axes: int) -> Floats:
    """View with so many axes."""
    return array.reshape((1,) * (axes - array.ndim) + array.shape)


def _vouched(tangent: Floats, loop: Quadratics, values: Floats) -> NDArray[np.bool_]:
    """Whether no dead centre lies on the way, nor a joint on its axis; False for nan."""
    toward, across, around = loop.zeroth
    middle = loop.first * (0.5 * tangent)
    middle += loop.zeroth
    sign = np.copysign(1.0, across)
    least = np.minimum(middle[1] * sign, values[1] * sign)
    scale = np.abs(across)
    np.minimum(least, scale, out=least)
    np.abs(middle, out=middle)
    moved, size = np.abs(loop.first[0]), np.abs(around)
    scale += size
    scale += moved
    scale += _LEAST
    size = np.maximum(size, middle[2])  # as wide as the angles, if these have an axis of their own
    np.maximum(size, np.abs(values[2]), out=size)
    shift = np.maximum(middle[0], np.abs(values[0]))
    np.maximum(shift, np.abs(toward), out=shift)
    shift *= size
    size = np.maximum(least, 0.0)
    size *= size
    size -= shift
    return np.asarray((moved > _OFF_AXIS * scale) & (size > _CLEAR * scale * scale))
