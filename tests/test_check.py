"""What a check returns: the document other programs rely on, and the rules of the verdict."""

import csv
import json
import math
import pickle
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings

import linkcalc
from linkcalc import solvers
from linkcalc.model.value_classes import fields
from linkcalc.report.document import document, dumped, faults_document
from linkcalc.report.text import CAUTION, text
from tests.evaluation.aircraft import PAIRS
from tests.evaluation.described import aircraft, described
from tests.evaluation.independent import glauert

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "examples/sandpiper.toml"

UNITS = ["Pa", "N*m", "deg", "V", "A", "N", "m/s", "deg/s", "m", "kg", "W", "s", "K", "kg/m^3", "1"]
MODES = [
    "torque",
    "travel",
    "buckling",
    "voltage",
    "over-voltage",
    "current",
    "speed",
    "hold",
    "free play",
]
VALUES = [
    "dynamic pressure", "hinge moment", "governing deflection", "hold torque", "moving torque",
    "voltage at work", "voltage at limit", "torque available", "current at work", "rod force",
    "held deflection up", "held deflection down", "blow-back deflection up",
    "blow-back deflection down", "torque limit speed", "freeze speed", "placard speed",
    "surface rate under load",
]  # fmt: skip
WHOLE = ["placard speed", "manoeuvre placard speed"]

NUMBER_OR_NULL = {"type": ["number", "null"]}
TEXT_OR_NULL = {"type": ["string", "null"]}


def thing(properties, *, more=False):
    """All of these keys, and no other unless `more` may follow."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": more,
    }


def listed(item):
    return {"type": "array", "items": item}


VALUE = thing(
    {
        "value": NUMBER_OR_NULL,
        "unit": {"enum": UNITS},
        "low": NUMBER_OR_NULL,
        "high": NUMBER_OR_NULL,
        "at": TEXT_OR_NULL,
        "reason": TEXT_OR_NULL,
    }
)
MARGIN = thing(
    {
        "mode": {"type": "string"},
        "applies": {"type": "boolean"},
        "margin": NUMBER_OR_NULL,
        "plain": NUMBER_OR_NULL,
        "factor": {"type": "number", "minimum": 1},
        "required": VALUE,
        "available": VALUE,
        "reason": TEXT_OR_NULL,
    }
)
NAMED_VALUES = {"type": "object", "additionalProperties": VALUE}
CASE = thing(
    {
        "name": {"type": "string"},
        "governing": {"type": "string"},
        "margins": listed(MARGIN),
        "values": NAMED_VALUES | {"required": VALUES},
        "notes": listed({"type": "string"}),
    },
    more=True,
)
REPORT = thing(
    {
        "schema": {"const": "linkcalc.report/1"},
        "aircraft": {"type": "string"},
        "verdict": {"enum": ["pass", "short"]},
        "whole": NAMED_VALUES | {"required": WHOLE},
        "runs": listed(thing({"name": {"type": "string"}, "cases": listed(CASE)}, more=True)),
        "aircraft_cases": listed(
            thing({"name": {"type": "string"}, "values": NAMED_VALUES}, more=True)
        ),
    },
    more=True,
)
KINDS = {
    "torque": "N*m", "pressure": "Pa", "voltage": "V", "current": "A", "force": "N",
    "deflection": "deg", "speed": "m/s", "moment": "N*m", "rate": "deg/s",
}  # fmt: skip
FAULTS = thing(
    {
        "schema": {"const": "linkcalc.faults/1"},
        "faults": listed(
            thing({k: {"type": "string"} for k in ("file", "place", "found", "expected", "remedy")})
        )
        | {"minItems": 1},
    }
)


def checked(words, folder):
    path = folder / "aircraft.toml"
    path.write_text(words, encoding="utf-8")
    return linkcalc.check(path)


def cases(tree):
    return [case for run in tree["runs"] for case in run["cases"]]


def assert_contract(report):
    """Hold a report to all that the contract promises; return its document as read back."""
    tree = json.loads(dumped(document(report)), parse_constant=pytest.fail)
    jsonschema.validate(tree, REPORT)
    for case in cases(tree):
        assert_reasons(case)
        assert_governing(case)
        for name in VALUES:
            assert case["values"][name]["unit"] == KINDS[kind_of(name)]
    applying = [m["margin"] for case in cases(tree) for m in case["margins"] if m["applies"]]
    assert tree["verdict"] == (
        "pass" if all(m is not None and m >= 0 for m in applying) else "short"
    )
    return tree


def assert_reasons(case):
    """What has no number has a reason."""
    for margin in case["margins"]:
        assert margin["applies"] or margin["margin"] is None
        assert margin["margin"] is not None or margin["reason"]
    for name, value in case["values"].items():
        assert (value["value"] is None) == (value["reason"] is not None), name


def assert_governing(case):
    """Every mode is listed once; of those that apply one without a margin, or the least, governs."""
    modes = [margin["mode"] for margin in case["margins"]]
    assert len(set(modes)) == len(modes)
    assert set(MODES) <= set(modes)
    known = {m["mode"]: m["margin"] for m in case["margins"] if m["applies"]}
    if None in known.values():
        assert known[case["governing"]] is None
    else:
        assert known[case["governing"]] == min(known.values())


def kind_of(name):
    """Return the word of a value's name that tells its kind: the last one, or the first."""
    words = [word for word in name.split() if word in KINDS]
    return words[-1] if name.endswith(words[-1]) else words[0]


