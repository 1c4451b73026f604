"""A second way from an aircraft to its margins: one number at a time, by statics and search.

Nothing here comes from the library or its solvers. Linkages are followed from neutral with
a bracketed root finder on the rod's length, torques come from the force in the rod, the
worst deflection from a dense scan and a golden section, voltages from a general solver of
nonlinear equations with many starts. SI units and radians; x aft, y to starboard, z up.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass, field

from scipy.optimize import brentq, root

GRAVITY = 9.80665
NOTHING = float("nan")


# vectors ------------------------------------------------------------------------


def plus(a, b):
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def times(k, a):
    return (k * a[0], k * a[1], k * a[2])


def minus(a, b):
    return plus(a, times(-1.0, b))


def dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a, b):
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def unit(a):
    return times(1.0 / math.sqrt(dot(a, a)), a)


def turned(a, axis, angle):
    """Turn a vector right-handed about a unit axis (Rodrigues' formula)."""
    c, s = math.cos(angle), math.sin(angle)
    return plus(plus(times(c, a), times(s, cross(axis, a))), times(dot(axis, a) * (1.0 - c), axis))


# air ----------------------------------------------------------------------------

# U.S. Standard Atmosphere, 1976: constants and equations of part 1, from memory; the numbers
# that the kernel gives are held to the printed table in the tests of the air.
SEA_LEVEL_PRESSURE, SEA_LEVEL_TEMPERATURE, LAPSE = 101325.0, 288.15, 0.0065
GAS = 8314.32 / 28.9644
EARTH = 6356766.0


def standard_air(altitude, temperature=None):
    """Pressure and density below 11 km."""
    height = EARTH * altitude / (EARTH + altitude)
    standard = SEA_LEVEL_TEMPERATURE - LAPSE * height
    pressure = SEA_LEVEL_PRESSURE * (standard / SEA_LEVEL_TEMPERATURE) ** (GRAVITY / (GAS * LAPSE))
    return pressure, pressure / (GAS * (standard if temperature is None else temperature))


def true_speed(calibrated, pressure, density):
    """Equal impact pressure, with the isentropic relation of Saint-Venant."""
    sea_level = SEA_LEVEL_PRESSURE / (GAS * SEA_LEVEL_TEMPERATURE)

    def impact(speed, p, rho):
        return p * ((1.0 + 0.2 * speed**2 * rho / (1.4 * p)) ** 3.5 - 1.0)

    wanted = impact(calibrated, SEA_LEVEL_PRESSURE, sea_level)
    return brentq(lambda v: impact(v, pressure, density) - wanted, 0.0, 330.0, xtol=1e-11)


# what is described ---------------------------------------------------------------


@dataclass
class Surface:
    span: float
    chord: float
    up: float  # throw, trailing edge up, a magnitude
    down: float
    method: str = "thin_aerofoil"
    taper: float = 1.0
    chord_ratio: float = 0.4
    slab: bool = False
    C_h0: float = 0.0
    C_h_alpha: float = 0.0
    C_h_delta: float = 0.0
    band: tuple = (1.0, 1.0)
    axis: tuple = (0.0, 1.0, 0.0)
    mass: float = 0.0
    mass_centre: float = 0.0


@dataclass
class Linkage:
    surface: Surface
    servo_pivot: tuple
    servo_axis: tuple
    arm: tuple
    hinge_pivot: tuple
    hinge_axis: tuple
    horn: tuple
    rod: float | None = None


def planar(surface, arm, horn, rod, *, arm_lean=0.0, horn_lean=0.0):
    """Lay a linkage out in a plane: servo ahead, rod level at neutral, arm and horn upwards."""
    tip = (arm * math.sin(arm_lean), 0.0, arm * math.cos(arm_lean))
    horn_tip = (horn * math.sin(horn_lean), 0.0, horn * math.cos(horn_lean))
    pivot = minus(plus(tip, (rod, 0.0, 0.0)), horn_tip)
    across = (0.0, 1.0, 0.0)
    return Linkage(surface, (0.0, 0.0, 0.0), across, tip, pivot, across, horn_tip, rod)


@dataclass
class Servo:
    rows: list  # (voltage, stall torque, no-load speed, stall current, no-load current)
    travel: float = math.pi / 4
    least: float | None = None
    most: float | None = None


@dataclass
class Lead:
    resistance: float  # out and back
    feed: Lead | None = None


@dataclass
class Run:
    servo: Servo
    linkages: list
    lead: Lead | None = None
    efficiency: float = 0.9


@dataclass
class Case:
    speed: float
    density: float
    incidence: float
    sideslip: float
    ranges: list  # (least, greatest) for each run
    load_factor: tuple = (0.0, 0.0, -1.0)
    wash: dict = field(default_factory=dict)  # by index of the run
    temperature: float = 313.15  # a hot day, where the density alone is known


@dataclass
class Factors:
    torque: float = 1.25
    datasheet: float = 1.2
    current: float = 1.2
    voltage: float = 1.0
    over_voltage: float = 1.0
    travel: float = 1.0


PLAIN = Factors(1.0, 1.0, 1.0)


@dataclass
class Aircraft:
    runs: list
    cases: list
    voltage: float
    resistance: float = 0.0
    limit: float = math.inf
    receiver: float = 0.1
    receiver_least: float = 3.5
    receiver_lead: Lead | None = None
    loads: list = field(default_factory=list)  # (current, lead)
    factors: Factors = field(default_factory=Factors)


def gauge_section(number):
    """ASTM B258: gauge 36 is 0.005 inch, 39 steps of the 39th root of 92 up to 0.46 inch."""
    diameter = 0.005 * 0.0254 * 92.0 ** ((36 - number) / 39)
    return math.pi / 4 * diameter**2


def lead_resistance(
    length, section, *, celsius=40.0, strand=1.10, contacts=0, contact_resistance=0.0
):
    """Both conductors; 100 % conductivity copper is 1.7241e-8 ohm m at 20 C, 0.00393 per K."""
    copper = 1.7241e-8 * (1.0 + 0.00393 * (celsius - 20.0))
    return 2.0 * (strand * copper * length / section + contacts * contact_resistance)


# linkage -------------------------------------------------------------------------


class Mechanism:
    """A rod between two turning arms, followed from neutral in small steps."""

    STEP = math.radians(1.0)

    def __init__(self, linkage, travel):
        self.a = linkage
        self.servo_axis, self.hinge_axis = unit(linkage.servo_axis), unit(linkage.hinge_axis)
        closing = minus(self.horn_tip(0.0), self.arm_tip(0.0))
        closed = math.sqrt(dot(closing, closing))
        self.rod = closed if linkage.rod is None else linkage.rod
        neutral, wanted = 0.0, self.rod
        for step in range(1, 101):  # the rod grows or shrinks from the length that just fits
            self.rod = closed + (wanted - closed) * step / 100
            neutral = self.near(0.0, neutral)
            if math.isnan(neutral):
                raise ValueError("does not close at neutral")
        self.table = {0: (0.0, neutral)}
        self.ends = {side: self.walk(side, travel) for side in (-1, 1)}
        self.whole = {side: self.monotone(side, self.ends[side]) for side in (-1, 1)}

    def arm_tip(self, theta):
        return plus(self.a.servo_pivot, turned(self.a.arm, self.servo_axis, theta))

    def horn_tip(self, delta):
        return plus(self.a.hinge_pivot, turned(self.a.horn, self.hinge_axis, delta))

    def gap(self, theta, delta):
        along = minus(self.horn_tip(delta), self.arm_tip(theta))
        return dot(along, along) - self.rod**2

    def horn_lever(self, theta, delta):
        """Moment about the hinge of a unit pull along the rod at the horn."""
        pull = unit(minus(self.arm_tip(theta), self.horn_tip(delta)))
        return dot(self.hinge_axis, cross(turned(self.a.horn, self.hinge_axis, delta), pull))

    def arm_lever(self, theta, delta):
        """Moment about the servo shaft of a unit pull along the rod at the arm."""
        pull = unit(minus(self.horn_tip(delta), self.arm_tip(theta)))
        return dot(self.servo_axis, cross(turned(self.a.arm, self.servo_axis, theta), pull))

    def near(self, theta, start):
        """Deflection that closes the loop, on the same side of the horn's dead centre as `start`."""
        middle = self.gap(theta, start)
        if middle == 0.0:
            return start
        side = math.copysign(1.0, self.horn_lever(theta, start))
        width = 1e-4
        while width < 1.0:
            for way in (start - width, start + width):
                end = way
                if side * self.horn_lever(theta, way) <= 0.0:  # no further than the dead centre
                    end = brentq(lambda d: self.horn_lever(theta, d), start, way, xtol=1e-15)
                if self.gap(theta, end) * middle <= 0.0:
                    return brentq(lambda d: self.gap(theta, d), start, end, xtol=1e-15)
            width *= 2.0
        return NOTHING

    def walk(self, side, travel):
        """Follow the surface to the end of the travel or to a dead centre; return the end."""
        count = int(travel / self.STEP) + 1
        for step in range(1, count + 1):
            theta = side * travel * step / count
            before = self.table[side * (step - 1)]
            delta = self.near(theta, before[1])
            if math.isnan(delta):  # the horn's dead centre lies between
                inside, outside = before[0], theta
                for _ in range(60):
                    middle = 0.5 * (inside + outside)
                    if math.isnan(self.near(middle, before[1])):
                        outside = middle
                    else:
                        inside = middle
                delta = self.near(inside, before[1])
                self.table[side * step] = (inside, delta)
                return inside
            self.table[side * step] = (theta, delta)
        return side * travel

    def surface(self, theta):
        """Deflection at a servo angle, from the nearest point of the walk."""
        start = min(self.table.values(), key=lambda pair: abs(pair[0] - theta))
        return self.near(theta, start[1])

    def monotone(self, side, limit):
        """Positions from neutral to a servo angle or the arm's dead centre, whichever is first."""
        places = [self.table[0]]
        while (step := side * len(places)) in self.table:
            before, here = places[-1], self.table[step]
            if abs(here[0]) >= abs(limit):
                here = (limit, self.surface(limit))
            if self.arm_lever(*here) * self.arm_lever(*self.table[0]) <= 0.0:
                dead = brentq(
                    lambda t: self.arm_lever(t, self.surface(t)), before[0], here[0], xtol=1e-15
                )
                return [*places, (dead, self.surface(dead))]
            places.append(here)
            if here[0] == limit:
                break
        return places

    def servo(self, delta):
        """Servo angle at a deflection, no further than the arm's dead centre."""
        for side in (-1, 1):
            for (here, low), (there, high) in itertools.pairwise(self.whole[side]):
                for angle, at in ((here, low), (there, high)):
                    if abs(at - delta) < 1e-13:
                        return angle
                if (low - delta) * (high - delta) < 0.0:
                    return brentq(lambda t: self.gap(t, delta), here, there, xtol=1e-16)
        return NOTHING

    def extremes(self, limits):
        """Least and greatest deflection between two servo angles, up to the arm's dead centre."""
        ends = [
            self.monotone(side, limit)[-1][1] for side, limit in zip((-1, 1), limits, strict=True)
        ]
        return min(ends), max(ends)


# loads ---------------------------------------------------------------------------


def flow_angles(axis, case):
    """Incidence, positive where the stream comes along n = aft x hinge axis, and its largest."""
    n = unit(cross((1.0, 0.0, 0.0), unit(axis)))
    alpha, beta = case.incidence, case.sideslip
    # alpha blows upwards, beta (wind from starboard) to port, that is along -y
    signed = alpha * n[2] + beta * -n[1]
    return signed, abs(alpha * n[2]) + abs(beta * n[1])


def glauert(chord_ratio):
    """Hinge-moment slopes of a thin flapped section (Glauert, ARC R&M 1095)."""
    e = chord_ratio
    phi = math.acos(1.0 - 2.0 * e)
    b1 = -((1.5 - e) * math.sin(phi) - (1.5 - 2.0 * e) * phi) / e**2
    top = 2.0 * e * (1.0 - e) + phi * math.sin(phi) - (1.5 - 2.0 * e) * phi**2
    return b1, -top / (math.pi * e**2)


def rayleigh_force(a):
    """C_N of a plate with a cavity behind it (Lamb, art. 77)."""
    return 2.0 * math.pi * math.sin(a) / (4.0 + math.pi * math.sin(a))


def rayleigh(angle):
    """C_h of a plate with a cavity behind it, hinged at its leading edge (Lamb, art. 77)."""
    a = min(abs(angle), math.pi / 2)
    force = rayleigh_force(a)
    arm = 0.5 - 0.75 * math.cos(a) / (4.0 + math.pi * math.sin(a))
    return -math.copysign(force * arm, angle)


def sutherland(temperature=288.15):
    """Dynamic viscosity of air (U.S. Standard Atmosphere, 1976, part 1)."""
    return 1.458e-6 * temperature**1.5 / (temperature + 110.4)


def between(value, whole, none):
    """One up to `whole`, nothing from `none` on, a straight line between."""
    return 1.0 if value <= whole else 0.0 if value >= none else (none - value) / (none - whole)


def air_lines(surface, q, delta, incidence, largest, *, per_chord, against=None):
    """Signed moments (low, best, high), in the sense of what opposes the deflection.

    The Reynolds number is per metre of the whole chord.
    """
    against = against or (1.0 if delta < 0.0 else -1.0)
    size = q * surface.span * surface.chord**2
    if surface.method == "coefficients":
        best = surface.C_h0 + surface.C_h_alpha * incidence + surface.C_h_delta * delta
        ends = sorted(against * k * best for k in surface.band)
        return size * against * ends[0], size * best, size * against * ends[1]
    t = surface.taper
    # integral of c^2 over the span, over area times mean chord; chords run from 1 to t
    size *= ((1.0 + t + t * t) / 3.0) / ((1.0 + t) / 2.0) ** 2
    if surface.method == "plate":
        best = rayleigh(delta + incidence)
        low = -rayleigh(abs(delta) - largest)
        high = -rayleigh(abs(delta) + largest)
    else:
        b1, b2 = glauert(surface.chord_ratio)
        k_s, k_l, in_b1, in_b2, in_h0 = (
            (1.2, 0.6, 1.1, 1.0, 1.0) if surface.slab else (1.0, 0.5, 0.7, 0.8, 0.8)
        )
        best = in_h0 * surface.C_h0 + in_b1 * b1 * incidence + in_b2 * b2 * delta
        rest = k_s * (abs(surface.C_h0) + abs(b1) * largest)
        low = k_l * abs(b2) * abs(delta) - rest
        high = k_s * abs(b2) * abs(delta) + rest
        # beyond 30 degrees a plate: the floor, the measured force by the flap's own shape (1.17
        # square, 1.98 long), and a quarter over a long one
        degrees = math.degrees(abs(delta))
        attached = between(degrees, 30.0, 35.0)
        slender = min(surface.span / surface.chord, surface.chord / surface.span)
        broadside = (1.98 - (1.98 - 1.17) * slender) / rayleigh_force(math.pi / 2)
        long = 1.25 * 1.98 / rayleigh_force(math.pi / 2)
        low = attached * low - (1 - attached) * rayleigh(abs(delta) - largest)
        best = attached * best + (1 - attached) * broadside * rayleigh(delta + incidence)
        high = attached * high - (1 - attached) * long * rayleigh(abs(delta) + largest)
        laminar = between(per_chord * surface.chord / surface.chord_ratio, 2e5, 3e5)
        wide = 0.05 * laminar * between(degrees, 8.0, 10.0)
        low, high = low - wide, high + wide
    low, high = min(low, against * best), max(high, against * best)
    return size * against * low, size * best, size * against * high


def weight_moment(surface, delta, load_factor):
    """Moment about the hinge of the weight at the centre of mass, turned with the surface."""
    h = unit(surface.axis)
    aft = unit(minus((1.0, 0.0, 0.0), times(h[0], h)))
    place = turned(times(surface.mass_centre, aft), h, delta)
    return dot(h, cross(place, times(surface.mass * GRAVITY, load_factor)))


class RunLoads:
    """Torques of one run in one case."""

    def __init__(self, run, case, index):
        self.run, self.case = run, case
        self.speed = case.speed + case.wash.get(index, 0.0)
        self.q = 0.5 * case.density * self.speed**2
        density, viscosity = case.density, sutherland(case.temperature)
        self.per_chord = density * math.sqrt(2.0 * self.q / density) / viscosity
        travel = run.servo.travel
        self.mechanisms = [Mechanism(linkage, travel) for linkage in run.linkages]
        low = max(mechanism.ends[-1] for mechanism in self.mechanisms)
        high = min(mechanism.ends[1] for mechanism in self.mechanisms)
        self.reach = self.mechanisms[0].extremes((low, high))
        asked = case.ranges[index]
        self.asked = asked
        self.low, self.high = max(asked[0], self.reach[0]), min(asked[1], self.reach[1])
        self.lines = functools.cache(self.lines_at)  # verdict and plain ask for the same places

    def lines_at(self, delta):
        """For every surface: (low, best, high, other high) with weight, torque and force per moment."""
        theta = self.mechanisms[0].servo(delta)
        rows = []
        for index, mechanism in enumerate(self.mechanisms):
            own = delta if index == 0 else mechanism.surface(theta)
            if abs(own) < 1e-12:
                own = 0.0
            surface = mechanism.a.surface
            angles = flow_angles(surface.axis, self.case)
            given = {"per_chord": self.per_chord}
            low, best, high = air_lines(surface, self.q, own, *angles, **given)
            other = high
            if own == 0.0:  # neutral may be on the way to a negative deflection as well
                other = air_lines(surface, self.q, own, *angles, **given, against=1.0)[2]
            weight = weight_moment(surface, own, self.case.load_factor)
            # Balance of the surface: M + pull x lever = 0, and of the servo: T + pull x lever = 0.
            pull = -1.0 / mechanism.horn_lever(theta, own)
            torque = -pull * mechanism.arm_lever(theta, own)
            rows.append(([m + weight for m in (low, best, high, other)], torque, pull))
        return rows

    def torques(self, delta, *, plain):
        """Torque to hold and to move on the line that asks for more, and the moment."""
        rows, found = self.lines(delta), None
        for line in (1,) if plain else (2, 0, 3):
            each = [moments[line] * torque for moments, torque, _ in rows]
            hold = sum(each)
            move = abs(hold) + (1.0 / self.run.efficiency - 1.0) * sum(abs(t) for t in each)
            if found is None or abs(hold) > abs(found[0]):
                found = (hold, move, rows[0][0][line])
        return found

    def rod_force(self, delta, *, plain):
        """Force of largest magnitude in any rod of the run."""
        ends = (1,) if plain else (0, 2, 3)
        return max((m[line] * pull for m, _, pull in self.lines(delta) for line in ends), key=abs)

    def worst(self, function):
        """Deflection where a function is greatest, and its value; of equal ones the positive."""
        if not self.low <= self.high:
            return NOTHING, NOTHING
        count = 120
        points = {self.low + (self.high - self.low) * k / count for k in range(count + 1)}
        points |= {self.high} | ({0.0} if self.low <= 0.0 <= self.high else set())
        points = sorted(points)
        values = [function(point) for point in points]
        top = max(values)
        best = max(k for k, value in enumerate(values) if value >= top * (1.0 - 1e-9))
        found = (points[best], values[best])
        for left, right in ((best - 1, best), (best, best + 1)):
            if left < 0 or right == len(points):
                continue
            at, value = golden(function, points[left], points[right])
            if value > found[1]:
                found = (at, value)
        return found


def golden(function, left, right):
    """Greatest value inside an interval."""
    ratio = (math.sqrt(5.0) - 1.0) / 2.0
    a, b = right - ratio * (right - left), left + ratio * (right - left)
    at_a, at_b = function(a), function(b)
    for _ in range(28):
        if at_a > at_b:
            right, b, at_b = b, a, at_a
            a = right - ratio * (right - left)
            at_a = function(a)
        else:
            left, a, at_a = a, b, at_b
            b = left + ratio * (right - left)
            at_b = function(b)
    return (a, at_a) if at_a > at_b else (b, at_b)


# servo and supply ------------------------------------------------------------------


def datasheet(servo, voltage):
    """Stall torque, no-load speed, stall and no-load current, as printed, at a voltage."""
    rows = servo.rows
    if voltage <= rows[0][0]:
        share = max(0.0, voltage) / rows[0][0]
        return [share * value for value in rows[0][1:]]
    for lower, upper in itertools.pairwise(rows):
        if voltage <= upper[0]:
            share = (voltage - lower[0]) / (upper[0] - lower[0])
            return [a + share * (b - a) for a, b in zip(lower[1:], upper[1:], strict=True)]
    return list(rows[-1][1:])


def servo_current(servo, voltage, torque, datasheet_factor):
    """Current against a torque; None stands for a stalled servo."""
    stall, _, most, idle = datasheet(servo, voltage)
    if voltage <= 0.0:
        return 0.0
    share = 1.0 if torque is None else min(1.0, torque * datasheet_factor / stall)
    return idle + (most - idle) * share


class Net:
    """The supply tree, with the leads that each current has to pass."""

    def __init__(self, aircraft):
        self.aircraft = aircraft
        runs = aircraft.runs
        shared = [aircraft.receiver_lead, *(lead for _, lead in aircraft.loads)]
        for user in [run.lead for run in runs] + shared:
            lead = user
            while lead is not None:
                shared.append(lead.feed)
                lead = lead.feed
        self.shared = {id(lead) for lead in shared if lead is not None}
        self.ways = [self.way(run.lead, own=number) for number, run in enumerate(runs)]
        self.constant = [
            (aircraft.receiver, self.way(aircraft.receiver_lead)),
            *((current, self.way(lead)) for current, lead in aircraft.loads),
        ]

    def way(self, lead, own=None):
        """Leads from the bus to a user: key and resistance; an unshared lead is laid for itself."""
        found = []
        while lead is not None:
            key = id(lead) if id(lead) in self.shared else (own, id(lead))
            found.append((key, lead.resistance))
            lead = lead.feed
        return found

    def voltage(self, way, terminals, currents):
        """Voltage at the end of a way."""
        loads = [*zip(currents, self.ways, strict=True), *self.constant]
        lost = 0.0
        for key, resistance in way:
            through = sum(i for i, other in loads if key in [each for each, _ in other])
            lost += resistance * through
        return terminals - lost

    def solve(self, torques, factor, limit):
        """Greatest voltages that satisfy the circuit: (servo voltages, currents, receiver, total)."""
        starts = (1.0, 0.93, 0.85, 0.75, 0.6, 0.45, 0.3, 0.15, 0.05)
        found = [
            answer
            for share in starts
            for kept in (math.inf, limit)
            if (answer := self.one(torques, factor, limit, share, at_limit=kept < math.inf))
        ]
        nothing = [NOTHING] * len(torques)
        return max(found, key=lambda one: sum(one[0]), default=(nothing, nothing, NOTHING, NOTHING))

    def one(self, torques, factor, limit, share, *, at_limit):
        """Solution nearest to a start; `at_limit`: with the source's current given instead."""
        full, runs = self.aircraft.voltage, self.aircraft.runs
        constant = sum(current for current, _ in self.constant)

        def drawn(volts):
            each = zip(runs, volts, torques, strict=True)
            return [servo_current(run.servo, v, t, factor) for run, v, t in each]

        def residuals(unknown):
            volts, terminals = unknown[:-1], unknown[-1]
            currents = drawn(volts)
            total = constant + sum(currents)
            leads = [
                v - self.voltage(way, terminals, currents)
                for v, way in zip(volts, self.ways, strict=True)
            ]
            lost = terminals - full + self.aircraft.resistance * total
            return [*leads, full * (total / limit - 1.0) if at_limit else lost]

        places = polished(residuals, [share * full] * (len(runs) + 1))
        if places is None:
            return None
        volts, terminals = places[:-1], places[-1]
        currents = drawn(volts)
        total = constant + sum(currents)
        ends = [self.voltage(way, terminals, currents) for _, way in self.constant]
        above = terminals > full - self.aircraft.resistance * total + 1e-10
        if above or total > limit * (1.0 + 1e-10) or min(*places, *ends) < 0.0:
            return None
        return volts, currents, ends[0], total


def polished(function, start):
    """Root of a small system from one start, or None."""
    answer = root(function, start, method="hybr", options={"xtol": 1e-14, "maxfev": 4000})
    good = max(abs(value) for value in function(answer.x)) < 1e-10
    return [float(value) for value in answer.x] if good else None


# margins ---------------------------------------------------------------------------


def over(available, required, factor):
    return available / (required * factor) - 1.0 if required > 0.0 else NOTHING


def evaluate(aircraft):
    """Margins and values of every case and run, keyed (case index, run index).

    The key "plain" of each holds the same with every factor 1 and the best line alone.
    """
    made = {}
    for number, case in enumerate(aircraft.cases):
        loads = [RunLoads(run, case, index) for index, run in enumerate(aircraft.runs)]
        verdict = one_case(aircraft, loads, aircraft.factors, plain=False)
        plain = one_case(aircraft, loads, PLAIN, plain=True)
        for index, (told, bare) in enumerate(zip(verdict, plain, strict=True)):
            made[number, index] = told | {"plain": bare}
    return made


def one_case(aircraft, loads, factors, *, plain):
    worst = [one.worst(lambda d, one=one: one.torques(d, plain=plain)[1]) for one in loads]
    electric = supply_states(aircraft, [move for _, move in worst], factors)
    return [
        one_run(
            aircraft, factors, one, index=index, worst=worst[index], electric=electric, plain=plain
        )
        for index, one in enumerate(loads)
    ]


def supply_states(aircraft, moves, factors):
    """Working point, then each servo at its limit, with the limit of the source and without."""
    net = Net(aircraft)
    needed = [None if math.isnan(move) else move for move in moves]
    others = [None if move is None else move * factors.torque for move in needed]
    states = [needed]
    states += [
        [None if k == index else move for k, move in enumerate(others)]
        for index in range(len(moves))
    ]
    limit = aircraft.limit
    return (
        [net.solve(state, factors.datasheet, limit) for state in states],
        [net.solve(state, factors.datasheet, math.inf) for state in states],
        net.solve([None] * len(moves), factors.datasheet, limit),
    )


def one_run(aircraft, factors, loads, *, index, worst, electric, plain):
    solved, lifted, all_stalled = electric
    servo = aircraft.runs[index].servo
    at, move = worst
    at_limit = solved[1 + index][0][index]
    available = datasheet(servo, at_limit)[0] / factors.datasheet
    least = min(answer[0][index] for answer in solved)
    receiver = min(answer[2] for answer in solved)
    minimum = 0.8 * servo.rows[0][0] if servo.least is None else servo.least
    maximum = servo.rows[-1][0] if servo.most is None else servo.most
    sides = [
        over(end, asked, factors.travel)
        for asked, end in (
            (loads.asked[1], loads.reach[1]),
            (-loads.asked[0], -loads.reach[0]),
        )
        if asked > 0.0
    ]
    hold, _, moment = loads.torques(at, plain=plain) if not math.isnan(at) else (NOTHING,) * 3
    pulled = loads.worst(lambda d: abs(loads.rod_force(d, plain=plain)))
    return {
        "required": move,
        "available": available,
        "torque": over(available, move, factors.torque),
        "travel": min(sides),
        "voltage": min(
            over(least, minimum, factors.voltage),
            over(receiver, aircraft.receiver_least, factors.voltage),
        ),
        "over-voltage": over(maximum, aircraft.voltage, factors.over_voltage),
        "current": over(aircraft.limit, max(answer[3] for answer in lifted), factors.current),
        "required current": max(answer[3] for answer in lifted),
        "governing deflection": at,
        "hold torque": hold,
        "hinge moment": moment,
        "dynamic pressure": loads.q,
        "voltage at work": solved[0][0][index],
        "voltage at limit": at_limit,
        "current at work": solved[0][1][index],
        "source current at work": solved[0][3],
        "source current, all stalled": all_stalled[3],
        "rod force": abs(pulled[1]),
        "reach": loads.reach,
    }
