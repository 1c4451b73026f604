import math

import numpy as np
import pytest
import scipy.stats

from linkcalc.errors import InputError
from linkcalc.tolerances.distributions import (
    Normal,
    Triangular,
    Truncated,
    Uniform,
    of_tolerance,
)
from linkcalc.tolerances.inputs import Group, UncertainInputs, correlation_of_values
from linkcalc.tolerances.points import Points

# The same distributions by scipy.stats, with its own parameters.
PAIRS = {
    "uniform": (Uniform(12.0, 0.3), scipy.stats.uniform(11.7, 0.6)),
    "triangular": (Triangular(12.0, 0.3), scipy.stats.triang(0.5, 11.7, 0.6)),
    "normal": (Normal(12.0, 0.3), scipy.stats.norm(12.0, 0.3)),
    "truncated normal": (
        Truncated(Normal(1.0, 0.8), 0.0),
        scipy.stats.truncnorm(-1.25, np.inf, 1.0, 0.8),
    ),
    "truncated uniform": (Truncated(Uniform(1.0, 2.0), 0.0), scipy.stats.uniform(0.0, 3.0)),
}
SCORES = np.array([-6.0, -3.0, -1.0, -0.1, 0.0, 0.4, 1.5, 2.5, 5.0, 7.0])


@pytest.mark.parametrize("name", PAIRS)
def test_a_distribution_is_that_of_scipy(name):
    ours, theirs = PAIRS[name]
    scores = SCORES[:-2] if name == "truncated normal" else SCORES  # beyond, scipy loses digits
    expected = np.where(
        scores <= 0,
        theirs.ppf(scipy.stats.norm.cdf(scores)),
        theirs.isf(scipy.stats.norm.sf(scores)),
    )
    assert ours.at_score(scores) == pytest.approx(expected, rel=1e-12, abs=1e-14)
    assert ours.mean == pytest.approx(theirs.mean(), rel=2e-6)
    assert ours.standard_deviation == pytest.approx(theirs.std(), rel=2e-5)
    for value in expected[2:8]:
        assert ours.lower(value) == pytest.approx(theirs.cdf(value), rel=1e-9)


def test_the_upper_tail_of_a_truncated_one_keeps_its_digits():
    whole, scores = scipy.stats.norm(1.0, 0.8), np.array([5.0, 7.0])
    expected = whole.isf(scipy.stats.norm.sf(scores) * whole.sf(0.0))
    assert Truncated(Normal(1.0, 0.8), 0.0).at_score(scores) == pytest.approx(expected, rel=1e-12)


def test_a_tolerance_is_a_distribution_as_it_says():
    assert of_tolerance(5.0, 0.6).standard_deviation == pytest.approx(0.6 / math.sqrt(3))
    assert of_tolerance(5.0, 0.6, spread="triangular").standard_deviation == pytest.approx(
        0.6 / math.sqrt(6)
    )
    normal = of_tolerance(5.0, 0.6, spread="normal", multiple=3.0)
    assert normal.standard_deviation == pytest.approx(0.2)


@pytest.mark.parametrize("width", [0.0, -0.1, math.nan, math.inf])
@pytest.mark.parametrize("shape", [Uniform, Triangular, Normal])
def test_a_tolerance_that_is_none_is_refused(shape, width):
    with pytest.raises(InputError, match="more than zero"):
        shape(12.0, width)


def test_an_unknown_spread_or_a_bound_above_the_middle_is_refused():
    with pytest.raises(InputError, match="spread"):
        of_tolerance(5.0, 0.6, spread="lognormal")
    with pytest.raises(InputError, match="multiple"):
        of_tolerance(5.0, 0.6, spread="normal")
    with pytest.raises(InputError, match="least"):
        Truncated(Normal(-1.0, 0.5), 0.0)


# together ----------------------------------------------------------------------------------

TWO = {"arm": Uniform(12.0, 0.3), "horn": Uniform(10.0, 0.5)}
FOUR = {name: Normal(0.0, 1.0) for name in "abcd"}


@pytest.mark.parametrize("correlation", [-1.0, -0.7, 0.0, 0.3, 0.9, 1.0])
def test_values_of_uniform_inputs_have_the_correlation_of_the_closed_form(correlation):
    # Spearman's correlation of a bivariate normal, (6 / pi) asin(r / 2) (Pearson 1907, from memory)
    expected = 6 / math.pi * math.asin(correlation / 2)
    assert correlation_of_values(*TWO.values(), correlation) == pytest.approx(expected, abs=1e-9)


def test_samples_have_the_correlation_and_the_marginals_asked_for():
    inputs = UncertainInputs(TWO, groups=[Group("one ruler", ("arm", "horn"), 0.6)])
    values = inputs.values(Points(2, seed=5).scores(0, 2**14))
    sampled = np.corrcoef(values["arm"], values["horn"])[0, 1]
    assert sampled == pytest.approx(inputs.correlation_of_values()[0, 1], abs=2e-3)
    for name, middle, width in (("arm", 12.0, 0.3), ("horn", 10.0, 0.5)):
        assert values[name].min() >= middle - width
        assert values[name].max() <= middle + width
        uniform = scipy.stats.uniform(middle - width, 2 * width)
        assert scipy.stats.kstest(values[name], uniform.cdf).statistic < 2e-3