def test_the_example_gives_the_document_that_other_programs_rely_on():
    tree = assert_contract(linkcalc.check(EXAMPLE))
    assert tree["aircraft"] == "Sandpiper survey glider"
    assert len(tree["runs"]) == 6
    assert [case["name"] for case in tree["aircraft_cases"]] == [
        case["name"] for case in tree["runs"][0]["cases"]
    ]


@pytest.mark.parametrize("name", PAIRS)
def test_every_aircraft_keeps_the_contract(name, tmp_path):
    assert_contract(checked(PAIRS[name][0], tmp_path))


@settings(max_examples=6)
@given(made=aircraft(most_runs=3, most_cases=2))
def test_any_valid_aircraft_gives_a_report_and_a_verdict_by_the_rule(made, tmp_path_factory):
    report = checked(described(made), tmp_path_factory.mktemp("any"))
    assert_contract(report)
    told = text(report)
    assert told.startswith(report.verdict.upper())
    assert "nan" not in told.lower().replace("nano", "")


def test_value_is_on_the_verdicts_line_and_low_and_high_hold_it():
    for run in linkcalc.check(EXAMPLE).runs:
        for case in run.cases:
            for name in ("hinge moment", "hold torque", "moving torque"):
                value = case.values[name]
                assert value.low <= value.value <= value.high
                assert value.low < value.high  # thin-aerofoil theory has a band
                assert value.at == f"deflection {case.values['governing deflection'].value:.4g} deg"


def test_lines_are_those_of_thin_aerofoil_theory_at_the_governing_deflection(tmp_path):
    # Incidence 0: C_h_delta of ARC R&M 1095, written once more, and half of it on the low line.
    case = checked(PLAIN_FILE, tmp_path).runs[0].cases[0]
    moment = case.values["hinge moment"]
    high = -glauert(0.99)[1] * math.radians(20) * 0.8
    assert sorted((abs(moment.low), abs(moment.high))) == pytest.approx([high / 2, high], rel=1e-9)
    assert abs(moment.value) == pytest.approx(high, rel=1e-9)


