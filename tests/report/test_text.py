"""The text of a report: complete, in order, in 80 columns, and safe to print."""

import re
from pathlib import Path

import pytest

import linkcalc
from linkcalc.report import terms
from linkcalc.report.measures import METRIC, as_stated, imperial
from linkcalc.report.text import CAUTION, faults_text, text
from linkcalc.results import MODES, AircraftCase, CaseReport, Margin, Report, RunReport, Value

ROOT = Path(__file__).resolve().parents[2]
UNITS = dict.fromkeys(MODES, "N*m") | {"travel": "deg", "voltage": "V", "over-voltage": "V"}
SPEED = "placard speed"


# reports made by hand ------------------------------------------------------------------


def value(number, unit="N*m", **more):
    return Value(number, unit, **more)


def margin(mode, number, plain=None, *, factor=1.0, reason=None, applies=True):
    """Return a margin whose numbers agree with it: what is available is 1."""
    required = None if number is None else 1 / ((number + 1) * factor)
    unit = UNITS[mode]
    return Margin(
        mode, applies, number if applies else None, plain, factor,
        value(required, unit, reason=reason), value(1.0, unit), reason,
    )  # fmt: skip


def case(name, notes=(), values=None, **changed):
    """Return a case in which all is well but what is changed."""
    made = {mode: margin(mode, 0.5, 0.9) for mode in MODES} | changed
    margins = tuple(made[mode] for mode in MODES)
    known = [item for item in margins if item.applies and item.margin is not None]
    least = min(known, key=lambda item: item.margin)
    values = values or {"moving torque": value(0.4, low=0.1, high=0.4), SPEED: value(30.0, "m/s")}
    return CaseReport(name, least.mode, margins, values, tuple(notes))


def report(*runs, verdict="pass", names=("turn",), whole=None, **more):
    cases = tuple(AircraftCase(name, {"source current at work": value(1.5, "A")}) for name in names)
    factors = {"torque": 1.25, "datasheet": 1.2, "hold_fraction": 1 / 3, "over_voltage": 1.0}
    whole = whole or {SPEED: value(None, "m/s", reason="none up to 238.2 m/s")}
    made = tuple(RunReport(name, cases) for name, cases in runs)
    return Report("Dunlin", verdict, whole, made, cases, factors, more.get("notes", ()))


def flat(words):
    return " ".join(words.split())


def lines_of(words, start):
    return [line for line in words.splitlines() if line.strip().startswith(start)]


def test_verdict_comes_first_and_the_caution_last():
    told = text(report(("rudder", (case("turn"),))))
    assert told.startswith("PASS: Dunlin\n1 control run in 1 flight case: every margin")
    assert flat(told).endswith(CAUTION)
    for words in (
        "not for anything that carries a person",
        "bench proof load",
        "moving parts",
        "local rules",
    ):
        assert words in CAUTION


def test_margins_below_zero_and_lost_ones_are_counted():
    bad = case(
        "turn",
        torque=margin("torque", -0.2, 0.1),
        travel=margin("travel", -0.1, 0.2),
        voltage=margin("voltage", None, reason="no voltage satisfies the supply"),
    )
    told = text(report(("rudder", (bad,)), verdict="short"))
    assert told.startswith("SHORT: Dunlin\n")
    assert "2 margins are below zero and 1 could not be computed." in flat(told)
    assert "In 'turn' it could not be computed: voltage." in flat(told)
    assert "the least margin is" not in told


def test_a_lost_margin_alone_is_called_a_margin():
    lost = case("turn", voltage=margin("voltage", None, reason="no voltage satisfies the supply"))
    told = text(report(("rudder", (lost,)), verdict="short"))
    assert "1 control run in 1 flight case: 1 margin could not be computed." in flat(told)


