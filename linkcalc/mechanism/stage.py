"""What every stage of a linkage answers, whatever it is made of.

A stage turns the angle of one body about its axis into the angle of the next: servo arm, perhaps
bellcranks, surface. Both are zero at neutral and right-handed about their own axis. `sense` is the
sign of the external moment on the output; only cables, which can but pull, look at it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from linkcalc.mechanism.ready import Limits

    Floats = NDArray[np.float64]

__all__ = ["BENT", "REASONS", "SLACK", "Hold", "Motion", "Stage", "Turn", "no_members"]

BENT, SLACK = 5, 6

REASONS = (
    "valid",
    "the rod or cable would have to be longer",
    "the rod or cable would have to be shorter",
    "beyond a dead centre",
    "no geometry: not finite, no length, no axis, a joint on its axis, or open at neutral",
    "a joint is bent beyond its limit",
    "a cable would have to push",
)
"""What the reasons mean: those of `linkcalc.mechanism.branch`, and those that a chain adds."""


class Motion(NamedTuple):
    """Where the output is; nan where `reason` is not 0.

    Attributes
    ----------
    output_angle : array, shape (...)
        From neutral [rad].
    slope : array, shape (...)
        Its rate with the input angle [-]: times it, the external moment on the output is one on
        the input.
    reason : array of int8, shape (...)
        Index into `REASONS`.
    """

    output_angle: Floats
    slope: Floats
    reason: NDArray[np.int8]


class Turn(NamedTuple):
    """Where the input has to be; nan where `reason` is not 0.

    Attributes
    ----------
    input_angle : array, shape (...)
        From neutral [rad].
    reason : array of int8, shape (...)
        Index into `REASONS`.
    """

    input_angle: Floats
    reason: NDArray[np.int8]


class Hold(NamedTuple):
    """How the members of a stage hold the output against a moment.

    Attributes
    ----------
    names : tuple of str
        Of the members, in the order of the first axis of the arrays; none in a torque rod.
    tension : array, shape (member, ...)
        Force in each, tension positive [N].
    direction : array, shape (member, ..., 3)
        Unit vector from its joint on the output to that on the input [-]: a tension pulls the
        output along it and the input against it.
    transmission : array, shape (...)
        Sine of the angle between the way of the output's joint and the plane square to the rod:
        1 is best, 0 a dead centre of the output [-].
    bent : array, shape (2, ...)
        Lean of the joints on input and output, out of the planes square to their pins [rad].
    """

    names: tuple[str, ...]
    tension: Floats
    direction: Floats
    transmission: Floats
    bent: Floats


class Stage(Protocol):
    """What a chain asks of a stage.

    Attributes
    ----------
    input_axis, output_axis : array, shape (..., 3)
        Axes of the two bodies; need not be unit vectors.
    """

    @property
    def input_axis(self) -> Floats:
        """Axis of the input body."""

    @property
    def output_axis(self) -> Floats:
        """Axis of the output body."""

    def solve(self, angle: ArrayLike, sense: ArrayLike = 1.0) -> Motion:
        """Output angle and slope.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        sense : array, shape (...), optional
            Sign of the external moment on the output [-].

        Returns
        -------
        Motion
            nan beside a reason.
        """

    def invert(self, output_angle: ArrayLike, sense: ArrayLike = 1.0) -> Turn:
        """Input angle on the branch from neutral.

        Parameters
        ----------
        output_angle : array, shape (...)
            Output angles [rad].
        sense : array, shape (...), optional
            Sign of the external moment on the output [-].

        Returns
        -------
        Turn
            nan beside a reason.
        """

    def limits(self) -> Limits:
        """How far the input can turn either way.

        Returns
        -------
        Limits
            Negative side first, and what ends it.
        """

    def hold(self, angle: ArrayLike, moment: ArrayLike) -> Hold:
        """Forces in the members.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        moment : array, shape (...)
            External moment on the output [N m].

        Returns
        -------
        Hold
            Tensions, directions, and how the joints lean.
        """


def no_members(shape: tuple[int, ...]) -> Hold:
    """What holds in a stage that has neither rods nor cables.

    Parameters
    ----------
    shape : tuple of int
        Of angles and moments.

    Returns
    -------
    Hold
        Without members; nothing leans, nothing comes near a dead centre.

    Examples
    --------
    >>> no_members((2,)).tension.shape
    (0, 2)
    """
    return Hold(
        (), np.empty((0, *shape)), np.empty((0, *shape, 3)), np.ones(shape), np.zeros((2, *shape))
    )
