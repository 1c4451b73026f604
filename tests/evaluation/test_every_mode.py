"""Every mode and every limit of speed of one plain run, against sums that fit on a card.

Arm and horn are equal and square to the rod, so the surface turns as the servo does
(slope 1, lever = horn). Coefficients are given and linear, there is one lead of known
resistance, and one servo with one row: every answer has a closed form, written out below
with numbers of its own. Nothing of the package is used on the right-hand sides.
"""

from __future__ import annotations

from math import cos, degrees, log, pi, radians, sqrt

import pytest

import linkcalc

RHO = 1.2
SPAN, CHORD = 0.5, 0.06
AREA = SPAN * CHORD
C_DELTA = 0.8  # magnitude, per radian
THROW = radians(20)
HORN = 0.015
STALL, SPEED, STALL_CURRENT, FREE_CURRENT = 0.5, 8.0, 2.0, 0.2  # at 6 V
SOURCE, LOOP, RECEIVER = 6.0, 0.5, 0.1
ETA = 0.8
TORQUE, DATASHEET = 1.25, 1.2


def aircraft(  # noqa: PLR0917 - a part each
    case=None, run=None, linkage=None, pushrod=None, servo=None, supply=None, factors=None
):
    surface = linkcalc.ControlSurface(
        span="500 mm",
        chord="60 mm",
        throw="20 deg",
        coefficients=linkcalc.HingeMomentCoefficients(C_h_alpha="0 1/rad", C_h_delta="-0.8 1/rad"),
    )
    made = linkcalc.Linkage(
        surface=surface,
        arm=linkcalc.ServoArm(radius="15 mm"),
        horn=linkcalc.ControlHorn(radius="15 mm"),
        pushrod=linkcalc.Pushrod(**({"length": "200 mm", "diameter": "2 mm"} | (pushrod or {}))),
        **(linkage or {}),
    )
    row = linkcalc.DatasheetRow(
        voltage="6 V",
        stall_torque="0.5 N·m",
        no_load_speed="8 rad/s",
        stall_current="2 A",
        no_load_current="0.2 A",
    )
    control_run = linkcalc.ControlRun(
        name="elevator",
        servo=linkcalc.Servo(name="plain", rows=[row], **(servo or {})),
        lead=linkcalc.Lead(name="lead", loop_resistance="0.5 ohm"),
        linkages=[made],
        efficiency=ETA,
        **(run or {}),
    )
    return linkcalc.Aircraft(
        name="card",
        supply=linkcalc.Supply(
            **(
                {"voltage": "6 V", "internal_resistance": "0 ohm", "current_limit": "5 A"}
                | (supply or {})
            )
        ),
        cases=[
            linkcalc.FlightCase(
                **(
                    {
                        "name": "case",
                        "kind": "manoeuvre",
                        "speed": "30 m/s",
                        "density": "1.2 kg/m^3",
                    }
                    | (case or {})
                )
            )
        ],
        runs=[control_run],
        factors=linkcalc.SafetyFactors(**(factors or {})),
    )


def checked(**parts):
    return linkcalc.check(aircraft(**parts)).runs[0].cases[0]


def pressure(speed=30.0):
    return RHO * speed**2 / 2


def moment(deflection=THROW, speed=30.0):
    return pressure(speed) * AREA * CHORD * C_DELTA * deflection


def volts_at(current):
    return SOURCE - LOOP * current


# At its limit the servo draws I_s = 2 V/6, so V* = 6 - 0.5 * 2 V*/6.
V_LIMIT = SOURCE / (1 + LOOP * STALL_CURRENT / 6)
AVAILABLE = STALL * V_LIMIT / 6 / DATASHEET


def at_work(torque):
    """Solve V = 6 - 0.5 I, I = I_0 + (I_s - I_0) T/T_s: with all columns in proportion to V,
    I = 0.2 V/6 + 1.8/6 V * T / (0.5/1.2 * V/6) = V/30 + 4.32 T."""
    slope = (STALL_CURRENT - FREE_CURRENT) * DATASHEET / STALL
    return (SOURCE - LOOP * slope * torque) / (1 + LOOP * FREE_CURRENT / 6)


MOVE = moment() / ETA


