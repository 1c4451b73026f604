"""Vectors with their three components on the first axis.

The faces of the kernels take vectors with the components last, as people write them.
Inside, the components come first: each is then one array of the geometry's own shape
that broadcasts with angles as it stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["cross", "dot", "length"]


def dot(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Scalar product.

    Parameters
    ----------
    first, second : array, shape (3, ...)
        Vectors [any units].

    Returns
    -------
    array, shape (...)
        Their scalar product [product of the units]; nan in gives nan out.

    Examples
    --------
    >>> float(dot(np.array([1.0, 2.0, 3.0]), np.array([4.0, 5.0, 6.0])))
    32.0
    """
    return np.asarray(first[0] * second[0] + first[1] * second[1] + first[2] * second[2])


def cross(
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    out: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Vector product, right-handed.

    Parameters
    ----------
    first, second : array, shape (3, ...)
        Vectors [any units].
    out : array, shape (3, ...), optional
        Where to put it.

    Returns
    -------
    array, shape (3, ...)
        Their vector product [product of the units]; nan in gives nan out.

    Examples
    --------
    >>> cross(np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])).tolist()
    [0.0, 0.0, 1.0]
    """
    result = np.empty(np.broadcast_shapes(first.shape, second.shape)) if out is None else out
    for row in range(3):  # the indices wrap round: -2 is 1, -1 is 2
        result[row] = first[row - 2] * second[row - 1] - first[row - 1] * second[row - 2]
    return result


def length(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    """Euclidean length.

    Parameters
    ----------
    vector : array, shape (3, ...)
        Vectors whose squares neither overflow nor vanish [any unit].

    Returns
    -------
    array, shape (...)
        Their lengths [same unit]; nan in gives nan out.

    Examples
    --------
    >>> float(length(np.array([2.0, 3.0, 6.0])))
    7.0
    """
    return np.asarray(np.sqrt(dot(vector, vector)))
