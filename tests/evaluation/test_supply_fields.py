"""Batteries, metals, return conductors and regulators of a file, by hand on one servo."""

import math

import pytest

import linkcalc
from linkcalc.errors import InputFaults

FILE = """
format = "linkcalc.aircraft/1"
name = "volts"
receiver = {{ current = "0 A" }}
[supply]
{supply}
current_limit = "none"
[servos.s]
rows = [{{ voltage = "6 V", stall_torque = "500 mNm", no_load_speed = "8 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }}]
maximum_voltage = "9 V"
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
WIRE = 'gauge = "1 mm^2"\nlength = "5 m"\ncopper_temperature = "20 degC"\nstrand_factor = 1.0\n'
# 1 mm^2 of copper at 20 degC: 17.241 mohm in a metre, ten metres out and back.
LOOP = 0.17241


@pytest.fixture
def report(tmp_path):
    def of(supply='voltage = "6 V"\ninternal_resistance = "0 ohm"', lead=WIRE):
        path = tmp_path / "volts.toml"
        path.write_text(FILE.format(supply=supply, lead=lead), encoding="utf-8")
        return linkcalc.check(path)

    return of


def at_limit(made):
    return made.runs[0].cases[0].values["voltage at limit"].value


def alone(source, ohms):
    """By hand: a servo at its limit draws 2 A x V / 6 V, so V = V_oc - R V / 3."""
    return source / (1 + ohms / 3)


def test_copper_of_one_square_millimetre(report):
    assert at_limit(report()) == pytest.approx(alone(6.0, LOOP), rel=1e-6)


def test_tinned_copper_and_clad_aluminium_resist_more(report):
    # Tinned 3 % more (IEC 60228, most sizes); clad aluminium 2.743e-8 ohm m (ASTM B566, from memory).
    tinned = at_limit(report(lead=WIRE + 'metal = "tinned copper"'))
    assert tinned == pytest.approx(alone(6.0, 1.03 * LOOP), rel=1e-6)
    made = report(lead=WIRE + 'metal = "copper-clad aluminium"')
    assert at_limit(made) == pytest.approx(alone(6.0, 0.2743), rel=1e-6)
    assert any("copper-clad aluminium" in note for note in made.notes)


def test_a_thicker_return_conductor_counts_on_its_own(report):
    made = report(lead=WIRE + 'return_gauge = "2 mm^2"')
    assert at_limit(made) == pytest.approx(alone(6.0, 0.75 * LOOP), rel=1e-6)


def test_a_battery_gives_its_voltage_by_charge_and_is_over_voltage_when_full(report):
    # Two lithium ion cells at 0.3: 3.61 V each (common practice, no source), 30 mohm each at 25 degC.
    supply = (
        'battery = { chemistry = "lithium ion", cells = 2, charge = 0.3, '
        'cell_resistance = "30 mohm", temperature = "25 degC" }'
    )
    made = report(supply)
    # Above the last row the last row stands: 2 A, and no more.
    assert at_limit(made) == pytest.approx(7.22 - 2.0 * (LOOP + 0.06), rel=1e-6)
    over = made.runs[0].cases[0].margin("over-voltage")
    assert over.required.value == pytest.approx(8.4)
    assert over.margin == pytest.approx(9 / 8.4 - 1, rel=1e-9)


def test_a_regulator_at_the_far_end_holds_its_voltage(report):
    regulator = 'regulator = { kind = "linear", voltage = "5 V", current_limit = "none", output_resistance = "100 mohm", quiescent_current = "0 A", dropout = "0.3 V" }'
    made = report(lead=WIRE + regulator)
    assert at_limit(made) == pytest.approx(alone(5.0, 0.1), rel=1e-6)
    assert made.runs[0].cases[0].margin("over-voltage").required.value == 5.0
    # In dropout the output hangs 0.3 V under the input.
    weak = report('voltage = "5.1 V"\ninternal_resistance = "0 ohm"', WIRE + regulator)
    assert at_limit(weak) < alone(5.0, 0.1)


def test_a_switching_regulator_draws_the_power_and_what_it_loses(report):
    # 5 V stand at its output; at the servo's limit 5 V x 5 V / 3 ohm over 0.9 are drawn before it.
    regulator = 'regulator = { kind = "switching", voltage = "5 V", current_limit = "none", efficiency = 0.9, quiescent_current = "0 A" }'
    made = report('voltage = "8 V"\ninternal_resistance = "0 ohm"', WIRE + regulator)
    assert at_limit(made) == pytest.approx(5.0, rel=1e-9)
    power = 25 / 3 / 0.9
    volts = (8 + math.sqrt(64 - 4 * LOOP * power)) / 2
    current = made.runs[0].cases[0].margin("current")
    assert not current.applies
    drawn = made.aircraft_cases[0].values["source current, all stalled"].value
    assert drawn == pytest.approx(power / volts, rel=1e-6)


def test_what_a_regulator_sheds_is_held_against_its_rating(report):
    regulator = (
        'regulator = { kind = "linear", voltage = "5 V", current_limit = "none", '
        'quiescent_current = "0 A", heat_rating = "3 W" }'
    )
    made = report('voltage = "8 V"\ninternal_resistance = "0 ohm"', WIRE + regulator)
    case = made.runs[0].cases[0]
    heat = case.margin("source heat")
    # By hand: (V_in - 5 V) I at work, V_in what the lead leaves of 8 V.
    current = case.values["current at work"].value
    assert heat.required.value == pytest.approx((8 - LOOP * current - 5) * current, rel=1e-6)
    assert heat.margin == pytest.approx(3 / heat.required.value - 1, rel=1e-9)
    assert not report().runs[0].cases[0].margin("source heat").applies


def test_of_two_regulators_the_one_nearer_to_its_rating_counts(report):
    # All that the servo draws passes both: 8 V to 6 V sheds 2 V x I of a rating of 30 W, 6 V to
    # 5 V no more than 1 V x I, but of 3 W.
    drops = 'current_limit = "none", output_resistance = "0 ohm", dropout = "0 V", quiescent_current = "0 A"'
    first = f'regulator = {{ kind = "linear", voltage = "6 V", {drops}, heat_rating = "30 W" }}'
    second = f'regulator = {{ kind = "linear", voltage = "5 V", {drops}, heat_rating = "3 W" }}'
    short = 'loop_resistance = "0 ohm"\n'
    lead = f'feed = "trunk"\n{short}{second}\n[leads.trunk]\n{short}{first}'
    case = report('voltage = "8 V"\ninternal_resistance = "0 ohm"', lead).runs[0].cases[0]
    heat = case.margin("source heat")
    current = case.values["current at work"].value
    assert heat.available.value == 3.0
    assert heat.required.value == pytest.approx(current, rel=1e-6)


@pytest.mark.parametrize("lead", [WIRE, 'loop_resistance = "0.3 ohm"'])
def test_the_ground_rises_by_half_of_what_the_lead_takes(report, lead):
    made = report(lead=lead)
    volts = at_limit(made)
    rise = made.runs[0].cases[0].values["ground rise"].value
    assert rise == pytest.approx((6 - volts) / 2, rel=1e-6)
    assert not any("3.3 V signal" in note for note in made.runs[0].cases[0].notes)
    thin = report(lead=WIRE.replace("1 mm^2", "0.14 mm^2")).runs[0].cases[0]
    assert thin.values["ground rise"].value > 0.4
    assert any("3.3 V signal" in note for note in thin.notes)


@pytest.mark.parametrize(
    ("supply", "lead", "told"),
    [
        ("", WIRE, "no voltage, no battery"),
        (
            'voltage = "6 V"\nbattery = { chemistry = "lithium ion", cells = 2, cell_resistance = "9 mohm" }',
            WIRE,
            "both a voltage and a battery",
        ),
        ('battery = { chemistry = "lipo", cells = 2, cell_resistance = "9 mohm" }', WIRE, "lipo"),
        ('battery = { chemistry = "lithium ion", cells = 2 }', WIRE, "neither a capacity"),
        ('voltage = "6 V"', WIRE + 'metal = "gold"', "gold"),
    ],
)
def test_what_is_contradictory_or_unknown_is_refused(report, supply, lead, told):
    with pytest.raises(InputFaults, match=told):
        report(supply, lead)
