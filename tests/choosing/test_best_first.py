"""The search for the sets that no other set beats, held to trying every set there is."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.choosing.best_first import front_of_sets, least_costs

COSTS = st.tuples(st.integers(0, 9), st.integers(0, 9))
leagues = st.integers(1, 4).flatmap(
    lambda places: st.lists(
        st.lists(
            st.lists(COSTS, min_size=0, max_size=5).map(sorted),
            min_size=places,
            max_size=places,
        ),
        min_size=1,
        max_size=3,
    )
)


def as_arrays(drawn, objectives):
    return [
        [np.array(costs, dtype=np.float64).reshape(-1, 2)[:, :objectives] for costs in league]
        for league in drawn
    ]


class Loads:
    """A load for every option: sets and their beginnings are refused above what is carried.

    The margin is what is left to carry, so it falls as a beginning goes on.
    """

    def __init__(self, seed, drawn, most):
        draw = np.random.default_rng(seed)
        self.loads = [[draw.integers(0, 10, len(costs)) for costs in league] for league in drawn]
        self.most = most

    def judge(self, league, sets):
        loads = self.loads[league]
        left = [self.most - sum(loads[place][at] for place, at in enumerate(e)) for e in sets]
        return [each if each >= 0 else math.nan for each in left]

    def every(self, drawn, objectives, margin_at):
        """All sets that hold, with their costs, in a plain loop."""
        for league, places in enumerate(drawn):
            for chosen in itertools.product(*(range(len(place)) for place in places)):
                (margin,) = self.judge(league, [chosen])
                if not math.isnan(margin):
                    picked = [place[at] for place, at in zip(places, chosen, strict=True)]
                    costs = [sum(each[k] for each in picked) for k in range(objectives)]
                    if margin_at is not None:
                        costs.insert(margin_at, -margin)
                    yield (league, chosen), tuple(costs)


def beats(one, other):
    """The definition: at most as much in everything, and less in something."""
    return one != other and all(a <= b for a, b in zip(one, other, strict=True))


COMPARED = st.tuples(st.integers(1, 2), st.sampled_from([None, 0, 1]))


@given(
    drawn=leagues,
    seed=st.integers(0, 99),
    share=st.floats(0, 1),
    branch=st.integers(1, 3),
    compared=COMPARED,
)
def test_members_are_beaten_by_no_set_and_every_other_set_is_beaten_or_alike(
    drawn, seed, share, branch, compared
):
    objectives, margin_at = compared
    loads = Loads(seed, drawn, share * 9 * len(drawn[0]))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("linkcalc.choosing.best_first._BRANCH", branch)
        found = front_of_sets(
            as_arrays(drawn, objectives), loads.judge, most=10**6, margin_at=margin_at
        )
    every = dict(loads.every(drawn, objectives, margin_at))
    assert found.whole
    costs = [each.costs for each in found.members]
    assert costs == sorted(costs)
    for each in found.members:
        assert every[each.league, each.chosen] == each.costs
        assert not any(beats(other, each.costs) for other in every.values())
    for each in every.values():
        assert each in costs or any(beats(member, each) for member in costs)
    assert len(set(costs)) == len(costs)
    if every:
        assert costs[0] == min(every.values())


@given(
    drawn=leagues,
    seed=st.integers(0, 99),
    share=st.floats(0.2, 1),
    most=st.integers(1, 12),
    margin_at=st.sampled_from([None, 0, 2]),
)
def test_a_search_cut_short_tells_what_it_can_have_missed(drawn, seed, share, most, margin_at):
    loads = Loads(seed, drawn, share * 9 * len(drawn[0]))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("linkcalc.choosing.best_first._BRANCH", 1)
        patch.setattr("linkcalc.choosing.best_first._WIDE", 1)
        patch.setattr("linkcalc.choosing.best_first._LEAST", 1)
        found = front_of_sets(as_arrays(drawn, 2), loads.judge, most=most, margin_at=margin_at)
    every = dict(loads.every(drawn, 2, margin_at))
    costs = [each.costs for each in found.members]
    assert found.tried <= 2 * most
    assert all(every[each.league, each.chosen] == each.costs for each in found.members)
    if found.proven:
        assert not any(beats(other, each) for each in costs for other in every.values())
        assert bool(costs) == bool(every)
        known = costs
    else:
        known = []
    for each in every.values():  # what it does not have costs at least the bound
        assert each[0] >= found.bound or each in known or any(beats(k, each) for k in known)


def test_an_interruption_keeps_the_bound_and_what_was_found(monkeypatch):
    costs = [np.arange(5.0)[:, None], np.arange(5.0)[:, None]]

    def stop(done, total):
        assert 0 < done <= total
        raise KeyboardInterrupt

    found = front_of_sets([costs], lambda _, sets: [0.0] * len(sets), most=100, progress=stop)
    assert (found.members, found.proven, found.bound) == ((), False, 0.0)
    assert found.interrupted
    monkeypatch.setattr("linkcalc.choosing.best_first._WIDE", 1)
    calls = []

    def late(*told):
        calls.append(told)
        if len(calls) == 4:
            raise KeyboardInterrupt

    two = [np.array([[0.0, 1.0], [1.0, 0.0]])] * 3
    found = front_of_sets([two], lambda _, sets: [0.0] * len(sets), most=100, progress=late)
    assert found.members[0].costs == (0.0, 3.0)
    assert (found.proven, found.whole, found.interrupted) == (True, False, True)


def test_a_set_that_is_found_by_going_deep_is_not_taken_for_the_best(monkeypatch):
    monkeypatch.setattr("linkcalc.choosing.best_first._WIDE", 1)
    places = [np.array([[0.0], [1.0]]), np.arange(10.0)[:, None]]

    def judge(_, sets):  # the cheaper first option needs the dearest second one
        return [0.0 if len(each) < 2 or each[0] or each[1] == 9 else math.nan for each in sets]

    cut = front_of_sets([places], judge, most=1)
    assert [each.chosen for each in cut.members] == [(0, 9)]
    assert (cut.proven, cut.whole, cut.bound) == (False, False, 0.0)
    whole = front_of_sets([places], judge, most=100)
    assert [each.chosen for each in whole.members] == [(1, 0)]
    assert whole.whole


@pytest.mark.parametrize("count", [1, 31, 32, 33, 64, 65, 100])
def test_the_last_option_of_a_place_is_tried_too(count):
    found = front_of_sets(
        [[np.arange(float(count))[:, None]]],
        lambda _, sets: [0.0 if each == (count - 1,) else math.nan for each in sets],
        most=10**6,
    )
    assert [each.chosen for each in found.members] == [(count - 1,)]
    assert found.tried == count


def test_least_costs_are_those_of_the_cheapest_options():
    league = [np.array([[3.0, 0.0], [1.0, 9.0]]), np.array([[2.0, 5.0]])]
    assert least_costs([league, [np.array([[9.0, 9.0]]), np.empty((0, 2))]]) == 3.0
    assert least_costs([league], margin_at=0) == -math.inf
    assert least_costs([]) == math.inf
