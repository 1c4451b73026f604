import math

import numpy as np
import pytest
import scipy.stats

from linkcalc.errors import InputError
from linkcalc.tolerances.distributions import Normal, Triangular, Uniform
from linkcalc.tolerances.inputs import Group, UncertainInputs
from linkcalc.tolerances.points import Points
from linkcalc.tolerances.reliability import design_point, rare_chance

NORMAL = scipy.stats.norm


@pytest.mark.parametrize("distance", [1.0, 3.0, 5.5])
@pytest.mark.parametrize("direction", [(1.0, 0.0, 0.0), (0.6, -0.8, 0.0), (0.36, 0.48, 0.8)])
def test_a_plane_is_found_exactly(distance, direction):
    found = design_point(lambda u: distance - np.array(direction) @ u, 3)
    assert found.distance == pytest.approx(distance, rel=1e-8)
    assert found.scores == pytest.approx(distance * np.array(direction), abs=1e-6)
    assert found.chance == pytest.approx(NORMAL.sf(distance), rel=1e-6)
    assert found.importance == pytest.approx(np.square(direction), abs=1e-8)


def test_stated_values_that_fall_short_have_a_negative_distance():
    found = design_point(lambda u: -1.0 - u[0], 2)
    assert found.distance == pytest.approx(-1.0)
    assert found.chance == pytest.approx(NORMAL.cdf(1.0))


def test_a_paraboloid_has_its_design_point_at_the_vertex():
    found = design_point(lambda u: 3.0 - u[0] + 0.1 * u[1] ** 2, 2)
    assert found.scores == pytest.approx([3.0, 0.0], abs=1e-5)


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (lambda u: 1.0 + 0 * u[0], "does not follow"),
        (lambda u: 20.0 - u[0], "no shortfall was found"),
        (lambda u: 0 * u[0] + np.nan, "no number at the stated values"),
        (lambda u: 2.0 + np.tanh(u[0]), ""),
    ],
)
def test_no_design_point_is_told_with_a_reason(limit, words):
    found = design_point(limit, 2)
    assert words in found.reason
    assert found.reason != ""
    assert math.isnan(found.chance)


@pytest.mark.parametrize("distance", [2.5, 4.0, 6.0])
def test_a_normal_margin_has_its_closed_form_however_rare(distance):
    inputs = UncertainInputs({"have": Normal(10.0, 0.6), "need": Normal(10.0 - distance, 0.8)})
    found = rare_chance(lambda of: {"left": of["have"] - of["need"]}, inputs, "left")
    exact = NORMAL.sf(distance)
    assert found.first_order.chance == pytest.approx(exact, rel=1e-6)
    assert found.sampled.low <= exact <= found.sampled.high
    assert found.sampled.high - found.sampled.low < 0.1 * exact
    # the likeliest shortfall moves each by its share of the variance
    assert found.values["have"] == pytest.approx(10.0 - distance * 0.36, rel=1e-5)


def test_correlated_inputs_have_their_closed_form():
    inputs = UncertainInputs(
        {"have": Normal(10.0, 1.0), "need": Normal(5.0, 1.0)},
        groups=[Group("one scale", ("have", "need"), 0.5)],
    )
    found = rare_chance(lambda of: {"left": of["have"] - of["need"]}, inputs, "left")
    exact = NORMAL.sf(5.0)  # variance 1 + 1 - 2 x 0.5
    assert found.first_order.chance == pytest.approx(exact, rel=1e-6)
    assert found.sampled.low <= exact <= found.sampled.high


def test_a_tail_of_uniform_inputs_has_its_closed_form_where_the_first_order_has_not():
    # the sum of 3 uniform variables over 0 to 1 is below x < 1 with a chance of x^3 / 3! (Irwin and
    # Hall, from memory; the volume of a corner of the cube)
    inputs = UncertainInputs({name: Uniform(0.5, 0.5) for name in "abc"})
    found = rare_chance(lambda of: {"left": of["a"] + of["b"] + of["c"] - 0.05}, inputs, "left")
    exact = 0.05**3 / 6
    assert found.sampled.low <= exact <= found.sampled.high
    assert found.sampled.high < 1.4 * exact
    assert found.first_order.chance / exact != pytest.approx(1.0, rel=0.2)


def test_a_curved_limit_is_as_by_brute_force():
    # 2^22 independent points, a fixed seed; a lever of arm over horn against an invented load
    inputs = UncertainInputs(
        {
            "arm": Uniform(12.0, 0.5),
            "horn": Triangular(10.0, 0.8),
            "speed": Normal(25.0, 1.3),
            "stall": Normal(3.2, 0.15),
        }
    )

    def margin(of):
        return {
            "margin": of["stall"] / (2.1 * (of["speed"] / 25) ** 2 * of["arm"] / of["horn"] / 1.2)
            - 1
        }

    found = rare_chance(margin, inputs, "margin", number=2**15)
    count = sum(
        int((margin(inputs.values(points.scores(k * 2**17, (k + 1) * 2**17)))["margin"] < 0).sum())
        for points in [Points(4, seed=11, kind="random")]
        for k in range(32)
    )
    assert 50 < count < 20_000
    brute = scipy.stats.binomtest(count, 2**22).proportion_ci(0.99, method="exact")
    assert found.sampled.low <= brute.high
    assert found.sampled.high >= brute.low
    assert found.sampled.high - found.sampled.low < 0.15 * found.sampled.value


def test_intervals_of_importance_sampling_hold_as_often_as_they_say():
    inputs = UncertainInputs({"have": Normal(10.0, 1.0), "need": Normal(6.0, 1.0)})

    def left(of):
        return {"left": of["have"] - of["need"]}

    exact = NORMAL.sf(4.0 / math.sqrt(2))
    found = [
        rare_chance(left, inputs, "left", number=512, replicates=8, seed=seed).sampled
        for seed in range(100)
    ]
    assert sum(one.low <= exact <= one.high for one in found) >= 88


def test_a_shortfall_where_nothing_can_be_computed_counts():
    inputs = UncertainInputs({"x": Normal(0.0, 1.0)})
    found = rare_chance(
        lambda of: {"y": np.where(of["x"] > 3.5, np.nan, 3.0 - of["x"])}, inputs, "y", number=2**13
    )
    assert found.sampled.value == pytest.approx(NORMAL.sf(3.0), rel=0.05)


def test_too_few_points_are_refused_and_no_design_point_gives_no_sample():
    inputs = UncertainInputs({"x": Uniform(5.0, 1.0)})
    with pytest.raises(InputError, match="number"):
        rare_chance(lambda of: {"y": of["x"]}, inputs, "y", number=100)
    found = rare_chance(lambda of: {"y": of["x"]}, inputs, "y")
    assert found.sampled is None
    assert found.first_order.reason != ""


def test_a_search_that_comes_no_nearer_ends_soon():
    calls = []

    def limit(scores):
        calls.append(1)
        return 2.0 + np.exp(-0.3 * scores.sum(axis=0))  # never below 2

    found = design_point(limit, 3)
    assert "9 standard scores" in found.reason
    assert len(calls) < 20
