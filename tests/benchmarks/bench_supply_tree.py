"""A supply tree of eight servos, solved for 100 000 sampled parameter sets at once.

    pytest tests/benchmarks/bench_supply_tree.py

The solver is set beside what somebody would write by hand who knows this one tree: a bus,
a trunk to each wing and to the tail, a lead to each servo, and servos of one kind with two
rows. Written by hand it is Newton's method with the derivative of this servo's lines, in
blocks that stay in the cache, on straight lines that are passed along the three levels of
the tree. It proves nothing: it has no word for a second solution, nor for values without
meaning. Promised: the solver takes at most 1.3 times its CPU time, and at most 64 MiB over
inputs and outputs. Both answer to 1e-10 of the voltage of the source.
"""

import time
import tracemalloc

import numpy as np

from linkcalc.physics import servo
from linkcalc.physics.demand import ServoDemand
from linkcalc_wiring.tree import Tree
from tests.benchmarks.figures import held

CASES = 100_000
BLOCK = 2048
# Invented: a survey glider of 4 m with flaps and a V-tail.
PARENT = np.array([-1, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3])
LENGTH = np.array([0.0, 0.4, 0.4, 1.3, 0.3, 1.1, 1.7, 0.3, 1.1, 1.7, 0.25, 0.25])
AREA = np.array([1.0, 0.52, 0.52, 0.33, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.13, 0.13]) * 1e-6
SERVO_NODE = np.arange(4, 12)
ROWS = {
    "voltage": np.array([[6.0, 7.4]]),
    "stall_torque": np.array([[0.42, 0.5]]),
    "no_load_speed": np.array([[7.0, 8.2]]),
    "stall_current": np.array([[1.7, 1.95]]),
    "no_load_current": np.array([[0.12, 0.13]]),
}
ORDINARY = {
    "return_area": np.nan,
    "return_contacts": np.nan,
    "resistivity": 1.7241e-8,
    "temperature_coefficient": 0.00393,
    "regulated_voltage": np.nan,
    "dropout": 0.0,
    "output_resistance": 0.0,
    "output_limit": np.inf,
    "efficiency": np.nan,
    "quiescent_current": 0.0,
    "seek_details": 0.0,
}
CURVES = servo.curves(**{name: np.repeat(rows, 8, axis=0) for name, rows in ROWS.items()})


def sampled(cases):
    """Fields of the tree with its wiring, source and loads sampled, and the torques."""
    random = np.random.default_rng(1)
    fields = {
        "parent": PARENT,
        "length": LENGTH,
        "conductor_area": AREA,
        "copper_temperature": random.uniform(270.0, 330.0, (cases, 1)),
        "strand_factor": np.array(1.10),
        "contacts": np.where(LENGTH > 0.0, 2.0, 0.0),
        "contact_resistance": random.uniform(0.002, 0.01, (cases, 12)),
        "loop_resistance": np.array(np.nan),
        "load": np.where(np.arange(12) == 0, random.uniform(0.1, 0.5, (cases, 1)), 0.0),
        "servo_node": SERVO_NODE,
        "open_circuit_voltage": random.uniform(6.6, 8.4, cases),
        "internal_resistance": random.uniform(0.02, 0.08, cases),
        "current_limit": np.array(np.inf),
        "seek_latch_up": np.array(1.0),
    }
    fields |= {name: np.array(value) for name, value in ORDINARY.items()}
    return fields, random.uniform(0.0, 0.6, (cases, 8))


def line(volts, torque):
    """Current of the servos and its slope, both between and outside of the two rows."""
    (first, last), (stall, most) = ROWS["voltage"][0], ROWS["stall_torque"][0]
    (stalled, highest), (idle, busy) = ROWS["stall_current"][0], ROWS["no_load_current"][0]
    gap = last - first
    low = np.minimum(volts, first)
    high = np.minimum(np.maximum(volts - first, 0.0), gap)
    below, between = volts < first, (volts >= first) & (volts < last)
    torques = stall / first * low + (most - stall) / gap * high
    span = (stalled - idle) / first * low + (highest - busy - stalled + idle) / gap * high
    free = idle / first * low + (busy - idle) / gap * high
    share = np.minimum(torque, torques) / torques
    rise = stall / first * below + (most - stall) / gap * between
    span_rise = (stalled - idle) / first * below
    span_rise += (highest - busy - stalled + idle) / gap * between
    free_rise = idle / first * below + (busy - idle) / gap * between
    slope = free_rise + share * (span_rise - (torque < torques) * span * rise / torques)
    return free + span * share, slope


