"""What may be flown, on every line of the air load."""

import pytest

import linkcalc
from tests.diving.described import written

SURFACE = 'mass = "12 g", mass_centre = "14 mm"'
GIVEN = 'coefficients = { C_h_alpha = "0 1/rad", C_h_delta = "-0.9 1/rad", band_low = 0.5, band_high = 2.0 }'


def test_freeze_speeds_follow_the_band_of_given_coefficients(tmp_path):
    """One servo about to stall has the same voltage on each line, so q times the band is constant."""
    report = linkcalc.check(written(tmp_path, (SURFACE, GIVEN)))
    for values in (report.whole, report.runs[0].cases[0].values):
        low, best, high = (
            values[f"freeze speed, {line} air load"].value for line in ("low", "best", "high")
        )
        assert 0.5 * low**2 == pytest.approx(best**2, rel=1e-5)
        assert 2.0 * high**2 == pytest.approx(best**2, rel=1e-5)
        assert high == pytest.approx(report.runs[0].cases[0].values["freeze speed"].value)


def test_the_best_line_is_what_a_verdict_on_it_stands_on(tmp_path):
    whole = linkcalc.check(written(tmp_path)).whole
    top = ('name = "Dunlin', 'verdict_line = "best"\nname = "Dunlin')
    asked = linkcalc.check(written(tmp_path, top)).whole
    assert whole["placard speed, best air load"] == asked["placard speed"]
    assert asked["placard speed, high air load"] == whole["placard speed"]


def test_the_placard_is_held_against_stall_cruise_and_dive_speed(tmp_path):
    report = linkcalc.check(written(tmp_path))
    whole = report.whole
    placard = whole["placard speed"].value
    dive = report.aircraft_cases[0].values["dive speed"].value
    assert whole["margin of the placard over cruise speed"].value == pytest.approx(placard / 15 - 1)
    assert whole["margin of the placard over dive speed"].value == pytest.approx(placard / dive - 1)
    stall = (2 * 2.1 * 9.80665 / (1.225 * 0.38 * 1.1)) ** 0.5
    assert whole["margin of the placard over stall speed"].value == pytest.approx(
        placard / stall - 1, rel=1e-5
    )
    assert "'elevator' in 'out of a stall'" in whole["freeze speed, high air load"].at


def test_of_a_dive_speed_that_is_given_and_one_that_is_reached_the_greater_counts(tmp_path):
    for given, counts in ((35.0, True), (12.0, False)):
        top = ('name = "Dunlin', f'dive_speed = "{given} m/s"\nname = "Dunlin')
        report = linkcalc.check(written(tmp_path, top))
        reached = report.aircraft_cases[0].values["dive speed"].value
        assert report.whole["dive speed"].value == pytest.approx(given if counts else reached)
        assert 12 < reached < 35


def test_a_speed_that_is_not_known_has_no_margin_but_a_reason(tmp_path):
    trim = (
        ('cruise_speed = "15 m/s"\n', ""),
        ('run = "elevator"', 'run = "elevator"\ntrim_speed = "15 m/s"'),
    )
    whole = linkcalc.check(written(tmp_path, *trim)).whole
    margin = whole["margin of the placard over cruise speed"]
    assert margin.value is None
    assert margin.reason == "no cruise speed is given"
