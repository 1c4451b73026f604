import json
import math
import re
import subprocess
import sys

import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.errors import InputError, InputFaults, SolverError
from linkcalc.report.document import dumped
from linkcalc.report.tolerance_text import tolerance_document, tolerance_text
from linkcalc.results import MODES
from linkcalc.study import samples
from linkcalc.study.samples import ANY, OneByOne, Together
from linkcalc.study.tolerance import margin_swings, tolerance
from linkcalc.study.uncertain import DEFAULT_TOLERANCES, UncertainAircraft
from linkcalc.tolerances.distributions import Normal, Truncated, Uniform
from linkcalc.tolerances.points import Points
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil

# An invented glider with two ailerons alike, each on a lead of its own.
FILE = """
format = "linkcalc.aircraft/1"
name = "Plover"
supply = {{ voltage = "{voltage}", internal_resistance = "40 mohm", current_limit = "10 A" }}
{more}
[servos.wing]
rows = [
    {{ voltage = "4.8 V", stall_torque = "{low}", no_load_speed = "0.15 s/60deg", stall_current = "1.1 A" }},
    {{ voltage = "6.0 V", stall_torque = "{high}", no_load_speed = "0.12 s/60deg", stall_current = "1.4 A" }},
]
maximum_voltage = "6.6 V"

[leads.wing]
gauge = "24 AWG"
length = "{length}"

[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "{speed}"

"""
RUN = """
[[runs]]
name = "{name}"
servo = "wing"
lead = "wing"
arm = "{arm}"
horn = "14 mm"
pushrod = "110 mm"
surface = {{ span = "400 mm", chord = "40 mm", chord_ratio = 0.24, throw = "18 deg" }}
"""
PLAIN = {
    "voltage": "6.0 V", "more": "", "low": "2.6 kg·cm", "high": "3.2 kg·cm", "length": "0.9 m",
    "speed": "25 m/s", "arm": "10 mm",
}  # fmt: skip


def plover(tmp_path, runs=("port", "starboard"), **new):
    chosen = PLAIN | new
    path = tmp_path / "plover.toml"
    words = FILE.format(**chosen) + "".join(RUN.format(name=run, **chosen) for run in runs)
    path.write_text(words, encoding="utf-8")
    return linkcalc.read_aircraft(path)


def margins(aircraft):
    report = linkcalc.check(aircraft)
    return {
        f"{run.name} / {case.name} / {margin.mode}": margin.margin
        for run in report.runs
        for case in run.cases
        for margin in case.margins
        if margin.applies
    }


# found ---------------------------------------------------------------------------------------


def test_only_what_states_a_tolerance_varies_when_defaults_are_off(tmp_path):
    aircraft = plover(tmp_path, arm="10 mm ± 0.3 mm", length="0.9 m ± 5 %")
    found = UncertainAircraft(aircraft, defaults=False)
    places = [one.place for one in found.quantities]
    assert places == [
        "leads.wing.length",
        "runs['port'].arm.radius",
        "runs['starboard'].arm.radius",
    ]
    assert {one.source for one in found.quantities} == {"stated"}
    assert found.notes == ()
    arm = found.quantities[1].distribution
    assert isinstance(arm, Uniform)
    assert (arm.middle, arm.half_width) == pytest.approx((0.010, 0.0003))
    off = plover(tmp_path, arm="10 mm ± 0.3 mm", more='[tolerances]\ndefaults = "off"\n')
    assert len(UncertainAircraft(off).quantities) == 2


def test_default_tolerances_stand_in_are_told_and_never_exceed_half(tmp_path):
    found = UncertainAircraft(plover(tmp_path, arm="0.4 mm"))
    by_place = {one.place: one for one in found.quantities}
    assert by_place["runs['port'].arm.radius"].distribution.half_width == pytest.approx(0.0002)
    assert "0.25 mm (common practice, no source)" in by_place["runs['port'].arm.radius"].source
    assert by_place["cases['turn'].speed"].distribution.half_width == pytest.approx(25 * 0.05)
    torque = by_place["runs['port'].servo.rows[*].stall_torque"]
    assert [held.tolerance / held.si for held in torque.stated] == pytest.approx([0.1, 0.1])
    assert any(
        "rows.stall_torque, rows.no_load_speed not stated: ± 10 %" in note for note in found.notes
    )


