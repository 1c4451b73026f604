"""Datasheets that cannot be true are told, and those that follow the motor's laws are not."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc import DatasheetRow
from linkcalc.catalogue import ServoPart
from linkcalc.catalogue.plausibility import RULES, doubts

GRAVITY = 9.80665


def motor(voltage, *, resistance, constant, idle, ratio, efficiency):
    """One row of a permanent-magnet motor behind a gearbox, from its circuit.

    Stalled, the current is V / R, and (I_s - I_0) k at the motor turn the gears. Free, the
    current is I_0, and V - R I_0 is the voltage of the speed.
    """
    stall = voltage / resistance
    return {
        "voltage": f"{voltage} V",
        "stall_torque": f"{(stall - idle) * constant * ratio * efficiency:.9f} Nm",
        "no_load_speed": f"{(voltage - resistance * idle) / constant / ratio:.9f} rad/s",
        "stall_current": f"{stall:.9f} A",
        "no_load_current": f"{idle:.9f} A",
    }


def servo(*rows, mass="20 g", **more):
    return ServoPart(
        name="s", source="invented", mass=mass, rows=[DatasheetRow(**row) for row in rows], **more
    )


# k = 5 mN·m/A, R = 4 ohm, 250 to 1: at 6 V (1.5 - 0.1) A x 5 mN·m/A x 250 x 0.6 = 1.05 N·m.
PLAIN = {"resistance": 4.0, "constant": 0.005, "idle": 0.1, "ratio": 250.0, "efficiency": 0.6}


def told(*servos):
    return [doubt.rule for doubt in doubts(servos)]


@given(
    resistance=st.floats(2, 6),
    constant=st.floats(0.003, 0.008),
    share=st.floats(0.02, 0.12),
    efficiency=st.floats(0.25, 0.88),
    volts=st.sampled_from([(4.8, 6.0), (6.0, 7.4, 8.4), (5.0,)]),
)
def test_a_motor_by_its_circuit_raises_no_doubt(resistance, constant, share, efficiency, volts):
    idle = share * volts[0] / resistance
    figures = {"resistance": resistance, "constant": constant, "idle": idle}
    rows = [motor(v, **figures, ratio=100.0, efficiency=efficiency) for v in volts]
    assert told(servo(*rows, mass="10 g")) in ([], ["mass"])  # a weak one may be heavy


@pytest.mark.parametrize(
    ("efficiency", "rules"),
    [(0.15, ["low power"]), (0.85, []), (0.95, ["high power"]), (1.05, ["power"])],
)
def test_power_is_told_by_the_efficiency_that_it_takes(efficiency, rules):
    # The circuit above puts the efficiency in; the rule has to get it out again.
    found = servo(motor(6.0, **PLAIN | {"efficiency": efficiency}), mass="30 g")
    assert told(found) == rules
    if rules:
        assert f"{efficiency:.3g}" in doubts([found])[0].found


def test_power_without_a_no_load_current_takes_a_tenth_of_the_stall_current():
    # T omega = 0.3 x 10 = 3 W; 6 V x 0.5 A x 0.9^2 = 2.43 W: 1.23 of it.
    row = {
        "voltage": "6 V",
        "stall_torque": "0.3 Nm",
        "no_load_speed": "10 rad/s",
        "stall_current": "0.5 A",
    }
    assert "1.23 of what" in doubts([servo(row)])[0].found


def test_a_figure_that_is_not_printed_is_not_doubted():
    row = {"voltage": "6 V", "stall_torque": "3 kg·cm", "no_load_speed": "0.05 s/60deg"}
    assert told(servo(row)) == []
    assert doubts([]) == []


def test_a_stall_current_that_does_not_follow_the_resistance_is_told():
    # 4.8 V / 1.2 A = 4 ohm, and 6 V / 1.0 A = 6 ohm: 1.5 times.
    low, high = motor(4.8, **PLAIN), motor(6.0, **PLAIN)
    found = doubts([servo(low, high | {"stall_current": "1.0 A"})])
    assert [doubt.rule for doubt in found if doubt.rule == "winding"] == ["winding"]
    assert "1.5 times" in next(doubt.found for doubt in found if doubt.rule == "winding")


def test_resistance_is_held_against_the_lowest_row_that_prints_a_current():
    low, high = motor(4.8, **PLAIN), motor(6.0, **PLAIN)
    del low["stall_current"], low["no_load_current"]
    assert told(servo(low, high)) == []


@pytest.mark.parametrize(
    ("column", "rule", "levels"),
    [
        ("stall_torque", "torque and voltage", ["1 Nm", "1 Nm"]),
        ("stall_torque", "torque and voltage", ["1 Nm", "0.9 Nm"]),
        ("stall_torque", "torque and voltage", ["0.8 Nm", "1.3 Nm"]),  # the power 2.2
        ("no_load_speed", "speed and voltage", ["0.1 s/60deg", "0.1 s/60deg"]),
    ],
)
def test_a_figure_that_does_not_scale_with_the_voltage_is_told(column, rule, levels):
    rows = [
        motor(v, **PLAIN) | {column: level} for v, level in zip((4.8, 6.0), levels, strict=True)
    ]
    for row in rows:
        del row["stall_current"], row["no_load_current"]
    assert told(servo(*rows)) == [rule]


@pytest.mark.parametrize(("mass", "rules"), [("1 g", ["mass"]), ("20 g", []), ("1 kg", ["mass"])])
def test_torque_for_the_mass_is_held_to_what_there_is(mass, rules):
    row = {"voltage": "6 V", "stall_torque": "3 kg·cm", "no_load_speed": "0.1 s/60deg"}
    assert told(servo(row, mass=mass)) == rules  # 3, 0.15 and 0.003 kg·cm for each gram


@pytest.mark.parametrize(
    ("width", "rules"), [("10 mm", []), ("10 cm", ["size"]), ("2 mm", ["size"])]
)
def test_mass_for_the_size_is_held_to_what_there_is(width, rules):
    # 20 g in 30 x 40 x 10 mm, 12 cm^3: 1.67 g/cm^3.
    row = {"voltage": "6 V", "stall_torque": "3 kg·cm", "no_load_speed": "0.1 s/60deg"}
    assert told(servo(row, length="30 mm", height="40 mm", width=width)) == rules


def test_each_doubt_names_its_servo_in_the_order_of_the_servos():
    good = servo(motor(6.0, **PLAIN))
    row = {"voltage": "6 V", "stall_torque": "3 kg·cm", "no_load_speed": "0.1 s/60deg"}
    bad = ServoPart(name="bad", source="invented", mass="1 g", rows=[DatasheetRow(**row)])
    assert [doubt.part for doubt in doubts([good, bad, good, bad])] == ["bad", "bad"]


def test_every_rule_says_on_what_it_rests():
    for rule in RULES.values():
        assert rule.basis in {"physics", "common practice, no source"}
        assert np.isfinite(rule.least)
        assert rule.found.format(1.0) != rule.found
