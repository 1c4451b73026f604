"""Every example runs as it stands and agrees with a number that was worked by hand.

The hand calculations are written out in the comments; no result of the program is in them.
"""

import math
import subprocess
import sys
from pathlib import Path

import pytest

import linkcalc

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
GRAVITY = 9.80665
AIRCRAFT = {
    "sandpiper": "short",
    "sandpiper_rewired": "pass",
    "avocet_vee_tail": "pass",
    "dunlin_chains": "pass",
    "tern_flying_wing": "pass",
    "dunlin_dive": "pass",
}


@pytest.fixture(scope="module")
def reports():
    return {name: linkcalc.check(EXAMPLES / f"{name}.toml") for name in AIRCRAFT}


def case_of(report, run, case):
    found = next(item for item in report.runs if item.name == run)
    return next(item for item in found.cases if item.name == case)


def value(report, run, case, name):
    return case_of(report, run, case).values[name].value


def test_every_aircraft_file_is_an_example_of_these_tests():
    assert {path.stem for path in EXAMPLES.glob("*.toml")} == set(AIRCRAFT)


@pytest.mark.parametrize("name", AIRCRAFT)
def test_example_has_the_verdict_that_it_is_there_to_show(name, reports):
    assert reports[name].verdict == AIRCRAFT[name]


@pytest.mark.parametrize("name", AIRCRAFT)
def test_example_says_that_it_is_invented_and_has_every_kind_of_case(name):
    path = EXAMPLES / f"{name}.toml"
    assert "An invented aircraft" in path.read_text(encoding="utf-8").splitlines()[0]
    kinds = {case.kind for case in linkcalc.read_aircraft(path).cases}
    assert {"manoeuvre", "dive", "sustained"} <= kinds
    assert "By hand:" in path.read_text(encoding="utf-8")


def test_the_stall_speed_of_the_dunlin_is_the_one_worked_by_hand(reports):
    # sqrt(2 x 2.4 kg x 9.80665 m/s^2 / (1.225 kg/m^3 x 0.42 m^2 x 1.15))
    by_hand = math.sqrt(2 * 2.4 * GRAVITY / (1.225 * 0.42 * 1.15))
    assert round(by_hand, 2) == 8.92  # as the file says
    assert reports["dunlin_dive"].whole["stall speed"].value == pytest.approx(by_hand, rel=1e-6)


def run(name, folder):
    command = [sys.executable, str(EXAMPLES / f"{name}.py")]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, encoding="utf-8", cwd=folder
    )
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.splitlines()


# sandpiper -----------------------------------------------------------------------------


def test_dynamic_pressure_of_the_turn(reports):
    # 90 km/h are 25 m/s; 1.225 kg/m^3 x 625 m^2/s^2 / 2 = 382.8 Pa.
    found = value(reports["sandpiper"], "rudder", "gust penetration turn", "dynamic pressure")
    assert found == pytest.approx(382.8, abs=0.05)


def test_force_that_a_jammed_outboard_aileron_puts_into_its_rod(reports):
    # 3.2 kg·cm at 6 V on an arm of 1.2 cm: 2.667 kgf, times 9.80665 m/s^2 are 26.15 N.
    found = value(reports["sandpiper"], "outboard aileron, port", "survey line", "jam force")
    assert found == pytest.approx(26.15, abs=0.005)


def test_sandpiper_falls_short_at_the_outboard_ailerons_alone(reports):
    short = {
        run.name
        for run in reports["sandpiper"].runs
        for case in run.cases
        for margin in case.margins
        if not margin.passes
    }
    assert short == {"outboard aileron, starboard", "outboard aileron, port"}


def test_rewired_outboard_aileron_reaches_what_its_holes_give(reports):
    # The servo stops at 45 degrees: 9 mm x sin 45 deg = 6.36 mm along the rod, and a horn of 15 mm
    # makes asin(6.36 / 15) = 25.1 degrees of it. The tilt of a rod of 110 mm is left out: under 1 %.
    margin = case_of(
        reports["sandpiper_rewired"], "outboard aileron, port", "gust penetration turn"
    ).margin("travel")
    by_hand = math.degrees(math.asin(9 * math.sin(math.radians(45)) / 15))
    assert margin.available.value == pytest.approx(by_hand, rel=0.01)
    assert margin.required.value == pytest.approx(22.0)


