"""The nomenclature holds every name that is used, and none that is not."""

import importlib.util
import json
import re
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.report import nomenclature as formulas
from linkcalc.report import terms
from linkcalc.report.document import document
from linkcalc.results import MODES
from linkcalc.solver_fields import (
    DIVE_FIELDS,
    STATION,
    STATION_FIELDS,
    SUPPLY_FIELDS,
    SURFACE_FIELDS,
)
from linkcalc.units import KINDS, state

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs/nomenclature.md").read_text(encoding="utf-8")
_SPEC = importlib.util.spec_from_file_location("parts_of_names", ROOT / "docs/page_parts.py")
page_parts = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(page_parts)

ROWS = page_parts.named()
KEYS = page_parts.quantity_keys()
STATIONS = {f"station_N_{name}": STATION_FIELDS[f"station_1_{name}"] for name in STATION}
FIELDS = SURFACE_FIELDS | SUPPLY_FIELDS | DIVE_FIELDS | STATIONS | {"stations": "1"}
IN_DEGREES = {"rad": "deg", "rad/s": "deg/s"}

# All that a report can tell occurs in one of these: chains and cables, dives, and a rich one here.
RICH = """
format = "linkcalc.aircraft/1"
name = "Ringed plover"

[supply]
voltage = "6.0 V"
internal_resistance = "40 mohm"
current_limit = "10 A"
inrush_multiple = 1.5
air_temperature = "30 degC"

[servos.tail]
time_constant = "60 s"
deadband = "4 us"
rows = [{ voltage = "5.0 V", stall_torque = "4 kg·cm", no_load_speed = "0.13 s/60deg", stall_current = "1.2 A" }]
maximum_voltage = "7.4 V"

[leads.tail]
gauge = "24 AWG"
length = "1 m"

[[cases]]
name = "gusts"
kind = "sustained"
speed = "15 m/s"
gust_speed = "2 m/s"

[[runs]]
name = "elevator"
servo = "tail"
lead = "tail"
arm = "8 mm"
horn = "13 mm"
surface = { span = "400 mm", chord = "40 mm", throw = "15 deg" }
"""


@pytest.fixture(scope="module")
def reports(tmp_path_factory):
    rich = tmp_path_factory.mktemp("rich") / "ringed_plover.toml"
    rich.write_text(RICH, encoding="utf-8")
    files = [ROOT / f"examples/dunlin_{name}.toml" for name in ("dive", "chains")] + [rich]
    return [linkcalc.check(file) for file in files]


@pytest.fixture(scope="module")
def told(reports):
    """Unit of every value that a report tells, by its name."""
    found = {}
    for report in reports:
        cases = [case for run in report.runs for case in run.cases] + list(report.aircraft_cases)
        for values in [report.whole, *(case.values for case in cases)]:
            found |= {name: value.unit for name, value in values.items()}
    return found


def column(name, separator=None):
    return [part.strip() for row in ROWS for part in row[name].split(separator) if part.strip()]


def test_every_quantity_has_one_row_and_every_row_a_use():
    names = column("quantity", ";")
    assert len(set(names)) == len(names)
    assert all(row["file"] or row["report"] or row["solver"] for row in ROWS)
    assert all(row["unit"] for row in ROWS)


def test_every_key_of_a_file_that_holds_a_quantity_is_named_once_and_none_else():
    assert sorted(column("file")) == sorted(KEYS)


def test_every_field_of_a_solver_is_named_once_and_none_else():
    # two fields with one meaning for several kinds of solver have one name
    assert sorted(column("solver")) == sorted(FIELDS)


def test_every_value_of_a_report_is_named_once_and_none_else(told):
    assert sorted(column("report", ";")) == sorted(told)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["quantity"])
def test_a_row_has_one_unit_everywhere(row, told):
    for key in row["file"].split():
        kind = KINDS.get(KEYS[key].spec.kind)  # none for a load factor
        unit = row["unit"]
        if unit == "1":
            assert kind is None or kind.name == "ratio" or KEYS[key].spec.form == "number", key
        else:
            word = {"C": "Ah", "rad/(N*m)": "rad/Nm"}.get(unit, unit)  # as files write them
            assert np.isfinite(state(key, f"1 {word}", kind.name).si), key
    for field in row["solver"].split():
        assert FIELDS[field] == row["unit"], field
    for name in filter(None, map(str.strip, row["report"].split(";"))):
        assert told[name] == IN_DEGREES.get(row["unit"], row["unit"]), name


def plain(name):
    return f" {' '.join(re.findall(r'[a-z0-9]+', name.lower()))} "


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["quantity"])
def test_a_quantity_has_one_name_or_a_reason_for_another(row):
    keys = [key.partition(".")[2] for key in row["file"].split()]
    values = [name for name in row["report"].split(";") if name.strip()]
    for name in (*keys, *row["solver"].split(), *values):
        same = plain(name) in plain(row["quantity"]) or plain(row["quantity"]) in plain(name)
        assert same or row["why"], name


def test_symbols_of_the_table_are_those_of_the_formulas():
    for row in ROWS:
        for name in filter(None, map(str.strip, row["report"].split(";"))):
            entry = formulas.entry_of(name)
            assert entry is not None, name
            assert entry.symbol == row["symbol"], name


def test_every_value_that_is_explained_is_told_and_has_words_and_a_formula(told):
    used = {formulas.explained_as(name) for name in told}
    assert set(formulas.VALUES) | set(formulas.AIRCRAFT) == used
    assert set(terms.VALUES) == set(formulas.VALUES)
    assert set(terms.AIRCRAFT) == set(formulas.AIRCRAFT)
    assert set(terms.MODES) == set(formulas.MODES) == set(MODES)


def keys_of(tree, *, named=False):
    """Keys of a document; those below `values` and `whole` are names of values."""
    if isinstance(tree, dict):
        for key, inner in tree.items():
            if not named:
                yield key
            yield from keys_of(inner, named=key in {"values", "whole", "factors"})
    elif isinstance(tree, list):
        for inner in tree:
            yield from keys_of(inner)


def test_every_key_of_the_json_document_is_on_the_page_and_none_else(reports):
    used = {key for report in reports for key in keys_of(json.loads(json.dumps(document(report))))}
    table = PAGE.partition("## The JSON document")[2].partition("\n## ")[0]
    cells = re.findall(r"^\| (`.*?`) \|", table, re.MULTILINE)
    assert {key for cell in cells for key in re.findall(r"`(\w+)`", cell)} == used


def test_every_key_that_holds_no_quantity_is_on_the_page():
    words = page_parts.other_keys()
    for table in page_parts.tables():
        for field in page_parts.fields(table.cls):
            key = f"{table.cls.__name__}.{field.name}"
            assert key in KEYS or f"`{field.name}`" in words, key


def test_labels_of_axes_are_names_of_the_table():
    names = [row["quantity"] for row in ROWS] + column("report", ";") + ["margin", "voltage drop"]
    found = []
    for path in (ROOT / "linkcalc/report").glob("*.py"):
        words = path.read_text(encoding="utf-8")
        found += re.findall(r'(?:_label=|_[xy]label\()f?"([^"\[]+) \[', words)
    assert len(found) >= 8
    for label in found:
        assert any(plain(name) in plain(label) or plain(label) in plain(name) for name in names), (
            label
        )


def test_no_side_is_left_or_right():
    for name in (*column("quantity", ";"), *KEYS, *column("report", ";")):
        assert not re.search(r"(?<![a-z])(left|right)(?![a-z])", name), name
