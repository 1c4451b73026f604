"""A warm check of the six-run example beside a hand-written batch of its core arithmetic.

    python tests/benchmarks/warm_check.py [rounds]

The batch is what somebody would write for this one aircraft who knows that every linkage
is planar, every surface level or a fin with the thin-aerofoil high line, and that one
fixed point will do for the supply: steps from dynamic pressure to torque margin on a
(case, run, deflection) array. It has no plain margins, no other modes, no search between
the nodes, no latch-up, no speeds and no report, so the ratio tells what all that costs.
Least CPU time of the rounds.
"""

import sys
import time
from pathlib import Path

import numpy as np

from linkcalc.checking import check
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.files import read_aircraft
from linkcalc.physics import wire

EXAMPLE = Path(__file__).parents[2] / "examples" / "sandpiper.toml"


def batch(low, high, lengths, pressure, size, slopes, servo, resistance, volts):
    """Torque margins of a planar aircraft, shape (case, run)."""
    share = np.linspace(0.0, 1.0, 61)
    deflection = low[..., None] + (high - low)[..., None] * share
    arm, horn, rod = (item[:, None] for item in lengths)
    # horn tip, then the arm's angle by the law of cosines
    x = rod + horn * np.sin(deflection)
    z = arm - horn + horn * np.cos(deflection)
    reach = np.hypot(x, z)
    inner = (reach**2 + arm**2 - rod**2) / (2 * reach * arm)
    angle = np.arctan2(z, x) + np.arccos(np.clip(inner, -1, 1))
    arm_x, arm_z = arm * np.cos(angle), arm * np.sin(angle)
    rod_x, rod_z = x - arm_x, z - arm_z
    arm_lever = arm_x * rod_z - arm_z * rod_x
    horn_lever = horn * (np.sin(deflection) * rod_z - np.cos(deflection) * rod_x)
    slope = np.abs(arm_lever / horn_lever)
    b1, b2, incidence = slopes
    coefficient = np.abs(b1[:, None] * incidence[..., None]) + np.abs(b2[:, None] * deflection)
    move = (pressure[..., None] * size[:, None] * coefficient * slope / 0.9).max(-1)
    stall, current, idle = servo
    own = np.broadcast_to(volts, move.shape).copy()
    for _ in range(8):  # every servo at its limit, the others at their load
        torque = stall * own / 1.2
        drawn = own * (idle + (current - idle) * np.minimum(1.0, 1.25 * move / torque))
        limit = own * current
        own = volts - resistance * limit - 0.04 * (drawn.sum(-1, keepdims=True) - drawn + limit)
    return stall * own / 1.2 / (1.25 * move) - 1


def arguments(inputs):
    """Take what the batch needs out of the inputs of the example."""
    surfaces, cases, geometry = inputs.surfaces, inputs.cases, inputs.geometry
    arm, horn = (np.linalg.norm(item, axis=-1) for item in (geometry.arm, geometry.horn))
    lengths = (arm, horn, geometry.rod_length)
    pressure = 0.5 * cases.density[:, None] * cases.speed**2
    size = surfaces.fields["area"] * surfaces.fields["chord"]
    incidence = np.broadcast_to(np.abs(cases.incidence)[:, None], pressure.shape)
    slopes = (np.full(6, -0.6), np.full(6, -0.95), incidence)
    servo = (np.full(6, 0.05), np.full(6, 0.23), np.full(6, 0.023))
    resistance = np.full(6, 2 * 1.7241e-8 / wire.gauge_area(26) * 2.0)
    return cases.low, cases.high, lengths, pressure, size, slopes, servo, resistance, 6.0


def least(function, rounds):
    """Return the least CPU time of some calls [ms]."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return min(times) * 1e3


def main(rounds):
    """Measure, and print times and ratios."""
    aircraft = read_aircraft(EXAMPLE)
    inputs, plain = gather(aircraft).inputs, factors(aircraft.factors)
    given, ready, stacked = arguments(inputs), prepare(inputs), both(plain, 3)
    named = {
        "hand-written batch": lambda: batch(*given),
        "gather": lambda: gather(aircraft),
        "evaluate, every mode": lambda: evaluate(inputs, stacked, ready),
        "limits of speed": lambda: find_speeds(inputs, plain, ready),
        "check": lambda: check(aircraft),
    }
    base = None
    for name, function in named.items():
        function()
        found = least(function, rounds)
        base = base or found
        print(f"{name:22} {found:9.3f} ms  {found / base:7.1f} x the batch")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
