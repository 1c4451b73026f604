r"""The closure in half angles: one tangent in, one arc tangent out.

With :math:`t = \tan(x/2)` and :math:`v = \tan(y/2)` the closure
:math:`A \cos y + B \sin y = C` of `linkcalc.mechanism.loop`, times :math:`(1+t^2)(1+v^2)`, is

.. math:: G v^2 - 2 B v + N = 0, \qquad N = C - A, \quad G = C + A,

where N, B and G are quadratics in t. While B does not change its sign, which it does not where
the arm is short against the rod and the horn does not lean along it, one root is

.. math:: v = \frac{N}{B + R}, \qquad R = \sqrt{B^2 - N G}

(all three signed so that B is positive): nothing cancels in it, y stays within half a turn of
neutral and needs no unwinding, and by differentiation

.. math:: \frac{dy}{dx} = \frac{(N' - 2 B' v + G' v^2)\,(1 + t^2)}{2 R\,(1 + v^2)}.

Tangents cost a fifth of a cosine and a sine, and the whole is half the work of the closure in
full angles, which `linkcalc.mechanism.branch` uses where B does change its sign.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.mechanism.loop import Weights

    Floats = NDArray[np.float64]

__all__ = ["ROWS", "Quadratics", "answer", "closure", "half_tangent", "quadratics", "steady"]

ROWS = 8
"""Rows of the room that `closure` and `answer` work in."""

_STEEP = 4.0  # a half angle of 76 degrees
_CLEAR = 1.0 + 1e-9  # rounding does not settle less


class Quadratics(NamedTuple):
    """N, B and G as quadratics in the half-angle tangent, B positive at neutral.

    Attributes
    ----------
    zeroth, first, second : array, shape (3, ...)
        Weights of 1, t and t^2 in N, B and G, in this order [any one unit].
    """

    zeroth: Floats
    first: Floats
    second: Floats


def quadratics(weights: Weights, stretch: Floats, sign: Floats) -> Quadratics:
    r"""Quadratics of a loop's closure.

    Parameters
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of the loop's closure [-].
    stretch : array, shape (...)
        :math:`(L^2 - L_0^2)/2` as given to `loop.closure`, divided by its unit [-]. N at neutral
        is nothing else, so that an arm at neutral leaves the horn there to the last digit.
    sign : array, shape (...)
        1 or -1: sign of B at neutral [-].

    Returns
    -------
    Quadratics, arrays of shape (3, ...)
        Of the same loop [-].

    Examples
    --------
    A = 0, B = 1 and C = sin x: the output is the input.

    >>> from linkcalc.mechanism.loop import Weights
    >>> weights = Weights(np.array([0.0, 1.0, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    >>> found = quadratics(weights, np.array(0.0), np.array(1.0))
    >>> found.first.tolist()  # N = G = 2 t
    [2.0, 0.0, 2.0]
    """
    constant, cosine, sine = weights
    lacking, sidewards = -stretch, sine[2] - sine[0]
    whole, less = constant + cosine, constant - cosine
    rest = lacking - 2.0 * (cosine[2] - cosine[0])
    return Quadratics(
        sign * np.stack([lacking, whole[1], 2.0 * whole[0] + lacking]),
        2.0 * sign * np.stack([sidewards, sine[1], 2.0 * sine[0] + sidewards]),
        sign * np.stack([rest, less[1], 2.0 * less[0] + rest]),
    )


def steady(weights: Weights) -> NDArray[np.bool_]:
    """Whether B keeps its sign all the way round.

    Parameters
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of the loop's closure [-].

    Returns
    -------
    array of bool, shape (...)
        Where the root of this module holds at every input angle; False for nan.

    Examples
    --------
    >>> from linkcalc.mechanism.loop import Weights
    >>> rows = np.array([[0.0, 5.0, 0.0], [0.0, 3.0, 0.0], [0.0, 3.9, 0.0]])
    >>> bool(steady(Weights(*rows)))  # 3 and 3.9 at a right angle are less than 5
    True
    """
    constant, cosine, sine = (row[1] for row in weights)
    return np.asarray(np.abs(constant) > _CLEAR * np.hypot(cosine, sine))


def half_tangent(angle: Floats) -> Floats:
    """Tangent of half an angle.

    Parameters
    ----------
    angle : array, shape (...)
        Finite angles of any size [rad].

    Returns
    -------
    array, shape (...)
        Tangent [-]; finite, as no half turn is a binary number.

    Examples
    --------
    >>> round(float(half_tangent(np.array(np.pi / 2))), 12)
    1.0
    """
    half = np.multiply(angle, 0.5)
    return np.asarray(np.tan(half, out=half) if half.ndim else np.tan(half))


def closure(tangent: Floats, loop: Quadratics, room: Floats) -> Floats:
    """Evaluate N, B and G and their rates with the tangent, and the discriminant.

    Parameters
    ----------
    tangent : array, shape (...)
        Half-angle tangents t of the input angles [-].
    loop : Quadratics, arrays of shape (3, ...)
        They broadcast with the tangents.
    room : array, shape (8, ...)
        Of the full shape; on return rows 0 to 2 are N, B and G, rows 3 to 5 their rates, up
        to a share of the values that cancels in the slope, row 6 the discriminant and row 7 is free.

    Returns
    -------
    array, shape (...)
        Discriminant B^2 - N G, row 6 of the room.

    Examples
    --------
    >>> loop = Quadratics(np.array([0.0, 1.0, 0.0]), np.array([2.0, 0.0, 2.0]),
    ...     np.array([0.0, 1.0, 0.0]))
    >>> loop = Quadratics(*(row[:, None] for row in loop))
    >>> closure(np.array([0.5]), loop, np.empty((8, 1))).tolist()  # (1 + t^2)^2 - 4 t^2
    [0.5625]
    """
    values, rates, square, spare = room[0:3], room[3:6], room[6], room[7]
    np.multiply(loop.second, tangent, out=rates)
    np.add(rates, loop.first, out=values)
    np.add(rates, values, out=rates)
    np.multiply(values, tangent, out=values)
    np.add(values, loop.zeroth, out=values)
    if np.abs(tangent).max(initial=0.0) > _STEEP:
        _relieve(tangent, loop, rates)
    np.multiply(values[1], values[1], out=square)
    np.multiply(values[0], values[2], out=spare)
    np.subtract(square, spare, out=square)
    return np.asarray(square)


def _relieve(tangent: Floats, loop: Quadratics, rates: Floats) -> None:
    """Take 2/t of the values off the rates where t is large.

    In the slope the values sum to nothing, so that it stays the same; but the rates grow with t
    and would cancel one another.
    """
    steep = np.abs(tangent) > _STEEP
    less = loop.zeroth * (-2.0 / np.where(steep, tangent, 1.0))
    less -= loop.first
    np.copyto(rates, less, where=steep)


def answer(  # noqa: PLR0917 - where the results go comes last
    tangent: Floats,
    room: Floats,
    lever: Floats,
    output: Floats,
    slope: Floats | None = None,
    force: Floats | None = None,
) -> None:
    """Evaluate output angle, slope and rod force, from what `closure` left in the room.

    Parameters
    ----------
    tangent : array, shape (...)
        As given to `closure` [-].
    room : array, shape (8, ...)
        As `closure` left it, but with the root R of the discriminant in row 6, of the sign of
        B, or nan where there is no answer; overwritten.
    lever : array, shape (...)
        Rod force times R over 1 + t^2 [1/m].
    output, slope, force : array, shape (...)
        Where the results go [rad], [-], [1/m]; slope and force only if both are asked for.

    Examples
    --------
    >>> loop = Quadratics(np.array([0.0, 1.0, 0.0]), np.array([2.0, 0.0, 2.0]),
    ...     np.array([0.0, 1.0, 0.0]))
    >>> tangent, room = half_tangent(np.array([0.3])), np.empty((8, 1))
    >>> numbers = np.empty((3, 1))
    >>> room[6] = np.sqrt(closure(tangent, Quadratics(*(row[:, None] for row in loop)), room))
    >>> answer(tangent, room, np.array(1.0), *numbers)
    >>> numbers[:2, 0].round(12).tolist()
    [0.3, 1.0]
    """
    ratio, positive, _, first, middle, last, root, spare = room
    np.add(positive, root, out=positive)
    np.divide(ratio, positive, out=ratio)
    np.arctan(ratio, out=output)
    np.multiply(output, 2.0, out=output)
    if slope is None or force is None:
        return
    np.multiply(last, ratio, out=last)
    np.subtract(last, middle, out=last)
    np.subtract(last, middle, out=last)
    np.multiply(last, ratio, out=last)
    np.add(last, first, out=last)
    np.multiply(ratio, ratio, out=ratio)
    np.add(ratio, 1.0, out=ratio)
    np.multiply(tangent, tangent, out=spare)
    np.add(spare, 1.0, out=spare)
    np.divide(spare, root, out=spare)
    np.multiply(spare, lever, out=force)
    np.multiply(last, spare, out=last)
    np.divide(last, ratio, out=last)
    np.multiply(last, 0.5, out=slope)
