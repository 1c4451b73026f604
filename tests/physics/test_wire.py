"""Wire gauges against the rule that defines them and a printed table."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc.physics import wire

REFERENCE = Path(__file__).parents[1] / "reference" / "wire.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

DIAMETERS = [row for row in ROWS if row["quantity"] == "AWG diameter"]
PRINTED = [row for row in ROWS if "mil" in row["inputs"]]
GAUGES = st.integers(-3, 56)


def gauge_of(row):
    return int(re.search(r"gauge=(\d+)", row["inputs"])[1])


@pytest.mark.parametrize("row", DIAMETERS, ids=[row["id"] for row in DIAMETERS])
def test_diameter_agrees_with_the_reference(row):
    assert (row["unit"], row["tolerance_kind"]) == ("mm", "rel")
    diameter = wire.gauge_diameter(gauge_of(row)) * 1e3
    assert diameter == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]), abs=0)


@pytest.mark.parametrize("row", PRINTED, ids=[row["id"] for row in PRINTED])
def test_diameter_agrees_with_the_printed_table(row):
    # Half of the last digit; a nought at the end may only fill up the column, as in 50.820.
    printed = re.search(r"diameter=([\d.]+) mil", row["inputs"])[1]
    half = 0.005 if printed.endswith("0") else 0.0005
    diameter = wire.gauge_diameter(gauge_of(row)) / 25.4e-6
    assert diameter == pytest.approx(float(printed), rel=0, abs=1.001 * half)


def test_reference_has_all_rows_that_these_tests_are_for():
    assert len(DIAMETERS) == 9
    assert len(PRINTED) == 10


def test_gauge_36_and_gauge_0000_have_the_diameters_that_define_the_series():
    # ASTM B258: 0.0050 inch and 0.4600 inch.
    assert wire.gauge_diameter(36) == pytest.approx(0.0050 * 25.4e-3, rel=1e-12)
    assert wire.gauge_diameter(-3) == pytest.approx(0.4600 * 25.4e-3, rel=1e-12)


def test_area_is_that_of_a_circle_as_the_circular_mil_table_has_it():
    # A wire of 1 mil has 1 circular mil; gauge 10 has 10 380 (table of 1 + 3 digits, memory).
    circular_mil = 0.25 * math.pi * (25.4e-6) ** 2
    assert wire.gauge_area(10) / circular_mil == pytest.approx(10_380, rel=0, abs=5)


@given(GAUGES, st.integers(-20, 20))
def test_equal_steps_of_the_number_are_equal_ratios_of_the_diameter(number, step):
    ratio = wire.gauge_diameter(number + step) / wire.gauge_diameter(number)
    assert math.log(ratio) == pytest.approx(-step / 39 * math.log(92), rel=1e-9, abs=1e-12)


@given(GAUGES)
def test_area_goes_with_the_square_of_the_diameter(number):
    ratio = wire.gauge_area(number) / wire.gauge_area(36)
    assert ratio == pytest.approx((wire.gauge_diameter(number) / 0.127e-3) ** 2, rel=1e-12)


def test_an_array_gives_what_each_number_gives_and_nan_stays_nan():
    numbers = np.array([[-3.0, 16.0], [30.0, np.nan]])
    for kernel in (wire.gauge_diameter, wire.gauge_area):
        values = kernel(numbers)
        assert values.shape == (2, 2)
        assert np.isnan(values[1, 1])
        assert values[0, 1] == kernel(16)


def test_an_insulated_wire_is_a_round_of_copper_strands_in_a_wall():
    # Gauge 26 by hand: strands of 1.15 x 0.4049 mm, walls of 0.4 mm on both sides: 1.2656 mm.
    # Copper 8890 kg/m^3 x 0.12876 mm^2, insulation 1400 kg/m^3 x pi/4 (1.2656^2 - 0.4656^2) mm^2.
    area = 0.12876e-6
    assert wire.insulated_diameter(area) == pytest.approx(1.2656e-3, rel=1e-4)
    grams = 8890 * 0.12876e-3 + 1400 * math.pi / 4 * (1.2656**2 - 0.4656**2) * 1e-3
    assert wire.insulated_mass(area, 2.0) * 1e3 == pytest.approx(2 * grams, rel=1e-4)
    aluminium = wire.insulated_mass(area, 2.0, 2703.0)
    assert wire.insulated_mass(area, 2.0) - aluminium == pytest.approx(2 * (8890 - 2703) * area)
