r"""One way of closing a loop, followed from where it starts.

With D the discriminant, the closure :math:`A \cos y + B \sin y = C` has the two roots
:math:`y = \psi \mp \omega`, :math:`\psi = \arg(A + iB)`, :math:`\omega = \arg(C + i \sqrt D)`.
A branch is one of them: it keeps its sign until the roots meet at a dead centre, and there it
ends.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.mechanism.half_angle import Quadratics, quadratics, steady
from linkcalc.mechanism.loop import Values, Weights, discriminant, winding

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import EllipsisType

    from numpy.typing import NDArray

__all__ = [
    "LONGER",
    "NO_GEOMETRY",
    "PAST",
    "SHORTER",
    "VALID",
    "Branch",
    "Points",
    "along",
    "blockwise",
    "closure_rate",
    "cut",
]

VALID, LONGER, SHORTER, PAST, NO_GEOMETRY = 0, 1, 2, 3, 4
"""Reasons: valid; the rod would have to be longer, or shorter; past an end; no geometry."""

_BLOCK = 32768  # elements whose temporaries stay in a core's cache
_TURN = 2.0 * np.pi


class Points(NamedTuple):
    """Points of a branch; nan in `output` and `root` where `reason` is not 0.

    Attributes
    ----------
    output : array, shape (...)
        Output angle [rad].
    root : array, shape (...)
        Rate of change of the closure with the output angle, signed [-].
    values, rates : Values, arrays of shape (...)
        A, B, C and their rates with the input angle [-].
    reason : array of int8, shape (...)
        One of the reasons of this module.
    """

    output: NDArray[np.float64]
    root: NDArray[np.float64]
    values: Values
    rates: Values
    reason: NDArray[np.int8]

    def slope(self) -> NDArray[np.float64]:
        """Return the rate of the output angle with the input angle [-]."""
        return np.asarray(-closure_rate(self.values, self.rates, self.root) / self.root)


class Branch(NamedTuple):
    """A branch of a loop and where it ends.

    Attributes
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of the loop's closure [-].
    sign : array, shape (...)
        1 or -1: sign of the closure's rate of change with the output angle [-].
    turns, lean : array, shape (...)
        From `loop.winding` [-], [rad].
    offset : array, shape (...)
        Whole turns added to the root, so that the branch starts where it should [-].
    lower, upper : array, shape (...)
        The open interval of input angles on which it exists; both zero: nowhere [rad].
    fault : array of int8, shape (...)
        A reason that holds at every input angle, or 0.
    half : Quadratics, arrays of shape (3, ...)
        The closure in half angles [-].
    steady : array of bool, shape (...)
        Where its root holds at every input angle.
    """

    weights: Weights
    sign: NDArray[np.float64]
    turns: NDArray[np.float64]
    lean: NDArray[np.float64]
    offset: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    fault: NDArray[np.int8]
    half: Quadratics
    steady: NDArray[np.bool_]

    @classmethod
    def starting(
        cls,
        weights: Weights,
        sign: NDArray[np.float64],
        output: NDArray[np.float64],
        stretch: NDArray[np.float64],
    ) -> Branch:
        """Endless branch of this sign, within half a turn of an output [rad] at input 0.

        Parameters
        ----------
        weights : Weights
            Of the loop's closure.
        sign : array, shape (...)
            1 or -1, as the branch has it [-].
        output : array, shape (...)
            Output angle at input angle 0 [rad].
        stretch : array, shape (...)
            A less C at input angle 0, where it is known better than from the weights [-].

        Returns
        -------
        Branch
            The branch, without ends.
        """
        turns, lean = winding(weights)
        endless = np.full(np.shape(sign), np.inf)
        nothing = np.zeros(np.shape(sign))
        bare = cls(
            weights,
            sign,
            turns,
            lean,
            offset=nothing,
            lower=-endless,
            upper=endless,
            fault=nothing.astype(np.int8),
            half=quadratics(weights, stretch, sign),
            steady=steady(weights),
        )
        values = weights.values(np.cos(nothing), np.sin(nothing))
        root = np.sqrt(np.maximum(discriminant(values), 0.0))
        return bare._replace(offset=np.rint((output - bare.output(nothing, values, root)) / _TURN))

    def output(
        self, angle: NDArray[np.float64], values: Values, root: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Output angle [rad] at input angles, from A, B, C and the discriminant's root there.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        values : Values
            A, B and C there [-].
        root : array, shape (...)
            Root of the discriminant there [-].

        Returns
        -------
        array, shape (...)
            Output angle, continuous with the start of the branch [rad].
        """
        towards = np.arctan2(values.b, values.a)
        nearest = self.lean + self.turns * angle
        whole_turns = np.rint((nearest - towards) / _TURN) + self.offset
        return np.asarray(towards + _TURN * whole_turns - self.sign * np.arctan2(root, values.c))

    def points(self, angle: NDArray[np.float64]) -> Points:
        """Points of the branch at finite input angles [rad], which broadcast with it.

        Parameters
        ----------
        angle : array, shape (...)
            Finite input angles [rad].

        Returns
        -------
        Points
            Output, root, closure and reason.
        """
        cosine, sine = np.cos(angle), np.sin(angle)
        values = self.weights.values(cosine, sine)
        square = discriminant(values)
        reason = self.reason(angle, values, square)
        root = np.sqrt(np.where(reason == VALID, square, np.nan))
        output = self.output(angle, values, root)
        rates = self.weights.rates(cosine, sine)
        return Points(output, np.asarray(self.sign * root), values, rates, reason)

    def reason(
        self, angle: NDArray[np.float64], values: Values, square: NDArray[np.float64]
    ) -> NDArray[np.int8]:
        """Reason at input angles [rad], from A, B, C and the discriminant there.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        values : Values
            A, B and C there [-].
        square : array, shape (...)
            Discriminant there [-].

        Returns
        -------
        array of int8, shape (...)
            One of the reasons of this module.
        """
        within = (angle > self.lower) & (angle < self.upper) & (square > 0.0)
        if within.all() and not self.fault.any():
            return np.zeros(within.shape, dtype=np.int8)
        open_ended = np.where(values.c > 0.0, LONGER, SHORTER)
        beyond = np.where(square >= 0.0, PAST, open_ended)
        reason = np.where(within, VALID, beyond)
        return np.where(self.fault != VALID, self.fault, reason).astype(np.int8)

    def part(self, axis: int, part: slice) -> Branch:
        """Range of the geometries along an axis, or all where there is one geometry.

        Parameters
        ----------
        axis : int
            Axis of the geometries, counted from the last.
        part : slice
            Of that axis.

        Returns
        -------
        Branch
            The same branch of fewer geometries.
        """
        rows = [along(row, axis, part, leading=1) for row in (*self.weights, *self.half)]
        numbers = {
            name: along(value, axis, part)
            for name, value in self._asdict().items()
            if name not in {"weights", "half"}
        }
        return Branch(weights=Weights(*rows[:3]), half=Quadratics(*rows[3:]), **numbers)


