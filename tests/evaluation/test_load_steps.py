"""What a solver tells of its way to a slope stands in the report of a check: text, page and JSON.

The aircraft is invented.
"""

import json
import math
import re

import jsonschema
import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.report.document import document, dumped
from linkcalc.report.page import html
from linkcalc.report.schema import document_schema
from linkcalc.report.text import text
from linkcalc.solver_steps import Limit, Step
from linkcalc.study.methods import compare_methods
from linkcalc_hinge_moment.lattice import level
from linkcalc_hinge_moment.panels import cut, trapezoid
from linkcalc_hinge_moment.plate import Plate
from linkcalc_hinge_moment.vortex_lattice import respond
from tests.evaluation.aircraft import SINGLE

COEFFICIENTS = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
HANDBOOK = (
    'solver = "handbook", chord_ratio = 0.3, thickness_ratio = 0.12, aspect_ratio = 6, taper = 0.5'
)
LATTICE = (
    'solver = "lattice", chord_ratio = 0.3, planform = { half_span = "500 mm", '
    'root_chord = "140 mm", tip_chord = "140 mm" }'
)


@pytest.fixture
def file(tmp_path):
    def of(section, *changes):
        words = SINGLE[0]
        for old, new in ((COEFFICIENTS, section), *changes):
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words, encoding="utf-8")
        return path

    return of


def only_case(report):
    return report.runs[0].cases[0]


def told(report):
    """The whole report as a reader of text and one of JSON gets it, without line breaks."""
    return re.sub(r"\s+", " ", text(report)), json.loads(dumped(document(report)))


# --- nothing is clipped in silence


@pytest.mark.parametrize("ratio", [0.4, 1.2])
def test_a_lift_slope_off_the_chart_is_told_by_a_check(file, ratio):
    # The digitised charts (hinge_handbook.csv) have 0.7 to 1 for incidence and 0.6 to 1 for deflection
    path = file(f"{HANDBOOK}, lift_slope_ratio = {ratio}")
    report = linkcalc.check(path)
    notes = [note for note in only_case(report).notes if "edge of its range" in note]
    for slope, least in (("C_h_alpha", "0.7"), ("C_h_delta", "0.6")):
        (note,) = [note for note in notes if slope in note]
        assert f"lift slope ratio {ratio:g}, good from {least} to 1" in note
    words, tree = told(report)
    assert f"lift slope ratio {ratio:g}, good from 0.6 to 1" in words
    assert any(step["beyond"] for step in tree["runs"][0]["cases"][0]["steps"])
    assert f"lift slope ratio {ratio:g}, good from 0.6 to 1" in html(path)


def test_on_the_charts_nothing_is_told_of_their_edges(file):
    case = only_case(linkcalc.check(file(f"{HANDBOOK}, lift_slope_ratio = 0.85")))
    assert not any("edge" in note for note in case.notes)
    assert not any(step.beyond for step in case.steps)


def test_a_reynolds_number_off_the_line_of_the_lift_slope_is_told(file):
    # 0.85 = 0.90 + 0.03 log10(Re / 1e6) at Re = 1e6 * 10^(-5/3) = 21544. The viscosity of a density
    # alone is that of 40 deg C, 1.458e-6 * 313.15^1.5 / 423.55 Pa s; chord 40 mm / 0.3.
    viscosity = 1.458e-6 * 313.15**1.5 / 423.55
    edge = 1e6 * 10 ** (-5 / 3) * viscosity / 1.25 / (0.04 / 0.3)
    for speed, beyond in ((0.98 * edge, True), (1.02 * edge, False)):
        case = only_case(linkcalc.check(file(HANDBOOK, ('"40 m/s"', f'"{speed} m/s"'))))
        notes = [note for note in case.notes if "Reynolds number" in note]
        assert bool(notes) is beyond
        assert all("good from 2.154e+04 to 4.642e+07" in note for note in notes)


class Ours(Plate):
    """A solver of somebody else, with a chart of its own (invented)."""

    def steps(self, fields):
        pressure = np.asarray(fields["dynamic_pressure"])
        return [
            Step("C_h_delta", "guess", -1.0, 0.5, -0.5 + 0.0 * pressure, "a chart on the wall",
                 (Limit("dynamic pressure in Pa", pressure, 0.0, 900.0),), 0.125)
        ]  # fmt: skip


def test_a_solver_of_somebody_else_is_told_of_alike(file, monkeypatch):
    monkeypatch.setattr(solvers, "_loaded", {("hinge moment", "plate"): Ours()})
    path = file('solver = "plate", chord_ratio = 0.3')
    report = linkcalc.check(path)
    (step,) = only_case(report).steps
    assert (step.before, step.factor, step.after, step.remaining) == (-1.0, 0.5, -0.5, 0.125)
    # half of 1.25 kg/m^3 times the square of 40 m/s
    edge = "dynamic pressure in Pa 1000, good from 0 to 900"
    assert step.edge == edge
    assert any(edge in note for note in only_case(report).notes)
    words, tree = told(report)
    assert "C_h_delta guess: -1 x 0.5 = -0.5 1/rad" in words
    assert tree["runs"][0]["cases"][0]["steps"] == [step._asdict()]
    assert "a chart on the wall" in html(path)


