"""The law of propagation held against `uncertainties`, and against the GUM's own examples.

The examples are from memory: neither JCGM 100 nor JCGM 101 was open. What could be computed
again from the stated inputs was.
"""

import math

import numpy as np
import pytest
import scipy.stats
import uncertainties
from uncertainties import umath

from linkcalc.errors import InputError
from linkcalc.tolerances.distributions import Normal, Triangular, Uniform
from linkcalc.tolerances.inputs import Group, UncertainInputs
from linkcalc.tolerances.points import Points
from linkcalc.tolerances.sensitivities import evaluated, parting, sensitivities

# An invented outboard aileron: what its servo has over what the air asks, all in SI.
AILERON = {
    "arm": Uniform(0.012, 0.0003),
    "horn": Uniform(0.010, 0.0003),
    "speed": Normal(25.0, 1.0),
    "stall": Triangular(0.31, 0.031),
}


def margin(of, sin=np.sin):
    needed = 0.5 * 1.225 * of["speed"] ** 2 * 0.62 * 0.0125**2 * 0.6 * (of["arm"] / of["horn"])
    return of["stall"] * (1 - 0.2 * sin(of["speed"] / 30)) / needed - 1


def sampled(function, inputs, number=2**14, replicates=16):
    return np.array(
        [
            function(
                inputs.values(
                    Points(len(inputs), seed=3, replicate=k).scores(0, number // replicates)
                )
            )
            for k in range(replicates)
        ]
    )


@pytest.mark.parametrize("correlation", [None, 0.5, 1.0])
def test_the_linear_part_is_that_of_the_uncertainties_package(correlation):
    groups = [Group("one ruler", ("arm", "horn"), correlation)] if correlation else []
    inputs = UncertainInputs(AILERON, groups=groups)
    found = sensitivities(lambda of: {"margin": margin(of)}, inputs)["margin"]
    theirs = uncertainties.correlated_values_norm(
        list(zip(inputs.middles(), inputs.standard_deviations(), strict=True)),
        inputs.correlation_of_values(),
    )
    answer = margin(dict(zip(inputs.names, theirs, strict=True)), umath.sin)
    assert found.value == pytest.approx(answer.nominal_value, rel=1e-13)
    assert found.standard_deviation == pytest.approx(answer.std_dev, rel=1e-8)


def test_derivatives_and_their_errors_are_those_of_the_uncertainties_package():
    inputs = UncertainInputs(AILERON)
    found = sensitivities(lambda of: {"margin": margin(of)}, inputs)["margin"]
    free = {
        name: uncertainties.ufloat(d.middle, d.standard_deviation) for name, d in AILERON.items()
    }
    answer = margin(free, umath.sin)
    for place, name in enumerate(inputs.names):
        exact = answer.derivatives[free[name]]
        assert found.derivative[place] == pytest.approx(exact, rel=1e-9)
        assert abs(found.derivative[place] - exact) <= 10 * found.error[place]
        assert found.error[place] < 1e-6 * abs(exact)
        assert found.per_percent[place] == pytest.approx(
            exact * AILERON[name].middle / 100, rel=1e-9
        )
        spread = AILERON[name].standard_deviation
        assert found.per_tolerance[place] == pytest.approx(exact * spread, rel=1e-9)


# GUM -----------------------------------------------------------------------------------------


def test_gum_h_2_resistance_and_reactance_measured_together():
    # JCGM 100 H.2.3, tables H.2 to H.4 (from memory; R, X, Z follow from the stated inputs)
    inputs = UncertainInputs(
        {
            "V": Normal(4.9990, 0.0032),
            "I": Normal(19.6610e-3, 0.0095e-3),
            "phi": Normal(1.04446, 0.00075),
        },
        correlation=np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]]),
    )
    found = sensitivities(
        lambda of: {
            "R": of["V"] / of["I"] * np.cos(of["phi"]),
            "X": of["V"] / of["I"] * np.sin(of["phi"]),
            "Z": of["V"] / of["I"],
        },
        inputs,
    )
    for name, value, spread in (
        ("R", 127.732, 0.071),
        ("X", 219.847, 0.295),
        ("Z", 254.260, 0.236),
    ):
        assert found[name].value == pytest.approx(value, abs=0.0015)
        # inputs are printed to two digits, so u is held to one unit of the third decimal and 2 %
        assert found[name].standard_deviation == pytest.approx(spread, rel=0.02)


