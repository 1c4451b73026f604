"""The helpers that the solvers share."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from linkcalc_hinge_moment.lines import (
    common_shape,
    declared,
    hold_best,
    opposing_sign,
    taper_factor,
)

FINITE = st.floats(-1e6, 1e6)


@pytest.mark.parametrize("taper", [0.0, 0.3, 0.5, 1.0, 2.5])
def test_taper_factor_is_the_integral_of_the_chord_squared(taper):
    def chord(y):
        return 1.0 - (1.0 - taper) * y

    area, _ = quad(chord, 0.0, 1.0)
    square, _ = quad(lambda y: chord(y) ** 2, 0.0, 1.0)
    mean_chord = area  # the span is 1
    assert taper_factor(taper) == pytest.approx(square / (area * mean_chord), rel=1e-12)


def test_taper_factor_of_the_plain_shapes():
    # a rectangle, a triangle
    assert taper_factor(1.0) == 1.0
    assert taper_factor(0.0) == pytest.approx(4.0 / 3.0, rel=1e-15)


@given(st.floats(0.01, 100.0))
def test_taper_factor_does_not_care_which_end_is_called_the_root(taper):
    assert taper_factor(taper) == pytest.approx(taper_factor(1.0 / taper), rel=1e-12)


def test_neutral_counts_as_a_positive_deflection():
    signs = opposing_sign(np.array([-0.2, -0.0, 0.0, 0.2, math.nan]))
    np.testing.assert_array_equal(signs, [-1.0, 1.0, 1.0, 1.0, 1.0])
    assert opposing_sign(-0.2) == -1.0


@given(FINITE, FINITE, FINITE)
def test_a_stretched_band_holds_best_and_moves_no_further(low, best, high):
    bottom, top = hold_best(low=low, best=best, high=high)
    assert bottom <= best <= top
    assert bottom in {low, best}
    assert top in {high, best}


def test_nan_in_a_line_is_nan_in_the_band():
    bottom, top = hold_best(low=0.0, best=math.nan, high=1.0)
    assert math.isnan(bottom)
    assert math.isnan(top)


def test_declared_fields_are_picked_and_none_is_guessed():
    handed = {"area": np.array(0.01), "colour": np.array(1.0)}
    assert set(declared(handed, ["area"])) == {"area"}
    with pytest.raises(KeyError, match="chord"):
        declared(handed, ["area", "chord"])


def test_every_output_takes_the_shape_of_all_fields_together():
    fields = {"area": np.zeros((2, 1)), "chord": np.zeros(3), "taper": np.array(1.0)}
    outputs = common_shape(fields, {"best": np.array([[1.0], [2.0]]), "k_s": 1.2})
    np.testing.assert_array_equal(outputs["best"], [[1.0, 1.0, 1.0], [2.0, 2.0, 2.0]])
    np.testing.assert_array_equal(outputs["k_s"], np.full((2, 3), 1.2))
