"""The first root of several functions, against a general root finder and closed forms."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from linkcalc.evaluation.roots import first_root

CURVES = (
    lambda x: x**2 / 5 - 1,
    lambda x: math.sinh(x) / 3 - 1,
    lambda x: 1 - 2 / (x + 0.1) if x > 0 else -9.0,
    lambda x: max(-1.0, 3 * (x - 1.6)),  # bends in the middle
    lambda x: -1.0 if x < 1.3 else 50.0,  # jumps
    lambda _x: -0.3,
    lambda _x: 0.0,  # just enough everywhere
)


def found(functions, ends):
    """Find the first root on one interval, and count what was asked."""
    asked = []

    def at(places, _which):
        asked.append(places)
        return np.array([[function(place) for place in places] for function in functions])

    places = [np.array([end]) for end in ends]
    root, which = first_root(at, places, [at(place, None) for place in places])
    return float(root[0]), int(which[0]), len(asked) - 3


@given(
    st.lists(st.sampled_from(range(len(CURVES))), min_size=1, max_size=4, unique=True),
    st.floats(0.3, 1.0),
    st.floats(2.9, 4.0),
)
def test_it_is_the_least_root_that_a_general_finder_gives(chosen, low, high):
    functions = [CURVES[index] for index in chosen]
    rising = [function for function in functions if function(low) <= 0 < function(high)]
    if not rising:
        return
    known = min(brentq(function, low, high, xtol=1e-13, rtol=1e-13) for function in rising)
    root, which, asked = found(functions, (low, high, 0.5 * low))
    assert root == pytest.approx(known, rel=2e-7)
    assert functions[which](root * (1 + 1e-6)) > 0
    assert asked <= 40


@given(st.floats(0.5, 3.0), st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(1.05, 3.0))
def test_a_smooth_root_is_found_whichever_side_the_trials_come_from(slope, bend, twist, high):
    def cubic(x):
        return (x - 1) * (slope + bend * (x - 1) + twist * (x - 1) ** 2)

    assume(cubic(0.0) < 0 < cubic(high))
    known = brentq(cubic, 0.0, high, xtol=1e-14)
    near = [cubic(known + step) for step in (-1e-3, 1e-3)]
    assume(near[1] - near[0] > 1e-4)  # a root, not a place where the curve hugs zero
    root, _, _ = found([cubic], (0.0, high, 0.5 * high))
    assert abs(cubic(root)) < 1e-6


def test_small_values_are_not_taken_for_small_errors():
    root, _, _ = found([lambda x: 1e-3 * (x**3 / 8 + 0.1 * x - 1.2)], (1.0, 3.0, 0.5))
    assert root == pytest.approx(2.0, rel=1e-6)


def test_a_curve_that_bends_much_is_not_taken_for_settled():
    def cubic(x):
        return (x - 1) * (0.25 - 2.25 * (x - 1) + 2.5 * (x - 1) ** 2)

    root, _, _ = found([cubic], (0.0, 1.96875, 0.984375))
    assert abs(cubic(root)) < 3e-6


def test_downwards_from_zero_is_as_good_as_upwards():
    root, _, _ = found([lambda x: x**2 - 0.5], (0.0, -1.0, -2.0))
    assert root == pytest.approx(-math.sqrt(0.5), rel=1e-7)


def test_a_smooth_function_takes_few_questions():
    root, _, asked = found([lambda x: x**3 / 8 + 0.1 * x - 1.2], (1.0, 3.0, 0.5))
    assert root == pytest.approx(2.0, rel=1e-7)
    assert asked <= 5


def test_a_function_that_hugs_zero_and_then_leaps_is_not_approached_from_one_side_for_ever():
    root, _, asked = found([lambda x: math.expm1(40 * (x - 2.0)) / 50], (0.0, 2.09, 0.1))
    assert root == pytest.approx(2.0, rel=1e-6)
    assert asked <= 25


def test_a_root_that_is_met_exactly_is_kept():
    assert found([lambda x: x - 2.0], (2.0, 3.0, 1.0))[0] == 2.0


def test_searches_side_by_side_do_not_see_each_other():
    goals = np.array([0.2, 1.7, 2.0, 3.9])

    def at(places, which):
        return (np.exp(places / goals[which] - 1) - 1)[None]

    places = [np.full(4, end) for end in (0.1, 4.0, 5.0)]
    root, _ = first_root(at, places, [at(place, np.arange(4)) for place in places])
    assert root == pytest.approx(goals, rel=2e-7)
