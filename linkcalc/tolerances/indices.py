"""Sobol indices: which share of an output's variance comes from which input.

First-order indices say what would be saved if an input were known, total ones what would be left if
all others were. Inputs that hang together are one factor, because their parts cannot be told
apart. Estimators: A. Saltelli et al., Computer Physics Communications 181 (2010) 259, table 2,
(b) for the first order and (f), Jansen's, for the total (from memory).
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.tolerances.points import Points
from linkcalc.tolerances.sensitivities import evaluated

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.tolerances.inputs import UncertainInputs
    from linkcalc.tolerances.sensitivities import Function

    Floats = NDArray[np.float64]

__all__ = ["Indices", "sobol_indices"]

LEAST = 64
"""Points below which there are no indices."""


class Indices(NamedTuple):
    """Shares of an output's variance by factor.

    Attributes
    ----------
    factors : tuple of tuple of str
        Inputs that share scores, each set once.
    first, total : ndarray, shape (factor,)
        First-order and total indices; nan where samples gave no number or nothing varies [-].
    first_interval, total_interval : ndarray, shape (factor, 2)
        By bootstrap over the samples [-].
    number : int
        Points; fewer than were asked for where the keyboard stopped it.
    reason : str
        Why there are none, or empty.
    """

    factors: tuple[tuple[str, ...], ...]
    first: Floats
    total: Floats
    first_interval: Floats
    total_interval: Floats
    number: int
    reason: str

    @property
    def evaluations(self) -> int:
        """How often the function was evaluated: for every point once for each factor, and twice."""
        return self.number * (len(self.factors) + 2)


def sobol_indices(
    function: Function,
    inputs: UncertainInputs,
    outputs: tuple[str, ...] = (),
    *,
    number: int = 2**12,
    seed: int = 1,
    confidence: float = 0.95,
    resamples: int = 200,
    block: int = 2**16,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Indices]:
    """Return first-order and total Sobol indices of every output.

    Parameters
    ----------
    function : callable
        From a mapping of arrays to one, element by element.
    inputs : UncertainInputs
        What varies.
    outputs : tuple of str
        Which; left out, all.
    number : int
        Points, from 64; best a power of two.
    seed : int
        Of points and bootstrap.
    confidence : float
        Of the intervals [-].
    resamples : int
        Of the bootstrap.
    block : int
        Evaluations at once, about; it changes no digit.
    progress : callable, optional
        Told how many evaluations are done, and of how many.

    Returns
    -------
    dict of str to Indices
        By output.

    Raises
    ------
    InputError
        There are too few points, or the function returns something else than one value for each.
    KeyboardInterrupt
        It was stopped before there were 64 points; later, what is done is returned.

    Notes
    -----
    The intervals are those of a normal distribution with the spread of bootstrap resamples. These
    take the points for independent, which Sobol points are not: the intervals are rather too wide.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> two = UncertainInputs({"a": Normal(0.0, 1.0), "b": Normal(0.0, 2.0)})
    >>> found = sobol_indices(lambda of: {"sum": of["a"] + of["b"]}, two)["sum"]
    >>> found.total.round(2).tolist()
    [0.2, 0.8]
    """
    if number < LEAST:
        raise InputError("number", number, f"at least {LEAST} points", "Ask for more.")
    _normal(confidence)  # refused before the work
    told_done = progress or (lambda *_: None)
    kept: list[dict[str, Floats]] = []
    points, each = Points(2 * len(inputs), seed=seed), len(inputs.factors) + 2
    edges = [*range(0, number, max(block // each, 1)), number]
    try:
        for start, stop in itertools.pairwise(edges):
            kept.append(_stretch(function, inputs, outputs, points.scores(start, stop)))
            told_done(stop * each, number * each)
    except KeyboardInterrupt:
        if edges[len(kept)] < LEAST:
            raise
    named = tuple(tuple(inputs.names[place] for place in factor) for factor in inputs.factors)
    return {
        name: _indices(
            named,
            np.concatenate([found[name] for found in kept], axis=1),
            (seed, confidence, resamples),
        )
        for name in kept[0]
    }


def _stretch(
    function: Function, inputs: UncertainInputs, outputs: tuple[str, ...], both: Floats
) -> dict[str, Floats]:
    """Return every output at some points, at others, and with one factor at a time from the others.

    Its shape is (factor + 2, point).
    """
    one, other = np.split(both, 2)
    scores = [one, other]
    for factor in inputs.factors:
        scores.append(one.copy())
        scores[-1][list(factor)] = other[list(factor)]
    found = evaluated(function, inputs.values(np.concatenate(scores, axis=1)), outputs)
    return {name: value.reshape(len(scores), -1) for name, value in found.items()}


def _indices(
    factors: tuple[tuple[str, ...], ...],
    values: Floats,
    how: tuple[int, float, int],
) -> Indices:
    seed, confidence, resamples = how
    one, other, mixed = values[0], values[1], values[2:]
    reason = _reason(one, other, mixed)
    none = np.full(len(factors), np.nan)
    if reason:
        pair = np.stack([none, none], axis=1)
        return Indices(factors, none, none, pair, pair, len(one), reason)
    first, total = _estimates(one, other, mixed)
    generator = np.random.default_rng((seed, len(one)))
    drawn = []
    for _ in range(resamples):
        pick = generator.integers(0, len(one), len(one))
        drawn.append(_estimates(one[pick], other[pick], mixed[:, pick]))
    spread = np.std(np.array(drawn), axis=0, ddof=1)  # (first or total, factor)
    half = spread * _normal(confidence)
    ends = np.array([-1.0, 1.0])
    return Indices(
        factors,
        first,
        total,
        first[:, None] + half[0][:, None] * ends,
        total[:, None] + half[1][:, None] * ends,
        len(one),
        "",
    )


def _estimates(one: Floats, other: Floats, mixed: Floats) -> tuple[Floats, Floats]:
    """Return first-order (Saltelli 2010) and total (Jansen 1999) indices."""
    variance = np.var(np.concatenate([one, other]))
    centre = np.mean(one)  # changes no expectation, and takes noise off the products
    first = np.mean((other - centre) * (mixed - one), axis=1) / variance
    total = np.mean((one - mixed) ** 2, axis=1) / (2.0 * variance)
    return first, total


def _reason(one: Floats, other: Floats, mixed: Floats) -> str:
    every = np.concatenate([one, other, mixed.ravel()])
    lost = int((~np.isfinite(every)).sum())
    if lost:
        return f"{lost} of {every.size} evaluations gave no finite number"
    return "" if np.ptp(one) > 0 else "nothing varies"


def _normal(confidence: float) -> float:
    from scipy.special import ndtri  # noqa: PLC0415 - loaded by whoever samples

    if not 0.5 <= confidence < 1:
        raise InputError(
            "confidence",
            told(f"{confidence:g}"),
            "from 0.5 to below 1, such as 0.95",
            "Give the share of repeated studies that are to be right.",
        )
    return float(ndtri(0.5 + confidence / 2.0))