def test_full_correlation_is_one_error_in_all():
    inputs = UncertainInputs(TWO, groups=[Group("one ruler", ("arm", "horn"))])
    values = inputs.values(Points(2, seed=5).scores(0, 256))
    assert (values["arm"] - 12) / 0.3 == pytest.approx((values["horn"] - 10) / 0.5, abs=1e-12)


def test_a_whole_matrix_is_sampled():
    matrix = np.array([[1, 0.5, 0.2, 0], [0.5, 1, -0.4, 0], [0.2, -0.4, 1, 0.3], [0, 0, 0.3, 1]])
    inputs = UncertainInputs(FOUR, correlation=matrix)
    values = np.array(list(inputs.values(Points(4, seed=2).scores(0, 2**14)).values()))
    assert np.corrcoef(values) == pytest.approx(matrix, abs=3e-3)


def test_what_hangs_together_is_known():
    inputs = UncertainInputs(
        FOUR, groups=[Group("one", ("a", "c"), 0.5), Group("other", ("c", "d"), 0.5)]
    )
    assert inputs.factors == ((0, 2, 3), (1,))


@pytest.mark.parametrize(
    "matrix",
    [
        [[1, -0.9, -0.9, 0], [-0.9, 1, -0.9, 0], [-0.9, -0.9, 1, 0], [0, 0, 0, 1]],
        [[1, 1, 0, 0], [1, 1, 1, 0], [0, 1, 1, 0], [0, 0, 0, 1]],
        [[1, 2, 0, 0], [2, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
    ],
)
def test_a_correlation_matrix_that_is_none_is_refused(matrix):
    assert np.linalg.eigvalsh(np.array(matrix)).min() < 0
    with pytest.raises(InputError, match="positive semi-definite"):
        UncertainInputs(FOUR, correlation=np.array(matrix, dtype=float))


@pytest.mark.parametrize("seed", range(20))
def test_any_correlation_matrix_is_taken_and_its_root_squares_to_it(seed):
    loads = np.random.default_rng(seed).normal(size=(4, 1 + seed % 4))
    matrix = loads @ loads.T
    matrix /= np.sqrt(np.outer(np.diagonal(matrix), np.diagonal(matrix)))
    matrix = np.round((matrix + matrix.T) / 2, 12)
    np.fill_diagonal(matrix, 1.0)
    inputs = UncertainInputs(FOUR, correlation=matrix)
    scores = np.eye(4)
    root = np.array(list(inputs.values(scores).values()))
    assert root @ root.T == pytest.approx(matrix, abs=1e-6)


@pytest.mark.parametrize(
    "groups",
    [
        [Group("one ruler", ("arm",), 0.5)],
        [Group("one ruler", ("arm", "arm"), 0.5)],
        [Group("one ruler", ("arm", "tail"), 0.5)],
        [Group("one ruler", ("arm", "horn"), 1.5)],
        [Group("one ruler", ("arm", "horn"), math.nan)],
        [Group("one ruler", ("arm", "horn"), 0.5), Group("another", ("arm", "horn"), 0.4)],
    ],
)
def test_groups_that_make_no_sense_are_refused(groups):
    with pytest.raises(InputError, match="groups"):
        UncertainInputs(TWO, groups=groups)


def test_no_input_two_descriptions_or_a_lopsided_matrix_are_refused():
    with pytest.raises(InputError, match="at least one"):
        UncertainInputs({})
    with pytest.raises(InputError, match="one of the two"):
        UncertainInputs(TWO, groups=[Group("g", ("arm", "horn"))], correlation=np.eye(2))
    for matrix in (np.eye(3), [[1, 0.5], [0.4, 1]], [[2, 0], [0, 1]], [[1, np.nan], [np.nan, 1]]):
        with pytest.raises(InputError, match="symmetric"):
            UncertainInputs(TWO, correlation=np.array(matrix))


# points ------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["sobol", "random"])
def test_any_stretch_of_points_is_the_same_to_the_bit(kind):
    whole = Points(7, seed=3, replicate=2, kind=kind).scores(0, 1000)
    again = Points(7, seed=3, replicate=2, kind=kind)
    for start, stop in ((777, 800), (0, 1), (1, 2), (100, 777), (0, 37), (37, 38), (999, 1000)):
        assert np.array_equal(again.scores(start, stop), whole[:, start:stop])
    assert np.isfinite(whole).all()
    for other in (Points(7, seed=4, replicate=2, kind=kind), Points(7, seed=3, kind=kind)):
        assert not np.isclose(other.scores(0, 1000), whole).any(axis=0).all()


def test_sobol_points_fill_every_slice_of_every_input_once():
    # the property that makes them a net: 2^k equal slices of an axis hold one of 2^k points each
    places = scipy.stats.norm.cdf(Points(20, seed=9).scores(0, 256)) * 256
    assert (np.sort(np.floor(places), axis=1) == np.arange(256)).all()


def test_points_that_cannot_be_are_refused():
    for wrong in ({"seed": -1}, {"seed": 1.5}, {"kind": "halton"}, {"dimensions": 0}):
        with pytest.raises(InputError):
            Points(**({"dimensions": 2} | wrong))
