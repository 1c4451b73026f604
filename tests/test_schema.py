"""The schema of an aircraft file: never stricter than the reader, and strict enough to help."""

import copy
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

import linkcalc
from linkcalc.errors import InputError
from linkcalc.model.value_classes import ValueClass, fields
from linkcalc.report.schema import DOCUMENTS
from linkcalc.schema import aircraft_schema, quantity_pattern
from linkcalc.starter import STARTER
from linkcalc.units import KINDS, UNITS, parse

ROOT = Path(__file__).resolve().parent.parent
FILES = sorted((ROOT / "examples").glob("*.toml"))
SCHEMA = aircraft_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def faults(tree):
    return [error.json_path for error in VALIDATOR.iter_errors(tree)]


def test_schema_is_a_schema_of_draft_2020_12():
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_examples_fit_the_schema(path):
    assert faults(tomllib.loads(path.read_text(encoding="utf-8"))) == []


def test_starter_fits_the_schema():
    assert faults(tomllib.loads(STARTER)) == []


@pytest.fixture
def glider():
    return tomllib.loads((ROOT / "examples/sandpiper.toml").read_text(encoding="utf-8"))


def put(tree, place, value):
    """Put a value at the path of a key; `...` takes the key away."""
    *above, last = place
    for key in above:
        tree = tree[key]
    if value is ...:
        del tree[last]
    else:
        tree[last] = value


