"""A warm check of six runs beside a batch that is written by hand for the one aircraft.

    python -m pytest tests/benchmarks

Run it on a quiet machine. Quantities in and report out may take at most five times as long as
`same_steps.py`, which takes the steps of a check; docs/performance.md explains it. That both
find the same comes first. CPU time, the least of many calls, interleaved so that a slow minute
falls on both.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from linkcalc.checking import check
from linkcalc.evaluation.factors import factors
from linkcalc.evaluation.gather import gather
from linkcalc.files import read_aircraft
from linkcalc.model.materials import MATERIALS
from linkcalc.results import MODES
from tests.benchmarks.figures import held

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"
MEASURED = "sandpiper.toml"
AT_MOST = 5.0  # times the same steps by hand
ROUNDS, CALLS = 40, 5  # checks, and calls of each batch beside every one
_COLUMNS = ("stall_torque", "no_load_speed", "stall_current", "no_load_current")
CLOSE = 1e-6  # of the value: what a check promises


def _loaded(name):
    """Return a program that lies beside this one; the second imports the first by its name."""
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    module = sys.modules[name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


hand_written, same_steps = (_loaded(name) for name in ("hand_written", "same_steps"))


def _si(items, name, default=None):
    found = [getattr(item, name) for item in items]
    return np.array([default if item is None else item.m_as("m") for item in found])


def _rows(curves):
    """Return the datasheet's columns from the ramps that they were made into, (2, run) each."""
    rise = {name: getattr(curves, f"{name}_slope") * curves.ramp_width for name in _COLUMNS}
    columns = {name: column.cumsum(-1).T for name, column in rise.items()}
    return {"row_voltage": curves.ramp_width.cumsum(-1).T, **columns}


def _runs(aircraft, inputs):
    """Return what the runs are made of."""
    surfaces, geometry = inputs.surfaces, inputs.geometry
    rods = [run.linkages[0].pushrod for run in aircraft.runs]
    materials = [MATERIALS[rod.material or "steel wire"] for rod in rods]
    free = _si(rods, "free_length", np.nan)
    return {
        "arm": np.linalg.norm(geometry.arm, axis=-1),
        "horn": np.linalg.norm(geometry.horn, axis=-1),
        "rod": geometry.rod_length,
        **{name: surfaces.fields[name] for name in ("area", "chord", "taper", "chord_ratio")},
        "slab": surfaces.fields["square_edged_slab"],
        "mass_moment": -surfaces.mass * surfaces.swing[0][:, 2],
        "fin": np.abs(surfaces.normal[:, 1]),
        "throw_up": -inputs.cases.throw_low,
        "throw_down": inputs.cases.throw_high,
        "diameter": _si(rods, "diameter", 2e-3),
        "free_length": np.where(np.isnan(free), geometry.rod_length, free),
        "modulus": np.array([material.modulus for material in materials]),
        "strength": np.array([material.yield_strength for material in materials]),
        **_rows(inputs.servos.curves),
        "least_voltage": inputs.servos.minimum,
        "rated_voltage": inputs.servos.maximum,
        "servo_travel": inputs.runs.travel[:, None],
        "efficiency": float(inputs.runs.efficiency[0]),
    }


def _supply(inputs):
    """Return leads and source; `feeds` tells which leads the current of each run passes."""
    tree, source = inputs.supply.fields, inputs.supply
    feeds = np.zeros((len(tree["servo_node"]), len(tree["parent"])))
    for row, servo in zip(feeds, tree["servo_node"], strict=True):
        node = servo
        while node >= 0:
            row[node] = 1.0
            node = tree["parent"][node]
    return {
        "feeds": feeds,
        "lead_length": tree["length"],
        "lead_area": tree["conductor_area"],
        "lead_contacts": tree["contacts"],
        "contact_resistance": tree["contact_resistance"],
        "copper_temperature": float(tree["copper_temperature"][-1]),
        "strand_factor": float(tree["strand_factor"][-1]),
        "voltage": float(source.voltage[0]),
        "internal_resistance": float(tree["internal_resistance"]),
        "current_limit": source.limit,
        "other_current": float(tree["load"].sum()),
        "receiver_least": source.receiver_minimum,
    }


