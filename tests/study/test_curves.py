"""What the pictures show, held to hand calculations and to the report beside it."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc.study.curves import curves
from tests.evaluation.aircraft import SINGLE

EXAMPLES = ("sandpiper", "sandpiper_rewired", "avocet_vee_tail", "tern_flying_wing")


@pytest.fixture(scope="module")
def found():
    return {name: curves(f"examples/{name}.toml") for name in EXAMPLES}


@pytest.fixture(scope="module")
def single(tmp_path_factory):
    path = tmp_path_factory.mktemp("single") / "single.toml"
    path.write_text(SINGLE[0], encoding="utf-8")
    return curves(path)


def places(checked):
    for r, run in enumerate(checked.report.runs):
        for case in run.cases:
            c = [each.name for each in checked.report.aircraft_cases].index(case.name)
            yield r, c, case


@pytest.mark.parametrize("name", EXAMPLES)
def test_report_beside_the_curves_is_that_of_a_check(name, found):
    assert found[name].report == linkcalc.check(f"examples/{name}.toml")


@pytest.mark.parametrize("name", EXAMPLES)
def test_least_torque_margin_over_the_range_is_the_margin_of_the_report(name, found):
    for r, c, case in places(found[name]):
        least = np.nanmin(found[name].torque_margin[c, r])
        # Between two of 41 nodes the greatest torque may be a little greater than at them.
        assert 0 <= least - case.margin("torque").margin < 2e-3 * (1 + least)


@pytest.mark.parametrize("name", EXAMPLES)
def test_least_margin_changes_its_sign_at_the_placard_speed(name, found):
    checked, seen = found[name], 0
    for r, c, case in places(checked):
        placard, speed = case.values["placard speed"].value, checked.speed[c]
        if placard is None:
            continue
        least = checked.least_margin_at[c, :, r]
        assert (least[speed < placard * 0.999] >= 0).all()
        beyond = least[speed > placard * 1.001]
        assert not beyond.size or beyond[0] < 0
        seen += 1
    assert seen


@pytest.mark.parametrize("name", EXAMPLES)
def test_speeds_start_near_zero_and_go_beyond_that_of_the_case(name, found):
    assert (found[name].speed[:, -1] > 1.3 * found[name].case_speed).all()
    assert (found[name].speed[:, 0] < 0.1 * found[name].speed[:, -1]).all()


def test_hinge_moment_of_a_line_is_the_one_worked_by_hand(single):
    # q = 1.25 / 2 x 40^2 = 1000 Pa; S c = 0.5 x 0.04 x 0.04; C_h = -0.5 x deflection.
    deflection = single.deflection[0, 0]
    by_hand = 1000 * 0.5 * 0.04 * 0.04 * -0.5 * deflection
    assert single.moments[1, 0, 0] == pytest.approx(by_hand, rel=1e-9, abs=1e-12)
    assert np.degrees(deflection[[0, -1]]) == pytest.approx([-10, 20])
    assert (np.diff(deflection) > 0).all()


def test_voltage_falls_along_the_lead_by_ohms_law(single):
    # 100 mohm carry the servo's current and the receiver's 200 mA, 300 mohm the servo's alone.
    current = single.report.runs[0].cases[0].values["current at work"].value
    loaded = 6 - 0.1 * (current + 0.2)
    expected = [6, loaded, loaded - 0.3 * current]
    assert single.paths[0].at_work[0] == pytest.approx(expected, rel=1e-9)
    # Stalled: 2 A at 6 V, in proportion to the voltage below it.
    volts = single.paths[0].at_limit[0, -1]
    assert volts == pytest.approx(6 - 0.1 * 0.2 - 0.4 * 2 * volts / 6, rel=1e-9)
    assert single.paths[0].stations == ("no load", "terminals", "tail")
    assert single.paths[0].minimum < volts


@pytest.mark.parametrize("name", EXAMPLES)
def test_ends_of_the_way_are_the_voltages_of_the_report(name, found):
    for r, c, case in places(found[name]):
        path = found[name].paths[r]
        assert path.at_work[c, -1] == pytest.approx(case.values["voltage at work"].value, rel=1e-9)
        assert path.at_limit[c, -1] == pytest.approx(
            case.values["voltage at limit"].value, rel=1e-9
        )
        assert len(path.stations) == path.at_work.shape[1]


def test_drawn_linkage_keeps_the_lengths_of_the_file(found):
    drawing = found["sandpiper"].drawings[0]
    for place in range(3):
        assert math.dist(drawing.servo, drawing.arm[place]) == pytest.approx(0.012)
        assert math.dist(drawing.hinge, drawing.horn[place]) == pytest.approx(0.010)
        assert math.dist(drawing.hinge, drawing.trailing_edge[place]) == pytest.approx(0.052)
        assert math.dist(drawing.arm[place], drawing.horn[place]) == pytest.approx(0.110, rel=1e-6)
    assert drawing.rod_length == pytest.approx(0.110)


def test_drawn_surface_stands_at_the_throws_with_the_trailing_edge_up_first(found):
    drawing = found["sandpiper"].drawings[0]
    angles = [math.degrees(math.atan2(y, x)) for x, y in drawing.trailing_edge - drawing.hinge]
    assert angles == pytest.approx([0, 22, -14], abs=1e-9)
    assert drawing.reached == (True, True, True)


def test_end_of_the_throw_that_is_not_reached_is_told(tmp_path):
    # 30 degrees of servo travel on a parallelogram are 30 degrees of surface.
    words = SINGLE[0].replace('horn = "20 mm"', 'horn = "10 mm"')
    words = words.replace('throw = "20 deg"', 'throw = "40 deg"')
    words = words.replace("rows = [", 'travel = "30 deg"\nrows = [')
    path = tmp_path / "far.toml"
    path.write_text(words, encoding="utf-8")
    drawing = curves(path).drawings[0]
    assert drawing.reached == (True, False, False)
    assert np.degrees(drawing.deflection) == pytest.approx([0, -30, 30], abs=0.2)


def test_unknown_run_or_case_is_told_with_the_known_ones(single):
    with pytest.raises(KeyError, match="'rudder' is none of 'elevator'"):
        single.place("rudder", "dive")
    with pytest.raises(KeyError, match="'turn' is none of 'dive'"):
        single.place("elevator", "turn")


def test_friction_at_the_shaft_is_in_the_torque_that_is_needed(tmp_path):
    # At neutral there is no hinge moment (no incidence, no camber, no weight): the friction alone is
    # needed, 20 mN m, and T_s(V*) over 1.25 x 20 mN m, less one, is the margin.
    path = tmp_path / "stiff.toml"
    words = SINGLE[0].replace("efficiency = 0.8", 'efficiency = 0.8\nshaft_friction = "20 mN*m"')
    path.write_text(words, encoding="utf-8")
    checked = curves(path)
    neutral = int(np.flatnonzero(checked.deflection[0, 0] == 0)[0])
    available = checked.report.runs[0].cases[0].values["torque available"].value
    assert checked.torque_margin[0, 0, neutral] == pytest.approx(available / (1.25 * 0.020) - 1)
