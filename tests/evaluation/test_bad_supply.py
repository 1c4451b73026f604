"""What cannot be meant on the electrical side: told from a file, all at once, each with its place."""

import pytest

import linkcalc
from linkcalc.errors import InputFaults
from linkcalc.files import read_aircraft
from tests.evaluation.test_supply_fields import FILE, WIRE

ROW = '{{ voltage = "{} V", stall_torque = "{} mNm", no_load_speed = "{} rad/s", stall_current = "{} A", no_load_current = "{} A" }}'


def rows(*each):
    return f"rows = [{', '.join(ROW.format(*row) for row in each)}]"


EVERYTHING = f"""
format = "linkcalc.aircraft/1"
name = "invented, and wrong in every way"
[supply]
voltage = "6 V"
internal_resistance = "-0.1 ohm"
current_limit = "none"
battery = {{ chemistry = "coal", cells = 2, cell_resistance = "9 mohm" }}
[servos.order]
{rows((7.4, 500, 8, 2, 0.2), (6.0, 400, 7, 2, 0.2))}
[servos.twice]
{rows((6.0, 500, 8, 2, 0.2), (6.0, 500, 8, 2, 0.2))}
[servos.falling]
{rows((6.0, 500, 8, 2, 0.2), (7.4, 400, 7, 2, 0.2))}
[servos.idle]
{rows((6.0, 500, 8, 2, 3))}
[leads.a]
feed = "b"
gauge = "99 AWG"
length = "1 m"
[leads.b]
feed = "a"
loop_resistance = "-1 ohm"
[leads.c]
gauge = "26 AWG"
length = "-1 m"
contacts = -2
[leads.d]
gauge = "26 AWG"
length = "1 m"
metal = "tin"
regulator = {{ kind = "magic", voltage = "5 V", current_limit = "none", dropout = "-1 V" }}
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "20 m/s"
[[runs]]
name = "r"
servo = "order"
lead = "a"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
"""
PLACES = {
    "supply.internal_resistance": "zero or more",
    "supply.battery.chemistry": "lithium polymer",
    "servos.order.rows[1].voltage": "more than the row before it",
    "servos.twice.rows[1].voltage": "more than the row before it",
    "servos.falling.rows[1].stall_torque": "no less than in the row before it",
    "servos.falling.rows[1].no_load_speed": "no less than in the row before it",
    "servos.idle.rows[0].no_load_current": "less than the stall current",
    "leads.a.gauge": "AWG",
    "leads.b.loop_resistance": "zero or more",
    "leads.c.length": "more than zero",
    "leads.c.contacts": "",
    "leads.d.metal": "tinned copper",
    "leads.d.regulator.kind": "switching",
    "leads.d.regulator.dropout": "zero or more",
}


def test_every_fault_of_a_file_is_told_at_once(tmp_path):
    path = tmp_path / "wrong.toml"
    path.write_text(EVERYTHING, encoding="utf-8")
    with pytest.raises(InputFaults) as error:
        read_aircraft(path)
    faults = {fault.place: fault for fault in error.value.faults}
    assert PLACES.keys() <= faults.keys()
    for place, words in PLACES.items():
        assert words in faults[place].expected, place
        assert faults[place].found, place
        assert faults[place].remedy, place
    # One of the two that feed each other is told of; either way round breaks the loop.
    assert any(fault.remedy.startswith("Break the loop") for fault in faults.values())


@pytest.fixture
def check(tmp_path):
    def of(supply, lead=WIRE, servo='below_first_row = "refuse"', volts="6 V"):
        path = tmp_path / "low.toml"
        text = FILE.format(supply=supply, lead=lead)
        text = text.replace("[servos.s]", f"[servos.s]\n{servo}").replace(
            '{ voltage = "6 V"', f'{{ voltage = "{volts}"'
        )
        path.write_text(text, encoding="utf-8")
        return linkcalc.check(path)

    return of


NONE = '\ninternal_resistance = "0 ohm"'


def test_a_supply_below_the_first_row_is_refused_where_the_servo_refuses_to_be_scaled(check):
    with pytest.raises(InputFaults, match=r"5\.5 V without load, and a first row at 6 V"):
        check('voltage = "5.5 V"' + NONE)
    assert check('voltage = "5.5 V"' + NONE, servo="").runs
    regulator = 'regulator = { kind = "linear", voltage = "5 V", current_limit = "none" }'
    with pytest.raises(InputFaults, match="5 V without load"):
        check('voltage = "8 V"' + NONE, WIRE + regulator)
    # Two lithium ion cells at 0.3 have 7.22 V (common practice, no source).
    cells = 'battery = { chemistry = "lithium ion", cells = 2, cell_resistance = "9 mohm" }'
    with pytest.raises(InputFaults, match=r"7\.22 V without load"):
        check(cells, volts="7.4 V")
    assert check(cells, volts="7.2 V").runs


def test_what_sags_below_a_row_that_may_not_be_scaled_is_no_pass_and_says_why(check):
    margin = check('voltage = "6 V"' + NONE).runs[0].cases[0].margin("torque")
    assert margin.margin is None
    assert "refuses to scale" in margin.reason


def test_two_sources_are_refused(check):
    with pytest.raises(InputFaults, match="both a voltage and a battery"):
        check(
            'voltage = "6 V"\nbattery = { chemistry = "lithium ion", cells = 2, cell_resistance = "9 mohm" }'
        )


def test_gear_strength_optimism_and_heat_are_reached_from_a_file(check):
    # By hand: gear margin = strength / (torque held x 1.5) - 1; the printed 500 mNm over 1.2; from
    # cold tau ln(r^2 / (r^2 - 1)) with r the torque held over a third of the stall torque.
    made = check(
        'voltage = "6 V"' + NONE,
        servo='gear_strength = "800 mNm"\ntime_constant = "90 s"',
    )
    case = made.runs[0].cases[0]
    held = case.margin("gear").required.value
    assert case.margin("gear").margin == pytest.approx(0.8 / (1.5 * held) - 1, rel=1e-9)
    volts = case.values["voltage at limit"].value
    assert case.margin("torque").available.value == pytest.approx(0.5 / 1.2 * volts / 6, rel=1e-9)
    assert case.values["hold time"].reason == "a brief case"
