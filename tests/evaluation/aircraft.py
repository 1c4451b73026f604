"""Invented aircraft, each twice: as a file, in a flyer's units, and as plain SI numbers.

The scenario of all: survey gliders of a coastal mapping crew. No product has these figures.
"""

from __future__ import annotations

import math

from tests.evaluation.independent import (
    Aircraft,
    Case,
    Factors,
    Lead,
    Linkage,
    Run,
    Servo,
    Surface,
    gauge_section,
    lead_resistance,
    planar,
    standard_air,
    true_speed,
)

DEG = math.pi / 180
KG_CM = 9.80665 * 0.01  # standard gravity, as datasheets mean it
OZ_IN = 0.45359237 / 16 * 9.80665 * 0.0254
INCH = 0.0254


def rate(seconds_for_60_degrees):
    return 60 * DEG / seconds_for_60_degrees


# A single run, round numbers: the test of it goes through by hand as well.
SINGLE = (
    """
format = "linkcalc.aircraft/1"
name = "Ringed plover, one elevator"
factors = { torque = 1.25, datasheet = 1.2 }
[supply]
voltage = "6 V"
internal_resistance = "100 mohm"
current_limit = "none"
[receiver]
current = "200 mA"
minimum_voltage = "4 V"
[servos.s]
rows = [{ voltage = "6 V", stall_torque = "300 mNm", no_load_speed = "0.1 s/60deg", stall_current = "2 A", no_load_current = "0.2 A" }]
[leads.tail]
loop_resistance = "300 mohm"
[[cases]]
name = "dive"
speed = "40 m/s"
density = "1.25 kg/m^3"
incidence = "0 deg"
deflection = ["-10 deg", "20 deg"]
[[runs]]
name = "elevator"
servo = "s"
lead = "tail"
arm = "10 mm"
horn = "20 mm"
pushrod = "200 mm"
efficiency = 0.8
surface = { span = "500 mm", chord = "40 mm", throw = "20 deg", coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" } }
""",
    Aircraft(
        [
            Run(
                Servo([(6.0, 0.3, rate(0.1), 2.0, 0.2)]),
                [
                    planar(
                        Surface(0.5, 0.04, 20 * DEG, 20 * DEG, "coefficients", C_h_alpha=-0.1, C_h_delta=-0.5),
                        0.010, 0.020, 0.2,
                    )
                ],
                Lead(0.3),
                0.8,
            )
        ],
        [Case(40.0, 1.25, 0.0, 0.0, [(-10 * DEG, 20 * DEG)])],
        6.0, 0.1, receiver=0.2, receiver_least=4.0,
    ),
)  # fmt: skip


