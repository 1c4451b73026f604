"""The derivation against itself, and every kernel of a pushrod against the derivation."""

import numpy as np
import pytest
import sympy

from linkcalc.mechanism import loop, pushrod
from linkcalc.mechanism.half_angle import quadratics
from linkcalc.working.pushrod import derive, evaluate, in_half_angles

VECTORS = ("offset", "servo_axis", "arm", "hinge_axis", "horn")


@pytest.fixture(scope="module")
def derivation():
    return derive()


@pytest.fixture(scope="module")
def half(derivation):
    return in_half_angles(derivation)


def unit(vector):
    return vector / np.linalg.norm(vector)


def drawn(seed):
    """A pushrod of any shape, lengths of some decimetres."""
    random = np.random.default_rng(seed)
    return {
        "offset": random.normal(0.0, 1.0, 3) * 0.3,
        "servo_axis": unit(random.normal(size=3)),
        "arm": random.normal(0.0, 0.03, 3),
        "hinge_axis": unit(random.normal(size=3)),
        "horn": random.normal(0.0, 0.05, 3),
    }


def keywords(loop):
    return {
        "servo_pivot": loop["offset"], "servo_axis": loop["servo_axis"], "arm": loop["arm"],
        "hinge_pivot": np.zeros(3), "hinge_axis": loop["hinge_axis"], "horn": loop["horn"],
    }  # fmt: skip


def put(derivation, loop, **others):
    """Values of the symbols."""
    values = {
        derivation.symbols[f"{name}_{part}"]: float(value)
        for name in VECTORS
        for part, value in zip("xyz", loop[name], strict=True)
    }
    rod = float(np.linalg.norm(loop["offset"] + loop["arm"] - loop["horn"]))
    return (
        values
        | {derivation.symbols["rod"]: rod}
        | {getattr(derivation, name): float(value) for name, value in others.items()}
    )


SEEDS = range(25)


@pytest.mark.parametrize("seed", SEEDS)
def test_kernel_agrees_with_the_derived_solution_slope_and_force(derivation, seed):
    geometry = drawn(seed)
    ends = np.clip(pushrod.limits(**keywords(geometry)).servo_angle, -2.5, 2.5)
    angle = ends[seed % 2] * (0.1 + 0.03 * (seed % 25))
    solution = pushrod.solve(angle, **keywords(geometry))
    assert solution.reason == 0
    values = put(derivation, geometry, servo_angle=angle)
    roots = [float(root) for root in evaluate(derivation.solutions, values)]
    off = [np.angle(np.exp(1j * (root - solution.surface_angle))) for root in roots]
    nearest = int(np.argmin(np.abs(off)))
    assert abs(off[nearest]) < 1e-12 * (1.0 + abs(solution.slope))
    at = put(derivation, geometry, servo_angle=angle, surface_angle=roots[nearest])
    slope, force, gap = evaluate([derivation.slope, derivation.rod_force, derivation.closure], at)
    assert abs(float(gap)) < 1e-15
    steep = 1.0 + abs(float(slope)) + abs(float(force)) * 0.05
    assert abs(float(slope) - solution.slope) < 1e-12 * steep**2
    assert abs(float(force) - solution.rod_force) < 1e-12 * steep**2 * (1.0 + abs(float(force)))


@pytest.mark.parametrize("seed", range(5))
def test_closure_is_a_cosine_and_a_sine_of_the_surface_angle(derivation, seed):
    values = put(derivation, drawn(seed), servo_angle=0.7, surface_angle=-1.1)
    y = derivation.surface_angle
    parts = derivation.a * sympy.cos(y) + derivation.b * sympy.sin(y) - derivation.c
    whole, summed = evaluate([derivation.closure, parts], values)
    # The axes are unit vectors to the rounding of binary numbers.
    assert abs(float(whole - summed)) < 1e-16


@pytest.mark.parametrize("seed", range(10))
def test_weights_of_the_loop_are_those_of_the_derivation(derivation, seed):
    geometry = drawn(seed)
    weights, size = loop.closure(
        offset=geometry["offset"], input_axis=geometry["servo_axis"],
        input_arm=geometry["arm"], output_axis=geometry["hinge_axis"],
        output_arm=geometry["horn"], stretch=np.array(0.0),
    )  # fmt: skip
    for angle in (0.0, 0.4, -1.3):
        values = put(derivation, geometry, servo_angle=angle)
        a, b, c = evaluate([derivation.a, derivation.b, derivation.c], values)
        found = weights.values(np.cos(angle), np.sin(angle))
        np.testing.assert_allclose(
            [float(a), float(b), float(c)], np.array(found) * size, rtol=0, atol=1e-15
        )


@pytest.mark.parametrize("seed", range(10))
def test_quadratics_in_half_angles_are_those_of_the_derivation(derivation, half, seed):
    geometry = drawn(seed)
    weights, size = loop.closure(
        offset=geometry["offset"], input_axis=geometry["servo_axis"],
        input_arm=geometry["arm"], output_axis=geometry["hinge_axis"],
        output_arm=geometry["horn"], stretch=np.array(0.0),
    )  # fmt: skip
    found = np.array(quadratics(weights, np.array(0.0), np.array(1.0))) * size
    values = put(derivation, geometry)
    for column, part in enumerate((half.n, half.b, half.g)):
        rows = sympy.Poly(part, half.tangent).all_coeffs()[::-1]
        expected = [float(value) for value in evaluate(rows, values)]
        np.testing.assert_allclose(found[:, column], expected, rtol=0, atol=1e-15)


def test_half_angle_form_is_the_closure_times_both_denominators():
    a, b, c, v = sympy.symbols("a b c v", real=True)
    cosine, sine = (1 - v**2) / (1 + v**2), 2 * v / (1 + v**2)
    form = (c + a) * v**2 - 2 * b * v + (c - a)
    assert sympy.simplify(form + (a * cosine + b * sine - c) * (1 + v**2)) == 0
    # And one of its roots is what the kernel takes.
    root = sympy.sqrt(b**2 - (c - a) * (c + a))
    assert sympy.simplify(form.subs(v, (c - a) / (b + root)) * (b + root) ** 2) == 0


def test_derived_slope_is_that_of_the_derived_solution(derivation):
    # The slope came from implicit differentiation; the solution may be differentiated itself.
    geometry = drawn(3)
    values = put(derivation, geometry, servo_angle=0.2)
    for solution in derivation.solutions:
        angle, direct = evaluate([solution, sympy.diff(solution, derivation.servo_angle)], values)
        implicit = evaluate([derivation.slope], values | {derivation.surface_angle: angle})[0]
        assert abs(float(direct - implicit)) < 1e-20
