"""2000 servos, 6 arm holes, 6 horn holes and 5 gauges on one lead, at 61 deflections each.

    OPENBLAS_NUM_THREADS=1 python -m pytest -s tests/benchmarks/test_combinations.py

`combinations` is set beside the loop that somebody would write by hand for this one run: servos
by gauges as rows, 64 of them at a time, the deflections as first axis, scratch arrays reused, and
the operating point at every deflection iterated six times. The tables of torque and slope by
deflection and holes are given to it for nothing, and so are servos as arrays. It has four modes, no
searches between nodes, no word for what it cannot compute. Goal: at most 0.5 times its CPU time, 32 MiB
over inputs and outputs, the same with ten times as many servos; two workers take at most 0.6 of the
time of one. Those get ten times as many servos and twice as many gauges: 360 000 combinations take a
sixth of a second, as long as it takes to start a process. What both find is compared first. Quiet
machine, one thread.
"""

import time
import tracemalloc

import numpy as np
import pytest

import linkcalc
from linkcalc.evaluation import axes
from linkcalc.evaluation.evaluate import begin, commanded, prepare
from linkcalc.evaluation.factors import factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.governing import swept, worst_move
from linkcalc.evaluation.search import CLOSE
from linkcalc.model.value_classes import replace
from linkcalc.results import MODES
from linkcalc.study.combinations import combinations
from linkcalc.study.merging import merged
from linkcalc.study.running import Workers
from linkcalc.study.space import Axis
from linkcalc.study.sweep import field_axis
from tests.benchmarks.figures import held

SERVOS, BLOCK, PASSES = 2000, 64, 6
ARMS, HORNS = (8, 10, 12, 14, 16, 18), (10, 12, 14, 16, 18, 20)  # [mm]
GAUGES = (0.08, 0.14, 0.25, 0.35, 0.5)  # [mm^2]
LENGTH = 1.5  # [m]
AT_MOST = 0.5
VOLTS, INTERNAL, RECEIVER = 6.0, 0.05, 0.1
RESISTIVITY, WARMER = 1.7241e-8, 0.00393  # annealed copper at 20 deg C


def aircraft(arm=12, horn=15, gauge=0.25, torque=0.5, speed=8.0, current=1.5):
    """Describe an invented run of a survey glider: one surface, one servo, one lead."""
    surface = linkcalc.ControlSurface(
        span="500 mm", chord="60 mm", throw="20 deg", chord_ratio=0.25
    )
    linkage = linkcalc.Linkage(
        surface=surface,
        arm=linkcalc.ServoArm(radius=f"{arm} mm"),
        horn=linkcalc.ControlHorn(radius=f"{horn} mm"),
        pushrod=linkcalc.Pushrod(length="200 mm", diameter="2 mm"),
    )
    row = linkcalc.DatasheetRow(
        voltage="6 V",
        stall_torque=f"{torque!r} N·m",
        no_load_speed=f"{speed!r} rad/s",
        stall_current=f"{current!r} A",
        no_load_current=f"{current / 10!r} A",
    )
    lead = linkcalc.Lead(
        name="lead",
        gauge=f"{gauge} mm^2",
        length=f"{LENGTH} m",
        contacts=0,
        copper_temperature="20 degC",
        strand_factor=1.0,
    )
    run = linkcalc.ControlRun(
        name="elevator",
        servo=linkcalc.Servo(name="plain", rows=[row], minimum_voltage="3 V"),
        lead=lead,
        linkages=[linkage],
        efficiency=0.9,
    )
    case = linkcalc.FlightCase(
        name="dive", kind="dive", speed="60 m/s", density="1.2 kg/m^3", fraction=1.0
    )
    return linkcalc.Aircraft(
        name="invented",
        supply=linkcalc.Supply(voltage="6 V", internal_resistance="0.05 ohm", current_limit="none"),
        receiver=linkcalc.Receiver(current="100 mA", minimum_voltage="3 V"),
        runs=[run],
        cases=[case],
    )


class Parts:
    """What is chosen from, drawn from plain laws."""

    def __init__(self, count):
        random = np.random.default_rng(0)
        self.torque = np.exp(random.uniform(np.log(0.1), np.log(2.0), count))
        self.speed = random.uniform(4.0, 12.0, count)
        self.current = self.torque * random.uniform(1.5, 4.0, count)
        rows = zip(self.torque.tolist(), self.speed.tolist(), self.current.tolist(), strict=True)
        self.servos = [aircraft(torque=t, speed=w, current=i).runs[0].servo for t, w, i in rows]

    def axes(self, gauges=GAUGES):
        """Return what is put otherwise: holes, servos, gauges."""

        def put(glider, servo):
            return replace(glider, runs=[replace(glider.runs[0], servo=servo)])

        return [
            field_axis("runs['elevator'].arm", [f"{each} mm" for each in ARMS]),
            field_axis("runs['elevator'].horn", [f"{each} mm" for each in HORNS]),
            Axis(
                "servo",
                tuple(str(place) for place in range(len(self.servos))),
                lambda glider, at: put(glider, self.servos[at]),
                lambda glider, at: put(glider, merged(self.servos, at)),
            ),
            field_axis("leads.lead.gauge", [f"{each} mm^2" for each in gauges]),
        ]


def holes():
    """Return the described holes, as the evaluation takes them."""
    return [gather(aircraft(arm, horn)).inputs for arm in ARMS for horn in HORNS]