def test_torque():
    margin = checked().margin("torque")
    assert margin.required.value == pytest.approx(MOVE, rel=1e-6)
    assert margin.available.value == pytest.approx(AVAILABLE, rel=1e-9)
    assert margin.margin == pytest.approx(AVAILABLE / (MOVE * TORQUE) - 1, rel=1e-6)
    assert margin.plain == pytest.approx(AVAILABLE * DATASHEET / MOVE - 1, rel=1e-6)


def test_speed_is_the_least_rate_over_the_range_against_half_a_second():
    margin = checked().margin("speed")
    volts = at_work(MOVE)
    rate = SPEED * volts / 6 * (1 - MOVE / (STALL * volts / 6 / DATASHEET))
    assert margin.required.value == pytest.approx(degrees(2 * THROW / 0.5), rel=1e-9)
    assert margin.available.value == pytest.approx(degrees(rate), rel=1e-6)


def test_a_stalled_servo_has_no_rate_and_says_so():
    case = checked(case={"speed": "60 m/s"})
    assert case.margin("speed").available.value == 0
    assert case.margin("speed").margin == pytest.approx(-1)
    assert any("stalled" in note for note in case.notes)


def test_hold_applies_to_a_sustained_case_alone():
    held = checked(case={"kind": "sustained", "fraction": 1.0}).margin("hold")
    volts = at_work(MOVE)
    assert held.required.value == pytest.approx(moment(), rel=1e-6)
    assert held.available.value == pytest.approx(STALL * volts / 6 / DATASHEET / 3, rel=1e-6)
    brief = checked().margin("hold")
    assert not brief.applies
    assert brief.reason == "a brief case"


def test_what_a_servo_holds_of_its_stall_torque_is_no_safety_factor():
    # It counts on the line without factors, too.
    shares = [
        checked(case={"kind": "sustained", "fraction": 1.0}, factors={"hold_fraction": share})
        .margin("hold")
        .plain
        for share in (0.2, 0.4)
    ]
    assert shares[1] + 1 == pytest.approx(2 * (shares[0] + 1), rel=1e-9)


def test_buckling_is_euler_at_the_greatest_compression():
    # With a rod ahead of the hinge on top, trailing edge down pushes: compression = M / horn.
    margin = checked().margin("buckling")
    # Euler, pinned: pi^2 E I / L^2, E = 203 GPa (music wire, from memory), 2 mm round.
    euler = pi**2 * 203e9 * pi * 0.002**4 / 64 / 0.2**2
    lever = HORN * 1.0  # the rod stays square to the horn in a parallelogram... but for its swing
    assert margin.available.value == pytest.approx(euler, rel=1e-9)
    squeezed = moment() / (lever * swing(THROW)) * TORQUE
    assert margin.required.value == pytest.approx(squeezed, rel=1e-6)
    assert margin.margin == pytest.approx(euler / (squeezed * 1.5) - 1, rel=1e-6)


def test_a_rod_that_pulls_does_not_buckle():
    for asked, counts in ((["-20 deg", "5 deg"], 5), (["-5 deg", "20 deg"], 20)):
        margin = checked(case={"deflection": asked}).margin("buckling")
        angle = radians(counts)
        squeezed = moment(angle) / (HORN * swing(angle)) * TORQUE
        assert margin.required.value == pytest.approx(squeezed, rel=1e-6)


def swing(angle):
    """Lever of the rod over the horn's radius: the rod of a parallelogram stays along x."""
    return cos(angle)


def test_joint_counts_either_sign_with_the_factor_of_the_codes():
    # 14 CFR 23.693: 3.33 on push-pull joints.
    margin = checked(linkage={"joint_rating": "400 N"}).margin("joint")
    force = moment() / (HORN * swing(THROW))
    assert margin.required.value == pytest.approx(force * TORQUE, rel=1e-6)
    assert margin.margin == pytest.approx(400 / (force * TORQUE * 3.33) - 1, rel=1e-6)


def test_gear_strength_is_held_against_the_largest_torque_to_hold():
    margin = checked(servo={"gear_strength": "1 N·m"}).margin("gear")
    assert margin.margin == pytest.approx(1 / (moment() * 1.5) - 1, rel=1e-6)


