"""Units to show: the factors follow from the definitions of the units, not from the program."""

import pytest

import linkcalc
from linkcalc.report.measures import METRIC, amount, as_stated, figure, imperial, reworded
from linkcalc.results import Value

# Exact: international yard and pound agreement of 1959; standard gravity, 3rd CGPM, 1901.
POUND, INCH, GRAVITY = 0.45359237, 0.0254, 9.80665


@pytest.mark.parametrize(
    ("unit", "symbol", "size"),
    [
        ("N*m", "oz·in", POUND / 16 * GRAVITY * INCH),
        ("N", "lbf", POUND * GRAVITY),
        ("Pa", "lbf/ft^2", POUND * GRAVITY / (12 * INCH) ** 2),
        ("m/s", "mph", 5280 * 12 * INCH / 3600),
        ("deg", "deg", 1.0),
        ("V", "V", 1.0),
    ],
)
def test_imperial_units_have_their_defined_size(unit, symbol, size):
    factor, written = imperial()[unit]
    assert written == symbol
    assert factor * size == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "symbol", "factor"),
    [("N*m", "N·m", 1.0), ("m/s", "m/s", 1.0), ("deg/s", "deg/s", 1.0), ("Pa", "Pa", 1.0)],
)
def test_metric_units_are_those_of_the_report(unit, symbol, factor):
    assert METRIC[unit] == pytest.approx((factor, symbol)) if False else METRIC[unit][1] == symbol
    assert METRIC[unit].factor == pytest.approx(factor, rel=1e-12)


def glider(**more):
    row = linkcalc.DatasheetRow(
        voltage="6 V", stall_torque=more["torque"], no_load_speed="0.1 s/60deg", stall_current="2 A"
    )
    surface = linkcalc.ControlSurface(span="50 cm", chord="4 cm", throw=more.get("throw", "20 deg"))
    linkage = linkcalc.Linkage(
        surface=surface,
        arm=linkcalc.ServoArm(radius="10 mm"),
        horn=linkcalc.ControlHorn(radius="20 mm"),
        pushrod=linkcalc.Pushrod(modulus="200 GPa"),
    )
    return linkcalc.Aircraft(
        name="one run",
        supply=linkcalc.Supply(voltage="6 V", current_limit="900 mA"),
        cases=[
            linkcalc.FlightCase(name=f"c{number}", kind="manoeuvre", speed=speed)
            for number, speed in enumerate(more.get("speeds", ["40 m/s"]))
        ],
        runs=[
            linkcalc.ControlRun(
                name="r", servo=linkcalc.Servo(name="s", rows=[row]), linkages=[linkage]
            )
        ],
    )


@pytest.mark.parametrize(
    ("torque", "symbol", "factor"),
    [
        ("3 kg·cm", "kg·cm", 100 / GRAVITY),
        ("45 oz*in", "oz*in", 16 / (POUND * GRAVITY * INCH)),
        ("30 Ncm", "Ncm", 100.0),
        ("11 kg·cm ± 5 %", "kg·cm", 100 / GRAVITY),
    ],
)
def test_a_torque_is_shown_as_the_file_states_torques(torque, symbol, factor):
    found = as_stated(glider(torque=torque))["N*m"]
    assert found.symbol == symbol
    assert found.factor == pytest.approx(factor, rel=1e-12)


def test_the_unit_that_the_file_uses_most_often_is_shown():
    speeds = ["40 m/s", "90 km/h", "100 km/h"]
    assert as_stated(glider(torque="1 Nm", speeds=speeds))["m/s"].symbol == "km/h"
    assert as_stated(glider(torque="1 Nm", speeds=["50 kt"]))["m/s"].symbol == "kt"


def test_what_the_file_does_not_state_is_metric():
    found = as_stated(glider(torque="1 Nm"))
    assert found["N"].symbol == "N"
    # Neither the modulus of a rod in GPa nor a current in mA is a unit for the rest.
    assert (found["Pa"].symbol, found["A"].symbol) == ("Pa", "A")
    # A time for a sweep says how fast, but is no unit.
    assert found["deg/s"].symbol == "deg/s"


def test_a_quantity_given_in_code_counts_as_well():
    import pint  # noqa: PLC0415 - only this test needs it

    registry = pint.get_application_registry()
    made = glider(torque="1 Nm")
    case = linkcalc.replace(made.cases[0], speed=registry.Quantity(60, "mph"))
    found = as_stated(linkcalc.replace(made, cases=[case]))["m/s"]
    assert found.factor == pytest.approx(3600 / (5280 * 12 * INCH), rel=1e-12)


@pytest.mark.parametrize(
    ("number", "digits", "words"),
    [
        (0.123456, 4, "0.1235"),
        (22.0, 4, "22"),
        (1175.26, 4, "1175"),
        (123456.7, 4, "123457"),
        (-0.0, 4, "0"),
        (7.4186, 3, "7.42"),
        (1234.5, 3, "1234"),
    ],
)
def test_a_number_has_its_significant_figures_and_is_written_out(number, digits, words):
    assert figure(number, digits) == words


def test_what_has_no_value_is_none_in_any_unit():
    assert amount(Value(None, "N*m", reason="lost"), imperial()) == "none"


def test_a_ratio_has_no_unit():
    assert amount(Value(0.25, "1"), METRIC) == "0.25"


def test_speeds_in_a_reason_are_shown_in_the_same_unit_as_the_table():
    # 238.2 m/s x 3600 / 1609.344 = 532.8 mph
    assert reworded("none up to 238.2 m/s", imperial()) == "none up to 532.8 mph"
    assert reworded("deflection 8 deg", imperial()) == "deflection 8 deg"
