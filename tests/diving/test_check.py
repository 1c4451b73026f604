"""Dives of a file, from `check`: against closed forms, and a failure is never a pass."""

import csv
import json
import math
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.errors import SolverError
from linkcalc.report.document import document, dumped
from linkcalc.report.measures import METRIC, imperial
from linkcalc.report.schema import document_schema
from linkcalc.report.text import text as report_text
from linkcalc.study.remedies import remedies
from linkcalc.study.sweep import sweep
from linkcalc.study.wires import choose_wires
from tests.diving.described import written

GRAVITY = 9.80665
CASE = "out of a stall"
DRAG = re.compile(r"\[airframe\.drag\].*?(?=\[\[cases\]\])", re.DOTALL)
ELEVATOR = re.compile(r"\[airframe\.elevator\].*?(?=\[airframe\.drag\])", re.DOTALL)
REFERENCE = Path(__file__).parents[1] / "reference" / "dive_and_pullout.csv"
with REFERENCE.open(encoding="utf-8") as file:
    KNOWN = {
        row["id"].removeprefix("dive_and_pullout-"): float(row["expected"])
        for row in csv.DictReader(file)
    }


def constant(drag):
    """Replace the drag by a coefficient that does not depend on lift."""
    rows = ", ".join(f"{{ lift = {lift}, drag = {drag} }}" for lift in (-3.0, 3.0))
    return DRAG, f"[airframe.drag]\npolar = [{rows}]\n\n"


def checked(folder, *changes):
    return linkcalc.check(written(folder, *changes))


def values(report, name=CASE):
    (case,) = (case for case in report.aircraft_cases if case.name == name)
    return {key: value.value for key, value in case.values.items()}


def entry(words, height="150 m"):
    return (('preset = "stall"', words), ('start_height = "150 m"', f'start_height = "{height}"'))


# tests/reference/dive_and_pullout.csv, rows 07 and 08: weight = drag, rho = 1.225 kg/m^3
@pytest.mark.parametrize(("angle", "row"), [("90 deg", "07"), ("30 deg", "08")])
def test_the_terminal_speed_is_that_of_the_reference(angle, row, tmp_path):
    words = f'dive_angle = "{angle}"\nfield_altitude = "-150 m"\nstart_speed = "20 m/s"'
    frame = (('mass = "2.1 kg"', 'mass = "2.0 kg"'), ("0.38 m^2", "0.35 m^2"), constant(0.030))
    found = values(checked(tmp_path, *frame, *entry(words)))
    assert found["terminal speed"] == pytest.approx(KNOWN[row], rel=1e-4)


def test_a_pull_out_without_drag_and_servo_loses_the_height_of_the_closed_form(tmp_path):
    # dV/dgamma = -V sin gamma / (n - cos gamma): V (n - cos gamma) is constant
    words = 'dive_angle = "60 deg"\nstart_speed = "40 m/s"\ndelay = "0 s"'
    lots = (
        ("maximum_lift = 1.1", "maximum_lift = 3"),
        ("limit_load_factor = 6", "limit_load_factor = 4"),
    )
    found = values(checked(tmp_path, constant(0.0), (ELEVATOR, ""), *lots, *entry(words)))
    ratio = (4 - math.cos(math.radians(60))) / 3
    assert found["height lost"] == pytest.approx(40**2 / (2 * GRAVITY) * (ratio**2 - 1), rel=1e-7)
    assert found["dive speed"] == pytest.approx(40 * ratio, rel=1e-7)
    assert found["greatest load factor"] == pytest.approx(4, rel=1e-9)
    assert found["recovers"] == 1


def test_drag_built_up_in_a_file_is_the_sum_by_hand(tmp_path):
    # flat plate after Prandtl and Schlichting, form factors after Hoerner, 1965, ch. 6 (all from
    # memory); friction at 30 m/s in the air of the field, whose kinematic viscosity at sea level
    # is 1.4607e-5 m^2/s (U.S. Standard Atmosphere 1976, table of sea-level values, from memory)
    words = '[airframe.drag]\ninterference = 0.2\nfriction_speed = "30 m/s"'
    report = checked(tmp_path, ("[airframe.drag]", words))
    friction = [0.455 / math.log10(30 * length / 1.4607e-5) ** 2.58 for length in (0.18, 1.1)]
    wing = friction[0] * (1 + 2 * 0.09 + 60 * 0.09**4) * 0.90
    body = friction[1] * (1 + 1.5 / 11**1.5 + 7 / 11**3) * 0.25
    whole = 1.2 * (wing + body + 1.2 * 2e-4) / 0.38
    (note,) = (note for note in report.aircraft_cases[0].notes if "built up" in note)
    assert float(re.search(r"built up: ([\d.]+)", note)[1]) == pytest.approx(whole, abs=6e-5)


