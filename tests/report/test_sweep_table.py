"""A sweep as text, files and pictures, and its command."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.cli import main
from linkcalc.errors import InputError
from linkcalc.report.sweep_table import draw_swept, swept_text
from linkcalc.study.sweep import over_of

EXAMPLES = Path(__file__).parents[2] / "examples"
GLIDER = str(EXAMPLES / "sandpiper.toml")
ARM = "runs['outboard aileron, starboard'].arm"
VOLTS = "supply.voltage"


@pytest.fixture(scope="module")
def swept():
    return linkcalc.sweep(GLIDER, {ARM: ["8 mm", "12 mm"], VOLTS: ["5 V", "5.5 V", "6 V"]})


def test_every_combination_has_a_row_with_what_is_least(swept):
    lines = swept_text(swept).splitlines()
    rows = [line.split() for line in lines if line.lstrip().startswith(("8 ", "12 "))]
    assert len(rows) == 6
    for arm, volts, margin, *words in rows:
        part = swept.sel({ARM: float(arm), VOLTS: float(volts)})
        least = float(part["least margin"].min())
        assert float(margin) == pytest.approx(least, abs=0.006)
        assert words[0].rstrip(",") in {"torque", "speed", "voltage", "travel"}
    assert all(len(line) <= 80 for line in lines)
    assert "bench" in lines[-1] or "proof" in " ".join(lines[-4:])


def test_the_heading_leaves_a_name_its_letters():
    # In capitals a "2.6 m" would be 2.6 of nothing that there is.
    glider = linkcalc.replace(linkcalc.read_aircraft(GLIDER), name="Skua, 2.6 m")
    words = swept_text(linkcalc.sweep(glider, {VOLTS: ["6 V", "6.5 V"]}))
    assert words.startswith("SWEEP: Skua, 2.6 m\n")


def test_a_file_of_another_kind_is_refused_as_it_was_named(tmp_path, capsys):
    out = tmp_path / "swept.xls"
    assert main(["sweep", GLIDER, "--over", f"{VOLTS}=5 V; 6 V", "--out", str(out)]) == 2
    told = capsys.readouterr()
    assert "found     '.xls'\n" in told.out + told.err
    assert not out.exists()


def test_of_many_the_worst_and_the_best_are_told():
    many = linkcalc.sweep(GLIDER, {VOLTS: [f"{5 + k / 100:.2f} V" for k in range(70)]})
    words = swept_text(many)
    assert "70 combinations: the 30 worst and the 30 best" in words


def test_the_command_tells_writes_and_ends_as_a_check_does(tmp_path, capsys):
    out, picture = tmp_path / "swept.csv", tmp_path / "swept.svg"
    words = [f"{VOLTS}=5 V; 6 V", f"{ARM}=8 mm;12 mm"]
    asked = ["sweep", GLIDER, "--over", words[0], "--over", words[1]]
    code = main([*asked, "--out", str(out), "--picture", str(picture)])
    assert code == 1  # this glider falls short with either
    told = capsys.readouterr().out
    assert "supply.voltage [V]" in told
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 2 * 2 * 3 * 6
    found = linkcalc.sweep(GLIDER, over_of(words))
    first = found.isel({VOLTS: 0, ARM: 0, "case": 0, "run": 0})
    row = next(
        row
        for row in rows
        if float(row[f"{VOLTS} [V]"]) == 5
        and float(row[f"{ARM} [mm]"]) == 8
        and row["case"] == str(first["case"].values)
        and row["run"] == str(first["run"].values)
    )
    assert float(row["least margin"]) == pytest.approx(float(first["least margin"]))
    assert float(row["moving torque [N*m]"]) == pytest.approx(float(first["moving torque"]))
    assert "<svg" in picture.read_text(encoding="utf-8")
    # A second time the names are taken, and nothing is lost.
    before = out.read_bytes()
    assert main([*asked, "--out", str(out)]) == 2
    assert "swept.csv" in capsys.readouterr().err
    assert out.read_bytes() == before
    assert main([*asked, "--out", str(out), "--force"]) == 1


def test_netcdf_holds_all_margins(tmp_path):
    import xarray  # noqa: PLC0415 - slow to import

    out = tmp_path / "swept.nc"
    assert main(["sweep", GLIDER, "--over", f"{VOLTS}=5 V; 6 V", "--out", str(out)]) == 1
    again = xarray.load_dataset(out)
    np.testing.assert_array_equal(
        again["margin"], linkcalc.sweep(GLIDER, {VOLTS: ["5 V", "6 V"]})["margin"]
    )


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--over", "supply.voltage"], "equals sign"),
        (["--over", "supply.voltage="], "equals sign"),
        (["--over", "supply.voltage=5 V", "--over", "supply.voltage=6 V"], "twice"),
        (["--over", "supply.colour=red"], "colour"),
        (["--over", "supply.voltage=5 V", "--out", "OUT.txt"], ".nc or .csv"),
        (["--over", "supply.voltage=5 V", "--picture", "OUT.doc"], ".svg"),
        (["--over", "supply.voltage=5 V", "--jobs", "0"], "one or more"),
    ],
)
def test_what_the_command_cannot_do_is_told(options, words, tmp_path, capsys):
    named = [str(tmp_path / word) if word.startswith("OUT") else word for word in options]
    assert main(["sweep", GLIDER, *named]) == 2
    assert words in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_one_field_is_a_line_two_are_contours_and_more_are_refused(swept):
    axes = draw_swept(swept)
    assert axes.get_xlabel() == f"{ARM} [mm]"
    assert axes.get_ylabel() == f"{VOLTS} [V]"
    one = linkcalc.sweep(GLIDER, {VOLTS: ["5 V", "6 V"]})
    line = draw_swept(one).get_lines()[0]
    np.testing.assert_allclose(line.get_ydata(), one["least margin"].min(("case", "run")))
    three = linkcalc.sweep(GLIDER, {VOLTS: ["6 V"], ARM: ["8 mm"], "receiver.current": ["90 mA"]})
    with pytest.raises(InputError, match="one field or two"):
        draw_swept(three)
    words = linkcalc.sweep(GLIDER, {"leads.tail.gauge": ["26 AWG", "0.5 mm^2"]})
    with pytest.raises(InputError, match="words"):
        draw_swept(words)


@pytest.mark.parametrize("missing", ["xarray", "distributed"])
def test_a_package_that_is_not_there_is_told_with_what_to_install(missing, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, missing, None)
    options = ["--cluster", "tcp://127.0.0.1:1"] if missing == "distributed" else []
    assert main(["sweep", GLIDER, "--over", f"{VOLTS}=5 V; 6 V", *options]) == 2
    told = capsys.readouterr().err
    assert missing in told
    assert "linkcalc[study]" in told
