"""Sweeps: labelled arrays against one check after another, on one process, several, a cluster."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import InputError, InputFaults
from linkcalc.results import MODES
from linkcalc.study.paths import placed
from linkcalc.study.running import Workers, worked
from linkcalc.study.sweep import sweep

EXAMPLES = Path(__file__).parents[2] / "examples"
GLIDER = EXAMPLES / "sandpiper.toml"
ARM = "runs['outboard aileron, starboard'].arm"
OVER = {ARM: ["8 mm", "12 mm"], "supply.voltage": ["5.5 V", "6.2 V"]}
NAMES = (
    "hinge moment",
    "governing deflection",
    "moving torque",
    "torque available",
    "voltage at work",
    "voltage at limit",
    "current at work",
    "rod force",
    "surface rate under load",
)


@pytest.fixture(scope="module")
def swept():
    return sweep(GLIDER, OVER, speeds=True)


def _combinations():
    aircraft = linkcalc.read_aircraft(GLIDER)
    for at in itertools.product(*(range(len(values)) for values in OVER.values())):
        changed = aircraft
        for (path, values), index in zip(OVER.items(), at, strict=True):
            changed = placed(changed, path, values[index])
        yield at, linkcalc.check(changed)


def test_every_combination_is_that_of_a_check(swept):
    for at, report in _combinations():
        for r, run in enumerate(report.runs):
            for c, case in enumerate(run.cases):
                there = swept.isel(dict(zip(OVER, at, strict=True)) | {"case": c, "run": r})
                for name in NAMES:
                    assert float(there[name]) == pytest.approx(
                        case.values[name].value, rel=1e-12
                    ), name
                for name in ("torque limit speed", "freeze speed", "placard speed"):
                    told = case.values[name].value
                    ours = float(there[name])
                    assert np.isnan(ours) if told is None else ours == pytest.approx(told, rel=1e-9)
                for mode, margin in zip(MODES, case.margins, strict=True):
                    part = there.sel(mode=mode)
                    assert bool(part.applies) == margin.applies, mode
                    for variable, told in (
                        ("margin", margin.margin),
                        ("plain margin", margin.plain),
                    ):
                        ours = float(part[variable])
                        if margin.applies and told is not None:
                            assert ours == pytest.approx(told, rel=1e-12, abs=1e-12)
                        else:
                            assert np.isnan(ours)


def test_least_margin_is_the_least_of_those_that_apply(swept):
    np.testing.assert_array_equal(swept["least margin"], swept.margin.min("mode"))


def test_labels_and_units(swept):
    assert swept[ARM].values.tolist() == [8.0, 12.0]
    assert swept[ARM].attrs["units"] == "mm"
    assert swept["hinge moment"].attrs["units"] == "N*m"
    assert swept.attrs["complete"] == 1
    assert list(swept.margin.dims) == ["mode", *OVER, "case", "run"]


def test_values_without_a_common_unit_are_words():
    made = sweep(GLIDER, {"leads.tail.gauge": ["26 AWG", "0.5 mm^2"]})
    assert made["leads.tail.gauge"].values.tolist() == ["26 AWG", "0.5 mm^2"]


def test_netcdf_and_csv_hold_the_same(swept, tmp_path):
    import xarray  # noqa: PLC0415 - slow to import

    swept.to_netcdf(tmp_path / "swept.nc")
    again = xarray.load_dataset(tmp_path / "swept.nc")
    np.testing.assert_array_equal(again["rod force"], swept["rod force"])
    swept["least margin"].to_dataframe().to_csv(tmp_path / "swept.csv")
    rows = (tmp_path / "swept.csv").read_text().splitlines()
    assert len(rows) == 1 + 4 * 3 * 6


@pytest.mark.parametrize("where", ["two processes", "cluster of two"])
def test_who_works_changes_no_digit(where, monkeypatch, cluster):
    monkeypatch.setattr("linkcalc.study.sweep._AT_ONCE", 61 * 18)  # one combination a block
    workers = {"two processes": Workers(jobs=2), "cluster of two": Workers(cluster=cluster)}
    assert sweep(GLIDER, OVER).identical(sweep(GLIDER, OVER, workers=workers[where]))


def test_an_interruption_keeps_what_is_done(monkeypatch):
    monkeypatch.setattr("linkcalc.study.sweep._AT_ONCE", 61 * 18)
    told = []

    def stop(done, total):
        told.append((done, total))
        if done == 2:
            raise KeyboardInterrupt

    part = sweep(GLIDER, OVER, progress=stop)
    assert told == [(2, 4)]
    assert part.attrs["complete"] == 0
    known = np.isfinite(part["moving torque"]).all(("case", "run"))
    assert int(known.sum()) == 2


def test_progress_counts_to_the_end():
    told = []
    sweep(GLIDER, OVER, progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (4, 4)


@pytest.mark.parametrize(
    ("over", "words"),
    [
        ({"supply.colour": ["red"]}, "no field"),
        ({"supply.voltage": ["six"]}, "voltage"),
        ({"supply.voltage": []}, "no value"),
        ({}, "at least one"),
        (
            {"supply.voltage": [f"{5 + k / 1000} V" for k in range(400)], ARM: ["9 mm"] * 400},
            "at most",
        ),
    ],
)
def test_what_cannot_be_swept_is_told(over, words):
    with pytest.raises((InputError, InputFaults)) as told:
        sweep(GLIDER, over)
    assert words in str(told.value)


def test_no_job_is_refused():
    with pytest.raises(InputError, match="one or more"):
        list(worked(abs, [(1,)], Workers(jobs=0)))


def test_speeds_are_sought_where_throw_and_voltage_vary_together():
    throw = "runs['rudder'].surface.throw"
    over = {throw: ["20 deg", "24 deg"], "supply.voltage": ["5.5 V", "6.2 V"]}
    found = sweep(GLIDER, over, speeds=True)["placard speed"]
    glider = linkcalc.read_aircraft(GLIDER)
    for angle, volts in itertools.product(*over.values()):
        single = linkcalc.check(placed(placed(glider, throw, angle), "supply.voltage", volts))
        case = single.runs[5].cases[1]
        ours = found.loc[
            {throw: float(angle.split()[0]), "supply.voltage": float(volts.split()[0])}
        ]
        assert float(ours[1, 5]) == pytest.approx(case.values["placard speed"].value, rel=1e-9)


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("supply.volt", "5 V", "supply.volt: found no field 'volt'; .* Did you mean 'voltage'?"),
        ("leads.tial.gauge", "22 AWG", "found no lead 'tial'; .* Did you mean 'tail'?"),
        ("runs['ruder'].arm", "9 mm", "found 'ruder'; .* Did you mean 'rudder'?"),
        ("supply.voltage", "5", "supply.voltage: found '5'; .* Add the unit"),
        ("leads.tail.length", "-1 m", "leads.tail.length: found -1 m; "),
    ],
)
def test_a_fault_names_the_whole_path_and_the_nearest_name(path, value, words):
    with pytest.raises(linkcalc.InputError, match=words):
        linkcalc.sweep(GLIDER, {path: [value]})
