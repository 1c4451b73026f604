import math

import numpy as np
import pytest

from linkcalc.errors import InputError
from linkcalc.tolerances.distributions import Normal, Uniform
from linkcalc.tolerances.indices import sobol_indices
from linkcalc.tolerances.inputs import Group, UncertainInputs

# T. Ishigami and T. Homma, ISUMA '90, 398: sin x1 + a sin^2 x2 + b x3^4 sin x1, all x uniform
# over -pi to pi; the variances below are the closed form (from memory, and integrated by hand)
A, B = 7.0, 0.1
V1 = 0.5 * (1 + B * math.pi**4 / 5) ** 2
V2 = A**2 / 8
V13 = B**2 * math.pi**8 * (1 / 18 - 1 / 50)
V = V1 + V2 + V13
FIRST = [V1 / V, V2 / V, 0.0]
TOTAL = [(V1 + V13) / V, V2 / V, V13 / V]
THREE = UncertainInputs({name: Uniform(0.0, math.pi) for name in ("x1", "x2", "x3")})


def ishigami(of):
    return {"y": np.sin(of["x1"]) * (1 + B * of["x3"] ** 4) + A * np.sin(of["x2"]) ** 2}


def test_ishigami():
    found = sobol_indices(ishigami, THREE, number=2**14)["y"]
    assert found.first == pytest.approx(FIRST, abs=0.01)
    assert found.total == pytest.approx(TOTAL, abs=0.01)
    assert pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4) == FIRST  # as often printed
    assert pytest.approx([0.5576, 0.4424, 0.2437], abs=1e-4) == TOTAL


def test_intervals_of_indices_hold_the_closed_form_as_often_as_they_say():
    held, runs = np.zeros((2, 3)), 40
    for seed in range(runs):
        found = sobol_indices(ishigami, THREE, number=256, seed=seed, resamples=60)["y"]
        for row, truth, interval in (
            (0, FIRST, found.first_interval),
            (1, TOTAL, found.total_interval),
        ):
            held[row] += (interval[:, 0] <= truth) & (truth <= interval[:, 1])
    assert (held >= 0.85 * runs).all(), held  # Sobol points are steadier than the bootstrap thinks


def test_shares_of_a_sum_are_those_of_the_variances_and_a_product_has_an_interaction():
    two = UncertainInputs({"a": Normal(0.0, 1.0), "b": Normal(0.0, 2.0)})
    found = sobol_indices(lambda of: {"sum": of["a"] + of["b"], "product": of["a"] * of["b"]}, two)
    assert found["sum"].first == pytest.approx([0.2, 0.8], abs=0.02)
    assert found["sum"].total == pytest.approx([0.2, 0.8], abs=0.02)
    assert found["product"].first == pytest.approx([0.0, 0.0], abs=0.05)  # all of it is interaction
    assert found["product"].total == pytest.approx([1.0, 1.0], abs=0.05)


def test_inputs_that_move_together_are_one_factor():
    inputs = UncertainInputs(
        {"a": Normal(0.0, 1.0), "b": Normal(0.0, 1.0), "c": Normal(0.0, 1.0)},
        groups=[Group("one ruler", ("a", "c"), 1.0)],
    )
    found = sobol_indices(lambda of: {"y": of["a"] + of["b"] + of["c"]}, inputs)["y"]
    assert found.factors == (("a", "c"), ("b",))
    # variances: (1 + 1)^2 of the two together, 1 of the other
    assert found.total == pytest.approx([0.8, 0.2], abs=0.02)


def test_no_indices_without_variance_or_with_lost_samples():
    still = sobol_indices(lambda of: {"y": 0 * of["x1"], "z": of["x1"]}, THREE, number=64)
    assert still["y"].reason == "nothing varies"
    assert np.isnan(still["y"].total).all()
    assert still["z"].reason == ""
    with np.errstate(invalid="ignore"):
        lost = sobol_indices(lambda of: {"y": np.sqrt(of["x1"])}, THREE, number=64)["y"]
    assert "no finite number" in lost.reason
    assert np.isnan(lost.first_interval).all()


def test_the_same_seed_gives_the_same_digits_and_few_points_are_refused():
    one, two = (sobol_indices(ishigami, THREE, number=128, seed=4)["y"] for _ in range(2))
    assert np.array_equal(one.total_interval, two.total_interval)
    with pytest.raises(InputError, match="64"):
        sobol_indices(ishigami, THREE, number=10)
    with pytest.raises(InputError, match="confidence"):
        sobol_indices(ishigami, THREE, number=64, confidence=1.0)


@pytest.mark.parametrize("block", [1, 7, 100, 10**6])
def test_how_many_are_evaluated_at_once_changes_no_digit(block):
    plain = sobol_indices(ishigami, THREE, number=96)["y"]
    told = []
    found = sobol_indices(
        ishigami, THREE, number=96, block=block, progress=lambda *at: told.append(at)
    )["y"]
    assert np.array_equal(found.first, plain.first)
    assert np.array_equal(found.total_interval, plain.total_interval)
    assert found.evaluations == 96 * 5
    assert told == sorted(told)
    assert told[-1] == (480, 480)


def test_the_keyboard_keeps_the_points_that_are_done_if_they_are_enough():
    calls = []

    def stopped(of):
        calls.append(1)
        if len(calls) > 5:
            raise KeyboardInterrupt
        return ishigami(of)

    found = sobol_indices(stopped, THREE, number=1024, block=100)["y"]  # 20 points at once
    assert found.number == 100
    same = sobol_indices(ishigami, THREE, number=100)["y"]
    assert np.array_equal(found.first, same.first)
    calls.extend([1] * 5)
    with pytest.raises(KeyboardInterrupt):
        sobol_indices(stopped, THREE, number=1024, block=100)