def test_gum_h_1_end_gauge():
    # JCGM 100 H.1, table H.1 (from memory): u_c = 32 nm; l_s = 50.000 623 mm, d = 215 nm,
    # l = 50.000 838 mm; standard uncertainties 25 nm and 9.7 nm, theta and alpha as below
    inputs = UncertainInputs(
        {
            "standard": Normal(50.000623e-3, 25e-9),
            "difference": Normal(215e-9, 9.7e-9),
            "alpha": Uniform(11.5e-6, 2e-6),
            "theta": Normal(-0.1, 0.41),
            "d_alpha": Uniform(0.0, 1e-6),
            "d_theta": Uniform(0.0, 0.05),
        }
    )

    def length(of):
        return {
            "l": of["standard"]
            + of["difference"]
            - of["standard"] * (of["d_alpha"] * of["theta"] + of["alpha"] * of["d_theta"])
        }

    found = sensitivities(length, inputs)["l"]
    assert found.value == pytest.approx(50.000838e-3, abs=0.5e-9)
    assert found.standard_deviation * 1e9 == pytest.approx(32, abs=0.5)
    by_name = dict(zip(found.names, np.abs(found.per_tolerance) * 1e9, strict=True))
    assert by_name["d_alpha"] == pytest.approx(2.9, abs=0.05)
    assert by_name["d_theta"] == pytest.approx(16.6, abs=0.05)


FOUR = {"first": 1.0, "second": 1.0, "third": 1.0, "fourth": 1.0}


def total(of):
    return sum(of.values())


@pytest.mark.parametrize(
    ("spreads", "rectangular", "linear", "interval"),
    [
        # JCGM 101 9.2.2, 9.2.3 and 9.2.4, tables 2 to 4 (from memory): standard uncertainty, 95 % ends
        ((1, 1, 1, 1), False, 2.0, 3.92),
        ((1, 1, 1, 1), True, 2.0, 3.88),
        ((1, 1, 1, 10), True, 10.1, 17.0),
    ],
)
def test_supplement_1_9_2_additive_model(spreads, rectangular, linear, interval):
    make = (lambda u: Uniform(0.0, u * math.sqrt(3))) if rectangular else (lambda u: Normal(0.0, u))
    inputs = UncertainInputs({name: make(u) for name, u in zip(FOUR, spreads, strict=True)})
    found = sensitivities(lambda of: {"y": total(of)}, inputs)["y"]
    assert found.standard_deviation == pytest.approx(linear, abs=0.05)
    ends = np.quantile(sampled(total, inputs, 2**17), [0.025, 0.975])
    assert ends == pytest.approx([-interval, interval], rel=0.005)
    assert parting(found, sampled(total, inputs)) == ""


def test_supplement_1_9_3_mass_calibration_is_flagged():
    # JCGM 101 9.3, table 6 (from memory): first-order law 0.0539 mg, samples 0.0754 mg,
    # with the second-order terms 0.0750 mg, 95 % interval [1.0834, 1.3825] mg
    inputs = UncertainInputs(
        {
            "m_R": Normal(100_000.0, 0.050),
            "dm_R": Normal(1.234, 0.020),
            "air": Uniform(1.20, 0.10),
            "rho_W": Uniform(8e3, 1e3),
            "rho_R": Uniform(8e3, 0.05e3),
        }
    )

    def deviation(of):
        buoyancy = 1 + (of["air"] - 1.2) * (1 / of["rho_W"] - 1 / of["rho_R"])
        return (of["m_R"] + of["dm_R"]) * buoyancy - 100_000.0

    found = sensitivities(lambda of: {"dm": deviation(of)}, inputs)["dm"]
    assert found.value == pytest.approx(1.2340, abs=5e-5)
    assert found.standard_deviation == pytest.approx(0.0539, abs=5e-5)
    values = sampled(deviation, inputs, 2**18)
    assert np.std(values) == pytest.approx(0.0754, abs=1.5e-4)
    assert np.quantile(values, [0.025, 0.975]) == pytest.approx([1.0834, 1.3825], abs=2e-3)
    assert parting(found, values) != ""


