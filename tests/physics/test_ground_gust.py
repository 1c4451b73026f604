"""Ground gusts against the regulations."""

import csv
import math
import re
from pathlib import Path

import pytest

from linkcalc.physics import ground_gust

with (Path(__file__).parents[1] / "reference" / "regulations.csv").open(
    encoding="utf-8", newline=""
) as file:
    ROWS = {row["id"].removeprefix("regulations-"): row for row in csv.DictReader(file)}
FOOT, POUND, SLUG = 0.3048, 4.4482216152605, 14.593902937
SPEEDS = [ROWS[number] for number in ("42", "43", "44")]


def numbers(row):
    return [float(value) for value in re.findall(r"=([\d.]+)", row["inputs"])]


def within(row, unit=1.0):
    return pytest.approx(float(row["expected"]) * unit, rel=float(row["tolerance"]))


def test_factors_are_the_regulations():
    printed = [float(ROWS[number]["expected"]) for number in ("02", "03", "04", "05")]
    assert list(ground_gust.FACTORS.values()) == printed
    assert pytest.approx(float(ROWS["08"]["expected"]) / 3.6) == ground_gust.SAILPLANE_SPEED
    knot = 1852.0 / 3600.0
    assert pytest.approx(float(ROWS["09"]["expected"]) * knot) == ground_gust.TRANSPORT_SPEED


@pytest.mark.parametrize("row", SPEEDS, ids=[row["id"] for row in SPEEDS])
def test_design_speed(row):
    (loading,) = numbers(row)
    made = ground_gust.design_speed(wing_loading=loading * POUND / FOOT**2)
    assert made == within(row, FOOT)


def test_a_wing_loading_below_zero_has_no_speed():
    assert math.isnan(ground_gust.design_speed(wing_loading=-1.0))


@pytest.mark.parametrize(
    ("number", "speed"),
    [("40", ground_gust.SAILPLANE_SPEED), ("41", ground_gust.TRANSPORT_SPEED)],
)
def test_hinge_moment_in_metric_units(number, speed):
    factor, chord, area, density = numbers(ROWS[number])
    made = ground_gust.hinge_moment(
        factor=factor, chord=chord, area=area, speed=speed, density=density
    )
    assert made == within(ROWS[number])


def test_hinge_moment_in_the_regulations_units():
    row = ROWS["45"]
    loading, factor, chord, area, density = numbers(row)
    speed = ground_gust.design_speed(wing_loading=loading * POUND / FOOT**2)
    made = ground_gust.hinge_moment(
        factor=factor,
        chord=chord * FOOT,
        area=area * FOOT**2,
        speed=speed,
        density=density * SLUG / FOOT**3,
    )
    assert made == within(row, POUND * FOOT)
