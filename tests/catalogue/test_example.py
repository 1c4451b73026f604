"""The invented catalogue: drawn by the script beside it, labelled, and of use as an example."""

import importlib.util
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc.catalogue import read_catalogue
from linkcalc.catalogue.parts import KINDS_OF_PARTS
from linkcalc.catalogue.plausibility import doubts
from linkcalc.catalogue.schema import catalogue_schema
from linkcalc.model.value_classes import fields, stated

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "examples/catalogue"


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(FOLDER / "parts.toml")


def test_the_file_is_what_the_script_draws():
    spec = importlib.util.spec_from_file_location("make_catalogue", FOLDER / "make_catalogue.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    drawn = module.catalogue()
    assert drawn == (FOLDER / "parts.toml").read_text(encoding="utf-8")
    assert drawn == module.catalogue()


def test_every_part_says_that_it_is_invented(catalogue):
    count = 0
    for kind in KINDS_OF_PARTS:
        assert getattr(catalogue, kind), kind
        for part in getattr(catalogue, kind):
            assert part.source.startswith("invented"), part.name
            count += 1
    assert "invented" in catalogue.name.lower()
    assert count > 150


def test_servos_go_from_4_to_100_grams_and_there_are_at_least_120(catalogue):
    masses = [stated(servo, "mass").si for servo in catalogue.servos]
    assert len(masses) >= 120
    assert 0.004 <= min(masses) < 0.005
    assert 0.090 < max(masses) <= 0.100


def test_at_least_a_third_of_the_servos_fail_the_example_and_some_do_not(catalogue):
    aircraft = linkcalc.read_aircraft(ROOT / "examples/sandpiper.toml")
    verdicts = []
    for part in catalogue.servos[::4]:  # every fourth in order of mass
        runs = [linkcalc.replace(run, servo=part.servo()) for run in aircraft.runs]
        verdicts.append(linkcalc.check(linkcalc.replace(aircraft, runs=runs)).verdict)
    assert verdicts.count("short") >= len(verdicts) / 3
    assert verdicts.count("pass") >= 1


def test_the_flaws_that_were_put_in_are_found_and_nothing_else(catalogue):
    flawed = {part.name for part in catalogue.servos if part.sources}
    assert len(flawed) >= 30
    assert {doubt.part for doubt in doubts(catalogue.servos)} == flawed


def test_the_file_fits_the_schema_and_the_schema_the_classes():
    schema = catalogue_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    tree = tomllib.loads((FOLDER / "parts.toml").read_text(encoding="utf-8"))
    assert list(validator.iter_errors(tree)) == []
    for cls in KINDS_OF_PARTS.values():
        keys = set(schema["$defs"][cls.__name__]["properties"])
        assert keys == {item.name for item in fields(cls)} - {"name"}


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("servos", "mass", 9),
        ("servos", "mass", "9 mm"),
        ("servos", "rows", []),
        ("servos", "weight", "9 g"),
        ("servos", "price", "9 EUR"),
        ("servos", "gear", "steel"),
        ("servos", "sources", {"mas": "scale"}),
        ("servos", "sources", {"mass": 1}),
        ("servos", "sources", "weighed"),
        ("horns", "holes", []),
        ("horns", "holes", ["10 g"]),
        ("horns", "holes", "10 mm"),
        ("wires", "gauge", "10 m"),
    ],
)
def test_schema_and_reader_refuse_the_same_slips(kind, key, value, tmp_path):
    tree = tomllib.loads((FOLDER / "parts.toml").read_text(encoding="utf-8"))
    name = next(iter(tree[kind]))
    part = tree[kind][name] | {key: value}
    alone = {"format": tree["format"], "currency": "EUR", kind: {"x": part}}
    assert not jsonschema.Draft202012Validator(catalogue_schema()).is_valid(alone)
    path = tmp_path / "parts.toml"
    lines = [f'format = "{tree["format"]}"', 'currency = "EUR"', f"[{kind}.x]"]
    lines += [f"{each} = {written(what)}" for each, what in part.items()]
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(linkcalc.InputFaults, match=rf"{kind}\.x\.{key}"):
        read_catalogue(path)


def written(value):
    """Write a value as TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {written(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value)
