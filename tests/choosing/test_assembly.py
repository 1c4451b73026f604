"""Sets that are put together out of what single runs change, held to aircraft described whole."""

import itertools
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc import DatasheetRow
from linkcalc.choosing.assembly import Assembly, RunOfSet
from linkcalc.errors import InputError
from linkcalc.evaluation.factors import factors
from linkcalc.results import MODES
from linkcalc.study.space import Axis
from linkcalc.study.trials import margins_that_apply
from linkcalc.study.verdict import verdict

ROOT = Path(__file__).resolve().parents[2]
RUNS = ("elevator", "rudder")


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(ROOT / "examples/sandpiper_rewired.toml")


def servo(torque, volts):
    """An invented servo with a row for each voltage."""
    rows = [
        DatasheetRow(
            voltage=f"{each} V",
            stall_torque=f"{torque * each / 6} kg·cm",
            no_load_speed=f"{0.6 / each} s/60deg",
            stall_current="1.5 A",
        )
        for each in volts
    ]
    return linkcalc.Servo(name=f"{torque} at {len(rows)}", rows=rows, minimum_voltage="3.5 V")


SERVOS = [servo(3.0, (6.0,)), servo(5.0, (4.8, 6.0, 8.4)), servo(8.0, (6.0, 7.4))]


def member(glider, name, candidates=(0, 1, 2), put_into=None):
    """A run that gets one of the servos."""
    index = [run.name for run in glider.runs].index(name)
    into = index if put_into is None else put_into

    def put(aircraft, at):
        runs = list(aircraft.runs)
        runs[into] = linkcalc.replace(runs[into], servo=SERVOS[at])
        return linkcalc.replace(aircraft, runs=runs)

    axis = Axis("servo", tuple(each.name for each in SERVOS), put)
    return RunOfSet(index, [axis], np.array([list(candidates)], dtype=np.intp))


def margins(aircraft, inputs):
    """Return every margin that counts, shape (mode, set, case, run)."""
    answer, inputs = verdict(inputs, factors(aircraft.factors))
    return margins_that_apply(answer, inputs)


def test_every_set_is_what_a_check_of_it_finds_whatever_the_length_of_its_datasheets(glider):
    assembly = Assembly(glider, [member(glider, name) for name in RUNS])
    sets = list(itertools.product(range(len(SERVOS)), repeat=2))
    found = margins(glider, assembly.inputs(sets))
    for place, chosen in enumerate(sets):
        report = linkcalc.check(assembly.described(chosen))
        for run in RUNS:
            r = [each.name for each in glider.runs].index(run)
            for c, case in enumerate(report.runs[r].cases):
                for mode in ("torque", "voltage", "speed"):
                    told = case.margin(mode).margin
                    ours = found[MODES.index(mode), place, c, r]
                    assert ours == pytest.approx(told, rel=1e-12, abs=1e-12)


def test_a_run_without_candidates_leaves_nothing_to_hold_against(glider):
    assembly = Assembly(glider, [member(glider, "elevator"), member(glider, "rudder", ())])
    assert assembly.members[1].candidates.shape == (1, 0)


def test_runs_whose_parts_are_the_same_thing_are_refused(glider):
    rudder = [run.name for run in glider.runs].index("rudder")
    both = [member(glider, "elevator", put_into=rudder), member(glider, "rudder")]
    with pytest.raises(InputError, match="act on each other"):
        Assembly(glider, both)
