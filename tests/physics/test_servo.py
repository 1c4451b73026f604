"""Servo curves against the straight-line motor, published values and plain interpolation."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.optimize import brentq, minimize_scalar

from linkcalc.physics import servo

REFERENCE = Path(__file__).parents[1] / "reference" / "motor.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}

COLUMNS = {
    "stall_torque": servo.stall_torque,
    "no_load_speed": servo.no_load_speed,
    "stall_current": servo.stall_current,
    "no_load_current": servo.no_load_current,
}
RPM = 2.0 * math.pi / 60.0


def inputs(row):
    """Read "name 1.0 unit; name 2.0 unit" into a mapping."""
    found = (re.match(r"(.*?) ([\d.]+) ", part.strip() + " ") for part in row["inputs"].split(";"))
    return {match[1]: float(match[2]) for match in found}


def approx(row, scale=1.0):
    assert row["tolerance_kind"] == "rel"
    return pytest.approx(float(row["expected"]) * scale, rel=float(row["tolerance"]), abs=0)


def one_servo(*, voltage=6.0, torque=0.3, speed=60.0 * RPM, stalled=2.0, free=0.2):
    """Curves of one servo from its rows."""
    return servo.curves(
        voltage=np.atleast_2d(voltage),
        stall_torque=np.atleast_2d(torque),
        no_load_speed=np.atleast_2d(speed),
        stall_current=np.atleast_2d(stalled),
        no_load_current=np.atleast_2d(free),
    )


@st.composite
def datasheets(draw, most_rows=4):
    """Draw the columns of one servo: voltages ascending, and any positive figures."""
    count = draw(st.integers(1, most_rows))
    steps = draw(st.lists(st.floats(0.1, 5.0), min_size=count, max_size=count))
    figures = hnp.arrays(np.float64, (4, count), elements=st.floats(0.01, 10.0))
    torque, speed, free, more = draw(figures)
    return {
        "voltage": np.cumsum(steps),
        "stall_torque": torque,
        "no_load_speed": speed,
        "stall_current": free + more,
        "no_load_current": free,
    }


def built(datasheet):
    return servo.curves(**{name: column[None] for name, column in datasheet.items()})


VOLTAGES = st.floats(0.0, 30.0)


def test_current_at_load_agrees_with_the_reference():
    given_values = inputs(ROWS["motor-04"])
    curves = one_servo(
        torque=given_values["stall torque"],
        stalled=given_values["stall current"],
        free=given_values["no-load current"],
    )
    current = servo.current(curves, 6.0, np.array([given_values["torque"]]))
    assert current == approx(ROWS["motor-04"])


def test_speed_at_load_agrees_with_the_reference():
    given_values = inputs(ROWS["motor-05"])
    curves = one_servo(
        torque=given_values["stall torque"], speed=given_values["no-load speed"] * RPM
    )
    rate = servo.rate(curves, 6.0, np.array([given_values["torque"]]))
    assert rate == approx(ROWS["motor-05"], RPM)


def test_stall_torque_and_no_load_speed_below_the_row_agree_with_the_reference():
    # "0.30 N m at 6.0 V; new 5.0 V" and "60 rpm at 6.0 V; new 5.0 V".
    torque, old, new = map(float, re.findall(r"\d+\.?\d*", ROWS["motor-06"]["inputs"]))
    curves = one_servo(voltage=old, torque=torque)
    assert servo.stall_torque(curves, new) == approx(ROWS["motor-06"])
    speed, old, new = map(float, re.findall(r"\d+\.?\d*", ROWS["motor-07"]["inputs"]))
    curves = one_servo(voltage=old, speed=speed * RPM)
    assert servo.no_load_speed(curves, new) == approx(ROWS["motor-07"], RPM)


def test_power_is_greatest_at_half_of_the_stall_torque():
    curves = one_servo()
    best = minimize_scalar(
        lambda torque: -torque * servo.rate(curves, 6.0, np.array([torque]))[0],
        bounds=(0.0, 0.3),
        method="bounded",
        options={"xatol": 1e-9},
    )
    # A minimum is found to the root of the rounding error, not to the row's 1e-6.
    assert best.x / 0.3 == pytest.approx(float(ROWS["motor-08"]["expected"]), rel=1e-5)


def test_stall_torque_behind_a_lead_agrees_with_the_reference():
    # "supply 6 V; motor 3.0 ohm incl. driver; lead loop 0.30 ohm; stall torque 0.30 N m ..."
    supply, motor, lead, torque = map(float, re.findall(r"\d+\.?\d*", ROWS["motor-09"]["inputs"]))
    curves = one_servo(voltage=supply, torque=torque, stalled=supply / motor, free=0.0)
    left = brentq(
        lambda volts: volts + lead * servo.stall_current(curves, volts)[0] - supply, 0.0, supply
    )
    # Half of the sixth decimal, to which it is printed, is more than the tolerance of 1e-6.
    expected = float(ROWS["motor-09"]["expected"])
    assert servo.stall_torque(curves, left) == pytest.approx(expected, rel=0, abs=0.5e-6)


def test_figures_between_two_rows_agree_with_a_motor_with_a_drop_in_its_driver():
    # motor-01 to motor-03: "constant 0.12 N m/A; 48 V; phase resistance 0.15 ohm, two in
    # series; 2 V device drop", drop neglected at no load. Rows at 36 V and 60 V.
    constant, drop, resistance = 0.12, 2.0, 2 * 0.15
    voltage = np.array([36.0, 60.0])
    stalled = (voltage - drop) / resistance
    curves = one_servo(
        voltage=voltage,
        torque=constant * stalled,
        speed=voltage / constant,
        stalled=stalled,
        free=0.0 * voltage,
    )
    assert servo.no_load_speed(curves, 48.0) == approx(ROWS["motor-01"], RPM)
    assert servo.stall_current(curves, 48.0) == approx(ROWS["motor-02"])
    assert servo.stall_torque(curves, 48.0) == approx(ROWS["motor-03"])


@given(datasheets(), VOLTAGES)
def test_every_column_is_linear_between_zero_and_its_rows_and_level_above(datasheet, volts):
    curves = built(datasheet)
    for name, column in COLUMNS.items():
        expected = np.interp(
            volts,
            np.concatenate(([0.0], datasheet["voltage"])),
            np.concatenate(([0.0], datasheet[name])),
        )
        # The ramps are added up, so rounding goes with the largest figure.
        assert column(curves, volts)[0] == pytest.approx(expected, rel=1e-9, abs=1e-12)


@given(datasheets(), VOLTAGES, st.floats(0.0, 20.0))
def test_current_and_rate_are_straight_lines_up_to_the_stall(datasheet, volts, torque):
    curves = built(datasheet)
    stalling, free_speed, stalled, free = (
        float(column(curves, volts)[0]) for column in COLUMNS.values()
    )
    current = servo.current(curves, volts, np.array([torque]))[0]
    rate = servo.rate(curves, volts, np.array([torque]))[0]
    if torque >= stalling:
        assert current == pytest.approx(stalled, rel=1e-12, abs=0)
        assert rate == 0.0
    else:
        # Both lines together: speed lost and current gained go with the torque.
        assert (current - free) * stalling == pytest.approx(
            (stalled - free) * torque, rel=1e-9, abs=1e-12
        )
        assert (free_speed - rate) * stalling == pytest.approx(
            free_speed * torque, rel=1e-9, abs=1e-12
        )


@given(datasheets(), VOLTAGES, st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_more_torque_never_takes_less_current_nor_turns_faster(datasheet, volts, torque, more):
    curves = built(datasheet)
    loads = np.array([[torque], [torque + more]])
    light, heavy = servo.current(curves, volts, loads)
    assert heavy >= light - 1e-12
    light, heavy = servo.rate(curves, volts, loads)
    assert heavy <= light + 1e-12


@given(datasheets(), VOLTAGES, st.floats(0.0, 5.0))
def test_repeated_last_rows_change_nothing(datasheet, volts, torque):
    padded = {name: np.append(column, column[-1:]) for name, column in datasheet.items()}
    short, long = built(datasheet), built(padded)
    load = np.array([torque])
    assert servo.current(long, volts, load) == servo.current(short, volts, load)
    assert servo.rate(long, volts, load) == servo.rate(short, volts, load)


@settings(max_examples=25)
@given(st.lists(datasheets(most_rows=3), min_size=2, max_size=3), st.data())
def test_many_servos_at_many_voltages_give_what_each_gives_alone(datasheets, data):
    rows = max(len(datasheet["voltage"]) for datasheet in datasheets)
    columns = {
        name: np.array([np.pad(d[name], (0, rows - len(d[name])), "edge") for d in datasheets])
        for name in datasheets[0]
    }
    shape = (2, 3, len(datasheets))
    volts = data.draw(hnp.arrays(np.float64, shape, elements=VOLTAGES))
    torque = data.draw(hnp.arrays(np.float64, shape[1:], elements=st.floats(0.0, 5.0)))
    together = servo.current(servo.curves(**columns), volts, torque)
    assert together.shape == shape
    for index in np.ndindex(shape):
        alone = servo.current(built(datasheets[index[-1]]), volts[index], torque[index[1:]])
        assert together[index] == alone[0]


@pytest.mark.parametrize("volts", [0.0, -1.0, -math.inf])
def test_no_or_negative_voltage_gives_nothing(volts):
    curves = one_servo()
    for torque in (0.0, 0.1):
        assert servo.current(curves, volts, np.array([torque])) == 0.0
        assert servo.rate(curves, volts, np.array([torque])) == 0.0
    for column in COLUMNS.values():
        assert column(curves, volts) == 0.0


def test_a_servo_without_stall_torque_stalls_under_any_torque():
    curves = one_servo(torque=0.0)
    assert servo.current(curves, 6.0, np.array([1e-9])) == 2.0
    assert servo.rate(curves, 6.0, np.array([1e-9])) == 0.0


def test_nan_in_gives_nan_out():
    curves, nan = one_servo(), math.nan
    for kernel in (servo.current, servo.rate):
        assert np.isnan(kernel(curves, nan, np.array([0.1])))
        assert np.isnan(kernel(curves, 6.0, np.array([nan])))
        assert np.isnan(kernel(curves, 0.0, np.array([nan])))
    for name, column in COLUMNS.items():
        assert np.isnan(column(curves, nan))
        spoilt = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 6.0}
        spoilt |= {"stall_current": 2.0, "no_load_current": 0.2} | {name: nan}
        assert np.isnan(column(built({key: np.array([v]) for key, v in spoilt.items()}), 5.0))


def test_below_first_row_is_true_only_below_it():
    curves = one_servo(voltage=[4.8, 6.0], torque=[0.2, 0.3])
    volts = np.array([[4.79], [4.8], [6.1], [math.nan]])
    assert servo.below_first_row(curves, volts)[:, 0].tolist() == [True, False, False, False]


def test_arguments_are_not_changed():
    rows = {name: np.array([[1.0, 2.0]]) for name in ("voltage", *COLUMNS)}
    volts, torque = np.array([-1.0]), np.array([0.5])
    servo.current(servo.curves(**rows), volts, torque)
    assert all((column == [[1.0, 2.0]]).all() for column in rows.values())
    assert (volts, torque) == (-1.0, 0.5)
