"""Parts for each run as text and document: what is shown is what was found."""

import json
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.cli import main
from linkcalc.report.joint_table import joint_choice_text
from linkcalc.report.schema import document_schema
from linkcalc.study.joint_choice import choose_each

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


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--by", "margin"], "'mass', 'price', 'balance'"),
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
