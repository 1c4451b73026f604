"""Values of the model written anew: nothing changes but what is meant to."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import linkcalc
from linkcalc.errors import InputError
from linkcalc.files import read_aircraft
from linkcalc.model.value_classes import ValueClass, fields, stated
from linkcalc.study.rewriting import evolved, scaled, tidied, times, words
from linkcalc.units import parse

SPATIAL = linkcalc.ServoArm(
    pivot=["10 mm", "20 mm", "30 mm"], axis=[0, 1, 0], vector=["1 mm", "0 mm", "0.4 in"]
)


def held(owner):
    """Return everything that a value of the model keeps, as it keeps it."""
    if isinstance(owner, tuple) and not hasattr(owner, "_fields"):
        return [held(item) for item in owner]
    if not isinstance(owner, ValueClass):
        return owner
    return {
        item.name: stated(owner, item.name)
        if item.spec.form == "quantity"
        else held(getattr(owner, item.name))
        for item in fields(type(owner))
    }


@pytest.mark.parametrize("name", ["sandpiper", "avocet_vee_tail", "tern_flying_wing"])
def test_a_value_without_changes_is_kept_to_the_last_bit(name):
    aircraft = read_aircraft(f"examples/{name}.toml")
    assert held(evolved(aircraft)) == held(aircraft)
    for part in (*aircraft.runs, *aircraft.cases, aircraft.supply, aircraft.receiver):
        assert held(evolved(part)) == held(part)


def test_a_layout_in_space_is_kept_and_its_components_take_plain_metres():
    assert held(evolved(SPATIAL)) == held(SPATIAL)
    longer = evolved(SPATIAL, vector=tuple(2 * item for item in SPATIAL.vector))
    assert longer.vector == pytest.approx((0.002, 0.0, 0.02032), rel=1e-12)
    assert longer.pivot == SPATIAL.pivot
    assert longer.axis == SPATIAL.axis


def test_a_wire_keeps_its_gauge_number():
    lead = evolved(linkcalc.Lead(name="a", gauge="26 AWG", length="0.5 m"), length="0.9 m")
    assert stated(lead, "gauge").text.startswith("26 AWG")
    assert stated(lead, "length").si == 0.9


def test_the_rules_of_the_model_still_hold():
    with pytest.raises(InputError, match="radius"):
        evolved(linkcalc.ServoArm(radius="12 mm"), radius="0 mm")


@pytest.mark.parametrize(
    ("text", "kind", "factor", "wanted"),
    [
        ("12 mm", "length", 0.86, "10.32 mm"),
        ("0.4 in", "length", 0.5, "0.2 in"),
        ("3.2 kg·cm", "torque", 2.5, "8 kg·cm"),
        ("12mm ± 0.3 mm", "length", 0.75, "9 mm"),
        ("12 mm +/- 0.3 mm", "length", 0.75, "9 mm"),
        ("0.12 s/60deg", "angular rate", 2.0, "1000 deg/s"),
        ("1.5e1 mm", "length", 2.0, "30 mm"),
        ("60deg", "angle", 0.5, "30 deg"),
    ],
)
def test_a_quantity_is_scaled_in_the_unit_in_which_it_was_stated(text, kind, factor, wanted):
    before = parse("x", text, kind)
    after = scaled(before, factor)
    assert after.text == wanted
    assert after.si == pytest.approx(before.si * factor, rel=1e-12)
    assert after.si == pytest.approx(parse("x", wanted, kind).si, rel=1e-12)
    assert after.tolerance == pytest.approx(before.tolerance * factor)


def test_a_pint_quantity_is_scaled_in_its_own_unit():
    pint = pytest.importorskip("pint")
    arm = linkcalc.ServoArm(radius=pint.application_registry.get().Quantity(12.0, "mm"))
    assert scaled(stated(arm, "radius"), 0.75).text == "9 mm"


@given(number=st.floats(0.01, 5000), factor=st.floats(0.05, 20).filter(lambda x: abs(x - 1) > 1e-6))
def test_what_is_told_is_what_is_evaluated(number, factor):
    before = parse("x", f"{number:.4g} mm", "length")
    after = scaled(before, factor)
    assert parse("x", after.text, "length").si == pytest.approx(after.si, rel=1e-14)
    wrong = abs(after.si - before.si * factor)
    assert wrong <= 0.01 * abs(factor - 1) * before.si


@given(
    number=st.floats(0.01, 5000) | st.floats(-90, -0.01),
    factor=st.floats(0.05, 20).filter(lambda x: abs(x - 1) > 1e-6),
)
def test_rounding_goes_away_from_no_change_and_not_far(number, factor):
    rounded = tidied(number, factor)
    assert abs(rounded - 1) >= abs(factor - 1) * (1 - 1e-9)
    assert abs(rounded - 1) <= 1.0101 * abs(factor - 1)
    assert (rounded - 1) * (factor - 1) > 0
    third = 10.0 ** (math.floor(math.log10(abs(number * factor - number))) - 2)
    assert number * rounded / third == pytest.approx(round(number * rounded / third), abs=1e-3)


@given(number=st.floats(0.01, 5000), factor=st.floats(0.05, 20).filter(lambda x: abs(x - 1) > 1e-6))
def test_a_rounded_number_is_told_without_further_rounding(number, factor):
    before = parse("x", f"{number:.4g} mm", "length")
    rounded = tidied(before.number, factor)
    assert scaled(before, rounded).si == pytest.approx(before.si * rounded, rel=1e-9)


def test_equal_words_are_told_once():
    texts = ["20 deg", "10 deg", "20 deg"]
    assert words([parse("throw", text, "angle") for text in texts], 1.0) == "20 deg, 10 deg"


def test_zero_stays_zero():
    assert scaled(parse("throw", "0 deg", "angle"), 0.5).text == "0 deg"
    assert times(parse("throw", "0 deg", "angle"), 0.5).si == 0
