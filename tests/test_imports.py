"""Importing the library, and checking a file, load nothing that they do not need."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import linkcalc

ROOT = Path(__file__).resolve().parent.parent
HEAVY = {"scipy", "sympy", "matplotlib", "xarray", "pandas", "dask", "pint", "hypothesis", "jinja2"}
SLOW = {"attr", "attrs", "email", "pathlib", "shutil", "zipfile"}
"""Together a third of the time of importing numpy, and nothing that a check of ours needs."""
PLUGINS = {"linkcalc_hinge_moment", "linkcalc_wiring"}
UNASKED = {"linkcalc_dive"}
"""Plugins that a check without a dive does not load."""
UNMEASURED = {name: words for name, words in os.environ.items() if not name.startswith("COVERAGE_")}
"""What measures the suite loads things of its own."""
LOADED = "\nimport json, sys; sys.stderr.write(json.dumps(sorted({m.split('.')[0] for m in sys.modules})))"


def loaded(code, *switches):
    """Top-level modules that a fresh interpreter has loaded after some code."""
    done = subprocess.run(
        [sys.executable, *switches, "-W", "error", "-c", code + LOADED],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        env=UNMEASURED | {"PYTHONWARNDEFAULTENCODING": ""},
    )
    return set(json.loads(done.stderr))


@pytest.mark.parametrize(
    "code",
    [
        "import linkcalc",
        "from linkcalc import *",
        "import linkcalc.checking, linkcalc.files, linkcalc.solvers, linkcalc.cli",
        "import linkcalc.report.document, linkcalc.report.text, linkcalc.model",
    ],
)
def test_importing_loads_no_heavy_library_and_no_plugin(code):
    assert loaded(code) & (HEAVY | PLUGINS | UNASKED) == set()


def test_importing_the_library_alone_does_not_even_load_numpy():
    assert loaded("import linkcalc") & {"numpy", "attr", "attrs", "argparse", "tomllib"} == set()


@pytest.mark.parametrize("form", ["", ", '--json'"])
def test_a_check_of_the_example_loads_no_heavy_library(form):
    code = f"from linkcalc.cli import main; main(['check', 'examples/sandpiper.toml'{form}])"
    found = loaded(code)
    assert found & (HEAVY | UNASKED) == set()
    assert found & SLOW <= loaded("import numpy")
    assert found >= PLUGINS  # it did run


def test_listing_solvers_imports_none():
    assert loaded("from linkcalc.cli import main; main(['solvers'])") & (PLUGINS | UNASKED) == set()


def test_reading_a_quantity_is_what_loads_pint():
    field = "import linkcalc; arm = linkcalc.ServoArm(radius='12 mm')"
    assert "pint" not in loaded(field)
    assert "pint" in loaded(field + "; arm.radius")


def test_every_public_name_is_there_and_documented():
    assert linkcalc.__all__ == sorted(linkcalc.__all__)
    for name in linkcalc.__all__:
        assert getattr(linkcalc, name).__doc__, name
    assert set(linkcalc.__all__) <= set(dir(linkcalc))


def test_the_front_door_stays_a_function_when_its_module_has_been_imported():
    code = (
        "import linkcalc.checking, linkcalc.cli, linkcalc\n"
        "assert callable(linkcalc.check) and callable(linkcalc.read_aircraft)"
    )
    loaded(code)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match=r"module 'linkcalc' has no attribute 'chek'"):
        linkcalc.chek  # noqa: B018 - reading it is the point


def test_nothing_of_the_library_hangs_on_asserts():
    code = "from linkcalc.cli import main; main(['check', 'examples/sandpiper.toml', '--json'])"
    assert "linkcalc" in loaded(code, "-O")