# Two runs that share a trunk, drawn in space, with camber, weight and a receiver out on the trunk.
_TRUNK = Lead(lead_resistance(0.9, gauge_section(24), contacts=2, contact_resistance=0.008))
_OUTER = Lead(lead_resistance(1.1, gauge_section(28), celsius=60.0, strand=1.15), _TRUNK)
_WING_SERVO = Servo(
    [
        (4.8, 2.6 * KG_CM, rate(0.15), 1.1, 0.11),
        (6.0, 3.2 * KG_CM, rate(0.12), 1.4, 0.14),
    ],
    50 * DEG,
)
SHARED_TRUNK = (
    """
format = "linkcalc.aircraft/1"
name = "Oystercatcher, wing"
loads = [{ name = "camera", current = "300 mA", lead = "trunk" }]
[supply]
voltage = "6.0 V"
internal_resistance = "40 mohm"
current_limit = "8 A"
[receiver]
current = "90 mA"
[servos.wing]
travel = "50 deg"
rows = [
    { voltage = "4.8 V", stall_torque = "2.6 kg·cm", no_load_speed = "0.15 s/60deg", stall_current = "1.1 A" },
    { voltage = "6.0 V", stall_torque = "3.2 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "1.4 A" },
]
[leads.trunk]
gauge = "24 AWG"
length = "0.9 m"
contacts = 2
contact_resistance = "8 mohm"
[leads.outer]
feed = "trunk"
gauge = "28 AWG"
length = "1.1 m"
copper_temperature = "60 degC"
strand_factor = 1.15
[[cases]]
name = "gusts"
speed = "25 m/s"
density = "1.2 kg/m^3"
incidence = "8 deg"
sideslip = "-5 deg"
load_factor = 3.5
fraction = 1
[[cases]]
name = "dive"
speed = "40 m/s"
density = "1.1 kg/m^3"
incidence = "-3 deg"
sideslip = "4 deg"
load_factor = [0.4, -0.2, 1.5]
fraction = 0.5
[[cases.runs]]
run = "flap"
deflection = ["2 deg", "9 deg"]
wash_speed = "6 m/s"
[[runs]]
name = "aileron"
servo = "wing"
lead = "outer"
arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0.2, 1, 0.1], vector = ["1 mm", "2 mm", "12 mm"] }
horn = { pivot = ["90 mm", "25 mm", "4 mm"], axis = [0.1, 1, 0.05], vector = ["-2 mm", "1 mm", "14 mm"] }
surface = { span = "620 mm", chord = "52 mm", chord_ratio = 0.24, throw_up = "22 deg", throw_down = "14 deg", C_h0 = -0.02, mass = "41 g", mass_centre = "19 mm" }
[[runs]]
name = "flap"
servo = "wing"
lead = "trunk"
arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0, -1, 0.2], vector = ["0 mm", "0 mm", "-10 mm"] }
horn = { pivot = ["100 mm", "-12 mm", "2 mm"], axis = [-0.15, 1, -0.08], vector = ["1 mm", "0 mm", "-13 mm"] }
surface = { span = "480 mm", chord = "58 mm", chord_ratio = 0.25, throw_up = "6 deg", throw_down = "24 deg", C_h0 = 0.03, mass = "30 g", mass_centre = "-4 mm" }
""",
    Aircraft(
        [
            Run(
                _WING_SERVO,
                [
                    Linkage(
                        Surface(
                            0.62, 0.052, 22 * DEG, 14 * DEG, chord_ratio=0.24, C_h0=-0.02,
                            axis=(0.1, 1.0, 0.05), mass=0.041, mass_centre=0.019,
                        ),
                        (0.0, 0.0, 0.0), (0.2, 1.0, 0.1), (0.001, 0.002, 0.012),
                        (0.09, 0.025, 0.004), (0.1, 1.0, 0.05), (-0.002, 0.001, 0.014),
                    )
                ],
                _OUTER,
            ),
            Run(
                _WING_SERVO,
                [
                    Linkage(
                        Surface(
                            0.48, 0.058, 6 * DEG, 24 * DEG, chord_ratio=0.25, C_h0=0.03,
                            axis=(-0.15, 1.0, -0.08), mass=0.030, mass_centre=-0.004,
                        ),
                        (0.0, 0.0, 0.0), (0.0, -1.0, 0.2), (0.0, 0.0, -0.010),
                        (0.1, -0.012, 0.002), (-0.15, 1.0, -0.08), (0.001, 0.0, -0.013),
                    )
                ],
                _TRUNK,
            ),
        ],
        [
            Case(25.0, 1.2, 8 * DEG, -5 * DEG, [(-22 * DEG, 14 * DEG), (-6 * DEG, 24 * DEG)], (0.0, 0.0, -3.5)),
            Case(
                40.0, 1.1, -3 * DEG, 4 * DEG, [(-11 * DEG, 7 * DEG), (2 * DEG, 9 * DEG)],
                (0.4, -0.2, 1.5), {1: 6.0},
            ),
        ],
        6.0, 0.04, 8.0, 0.09, loads=[(0.3, _TRUNK)],
    ),
)  # fmt: skip