LINKAGE = {
    "arm": "12 mm",
    "horn": "10 mm",
    "surface": {"span": "62 cm", "chord": "5 cm", "throw": "20 deg"},
}
SLIPS = {
    "a key that is not known": (("supply", "resistance"), "40 mohm"),
    "a bare number where a unit is due": (("supply", "voltage"), 6.0),
    "a unit of another kind": (("runs", 0, "arm"), "12 deg"),
    "a unit that nobody knows": (("runs", 0, "arm"), "12 furlongs"),
    "a number without unit in a string": (("runs", 0, "arm"), "12"),
    "a decimal comma": (("runs", 0, "arm"), "1,2 cm"),
    "a required key left out": (("supply", "current_limit"), ...),
    "a word that is no choice": (("cases", 0, "kind"), "spin"),
    "no runs": (("runs",), []),
    "another format": (("format",), "linkcalc.aircraft/0"),
    "no format": (("format",), ...),
    "a name of spaces": (("name",), "  "),
    "a name on two lines": (("name",), "two\nlines"),
    "a name of 121 characters": (("name",), "x" * 121),
    "a table for a list": (("cases",), {"name": "turn"}),
    "a surface in a run that lists its linkages": (("runs", 0, "linkages"), [LINKAGE]),
    "a run without a surface": (("runs", 0, "surface"), ...),
    "a servo that names itself": (("servos", "wing", "name"), "wing"),
    "a key of a servo misspelled": (("servos", "wing", "travels"), "45 deg"),
    "text for a number": (("runs", 0, "surface", "chord_ratio"), "0.24"),
    "a load factor of two": (("cases", 0, "load_factor"), [0, 3]),
    "a vector of three where two are due": (
        ("cases", 0, "deflection"),
        ["1 deg", "2 deg", "3 deg"],
    ),
    "a vector of two where three are due": (("runs", 0, "arm"), {"pivot": ["0 m", "0 m"]}),
    "a factor below its bound": (("factors",), {"torque": 0.99}),
    "a ratio above its bound": (("runs", 0, "surface", "chord_ratio"), 1.01),
    "a part of a servo": (("runs", 0, "servo_count"), 1.5),
    "no servo": (("runs", 0, "servo_count"), 0),
    "a whole surface without its sizes": (("runs", 0, "surface", "planform"), {"half_span": "1 m"}),
    "a station without chord": (
        ("runs", 0, "surface", "planform"),
        {"stations": [{"y": "0 m", "leading_edge": "0 m"}] * 2},
    ),
    "a station with a key that is not known": (
        ("runs", 0, "surface", "planform"),
        {"stations": [{"y": "0 m", "leading_edge": "0 m", "chord": "1 m", "x": "0 m"}] * 2},
    ),
    "thirteen stations": (
        ("runs", 0, "surface", "planform"),
        {"stations": [{"y": f"{y} m", "leading_edge": "0 m", "chord": "1 m"} for y in range(13)]},
    ),
    "a load factor out of all reason": (("cases", 0, "load_factor"), 1001),
    "a vector of four": (("cases", 0, "deflection"), ["1 deg", "2 deg", "3 deg", "4 deg"]),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_schema_and_reader_refuse_the_same_slips(slip, glider, tmp_path):
    place, value = SLIPS[slip]
    put(glider, place, value)
    assert faults(glider)
    path = tmp_path / "slip.toml"
    path.write_text(toml(glider), encoding="utf-8")
    with pytest.raises(linkcalc.InputFaults):
        linkcalc.read_aircraft(path)


def test_a_planform_by_stations_fits_the_schema_and_the_reader(glider, tmp_path):
    surface = glider["runs"][0]["surface"]
    chord = 0.001 * float(surface["chord"].removesuffix("mm")) / surface["chord_ratio"]
    ends = ("0 mm", surface["span"])
    surface["planform"] = {
        "partner": "opposite",
        "stations": [{"y": y, "leading_edge": "3 mm", "chord": f"{chord} m"} for y in ends],
    }
    assert faults(glider) == []
    path = tmp_path / "stations.toml"
    path.write_text(toml(glider), encoding="utf-8")
    made = linkcalc.read_aircraft(path).runs[0].linkages[0].surface.planform
    assert len(made.stations) == 2


def toml(tree):
    """Write plain values as TOML: every table inline, which TOML allows below the top."""

    def value(item):
        if isinstance(item, dict):
            return "{" + ", ".join(f"{json.dumps(k)} = {value(v)}" for k, v in item.items()) + "}"
        if isinstance(item, list):
            return "[" + ", ".join(map(value, item)) + "]"
        return json.dumps(item)

    return "".join(f"{json.dumps(key)} = {value(item)}\n" for key, item in tree.items())


def test_writer_of_these_tests_keeps_what_it_writes(glider):
    assert tomllib.loads(toml(glider)) == glider


def test_a_run_may_list_its_linkages_instead(glider):
    run = glider["runs"][0]
    for key in ("surface", "arm", "horn", "pushrod"):
        del run[key]
    run["linkages"] = [LINKAGE, LINKAGE]
    assert faults(glider) == []


def test_shorthand_and_table_are_both_welcome(glider):
    long = copy.deepcopy(glider)
    long["runs"][0]["arm"] = {"radius": "12 mm", "lean": "2 deg"}
    long["runs"][0]["pushrod"] = {"length": "110 mm"}
    assert faults(long) == []


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("length", "12 mm"),
        ("length", " .5in "),
        ("length", "12 mm ± 0.3 mm"),
        ("length", "12 µm +/- 10 %"),
        ("length", "12 mm ± 0.3 mm (normal, 2 s)"),
        ("torque", "3.2 kg·cm"),
        ("torque", "45 oz in"),
        ("torque", "30 Ncm"),
        ("angle", "20°"),
        ("angular rate", "0.12 s/60deg"),
        ("angular rate", "120 ms / 60°"),
        ("angular rate", "300 deg/s"),
        ("slope", "-0.012 1/deg"),
        ("slope", "-0.4 /rad"),
        ("density", "1.2 kg/m³"),
        ("temperature", "15 °C"),
        ("temperature", "288 K"),
        ("resistance", "40 mΩ"),
        ("area", "26 AWG"),
        ("area", "awg28"),
        ("area", "0.14 mm²"),
        ("angular compliance", "2 deg/(N*m)"),
        ("speed", "1e1 m/s"),
    ],
)
def test_pattern_takes_what_flyers_write(kind, words):
    assert re.search(quantity_pattern(kind), words)


