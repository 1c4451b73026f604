"""What constraints leave, held to a plain loop over the candidates."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.choosing.selection import Constraint, select, why_empty

HOLDS = st.integers(1, 12).flatmap(
    lambda count: st.lists(
        st.lists(st.booleans(), min_size=count, max_size=count), min_size=1, max_size=4
    )
)


def constraints_of(table):
    return [Constraint(f"c{index}", np.array(row)) for index, row in enumerate(table)]


@given(table=HOLDS)
def test_selection_is_what_a_loop_finds(table):
    constraints = constraints_of(table)
    found = select(constraints, (len(table[0]),))
    emptied = None
    left = list(range(len(table[0])))
    for constraint, row in zip(constraints, table, strict=True):
        remaining = [candidate for candidate in left if row[candidate]]
        if left and not remaining:
            emptied = constraint.name
        left = remaining
    assert np.flatnonzero(found.kept).tolist() == left
    assert found.emptied_by == emptied
    for candidate in range(len(table[0])):
        broken = [index for index, row in enumerate(table) if not row[candidate]]
        assert found.removed_by[candidate] == (broken[0] if broken else -1)
    for index in range(len(table)):
        others = [row for other, row in enumerate(table) if other != index]
        without = select(constraints_of(others), (len(table[0]),)).kept.sum()
        assert found.alone[index] == without - found.kept.sum()


@given(table=HOLDS)
def test_order_of_constraints_changes_no_candidate(table):
    shape = (len(table[0]),)
    forward = select(constraints_of(table), shape)
    backward = select(constraints_of(table[::-1]), shape)
    assert forward.kept.tolist() == backward.kept.tolist()
    assert forward.alone == backward.alone[::-1]


def test_a_constraint_holds_for_every_value_of_the_axes_that_it_does_not_have():
    light = Constraint("light", np.array([[True], [False]]))
    found = select([light], (2, 3))
    assert found.kept.tolist() == [[True] * 3, [False] * 3]
    assert found.left == (3,)
    with pytest.raises(ValueError, match="broadcast"):
        select([light], (3, 3))


def test_the_reason_names_the_constraint_that_removed_the_last_one():
    mass = Constraint("mass at most 9 g", np.array([True, False, True]))
    price = Constraint("price at most 5 EUR", np.array([False, True, False]))
    found = select([mass, price], (3,))
    assert why_empty([mass, price], found) == (
        "'price at most 5 EUR' removed the last 2 of 3 candidates; "
        "without 'mass at most 9 g' 1 would remain, without it 2 would remain."
    )
    assert why_empty([mass], select([mass], (3,))) == ""
    assert why_empty([mass], select([], (0,))) == "There are no candidates."


def test_when_two_constraints_have_to_go_the_reason_says_so():
    both = [Constraint(name, np.array([False])) for name in ("a", "b")]
    assert "no single constraint" in why_empty(both, select(both, (1,)))
