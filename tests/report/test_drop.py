"""The picture of the drop: lengths are volts, and every kind can be told without colour."""

import math

import pytest
from matplotlib.figure import Figure

from linkcalc.report.drop import drop_document, drop_lines, least_paths, voltage_drop
from linkcalc.study.drops import Drop, Path

# Invented; 6 V less 0.3, 0.2, 0.25 and 0.05 are 5.2 V.
DROPS = (
    Drop("source", "internal resistance", 0.3),
    Drop("trunk", "conductor out", 0.2),
    Drop("trunk", "conductor back", 0.25),
    Drop("trunk", "contacts", 0.05),
)
GOOD = Path("aileron", "dive", 6.0, 5.2, DROPS)
LESS = GOOD._replace(case="turn", open_circuit=5.8, delivered=5.0)
NONE = Path("flap", "dive", 6.0, math.nan, tuple(drop._replace(voltage=math.nan) for drop in DROPS))


def test_bars_are_as_long_as_what_is_lost_and_stand_end_to_end():
    bars = voltage_drop([GOOD]).patches
    assert [bar.get_width() for bar in bars] == pytest.approx([0.3, 0.2, 0.25, 0.05])
    assert [bar.get_x() for bar in bars] == pytest.approx([0.0, 0.3, 0.5, 0.75])


def test_kinds_are_named_once_and_differ_by_hatch_or_lightness():
    axes = voltage_drop([GOOD, LESS])
    names = [text.get_text() for text in axes.get_legend().get_texts()]
    assert names == ["source", "conductors", "contacts"]
    looks = {(bar.get_facecolor(), bar.get_hatch()) for bar in axes.patches}
    assert len(looks) == 3
    assert "[V]" in axes.get_xlabel()
    assert [text.get_text() for text in axes.texts] == ["5.20 V arrive", "5.00 V arrive"]


def test_what_has_no_solution_has_no_bar_and_counts_as_least():
    axes = voltage_drop([NONE])
    assert not axes.patches
    assert axes.texts[0].get_text() == "no solution"
    assert least_paths([GOOD, NONE._replace(run="aileron")])[0].run == "aileron"
    assert math.isnan(least_paths([GOOD, NONE._replace(run="aileron")])[0].delivered)
    assert "no voltage satisfies the supply" in drop_lines([NONE])[-1]
    (told,) = drop_document([NONE])
    assert told["delivered"] is None


def test_the_case_in_which_least_arrives_is_told_and_the_table_adds_up():
    assert least_paths([GOOD, LESS, NONE]) == (LESS, NONE)
    figures = [float(word) for word in drop_lines([GOOD])[-1].split()[1:]]
    assert figures == pytest.approx([0.3, 0.45, 0.05, 0.0, 5.2])


def test_axes_that_are_given_are_drawn_into_and_returned():
    axes = Figure().subplots()
    assert voltage_drop([GOOD], axes=axes) is axes
