"""Who comes first and why the others do not, held to Python's own sorting."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.choosing.ranking import Objective, rank
from linkcalc.choosing.selection import Constraint

ROWS = st.lists(
    st.tuples(
        st.sampled_from([1.0, 2.0, 3.0, np.nan]), st.sampled_from([0.0, 0.1, 0.2]), st.booleans()
    ),
    max_size=12,
)


def ranked(rows, names):
    mass = Objective("mass", np.array([row[0] for row in rows], dtype=float), "g")
    margin = Objective("margin", np.array([row[1] for row in rows], dtype=float), largest=True)
    cheap = Constraint("cheap", np.array([row[2] for row in rows], dtype=bool))
    return rank(names, [mass, margin], [cheap])


@given(rows=ROWS)
def test_the_order_is_that_of_pythons_sorting(rows):
    names = [f"part{index}" for index in range(len(rows))]
    found = ranked(rows, names)
    good = [at for at, row in enumerate(rows) if row[2] and row[0] == row[0]]
    expected = sorted(good, key=lambda at: (rows[at][0], -rows[at][1], names[at]))
    assert [each.candidate for each in found.standings if each.place] == expected
    assert [each.place for each in found.standings][: len(good)] == list(range(1, len(good) + 1))
    assert (found.best.candidate if good else found.best) == (expected[0] if good else None)
    assert len(found.standings) == len(rows)


@given(rows=ROWS, seed=st.integers(0, 99))
def test_order_of_the_candidates_never_matters(rows, seed):
    names = [f"part{index}" for index in range(len(rows))]
    turned = np.random.default_rng(seed).permutation(len(rows)).tolist()
    first = ranked(rows, names)
    second = ranked([rows[at] for at in turned], [names[at] for at in turned])

    def without_index(standings):
        return [repr(each._replace(candidate=0)) for each in standings]

    assert without_index(first.standings) == without_index(second.standings)


@given(rows=ROWS)
def test_every_loser_has_a_reason_and_only_the_first_has_none(rows):
    found = ranked(rows, [f"part{index}" for index in range(len(rows))])
    assert [bool(each.lost) for each in found.standings] == [
        each.place != 1 for each in found.standings
    ]


@given(rows=ROWS, more=ROWS)
def test_a_further_part_never_worsens_the_best(rows, more):
    names = [f"part{index}" for index in range(len(rows) + len(more))]
    before, after = ranked(rows, names[: len(rows)]), ranked(rows + more, names)
    if before.best:
        assert (after.best.values[0], -after.best.values[1]) <= (
            before.best.values[0],
            -before.best.values[1],
        )


def test_reasons_say_what_was_compared():
    mass = Objective("mass", np.array([9.0, 12.0, 30.0, np.nan, 9.0, 8.0]), "g")
    price = Objective("price", np.array([8.0, 5.0, 9.0, 1.0, 8.0, 50.0]), "EUR")
    limit = Constraint("price at most 20 EUR", price.values <= 20, price.values, "EUR")
    found = rank(["dunlin", "knot", "curlew", "ruff", "eider", "gannet"], [mass, price], [limit])
    reasons = {each.name: each.lost for each in found.standings}
    assert reasons == {
        "dunlin": "",
        "eider": "equal to dunlin, whose name comes first",
        "knot": "mass 12 g, against 9 g of dunlin",
        "curlew": "dunlin is better: mass 9 g against 30 g, price 8 EUR against 9 EUR",
        "gannet": "not price at most 20 EUR: 50 EUR",
        "ruff": "mass not known",
    }
    assert [each.name for each in found.front] == ["dunlin", "eider", "knot"]
    assert [each.place for each in found.standings] == [1, 2, 3, 4, None, None]


def test_a_ranking_of_nothing_comparable_is_refused():
    mass = Objective("mass", np.array([1.0]))
    for names, objectives in itertools.product([["a"], ["a", "b"]], [[], [mass]]):
        if (names, objectives) != (["a"], [mass]):
            with pytest.raises(ValueError, match="at least one objective"):
                rank(names, objectives)
    with pytest.raises(ValueError, match="one name"):
        rank(["a", "a"], [Objective("mass", np.array([1.0, 2.0]))])
