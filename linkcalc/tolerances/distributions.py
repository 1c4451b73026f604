"""Distributions of uncertain inputs, each as a map from standard normal scores to values.

A score of 0 is the median, 1 is what a standard normal variable exceeds as seldom. All
that samples, searches and correlates works on scores, so that no distribution needs more
than its quantile, and tails keep their digits on both sides.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Protocol

import numpy as np

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Distribution", "Normal", "Triangular", "Truncated", "Uniform", "of_tolerance"]


class Distribution(Protocol):
    """What an uncertain input has to be."""

    @property
    def middle(self) -> float:
        """The stated value."""

    @property
    def mean(self) -> float:
        """The expectation."""

    @property
    def standard_deviation(self) -> float:
        """The standard uncertainty."""

    def lower(self, value: float) -> float:
        """Return the chance of less than a value.

        Parameters
        ----------
        value : float
            In the unit of the input.

        Returns
        -------
        float
            From 0 to 1 [-].
        """

    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance.

        Parameters
        ----------
        chance : ndarray
            From 0 to 1; small ones keep their digits [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """

    def at_score(self, score: Floats) -> Floats:
        """Return the value of a standard normal score.

        Parameters
        ----------
        score : ndarray
            Any [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """


class _Symmetric(ABC):
    """What distributions that are alike on both sides of their middle share."""

    middle: float

    @property
    def mean(self) -> float:
        """The expectation: the middle."""
        return self.middle

    @abstractmethod
    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance."""

    def at_score(self, score: Floats) -> Floats:
        """Return the value of a standard normal score, equally exact on both sides.

        Parameters
        ----------
        score : ndarray
            Any [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        from scipy.special import ndtr  # noqa: PLC0415 - loaded by whoever samples

        below: Floats = self.at_lower(ndtr(-np.abs(score)))
        mirrored: Floats = 2.0 * self.middle - below
        return np.where(score > 0, mirrored, below)


class Uniform(_Symmetric):
    """As likely everywhere between two bounds (GUM 4.3.7, from memory).

    Parameters
    ----------
    middle : float
        Half way between the bounds.
    half_width : float
        From the middle to either bound, more than zero.

    Examples
    --------
    >>> round(Uniform(12.0, 0.3).standard_deviation, 6)
    0.173205
    """

    def __init__(self, middle: float, half_width: float) -> None:
        self.middle, self.half_width = middle, _width(half_width)

    @property
    def standard_deviation(self) -> float:
        """Half the width over the root of 3 (GUM 4.3.7, from memory)."""
        return self.half_width / math.sqrt(3.0)

    def lower(self, value: float) -> float:
        """Return the chance of less than a value.

        Parameters
        ----------
        value : float
            In the unit of the input.

        Returns
        -------
        float
            From 0 to 1 [-].
        """
        return min(max(0.5 + (value - self.middle) / (2.0 * self.half_width), 0.0), 1.0)

    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance.

        Parameters
        ----------
        chance : ndarray
            From 0 to 1; small ones keep their digits [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        made: Floats = self.middle + self.half_width * (2.0 * chance - 1.0)
        return made


class Triangular(_Symmetric):
    """Likeliest in the middle, falling on straight lines to zero at two bounds.

    Parameters
    ----------
    middle : float
        Half way between the bounds.
    half_width : float
        From the middle to either bound, more than zero.

    Examples
    --------
    >>> round(Triangular(12.0, 0.3).standard_deviation, 6)
    0.122474
    """

    def __init__(self, middle: float, half_width: float) -> None:
        self.middle, self.half_width = middle, _width(half_width)

    @property
    def standard_deviation(self) -> float:
        """Half the width over the root of 6 (GUM 4.3.9, from memory)."""
        return self.half_width / math.sqrt(6.0)

    def lower(self, value: float) -> float:
        """Return the chance of less than a value.

        Parameters
        ----------
        value : float
            In the unit of the input.

        Returns
        -------
        float
            From 0 to 1 [-].
        """
        place = min(max((value - self.middle) / self.half_width, -1.0), 1.0)
        tail = (1.0 - abs(place)) ** 2 / 2.0
        return 1.0 - tail if place > 0 else tail

    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance.

        Parameters
        ----------
        chance : ndarray
            From 0 to 1; small ones keep their digits [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        beyond = np.where(chance > 0.5, 1.0 - chance, chance)
        place = np.sqrt(2.0 * beyond) - 1.0
        made: Floats = self.middle + self.half_width * np.where(chance > 0.5, -place, place)
        return made


class Normal(_Symmetric):
    """The normal distribution.

    Parameters
    ----------
    middle : float
        Its mean.
    standard_deviation : float
        More than zero.

    Examples
    --------
    >>> Normal(10.0, 2.0).at_score(np.array([-1.0, 0.0, 3.0])).tolist()
    [8.0, 10.0, 16.0]
    """

    def __init__(self, middle: float, standard_deviation: float) -> None:
        self.middle, self.standard_deviation = middle, _width(standard_deviation)

    def lower(self, value: float) -> float:
        """Return the chance of less than a value.

        Parameters
        ----------
        value : float
            In the unit of the input.

        Returns
        -------
        float
            From 0 to 1 [-].
        """
        return 0.5 * math.erfc((self.middle - value) / (self.standard_deviation * math.sqrt(2.0)))

    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance.

        Parameters
        ----------
        chance : ndarray
            From 0 to 1; small ones keep their digits [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        from scipy.special import ndtri  # noqa: PLC0415 - loaded by whoever samples

        made: Floats = self.middle + self.standard_deviation * ndtri(chance)
        return made

    def at_score(self, score: Floats) -> Floats:
        """Return the value of a standard normal score.

        Parameters
        ----------
        score : ndarray
            Any [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        made: Floats = self.middle + self.standard_deviation * score
        return made


class Truncated:
    """Another distribution without what lies below a bound.

    Parameters
    ----------
    whole : Uniform, Triangular or Normal
        Of which a part is left out.
    least : float
        The bound, below the middle of the whole.

    Raises
    ------
    InputError
        The bound is not below the middle.

    Notes
    -----
    What is left is scaled up, as a physical bound such as a length of zero asks.

    Examples
    --------
    >>> short = Truncated(Normal(1.0, 1.0), 0.0)
    >>> bool((short.at_score(np.linspace(-6, 6, 7)) > 0).all())
    True
    """

    def __init__(self, whole: Uniform | Triangular | Normal, least: float) -> None:
        if not least < whole.middle:
            raise InputError(
                "least", least, f"a bound below the middle of {whole.middle:g}", "Check the value."
            )
        self.whole, self.least = whole, least
        self.left_out = whole.lower(least)

    @property
    def middle(self) -> float:
        """The stated value, which is that of the whole."""
        return self.whole.middle

    @property
    def mean(self) -> float:
        """The expectation of what is left, by quadrature over the scores."""
        return _moments(self)[0]

    @property
    def standard_deviation(self) -> float:
        """The standard deviation of what is left, by quadrature over the scores."""
        return _moments(self)[1]

    def lower(self, value: float) -> float:
        """Return the chance of less than a value.

        Parameters
        ----------
        value : float
            In the unit of the input.

        Returns
        -------
        float
            From 0 to 1 [-].
        """
        return max(self.whole.lower(value) - self.left_out, 0.0) / (1.0 - self.left_out)

    def at_lower(self, chance: Floats) -> Floats:
        """Return the value below which it lies with some chance.

        Parameters
        ----------
        chance : ndarray
            From 0 to 1; small ones keep their digits [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        share = self.left_out + (1.0 - self.left_out) * chance
        return np.maximum(self.whole.at_lower(share), self.least)

    def at_score(self, score: Floats) -> Floats:
        """Return the value of a standard normal score, the upper tail from above.

        Parameters
        ----------
        score : ndarray
            Any [-].

        Returns
        -------
        ndarray
            In the unit of the input.
        """
        from scipy.special import ndtr  # noqa: PLC0415 - loaded by whoever samples

        above = (1.0 - self.left_out) * ndtr(-score)
        upper: Floats = 2.0 * self.whole.middle - self.whole.at_lower(np.minimum(above, 0.5))
        return np.where(above < 0.5, upper, self.at_lower(ndtr(score)))


def of_tolerance(
    middle: float, tolerance: float, *, spread: str = "uniform", multiple: float = 0.0
) -> Uniform | Triangular | Normal:
    """Return the distribution that a stated tolerance means.

    Parameters
    ----------
    middle : float
        The stated value.
    tolerance : float
        More than zero, in the same unit.
    spread : str
        ``"uniform"``, ``"triangular"`` or ``"normal"``.
    multiple : float
        Standard deviations that a normal tolerance stands for [-].

    Returns
    -------
    Uniform, Triangular or Normal
        Around the middle.

    Examples
    --------
    >>> of_tolerance(12.0, 0.3, spread="normal", multiple=2.0).standard_deviation
    0.15
    """
    if spread == "normal":
        if not multiple > 0:
            raise InputError(
                "multiple",
                multiple,
                "more than zero, such as 2",
                "Say how many standard deviations the tolerance stands for.",
            )
        return Normal(middle, tolerance / multiple)
    if spread == "triangular":
        return Triangular(middle, tolerance)
    if spread == "uniform":
        return Uniform(middle, tolerance)
    raise InputError(
        "spread", spread, "'uniform', 'triangular' or 'normal'", "Choose one of these words."
    )


def _width(value: float) -> float:
    if not (math.isfinite(value) and value > 0):
        raise InputError(
            "tolerance",
            told(f"{value!r}"),
            "more than zero, and finite",
            "Leave out what is certain; give a tolerance without a sign.",
        )
    return value


def _moments(distribution: Truncated) -> tuple[float, float]:
    """Return mean and standard deviation by the trapezoidal rule over the scores.

    Between -8.5 and 8.5 in steps of 1/64 it is exact to rounding for smooth integrands.
    """
    score = np.arange(-544, 545) / 64.0
    weight = np.exp(-0.5 * score**2)
    weight /= weight.sum()
    value = distribution.at_score(score)
    mean = float(weight @ value)
    return mean, math.sqrt(float(weight @ (value - mean) ** 2))
