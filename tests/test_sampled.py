"""Numbers that stand for many samples."""

import numpy as np
import pytest

from linkcalc.sampled import Apart, is_sampled, sampled, scalar, side_by_side


def test_a_question_that_all_answer_alike_has_an_answer():
    arm = sampled([0.012, 0.013])
    assert arm > 0
    assert not arm > 1
    assert not np.isnan(arm)


def test_a_question_that_samples_answer_differently_parts_them():
    with pytest.raises(Apart) as parted:
        bool(sampled([1.0, 3.0, 2.0]) > 1.5)
    assert parted.value.answer.tolist() == [False, True, True]


def test_the_truth_of_several_numbers_of_a_sample_is_no_question():
    with pytest.raises(ValueError, match="several"):
        bool(sampled([[True, True], [True, True]]))


def test_words_are_of_the_first_sample():
    assert f"{sampled([0.25, 9.0]):.3g}" == "0.25"
    assert f"{2 * sampled([0.25, 9.0]):g} m" == "0.5 m"


def test_arithmetic_stays_sampled_and_kernels_are_taken_again():
    made = np.maximum(2 * sampled([1.0, 2.0]) - 1, 2.0)
    assert is_sampled(made)
    assert made.tolist() == [2.0, 3.0]
    assert is_sampled(scalar(np.array([1.0, 2.0])))
    alone = scalar(np.float64(2.0))
    assert type(alone) is float


def test_values_side_by_side_have_the_samples_in_front():
    rows = side_by_side([np.zeros(3), sampled([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])], own=1)
    assert rows.shape == (2, 2, 3)
    assert rows[:, 0].tolist() == [[0.0] * 3] * 2
    assert rows[1, 1].tolist() == [4.0, 5.0, 6.0]
    assert not is_sampled(side_by_side([1, 2.5]))
