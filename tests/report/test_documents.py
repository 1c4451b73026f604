"""What the program prints fits the committed schemas, and the schemas refuse what breaks the contract."""

import copy
import json
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.cli import main
from linkcalc.report.document import document, dumped
from linkcalc.report.schema import DOCUMENTS, document_schema
from linkcalc.report.tolerance_text import tolerance_document
from linkcalc.starter import STARTER

ROOT = Path(__file__).resolve().parents[2]
REPORT = jsonschema.Draft202012Validator(document_schema("report"))
FAULTS = jsonschema.Draft202012Validator(document_schema("faults"))


@pytest.mark.parametrize("name", DOCUMENTS)
def test_committed_schema_is_one_of_draft_2020_12(name):
    schema = document_schema(name)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["properties"]["schema"]["const"] == f"linkcalc.{name}/1"


@pytest.fixture(scope="module")
def example():
    return document(linkcalc.check(ROOT / "examples/sandpiper.toml"))


@pytest.fixture
def tree(example):
    return copy.deepcopy(example)


def test_example_fits_the_schema_of_the_report(tree, capsys):
    REPORT.validate(tree)
    assert main(["check", str(ROOT / "examples/sandpiper.toml"), "--json"]) == 1
    printed = capsys.readouterr()
    assert printed.err == ""
    REPORT.validate(json.loads(printed.out, parse_constant=pytest.fail))


def test_a_file_that_cannot_be_used_gives_a_document_that_fits_the_schema(tmp_path, capsys):
    path = tmp_path / "slip.toml"
    path.write_text('format = "linkcalc.aircraft/1"\nname = "Dunlin"\n', encoding="utf-8")
    assert main(["check", str(path), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.err == ""
    faults = json.loads(printed.out)
    FAULTS.validate(faults)
    assert {fault["place"] for fault in faults["faults"]} == {"supply", "cases", "runs"}


def case(tree):
    return tree["runs"][0]["cases"][0]


def margin(tree, mode="torque"):
    return next(item for item in case(tree)["margins"] if item["mode"] == mode)


BREAKS = {
    "another version": lambda tree: tree.update(schema="linkcalc.report/2"),
    "another verdict": lambda tree: tree.update(verdict="maybe"),
    "no placard speed": lambda tree: tree["whole"].pop("placard speed"),
    "no cases of the aircraft": lambda tree: tree.pop("aircraft_cases"),
    "a mode that is missing": lambda tree: case(tree)["margins"].remove(margin(tree, "hold")),
    "a mode twice": lambda tree: case(tree)["margins"].append(margin(tree, "hold")),
    "no notes": lambda tree: case(tree).pop("notes"),
    "a value that is missing": lambda tree: case(tree)["values"].pop("freeze speed"),
    "a key of a value that is missing": lambda tree: case(tree)["values"]["rod force"].pop("at"),
    "a torque in joules": lambda tree: case(tree)["values"]["hold torque"].update(unit="J"),
    "a torque in another unit": lambda tree: margin(tree)["required"].update(unit="V"),
    "a number as text": lambda tree: margin(tree).update(margin="+0.2"),
    "no margin and no reason": lambda tree: margin(tree).update(margin=None),
    "a mode that does not apply with a margin": lambda tree: margin(tree).update(applies=False),
    "no value and no reason": lambda tree: case(tree)["values"]["rod force"].update(value=None),
    "a value with a reason why there is none": lambda tree: margin(tree)["required"].update(
        reason="lost"
    ),
    "a factor of nothing": lambda tree: margin(tree).update(factor=0),
}


@pytest.mark.parametrize("name", BREAKS)
def test_schema_refuses_a_broken_contract(name, tree):
    BREAKS[name](tree)
    assert not REPORT.is_valid(tree)


def test_schema_lets_a_later_version_add_keys_values_and_modes(tree):
    tree["made"] = "2031"
    case(tree)["values"]["flutter speed"] = case(tree)["values"]["freeze speed"]
    case(tree)["margins"].append({**margin(tree), "mode": "moisture"})
    REPORT.validate(tree)


def test_schema_refuses_an_empty_list_of_faults():
    assert not FAULTS.is_valid({"schema": "linkcalc.faults/1", "faults": []})
    assert not FAULTS.is_valid({"schema": "linkcalc.faults/1", "faults": [{"file": "x"}]})


TOLERANCE = document_schema("tolerance")


def closed(schema):
    """Return a schema that takes no key that it does not describe."""
    if isinstance(schema, list):
        return [closed(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: closed(each) for key, each in schema.items()}
    return {"additionalProperties": False} | made if made.get("type") == "object" else made


@pytest.mark.parametrize("more", [{}, {"speeds": True, "rare": True, "indices": 64}])
def test_a_study_of_tolerances_fits_its_schema_which_describes_all_of_it(more, tmp_path):
    path = tmp_path / "plover.toml"
    text = STARTER.replace("[supply]", '[tolerances]\ndefaults = "on"\n\n[supply]')
    path.write_text(text, encoding="utf-8")
    found = linkcalc.tolerance(path, samples=64, precision=0.3, **more)
    made = json.loads(dumped(tolerance_document(found)), parse_constant=pytest.fail)
    jsonschema.Draft202012Validator(closed(TOLERANCE)).validate(made)
    margin = made["margins"][0]
    assert bool(margin["indices"]) == bool(more)
    assert bool(made["placard_speeds"]) == bool(more)
    del margin["chance"]["method"]
    assert not jsonschema.Draft202012Validator(TOLERANCE).is_valid(made)