# One servo that moves two ailerons opposite ways, with differential, camber and weight.
_AILERON = Surface(
    0.55, 0.05, 15 * DEG, 15 * DEG, chord_ratio=0.22, C_h0=-0.015, mass=0.025, mass_centre=0.018
)
OPPOSITE = (
    """
format = "linkcalc.aircraft/1"
name = "Dunlin, one aileron servo"
[supply]
voltage = "5 V"
internal_resistance = "80 mohm"
current_limit = "3 A"
[servos.centre]
minimum_voltage = "4.5 V"
maximum_voltage = "7.4 V"
rows = [{ voltage = "6 V", stall_torque = "90 oz·in", no_load_speed = "0.11 s/60deg", stall_current = "1.6 A", no_load_current = "0 A" }]
[leads.short]
gauge = "0.22 mm^2"
length = "10 in"
[[cases]]
name = "roll"
speed = "60 km/h"
density = "1.225 kg/m^3"
incidence = "6 deg"
deflection = ["-15 deg", "12 deg"]
load_factor = 2
[[cases]]
name = "hands off"
speed = "1 m/s"
density = "1.225 kg/m^3"
incidence = "0 deg"
deflection = ["-15 deg", "12 deg"]
load_factor = -1
[[runs]]
name = "ailerons"
servo = "centre"
lead = "short"
efficiency = 0.85
[[runs.linkages]]
arm = { radius = "12 mm", lean = "20 deg" }
horn = { radius = "15 mm", lean = "-10 deg" }
pushrod = "300 mm"
surface = { span = "550 mm", chord = "50 mm", chord_ratio = 0.22, throw = "15 deg", C_h0 = -0.015, mass = "25 g", mass_centre = "18 mm" }
[[runs.linkages]]
arm = { radius = "12 mm", lean = "160 deg" }
horn = { radius = "15 mm", lean = "-10 deg" }
pushrod = "300 mm"
surface = { span = "550 mm", chord = "50 mm", chord_ratio = 0.22, throw = "15 deg", C_h0 = -0.015, mass = "25 g", mass_centre = "18 mm" }
""",
    Aircraft(
        [
            Run(
                Servo([(6.0, 90 * OZ_IN, rate(0.11), 1.6, 0.0)], least=4.5, most=7.4),
                [
                    planar(_AILERON, 0.012, 0.015, 0.3, arm_lean=20 * DEG, horn_lean=-10 * DEG),
                    planar(_AILERON, 0.012, 0.015, 0.3, arm_lean=160 * DEG, horn_lean=-10 * DEG),
                ],
                Lead(lead_resistance(10 * INCH, 0.22e-6)),
                0.85,
            )
        ],
        [
            Case(60 / 3.6, 1.225, 6 * DEG, 6 * DEG, [(-15 * DEG, 12 * DEG)], (0.0, 0.0, -2.0)),
            Case(1.0, 1.225, 0.0, 0.0, [(-15 * DEG, 12 * DEG)], (0.0, 0.0, 1.0)),
        ],
        5.0, 0.08, 3.0,
    ),
)  # fmt: skip


# A source whose current limit binds, four rows of datasheet, three servos, own leads of one name.
_LIMITED_SERVO = Servo(
    [
        (4.0, 0.10, 5.0, 1.0, 0.15),
        (5.0, 0.19, 6.0, 1.5, 0.16),
        (6.0, 0.22, 8.0, 1.6, 0.20),
        (7.4, 0.31, 9.0, 2.4, 0.22),
    ],
    50 * DEG,
    3.0,
    8.4,
)
_REED = Surface(0.4, 0.06, 25 * DEG, 25 * DEG, chord_ratio=0.3, taper=0.5, slab=True)
_EXTENSION = Lead(0.12)  # of the receiver and of a servo
CURRENT_LIMIT = (
    """
format = "linkcalc.aircraft/1"
name = "Knot, on a small regulator"
factors = { torque = 1.5, datasheet = 1.1, current = 1.3, voltage = 1.05, over_voltage = 1.02, travel = 1.1 }
[supply]
voltage = "7.0 V"
internal_resistance = "50 mohm"
current_limit = "3.2 A"
[receiver]
current = "0.15 A"
minimum_voltage = "3.3 V"
lead = "extension"
[servos.big]
travel = "50 deg"
minimum_voltage = "3.0 V"
maximum_voltage = "8.4 V"
rows = [
    { voltage = "4.0 V", stall_torque = "0.10 Nm", no_load_speed = "5 rad/s", stall_current = "1.0 A", no_load_current = "150 mA" },
    { voltage = "5.0 V", stall_torque = "0.19 Nm", no_load_speed = "6 rad/s", stall_current = "1.5 A", no_load_current = "160 mA" },
    { voltage = "6.0 V", stall_torque = "0.22 Nm", no_load_speed = "8 rad/s", stall_current = "1.6 A", no_load_current = "200 mA" },
    { voltage = "7.4 V", stall_torque = "0.31 Nm", no_load_speed = "9 rad/s", stall_current = "2.4 A", no_load_current = "220 mA" },
]
[leads.extension]
loop_resistance = "120 mohm"
[leads.own]
gauge = "AWG 26"
length = "700 mm"
contacts = 3
contact_resistance = "5 mohm"
[[cases]]
name = "pull-up"
speed = "22 m/s"
density = "1.225 kg/m^3"
incidence = "7 deg"
sideslip = "0 deg"
fraction = 0.8
[[runs]]
name = "left"
servo = "big"
lead = "own"
arm = "14 mm"
horn = "12 mm"
pushrod = "150 mm"
surface = { span = "400 mm", chord = "60 mm", chord_ratio = 0.3, taper = 0.5, section = "slab", throw = "25 deg" }
[[runs]]
name = "right"
servo = "big"
lead = "own"
arm = "14 mm"
horn = "12 mm"
pushrod = "150 mm"
surface = { span = "400 mm", chord = "60 mm", chord_ratio = 0.3, taper = 0.5, section = "slab", throw = "25 deg" }
[[runs]]
name = "tow release"
servo = "big"
lead = "extension"
arm = "6 mm"
horn = "18 mm"
pushrod = "80 mm"
surface = { span = "400 mm", chord = "60 mm", chord_ratio = 0.3, taper = 0.5, section = "slab", throw = "25 deg" }
""",
    Aircraft(
        [
            Run(_LIMITED_SERVO, [planar(_REED, 0.014, 0.012, 0.15)], Lead(lead_resistance(0.7, gauge_section(26), contacts=3, contact_resistance=0.005))),
            Run(_LIMITED_SERVO, [planar(_REED, 0.014, 0.012, 0.15)], Lead(lead_resistance(0.7, gauge_section(26), contacts=3, contact_resistance=0.005))),
            Run(_LIMITED_SERVO, [planar(_REED, 0.006, 0.018, 0.08)], _EXTENSION),
        ],
        [Case(22.0, 1.225, 7 * DEG, 0.0, [(-20 * DEG, 20 * DEG)] * 3)],
        7.0, 0.05, 3.2, 0.15, 3.3, _EXTENSION,
        factors=Factors(1.5, 1.1, 1.3, 1.05, 1.02, 1.1),
    ),
)  # fmt: skip