def test_the_case_takes_the_worst_speed_of_its_dive(tmp_path):
    report = checked(tmp_path, *entry('preset = "spin exit"'))
    found = values(report)
    (case,) = report.runs[0].cases
    assert case.values["dynamic pressure"].value == pytest.approx(
        found["peak dynamic pressure"], rel=1e-9
    )
    assert any("the greatest of the dive" in note for note in report.aircraft_cases[0].notes)


def test_a_speed_that_the_file_gives_stays(tmp_path):
    report = checked(tmp_path, ('kind = "dive"', 'kind = "dive"\nspeed = "33 m/s"'))
    pressure = report.runs[0].cases[0].values["dynamic pressure"].value
    assert pressure == pytest.approx(0.5 * 1.225 * 33**2, rel=1e-6)


WEAK = ('stall_torque = "1.6 kg·cm"', 'stall_torque = "0.02 kg·cm"')
FAST = entry('dive_angle = "70 deg"\ndrop = "60 m"', "300 m")


def test_a_stronger_servo_never_raises_the_height_lost(tmp_path):
    lost = []
    for torque in (0.1, 0.2, 0.4, 1.6):
        change = (WEAK[0], f'stall_torque = "{torque} kg·cm"')
        found = values(checked(tmp_path, change, *FAST))
        lost.append(found["height lost"] or math.inf)
        assert (
            not found["height lost"]
            or found["height lost"] >= found["height lost, servo without limit"] - 1e-6
        )
    assert np.all(np.diff(lost) <= 1e-6)
    assert lost[0] > lost[-1] + 5


def test_more_drag_never_raises_the_terminal_speed(tmp_path):
    speeds = [
        values(checked(tmp_path, (DRAG, f"[airframe.drag]\nzero_lift = {drag}\n\n"), *FAST))[
            "terminal speed"
        ]
        for drag in (0.015, 0.02, 0.05)
    ]
    assert speeds == sorted(speeds, reverse=True)


LOW = entry('dive_angle = "70 deg"\ndrop = "60 m"', "110 m")


def test_no_recovery_is_short_with_its_reason(tmp_path):
    report = checked(tmp_path, WEAK, *LOW)
    (case,) = report.aircraft_cases
    assert report.verdict == "short"
    assert not case.passes
    assert case.values["recovers"].value is None
    assert "servo" in case.values["recovers"].reason
    assert any("does not recover from 110 m" in note for note in case.notes)
    shown = " ".join(report_text(report).split())
    assert "1 dive has no recovery" in shown
    assert "does not recover from 110 m" in shown


def test_a_dead_elevator_servo_does_not_pull_out(tmp_path):
    dead = ('kind = "dive"', 'kind = "dive"\nruns = [{ run = "elevator", dead_servos = 1 }]')
    report = checked(
        tmp_path, dead, ('trim_deflection = "-1 deg"', 'trim_deflection = "-6 deg"'), *FAST
    )
    assert report.verdict == "short"
    assert values(report)["recovers"] is None


def test_without_an_elevator_the_report_says_that_no_servo_was_looked_at(tmp_path):
    report = checked(tmp_path, (ELEVATOR, ""))
    assert any("not checked" in note for note in report.aircraft_cases[0].notes)


def test_mach_beyond_03_is_told(tmp_path):
    fast = entry('dive_angle = "90 deg"\ndrop = "1500 m"', "4 km")
    report = checked(tmp_path, constant(0.004), *fast)
    found = values(report)
    assert 0.3 < found["greatest Mach number"] < 0.7
    assert any("above Mach 0.3" in note for note in report.aircraft_cases[0].notes)
    slow = checked(tmp_path)
    assert not any("Mach" in note for note in slow.aircraft_cases[0].notes)


SECOND = ("[[runs]]", '[[cases]]\nname = "dash"\nkind = "dive"\nspeed = "30 m/s"\n\n[[runs]]')


def test_a_dive_solver_that_fails_is_no_pass_and_takes_nothing_down(tmp_path, monkeypatch):
    def broken(kind, name):
        raise SolverError(f"{kind} solver {name!r} is broken", name)

    monkeypatch.setattr(
        solvers,
        "load",
        lambda kind, name: broken(kind, name) if kind == "dive" else LOAD(kind, name),
    )
    report = checked(tmp_path, SECOND)
    assert report.verdict == "short"
    assert [case.name for case in report.aircraft_cases] == [CASE, "dash"]
    assert "is broken" in report.aircraft_cases[0].values["dive speed"].reason
    assert [case.name for case in report.runs[0].cases] == ["dash"]
    assert "its dive is not followed" in report_text(report)
    with pytest.raises(linkcalc.InputFaults, match="is broken"):
        checked(tmp_path)