def test_a_solver_that_cannot_tell_its_steps_leaves_no_margin_and_a_reason(file, monkeypatch):
    class Broken(Plate):
        def steps(self, fields):
            return 1 / len(fields["no chart"])

    monkeypatch.setattr(solvers, "_loaded", {("hinge moment", "plate"): Broken()})
    margin = only_case(linkcalc.check(file('solver = "plate", chord_ratio = 0.3'))).margin("torque")
    assert margin.margin is None
    assert "'plate' cannot tell its steps: KeyError: 'no chart'" in margin.reason


# --- value before, factor, value after, source


def test_the_steps_of_a_check_lead_to_the_slope_of_its_best_line(file):
    report = linkcalc.check(file(f"{HANDBOOK}, lift_slope_ratio = 0.9"))
    case = only_case(report)
    steps = [step for step in case.steps if step.slope == "C_h_delta"]
    assert [step.name for step in steps] == [
        "thickness", "viscosity", "gap", "balance", "finite span", "sweep", "taper",
    ]  # fmt: skip
    for step, after in zip(steps, [*steps[1:], None], strict=True):
        assert step.after == pytest.approx(step.before * step.factor, rel=1e-12)
        assert after is None or after.before == step.after
        assert step.source
    # no weight, no incidence, 20 degrees: C_h_delta * delta * q * S * c on the best line
    size = 0.5 * 1.25 * 40.0**2 * 0.5 * 0.04 * 0.04
    best = compare_methods(file(f"{HANDBOOK}, lift_slope_ratio = 0.9")).estimates
    (used,) = [each for each in best if each.used]
    assert used.best == pytest.approx(steps[-1].after * used.deflection * size, rel=1e-9)


def test_steps_stand_in_text_page_and_json(file):
    path = file(f"{HANDBOOK}, lift_slope_ratio = 0.9")
    report = linkcalc.check(path)
    words, tree = told(report)
    jsonschema.Draft202012Validator(document_schema("report")).validate(tree)
    page = html(path)
    for step in only_case(report).steps:
        assert f"{step.slope} {step.name}: {step.before:.4g} x" in words
        assert f"{step.slope}: {step.name}" in page
    assert len(tree["runs"][0]["cases"][0]["steps"]) == len(only_case(report).steps) == 15


def test_a_solver_that_tells_no_steps_has_none(file):
    report = linkcalc.check(file("chord_ratio = 0.3"))
    assert only_case(report).steps == ()
    assert "Slopes of the air load" not in text(report)


# --- the error of the lattice


def test_the_error_that_remains_in_a_lattice_is_told_everywhere(file):
    path = file(LATTICE)
    report = linkcalc.check(path)
    steps = {(step.slope, step.name): step for step in only_case(report).steps}
    wing = trapezoid(half_span=0.5, root_chord=0.14, tip_chord=0.14, chord_ratio=0.3)
    # the equations themselves on the three panel counts, extrapolated by hand with the third power
    three = [respond(cut(wing, level(wing, aft)), paired=True) for aft in (3, 4, 6)]
    for slope, name in (("C_h_alpha", "incidence"), ("C_h_delta", "alike")):
        values = [getattr(each, name) for each in three]
        best = values[2] + (values[2] - values[1]) / (1.5**3 - 1)
        step = steps[slope, "whole surface"]
        assert step.after == pytest.approx(best, rel=1e-9)
        if name == "incidence":  # of C_h_delta the worse of both sides alike and opposite counts
            assert step.remaining == pytest.approx(max(abs(v - best) for v in values), rel=1e-6)
        # ten vortices aft, which the extrapolation has not seen
        fine = getattr(respond(cut(wing, level(wing, 10)), paired=True), name)
        assert abs(fine - step.after) <= step.remaining
    words, tree = told(report)
    remaining = steps["C_h_delta", "viscosity and thickness"].remaining
    assert remaining == pytest.approx(0.7 * steps["C_h_delta", "whole surface"].remaining)
    assert f"known to remain +-{remaining:.2g} 1/rad" in words
    assert remaining in [step["remaining"] for step in tree["runs"][0]["cases"][0]["steps"]]
    assert f"± {remaining:.2g} 1/rad" in html(path)
    side_by_side = [step for step in compare_methods(path).steps if step.solver == "lattice"]
    assert remaining in [step.remaining for step in side_by_side]


def test_the_last_step_of_a_lattice_has_the_slope_of_the_best_line(file):
    path = file(LATTICE)
    last = [s for s in only_case(linkcalc.check(path)).steps if s.slope == "C_h_delta"][-1]
    (used,) = [each for each in compare_methods(path).estimates if each.used]
    size = 0.5 * 1.25 * 40.0**2 * 0.5 * 0.04 * 0.04
    assert math.degrees(used.deflection) == pytest.approx(20.0)
    assert used.best == pytest.approx(last.after * used.deflection * size, rel=1e-9)
