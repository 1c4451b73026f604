r"""From what a surface should do to the arm, the horn and the rod that do it.

Three positions say all: neutral, and the surface at both ends of the servo's travel. The rod has one
length in all of them. With the arm's hole at a distance a along the unit vector u, and the horn's
hole at q from the servo's pivot, :math:`|a u - q|^2` is the same in the positions 0, 1 and 2 if

.. math:: 2 a (u_i \cdot q_i - u_0 \cdot q_0) = |q_i|^2 - |q_0|^2, \qquad i = 1, 2.

u turns with the servo and leans by :math:`\lambda` from where it is drawn, so that the brackets are a
cosine and a sine of :math:`\lambda`: a and :math:`\lambda` have one solution, in closed form.

References
----------
.. [1] Synthesis of a function generator for three precision points: R. L. Norton, Design of
   Machinery (from memory; there by Freudenstein's equation).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism import pushrod
from linkcalc.mechanism.branch import NO_GEOMETRY, VALID
from linkcalc.mechanism.rods import place, turned

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "DESIGN_REASONS",
    "Lean",
    "Lever",
    "arm_for_throws",
    "horn_for_throws",
    "lean_for_differential",
    "rod_length_for",
]

DESIGN_REASONS = (
    "found",
    "no lever does it: the throws ask for none, or for one of no length",
    "the lever that would do it passes a dead centre, or does not close, on the way",
    "no lean between the ends gives this differential",
    "no geometry",
)
"""What the reasons of this module mean."""

FOUND, NO_LEVER, DEAD_CENTRE, NO_LEAN, NOTHING = range(5)

_CLOSE = 1e-9  # rad by which the kernel may miss the throws
_LEANS = 121


class Lever(NamedTuple):
    """An arm or a horn that gives the throws; nan where `reason` is not 0.

    Attributes
    ----------
    radius : array, shape (...)
        From the axis to the hole [m].
    lean : array, shape (...)
        From where it is drawn, right-handed about its axis, in (-pi, pi] [rad].
    vector : array, shape (..., 3)
        From the pivot to the hole at neutral [m].
    rod_length : array, shape (...)
        Between the joints [m].
    reason : array of int8, shape (...)
        Index into `DESIGN_REASONS`.
    """

    radius: Floats
    lean: Floats
    vector: Floats
    rod_length: Floats
    reason: NDArray[np.int8]


class Lean(NamedTuple):
    """A lean of the arm; nan where `reason` is not 0.

    Attributes
    ----------
    lean : array, shape (...)
        Of the arm at neutral from where it is drawn, right-handed about its axis [rad].
    arm : array, shape (..., 3)
        From the pivot to the hole at neutral [m].
    throws : array, shape (..., 2)
        Of the surface at the negative and the positive end of the servo's travel [rad].
    reason : array of int8, shape (...)
        Index into `DESIGN_REASONS`.
    """

    lean: Floats
    arm: Floats
    throws: Floats
    reason: NDArray[np.int8]


def arm_for_throws(
    throws: ArrayLike,
    travel: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm_direction: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
) -> Lever:
    """Arm that puts the surface where it is wanted at both ends of the servo's travel.

    Parameters
    ----------
    throws : array, shape (..., 2)
        Surface angles at the negative and the positive end of the travel, of opposite signs
        [rad]; unequal ones are a differential.
    travel : array, shape (..., 2)
        Those ends: servo angles, negative first [rad].
    servo_pivot, servo_axis, hinge_pivot, hinge_axis, horn : array, shape (..., 3)
        As for `pushrod.solve`.
    arm_direction : array, shape (..., 3)
        Where the arm would point without lean; only its direction square to the axis counts.

    Returns
    -------
    Lever
        The arm in the plane of its pivot square to the shaft; there is one or none.

    Examples
    --------
    20 degrees up and 12 down from 45 degrees of servo travel, on a horn of 14 mm:

    >>> lever = arm_for_throws(np.radians([-20.0, 12.0]), np.radians([-45.0, 45.0]),
    ...     servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0), arm_direction=(0, 0, 1),
    ...     hinge_pivot=(0.12, 0, 0), hinge_axis=(0, 1, 0), horn=(0, 0, 0.014))
    >>> bool(0.004 < lever.radius < 0.008), bool(lever.lean > 0.2), int(lever.reason)
    (True, True, 0)
    """
    wanted = np.asarray(throws, dtype=np.float64)
    ends = np.asarray(travel, dtype=np.float64)
    found = _lever(
        input_pivot=servo_pivot, input_axis=servo_axis, direction=arm_direction,
        output_pivot=hinge_pivot, output_axis=hinge_axis, other=horn,
        angles=ends, outputs=wanted,
    )  # fmt: skip
    geometry = {
        "servo_pivot": servo_pivot, "servo_axis": servo_axis, "arm": found.vector,
        "hinge_pivot": hinge_pivot, "hinge_axis": hinge_axis, "horn": horn,
    }  # fmt: skip
    return _proved(found, geometry, ends, wanted)


def horn_for_throws(
    throws: ArrayLike,
    travel: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn_direction: ArrayLike,
) -> Lever:
    """Horn that puts the surface where it is wanted at both ends of the servo's travel.

    Parameters
    ----------
    throws, travel : array, shape (..., 2)
        As for `arm_for_throws` [rad].
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis : array, shape (..., 3)
        As for `pushrod.solve`.
    horn_direction : array, shape (..., 3)
        Where the horn would point without lean.

    Returns
    -------
    Lever
        The horn in the plane of its pivot square to the hinge line; there is one or none.

    Examples
    --------
    >>> lever = horn_for_throws(np.radians([-20.0, 20.0]), np.radians([-40.0, 40.0]),
    ...     servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0), arm=(0, 0, 0.010),
    ...     hinge_pivot=(0.12, 0, 0), hinge_axis=(0, 1, 0), horn_direction=(0, 0, 1))
    >>> bool(0.018 < lever.radius < 0.020), int(lever.reason)
    (True, 0)
    """
    wanted = np.asarray(throws, dtype=np.float64)
    ends = np.asarray(travel, dtype=np.float64)
    found = _lever(
        input_pivot=hinge_pivot, input_axis=hinge_axis, direction=horn_direction,
        output_pivot=servo_pivot, output_axis=servo_axis, other=arm,
        angles=wanted, outputs=ends,
    )  # fmt: skip
    geometry = {
        "servo_pivot": servo_pivot, "servo_axis": servo_axis, "arm": arm,
        "hinge_pivot": hinge_pivot, "hinge_axis": hinge_axis, "horn": found.vector,
    }  # fmt: skip
    return _proved(found, geometry, ends, wanted)


def lean_for_differential(
    differential: ArrayLike,
    travel: ArrayLike,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    most: float = 1.2,
) -> Lean:
    """Angle of the arm at neutral that gives a wanted differential.

    Parameters
    ----------
    differential : float or array, shape (...)
        Size of the surface's throw at the negative end of the servo's travel over that at the
        positive end, more than zero [-].
    travel : array, shape (..., 2)
        Servo angles of those ends, negative first [rad].
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : array, shape (..., 3)
        As for `pushrod.solve`; the arm as drawn, without lean.
    most : float, optional
        Greatest lean either way [rad].

    Returns
    -------
    Lean
        The least lean, of those tried in steps of a sixtieth of the greatest, next to which one
        lies that does it without passing a dead centre.

    Notes
    -----
    Solved by `scipy.optimize.elementwise`.

    Examples
    --------
    >>> found = lean_for_differential(1.5, (-0.7, 0.7), servo_pivot=(0, 0, 0),
    ...     servo_axis=(0, 1, 0), arm=(0, 0, 0.010), hinge_pivot=(0.12, 0, 0),
    ...     hinge_axis=(0, 1, 0), horn=(0, 0, 0.014))
    >>> bool(abs(abs(found.throws[0] / found.throws[1]) - 1.5) < 1e-9), int(found.reason)
    (True, 0)
    """
    from scipy.optimize import elementwise  # noqa: PLC0415 - only who designs pays for it

    vectors = (servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn)
    ends = np.asarray(travel, dtype=np.float64)
    wanted = np.asarray(differential, dtype=np.float64)
    shape = np.broadcast_shapes(
        wanted.shape, ends.shape[:-1], *(np.shape(vector)[:-1] for vector in vectors)
    )
    wanted, ends = np.broadcast_to(wanted, shape).ravel(), _rows(ends, shape)
    rows = [_rows(vector, shape) for vector in vectors]

    def throws(lean: Floats, index: NDArray[np.intp]) -> Floats:
        names = ("servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn")
        loop = {name: row[index][..., None, :] for name, row in zip(names, rows, strict=True)}
        loop["arm"] = turned(loop["arm"], loop["servo_axis"], lean[..., None])
        motion = pushrod.prepare(**loop).solve(ends[index])
        # Beyond the arm's dead centre the surface runs back: no throw.
        one_way = np.sign(motion.slope[..., :1]) == np.sign(motion.slope[..., 1:])
        return np.where(one_way, motion.surface_angle, np.nan)

    def excess(lean: Floats, index: NDArray[np.intp]) -> Floats:
        found = np.abs(throws(lean, index))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.log(found[..., 0] / found[..., 1] / wanted[index]))

    index = np.arange(wanted.size)
    leans = np.linspace(-most, most, _LEANS)
    tried = excess(np.broadcast_to(leans[:, None], (_LEANS, index.size)), index[None])
    crosses = np.sign(tried[:-1]) * np.sign(tried[1:]) <= 0.0  # False for nan
    middle = np.abs(leans[:-1] + leans[1:])[:, None]
    first = np.where(crosses, middle, np.inf).argmin(axis=0)
    bracketed = crosses[first, index] if index.size else np.zeros(0, dtype=bool)
    low, high = leans[first], leans[first + 1]
    solved = elementwise.find_root(excess, (low, high), args=(index,))
    good = bracketed & np.asarray(solved.success)
    lean = np.where(good, solved.x, np.nan)
    usable = np.where(good, lean, 0.0)
    reached = np.where(good[:, None], throws(usable, index), np.nan)
    closes = np.isfinite(tried).any(axis=0)
    reason = np.where(good, FOUND, np.where(closes, NO_LEAN, NOTHING)).astype(np.int8)
    arms = np.where(good[:, None], turned(rows[2], rows[1], usable), np.nan)
    return Lean(
        lean.reshape(shape),
        arms.reshape(*shape, 3),
        reached.reshape(*shape, 2),
        reason.reshape(shape),
    )


def rod_length_for(
    surface_angle: ArrayLike,
    servo_angle: ArrayLike = 0.0,
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
) -> Floats:
    """Rod length with which the surface stands at an angle while the servo stands at another.

    Parameters
    ----------
    surface_angle, servo_angle : float or array, shape (...)
        From neutral as drawn [rad]. A surface that stands at e with a rod of length L is centred
        by a change of length from that at e to that at 0; over the thread's pitch, turns of the
        clevis.
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn : array, shape (..., 3)
        As for `pushrod.solve`.

    Returns
    -------
    array, shape (...)
        Length between the joints [m].

    Examples
    --------
    A surface that stands 2 degrees low, on a horn of 14 mm: half a millimetre.

    >>> loop = {"servo_pivot": (0, 0, 0), "servo_axis": (0, 1, 0), "arm": (0, 0, 0.010),
    ...     "hinge_pivot": (0.12, 0, 0), "hinge_axis": (0, 1, 0), "horn": (0, 0, 0.014)}
    >>> change = rod_length_for(0.0, **loop) - rod_length_for(np.radians(2.0), **loop)
    >>> round(float(change) * 1000, 2)
    -0.49
    """
    return place(
        servo_angle,
        surface_angle,
        servo_pivot=servo_pivot,
        servo_axis=servo_axis,
        arm=arm,
        hinge_pivot=hinge_pivot,
        hinge_axis=hinge_axis,
        horn=horn,
    ).length


def _lever(
    *,
    input_pivot: ArrayLike,
    input_axis: ArrayLike,
    direction: ArrayLike,
    output_pivot: ArrayLike,
    output_axis: ArrayLike,
    other: ArrayLike,
    angles: Floats,
    outputs: Floats,
) -> Lever:
    """Lever on the input axis for given angles of both bodies at two ends."""
    axis = np.asarray(input_axis, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):  # no axis, no direction: nan
        axis = axis / np.linalg.norm(axis, axis=-1, keepdims=True)
        up = np.asarray(direction, dtype=np.float64)
        up = up - axis * (axis * up).sum(axis=-1, keepdims=True)
        up = up / np.linalg.norm(up, axis=-1, keepdims=True)
    across = np.cross(axis, up)
    offset = np.asarray(output_pivot, dtype=np.float64) - np.asarray(input_pivot)
    start = offset + np.asarray(other, dtype=np.float64)
    parts = []
    for side in (0, 1):
        there = offset + turned(other, output_axis, outputs[..., side])
        turn = angles[..., side]
        moved, swung = turned(up, axis, turn), turned(across, axis, turn)
        parts.append(
            (
                (there * there).sum(axis=-1) - (start * start).sum(axis=-1),
                (moved * there).sum(axis=-1) - (up * start).sum(axis=-1),
                (swung * there).sum(axis=-1) - (across * start).sum(axis=-1),
            )
        )
    (n1, c1, s1), (n2, c2, s2) = parts
    lean = np.arctan2(n2 * c1 - n1 * c2, n1 * s2 - n2 * s1)
    with np.errstate(divide="ignore", invalid="ignore"):
        first = c1 * np.cos(lean) + s1 * np.sin(lean)
        second = c2 * np.cos(lean) + s2 * np.sin(lean)
        steeper = np.abs(first) >= np.abs(second)
        radius = 0.5 * np.where(steeper, n1 / first, n2 / second)
    opposite = radius < 0.0
    lean = np.where(opposite, lean - np.copysign(np.pi, lean), lean)
    radius = np.abs(radius)
    vector = radius[..., None] * turned(up, axis, lean)
    length = np.linalg.norm(vector - start, axis=-1)
    usable = np.isfinite(radius) & (radius > 0.0)
    nothing = ~np.isfinite(n1 + n2 + c1 + c2 + s1 + s2)
    reason = np.where(usable, FOUND, np.where(nothing, NOTHING, NO_LEVER)).astype(np.int8)
    return Lever(radius, lean, vector, length, reason)


def _proved(lever: Lever, geometry: dict[str, ArrayLike], ends: Floats, wanted: Floats) -> Lever:
    """Ask the kernel whether the linkage gets there, and put nan where it does not."""
    loop = {
        name: np.asarray(value, dtype=np.float64)[..., None, :] for name, value in geometry.items()
    }
    found = pushrod.prepare(**loop).solve(ends)
    arrives = (found.reason == VALID) & (np.abs(found.surface_angle - wanted) < _CLOSE)
    arrives = arrives.all(axis=-1)
    reason = np.where((lever.reason == FOUND) & ~arrives, DEAD_CENTRE, lever.reason)
    lost = (found.reason == NO_GEOMETRY).all(axis=-1) & (reason == DEAD_CENTRE)
    reason = np.where(lost, NOTHING, reason).astype(np.int8)
    good = reason == FOUND
    return Lever(
        np.where(good, lever.radius, np.nan),
        np.where(good, lever.lean, np.nan),
        np.where(good[..., None], lever.vector, np.nan),
        np.where(good, lever.rod_length, np.nan),
        reason,
    )


def _rows(vector: ArrayLike, shape: tuple[int, ...]) -> Floats:
    """Vector of every element, shape (element, 3) or (element, 2)."""
    array = np.asarray(vector, dtype=np.float64)
    return np.broadcast_to(array, (*shape, array.shape[-1])).reshape(-1, array.shape[-1])