def tables(holes):
    """Return torque to move and slope, shape (deflection, holes)."""
    base = gather(aircraft()).inputs
    inputs = axes.inserted(base, [holes])
    linkages = prepare(inputs)
    start = begin(inputs, linkages, CLOSE, (0,))
    assert not np.isnan(commanded(inputs, start.reached)[0]).any()
    bearing = swept(inputs, linkages, start.deflection, CLOSE, known=start.still).bearing
    torque = worst_move(bearing, 0)[0, :, 0, 0].T
    slope = np.broadcast_to(np.abs(bearing.place.slope[0, 0, :, 0, 0]), torque.T.shape).T
    return np.ascontiguousarray(torque), np.ascontiguousarray(slope)


def by_hand(parts, torque, slope, used, wanted):
    """Return the least margin, shape (servo, gauge, holes)."""
    gauge = np.array(GAUGES) * 1e-6
    lead = 2 * LENGTH * RESISTIVITY / gauge
    stall = np.repeat(parts.torque / used.datasheet, len(gauge))[:, None] / VOLTS  # by volt
    free = np.repeat(parts.speed, len(gauge))[:, None] / VOLTS
    amps = np.repeat(parts.current, len(gauge))[:, None]
    loop = np.tile(lead, len(parts.torque))[:, None] + INTERNAL
    bus = VOLTS - INTERNAL * RECEIVER
    count, holes = len(stall), torque.shape[1]
    made = np.empty((count, holes))
    shape = (len(torque), BLOCK, holes)
    volts, draw, share = (np.empty(shape) for _ in range(3))
    most, load, turn = torque.max(0), torque[:, None], slope[:, None]
    for first in range(0, count, BLOCK):
        part = slice(first, min(first + BLOCK, count))
        if part.stop - first < BLOCK:
            volts, draw, share = (each[:, : part.stop - first] for each in (volts, draw, share))
        idle, more = 0.1 * amps[part] / VOLTS, 0.9 * amps[part] / VOLTS
        np.multiply(load, 0.9 * amps[part] / (stall[part] * VOLTS), out=share)
        volts[...] = bus
        for _ in range(PASSES):
            np.multiply(volts, more, out=draw)
            np.minimum(draw, share, out=draw)
            volts *= idle
            volts += draw
            volts *= -loop[part]
            volts += bus
        work = volts.min(0)
        limit = bus / (1 + loop[part] * amps[part] / VOLTS)
        margin = stall[part] * limit / (most * used.torque) - 1
        np.multiply(load, 1 / (stall[part] * work), out=draw)
        np.subtract(1.0, draw, out=draw)
        draw *= turn
        rate = np.maximum(draw.min(0) * free[part] * work, 0.0)
        np.minimum(margin, rate / (wanted * used.speed) - 1, out=margin)
        least = np.minimum(work, limit)
        np.minimum(margin, least / (3.0 * used.voltage) - 1, out=margin)
        made[part] = margin
    return made.reshape(len(parts.torque), len(gauge), holes)


@pytest.fixture(scope="module")
def problem():
    return Parts(SERVOS), *tables(holes())


def _in_turns(*functions, rounds=9):
    """Return answers, and the least CPU time of each; in turns, so that all meet the same neighbours."""
    took, answers = [[] for _ in functions], [None for _ in functions]
    for _ in range(rounds):
        for place, function in enumerate(functions):
            start = time.process_time()
            answers[place] = function()
            took[place].append(time.process_time() - start)
    return *answers, *(min(each) for each in took)


def test_takes_at_most_half_of_the_time_of_a_loop_by_hand(problem):
    parts, torque, slope = problem
    used, base = factors(aircraft().factors), gather(aircraft()).inputs
    wanted = float(base.cases.wanted_rate[0, 0])
    found, expected, ours, theirs = _in_turns(
        lambda: combinations(aircraft(), parts.axes()),
        lambda: by_hand(parts, torque, slope, used, wanted),
    )
    expected = expected.reshape(SERVOS, len(GAUGES), len(ARMS), len(HORNS)).transpose(2, 3, 0, 1)
    own = np.isin(found.found.place, [MODES.index(mode) for mode in ("torque", "speed", "voltage")])
    assert own.mean() > 0.5
    assert np.abs(found.margin - expected)[own].max() < 2e-4  # six passes come no closer
    assert (found.margin <= expected + 2e-4).all()
    count = found.margin.size
    print(
        f"\nours {ours:.3f} s, {ours / count * 1e6:.2f} us each; by hand {theirs:.3f} s, "
        f"{theirs / count * 1e6:.2f} us each; ratio {ours / theirs:.2f}"
    )
    assert held("360 000 combinations chosen from, times a loop by hand", ours / theirs, AT_MOST)


def test_memory_stays_flat(problem):
    peaks = []
    for servos in (SERVOS, 10 * SERVOS):
        parts = problem[0] if servos == SERVOS else Parts(servos)
        tried = parts.axes()
        tracemalloc.start()
        found = combinations(aircraft(), tried)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        peaks.append((peak - found.margin.nbytes - found.found.place.nbytes) / 2**20)
    print(f"\nover outputs: {peaks[0]:.1f} MiB, {peaks[1]:.1f} MiB with ten times as many")
    assert held("the same and ten times as many, memory over results", max(peaks), 32, "MiB")


def test_two_workers_take_at_most_0_6_of_the_time_of_one():
    took = []
    parts, gauges = Parts(10 * SERVOS), np.linspace(0.08, 0.5, 2 * len(GAUGES)).round(3).tolist()
    for jobs in (1, 2):
        start = time.perf_counter()
        found = combinations(aircraft(), parts.axes(gauges), workers=Workers(jobs))
        took.append((time.perf_counter() - start, found))
    print(f"\none {took[0][0]:.2f} s, two {took[1][0]:.2f} s: {took[1][0] / took[0][0]:.2f}")
    assert np.array_equal(took[0][1].margin, took[1][1].margin)
    assert held("two workers, times one, wall time", took[1][0] / took[0][0], 0.6)
