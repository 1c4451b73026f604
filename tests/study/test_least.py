"""The search for the least change, on functions whose roots are known in closed form."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.study.least import least

UP, DOWN = (1.05, 1.15, 1.3, 1.6, 2.0, 3.0, 5.0, 10.0), (0.95, 0.87, 0.75, 0.6, 0.45, 0.2, 0.1)


def change(factor):
    return abs(factor - 1)


def counted(function):
    """Return the function, and the list of what it was asked."""
    asked = []

    def counting(factor):
        asked.append(factor)
        return function(factor)

    return counting, asked


@given(root=st.floats(1.001, 9.9), power=st.floats(0.2, 5))
def test_a_power_law_is_cleared_just_beyond_its_root(root, power):
    margin, asked = counted(lambda factor: (factor / root) ** power - 1)
    found = least(margin, margin(1.0), UP)
    assert change(root) <= change(found) <= 1.011 * change(root)
    assert len(asked) <= 20


@given(root=st.floats(0.11, 0.999), power=st.floats(0.2, 5))
def test_a_falling_power_law_is_cleared_just_below_its_root(root, power):
    margin, asked = counted(lambda factor: (root / factor) ** power - 1)
    found = least(margin, margin(1.0), DOWN)
    assert change(root) <= change(found) <= 1.011 * change(root)
    assert len(asked) <= 20


@given(root=st.floats(1.001, 9.9), flat=st.floats(0, 1), slope=st.floats(0.01, 100))
def test_a_rate_that_is_nothing_while_the_servo_stalls_is_cleared(root, flat, slope):
    """Minus one up to some factor, then rising: as the speed of a stalled servo does."""
    start = 1 + flat * (root - 1)

    def margin(factor):
        return max(-1.0, -1 + (factor - start) / max(root - start, 1e-3 / slope))

    found = least(margin, -1.0, UP)
    if found is None:
        assert all(margin(factor) < 0 for factor in UP)
    else:
        assert margin(found) >= 0 > margin(1 + 0.95 * (found - 1))


@given(
    jump=st.floats(1.001, 9.9),
    below=st.sampled_from([-1.0, -0.3, -1e-9, math.nan]),
    above=st.sampled_from([0.0, 0.5, math.inf]),
)
def test_a_jump_is_found(jump, below, above):
    found = least(lambda factor: above if factor >= jump else below, -0.5, UP)
    assert change(jump) <= change(found) <= change(jump) / 0.95 * (1 + 1e-9)


@given(tip=st.floats(1.1, 2.8), power=st.floats(0.5, 2), spare=st.floats(0.02, 0.5))
def test_a_hill_that_clears_between_two_sizes_is_found(tip, power, spare):
    """Something rises and falls again, as the rate of a surface does with the arm's radius."""

    def margin(factor):
        return spare - 6 * abs(math.log(factor / tip)) ** (1 + power)

    found = least(margin, min(margin(1.0), -0.01), UP)
    if margin(1.0) < -0.01:
        assert found is not None
        assert margin(found) >= 0 > margin(1 + 0.95 * (found - 1))


def test_a_window_near_the_start_is_preferred_once_a_twentieth_less_falls_into_it():
    """Clears from 1.43 to 1.46 and from 1.5 on; the sizes tried at first see only the latter."""

    def margin(factor):
        return 0.1 if 1.43 <= factor <= 1.48 or factor >= 1.49 else -0.1

    found = least(margin, -0.1, UP)
    assert 1.43 <= found < 1.434


def test_what_is_never_cleared_is_not_found():
    margin, asked = counted(lambda factor: -1 / factor)
    assert least(margin, -1.0, UP) is None
    assert asked == list(UP)


def test_a_size_that_cannot_be_computed_does_not_clear():
    assert least(lambda _: math.nan, -1.0, UP) is None


def test_standard_sizes_are_taken_as_they_are_the_first_that_clears():
    assert least(lambda factor: factor - 4, -3.0, (1.6, 2.5, 4.0, 6.3), stepped=True) == 4.0
    assert least(lambda factor: factor - 7, -6.0, (1.6, 2.5, 4.0, 6.3), stepped=True) is None
    assert least(lambda factor: factor, -1.0, (), stepped=True) is None


def test_no_change_is_sought_more_closely_than_a_millionth():
    found = least(lambda factor: 0.0 if factor > 1 else -1e-12, -1e-12, UP)
    assert 1 < found <= 1 + 1e-6


@given(root=st.floats(1.2, 9.0))
def test_what_is_returned_is_rounded_and_still_clears(root):
    def up(factor):
        return math.ceil(factor * 1000) / 1000

    found = least(lambda factor: factor / root - 1, 1 / root - 1, UP, tidy=up)
    assert found == up(found)
    assert root <= found


@given(root=st.floats(1.001, 1.05))
def test_rounding_that_would_add_much_is_not_used(root):
    found = least(lambda factor: factor / root - 1, 1 / root - 1, UP, tidy=lambda _: 1.06)
    assert change(root) <= change(found) <= 1.011 * change(root)


def test_rounding_that_leaves_a_narrow_window_is_not_used():
    """Clears from 2.5 to 2.51 only: rounding to whole numbers would jump over it."""

    def margin(factor):
        return 1 - abs(factor - 2.505) / 0.005

    found = least(margin, -300.0, (1.05, 2.507, 3.0), tidy=math.ceil)
    assert 2.5 <= found <= 2.51


@pytest.mark.parametrize("sizes", [UP, DOWN])
def test_no_factor_is_tried_twice(sizes):
    margin, asked = counted(
        lambda factor: math.log(factor / 1.7) * (1 if sizes is UP else -3) - 0.1
    )
    least(margin, -1.0, sizes)
    assert len(set(asked)) == len(asked)
