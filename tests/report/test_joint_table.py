"""Parts for each run as text and document: what is shown is what was found."""

import contextlib
import json
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.choosing.joint_choice import choose_each
from linkcalc.cli import main
from linkcalc.report.joint_table import joint_choice_text
from linkcalc.report.schema import document_schema

ROOT = Path(__file__).resolve().parents[2]
AIRCRAFT, PARTS = (
    str(ROOT / "examples" / name) for name in ("sandpiper.toml", "catalogue/parts.toml")
)
SCHEMA = jsonschema.Draft202012Validator(document_schema("joint_choice"))
TAIL = ("--run", "elevator", "--run", "rudder")


def command(*options):
    return main(["choose", AIRCRAFT, "--catalogue", PARTS, "--each", *options])


@pytest.fixture(scope="module")
def found():
    return choose_each(AIRCRAFT, linkcalc.read_catalogue(PARTS), runs=["elevator", "rudder"])


def test_text_fits_80_columns_and_names_the_parts_of_every_run(found):
    text = joint_choice_text(found)
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith("PARTS FOR EACH RUN: ")
    for run in found.runs:
        line = next(line for line in text.splitlines() if line.startswith(run.run))
        assert run.parts["servo"] in line
        assert f"{run.left} of 144" in line
        assert line.endswith("doubtful") == (run.parts["servo"] in found.doubts)
    assert "No set that passes has a lesser mass." in " ".join(text.split())


def test_text_of_a_search_cut_short_says_what_can_have_been_missed(found):
    short = found._replace(exact=False, cost=12.0, bound=11.5, unit="g")
    said = " ".join(joint_choice_text(short).split())
    assert "may have been missed, lesser by 0.5 g at most" in said
    nothing = short._replace(described=None)
    assert "cut short: no set that passes has less than 11.5 g" in " ".join(
        joint_choice_text(nothing).split()
    )


def test_command_prints_text_or_the_document(capsys):
    assert command(*TAIL, "--by", "price") == 0
    assert capsys.readouterr().out.startswith("PARTS FOR EACH RUN: ")
    assert command(*TAIL, "--json", "--same-servo", "--tries", "500") == 0
    tree = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    SCHEMA.validate(tree)
    assert len({run["parts"]["servo"] for run in tree["runs"]}) == 1
    assert command(*TAIL, "--json", "--mass", "1 g") == 1
    tree = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    SCHEMA.validate(tree)
    assert tree["cost"] is None
    assert all("removed the last 144" in run["empty"] for run in tree["runs"])


@pytest.fixture(scope="module")
def compared():
    by, parts = ["mass", "price", "margin"], linkcalc.read_catalogue(PARTS)
    return choose_each(AIRCRAFT, parts, runs=["elevator", "rudder"], by=by, undoubted=True)


def test_text_shows_the_front_and_what_is_no_candidate_in_80_columns(compared):
    text = joint_choice_text(compared)
    assert max(map(len, text.splitlines())) <= 80
    front = text.partition("SETS THAT NO OTHER BEATS")[2].partition("\n\n")[0].splitlines()
    assert front[0].split() == ["mass,", "g", "price,", "EUR", "margin"]
    rows = [line.split() for line in front if line[:4].strip().isdigit()]
    assert 1 < len(rows) == min(len(compared.front), 15)
    for row, each in zip(rows, compared.front, strict=False):
        assert row[1:] == [f"{value:.4g}" for value in each.values]
    assert front[2].strip() == "; ".join(parts["servo"] for parts in compared.front[0].parts)
    assert "  36  not of an undoubted datasheet for every run" in text
    assert "doubtful" not in text.partition("WHAT IS NO CANDIDATE")[0]
    cut = " ".join(joint_choice_text(compared._replace(front_bound=33.5)).split())
    assert "These are all of them with mass less than 33.5 g" in cut
    assert "cut short" not in text


def test_text_says_what_could_not_be_tried_and_for_which_runs(found):
    first, second = found.runs
    reason = "a rod that is too short to close at neutral"
    with_reason = first._replace(unsound={"60 mm": reason})
    said = joint_choice_text(found._replace(runs=(with_reason, second)))
    told = " ".join(said.split())
    assert f"60 mm cannot be tried: {reason} for 'elevator'" in told


def test_document_has_the_front_by_run(capsys, compared):
    assert command(*TAIL, "--json", "--by", "mass,price,margin", "--undoubted") == 0
    tree = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    SCHEMA.validate(tree)
    assert [tuple(each["values"].values()) for each in tree["front"]] == [
        each.values for each in compared.front
    ]
    assert tree["front"][0]["parts"] == {each["run"]: each["parts"] for each in tree["runs"]}
    assert all(run["out"] == {"not of an undoubted datasheet": 36} for run in tree["runs"])
    del tree["front"][0]["parts"]
    with pytest.raises(jsonschema.ValidationError):
        SCHEMA.validate(tree)


def test_an_interruption_tells_what_was_found_ends_with_130_and_goes_on(
    monkeypatch, capsys, tmp_path
):
    @contextlib.contextmanager
    def stopping(what):
        assert what == "sets"

        def told(done, total):
            assert done <= total
            raise KeyboardInterrupt

        yield told

    kept = ("--keep", str(tmp_path / "kept.npz"))
    monkeypatch.setattr("linkcalc.purchases.shown_progress", stopping)
    assert command(*TAIL, *kept) == 130
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("NO SET WAS FOUND, for Sandpiper survey glider INTERRUPTED: ")
    assert "no set that passes has less than" in said
    assert command(*TAIL, *kept, "--json") == 130
    tree = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    SCHEMA.validate(tree)
    assert not tree["complete"]
    monkeypatch.undo()
    assert command(*TAIL, *kept) == 0
    assert "INTERRUPTED" not in capsys.readouterr().out


@pytest.mark.parametrize("name", ["choice", "joint_choice"])
def test_the_command_prints_the_schemas_of_choices(name, capsys):
    assert main(["schema", name]) == 0
    assert json.loads(capsys.readouterr().out) == document_schema(name)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--by", "mass, placard"], "'mass', 'price', 'balance', 'margin'"),
        (["--bay", "ruder=30 mm, 20 mm, 40 mm"], "names of control runs"),
        (["--bay", "30 mm, 20 mm, 40 mm", "--bay", "30 mm, 20 mm, 4 mm"], "for each run once"),
        (
            ["--bay", "rudder=30 mm, 20 mm, 40 mm", "--bay", "rudder =3 mm, 2 mm, 4 mm"],
            "for each run once",
        ),
        (["--bay", "rudder=30 mm, 20 mm"], "length, width and height"),
        (["--all"], "--all with --each"),
        (["--tries", "0"], "one or more"),
        (["--jobs", "0"], "one or more"),
        (["--over", "supply.voltage=5 V"], "some of 'servo'"),
    ],
)
def test_what_cannot_be_asked_ends_with_2_and_says_why(options, words, capsys):
    assert command(*options) == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_options_of_each_alone_are_told(capsys):
    assert main(["choose", AIRCRAFT, "--catalogue", PARTS, "--same-servo"]) == 2
    assert "--same-servo without --each" in capsys.readouterr().err
