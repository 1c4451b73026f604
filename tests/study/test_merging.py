"""Parts that differ in numbers alone are one part with samples, all the way down."""

import numpy as np
import pytest

from linkcalc.model import ControlHorn, ControlSurface, Linkage, Pushrod, ServoArm
from linkcalc.model.value_classes import stated
from linkcalc.study.merging import kinds, merged


def linkage(arm, **more):
    return Linkage(
        surface=ControlSurface(span="300 mm", chord="50 mm", throw="20 deg"),
        arm=ServoArm(radius=arm, **more),
        horn=ControlHorn(radius="14 mm"),
        pushrod=Pushrod(length="90 mm"),
    )


def test_what_differs_in_a_part_of_a_part_is_sampled_there_and_nowhere_else():
    parts = [linkage("8 mm"), linkage("1 cm"), linkage("12 mm")]
    assert kinds(parts) == [0, 0, 0]
    one = merged(parts, np.array([2, 0, 1, 2]))
    assert stated(one.arm, "radius").si.tolist() == pytest.approx([0.012, 0.008, 0.010, 0.012])
    assert one.horn == parts[0].horn
    assert merged(parts, np.array([1, 1])) == parts[1]


def test_a_part_that_states_another_field_is_of_another_kind():
    plain, leaning = linkage("8 mm"), linkage("8 mm", lean="5 deg")
    assert kinds([plain, leaning, plain, leaning]) == [0, 1, 0, 1]