def test_defaults_name_fields_that_there_are():
    for (cls, name), words in DEFAULT_TOLERANCES.items():
        module = getattr(linkcalc, cls)
        spec = getattr(module, name).spec
        assert spec.form == "quantity"
        assert re.fullmatch(r"[\d.]+ (%|mm|deg)", words)


def test_shapes_are_those_that_are_named_and_normal_tails_end_at_zero(tmp_path):
    aircraft = plover(
        tmp_path, speed="25 m/s ± 2 m/s (normal, 2 s)", arm="10 mm ± 4 mm (normal, 1 s)"
    )
    found = UncertainAircraft(aircraft, defaults=False)
    speed, arm = (one.distribution for one in found.quantities[:2])
    assert isinstance(speed, Normal)  # zero is 25 standard deviations off
    assert isinstance(arm, Truncated)
    assert arm.left_out == pytest.approx(0.0062097, rel=1e-4)  # normal table, 2.5 deviations
    assert any("cut off at zero, which leaves out 0.0062" in note for note in found.notes)
    values = found.inputs.values(np.full((3, 1), -7.0))
    assert all(value > 0 for value in values["runs['port'].arm.radius"])


def test_groups_join_what_their_pattern_matches(tmp_path):
    more = '[[tolerances.groups]]\nname = "batch"\nplaces = "runs[*].servo.rows[*].stall_torque"\n'
    aircraft = plover(tmp_path, low="2.6 kg·cm ± 5 %", high="3.2 kg·cm ± 5 %", more=more)
    found = UncertainAircraft(aircraft, defaults=False)
    assert found.inputs.correlation.tolist() == [[1, 1], [1, 1]]
    assert UncertainAircraft(plover(tmp_path)).inputs.correlation.sum() == len(
        UncertainAircraft(plover(tmp_path)).inputs
    )


@pytest.mark.parametrize(
    ("more", "place"),
    [
        ('[[tolerances.groups]]\nname = "none"\nplaces = "wings[*]"\n', "tolerances.groups['none']"),
        (('[[tolerances.groups]]\nname = "a"\nplaces = "*arm.radius"\ncorrelation = 0.5\n'
         '[[tolerances.groups]]\nname = "b"\nplaces = "runs[*].arm*"\ncorrelation = 0.4\n'), "groups['b']"),
        ('[[tolerances.groups]]\nname = "all"\nplaces = "*"\ncorrelation = -0.9\n', "tolerances"),
    ],
)  # fmt: skip
def test_groups_that_make_no_sense_are_faults_of_the_file(tmp_path, more, place):
    aircraft = plover(tmp_path, more=more)
    with pytest.raises(InputFaults) as caught:
        UncertainAircraft(aircraft)
    assert place in caught.value.faults[0].place


def test_nothing_uncertain_is_a_fault(tmp_path):
    with pytest.raises(InputFaults, match="no uncertain input"):
        tolerance(plover(tmp_path), defaults=False)


# put back ------------------------------------------------------------------------------------


