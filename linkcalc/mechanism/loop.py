r"""Closure of a loop: an arm and a horn on two fixed axes, joined by a rod.

With p the vector from the hinge pivot to the tip of the arm and q the vector from there to
the tip of the horn, the rod keeps its length L while :math:`|p - q| = L`. p turns with the
input angle x, q with the output angle y, and writing q out in y gives

.. math:: A(x) \cos y + B(x) \sin y = C(x),

where A, B and C are each a constant, a cosine and a sine of x: nine weights. Everything else
about the loop follows from them, for arms in one plane and for arms in space alike. The
left side less the right one is called F; it is half of :math:`L^2 - |p - q|^2`.

References
----------
.. [1] J. J. Uicker, G. R. Pennock and J. E. Shigley, Theory of Machines and Mechanisms
   (from memory; the loop of two revolute and two spherical joints is treated there by
   the same constant-distance equation).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.vectors import cross, dot

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Values", "Weights", "closure", "discriminant", "winding"]


class Values(NamedTuple):
    """What the closure's coefficients are at some input angles.

    Attributes
    ----------
    a, b, c : array, shape (...)
        A, B and C of the closure [unit of the weights].
    """

    a: NDArray[np.float64]
    b: NDArray[np.float64]
    c: NDArray[np.float64]


class Weights(NamedTuple):
    """The nine numbers that say what a loop does.

    Attributes
    ----------
    constant, cosine, sine : array, shape (3, ...)
        Weights of 1, cos(x) and sin(x) in A, B and C, in this order [any one unit].
    """

    constant: NDArray[np.float64]
    cosine: NDArray[np.float64]
    sine: NDArray[np.float64]

    def values(self, cosine: NDArray[np.float64], sine: NDArray[np.float64]) -> Values:
        """Return A, B and C where the input angle has this cosine and sine [unit of the weights].

        Parameters
        ----------
        cosine, sine : array, shape (...)
            Of the input angles [-].

        Returns
        -------
        Values
            A, B and C [unit of the weights].
        """
        return Values(*(k + p * cosine + r * sine for k, p, r in zip(*self, strict=True)))

    def rates(self, cosine: NDArray[np.float64], sine: NDArray[np.float64]) -> Values:
        """Return A, B and C differentiated by the input angle [unit of the weights per rad].

        Parameters
        ----------
        cosine, sine : array, shape (...)
            Of the input angles [-].

        Returns
        -------
        Values
            Their rates [unit of the weights per rad].
        """
        return Values(*(r * cosine - p * sine for p, r in zip(*self[1:], strict=True)))

    def shifted(self, start: NDArray[np.float64]) -> Weights:
        """Return the weights of the same loop, its input angle counted from `start` [rad].

        Parameters
        ----------
        start : array, shape (...)
            Input angle that becomes zero [rad].

        Returns
        -------
        Weights
            Of the same loop.
        """
        cosine, sine = np.cos(start), np.sin(start)
        return Weights(
            self.constant,
            self.cosine * cosine + self.sine * sine,
            self.sine * cosine - self.cosine * sine,
        )


def closure(
    *,
    offset: NDArray[np.float64],
    input_axis: NDArray[np.float64],
    input_arm: NDArray[np.float64],
    output_axis: NDArray[np.float64],
    output_arm: NDArray[np.float64],
    stretch: NDArray[np.float64],
) -> tuple[Weights, NDArray[np.float64]]:
    r"""Weights of a loop's closure.

    Parameters
    ----------
    offset : array, shape (3, ...)
        From the output's pivot to the input's [m].
    input_axis, output_axis : array, shape (3, ...)
        Unit vectors; angles are right-handed about them [-].
    input_arm, output_arm : array, shape (3, ...)
        From each pivot to its joint where both angles are zero [m].
    stretch : array, shape (...)
        :math:`(L^2 - L_0^2)/2` of the rod's length L and of the length :math:`L_0` with
        which the loop closes where both angles are zero [m^2].

    Returns
    -------
    weights : Weights, arrays of shape (3, ...)
        Divided by the sum of their magnitudes, so that each is one at most [-].
    unit : array, shape (...)
        What they were divided by [m^2]; nan in gives nan out.

    Notes
    -----
    Exact. C is built up from its difference to A at zero, where a rod that is far longer
    than the arms would otherwise cost digits.

    Examples
    --------
    Two arms of one metre, square to a rod of two:

    >>> axis, arm = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])
    >>> weights, unit = closure(offset=np.array([-2.0, 0.0, 0.0]), input_axis=axis,
    ...     input_arm=arm, output_axis=axis, output_arm=arm, stretch=np.array(0.0))
    >>> (weights.constant * unit).tolist()  # of A, B and C
    [0.0, 2.0, 1.0]
    """
    along = input_axis * dot(input_axis, input_arm)
    centre = offset + along
    height = output_axis * dot(output_axis, output_arm)
    parts = (centre, input_arm - along, cross(input_axis, input_arm))
    towards = (output_arm - height, cross(output_axis, output_arm), centre - height)
    table = np.empty((3, 3, *stretch.shape))
    for row, part in zip(table, parts, strict=True):
        for column, direction in enumerate(towards):
            row[column] = dot(part, direction)
    table[0, 2] = table[0, 0] + table[1, 0] - table[1, 2] - stretch
    unit = np.abs(table).sum(axis=(0, 1))
    table /= np.where(unit > 0.0, unit, 1.0)
    return Weights(*table), unit


def discriminant(values: Values) -> NDArray[np.float64]:
    r"""Quantity under the root of the closure's solution: :math:`A^2 + B^2 - C^2`.

    Parameters
    ----------
    values : Values, arrays of shape (...)
        A, B and C [-].

    Returns
    -------
    array, shape (...)
        More than zero where the loop closes in two ways, zero at a dead centre of the
        output arm, negative where the loop does not close [-]. It is the square of the
        closure's rate of change with the output angle. nan in gives nan out.

    Examples
    --------
    >>> float(discriminant(Values(np.array(3.0), np.array(4.0), np.array(5.0))))
    0.0
    """
    # In this order nothing cancels where A and C are equal, which is at neutral.
    return np.asarray(values.b * values.b + (values.a - values.c) * (values.a + values.c))


def winding(weights: Weights) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""How the direction of (A, B) goes round while the input arm does.

    Seen in the complex plane, A + iB runs along an ellipse

    .. math:: A + iB = \alpha z + \beta + \gamma / z
              = \alpha (z - z_1)(z - z_2) / z, \qquad z = e^{ix}.

    A root within the unit circle turns its factor with z, a root outside does not. What
    is left of each factor stays within a right angle of one direction. The direction of
    (A, B) is therefore always the one that lies nearest to `lean` + `turns` x.

    Parameters
    ----------
    weights : Weights, arrays of shape (3, ...)
        Of the loop [-].

    Returns
    -------
    turns : array, shape (...)
        Full turns of the direction for one turn of the input: -1, 0 or 1 [-].
    lean : array, shape (...)
        Mean direction, in (-pi, pi] [rad]; nan in gives nan out.

    Examples
    --------
    With the output's pivot inside the circle of the input's joint the direction goes round:

    >>> axis = np.array([0.0, 0.0, 1.0])
    >>> weights, _ = closure(offset=np.array([0.5, 0.0, 0.0]), input_axis=axis,
    ...     input_arm=np.array([1.0, 0.0, 0.0]), output_axis=axis,
    ...     output_arm=np.array([0.0, 1.0, 0.0]), stretch=np.array(0.0))
    >>> float(winding(weights)[0])
    1.0
    """
    constant, cosine, sine = (row[0] + 1j * row[1] for row in weights)
    with_z, against_z = (cosine - 1j * sine) / 2, (cosine + 1j * sine) / 2
    root = np.sqrt(constant**2 - 4 * with_z * against_z)
    same_way = (constant.conj() * root).real >= 0.0
    larger = -(constant + np.where(same_way, root, -root)) / 2  # alpha times the larger root
    both_inside = np.abs(larger) < np.abs(with_z)
    both_outside = np.abs(against_z) > np.abs(larger)
    mean = np.where(both_inside, with_z, np.where(both_outside, against_z, -larger))
    turns = both_inside.astype(np.float64) - (both_outside & ~both_inside)
    return turns, np.asarray(np.angle(mean))
