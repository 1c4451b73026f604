"""Every formula of the written-out calculation against the kernel that computes the same."""

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from linkcalc.evaluation import loads
from linkcalc.mechanism import pushrod
from linkcalc.physics import air, servo
from linkcalc.physics.conductors import conductor_resistance
from linkcalc.working import chain
from linkcalc.working.chain import evaluated

RANDOM = np.random.default_rng(20261126)


def drawn(formula, low=0.1, high=2.0):
    return {term: float(RANDOM.uniform(low, high)) for term in formula.terms}


FORMULAS = [
    chain.dynamic_pressure(), chain.coefficient(), chain.air_load("high", "-"),
    chain.weight_moment("_1"), chain.hinge_moment("low"), chain.stiff_angle(),
    chain.lever("s", (0.0, 1.0, 0.0)), chain.lever("h", (0.6, 0.0, 0.8), "_2"), chain.slope(),
    chain.hold_torque(("_1", "_2")), chain.moving_torque(("_1", "_2")),
    chain.current("bus", {"I_1": "one", "I_2": "other"}), chain.resistance("lead_1"),
    chain.resistance("lead_2", one_return=False), chain.node_voltage("bus", "V_oc", "-"),
    chain.stall_torque(2, between=True), chain.stall_torque(1, between=True),
    chain.stall_torque(1, between=False), chain.margin(),
]  # fmt: skip


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda each: each.symbol)
def test_every_symbol_has_a_meaning_and_a_unit_and_every_formula_a_source(formula):
    assert {str(each) for each in formula.expression.free_symbols} == set(formula.terms)
    assert all(meaning and unit for meaning, unit in formula.terms.values())
    assert formula.source
    assert formula.symbol not in formula.terms


DIMENSIONS = {  # of the units in terms of kg, m, s, A; angles and counts have none
    "1": (0, 0, 0, 0), "rad": (0, 0, 0, 0), "1/rad": (0, 0, 0, 0), "m": (0, 1, 0, 0),
    "m^2": (0, 2, 0, 0), "kg": (1, 0, 0, 0), "m/s": (0, 1, -1, 0), "m/s^2": (0, 1, -2, 0),
    "kg/m^3": (1, -3, 0, 0), "Pa": (1, -1, -2, 0), "N*m": (1, 2, -2, 0),
    "rad/(N*m)": (-1, -2, 2, 0), "A": (0, 0, 0, 1), "V": (1, 2, -3, -1),
    "ohm": (1, 2, -3, -2), "ohm*m": (1, 3, -3, -2), "K": (0, 0, 0, 0), "1/K": (0, 0, 0, 0),
}  # fmt: skip


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda each: each.symbol)
def test_formulas_keep_their_dimensions(formula):
    """With other units for mass, length, time and current each side changes alike (Buckingham)."""
    sizes = np.array([3.0, 1.7, 0.4, 5.0])  # of the new units in old ones

    def scale(unit):
        return float(np.prod(sizes ** np.array(DIMENSIONS[unit], dtype=float)))

    values = drawn(formula)
    changed = {term: values[term] * scale(unit) for term, (_, unit) in formula.terms.items()}
    expected = evaluated(formula, values) * scale(formula.unit)
    assert evaluated(formula, changed) == pytest.approx(expected, rel=1e-9)


def test_dynamic_pressure_is_that_of_the_kernel():
    formula = chain.dynamic_pressure()
    values = drawn(formula)
    kernel = air.dynamic_pressure(density=np.array(values["rho"]), speed=np.array(values["V"]))
    assert evaluated(formula, values) == pytest.approx(float(kernel), rel=1e-14)


def unit(vector):
    return vector / np.linalg.norm(vector)


def turned(vector, axis, angle):
    return Rotation.from_rotvec(angle * axis).apply(vector)


@pytest.mark.parametrize("servo_angle", [-0.5, 0.0, 0.3])
def test_levers_give_the_slope_of_the_pushrod_kernel(servo_angle):
    servo_axis, hinge_axis = unit(np.array([0.1, 1.0, 0.2])), unit(np.array([-0.2, 1.0, 0.1]))
    known = {
        "servo_pivot": np.zeros(3), "servo_axis": servo_axis, "arm": np.array([0.001, 0.004, 0.012]),
        "hinge_pivot": np.array([0.11, 0.02, 0.003]), "hinge_axis": hinge_axis,
        "horn": np.array([-0.002, 0.003, 0.015]),
    }  # fmt: skip
    kernel = pushrod.solve(np.array(servo_angle), **known)
    arm = turned(known["arm"], servo_axis, servo_angle)
    horn = turned(known["horn"], hinge_axis, float(kernel.surface_angle))
    rod = known["hinge_pivot"] + horn - arm
    values = {"L": float(np.linalg.norm(rod))}
    for letter, vector in (
        ("es", servo_axis),
        ("eh", hinge_axis),
        ("rs", arm),
        ("rh", horn),
        ("d", rod),
    ):
        values |= {
            f"{letter}_{part}": float(value) for part, value in zip("xyz", vector, strict=True)
        }
    levers = {
        f"l_{end}": evaluated(chain.lever(end, axis.tolist()), values)
        for end, axis in (("s", servo_axis), ("h", hinge_axis))
    }
    assert evaluated(chain.slope(), levers) == pytest.approx(float(kernel.slope), rel=1e-9)
    # and a unit moment on the surface puts one over the lever into the rod
    assert 1 / levers["l_h"] == pytest.approx(abs(float(kernel.rod_force)), rel=1e-9)