def test_a_sample_is_the_check_of_an_aircraft_described_with_its_values(tmp_path):
    stated = {
        "voltage": "6.0 V ± 0.2 V", "low": "2.6 kg·cm ± 10 %", "high": "3.2 kg·cm ± 10 %",
        "length": "0.9 m ± 0.1 m", "speed": "25 m/s ± 2 m/s",
    }  # fmt: skip
    evaluator = OneByOne(UncertainAircraft(plover(tmp_path, **stated), defaults=False))
    values = {
        "supply.voltage": 5.9,
        "cases['turn'].speed": 26.5,
        "leads.wing.length": 0.97,
        "runs['port'].servo.rows[*].stall_torque": 1.05 * 2.6 * 9.80665 / 100,
        "runs['starboard'].servo.rows[*].stall_torque": 1.05 * 2.6 * 9.80665 / 100,
    }
    found = evaluator({name: np.array([value]) for name, value in values.items()})
    described = plover(
        tmp_path,
        voltage="5.9 V",
        low="2.73 kg·cm",
        high="3.36 kg·cm",
        length="0.97 m",
        speed="26.5 m/s",
    )
    expected = margins(described)
    assert set(found) == {*expected, ANY}
    for name, margin in expected.items():
        assert found[name][0] == pytest.approx(margin, rel=1e-9, abs=1e-12)
    assert found[ANY][0] == pytest.approx(min(expected.values()), rel=1e-9)


def test_servos_of_one_kind_differ_from_run_to_run(tmp_path):
    aircraft = plover(tmp_path, high="3.2 kg·cm ± 10 %")
    evaluator = OneByOne(UncertainAircraft(aircraft, defaults=False))
    names = evaluator.uncertain.inputs.names
    found = evaluator({name: np.array([0.3 + 0.02 * k]) for k, name in enumerate(names)})
    assert found["starboard / turn / torque"][0] > found["port / turn / torque"][0] + 0.01


def test_values_that_the_rules_refuse_have_no_margin_and_are_told(tmp_path):
    evaluator = OneByOne(UncertainAircraft(plover(tmp_path, arm="10 mm ± 0.3 mm"), defaults=False))
    names = evaluator.uncertain.inputs.names
    found = evaluator({name: np.array([0.010, -0.001]) for name in names})
    assert np.isnan(found["port / turn / torque"]).tolist() == [False, True]
    assert np.isnan(found[ANY]).tolist() == [False, True]
    (reason,) = evaluator.refused
    assert "radius" in reason


# studied -------------------------------------------------------------------------------------


def test_a_margin_in_closed_form_has_its_chance(tmp_path):
    # over-voltage: 6.6 V are the most; 6.0 V ± 0.8 V exceed them in 0.2 of 1.6 V, 1 in 8
    aircraft = plover(tmp_path, voltage="6.0 V ± 0.8 V")
    found = tolerance(aircraft, defaults=False, samples=256, precision=0.03)
    one = found.margins["port", "turn", "over-voltage"]
    assert one.chance.low <= 0.125 <= one.chance.high
    assert one.chance.chance == pytest.approx(0.125, abs=0.01)
    # margin = 6.6 / V - 1; quantiles follow those of V
    assert one.quantile(0.05).value == pytest.approx(6.6 / (5.2 + 1.6 * 0.95) - 1, abs=0.01)
    assert one.local.standard_deviation == pytest.approx(6.6 / 36 * 0.8 / math.sqrt(3), rel=1e-6)
    assert one.local.derivative == pytest.approx([-6.6 / 36], rel=1e-7)
    assert found.shares("port", "turn", "over-voltage") == [(("supply.voltage",), 1.0)]


def test_one_batch_makes_it_likelier_that_all_is_well(tmp_path):
    # two servos that are short with a chance p each: any is, with 2p - p^2 or, of one batch, with p
    asked = {"low": "2.6 kg·cm ± 40 %", "high": "3.2 kg·cm ± 40 %", "speed": "36 m/s"}
    batch = '[[tolerances.groups]]\nname = "batch"\nplaces = "*stall_torque"\n'
    settings = {"defaults": False, "samples": 128, "precision": 0.2}
    apart = tolerance(plover(tmp_path, **asked), **settings)
    alike = tolerance(plover(tmp_path, **asked, more=batch), **settings)
    chances = [
        [found.margins[run, "turn", "torque"].chance.chance for run in ("port", "starboard")]
        for found in (apart, alike)
    ]
    assert 0.1 < chances[0][0] < 0.9
    one, other = chances[0]
    assert apart.whole.chance.chance >= one + other - one * other - 0.06
    assert alike.whole.chance.chance < apart.whole.chance.chance
    assert chances[1][0] == chances[1][1]


