"""From the model to a dive solver's fields, against arithmetic done here."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc.diving.fields import dive_fields, stall_speed, zero_lift_drag
from linkcalc.diving.following import follow
from linkcalc.solver_fields import DIVE_FIELDS
from tests.diving.described import written

GRAVITY, SEA_LEVEL = 9.80665, 1.225  # U.S. Standard Atmosphere 1976


def read(folder, *changes):
    return linkcalc.read_aircraft(written(folder, *changes))


def fields(aircraft):
    notes = []
    return dive_fields(aircraft.airframe, aircraft.cases[0].entry, notes), notes


def test_every_field_of_a_dive_is_there(tmp_path):
    found, _ = fields(read(tmp_path))
    assert found.keys() == DIVE_FIELDS.keys()


def test_the_stall_speed_is_where_the_greatest_lift_carries_the_weight(tmp_path):
    speed = stall_speed(read(tmp_path).airframe)
    assert 0.5 * SEA_LEVEL * speed**2 * 0.38 * 1.1 == pytest.approx(2.1 * GRAVITY, rel=1e-6)


def test_a_stall_speed_that_is_given_grows_with_height(tmp_path):
    frame = read(
        tmp_path, ('cruise_speed = "15 m/s"', 'cruise_speed = "15 m/s"\nstall_speed = "9 m/s"')
    ).airframe
    # tests/reference/atmosphere.csv, row 07: 1.11166 kg/m^3 at 1000 m
    found = stall_speed(frame, altitude=1000.0)
    assert found == pytest.approx(9 * math.sqrt(1.225 / 1.11166), rel=2e-4)


def test_friction_is_taken_at_the_terminal_speed_straight_down(tmp_path):
    frame, notes = read(tmp_path).airframe, []
    found = zero_lift_drag(frame, altitude=0.0, notes=notes)
    speed = math.sqrt(2 * 2.1 * GRAVITY / (SEA_LEVEL * 0.38 * found))
    friction = [0.455 / math.log10(speed * length / 1.4607e-5) ** 2.58 for length in (0.18, 1.1)]
    wing = friction[0] * (1 + 2 * 0.09 + 60 * 0.09**4) * 0.90
    body = friction[1] * (1 + 1.5 / 11**1.5 + 7 / 11**3) * 0.25
    assert found == pytest.approx(1.1 * (wing + body + 1.2 * 2e-4) / 0.38, rel=1e-4)


def test_the_trim_is_level_flight_at_the_cruise_speed(tmp_path):
    found, notes = fields(read(tmp_path))
    assert found["trim_dynamic_pressure"] == pytest.approx(0.5 * SEA_LEVEL * 15**2)
    assert found["trim_deflection"] == pytest.approx(math.radians(-1))
    assert any("trim speed not given" in note for note in notes)


def test_a_stopped_propeller_has_the_area_of_its_blades(tmp_path):
    table = '[airframe.propeller]\nstate = "stopped"\ndiameter = "300 mm"\nsolidity = 0.1\n\n[airframe.drag]'
    found, _ = fields(read(tmp_path, ("[airframe.drag]", table)))
    # Raymer, ch. 12 (from memory): 0.8 of the blades' area
    assert found["propeller_drag_area"] == pytest.approx(0.8 * 0.1 * math.pi * 0.15**2)


def test_what_the_file_gives_takes_the_place_of_the_preset(tmp_path):
    words = 'preset = "spin exit"\ndive_angle = "60 deg"\ndelay = "0.2 s"\nstart_speed = "19 m/s"'
    found, notes = fields(read(tmp_path, ('preset = "stall"', words)))
    assert found["dive_angle"] == pytest.approx(math.pi / 3)
    assert (found["delay"], found["start_speed"]) == (pytest.approx(0.2), pytest.approx(19))
    assert not any("entry" in note for note in notes)


@pytest.mark.parametrize(
    ("preset", "ratio", "angle", "delay"),
    [("stall", 1.0, 45, 1.0), ("spin exit", 1.2, 75, 0.5), ("missed pull-out", math.nan, 60, 2.0)],
)
def test_presets_say_that_they_are_common_practice(preset, ratio, angle, delay, tmp_path):
    aircraft = read(tmp_path, ('preset = "stall"', f'preset = "{preset}"'))
    found, notes = fields(aircraft)
    speed = ratio * stall_speed(aircraft.airframe, altitude=150.0)
    assert found["start_speed"] == pytest.approx(speed, nan_ok=True)
    assert found["dive_angle"] == pytest.approx(math.radians(angle))
    assert found["delay"] == pytest.approx(delay)
    assert any(repr(preset) in note and "common practice, no source" in note for note in notes)


def test_of_two_halves_the_lesser_reach_counts(tmp_path):
    weak = '\n[servos.weak]\nrows = [{ voltage = "6.0 V", stall_torque = "0.3 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "0.5 A" }]\n\n[airframe]'
    other = '[[runs]]\nname = "half"\nservo = "weak"\narm = "10 mm"\nhorn = "11 mm"\nsurface = { span = "480 mm", chord = "42 mm", chord_ratio = 0.35, throw = "18 deg" }\n\n[[runs]]'
    changes = (("[airframe]", weak.strip("\n")), ("[[runs]]", other))
    pressure = np.array([200.0, 800.0, 2000.0])
    (alone,) = follow(read(tmp_path, *changes, ('run = "elevator"', 'run = "half"')))
    (both,) = follow(
        read(tmp_path, *changes, ('run = "elevator"', 'run = "elevator"\nother_run = "half"'))
    )
    assert np.array(both.reach(pressure)) == pytest.approx(np.array(alone.reach(pressure)))
    assert both.reach(pressure)[0][-1] > -math.radians(17)
