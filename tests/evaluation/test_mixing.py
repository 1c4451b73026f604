"""Pilot inputs that are mixed, surfaces that move against each other, and the default factors.

Expected values are worked out here from the definitions: the sum of the inputs limited by the
travel, virtual work, the vector product of lever and weight. Thin-aerofoil theory enters with a
chord ratio of 1, a flat plate hinged at its leading edge, whose hinge moment has a closed form:
lift of 2 pi alpha at the quarter chord gives C_h = -(pi/2) alpha (H. Glauert, ARC R&M 1095, 1927).
On the best line 0.7 of the incidence slope and 0.8 of the deflection slope are left.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.evaluation.evaluate import evaluate
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.model.value_classes import fields
from tests.evaluation.independent import glauert

DEG = math.pi / 180
GRAVITY = 9.80665
LOW, BEST, HIGH = range(3)

SERVO = linkcalc.Servo(
    name="s",
    rows=[
        linkcalc.DatasheetRow(
            voltage="6 V", stall_torque="4 Nm", no_load_speed="0.1 s/60deg", stall_current="2 A"
        )
    ],
)
PARALLELOGRAM = {
    "arm": linkcalc.ServoArm(radius="10 mm"),
    "horn": linkcalc.ControlHorn(radius="10 mm"),
}


def pilot(name, sense="alike", **rates):
    return linkcalc.PilotInput(name=name, sense=sense, **rates)


def single(name, surface):
    return linkcalc.ControlRun(
        name=name, servo=SERVO, linkages=[linkcalc.Linkage(surface=surface, **PARALLELOGRAM)]
    )


def aircraft(runs, **case):
    case = {"name": "c", "speed": "30 m/s", "density": "1.2 kg/m^3"} | case
    if "deflection" not in case:
        case.setdefault("fraction", 1.0)
    return linkcalc.Aircraft(
        name="mixed",
        supply=linkcalc.Supply(voltage="6 V", current_limit="none"),
        cases=[linkcalc.FlightCase(**case)],
        runs=runs,
    )


def required_travel(made):
    return [run.cases[0].margin("travel").required.value for run in linkcalc.check(made).runs]


# the sum of the inputs --------------------------------------------------------------


def elevon(side, **more):
    return linkcalc.ControlSurface(
        span="40 cm",
        chord="5 cm",
        chord_ratio=0.25,
        side=side,
        mixing=[
            pilot("pitch", rate_up="14 deg", rate_down="8 deg"),
            pilot("roll", "opposite", rate="10 deg"),
        ],
        **more,
    )


def commanded(made):
    """Return the ends of the commanded range of every run [deg]."""
    inputs = gather(made).inputs.cases
    return np.degrees(np.stack([inputs.low[0], inputs.high[0]], axis=-1))


def pair(**more):
    return [single(side, elevon(side, **more)) for side in ("starboard", "port")]


def test_worst_sum_of_the_inputs_is_asked_for_on_either_panel():
    # Up 14 + 10, down 8 + 10 degrees.
    assert commanded(aircraft(pair())) == pytest.approx(np.array([[-24.0, 18.0]] * 2), rel=1e-12)


def test_worst_sum_is_limited_by_the_stated_travel_of_its_side():
    limited = pair(throw_up="20 deg", throw_down="25 deg")
    assert commanded(aircraft(limited)) == pytest.approx(np.array([[-20.0, 18.0]] * 2), rel=1e-12)
    assert required_travel(aircraft(limited)) == pytest.approx([20.0, 20.0], rel=1e-12)


def test_fraction_multiplies_every_input_before_the_sum_is_limited():
    # Half of 24 up is 12, within the travel of 20: not half of 20. Half of 18 down is 9.
    limited = pair(throw_up="20 deg", throw_down="25 deg")
    made = aircraft(limited, fraction=0.5)
    assert commanded(made) == pytest.approx(np.array([[-12.0, 9.0]] * 2), rel=1e-12)
    # Nine tenths of 24 up are 21.6, and there the travel limits.
    made = aircraft(limited, fraction=0.9)
    assert commanded(made) == pytest.approx(np.array([[-20.0, 16.2]] * 2), rel=1e-12)


def test_a_single_input_moves_both_panels_alike_or_against_each_other():
    still = {"least": 0.0, "greatest": 0.0}
    up_only = {"least": -1.0, "greatest": 0.0}

    def asked(pitch, roll):
        inputs = [
            linkcalc.InputShare(name="pitch", **pitch),
            linkcalc.InputShare(name="roll", **roll),
        ]
        return commanded(aircraft(pair(), inputs=inputs))

    assert asked(up_only, still) == pytest.approx(np.array([[-14.0, 0.0], [-14.0, 0.0]]))
    assert asked(still, up_only) == pytest.approx(np.array([[-10.0, 0.0], [0.0, 10.0]]))
    # Together they add up on the starboard panel and pass each other on the port one.
    assert asked(up_only, up_only) == pytest.approx(np.array([[-24.0, 0.0], [-14.0, 10.0]]))


# a vee tail --------------------------------------------------------------------------

DIHEDRAL, ALPHA, BETA, THROW = 35 * DEG, 4 * DEG, 6 * DEG, 12 * DEG
SPAN, CHORD, MASS, CENTRE = 0.5, 0.06, 0.03, 0.025
PRESSURE = 0.5 * 1.2 * 30.0**2
SIZE = PRESSURE * SPAN * CHORD * CHORD
B1, B2 = glauert(0.99)


def ruddervator(side, **more):
    return linkcalc.ControlSurface(
        span=f"{SPAN} m",
        chord=f"{CHORD} m",
        chord_ratio=0.99,
        plane="vee",
        dihedral=f"{DIHEDRAL} rad",
        side=side,
        mixing=[
            pilot("pitch", rate=f"{THROW} rad"),
            pilot("yaw", "opposite", rate=f"{THROW} rad"),
        ],
        **more,
    )


def loads(pitch, yaw, load_factor=(0.0, 0.0, 0.0), **more):
    """Return deflection [rad] and hinge moment [N m] on the three lines, starboard and port."""
    made = aircraft(
        [single(side, ruddervator(side, **more)) for side in ("starboard", "port")],
        incidence=f"{ALPHA} rad",
        sideslip=f"{BETA} rad",
        load_factor=load_factor,
        inputs=[
            linkcalc.InputShare(name="pitch", least=0.0, greatest=pitch),
            linkcalc.InputShare(name="yaw", least=0.0, greatest=yaw),
        ],
    )
    answer = evaluate(gather(made).inputs, both(factors(made.factors), 3))
    return answer.governing.deflection[0], answer.governing.moment_lines[:, 0]


def incidence(side):
    """Along n = aft x hinge axis: alpha cos G + beta sin G starboard, - beta sin G port."""
    sign = 1 if side == "starboard" else -1
    return ALPHA * math.cos(DIHEDRAL) + sign * BETA * math.sin(DIHEDRAL)


@pytest.mark.parametrize(
    ("pitch", "yaw", "deflection"), [(1, 0, (THROW, THROW)), (0, 1, (THROW, -THROW))]
)
def test_panels_carry_different_air_loads_on_the_best_line(pitch, yaw, deflection):
    found, lines = loads(pitch, yaw)
    assert found == pytest.approx(np.array(deflection), rel=1e-9)
    expected = [
        SIZE * (0.7 * B1 * incidence(side) + 0.8 * B2 * delta)
        for side, delta in zip(("starboard", "port"), deflection, strict=True)
    ]
    assert lines[BEST] == pytest.approx(np.array(expected), rel=1e-9)
    assert abs(lines[BEST][0]) > 1.2 * abs(lines[BEST][1])


@pytest.mark.parametrize(("pitch", "yaw"), [(1, 0), (0, 1)])
def test_equal_deflection_gives_equal_air_load_on_the_high_line(pitch, yaw):
    found, lines = loads(pitch, yaw)
    largest = ALPHA * math.cos(DIHEDRAL) + BETA * math.sin(DIHEDRAL)
    expected = SIZE * (B1 * largest + B2 * THROW)
    assert lines[HIGH] == pytest.approx(np.sign(found) * expected, rel=1e-9)


@pytest.mark.parametrize("load_factor", [(0.0, 0.0, -3.0), (0.4, -1.5, -2.0)])
@pytest.mark.parametrize(("pitch", "yaw"), [(1, 0), (0, 1)])
def test_weight_of_a_panel_is_the_moment_of_its_lever_and_its_weight(pitch, yaw, load_factor):
    # On the best line the air load is known, so what is left is the weight.
    found, lines = loads(pitch, yaw, load_factor, mass=f"{MASS} kg", mass_centre=f"{CENTRE} m")
    weight = MASS * GRAVITY * np.array(load_factor)
    expected = []
    for side, delta in zip(("starboard", "port"), found, strict=True):
        up = DIHEDRAL if side == "starboard" else -DIHEDRAL
        hinge = np.array([0.0, math.cos(up), math.sin(up)])
        aft = np.array([1.0, 0.0, 0.0])
        # Trailing edge down: towards hinge x aft, right-handed about the hinge axis.
        lever = CENTRE * (math.cos(delta) * aft + math.sin(delta) * np.cross(hinge, aft))
        air = SIZE * (0.7 * B1 * incidence(side) + 0.8 * B2 * delta)
        expected.append(air + hinge @ np.cross(lever, weight))
    assert lines[BEST] == pytest.approx(np.array(expected), rel=1e-9)


def test_weight_helps_one_panel_and_burdens_the_other_when_they_move_apart():
    lift = {"load_factor": (0.0, 0.0, -3.0), "mass": f"{MASS} kg", "mass_centre": f"{CENTRE} m"}
    weightless, (_, heavy) = loads(0, 1)[1], loads(0, 1, **lift)
    added = heavy[BEST] - weightless[BEST]
    # One moment for both, trailing edge down: m g N r cos(delta) cos(dihedral).
    expected = 3 * MASS * GRAVITY * CENTRE * math.cos(THROW) * math.cos(DIHEDRAL)
    assert added == pytest.approx(np.array([expected, expected]), rel=1e-9)
    assert np.sign(weightless[BEST]).tolist() == [-1, 1]


# opposite surfaces on one servo -------------------------------------------------------

C_ALPHA, C_DELTA, ETA = -0.3, -0.7, 0.8
TAB = {
    "span": "30 cm",
    "chord": "4 cm",
    "throw": "15 deg",
    "mass": "20 g",
    "mass_centre": "15 mm",
    "coefficients": linkcalc.HingeMomentCoefficients(
        C_h_alpha=f"{C_ALPHA} 1/rad", C_h_delta=f"{C_DELTA} 1/rad"
    ),
}
FORCE = PRESSURE * 0.3 * 0.04 * 0.04
WEIGHT = 0.020 * GRAVITY * 0.015


def drawn(up):
    """A parallelogram, or with the horn below the surface its mirror image."""
    sign = 1 if up else -1
    nothing = ["0 m", "0 m", "0 m"]
    return {
        "arm": linkcalc.ServoArm(pivot=nothing, axis=[0, 1, 0], vector=["0 m", "0 m", "9 mm"]),
        "horn": linkcalc.ControlHorn(
            pivot=["15 cm", "0 m", f"{9 - sign * 9} mm"],
            axis=[0, 1, 0],
            vector=["0 m", "0 m", f"{sign * 9} mm"],
        ),
    }


def two_on_one(second_up):
    surface = linkcalc.ControlSurface(**TAB)
    run = linkcalc.ControlRun(
        name="ailerons",
        servo=SERVO,
        efficiency=ETA,
        linkages=[
            linkcalc.Linkage(surface=surface, **drawn(up=True)),
            linkcalc.Linkage(surface=surface, **drawn(up=second_up)),
        ],
    )
    made = aircraft([run], incidence="5 deg", deflection=["0 deg", "15 deg"])
    values = linkcalc.check(made).runs[0].cases[0].values
    assert values["governing deflection"].value == pytest.approx(15.0, rel=1e-9)
    return values


def moment(delta):
    """Hinge moment of one of them, air load and weight, trailing edge down positive [N m]."""
    return FORCE * (C_ALPHA * 5 * DEG + C_DELTA * delta) + WEIGHT * math.cos(delta)


@pytest.mark.parametrize("second_up", [False, True])
def test_one_servo_bears_the_sum_of_moment_times_slope(second_up):
    # A parallelogram turns the surface as the servo; with the horn below, the crossed linkage is
    # not quite its mirror image away from neutral, so its angle and slope come from the cosine
    # rule of a plane four-bar linkage, solved here by bisection.
    angle, slope = (15 * DEG, 1.0) if second_up else crossed(15 * DEG)
    values = two_on_one(second_up)
    hold = -(moment(15 * DEG) + moment(angle) * slope)
    assert values["hold torque"].value == pytest.approx(hold, rel=1e-7)
    lost = (1 / ETA - 1) * (abs(moment(15 * DEG)) + abs(moment(angle) * slope))
    assert values["moving torque"].value == pytest.approx(abs(hold) + lost, rel=1e-7)


def crossed(theta):
    """Angle and slope of the horn below, by bisection on the length of the rod."""

    def surface(theta):
        arm = 9e-3 * np.array([math.sin(theta), math.cos(theta)])

        def excess(delta):
            horn = np.array([0.15, 18e-3]) - 9e-3 * np.array([math.sin(delta), math.cos(delta)])
            return np.linalg.norm(horn - arm) - 0.15

        low, high = -1.0, 1.0
        for _ in range(200):
            middle = (low + high) / 2
            low, high = (middle, high) if excess(low) * excess(middle) > 0 else (low, middle)
        return low

    step = 1e-5
    return surface(theta), (surface(theta + step) - surface(theta - step)) / (2 * step)


def test_opposite_ailerons_turn_against_each_other_and_their_incidence_and_weight_cancel():
    angle, slope = crossed(15 * DEG)
    assert angle == pytest.approx(-15 * DEG, rel=0.02)  # a long rod: nearly the mirror image
    assert slope == pytest.approx(-1.0, rel=0.02)
    # What is left is nearly twice the part of the deflection: incidence and weight cancel.
    hold = two_on_one(second_up=False)["hold torque"].value
    assert hold == pytest.approx(-2 * FORCE * C_DELTA * 15 * DEG, rel=0.02)
    alike = two_on_one(second_up=True)["hold torque"].value
    assert alike == pytest.approx(-2 * moment(15 * DEG), rel=1e-7)


# default factors -----------------------------------------------------------------------

PRACTICE, LIMIT = "common practice, no source", "the limit itself is the criterion"


@pytest.mark.parametrize(
    ("name", "value", "source"),
    [
        ("torque", 1.25, "14 CFR 23 App. A, A23.13(a)(1); 14 CFR 25.395(a)"),
        ("datasheet", 1.2, PRACTICE),
        ("buckling", 1.5, "limit to ultimate, 14 CFR 23.303"),
        ("joint", 3.33, "14 CFR 23.693"),
        ("cable_joint", 2.0, "14 CFR 23.693"),
        ("current", 1.2, PRACTICE),
        ("voltage", 1.0, LIMIT),
        ("over_voltage", 1.0, LIMIT),
        ("speed", 1.0, LIMIT),
        ("travel", 1.0, LIMIT),
        ("source_heat", 1.0, LIMIT),
        ("divergence", 1.0, LIMIT),
        ("free_play", 1.0, LIMIT),
        ("gear", 1.5, PRACTICE),
        ("mismatch", 1.2, PRACTICE),
        ("hold", 1.0, PRACTICE),
        ("hold_fraction", 1 / 3, PRACTICE),
    ],
)
def test_default_factor_and_the_source_that_stands_beside_it(name, value, source):
    assert getattr(linkcalc.SafetyFactors(), name) == value
    words = getattr(linkcalc.SafetyFactors, name).spec.default
    assert source in words
    assert words.startswith("1/3" if name == "hold_fraction" else f"{value}")


def test_total_free_play_allowed_at_the_surface_is_one_degree_by_practice():
    assert linkcalc.SafetyFactors().free_play_limit.m_as("deg") == 1.0
    words = linkcalc.SafetyFactors.free_play_limit.spec.default
    assert words.startswith("1 deg (common practice, no source")


def test_every_factor_is_in_the_table_above():
    named = {item.name for item in fields(linkcalc.SafetyFactors)} - {"free_play_limit"}
    mark = next(
        mark
        for mark in test_default_factor_and_the_source_that_stands_beside_it.pytestmark
        if mark.name == "parametrize"
    )
    assert named == {row[0] for row in mark.args[1]}


@pytest.mark.parametrize(
    ("name", "row"),
    [("torque", "regulations-10"), ("buckling", "regulations-26"), ("joint", "regulations-27")],
)
def test_factors_of_the_codes_are_those_that_the_codes_print(name, row):
    path = Path(__file__).resolve().parent.parent / "reference/regulations.csv"
    with path.open(encoding="utf-8") as file:
        rows = {entry["id"]: entry for entry in csv.DictReader(file)}
    assert getattr(linkcalc.SafetyFactors(), name) == float(rows[row]["expected"])


def test_differential_of_an_opposite_input_is_mirrored_on_the_port_panel():
    # Full input one way: 12 deg up on starboard while port goes 6 deg down, and the other way
    # round; so each panel has 12 deg up and 6 deg down to reach.
    from linkcalc.model.aircraft import share  # noqa: PLC0415 - only here

    def panel(side):
        roll = linkcalc.PilotInput(
            name="roll", rate_up="12 deg", rate_down="6 deg", sense="opposite"
        )
        surface = linkcalc.ControlSurface(span="0.4 m", chord="40 mm", side=side, mixing=[roll])
        row = linkcalc.DatasheetRow(
            voltage="6 V", stall_torque="3 kg·cm", no_load_speed="0.1 s/60deg", stall_current="1 A"
        )
        linkage = linkcalc.Linkage(
            surface=surface,
            arm=linkcalc.ServoArm(radius="10 mm"),
            horn=linkcalc.ControlHorn(radius="12 mm"),
        )
        servo = linkcalc.Servo(name="s", rows=[row])
        return linkcalc.ControlRun(name="elevon", servo=servo, linkages=[linkage])

    for side in ("starboard", "port"):
        assert share(panel(side), 1.0) == pytest.approx((math.radians(-12), math.radians(6)))
    hard_over = [linkcalc.InputShare(name="roll", least=0, greatest=1)]
    assert share(panel("starboard"), 1.0, hard_over) == pytest.approx((0.0, math.radians(6)))
    assert share(panel("port"), 1.0, hard_over) == pytest.approx((math.radians(-12), 0.0))
