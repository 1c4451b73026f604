"""What datasheets leave out, against motor equations, an integrated heat balance and textbooks."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from linkcalc.physics import servo_sheet as sheet

REFERENCE = Path(__file__).parents[1] / "reference" / "motor.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def motor(*, voltage, winding, constant, friction, ratio, efficiency):
    """A motor by its own equations: V = R I + k w, T = k I - friction; then a gearbox."""
    stalled = voltage / winding
    idle = friction / constant
    speed = (voltage - winding * idle) / constant / ratio
    torque = efficiency * ratio * (constant * stalled - friction)
    return {
        "voltage": voltage,
        "stall_torque": torque,
        "no_load_speed": speed,
        "stall_current": stalled,
        "no_load_current": idle,
    }


MOTORS = st.fixed_dictionaries(
    {
        "voltage": st.floats(4.0, 8.4),
        "winding": st.floats(1.0, 8.0),
        "constant": st.floats(1e-3, 1e-2),
        "friction": st.floats(0.0, 1e-4),
        "ratio": st.floats(100.0, 400.0),
        "efficiency": st.floats(0.45, 0.9),
    }
)


@given(MOTORS)
def test_a_motor_has_the_efficiency_that_it_was_made_with(drawn):
    row = motor(**drawn)
    assume(row["no_load_current"] < 0.8 * row["stall_current"])
    assert sheet.implied_efficiency(**row) == pytest.approx(drawn["efficiency"], rel=1e-9)


@given(MOTORS)
def test_the_estimate_of_a_stall_current_encloses_the_motors_own(drawn):
    row = motor(**drawn)
    assume(row["no_load_current"] < 0.8 * row["stall_current"])
    stalled, idle = row.pop("stall_current"), row.pop("no_load_current")
    known = sheet.estimated_stall_current(**row, no_load_current=idle)
    assert known.low <= known.best <= known.high
    assert known.low * (1 - 1e-9) <= stalled <= known.high * (1 + 1e-9)
    unknown = sheet.estimated_stall_current(**row)
    if 0.05 * stalled <= idle <= 0.2 * stalled:
        assert unknown.low * (1 - 1e-9) <= stalled <= unknown.high * (1 + 1e-9)


@given(MOTORS)
def test_the_best_estimate_is_right_for_the_efficiency_that_it_takes(drawn):
    row = motor(**drawn | {"efficiency": 0.65})
    assume(row["no_load_current"] < 0.8 * row["stall_current"])
    stalled, idle = row.pop("stall_current"), row.pop("no_load_current")
    found = sheet.estimated_stall_current(**row, no_load_current=idle)
    assert found.best == pytest.approx(stalled, rel=1e-9)


def test_the_power_balance_has_the_starting_current_of_the_textbook():
    # motor-01 to -03: a motor without gearbox and friction, 48 V; its no-load speed of 3819.72
    # rpm and starting torque of 18.4 N m belong to a starting current of 153.333 A.
    speed = float(ROWS["motor-01"]["expected"]) * math.pi / 30.0
    torque, current = (float(ROWS[row]["expected"]) for row in ("motor-03", "motor-02"))
    voltage = float(re.search(r"([\d.]+) V;", ROWS["motor-01"]["inputs"])[1])
    found = sheet.implied_efficiency(
        voltage=voltage,
        stall_torque=torque,
        no_load_speed=speed,
        stall_current=current,
        no_load_current=0.0,
    )
    assert found == pytest.approx(1.0, rel=0.002)


def test_estimates_take_arrays_and_tell_what_is_known_of_each():
    idle = np.array([np.nan, 0.0, 0.2])
    found = sheet.estimated_stall_current(
        voltage=6.0, stall_torque=0.4, no_load_speed=6.5, no_load_current=idle
    )
    ideal = 0.4 * 6.5 / 6.0 / 0.65
    assert found.best[0] == pytest.approx(ideal / 0.81)
    # the ends: 0.9 with a twentieth of the stall current without load, 0.45 with a fifth
    assert found.low[0] == pytest.approx(0.4 * 6.5 / 6.0 / 0.9 / 0.95**2)
    assert found.high[0] == pytest.approx(0.4 * 6.5 / 6.0 / 0.45 / 0.8**2)
    assert found.best[1] == pytest.approx(ideal)
    stalled = found.best[2]
    assert (stalled - 0.2) ** 2 / stalled == pytest.approx(ideal)
    assert stalled > 0.2
    share = sheet.estimated_no_load_current(stall_current=found.best)
    assert share.best == pytest.approx(0.1 * found.best)
    assert (share.low < share.best).all()
    assert (share.best < share.high).all()


def test_pulses_go_to_angles_and_back_to_neutral():
    servo = {"neutral_pulse": 1.5e-3, "travel": math.radians(120.0), "pulse_span": 1.2e-3}
    pulse = np.array([0.9e-3, 1.5e-3, 2.1e-3])
    assert np.degrees(sheet.pulse_angle(pulse=pulse, **servo)) == pytest.approx([-60.0, 0.0, 60.0])
    band = sheet.deadband_angle(deadband=3e-6, travel=servo["travel"], pulse_span=1.2e-3)
    ends = sheet.pulse_angle(pulse=1.5e-3 + np.array([-1.5e-6, 1.5e-6]), **servo)
    assert band == pytest.approx(ends[1] - ends[0])


HOLDS = {
    "torque_share": st.floats(0.0, 1.0),
    "continuous_share": st.floats(0.1, 0.6),
    "time_constant": st.floats(10.0, 600.0),
    "start": st.floats(0.0, 0.95),
}


@given(st.fixed_dictionaries(HOLDS), st.floats(1e-3, 900.0))
def test_temperature_is_the_integral_of_the_heat_balance(hold, time):
    heat = (hold["torque_share"] / hold["continuous_share"]) ** 2
    found = solve_ivp(
        lambda _, rise: (heat - rise) / hold["time_constant"],
        (0.0, time),
        [hold["start"]],
        rtol=1e-9,
        atol=1e-11,
    )
    assert sheet.temperature_share(time=time, **hold) == pytest.approx(found.y[0, -1], abs=1e-6)


@given(st.fixed_dictionaries(HOLDS))
def test_after_the_time_that_it_may_hold_it_is_at_its_limit(hold):
    time = sheet.hold_time(**hold)
    ratio = hold["torque_share"] / hold["continuous_share"]
    if ratio <= 1.0:
        assert np.isinf(time)
        return
    assume(ratio > 1.0 + 1e-6)
    assert 0.0 <= time < np.inf
    assert sheet.temperature_share(time=time, **hold) == pytest.approx(1.0, rel=1e-6)


def test_a_servo_that_is_too_warm_may_hold_no_longer_and_nan_stays_unknown():
    hold = {"continuous_share": 0.3, "time_constant": 60.0}
    assert sheet.hold_time(torque_share=0.6, start=1.2, **hold) == 0.0
    assert sheet.hold_time(torque_share=0.1, start=1.2, **hold) == 0.0
    for name in ("torque_share", "continuous_share", "time_constant", "start"):
        values = {"torque_share": 0.2, "start": 0.0} | hold | {name: np.nan}
        assert np.isnan(sheet.hold_time(**values))


@pytest.mark.parametrize(
    ("sender", "receiver", "rise", "high", "low"),
    [
        ("3.3 V", "3.3 V", 0.0, 0.4, 0.4),
        ("3.3 V", "5 V TTL", 0.3, 0.1, 0.7),
        ("3.3 V", "5 V CMOS", 0.0, -1.1, 1.1),  # such an input wants more than 3.3 V in any case
        ("5 V CMOS", "5 V CMOS", 0.6, 0.4, 1.6),
        ("5 V CMOS", "3.3 V", -0.4, 2.9, -0.1),  # ground below that of the receiver
    ],
)
def test_a_raised_ground_takes_from_a_high_signal_and_gives_to_a_low_one(
    sender, receiver, rise, high, low
):
    # By hand: V_OH - rise - V_IH and V_IL - V_OL + rise.
    out, into = sheet.LOGIC_LEVELS[sender], sheet.LOGIC_LEVELS[receiver]
    found = sheet.signal_margins(
        ground_rise=rise,
        output_high=out.output_high,
        output_low=out.output_low,
        input_high=into.input_high,
        input_low=into.input_low,
    )
    assert found == pytest.approx((high, low))