def test_free_play_adds_joints_and_gears_at_neutral():
    # 0.10 mm at a horn of 12 mm is 0.477465 deg: small-angle geometry; here 15 mm and gears.
    margin = checked(linkage={"joint_play": "0.10 mm"}, servo={"gear_play": "0.2 deg"}).margin(
        "free play"
    )
    assert margin.required.value == pytest.approx(degrees(0.10 / 15) + 0.2, rel=1e-9)
    assert margin.margin == pytest.approx(1 / (degrees(0.10 / 15) + 0.2) - 1, rel=1e-9)


def test_free_play_of_the_reference_case():
    # tests/reference/linkage.csv, linkage-32: slop 0.10 mm at horn arm 12 mm, 0.477465 deg.
    described = aircraft(linkage={"joint_play": "0.10 mm"})
    run = described.runs[0]
    horn = linkcalc.ControlHorn(radius="12 mm")
    linkage = linkcalc.replace(run.linkages[0], horn=horn)
    changed = linkcalc.replace(described, runs=[linkcalc.replace(run, linkages=[linkage])])
    margin = linkcalc.check(changed).runs[0].cases[0].margin("free play")
    assert margin.required.value == pytest.approx(0.477465, rel=1e-3)


def test_source_heat_of_a_linear_regulator():
    parts = {"regulator": "linear", "input_voltage": "8.4 V", "heat_rating": "4 W"}
    margin = checked(supply=parts).margin("source heat")
    current = (SOURCE - at_work(MOVE)) / LOOP + RECEIVER
    assert margin.required.value == pytest.approx(2.4 * current, rel=1e-6)
    assert margin.margin == pytest.approx(4 / (2.4 * current) - 1, rel=1e-6)


def test_current_is_what_the_limit_state_draws_with_the_limit_lifted():
    margin = checked().margin("current")
    assert margin.required.value == pytest.approx(STALL_CURRENT * V_LIMIT / 6 + RECEIVER, rel=1e-9)
    assert margin.margin == pytest.approx(5 / (margin.required.value * 1.2) - 1, rel=1e-9)


def test_friction_at_hinge_and_shaft_is_moved_but_not_held():
    case = checked(run={"shaft_friction": "0.02 N·m"})
    assert case.margin("torque").required.value == pytest.approx(MOVE + 0.02, rel=1e-6)
    assert abs(case.values["hold torque"].value) == pytest.approx(moment(), rel=1e-6)


def test_two_servos_take_half_each_times_the_mismatch():
    case = checked(run={"servo_count": 2})
    assert case.margin("torque").required.value == pytest.approx(MOVE / 2 * 1.2, rel=1e-6)
    # Each has a lead of its own, both are at their limit together: the same V*.
    assert case.margin("torque").available.value == pytest.approx(AVAILABLE, rel=1e-9)
    held = case.values["hold torque"]
    assert max(abs(held.low), abs(held.high)) == pytest.approx(moment() / 2 * 1.2, rel=1e-6)


def test_a_dead_servo_leaves_the_other_with_everything():
    dead = {"runs": [linkcalc.RunDemand(run="elevator", dead_servos=1)]}
    case = checked(run={"servo_count": 2}, case=dead)
    assert case.margin("torque").required.value == pytest.approx(MOVE, rel=1e-6)
    assert case.margin("current").required.value == pytest.approx(
        STALL_CURRENT * V_LIMIT / 6 + RECEIVER, rel=1e-9
    )


def test_a_measured_servo_is_not_divided_by_the_datasheet_factor():
    measured = checked(servo={"figures": "measured"}).margin("torque").available.value
    assert measured == pytest.approx(STALL * V_LIMIT / 6, rel=1e-9)


def test_a_load_beyond_the_continuous_share_is_held_for_a_while():
    # First-order model from cold: t = tau ln(r^2 / (r^2 - 1)), r = held over what may be held for long.
    case = checked(case={"kind": "sustained", "fraction": 1.0, "speed": "50 m/s"})
    hold = case.margin("hold")
    ratio = hold.required.value / hold.available.value
    assert ratio > 1
    expected = 60 * log(ratio**2 / (ratio**2 - 1))
    assert case.values["hold time"].value == pytest.approx(expected, rel=1e-9)
    slow = checked(case={"kind": "sustained", "fraction": 1.0, "speed": "5 m/s"})
    assert slow.values["hold time"].value is None
    assert "as long as it lasts" in slow.values["hold time"].reason
    assert checked().values["hold time"].reason == checked().margin("hold").reason


