"""Aircraft of the second way as files, in a system of units of the test's choice; and random ones."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from tests.evaluation.independent import (
    Aircraft,
    Case,
    Factors,
    Lead,
    Linkage,
    Run,
    Servo,
    Surface,
    cross,
    dot,
    minus,
    plus,
    times,
    unit,
)

DEG = math.pi / 180

SI = {
    "length": ("m", 1.0),
    "angle": ("rad", 1.0),
    "speed": ("m/s", 1.0),
    "torque": ("Nm", 1.0),
    "mass": ("kg", 1.0),
    "voltage": ("V", 1.0),
    "current": ("A", 1.0),
    "resistance": ("ohm", 1.0),
    "density": ("kg/m^3", 1.0),
    "rate": ("rad/s", 1.0),
    "slope": ("1/rad", 1.0),
}
# Exact: international yard and pound of 1959, international nautical mile, standard gravity.
WORKSHOP = SI | {
    "length": ("in", 0.0254),
    "angle": ("deg", DEG),
    "speed": ("kt", 1852 / 3600),
    "torque": ("oz·in", 0.45359237 / 16 * 9.80665 * 0.0254),
    "mass": ("oz", 0.45359237 / 16),
    "voltage": ("mV", 0.001),
    "current": ("mA", 0.001),
    "resistance": ("mohm", 0.001),
    "rate": ("rpm", math.pi / 30),
    "slope": ("1/deg", 1 / DEG),
}
# density: a pound a cubic foot
WORKSHOP["density"] = ("lb/ft^3", 0.45359237 / (12 * 0.0254) ** 3)


class Writer:
    """Writes plain SI numbers as a file."""

    def __init__(self, units):
        self.units, self.leads = units, {}

    def q(self, kind, value):
        word, size = self.units[kind]
        return f'"{value / size!r} {word}"'

    def several(self, kind, values):
        return "[" + ", ".join(self.q(kind, value) for value in values) + "]"

    def lead(self, lead):
        """Name a lead; those that feed it get a name too."""
        if lead is None:
            return ""
        if id(lead) not in self.leads:
            self.leads[id(lead)] = (f"lead {len(self.leads)}", lead)
            self.lead(lead.feed)
        return f'lead = "{self.leads[id(lead)][0]}"'

    def aircraft(self, made):
        head = [
            'format = "linkcalc.aircraft/1"',
            'name = "random glider of the mapping crew"',
            "factors = { "
            + ", ".join(f"{k} = {v!r}" for k, v in vars(made.factors).items())
            + " }",
            "loads = [" + ", ".join(self.load(n, *load) for n, load in enumerate(made.loads)) + "]",
            "[supply]",
            f"voltage = {self.q('voltage', made.voltage)}",
            f"internal_resistance = {self.q('resistance', made.resistance)}",
            "current_limit = "
            + (self.q("current", made.limit) if math.isfinite(made.limit) else '"none"'),
            "[receiver]",
            f"current = {self.q('current', made.receiver)}",
            f"minimum_voltage = {self.q('voltage', made.receiver_least)}",
            self.lead(made.receiver_lead),
        ]
        body = [line for number, run in enumerate(made.runs) for line in self.run(number, run)]
        cases = [line for number, case in enumerate(made.cases) for line in self.case(number, case)]
        return "\n".join([*head, *self.lead_tables(), *cases, *body])

    def load(self, number, current, lead):
        parts = [f'name = "load {number}"', f"current = {self.q('current', current)}"]
        return "{ " + ", ".join([*parts, *([self.lead(lead)] if lead else [])]) + " }"

    def lead_tables(self):
        for name, lead in self.leads.values():
            yield f'[leads."{name}"]'
            yield f"loop_resistance = {self.q('resistance', lead.resistance)}"
            if lead.feed is not None:
                yield f'feed = "{self.leads[id(lead.feed)][0]}"'

    def case(self, number, case):
        yield f'[[cases]]\nname = "case {number}"'
        yield f"speed = {self.q('speed', case.speed)}"
        yield f"density = {self.q('density', case.density)}"
        yield f"incidence = {self.q('angle', case.incidence)}"
        yield f"sideslip = {self.q('angle', case.sideslip)}"
        yield f"load_factor = {list(case.load_factor)!r}"
        yield "fraction = 1"
        for index, ends in enumerate(case.ranges):
            yield f'[[cases.runs]]\nrun = "run {index}"'
            yield f"deflection = {self.several('angle', ends)}"
            yield f"wash_speed = {self.q('speed', case.wash.get(index, 0.0))}"

    def run(self, number, run):
        servo = run.servo
        yield f'[servos."servo {number}"]\ntravel = {self.q("angle", servo.travel)}'
        for name, value in (("minimum_voltage", servo.least), ("maximum_voltage", servo.most)):
            if value is not None:
                yield f"{name} = {self.q('voltage', value)}"
        yield "rows = [" + ", ".join(self.row(*row) for row in servo.rows) + "]"
        yield f'[[runs]]\nname = "run {number}"\nservo = "servo {number}"'
        yield f"efficiency = {run.efficiency!r}"
        yield self.lead(run.lead)
        for linkage in run.linkages:
            yield from self.linkage(linkage)

    def row(self, voltage, torque, speed, stall, idle):
        return (
            f"{{ voltage = {self.q('voltage', voltage)}, stall_torque = {self.q('torque', torque)}, "
            f"no_load_speed = {self.q('rate', speed)}, stall_current = {self.q('current', stall)}, "
            f"no_load_current = {self.q('current', idle)} }}"
        )

    def linkage(self, linkage):
        yield "[[runs.linkages]]"
        for name, pivot, axis, tip in (
            ("arm", linkage.servo_pivot, linkage.servo_axis, linkage.arm),
            ("horn", linkage.hinge_pivot, linkage.hinge_axis, linkage.horn),
        ):
            yield (
                f"{name} = {{ pivot = {self.several('length', pivot)}, axis = {list(axis)!r}, "
                f"vector = {self.several('length', tip)} }}"
            )
        if linkage.rod is not None:
            yield f"pushrod = {self.q('length', linkage.rod)}"
        yield "surface = { " + ", ".join(self.surface(linkage.surface)) + " }"

    def surface(self, surface):
        yield f"span = {self.q('length', surface.span)}"
        yield f"chord = {self.q('length', surface.chord)}"
        yield f"throw_up = {self.q('angle', surface.up)}"
        yield f"throw_down = {self.q('angle', surface.down)}"
        yield f"taper = {surface.taper!r}"
        yield f"chord_ratio = {surface.chord_ratio!r}"
        yield f"mass = {self.q('mass', surface.mass)}"
        yield f"mass_centre = {self.q('length', surface.mass_centre)}"
        yield f'section = "{"slab" if surface.slab else "aerofoil"}"'
        if surface.method == "coefficients":
            yield (
                f"coefficients = {{ C_h0 = {surface.C_h0!r}, "
                f"C_h_alpha = {self.q('slope', surface.C_h_alpha)}, "
                f"C_h_delta = {self.q('slope', surface.C_h_delta)}, "
                f"band_low = {surface.band[0]!r}, band_high = {surface.band[1]!r} }}"
            )
        else:
            yield f'solver = "{surface.method}"'
            yield f"C_h0 = {surface.C_h0!r}"


def described(aircraft, units=SI):
    """Return the file that describes an aircraft of plain numbers."""
    writer = Writer(units)
    writer.aircraft(aircraft)  # leads get their names on the way
    return writer.aircraft(aircraft)


# random aircraft -------------------------------------------------------------------


def floats(low, high):
    return st.floats(low, high).map(lambda value: round(value, 6) + 0.0)


@st.composite
def surfaces(draw):
    on_fin = draw(st.booleans())
    axis = (
        (draw(floats(-0.2, 0.2)), 0.0, 1.0)
        if on_fin
        else (draw(floats(-0.3, 0.3)), 1.0, draw(floats(-0.6, 0.6)))
    )
    method = draw(st.sampled_from(["thin_aerofoil", "plate", "coefficients"]))
    return Surface(
        span=draw(floats(0.1, 0.8)),
        chord=draw(floats(0.02, 0.09)),
        up=draw(floats(5, 25)) * DEG,
        down=draw(floats(5, 25)) * DEG,
        method=method,
        taper=draw(st.sampled_from([1.0, 0.0, 0.6, 1.4])),
        chord_ratio=draw(floats(0.1, 0.9)),
        slab=draw(st.booleans()),
        C_h0=draw(st.sampled_from([0.0, 0.02, -0.03])),
        C_h_alpha=draw(floats(-0.5, -0.05)),
        C_h_delta=draw(floats(-1.0, -0.1)),
        band=draw(st.sampled_from([(1.0, 1.0), (0.7, 1.4)])),
        axis=axis,
        mass=draw(st.sampled_from([0.0, 0.02])),
        mass_centre=draw(floats(-0.01, 0.03)),
    )


@st.composite
def linkages(draw, surface):
    """Arm and horn roughly square to the rod, the horn the longer: no dead centre within reach."""
    hinge = unit(surface.axis)
    ahead = unit(minus((1.0, 0.0, 0.0), times(hinge[0], hinge)))
    up = cross(ahead, hinge)
    horn = times(draw(floats(0.012, 0.025)) * draw(st.sampled_from([-1.0, 1.0])), up)
    arm = times(draw(floats(0.006, 0.011)) * draw(st.sampled_from([-1.0, 1.0])), up)
    lean = [draw(floats(-0.002, 0.002)) for _ in range(3)]
    tilt = tuple(draw(floats(-0.15, 0.15)) for _ in range(3))
    rod = times(draw(floats(0.06, 0.4)), ahead)
    pivot = minus(plus(plus(arm, rod), times(draw(floats(-0.01, 0.01)), up)), horn)
    horn = plus(horn, tuple(lean))
    length = None
    if draw(st.booleans()):
        closing = minus(plus(pivot, horn), arm)
        length = math.sqrt(dot(closing, closing)) + draw(floats(-0.0015, 0.0015))
    drawn = [tuple(round(x, 9) + 0.0 for x in vector) for vector in (arm, pivot, horn)]
    arm, pivot, horn = drawn
    servo_axis = plus(hinge, tilt)
    return Linkage(surface, (0.0, 0.0, 0.0), servo_axis, arm, pivot, surface.axis, horn, length)


@st.composite
def servos(draw):
    voltage, torque = draw(floats(3.5, 6.0)), draw(floats(0.1, 0.5))
    speed, current = draw(floats(4.0, 9.0)), draw(floats(0.5, 2.5))
    rows = []
    for _ in range(draw(st.integers(1, 3))):
        rows.append((voltage, torque, speed, current, draw(floats(0.0, 0.3)) * current))
        voltage += draw(floats(0.3, 1.5))
        torque, current = torque * draw(floats(1.0, 1.5)), current * draw(floats(1.0, 1.5))
    least = draw(st.sampled_from([None, 3.2]))
    most = draw(st.sampled_from([None, 8.4]))
    return Servo(rows, draw(floats(20, 60)) * DEG, least, most)


@st.composite
def aircraft(draw, most_runs=2, most_cases=1):
    """Draw an aircraft that can be evaluated."""
    trunk = Lead(draw(floats(0.0, 0.4)))
    pool = [None, trunk, Lead(draw(floats(0.0, 0.5))), Lead(draw(floats(0.0, 0.3)), trunk)]
    runs = []
    for _ in range(draw(st.integers(1, most_runs))):
        moved = [draw(linkages(draw(surfaces()))) for _ in range(draw(st.sampled_from([1, 1, 2])))]
        lead = draw(st.sampled_from(pool))
        runs.append(Run(draw(servos()), moved, lead, draw(floats(0.5, 1.0))))
    return Aircraft(
        runs,
        [draw(cases(runs)) for _ in range(draw(st.integers(1, most_cases)))],
        draw(floats(4.5, 8.0)),
        draw(floats(0.0, 0.3)),
        draw(st.sampled_from([math.inf, 2.0, 6.0])),
        draw(floats(0.0, 0.3)),
        draw(floats(3.0, 4.5)),
        draw(st.sampled_from(pool)),
        [(draw(floats(0.0, 0.5)), draw(st.sampled_from(pool)))] * draw(st.integers(0, 1)),
        Factors(*(draw(floats(1.0, most)) for most in (2.0, 1.5, 1.5, 1.2, 1.2, 1.2))),
    )


@st.composite
def cases(draw, runs):
    ranges = []
    for run in runs:
        surface, share = run.linkages[0].surface, draw(floats(0.1, 1.0))
        up, down = share * surface.up, share * surface.down
        ends = [(-up, down), (0.0, down), (-up, 0.0), (0.4 * down, down), (-up, -0.4 * up)]
        ranges.append(draw(st.sampled_from(ends)))
    return Case(
        draw(floats(5.0, 60.0)),
        draw(floats(0.9, 1.3)),
        draw(st.sampled_from([0.0, 0.1, -0.15])),
        draw(st.sampled_from([0.0, 0.12, -0.05])),
        ranges,
        draw(st.sampled_from([(0.0, 0.0, -1.0), (0.3, -0.5, -3.0), (0.0, 0.0, 2.0)])),
        draw(st.sampled_from([{}, {0: 6.0}])),
    )