def test_a_margin_stands_in_one_line_with_its_factor_and_its_plain_margin():
    told = text(report(("rudder", (case("turn", torque=margin("torque", 0.6, 2.0, factor=1.25)),))))
    [line] = [line for line in lines_of(told, "torque ") if " x " in line]
    # Available 1, required 1 / (1.6 x 1.25) = 0.5.
    assert line.split() == [
        "torque",
        "0.5",
        "N·m",
        "x",
        "1.25",
        "1",
        "N·m",
        "+0.60",
        "+2.00",
        "|>>",
    ]


def test_a_margin_that_was_lost_says_why():
    lost = margin("torque", None, reason="neutral is not reached")
    told = text(report(("rudder", (case("turn", torque=lost),)), verdict="short"))
    line = told.splitlines().index(lines_of(told, "torque  ")[0])
    assert "none" in told.splitlines()[line]
    assert told.splitlines()[line + 1].strip() == "neutral is not reached"


def test_modes_that_do_not_apply_say_why_and_what_was_not_checked_stands_by_the_verdict():
    made = case(
        "turn",
        hold=margin("hold", None, reason="a brief case", applies=False),
        gear=margin("gear", None, reason="not given, not checked", applies=False),
    )
    told = text(report(("rudder", (made,))))
    assert "all control runs: hold (a brief case)" in told.partition("WHAT DOES NOT APPLY")[2]
    assert "Not given, not checked: gear." in told.partition("LEAST MARGIN")[0]


def test_what_was_not_checked_on_some_runs_names_them():
    unchecked = margin("gear", None, reason="not given, not checked", applies=False)
    made = report(("rudder", (case("turn", gear=unchecked),)), ("flap", (case("turn"),)))
    assert "Not given, not checked: gear (on rudder)." in text(made)


def test_runs_that_are_alike_are_told_once():
    alike = report(("left", (case("turn"),)), ("right", (case("turn"),)))
    assert "left / right (alike)" in text(alike)
    assert len(re.findall(r"^  torque .* x ", text(alike), re.MULTILINE)) == 1
    other = case("turn", torque=margin("torque", 0.41))
    differing = text(report(("left", (case("turn"),)), ("right", (other,))))
    assert "alike" not in differing
    assert len(re.findall(r"^  torque .* x ", differing, re.MULTILINE)) == 2


CASES = ("turn", "dive")


def test_the_worst_case_is_told_in_full_and_every_margin_of_the_others():
    worse = case("dive", torque=margin("torque", -0.3, 0.2))
    told = text(report(("rudder", (case("turn"), worse)), names=CASES, verdict="short"))
    assert "In 'dive' the least margin is torque." in told
    for mode in MODES:
        assert (
            f"{mode} +0.50" in flat(told).partition("In 'turn': ")[2].partition("Factors within")[0]
        )


def test_a_narrowed_report_tells_every_case_in_full_and_keeps_the_verdict_of_the_whole():
    worse = case("dive", torque=margin("torque", -0.3, 0.2))
    made = report(
        ("rudder", (case("turn"), worse)),
        ("flap", (case("turn"), case("dive"))),
        names=CASES,
        verdict="short",
    )
    told = text(made, run="flap")
    assert told.startswith("SHORT: Dunlin")
    assert "rudder" not in told
    assert "the verdict is that of the whole" in told
    assert "In 'turn' the least margin" in told
    assert "In 'dive' the least margin" in told
    told = text(made, case="turn")
    assert not re.search(r"\bdive\b", told)
    assert "In 'turn' the least margin" in told
    assert {"rudder / flap (alike)"} <= set(told.splitlines())


def test_a_brief_report_is_the_beginning_of_the_whole_one_and_the_caution():
    made = report(("rudder", (case("turn"),)))
    whole, brief = text(made), text(made, brief=True)
    head = brief.partition("An estimate for models")[0].rstrip()
    assert whole.startswith(head)
    assert flat(brief).endswith(CAUTION)
    assert len(brief.splitlines()) < 20


SEVERAL = {"servos at work", "dead servos", "share of each servo"}


