"""One aircraft that uses everything at once, through every command, with warnings as errors."""

from __future__ import annotations

import json
from math import pi, sqrt
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.cli import main
from linkcalc.report.schema import document_schema

FILE = str(Path(__file__).with_name("turnstone.toml"))
PARTS = str(Path(__file__).parents[2] / "examples/catalogue/parts.toml")
COMMANDS = {
    "check": ["check", FILE],
    "page": ["check", FILE, "--brief", "--html", "OUT.html"],
    "remedy": ["remedy", FILE, "--run", "rudder", "--case", "turn"],
    "wires": ["wires", FILE, "--gauges", "26 AWG, 22 AWG"],
    "methods": ["methods", FILE],
    "proof": ["proof", FILE],
    "working": ["working", FILE],
    "throw cards": ["cards", "throw", FILE, "--out", "OUT.pdf"],
    "placard": ["cards", "placard", FILE, "--out", "OUT.svg"],
    "choose": ["choose", FILE, "--catalogue", PARTS, "--run", "elevator"],
    "sweep": ["sweep", FILE, "--over", "supply.inrush_multiple=1; 2", "--out", "OUT.csv"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_an_answer(name, tmp_path, capsys):
    asked = [str(tmp_path / word) if word.startswith("OUT") else word for word in COMMANDS[name]]
    assert main(asked) in {0, 1}
    told = capsys.readouterr()
    assert told.out
    assert told.err == ""
    wanted = [Path(word) for word in asked if word.startswith(str(tmp_path))]
    assert sorted(tmp_path.iterdir()) == wanted


@pytest.fixture(scope="module")
def report():
    return linkcalc.check(FILE)


def test_the_document_is_valid(capsys):
    main(["check", FILE, "--json"])
    told = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(document_schema("report")).validate(told)
    assert {case["name"] for case in told["aircraft_cases"]} == {
        "turn",
        "spin exit",
        "climb",
        "parked",
        "carried by hand",
    }


def of(report, run, case):
    found = next(each for each in report.runs if each.name == run)
    return next(each for each in found.cases if each.name == case)


def test_the_slipstream_by_hand(report):
    # Momentum theory: V_s^2 = V^2 + 2 T / (rho A); 9 N on a disc of 280 mm at 12 m/s.
    disc = pi / 4 * 0.28**2
    speed = sqrt(12**2 + 2 * 9 / (1.225 * disc))
    told = of(report, "elevator", "climb").values["speed at the surface"].value
    assert told == pytest.approx(speed, rel=1e-4)


def test_the_gust_on_the_ground_by_hand(report):
    # K c S q with K = 0.75 (14 CFR 23.415, pre-2017 text), and the surface's own weight.
    pressure = 0.5 * 1.225 * 12**2
    moment = 0.75 * 0.042 * (0.48 * 0.042) * pressure + 0.014 * 9.80665 * 0.015
    told = of(report, "elevator", "parked").values["hinge moment"].value
    assert told == pytest.approx(moment, rel=1e-3)


def test_the_torque_available_by_hand(report):
    # The rows of the servo at the voltage of its own limit, over the datasheet factor 1.2.
    values = of(report, "elevator", "turn").values
    volts = values["voltage at limit"].value
    stall = (3.0 + (volts - 4.8) / 1.2 * 0.8) * 9.80665e-2 / 1.2
    assert values["torque available"].value == pytest.approx(stall, rel=1e-6)


def test_the_hand_on_a_surface_by_hand(report):
    # 1 N at the trailing edge, 42 mm aft of the hinge line, either way; and the weight.
    told = of(report, "elevator", "carried by hand").values["hinge moment"].value
    assert abs(told) == pytest.approx(1.0 * 0.042 + 0.014 * 9.80665 * 0.015, rel=1e-3)
