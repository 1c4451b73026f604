"""Strategies for aircraft: what they draw can be checked."""

import math

import pytest
from hypothesis import HealthCheck, find, given, settings
from hypothesis.errors import InvalidArgument

import linkcalc
from linkcalc.testing.aircraft import aircraft, leads, quantities, runs, servos, surfaces
from linkcalc.units import si

few = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
some = settings(max_examples=40, deadline=None)


@few
@given(aircraft())
def test_aircraft_can_be_checked(drawn):
    report = linkcalc.check(drawn)
    assert report.verdict in {"pass", "short"}
    assert len(report.runs) == len(drawn.runs)


@few
@given(runs(chained=True))
def test_chains_of_stages_are_drawn_where_they_are_asked_for(run):
    assert run.linkages[0].stages
    assert run.linkages[0].arm is None


@some
@given(quantities("torque", 0.1, 2.0))
def test_quantity_is_read_back_within_its_ends(text):
    assert 0.1 * 0.999 < si("it", text, "torque") < 2.0 * 1.001


@some
@given(servos())
def test_servo_is_stronger_and_faster_at_every_higher_row(servo):
    rows = servo.rows
    for name in ("voltage", "stall_torque", "no_load_speed", "stall_current"):
        values = [getattr(row, name).to_base_units().m for row in rows]
        assert values == sorted(values)


@some
@given(leads(longest=1.0), surfaces(), runs())
def test_parts_are_within_their_ends(lead, surface, run):
    assert 0.0 < si("it", lead.length, "length") <= 1.001
    assert 0.0 < si("it", surface.throw, "angle") < math.pi / 2
    assert len(run.linkages) == 1


def test_units_of_a_kind_are_all_drawn():
    quiet = settings(max_examples=200, deadline=None, database=None)
    for unit in ("mm", "in"):
        found = find(
            quantities("length", 0.01, 0.1), lambda text, u=unit: text.endswith(u), settings=quiet
        )
        assert found.endswith(unit)


@pytest.mark.parametrize(
    "wrong", [("width", 0.0, 1.0), ("length", 1.0, 0.5), ("mass", 0, math.inf)]
)
def test_knobs_out_of_range_are_refused(wrong):
    with pytest.raises(InvalidArgument):
        quantities(*wrong)