def test_a_servos_deadband_is_seen_at_the_surface():
    # 5 us of 1 ms are a two-hundredth of its 90 degrees; equal arms pass it on one to one.
    case = checked(servo={"deadband": "5 us", "travel": "45 deg"})
    assert case.values["deadband"].value == pytest.approx(0.45, rel=1e-9)
    assert checked().values["deadband"].reason == "not given"


@pytest.mark.parametrize(("electronics", "micros"), [("digital", 2), ("analogue", 8)])
def test_a_deadband_that_is_not_given_follows_the_electronics(electronics, micros):
    # 1 ms for 90 degrees, 2 or 8 microseconds of it: common practice, no source.
    case = checked(servo={"electronics": electronics, "travel": "45 deg"})
    assert case.values["deadband"].value == pytest.approx(90 * micros / 1000, rel=1e-9)
    assert any(f"{micros} us" in note for note in case.notes)
    given = checked(servo={"electronics": electronics, "deadband": "5 us", "travel": "45 deg"})
    assert given.values["deadband"].value == pytest.approx(0.45, rel=1e-9)


def test_torque_limit_and_freeze_speed():
    # Demand goes with V^2 and the single servo's limit does not change with speed.
    case = checked()
    limit = 30 * sqrt(AVAILABLE / (MOVE * TORQUE))
    assert case.values["torque limit speed"].value == pytest.approx(limit, rel=1e-6)
    assert case.values["freeze speed"].value == pytest.approx(limit * sqrt(TORQUE), rel=1e-6)


def test_wash_is_held_while_the_flight_speed_goes_up():
    wash = {"runs": [linkcalc.RunDemand(run="elevator", wash_speed="10 m/s")]}
    case = checked(case=wash)
    assert case.values["dynamic pressure"].value == pytest.approx(pressure(40), rel=1e-12)
    at_surface = 30 * sqrt(AVAILABLE / (MOVE * TORQUE))
    flight = sqrt(at_surface**2 - (40**2 - 30**2))
    assert case.values["torque limit speed"].value == pytest.approx(flight, rel=1e-6)


@pytest.mark.parametrize("factor", [1.0, 1.3, 2.0])
def test_placard_speed_is_ended_by_the_first_mode_that_fails(factor):
    # The rate asked for: 80 deg/s. rate(q) = w0 V/6 (1 - T/T_s(V)), V falls with T: both are
    # linear in T, so the torque at which it is just enough has a closed form.
    wanted = factor * 2 * THROW / 0.5
    slope = (STALL_CURRENT - FREE_CURRENT) * DATASHEET / STALL
    # rate = (w0/6) (V - 6 T DATASHEET / STALL), V = (6 - LOOP slope T) / (1 + LOOP I_0/6)
    per_volt = 1 + LOOP * FREE_CURRENT / 6
    torque = (SOURCE / per_volt - 6 * wanted / SPEED) / (
        LOOP * slope / per_volt + 6 * DATASHEET / STALL
    )
    by_rate = 30 * sqrt(torque / MOVE)
    by_torque = 30 * sqrt(AVAILABLE / (MOVE * TORQUE))
    value = checked(factors={"speed": factor}).values["placard speed"]
    assert value.value == pytest.approx(min(by_rate, by_torque), rel=1e-6)
    assert value.at.endswith("speed" if by_rate < by_torque else "torque")


def test_torque_limit_does_not_feel_a_rate_that_fails_just_below_it():
    by_torque = 30 * sqrt(AVAILABLE / (MOVE * TORQUE))
    torque = MOVE * (0.98 * by_torque / 30) ** 2
    slope = (STALL_CURRENT - FREE_CURRENT) * DATASHEET / STALL
    volts = (SOURCE - LOOP * slope * torque) / (1 + LOOP * FREE_CURRENT / 6)
    rate = SPEED / 6 * (volts - 6 * torque * DATASHEET / STALL)
    case = checked(case={"wanted_rate": f"{rate!r} rad/s"})
    assert case.values["placard speed"].value == pytest.approx(0.98 * by_torque, rel=1e-6)
    assert case.values["placard speed"].at.endswith("speed")
    assert case.values["torque limit speed"].value == pytest.approx(by_torque, rel=1e-6)