# dunlin -----------------------------------------------------------------------------------


def test_play_of_two_rods_over_a_bellcrank(reports):
    # 0.05 mm over 15 mm, and 0.05 mm over 14 mm times the 13/15 that the second rod makes of it.
    by_hand = 0.05 / 15 + 0.05 / 14 * 13 / 15
    margin = case_of(reports["dunlin_chains"], "aileron, starboard", "dive").margin("free play")
    assert margin.required.value == pytest.approx(math.degrees(by_hand), rel=1e-6)


def test_preloaded_cables_share_the_hinge_moment(reports):
    # 8 N, and half of M over 18 mm x cos 25 degrees. What the cables stretch, under a degree, is
    # left out: it moves the lever by less than 1 %, of the smaller part of the force.
    found = case_of(reports["dunlin_chains"], "rudder", "full throw").values
    lever = 0.018 * math.cos(math.radians(25))
    by_hand = 8 + abs(found["hinge moment"].value) / lever / 2
    assert found["rod force"].value == pytest.approx(by_hand, rel=5e-3)


def test_twist_of_the_elevators_torque_rod(reports):
    # l / (G J) with J = pi d^4 / 32, and b / (3 E I) of the bent end with I = J / 2.
    second = math.pi * 0.004**4 / 64
    by_hand = 0.060 / (79e9 * 2 * second) + 0.015 / (3 * 203e9 * second)
    notes = case_of(reports["dunlin_chains"], "elevator", "dive").notes
    assert any(f"{math.degrees(by_hand):.3g} deg/(N·m)" in note for note in notes)


# avocet ---------------------------------------------------------------------------------


def test_dive_asks_a_third_of_each_input_and_not_of_the_limited_sum(reports):
    # (14 + 12) / 3 = 8.667 degrees; a third of the limit of 22 would be 7.333.
    for side in ("starboard", "port"):
        margin = case_of(reports["avocet_vee_tail"], f"ruddervator, {side}", "dive").margin(
            "travel"
        )
        assert margin.required.value == pytest.approx(26 / 3, rel=1e-9)


def test_hinge_moment_of_the_starboard_ruddervator_at_full_pitch_and_yaw(reports):
    # Density at 1000 ft of the 1976 standard atmosphere: 1.1896 kg/m^3 (printed tables, five figures).
    pressure = 0.5 * 1.1896 * (55 * 1609.344 / 3600) ** 2  # 359.6 Pa
    area, chord = 15 * 2.2 * 0.0254**2, 2.2 * 0.0254
    # Incidence and sideslip of 10 degrees each on a panel with 35 degrees of dihedral:
    # 10 x cos 35 + 10 x sin 35 = 13.93 degrees. The limit of 22 degrees, down.
    incidence = 10 * math.cos(math.radians(35)) + 10 * math.sin(math.radians(35))
    coefficient = 1.2 * (-0.002 * incidence - 0.009 * 22)  # 1.2: the high end of the band
    air = pressure * area * chord * coefficient
    # 0.9 oz at 0.8 in, three times its weight, of which the panel's tilt and deflection leave
    # cos 35 x cos 22.
    weight = 3 * 0.9 * 0.45359237 / 16 * GRAVITY * 0.8 * 0.0254
    weight *= math.cos(math.radians(35)) * math.cos(math.radians(22))
    found = case_of(
        reports["avocet_vee_tail"], "ruddervator, starboard", "full pitch and yaw"
    ).values
    assert found["governing deflection"].value == pytest.approx(22.0, rel=1e-9)
    # Half a unit of the density's last figure is 4e-5 of it.
    assert found["hinge moment"].value == pytest.approx(air + weight, rel=1e-4)


def test_pull_out_asks_for_half_of_the_pitch_and_for_no_yaw(reports):
    for side in ("starboard", "port"):
        margin = case_of(reports["avocet_vee_tail"], f"ruddervator, {side}", "pull-out").margin(
            "travel"
        )
        assert margin.required.value == pytest.approx(7.0, rel=1e-9)


