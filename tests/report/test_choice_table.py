"""The choice of a servo as text and document: what is shown is what was found."""

import contextlib
import copy
import io
import json
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.choosing.choice import choose
from linkcalc.cli import main
from linkcalc.report.choice_table import choice_document, choice_text
from linkcalc.report.progress import shown_progress
from linkcalc.report.schema import document_schema

ROOT = Path(__file__).resolve().parents[2]
AIRCRAFT, PARTS = (
    str(ROOT / "examples" / name) for name in ("sandpiper.toml", "catalogue/parts.toml")
)


@pytest.fixture(scope="module")
def found():
    return choose(AIRCRAFT, linkcalc.read_catalogue(PARTS), runs="rudder", most_price=20)


def test_text_fits_80_columns_and_names_every_servo_when_asked(found):
    text = choice_text(found, every=True)
    assert max(map(len, text.splitlines())) <= 80
    assert all(each.name in text for each in found.ranking.standings)
    best = found.ranking.best
    assert text.startswith(f"SERVO: {best.name}, for Sandpiper")


def test_brief_text_counts_what_it_does_not_show(found):
    text = choice_text(found)
    placed = [each for each in found.ranking.standings if each.place]
    assert f"... and {len(placed) - 15} more, with --all." in text
    assert placed[14].name in text
    assert placed[15].name not in text
    *out, hint = text.partition("WHY THE OTHERS ARE OUT\n")[2].partition("\n\n")[0].splitlines()
    assert hint.startswith("With --all")
    assert sum(int(line.split()[0]) for line in out) == len(found.ranking.standings) - len(placed)


def test_doubt_stands_beside_the_servos_that_it_is_about(found):
    shown = {
        line.split()[1].lstrip("*"): line
        for line in choice_text(found).splitlines()
        if line[:4].strip().isdigit() and "invented" in line
    }
    assert len(shown) == 15
    for name, line in shown.items():
        assert line.endswith("doubtful") == (name in found.doubts), line


def test_document_has_every_servo_and_the_margins_of_its_runs(found):
    tree = json.loads(json.dumps(choice_document(found), allow_nan=False))
    assert len(tree["candidates"]) == len(found.ranking.standings)
    aircraft = linkcalc.read_aircraft(AIRCRAFT)
    parts = {part.name: part for part in linkcalc.read_catalogue(PARTS).servos}
    first = tree["candidates"][0]
    runs = [
        linkcalc.replace(run, servo=parts[first["name"]].servo()) if run.name == "rudder" else run
        for run in aircraft.runs
    ]
    report = linkcalc.check(linkcalc.replace(aircraft, runs=runs)).runs[-1]
    least = min(case.margin("torque").margin for case in report.cases)
    assert first["least_margins"]["torque"] == pytest.approx(least, rel=1e-12)
    assert first["values"]["mass"] == pytest.approx(parts[first["name"]].mass.m_as("g"))
    assert first["lost"] == ""
    assert all(each["lost"] for each in tree["candidates"][1:])


def command(*options):
    return main(["choose", AIRCRAFT, "--catalogue", PARTS, "--run", "rudder", *options])


def test_command_ends_with_0_where_a_servo_will_do_and_with_1_where_none_does(capsys):
    assert command("--price", "20", "--by", "price,mass") == 0
    assert "price, EUR     mass, g" in capsys.readouterr().out
    assert command("--mass", "1 g") == 1
    said = capsys.readouterr().out
    assert said.startswith("NO SERVO WILL DO")
    assert "'mass at most 1 g' removed the last 144 of 144 candidates" in said


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--run", "ruder"], "names of control runs"),
        (["--by", "weight"], "'mass', 'price', 'margin'"),
        (["--mass", "20"], "Add the unit"),
        (["--bay", "24 mm"], "length, width and height"),
        (["--catalogue", "nowhere.toml"], "no such file"),
        (["--over", "arm bore"], "'arm bore' expected servo, arm hole, horn hole"),
        (["--over", "servo", "--over", "servo"], "'servo' twice expected each field once"),
        (["--over", "arm hole=8 g"], "length"),
        (["--memory", "0"], "at least 2000 bytes"),
    ],
)
def test_what_cannot_be_asked_ends_with_2_and_says_why(options, words, capsys):
    assert command(*options) == 2
    said = capsys.readouterr()
    assert words in " ".join(said.err.split())
    assert said.out == ""
    assert command(*options, "--json") == 2
    assert json.loads(capsys.readouterr().out)["schema"] == "linkcalc.faults/1"


def test_command_prints_the_document_and_nothing_else(capsys):
    assert command("--json", "--price", "20", "--over", "servo", "--over", "horn hole") == 0
    tree = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    jsonschema.Draft202012Validator(document_schema("choice")).validate(tree)
    assert tree["chosen"] == ["servo", "horn hole"]
    assert tree["candidates"][0]["parts"].keys() == {"servo", "horn hole"}
    broken = copy.deepcopy(tree)
    broken["candidates"][-1]["lost"] = ""
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(document_schema("choice")).validate(broken)


def test_an_interruption_ranks_what_was_tried_and_ends_with_130(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", 1)

    @contextlib.contextmanager
    def stopping(what):
        assert what == "combinations"

        def told(done, total):
            assert total == 144
            if done == 60:
                raise KeyboardInterrupt

        yield told

    kept = str(tmp_path / "kept.npz")
    monkeypatch.setattr("linkcalc.purchases.shown_progress", stopping)
    assert command("--price", "20", "--keep", kept, "--all") == 130
    said = " ".join(capsys.readouterr().out.split())
    assert "INTERRUPTED: only part of the combinations was tried" in said
    dear = {part.name for part in linkcalc.read_catalogue(PARTS).servos[60:] if part.price > 20}
    assert said.count("not tried before the interruption") == 144 - 60 - len(dear)
    monkeypatch.undo()
    assert command("--price", "20", "--keep", kept) == 0
    assert "INTERRUPTED" not in capsys.readouterr().out


def test_progress_is_shown_on_a_terminal_alone(monkeypatch):
    with shown_progress("combinations") as told:
        assert told is None

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    with shown_progress("combinations") as told:
        told(3, 12)
    assert "3/12" in screen.getvalue()


@pytest.mark.parametrize("each", [[], ["--each"]], ids=["for all", "each"])
@pytest.mark.parametrize(
    ("option", "value"), [("--mass", "20"), ("--voltage", "6"), ("--bay", "3"), ("--run", "nobody")]
)
def test_a_fault_of_the_question_names_the_option_as_it_is_typed(option, value, each, capsys):
    assert main(["choose", AIRCRAFT, "--catalogue", PARTS, *each, option, value]) == 2
    told = capsys.readouterr()
    assert f"sandpiper.toml: {option}\n" in told.out + told.err