PLAIN_FILE = """
format = "linkcalc.aircraft/1"
name = "one run"
[supply]
voltage = "6 V"
current_limit = "none"
[servos.s]
rows = [{ voltage = "6 V", stall_torque = "300 mNm", no_load_speed = "0.1 s/60deg", stall_current = "2 A" }]
[[cases]]
name = "c"
kind = "manoeuvre"
speed = "40 m/s"
density = "1.25 kg/m^3"
incidence = "0 deg"
[[runs]]
name = "r"
servo = "s"
arm = "10 mm"
horn = "20 mm"
pushrod = "200 mm"
surface = { span = "500 mm", chord = "40 mm", throw = "20 deg", chord_ratio = 0.99 }
"""


# verdict -----------------------------------------------------------------------


def margin_of(report, mode):
    return report.runs[0].cases[0].margin(mode)


def test_no_load_at_any_deflection_is_a_null_margin_with_that_reason(tmp_path):
    nothing = 'coefficients = { C_h_alpha = "0 1/rad", C_h_delta = "0 1/rad" }'
    report = checked(PLAIN_FILE.replace("chord_ratio = 0.99", nothing), tmp_path)
    torque = margin_of(report, "torque")
    assert torque.applies
    assert torque.margin is None
    assert "something is missing" in torque.reason
    assert report.verdict == "short"


def test_a_supply_that_no_voltage_satisfies_is_a_null_margin_and_never_a_pass(tmp_path):
    drained = PLAIN_FILE.replace(
        'current_limit = "none"', 'current_limit = "none"\ninternal_resistance = "10 ohm"'
    ).replace("[servos.s]", '[[loads]]\nname = "camera"\ncurrent = "5 A"\n[servos.s]')
    report = checked(drained, tmp_path)
    for mode in ("torque", "voltage"):
        assert margin_of(report, mode).margin is None
        assert margin_of(report, mode).reason == "no voltage satisfies the supply"
    assert report.verdict == "short"
    assert_contract(report)


def test_a_current_limit_of_none_means_that_current_does_not_apply(tmp_path):
    current = margin_of(checked(PLAIN_FILE, tmp_path), "current")
    assert not current.applies
    assert current.reason == "not given, not checked"
    assert current.required.value > 0


def test_a_range_beyond_all_reach_is_short_in_travel_and_has_no_torque_margin(tmp_path):
    narrow = PLAIN_FILE.replace("rows =", 'travel = "5 deg"\nrows =').replace(
        'incidence = "0 deg"', 'incidence = "0 deg"\ndeflection = ["15 deg", "20 deg"]'
    )
    report = checked(narrow, tmp_path)
    assert margin_of(report, "travel").margin < 0
    assert margin_of(report, "torque").margin is None
    assert margin_of(report, "torque").reason == "no part of the commanded range is reached"


def test_a_voltage_below_the_first_row_can_be_refused(tmp_path):
    sagging = PLAIN_FILE.replace(
        'current_limit = "none"', 'current_limit = "none"\ninternal_resistance = "0.3 ohm"'
    )
    scaled = checked(sagging, tmp_path)
    assert margin_of(scaled, "torque").margin is not None
    assert any("first datasheet row" in note for note in scaled.runs[0].cases[0].notes)
    refused = checked(sagging.replace("rows =", 'below_first_row = "refuse"\nrows ='), tmp_path)
    assert margin_of(refused, "torque").margin is None
    assert margin_of(refused, "voltage").margin is None


def test_an_open_circuit_voltage_over_the_rated_maximum_is_over_voltage(tmp_path):
    over = margin_of(
        checked(PLAIN_FILE.replace('"6 V"\ncurrent', '"7 V"\ncurrent'), tmp_path), "over-voltage"
    )
    assert over.required.value == 7.0
    assert over.margin == pytest.approx(6 / 7 - 1, rel=1e-12)


