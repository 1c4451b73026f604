"""Pushrods against thirty digits, near dead centres too, and many at once against one by one.

The thirty digits are mpmath's. Rotation and closure are written out again here.
"""

import mpmath
import numpy as np
import pytest

from linkcalc.mechanism import pushrod

NAMES = ("servo_pivot", "servo_axis", "arm", "hinge_pivot", "hinge_axis", "horn")
COUNT = 10_000


@pytest.fixture(scope="module")
def scattered():
    """Pushrods of every proportion, with an angle each; a third close to a dead centre."""
    random = np.random.default_rng(20)
    loops = {name: random.normal(size=(COUNT, 3)) for name in NAMES}
    size = 10.0 ** random.uniform(-2.5, -1.0, (2, COUNT, 1))
    loops["arm"] *= size[0]
    loops["horn"] *= size[1]
    loops["servo_pivot"] *= 0.3
    loops["hinge_pivot"] *= 0.3
    ends = np.clip(pushrod.limits(**loops).servo_angle, -4.0, 4.0)
    side = ends[np.arange(COUNT), random.integers(0, 2, COUNT)]
    # Up to a billionth of the way from the dead centre
    short = 10.0 ** random.uniform(-9.0, -3.0, COUNT)
    share = np.where(random.random(COUNT) < 1 / 3, 1.0 - short, random.random(COUNT))
    return loops, side * share


def exact(vectors, angle, near):
    """Surface angle to thirty digits: of the closure's roots the one nearest to a guess."""
    origin, axis, arm, hinge, line, horn = vectors

    def dot(first, second):
        return sum(a * b for a, b in zip(first, second, strict=True))

    def cross(first, second):
        return [first[i - 2] * second[i - 1] - first[i - 1] * second[i - 2] for i in range(3)]

    axis, line = ([x / mpmath.sqrt(dot(v, v)) for x in v] for v in (axis, line))
    cosine, sine, along = mpmath.cos(angle), mpmath.sin(angle), dot(axis, arm)
    across = cross(axis, arm)
    turned = [
        a * cosine + b * sine + k * along * (1 - cosine)
        for a, b, k in zip(arm, across, axis, strict=True)
    ]
    offset = [o - h for o, h in zip(origin, hinge, strict=True)]
    joint = [o + t for o, t in zip(offset, turned, strict=True)]
    start = [o + a - q for o, a, q in zip(offset, arm, horn, strict=True)]
    # |joint|^2 + |horn|^2 - L^2 = 2 joint . horn(surface)
    above, height = dot(line, horn), dot(line, joint)
    a = dot(joint, horn) - above * height
    b = dot(joint, cross(line, horn))
    c = (dot(joint, joint) + dot(horn, horn) - dot(start, start)) / 2 - above * height
    middle, half = mpmath.atan2(b, a), mpmath.acos(c / mpmath.hypot(a, b))
    roots = [middle - half, middle + half]
    turns = [mpmath.nint((near - root) / (2 * mpmath.pi)) for root in roots]
    roots = [root + 2 * mpmath.pi * n for root, n in zip(roots, turns, strict=True)]
    return min(roots, key=lambda root: abs(root - near))


def worst(solution, loops, angle):
    """Largest error over 1 + |slope| where there is an answer [rad]."""
    shares = []
    with mpmath.workdps(30):
        for index in np.flatnonzero(solution.reason == 0):
            vectors = [[mpmath.mpf(float(x)) for x in loops[name][index]] for name in NAMES]
            found = mpmath.mpf(float(solution.surface_angle[index]))
            error = exact(vectors, mpmath.mpf(float(angle[index])), found) - found
            shares.append(abs(float(error.real)) / (1.0 + abs(solution.slope[index])))
    return max(shares)


