"""Sideslip and rates of turn from a file to a lattice, against equations set up in another way.

The second way knows no slopes and no stations: it turns the whole surface about the centre of
gravity, takes the stream square to every panel there, and solves for both sides of a pair at once.
The aircraft are invented.
"""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.loads import BEST, air_load
from linkcalc.files import read_aircraft
from linkcalc_hinge_moment.lattice import level
from linkcalc_hinge_moment.panels import cut, trapezoid
from linkcalc_hinge_moment.plate import Plate
from linkcalc_hinge_moment.vortex_lattice import downwash
from tests.evaluation.aircraft import SINGLE

COEFFICIENTS = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
SPEED, DENSITY = 40.0, 1.25
# chord 40 mm aft of the hinge is 0.3 of the whole; the control surface has 500 mm of span
CHORD = 0.04 / 0.3
INBOARD, HALF_SPAN = 0.3, 0.8
SIZE = 0.5 * DENSITY * SPEED**2 * 0.5 * 0.04 * 0.04
ALPHA, BETA, ROLL, PITCH, YAW = 0.05, 0.08, 3.0, 1.2, 0.9
SHARE = 0.7  # of theory, on the best line


@pytest.fixture
def inputs(tmp_path):
    def of(case="", surface=""):
        words = SINGLE[0]
        planform = (
            f'solver = "lattice", chord_ratio = 0.3, planform = {{ half_span = "{HALF_SPAN} m", root_chord = '
            f'"{CHORD} m", tip_chord = "{CHORD} m", inboard_end = "{INBOARD} m" }}, {surface}'
        )
        for old, new in ((COEFFICIENTS, planform), ('incidence = "0 deg"\n', case)):
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words, encoding="utf-8")
        return gather(read_aircraft(path)).inputs

    return of


def best(inputs):
    """Coefficient of the best line at neutral."""
    return float(air_load(inputs, np.zeros((1, 1, 1))).moments[BEST].item()) / SIZE


def by_whole_surface(stream, *, paired, dihedral=0.0):
    """Coefficient at neutral, from the stream over speed at places of the whole surface, both sides.

    `stream` takes places (panel, 3), x from the root's leading edge aft, y, z, and returns vectors.
    """
    wing = trapezoid(
        half_span=HALF_SPAN, root_chord=CHORD, tip_chord=CHORD, chord_ratio=0.3, dihedral=dihedral,
        inboard=INBOARD, outboard=INBOARD + 0.5, paired=paired,
    )  # fmt: skip
    values = []
    for aft in (3, 4, 6):
        panels = cut(wing, level(wing, aft))
        own, square = downwash(panels, mirrored=False), panels.normal
        here = -(stream(panels.control) * square).sum(-1)
        if paired:
            mirror = np.array([1.0, -1.0, 1.0])
            other = downwash(panels, mirrored=True)
            there = -(stream(mirror * panels.control) * (mirror * square)).sum(-1)
            matrix = np.block([[own, other], [other, own]])
            found = np.linalg.solve(matrix, np.concatenate((here, there)))[: len(here)]
        else:
            found = np.linalg.solve(own, here)
        values.append(2 * panels.moving_span / panels.moving_area**2 * panels.moment @ found)
    return values[2] + (values[2] - values[1]) / (1.5**3 - 1)


def turning(station, roll=0.0, pitch=0.0, yaw=0.0):
    """Stream over speed of an aircraft that turns, by places from the root's leading edge.

    In axes aft, starboard, up: starboard down, nose up and nose to starboard are turns by -roll,
    pitch and -yaw. The middle of the control surface is where the station says.
    """
    middle = np.array([0.7 * CHORD + 0.02, 0.0, 0.0])
    centre = middle - np.array([station, 0.0, 0.0])
    rate = np.array([-roll, pitch, -yaw])
    return lambda place: -np.cross(rate, place - centre) / SPEED


RATES = f'incidence = "{ALPHA} rad"\nroll_rate = "{ROLL} rad/s"\npitch_rate = "{PITCH} rad/s"\n'


def test_an_aileron_that_rolls_and_pitches_is_the_whole_surface_that_does(inputs):
    turn = turning(0.1, roll=ROLL, pitch=PITCH)
    whole = by_whole_surface(lambda at: turn(at) + np.array([0.0, 0.0, ALPHA]), paired=True)
    made = inputs(RATES, 'station = ["100 mm", "550 mm", "0 mm"]')
    assert best(made) == pytest.approx(SHARE * whole, rel=1e-9)


