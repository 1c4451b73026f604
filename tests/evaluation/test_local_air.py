"""Flows that a file names: downwash, slipstream, gusts, rates of turn, ground gusts, hands."""

import csv
import math
import re
from pathlib import Path

import pytest

import linkcalc
from tests.evaluation.aircraft import SINGLE

with (Path(__file__).parents[1] / "reference" / "regulations.csv").open(
    encoding="utf-8", newline=""
) as file:
    ROWS = {row["id"].removeprefix("regulations-"): row for row in csv.DictReader(file)}
FOOT, POUND = 0.3048, 4.4482216152605
DENSITY, SPEED = 1.25, 40.0
WING = '[airframe]\nwing_area = "0.5 m^2"\naspect_ratio = 10\nmass = "4 kg"\n'
PROPELLER = WING + 'propeller = { diameter = "300 mm" }\n'
GROUND = ('incidence = "0 deg"\ndeflection = ["-10 deg", "20 deg"]', "")
SURFACE, CASE = "surface = { ", "[[cases]]\n"


@pytest.fixture
def checked(tmp_path):
    def of(*changes, before=""):
        words = SINGLE[0]
        for old, new in changes:
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words.replace(CASE, before + CASE, 1), encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0]

    return of


def value(case, name):
    return case.values[name].value


def incidence(case):
    """As the best line and as the high line take it."""
    return (
        value(case, "incidence at the surface"),
        value(case, "largest incidence at the surface"),
    )


def in_flight(words):
    return (CASE, f"{CASE}{words}\n")


def at_surface(words):
    return (SURFACE, f"{SURFACE}{words}, ")


LIFT = 4.0 * 9.80665 / (0.5 * DENSITY * SPEED**2 * 0.5)
# Prandtl's elliptic wing: 2 C_L / (pi AR) far behind it.
DOWNWASH = math.degrees(2 * LIFT / (math.pi * 10))


def test_a_tail_behind_a_wing_sees_the_downwash_of_its_lift(checked):
    case = checked(
        at_surface('behind = "wing"'),
        ('incidence = "0 deg"', 'incidence = "3 deg"\nload_factor = 2'),
        before=WING,
    )
    # The high line takes no credit for a stream that is turned away from it.
    assert incidence(case) == pytest.approx((3 - 2 * DOWNWASH, 3.0), rel=1e-9)
    assert any("downwash" in note for note in case.notes)


def test_a_setting_adds_to_the_incidence(checked):
    case = checked(
        at_surface('behind = "wing", setting = "-2 deg"'),
        ('incidence = "0 deg"', 'incidence = "1 deg"'),
        before=WING,
    )
    least = 1 - 2 - DOWNWASH  # further from zero than without the wing
    assert incidence(case) == pytest.approx((least, -least), rel=1e-9)


def test_the_load_follows_the_incidence_at_the_surface(checked):
    case = checked(at_surface('setting = "5 deg"'))
    size = 0.5 * DENSITY * SPEED**2 * 0.5 * 0.04 * 0.04
    expected = -size * (0.1 * math.radians(5) + 0.5 * math.radians(20))
    assert value(case, "hinge moment") == pytest.approx(expected, rel=1e-9)


def test_a_gust_turns_the_stream_by_its_speed_over_the_airspeed(checked):
    case = checked(
        in_flight('gust_speed = "-4 m/s"'), ('incidence = "0 deg"', 'incidence = "2 deg"')
    )
    gust = math.degrees(math.atan(4 / 40))
    assert incidence(case) == pytest.approx((2 - gust, 2 + gust), rel=1e-9)


def test_a_gust_from_starboard_acts_on_a_fin_as_sideslip_from_starboard(checked):
    fin = at_surface('plane = "fin"')
    case = checked(fin, in_flight('side_gust_speed = "4 m/s"\nsideslip = "1 deg"'))
    assert incidence(case)[0] == pytest.approx(1 + math.degrees(math.atan(0.1)), rel=1e-9)


