"""Solvers side by side: each does what its own formula says, and lacks what it needs in words."""

import json
import math

import pytest

from linkcalc import cli
from linkcalc.report.methods_table import methods_text
from linkcalc.solvers import load
from linkcalc.study.methods import compare_methods
from tests.evaluation.aircraft import SINGLE

SIZE = 0.5 * 1.25 * 40.0**2 * 0.5 * 0.04 * 0.04
COEFFICIENTS = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
SECTION = "chord_ratio = 0.3, thickness_ratio = 0.12, lift_slope_ratio = 0.9, aspect_ratio = 6.0"


@pytest.fixture
def file(tmp_path):
    def of(section):
        words = SINGLE[0]
        assert words.count(COEFFICIENTS) == 1
        path = tmp_path / "aircraft.toml"
        path.write_text(words.replace(COEFFICIENTS, section), encoding="utf-8")
        return path

    return of


def by_solver(found):
    return {each.solver: each for each in found.estimates}


def test_each_solver_stands_for_its_own_formula(file):
    found = by_solver(compare_methods(file(f"{COEFFICIENTS}, chord_ratio = 0.3")))
    given, thin = found["coefficients"], found["thin_aerofoil"]
    assert (given.used, thin.used) == (True, False)
    assert given.best == pytest.approx(-0.5 * math.radians(20) * SIZE, rel=1e-9)
    # Glauert's thin aerofoil with a flap, integrated in closed form (R&M 1095): b2 at E = 0.3
    slope = thin_deflection_slope(0.3)
    assert thin.high == pytest.approx(slope * math.radians(20) * SIZE, rel=1e-6)
    assert thin.margin < given.margin


def thin_deflection_slope(ratio, count=4000):
    """C_h_delta by summing up the pressure on a mean line that is bent at the hinge.

    Glauert: over q the jump is 4 (A_0 (1 + cos t) / sin t + sum A_n sin n t) with
    x = (1 - cos t) / 2, here A_0 = (pi - h) / pi and A_n = 2 sin(n h) / (n pi), whose sum is a logarithm.
    """
    hinge = math.acos(2 * ratio - 1)
    width = (math.pi - hinge) / count
    total = 0.0
    for place in range(count):
        t = hinge + width * (place + 0.5)
        series = (math.pi - hinge) / math.pi * (1 + math.cos(t)) / math.sin(t)
        series += math.log(abs(math.sin((t + hinge) / 2) / math.sin((t - hinge) / 2))) / math.pi
        aft = (1 - math.cos(t)) / 2 - (1 - ratio)
        total += 4 * series * aft * math.sin(t) / 2 * width
    return -total / ratio**2


def test_what_a_solver_lacks_is_told(file):
    found = by_solver(compare_methods(file(COEFFICIENTS)))
    assert found["thin_aerofoil"].reason == "not given: chord_ratio"
    assert found["lattice"].reason == "not given: planform"
    assert found["plate"].reason is None


def test_steps_lead_from_theory_to_the_slope_of_the_best_line(file):
    found = compare_methods(file(SECTION))
    steps = [step for step in found.steps if step.slope == "C_h_delta"]
    assert steps[0].before == pytest.approx(
        thin_deflection_slope(0.3), rel=0.02
    )  # read off a chart
    for step, after in zip(steps, [*steps[1:], None], strict=True):
        assert step.after == pytest.approx(step.before * step.factor, rel=1e-12)
        assert after is None or after.before == step.after
        assert step.source
    handbook = by_solver(found)["handbook"]
    assert handbook.best == pytest.approx(steps[-1].after * handbook.deflection * SIZE, rel=1e-9)


def test_a_long_reason_stands_indented_and_keeps_its_star(file):
    found = compare_methods(file(f"{COEFFICIENTS}, chord_ratio = 0.3"))
    used, other = (
        next(each for each in found.estimates if each.used is flag) for flag in (True, False)
    )
    reason = "it was asked for what nobody has measured yet, " * 3
    told = [each._replace(reason=reason) for each in (used, other)]
    lines = methods_text(found._replace(estimates=tuple(told), steps=())).splitlines()
    block = [line for line in lines if "nobody" in line or "measured" in line]
    assert f"* {used.solver}: it was" in block[0]
    assert all(line.startswith(("* ", "  ")) and len(line) <= 80 for line in block)


def test_the_command_prints_both_ways(file, capsys):
    path = str(file(SECTION))
    assert cli.main(["methods", path]) == 0
    text = capsys.readouterr().out
    assert "C_h_delta finite span" in text
    assert max(map(len, text.splitlines())) <= 80
    assert cli.main(["methods", path, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["schema"] == "linkcalc.methods/1"
    assert {each["solver"] for each in made["steps"]} == {"handbook"}


def test_a_file_that_cannot_be_used_is_told(tmp_path, capsys):
    assert cli.main(["methods", str(tmp_path / "none.toml")]) == 2
    assert "none.toml" in capsys.readouterr().err


def test_a_run_whose_servos_are_dead_has_no_estimate_and_says_why(file):
    path = file(COEFFICIENTS)
    words = path.read_text(encoding="utf-8")
    dead = 'deflection = ["-10 deg", "20 deg"]'
    assert words.count(dead) == 1
    runs = 'runs = [{ run = "elevator", dead_servos = 1 }]'
    path.write_text(words.replace(dead, f"{dead}\n{runs}"), encoding="utf-8")
    given = by_solver(compare_methods(path))["coefficients"]
    assert given.reason == "all its servos are taken as dead"
    assert given.best is None


def test_a_solver_that_fails_leaves_the_others_their_estimates(file, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError

    monkeypatch.setattr(type(load("hinge moment", "thin_aerofoil")), "__call__", broken)
    found = by_solver(compare_methods(file(f"{COEFFICIENTS}, chord_ratio = 0.3")))
    assert found["thin_aerofoil"].best is None
    assert "thin_aerofoil" in found["thin_aerofoil"].reason
    assert found["coefficients"].best is not None
