"""The handbook's charts and chain against the published points and worked numbers."""

import csv
import math
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from linkcalc_hinge_moment.charts import CHARTS, read
from linkcalc_hinge_moment.handbook import Handbook, lift_slope_ratio, steps
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil

FOLDER = Path(__file__).parents[2] / "reference"
with (FOLDER / "hinge_handbook.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

KINDS = {
    "c_h_alpha theory with thickness": "incidence slope",
    "c_h_delta theory with thickness": "deflection slope",
    "ratio c_h_alpha real/theory": "incidence ratio",
    "ratio c_h_delta real/theory": "deflection ratio",
    "nose-balance factor on both hinge slopes": "balance",
}
POINTS = [row for row in ROWS if row["quantity"] in KINDS]
CHAIN = [row for row in ROWS if "by the chart chain" in row["quantity"]]
SPAN = [row for row in ROWS if row["quantity"].startswith("finite-span")]


def numbers(text):
    return [float(value) for value in re.findall(r"=(-?[\d.]+)", text)]


def tolerance(row):
    return {"rel": 0, "abs": 0, row["tolerance_kind"]: float(row["tolerance"])}


def fields(**changes):
    """Fields for a unit load, so that moments are coefficients."""
    made = dict.fromkeys(Handbook().fields, 0.0)
    made |= {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
    made |= {"chord_ratio": 0.3, "aspect_ratio": math.inf, "lift_slope_ratio": 1.0}
    made |= {"density": 1.0, "viscosity": 1e-9} | changes
    return {name: np.asarray(value) for name, value in made.items()}


def last(taken, slope):
    return [step for step in taken if step.slope == slope][-1].after


def test_every_chart_row_of_the_reference_is_used():
    assert len(POINTS) == 57
    assert len(CHAIN) == len(SPAN) == 6
    assert len(POINTS) + len(CHAIN) + len(SPAN) + 1 == len(ROWS)  # and a load shape


@pytest.mark.parametrize("row", POINTS, ids=[row["id"] for row in POINTS])
def test_chart_has_the_published_point(row):
    made = read(KINDS[row["quantity"]], *numbers(row["inputs"]))
    assert made.value == pytest.approx(float(row["expected"]), **tolerance(row))
    assert not made.beyond


@pytest.mark.parametrize("row", CHAIN, ids=[row["id"] for row in CHAIN])
def test_chain_of_charts_gives_the_worked_numbers(row):
    thickness, ratio, lift = numbers(row["inputs"])
    taken = steps(fields(thickness_ratio=thickness, chord_ratio=ratio, lift_slope_ratio=lift))
    slope = "C_h_alpha" if "c_h_alpha" in row["quantity"] else "C_h_delta"
    assert last(taken, slope) == pytest.approx(float(row["expected"]), **tolerance(row))


@pytest.mark.parametrize("row", SPAN, ids=[row["id"] for row in SPAN])
def test_finite_span_gives_the_worked_numbers(row):
    # The rows take thin-aerofoil slopes; the chart's at no thickness agree within its digits and
    # its straight lines between chord ratios 0.1 and 0.4.
    aspect, ratio = numbers(row["inputs"])
    taken = steps(fields(aspect_ratio=aspect, chord_ratio=ratio))
    slope = "C_h_alpha" if "C_h_alpha" in row["quantity"] else "C_h_delta"
    assert last(taken, slope) == pytest.approx(float(row["expected"]), rel=0.03)


def test_both_terms_of_a_finite_span_relieve():
    short, long = steps(fields(aspect_ratio=3.0)), steps(fields())
    for slope in ("C_h_alpha", "C_h_delta"):
        assert abs(last(short, slope)) < abs(last(long, slope))


def test_no_sweep_changes_nothing_and_sweep_relieves_by_the_cosine():
    taken, swept = steps(fields(aspect_ratio=4.0)), steps(fields(aspect_ratio=4.0, sweep=0.5))
    assert next(step for step in taken if step.name == "sweep").factor == 1.0
    made = {step.slope: step.factor for step in swept if step.name == "sweep"}
    assert made["C_h_alpha"] == pytest.approx(math.cos(0.5))
    assert made["C_h_delta"] == pytest.approx(math.cos(0.5) ** 2)


def test_steps_are_a_chain_and_each_has_a_source():
    taken = steps(fields(thickness_ratio=0.09, lift_slope_ratio=0.9, overhang=0.3, aspect_ratio=4))
    for slope in ("C_h_alpha", "C_h_delta"):
        chain = [step for step in taken if step.slope == slope]
        names = [step.name for step in chain]
        assert names == ["thickness", "viscosity", "gap", "balance", "finite span", "sweep"]
        for step, after in pairwise(chain):
            assert after.before == step.after
        for step in chain:
            assert step.after == pytest.approx(float(step.before * step.factor), rel=1e-12)
            assert step.source


def test_an_open_gap_adds_a_tenth():
    # common practice, no source
    sealed, open_ = steps(fields()), steps(fields(open_gap=1.0))
    assert last(open_, "C_h_delta") == pytest.approx(1.1 * last(sealed, "C_h_delta"))


@pytest.mark.parametrize("name", CHARTS)
def test_beyond_a_chart_its_edge_stands_and_that_is_told(name):
    axes = [points for _, points in CHARTS[name].axes]
    edge, past = [points[-1] for points in axes], [points[-1] + 1.0 for points in axes]
    before = [points[0] - 1.0 for points in axes]
    assert read(name, *past).value == read(name, *edge).value
    assert read(name, *past).beyond
    assert read(name, *before).beyond
    assert not read(name, *edge).beyond
    assert np.isnan(read(name, *(math.nan for _ in axes)).value)


def test_range_of_validity_ends_where_the_charts_do():
    limits = Handbook().validity
    least, most = limits["chord_ratio"]
    for name in ("incidence slope", "deflection slope", "incidence ratio", "deflection ratio"):
        axis = dict(CHARTS[name].axes)["chord ratio"]
        assert (axis[0], axis[-1]) == (least, most)
    for name in ("incidence slope", "deflection slope"):
        assert dict(CHARTS[name].axes)["thickness ratio"][-1] >= limits["thickness_ratio"][1]
    assert CHARTS["balance"].axes[0][1][-1] == limits["overhang"][1]


def test_lift_slope_by_reynolds_number_is_near_that_of_computed_sections():
    # hinge_viscous.csv: 12 % sections at 1e6 over the same without boundary layer, to 4 degrees
    with (FOLDER / "hinge_viscous.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if float(row["delta_deg"]) == 0.0]

    def slope(section, reynolds):
        points = {
            (math.radians(float(row["alpha_deg"])), float(row["cl"]))
            for row in rows
            if row["section"] == section
            and float(row["Re"]) == reynolds
            and abs(float(row["alpha_deg"])) <= 4.0
        }
        return np.polyfit(*zip(*points, strict=True), 1)[0]

    for section in ("naca0012", "naca2412"):
        ratio = slope(section, 1e6) / slope(section, 0)
        assert lift_slope_ratio(reynolds_number=1e6) == pytest.approx(ratio, abs=0.035)
    assert lift_slope_ratio(reynolds_number=1e3) == 0.85
    assert lift_slope_ratio(reynolds_number=1e9) == 0.95


def test_without_a_lift_slope_that_by_reynolds_number_counts():
    # V = 10 m/s, chord 1 m / 0.25: Re = 4e6 with these
    air = {"density": 1.0, "dynamic_pressure": 50.0, "viscosity": 1e-5, "chord_ratio": 0.25}
    made = steps(fields(**air, lift_slope_ratio=0.0))
    given = steps(fields(**air, lift_slope_ratio=0.90 + 0.03 * math.log10(4.0)))
    assert last(made, "C_h_delta") == pytest.approx(last(given, "C_h_delta"), rel=1e-12)


def test_high_and_low_take_no_credit():
    angles = {"incidence": 0.05, "largest_incidence": 0.05, "deflection": 0.2}
    thick = Handbook()(fields(thickness_ratio=0.12, lift_slope_ratio=0.9, aspect_ratio=3, **angles))
    every = fields(**angles)
    thin = ThinAerofoil()({name: every[name] for name in ThinAerofoil().fields})
    assert thick["high"] == thin["high"]
    assert thick["low"] == thin["low"]
    assert abs(thick["best"]) < abs(thin["best"])


def test_scipy_is_loaded_by_the_first_reading_only():
    code = (
        "import sys; from linkcalc_hinge_moment.charts import read; "
        "assert 'scipy' not in sys.modules; read('balance', 0.1); assert 'scipy' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