# Rigid-body motion in words: in a roll to starboard the starboard wing goes down and the top of
# the fin to starboard; the tail goes down as the nose comes up, and to port as the nose goes to
# starboard. Each meets air that comes from where it goes; on a fin starboard is positive.
@pytest.mark.parametrize(
    ("surface", "rate", "degrees"),
    [
        ('station = ["0 m", "2 m", "0 m"]', "roll_rate", 2.0),
        ('station = ["0 m", "-2 m", "0 m"]', "roll_rate", -2.0),
        ('station = ["1.5 m", "0 m", "0 m"]', "pitch_rate", 1.5),
        ('station = ["1.5 m", "0 m", "0 m"], plane = "fin"', "yaw_rate", -1.5),
        ('station = ["0 m", "0 m", "0.5 m"], plane = "fin"', "roll_rate", 0.5),
    ],
)
def test_a_rate_of_turn_moves_a_station_through_the_air(checked, surface, rate, degrees):
    still = in_flight(f'{rate} = "40 deg/s"\nsideslip = "0 deg"')
    case = checked(at_surface(surface), still)
    assert incidence(case) == pytest.approx((degrees, abs(degrees)), rel=1e-9)


def test_a_rate_of_turn_without_a_station_is_told_and_not_counted(checked):
    case = checked(in_flight('pitch_rate = "40 deg/s"'))
    assert incidence(case) == (0.0, 0.0)
    assert any("without a station: elevator" in note for note in case.notes)


def test_a_slipstream_has_the_momentum_of_the_thrust(checked):
    case = checked(
        at_surface('behind = "propeller"'), in_flight('thrust = "10 N"'), before=PROPELLER
    )
    area = math.pi * 0.15**2
    far = value(case, "speed at the surface")
    # Thrust = mass flow x rise of speed (Rankine and Froude), the mean of both speeds at the disc.
    assert DENSITY * area * (SPEED + far) / 2 * (far - SPEED) == pytest.approx(10.0, rel=1e-9)
    assert value(case, "dynamic pressure") == pytest.approx(0.5 * DENSITY * far**2, rel=1e-12)


def test_a_slipstream_from_the_static_thrust_keeps_the_power(checked):
    case = checked(
        at_surface('behind = "propeller"'), in_flight('static_thrust = "30 N"'), before=PROPELLER
    )
    area, far = math.pi * 0.15**2, value(case, "speed at the surface")
    through = (SPEED + far) / 2
    thrust = DENSITY * area * through * (far - SPEED)
    at_rest = 30.0 * math.sqrt(30.0 / (2 * DENSITY * area))
    assert thrust * through - thrust * SPEED < at_rest
    assert thrust * (through - SPEED) + thrust * SPEED == pytest.approx(thrust * through)
    assert thrust * through == pytest.approx(at_rest, rel=1e-9)


def parked(words="", kind="parked"):
    return (GROUND, ('speed = "40 m/s"', f'kind = "{kind}"\n{words}'))


@pytest.mark.parametrize(("regulation", "row"), [("CS 22.415", "40"), ("14 CFR 25.415", "41")])
def test_a_parked_surface_bears_the_moment_of_the_regulation(checked, regulation, row):
    # The table's surface: c = 0.04 m, S = 0.02 m2, and its density.
    changes = parked(f'regulation = "{regulation}"')
    case = checked(*changes, ('density = "1.25 kg/m^3"', 'density = "1.225 kg/m^3"'))
    expected, within = float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"])
    moment = case.values["hinge moment"]
    assert (moment.low, moment.high) == pytest.approx((-expected, expected), rel=within)


def test_the_wind_of_a_small_aeroplane_goes_with_the_wing_loading(checked):
    (loading,) = (float(each) for each in re.findall(r"=([\d.]+)", ROWS["43"]["inputs"]))
    kilograms = loading * POUND / FOOT**2 * 0.5 / 9.80665
    wing = WING.replace("4 kg", f"{kilograms!r} kg")
    case = checked(*parked('regulation = "14 CFR 23.415"'), before=wing)
    wind = float(ROWS["43"]["expected"]) * FOOT
    assert value(case, "speed at the surface") == pytest.approx(wind, rel=1e-4)


