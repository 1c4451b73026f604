"""Many pushrods at once, which are made ready part by part, against each made by itself."""

import numpy as np
import pytest

from linkcalc.mechanism import many, pushrod

NOMINAL = {
    "servo_pivot": (0.0, 0.0, 0.0),
    "servo_axis": (0.0, 1.0, 0.0),
    "arm": (0.0, 0.0, 0.015),
    "hinge_pivot": (0.12, 0.025, -0.005),
    "hinge_axis": (0.258819, 0.965926, 0.0),
    "horn": (0.0, 0.0, 0.020),
}
SEAM = many.BLOCK  # where one part ends and the next begins
COUNT = 2 * SEAM + 1  # the last part has one element alone
ANGLES = np.linspace(-1.9, 1.9, 11)


def scattered(shape, seed=3):
    random = np.random.default_rng(seed)
    vectors = {
        name: value + random.normal(0.0, 0.02 if "axis" in name else 2e-3, (*shape, 3))
        for name, value in NOMINAL.items()
    }
    vectors["arm"][..., 7::SEAM, :] = 0.0  # no geometry here and there
    return vectors


def same(found, expected):
    for one, other in zip(found, expected, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-11)  # another count, another rounding


@pytest.mark.parametrize("index", [0, 7, SEAM - 1, SEAM, SEAM + 7, 2 * SEAM - 1, 2 * SEAM])
@pytest.mark.parametrize("length", [None, 0.1245])
def test_each_of_many_is_what_it_is_by_itself(index, length):
    vectors = scattered((COUNT,))
    rods = {} if length is None else {"rod_length": length}
    alone = {name: vector[index] for name, vector in vectors.items()} | rods
    ready, single = pushrod.prepare(**vectors, **rods), pushrod.prepare(**alone)
    same([each[:, index] for each in ready.solve(ANGLES[:, None])], single.solve(ANGLES))
    same([each[:, index] for each in ready.invert(ANGLES[:, None])], single.invert(ANGLES))
    same([each[index] for each in ready.limits()], single.limits())
    many_angles = pushrod.solve(ANGLES[:, None], **vectors, **rods)
    same([each[:, index] for each in many_angles], single.solve(ANGLES))


def test_what_only_some_vectors_vary_along_spreads_over_the_rest():
    vectors = scattered((COUNT,))
    horns = vectors["horn"][:, None]  # every horn with every one of three arms
    arms = NOMINAL["arm"] * np.array([[0.8], [1.0], [1.2]])
    whole = pushrod.prepare(**(NOMINAL | {"horn": horns, "arm": arms})).solve(0.7)
    assert whole.slope.shape == (COUNT, 3)
    for row in (0, SEAM // 3, SEAM, COUNT - 1):
        for column, arm in enumerate(arms):
            single = pushrod.prepare(**(NOMINAL | {"horn": horns[row, 0], "arm": arm}))
            same([each[row, column] for each in whole], single.solve(0.7))


@pytest.mark.parametrize("count", [500, COUNT])
@pytest.mark.parametrize("few", [2, 3])
def test_a_few_angles_of_many_geometries_are_those_of_each_by_itself(count, few):
    # up to angles that lie past dead centres, so that the careful way has its part as well
    vectors = {name: vector[:, None] for name, vector in scattered((count,)).items()}
    angles = np.linspace(-1.9, 1.5, few)
    whole = pushrod.solve(angles, **vectors)
    assert whole.slope.shape == (count, few)
    for index in (0, 7, count // 2, count - 1):
        alone = {name: vector[index, 0] for name, vector in vectors.items()}
        same([each[index] for each in whole], pushrod.prepare(**alone).solve(angles))