def test_servos_at_work_dead_ones_and_the_share_of_each_are_told():
    report = linkcalc.check(ROOT / "examples/avocet_vee_tail.toml")
    flap = next(run for run in report.runs if run.name == "flap")  # two servos, one dead in a case

    def numbers(case):
        names = ("servos at work", "dead servos", "share of each servo")
        return [case.values[name].value for name in names]

    *others, approach = flap.cases
    assert "dead" in approach.name
    assert numbers(approach) == [1.0, 1.0, 1.0]
    for case in others:
        assert numbers(case) == [2.0, 0.0, pytest.approx(1.2 / 2)]  # mismatch 1.2 over two
    single = next(run for run in report.runs if run.name != "flap")
    assert numbers(single.cases[0]) == [1.0, 0.0, 1.0]


def test_a_stalled_servo_and_a_latched_supply_are_told():
    notes = [
        note for run in linkcalc.check(EXAMPLE).runs for case in run.cases for note in case.notes
    ]
    assert any(note.startswith("stalled at the working point") for note in notes)


# what a case asks for -------------------------------------------------------------


def governing(report, case=0):
    return report.runs[0].cases[case].values["governing deflection"].value


@pytest.mark.parametrize(
    ("kind", "share"), [("manoeuvre", 1.0), ("dive", 1 / 3), ("sustained", 1 / 5)]
)
def test_a_kind_of_case_asks_for_its_share_of_the_throw(kind, share, tmp_path):
    words = PLAIN_FILE.replace('"manoeuvre"', f'"{kind}"')
    report = checked(words, tmp_path)
    assert margin_of(report, "travel").required.value == pytest.approx(20 * share, rel=1e-12)
    assert abs(governing(report)) == pytest.approx(20 * share, rel=1e-9)


@pytest.mark.parametrize(("speed", "share"), [(30, 1.0), (60, 2 / 3), (80, 4 / 9), (120, 1 / 3)])
def test_a_case_without_kind_asks_for_less_as_it_gets_faster(speed, share, tmp_path):
    words = PLAIN_FILE.replace('kind = "manoeuvre"\n', "").replace("40 m/s", f"{speed} m/s")
    words = words.replace("[supply]", 'manoeuvre_speed = "30 m/s"\ndive_speed = "90 m/s"\n[supply]')
    required = margin_of(checked(words, tmp_path), "travel").required.value
    # Full throw up to 30 m/s, a third from 90 m/s, a straight line between.
    assert required == pytest.approx(20 * share, rel=1e-12)


def test_what_a_case_asks_of_one_run_goes_before_what_it_asks_of_all(tmp_path):
    words = PLAIN_FILE.replace(
        "[[runs]]", '[[cases.runs]]\nrun = "r"\nfraction = 0.25\n[[runs]]'
    ).replace('kind = "manoeuvre"', "fraction = 0.5")
    assert margin_of(checked(words, tmp_path), "travel").required.value == pytest.approx(5.0)


def test_throws_that_ask_for_nothing_on_either_side_are_refused(tmp_path):
    with pytest.raises(linkcalc.InputFaults, match="asks for nothing"):
        checked(PLAIN_FILE.replace('throw = "20 deg"', 'throw = "0 deg"'), tmp_path)


# factors ----------------------------------------------------------------------------


def test_the_torque_factor_is_that_of_the_codes():
    with (Path(__file__).parent / "reference/regulations.csv").open(encoding="utf-8") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    # 14 CFR 23 Appendix A, A23.13(a)(1); 14 CFR 25.395(a)
    row = rows["regulations-10"]
    assert row["quantity"] == "factor on computed hinge moments for the control system"
    assert linkcalc.SafetyFactors().torque == float(row["expected"])
    assert margin_of(linkcalc.check(EXAMPLE), "torque").factor == float(row["expected"])


def test_every_factor_that_was_used_is_told(tmp_path):
    words = PLAIN_FILE.replace("[supply]", "factors = { torque = 1.7, voltage = 1.1 }\n[supply]")
    report = checked(words, tmp_path)
    assert report.factors["torque"] == 1.7
    assert margin_of(report, "torque").factor == 1.7
    assert margin_of(report, "voltage").factor == 1.1
    assert set(report.factors) == {item.name for item in fields(linkcalc.SafetyFactors)}
    words = " ".join(text(report).split())
    assert "1.7 torque" in words
    assert "1.1 voltage" in words
    for name in report.factors:
        assert name.replace("over_voltage", "over-voltage").replace("_", " ") in words


