"""The evaluation against a second way that shares nothing with it."""

import math

import pytest
from hypothesis import given, settings

import linkcalc
from tests.evaluation import aircraft as named
from tests.evaluation import independent
from tests.evaluation.described import aircraft, described

TOLERANCE = 1e-6  # promised for the minimum over deflection; all else is closer
MODES = ("torque", "travel", "voltage", "over-voltage", "current")
VALUES = ("dynamic pressure", "voltage at work", "voltage at limit", "current at work")
SOURCE = ("source current at work", "source current, all stalled")


def agree(told, found, relative=TOLERANCE):
    """Both have no value, or values that agree."""
    if told is None or math.isnan(found):
        return told is None and math.isnan(found)
    return told == pytest.approx(found, rel=relative, abs=1e-10)


def disagreements(report, plain_numbers):
    """Everything in which a report and the second way differ."""
    found = []
    for (c, r), second in independent.evaluate(plain_numbers).items():
        first = report.runs[r].cases[c]

        def compare(name, told, value, relative=TOLERANCE, at=(c, r)):
            if not agree(told, value, relative):
                found.append((at, name, told, value))

        for mode in MODES:
            margin = first.margin(mode)
            if mode == "current" and math.isinf(plain_numbers.limit):
                continue
            # available / (required x factor): near zero a margin has no relative error
            told, plain = (None if m is None else m + 1 for m in (margin.margin, margin.plain))
            compare(mode, told, second[mode] + 1)
            compare(f"{mode}, plain", plain, second["plain"][mode] + 1)
        torque = first.margin("torque")
        compare("required", torque.required.value, second["required"])
        compare("available", torque.available.value, second["available"])
        compare("drawn", first.margin("current").required.value, second["required current"])
        for name in VALUES:
            compare(name, first.values[name].value, second[name])
        for name in SOURCE:
            compare(name, report.aircraft_cases[c].values[name].value, second[name])
        force = first.values["rod force"].value
        compare("rod force", None if force is None else abs(force), second["rod force"])
        # A flat maximum leaves its place uncertain by the root of the tolerance.
        for name in ("hinge moment", "hold torque"):
            compare(name, first.values[name].value, second[name], 3e-3)
        at = first.values["governing deflection"].value
        # next to neutral a place has no relative error: degrees from -1
        at, other = (
            None if found_at is None else found_at + 1
            for found_at in (at, math.degrees(second["governing deflection"]))
        )
        compare("governing", at, other, 3e-3)
    return found


def checked(text, folder):
    path = folder / "aircraft.toml"
    path.write_text(text, encoding="utf-8")
    return linkcalc.check(path)


@pytest.mark.parametrize("name", named.PAIRS)
def test_every_figure_agrees_with_the_second_way(name, tmp_path):
    text, plain_numbers = named.PAIRS[name]
    assert disagreements(checked(text, tmp_path), plain_numbers) == []


@settings(max_examples=6)
@given(made=aircraft())
def test_random_aircraft_agree_with_the_second_way(made, tmp_path_factory):
    folder = tmp_path_factory.mktemp("random")
    assert disagreements(checked(described(made), folder), made) == []