def _given(aircraft):
    """Return what the batch takes: the numbers of the file in SI, with the defaults."""
    inputs, used = gather(aircraft).inputs, factors(aircraft.factors)
    cases = inputs.cases
    return SimpleNamespace(
        **_runs(aircraft, inputs),
        **_supply(inputs),
        altitude=_si(aircraft.cases, "altitude", 0.0),
        speed=cases.flight_speed,
        load_factor=-cases.load_factor[:, 2],
        alpha=cases.incidence,
        beta=cases.sideslip,
        fraction=np.array([1.0, 1 / 3, 1 / 5]),  # manoeuvre, dive, sustained
        sustained=cases.sustained,
        hold_fraction=used.hold_fraction,
        torque_factor=used.torque,
        datasheet_factor=used.datasheet,
        current_factor=used.current,
        buckling_factor=used.buckling,
    )


@pytest.fixture(scope="module", params=[MEASURED, "sandpiper_rewired.toml"])
def aircraft(request):
    return read_aircraft(EXAMPLES / request.param)


@pytest.fixture(scope="module")
def report(aircraft):
    return check(aircraft)


@pytest.fixture(scope="module")
def batch(aircraft):
    return same_steps.evaluate(_given(aircraft))


def _told(report, pick):
    """Return something of every case of the report, shape (run, case); nan for none."""
    found = [[pick(case) for case in run.cases] for run in report.runs]
    return np.array(found, dtype=np.float64)


def _value(report, name, part="value"):
    return _told(report, lambda case: getattr(case.values[name], part))


@pytest.mark.parametrize("mode", hand_written.MODES)
def test_batch_finds_the_margins_of_the_report(mode, batch, report):
    found = batch.margins[hand_written.MODES.index(mode)]
    margin, plain = (
        _told(report, lambda case, part=part: getattr(case.margin(mode), part))
        for part in ("margin", "plain")
    )
    np.testing.assert_allclose(found[0] + 1, margin + 1, rtol=CLOSE, atol=1e-12)
    np.testing.assert_allclose(found[1] + 1, plain + 1, rtol=CLOSE)


def test_batch_knows_all_modes_that_apply(report):
    applying = {
        margin.mode
        for run in report.runs
        for case in run.cases
        for margin in case.margins
        if margin.applies
    }
    assert applying == set(hand_written.MODES)


@pytest.mark.parametrize(
    ("name", "find"),
    [
        ("dynamic pressure", lambda b: np.broadcast_to(b.pressure, b.deflection.shape)),
        ("governing deflection", lambda b: np.degrees(b.deflection)),
        ("hinge moment", lambda b: _on_line(b.moments, b.line)),
        ("hold torque", lambda b: _on_line(b.holds, b.line)),
        ("moving torque", lambda b: _on_line(b.moves, b.line)),
        ("voltage at work", lambda b: b.at_work[0]),
        ("voltage at limit", lambda b: b.at_limit[0]),
        ("torque available", lambda b: b.available[0]),
        ("current at work", lambda b: b.current_at_work[0]),
        ("rod force", lambda b: b.rod_force),
        ("jam force", lambda b: np.repeat(b.jam_force[:, None], 3, axis=1)),
        ("held deflection up", lambda b: np.degrees(b.held[0, 0])),
        ("held deflection down", lambda b: np.degrees(b.held[1, 0])),
        ("blow-back deflection up", lambda b: np.degrees(b.held[0, 1])),
        ("blow-back deflection down", lambda b: np.degrees(b.held[1, 1])),
        ("torque limit speed", lambda b: b.torque_limit),
        ("freeze speed", lambda b: b.freeze),
        ("placard speed", lambda b: b.placard),
        ("surface rate under load", lambda b: np.degrees(np.maximum(b.rate[0], 0.0))),
    ],
)
def test_batch_finds_the_values_of_the_report(name, find, batch, report):
    np.testing.assert_allclose(find(batch), _value(report, name), rtol=CLOSE, atol=1e-12)


def _on_line(lines, line):
    return np.take_along_axis(lines, line[:, None], 1)[:, 0]


@pytest.mark.parametrize(("name", "lines"), [("hinge moment", "moments"), ("hold torque", "holds")])
def test_batch_finds_the_band_of_the_report(name, lines, batch, report):
    found = getattr(batch, lines)
    np.testing.assert_allclose(found.min(1), _value(report, name, "low"), rtol=CLOSE)
    np.testing.assert_allclose(found.max(1), _value(report, name, "high"), rtol=CLOSE)


