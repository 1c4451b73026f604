"""Measure all figures together, one benchmark after another, and write docs/figures.csv.

    python -m tests.benchmarks.measure_all

Takes some ten minutes on a machine that does nothing else: what else runs is told at the end, and a
table that was measured beside other work is worth nothing. Every benchmark has a process of its
own and one thread; what is short of its goal is told, stands in the table, and makes the exit code 1.
"""

from __future__ import annotations

import csv
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.figures import FILE

ROOT = Path(__file__).resolve().parents[2]
TABLE = ROOT / "docs" / "figures.csv"
SCRIPTS = ("start_up", "quantity_strings", "html_page")
MODULES = (
    "test_warm_check",
    "test_pushrod",
    "hinge_moments",
    "bench_supply_tree",
    "test_pull_outs",
    "test_combinations",
    "test_tolerance",
)
THREADS = "OPENBLAS_NUM_THREADS"
HEADER = ("what", "goal", "measured", "how to repeat")


def commands() -> list[list[str]]:
    """Return the commands, as they are told to whoever wants to repeat one."""
    scripts = [["python", "-m", f"tests.benchmarks.{name}"] for name in SCRIPTS]
    modules = [["python", "-m", "pytest", "-s", f"tests/benchmarks/{name}.py"] for name in MODULES]
    return scripts + modules


def measured(command: list[str], kept: Path) -> list[dict[str, object]]:
    """Run one benchmark and return its figures, each with its command."""
    kept.unlink(missing_ok=True)
    surroundings = {key: value for key, value in os.environ.items() if "BYTECODE" not in key}
    surroundings |= {FILE: str(kept)} | ({THREADS: "1"} if "pytest" in command else {})
    subprocess.run([sys.executable, *command[1:]], cwd=ROOT, env=surroundings, check=False)
    if not kept.exists():
        raise SystemExit(f"{' '.join(command)}: no figure was put down")
    found = [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()]
    return [figure | {"command": " ".join(command)} for figure in found]


def told(number: float, unit: str) -> str:
    """Return a figure to three digits with its unit."""
    return f"{number:.3g}" if unit == "x" else f"{number:.3g} {unit}"


def main() -> int:
    """Measure, write the table, and tell what falls short."""
    begun, figures = time.monotonic(), []
    with tempfile.TemporaryDirectory() as folder:
        for command in commands():
            figures += measured(command, Path(folder) / "figures.jsonl")
    with TABLE.open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out, lineterminator="\n")
        table.writerow(HEADER)
        for each in figures:
            goal, found = (told(each[name], each["unit"]) for name in ("at_most", "measured"))
            short = "" if each["measured"] <= each["at_most"] else " (short)"
            table.writerow((each["what"], goal, found + short, f"`{each['command']}`"))
    short = [each["what"] for each in figures if not each["measured"] <= each["at_most"]]
    sys.stdout.write(
        f"{len(figures)} figures in {(time.monotonic() - begun) / 60:.0f} min on {os.cpu_count()} "
        f"cores, Python {platform.python_version()}, numpy {np.__version__}; load of the machine "
        f"now {os.getloadavg()[0]:.1f}, of which this run is 1\n"
        + "".join(f"short of its goal: {what}\n" for what in short)
    )
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
