"""What stands in for what a file leaves out, with a note that says so."""

import math

import pytest

import linkcalc
from tests.test_check import PLAIN_FILE

# Every row: what is left out of the file that states all, and the value that stands in for it.
# All are common practice of the trade, no source.
STATED = (
    PLAIN_FILE.replace(
        'current_limit = "none"', 'current_limit = "none"\ninternal_resistance = "200 mohm"'
    )
    .replace("[servos.s]", '[receiver]\ncurrent = "100 mA"\nminimum_voltage = "3.5 V"\n[servos.s]')
    .replace('stall_current = "2 A"', 'stall_current = "2 A", no_load_current = "0.2 A"')
    .replace(
        "rows =", 'travel = "45 deg"\nminimum_voltage = "4.8 V"\nmaximum_voltage = "6 V"\nrows ='
    )
    .replace('incidence = "0 deg"', 'incidence = "10 deg"\nsideslip = "10 deg"\nfraction = 1.0')
    .replace('kind = "manoeuvre"\n', "")
    .replace("chord_ratio = 0.99", "chord_ratio = 0.4, taper = 1.0, C_h0 = 0.0")
    .replace(
        'servo = "s"\n',
        'servo = "s"\nlead = "l"\nefficiency = 0.9\n',
    )
    .replace(
        "[[cases]]",
        '[leads.l]\ngauge = "26 AWG"\nlength = "1 m"\ncopper_temperature = "40 degC"\n'
        'strand_factor = 1.1\ncontact_resistance = "0 ohm"\n[[cases]]',
    )
)
LEFT_OUT = {
    "no-load current": ', no_load_current = "0.2 A"',
    "servo travel": 'travel = "45 deg"\n',
    "servo minimum voltage": 'minimum_voltage = "4.8 V"\n',
    "servo maximum voltage": 'maximum_voltage = "6 V"\n',
    "receiver current": 'current = "100 mA"\n',
    "receiver minimum voltage": 'minimum_voltage = "3.5 V"\n',
    "chord ratio": "chord_ratio = 0.4, ",
    "linkage efficiency": "efficiency = 0.9\n",
    "copper temperature": 'copper_temperature = "40 degC"\n',
    "strand factor": "strand_factor = 1.1\n",
    "contact resistance": 'contact_resistance = "0 ohm"\n',
}


def checked(words, folder):
    path = folder / "aircraft.toml"
    path.write_text(words, encoding="utf-8")
    return linkcalc.check(path)


def told(report):
    return [*report.notes, *report.runs[0].cases[0].notes]


@pytest.mark.parametrize("name", LEFT_OUT)
def test_what_stands_in_gives_what_the_same_figure_stated_gives(name, tmp_path):
    assert STATED.count(LEFT_OUT[name]) == 1
    stated = checked(STATED, tmp_path)
    silent = checked(STATED.replace(LEFT_OUT[name], ""), tmp_path)
    one, other = silent.runs[0].cases[0], stated.runs[0].cases[0]
    for mode in ("torque", "travel", "voltage", "over-voltage"):
        assert one.margin(mode).margin == pytest.approx(other.margin(mode).margin, rel=1e-12)
    drawn, same = (case.margin("current").required.value for case in (one, other))
    assert drawn == pytest.approx(same, rel=1e-12)
    for value in ("current at work", "voltage at work", "voltage at limit"):
        assert one.values[value].value == pytest.approx(other.values[value].value, rel=1e-12)
    new = set(told(silent)) - set(told(stated))
    assert len(new) == 1
    assert next(iter(new)).startswith(f"{name} not given: ")


@pytest.mark.parametrize(("kind", "degrees"), [("manoeuvre", 10), ("dive", 3), ("sustained", 3)])
def test_incidence_and_sideslip_follow_from_the_kind_of_case(kind, degrees, tmp_path):
    words = PLAIN_FILE.replace('incidence = "0 deg"\n', "").replace('"manoeuvre"', f'"{kind}"')
    known = 'coefficients = { C_h_alpha = "-1 1/rad", C_h_delta = "0 1/rad" }'
    level = words.replace("chord_ratio = 0.99", known)
    fin = words.replace("chord_ratio = 0.99", f'plane = "fin", {known}')
    for described in (level, fin):
        report = checked(described, tmp_path)
        moment = report.runs[0].cases[0].values["hinge moment"].value
        assert moment == pytest.approx(-0.8 * math.radians(degrees), rel=1e-12)
        notes = [note for note in told(report) if f": {degrees} deg for this kind of case" in note]
        assert {note.split()[0] for note in notes} == {"incidence", "sideslip"}


def test_a_rod_is_ten_times_the_longer_radius(tmp_path):
    silent = checked(PLAIN_FILE.replace('pushrod = "200 mm"\n', ""), tmp_path)
    assert silent.runs[0].cases[0].margin("torque").margin == pytest.approx(
        checked(PLAIN_FILE, tmp_path).runs[0].cases[0].margin("torque").margin, rel=1e-12
    )
    assert any(note.startswith("pushrod length not given: 200 mm") for note in told(silent))


def test_a_servo_is_told_to_stall_at_work_only_where_it_does(tmp_path):
    weak = PLAIN_FILE.replace('"300 mNm"', '"50 mNm"')
    for words, stalls in ((PLAIN_FILE, False), (weak, True)):
        report = checked(words, tmp_path)
        case = report.runs[0].cases[0]
        needed = case.margin("torque").required.value
        given = case.values["voltage at work"].value / 6 * (0.05 if stalls else 0.3) / 1.2
        assert (needed >= given) == stalls
        assert any(note.startswith("stalled") for note in told(report)) == stalls


def test_a_stall_current_that_is_not_printed_is_estimated_on_the_safe_side(tmp_path):
    # By hand, T omega = eta V I_s (1 - f)^2 with eta 0.45 and f 0.2 (common practice, no source):
    # 0.3 N m x 8 rad/s / (0.45 x 6 V x 0.64) = 1.389 A; most likely 0.3 x 8 / (0.65 x 6 x 0.81).
    path = tmp_path / "aircraft.toml"
    path.write_text(
        """
format = "linkcalc.aircraft/1"
name = "no stall current"
receiver = { current = "0 A" }
supply = { voltage = "6 V", internal_resistance = "500 mohm", current_limit = "none" }
[servos.s]
rows = [{ voltage = "6 V", stall_torque = "300 mNm", no_load_speed = "8 rad/s" }]
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "15 m/s"
[[runs]]
name = "r"
servo = "s"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = { span = "300 mm", chord = "40 mm", throw = "15 deg" }
""",
        encoding="utf-8",
    )
    case = linkcalc.check(path).runs[0].cases[0]
    current = 0.3 * 8 / (0.45 * 6 * 0.8**2)
    limit = 6 / (1 + 0.5 * current / 6)  # I_s goes with the voltage below the first row
    assert case.values["voltage at limit"].value == pytest.approx(limit, rel=1e-9)
    note = next(note for note in case.notes if note.startswith("stall current not given"))
    likely = 0.3 * 8 / (0.65 * 6 * 0.9**2)
    assert f"{current:.3g} A" in note
    assert f"most likely {likely:.3g} A" in note
