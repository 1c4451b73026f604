"""What an aircraft file says of airframe and dive, and every way in which that can be wrong."""

import re

import pytest

import linkcalc
from linkcalc.schema import aircraft_schema
from tests.diving.described import written


def test_the_file_of_these_tests_can_be_read(tmp_path):
    frame = linkcalc.read_aircraft(written(tmp_path)).airframe
    assert frame.elevator.run == "elevator"
    assert [part.name for part in frame.drag.parts] == ["wing and tail", "fuselage", "antenna"]


WRONG = {
    "dive angle of zero": ('preset = "stall"', 'dive_angle = "0 deg"', "dive_angle"),
    "dive angle beyond 90 deg": ('preset = "stall"', 'dive_angle = "91 deg"', "dive_angle"),
    "no dive angle": ('preset = "stall"', "", "dive_angle"),
    "preset that is none": ('preset = "stall"', 'preset = "loop"', "preset"),
    "start below ground": ('start_height = "150 m"', 'start_height = "-5 m"', "start_height"),
    "start on the ground": ('start_height = "150 m"', 'start_height = "0 m"', "start_height"),
    "start above the table of the air": (
        'start_height = "150 m"',
        'start_height = "21 km"',
        "field_altitude",
    ),
    "mass of zero": ('mass = "2.1 kg"', 'mass = "0 kg"', "airframe.mass"),
    "delay below zero": ('preset = "stall"', 'preset = "stall"\ndelay = "-1 s"', "delay"),
    "entry of another kind": ('kind = "dive"', 'kind = "manoeuvre"', "kind"),
    "air of two minds": ('kind = "dive"', 'kind = "dive"\naltitude = "300 m"', "altitude"),
    "elevator that is no run": ('run = "elevator"', 'run = "canard"', "airframe.elevator.run"),
    "elevator that works with itself": (
        'run = "elevator"',
        'run = "elevator"\nother_run = "elevator"',
        "airframe.elevator.other_run",
    ),
    "elevator without a tail": ('tail_arm = "0.75 m"', "", "airframe.elevator.tail_arm"),
    "elevator with two powers": (
        "static_margin = 0.12",
        'static_margin = 0.12\nload_factor_slope = "0.5 1/deg"',
        "airframe.elevator",
    ),
    "unstable aircraft": ("static_margin = 0.12", "static_margin = -0.02", "static_margin"),
    "no trim": ('cruise_speed = "15 m/s"', "", "airframe.elevator.trim_speed"),
    "cruise below the stall": (
        'cruise_speed = "15 m/s"',
        'cruise_speed = "8 m/s"\nstall_speed = "9 m/s"',
        "cruise_speed",
    ),
    "no airframe": (re.compile(r"\[airframe\].*?(?=\[\[cases\]\])", re.DOTALL), "", "entry"),
    "unknown solver": ('mass = "2.1 kg"', 'mass = "2.1 kg"\nsolver = "abacus"', "airframe.solver"),
    "unknown hinge-moment solver": (
        'throw = "18 deg"',
        'throw = "18 deg", solver = "abacus"',
        "surface.solver",
    ),
    "part with two areas": (
        "drag_coefficient = 1.2",
        'drag_coefficient = 1.2\nwetted_area = "0.1 m^2"',
        "antenna",
    ),
    "part without a length": ('length = "180 mm"', "", "length"),
    "wing that is a body": (
        "thickness_ratio = 0.09",
        "thickness_ratio = 0.09\nfineness_ratio = 9",
        "fineness_ratio",
    ),
    "propeller without a pitch": (
        "[airframe.drag]",
        '[airframe.propeller]\nstate = "windmilling"\ndiameter = "0.3 m"\n[airframe.drag]',
        "airframe.propeller.pitch",
    ),
    "too fast a start": (
        'preset = "stall"',
        'preset = "stall"\nstart_speed = "250 m/s"',
        "entry.start_speed",
    ),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_told_at_its_place(what, tmp_path):
    old, new, place = WRONG[what]
    with pytest.raises(linkcalc.InputFaults) as caught:
        linkcalc.check(written(tmp_path, (old, new)))
    assert any(place in fault.place for fault in caught.value.faults), caught.value
    assert all(fault.expected and fault.remedy for fault in caught.value.faults)


POLARS = {
    "drag below zero": ([(0.0, 0.02), (0.5, -0.01)], "drag"),
    "lift that does not ascend": ([(0.0, 0.02), (0.5, 0.03), (0.4, 0.04)], "polar"),
    "lift given twice": ([(0.0, 0.02), (0.0, 0.03)], "polar"),
    "a single point": ([(0.0, 0.02)], "polar"),
}


@pytest.mark.parametrize("what", POLARS)
def test_a_polar_that_is_none_is_refused(what, tmp_path):
    points, place = POLARS[what]
    rows = ", ".join(f"{{ lift = {lift}, drag = {drag} }}" for lift, drag in points)
    drag = re.compile(r"\[airframe\.drag\].*?(?=\[\[cases\]\])", re.DOTALL)
    with pytest.raises(linkcalc.InputFaults) as caught:
        linkcalc.check(written(tmp_path, (drag, f"[airframe.drag]\npolar = [{rows}]\n\n")))
    assert any(place in fault.place for fault in caught.value.faults), caught.value


def test_a_dive_beyond_mach_07_is_refused(tmp_path):
    changes = (
        ('preset = "stall"', 'dive_angle = "90 deg"\nstart_speed = "200 m/s"\ndrop = "14 km"'),
        ('start_height = "150 m"', 'start_height = "19 km"'),
        ('mass = "2.1 kg"', 'mass = "21 kg"'),
    )
    with pytest.raises(linkcalc.InputFaults, match=r"Mach 0\.7") as caught:
        linkcalc.check(written(tmp_path, *changes))
    assert caught.value.faults[0].place.endswith(".entry")


def test_every_key_is_in_the_schema():
    words = str(aircraft_schema())
    assert all(
        name in words for name in ("limit_load_factor", "other_run", "fineness_ratio", "preset")
    )