def closure_rate(values: Values, rates: Values, root: NDArray[np.float64]) -> NDArray[np.float64]:
    r"""Rate of change of the closure with the input angle, the output angle held.

    .. math:: F_x = A' \cos y + B' \sin y - C'

    with the cosine and sine of y from the closure itself.

    Parameters
    ----------
    values, rates : Values, arrays of shape (...)
        A, B, C and their rates with the input angle [-].
    root : array, shape (...)
        The discriminant's root with the branch's sign [-].

    Returns
    -------
    array, shape (...)
        F_x [-]; nan in gives nan out.

    Examples
    --------
    >>> one, nothing = np.array(1.0), np.array(0.0)
    >>> float(closure_rate(Values(one, one, one), Values(one, nothing, nothing), one))
    1.0
    """
    (a, b, c), (a1, b1, c1) = values, rates
    across = a1 * a + b1 * b
    around = a1 * b - b1 * a
    return np.asarray((across * c + around * root) / (a * a + b * b) - c1)


def blockwise(
    function: Callable[..., tuple[NDArray[Any], ...]],
    angle: NDArray[np.float64],
    branch: Branch,
    *others: Branch | NDArray[np.float64],
) -> tuple[NDArray[Any], ...]:
    """Evaluate in parts, so that the temporaries of each stay in a core's cache.

    Parameters
    ----------
    function : callable
        Takes what follows, or the same part of each, and returns arrays of the shape
        to which `angle` and `branch` broadcast.
    angle : array, shape (...)
        Input angles [rad].
    branch : Branch
        Geometries that broadcast with the angles.
    *others : Branch or array
        More of the shape of `branch`, or of one that broadcasts to it.

    Returns
    -------
    tuple of arrays
        What `function` returns for everything at once.
    """
    shape = np.broadcast_shapes(angle.shape, branch.sign.shape)
    if math.prod(shape) <= _BLOCK:
        return function(angle, branch, *others)
    axis, parts = cut(shape, _BLOCK)
    whole: tuple[NDArray[Any], ...] = ()
    for part in parts:
        pieces = function(
            along(angle, axis, part),
            *(
                other.part(axis, part) if isinstance(other, Branch) else along(other, axis, part)
                for other in (branch, *others)
            ),
        )
        whole = whole or tuple(np.empty(shape, dtype=piece.dtype) for piece in pieces)
        for target, piece in zip(whole, pieces, strict=True):
            along(target, axis, part)[...] = piece
    return whole


def cut(shape: tuple[int, ...], block: int) -> tuple[int, list[slice]]:
    """Cut a shape into parts along its longest axis.

    Parameters
    ----------
    shape : tuple of int
        Shape of what is to be evaluated.
    block : int
        Elements that a part should have at most, as far as one axis allows.

    Returns
    -------
    axis : int
        Axis that is cut, counted from the last.
    parts : list of slice
        Of that axis.

    Examples
    --------
    >>> cut((2, 10), 12)
    (-1, [slice(0, 6, None), slice(6, 12, None)])
    """
    length, size = max(shape), math.prod(shape)
    step = max(1, min(length, length * block // max(size, 1)))
    return shape.index(length) - len(shape), [
        slice(start, start + step) for start in range(0, length, step)
    ]


def along(array: NDArray[Any], axis: int, part: slice, leading: int = 0) -> NDArray[Any]:
    """View of a range along an axis, or of all where the array has one element there.

    Parameters
    ----------
    array : array, shape (...)
        What broadcasts with the shape that was cut.
    axis : int
        Counted from the last.
    part : slice
        Of that axis.
    leading : int, optional
        Axes of the array before those that broadcast.

    Returns
    -------
    array
        The view.

    Examples
    --------
    >>> along(np.arange(10.0).reshape(2, 5), -1, slice(3, 9)).tolist()
    [[3.0, 4.0], [8.0, 9.0]]
    """
    if array.ndim - leading < -axis or array.shape[axis] == 1:
        return array
    index: tuple[EllipsisType | slice, ...] = (..., part, *(slice(None),) * (-axis - 1))
    return array[index]
