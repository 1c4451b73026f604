"""What the code makes of every published value in `tests/reference/`, for the page of validation.

A case of a reference is computed by what its file and its quantity ask for, in the unit in which it
is printed. What the library does not compute is named with the reason, so that none is left out.
"""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from linkcalc.diving.flutter import FREE_PLAY_LIMITS, FREEDOM_FACTOR
from linkcalc.mechanism import pushrod
from linkcalc.model import SafetyFactors
from linkcalc.model.materials import MATERIALS
from linkcalc.physics import air, columns, conductors, ground_gust, servo, wire
from linkcalc_dive import circular
from linkcalc_dive.flight import Airframe
from linkcalc_dive.speeds import speed_reached, terminal_speed
from linkcalc_hinge_moment import plate
from linkcalc_hinge_moment.charts import read
from linkcalc_hinge_moment.handbook import Handbook, steps
from linkcalc_hinge_moment.panels import Counts, trapezoid
from linkcalc_hinge_moment.panels import cut as panels_of
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope
from linkcalc_hinge_moment.vortex_lattice import circulations

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    Row = Mapping[str, str]

REFERENCES = Path(__file__).resolve().parent / "reference"
FILES = sorted(path.stem for path in REFERENCES.glob("*.csv") if path.stem != "hinge_viscous")
INCH, FOOT, POUND_FORCE, SLUG = 0.0254, 0.3048, 0.45359237 * 9.80665, 14.593902937
PSI, RPM = POUND_FORCE / INCH**2, 2.0 * math.pi / 60.0
WIDER = {
    # the quantity: how far the code may be off, and why more than the tolerance of the case
    "factor reducing measured resistance to 20 C": (0.0034, "a straight line, not 250/(230 + T)"),
    "finite-span C_h_alpha, lifting-line form": (0.03, "charts' slopes, not theory's"),
    "finite-span C_h_delta, lifting-line form": (0.03, "charts' slopes, not theory's"),
    "peak power torque fraction": (1e-5, "a minimum is found to the root of the rounding error"),
    "stall torque with series lead resistance": (2e-6, "printed to six decimals"),
}
NOT_COMPUTED = {
    "coupler angle": "follows from the rocker's; the tests hold it",
    "Grashof classification": "no number; the tests turn that crank all the way round",
    "infeasible position": "no number; the tests hold the reason that is given",
    "limit hinge moment": "a formula; its worked cases are below",
    "ground-gust design speed": "a formula; its worked cases are below",
    "c_l per flap angle, a2": "an intermediate step; the slopes of the hinge moment are below",
    "flap effectiveness tau = a2/a1": "an intermediate step; the slopes of the hinge moment are below",
    "pitching moment about c/4 per flap angle, m": "an intermediate step; the slopes are below",
    "design load distribution moment, H/(w S c)": "a load shape of a regulation, not offered",
    "C_L_alpha lifting line elliptic": "no lift is offered; the tests bound the lattice's by it",
    "C_L_alpha Helmbold": "no lift is offered; the tests bound the lattice's by it",
    "C_L_alpha DATCOM/Polhamus form": "no lift is offered",
    "vee tail area and dihedral from a conventional pair": "not offered",
    "vee tail C_L_alpha / isolated": "not offered",
    "vee tail lift per symmetric deflection / flat tail": "not offered",
    "vee tail side-force interference factor K": "not offered",
    "max resistance 20 C, flexible class 5/6 plain": "a maximum; the tests hold what it leaves",
    "max resistance 20 C, class 5 plain": "a maximum; the tests hold what it leaves",
    "minimum pilot force floor used with ground-gust moments": "for an aircraft with a pilot in it",
    "limit pilot force max / min": "for an aircraft with a pilot in it",
    "V_C minimum factor": "speeds are given, or follow from the dive",
    "V_D / V_C minimum": "speeds are given, or follow from the dive",
    "V_D / V_Cmin minimum": "speeds are given, or follow from the dive",
    "V_C upper bound": "speeds are given, or follow from the dive",
    "upset for speed margin": "the entries of dives are common practice, and said to be",
    "fallback maximum speed": "the entries of dives are common practice, and said to be",
    "special factor, control surface hinges": "hinges are not among the modes",
    "fitting factor": "fittings are not among the modes",
    "inertia load along hinge line, vertical / horizontal surfaces": "hinges are not among the modes",
    "largest cable deflection in a fairlead": "fairleads are not described",
    "smallest primary control cable": "cables are described by what they bear",
}
MODULI = {
    "music wire ASTM A228": "steel wire",
    "aluminium 6061-T6": "aluminium tube",
    "pultruded standard-modulus carbon rod, axial": "carbon rod",
    "pultruded E-glass rod, axial": "glass rod",
    "Sitka spruce 12 %": "spruce",
    "balsa": "balsa",
    "American beech": "beech",
}