LOAD = solvers.load


@pytest.mark.parametrize(
    "state",
    [
        '"folded"',
        '"stopped"',
        '"windmilling"\npitch = "150 mm"',
        '"idling"\npitch = "150 mm"\nrate = "900 rpm"',
    ],
)
def test_a_propeller_brakes_the_dive_unless_it_is_folded(state, tmp_path):
    table = f'[airframe.propeller]\nstate = {state}\ndiameter = "280 mm"\n\n[airframe.drag]'
    found = values(checked(tmp_path, ("[airframe.drag]", table), *FAST))["terminal speed"]
    without = values(checked(tmp_path, *FAST))["terminal speed"]
    assert found == without if "folded" in state else found < without


def test_a_file_without_a_dive_imports_nothing_of_dives():
    code = (
        "import sys\nfrom linkcalc.cli import main\nmain(['check', 'examples/sandpiper.toml'])\n"
        "assert not [n for n in sys.modules if n.startswith(('linkcalc.diving', 'linkcalc_dive', 'linkcalc.physics.drag', 'linkcalc.evaluation.reach'))]"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_dive_faster_than_the_speed_that_is_given_is_told(tmp_path):
    slow = checked(tmp_path, ('kind = "dive"', 'kind = "dive"\nspeed = "10 m/s"'))
    fast = checked(tmp_path, ('kind = "dive"', 'kind = "dive"\nspeed = "40 m/s"'))
    told = [
        any("do not cover it" in note for note in r.aircraft_cases[0].notes) for r in (slow, fast)
    ]
    assert told == [True, False]


def test_remedies_and_wires_take_the_speeds_of_the_dives(tmp_path):
    path = written(tmp_path, ('stall_torque = "1.6 kg·cm"', 'stall_torque = "0.3 kg·cm"'), *FAST)
    assert remedies(path).shortfalls
    lead = ("[airframe]", '[leads.tail]\ngauge = "26 AWG"\nlength = "0.5 m"\n\n[airframe]')
    on_lead = ('servo = "tail"', 'servo = "tail"\nlead = "tail"')
    assert choose_wires(linkcalc.read_aircraft(written(tmp_path, lead, on_lead))).passes


def test_a_sweep_holds_the_speed_of_the_dive_as_described(tmp_path):
    path = written(tmp_path, *FAST)
    swept = sweep(path, {"supply.voltage": ["5 V", "6 V"]})
    one = linkcalc.check(path).runs[0].cases[0].margin("torque").margin
    assert float(swept.margin.sel(mode="torque")[1, 0, 0]) == pytest.approx(one, rel=1e-6)


@pytest.mark.parametrize("changes", [(), (WEAK, *LOW), ((ELEVATOR, ""),)])
def test_the_json_document_of_a_dive_keeps_its_schema(changes, tmp_path):
    made = json.loads(dumped(document(checked(tmp_path, *changes))))
    jsonschema.Draft202012Validator(document_schema("report")).validate(made)
    (case,) = made["aircraft_cases"]
    assert case["passes"] is (case["values"]["recovers"]["value"] == 1)
    assert made["cautions"][0]["subject"] == "not a flutter analysis"
    for name in (
        "terminal speed",
        "dive speed",
        "peak dynamic pressure",
        "least height to recover",
    ):
        value = case["values"][name]
        assert (value["value"] is None) == bool(value["reason"])


def test_heights_are_shown_in_metres_or_feet(tmp_path):
    report = checked(tmp_path)
    lowest = values(report)["lowest height"]
    for measures, words in ((METRIC, f"{lowest:.4g}"), (imperial(), f"{lowest / 0.3048:.4g}")):
        (line,) = (
            row
            for row in report_text(report, measures=measures).splitlines()
            if "lowest height" in row
        )
        assert line.split()[-1] == words


def test_a_dive_without_a_terminal_speed_to_start_from_is_refused_with_what_to_do(tmp_path):
    shallow = 'preset = "missed pull-out"\ndive_angle = "2 deg"'
    with pytest.raises(linkcalc.InputFaults, match="no terminal speed") as caught:
        checked(tmp_path, *entry(shallow))
    assert "start_speed" in caught.value.faults[0].remedy


def test_a_dive_beyond_its_polar_is_short_and_says_how_far_it_goes(tmp_path):
    polar = (
        "[airframe.drag]\npolar = [{ lift = -0.2, drag = 0.02 }, { lift = 0.6, drag = 0.04 }]\n\n"
    )
    report = checked(tmp_path, (DRAG, polar))
    assert report.verdict == "short"
    assert any("polar" in note for note in report.aircraft_cases[0].notes)
    assert any("as far as the dive goes" in note for note in report.aircraft_cases[0].notes)
