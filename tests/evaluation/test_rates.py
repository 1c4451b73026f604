"""The least rate between the ends of a range, against scipy on the closed loop itself."""

from __future__ import annotations

import itertools
from math import cos, degrees, hypot, radians, sin

import attrs
import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

import linkcalc
from linkcalc.evaluation import axes
from linkcalc.evaluation.evaluate import burden, evaluate
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather

ARM, HORN, ROD = 0.020, 0.012, 0.15  # a longer arm: the slope rises towards both ends
THROW = radians(40)
FREE_SPEED, DATASHEET, ETA = 8.0, 1.2, 0.9
MOMENT = 0.5 * 1.2 * 30.0**2 * 0.5 * 0.06**2 * 0.8  # q S c |C_delta|, per radian [N m/rad]


def aircraft(stall):
    row = linkcalc.DatasheetRow(
        voltage="6 V",
        stall_torque=f"{stall!r} N·m",
        no_load_speed="8 rad/s",
        stall_current="2 A",
        no_load_current="0.2 A",
    )
    surface = linkcalc.ControlSurface(
        span="500 mm",
        chord="60 mm",
        throw="40 deg",
        coefficients=linkcalc.HingeMomentCoefficients(C_h_alpha="0 1/rad", C_h_delta="-0.8 1/rad"),
    )
    linkage = linkcalc.Linkage(
        surface=surface,
        arm=linkcalc.ServoArm(radius="20 mm"),
        horn=linkcalc.ControlHorn(radius="12 mm"),
        pushrod=linkcalc.Pushrod(length="150 mm", diameter="2 mm"),
    )
    run = linkcalc.ControlRun(
        name="elevator",
        servo=linkcalc.Servo(name="plain", rows=[row], travel="60 deg"),
        lead=linkcalc.Lead(name="lead", loop_resistance="1e-9 ohm"),
        linkages=[linkage],
        efficiency=ETA,
    )
    case = linkcalc.FlightCase(name="case", kind="manoeuvre", speed="30 m/s", density="1.2 kg/m^3")
    return linkcalc.Aircraft(
        name="card",
        supply=linkcalc.Supply(voltage="6 V", internal_resistance="0 ohm", current_limit="9 A"),
        runs=[run],
        cases=[case],
    )


def surface_angle(theta):
    # Arm at the origin, hinge where the loop closes with arm and horn square to the rod.
    hinge = ROD, ARM - HORN

    def gap(delta):
        x = hinge[0] + HORN * sin(delta) - ARM * sin(theta)
        y = hinge[1] + HORN * cos(delta) - ARM * cos(theta)
        return hypot(x, y) - ROD

    return brentq(gap, -1.2, 1.2, xtol=1e-14)


def servo_angle(delta):
    return brentq(lambda theta: surface_angle(theta) - delta, -0.5, 0.5, xtol=1e-14)


def slope(delta):
    theta, step = servo_angle(delta), 1e-4
    near = (surface_angle(theta + step) - surface_angle(theta - step)) / (2 * step)
    far = (surface_angle(theta + 2 * step) - surface_angle(theta - 2 * step)) / (4 * step)
    return (4 * near - far) / 3


def rate(delta, stall):
    torque = MOMENT * abs(delta) * slope(delta) / ETA
    return slope(delta) * FREE_SPEED * (1 - torque * DATASHEET / stall)


def least(stall):
    """Return the least rate: either side in two parts, for the load has a kink at neutral."""
    edges = [-THROW, -0.3, 0.0, 0.3, THROW]
    inner = [
        minimize_scalar(
            rate, args=(stall,), bounds=bounds, method="bounded", options={"xatol": 1e-9}
        ).fun
        for bounds in itertools.pairwise(edges)
    ]
    return min(*inner, *(rate(edge, stall) for edge in edges))


STALLS = (2.0, 3.0, 6.0, 12.0, 20.0, 60.0)
DENSE = tuple(np.linspace(12.0, 24.0, 25))  # some share a best node and part further in


def told(stall):
    report = linkcalc.check(aircraft(stall))
    return report.runs[0].cases[0].values["surface rate under load"].value


@pytest.mark.parametrize("stall", STALLS)
def test_least_rate_is_that_of_a_general_minimiser(stall):
    assert told(stall) == pytest.approx(degrees(least(stall)), rel=1e-7)


def test_some_of_these_are_between_the_ends():
    inside = [
        least(stall) < 0.999 * min(rate(THROW, stall), rate(-THROW, stall)) for stall in STALLS
    ]
    assert any(inside)
    assert not all(inside)


def test_many_servos_on_one_linkage_in_two_cases_are_each_as_alone():
    one = aircraft(STALLS[0])
    slow = attrs.evolve(one.cases[0], name="slow", speed="31 m/s", density="0.9 kg/m^3")
    one = attrs.evolve(one, cases=[*one.cases, slow])
    variants = [attrs.evolve(one, runs=aircraft(float(stall)).runs) for stall in DENSE]
    stacked = axes.inserted(gather(one).inputs, [[gather(each).inputs for each in variants]])
    rates = evaluate(stacked, both(factors(one.factors), 4)).rate[0, ..., 0]
    alone = [evaluate(gather(each).inputs, both(factors(one.factors), 3)) for each in variants]
    np.testing.assert_array_equal(rates, [each.rate[0, :, 0] for each in alone])


def test_what_is_kept_of_a_linkage_for_the_next_servos_changes_no_digit():
    one, used = aircraft(STALLS[0]), both(factors(aircraft(STALLS[0]).factors), 4)

    def stacked(stalls):
        variants = [attrs.evolve(one, runs=aircraft(float(stall)).runs) for stall in stalls]
        return axes.inserted(gather(one).inputs, [[gather(each).inputs for each in variants]])

    parts = [stacked(DENSE[::2]), stacked(DENSE[1::2]), stacked(DENSE[3:9])]
    asked = burden(parts[0], used)
    for part in parts:
        kept = evaluate(part, used, known=asked).rate
        np.testing.assert_array_equal(kept, evaluate(part, used).rate)
