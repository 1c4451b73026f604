r"""Dead centres: where the two ways of closing a loop meet.

The discriminant :math:`D = A^2 + B^2 - C^2` of a loop's closure is a trigonometric polynomial
of the second degree in the input angle, so there are four dead centres at most. As a
polynomial in :math:`u = \cot(x/2)` it is a quartic; its roots are the eigenvalues of a
companion matrix, and each is then polished on D itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.loop import Values, Weights, discriminant

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["TOUCH", "Ends", "Look", "ends", "look", "touch_tolerance"]

TOUCH = 1e-12
"""A discriminant below this share of its scale is zero [-]. The sine of the angle between horn
and rod is then below a millionth or so, less than the rounding of the dimensions can settle."""

_CLOSE = 1e-3  # zeros further apart than this never come out as a complex pair [rad]
_LONGEST_STEP = 0.1  # beyond it the parabola is no guide [rad]
_TURN = 2.0 * np.pi


class Ends(NamedTuple):
    """How far the input can go from zero before the first dead centre on either side.

    Attributes
    ----------
    lower, upper : array, shape (...)
        In [-2 pi, 0) and (0, 2 pi] [rad]; infinite where the input turns all the way round.
    lower_touches, upper_touches : array of bool, shape (...)
        Whether the discriminant only touches zero there: the loop closes on both sides.
    """

    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    lower_touches: NDArray[np.bool_]
    upper_touches: NDArray[np.bool_]


def touch_tolerance(values: Values) -> NDArray[np.float64]:
    """Discriminant that cannot be told from zero.

    Parameters
    ----------
    values : Values, arrays of shape (...)
        A, B and C, from weights whose magnitudes sum to one [-].

    Returns
    -------
    array, shape (...)
        `TOUCH` times the length of (A, B) [-]; nan in gives nan out.

    Examples
    --------
    >>> float(touch_tolerance(Values(np.array(0.3), np.array(0.4), np.array(0.1)))) / TOUCH
    0.5
    """
    return np.asarray(TOUCH * np.hypot(values.a, values.b))


def ends(weights: Weights) -> Ends:
    """First dead centre of the output arm on either side of input angle zero.

    Parameters
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of a loop that closes at zero, not at a dead centre; magnitudes sum to one [-].

    Returns
    -------
    Ends, arrays of shape (...)
        The two ends. Not defined for nan.

    Notes
    -----
    Where the discriminant comes within `TOUCH` of zero and turns back, the loop is taken to
    touch a dead centre there.

    Examples
    --------
    Equal arms on either side of a rod of two metres, all square to one another, may turn a
    quarter each way, until arms and rod lie in one line:

    >>> from linkcalc.mechanism.loop import closure
    >>> axis, arm = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])
    >>> weights, _ = closure(offset=np.array([-2.0, 0.0, 0.0]), input_axis=axis,
    ...     input_arm=arm, output_axis=axis, output_arm=arm, stretch=np.array(0.0))
    >>> [round(float(angle), 9) for angle in ends(weights)[:2]]
    [-1.570796327, 1.570796327]
    """
    angle, bend = _candidates(weights)
    angle = angle + look(weights, angle).step(bend != 0.0)
    seen = look(weights, angle)
    # A close pair of zeros may come out of the matrix as a complex pair: the vertex tells.
    missed = (bend != 0.0) & ~seen.touches & (seen.half_width > 0.0) & (seen.half_width < _CLOSE)
    angle = angle + seen.step(bend != 0.0) + np.where(missed, np.sign(bend) * seen.half_width, 0.0)
    return _nearest(np.mod(angle, _TURN), (bend == 0.0) | seen.touches | missed, seen.touches)


class Look(NamedTuple):
    """What the discriminant and its parabola at some angle say of the zeros nearby.

    Attributes
    ----------
    slope, curve : array, shape (...)
        First and second derivative of the discriminant [1/rad], [1/rad^2].
    to_zero, to_vertex : array, shape (...)
        From the angle to the tangent's zero and to the parabola's vertex, where that is
        near, else zero [rad].
    half_width : array, shape (...)
        From the vertex to the pair of zeros about it, or zero [rad].
    touches : array of bool, shape (...)
        Whether a vertex is near at which the discriminant cannot be told from zero.
    """

    slope: NDArray[np.float64]
    curve: NDArray[np.float64]
    to_zero: NDArray[np.float64]
    to_vertex: NDArray[np.float64]
    half_width: NDArray[np.float64]
    touches: NDArray[np.bool_]

    def step(self, complex_pair: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Return Newton's step [rad], to the vertex for a complex pair or where it touches.

        Parameters
        ----------
        complex_pair : array, shape (...)
            Whether the roots behind the angle are a complex pair.

        Returns
        -------
        array, shape (...)
            Step of the input angle [rad].
        """
        step = np.where(complex_pair | self.touches, self.to_vertex, self.to_zero)
        return np.where(np.abs(step) <= _LONGEST_STEP, step, 0.0)


