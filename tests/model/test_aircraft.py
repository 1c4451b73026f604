"""An aircraft: what no single part can know."""

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.model.aircraft import leads, throws

ROW = linkcalc.DatasheetRow(
    voltage="6 V", stall_torque="1 kg·cm", no_load_speed="0.1 s/60deg", stall_current="1 A"
)
SERVO = linkcalc.Servo(name="s", rows=[ROW])
CASE = linkcalc.FlightCase(name="c", kind="dive", speed="40 m/s")


def surface(**changes):
    return linkcalc.ControlSurface(
        **({"span": "0.5 m", "chord": "40 mm", "throw": "20 deg"} | changes)
    )


def run(name="r", **changes):
    linkage = linkcalc.Linkage(
        surface=changes.pop("surface", surface()),
        arm=linkcalc.ServoArm(radius="10 mm"),
        horn=linkcalc.ControlHorn(radius="12 mm"),
    )
    return linkcalc.ControlRun(**({"name": name, "servo": SERVO, "linkages": [linkage]} | changes))


def aircraft(**changes):
    given = {
        "name": "a",
        "supply": linkcalc.Supply(voltage="6 V", current_limit="none"),
        "cases": [CASE],
        "runs": [run()],
    }
    return linkcalc.Aircraft(**(given | changes))


def test_each_side_has_its_own_throw_or_both_the_same():
    assert throws(run()) == pytest.approx((0.3490658503988659,) * 2)  # 20 deg
    both = surface(throw_up="10 deg")
    assert [round(x, 6) for x in throws(run(surface=both))] == [0.174533, 0.349066]


def test_a_throw_of_zero_on_one_side_is_that_and_not_the_other_sides():
    one = surface(throw_up="0 deg")
    assert throws(run(surface=one))[0] == 0.0


def test_leads_are_listed_once_and_what_feeds_them_first():
    trunk = linkcalc.Lead(name="trunk", loop_resistance="1 ohm")
    outer = linkcalc.Lead(name="outer", loop_resistance="1 ohm", feed=trunk)
    made = aircraft(
        runs=[run("one", lead=outer), run("two", lead=trunk), run("three", lead=outer)],
        receiver=linkcalc.Receiver(lead=trunk),
    )
    assert [lead.name for lead in leads(made)] == ["trunk", "outer"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"runs": [run(), run()]}, "'r' more than once"),
        ({"cases": [CASE, CASE]}, "'c' more than once"),
        ({"runs": []}, "runs: found 0 of them; expected at least 1"),
        ({"cases": []}, "cases: found 0 of them; expected at least 1"),
        (
            {
                "runs": [
                    run(),
                    run("q", servo=linkcalc.Servo(name="s", rows=[ROW], travel="30 deg")),
                ]
            },
            "two different servos called 's'",
        ),
        (
            {
                "runs": [
                    run(lead=linkcalc.Lead(name="l", loop_resistance="1 ohm")),
                    run("q", lead=linkcalc.Lead(name="l", loop_resistance="2 ohm")),
                ]
            },
            "two different leads called 'l'",
        ),
        ({"manoeuvre_speed": "50 m/s", "dive_speed": "50 m/s"}, "more than the manoeuvre speed"),
        (
            {"cases": [linkcalc.FlightCase(name="c", speed="40 m/s")]},
            "neither a kind nor a deflection range",
        ),
    ],
)
def test_what_does_not_fit_together_is_refused(changes, told):
    with pytest.raises(InputError, match=told):
        aircraft(**changes)


def test_equal_servos_and_leads_built_twice_are_one():
    made = aircraft(
        runs=[run(), run("q", servo=linkcalc.Servo(name="s", rows=[ROW]))],
    )
    assert made.runs[0].servo == made.runs[1].servo


def test_load_factor_is_a_number_or_a_vector():
    def felt(value):
        return linkcalc.FlightCase(
            name="c", kind="dive", speed="1 m/s", load_factor=value
        ).load_factor

    assert CASE.load_factor == (0.0, 0.0, -1.0)  # level flight: one g downwards
    assert felt(3.5) == (0.0, 0.0, -3.5)
    assert felt([0.1, 0.2, -3]) == (0.1, 0.2, -3.0)
    for wrong in (
        "3",
        True,
        float("nan"),
        float("inf"),
        [1, 2],
        [1, 2, float("nan")],
        10**400,
        None,
    ):
        with pytest.raises(InputError, match="load_factor"):
            felt(wrong)


@pytest.mark.parametrize(
    "name", ["torque", "datasheet", "current", "voltage", "over_voltage", "travel"]
)
@pytest.mark.parametrize("value", [0.99, 10.01, "1.25", True, float("nan"), None])
def test_a_factor_is_a_plain_number_of_one_or_more(name, value):
    with pytest.raises(InputError, match=f"^{name}: "):
        linkcalc.SafetyFactors(**{name: value})
