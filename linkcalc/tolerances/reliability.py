"""Rare shortfalls: the design point, the first-order chance, and importance sampling around it.

In the space of independent standard normal scores the likeliest shortfall is the point of
the limit surface that is nearest to the origin. The first-order reliability method takes the
surface for a plane there; importance sampling then draws around it and takes nothing for
granted. Source: A. M. Hasofer and N. C. Lind, J. Eng. Mech. Div. ASCE 100 (1974) 111, with the
search of R. Rackwitz and B. Fiessler (1978) and a line search on a merit function after
Y. Zhang and A. Der Kiureghian (1995); from memory.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError
from linkcalc.tolerances.chances import Estimate, mean_of
from linkcalc.tolerances.points import Points
from linkcalc.tolerances.sensitivities import evaluated

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.tolerances.inputs import UncertainInputs
    from linkcalc.tolerances.sensitivities import Function

    Floats = NDArray[np.float64]
    Limit = Callable[[Floats], Floats]

__all__ = ["DesignPoint", "RareChance", "design_point", "rare_chance"]

FARTHEST = 9.0
"""No shortfall is sought farther out: its chance would be below 1e-18 [standard normal scores]."""

SHARE = 0.125
"""Of the points that are drawn around the stated values, so that no weight exceeds 8."""

_STEP = 1e-4
_ITERATIONS = 60


class DesignPoint(NamedTuple):
    """The likeliest shortfall.

    Attributes
    ----------
    distance : float
        From the origin, negative where the stated values themselves fall short; nan where none
        was found (Hasofer and Lind's reliability index) [-].
    scores : ndarray, shape (input,)
        Where it is, as independent standard normal scores [-].
    chance : float
        First-order chance of a shortfall [-].
    importance : ndarray, shape (input,)
        Squares of the direction cosines; they add to 1 [-].
    reason : str
        Why there is none, or empty.
    """

    distance: float
    scores: Floats
    chance: float
    importance: Floats
    reason: str


class RareChance(NamedTuple):
    """The chance of a rare shortfall.

    Attributes
    ----------
    first_order : DesignPoint
        The likeliest shortfall, and the first-order chance.
    values : dict of str to float
        The inputs there.
    sampled : Estimate or None
        By importance sampling, with the interval of its replicates; None without a design point [-].
    number : int
        Points it is from.
    """

    first_order: DesignPoint
    values: dict[str, float]
    sampled: Estimate | None
    number: int


def design_point(limit: Limit, dimensions: int) -> DesignPoint:
    """Search the likeliest point at which a function of scores falls below zero.

    Parameters
    ----------
    limit : callable
        From scores of shape (input, sample) to values of shape (sample,), negative for a
        shortfall.
    dimensions : int
        Inputs.

    Returns
    -------
    DesignPoint
        Of one limit surface; where there are several as near, one of them.

    Examples
    --------
    >>> found = design_point(lambda u: 3.0 - (u[0] + u[1]) / np.sqrt(2.0), 2)
    >>> round(found.distance, 9), round(found.chance / 1.349898e-3, 6)
    (3.0, 1.0)
    """
    here = np.zeros(dimensions)
    start, gradient = _value_and_gradient(limit, here)
    if not math.isfinite(start):
        return _nowhere(dimensions, "there is no number at the stated values")
    size = abs(start) or 1.0
    value = start
    for _ in range(_ITERATIONS):
        square = float(gradient @ gradient)
        if not (math.isfinite(value) and square > 0):
            return _nowhere(dimensions, _why_lost(here, value))
        aim = (gradient @ here - value) / square * gradient
        settled = np.linalg.norm(aim - here) < 1e-6 * (1.0 + np.linalg.norm(here))
        if settled and abs(value) < 1e-7 * size:
            return _found(here, gradient, start)
        before = here, value
        here, value, gradient = _stepped(limit, here, (value, gradient), aim)
        if _stuck(before, (here, value)):
            break
    if abs(value) < 1e-4 * size and np.linalg.norm(here) < FARTHEST:
        return _found(here, gradient, start)  # a kink keeps it from settling; sampling will tell
    return _nowhere(dimensions, f"no shortfall was found within {FARTHEST:g} standard scores")


def _stuck(before: tuple[Floats, float], now: tuple[Floats, float]) -> bool:
    """Tell whether the search goes on as far out as it may, and comes no nearer to the limit."""
    out = all(np.linalg.norm(here) > 0.999 * FARTHEST for here, _ in (before, now))
    return out and abs(now[1]) > 0.9 * abs(before[1])


def _why_lost(here: Floats, value: float) -> str:
    if not math.isfinite(value):
        return "the search came to where there is no number"
    if not here.any():
        return "the margin does not follow the inputs at the stated values"
    return "farther out no input moves the margin any more: they are at their bounds"


def _found(here: Floats, gradient: Floats, start: float) -> DesignPoint:
    from scipy.special import ndtr  # noqa: PLC0415 - loaded by whoever samples

    distance = math.copysign(float(np.linalg.norm(here)), start)
    importance = gradient**2 / float(gradient @ gradient)
    return DesignPoint(distance, here, float(ndtr(-distance)), importance, "")


def _nowhere(dimensions: int, reason: str) -> DesignPoint:
    nothing = np.full(dimensions, np.nan)
    return DesignPoint(math.nan, nothing, math.nan, nothing, reason)


def _stepped(
    limit: Limit, here: Floats, known: tuple[float, Floats], aim: Floats
) -> tuple[Floats, float, Floats]:
    """Go towards the aim as far as the merit, distance and distance from the limit, improves most."""
    value, gradient = known
    steps = 0.5 ** np.arange(12)
    candidates = here[:, None] + steps * (aim - here)[:, None]
    far = np.linalg.norm(candidates, axis=0)
    candidates = candidates * np.minimum(1.0, FARTHEST / np.maximum(far, 1e-300))
    weight = 2.0 * math.hypot(*here) / math.hypot(*gradient) + 10.0
    if value:
        weight = max(weight, 2.0 * float(aim @ aim) / abs(value))
    merit = 0.5 * np.sum(candidates**2, axis=0) + weight * np.abs(limit(candidates))
    best = int(np.argmin(np.where(np.isnan(merit), np.inf, merit)))
    there = candidates[:, best]
    return there, *_value_and_gradient(limit, there)


def _value_and_gradient(limit: Limit, here: Floats) -> tuple[float, Floats]:
    size = len(here)
    moves = _STEP * np.eye(size)
    found = limit(here[:, None] + np.concatenate([np.zeros((size, 1)), moves, -moves], axis=1))
    return float(found[0]), (found[1 : size + 1] - found[size + 1 :]) / (2.0 * _STEP)


def rare_chance(
    function: Function,
    inputs: UncertainInputs,
    output: str,
    *,
    limit: float = 0.0,
    number: int = 2**14,
    replicates: int = 16,
    seed: int = 1,
    confidence: float = 0.95,
) -> RareChance:
    """Return the chance that an output is below a limit, however rare.

    Parameters
    ----------
    function : callable
        From a mapping of arrays to one, element by element.
    inputs : UncertainInputs
        What varies.
    output : str
        Which output.
    limit : float
        In its unit.
    number : int
        Points of the importance sampling, all replicates together.
    replicates : int
        Independent ones, at least 2.
    seed : int
        Of the points.
    confidence : float
        Of the interval [-].

    Returns
    -------
    RareChance
        First-order and sampled.

    Notes
    -----
    Seven of eight points are drawn around the design point, the others around the stated
    values, and each is weighted by how much likelier it was made; so the estimate is unbiased
    whatever the limit surface. A second way to fall short, far from the design point and just as
    rare, is only seen by the eighth: it may be missed, and then the interval is too narrow.
    No number counts as a shortfall.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> two = UncertainInputs({"have": Normal(10.0, 1.0), "need": Normal(4.0, 1.0)})
    >>> found = rare_chance(lambda of: {"left": of["have"] - of["need"]}, two, "left")
    >>> f"{found.sampled.value:.3g}"
    '1.1e-05'
    """
    if replicates < 2 or number < 16 * replicates:
        raise InputError(
            "number", number, "16 points and more in each of 2 or more replicates", "Ask for more."
        )

    def margin(scores: Floats) -> Floats:
        return evaluated(function, inputs.values(scores), (output,))[output] - limit

    first = design_point(margin, len(inputs))
    if first.reason:
        return RareChance(first, {}, None, 0)
    each = number // replicates
    found = [
        _weighted(
            margin, first.scores, Points(len(inputs) + 1, seed=seed, replicate=replicate), each
        )
        for replicate in range(replicates)
    ]
    there = {name: float(at[0]) for name, at in inputs.values(first.scores[:, None]).items()}
    estimate = mean_of(np.array(found), confidence)
    kept = Estimate(estimate.value, max(estimate.low, 0.0), min(estimate.high, 1.0))
    return RareChance(first, there, kept, each * replicates)


def _weighted(margin: Limit, centre: Floats, points: Points, number: int) -> float:
    """Return the estimate of one replicate."""
    from scipy.special import ndtri  # noqa: PLC0415 - loaded by whoever samples

    scores = points.scores(0, number)
    around = np.where(scores[-1] < ndtri(SHARE), 0.0, centre[:, None])
    scores = scores[:-1] + around
    log_ratio = centre @ scores - 0.5 * float(centre @ centre)  # of both densities
    weight = 1.0 / (SHARE + (1.0 - SHARE) * np.exp(np.minimum(log_ratio, 700.0)))
    return float(np.mean(np.where(margin(scores) >= 0, 0.0, weight)))
