"""Margins that are reached with a stated confidence, and a choice that goes by them."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc.catalogue import Catalogue, ServoPart
from linkcalc.choosing.sure_margins import SAMPLES, sure_margin
from linkcalc.errors import InputError
from linkcalc.study.running import Workers
from linkcalc.study.samples import OneByOne
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.points import Points

# An invented survey glider with two ailerons, over-voltage its least margin unless the servo is weak.
FILE = """
format = "linkcalc.aircraft/1"
name = "Plover"
supply = { voltage = "6.0 V ± 0.8 V", internal_resistance = "40 mohm", current_limit = "10 A" }
tolerances = { defaults = "off" }

[servos.wing]
rows = [{ voltage = "6.0 V", stall_torque = "9 kg·cm", no_load_speed = "0.06 s/60deg", stall_current = "1.4 A" }]
maximum_voltage = "6.6 V"
minimum_voltage = "3 V"

[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "20 m/s"

[[runs]]
name = "port"
servo = "wing"
arm = "10 mm"
horn = "14 mm"
pushrod = "110 mm"
surface = { span = "400 mm", chord = "40 mm", chord_ratio = 0.24, throw = "18 deg" }

[[runs]]
name = "starboard"
servo = "wing"
arm = "10 mm"
horn = "14 mm"
pushrod = "110 mm"
surface = { span = "400 mm", chord = "40 mm", chord_ratio = 0.24, throw = "18 deg" }
"""


@pytest.fixture
def plover(tmp_path):
    path = tmp_path / "plover.toml"
    path.write_text(FILE, "utf-8")
    return linkcalc.read_aircraft(path)


def part(name, torque, most, mass="20 g"):
    row = linkcalc.DatasheetRow(
        voltage="6.0 V",
        stall_torque=f"{torque} kg·cm ± 20 %",
        no_load_speed="0.06 s/60deg",
        stall_current="1.4 A",
    )
    return ServoPart(
        name=name, source="invented", mass=mass, rows=[row],
        maximum_voltage=most, minimum_voltage="3 V",
    )  # fmt: skip


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_a_margin_in_closed_form_is_reached_with_its_confidence(plover, confidence):
    # over-voltage: 6.6 V over a voltage that is uniform from 5.2 to 6.8 V
    expected = 6.6 / (5.2 + 1.6 * confidence) - 1
    assert sure_margin(plover, [0, 1], confidence) == pytest.approx(expected, abs=2e-3)


def test_more_confidence_never_has_more_margin(plover):
    found = [sure_margin(plover, [0], confidence) for confidence in (0.5, 0.7, 0.9, 0.99)]
    assert found == sorted(found, reverse=True)


def test_a_choice_goes_by_the_margin_that_is_sure(plover):
    servos = [
        part("high", 9, "8.0 V"),
        part("tight", 9, "6.3 V"),  # 6.3 V are enough nominally, not with 95 %
        part("weak", 0.6, "8.0 V"),
        part("middling", 6, "7.4 V"),
    ]
    parts = Catalogue(name="made up", servos=servos)
    asked = {"by": ["margin"], "runs": ["port", "starboard"]}
    plain = linkcalc.choose(plover, parts, **asked)
    sure = linkcalc.choose(plover, parts, confidence=0.95, **asked)
    places = {each.name: each.place for each in plain.ranking.standings}
    assert places["tight"] is not None
    standings = {each.name: each for each in sure.ranking.standings}
    assert standings["tight"].place is None
    assert "95% confidence" in " ".join(map(str, standings["tight"]))
    assert standings["weak"].place is None
    margins = {}
    for servo in servos:
        if standings[servo.name].place is None:
            continue
        fitted = [linkcalc.replace(run, servo=servo.servo()) for run in plover.runs]
        uncertain = UncertainAircraft(linkcalc.replace(plover, runs=fitted))
        scores = Points(len(uncertain.inputs)).scores(0, SAMPLES)
        each = OneByOne(uncertain)(uncertain.inputs.values(scores))
        least = np.sort(np.min([row for name, row in each.items() if " / " in name], axis=0))
        margins[servo.name] = least[math.floor(0.05 * SAMPLES)]
    assert len(margins) == 2
    best = max(margins, key=margins.get)
    assert standings[best].place == 1
    two = linkcalc.choose(plover, parts, confidence=0.95, workers=Workers(2), **asked)
    assert str(two.ranking.standings) == str(sure.ranking.standings)  # nan is as nan


@pytest.mark.parametrize("confidence", [0.4, 0.999, math.nan])
def test_a_confidence_that_samples_cannot_tell_is_refused_before_any_work(plover, confidence):
    parts = Catalogue(name="made up", servos=[part("high", 9, "8.0 V")])
    with pytest.raises(InputError, match="confidence"):
        linkcalc.choose(plover, parts, confidence=confidence)
