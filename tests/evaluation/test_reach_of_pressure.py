"""What a dive is told of the servo, against a run that can be worked out by hand."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.evaluation.evaluate import prepare
from linkcalc.evaluation.factors import factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.reach_of_pressure import reach_of_pressure

# Arm and horn alike and a rod along the line of centres: a parallelogram, whose slope is 1. A
# source and leads without resistance. Blow-back: q S c |C_h_delta| delta / eta = T_s / 1.2.
FILE = """
format = "linkcalc.aircraft/1"
name = "Ringed plover, one elevator"
supply = { voltage = "6 V", current_limit = "none" }
[servos.s]
rows = [{ voltage = "6 V", stall_torque = "300 mNm", no_load_speed = "0.1 s/60deg", stall_current = "2 A" }]
[[cases]]
name = "dive"
speed = "40 m/s"
density = "1.25 kg/m^3"
incidence = "0 deg"
fraction = 1
CASE
[[runs]]
name = "elevator"
servo = "s"
arm = "15 mm"
horn = "15 mm"
pushrod = "200 mm"
efficiency = 0.8
surface = { span = "500 mm", chord = "40 mm", throw = "20 deg", coefficients = { C_h_alpha = "0 1/rad", C_h_delta = "-0.5 1/rad" } }
"""
THROW = math.radians(20.0)
HELD = 0.3 / 1.2 * 0.8 / (0.02 * 0.04 * 0.5)  # q delta [Pa]


def made(tmp_path, case="", **asked):
    path = tmp_path / "aircraft.toml"
    path.write_text(FILE.replace("CASE", case), encoding="utf-8")
    described = linkcalc.read_aircraft(path)
    inputs = gather(described).inputs
    place = {"case": 0, "run": 0} | asked
    return reach_of_pressure(inputs, factors(described.factors), prepare(inputs), **place), path


PRESSURES = np.array([0.0, 100.0, 1000.0, 1431.0, 1434.0, 2000.0, 5000.0, 20_000.0])


def test_the_air_blows_back_what_the_servo_does_not_hold(tmp_path):
    reach, _ = made(tmp_path)
    low, high = reach(PRESSURES)
    expected = np.minimum(THROW, HELD / np.maximum(PRESSURES, 1e-9))
    np.testing.assert_allclose(high, expected, rtol=1e-6)
    np.testing.assert_allclose(low, -expected, rtol=1e-6)


def test_with_the_torque_factor_less_is_held(tmp_path):
    reach, _ = made(tmp_path, factored=True)
    expected = np.minimum(THROW, HELD / 1.25 / np.maximum(PRESSURES, 1e-9))
    np.testing.assert_allclose(reach(PRESSURES)[1], expected, rtol=1e-6)


def test_what_the_wash_adds_is_held(tmp_path):
    # 10 m/s more at the surface at 40 m/s: V_s^2 = V^2 + 50^2 - 40^2
    demand = 'runs = [{ run = "elevator", wash_speed = "10 m/s" }]'
    reach, _ = made(tmp_path, demand)
    at_surface = PRESSURES + 0.5 * 1.25 * 900.0
    expected = np.minimum(THROW, HELD / at_surface)
    np.testing.assert_allclose(reach(PRESSURES)[1], expected, rtol=1e-6)


def test_at_the_speed_of_the_case_it_is_what_the_report_says(tmp_path):
    case = 'runs = [{ run = "elevator", deflection = ["-18 deg", "18 deg"] }]'
    reach, path = made(tmp_path, case)
    low, high = reach(np.array([0.5 * 1.25 * 60.0**2]))
    path.write_text(path.read_text(encoding="utf-8").replace("40 m/s", "60 m/s"), encoding="utf-8")
    values = linkcalc.check(path).runs[0].cases[0].values
    up, down = (values[f"blow-back deflection {side}"].value for side in ("up", "down"))
    assert math.degrees(-low[0]) == pytest.approx(up, rel=1e-9)
    assert math.degrees(high[0]) == pytest.approx(down, rel=1e-9)


def test_what_is_undefined_stays_so(tmp_path):
    reach, _ = made(tmp_path)
    low, high = reach(np.array([np.nan, -1.0, 100.0]))
    assert np.isnan(low).tolist() == np.isnan(high).tolist() == [True, True, False]


def test_many_pressures_are_looked_at_in_blocks(tmp_path):
    reach, _ = made(tmp_path)
    pressures = np.linspace(0.0, 8000.0, 600)
    whole = reach(pressures)[1]
    np.testing.assert_array_equal(whole[300:], reach(pressures[300:])[1])
    assert np.all(np.diff(whole) <= 1e-9)


def test_a_dive_takes_the_reach_of_an_elevator_as_it_comes():
    # Rooms meet here: the example's elevator in its dive, on a nose-heavy glider (invented).
    described = linkcalc.read_aircraft("examples/sandpiper.toml")
    inputs = gather(described).inputs
    elevator = [run.name for run in described.runs].index("elevator")
    reach = reach_of_pressure(
        inputs, factors(described.factors), prepare(inputs), case=1, run=elevator
    )
    glider = {
        "mass": 6.0, "wing_area": 0.6, "zero_lift_drag": 0.02, "induced_factor": 0.03,
        "maximum_lift": 1.2, "limit_load_factor": 6.0, "trim_dynamic_pressure": 2000.0,
        "trim_deflection": 0.0, "load_factor_slope": math.nan, "static_margin": 0.3,
        "tail_volume": 0.45, "tail_lift_slope": 3.8, "tail_arm": 0.8, "elevator_effectiveness": 0.3,
        "field_altitude": 0.0, "start_height": 400.0, "start_speed": 80.0, "dive_angle": 1.0,
        "drop": 100.0, "delay": 0.5, "ceiling": math.nan,
    }  # fmt: skip
    offered = {name: np.asarray(value) for name, value in glider.items()}
    offered |= {name: np.zeros(0) for name in solvers.DIVE_TABLES}
    solver = solvers.load("dive", "point_mass")
    free, limited = (
        solvers.call_dive(solver, offered, None),
        solvers.call_dive(solver, offered, reach),
    )
    assert free["reason"] == limited["reason"] == 0
    assert limited["share_servo"] > 0.5
    assert limited["height_lost"] > 1.2 * free["height_lost"]
