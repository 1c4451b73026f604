"""Evaluation in parts."""

import numpy as np
import pytest

from linkcalc.mechanism.branch import Branch, blockwise
from linkcalc.mechanism.loop import Weights


def branch(shape=()):
    """Branch of y = x, as A = cos x, B = sin x, C = 0 gives it but for a right angle."""
    rows = np.zeros((3, 3, *shape))
    rows[1, 0] = rows[2, 1] = 0.5
    return Branch.starting(Weights(*rows), np.ones(shape), np.zeros(shape), np.full(shape, 0.5))


def seen(angle, here, *others):
    seen.shapes.append(np.broadcast_shapes(angle.shape, here.sign.shape))
    return (angle + here.sign, *(angle * other for other in others))


@pytest.mark.parametrize(
    ("angles", "geometries"),
    [
        ((100_000,), ()),
        ((200_000,), (1,)),
        ((), (90_000,)),
        ((5, 1), (90_000,)),
        ((61,), (3_000, 1)),
        ((61, 1, 1), (40, 50)),
        ((70_000,), (70_000,)),
    ],
)
def test_parts_are_small_and_make_the_whole(angles, geometries):
    random = np.random.default_rng(5)
    angle, factor = random.normal(size=angles), random.normal(size=geometries)
    seen.shapes = []
    summed, product = blockwise(seen, angle, branch(geometries), factor)
    np.testing.assert_array_equal(product, angle * factor)
    np.testing.assert_array_equal(summed, np.broadcast_to(angle + 1.0, summed.shape))
    assert len(seen.shapes) > 1
    assert max(int(np.prod(shape)) for shape in seen.shapes) <= 40_000


def test_small_results_are_evaluated_at_once():
    seen.shapes = []
    blockwise(seen, np.zeros((100, 100)), branch())
    assert seen.shapes == [(100, 100)]


def test_output_keeps_counting_turns():
    angle = np.linspace(-20.0, 20.0, 81)
    points = branch().points(angle)
    np.testing.assert_allclose(points.output - points.output[40], angle, rtol=0, atol=1e-14)
    np.testing.assert_allclose(points.slope(), 1.0, rtol=1e-14)