def look(weights: Weights, angle: NDArray[np.float64]) -> Look:
    """Fit the parabola of the discriminant at input angles.

    Parameters
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of the loop; magnitudes sum to one [-].
    angle : array, shape (...)
        Input angles, which broadcast with the weights [rad].

    Returns
    -------
    Look, arrays of shape (...)
        What is seen there. Not defined for nan.

    Examples
    --------
    A closure with A = sin(x), B = 1 and C = 1 touches zero at x = 0 (weights not normalised):

    >>> weights = Weights(np.array([0.0, 1.0, 1.0]), np.zeros(3), np.array([1.0, 0.0, 0.0]))
    >>> seen = look(weights, np.array(0.0))
    >>> float(seen.slope), float(seen.curve), bool(seen.touches)
    (0.0, 2.0, True)
    """
    values, height, slope, curve = _derivatives(weights, angle)
    near = np.abs(slope) <= _LONGEST_STEP * np.abs(curve)
    to_vertex = np.where(near, _ratio(-slope, curve), 0.0)
    vertex = height + 0.5 * slope * to_vertex
    squared = np.where(near, -2.0 * _ratio(vertex, curve), 0.0)
    touches = near & (np.abs(vertex) <= touch_tolerance(values))
    return Look(
        slope, curve, _ratio(-height, slope), to_vertex, np.sqrt(np.maximum(squared, 0.0)), touches
    )


def _nearest(
    angle: NDArray[np.float64], found: NDArray[np.bool_], touches: NDArray[np.bool_]
) -> Ends:
    """Pick the first and the last of the dead centres within one turn."""
    first = np.where(found, angle, np.inf)
    last = np.where(found, angle, -np.inf)
    upper, lower = first.min(axis=0), last.max(axis=0)
    return Ends(
        np.asarray(lower - np.where(np.isfinite(lower), _TURN, 0.0)),
        np.asarray(upper),
        np.asarray((touches & (last == lower)).any(axis=0)),
        np.asarray((touches & (first == upper)).any(axis=0)),
    )


def _candidates(weights: Weights) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Input angles, shape (4, ...), and the imaginary parts of the roots behind them.

    The half-angle's pole is put where the discriminant is largest among five samples. The
    leading coefficient then is never small, so that the matrix is always well scaled.
    """
    mean, first, second = _harmonics(weights)
    samples = _TURN / 5.0 * np.arange(5.0).reshape((5,) + (1,) * mean.ndim)
    size = np.abs(mean + (first * np.exp(-1j * samples) + second * np.exp(-2j * samples)).real)
    pole = _TURN / 5.0 * size.argmax(axis=0)
    first, second = first * np.exp(-1j * pole), second * np.exp(-2j * pole)
    leading = mean + first.real + second.real
    leading = np.where(leading == 0.0, 1.0, leading)
    matrix = np.zeros((*mean.shape, 4, 4))
    matrix[..., 0, 0] = -(2.0 * first.imag + 4.0 * second.imag) / leading
    matrix[..., 0, 1] = -(2.0 * mean - 6.0 * second.real) / leading
    matrix[..., 0, 2] = -(2.0 * first.imag - 4.0 * second.imag) / leading
    matrix[..., 0, 3] = -(mean - first.real + second.real) / leading
    matrix[..., [1, 2, 3], [0, 1, 2]] = 1.0
    roots = np.moveaxis(np.linalg.eigvals(matrix), -1, 0)
    return pole + 2.0 * np.arctan2(1.0, roots.real), np.asarray(-np.imag(roots))


def _harmonics(
    weights: Weights,
) -> tuple[NDArray[np.float64], NDArray[np.complex128], NDArray[np.complex128]]:
    """Return mean, first and second harmonic of the discriminant, cosine + i sine parts."""
    constant, cosine, sine = weights
    mean = _signed(constant**2 + (cosine**2 + sine**2) / 2.0)
    first = _signed(2.0 * constant * (cosine + 1j * sine))
    second = _signed((cosine**2 - sine**2) / 2.0 + 1j * (cosine * sine))
    return mean.real, first, second


def _signed(squares: NDArray[np.float64] | NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Of A and B less of C."""
    return np.asarray(squares[0] + squares[1] - squares[2])


def _derivatives(
    weights: Weights, angle: NDArray[np.float64]
) -> tuple[Values, NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return A, B, C and the discriminant with its first and second derivative."""
    cosine, sine = np.cos(angle), np.sin(angle)
    values, rates = weights.values(cosine, sine), weights.rates(cosine, sine)
    (a, b, c), (a1, b1, c1) = values, rates
    a2, b2, c2 = (k - v for k, v in zip(weights.constant, values, strict=True))
    slope = 2.0 * (a * a1 + b * b1 - c * c1)
    curve = 2.0 * (a1 * a1 + b1 * b1 - c1 * c1 + a * a2 + b * b2 - c * c2)
    return values, discriminant(values), slope, curve


def _ratio(above: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.float64]:
    """Quotient, zero where there is nothing to divide by."""
    usable = np.abs(below) > np.finfo(np.float64).tiny ** 0.5
    return np.where(usable, above, 0.0) / np.where(usable, below, 1.0)