# A fin and two panels of a vee, calibrated airspeed up high on a warm day, wash, plate and band.
_PRESSURE, _DENSITY = standard_air(1500.0, 25.0 + 273.15)
_TRUE = true_speed(75 / 3.6, _PRESSURE, _DENSITY)
_G = 35 * DEG
_TAIL_SERVO = Servo([(5.0, 50 * OZ_IN, rate(0.13), 1.3, 0.13)])
_VEE = {"mass": 0.012, "mass_centre": 0.014}
TAILS = (
    """
format = "linkcalc.aircraft/1"
name = "Turnstone, tails"
[supply]
voltage = "5.0 V"
current_limit = "none"
[receiver]
current = "0 A"
[servos.tail]
rows = [{ voltage = "5.0 V", stall_torque = "50 oz·in", no_load_speed = "0.13 s/60deg", stall_current = "1.3 A" }]
[[cases]]
name = "high and warm"
speed = "75 km/h"
airspeed = "calibrated"
altitude = "1500 m"
temperature = "25 degC"
incidence = "4 deg"
sideslip = "-7 deg"
load_factor = [0.1, 0.6, -2]
fraction = 1
[[cases.runs]]
run = "rudder"
wash_speed = "5 kt"
[[runs]]
name = "rudder"
servo = "tail"
arm = "10 mm"
horn = "16 mm"
pushrod = "700 mm"
surface = { plane = "fin", span = "260 mm", chord = "75 mm", taper = 0.7, solver = "plate", throw = "25 deg", mass = "11 g", mass_centre = "20 mm" }
[[runs]]
name = "starboard panel"
servo = "tail"
arm = "10 mm"
horn = "14 mm"
pushrod = "500 mm"
surface = { plane = "vee", side = "starboard", dihedral = "35 deg", span = "300 mm", chord = "45 mm", throw = "15 deg", C_h0 = 0.01, mass = "12 g", mass_centre = "14 mm" }
[[runs]]
name = "port panel"
servo = "tail"
arm = "10 mm"
horn = "14 mm"
pushrod = "500 mm"
surface = { plane = "vee", side = "port", dihedral = "35 deg", span = "300 mm", chord = "45 mm", throw = "15 deg", mass = "12 g", mass_centre = "14 mm", coefficients = { C_h0 = 0.005, C_h_alpha = "-0.006 1/deg", C_h_delta = "-0.012 1/deg", band_low = 0.6, band_high = 1.3 } }
""",
    Aircraft(
        [
            Run(
                _TAIL_SERVO,
                [planar(Surface(0.26, 0.075, 25 * DEG, 25 * DEG, "plate", taper=0.7, axis=(0.0, 0.0, 1.0), mass=0.011, mass_centre=0.020), 0.010, 0.016, 0.7)],
            ),
            Run(
                _TAIL_SERVO,
                [planar(Surface(0.3, 0.045, 15 * DEG, 15 * DEG, C_h0=0.01, axis=(0.0, math.cos(_G), math.sin(_G)), **_VEE), 0.010, 0.014, 0.5)],
            ),
            Run(
                _TAIL_SERVO,
                [
                    planar(
                        Surface(
                            0.3, 0.045, 15 * DEG, 15 * DEG, "coefficients", C_h0=0.005,
                            C_h_alpha=-0.006 / DEG, C_h_delta=-0.012 / DEG, band=(0.6, 1.3),
                            axis=(0.0, math.cos(_G), -math.sin(_G)), **_VEE,
                        ),
                        0.010, 0.014, 0.5,
                    )
                ],
            ),
        ],
        [
            Case(
                _TRUE, _DENSITY, 4 * DEG, -7 * DEG,
                [(-25 * DEG, 25 * DEG), (-15 * DEG, 15 * DEG), (-15 * DEG, 15 * DEG)],
                (0.1, 0.6, -2.0), {0: 5 * 1852 / 3600}, 25.0 + 273.15,
            )
        ],
        5.0, receiver=0.0,
    ),
)  # fmt: skip


