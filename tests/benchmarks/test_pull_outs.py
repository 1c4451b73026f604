"""A thousand pull-outs in one call, beside the same written by hand with scipy, one by one.

The hand-written way is what somebody would write in a script: `solve_ivp` with its default
method, which is the pair of Dormand and Prince as in ours, the same tolerances, an event for level
flight and one for the ground, and scalar arithmetic in the rates, which is the quickest there.
"""

import math
import os
import time

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from linkcalc_dive.point_mass import PointMass
from linkcalc_dive.pull_out import ABSOLUTE, RELATIVE
from tests.benchmarks.figures import held
from tests.plugins.dive.described import THROW, fields, servo

COUNT = 1000
SAMPLE = 50  # followed by hand; the rest would take as long each
AT_MOST_SECONDS, AT_MOST_RATIO = 5.0, 1.2
STRENGTH = 60.0
G = 9.80665


def _starts():
    draw = np.random.default_rng(7)
    return {
        "start_height": draw.uniform(60.0, 400.0, COUNT),
        "start_speed": draw.uniform(14.0, 50.0, COUNT),
        "dive_angle": draw.uniform(0.3, 0.5 * math.pi, COUNT),
    }


def _by_hand(given, height, speed, angle):
    """Follow one pull-out; return the height lost, nan without recovery."""
    mass, area = given["mass"], given["wing_area"]
    weight, zero_lift, induced = mass * G, given["zero_lift_drag"], given["induced_factor"]
    tail = given["tail_volume"] * given["tail_lift_slope"]
    power, margin = tail * given["elevator_effectiveness"], given["static_margin"]
    trim, trim_pressure = given["trim_deflection"], given["trim_dynamic_pressure"]
    damping = area * given["tail_arm"] * tail / (2 * mass)
    structure, lift = given["limit_load_factor"], given["maximum_lift"] * area / weight

    def rates(_, y):
        v, gamma, h = y[0], y[1], y[2]
        z = 6_356_766.0 * h / (6_356_766.0 + h)
        t = 288.15 - 0.0065 * z
        rho = 101_325.0 * (t / 288.15) ** 5.255877 * 28.9644 / (8314.32 * t)
        q = 0.5 * rho * v * v
        up = -THROW * min(1.0, STRENGTH / q)
        d = damping * rho
        by_servo = (
            margin * q / trim_pressure
            + power * q * area / weight * (trim - up)
            + d * math.cos(gamma)
        ) / (margin + d)
        n = min(structure, lift * q, by_servo)
        c = n * weight / (q * area)
        drag = q * area * (zero_lift + induced * c * c) / mass
        return (
            -drag - G * math.sin(gamma),
            G / v * (n - math.cos(gamma)),
            v * math.sin(gamma),
            drag * v,
            1.0,
        )

    def level(_, y):
        return y[1]

    def ground(_, y):
        return y[2]

    level.terminal = ground.terminal = True
    found = solve_ivp(
        rates,
        (0.0, 400.0),
        (speed, -angle, height, 0.0, 0.0),
        method="RK45",
        rtol=RELATIVE,
        atol=ABSOLUTE,
        max_step=1.0,
        events=(level, ground),
    )
    return height - found.y[2, -1] if len(found.t_events[0]) else math.nan


@pytest.mark.benchmark(timer=time.process_time)
def test_a_thousand_pull_outs_take_no_longer_than_by_hand(benchmark, capsys):
    starts = _starts()
    given = fields(**starts)
    scalars = {name: float(value) for name, value in given.items() if value.size == 1}
    begun = time.process_time()
    by_hand = [
        _by_hand(scalars, *(float(starts[name][i]) for name in starts)) for i in range(SAMPLE)
    ]
    theirs = (time.process_time() - begun) * COUNT / SAMPLE
    solver, reach = PointMass(), servo(STRENGTH)
    found = benchmark.pedantic(solver, args=(given, reach), rounds=3, warmup_rounds=1)
    ours = benchmark.stats.stats.max
    ratio = ours / theirs
    benchmark.extra_info |= {"by hand, scaled to all [s]": theirs, "ratio": ratio}
    with capsys.disabled():
        print(
            f"\n{COUNT} pull-outs {ours:.3f} s, by hand {theirs:.1f} s (from {SAMPLE}), "
            f"ratio {ratio:.3f}, threads {os.environ.get('OMP_NUM_THREADS', 'as they come')}"
        )
    # the two do the same work
    np.testing.assert_allclose(found["height_lost"][:SAMPLE], by_hand, rtol=1e-4)
    assert np.isfinite(by_hand).sum() > 0.8 * SAMPLE
    quick = held("a thousand pull-outs in one call", ours, AT_MOST_SECONDS, "s")
    assert held("the same, times integrations by hand", ratio, AT_MOST_RATIO)
    assert quick
