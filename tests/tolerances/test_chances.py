import math

import numpy as np
import pytest
import scipy.stats

from linkcalc.errors import InputError
from linkcalc.tolerances import chances
from linkcalc.tolerances.chances import chance_below, clopper_pearson, mean_of, quantile_of
from linkcalc.tolerances.points import Points


@pytest.mark.parametrize(("count", "number"), [(0, 10), (1, 10), (5, 10), (10, 10), (3, 100_000)])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_the_exact_interval_is_that_of_scipy(count, number, confidence):
    expected = scipy.stats.binomtest(count, number).proportion_ci(confidence, method="exact")
    low, high = clopper_pearson(count, number, confidence)
    assert float(low) == pytest.approx(expected.low, rel=1e-9)
    assert float(high) == pytest.approx(expected.high, rel=1e-9)


@pytest.mark.parametrize("chance", [1e-4, 0.01, 0.3, 0.5])
@pytest.mark.parametrize("number", [20, 300])
def test_the_exact_interval_holds_the_chance_as_often_as_it_says(chance, number):
    # no sampling: the coverage summed over every count there can be
    counts = np.arange(number + 1)
    low, high = clopper_pearson(counts, number, 0.95)
    holds = (low <= chance) & (chance <= high)
    assert scipy.stats.binom.pmf(counts, number, chance)[holds].sum() >= 0.95


def test_none_in_three_hundred_is_less_than_one_in_a_hundred():
    # the "rule of three" of statistics textbooks: at 95 % one-sided about 3 / n
    assert float(clopper_pearson(0, 300, 0.9)[1]) == pytest.approx(3 / 300, rel=0.01)


@pytest.mark.parametrize("confidence", [0.0, 0.49, 1.0, math.nan, 95])
def test_a_confidence_that_is_none_is_refused(confidence):
    with pytest.raises(InputError, match="confidence"):
        clopper_pearson(1, 10, confidence)


def test_what_cannot_be_computed_is_short_and_counted():
    values = np.array([[1.0, np.nan, -1.0, 0.0], [np.nan, 2.0, 3.0, 4.0]])
    found = chance_below(values, points="random")
    assert (found.events, found.number, found.not_computed) == (3, 8, 2)
    assert found.chance == 3 / 8
    assert found.method == chances.EXACT


def test_few_or_no_events_in_sobol_points_get_a_binomial_interval_that_says_so():
    found = chance_below(np.ones((16, 64)))
    assert found.method == chances.FEW
    assert (found.chance, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1 - 0.025 ** (1 / 1024))


def linear(scores):
    return (
        1.0 + scores @ np.array([0.6, 0.0, 0.8])
        if scores.ndim == 1
        else 1.0 + 0.6 * scores[0] + 0.8 * scores[2]
    )


@pytest.mark.parametrize("kind", ["sobol", "random"])
def test_intervals_hold_the_known_figures_as_often_as_they_say(kind):
    # a standard normal margin around 1: chance, mean and quantile are known
    truth = scipy.stats.norm(1.0, 1.0)
    runs, held = 120, np.zeros(3)
    for run in range(runs):
        values = np.array(
            [linear(Points(3, seed=run, replicate=k, kind=kind).scores(0, 128)) for k in range(8)]
        )
        chance = chance_below(values, points=kind)
        quantile = quantile_of(values, 0.05, points=kind)
        mean = mean_of(values.mean(axis=1))
        held += [
            chance.low <= truth.cdf(0.0) <= chance.high,
            quantile.low <= truth.ppf(0.05) <= quantile.high,
            mean.low <= 1.0 <= mean.high,
        ]
    # of 120 runs at 95 % at least 106 with a chance of 99.8 % (binomial); seeds are fixed
    assert scipy.stats.binom.cdf(105, runs, 0.95) < 0.003
    assert (held >= 106).all(), held


def test_sobol_points_tell_more_than_independent_ones():
    widths = {}
    for kind in ("sobol", "random"):
        values = np.array(
            [linear(Points(3, seed=1, replicate=k, kind=kind).scores(0, 1024)) for k in range(16)]
        )
        mean = mean_of(values.mean(axis=1))
        widths[kind] = mean.high - mean.low
    assert widths["sobol"] < widths["random"] / 20


@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_order_statistics_hold_the_quantile_whatever_the_distribution(share):
    number, held, runs = 60, 0, 400
    generator = np.random.default_rng(7)
    for _ in range(runs):
        drawn = generator.pareto(1.1, number)
        found = quantile_of(drawn[None], share, points="random")
        held += found.low <= scipy.stats.lomax(1.1).ppf(share) <= found.high
    assert held / runs >= 0.93


def test_a_quantile_that_too_few_samples_bound_is_open():
    found = quantile_of(np.arange(10.0)[None], 0.01, points="random")
    assert found.low == -math.inf
    lost = quantile_of(np.array([[np.nan, 1.0], [np.nan, 2.0]]), 0.25)
    assert (lost.value, lost.low) == (-math.inf, -math.inf)


def test_a_spread_needs_two_replicates():
    with pytest.raises(InputError, match="two"):
        mean_of(np.array([1.0]))


@pytest.mark.parametrize("share", [0.05, 0.31, 0.5, 0.95])
def test_a_quantile_lies_between_samples_as_numpys_hazen_has_it(share):
    values = np.random.default_rng(4).gamma(2.0, size=(1, 37))
    found = quantile_of(values, share, points="random").value
    assert found == pytest.approx(np.quantile(values, share, method="hazen"), rel=1e-12)
