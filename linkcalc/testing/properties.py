"""Properties that every pushrod linkage has, to run on a calculation of one's own.

What is tested is a function `move(servo_angle, **pushrod)` that returns the surface angle [rad], with
the keywords of `linkcalc.mechanism.pushrod.solve`. Each property raises `AssertionError` that says
what was found where, so that Hypothesis can shrink it; none of them asks the library's own kernel.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from linkcalc.mechanism.rods import place

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

    from linkcalc.testing.strategies import Pushrod

__all__ = ["Move", "closure", "mirror", "monotone_range", "scale", "virtual_work"]

Move: TypeAlias = "Callable[..., float]"
"""Takes a servo angle [rad] and the keywords of a pushrod, and returns the surface angle [rad]."""

_AXES = ("servo_axis", "hinge_axis")


def closure(move: Move, pushrod: Pushrod, angle: float, *, tolerance: float = 1e-9) -> None:
    """The rod keeps its length.

    Parameters
    ----------
    move : callable
        What is tested.
    pushrod : dict
        Keywords of one pushrod.
    angle : float
        Servo angle [rad].
    tolerance : float, optional
        How much the length may differ, as a share of it [-].

    Raises
    ------
    AssertionError
        The distance of the joints is not what it is at neutral.

    Examples
    --------
    >>> import numpy as np
    >>> parallelogram = {
    ...     "servo_pivot": np.zeros(3), "servo_axis": np.array([0.0, 1.0, 0.0]),
    ...     "arm": np.array([0.0, 0.0, 0.015]), "hinge_pivot": np.array([0.1, 0.0, 0.0]),
    ...     "hinge_axis": np.array([0.0, 1.0, 0.0]), "horn": np.array([0.0, 0.0, 0.015]),
    ... }
    >>> closure(lambda angle, **pushrod: angle, parallelogram, 0.3)
    >>> closure(lambda angle, **pushrod: 0.9 * angle, parallelogram, 0.3)
    Traceback (most recent call last):
    AssertionError: the rod is 0.1 m at neutral and 0.0995682 m at a servo angle of 0.3 rad
    """
    start = float(place(0.0, 0.0, **pushrod).length)
    here = float(place(angle, move(angle, **pushrod), **pushrod).length)
    if not abs(here - start) <= tolerance * start:
        raise AssertionError(
            f"the rod is {start:.6g} m at neutral and {here:.6g} m at a servo angle of {angle} rad"
        )


def virtual_work(
    move: Move, pushrod: Pushrod, angle: float, *, step: float = 1e-4, tolerance: float = 1e-5
) -> None:
    """Torque in times its way is torque out times its way, by the levers of the rod.

    Parameters
    ----------
    move : callable
        What is tested; its slope is taken from four values about the angle.
    pushrod : dict
        Keywords of one pushrod.
    angle : float
        Servo angle, away from dead centres [rad].
    step : float, optional
        Between the values [rad].
    tolerance : float, optional
        How much the slope may differ, as a share of 1 + abs(slope) [-].

    Raises
    ------
    AssertionError
        The slope is not the ratio of the rod's levers about both axes.

    Examples
    --------
    >>> from hypothesis import given
    >>> from linkcalc.mechanism import pushrod as kernel
    >>> from linkcalc.testing.strategies import pushrods
    >>> @given(pushrods())
    ... def kernel_does_no_work(keywords):
    ...     virtual_work(lambda x, **p: float(kernel.solve(x, **p).surface_angle), keywords, 0.0)
    >>> kernel_does_no_work()
    """
    outer, inner = (
        move(angle + size, **pushrod) - move(angle - size, **pushrod) for size in (2 * step, step)
    )
    slope = (8.0 * inner - outer) / (12.0 * step)
    there = place(angle, move(angle, **pushrod), **pushrod)
    # How fast the joints part when the servo turns by itself, along the rod.
    axis = pushrod["servo_axis"] / np.linalg.norm(pushrod["servo_axis"])
    way = np.cross(axis, there.arm_joint - pushrod["servo_pivot"])
    levers = float(way @ there.direction), float(there.lever)
    if not abs(slope + levers[0] / levers[1]) <= tolerance * (1.0 + abs(slope)):
        raise AssertionError(
            f"the surface moves {slope:.6g} times as fast as the servo at {angle} rad, but the "
            f"rod's levers of {levers[0]:.6g} m and {levers[1]:.6g} m make that "
            f"{-levers[0] / levers[1]:.6g}"
        )


def mirror(
    move: Move,
    pushrod: Pushrod,
    angle: float,
    *,
    normal: ArrayLike = (0.0, 1.0, 0.0),
    tolerance: float = 1e-9,
) -> None:
    """The mirror image moves alike: the port side as the starboard side.

    Parameters
    ----------
    move : callable
        What is tested.
    pushrod : dict
        Keywords of one pushrod.
    angle : float
        Servo angle [rad].
    normal : array, shape (3,), optional
        Square to the mirror; the plane of symmetry if left out.
    tolerance : float, optional
        How much the angles may differ [rad].

    Raises
    ------
    AssertionError
        The surface stands at another angle.

    Notes
    -----
    An axis is mirrored with the sense of its rotation, that is, to the opposite of its image.
    """
    square = np.asarray(normal, dtype=np.float64)
    flip = np.eye(3) - 2.0 * np.outer(square, square) / (square @ square)
    image = {
        name: (-1.0 if name in _AXES else 1.0) * (flip @ value) for name, value in pushrod.items()
    }
    _alike("in the mirror", move(angle, **pushrod), move(angle, **image), angle, tolerance)


def scale(
    move: Move, pushrod: Pushrod, angle: float, *, factor: float = 10.0, tolerance: float = 1e-9
) -> None:
    """A linkage of another size moves alike.

    Parameters
    ----------
    move : callable
        What is tested.
    pushrod : dict
        Keywords of one pushrod, all lengths of which are scaled.
    angle : float
        Servo angle [rad].
    factor : float, optional
        Of the lengths [-].
    tolerance : float, optional
        How much the angles may differ [rad].

    Raises
    ------
    AssertionError
        The surface stands at another angle.
    """
    grown = {name: value if name in _AXES else factor * value for name, value in pushrod.items()}
    _alike(
        f"{factor:g} times as large", move(angle, **pushrod), move(angle, **grown), angle, tolerance
    )


def monotone_range(
    move: Move, pushrod: Pushrod, low: float, high: float, *, count: int = 41
) -> None:
    """The surface runs one way while the servo does.

    Parameters
    ----------
    move : callable
        What is tested.
    pushrod : dict
        Keywords of one pushrod.
    low, high : float
        Servo angles between which neither arm passes a dead centre [rad].
    count : int, optional
        How many angles are looked at.

    Raises
    ------
    AssertionError
        The surface stops, turns back or has no angle.
    """
    angles = np.linspace(low, high, count)
    surface = np.array([move(float(angle), **pushrod) for angle in angles])
    steps = np.diff(surface)
    wrong = ~(np.sign(steps) == np.sign(surface[-1] - surface[0]))
    if wrong.any() or not np.isfinite(surface).all():
        here = int(np.argmax(wrong))
        raise AssertionError(
            f"from a servo angle of {angles[here]:.6g} to {angles[here + 1]:.6g} rad the surface goes "
            f"from {surface[here]:.6g} to {surface[here + 1]:.6g} rad"
        )


def _alike(words: str, one: float, other: float, angle: float, tolerance: float) -> None:
    if not math.isclose(one, other, rel_tol=0.0, abs_tol=tolerance):
        raise AssertionError(
            f"the surface stands at {one:.9g} rad, and {words} at {other:.9g} rad, "
            f"for a servo angle of {angle} rad"
        )
