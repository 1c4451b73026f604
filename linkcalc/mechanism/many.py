"""Many pushrods made ready part by part, so that what is worked with stays small."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from linkcalc.mechanism.branch import along, cut
from linkcalc.mechanism.follow import room_for
from linkcalc.mechanism.geometry import NAMES, read
from linkcalc.mechanism.ready import Ready, Solution, made_ready

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["BLOCK", "both_ways", "solutions"]

BLOCK = 4096
"""Geometries at a time: working on one takes a kilobyte."""


def both_ways(vectors: Sequence[Floats], rod: Floats | None) -> Ready:
    """Make pushrods ready to be solved and inverted.

    Parameters
    ----------
    vectors : sequence of six arrays, shape (..., 3)
        In the order of `geometry.NAMES`.
    rod : array, shape (...), or None
        Length of the rod [m].

    Returns
    -------
    Ready
        The same as if all were made at once, but for rounding.
    """
    shape = _shape(vectors, rod)
    if math.prod(shape) <= BLOCK:
        return _ready(vectors, rod).both_ways()
    axis, parts = cut(shape, BLOCK)
    whole: Any = None
    for part, piece in _pieces(vectors, rod, axis, parts):
        ready = piece.both_ways()
        whole = _room(ready, axis, shape[axis], parts[0].stop) if whole is None else whole
        _put(whole, ready, axis, part)
    return cast("Ready", whole)


def solutions(angle: Floats, vectors: Sequence[Floats], rod: Floats | None) -> Solution:
    """Solve pushrods with their dead centres known.

    Parameters
    ----------
    angle : array, shape (...)
        Servo angles [rad].
    vectors : sequence of six arrays, shape (..., 3)
        In the order of `geometry.NAMES`.
    rod : array, shape (...), or None
        Length of the rod [m].

    Returns
    -------
    Solution
        As of `pushrod.solve`.
    """
    shape = _shape(vectors, rod)
    if math.prod(shape) <= BLOCK:
        return _ready(vectors, rod).solve(angle)
    axis, parts = cut(shape, BLOCK)
    found: tuple[NDArray[Any], ...] = room_for(np.broadcast_shapes(angle.shape, shape))
    for part, piece in _pieces(vectors, rod, axis, parts):
        for target, value in zip(found, piece.solve(along(angle, axis, part)), strict=True):
            along(target, axis, part)[...] = value
    return Solution(*found)


def _shape(vectors: Sequence[Floats], rod: Floats | None) -> tuple[int, ...]:
    others = () if rod is None else (rod.shape,)
    return np.broadcast_shapes(*others, *(vector.shape[:-1] for vector in vectors))


def _ready(vectors: Sequence[Floats], rod: Floats | None) -> Ready:
    return made_ready(read(**dict(zip(NAMES, vectors, strict=True)), rod_length=rod))


def _pieces(
    vectors: Sequence[Floats], rod: Floats | None, axis: int, parts: list[slice]
) -> Iterator[tuple[slice, Ready]]:
    for part in parts:
        some = [along(vector, axis - 1, part) for vector in vectors]
        yield part, _ready(some, None if rod is None else along(rod, axis, part))


def _room(piece: Any, axis: int, length: int, step: int) -> Any:
    """Room for the whole of what a piece of so many geometries is made of, tuples within tuples."""
    if isinstance(piece, tuple):
        return type(piece)(*(_room(each, axis, length, step) for each in piece))  # named ones
    if piece.ndim < -axis or piece.shape[axis] != step:
        return np.array(piece)  # alike in all pieces
    shape = list(piece.shape)
    shape[axis] = length
    return np.empty(shape, dtype=piece.dtype)


def _put(whole: Any, piece: Any, axis: int, part: slice) -> None:
    if isinstance(whole, tuple):
        for target, value in zip(whole, piece, strict=True):
            _put(target, value, axis, part)
    else:
        along(whole, axis, part)[...] = piece