# Travel that ends early: by the servo, at the arm's dead centre, and a rod that shifts neutral;
# last a servo that the horn stops soon on one side, while the arm goes over on the other.
_WIDE = Servo([(6.0, 0.5, 6.0, 2.0, 0.2)], 100 * DEG)
_NARROW = Servo([(6.0, 0.5, 6.0, 2.0, 0.2)], 20 * DEG)
SHORT_TRAVEL = (
    """
format = "linkcalc.aircraft/1"
name = "Curlew, short of travel"
[supply]
voltage = "6 V"
current_limit = "10 A"
[servos.wide]
travel = "100 deg"
rows = [{ voltage = "6 V", stall_torque = "0.5 Nm", no_load_speed = "6 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }]
[servos.narrow]
travel = "20 deg"
rows = [{ voltage = "6 V", stall_torque = "0.5 Nm", no_load_speed = "6 rad/s", stall_current = "2 A", no_load_current = "0.2 A" }]
[[cases]]
name = "all of it"
speed = "20 m/s"
density = "1.2 kg/m^3"
incidence = "5 deg"
fraction = 1
[[runs]]
name = "arm over the top"
servo = "wide"
arm = { radius = "8 mm", lean = "10 deg" }
horn = "18 mm"
pushrod = "60 mm"
surface = { span = "400 mm", chord = "50 mm", throw = "30 deg" }
[[runs]]
name = "little travel"
servo = "narrow"
arm = "8 mm"
horn = "16 mm"
pushrod = "60 mm"
surface = { span = "400 mm", chord = "50 mm", throw = "25 deg" }
[[runs]]
name = "long rod"
servo = "wide"
arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0, 1, 0], vector = ["0 mm", "0 mm", "10 mm"] }
horn = { pivot = ["80 mm", "10 mm", "-5 mm"], axis = [0.05, 1, 0], vector = ["0 mm", "0 mm", "15 mm"] }
pushrod = "82 mm"
surface = { span = "400 mm", chord = "50 mm", throw = "25 deg" }
[[runs]]
name = "horn over one way, arm the other"
servo = "wide"
arm = { radius = "10 mm", lean = "20 deg" }
horn = { radius = "12 mm", lean = "-20 deg" }
pushrod = "100 mm"
surface = { span = "400 mm", chord = "50 mm", throw_up = "20 deg", throw_down = "28 deg" }
""",
    Aircraft(
        [
            Run(_WIDE, [planar(Surface(0.4, 0.05, 30 * DEG, 30 * DEG), 0.008, 0.018, 0.06, arm_lean=10 * DEG)]),
            Run(_NARROW, [planar(Surface(0.4, 0.05, 25 * DEG, 25 * DEG), 0.008, 0.016, 0.06)]),
            Run(
                _WIDE,
                [
                    Linkage(
                        Surface(0.4, 0.05, 25 * DEG, 25 * DEG, axis=(0.05, 1.0, 0.0)),
                        (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 0.010),
                        (0.08, 0.01, -0.005), (0.05, 1.0, 0.0), (0.0, 0.0, 0.015), 0.082,
                    )
                ],
            ),
            Run(
                _WIDE,
                [planar(Surface(0.4, 0.05, 20 * DEG, 28 * DEG), 0.010, 0.012, 0.1, arm_lean=20 * DEG, horn_lean=-20 * DEG)],
            ),
        ],
        [Case(20.0, 1.2, 5 * DEG, 5 * DEG, [(-30 * DEG, 30 * DEG), (-25 * DEG, 25 * DEG), (-25 * DEG, 25 * DEG), (-20 * DEG, 28 * DEG)])],
        6.0, limit=10.0,
    ),
)  # fmt: skip

PAIRS = {
    "a single run": SINGLE,
    "two runs on a trunk, in space": SHARED_TRUNK,
    "opposite ailerons on one servo": OPPOSITE,
    "a current limit that binds": CURRENT_LIMIT,
    "fin and vee panels": TAILS,
    "travel that ends early": SHORT_TRAVEL,
}