def numbers(**more):
    """Return values with those of several servos."""
    found = {name.replace("_", " "): value(number, "1") for name, number in more.items()}
    return {"moving torque": value(0.4, low=0.1, high=0.4), SPEED: value(30.0, "m/s"), **found}


def test_several_servos_are_told_with_the_dead_ones_and_the_share_of_each():
    both = numbers(servos_at_work=2.0, dead_servos=0.0, share_of_each_servo=0.6)
    one = numbers(servos_at_work=1.0, dead_servos=1.0, share_of_each_servo=1.0)
    made = report(
        ("flap", (case("turn", values=both), case("dive", values=one))), names=("turn", "dive")
    )
    told = text(made._replace(factors=made.factors | {"mismatch": 1.2}))
    rows = {name: lines_of(told, f"{name}  ")[0].split()[-2:] for name in SEVERAL}
    assert rows == {
        "dead servos": ["0", "1"],
        "servos at work": ["2", "1"],
        "share of each servo": ["0.6", "1"],
    }
    assert "share of each servo has x 1.2 in it" in flat(told)
    for name in SEVERAL:
        assert flat(terms.VALUES[name]) in flat(told)


def test_dead_servos_have_no_row_where_there_are_none():
    values = numbers(servos_at_work=2.0, dead_servos=0.0, share_of_each_servo=0.6)
    made = report(("flap", (case("turn", values=values),)))
    told = text(made._replace(factors=made.factors | {"mismatch": 1.2}))
    assert lines_of(told, "servos at work")
    assert not lines_of(told, "dead servos")


def test_a_single_servo_needs_no_word_about_several():
    values = numbers(servos_at_work=1.0, dead_servos=0.0, share_of_each_servo=1.0)
    told = text(report(("rudder", (case("turn", values=values),))))
    assert "mismatch" not in told
    assert not any(name in told for name in SEVERAL)


def test_a_run_whose_servos_are_all_dead_says_so():
    made = report(("rudder", (case("turn"),)), ("flap", ()), names=("turn",))
    told = text(made)
    assert re.search(r"flap\n    turn +every servo dead", told)
    made = report(("rudder", (case("turn"),)), names=CASES)
    assert re.search(r"    dive +every servo dead", text(made))


def test_defaults_are_told_once_with_the_runs_and_cases_that_they_concern():
    everywhere = "linkage efficiency not given: 0.9 (common practice, no source)"
    of_one = "mass of the surface not given: its weight is not counted"
    of_dive = "sideslip not given: 3 deg for this kind of case (common practice, no source)"
    rudder = (case("turn", [everywhere]), case("dive", [everywhere, of_dive]))
    flap = (case("turn", [everywhere, of_one]), case("dive", [everywhere, of_one, of_dive]))
    supply = "copper temperature not given: 40 degC (common practice, no source)"
    told = text(report(("rudder", rudder), ("flap", flap), names=CASES, notes=(supply,)))
    section = told.partition("WHAT STOOD IN")[2].partition("WHAT DOES NOT APPLY")[0]
    assert [line.strip() for line in section.splitlines()[1:] if line.strip()] == [
        "* common practice, no source",
        "supply, leads, receiver:",
        "- copper temperature not given: 40 degC *",
        "all control runs:",
        "- linkage efficiency not given: 0.9 *",
        "flap:",
        "- mass of the surface not given: its weight is not counted",
        "in 'dive':",
        "- sideslip not given: 3 deg for this kind of case *",
    ]
    assert flat(told).count("not given: ") == 4


def test_what_to_watch_stands_with_its_run_and_case():
    stalled = "stalled at the working point"
    told = text(report(("rudder", (case("turn"), case("dive", [stalled]))), names=CASES))
    assert "Note: stalled at the working point (in 'dive')." in told