def by_hand(fields, torque):
    """Voltages of nodes and servos, currents of servos and the source, nan where there is none."""
    cases = len(torque)
    nodes, volts, amperes = np.empty((cases, 12)), np.empty((cases, 8)), np.empty((cases, 8))
    total = np.empty(cases)
    for start in range(0, cases, BLOCK):
        own = slice(start, start + BLOCK)
        warmer = 1.0 + 0.00393 * (fields["copper_temperature"][own, 0] - 293.15)
        copper = (1.1 * 1.7241e-8 * LENGTH / AREA)[1:, None] * warmer
        ohms = 2.0 * (copper + 2.0 * fields["contact_resistance"][own, 1:].T)
        trunk, leads = ohms[:3], ohms[3:]
        wings, tail = leads[:6].reshape(2, 3, -1), leads[6:]
        load = fields["load"][own, 0]
        source, internal = fields["open_circuit_voltage"][own], fields["internal_resistance"][own]
        on_shaft = np.ascontiguousarray(torque[own].T)
        ends = source[None]  # the same for all, until it is known better
        inner = np.empty_like(trunk)
        fixed, steep = np.empty_like(trunk), np.empty_like(trunk)
        for _ in range(12):
            current, slope = line(ends, on_shaft)
            offset = current - slope * ends
            pivot = 1.0 / (1.0 + leads * slope)
            through, rise = offset * pivot, slope * pivot
            fixed[:2] = through[:6].reshape(2, 3, -1).sum(1)
            steep[:2] = rise[:6].reshape(2, 3, -1).sum(1)
            fixed[2], steep[2] = through[6] + through[7], rise[6] + rise[7]
            outer = 1.0 / (1.0 + trunk * steep)
            drawn, climb = (fixed * outer).sum(0) + load, (steep * outer).sum(0)
            bus = (source - internal * drawn) / (1.0 + internal * climb)
            inner[:] = (bus - trunk * fixed) * outer
            before = ends
            ends = np.empty_like(leads)
            np.subtract(
                inner[:2, None],
                wings * offset[:6].reshape(2, 3, -1),
                out=ends[:6].reshape(2, 3, -1),
            )
            np.subtract(inner[2], tail * offset[6:], out=ends[6:])
            ends *= pivot
            np.maximum(ends, 1e-6 * source, out=ends)
            if (np.abs(ends - before) < 1e-5 * source).all():  # what is left is the square of that
                break
        current, _ = line(ends, on_shaft)
        behind = np.stack((current[:3].sum(0), current[3:6].sum(0), current[6] + current[7]))
        whole = behind.sum(0) + load
        wrong = np.abs(source - internal * whole - bus)
        wrong = np.maximum(wrong, np.abs(bus - trunk * behind - inner).max(0))
        none = wrong > 1e-10 * source
        nodes[own, 0], nodes[own, 1:4], nodes[own, 4:] = bus, inner.T, ends.T
        volts[own], amperes[own], total[own] = ends.T, current.T, whole
        if none.any():
            for values in (nodes, volts, amperes, total):
                values[own][none] = np.nan
    return nodes, volts, amperes, total


def solved(fields, torque):
    """Ask the solver for the same."""
    return Tree()(fields, ServoDemand(CURVES, torque))


def test_by_hand(benchmark):
    benchmark.pedantic(by_hand, args=sampled(CASES), rounds=5, warmup_rounds=1)


def test_solver(benchmark):
    benchmark.pedantic(solved, args=sampled(CASES), rounds=5, warmup_rounds=1)


def test_both_agree():
    fields, torque = sampled(CASES)
    nodes, volts, amperes, total = by_hand(fields, torque)
    result = solved(fields, torque)
    assert (result["reason"] == 0).mean() > 0.99
    tolerance = {"rtol": 0, "atol": 1e-8}
    np.testing.assert_allclose(result["node_voltage"], nodes, **tolerance)
    np.testing.assert_allclose(result["servo_voltage"], volts, **tolerance)
    np.testing.assert_allclose(result["servo_current"], amperes, **tolerance)
    np.testing.assert_allclose(result["source_current"], total, **tolerance)


def spent(function, *arguments):
    """Return the CPU time of a call [s]."""
    start = time.process_time()
    function(*arguments)
    return time.process_time() - start


def test_the_solver_takes_at_most_1_3_times_the_time(capsys):
    given = sampled(CASES)
    pairs = [(spent(by_hand, *given), spent(solved, *given)) for _ in range(7)]
    hand, ours = (min(times) for times in zip(*pairs, strict=True))
    with capsys.disabled():
        print(f"\nby hand {hand * 1e3:.1f} ms, solver {ours * 1e3:.1f} ms: {ours / hand:.2f} x")
    assert held("a supply tree of eight servos, 100 000 times, times by hand", ours / hand, 1.3)


def test_the_solver_takes_at_most_64_mib_over_inputs_and_outputs(capsys):
    given = sampled(CASES)
    tracemalloc.start()
    try:
        result = solved(*given)
        kept, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert kept >= sum(value.nbytes for value in result.values())
    with capsys.disabled():
        print(f"\n{(peak - kept) / 2**20:.1f} MiB over inputs and outputs")
    assert held("the same, memory over inputs and outputs", (peak - kept) / 2**20, 64, "MiB")
