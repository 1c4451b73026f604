"""Paths into an aircraft: what they name, and what they cannot."""

from pathlib import Path

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.study.paths import placed, spec_at

GLIDER = Path(__file__).parents[2] / "examples/sandpiper.toml"


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(GLIDER)


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("supply.voltage", "voltage"),
        ("cases[0].speed", "speed"),
        ("runs[0].arm", "length"),  # short for the radius of the arm of its first linkage
        ("runs[0].linkages[0].arm.radius", "length"),
        ("leads.tail.length", "length"),
    ],
)
def test_a_path_to_a_quantity_tells_its_kind(glider, path, kind):
    assert spec_at(glider, path).kind == kind


@pytest.mark.parametrize("path", ["supply.colour", "supply.voltage.more", "leads.none.length"])
def test_a_path_to_nothing_has_no_field(glider, path):
    assert spec_at(glider, path) is None


def test_a_path_to_a_whole_part_is_a_field_of_parts(glider):
    assert spec_at(glider, "runs[0]").form == "parts"


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("supply.colour", "no field 'colour'"),
        ("supply.voltage.more", "nothing inside"),
        ("supply.battery.cells", "a part that the file has"),
    ],
)
def test_a_value_cannot_be_put_where_there_is_no_place(glider, path, words):
    with pytest.raises(InputError, match=words):
        placed(glider, path, "6 V")