def test_held_and_blow_back_deflection():
    case = checked(case={"speed": "60 m/s"})
    held = AVAILABLE * ETA / (moment(1.0, 60.0) * TORQUE)
    assert held < THROW
    for side in ("up", "down"):
        assert case.values[f"held deflection {side}"].value == pytest.approx(
            degrees(held), rel=1e-6
        )
        blown = min(held * TORQUE, THROW)
        assert case.values[f"blow-back deflection {side}"].value == pytest.approx(
            degrees(blown), rel=1e-6
        )


def test_elastic_linkage_reaches_less_and_cannot_diverge_under_a_restoring_load():
    # Travel 45 deg; delta = 45 deg - C M(delta): delta = 45 deg / (1 + C q S c C_delta).
    give = 0.3  # rad/(N m)
    case = checked(linkage={"compliance": "0.3 rad/(N*m)"}, case={"speed": "20 m/s"})
    stiff = pressure(20) * AREA * CHORD * C_DELTA
    reached = pi / 4 / (1 + give * stiff)
    assert case.margin("travel").available.value == pytest.approx(degrees(reached), rel=1e-6)
    # C dM/d(delta) on the best line times 0.5, 1 and k_s = 1: the largest is half, negative.
    assert case.margin("divergence").required.value == pytest.approx(-0.5 * give * stiff, rel=1e-9)
    assert case.margin("divergence").margin == pytest.approx(1 + 0.5 * give * stiff, rel=1e-9)


def test_jam_force_takes_the_printed_torque_at_the_voltage_without_load():
    assert checked().values["jam force"].value == pytest.approx(STALL / HORN, rel=1e-9)


def test_a_run_whose_servo_is_dead_is_not_in_the_case():
    described = aircraft(case={"runs": [linkcalc.RunDemand(run="elevator", dead_servos=1)]})
    report = linkcalc.check(described)
    assert report.runs[0].cases == ()
    assert report.verdict == "short"  # nothing was evaluated, so nothing passes


def test_two_elastic_surfaces_alike_need_twice_the_torque_of_one(tmp_path):
    head = """
format = "linkcalc.aircraft/1"
name = "Invented: two flaps on one servo"
supply = { voltage = "6 V", current_limit = "none" }
[servos.one]
rows = [{ voltage = "6 V", stall_torque = "3 kg·cm", no_load_speed = "0.1 s/60deg", stall_current = "1 A" }]
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "20 m/s"
[[runs]]
name = "flaps"
servo = "one"
"""
    flap = """
[[runs.linkages]]
arm = "10 mm"
horn = "12 mm"
compliance = "5 deg/Nm"
surface = { span = "300 mm", chord = "45 mm", throw = "20 deg" }
"""
    needed = []
    for count in (1, 2):
        (tmp_path / "flaps.toml").write_text(head + count * flap)
        case = linkcalc.check(tmp_path / "flaps.toml").runs[0].cases[0]
        needed.append(case.margin("torque").required.value)
    assert needed[1] == pytest.approx(2 * needed[0], rel=1e-6)


def test_a_shaft_bears_all_the_rods_on_its_arm_and_a_hinge_its_own():
    made = aircraft()
    run = made.runs[0]
    both = linkcalc.replace(run, linkages=[run.linkages[0], run.linkages[0]])
    one, two = (
        linkcalc.check(linkcalc.replace(made, runs=[each])).runs[0].cases[0].values
        for each in (run, both)
    )
    assert two["shaft load"].value == pytest.approx(2 * one["shaft load"].value, rel=1e-6)
    assert two["hinge load"].value == pytest.approx(one["hinge load"].value, rel=1e-6)


