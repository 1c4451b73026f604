"""Dives against published values and closed forms."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest

from linkcalc.physics import air
from linkcalc_dive import circular
from linkcalc_dive.flight import Airframe, Elevator, pulling
from linkcalc_dive.speeds import speed_reached, terminal_speed
from linkcalc_dive.stepping import End, march

REFERENCE = Path(__file__).parents[2] / "reference" / "dive_and_pullout.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"].rsplit("-", maxsplit=1)[-1]: row for row in csv.DictReader(file)}
NONE = Elevator(*(np.full(1, math.nan) for _ in Elevator._fields[:-1]), None)


def craft(mass=2.0, area=0.35, drag=0.030, load_factor=6.0, ground=0.0):
    numbers = (mass, area, drag, 0.0, 1.2, load_factor, ground)
    return Airframe(*(np.array([number]) for number in numbers), None, None)


def given(row):
    return {
        name.strip(): float(value)
        for name, value in re.findall(r"([A-Za-z_ ]+)=([\d.]+)", row["inputs"])
    }


def assert_agrees(value, row):
    assert row["tolerance_kind"] == "rel"
    assert value == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]), abs=0)


def test_every_row_of_the_reference_is_used():
    assert sorted(ROWS) == [f"{number:02}" for number in range(1, 11)]


@pytest.mark.parametrize("number", ["01", "02", "03"])
def test_radius_at_the_level_bottom_agrees_with_anderson(number):
    row, asked = ROWS[number], given(ROWS[number])
    assert_agrees(circular.radius(speed=asked["V"], load_factor=asked["n"]), row)
    # the equations of motion bend the path as much
    rate = pulling(craft(load_factor=asked["n"]), NONE)
    turning = rate(np.array([[asked["V"]], [0.0], [0.0], [0.0], [0.0]]))[1, 0]
    assert_agrees(asked["V"] / turning, row)


@pytest.mark.parametrize("number", ["04", "05", "06"])
def test_height_lost_at_constant_speed_agrees_with_the_integral(number):
    row, asked = ROWS[number], given(ROWS[number])
    speed, n, angle = asked["V"], asked["n"], math.radians(asked["dive angle"])
    lost = circular.height_lost_at_constant_speed(speed=speed, load_factor=n, dive_angle=angle)
    assert_agrees(lost, row)

    def turning(_):
        return lambda y: np.stack((9.80665 * (n - np.cos(y[0])) / speed, speed * np.sin(y[0])))

    down = march(
        turning,
        np.array([[-angle], [0.0]]),
        [End(0, -1.0, 0.0)],
        relative=1e-9,
        absolute=np.full(2, 1e-9),
        longest=1.0,
    )
    assert_agrees(-down.last[1, 0], row)


@pytest.mark.parametrize(("number", "degrees"), [("07", 90.0), ("08", 30.0)])
def test_terminal_speed_is_where_weight_and_drag_are_equal(number, degrees):
    # density 1.225 is that of sea level; the same airframe in both rows
    found = terminal_speed(
        craft(), path_angle=np.array([-math.radians(degrees)]), height=np.array([0.0])
    )
    assert_agrees(found.speed[0], ROWS[number])
    assert found.reason[0] == 0


def test_speed_after_a_fall_from_rest_agrees_with_the_closed_form():
    # In air of one density. Froude's scaling takes it to a hundredth of the height, through
    # which the density changes by a hundred-thousandth: mass / 100, speed / 10.
    start = (np.array([0.0]), np.array([-0.5 * math.pi]), np.array([1.0]), np.array([1.0]))
    names = ("speed", "path_angle", "height", "drop")
    found = speed_reached(craft(mass=0.02), **dict(zip(names, start, strict=True)))
    assert_agrees(10.0 * found[0], ROWS["09"])


def test_a_skydiver_falls_as_fast_as_the_textbook_says():
    # density 1.21 is met some 127 m up; printed to two digits with g = 9.80
    assert float(air.density(altitude=127.0)) == pytest.approx(1.21, abs=0.0005)
    found = terminal_speed(
        craft(mass=85.0, area=0.70, drag=1.0),
        path_angle=np.array([-0.5 * math.pi]),
        height=np.array([127.0]),
    )
    assert_agrees(found.speed[0], ROWS["10"])