def test_the_other_aileron_sees_the_roll_the_other_way(inputs):
    port = 'side = "port", station = ["100 mm", "-550 mm", "0 mm"]'
    starboard = 'station = ["100 mm", "550 mm", "0 mm"]'
    other_way = RATES.replace(f'"{ROLL} rad/s"', f'"{-ROLL} rad/s"')
    assert best(inputs(RATES, port)) == pytest.approx(best(inputs(other_way, starboard)), rel=1e-12)
    assert best(inputs(RATES, port)) != pytest.approx(best(inputs(RATES, starboard)), rel=0.1)


def test_an_elevator_on_the_plane_of_symmetry_sees_no_roll(inputs):
    station = 'station = ["100 mm", "0 mm", "0 mm"]'
    without = RATES.replace(f'roll_rate = "{ROLL} rad/s"\n', "")
    assert best(inputs(RATES, station)) == pytest.approx(best(inputs(without, station)), rel=1e-12)


@pytest.mark.parametrize("side", ["starboard", "port"])
def test_a_panel_of_a_vee_in_a_sideslip_has_the_opposite_beside_it(inputs, side):
    way = {"starboard": 1.0, "port": -1.0}[side]
    # wind from starboard: the stream goes to port, which is against y
    stream = np.array([0.0, -way * BETA, ALPHA])
    whole = by_whole_surface(
        lambda at: np.broadcast_to(stream, at.shape), paired=True, dihedral=math.radians(35)
    )
    surface = f'plane = "vee", dihedral = "35 deg", side = "{side}"'
    case = f'incidence = "{ALPHA} rad"\nsideslip = "{BETA} rad"\n'
    assert best(inputs(case, surface)) == pytest.approx(SHARE * whole, rel=1e-9)


def test_a_rudder_that_rolls_and_yaws_is_the_whole_fin_that_does(inputs):
    # the fin's span is up, as the lattice's y is; its root lies 50 mm over the centre of gravity
    root = 0.05
    middle = np.array([0.7 * CHORD + 0.02, 0.0, root + INBOARD + 0.25])
    centre = np.array([middle[0] - 0.1, 0.0, 0.0])
    rate = np.array([-ROLL, 0.0, -YAW])

    def stream(at):
        place = np.stack([at[:, 0], np.zeros(len(at)), root + at[:, 1]], axis=-1)
        turned = -np.cross(rate, place - centre) / SPEED + np.array([0.0, -BETA, 0.0])
        # square to a fin is to port, square to the lattice up
        return np.stack([turned[:, 0], np.zeros(len(at)), -turned[:, 1]], axis=-1)

    surface = f'plane = "fin", station = ["100 mm", "0 mm", "{1000 * middle[2]} mm"]'
    case = f'sideslip = "{BETA} rad"\nroll_rate = "{ROLL} rad/s"\nyaw_rate = "{YAW} rad/s"\n'
    whole = by_whole_surface(stream, paired=False)
    assert best(inputs(case, surface)) == pytest.approx(SHARE * whole, rel=1e-9)


def test_only_who_asks_for_motions_gets_them(inputs, monkeypatch):
    seen = {}

    class Asking(Plate):
        optional = {"roll_incidence": "rad", "incidence_per_span": "rad/m"}  # noqa: RUF012 - no matter here

        def __call__(self, fields):
            seen.update(fields)
            return super().__call__(fields)

    monkeypatch.setattr(solvers, "_loaded", {("hinge moment", "lattice"): Asking()})
    made = inputs(RATES, 'station = ["100 mm", "550 mm", "0 mm"]')
    best(made)
    # starboard goes down: the stream comes from below, p y / V at the station
    assert seen["roll_incidence"].item() == pytest.approx(ROLL * 0.55 / SPEED)
    assert seen["incidence_per_span"].item() == pytest.approx(ROLL / SPEED)
    assert set(seen) == {*Plate().fields, *Asking.optional}
    seen.clear()
    Asking.optional = {}
    best(made)
    assert set(seen) == set(Plate().fields)


def test_a_check_takes_the_motions_from_end_to_end(inputs, tmp_path):
    inputs(RATES, 'station = ["100 mm", "550 mm", "0 mm"]')
    rolled = linkcalc.check(tmp_path / "aircraft.toml").runs[0].cases[0]
    inputs(RATES, "taper = 1")
    blind = linkcalc.check(tmp_path / "aircraft.toml").runs[0].cases[0]
    assert rolled.margin("torque").plain != pytest.approx(blind.margin("torque").plain, rel=1e-3)
    assert any("not counted without a station" in note for note in blind.notes)
