"""What would help a servo that is short of volts, each held to the divider by hand."""

import pytest

import linkcalc
from linkcalc.files import read_aircraft
from linkcalc.study.remedies import remedies

FILE = """
format = "linkcalc.aircraft/1"
name = "invented glider with a servo far out"
receiver = {{ current = "0 A", minimum_voltage = "3 V" }}
[supply]
{supply}
current_limit = "none"
[servos.s]
rows = [{{ voltage = "6 V", stall_torque = "900 mNm", no_load_speed = "8 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }}]
minimum_voltage = "5.5 V"
maximum_voltage = "9 V"
[leads.l]
gauge = "0.25 mm^2"
length = "5 m"
copper_temperature = "20 degC"
strand_factor = 1.0
{end}
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "12 m/s"
[[runs]]
name = "r"
servo = "s"
lead = "l"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
"""
# 0.25 mm^2 of copper at 20 degC: 68.964 mohm in a metre, ten metres out and back.
LOOP = 0.68964
SOURCE = 'voltage = "6 V"\ninternal_resistance = "0 ohm"'
# At its limit the servo draws 2 A x V / 6 V: a resistance of 3 ohm.
SERVO = 3.0


@pytest.fixture
def found(tmp_path):
    def of(supply=SOURCE, end=""):
        path = tmp_path / "volts.toml"
        path.write_text(FILE.format(supply=supply, end=end), encoding="utf-8")
        shortfalls = remedies(read_aircraft(path)).shortfalls
        short = next(item for item in shortfalls if item.place.mode == "voltage")
        return {remedy.kind: remedy for remedy in short.remedies}

    return of


def volts(words):
    return float(words.split(" V")[0])


def test_length_gauge_and_supply_voltage_are_those_of_the_divider(found):
    helps = found()
    # 5.5 V = 6 V / (1 + R / 3 ohm) leaves R = 0.27273 ohm, of 0.68964.
    most = SERVO * (6 / 5.5 - 1)
    assert helps["lead length"].factor == pytest.approx(most / LOOP, rel=0.01)
    # 0.632 mm^2 are the least; the next standard section is 0.75.
    assert 0.5 < 0.25 * LOOP / most < 0.75
    assert helps["wire gauge"].after == "0.75 mm^2"
    source = 5.5 * (1 + LOOP / SERVO)
    assert volts(helps["supply voltage"].after) == pytest.approx(source, rel=0.003)


def test_a_regulator_at_the_far_end_lets_the_source_stand_higher(found):
    remedy = found()["supply voltage with regulators at the far ends"]
    # In dropout by the default of 0.5 V, 5.5 V at its output ask for 6.0 V at the end of the
    # lead, where it takes 5.5 V x 1.8333 A / (0.85 x 6.0 V) and 10 mA for itself.
    taken = 5.5 * (5.5 / SERVO) / (0.85 * 6.0) + 0.01
    assert volts(remedy.after) == pytest.approx(6.0 + LOOP * taken, rel=0.005)
    assert remedy.after.endswith("with a regulator to 6 V at each servo's lead")


def test_no_regulator_is_added_to_a_lead_that_has_one(found):
    low = 'regulator = {{ kind = "linear", voltage = "5.2 V", current_limit = "none" }}'
    helps = found('voltage = "9 V"\ninternal_resistance = "0 ohm"', low.format())
    assert "supply voltage with regulators at the far ends" not in helps
    # Its output has no resistance: what it is set to is what arrives.
    assert volts(helps["voltage of the regulator"].after) == pytest.approx(5.5, abs=0.01)


def test_a_battery_takes_another_cell(found):
    # Lithium iron phosphate at 0.3: 3.27 V a cell or so; two sag under 5.5 V, three do not.
    supply = (
        'battery = { chemistry = "lithium iron phosphate", cells = 2, cell_resistance = "1 mohm", '
        'temperature = "25 degC" }'
    )
    remedy = found(supply)["cells of the battery"]
    assert (remedy.before, remedy.after) == ("2", "3")


def test_the_change_that_is_told_passes_a_check_of_its_own(found, tmp_path):
    remedy = found()["supply voltage with regulators at the far ends"]
    supply = SOURCE.replace("6 V", f"{volts(remedy.after)!r} V")
    end = 'regulator = { kind = "switching", voltage = "6 V", current_limit = "none" }'
    path = tmp_path / "changed.toml"
    path.write_text(FILE.format(supply=supply, end=end), encoding="utf-8")
    margin = linkcalc.check(path).runs[0].cases[0].margin("voltage").margin
    assert margin == pytest.approx(remedy.margin, rel=1e-9, abs=1e-12)
