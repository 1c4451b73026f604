"""How sure a sampled figure is: intervals for chances, means and quantiles."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["Chance", "Estimate", "chance_below", "clopper_pearson", "mean_of", "quantile_of"]


class Estimate(NamedTuple):
    """A figure with its interval of confidence.

    Attributes
    ----------
    value : float
        The figure.
    low, high : float
        Ends of the interval; infinite where the samples cannot bound it.
    """

    value: float
    low: float
    high: float


class Chance(NamedTuple):
    """The chance of an event with its interval of confidence.

    Attributes
    ----------
    chance, low, high : float
        The share of samples, and the interval [-].
    events, number : int
        Samples with the event, and samples.
    not_computed : int
        Samples that gave no number; each of them is counted as the event.
    method : str
        How the interval was found, and what it assumes.
    """

    chance: float
    low: float
    high: float
    events: int
    number: int
    not_computed: int
    method: str


EXACT = "exact binomial interval (Clopper and Pearson)"
OF_REPLICATES = "Student's t over independent replicates of the Sobol points"
FEW = (
    "binomial interval (Clopper and Pearson) as if the Sobol points were independent: too few "
    "of them differ for a spread over replicates"
)


def clopper_pearson(
    count: ArrayLike, number: ArrayLike, confidence: float = 0.95
) -> tuple[Floats, Floats]:
    """Return the exact interval of a binomial chance.

    Parameters
    ----------
    count, number : array_like
        Events and independent trials; they broadcast.
    confidence : float
        At least this often the interval holds the chance [-].

    Returns
    -------
    low, high : ndarray
        From quantiles of the beta distribution, half of what is left on either side; 0 and 1
        where nothing or everything was an event [-].

    Notes
    -----
    C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404 (from memory).

    Examples
    --------
    >>> low, high = clopper_pearson(0, 100)
    >>> float(low), round(float(high), 4), round(1 - 0.025 ** (1 / 100), 4)
    (0.0, 0.0362, 0.0362)
    """
    from scipy.special import betaincinv  # noqa: PLC0415 - loaded by whoever samples

    events, trials = np.asarray(count, dtype=float), np.asarray(number, dtype=float)
    left = trials - events
    tail = (1.0 - _share(confidence)) / 2.0
    low = np.where(events > 0, betaincinv(np.maximum(events, 1), left + 1, tail), 0.0)
    high = np.where(left > 0, betaincinv(events + 1, np.maximum(left, 1), 1 - tail), 1.0)
    return low, high


def chance_below(
    values: Floats, *, limit: float = 0.0, points: str = "sobol", confidence: float = 0.95
) -> Chance:
    """Return the chance that a sampled value is below a limit.

    Parameters
    ----------
    values : ndarray, shape (replicate, sample)
        What was sampled; nan counts as below: what cannot be computed is no pass.
    limit : float
        In the unit of the values.
    points : str
        ``"sobol"`` or ``"random"``: how the samples were drawn.
    confidence : float
        Of the interval [-].

    Returns
    -------
    Chance
        With the method that its interval is from.

    Notes
    -----
    For independent points the count is binomial and the interval exact. Sobol points are not
    independent; their replicates are, so the interval is Student's t over the replicates' shares. Where
    a replicate has no event, or nothing else, that spread means little, and the binomial
    interval stands in: wide, but an assumption.

    Examples
    --------
    >>> found = chance_below(np.array([[-1.0, 2.0, np.nan, 3.0]]), points="random")
    >>> found.chance, found.events, found.not_computed
    (0.5, 2, 1)
    """
    below = ~(values >= limit)
    count, number = int(below.sum()), below.size
    lost = int(np.isnan(values).sum())
    shares = below.mean(axis=1)
    if points == "random" or len(shares) < 2 or not ((shares > 0) & (shares < 1)).all():
        low, high = clopper_pearson(count, number, confidence)
        method = EXACT if points == "random" else FEW
        return Chance(count / number, float(low), float(high), count, number, lost, method)
    half = _half_width(shares, confidence)
    share = count / number
    ends = max(share - half, 0.0), min(share + half, 1.0)
    return Chance(share, *ends, count, number, lost, OF_REPLICATES)


def mean_of(estimates: Floats, confidence: float = 0.95) -> Estimate:
    """Return the mean of independent estimates with Student's interval.

    Parameters
    ----------
    estimates : ndarray, shape (replicate,)
        At least two.
    confidence : float
        Of the interval, exact where the estimates are normal [-].

    Returns
    -------
    Estimate
        The mean and its interval.

    Examples
    --------
    >>> [round(x, 3) for x in mean_of(np.array([1.0, 2.0, 3.0]))]
    [2.0, -0.484, 4.484]
    """
    if len(estimates) < 2:
        raise InputError(
            "estimates", told(f"{len(estimates)} of them"), "at least two", "Use more replicates."
        )
    middle, half = float(np.mean(estimates)), _half_width(estimates, confidence)
    return Estimate(middle, middle - half, middle + half)


def quantile_of(
    values: Floats, share: float, *, points: str = "sobol", confidence: float = 0.95
) -> Estimate:
    """Return a quantile of sampled values with its interval.

    Parameters
    ----------
    values : ndarray, shape (replicate, sample)
        What was sampled; nan counts as the least.
    share : float
        Of all values that lie below it, between 0 and 1 [-].
    points : str
        ``"sobol"`` or ``"random"``: how the samples were drawn.
    confidence : float
        Of the interval [-].

    Returns
    -------
    Estimate
        -inf where samples without a number reach up to it.

    Notes
    -----
    For independent points the interval lies between two of the sorted samples and holds whatever the
    distribution (H. A. David, Order statistics, 2.5, from memory); an end is infinite where
    there are too few samples. For Sobol points it is Student's t over the replicates' quantiles.

    Examples
    --------
    >>> quantile_of(np.arange(1.0, 101.0)[None], 0.5, points="random")
    Estimate(value=50.5, low=40.0, high=61.0)
    """
    kept = np.where(np.isnan(values), -np.inf, values)
    middle = float(_quantile(np.sort(kept, axis=None), share))
    if points == "random":
        return Estimate(middle, *_between_samples(np.sort(kept, axis=None), share, confidence))
    each = np.array([_quantile(np.sort(row), share) for row in kept])
    if len(each) < 2 or not np.isfinite(each).all():
        return Estimate(middle, -np.inf, np.inf)
    half = _half_width(each, confidence)
    return Estimate(middle, middle - half, middle + half)


def _quantile(ordered: Floats, share: float) -> float:
    """Return a quantile of sorted values that may be infinite, between the two next to it."""
    place = min(max(share * len(ordered) - 0.5, 0.0), len(ordered) - 1.0)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    part = place - below
    if part == 0 or ordered[below] == ordered[above]:
        return float(ordered[below])
    return float((1 - part) * ordered[below] + part * ordered[above])


def _between_samples(ordered: Floats, share: float, confidence: float) -> tuple[float, float]:
    from scipy.stats import binom  # noqa: PLC0415 - loaded by whoever samples

    tail, number = (1.0 - _share(confidence)) / 2.0, len(ordered)
    # the least place l with P(fewer than l samples below the quantile) <= tail, and so above
    low, high = int(binom.ppf(tail, number, share)), int(binom.ppf(1 - tail, number, share)) + 1
    return (
        float(ordered[low - 1]) if low >= 1 else -np.inf,
        float(ordered[high - 1]) if high <= number else np.inf,
    )


def _half_width(estimates: Floats, confidence: float) -> float:
    from scipy.special import stdtrit  # noqa: PLC0415 - loaded by whoever samples

    number = len(estimates)
    spread = float(np.std(estimates, ddof=1)) / math.sqrt(number)
    return float(stdtrit(number - 1, 0.5 + _share(confidence) / 2.0)) * spread


def _share(confidence: float) -> float:
    if not 0.5 <= confidence < 1:
        raise InputError(
            "confidence",
            confidence,
            "from 0.5 to below 1, such as 0.95",
            "Give the share of repeated studies that are to be right.",
        )
    return confidence
