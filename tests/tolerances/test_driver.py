import math
import os
import signal

import numpy as np
import pytest
import scipy.stats

from linkcalc.errors import InputError
from linkcalc.tolerances import chances
from linkcalc.tolerances.distributions import Normal, Triangular, Uniform
from linkcalc.tolerances.driver import REPLICATES, study_tolerance
from linkcalc.tolerances.inputs import Group, UncertainInputs

INPUTS = UncertainInputs(
    {"arm": Uniform(12.0, 0.3), "horn": Triangular(10.0, 0.4), "speed": Normal(25.0, 1.0)},
    groups=[Group("one ruler", ("arm", "horn"), 0.5)],
)


def margin(of):
    return {
        "torque": 3.4 / (0.0045 * of["speed"] ** 2 * of["arm"] / of["horn"]) - 1,
        "travel": np.where(of["arm"] < 12.2, of["horn"] / of["arm"], np.nan),
    }


TWO = UncertainInputs({"have": Normal(10.0, 1.0), "need": Normal(8.0, 1.0)})


def left(of):
    return {"left": of["have"] - of["need"]}


@pytest.mark.parametrize("points", ["sobol", "random"])
@pytest.mark.parametrize(("block", "jobs"), [(1, 1), (7, 1), (100, 3), (10**6, 1), (64, 2)])
def test_neither_blocks_nor_jobs_change_a_digit(points, block, jobs):
    asked = {"precision": 0.5, "least": 1024, "most": 1024, "points": points, "seed": 5}
    one = study_tolerance(margin, INPUTS, **asked)
    other = study_tolerance(margin, INPUTS, **asked, block=block, jobs=jobs)
    for name, found in one.outputs.items():
        assert np.array_equal(other.outputs[name].values, found.values, equal_nan=True)
        assert other.outputs[name].chance == found.chance
        assert str(other.outputs[name].standard_deviation) == str(found.standard_deviation)
    assert one.number == other.number == 1024


def test_growing_gives_what_asking_at_once_gives():
    grown = study_tolerance(left, TWO, precision=0.001, least=64, most=4096)
    whole = study_tolerance(left, TWO, precision=0.5, least=grown.number, most=2**17)
    assert grown.number > 64
    assert np.array_equal(grown.outputs["left"].values, whole.outputs["left"].values)


@pytest.mark.parametrize("points", ["sobol", "random"])
def test_it_samples_until_it_is_as_sure_as_was_wanted(points):
    found = study_tolerance(left, TWO, precision=0.004, points=points)
    chance = found.outputs["left"].chance
    exact = scipy.stats.norm.cdf(-2 / math.sqrt(2))
    assert found.reached
    assert (chance.high - chance.low) / 2 <= 0.004
    assert chance.low <= exact <= chance.high
    assert found.outputs["left"].mean.value == pytest.approx(2.0, abs=0.05)
    assert found.outputs["left"].standard_deviation.value == pytest.approx(math.sqrt(2), abs=0.05)
    assert found.outputs["left"].local.standard_deviation == pytest.approx(math.sqrt(2), rel=1e-9)
    assert found.outputs["left"].parting == ""


def test_sobol_points_are_sure_sooner():
    numbers = {
        points: study_tolerance(left, TWO, precision=0.002, points=points).number
        for points in ("sobol", "random")
    }
    assert numbers["sobol"] <= numbers["random"] / 4


def test_it_gives_up_at_the_most_and_says_so():
    found = study_tolerance(left, TWO, precision=1e-6, least=64, most=300)
    assert not found.reached
    assert found.number == 256


def test_the_interval_holds_the_chance_as_often_as_it_says_although_it_stops_when_it_is_narrow():
    exact, held = scipy.stats.norm.cdf(-2 / math.sqrt(2)), 0
    for seed in range(60):
        chance = (
            study_tolerance(left, TWO, precision=0.01, least=256, seed=seed).outputs["left"].chance
        )
        held += chance.low <= exact <= chance.high
    assert held >= 52  # 57 expected; fewer than 52 has a chance of 1 % (binomial)


