"""Any valid aircraft gives a report that keeps the contract, and a verdict by the rule.

Sixty aircraft by default, and a few with elastic linkages, which take longer;
LINKCALC_EXAMPLES=1000 draws as many as it says.
"""

import json
import math
import os

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import linkcalc
from linkcalc.report.document import document, dumped
from linkcalc.report.schema import document_schema
from linkcalc.report.text import text

EXAMPLES = int(os.environ.get("LINKCALC_EXAMPLES", "60"))
MANY = EXAMPLES > 60
REPORT = jsonschema.Draft202012Validator(document_schema("report"))


def sizes(least, most, unit):
    return st.floats(least, most).map(lambda value: f"{value:.4f} {unit}")


def maybe(strategy):
    return st.none() | strategy


pick = st.sampled_from


def built(cls, **fields):
    """Build a value class from strategies; what is None is left out."""
    drawn = st.fixed_dictionaries(fields)
    return drawn.map(lambda made: cls(**{key: v for key, v in made.items() if v is not None}))


lead_pool = st.fixed_dictionaries(
    {
        "length": sizes(0.1, 3, "m"),
        "gauge": pick(["16 AWG", "22 AWG", "28 AWG", "34 AWG", "0.25 mm^2"]),
        "contacts": st.integers(0, 4),
        "contact_resistance": maybe(sizes(0, 60, "mohm")),
    }
)


@st.composite
def leads(draw):
    """A trunk, what hangs from it, a lead by itself, and none."""
    fields = [
        {key: value for key, value in draw(lead_pool).items() if value is not None}
        for _ in range(2)
    ]
    trunk = linkcalc.Lead(name="trunk", **fields[0])
    branch = linkcalc.Lead(name="branch", feed=trunk, **fields[1])
    measured = linkcalc.Lead(name="measured", loop_resistance=draw(sizes(0, 2, "ohm")))
    return [None, trunk, branch, measured]


@st.composite
def servos(draw, name):
    volts, torque, stall = (
        draw(st.floats(3, 7)),
        draw(st.floats(0.05, 1.5)),
        draw(st.floats(0.2, 4)),
    )
    rows, seconds = [], draw(st.floats(0.05, 0.3))
    for _ in range(draw(st.integers(1, 3))):
        idle = draw(maybe(st.floats(0, 0.5)))
        rows.append(
            linkcalc.DatasheetRow(
                voltage=f"{volts:.3f} V",
                stall_torque=f"{torque:.4f} Nm",
                no_load_speed=f"{seconds:.3f} s/60deg",
                stall_current=f"{stall:.3f} A",
                no_load_current=None if idle is None else f"{idle * stall:.3f} A",
            )
        )
        volts, torque, stall = volts + draw(st.floats(0.2, 2)), torque * 1.2, stall * 1.15
        seconds *= draw(st.floats(0.7, 1))
    given_or_not = {
        "travel": maybe(sizes(5, 90, "deg")),
        "gear_strength": maybe(sizes(0.1, 3, "Nm")),
        "gear_play": maybe(sizes(0, 2, "deg")),
        "maximum_voltage": maybe(st.just("9 V")),
        "minimum_voltage": maybe(st.just("4 V")),
        "below_first_row": pick(["scale", "refuse"]),
    }
    more = {key: draw(strategy) for key, strategy in given_or_not.items()}
    return linkcalc.Servo(name=name, rows=rows, **more)


pilot_inputs = st.tuples(
    built(linkcalc.PilotInput, name=st.just("pitch"), rate=sizes(1, 25, "deg")),
    built(
        linkcalc.PilotInput,
        name=st.just("roll"),
        rate=sizes(1, 15, "deg"),
        sense=pick(["alike", "opposite"]),
    ),
)
coefficients = built(
    linkcalc.HingeMomentCoefficients,
    C_h0=pick([0.0, -0.05, 0.1]),
    C_h_alpha=sizes(-0.8, 0.3, "1/rad"),
    C_h_delta=sizes(-1.2, 0.2, "1/rad"),
    band_low=st.floats(0.3, 1),
    band_high=st.floats(1, 2),
)