def test_batch_tells_what_the_report_tells_in_words(batch, report):
    modes = hand_written.MODES
    for r, run in enumerate(report.runs):
        for c, case in enumerate(run.cases):
            assert case.governing == modes[batch.governing[r, c]]
            assert case.values["placard speed"].at == f"ended by {modes[batch.placard_mode[r, c]]}"
            notes = " ".join(case.notes)
            assert batch.stalled[r, c] == ("stalled at the working point" in notes)
            assert batch.scaled[r, c] == ("below the first datasheet row" in notes)
            assert batch.out_of_range[r, c] == ("outside the range" in notes)
            assert batch.latch_up == ("latch-up" in notes)
    assert (report.verdict == "pass") == batch.passes
    assert list(modes) == [mode for mode in MODES if mode in modes]


def test_batch_finds_what_belongs_to_the_aircraft(batch, report):
    for c, case in enumerate(report.aircraft_cases):
        values = case.values
        assert values["source current at work"].value == pytest.approx(batch.source_current[0, c])
        stalled = values["source current, all stalled"].value
        assert stalled == pytest.approx(batch.all_stalled_current)
        least = values["least servo voltage, all stalled"].value
        assert least == pytest.approx(batch.all_stalled.min())
    for name, case in (("placard speed", 1), ("manoeuvre placard speed", 0)):
        assert report.whole[name].value == pytest.approx(batch.placard[:, case].min(), rel=CLOSE)


def _falling(given, current):
    """Return servos that draw most at the lower row of their datasheet."""
    columns = {
        "row_voltage": np.tile([[4.8], [6.0]], 6),
        "stall_current": np.tile([[current], [1.4]], 6),
    }
    return SimpleNamespace(**{**vars(given), **columns, "current_limit": 100.0})


def test_same_steps_prove_nothing_where_a_current_falls_steeply():
    given = _given(read_aircraft(EXAMPLES / MEASURED))
    same_steps.evaluate(_falling(given, 2.0))
    with pytest.raises(ValueError, match="falls too steeply"):
        same_steps.evaluate(_falling(given, 2.6))


def test_same_steps_refuse_a_maximum_between_the_ends():
    node = np.linspace(-0.3, 0.5, same_steps.NODES)[None, :, None]
    neutral = np.array([22])
    assert same_steps.greatest(np.cos(2.5 * (node - 0.6)), neutral)[0] == pytest.approx(
        np.cos(0.25)
    )
    with pytest.raises(ValueError, match="between the ends"):
        same_steps.greatest(np.cos(2.5 * (node - 0.4)), neutral)


def _keep_memory():
    """Let freed memory stay with the process: fresh pages would be charged to whoever asks first.

    Without it the batch takes a sixth longer in most processes, and not in some.
    """
    with contextlib.suppress(OSError, AttributeError):  # another C library has its own ways
        library = ctypes.CDLL("libc.so.6")
        for option in (-3, -1):  # M_MMAP_THRESHOLD, M_TRIM_THRESHOLD
            library.mallopt(option, 2**28)


@pytest.mark.benchmark(timer=time.process_time)
def test_warm_check_takes_at_most_five_times_the_same_steps(benchmark, capsys):
    _keep_memory()
    aircraft = read_aircraft(EXAMPLES / MEASURED)
    given, took = _given(aircraft), []

    def beside():
        for _ in range(CALLS):
            start = time.process_time()
            same_steps.evaluate(given)
            took.append(time.process_time() - start)

    benchmark.pedantic(check, args=(aircraft,), setup=beside, rounds=ROUNDS, warmup_rounds=2)
    ours, same = benchmark.stats.stats.min, min(took)
    benchmark.extra_info |= {"same steps [s]": same, "ratio to the same steps": ours / same}
    with capsys.disabled():
        print(
            f"\na warm check {ours * 1e3:.2f} ms"
            f"\nthe same steps by hand {same * 1e3:.2f} ms, ratio {ours / same:.1f}"
        )
    assert held("a warm check of six runs, times the same steps by hand", ours / same, AT_MOST)
