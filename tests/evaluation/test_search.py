"""The search for the governing deflection, against a general minimiser and closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from linkcalc.evaluation.search import beside, best_of_some, greatest, nodes

PROMISED = 1e-6  # of the value


def found(function, low, high):
    answer = greatest(function, nodes(np.array([low]), np.array([high])))
    return float(answer.at[0]), float(answer.value[0])


@given(low=st.floats(-1.0, -1e-6), high=st.floats(1e-6, 1.0), count=st.integers(3, 80))
def test_nodes_ascend_between_the_ends_with_zero_among_them(low, high, count):
    made = nodes(np.array(low), np.array(high), count)
    assert made[0] == low
    assert made[-1] == high
    assert 0.0 in made
    assert np.all(np.diff(made) > 0)


def test_a_range_that_begins_or_ends_at_zero_has_it_exactly():
    for low, high in ((0.0, 0.3), (-0.3, 0.0)):
        made = nodes(np.array(low), np.array(high))
        assert np.sum(made == 0.0) == 1


@given(peak=st.floats(-0.6, 0.6), width=st.floats(0.05, 2.0))
def test_a_smooth_peak_is_found_to_a_millionth_of_its_value(peak, width):
    def bell(x):
        return 1.0 / (1.0 + ((x - peak) / width) ** 2)

    ends = (-0.5, 0.4)
    known = minimize_scalar(
        lambda x: -bell(x), bounds=ends, method="bounded", options={"xatol": 1e-10}
    )
    best = max(-known.fun, bell(ends[0]), bell(ends[1]))
    assert found(bell, *ends)[1] == pytest.approx(best, rel=PROMISED)


@given(at=st.floats(-0.39, 0.29), left=st.floats(0.1, 5.0), right=st.floats(0.1, 5.0))
def test_a_kink_is_found_to_a_millionth_of_its_value(at, left, right):
    def roof(x):
        return 1.0 - np.where(x < at, left * (at - x), right * (x - at))

    assert found(roof, -0.4, 0.3)[1] == pytest.approx(1.0, rel=PROMISED)


def test_a_single_point_at_zero_is_not_missed():
    at, value = found(lambda x: np.where(x == 0.0, 2.0, np.abs(x)), -0.31, 0.47)
    assert (at, value) == (0.0, 2.0)


def test_of_equal_peaks_the_positive_one_is_taken():
    at, _ = found(np.abs, -0.3, 0.3)
    assert at == 0.3
    at, _ = found(lambda x: x**2 * (0.2 - x**2), -0.4, 0.4)
    assert at == pytest.approx(math.sqrt(0.1), rel=1e-3)


def test_a_constant_has_its_value_and_an_empty_range_has_none():
    assert found(lambda x: 0.0 * x + 3.0, -0.1, 0.2)[1] == 3.0
    assert math.isnan(found(lambda x: x, math.nan, math.nan)[1])


def test_what_is_not_reached_is_passed_over():
    at, value = found(lambda x: np.where(x > 0.1, np.nan, x), -0.2, 0.3)
    assert value == pytest.approx(0.1, abs=0.5 / 60)  # as near as the nodes come
    assert at <= 0.1


def test_many_ranges_and_functions_are_searched_at_once():
    low, high = np.array([[-0.3, 0.0], [-0.1, np.nan]]), np.array([[0.2, 0.5], [0.4, np.nan]])

    def two(x):
        return np.concatenate((x[:1] ** 2, np.cos(x[-1:] - 0.1)))

    answer = greatest(two, nodes(low[None], high[None]))
    assert answer.value.shape == (2, 2, 2)
    np.testing.assert_allclose(answer.value[0], [[0.09, 0.25], [0.16, np.nan]], rtol=PROMISED)
    np.testing.assert_allclose(answer.value[1], [[1.0, 1.0], [1.0, np.nan]], rtol=PROMISED)


def test_an_answer_does_not_depend_on_what_is_looked_for_beside_it():
    peaks, widths = np.array([0.0123, 0.2, -0.3777]), np.array([0.4, 0.01, 3.0])

    def bells(which):
        peak, width = peaks[which, None], widths[which, None]
        return lambda x: 1.0 / (1.0 + ((x - peak) / width) ** 2) ** 2

    start = nodes(np.full(3, -0.5), np.full(3, 0.4))
    together = greatest(bells(slice(None)), start)
    for k in range(3):
        alone = greatest(bells(slice(k, k + 1)), start[[k]])
        assert (together.at[k], together.value[k]) == (alone.at[0], alone.value[0])


def test_a_few_nodes_tell_the_same_as_all_of_them():
    """Hills of many kinds in rows of 61: level, with a peak inside, at an end, near an end, ties, nan."""
    count, random = 61, np.random.default_rng(0)
    x = np.linspace(-1.0, 1.0, count)
    peak = np.concatenate((random.uniform(-1.2, 1.2, 40), [-1.0, 1.0, 0.999, -0.98, 0.0]))
    steep = 10.0 ** random.uniform(-5.0, 2.0, (3, peak.size))
    hills = 1.0 - steep[..., None] * (x - peak[:, None]) ** 2
    hills = np.concatenate((hills, 0.0 * hills[:, :1], np.abs(x) + 0.0 * hills[:, :1]), axis=1)
    hills[0, 3] = np.nan
    hills[1, 4, :7] = np.nan
    expected = beside(hills)
    every = np.broadcast_to(np.arange(count)[:, None], (count, len(hills)))
    lines = np.arange(len(hills))

    def value(node):
        return hills[lines[None, :, None], np.arange(hills.shape[1]), node[..., None]]

    def kept(line):
        return np.unique(expected.best[line])

    most = max(kept(line).size for line in lines)
    few = np.array([np.resize(kept(line), most) for line in lines])
    for some in (every, np.sort(few, axis=1).T):
        node, best, settled = best_of_some(value, some, count - 1)
        np.testing.assert_array_equal(node, expected.best)
        np.testing.assert_array_equal(best, expected.value)
        np.testing.assert_array_equal(settled, expected.close | expected.at_end)
    assert 0.1 < settled.mean() < 0.9
    assert (expected.at_end & ~expected.close).any()
    assert (~settled & ((expected.best == 0) | (expected.best == count - 1))).any()
