"""Proof loads against statics by hand: vectors and weights here, nothing of the module itself."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

import linkcalc
from linkcalc.study.proof import load_on, proof

G = 9.80665  # m/s^2, standard gravity (3rd CGPM, 1901)

# Invented: one elevator of a survey glider with given coefficients, so that all is told by hand.
FILE = """
format = "linkcalc.aircraft/1"
name = "proof rig"
supply = {{ voltage = "6 V", internal_resistance = "200 mohm", current_limit = "none" }}
receiver = {{ current = "100 mA" }}
[servos.s]
rows = [
    {{ voltage = "4.8 V", stall_torque = "200 mNm", no_load_speed = "0.2 s/60deg", stall_current = "1.5 A", no_load_current = "0.1 A" }},
    {{ voltage = "6 V", stall_torque = "260 mNm", no_load_speed = "0.16 s/60deg", stall_current = "1.9 A", no_load_current = "0.2 A" }},
]
{servo}
[proof]
{proof}
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "25 m/s"
density = "1.2 kg/m^3"
load_factor = {load_factor}
incidence = "0 deg"
[[runs]]
name = "elevator"
servo = "s"
arm = "10 mm"
horn = "20 mm"
pushrod = "200 mm"
{run}
[runs.surface]
span = "500 mm"
chord = "50 mm"
throw_up = "20 deg"
throw_down = "1 deg"
mass = "40 g"
mass_centre = "15 mm"
coefficients = {{ C_h_alpha = "0 1/rad", C_h_delta = "-0.4 1/rad" }}
"""
EXAMPLES = ["sandpiper_rewired", "tern_flying_wing", "avocet_vee_tail"]


@pytest.fixture
def rig(tmp_path):
    def made(*, asked="", run="", servo="", load_factor=1):
        path = tmp_path / "rig.toml"
        words = FILE.format(proof=asked, run=run, servo=servo, load_factor=load_factor)
        path.write_text(words)
        return proof(path)

    return made


def moment_of_forces(deflection, *forces):
    """Moment about a hinge line along y, trailing edge down positive, by r x F in x aft, z up.

    Each force: how far aft on the chord line it acts, and the force itself. Right-handed
    about +y (starboard) is x towards -z: trailing edge down.
    """
    axis = np.array([0.0, 1.0, 0.0])
    along = np.array([math.cos(deflection), 0.0, -math.sin(deflection)])
    return sum(float(axis @ np.cross(aft * along, force)) for aft, force in forces)


def by_hand(load, mass, centre):
    """Moments that level with a mass, level with a scale and vertical with a scale really make."""
    down = np.array([math.cos(load.deflection), 0.0, -math.sin(load.deflection)])
    normal = np.cross(np.array([0.0, 1.0, 0.0]), down)  # the way the trailing edge goes
    sense = math.copysign(1.0, load.moment)
    # upright, gravity is along -z and turns the trailing edge down; upside down along +z
    felt = np.array([0.0, 0.0, -sense if load.pulled_down else sense]) * G
    own = (centre, mass * felt)
    level = moment_of_forces(load.deflection, own, (load.lever, sense * load.pull_level * normal))
    aft = np.array([1.0, 0.0, 0.0]) * G  # nose up: gravity along the tail
    plumb = np.zeros(3) if load.upright else mass * aft
    vertical = moment_of_forces(
        load.deflection, (centre, plumb), (load.lever, sense * load.pull_vertical * normal)
    )
    hung = None
    if load.mass is not None:
        hung = moment_of_forces(load.deflection, own, (load.lever, load.mass * felt))
    return hung, level, vertical


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_load_makes_the_governing_hinge_moment_times_the_factor(name):
    described = linkcalc.read_aircraft(f"examples/{name}.toml")
    found = proof(described)
    report = linkcalc.check(described)
    looked_at = 0
    for run, told, answer in zip(described.runs, report.runs, found.runs, strict=True):
        largest = max(abs(case.values["hold torque"].value) for case in told.cases)
        case = next(case for case in told.cases if case.name == answer.case)
        assert abs(case.values["hold torque"].value) == largest
        first = answer.surfaces[0]
        assert first.moment == pytest.approx(1.25 * case.values["hinge moment"].value, rel=1e-9)
        at = math.radians(case.values["governing deflection"].value)
        assert first.deflection == pytest.approx(at, abs=1e-9)
        for linkage, load in zip(run.linkages, answer.surfaces, strict=True):
            surface = linkage.surface
            mass = 0.0 if surface.mass is None else surface.mass.to("kg").m
            centre = 0.0 if surface.mass is None else surface.mass_centre.to("m").m
            assert load.lever == pytest.approx(surface.chord.to("m").m / 2)
            hung, level, vertical = by_hand(load, mass, centre)
            assert level == pytest.approx(load.moment, rel=1e-9)
            assert vertical == pytest.approx(load.moment, rel=1e-9)
            if hung is not None:
                assert hung == pytest.approx(load.moment, rel=1e-9)
                looked_at += 1
    assert looked_at >= 2


def test_a_rig_by_hand(rig):
    # q = 1.2 / 2 x 25^2 = 375 Pa; S c = 0.5 x 0.05 x 0.05 = 1.25e-3 m^3. At -20 deg:
    # M_h = 375 x 1.25e-3 x 0.4 x 0.349066 = 0.0654499 N m down; weight 0.040 x 9.80665 x 0.015
    # x cos 20 = 0.0055294 N m down. Sum 0.0709793, x 1.25 = 0.0887241 N m.
    found = rig().runs[0]
    load = found.surfaces[0]
    assert load.moment == pytest.approx(0.0887241, rel=1e-5)
    assert math.degrees(load.deflection) == pytest.approx(-20, abs=1e-6)
    # upright, own weight 0.0055294 helps: (0.0887241 - 0.0055294) / (9.80665 x 0.025 x cos 20)
    assert load.mass == pytest.approx(0.361117, rel=1e-4)
    assert load.pull_level == pytest.approx((0.0887241 - 0.0055294) / 0.025, rel=1e-5)
    # nose up the raised elevator's weight falls towards the tail line: 0.0058840 x sin 20 helps
    assert load.pull_vertical == pytest.approx((0.0887241 - 0.0020125) / 0.025, rel=1e-4)
    assert load.edge_travel == pytest.approx(2 * 0.05 * math.sin(math.radians(10)))


def test_a_load_factor_is_in_the_load_but_not_in_the_weight_on_the_bench(rig):
    load = rig(load_factor=4).runs[0].surfaces[0]
    assert load.moment == pytest.approx(1.25 * (0.0654499 + 4 * 0.0055294), rel=1e-4)
    assert load.own_level == pytest.approx(0.0055294, rel=1e-4)


def test_the_factor_is_a_field_of_the_file(rig):
    assert rig(asked="factor = 1.5").runs[0].surfaces[0].moment == pytest.approx(
        1.5 * 0.0709793, rel=1e-5
    )


def test_where_it_goes_and_how_long_it_is_held_are_fields_too(rig):
    half, edge = rig().runs[0], rig(asked='lever = 1\ntime = "3 s"').runs[0]
    assert edge.surfaces[0].mass == pytest.approx(half.surfaces[0].mass / 2, rel=1e-12)
    assert edge.surfaces[0].lever == pytest.approx(0.05)
    assert (half.time, edge.time) == (10.0, 3.0)


def linkage_angle(deflection, arm=0.010, horn=0.020, rod=0.200):
    """Servo angle by the distance of the holes, both arms up at neutral, servo ahead."""

    def miss(angle):
        start = (arm * math.sin(angle), arm * math.cos(angle))
        end = (rod + horn * math.sin(deflection), (arm - horn) + horn * math.cos(deflection))
        return math.hypot(end[0] - start[0], end[1] - start[1]) - rod

    return brentq(miss, -1.2, 1.2, xtol=1e-14)


def interpolated(volts, low, high):
    return low + (high - low) * (volts - 4.8) / 1.2


def test_torque_voltage_current_and_rate_by_hand(rig):
    found = rig().runs[0]
    moment, at = found.surfaces[0].moment, found.surfaces[0].deflection
    step = 1e-6
    slope = 2 * step / (linkage_angle(at + step) - linkage_angle(at - step))
    assert abs(found.hold) == pytest.approx(moment * slope, rel=1e-6)
    move = moment * slope / 0.9  # efficiency of a pushrod, 0.9 by default
    assert found.move == pytest.approx(move, rel=1e-6)
    for datasheet, told in ((1.0, found.likely), (1.2, found.cautious)):

        def current(volts, datasheet=datasheet):
            stall = interpolated(volts, 0.200, 0.260) / datasheet
            idle, most = interpolated(volts, 0.1, 0.2), interpolated(volts, 1.5, 1.9)
            return idle + (most - idle) * move / stall

        volts = brentq(lambda v: 6 - 0.2 * (current(v) + 0.1) - v, 4.8, 6, xtol=1e-13)
        assert told.voltage == pytest.approx(volts, rel=1e-7)
        assert told.current == pytest.approx(current(volts), rel=1e-7)
        stall = interpolated(volts, 0.200, 0.260) / datasheet
        speed = interpolated(volts, math.radians(60) / 0.2, math.radians(60) / 0.16)
        assert told.rate == pytest.approx(slope * speed * (1 - move / stall), rel=1e-5)


def test_an_elastic_linkage_gives_way_by_compliance_times_what_is_added(rig):
    stiff, soft = rig().runs[0], rig(run='compliance = "10 deg/Nm"').runs[0]
    assert not stiff.surfaces[0].stiffness_known
    load = soft.surfaces[0]
    added = load.moment - 0.040 * G * 0.015 * math.cos(load.deflection)
    assert math.degrees(load.give) == pytest.approx(10 * added, rel=1e-9)
    # the servo has to go further, by the whole load's give
    turned = load.deflection - math.radians(10) * load.moment
    step = 1e-6
    slope = 2 * step / (linkage_angle(turned + step) - linkage_angle(turned - step))
    assert abs(soft.hold) == pytest.approx(load.moment * slope, rel=1e-6)


def test_two_servos_share_the_load_with_their_mismatch(rig):
    one, two = rig().runs[0], rig(run="servo_count = 2").runs[0]
    assert two.hold == pytest.approx(one.hold * 1.2 / 2, rel=1e-9)


def test_a_warm_servo_is_held_for_less(rig):
    # tau = 20 s, load over a third of the stall torque by r: t = tau ln(r^2 / (r^2 - 1))
    found = rig(servo='time_constant = "20 s"', asked="factor = 3").runs[0]
    ratio = abs(found.hold) / (found.cautious.stall / 3)
    assert ratio > 1
    expected = 20 * math.log(ratio**2 / (ratio**2 - 1))
    assert found.time == pytest.approx(min(10, expected), rel=1e-9)
    assert found.warm_limit == pytest.approx(expected, rel=1e-9)


def test_a_load_that_stalls_the_servo_is_not_ready(rig):
    assert rig().ready
    beyond = rig(asked="factor = 9")
    assert not beyond.ready
    assert beyond.runs[0].cautious.rate < 0


def surface(**more):
    return linkcalc.ControlSurface(span="0.5 m", chord="50 mm", throw="90 deg", **more)


def test_a_load_below_the_own_weight_needs_no_mass_but_a_pull_against_it():
    found = load_on(surface(mass="100 g", mass_centre="20 mm"), deflection=0.0, moment=0.01)
    assert found.mass is None
    assert "own weight" in found.mass_reason
    assert found.pull_level == pytest.approx((0.01 - 0.1 * G * 0.02) / 0.025)
    assert found.pull_level < 0


def test_a_steep_surface_takes_no_mass():
    found = load_on(surface(), deflection=math.radians(80), moment=-0.1)
    assert found.mass is None
    assert "luggage scale" in found.mass_reason


def test_a_fin_that_stands_upright_has_no_weight_about_its_hinge_line():
    found = load_on(
        surface(plane="fin", mass="40 g", mass_centre="15 mm"),
        deflection=0.3,
        moment=-0.1,
        upright=True,
    )
    assert found.own_vertical == 0
    assert found.pull_vertical == pytest.approx(0.1 / 0.025)


def test_a_run_that_could_not_be_computed_has_a_reason_and_no_load(tmp_path):
    path = tmp_path / "rig.toml"
    words = FILE.format(proof="", run="", servo="", load_factor=0)
    path.write_text(words.replace("-0.4 1/rad", "0 1/rad"))
    found = proof(path)
    assert not found.ready
    assert found.runs[0].reason
    assert found.runs[0].surfaces == ()


@pytest.mark.parametrize(
    "solver", ["linkcalc_hinge_moment.given:Given", "linkcalc_wiring.tree:Tree"]
)
def test_a_solver_that_fails_is_the_reason(rig, monkeypatch, solver):
    def broken(*_):
        raise ValueError("broken on purpose")

    monkeypatch.setattr(f"{solver.replace(':', '.')}.__call__", broken)
    found = rig()
    assert not found.ready
    assert "broken on purpose" in found.runs[0].reason
