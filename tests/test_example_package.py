"""The example of a solver's package installs, is found by its name, and is what the page shows."""

import math
import re
import tomllib
from pathlib import Path

import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.cli import main

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "examples/balsa_rig"
PAGE = (ROOT / "docs/solvers.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((PACKAGE / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture
def installed(tmp_path, monkeypatch):
    """What an installer leaves behind: the module, its metadata, and its entry points."""
    info = tmp_path / "balsa_rig-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {PROJECT['name']}\nVersion: {PROJECT['version']}\n"
    )
    lines = []
    for group, entries in PROJECT["entry-points"].items():
        lines += [f"[{group}]", *(f"{name} = {target}" for name, target in entries.items())]
    (info / "entry_points.txt").write_text("\n".join(lines) + "\n")
    (tmp_path / "balsa_rig.py").write_bytes((PACKAGE / "balsa_rig.py").read_bytes())
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(solvers, "_loaded", {})


@pytest.mark.usefixtures("installed")
def test_its_solver_is_found_by_name_with_the_distribution_that_brings_it():
    found = {each.name: each.distribution for each in solvers.available("hinge moment")}
    assert found["rig"] == "balsa-rig 1.0"
    assert solvers.load("hinge moment", "rig").fields["chord_ratio"] == "1"


@pytest.mark.usefixtures("installed")
def test_its_aircraft_is_checked_with_what_the_rig_has_measured():
    # 80 km/h in 1.225 kg/m^3; 380 mm x 45 mm with a chord of 45 mm; the slopes of the rig at a chord
    # ratio of 0.4, 10 degrees of incidence and 15 of deflection; a tenth more on the high line
    pressure = 0.5 * 1.225 * (80 / 3.6) ** 2
    by_hand = (
        1.1 * pressure * 0.380 * 0.045**2 * (0.41 * math.radians(10) + 0.74 * math.radians(15))
    )
    report = linkcalc.check(PACKAGE / "tern_tail.toml")
    assert report.verdict == "pass"
    found = report.runs[0].cases[0].values["hinge moment"]
    assert abs(found.value) == pytest.approx(by_hand, rel=1e-6)  # 1.225 is rounded


def test_without_it_the_file_is_refused_and_says_what_there_is(capsys):
    assert main(["check", str(PACKAGE / "tern_tail.toml")]) == 2
    told = capsys.readouterr().err
    assert "runs['elevator'].surface.solver" in told
    assert "install the package that brings it" in told


@pytest.mark.parametrize("name", ["pyproject.toml", "balsa_rig.py", "test_balsa_rig.py"])
def test_the_page_shows_every_file_of_it_as_it_stands(name):
    shown = re.findall(r"^```(?:text|python)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    assert (PACKAGE / name).read_text(encoding="utf-8") in shown


def test_it_is_a_few_dozen_lines():
    assert len((PACKAGE / "balsa_rig.py").read_text(encoding="utf-8").splitlines()) < 60