def test_pulses_send_a_servo_only_so_far():
    # 1 ms for 90 degrees (common practice, no source): 0.2 ms are 18 and 0.1 ms 9 degrees at the
    # shaft, and equal parallel arms pass them on one to one.
    case = checked(run={"pulses": ["1.3 ms", "1.6 ms"]}, case={"speed": "5 m/s"})
    assert case.values["held deflection up"].value == pytest.approx(18, rel=1e-6)
    assert case.values["held deflection down"].value == pytest.approx(9, rel=1e-6)
    assert case.margin("travel").margin == pytest.approx(9 / 20 - 1, rel=1e-6)
    assert any("18 deg for up and 9 deg for down" in note for note in case.notes)
    # A servo that turns the other way for a longer pulse is sent as far.
    turned = checked(run={"pulses": ["1.7 ms", "1.4 ms"]}, case={"speed": "5 m/s"})
    assert turned.margin("travel") == case.margin("travel")
    # Another neutral moves both ends.
    moved = checked(
        run={"pulses": ["1.3 ms", "1.7 ms"], "neutral_pulse": "1.52 ms"}, case={"speed": "5 m/s"}
    )
    assert moved.values["held deflection up"].value == pytest.approx(19.8, rel=1e-6)
    assert moved.margin("travel").margin == pytest.approx(16.2 / 20 - 1, rel=1e-6)


def test_pulses_follow_the_surface_where_the_linkage_turns_it_the_other_way():
    # A horn on the other side: up is then where the arm goes back. Of 200 mm of rod and 15 mm of
    # arm and horn, 18 degrees of the arm make some 18 of the horn.
    opposite = linkcalc.ControlHorn(radius="15 mm", lean="180 deg")
    made = aircraft(run={"pulses": ["1.3 ms", "1.6 ms"]}, case={"speed": "5 m/s"})
    run = made.runs[0]
    run = linkcalc.replace(run, linkages=[linkcalc.replace(run.linkages[0], horn=opposite)])
    case = linkcalc.check(linkcalc.replace(made, runs=[run])).runs[0].cases[0]
    assert case.values["held deflection up"].value == pytest.approx(18, abs=0.7)
    assert case.values["held deflection down"].value == pytest.approx(9, abs=0.3)


def test_pulses_beyond_the_travel_end_at_its_stop():
    wide = {"run": {"pulses": ["0.9 ms", "2.1 ms"]}, "servo": {"travel": "15 deg"}}
    assert checked(**wide).margin("travel") == checked(servo={"travel": "15 deg"}).margin("travel")


@pytest.mark.parametrize("pulses", [["1.6 ms", "1.9 ms"], ["1.5 ms", "1.9 ms"], ["-1 ms", "2 ms"]])
def test_pulses_have_neutral_between_them(pulses):
    with pytest.raises(linkcalc.InputError, match="neutral"):
        checked(run={"pulses": pulses})


# All modes apply: a sustained case, an elastic linkage, everything rated.
EVERYTHING = {
    "case": {"kind": "sustained", "fraction": 1.0},
    "servo": {"gear_strength": "1.5 N·m", "gear_play": "0.2 deg", "maximum_voltage": "7.4 V"},
    "linkage": {"joint_play": "0.10 mm", "joint_rating": "200 N", "compliance": "1 deg/Nm"},
    "supply": {"regulator": "linear", "input_voltage": "8.4 V", "heat_rating": "9 W"},
}
OWN = {
    "travel": "travel",
    "voltage": "voltage",
    "over_voltage": "over-voltage",
    "current": "current",
    "speed": "speed",
    "hold": "hold",
    "buckling": "buckling",
    "joint": "joint",
    "source_heat": "source heat",
    "gear": "gear",
    "free_play": "free play",
}


@pytest.mark.parametrize("factor", OWN)
def test_a_factor_divides_its_own_margin_and_no_other(factor):
    once, twice = (
        {
            margin.mode: margin.margin + 1
            for margin in checked(**EVERYTHING, factors={factor: value}).margins
            if margin.applies
        }
        for value in (1.5, 3.0)
    )
    assert set(OWN.values()) <= set(once)
    expected = {mode: share / (2 if mode == OWN[factor] else 1) for mode, share in once.items()}
    assert twice == pytest.approx(expected, rel=1e-9)
