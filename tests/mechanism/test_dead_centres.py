"""Dead centres against dense scans, and against pairs of them made to measure."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from linkcalc.mechanism.dead_centres import ends
from linkcalc.mechanism.loop import Weights


def height(weights, angle):
    a, b, c = (k + p * np.cos(angle) + r * np.sin(angle) for k, p, r in zip(*weights, strict=True))
    return a**2 + b**2 - c**2


def scanned(weights, side):
    """First change of sign of the discriminant on one side, by scan and bracketing."""
    angle = side * np.linspace(0.0, 2 * math.pi, 20_001)
    changes = np.flatnonzero(np.diff(np.sign(height(weights, angle))))
    if not changes.size:
        return side * math.inf
    first = changes[0]
    return brentq(lambda x: height(weights, x), angle[first], angle[first + 1], xtol=1e-15)


def made(low, high, depth=0.5):
    """Weights with B = 1 and a discriminant of zero at two angles, as C^2 = 1 there."""
    middle, half = (low + high) / 2, (high - low) / 2
    # C = 1 + depth (cos(x - middle) - cos(half)) exceeds one between the two.
    return Weights(
        np.array([0.0, 1.0, 1.0 - depth * math.cos(half)]),
        np.array([0.0, 0.0, depth * math.cos(middle)]),
        np.array([0.0, 0.0, depth * math.sin(middle)]),
    )


def normalised(weights):
    return Weights(*(row / np.abs(weights).sum() for row in weights))


@pytest.mark.parametrize("seed", range(60))
def test_ends_agree_with_a_scan(seed):
    random = np.random.default_rng(seed)
    weights = Weights(*random.normal(size=(3, 3)) * random.choice([0.1, 1.0, 10.0], size=(1, 3)))
    at_zero = height(weights, 0.0)
    if at_zero < 0.0:  # make it close at zero
        weights.constant[1] += 2.0 * math.sqrt(-at_zero) + 2.0 * abs(weights.values(1.0, 0.0).b)
    found = ends(normalised(weights))
    expected = [scanned(weights, side) for side in (-1.0, 1.0)]
    assert_allclose([found.lower, found.upper], expected, rtol=0, atol=1e-9)
    assert not found.lower_touches
    assert not found.upper_touches


@pytest.mark.parametrize("middle", [0.01, 1.0, math.pi, 5.0])
@pytest.mark.parametrize("width", [1e-1, 1e-3, 1e-4, 1e-5])
def test_narrow_gap_is_not_stepped_over(middle, width):
    if width >= middle:
        return
    low, high = middle - width / 2, middle + width / 2
    found = ends(normalised(made(low, high)))
    # Near a pair the zero is as uncertain as the discriminant's rounding over its slope.
    assert_allclose(found.upper, low, rtol=0, atol=1e-14 / width)
    assert_allclose(found.lower, high - 2 * math.pi, rtol=0, atol=1e-14 / width)
    assert not found.upper_touches


@pytest.mark.parametrize("middle", [0.01, 1.0, math.pi, 5.0])
@pytest.mark.parametrize("width", [1e-7, 1e-9, 0.0])
def test_touching_counts_as_a_dead_centre(middle, width):
    found = ends(normalised(made(middle - width / 2, middle + width / 2)))
    assert_allclose(found.upper, middle, rtol=0, atol=1e-9 + width)
    assert_allclose(found.lower, middle - 2 * math.pi, rtol=0, atol=1e-9 + width)
    assert found.upper_touches
    assert found.lower_touches


@pytest.mark.parametrize("middle", [0.01, 1.0, math.pi, 5.0])
@pytest.mark.parametrize("clearance", [1e-13, 1e-14, 1e-15])
def test_passing_a_dead_centre_within_rounding_counts_as_touching(middle, clearance):
    weights = made(middle, middle)
    weights.constant[1] += clearance
    found = ends(normalised(weights))
    assert_allclose(found.upper, middle, rtol=0, atol=1e-9)
    assert found.upper_touches


@pytest.mark.parametrize(
    ("depth", "middle", "width"),
    [
        (5e3, 1.16e-2, 1.13e-4),
        (1.5e5, 4.5e-3, 3.06e-5),
        # These are lost in the rounding of a discriminant that is far from zero elsewhere.
        (86345.0968732973, 0.0029424131569969277, 6.136483841222578e-06),
        (174235.15527230452, 0.002289522146947239, 1.0238411566477682e-05),
        (33939.75002953547, 0.005298903766073705, 3.622388930640866e-06),
    ],
)
def test_narrow_gap_of_an_arm_far_longer_than_the_horn_is_found(depth, middle, width):
    found = ends(normalised(made(middle - width / 2, middle + width / 2, depth)))
    assert_allclose(found.upper, middle - width / 2, rtol=0, atol=2e-10)


@pytest.mark.parametrize("clearance", [1e-10, 1e-6, 1e-2])
def test_passing_a_dead_centre_closely_is_no_end(clearance):
    weights = made(2.0, 2.0)
    weights.constant[1] += clearance  # B > C everywhere
    found = ends(normalised(weights))
    assert [found.lower, found.upper] == [-math.inf, math.inf]


def test_whole_arrays_give_the_ends_of_each():
    several = [normalised(made(middle - 0.1, middle + 0.1)) for middle in (1.0, 2.0, 4.0)]
    stacked = Weights(*(np.stack(rows, axis=-1) for rows in zip(*several, strict=True)))
    assert_allclose(ends(stacked).upper, [0.9, 1.9, 3.9], rtol=1e-12)
    assert_allclose(ends(stacked).lower, np.array([1.1, 2.1, 4.1]) - 2 * math.pi, rtol=1e-12)
