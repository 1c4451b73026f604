"""What is made of the arguments."""

import math

import numpy as np
import pytest

from linkcalc.mechanism.geometry import read

LOOP = {
    "servo_pivot": (1.0, 2.0, 3.0),
    "servo_axis": (0.0, 3.0, 4.0),
    "arm": (0.0, 0.0, 0.5),
    "hinge_pivot": (6.0, 2.0, 3.0),
    "hinge_axis": (0.0, 0.0, -7.0),
    "horn": (0.0, 0.25, 0.5),
    "rod_length": None,
}


def test_lengths_are_in_a_power_of_two_and_axes_are_unit_vectors():
    geometry = read(**LOOP)
    assert math.frexp(float(geometry.unit))[0] == 0.5
    assert (geometry.offset * geometry.unit).tolist() == [-5.0, 0.0, 0.0]
    assert (geometry.horn * geometry.unit).tolist() == [0.0, 0.25, 0.5]
    assert 0.5 <= np.abs(geometry.offset).max() <= 2.0
    np.testing.assert_allclose(geometry.servo_axis, [0.0, 0.6, 0.8], rtol=1e-15)
    np.testing.assert_allclose(geometry.hinge_axis, [0.0, 0.0, -1.0], rtol=1e-15)


def test_rod_closes_the_loop_unless_it_is_given():
    closing = math.sqrt(5.0**2 + 0.25**2)
    assert float(read(**LOOP).rod * read(**LOOP).unit) == pytest.approx(closing, rel=1e-15)
    assert read(**LOOP).stretch == 0.0
    longer = read(**(LOOP | {"rod_length": 5.5}))
    half = (5.5**2 - closing**2) / 2
    assert float(longer.stretch * longer.unit**2) == pytest.approx(half, rel=1e-14)


def test_placeholder_stands_where_there_is_no_geometry():
    arms = np.array([[0.0, 0.0, 0.5], [0.0, math.inf, 0.0]])
    geometry = read(**(LOOP | {"arm": arms}))
    assert geometry.sound.tolist() == [True, False]
    assert all(np.isfinite(field).all() for field in geometry)