def test_ailerons_at_full_throw_may_have_their_own_factor(checked):
    own = '[[cases.runs]]\nrun = "elevator"\nground_gust_factor = 0.5\n[[runs]]'
    case = checked(*parked('speed = "10 m/s"'), ("[[runs]]", own))
    assert float(ROWS["03"]["expected"]) == 0.5
    expected = 0.5 * 0.04 * 0.02 * 0.5 * DENSITY * 10.0**2
    assert abs(value(case, "hinge moment")) == pytest.approx(expected, rel=1e-9)


def test_a_ground_gust_acts_on_what_is_aft_of_the_hinge_of_a_whole_surface(checked):
    whole = at_surface('hinge_position = 0.25, solver = "coefficients"')
    case = checked(*parked('speed = "10 m/s"'), whole)
    expected = 0.75 * 0.03 * (0.03 * 0.5) * 0.5 * DENSITY * 10.0**2
    assert abs(value(case, "hinge moment")) == pytest.approx(expected, rel=1e-9)


def test_a_hand_at_the_trailing_edge_has_the_longest_chord_for_a_lever(checked):
    case = checked(*parked('hand_force = "5 N"', kind="handling"), at_surface("taper = 0.6"))
    moment = case.values["hinge moment"]
    assert moment.high == pytest.approx(5.0 * 0.05, rel=1e-9)  # 40 mm is the mean of 50 and 30
    assert moment.low == pytest.approx(-moment.high, rel=1e-12)
    assert value(case, "torque limit speed") is None


def test_a_hand_adds_to_the_air_against_the_deflection(checked):
    calm, held = checked(), checked(in_flight('hand_force = "5 N"'))
    size = 0.5 * DENSITY * SPEED**2 * 0.5 * 0.04 * 0.04
    angle = math.radians(value(held, "governing deflection"))
    expected = -(0.5 * angle * size + math.copysign(5.0 * 0.04, angle))
    assert value(held, "hinge moment") == pytest.approx(expected, rel=1e-9)
    assert value(held, "moving torque") > value(calm, "moving torque")


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ([at_surface('behind = "wing"')], "airframe", "behind the wing"),
        ([in_flight('thrust = "3 N"')], "propeller", "thrust in a case"),
        ([in_flight('thrust = "3 N"')], "cases['dive'].thrust", "no surface behind"),
        ([in_flight('thrust = "3 N"\nstatic_thrust = "3 N"')], "thrust", "both thrust"),
        ([in_flight('regulation = "CS 22.415"')], "regulation", "CS 22.415"),
        (parked('regulation = "14 CFR 23.415"'), "regulation", "23.415"),
        (parked('speed = "9 m/s"\nregulation = "CS 22.415"'), "speed", "sets the wind"),
        (parked('speed = "9 m/s"\ngust_speed = "2 m/s"'), "gust_speed", "parked"),
        (parked(kind="handling"), "hand_force", "nothing"),
        ([('speed = "40 m/s"', "")], "speed", "nothing"),
    ],
)
def test_what_a_flow_lacks_is_told(checked, changes, place, words):
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked(*changes)
    told = [fault for fault in caught.value.faults if fault.place.endswith(place)]
    assert any(words in fault.found for fault in told), caught.value.faults


def test_a_brake_that_stops_the_stream_is_refused(checked):
    with pytest.raises(linkcalc.InputFaults, match="brakes"):
        checked(
            at_surface('behind = "propeller"'), in_flight('thrust = "-100 N"'), before=PROPELLER
        )


def test_a_file_that_names_no_flow_has_no_values_of_it(checked):
    assert "incidence at the surface" not in checked().values


def test_credit_for_incidence_is_printed_where_a_file_asks_for_it(checked):
    slopes = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
    trailing = ('incidence = "0 deg"', 'incidence = "-6 deg"\nsideslip = "0 deg"')
    without = checked((slopes, "chord_ratio = 0.3"), trailing)
    credit = checked((slopes, 'chord_ratio = 0.3, credit = "incidence"'), trailing)
    assert any("takes credit for an incidence" in note for note in credit.notes)
    assert credit.margin("torque").margin > without.margin("torque").margin
