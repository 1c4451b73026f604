"""Remedies of one plain run whose margins are powers of what is changed, so that the least
change has a closed form.

Arm and horn are equal and square to the rod, so the surface turns as the servo does (slope
1, lever = horn). Coefficients are given and linear and nothing has a mass, so a load goes
with the square of the speed and with the deflection. Nothing of the package is used on the
right-hand sides but the margin from which the search starts.
"""

from __future__ import annotations

from math import radians, sqrt

import pytest

import linkcalc
from linkcalc.study import remedies as study


def aircraft(  # noqa: PLR0917 - every part may be changed
    case=None,
    linkage=None,
    pushrod=None,
    servo=None,
    supply=None,
    lead=None,
    slope="-0.8 1/rad",
    factors=None,
):
    surface = linkcalc.ControlSurface(
        span="500 mm",
        chord="60 mm",
        throw="20 deg",
        coefficients=linkcalc.HingeMomentCoefficients(C_h_alpha="0 1/rad", C_h_delta=slope),
    )
    row = linkcalc.DatasheetRow(
        voltage="6 V",
        stall_torque="0.5 N·m",
        no_load_speed="8 rad/s",
        stall_current="2 A",
        no_load_current="0.2 A",
    )
    run = linkcalc.ControlRun(
        name="elevator",
        servo=linkcalc.Servo(**{"name": "plain", "rows": [row]} | (servo or {})),
        lead=linkcalc.Lead(**{"name": "lead", "loop_resistance": "0.5 ohm"} | (lead or {})),
        linkages=[
            linkcalc.Linkage(
                surface=surface,
                arm=linkcalc.ServoArm(radius="15 mm"),
                horn=linkcalc.ControlHorn(radius="15 mm"),
                pushrod=linkcalc.Pushrod(
                    **{"length": "200 mm", "diameter": "2 mm"} | (pushrod or {})
                ),
                **(linkage or {}),
            )
        ],
        efficiency=0.8,
    )
    return linkcalc.Aircraft(
        name="card",
        supply=linkcalc.Supply(
            **{"voltage": "6 V", "internal_resistance": "0 ohm", "current_limit": "5 A"}
            | (supply or {})
        ),
        cases=[
            linkcalc.FlightCase(
                **{"name": "case", "kind": "manoeuvre", "speed": "15 m/s", "density": "1.2 kg/m^3"}
                | (case or {})
            )
        ],
        runs=[run],
        factors=linkcalc.SafetyFactors(**(factors or {})),
    )


@pytest.fixture
def found(monkeypatch):
    """Find the margin of a mode that is short, and its remedies by kind; of some kinds only."""

    def search(mode, kinds, **parts):
        def some(*place):
            return [change for change in every(*place) if change.kind in kinds]

        every = study.changes
        monkeypatch.setattr(study, "changes", some)
        shortfalls = study.remedies(aircraft(**parts)).shortfalls
        wanted = [item for item in shortfalls if item.place.mode == mode]
        assert len(wanted) == 1
        helps = {item.kind: item for item in wanted[0].remedies}
        assert list(helps) == kinds
        return wanted[0].margin, helps

    return search


def close_to(wanted):
    """A change that is told is rounded away from no change: by 1 %, and found to 1 %."""
    change = wanted - 1
    ends = sorted((1 + 0.9999 * change, 1 + 1.021 * change))
    return pytest.approx(sum(ends) / 2, abs=(ends[1] - ends[0]) / 2)


def test_torque_goes_with_stall_torque_deflection_and_the_square_of_the_speed(found):
    """The voltage at the servo's limit does not depend on its torque: it draws I_s there."""
    kinds = ["stall torque", "throw", "flight speed"]
    margin, helps = found("torque", kinds, case={"speed": "60 m/s"})
    lack = 1 + margin
    assert 0 < lack < 0.8
    assert helps["stall torque"].factor == close_to(1 / lack)
    assert helps["throw"].factor == close_to(lack)
    assert helps["flight speed"].factor == close_to(sqrt(lack))
    assert [item.before for item in helps.values()] == ["0.5 N·m", "20 deg", "60 m/s"]


def test_voltage_at_the_limit_is_that_of_a_divider(found):
    """At its limit the servo draws 2 A V/6 V: V = 6 / (1 + R/3 ohm), and T goes with V."""
    parts = {"lead": {"loop_resistance": "3 ohm"}, "case": {"speed": "28 m/s"}}
    margin, helps = found("torque", ["lead resistance"], **parts)
    wanted = 3.0 / (1 + margin)  # volts at the servo, of 3 V now
    assert 3 < wanted < 6
    assert helps["lead resistance"].factor == close_to(6 / wanted - 1)
    assert helps["lead resistance"].before == "3 ohm"


def test_the_least_voltage_goes_with_the_resistance_of_the_lead(found):
    """The stated minimum is 5 V, and V = 6 / (1 + R/3 ohm) is 4.5 V for 1 ohm."""
    parts = {"lead": {"loop_resistance": "1 ohm"}, "servo": {"minimum_voltage": "5 V"}}
    margin, helps = found("voltage", ["lead resistance"], **parts)
    assert margin == pytest.approx(4.5 / 5 - 1, rel=1e-6)
    assert helps["lead resistance"].factor == close_to(0.6)  # 6/5 - 1 = R/3 ohm


