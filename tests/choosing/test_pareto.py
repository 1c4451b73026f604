"""The front by its definition, held to a loop over all pairs that shares no code with it."""

import math
import time
import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.choosing.pareto import dominators, pareto_front

LEVELS = st.sampled_from([0.0, -0.0, 1.0, 2.0, 3.0, -1.0, 0.5, np.inf, -np.inf, np.nan])
TABLES = st.integers(0, 4).flatmap(
    lambda width: st.lists(st.lists(LEVELS, min_size=width, max_size=width), max_size=40).map(
        lambda rows: np.array(rows, dtype=float).reshape(len(rows), width)
    )
)


def beats(one, other):
    """Tell whether one row dominates another, as the definition says it."""
    if any(map(math.isnan, (*one, *other))):
        return False
    return all(a <= b for a, b in zip(one, other, strict=True)) and any(
        a < b for a, b in zip(one, other, strict=True)
    )


def by_definition(rows):
    return [
        not any(map(math.isnan, row)) and not any(beats(other, row) for other in rows)
        for row in rows
    ]


@given(rows=TABLES, block=st.sampled_from([1, 2, 3, 7, 1024]))
def test_the_front_is_what_the_definition_says(rows, block):
    assert pareto_front(rows, block=block).tolist() == by_definition(rows.tolist())


@pytest.mark.parametrize("objectives", [1, 2, 3, 4, 5])
def test_no_member_is_dominated_and_every_other_is(objectives):
    rows = np.random.default_rng(5).normal(size=(700, objectives)).round(1)
    front = pareto_front(rows, block=64)
    assert front.tolist() == by_definition(rows.tolist())
    assert front.any()


@given(rows=TABLES, seed=st.integers(0, 1000))
def test_order_never_matters(rows, seed):
    turned = np.random.default_rng(seed).permutation(len(rows))
    assert pareto_front(rows[turned]).tolist() == pareto_front(rows)[turned].tolist()


@given(rows=TABLES)
def test_a_further_candidate_never_brings_one_back(rows):
    before = pareto_front(rows[:-1])
    after = pareto_front(rows)
    assert not (after[:-1] & ~before).any()


@given(rows=TABLES, block=st.sampled_from([1, 3, 1024]))
def test_the_one_that_is_named_dominates_and_is_the_first_that_does(rows, block):
    listed = rows.tolist()
    among = np.flatnonzero(pareto_front(rows))[::-1]
    expected = [
        next((other for other in among.tolist() if beats(listed[other], row)), -1) for row in listed
    ]
    assert dominators(rows, among, block=block).tolist() == expected


def test_equal_candidates_are_on_the_front_together():
    assert pareto_front([[1, 1], [1, 1], [0, 2], [1, 2]]).tolist() == [True, True, True, False]


def test_a_table_of_another_shape_is_refused():
    with pytest.raises(ValueError, match="candidate, objective"):
        pareto_front([1.0, 2.0])
    with pytest.raises(ValueError, match="block"):
        pareto_front([[1.0]], block=0)


def test_a_hundred_thousand_candidates_take_little_time_and_memory():
    rows = np.random.default_rng(3).normal(size=(100_000, 3))
    started = time.process_time()
    front = pareto_front(rows)
    spent = time.process_time() - started
    assert 20 < front.sum() < 2000
    assert spent < 5.0  # a fifth of a second at a desk; a loop over pairs takes an hour
    tracemalloc.start()
    pareto_front(rows)
    assert tracemalloc.get_traced_memory()[1] < 32 * 2**20
    tracemalloc.stop()