def test_one_flap_servo_alone_bears_what_two_share_with_the_factor_of_mismatch(reports):
    # Alone all of the load, one of two half of it times 1.2: required / 0.6 at the same air. The
    # two cases differ in speed only: 55 and 40 mph, at 1000 ft and at sea level, where the
    # density is 1.1896 and 1.2250 kg/m^3. Weight and friction make it no more than an estimate.
    both, alone = (
        case_of(reports["avocet_vee_tail"], "flap", name).margin("torque").required.value
        for name in ("full pitch and yaw", "approach with one flap servo dead")
    )
    air = (40 / 55) ** 2 * 1.2250 / 1.1896
    assert alone / both == pytest.approx(air / 0.6, rel=0.1)


# tern -----------------------------------------------------------------------------------


def test_force_that_a_jammed_elevon_puts_into_its_rod(reports):
    # At 5.5 V between the rows: 31 + (5.5 - 4.8) / 1.2 x 7 = 35.08 N·cm, on 0.8 cm 43.85 N.
    found = value(reports["tern_flying_wing"], "elevon, port", "dive", "jam force")
    assert found == pytest.approx(43.85, abs=0.01)


@pytest.mark.parametrize(
    ("case", "up", "down"),
    [
        ("pull and roll", 20, 18),  # 14 + 10 up, limited to 20; 8 + 10 down
        ("dive", 8, 6),  # a third of 24 and of 18
        ("gusty leg", 16, 12),  # two thirds: 33 m/s is midway between 24 and 42 m/s
        ("photo line", 4.8, 3.6),  # a fifth
    ],
)
def test_elevons_are_asked_for_the_worst_sum_of_pitch_and_roll(case, up, down, reports):
    for side in ("starboard", "port"):
        found = case_of(reports["tern_flying_wing"], f"elevon, {side}", case)
        # The rate that is wanted is the range from end to end in half a second.
        assert found.margin("speed").required.value == pytest.approx((up + down) / 0.5, rel=1e-9)
        assert abs(found.values["governing deflection"].value) == pytest.approx(up, rel=1e-9)


def test_heat_of_the_regulator_is_its_drop_times_its_current(reports):
    report = reports["tern_flying_wing"]
    # 8.4 V in and 5.5 V out: 2.9 V.
    for case in report.aircraft_cases:
        current = case.values["source current at work"].value
        heat = case_of(report, "trim tabs", case.name).margin("source heat").required.value
        assert heat == pytest.approx(2.9 * current, rel=1e-9)


def test_trim_tabs_follow_the_servo_one_as_it_turns_the_other_against_it(reports):
    # Parallelograms of 8 mm: what the servo's 45 degrees reach is 45 degrees of tab.
    margin = case_of(reports["tern_flying_wing"], "trim tabs", "dive").margin("travel")
    assert margin.available.value == pytest.approx(45.0, abs=0.05)


# scripts ---------------------------------------------------------------------------------


def test_sizing_a_servo_agrees_with_the_calculation_in_its_docstring(tmp_path):
    lines = run("size_a_servo", tmp_path)
    # q = 1.225 x 30^2 / 2 = 551.25 Pa; M = 551.25 x 0.4 x 0.04 x 0.04 x 0.9 x 15 deg; a
    # parallelogram with 0.9 of efficiency. The lead is none, the source stiff: 6 V arrive.
    moment = 551.25 * 0.4 * 0.04 * 0.04 * 0.9 * math.radians(15)
    needed = moment / 0.9 * 1.25 * 1.2 / (GRAVITY * 0.01)  # kg·cm on the datasheet: 1.41
    expected = [f"{size}: torque margin {float(size.split()[0]) / needed - 1:+.2f}" for size in
                ("1.3 kg·cm", "1.6 kg·cm", "2.0 kg·cm")]  # fmt: skip
    assert lines == expected


def test_looping_over_speeds_shows_the_square_of_the_speed(tmp_path):
    lines = run("loop_over_speeds", tmp_path)
    margin = {int(line.split()[0]): float(line.split()[2]) for line in lines}
    assert list(margin) == [40, 60, 80, 100]
    assert sorted(margin.values(), reverse=True) == list(margin.values())
    # Twice the speed, four times the air load; weight and voltage make it no more than an estimate.
    assert (margin[80] + 1) / (margin[40] + 1) == pytest.approx(1 / 4, abs=0.05)


def test_property_test_of_a_linkage_passes(tmp_path):
    assert run("property_test_linkage", tmp_path) == ["both properties hold"]