# solvers that fail ----------------------------------------------------------------


class Broken:
    """A hinge-moment solver that raises."""

    name, description, sources, validity = "broken", "raises", ("none",), {}
    fields = {"deflection": "rad"}  # noqa: RUF012 - as a stranger might write it

    def __call__(self, *_):
        raise ZeroDivisionError("oops")


@pytest.mark.parametrize("kind", ["hinge moment", "supply"])
def test_a_failing_solver_takes_only_its_own_margins_down(kind, monkeypatch, tmp_path):
    real = solvers.load
    failing = {"hinge moment": "plate", "supply": "tree"}[kind]
    Broken.name = failing

    def load(asked, name):
        return Broken() if name == failing else real(asked, name)

    if kind == "supply":
        monkeypatch.setattr(Broken, "fields", {"load": "A"})
    monkeypatch.setattr(solvers, "load", load)
    second = PLAIN_FILE[PLAIN_FILE.index("[[runs]]") :].replace('"r"', '"plate"')
    second = second.replace("chord_ratio = 0.99", 'solver = "plate"')
    report = checked(PLAIN_FILE + second, tmp_path)
    lost = report.runs[1].cases[0].margin("torque")
    assert lost.margin is None
    assert failing in lost.reason
    assert report.verdict == "short"
    unknown = report.runs[1].cases[0]
    assert not any("stalled at the working point" in note for note in unknown.notes)
    assert failing in unknown.values["placard speed"].reason
    kept = report.runs[0].cases[0].margin("torque").margin
    assert (kept is None) == (kind == "supply")
    assert_contract(report)


def test_a_run_that_cannot_be_computed_counts_as_stalled_for_the_others(monkeypatch, tmp_path):
    second = PLAIN_FILE[PLAIN_FILE.index("[[runs]]") :].replace('"r"', '"other"')
    second = second.replace("chord_ratio = 0.99", 'solver = "plate"')
    sagging = PLAIN_FILE.replace(
        'current_limit = "none"', 'current_limit = "none"\ninternal_resistance = "0.3 ohm"'
    )
    whole = checked(sagging + second, tmp_path)
    real = solvers.load
    Broken.name = "plate"
    monkeypatch.setattr(
        solvers, "load", lambda kind, name: Broken() if name == "plate" else real(kind, name)
    )
    lost = checked(sagging + second, tmp_path)
    volts = [report.runs[0].cases[0].values["voltage at limit"].value for report in (whole, lost)]
    # Both stalled: 6 V = V + 0.3 (0.1 + 2 x 2 V / 6)
    assert volts[1] == pytest.approx((6 - 0.03) / 1.2, rel=1e-9)
    assert volts[1] < volts[0]


# other doors -------------------------------------------------------------------------


def test_a_report_survives_pickling():
    report = linkcalc.check(EXAMPLE)
    assert pickle.loads(pickle.dumps(report)) == report  # noqa: S301 - our own


def test_values_are_handed_out_as_quantities_of_the_application_registry():
    import pint  # noqa: PLC0415 - only this test needs it

    value = linkcalc.check(EXAMPLE).runs[0].cases[0].values["torque available"]
    quantity = value.quantity
    assert isinstance(quantity, pint.get_application_registry().Quantity)
    assert quantity.m_as("N*m") == value.value