def test_the_same_seed_gives_the_same_document_and_text_tells_what_matters(tmp_path):
    aircraft = plover(tmp_path, speed="38 m/s ± 5 m/s", runs=("port",))
    settings = {"defaults": False, "samples": 64, "precision": 0.2, "speeds": True}
    found, again = tolerance(aircraft, **settings), tolerance(aircraft, **settings)
    document = tolerance_document(found)
    assert dumped(document) == dumped(tolerance_document(again))
    assert document["schema"] == "linkcalc.tolerance/1"
    assert {one["mode"] for one in document["margins"]} <= set(MODES)
    assert document["placard_speeds"][0]["unit"] == "m/s"
    # the speed that the case is flown at does not change how fast it may be flown
    speed = found.placard_speeds["port", "turn"].values
    assert np.ptp(speed) < 1e-6
    assert 5 < speed[0, 0] < 100
    words = tolerance_text(found)
    assert "CHANCE OF A SHORTFALL" in words
    assert "measure cases['turn'].speed first" in " ".join(words.split())
    assert all(len(line) <= 80 for line in words.splitlines())
    json.loads(dumped(document))


def test_swings_of_a_margin_are_sorted_and_need_one_that_applies(tmp_path):
    aircraft = plover(tmp_path, runs=("port",), speed="25 m/s ± 2 m/s", length="0.9 m ± 1 mm")
    found = margin_swings(aircraft, "port", "turn", "torque", defaults=False)
    assert [one.inputs for one in found] == [("cases['turn'].speed",), ("leads.wing.length",)]
    assert found[0].low > found[0].value > found[0].high
    with pytest.raises(InputError, match="margin"):
        margin_swings(aircraft, "port", "turn", "gear", defaults=False)


def test_command_line(tmp_path):
    plover(tmp_path, runs=("port",), speed="25 m/s ± 2 m/s")
    command = [sys.executable, "-m", "linkcalc.cli", "tolerance", str(tmp_path / "plover.toml")]
    options = ["--samples", "64", "--no-defaults", "--precision", "0.2"]
    made = subprocess.run([*command, *options], capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    assert made.stdout.startswith("CHANCE OF A SHORTFALL 0 %: Plover")
    made = subprocess.run(
        [*command, *options, "--json"], capture_output=True, text=True, check=False
    )
    assert json.loads(made.stdout)["samples"] == 64
    for wrong in (["--samples", "3"], ["--seed", "-1"], ["--precision", "2"]):
        made = subprocess.run([*command, *wrong], capture_output=True, text=True, check=False)
        assert made.returncode == 2
        assert "plover.toml" in made.stderr


@pytest.mark.parametrize("speeds", [False, True])
def test_samples_together_are_what_they_are_one_by_one(speeds):
    uncertain = UncertainAircraft(linkcalc.read_aircraft("examples/sandpiper.toml"))
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 5))
    values["supply.voltage"][3] = -1.0  # refused
    alone, together = OneByOne(uncertain, speeds=speeds), Together(uncertain, speeds=speeds)
    one, other = alone(values), together(values)
    assert one.keys() == other.keys()
    for name, expected in one.items():
        assert other[name] == pytest.approx(expected, rel=1e-9, abs=1e-12, nan_ok=True)
        assert np.isnan(expected).tolist() == [False, False, False, True, False]
    assert alone.refused == together.refused
    assert len(alone.refused) == 1


