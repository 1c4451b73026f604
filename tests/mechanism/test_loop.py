"""The closure against distances of joints, its winding against a walk around the circle."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from linkcalc.mechanism.loop import Values, Weights, closure, discriminant, winding

ONE_TURN = np.linspace(0.0, 2.0 * math.pi, 2001)


def unit(vector):
    return np.asarray(vector) / np.linalg.norm(vector)


LOOP = {
    "servo_pivot": np.array([0.3, -0.2, 0.1]),
    "servo_axis": unit([0.1, 1.0, -0.2]),
    "arm": np.array([0.05, 0.04, 0.3]),
    "hinge_pivot": np.array([1.1, 0.3, -0.2]),
    "hinge_axis": unit([0.4, -0.9, 0.1]),
    "horn": np.array([-0.1, 0.03, 0.4]),
}


def closure_of(loop, stretch=0.0):
    weights, size = closure(
        offset=loop["servo_pivot"] - loop["hinge_pivot"],
        input_axis=loop["servo_axis"],
        input_arm=loop["arm"],
        output_axis=loop["hinge_axis"],
        output_arm=loop["horn"],
        stretch=np.array(stretch),
    )
    return Weights(*(row * size for row in weights))


@pytest.mark.parametrize("rod", [None, 0.9, 1.2])
def test_closure_is_half_of_what_the_rod_lacks_in_squared_length(vectors, rod):
    closing = vectors.rod(LOOP)
    rod = closing if rod is None else rod
    weights = closure_of(LOOP, (rod**2 - closing**2) / 2)
    servo, surface = np.random.default_rng(3).uniform(-4.0, 4.0, size=(2, 50))
    a, b, c = weights.values(np.cos(servo), np.sin(servo))
    assert_allclose(
        a * np.cos(surface) + b * np.sin(surface) - c,
        (rod**2 - vectors.distance(LOOP, servo, surface) ** 2) / 2,
        rtol=0,
        atol=1e-15,
    )


def test_rates_agree_with_central_differences():
    weights, angle, step = closure_of(LOOP), np.linspace(-3.0, 3.0, 7), 1e-5
    ahead, behind = (
        np.array(weights.values(np.cos(angle + side), np.sin(angle + side)))
        for side in (step, -step)
    )
    rates = weights.rates(np.cos(angle), np.sin(angle))
    assert_allclose(rates, (ahead - behind) / (2 * step), rtol=0, atol=1e-10)


def test_shifted_weights_count_from_elsewhere():
    weights, start = closure_of(LOOP), np.array(0.7)
    here = weights.shifted(start).values(np.cos(0.5), np.sin(0.5))
    assert_allclose(here, weights.values(np.cos(1.2), np.sin(1.2)), rtol=1e-14)


def test_discriminant_is_the_squared_rate_of_the_closure():
    # A cos y + B sin y = C has y = 0.8 as a root if C is what the left side is there.
    a, b, y = 0.3, -0.7, 0.8
    rate = -a * math.sin(y) + b * math.cos(y)
    values = (np.array(a), np.array(b), np.array(a * math.cos(y) + b * math.sin(y)))
    assert_allclose(discriminant(Values(*values)), rate**2, rtol=1e-14)


@pytest.mark.parametrize("seed", range(40))
def test_direction_is_the_one_nearest_to_its_mean_wherever_it_is_followed_to(seed):
    random = np.random.default_rng(seed)
    weights = Weights(*random.normal(size=(3, 3)) * random.choice([0.05, 1.0, 3.0], size=(3, 1)))
    turns, lean = winding(weights)
    a, b, _ = weights.values(np.cos(ONE_TURN), np.sin(ONE_TURN))
    followed = np.unwrap(np.arctan2(b, a))
    assert turns == round((followed[-1] - followed[0]) / (2 * math.pi))
    # The same whole number of turns lies between the two all the way round.
    away = (followed - lean - turns * ONE_TURN) / (2 * math.pi)
    assert np.ptp(np.rint(away)) == 0.0
    assert np.abs(away - np.rint(away)).max() < 0.5


def test_winding_counts_turns_either_way_and_none():
    forward = Weights(np.array([0.5, 0, 0]), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]))
    backward = forward._replace(sine=-forward.sine)
    outside = forward._replace(constant=np.array([2.0, 0, 0]))
    centred = forward._replace(constant=np.zeros(3))
    assert [float(winding(w)[0]) for w in (forward, backward, outside, centred)] == [1, -1, 0, 1]
