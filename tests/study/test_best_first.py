"""The search for the cheapest set, held to trying every set there is."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.study.best_first import best_set

leagues = st.integers(1, 4).flatmap(
    lambda places: st.lists(
        st.lists(
            st.lists(st.integers(0, 9), min_size=0, max_size=5).map(sorted),
            min_size=places,
            max_size=places,
        ),
        min_size=1,
        max_size=3,
    )
)


def as_arrays(drawn):
    return [[np.array(costs, dtype=np.float64) for costs in league] for league in drawn]


def loads_of(seed, drawn):
    """A load for every option: sets and their beginnings are refused above what is carried."""
    draw = np.random.default_rng(seed)
    return [[draw.integers(0, 10, len(costs)) for costs in league] for league in drawn]


def least_by_brute_force(drawn, loads, most):
    found = math.inf
    for costs, load in zip(drawn, loads, strict=True):
        for each in itertools.product(*(range(len(place)) for place in costs)):
            if sum(load[place][option] for place, option in enumerate(each)) <= most:
                found = min(found, sum(costs[place][at] for place, at in enumerate(each)))
    return found


@given(drawn=leagues, seed=st.integers(0, 99), share=st.floats(0, 1), branch=st.integers(1, 3))
def test_the_cheapest_set_is_that_of_trying_all(drawn, seed, share, branch):
    loads = loads_of(seed, drawn)
    most = share * 9 * len(drawn[0])

    def holds(league, sets):
        load = loads[league]
        return [sum(load[place][at] for place, at in enumerate(each)) <= most for each in sets]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("linkcalc.study.best_first._BRANCH", branch)
        found = best_set(as_arrays(drawn), holds, most=10**6)
    expected = least_by_brute_force(drawn, loads, most)
    assert found.exact
    assert found.bound == expected
    assert (found.chosen is None) == math.isinf(expected)
    if found.chosen is not None:
        costs = drawn[found.league]
        assert sum(costs[place][at] for place, at in enumerate(found.chosen)) == expected
        assert holds(found.league, [found.chosen]) == [True]


@given(drawn=leagues, seed=st.integers(0, 99), share=st.floats(0.2, 1), most=st.integers(1, 12))
def test_a_search_cut_short_tells_what_it_can_have_missed(drawn, seed, share, most):
    loads = loads_of(seed, drawn)
    carried = share * 9 * len(drawn[0])

    def holds(league, sets):
        load = loads[league]
        return [sum(load[place][at] for place, at in enumerate(each)) <= carried for each in sets]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("linkcalc.study.best_first._BRANCH", 1)
        patch.setattr("linkcalc.study.best_first._WIDE", 1)
        patch.setattr("linkcalc.study.best_first._LEAST", 1)
        found = best_set(as_arrays(drawn), holds, most=most)
    expected = least_by_brute_force(drawn, loads, carried)
    assert found.bound <= expected
    assert found.tried <= 2 * most
    if found.exact:
        assert found.bound == expected
    if found.chosen is not None:
        costs = drawn[found.league]
        assert sum(costs[p][at] for p, at in enumerate(found.chosen)) >= expected
        assert holds(found.league, [found.chosen]) == [True]


def test_an_interruption_keeps_the_bound():
    costs = [np.arange(5.0), np.arange(5.0)]

    def stop(done, total):
        assert 0 < done <= total
        raise KeyboardInterrupt

    found = best_set([costs], lambda _, sets: [True] * len(sets), most=100, progress=stop)
    assert (found.chosen, found.exact, found.bound) == (None, False, 0.0)


@pytest.mark.parametrize("count", [1, 31, 32, 33, 64, 65, 100])
def test_the_last_option_of_a_place_is_tried_too(count):
    found = best_set(
        [[np.arange(float(count))]],
        lambda _, sets: [each == (count - 1,) for each in sets],
        most=10**6,
    )
    assert found.chosen == (count - 1,)
    assert found.tried == count