def test_runs_that_last_longer_than_others_have_the_placard_speed_of_a_check():
    glider = linkcalc.read_aircraft("examples/sandpiper.toml")
    weak = glider.runs[2].servo
    strong = linkcalc.DatasheetRow(
        voltage="6.0 V",
        stall_torque="40 kg·cm",
        no_load_speed="0.1 s/60deg",
        stall_current="1.5 A",
    )
    strong = linkcalc.Servo(name="strong", rows=[strong], minimum_voltage=weak.minimum_voltage)
    runs = [linkcalc.replace(glider.runs[2], servo=strong), *glider.runs[3:]]
    uncertain = UncertainAircraft(linkcalc.replace(glider, runs=runs))
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 2))
    one, other = (kind(uncertain, speeds=True)(values) for kind in (OneByOne, Together))
    assert any(speed[0] > 100 for name, speed in one.items() if name.endswith("placard speed"))
    for name, expected in one.items():
        assert other[name] == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_a_run_that_is_much_stronger_in_a_sample_has_the_placard_speed_of_a_check(tmp_path):
    torques = {"low": "2.6 kg·cm ± 0.2 kg·cm", "high": "3.2 kg·cm ± 0.25 kg·cm"}
    uncertain = UncertainAircraft(plover(tmp_path, **torques), defaults=False)
    middles = zip(uncertain.inputs.names, uncertain.inputs.middles(), strict=True)
    values = {name: np.array([each, each]) for name, each in middles}
    (port,) = (name for name in values if "'port'" in name)
    values[port][1] *= 4
    found = Together(uncertain, speeds=True)(values)
    for place in range(2):
        at = {name: float(each[place]) for name, each in values.items()}
        for run in linkcalc.check(uncertain.at(at)).runs:
            expected = run.cases[0].values["placard speed"].value
            assert found[f"{run.name} / turn / placard speed"][place] == pytest.approx(
                expected, rel=1e-6
            )
    assert (
        found["port / turn / placard speed"][1] > 1.4 * found["starboard / turn / placard speed"][1]
    )


@pytest.mark.parametrize("name", ["sandpiper_rewired", "avocet_vee_tail", "tern_flying_wing"])
def test_what_is_beside_a_sample_changes_no_digit(name, monkeypatch):
    uncertain = UncertainAircraft(linkcalc.read_aircraft(f"examples/{name}.toml"))
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 150))
    answers = []
    for at_once in (128, 150, 37):
        monkeypatch.setattr(samples, "AT_ONCE", at_once)
        answers.append(Together(uncertain)(values))
    few = Together(uncertain)({place: at[140:143] for place, at in values.items()})
    for key, found in answers[0].items():
        assert np.array_equal(found, answers[1][key], equal_nan=True)
        assert np.array_equal(found, answers[2][key], equal_nan=True)
        assert np.array_equal(found[140:143], few[key], equal_nan=True)


def test_what_is_beside_a_sample_changes_no_digit_of_a_placard_speed(monkeypatch):
    uncertain = UncertainAircraft(linkcalc.read_aircraft("examples/sandpiper_rewired.toml"))
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 100))
    answers = []
    for at_once in (100, 64, 33):
        monkeypatch.setattr(samples, "AT_ONCE", at_once)
        answers.append(Together(uncertain, speeds=True)(values))
    for key, found in answers[0].items():
        assert np.array_equal(found, answers[1][key], equal_nan=True)
        assert np.array_equal(found, answers[2][key], equal_nan=True)


class Shaken(ThinAerofoil):
    """Loads that a flow tears at, by some factor, at about 5 m/s (invented)."""

    factor = 0.0

    def __call__(self, fields):
        made = dict(super().__call__(fields))
        shaken = 1 + self.factor * np.exp(-(((fields["dynamic_pressure"] - 17.6) / 6) ** 2))
        lines = ("low", "best", "high", "other_high")
        return made | {name: made[name] * shaken for name in lines}


