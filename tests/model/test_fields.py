"""Value classes: what a field takes, keeps and hands out."""

import math

import attrs
import numpy as np
import pint
import pytest

import linkcalc
from linkcalc.errors import InputError, UnitError
from linkcalc.model import fields

CLASSES = [
    value
    for value in (getattr(linkcalc, name) for name in linkcalc.__all__)
    if isinstance(value, type) and attrs.has(value)
]


def arm(**changes):
    return linkcalc.ServoArm(**({"radius": "12 mm"} | changes))


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: cls.__name__)
def test_every_class_is_frozen_keyword_only_and_says_what_its_fields_hold(cls):
    assert cls.__slots__ is not None
    for attribute in attrs.fields(cls):
        assert attribute.kw_only
        held = fields.spec(attribute)
        assert held.doc.endswith(".")
        if attribute.default is not attrs.NOTHING:
            assert held.default, attribute.name  # a default is told in words
    with pytest.raises(TypeError):
        cls("positional")


def test_a_value_cannot_be_changed_afterwards():
    made = arm()
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        made.radius = "13 mm"
    with pytest.raises((AttributeError, TypeError)):
        made.colour = "red"


def test_a_quantity_is_handed_out_in_the_unit_it_was_given_in():
    assert arm(radius="0.5 in").radius.magnitude == 0.5
    assert fields.stated(arm(radius="0.5 in"), "radius").si == 0.0127
    assert arm().lean is None


def test_the_class_itself_can_be_asked_for_a_field():
    assert linkcalc.ServoArm.radius is not None


def test_values_of_one_size_and_unit_are_equal_and_may_be_keys():
    assert arm() == arm()
    assert hash(arm()) == hash(arm())
    assert arm() != arm(radius="13 mm")


def test_an_error_names_the_field():
    with pytest.raises(UnitError, match=r"^radius: found 12; expected a length such as '12 mm'"):
        arm(radius=12)
    with pytest.raises(UnitError, match=r"^vector\[1\]: found 2; "):
        arm(radius=None, pivot=["0 m"] * 3, axis=[0, 1, 0], vector=["1 mm", 2, "3 mm"])


def test_an_array_is_refused_where_one_value_is_due():
    with pytest.raises(UnitError, match=r"^radius: found an array"):
        arm(radius=pint.Quantity(np.array([1.0, 2.0]), "mm"))


def test_a_component_that_is_zero_but_for_rounding_is_taken():
    # 12 mm at a right angle, as anybody computes it: the cosine is 6e-17.
    angle = math.radians(90)
    vector = [f"{12 * math.cos(angle)!r} mm", "0 mm", f"{12 * math.sin(angle)!r} mm"]
    made = arm(radius=None, pivot=["0 m"] * 3, axis=[0, 1, 0], vector=vector)
    assert made.vector == pytest.approx((0.0, 0.0, 0.012), abs=1e-15)


@pytest.mark.parametrize(
    "value", ["12 mm", "xyz", 3, None, b"abc", {"a": 1, "b": 2, "c": 3}, ["1 mm"]]
)
def test_a_vector_needs_a_list_of_three(value):
    with pytest.raises(InputError, match=r"^pivot: |^radius: |^pivot"):
        linkcalc.ServoArm(pivot=value, axis=[0, 1, 0], vector=["0 m", "0 m", "1 mm"])


def test_a_vector_may_be_an_array_quantity_or_an_array_of_ratios():
    vector = pint.Quantity(np.array([0.0, 0.0, 12.0]), "mm")
    made = linkcalc.ServoArm(pivot=["0 m"] * 3, axis=np.array([0.0, 1.0, 0.0]), vector=vector)
    assert made.vector == (0.0, 0.0, 0.012)
    assert made.axis == (0.0, 1.0, 0.0)


@pytest.mark.parametrize("value", [0.5, "1", True, math.nan, math.inf, 10**400, -1, 101])
def test_a_count_is_a_whole_number_within_its_bounds(value):
    with pytest.raises(InputError, match=r"^contacts: "):
        linkcalc.Lead(name="l", loop_resistance="1 ohm", contacts=value)


@pytest.mark.parametrize(
    "value", ["", " ", "a\nb", "a\x1b[2J", "a\u202eb", "x" * 121, 1, None, b"a"]
)
def test_a_name_is_short_and_printable(value):
    with pytest.raises(InputError, match=r"^name: "):
        linkcalc.Lead(name=value, loop_resistance="1 ohm")


def test_a_part_is_built_with_its_class():
    with pytest.raises(InputError, match=r"supply: .*linkcalc\.Supply\("):
        linkcalc.Aircraft(name="a", supply={"voltage": "6 V"}, cases=[], runs=[])
    with pytest.raises(InputError, match=r"rows: .*at least 1 DatasheetRow"):
        linkcalc.Servo(name="s", rows=[])