def test_quantiles_of_an_output_are_those_of_its_distribution():
    found = study_tolerance(left, TWO, least=2**14).outputs["left"]
    quantile = found.quantile(0.05)
    exact = scipy.stats.norm(2, math.sqrt(2)).ppf(0.05)
    assert quantile.low <= exact <= quantile.high
    assert quantile.high - quantile.low < 0.05


def test_what_cannot_be_computed_is_short_and_told():
    found = study_tolerance(margin, INPUTS).outputs["travel"]
    share = np.isnan(found.values).mean()
    assert share == pytest.approx(1 / 6, abs=0.01)  # an arm beyond 12.2 of 11.7 to 12.3
    assert found.chance.not_computed == found.chance.events > 0
    assert math.isnan(found.mean.value)
    assert "gave no number" in found.parting


def test_no_shortfall_has_an_interval_that_says_how_far_one_can_tell():
    inputs = UncertainInputs({"x": Uniform(5.0, 1.0)})
    found = study_tolerance(lambda of: {"x": of["x"]}, inputs, precision=0.001)
    chance = found.outputs["x"].chance
    assert (chance.events, chance.low) == (0, 0.0)
    assert 0 < chance.high <= 0.002
    assert chance.method == chances.FEW


def test_progress_is_told_and_rises():
    seen = []
    study_tolerance(
        left,
        TWO,
        precision=0.5,
        least=1024,
        most=2048,
        block=16,
        progress=lambda *of: seen.append(of),
    )
    done, most = zip(*seen, strict=True)
    assert list(done) == sorted(done)
    assert done[-1] == 1024
    assert set(most) == {2048}


@pytest.mark.parametrize("jobs", [1, 2])
def test_the_keyboard_keeps_what_is_done(jobs):
    whole = study_tolerance(left, TWO, precision=1e-9, least=4096, most=4096)

    def stopping(done, _):
        if done >= 1024:
            os.kill(os.getpid(), signal.SIGINT)

    kept = study_tolerance(
        left, TWO, precision=1e-9, least=4096, most=4096, block=16, jobs=jobs, progress=stopping
    )
    assert kept.interrupted
    assert not kept.reached
    assert 1024 <= kept.number < 4096
    values = kept.outputs["left"].values
    assert values.shape == (REPLICATES, kept.number // REPLICATES)
    assert np.array_equal(values, whole.outputs["left"].values[:, : values.shape[1]])
    assert kept.outputs["left"].chance.number == kept.number


def test_a_stop_before_there_is_anything_is_a_stop():
    def stopped(_):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study_tolerance(stopped, TWO)


@pytest.mark.parametrize(
    "wrong",
    [{"precision": 0}, {"precision": math.nan}, {"least": 3}, {"least": 2000, "most": 1000}, {"block": 0},
     {"jobs": 0}, {"seed": -1}, {"points": "dice"}, {"confidence": 95}, {"most": 2**30}],
)  # fmt: skip
def test_numbers_that_make_no_sense_are_refused(wrong):
    with pytest.raises(InputError, match=list(wrong)[-1]):
        study_tolerance(left, TWO, **wrong)


def test_an_output_that_is_missing_is_refused():
    with pytest.raises(InputError, match="right"):
        study_tolerance(left, TWO, ("right",))


def test_slopes_may_come_from_a_function_that_leaves_dear_outputs_out():
    def both(of):
        return {**left(of), "dear": of["have"] * of["need"]}

    found = study_tolerance(both, TWO, precision=0.1, slopes=left).outputs
    whole = study_tolerance(both, TWO, precision=0.1).outputs
    assert found["left"].local.derivative.tolist() == whole["left"].local.derivative.tolist()
    assert np.isnan(found["dear"].local.derivative).all()
    assert found["dear"].local.value == 80.0
    assert np.array_equal(found["dear"].values, whole["dear"].values)
    assert "have no slope" in found["dear"].parting