def test_every_factor_is_told_with_its_source_and_a_given_one_with_its_default():
    made = report(("rudder", (case("turn"),)))
    told = flat(text(made).partition("FACTORS OF SAFETY")[2])
    assert "1.25 torque: on the torque needed to move the surface (14 CFR 23 App. A" in told
    assert "1 over-voltage (the limit itself is the criterion)" in told
    changed = made._replace(factors=made.factors | {"torque": 1.7})
    told = flat(text(changed).partition("FACTORS OF SAFETY")[2])
    assert "1.7 torque: on the torque needed to move the surface (as given; otherwise 1.25" in told


def test_factors_inside_a_number_are_told_beside_it():
    told = flat(text(report(("rudder", (case("turn"),)))))
    assert (
        "stall torque is the printed one / 1.2; required in buckling and joint has x 1.25 in it; 0.3333 of the stall torque may be held"
        in told
    )


def test_a_measured_servo_is_said_to_be_one():
    told = flat(text(report(("rudder", (case("turn", values=numbers(datasheet_factor=1.0)),)))))
    assert "stall torque is the measured one, not divided" in told


def test_units_are_those_that_were_asked_for():
    made = report(("rudder", (case("turn", torque=margin("torque", 0.0)),)))
    # 1 N·m is 1 / (0.45359237 / 16 kg x 9.80665 m/s^2 x 0.0254 m) = 141.6 oz·in; 30 m/s are 67.11 mph.
    told = text(made, measures=imperial())
    assert lines_of(told, "torque  ")[0].split()[1:3] == ["141.6", "oz·in"]
    assert lines_of(told, "placard speed [mph]")[0].split()[-1] == "67.11"
    assert "none up to 532.8 mph" in told
    assert lines_of(text(made, measures=METRIC), "placard speed [m/s]")[0].split()[-1] == "30"


def test_a_value_that_is_missing_has_its_reason_below_the_table():
    values = {SPEED: value(None, "m/s", reason="not held at any speed up to 238.2 m/s")}
    told = text(report(("rudder", (case("turn", values=values),))))
    assert lines_of(told, "placard speed [m/s]")[0].split()[-2:] == ["none", "[1]"]
    assert "[1] not held at any speed up to 238.2 m/s" in told


def test_the_end_of_a_placard_speed_is_told_in_english():
    whole = {SPEED: value(28.75, "m/s", at="'rudder' in 'dive', ended by torque")}
    ended = {SPEED: value(28.75, "m/s", at="ended by torque")}
    told = text(report(("rudder", (case("turn", values=ended),)), whole=whole))
    assert (
        "placard speed: 28.75 m/s; above it torque falls short first, on 'rudder' in 'dive'"
        in flat(told)
    )
    assert lines_of(told, "ended by")[0].split() == ["ended", "by", "torque"]


def test_bold_changes_nothing_but_the_weight_of_headings_and_there_is_no_colour():
    made = report(("rudder", (case("turn"),)))
    plain, bold = text(made), text(made, bold=True)
    assert "\x1b" not in plain
    assert set(re.findall("\x1b\\[[^m]*m", bold)) == {"\x1b[1m", "\x1b[0m"}
    assert re.sub("\x1b\\[[01]m", "", bold) == plain
    assert bold.startswith("\x1b[1mPASS: Dunlin\x1b[0m\n")


HOSTILE = "flap\x1b[2J\x07\r" + "w" * 150


def test_no_name_can_steer_the_terminal_or_burst_the_page():
    made = report((HOSTILE, (case(HOSTILE, [HOSTILE]), case("dive"))), names=(HOSTILE, "dive"))
    told = text(made._replace(aircraft=HOSTILE))
    assert all(line.isprintable() for line in told.splitlines())
    assert max(map(len, told.splitlines())) <= 80


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 9])
def test_any_number_of_cases_fits_the_page_and_all_are_told(count):
    names = tuple(f"case number {number}" for number in range(count))
    values = [
        {
            "held deflection up": value(10.25 + n, "deg"),
            "held deflection down": value(11.75 + n, "deg"),
        }
        for n in range(count)
    ]
    made = report(
        ("rudder", tuple(case(name, values=values[n]) for n, name in enumerate(names))), names=names
    )
    told = text(made)
    assert max(map(len, told.splitlines())) <= 80
    cells = " ".join(lines_of(told, "held up/down")).replace("held up/down [deg]", "").split()
    # Three figures: 10.25 and 11.75 are 10.2 and 11.8 (to even), and so on.
    assert cells == [f"{10.25 + n:.3g}/{11.75 + n:.3g}" for n in range(count)]