class Surfaces:
    first = np.array([0])
    owner = np.array([0, 0])
    hinge_friction = np.array([0.01, 0.02])


class Runs:
    efficiency = np.array([0.8])


class Inputs:
    surfaces, runs = Surfaces, Runs


@pytest.mark.parametrize("signs", [(1, 1), (1, -1), (-1, -1)])
def test_torques_are_those_of_the_evaluation(signs):
    moments = np.array([[0.3 * signs[0]], [0.2 * signs[1]]])
    slopes = np.array([[0.7], [-0.4]])
    hold = loads.to_hold(Inputs, moments, slopes)
    move = loads.to_move(Inputs, hold, moments, slopes)
    marks = ("_1", "_2")
    values = {"s": 1.0, "eta": 0.8, "T_f": 0.0, "M_f_1": 0.01, "M_f_2": 0.02}
    for index, mark in enumerate(marks):
        values |= {f"M{mark}": float(moments[index, 0]), f"G{mark}": float(slopes[index, 0])}
    assert evaluated(chain.hold_torque(marks), values) == pytest.approx(
        float(hold[0, 0]), rel=1e-12
    )
    assert evaluated(chain.moving_torque(marks), values) == pytest.approx(
        float(move[0, 0]), rel=1e-12
    )


@pytest.mark.parametrize("volts", [4.0, 5.1, 7.9, 9.0])
def test_stall_torque_is_that_of_the_datasheet_kernel(volts):
    table = np.array([4.8, 6.0, 8.4]), np.array([0.20, 0.26, 0.30])
    curves = servo.curves(
        voltage=table[0], stall_torque=table[1], no_load_speed=np.array([5.0, 6.0, 7.0]),
        stall_current=np.array([1.0, 1.2, 1.4]), no_load_current=np.array([0.1, 0.1, 0.1]),
    )  # fmt: skip
    kernel = float(servo.stall_torque(curves, np.array(volts))) / 1.2
    upper = int(np.searchsorted(table[0], volts, side="right"))
    low, high = max(upper - 1, 0), min(upper, 2)
    values = {"V_s": volts, "f_d": 1.2}
    for name, row in (("1", low), ("2", high)):
        values |= {f"V_{name}": float(table[0][row]), f"T_{name}": float(table[1][row])}
    formula = chain.stall_torque(1 + (0 < upper < 3), between=upper == 0)
    assert evaluated(formula, values) == pytest.approx(kernel, rel=1e-12)


def test_resistance_is_that_of_the_wire_kernel():
    values = {
        "k": 1.1, "rho_20": 1.7241e-8, "alpha_20": 0.00393, "t": 313.15, "l": 1.3, "A": 2e-7,
        "A_b": 3e-7, "n": 5.0, "R_c": 0.006,
    }  # fmt: skip
    each = [
        float(
            conductor_resistance(
                length=np.array(1.3), area=np.array(area), temperature=np.array(313.15),
                strand_factor=np.array(1.1),
            )
        )
        for area in (2e-7, 3e-7)
    ]  # fmt: skip
    put = {f"{name}_x": value for name, value in values.items()}
    unlike = evaluated(chain.resistance("x", one_return=False), put)
    assert unlike == pytest.approx(sum(each) + 5 * 0.006, rel=1e-12)
    alike = evaluated(chain.resistance("x"), put)
    assert alike == pytest.approx(2 * each[0] + 5 * 0.006, rel=1e-12)


def test_weight_moment_is_the_cross_product_of_the_turned_lever_and_the_weight():
    mass, angle, felt = 0.03, 0.4, np.array([0.5, 0.0, -3.0])
    axis, lever = np.array([0.0, 1.0, 0.0]), np.array([0.018, 0.0, 0.0])
    weight = mass * 9.80665 * felt
    expected = float(axis @ np.cross(turned(lever, axis, angle), weight))
    # what turns per radian: axis x lever at neutral, and the same turned by a quarter
    at_neutral = np.cross(axis, lever)
    values = {
        "m": mass, "g": 9.80665, "delta": angle, "a": float(at_neutral @ felt),
        "b": float(np.cross(axis, at_neutral) @ felt),
    }  # fmt: skip
    assert evaluated(chain.weight_moment(), values) == pytest.approx(expected, rel=1e-12)
    assert math.copysign(1, expected) == 1
