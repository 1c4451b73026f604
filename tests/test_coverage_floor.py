"""The floor of coverage names what is under it, and asks the tool itself for the numbers."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
spec = importlib.util.spec_from_file_location("coverage_floor", ROOT / "tests/coverage_floor.py")
floor = importlib.util.module_from_spec(spec)
spec.loader.exec_module(floor)

HALF = """\
def size(number):
    if number < 0:
        return -number
    return number


size(1)
"""


@pytest.fixture(autouse=True)
def _unmeasured(monkeypatch):
    """Keep whoever measures this suite out of the small measurement in here."""
    for name in [name for name in os.environ if name.startswith("COVERAGE_")]:
        monkeypatch.delenv(name)


def _run(folder, *words):
    command = [sys.executable, "-m", "coverage", *words]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)


def test_lines_and_branches_that_are_walked_are_counted_together(tmp_path):
    (tmp_path / "half.py").write_text(HALF, encoding="utf-8")
    (tmp_path / ".coveragerc").write_text("[run]\nbranch = true\n", encoding="utf-8")
    _run(tmp_path, "run", "half.py")
    # Four of five lines and one of two ways out of the question: 5 of 7.
    assert floor.measured(tmp_path) == {"half.py": pytest.approx(100 * 5 / 7)}


def test_where_nothing_was_measured_there_is_no_number(tmp_path):
    with pytest.raises(LookupError, match="No data"):
        floor.measured(tmp_path)


def test_modules_under_the_floor_are_named_with_the_least_first():
    shares = {"a.py": 94.99, "b.py": 95.0, "c.py": 12.3}
    assert floor.under(shares, 95.0) == [" 12.3 %  c.py", " 95.0 %  a.py"]
