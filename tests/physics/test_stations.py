"""Stations of a surface: what lies between them, and the line about which it turns."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.physics.stations import Stations, between, distances, hinge_line, off_line

NOWHERE = math.nan


def line(*measured, along=(0.0, 0.2, 0.5, 0.6), nose=(0.0, 0.01, 0.03, 0.05)):
    """Return x of the hinge line at the stations."""
    given_at, leading = np.array(along), np.array(nose)
    made = hinge_line(
        given_at, leading, np.full(len(along), 0.2), np.array(measured), chord_ratio=0.3
    )
    return (leading + made).tolist()


def test_distance_is_along_the_surface():
    # triangles of sides 3, 4, 5 and 5, 12, 13
    made = distances([0.0, 0.4, 0.4, 0.9], [0.0, 0.3, 0.4, 1.6])
    assert made == pytest.approx([0.0, 0.5, 0.6, 1.9], rel=1e-12)


def test_a_hinge_that_was_not_measured_is_where_the_chord_ratio_has_it():
    assert line(*[NOWHERE] * 4) == pytest.approx([0.14, 0.15, 0.17, 0.19], rel=1e-12)


def test_a_hinge_goes_straight_through_what_was_measured_and_beyond():
    # x = 0.10 + 0.2 y, by hand, measured from the leading edge at the second and third station
    assert line(NOWHERE, 0.13, 0.17, NOWHERE) == pytest.approx([0.10, 0.14, 0.20, 0.22], rel=1e-12)


def test_a_hinge_that_was_measured_stays_as_it_was_measured():
    assert line(0.15, 0.16, NOWHERE, 0.12) == pytest.approx([0.15, 0.17, 0.17, 0.17], rel=1e-12)


def test_one_measured_place_makes_no_line():
    assert all(math.isnan(x) for x in line(NOWHERE, 0.15, NOWHERE, NOWHERE))


def test_between_stations_all_is_straight_along_the_surface():
    bent = Stations(
        y=np.array([0.0, 0.3, 0.3]), z=np.array([0.0, 0.4, 0.9]), leading=np.array([0.0, 0.1, 0.2]),
        chord=np.array([0.4, 0.2, 0.0]), hinge=np.array([0.3, 0.1, 0.0]),
    )  # fmt: skip
    made = between(bent, [0.25, 0.5, 0.75])  # of 0.5 and 0.5
    assert made.y == pytest.approx([0.15, 0.3, 0.3])
    assert made.z == pytest.approx([0.2, 0.4, 0.65])
    assert made.leading == pytest.approx([0.05, 0.1, 0.15])
    assert made.chord == pytest.approx([0.3, 0.2, 0.1])
    assert made.hinge == pytest.approx([0.2, 0.1, 0.05])


point = st.tuples(*[st.floats(-2.0, 2.0)] * 3).map(np.array)


@given(points=st.lists(point, min_size=1, max_size=4), one=point, other=point)
def test_distance_from_a_line_is_what_pythagoras_leaves(points, one, other):
    length = math.dist(one, other)
    if length < 0.1:
        return
    found = off_line(np.array(points), np.array([one, other]))
    for place, distance in zip(points, found, strict=True):
        along = float((place - one) @ (other - one)) / length
        left = max(0.0, math.dist(place, one) ** 2 - along**2)
        assert distance**2 == pytest.approx(left, rel=1e-9, abs=1e-12)


def test_no_line_no_distance():
    assert math.isnan(off_line(np.zeros((1, 3)), np.ones((2, 3)))[0])