def test_a_sample_that_falls_short_at_a_slow_speed_alone_is_not_passed_over(tmp_path, monkeypatch):
    # A scan of a check looks at 5.36 m/s, 17.6 Pa. There the loads of the longer arm are made as
    # large as at a speed between the placard speeds of the two: it falls short, the other does not.
    monkeypatch.setattr(solvers, "_loaded", {("hinge moment", "thin_aerofoil"): Shaken()})
    uncertain = UncertainAircraft(plover(tmp_path, arm="10 mm ± 0.4 mm"), defaults=False)
    values = {place: np.array([0.010, 0.0103]) for place in uncertain.inputs.names}

    def checked():
        one_by_one = ({place: float(each[k]) for place, each in values.items()} for k in range(2))
        reports = [linkcalc.check(uncertain.at(one)) for one in one_by_one]
        return [each.runs[0].cases[0].values["placard speed"].value for each in reports]

    fast = checked()
    assert 30 < fast[1] < 0.99 * fast[0]
    monkeypatch.setattr(Shaken, "factor", 1.225 / 2 * np.mean(fast) ** 2 / 17.6 - 1)
    slow = checked()
    assert slow[1] < 5.36 < slow[0]
    found = Together(uncertain, speeds=True)(values)["port / turn / placard speed"]
    assert found == pytest.approx(slow, rel=1e-6)


@pytest.mark.parametrize("evaluator", [OneByOne, Together])
def test_a_sample_has_its_copper_as_warm_as_a_check_finds_it(tmp_path, evaluator):
    warm = ', air_temperature = "30 degC" }}'
    file = FILE.replace('"10 A" }}', '"10 A"' + warm).replace(
        'gauge = "24 AWG"', 'gauge = "30 AWG"\ncopper_temperature = "computed"'
    )
    path = tmp_path / "plover.toml"

    def described(length):
        chosen = PLAIN | {"length": length, "speed": "33 m/s"}
        path.write_text(file.format(**chosen) + RUN.format(name="port", **chosen), "utf-8")
        return linkcalc.read_aircraft(path)

    uncertain = UncertainAircraft(described("0.9 m ± 0.4 m"), defaults=False)
    found = evaluator(uncertain)({"leads.wing.length": np.array([0.6, 1.2])})
    for place, length in enumerate(("0.6 m", "1.2 m")):
        for name, margin in margins(described(length)).items():
            assert found[name][place] == pytest.approx(margin, rel=1e-9, abs=1e-10)
    cold = uncertain.aircraft.runs[0].lead
    cold = linkcalc.replace(cold, copper_temperature="30 degC", length="1.2 m")
    run = linkcalc.replace(uncertain.aircraft.runs[0], lead=cold)
    without = margins(linkcalc.replace(uncertain.aircraft, runs=[run]))
    assert without["port / turn / voltage"] > found["port / turn / voltage"][1] + 1e-3


def test_samples_that_part_ways_are_evaluated_apart(tmp_path):
    # the rod's length stands at ten times the longer radius: which is longer differs
    asked = {"arm": "10 mm ± 1 mm", "speed": "25 m/s ± 2 m/s", "voltage": "6.3 V ± 0.5 V"}
    uncertain = UncertainAircraft(plover(tmp_path, **asked), defaults=False)
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 32))
    values["supply.voltage"][[3, 9]] = -1.0
    found, alone = Together(uncertain), OneByOne(uncertain)
    one, other = found(values), alone(values)
    for key, expected in other.items():
        assert one[key] == pytest.approx(expected, rel=1e-9, abs=1e-12, nan_ok=True)
    assert found.refused == alone.refused
    assert sum(alone.refused.values()) == 2


def test_a_solver_that_fails_for_one_sample_takes_no_other_down(tmp_path, monkeypatch):
    uncertain = UncertainAircraft(plover(tmp_path, speed="25 m/s ± 2 m/s"), defaults=False)
    together, honest = Together(uncertain), samples.look

    def fails(inputs, *rest, **more):
        if (inputs.cases.flight_speed > 26.5).any():
            raise SolverError("the solver 'tree' failed")
        return honest(inputs, *rest, **more)

    monkeypatch.setattr(samples, "look", fails)
    found = together({"cases['turn'].speed": np.array([24.0, 26.9, 25.0])})
    for margin in found.values():
        assert np.isnan(margin).tolist() == [False, True, False]
    assert together.refused == {"the solver 'tree' failed": 1}
