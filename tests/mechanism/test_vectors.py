"""Vector products against numpy's own."""

import numpy as np
from numpy.testing import assert_allclose

from linkcalc.mechanism import vectors

PAIR = np.random.default_rng(1).normal(size=(2, 3, 5, 2))


def test_products_agree_with_numpy():
    first, second = PAIR
    assert_allclose(vectors.dot(first, second), np.einsum("k...,k...", first, second), rtol=1e-14)
    assert_allclose(vectors.cross(first, second), np.cross(first, second, axis=0), rtol=1e-14)
    assert_allclose(vectors.length(first), np.linalg.norm(first, axis=0), rtol=1e-14)


def test_products_broadcast_with_a_single_vector():
    single = np.array([1.0, 2.0, 3.0])
    expected = [[np.dot(single, PAIR[0][:, i, j]) for j in range(2)] for i in range(5)]
    assert_allclose(vectors.dot(single, PAIR[0]), expected, rtol=1e-13)