numbers = st.from_regex(r"\A[+-]?(\d{1,4}(\.\d{0,3})?|\.\d{1,3})([eE][+-]?\d)?\Z")
words = st.sampled_from(sorted(UNITS))
factors = st.tuples(
    words, st.sampled_from(["", "2", "^3", "²", "**2", "-2", "^-1", "**-3", "⁻¹", "−4"])
).map("".join)
units = st.one_of(
    words,
    factors,
    st.tuples(factors, st.sampled_from(["*", "·", " ", "-", "−", " × "]), factors).map("".join),
    st.tuples(factors, st.sampled_from(["/", " / "]), factors).map("".join),
    st.tuples(factors, factors, factors).map(lambda three: f"{three[0]}/({three[1]}*{three[2]})"),
    st.sampled_from(
        ["s/60deg", "ms/45 deg", "1/rad", "/deg", "", "%", "degF", "°C", "C", "°", "Ω"]
    ),
)
tolerances = st.sampled_from(["", " ± 1 %", "+/-0.1", "± 2 mm", " ± 3 % (normal, 2 s)"])


@given(number=numbers, gap=st.sampled_from(["", " "]), unit=units, tolerance=tolerances)
def test_pattern_never_refuses_what_the_reader_takes(number, gap, unit, tolerance):
    said = f"{number}{gap}{unit}{tolerance}"
    for kind in KINDS:
        try:
            parse("field", said, kind)
        except InputError:
            continue
        assert re.search(quantity_pattern(kind), said), kind


@given(name=st.text(max_size=130))
def test_pattern_of_names_never_refuses_what_the_reader_takes(name):
    described = linkcalc.Aircraft.name.spec
    try:
        described.reader(described, "name", name)
    except InputError:
        return
    schema = SCHEMA["properties"]["name"]
    assert jsonschema.Draft202012Validator(schema).is_valid(name)


NUMBERS = [
    (cls, item)
    for cls in (getattr(linkcalc, name) for name in linkcalc.__all__)
    if isinstance(cls, type) and issubclass(cls, ValueClass)
    for item in fields(cls)
    if item.spec.form == "number"
]


@pytest.mark.parametrize(
    ("cls", "item"), NUMBERS, ids=[f"{cls.__name__}.{item.name}" for cls, item in NUMBERS]
)
def test_bounds_of_a_number_are_those_that_the_reader_keeps(cls, item):
    described = item.spec
    key = jsonschema.Draft202012Validator(SCHEMA["$defs"][cls.__name__]["properties"][item.name])
    ends = described.least, described.most
    step = 1 if described.whole else 1e-9 * max(map(abs, ends))
    for value in (*ends, ends[0] - step, ends[1] + step, True, "1", 1.5):
        try:
            described.reader(described, item.name, value)
        except InputError:
            assert not key.is_valid(value), value
        else:
            assert key.is_valid(value), value


def test_every_key_says_what_it_is():
    tables = [SCHEMA, *(part for part in SCHEMA["$defs"].values() if part.get("type") == "object")]
    assert len(tables) > 15
    for table in tables:
        assert table["additionalProperties"] is False
        for name, key in table["properties"].items():
            assert key["description"].strip(), name


def test_every_quantity_gives_an_example_that_fits():
    quantities = [part for part in SCHEMA["$defs"].values() if part.get("type") == "string"]
    assert len(quantities) > 10
    for part in quantities:
        for example in part["examples"]:
            assert jsonschema.Draft202012Validator(part).is_valid(example)


@pytest.mark.parametrize("document", ["aircraft", "catalogue", *DOCUMENTS])
def test_command_prints_a_schema(document):
    command = [sys.executable, "-m", "linkcalc.cli", "schema", document]
    done = subprocess.run(command, capture_output=True, text=True, check=True, encoding="utf-8")
    printed = json.loads(done.stdout)
    jsonschema.Draft202012Validator.check_schema(printed)
    assert f"linkcalc.{document}/1" in printed["title"]
    if document == "aircraft":
        assert printed == SCHEMA
