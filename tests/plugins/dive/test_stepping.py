"""The integration alone, against closed forms and scipy."""

import math

import numpy as np
import pytest
from scipy.integrate import RK45, solve_ivp

from linkcalc_dive import stepping
from linkcalc_dive.stepping import End, march

TIGHT = {"relative": 1e-10, "absolute": np.full(2, 1e-12), "longest": 1.0}


def swing(_):
    return lambda y: np.stack((y[1], -y[0]))


def test_the_pair_is_dormands_and_princes():
    # scipy holds the same numbers
    for stage, row in zip(stepping._STAGES, RK45.A[1:], strict=True):  # noqa: SLF001
        assert np.allclose(stage, row[: len(stage)], rtol=1e-15)
    assert np.allclose(stepping._WEIGHTS, RK45.B, rtol=1e-15)  # noqa: SLF001
    assert np.allclose(np.abs(stepping._ERROR), np.abs(RK45.E), rtol=1e-13)  # noqa: SLF001


@pytest.mark.parametrize("level", [0.9, 0.5, -0.999])
def test_a_swing_lands_where_the_cosine_does(level):
    start = np.array([[1.0, 1.0], [0.0, 0.0]])

    def timed(which):
        rate = swing(which)
        return lambda y: np.concatenate((rate(y[:2]), np.ones((1, y.shape[1]))))

    found = march(
        timed,
        np.concatenate((start, np.zeros((1, 2)))),
        [End(0, 1.0, np.array([level, 0.2]))],
        relative=1e-10,
        absolute=np.full(3, 1e-12),
        longest=1.0,
    )
    assert found.last[2, 0] == pytest.approx(math.acos(level), rel=1e-9)
    assert found.last[2, 1] == pytest.approx(math.acos(0.2), rel=1e-9)
    assert found.last[0, 0] == pytest.approx(level, abs=1e-11)


@pytest.mark.parametrize("depth", [1e-1, 1e-3, 1e-5, 1e-7])
def test_a_dip_between_two_steps_is_not_stepped_over(depth):
    # A ball thrown so that it dips below zero for a moment, in long exact steps
    def ball(_):
        return lambda y: np.stack((y[1], np.full(y.shape[1], 2.0)))

    start = np.array([[1.0 - depth], [-2.0]])  # height (t - 1)^2 - depth
    ends = [End(0, 1.0, 0.0), End(1, -1.0, 50.0)]
    loose = {"relative": 1e-3, "absolute": np.full(2, 1e-3), "longest": 10.0}
    found = march(ball, start, ends, **loose)
    assert found.ended_by[0] == 0
    assert found.last[1, 0] == pytest.approx(-2.0 * math.sqrt(depth), rel=1e-3)
    touching = march(ball, np.array([[1.0 + depth], [-2.0]]), ends, **loose)
    assert touching.ended_by[0] == 1


def test_many_paths_take_the_steps_that_each_would_alone():
    start = np.array([np.linspace(0.5, 2.0, 5), np.zeros(5)])
    ends = [End(0, 1.0, -0.4)]
    together = march(swing, start, ends, **TIGHT)
    for number in range(5):
        alone = march(swing, start[:, number : number + 1], ends, **TIGHT)
        steps = together.states[:, :, number]
        steps = steps[~np.isnan(steps[:, 0])]
        np.testing.assert_array_equal(steps, alone.states[:, :, 0])


def test_scipys_solver_needs_as_many_steps():
    found = solve_ivp(
        lambda _, y: [y[1], -y[0], 1.0], (0, 20), [1.0, 0.0, 0.0], rtol=1e-8, atol=1e-8
    )

    def timed(which):
        rate = swing(which)
        return lambda y: np.concatenate((rate(y[:2]), np.ones((1, y.shape[1]))))

    ours = march(
        timed,
        np.array([[1.0], [0.0], [0.0]]),
        [End(2, -1.0, 20.0)],
        relative=1e-8,
        absolute=np.full(3, 1e-8),
        longest=20.0,
    )
    assert len(ours.states) == pytest.approx(len(found.t), rel=0.1)
    np.testing.assert_allclose(ours.last[:, 0], found.y[:, -1], atol=2e-6)


def test_equations_without_an_answer_end_the_path():
    def root(y):
        below = np.where(y[1] <= 1.0, 1.0 - y[1], np.nan)
        return np.stack((np.sqrt(below), np.ones(y.shape[1])))

    found = march(
        lambda _: root,
        np.array([[0.0], [0.0]]),
        [End(0, -1.0, 10.0)],
        relative=1e-6,
        absolute=np.full(2, 1e-6),
        longest=1.0,
    )
    assert found.ended_by[0] == -1
    assert found.last[1, 0] == pytest.approx(1.0, abs=1e-6)
    assert np.isfinite(found.last).all()


def test_a_path_that_starts_at_its_end_stays_there():
    found = march(swing, np.array([[1.0], [0.0]]), [End(0, 1.0, 1.0)], **TIGHT)
    assert found.ended_by[0] == 0
    assert found.states.shape == (1, 2, 1)
