"""Pushrod geometry: what the arguments of the kernel say, and whether there is a loop at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.loop import Weights, closure
from linkcalc.mechanism.vectors import cross, length

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["NAMES", "Geometry", "read", "vector"]

NAMES = ("servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn")
"""The vectors that say what a pushrod is."""

_ROUNDING = 16.0 * np.finfo(np.float64).eps  # of a length or a product of unit size
# Stands in where there is no geometry, so that nothing further on meets a zero or nan.
_PLACEHOLDER = np.array(
    [[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
)
_LENGTHS = [0, 2, 4]  # rows of the placeholder that are no axes


class Geometry(NamedTuple):
    """A pushrod loop, components of vectors first, lengths in a unit of their own size.

    Attributes
    ----------
    offset : array, shape (3, ...)
        From the hinge pivot to the servo's [`unit`].
    servo_axis, hinge_axis : array, shape (3, ...)
        Unit vectors [-].
    arm, horn : array, shape (3, ...)
        From each pivot to its joint at neutral [`unit`].
    rod : array, shape (...)
        Length of the rod between its joints [`unit`].
    stretch : array, shape (...)
        Half the difference of its square to that of the closing length [`unit`^2].
    unit : array, shape (...)
        A power of two of the size of the largest length, so that scaling costs no digit [m].
    sound : array of bool, shape (...)
        False where there is no geometry; a placeholder stands there.
    """

    offset: NDArray[np.float64]
    servo_axis: NDArray[np.float64]
    arm: NDArray[np.float64]
    hinge_axis: NDArray[np.float64]
    horn: NDArray[np.float64]
    rod: NDArray[np.float64]
    stretch: NDArray[np.float64]
    unit: NDArray[np.float64]
    sound: NDArray[np.bool_]

    def from_servo(self) -> tuple[Weights, NDArray[np.float64]]:
        """Return the closure with the servo angle as input, and its unit [`unit`^2]."""
        return closure(
            offset=self.offset,
            input_axis=self.servo_axis,
            input_arm=self.arm,
            output_axis=self.hinge_axis,
            output_arm=self.horn,
            stretch=self.stretch,
        )

    def from_surface(self) -> tuple[Weights, NDArray[np.float64]]:
        """Return the closure with the surface angle as input, and its unit [`unit`^2]."""
        return closure(
            offset=-self.offset,
            input_axis=self.hinge_axis,
            input_arm=self.horn,
            output_axis=self.servo_axis,
            output_arm=self.arm,
            stretch=self.stretch,
        )


def read(
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
) -> Geometry:
    """Read the arguments, find out what is no geometry and scale the rest.

    Parameters
    ----------
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : array, shape (..., 3)
        As for `pushrod.solve`; axes in any unit, the rest [m].
    rod_length : float or array, shape (...), optional
        As for `pushrod.solve` [m].

    Returns
    -------
    Geometry, arrays of shape (3, ...) or (...)
        What is not finite, has no length or has its joint on its own axis is not sound.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Examples
    --------
    >>> geometry = read(servo_pivot=(0, 0, 0), servo_axis=(0, 5, 0), arm=(0, 0, 0.01),
    ...     hinge_pivot=(0.1, 0, 0), hinge_axis=(0, 1, 0), horn=(0, 0, 0.01), rod_length=None)
    >>> float(geometry.rod * geometry.unit), geometry.servo_axis.tolist(), bool(geometry.sound)
    (0.1, [0.0, 1.0, 0.0], True)
    """
    vectors = [
        vector("servo_pivot", servo_pivot),
        vector("hinge_pivot", hinge_pivot),
        vector("servo_axis", servo_axis),
        vector("arm", arm),
        vector("hinge_axis", hinge_axis),
        vector("horn", horn),
    ]
    rod = np.asarray(1.0 if rod_length is None else rod_length, dtype=np.float64)
    shape = np.broadcast_shapes(rod.shape, *(given.shape[:-1] for given in vectors))
    rows = np.empty((6, *shape, 3))
    for row, given in zip(rows, vectors, strict=True):
        row[...] = given
    table = np.ascontiguousarray(np.moveaxis(rows, -1, 1))
    with np.errstate(over="ignore", invalid="ignore"):  # found out in the next lines
        table[1] = table[0] - table[1]
    parts = table[1:]
    size = np.abs(parts).max(axis=1)
    sound = np.isfinite(size).all(axis=0) & (size[1:] > 0.0).all(axis=0)
    sound = sound & np.isfinite(rod)
    if not sound.all():
        parts = np.where(sound, parts, _PLACEHOLDER.reshape(5, 3, *(1,) * len(shape)))
        size, rod = np.abs(parts).max(axis=1), np.where(sound, rod, 1.0)
    return _scaled(parts, size, sound, None if rod_length is None else rod)


def vector(name: str, value: ArrayLike) -> NDArray[np.float64]:
    """Read one vector.

    Parameters
    ----------
    name : str
        What the message calls it.
    value : array, shape (..., 3)
        The vector [any unit].

    Returns
    -------
    array, shape (..., 3)
        The same as an array [same unit].

    Raises
    ------
    ValueError
        Its last axis is not 3 long.

    Examples
    --------
    >>> vector("arm", (0, 0, 1)).tolist()
    [0.0, 0.0, 1.0]
    """
    array = np.asarray(value, dtype=np.float64)
    if array.ndim == 0 or array.shape[-1] != 3:
        raise ValueError(f"{name}: a vector needs a last axis of 3, found shape {array.shape}")
    return array


def _scaled(
    parts: NDArray[np.float64],
    size: NDArray[np.float64],
    sound: NDArray[np.bool_],
    rod: NDArray[np.float64] | None,
) -> Geometry:
    """Scale lengths and axes, then look for a joint on its axis or a rod of no length."""
    largest = size[_LENGTHS].max(axis=0)
    if rod is not None:
        largest = np.maximum(largest, rod)
    unit = np.ldexp(1.0, np.frexp(largest)[1] - 1)
    offset, arm, horn = parts[_LENGTHS] / unit
    servo_axis, hinge_axis = parts[1] / size[1], parts[3] / size[3]
    servo_axis, hinge_axis = servo_axis / length(servo_axis), hinge_axis / length(hinge_axis)
    closing = length(offset + arm - horn)
    rod = closing if rod is None else rod / unit
    sound = (
        sound
        & (length(cross(servo_axis, parts[2] / size[2])) > _ROUNDING)
        & (length(cross(hinge_axis, parts[4] / size[4])) > _ROUNDING)
        & (rod > _ROUNDING)
    )
    stretch = np.asarray(0.5 * (rod - closing) * (rod + closing))
    return Geometry(
        offset, servo_axis, arm, hinge_axis, horn, np.asarray(rod), stretch, unit, sound
    )
