"""Where the volts go: each element by Ohm's law by hand, and all of them by Kirchhoff's."""

import math

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.files import read_aircraft
from linkcalc.study.drops import ELEMENTS, STATES, voltage_drops

FILE = """
format = "linkcalc.aircraft/1"
name = "invented glider with one servo"
receiver = {{ current = "0 A" }}
[supply]
voltage = "6 V"
internal_resistance = "150 mohm"
current_limit = "{limit}"
[servos.s]
rows = [{{ voltage = "6 V", stall_torque = "500 mNm", no_load_speed = "8 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }}]
[leads.l]
{lead}
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "20 m/s"
[[runs]]
name = "r"
servo = "s"
lead = "l"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
"""
# 1 mm^2 of copper at 20 degC: 17.241 mohm in a metre (NBS Handbook 100), 86.205 in five.
WIRE = """
gauge = "1 mm^2"
return_gauge = "0.5 mm^2"
length = "5 m"
copper_temperature = "20 degC"
strand_factor = 1.0
contacts = 3
contact_resistance = "10 mohm"
"""
ONE_WAY = 5 * 0.017241


@pytest.fixture
def path(tmp_path):
    def of(lead=WIRE, limit="none", state="limit"):
        file = tmp_path / "path.toml"
        file.write_text(FILE.format(lead=lead, limit=limit), encoding="utf-8")
        (found,) = voltage_drops(read_aircraft(file), state=state)
        return found

    return of


def by_element(found):
    return {drop.element: drop.voltage for drop in found.drops}


def test_one_servo_on_one_lead_is_a_voltage_divider(path):
    # At its limit the servo is 3 ohm; all else is in series with it.
    ohms = {
        "internal resistance": 0.15,
        "conductor out": ONE_WAY,
        "conductor back": 2 * ONE_WAY,
        "contacts": 2 * 3 * 0.01,
    }
    found = path()
    current = 6 / (3 + sum(ohms.values()))
    assert found.delivered == pytest.approx(3 * current, rel=1e-9)
    assert by_element(found) == pytest.approx(
        {name: ohm * current for name, ohm in ohms.items()}, rel=1e-8
    )


def test_a_measured_lead_is_one_element(path):
    found = path('loop_resistance = "0.6 ohm"')
    current = 6 / 3.75
    assert by_element(found) == pytest.approx(
        {"internal resistance": 0.15 * current, "measured lead": 0.6 * current}, rel=1e-8
    )


def test_what_a_current_limit_takes_is_told_beside_the_internal_resistance(path):
    # One ampere through 3 ohm; what neither source resistance nor lead take is the limit's.
    found = by_element(path(limit="1 A"))
    lead = 3 * ONE_WAY + 0.06
    assert found["internal resistance"] == pytest.approx(0.15, rel=1e-6)
    assert found["current limit"] == pytest.approx(6 - 0.15 - lead - 3.0, rel=1e-6)


def test_a_regulator_takes_the_difference_of_its_sides(path):
    regulator = 'regulator = { kind = "linear", voltage = "4.5 V", current_limit = "none", quiescent_current = "0 A" }'
    found = path(WIRE + regulator)
    # 4.5 V over 3 ohm.
    above = 6 - 1.5 * (0.15 + 3 * ONE_WAY + 0.06)
    assert found.delivered == pytest.approx(4.5, rel=1e-9)
    assert by_element(found)["regulator"] == pytest.approx(above - 4.5, rel=1e-6)


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("name", ["sandpiper", "sandpiper_rewired", "avocet_vee_tail"])
def test_drops_add_up_to_what_does_not_arrive(name, state):
    paths = voltage_drops(read_aircraft(f"examples/{name}.toml"), state=state)
    assert paths
    for path in paths:
        lost = math.fsum(drop.voltage for drop in path.drops)
        assert path.open_circuit - lost == pytest.approx(path.delivered, rel=1e-8)
        assert all(drop.element in ELEMENTS and drop.voltage >= 0 for drop in path.drops)


def test_delivered_is_what_a_check_reports():
    report = linkcalc.check("examples/avocet_vee_tail.toml")
    told = {
        (run.name, case.name): case.values["voltage at limit"].value
        for run in report.runs
        for case in run.cases
    }
    paths = voltage_drops(read_aircraft("examples/avocet_vee_tail.toml"))
    assert {(path.run, path.case): path.delivered for path in paths} == pytest.approx(told)


def test_an_unknown_state_is_refused(path):
    with pytest.raises(InputError, match="work, limit, stalled"):
        path(state="idle")
