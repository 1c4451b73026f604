"""A tolerance study of any function of arrays: sampled until it is sure enough."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError
from linkcalc.tolerances.chances import Chance, Estimate, chance_below, mean_of, quantile_of
from linkcalc.tolerances.points import Points
from linkcalc.tolerances.sensitivities import (
    HALVINGS,
    Sensitivity,
    evaluated,
    parting,
    sensitivities,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from linkcalc.tolerances.inputs import UncertainInputs
    from linkcalc.tolerances.sensitivities import Function

    Floats = NDArray[np.float64]
    Block = tuple[int, int]

__all__ = ["OutputStudy", "ToleranceStudy", "study_tolerance"]

REPLICATES = 16
"""Independent scrambles of the Sobol points; their spread tells how sure a figure is."""


class OutputStudy(NamedTuple):
    """What was found about one output.

    Attributes
    ----------
    name : str
        Which.
    values : ndarray, shape (replicate, sample)
        All samples; nan where it could not be computed.
    chance : Chance
        Of being below the limit.
    mean, standard_deviation : Estimate
        Over the samples; nan where some gave no finite number.
    local : Sensitivity
        At the stated values, with the standard deviation by the law of propagation.
    parting : str
        Why the two standard deviations part, or empty.
    points : str
        How the samples were drawn.
    confidence : float
        Of all intervals [-].
    """

    name: str
    values: Floats
    chance: Chance
    mean: Estimate
    standard_deviation: Estimate
    local: Sensitivity
    parting: str
    points: str
    confidence: float

    def quantile(self, share: float) -> Estimate:
        """Return a quantile of the output.

        Parameters
        ----------
        share : float
            Of all values that lie below it, between 0 and 1 [-].

        Returns
        -------
        Estimate
            With its interval.
        """
        return quantile_of(self.values, share, points=self.points, confidence=self.confidence)


class ToleranceStudy(NamedTuple):
    """The answer to a tolerance study.

    Attributes
    ----------
    outputs : dict of str to OutputStudy
        By name.
    number : int
        Samples.
    reached : bool
        Whether every chance is as sure as was wanted.
    interrupted : bool
        Whether it was stopped by the keyboard; what had been sampled is kept.
    """

    outputs: dict[str, OutputStudy]
    number: int
    reached: bool
    interrupted: bool


def study_tolerance(
    function: Function,
    inputs: UncertainInputs,
    outputs: tuple[str, ...] = (),
    *,
    precision: float = 0.005,
    confidence: float = 0.95,
    limit: float = 0.0,
    least: int = 2**10,
    most: int = 2**17,
    points: str = "sobol",
    seed: int = 1,
    block: int = 2**13,
    jobs: int = 1,
    progress: Callable[[int, int], None] | None = None,
    halvings: int = HALVINGS,
    judged: tuple[str, ...] = (),
    slopes: Function | None = None,
) -> ToleranceStudy:
    """Sample a function of uncertain inputs until the chance of a shortfall is sure enough.

    Parameters
    ----------
    function : callable
        From a mapping of arrays of shape (sample,) to one of such arrays, element by element:
        no value may depend on how many samples are asked for at once. With several jobs it is
        called from several threads.
    inputs : UncertainInputs
        What varies.
    outputs : tuple of str
        Which of its outputs; left out, all.
    precision : float
        Greatest half width of the interval of any output's chance of a shortfall [-].
    confidence : float
        Of every interval [-].
    limit : float
        An output below it falls short, and so does one that cannot be computed.
    least, most : int
        Samples to begin with, and to end with at the latest. Rounded down to sixteen replicates of
        the same power of two.
    points : str
        ``"sobol"`` for evenly spread points, ``"random"`` for independent ones, of whose count
        the interval is exact.
    seed : int
        The same seed gives the same digits.
    block : int
        Samples evaluated at once. Neither this nor the number of jobs changes a digit.
    jobs : int
        Threads.
    progress : callable, optional
        Told how many samples are done, and how many there may be.
    halvings : int
        As `linkcalc.tolerances.sensitivities.sensitivities` takes it.
    judged : tuple of str
        Outputs that the precision is asked of; left out, all.
    slopes : callable, optional
        As the function, for the sensitivities: where some outputs cost much and their slopes are
        not wanted it leaves them out, and they are nan.

    Returns
    -------
    ToleranceStudy
        With every sample.

    Raises
    ------
    InputError
        The function returns something else than one value for each sample, or a number is off.
    KeyboardInterrupt
        It was stopped before there was anything to keep.

    Notes
    -----
    The samples double from round to round, and the rule that ends it looks at the same samples as
    the interval; the interval is then a little too narrow for chances near the precision.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> two = UncertainInputs({"have": Normal(10.0, 1.0), "need": Normal(8.0, 1.0)})
    >>> found = study_tolerance(lambda of: {"left": of["have"] - of["need"]}, two)
    >>> left = found.outputs["left"]
    >>> round(left.chance.chance, 2), round(left.standard_deviation.value, 1)
    (0.08, 1.4)
    """
    _refuse_numbers(precision, least, most, block=block, jobs=jobs)
    local = _local(function, slopes, inputs, outputs, halvings)
    sampler = _Sampler(function, inputs, tuple(local), points=points, seed=seed)
    each, last = _power(least // REPLICATES), _power(most // REPLICATES)
    reached = interrupted = False
    while True:
        try:
            sampler.grow(each, block=block, jobs=jobs, told=_told(progress, last))
        except KeyboardInterrupt:
            interrupted = True
        values = sampler.values()
        if interrupted and next(iter(values.values())).shape[1] < 2:
            raise KeyboardInterrupt
        chances = {
            name: chance_below(found, limit=limit, points=points, confidence=confidence)
            for name, found in values.items()
        }
        widths = [
            (found.high - found.low) / 2.0
            for found in (chances[name] for name in judged or chances)
        ]
        reached = max(widths) <= precision
        if reached or interrupted or each >= last:
            break
        each *= 2
    found = {
        name: _output(name, values[name], chances[name], local[name], (points, confidence))
        for name in local
    }
    return ToleranceStudy(found, sampler.done * REPLICATES, reached, interrupted)


def _local(
    function: Function,
    slopes: Function | None,
    inputs: UncertainInputs,
    outputs: tuple[str, ...],
    halvings: int,
) -> dict[str, Sensitivity]:
    """Return the sensitivities of every output, nan for those without slopes."""
    if slopes is None:
        return sensitivities(function, inputs, outputs, halvings=halvings)
    known = sensitivities(slopes, inputs, halvings=halvings)
    stated = dict(zip(inputs.names, inputs.middles()[:, None], strict=True))
    found = evaluated(function, stated, outputs)
    none = np.full(len(inputs), np.nan)
    return {
        name: known[name]
        if name in known
        else Sensitivity(inputs.names, float(at[0]), *(none,) * 6, float("nan"))
        for name, at in found.items()
    }


def _refuse_numbers(precision: float, least: int, most: int, *, block: int, jobs: int) -> None:
    checks = (
        ("precision", precision, 0 < precision < 1, "between 0 and 1, such as 0.005"),
        ("least", least, least >= 4 * REPLICATES, f"at least {4 * REPLICATES} samples"),
        ("most", most, least <= most <= 2**26, "from the least number to 2^26 samples"),
        ("block", block, block >= 1, "at least 1 sample"),
        ("jobs", jobs, 1 <= jobs <= 256, "1 to 256 threads"),
    )
    for name, value, good, wanted in checks:
        if not good:
            raise InputError(name, value, wanted, "Give another number.")


def _power(number: int) -> int:
    return 1 << (number.bit_length() - 1)


def _told(progress: Callable[[int, int], None] | None, last: int) -> Callable[[int], None]:
    if progress is None:
        return lambda _: None
    return lambda done: progress(done, last * REPLICATES)


class _Sampler:
    """Evaluates stretches of the replicates, and keeps what they give."""

    def __init__(
        self,
        function: Function,
        inputs: UncertainInputs,
        outputs: tuple[str, ...],
        *,
        points: str,
        seed: int,
    ) -> None:
        self._function, self._inputs, self._outputs = function, inputs, outputs
        self._points = [
            Points(len(inputs), seed=seed, replicate=place, kind=points)
            for place in range(REPLICATES)
        ]
        self._kept: dict[str, Floats] = {name: np.empty((REPLICATES, 0)) for name in outputs}
        self.done = 0

    def values(self) -> dict[str, Floats]:
        """Return what is there in every replicate."""
        return {name: kept[:, : self.done] for name, kept in self._kept.items()}

    def grow(self, each: int, *, block: int, jobs: int, told: Callable[[int], None]) -> None:
        """Go on until every replicate has so many samples."""
        for name, kept in self._kept.items():
            wider = np.full((REPLICATES, each), np.nan)
            wider[:, : self.done] = kept[:, : self.done]
            self._kept[name] = wider
        edges = [*range(self.done, each, max(1, block // REPLICATES)), each]
        for (start, stop), found in self._evaluated(list(itertools.pairwise(edges)), jobs):
            for name, value in found.items():
                self._kept[name][:, start:stop] = value.reshape(REPLICATES, -1)
            self.done = stop
            told(self.done * REPLICATES)

    def _evaluated(
        self, waiting: list[Block], jobs: int
    ) -> Iterator[tuple[Block, dict[str, Floats]]]:
        """Yield the blocks in their order, whoever evaluates them."""
        # scores are drawn here, in their order: a Sobol sequence is cheapest without a jump
        if jobs == 1:
            for one in waiting:
                yield one, self._at(self._scores(one))
            return
        from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415 - few ask for threads

        with ThreadPoolExecutor(jobs) as pool:
            for first in range(0, len(waiting), 2 * jobs):
                stretch = waiting[first : first + 2 * jobs]
                futures = [(one, pool.submit(self._at, self._scores(one))) for one in stretch]
                for one, future in futures:
                    yield one, future.result()

    def _scores(self, one: Block) -> Floats:
        """Return the scores of the same points of all replicates, one after another."""
        return np.concatenate([points.scores(*one) for points in self._points], axis=-1)

    def _at(self, scores: Floats) -> dict[str, Floats]:
        return evaluated(self._function, self._inputs.values(scores), self._outputs)


def _output(
    name: str, values: Floats, chance: Chance, local: Sensitivity, how: tuple[str, float]
) -> OutputStudy:
    points, confidence = how
    if np.isfinite(values).all():
        mean = mean_of(values.mean(axis=1), confidence)
        # every replicate against the mean of all, so that a replicate of few samples is not biased
        squares = mean_of(((values - mean.value) ** 2).mean(axis=1), confidence)
        spread = Estimate(*np.sqrt(np.maximum(squares, 0.0)).tolist())
    else:
        mean = spread = Estimate(np.nan, np.nan, np.nan)
    unsure = (spread.high - spread.low) / 2.0
    reason = parting(local, values, spread_error=0.0 if np.isnan(unsure) else unsure)
    return OutputStudy(name, values, chance, mean, spread, local, reason, points, confidence)