def test_supplement_1_9_4_no_slope_at_the_stated_value_is_flagged():
    # JCGM 101 9.4.2 (from memory) with x1 = x2 = 0, u = 0.005: mean and standard deviation of
    # X1^2 + X2^2 are both 2 u^2 = 50e-6 (an exponential distribution); the first-order law gives 0
    inputs = UncertainInputs({"x1": Normal(0.0, 0.005), "x2": Normal(0.0, 0.005)})

    def loss(of):
        return of["x1"] ** 2 + of["x2"] ** 2

    found = sensitivities(lambda of: {"loss": loss(of)}, inputs)["loss"]
    values = sampled(loss, inputs, 2**15)
    assert found.standard_deviation == pytest.approx(0.0, abs=1e-12)
    assert np.mean(values) == pytest.approx(50e-6, rel=2e-3)
    assert np.std(values) == pytest.approx(50e-6, rel=1e-2)
    assert "slope" in parting(found, values)


# the flag -----------------------------------------------------------------------------------


def test_a_kink_is_told_by_the_input_that_has_it():
    inputs = UncertainInputs({"smooth": Normal(1.0, 0.1), "kinked": Normal(2.0, 0.1)})

    def worse_of_two(of):
        return {"y": of["smooth"] + np.minimum(of["kinked"] - 2.0, -9.0 * (of["kinked"] - 2.0))}

    found = sensitivities(worse_of_two, inputs)["y"]
    assert found.jump[1] > 0.5
    assert found.jump[0] < 1e-6
    values = sampled(lambda of: worse_of_two(of)["y"], inputs)
    assert "jumps at the stated value of kinked" in parting(found, values)


def test_samples_without_a_number_are_told():
    inputs = UncertainInputs({"x": Uniform(1.0, 0.5)})
    with np.errstate(invalid="ignore"):
        found = sensitivities(lambda of: {"y": np.sqrt(of["x"] - 0.6)}, inputs)["y"]
        values = sampled(lambda of: np.sqrt(of["x"] - 0.6), inputs)
    assert "gave no number" in parting(found, values)


def test_a_straight_line_is_never_flagged():
    inputs = UncertainInputs(AILERON)
    found = sensitivities(lambda of: {"y": 3 * of["arm"] - of["horn"]}, inputs)["y"]
    assert parting(found, sampled(lambda of: 3 * of["arm"] - of["horn"], inputs)) == ""
    assert (found.bent < 1e-6).all()
    assert found.derivative == pytest.approx([3, -1, 0, 0], abs=1e-10)


@pytest.mark.parametrize("wrong", [{}, {"y": np.zeros((3, 2))}, {"y": np.zeros(3)}])
def test_a_function_that_does_not_answer_each_sample_is_refused(wrong):
    with pytest.raises(InputError, match="function"):
        evaluated(lambda _: wrong, {"x": np.zeros(4)})
    with pytest.raises(InputError, match="nothing"):
        evaluated(lambda of: {"y": of["x"]}, {"x": np.zeros(4)}, ("z",))


def test_normal_tails_of_samples_are_those_of_the_distribution():
    inputs = UncertainInputs({"x": Normal(0.0, 1.0)})
    values = sampled(lambda of: of["x"], inputs, 2**16)
    for share in (0.001, 0.01, 0.5, 0.999):
        assert np.quantile(values, share) == pytest.approx(scipy.stats.norm.ppf(share), abs=0.02)


@pytest.mark.parametrize("middle", [-2.0, 2.0])
def test_one_percent_more_is_more_of_what_is_less_than_zero_too(middle):
    inputs = UncertainInputs({"moment": Normal(middle, 0.1)})
    found = sensitivities(lambda of: {"double": 2.0 * of["moment"]}, inputs)["double"]
    assert found.per_percent[0] == pytest.approx(2.0 * 0.01 * 2.0, rel=1e-9)