class Compared(NamedTuple):
    """One case of a reference beside what the code makes of it.

    Attributes
    ----------
    row : mapping of str to str
        Of the file.
    expected, got : float
        In the unit of the case; nan where the library does not compute it.
    allowed : float
        How far they may be apart.
    why : str
        Why more is allowed than the case says, or why it is not computed.
    """

    row: Row
    expected: float
    got: float
    allowed: float
    why: str


def rows(name: str) -> list[Row]:
    """Read a file of references."""
    with (REFERENCES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(row: Row, name: str) -> float:
    """Return what an input of a case is."""
    found = re.search(rf"(?:^|[; (]){re.escape(name)}[= ](-?[\d.]+(?:e-?\d+)?)", row["inputs"])
    assert found, (row["id"], name)
    return float(found[1])


def numbers(row: Row) -> list[float]:
    """Return the numbers behind the equals signs of a case."""
    return [float(value) for value in re.findall(r"=(-?[\d.]+)", row["inputs"])]


# --- one function for each quantity, from a case to a number in its unit


def _altitude(kernel: Callable[..., Any]) -> Callable[[Row], float]:
    return lambda row: float(kernel(altitude=number(row, "geometric altitude")))


def _euler_diameter(row: Row) -> float:
    steel = {"modulus": number(row, "E") * 1e9, "yield_strength": number(row, "Sy") * 1e6}
    wanted = number(row, "design factor") * number(row, "load") * 1e3

    def surplus(diameter: float) -> float:
        section = columns.round_section(outer_diameter=diameter, inner_diameter=0.0)
        return _critical(section.area, section.second_moment, number(row, "L"), **steel) - wanted

    return 1e3 * brentq(surplus, 5e-3, 0.2, xtol=1e-12)


def _critical(area: float, second: float, length: float, **of: float) -> float:
    found = columns.critical_load(
        area=area, second_moment=second, free_length=length, end_coefficient=1.0, **of
    )
    return float(found)


def _transition(row: Row) -> float:
    found = columns.transition_slenderness(
        modulus=number(row, "E") * 1e9, yield_strength=number(row, "Sy") * 1e6, end_coefficient=1.0
    )
    return float(found)


def _slenderness(row: Row) -> float:
    section = columns.round_section(outer_diameter=number(row, "d") / 1e3, inner_diameter=0.0)
    return float(number(row, "L") / section.radius_of_gyration)


def _link_width(row: Row) -> float:
    length, thickness = number(row, "L") * INCH, number(row, "thickness") * INCH
    steel = {"modulus": 30e6 * PSI, "yield_strength": 75e3 * PSI}  # of all these cases

    def surplus(width: float) -> float:
        second = width * thickness**3 / 12.0
        return _critical(width * thickness, second, length, **steel) - 20_000 * POUND_FORCE

    return brentq(surplus, 0.01 * INCH, 100.0 * INCH, xtol=1e-12) / INCH


def _governing_length(_: Row) -> float:
    slenderness = columns.transition_slenderness(
        modulus=200e9, yield_strength=2 * 250e6, end_coefficient=1.0
    )
    return float(slenderness * 60.0 / math.sqrt(12.0))


def _modulus(row: Row) -> float:
    name = MODULI.get(row["inputs"])
    return math.nan if name is None else MATERIALS[name].modulus / 1e9


def _craft(mass: float = 2.0, area: float = 0.35, drag: float = 0.030) -> Airframe:
    given = (mass, area, drag, 0.0, 1.2, 6.0, 0.0)
    return Airframe(*(np.array([each]) for each in given), None, None)


def _radius(row: Row) -> float:
    return float(circular.radius(speed=number(row, "V"), load_factor=number(row, "n")))


def _height_lost(row: Row) -> float:
    found = circular.height_lost_at_constant_speed(
        speed=number(row, "V"),
        load_factor=number(row, "n"),
        dive_angle=math.radians(number(row, "dive angle")),
    )
    return float(found)


def _terminal(degrees: float, height: float = 0.0, **craft: float) -> Callable[[Row], float]:
    def speed(_: Row) -> float:
        angle = np.array([-math.radians(degrees)])
        return float(
            terminal_speed(_craft(**craft), path_angle=angle, height=np.array([height])).speed[0]
        )

    return speed


def _fall(_: Row) -> float:
    # Froude's scaling: through a hundredth of the height the density hardly changes
    start = {"speed": 0.0, "path_angle": -0.5 * math.pi, "height": 1.0, "drop": 1.0}
    at = {name: np.array([value]) for name, value in start.items()}
    return float(10.0 * speed_reached(_craft(mass=0.02), **at)[0])


def _at_angle(kernel: Callable[..., Any]) -> Callable[[Row], float]:
    return lambda row: float(kernel(angle=math.radians(number(row, "alpha"))))


def _broadside(row: Row) -> float:
    shape = 1.0 if row["inputs"].startswith("square") else math.inf
    return float(plate.broadside_force(aspect_ratio=shape))


def _chart(name: str) -> Callable[[Row], float]:
    return lambda row: float(read(name, *numbers(row)).value)


def _chain(slope: str, *names: str) -> Callable[[Row], float]:
    def value(row: Row) -> float:
        made: dict[str, float] = dict.fromkeys(Handbook().fields, 0.0)
        made |= {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
        made |= {"chord_ratio": 0.3, "aspect_ratio": math.inf, "lift_slope_ratio": 1.0}
        made |= {"density": 1.0, "viscosity": 1e-9}
        taken = steps(
            {
                name: np.asarray(each)
                for name, each in (made | dict(zip(names, numbers(row), strict=True))).items()
            }
        )
        return float([step for step in taken if step.slope == slope][-1].after)

    return value


def _slope(kernel: Callable[..., Any]) -> Callable[[Row], float]:
    return lambda row: float(kernel(chord_ratio=number(row, "flap_chord_ratio")))


def _four_bar(row: Row) -> tuple[float, float]:
    """Rocker angle [deg] and slope: the horn starts on the side of the branch that is asked for."""
    ground, crank, rod, rocker, at = (
        number(row, name) for name in ("ground", "crank", "coupler", "rocker", "crank angle")
    )
    sides = {40.0: (60.0, -90.0), 30.0: (90.0, -90.0), 25.0: (0.0, 120.0)}
    horn = sides[at]["crossed" in row["inputs"]]

    def polar(size: float, degrees: float) -> list[float]:
        angle = math.radians(degrees)
        return [size * math.cos(angle), size * math.sin(angle), 0.0]

    found = pushrod.solve(
        0.0,
        servo_pivot=(0.0, 0.0, 0.0),
        servo_axis=(0.0, 0.0, 1.0),
        arm=polar(crank, at),
        hinge_pivot=(ground, 0.0, 0.0),
        hinge_axis=(0.0, 0.0, 1.0),
        horn=polar(rocker, horn),
        rod_length=rod,
    )
    angle = horn + math.degrees(found.surface_angle)
    return (angle + 180.0) % 360.0 - 180.0, float(found.slope)


def _spatial(row: Row) -> float:
    triples = re.findall(r"\(([-\d.]+), ([-\d.]+), ([-\d.]+)\)", row["inputs"])
    axis, arm, hinge_axis, pivot, horn = (tuple(map(float, triple)) for triple in triples)
    found = pushrod.solve(
        math.radians(number(row, "input rotation")),
        servo_pivot=(0.0, 0.0, 0.0),
        servo_axis=axis,
        arm=arm,
        hinge_pivot=pivot,
        hinge_axis=hinge_axis,
        horn=horn,
    )
    return math.degrees(found.surface_angle)


def _play(row: Row) -> float:
    return math.degrees(number(row, "slop") / number(row, "horn arm"))


def _one_servo(**changes: Any) -> Any:
    held = {"voltage": 6.0, "stall_torque": 0.3, "no_load_speed": 60.0 * RPM}
    held |= {"stall_current": 2.0, "no_load_current": 0.2} | changes
    return servo.curves(**{name: np.atleast_2d(value) for name, value in held.items()})


def _driver() -> Any:
    """Return the motor of a textbook: 0.12 N m/A, 0.3 ohm and a drop of 2 V, from rows at 36 and 60 V."""
    volts = np.array([36.0, 60.0])
    stalled = (volts - 2.0) / 0.3
    return _one_servo(
        voltage=volts,
        stall_torque=0.12 * stalled,
        no_load_speed=volts / 0.12,
        stall_current=stalled,
        no_load_current=0.0 * volts,
    )


def _current_at_load(row: Row) -> float:
    return float(servo.current(_one_servo(), 6.0, np.array([_load(row)]))[0])


def _load(row: Row) -> float:
    # the stall torque comes first in the case, the load last
    return float(re.findall(r"torque ([\d.]+)", row["inputs"])[-1])


def _speed_at_load(row: Row) -> float:
    load = _load(row)
    return float(servo.rate(_one_servo(), 6.0, np.array([load]))[0] / RPM)


def _best_share(_: Row) -> float:
    best = minimize_scalar(
        lambda torque: -torque * servo.rate(_one_servo(), 6.0, np.array([torque]))[0],
        bounds=(0.0, 0.3),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(best.x / 0.3)


def _behind_a_lead(_: Row) -> float:
    curves = _one_servo(stall_current=6.0 / 3.0, no_load_current=0.0)
    left = brentq(
        lambda volts: volts + 0.3 * float(servo.stall_current(curves, volts)[0]) - 6.0, 0.0, 6.0
    )
    return float(servo.stall_torque(curves, left)[0])


def _solid(row: Row, length: float = 1000.0, celsius: float = 20.0) -> float:
    found = conductors.conductor_resistance(
        length=length,
        area=wire.gauge_area(number(row, "gauge")),
        temperature=celsius + 273.15,
        strand_factor=1.0,
    )
    return float(found)


def _colder(row: Row) -> float:
    at = (conductors.copper_resistivity(temperature=t + 273.15) for t in (20.0, number(row, "T")))
    cold, warm = (float(each) for each in at)
    return cold / warm


def _loop(length: float, gauge: float) -> float:
    found = conductors.loop_resistance(
        length=length,
        conductor_area=wire.gauge_area(gauge),
        copper_temperature=293.15,
        strand_factor=1.0,
        contacts=0.0,
        contact_resistance=0.0,
    )
    return float(found)


def _smallest_gauge(row: Row) -> float:
    length = number(row, "total conductor length") * FOOT / 2
    passing = (g for g in range(6, 24, 2) if number(row, "I") * _loop(length, g) <= 1.2)
    return float(max(passing))


def _gust_moment(speed: float) -> Callable[[Row], float]:
    def moment(row: Row) -> float:
        factor, chord, area, density = numbers(row)
        found = ground_gust.hinge_moment(
            factor=factor, chord=chord, area=area, speed=speed, density=density
        )
        return float(found)

    return moment


def _gust_speed(row: Row) -> float:
    loading = numbers(row)[0] * POUND_FORCE / FOOT**2
    return float(ground_gust.design_speed(wing_loading=loading) / FOOT)


def _gust_moment_in_feet(row: Row) -> float:
    _, factor, chord, area, density = numbers(row)
    speed = _gust_speed(row) * FOOT
    found = ground_gust.hinge_moment(
        factor=factor,
        chord=chord * FOOT,
        area=area * FOOT**2,
        speed=speed,
        density=density * SLUG / FOOT**3,
    )
    return float(found / (POUND_FORCE * FOOT))


def _constant(value: float) -> Callable[[Row], float]:
    return lambda _: value


def _gust_factor(row: Row) -> float:
    place = int(row["id"].rpartition("-")[2]) - 2  # the four cases follow each other
    return list(ground_gust.FACTORS.values())[place]


def _play_limit(row: Row) -> float:
    limits = [math.degrees(each) for each in FREE_PLAY_LIMITS.values()]
    return min(limits, key=lambda each: abs(each - float(row["expected"])))


def _lattice(row: Row) -> float:
    """Lay the textbook's own four panels, and ask the lattice's downwash for their circulations."""
    edges = np.linspace(0.0, 2.5, 5)
    middle = 0.5 * (edges[:-1] + edges[1:])

    def points(share: float, place: Any) -> Any:
        return np.stack([share + place, place, np.zeros(4)], axis=-1)

    wing = trapezoid(half_span=2.5, root_chord=1.0, tip_chord=1.0, chord_ratio=0.3)
    panels = panels_of(wing, Counts(1, 1, 2))._replace(
        inboard=points(0.25, edges[:-1]),
        outboard=points(0.25, edges[1:]),
        control=points(0.75, middle),
        normal=np.tile([0.0, 0.0, 1.0], (4, 1)),
        deflected=np.zeros(4),
    )
    made = circulations(panels, paired=True)["incidence"]
    if row["quantity"].startswith("C_L_alpha"):
        return float(2.0 * made.sum() / 4)
    place = int(row["inputs"].partition("panel ")[2][0]) - 1
    return float(made[place] / (4.0 * math.pi * 5.0))


_FACTORS = SafetyFactors()
MADE: dict[str, Callable[[Row], float]] = {
    "density": _altitude(air.density),
    "temperature": _altitude(air.temperature),
    "pressure": _altitude(air.pressure),
    "Euler diameter": _euler_diameter,
    "transition slenderness": _transition,
    "slenderness": _slenderness,
    "link width": _link_width,
    "length at which buckling governs": _governing_length,
    "modulus of elasticity": _modulus,
    "pull-up radius, level bottom": _radius,
    "height lost in the pull-out, constant speed and load factor": _height_lost,
    "vertical terminal speed": _terminal(90.0),
    "terminal speed in a 30 deg dive": _terminal(30.0),
    "speed after a vertical fall from rest": _fall,
    "terminal speed, skydiver": _terminal(90.0, height=127.0, mass=85.0, area=0.70, drag=1.0),
    "C_N free-streamline plate": _at_angle(plate.normal_force_coefficient),
    "centre of pressure from the leading edge, x/c": _at_angle(plate.centre_of_pressure),
    "C_D flat plate at 90 deg": _broadside,
    "c_h_alpha theory with thickness": _chart("incidence slope"),
    "c_h_delta theory with thickness": _chart("deflection slope"),
    "ratio c_h_alpha real/theory": _chart("incidence ratio"),
    "ratio c_h_delta real/theory": _chart("deflection ratio"),
    "nose-balance factor on both hinge slopes": _chart("balance"),
    "c_h_alpha by the chart chain": _chain(
        "C_h_alpha", "thickness_ratio", "chord_ratio", "lift_slope_ratio"
    ),
    "c_h_delta by the chart chain": _chain(
        "C_h_delta", "thickness_ratio", "chord_ratio", "lift_slope_ratio"
    ),
    "finite-span C_h_alpha, lifting-line form": _chain("C_h_alpha", "aspect_ratio", "chord_ratio"),
    "finite-span C_h_delta, lifting-line form": _chain("C_h_delta", "aspect_ratio", "chord_ratio"),
    "hinge moment slope with incidence, b1 = c_h_alpha": _slope(incidence_slope),
    "hinge moment slope with flap angle, b2 = c_h_delta": _slope(deflection_slope),
    "limit of b1 for flap = whole chord": _slope(incidence_slope),
    "rocker angle": lambda row: _four_bar(row)[0],
    "torque ratio rocker/crank (frictionless)": lambda row: 1.0 / _four_bar(row)[1],
    "output angle, spatial crank-rod-crank": _spatial,
    "surface free play from linkage slop": _play,
    "no-load speed": lambda _: float(servo.no_load_speed(_driver(), 48.0)[0] / RPM),
    "starting current": lambda _: float(servo.stall_current(_driver(), 48.0)[0]),
    "starting torque": lambda _: float(servo.stall_torque(_driver(), 48.0)[0]),
    "current at load": _current_at_load,
    "speed at load": _speed_at_load,
    "stall torque at new voltage": lambda _: float(servo.stall_torque(_one_servo(), 5.0)[0]),
    "no-load speed at new voltage": lambda _: float(
        servo.no_load_speed(_one_servo(), 5.0)[0] / RPM
    ),
    "peak power torque fraction": _best_share,
    "stall torque with series lead resistance": _behind_a_lead,
    "AWG diameter": lambda row: 1e3 * float(wire.gauge_diameter(number(row, "gauge"))),
    "resistance 20 C": _solid,
    "resistance 20 C, printed table": lambda row: _solid(row, length=1000 * FOOT),
    "factor reducing measured resistance to 20 C": _colder,
    "resistance hot": lambda row: _solid(row, celsius=number(row, "T")),
    "loop voltage drop": lambda row: (
        number(row, "I") * _loop(number(row, "one-way"), number(row, "gauge"))
    ),
    "smallest gauge within 10 % of 12 V": _smallest_gauge,
    "K ground gust factor": _gust_factor,
    "ground-gust speed cap": _constant(float(ground_gust.design_speed(wing_loading=1e5)) / FOOT),
    "ground-gust reference speed": _constant(3.6 * ground_gust.SAILPLANE_SPEED),
    "ground-gust wind speed": _constant(ground_gust.TRANSPORT_SPEED * 3600.0 / 1852.0),
    "factor on computed hinge moments for the control system": _constant(_FACTORS.torque),
    "factor of safety limit to ultimate": _constant(_FACTORS.buckling),
    "special factor, push-pull joints with angular motion": _constant(_FACTORS.joint),
    "special factor, joints in cable systems": _constant(_FACTORS.cable_joint),
    "freedom from flutter up to": _constant(FREEDOM_FACTOR),
    "total free play limit": _play_limit,
    "CS-22 ground-gust moment": _gust_moment(ground_gust.SAILPLANE_SPEED),
    "25.415 ground-gust moment": _gust_moment(ground_gust.TRANSPORT_SPEED),
    "23.415 design speed": _gust_speed,
    "23.415 design speed capped": _gust_speed,
    "23.415 moment": _gust_moment_in_feet,
    "C_L_alpha one chordwise row, 4 panels per semispan": _lattice,
    "panel circulation / (4 pi b U alpha)": _lattice,
}


def compared(row: Row) -> Compared:
    """Set a case of a reference beside what the code makes of it."""
    make = MADE.get(row["quantity"])
    got = make(row) if make else math.nan
    if math.isnan(got):
        why = NOT_COMPUTED.get(row["quantity"], "a material that is not offered")
        return Compared(row, math.nan, math.nan, math.nan, why)
    expected = float(row["expected"])
    kind, tolerance = row["tolerance_kind"], float(row["tolerance"])
    wider, why = WIDER.get(row["quantity"], (0.0, ""))
    allowed = {"rel": tolerance * abs(expected), "abs": tolerance, "exact": 1e-9}[kind]
    return Compared(row, expected, got, allowed + wider * abs(expected), why)


def by_source() -> dict[str, list[Compared]]:
    """Return every case, by the source that it is from."""
    found: dict[str, list[Compared]] = {}
    for name in FILES:
        before = ""
        for row in rows(name):
            before = before if row["source"] == "as above" else row["source"]
            found.setdefault(before, []).append(compared(row))
    return found