@st.composite
def surfaces(draw):
    plane = draw(pick([None, "level", "fin", "vee"]))
    weighs = draw(st.booleans())
    known = draw(maybe(coefficients))
    mixed = draw(st.booleans())
    return linkcalc.ControlSurface(
        span=draw(sizes(0.05, 1.5, "m")),
        chord=draw(sizes(10, 120, "mm")),
        throw_up=None if mixed and draw(st.booleans()) else draw(sizes(2, 45, "deg")),
        throw_down=draw(sizes(2, 45, "deg")),
        mixing=draw(pilot_inputs) if mixed else (),
        taper=draw(st.floats(0, 2)),
        chord_ratio=draw(maybe(st.floats(0.05, 0.99))),
        plane=plane,
        side=draw(pick(["starboard", "port"])),
        dihedral=draw(sizes(5, 60, "deg")) if plane == "vee" else None,
        section=draw(pick(["aerofoil", "slab"])),
        C_h0=draw(pick([0.0, 0.03, -0.03])),
        solver=None if known else draw(pick([None, "plate", "thin_aerofoil"])),
        coefficients=known,
        mass=draw(sizes(0, 200, "g")) if weighs else None,
        mass_centre=draw(sizes(-20, 60, "mm")) if weighs else None,
        hinge_friction=draw(maybe(sizes(0, 20, "mNm"))),
    )


def linkages(*, elastic):
    rod = built(
        linkcalc.Pushrod,
        length=maybe(sizes(60, 900, "mm")),
        diameter=maybe(sizes(1, 6, "mm")),
        material=maybe(pick(["steel wire", "carbon rod", "spruce"])),
        free_length=maybe(sizes(50, 400, "mm")),
    )
    return built(
        linkcalc.Linkage,
        surface=surfaces(),
        arm=built(linkcalc.ServoArm, radius=sizes(4, 30, "mm"), lean=maybe(sizes(-30, 30, "deg"))),
        horn=built(
            linkcalc.ControlHorn, radius=sizes(5, 40, "mm"), lean=maybe(sizes(-30, 30, "deg"))
        ),
        pushrod=rod,
        compliance=sizes(0, 20, "deg/Nm") if elastic else st.none(),
        joint_rating=maybe(sizes(10, 500, "N")),
        joint_play=maybe(sizes(0, 1, "mm")),
    )


@st.composite
def runs(draw, name, pool, *, elastic):
    return linkcalc.ControlRun(
        name=name,
        servo=draw(servos(f"servo of {name}")),
        lead=draw(pick(pool)),
        # Two elastic linkages on one servo take their time.
        linkages=draw(
            st.lists(
                linkages(elastic=elastic), min_size=1, max_size=2 if MANY or not elastic else 1
            )
        ),
        servo_count=draw(pick([1, 1, 2, 3])),
        shaft_friction=draw(maybe(sizes(0, 10, "mNm"))),
        efficiency=draw(maybe(st.floats(0.3, 1))),
    )


@st.composite
def cases(draw, name, made):
    asked = draw(pick(["kind", "kind", "fraction", "speed"]))
    demands = [
        linkcalc.RunDemand(
            run=run.name,
            dead_servos=draw(st.integers(0, run.servo_count)),
            wash_speed=draw(pick(["0 m/s", "8 m/s"])),
            wanted_rate=draw(maybe(sizes(10, 300, "deg/s"))),
        )
        for run in draw(st.lists(pick(made), unique_by=lambda run: run.name, max_size=2))
    ]
    dense = draw(st.booleans())
    return linkcalc.FlightCase(
        name=name,
        kind=draw(pick(["manoeuvre", "dive", "sustained"])) if asked == "kind" else None,
        fraction=draw(st.floats(0.05, 1)) if asked == "fraction" else None,
        speed=draw(sizes(1, 120, "m/s")),
        airspeed="true" if dense else draw(pick(["true", "calibrated"])),
        density=draw(sizes(0.4, 1.4, "kg/m^3")) if dense else None,
        altitude=None if dense else draw(maybe(sizes(-100, 6000, "m"))),
        temperature=None if dense else draw(maybe(sizes(-30, 45, "degC"))),
        load_factor=draw(pick([1, 4.5, -2, 0, (0.3, -1.0, -3.0)])),
        incidence=draw(maybe(sizes(-12, 15, "deg"))),
        sideslip=draw(maybe(sizes(-10, 15, "deg"))),
        runs=demands,
    )


