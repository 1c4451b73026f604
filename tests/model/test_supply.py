"""Leads: gauge and cross-section."""

import csv
import math
import re
from pathlib import Path

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.model.value_classes import stated

REFERENCE = Path(__file__).resolve().parent.parent / "reference/wire.csv"


def section(gauge):
    """Cross-section in square metres of a lead of this gauge."""
    return stated(linkcalc.Lead(name="l", length="1 m", gauge=gauge), "gauge").si


def published_diameters():
    with REFERENCE.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found = re.fullmatch(r"gauge=(\d+) solid", row["inputs"])
            if row["quantity"] == "AWG diameter" and found:
                yield pytest.param(int(found[1]), row, id=row["id"])


@pytest.mark.parametrize(("number", "row"), list(published_diameters()))
def test_a_gauge_has_its_published_diameter(number, row):
    assert (row["unit"], row["tolerance_kind"]) == ("mm", "rel")
    diameter = math.sqrt(section(f"{number} AWG") * 4 / math.pi)
    expected = float(row["expected"]) / 1000
    assert diameter == pytest.approx(expected, rel=float(row["tolerance"]))


@pytest.mark.parametrize("number", [0, 10, 22, 26, 28, 36, 40])
def test_a_gauge_is_the_geometric_series_of_astm_b258(number):
    # ASTM B258: gauge 36 is 0.005 inch, gauge 0000 (three below 0) 0.46 inch, equal ratios between.
    diameter = 0.005 * (0.46 / 0.005) ** ((36 - number) / 39) * 0.0254
    for spelling in (f"{number} AWG", f"AWG {number}", f"{number} awg", f"AWG{number}"):
        assert section(spelling) == pytest.approx(math.pi / 4 * diameter**2, rel=1e-12)


@pytest.mark.parametrize("spelling", ["0.14 mm^2", "0.14 mm²", "140000 um^2"])
def test_a_cross_section_may_stand_for_a_gauge(spelling):
    assert section(spelling) == pytest.approx(0.14e-6, rel=1e-12)


@pytest.mark.parametrize(
    "gauge",
    [
        "41 AWG",
        "-1 AWG",
        "26.5 AWG",
        "AWG",
        "26 SWG",
        "26",
        26,
        "0.14 mm",
        "1 m^2",
        "1e-10 mm^2",
        "999 AWG",
        "1AWG26",
    ],
)
def test_an_unknown_gauge_is_refused_with_both_ways_to_write_it(gauge):
    with pytest.raises(InputError, match=r"^gauge: .*0\.14 mm\^2"):
        section(gauge)


def test_the_gauge_is_shown_with_its_section():
    lead = linkcalc.Lead(name="l", length="1 m", gauge="26 AWG")
    assert stated(lead, "gauge").text == "26 AWG (0.129 mm^2)"
    assert lead.gauge.m_as("mm**2") == pytest.approx(0.1288, abs=5e-5)


def test_a_lead_has_gauge_and_length_or_a_measured_resistance():
    for wrong in ({}, {"gauge": "26 AWG"}, {"length": "1 m"}):
        with pytest.raises(InputError, match="gauge"):
            linkcalc.Lead(name="l", **wrong)
    with pytest.raises(InputError, match="one of the two"):
        linkcalc.Lead(name="l", gauge="26 AWG", length="1 m", loop_resistance="1 ohm")
    with pytest.raises(InputError, match=r"linkcalc\.Lead\("):
        linkcalc.Lead(name="l", loop_resistance="1 ohm", feed="trunk")


def test_a_source_says_a_limit_or_that_there_is_none():
    assert linkcalc.Supply(voltage="6 V", current_limit="none").current_limit == "none"
    with pytest.raises(TypeError, match="current_limit"):
        linkcalc.Supply(voltage="6 V")


@pytest.mark.parametrize(
    ("words", "section", "share", "shape"),
    [
        ("24 AWG ± 5 %", "24 AWG", 0.05, "uniform"),
        ("awg 24 +/- 5% (triangular)", "24 AWG", 0.05, "triangular"),
        ("24 AWG ± 0.01 mm^2", "24 AWG", 0.01 / 0.2047, "uniform"),  # ASTM B258: 0.2047 mm^2
        ("0.25 mm^2 ± 10 % (normal, 2 s)", "0.25 mm^2", 0.1, "normal"),
    ],
)
def test_a_tolerance_of_a_gauge_is_of_its_cross_section(words, section, share, shape):
    held = stated(linkcalc.Lead(name="wing", gauge=words, length="1 m"), "gauge")
    plain = stated(linkcalc.Lead(name="wing", gauge=section, length="1 m"), "gauge")
    assert held.si == plain.si
    assert held.tolerance / held.si == pytest.approx(share, rel=2.5e-4)  # half a last digit
    assert held.spread == shape


@pytest.mark.parametrize(
    "words",
    ["24 AWG ± 1 AWG", "24 AWG ± 100 %", "24 AWG ± 5 % (odd)", "24 AWG ±", "24 AWG ± -5 %",
     "0.25 mm^2 ± 0.3 mm^2", "24 AWG ± 0 AWG ± 5 %"],
)  # fmt: skip
def test_a_tolerance_of_a_gauge_that_makes_no_sense_is_refused(words):
    with pytest.raises(linkcalc.InputError, match="tolerance"):
        linkcalc.Lead(name="wing", gauge=words, length="1 m")