def test_columns_stand_above_the_last_row(found):
    """Above 6 V the servo draws 2 A at its limit: V = V_oc - 2 A R, and 6.5 V are wanted."""
    parts = {"lead": {"loop_resistance": "1 ohm"}, "servo": {"minimum_voltage": "6.5 V"}}
    _, helps = found("voltage", ["supply voltage"], **parts)
    assert helps["supply voltage"].factor == close_to(8.5 / 6)


def test_a_rod_buckles_with_the_fourth_power_of_its_diameter_and_its_length_squared(found):
    """Euler's case: the rod is slender before and after."""
    kinds = ["rod diameter", "free length of the rod"]
    parts = {"pushrod": {"free_length": "980 mm", "length": "1 m"}}
    margin, helps = found("buckling", kinds, **parts)
    assert 1 + margin < 0.8
    assert helps["rod diameter"].factor == close_to((1 + margin) ** -0.25)
    assert helps["free length of the rod"].factor == close_to(sqrt(1 + margin))


@pytest.mark.parametrize(
    ("mode", "kind", "parts"),
    [
        ("joint", "joint rating", {"linkage": {"joint_rating": "5 N"}}),
        ("gear", "gear strength", {"servo": {"gear_strength": "0.02 N·m"}}),
        ("current", "current limit of the supply", {"supply": {"current_limit": "1.5 A"}}),
        (
            "source heat",
            "heat rating of the regulator",
            {"supply": {"regulator": "linear", "input_voltage": "8.4 V", "heat_rating": "0.5 W"}},
        ),
    ],
)
def test_a_rating_has_to_grow_by_what_is_lacking(found, mode, kind, parts):
    margin, helps = found(mode, [kind], **parts)
    assert margin < -0.1
    assert helps[kind].factor == close_to(1 / (1 + margin))


def test_play_of_the_gears_has_to_shrink_by_what_is_too_much(found):
    """Slope 1: the play of the gears is that of the surface, 1 degree is allowed."""
    margin, helps = found("free play", ["gear play"], servo={"gear_play": "4 deg"})
    assert margin == pytest.approx(-0.75, rel=1e-9)
    assert helps["gear play"].factor == close_to(0.25)


def test_play_of_the_joints_has_to_shrink_by_what_is_too_much(found):
    """One millimetre on a lever of 15 mm is 1/15 rad, 3.82 degrees."""
    _, helps = found("free play", ["joint play"], linkage={"joint_play": "1 mm"})
    assert helps["joint play"].factor == close_to(radians(1) * 15)


def test_compliance_has_to_shrink_by_what_diverges(found):
    """The margin of an overbalanced surface is 1 - factor x C q S c C_h_delta."""
    slope = 0.5 * 1.2 * 15**2 * 0.5 * 0.06**2 * 0.8  # [N m/rad]
    required = radians(60) * slope
    parts = {"linkage": {"compliance": "60 deg/Nm"}, "slope": "0.8 1/rad"}
    margin, helps = found(
        "divergence", ["compliance", "flight speed"], **parts, factors={"divergence": 9.0}
    )
    assert margin == pytest.approx(1 - 9 * required, rel=1e-6)
    assert helps["compliance"].factor == close_to(1 / (9 * required))
    assert helps["flight speed"].factor == close_to(sqrt(1 / (9 * required)))


def test_over_voltage_is_cleared_by_a_lower_supply_or_another_servo(found):
    kinds = ["rated maximum voltage", "supply voltage"]
    margin, helps = found("over-voltage", kinds, supply={"voltage": "7.4 V"})
    assert margin == pytest.approx(6 / 7.4 - 1, rel=1e-9)
    assert helps["supply voltage"].factor == close_to(6 / 7.4)
    assert helps["rated maximum voltage"].factor == close_to(7.4 / 6)


def test_a_servo_that_turns_too_little_has_to_turn_further(found):
    """Slope 1: 20 degrees are asked for, 10 are there."""
    margin, helps = found("travel", ["servo travel", "throw"], servo={"travel": "10 deg"})
    assert margin == pytest.approx(-0.5, rel=1e-6)
    assert helps["servo travel"].factor == close_to(2.0)
    assert helps["throw"].factor == close_to(0.5)


def test_a_rate_that_is_too_small_grows_with_the_speed_of_the_servo(found):
    """A rate of 8 rad/s and less, asked for 10 rad/s: it goes with the no-load speed."""
    margin, helps = found("speed", ["no-load speed"], case={"wanted_rate": "10 rad/s"})
    assert helps["no-load speed"].factor == close_to(1 / (1 + margin))


def test_a_sustained_load_is_held_by_a_stronger_servo(found):
    """A third of the stall torque at work, where a stronger servo draws less and has more volts."""
    case = {"kind": "sustained", "fraction": 1.0, "speed": "45 m/s"}
    margin, helps = found("hold", ["stall torque", "throw", "flight speed"], case=case)
    assert 1 < helps["stall torque"].factor < 1.02 / (1 + margin)
    squared = helps["flight speed"].factor ** 2  # the load goes with both
    assert 1 - helps["throw"].factor == pytest.approx(1 - squared, rel=0.03)


def test_a_mode_of_which_nothing_is_asked_is_neither_short_nor_unknown():
    """Without any load there is nothing to hold for gears and joints, and no torque margin."""
    parts = {"servo": {"gear_strength": "0.1 N·m"}, "linkage": {"joint_rating": "5 N"}}
    answer = study.remedies(aircraft(slope="0 1/rad", **parts))
    assert answer.shortfalls == ()
    assert [place.mode for place, _ in answer.unknown] == ["torque"]