# reports of real aircraft ------------------------------------------------------------------


@pytest.fixture(scope="module")
def sandpiper():
    return linkcalc.check(ROOT / "examples/sandpiper.toml")


def test_every_word_of_a_report_is_explained(sandpiper):
    told = flat(text(sandpiper).partition("WHAT THE WORDS MEAN")[2])
    assert set(terms.MODES) == set(MODES)
    shown = {m.mode for run in sandpiper.runs for c in run.cases for m in c.margins if m.applies}
    for mode in shown:
        assert f"{mode}: {terms.MODES[mode]}" in told
    for name in (
        sandpiper.runs[0].cases[0].values.keys()
        - SEVERAL
        - {"datasheet factor", "hold time", "ground rise", "deadband"}
        - {"shaft load", "hinge load"}  # in a plane they are the rod's force
    ):
        word = re.sub(r" deflection (up|down)$", "", name)
        assert f"{word}: {terms.VALUES[word]}" in told


def test_every_margin_of_every_run_in_every_case_is_in_the_text(sandpiper):
    told = flat(text(sandpiper))
    for run in sandpiper.runs:
        assert run.name in told
        for one in run.cases:
            for item in one.margins:
                if item.applies:
                    assert re.search(
                        rf"{item.mode} (\S+ \S+ x \S+ \S+ \S+ )?\{item.margin:+.2f}", told
                    )


def test_every_default_that_was_used_is_in_the_text(sandpiper):
    told = flat(text(sandpiper))
    notes = {n for run in sandpiper.runs for c in run.cases for n in c.notes if " not given: " in n}
    assert len(notes) > 10
    for note in notes | set(sandpiper.notes):
        shown = note.replace("(common practice, no source", "(*").replace("(*)", "*")
        assert flat(shown) in told


def test_the_example_is_short_enough_to_read(sandpiper):
    assert len(text(sandpiper, brief=True).splitlines()) <= 36
    assert len(text(sandpiper).splitlines()) <= 364


def test_the_example_is_shown_in_the_units_of_its_file(sandpiper):
    measures = as_stated(linkcalc.read_aircraft(ROOT / "examples/sandpiper.toml"))
    told = text(sandpiper, measures=measures)
    torque = sandpiper.runs[0].cases[0].margin("torque")
    # 1 kg·cm is 9.80665 N x 0.01 m.
    assert f"{torque.required.value / 0.0980665:.4g} kg·cm" in told
    assert "torque limit speed [km/h]" in told


def test_text_says_nowhere_that_something_is_not_a_number(sandpiper):
    assert not re.search(r"\b(nan|inf|None)\b", text(sandpiper))


def test_faults_are_told_one_paragraph_each():
    faults = [
        linkcalc.Fault(
            "a.toml", "supply.voltage", "6.0", "a voltage such as '6.0 V'", "Write it so."
        ),
        linkcalc.Fault("a.toml", "", "no\x1bthing", "an aircraft", "Mend it."),
    ]
    told = faults_text(linkcalc.InputFaults(faults))
    assert told.splitlines() == [
        "This cannot be checked: 2 faults. Nothing was evaluated.",
        "",
        "a.toml: supply.voltage",
        "  found     6.0",
        "  expected  a voltage such as '6.0 V'",
        "  remedy    Write it so.",
        "",
        "a.toml",
        "  found     no?thing",
        "  expected  an aircraft",
        "  remedy    Mend it.",
    ]
