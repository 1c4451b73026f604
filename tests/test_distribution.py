"""What is handed out: wheel and source hold what they must, and the wheel works by itself."""

import json
import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
HANDED_OUT = ("linkcalc", "plugins", "tests", "examples", "docs")


def built(kind, folder):
    """Build a wheel or the source as an installer does, and return the file."""
    code = f"import hatchling.build as b; print(b.build_{kind}({str(folder)!r}))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return Path(folder) / done.stdout.split()[-1]


def tracked():
    """Return the files of the checkout that belong to it."""
    done = subprocess.run(
        ["git", "ls-files", "-z"],  # noqa: S607 - wherever it is
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        pytest.skip("no checkout with its history")
    return {name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    return built("wheel", tmp_path_factory.mktemp("wheel"))


def test_the_wheel_holds_all_of_the_library_and_nothing_else(wheel):
    inside = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    expected = {
        name.removeprefix("plugins/")
        for name in tracked()
        if name.startswith(("linkcalc/", "plugins/linkcalc_"))
    }
    assert inside == expected
    assert {name for name in inside if name.endswith("py.typed")} >= {"linkcalc/py.typed"}
    told = [name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" in name]
    assert any(name.endswith("LICENSE") for name in told)


def test_the_source_holds_what_is_needed_to_build_test_and_read_it(tmp_path):
    with tarfile.open(built("sdist", tmp_path)) as archive:
        inside = {name.partition("/")[2] for name in archive.getnames()}
    expected = {name for name in tracked() if name.split("/")[0] in HANDED_OUT}
    assert expected <= inside
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"} <= inside


def test_the_wheel_installs_without_an_index_and_checks_an_aircraft_elsewhere(wheel, tmp_path):
    # What it depends on is that of this environment; linkcalc itself comes from the wheel alone.
    place = tmp_path / "environment"
    venv.create(place, with_pip=False, symlinks=True)
    scripts = place / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / "python"
    installer = ["-m", "pip", "--python", str(python), "install", "--quiet", "--no-index"]
    done = subprocess.run(
        [sys.executable, *installer, "--no-deps", str(wheel)],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    brought = Path(np.__file__).parents[1]
    (tmp_path / "glider.toml").write_bytes((ROOT / "examples" / "sandpiper.toml").read_bytes())
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(scripts / "linkcalc"), "check", "glider.toml", "--json"],
        capture_output=True, text=True, check=False, cwd=tmp_path,
        env=kept | {"PYTHONPATH": str(brought)},
    )  # fmt: skip
    assert done.returncode == 1, done.stderr  # the example is short, as its page says
    assert json.loads(done.stdout)["aircraft"].startswith("Sandpiper")
    where = subprocess.run(
        [str(python), "-c", "import linkcalc, linkcalc_wiring; print(linkcalc.__file__)"],
        capture_output=True, text=True, check=True, cwd=tmp_path, env=kept,
    )  # fmt: skip
    assert Path(where.stdout.strip()).is_relative_to(place)