def test_surface_angle_agrees_with_thirty_digits_up_to_the_dead_centres(scattered):
    loops, angle = scattered
    solution = pushrod.solve(angle, **loops)
    assert (solution.reason == 0).mean() > 0.99
    assert (np.abs(solution.slope) > 100.0).mean() > 0.03  # some are close indeed
    assert worst(solution, loops, angle) <= 1e-9


def test_many_at_once_agree_with_one_by_one(scattered):
    loops, angle = scattered
    random = np.random.default_rng(21)
    for angles in (angle, 3.0 * angle, random.uniform(-9.0, 9.0, COUNT)):
        together = pushrod.solve(angles, **loops)
        # With fifty angles each the dead centres are sought.
        some = slice(None, None, 40)
        spread = np.concatenate([angles[some, None], np.zeros((COUNT // 40, 50))], axis=1)
        few = {name: vector[some, None] for name, vector in loops.items()}
        single = pushrod.solve(spread, **few)
        clear = np.abs(together.slope[some]) < 1e3
        np.testing.assert_array_equal(together.reason[some], single.reason[:, 0])
        for one, other in zip(together[:3], single[:3], strict=True):
            np.testing.assert_allclose(one[some][clear], other[:, 0][clear], rtol=1e-8, atol=1e-10)


@pytest.mark.parametrize("share", [None, 0.97, 1.02])
def test_many_rod_lengths_agree_with_one_by_one(scattered, share):
    loops, angle = (
        {name: vector[:2000] for name, vector in scattered[0].items()},
        0.7 * scattered[1][:2000],
    )
    rod = None
    if share is not None:
        rod = share * np.linalg.norm(
            loops["servo_pivot"] + loops["arm"] - loops["hinge_pivot"] - loops["horn"], axis=-1
        )
    together = pushrod.solve(angle, **loops, rod_length=rod)
    for index in range(0, 2000, 20):
        single = pushrod.solve(
            angle[index],
            **{name: vector[index] for name, vector in loops.items()},
            rod_length=None if rod is None else rod[index],
        )
        assert single.reason == together.reason[index]
        if single.reason == 0 and abs(single.slope) < 1e3:
            for one, other in zip(together[:3], single[:3], strict=True):
                np.testing.assert_allclose(one[index], other, rtol=1e-8, atol=1e-10)


def test_what_is_no_geometry_among_many_gives_reason_4_there_alone(scattered):
    loops = {name: vector[:200].copy() for name, vector in scattered[0].items()}
    loops["arm"][3] = np.nan
    loops["servo_axis"][5] = 0.0
    loops["horn"][7] = -0.5 * loops["hinge_axis"][7]
    loops["arm"][9] = 2.0 * loops["servo_axis"][9]
    loops["hinge_pivot"][11] = np.inf
    loops["hinge_axis"][13] = 1e200  # no matter how long
    angle = 1e-3 * scattered[1][:200]
    angle[15] = np.nan
    solution = pushrod.solve(angle, **loops)
    assert np.flatnonzero(solution.reason == 4).tolist() == [3, 5, 7, 9, 11, 15]
    assert np.isnan(solution.surface_angle[[3, 5, 7, 9, 11, 15]]).all()


def test_slope_is_as_good_half_a_turn_from_neutral():
    # The crank of a parallelogram-like loop goes round; the tangent of half the angle does not end.
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0), "arm": (0.0, 0.0, 0.01),
        "hinge_pivot": (0.2, 0.0, 0.0), "hinge_axis": (0.0, 1.0, 0.0), "horn": (0.0, 0.0, 0.03),
    }  # fmt: skip
    angle = np.pi + np.array([-1e-3, -1e-9, 0.0, 1e-9, 1e-3])
    slope = pushrod.solve(angle, **loop).slope
    assert np.ptp(slope[1:4]) < 1e-8
    step = 1e-5
    ahead, behind = (pushrod.solve(angle + side, **loop).surface_angle for side in (step, -step))
    np.testing.assert_allclose(slope, (ahead - behind) / (2 * step), rtol=1e-7)