@st.composite
def supplies(draw):
    volts = draw(st.floats(3, 9))
    linear = draw(st.booleans())
    heat = {"regulator": "linear", "input_voltage": f"{volts + 2:.3f} V", "heat_rating": "6 W"}
    return linkcalc.Supply(
        voltage=f"{volts:.3f} V",
        internal_resistance=draw(maybe(sizes(0, 300, "mohm"))),
        current_limit=draw(pick(["none", "1 A", "5 A", "20 A"])),
        **(heat if linear else {}),
    )


def _reached(run, supply):
    """Let a servo be scaled where its first row is above all that the supply has."""
    if run.servo.rows[0].voltage <= supply.voltage:
        return run
    servo = linkcalc.replace(run.servo, below_first_row="scale")
    return linkcalc.replace(run, servo=servo)


@st.composite
def aircraft(draw, *, elastic, most):
    """Draw an aircraft that its own rules accept; most of them are hopeless."""
    pool = draw(leads())
    count = draw(st.integers(1, most))
    made = [draw(runs(f"run {number}", pool, elastic=elastic)) for number in range(count)]
    supply = draw(supplies())
    made = [_reached(run, supply) for run in made]
    loads = [linkcalc.Load(name="camera", current=draw(sizes(0, 2, "A")), lead=draw(pick(pool)))]
    return linkcalc.Aircraft(
        name="random survey glider",
        supply=supply,
        receiver=linkcalc.Receiver(lead=draw(pick(pool))),
        loads=draw(pick([(), loads])),
        factors=linkcalc.SafetyFactors(torque=draw(pick([1.25, 1.0, 2.0]))),
        manoeuvre_speed="25 m/s",
        dive_speed="60 m/s",
        cases=[draw(cases(f"case {n}", made)) for n in range(draw(st.integers(1, most)))],
        runs=made,
    )


def margins(tree):
    return [m for run in tree["runs"] for case in run["cases"] for m in case["margins"]]


def assert_margin_is_what_its_numbers_say(margin):
    required, available = margin["required"]["value"], margin["available"]["value"]
    assert required is not None
    assert available is not None
    if margin["mode"] == "divergence":
        expected = 1 - margin["factor"] * required
    else:
        expected = available / (required * margin["factor"]) - 1
    assert margin["margin"] == pytest.approx(expected, rel=1e-9, abs=1e-9)


def assert_contract(made):
    report = linkcalc.check(made)
    tree = json.loads(dumped(document(report)), parse_constant=pytest.fail)
    REPORT.validate(tree)
    for margin in margins(tree):
        if margin["applies"] and margin["margin"] is not None:
            assert_margin_is_what_its_numbers_say(margin)
    applying = [margin["margin"] for margin in margins(tree) if margin["applies"]]
    least = min((-math.inf if margin is None else margin for margin in applying), default=-math.inf)
    assert tree["verdict"] == ("pass" if least >= 0 else "short")
    told = text(report)
    assert max(map(len, told.splitlines())) <= 80
    assert told.startswith(tree["verdict"].upper())


@settings(max_examples=EXAMPLES)
@given(made=aircraft(elastic=False, most=3 if MANY else 2))
def test_any_valid_aircraft_gives_a_report_that_keeps_the_contract(made):
    assert_contract(made)


@settings(max_examples=max(3, EXAMPLES // 20))
@given(made=aircraft(elastic=True, most=2 if MANY else 1))
def test_an_aircraft_with_elastic_linkages_keeps_it_too(made):
    assert_contract(made)
