import math

import numpy as np
import pytest

from linkcalc.tolerances.advice import advice, shares, swings
from linkcalc.tolerances.distributions import Normal, Uniform
from linkcalc.tolerances.driver import study_tolerance
from linkcalc.tolerances.indices import sobol_indices
from linkcalc.tolerances.inputs import Group, UncertainInputs
from linkcalc.tolerances.sensitivities import sensitivities

THREE = {"a": Normal(5.0, 1.0), "b": Normal(1.0, 2.0), "c": Uniform(0.0, 1.0)}


def model(of):
    return {"y": of["a"] - of["b"] + 0.5 * of["c"]}


def test_swings_go_to_the_ends_of_each_range_and_are_sorted():
    found = swings(model, UncertainInputs(THREE))["y"]
    assert [one.inputs for one in found] == [("b",), ("a",), ("c",)]
    # 97.5 % of a normal is 1.96 standard deviations, of a uniform 95 % of its half width
    assert (found[0].low, found[0].high) == pytest.approx((4 + 2 * 1.959964, 4 - 2 * 1.959964))
    assert (found[1].low, found[1].high) == pytest.approx((4 - 1.959964, 4 + 1.959964))
    assert (found[2].low, found[2].high) == pytest.approx((4 - 0.475, 4 + 0.475))


def test_one_error_in_two_inputs_is_one_swing():
    inputs = UncertainInputs(THREE, groups=[Group("one ruler", ("a", "b"), 1.0)])
    found = swings(model, inputs)["y"]
    assert [one.inputs for one in found] == [("a", "b"), ("c",)]
    # both move together: a - b changes by 1.96 x (1 - 2)
    assert sorted([found[0].low, found[0].high]) == pytest.approx([4 - 1.959964, 4 + 1.959964])


def test_partly_correlated_inputs_swing_as_far_as_their_joint_spread():
    inputs = UncertainInputs(THREE, groups=[Group("one ruler", ("a", "b"), 0.6)])
    swing = swings(model, inputs)["y"][0]
    spread = math.sqrt(1 + 4 - 2 * 0.6 * 1 * 2)
    assert abs(swing.high - swing.low) == pytest.approx(2 * 1.959964 * spread, rel=1e-5)


def test_an_end_without_a_number_comes_first():
    with np.errstate(invalid="ignore"):
        found = swings(lambda of: {"y": np.sqrt(of["c"] + 0.5) + of["b"]}, UncertainInputs(THREE))[
            "y"
        ]
    assert found[0].inputs == ("c",)
    assert found[0].width == math.inf


def test_shares_of_the_law_of_propagation_are_variances():
    inputs = UncertainInputs(THREE, groups=[Group("one ruler", ("a", "b"), 0.6)])
    found = shares(sensitivities(model, inputs)["y"], inputs)
    joint, single = 1 + 4 - 2.4, 0.25 / 3
    assert found == pytest.approx([joint / (joint + single), single / (joint + single)])


def test_advice_names_what_brings_most_of_the_spread():
    inputs = UncertainInputs(THREE)
    study = study_tolerance(model, inputs)
    outputs = list(study.outputs.values())
    for indices in ({}, sobol_indices(model, inputs)):
        (words,) = advice(outputs, inputs, indices)
        assert "y: measure b first; it brings 79 % of the variance" in words
        assert f"spread would be {math.sqrt(1 - 4 / (5 + 0.25 / 3)):.2f}" in words
        assert ("Sobol" in words) == bool(indices)


def test_advice_says_when_no_ruler_will_help_and_when_none_is_needed():
    inputs = UncertainInputs({"a": Normal(-1.0, 1.0)})
    study = study_tolerance(lambda of: {"y": of["a"]}, inputs)
    assert "change the design" in advice(list(study.outputs.values()), inputs, {})[0]
    inputs = UncertainInputs({"a": Uniform(3.0, 1.0)})
    study = study_tolerance(lambda of: {"y": of["a"]}, inputs)
    assert "No sample fell short" in advice(list(study.outputs.values()), inputs, {})[0]
