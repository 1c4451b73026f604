"""Cautions about flutter: nothing is promised, and what is published is told with its source."""

import csv
import math
from pathlib import Path

import pytest

import linkcalc
from linkcalc.diving.flutter import FREE_PLAY_LIMITS, FREEDOM_FACTOR, cautions
from linkcalc.errors import InputError
from linkcalc.model.value_classes import fields
from tests.diving.described import written

with (Path(__file__).parents[1] / "reference" / "regulations.csv").open(encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))


def said(subject, **known):
    (found,) = (each for each in cautions(name="rudder", **known) if each.subject == subject)
    return found


@pytest.mark.parametrize("known", [{}, {"mass_moment": -1e-3, "free_play": 0.0, "compliance": 0.1}])
def test_that_this_is_no_analysis_is_always_said_first(known):
    first = cautions(name="rudder", **known)[0]
    assert first.subject == "not a flutter analysis"
    assert "licensed practice" in first.text


def test_limits_of_play_are_those_of_the_reference():
    limits = [float(row["expected"]) for row in ROWS if row["quantity"] == "total free play limit"]
    assert sorted(map(math.degrees, FREE_PLAY_LIMITS.values())) == pytest.approx(sorted(limits))
    assert "from memory" in said("free play", free_play=0.01, kind="all-moving surface").source


def test_the_factor_of_freedom_is_that_of_the_reference():
    (row,) = (row for row in ROWS if row["source"] == "14 CFR 23.629(c)")
    assert float(row["expected"]) == FREEDOM_FACTOR
    assert "60.0 m/s" in said("speed", dive_speed=50.0).text


def test_what_is_not_given_is_said_not_to_be_looked_at():
    for subject in ("mass balance", "free play", "stiffness"):
        assert "not looked at" in said(subject).text


def test_a_surface_heavy_behind_its_hinge_line_is_told_so():
    # 20 g, 12 mm behind: 240 g mm
    assert "behind the hinge line, 240 g mm" in said("mass balance", mass_moment=0.020 * 0.012).text
    assert "on or ahead" in said("mass balance", mass_moment=0.0).text


@pytest.mark.parametrize(("degrees", "words"), [(0.5, "within"), (0.6, "more than")])
def test_play_is_held_against_the_limit_of_its_kind(degrees, words):
    known = {"free_play": math.radians(degrees), "kind": "aileron at 50 to 75 % of the span"}
    assert words in said("free play", **known).text


def test_stiffness_is_one_over_the_compliance():
    assert "stiffness of 4.00 N m/rad" in said("stiffness", compliance=0.25).text
    assert "rigid" in said("stiffness", compliance=0.0).text


def test_an_unknown_kind_is_refused():
    with pytest.raises(InputError, match="all-moving surface"):
        cautions(name="rudder", kind="flap")


def test_kinds_of_the_file_are_those_that_a_limit_is_published_for():
    (field,) = (
        item for item in fields(linkcalc.ControlSurface) if item.name == "published_play_limit"
    )
    assert set(field.spec.choices) == set(FREE_PLAY_LIMITS)


def test_a_report_with_an_airframe_ends_with_the_cautions(tmp_path):
    surface = 'mass_centre = "14 mm"'
    changes = (
        (surface, surface + ', published_play_limit = "tab, span under 35 % of the surface"'),
        ('horn = "11 mm"', 'horn = "11 mm"\njoint_play = "0.05 mm"\ncompliance = "3 deg/Nm"'),
    )
    report = linkcalc.check(written(tmp_path, *changes))
    assert report.cautions[0].subject == "not a flutter analysis"
    found = {caution.subject: caution.text for caution in report.cautions}
    # 12 g, 14 mm behind the hinge line: 168 g mm; 180 / pi / 3 = 19.10 N m/rad
    assert "168 g mm" in found["mass balance"]
    assert "19.10 N m/rad" in found["stiffness"]
    # 0.05 mm along a rod on a horn of 11 mm: 0.05 / 11 rad = 0.26 deg
    assert "the 1.15 deg" in found["free play"]
    assert float(found["free play"].split(": ")[1].split(" deg")[0]) == pytest.approx(
        0.26, abs=0.01
    )
    assert f"{1.2 * report.whole['dive speed'].value:.1f} m/s" in found["speed"]


def test_a_report_without_an_airframe_has_no_cautions():
    assert linkcalc.check("examples/sandpiper.toml").cautions == ()