def test_an_aircraft_built_in_code_gives_what_its_file_gives(tmp_path):
    from_file = checked(PLAIN_FILE, tmp_path)
    row = linkcalc.DatasheetRow(
        voltage="6 V", stall_torque="300 mNm", no_load_speed="0.1 s/60deg", stall_current="2 A"
    )
    surface = linkcalc.ControlSurface(
        span="500 mm", chord="40 mm", throw="20 deg", chord_ratio=0.99
    )
    linkage = linkcalc.Linkage(
        surface=surface,
        arm=linkcalc.ServoArm(radius="10 mm"),
        horn=linkcalc.ControlHorn(radius="20 mm"),
        pushrod=linkcalc.Pushrod(length="200 mm"),
    )
    made = linkcalc.Aircraft(
        name="one run",
        supply=linkcalc.Supply(voltage="6 V", current_limit="none"),
        cases=[
            linkcalc.FlightCase(
                name="c", kind="manoeuvre", speed="40 m/s", density="1.25 kg/m^3", incidence="0 deg"
            )
        ],
        runs=[
            linkcalc.ControlRun(
                name="r", servo=linkcalc.Servo(name="s", rows=[row]), linkages=[linkage]
            )
        ],
    )
    assert linkcalc.check(made) == from_file


def test_faults_that_a_check_finds_after_reading_name_the_file(tmp_path):
    # No linkage closes with this rod: found when the aircraft is turned into arrays.
    space = PLAIN_FILE.replace(
        'arm = "10 mm"\nhorn = "20 mm"\npushrod = "200 mm"',
        'arm = { pivot = ["0 m", "0 m", "0 m"], axis = [0, 1, 0], vector = ["0 m", "0 m", "10 mm"] }\n'
        'horn = { pivot = ["0.2 m", "0 m", "0 m"], axis = [0, 1, 0], vector = ["0 m", "0 m", "20 mm"] }\n'
        'pushrod = "1 m"',
    )
    with pytest.raises(linkcalc.InputFaults, match="too long to close") as caught:
        checked(space, tmp_path)
    fault = caught.value.faults[0]
    assert fault.place == "runs['r']"
    assert fault.file == str(tmp_path / "aircraft.toml")
    jsonschema.validate(faults_document(caught.value), FAULTS)


def test_the_text_ends_with_the_standing_caution_and_fits_eighty_columns():
    told = text(linkcalc.check(EXAMPLE))
    assert " ".join(told.split()).endswith(CAUTION)
    for word in (
        "not for anything that carries a person",
        "bench proof load",
        "moving parts",
        "local rules",
    ):
        assert word in CAUTION
    assert max(map(len, told.splitlines())) <= 80


def test_the_margin_is_told_on_all_three_lines_and_may_stand_on_the_best(tmp_path):
    text = (ROOT / "examples" / "sandpiper_rewired.toml").read_text(encoding="utf-8")
    high = linkcalc.check(ROOT / "examples" / "sandpiper_rewired.toml").runs[0].cases[0]
    path = tmp_path / "best.toml"
    path.write_text('verdict_line = "best"\n' + text, encoding="utf-8")
    report = linkcalc.check(path)
    best = report.runs[0].cases[0]
    # By hand from the report's own torques: available / (moving torque x 1.25) - 1.
    needed, lines = high.values["moving torque"], high.values["torque margin"]
    available = high.values["torque available"].value
    assert lines.low == pytest.approx(available / (needed.high * 1.25) - 1, rel=1e-9)
    assert lines.high == pytest.approx(available / (needed.low * 1.25) - 1, rel=1e-9)
    assert lines.value == high.margin("torque").margin == lines.low
    assert lines.low < high.values["torque margin, best air load"].value < lines.high
    # On the best line less is asked of every servo, so each has the more.
    assert best.margin("torque").margin >= high.values["torque margin, best air load"].value
    assert best.margin("torque").required.value < high.margin("torque").required.value
    assert best.margin("torque").factor == 1.25
    assert best.margin("torque").plain == pytest.approx(high.margin("torque").plain, rel=1e-9)
    assert any("best line" in note for note in report.notes)
    speeds = [case.values["torque limit speed"].value for case in (high, best)]
    assert speeds[0] < speeds[1]
