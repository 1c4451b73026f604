"""Dives of an invented survey glider, and a second way to follow one."""

import math

import numpy as np
from scipy.integrate import solve_ivp

from linkcalc.solvers import DIVE_FIELDS, DIVE_TABLES
from linkcalc_dive.point_mass import PointMass

# Invented: a survey glider of some coastal mapping crew.
GLIDER = {
    "mass": 2.0,
    "wing_area": 0.35,
    "zero_lift_drag": 0.02,
    "induced_factor": 0.04,
    "maximum_lift": 1.1,
    "limit_load_factor": 6.0,
    "field_altitude": 0.0,
    "trim_dynamic_pressure": 80.0,
    "trim_deflection": -0.02,
    "static_margin": 0.1,
    "tail_volume": 0.5,
    "tail_lift_slope": 4.0,
    "tail_arm": 0.7,
    "elevator_effectiveness": 0.5,
    "start_height": 150.0,
    "start_speed": 20.0,
    "dive_angle": 1.0,
    "drop": 0.0,
    "delay": 0.0,
}
THROW = 0.35


def fields(**changes):
    made = dict.fromkeys(DIVE_FIELDS, np.asarray(math.nan)) | {
        name: np.zeros(0) for name in DIVE_TABLES
    }
    given = GLIDER | changes
    return made | {name: np.asarray(value, dtype=np.float64) for name, value in given.items()}


def solve(reach=None, **changes):
    return PointMass()(fields(**changes), reach)


def servo(strength):
    """A servo whose surface blows back: full throw up to a dynamic pressure, then its inverse."""

    def reach(pressure):
        up = -THROW * np.minimum(1.0, strength / np.maximum(pressure, 1e-9))
        return up, np.full(pressure.shape, THROW)

    return reach


def standard_density(altitude):
    """1976 standard atmosphere below 11 km, from its defining equations."""
    geopotential = 6_356_766.0 * altitude / (6_356_766.0 + altitude)
    temperature = 288.15 - 0.0065 * geopotential
    exponent = 9.80665 * 28.9644 / (8314.32 * 0.0065)
    pressure = 101_325.0 * (temperature / 288.15) ** exponent
    return pressure * 28.9644 / (8314.32 * temperature)


def second_way(strength=None, polar=None, **changes):
    """Follow one dive with scipy alone; return height lost, greatest q and n, and whether it recovers."""
    g, f = 9.80665, GLIDER | changes
    mass, area = f["mass"], f["wing_area"]

    def state_of(y):
        rho = standard_density(f["field_altitude"] + y[2])
        return rho, 0.5 * rho * y[0] ** 2

    def load_factor(y):
        _, q = state_of(y)
        found = [f["limit_load_factor"], f["maximum_lift"] * q * area / (mass * g)]
        if strength is not None:
            up = -THROW * min(1.0, strength / q)
            trim_lift = mass * g / (area * f["trim_dynamic_pressure"])
            tail = f["tail_volume"] * f["tail_lift_slope"]
            power = tail * f["elevator_effectiveness"]
            # h (C_L - C_Lt) + tail l g (n - cos) / V^2 = power (trim - up), linear in n
            per_n = (
                f["static_margin"] * mass * g / (q * area) + tail * f["tail_arm"] * g / y[0] ** 2
            )
            rest = (
                power * (f["trim_deflection"] - up)
                + f["static_margin"] * trim_lift
                + tail * f["tail_arm"] * g * math.cos(y[1]) / y[0] ** 2
            )
            found.append(rest / per_n)
        return min(found)

    def rates(pulls):
        def rate(_, y):
            _, q = state_of(y)
            n = load_factor(y) if pulls else math.cos(y[1])
            lift = n * mass * g / (q * area)
            if polar is None:
                drag = f["zero_lift_drag"] + f["induced_factor"] * lift**2
            else:
                drag = np.interp(lift, *polar)
            return [
                -q * area * drag / mass - g * math.sin(y[1]),
                g / y[0] * (n - math.cos(y[1])),
                y[0] * math.sin(y[1]),
            ]

        return rate

    def level(_, y):
        return y[1]

    def ground(_, y):
        return y[2]

    level.terminal = ground.terminal = True
    y = [f["start_speed"], -f["dive_angle"], f["start_height"]]
    tight = {"method": "DOP853", "rtol": 1e-11, "atol": 1e-11, "max_step": 0.02}
    if f["delay"]:
        y = solve_ivp(rates(pulls=False), (0, f["delay"]), y, **tight).y[:, -1]
    found = solve_ivp(
        rates(pulls=True), (0, 400), y, events=[level, ground], dense_output=True, **tight
    )
    lost = f["start_height"] - found.y[2, -1]
    recovers = len(found.t_events[0]) > 0 and found.y[2, -1] > 0
    way = found.sol(np.linspace(0, found.t[-1], 4001)).T
    return lost, max(state_of(y)[1] for y in way), max(load_factor(y) for y in way), recovers
