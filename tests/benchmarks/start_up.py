"""Cold start of whole processes, as ratios to importing numpy in the same run.

    python -m tests.benchmarks.start_up [rounds]

Run it on a quiet machine: the processes are interleaved, so that load falls on all alike,
but a busy core makes short processes look long. Medians of wall time are told; the figures
to hold are 2.2 for the check of the six-run example and 0.3 for importing the library.
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

from tests.benchmarks.figures import held

EXAMPLE = Path(__file__).parents[2] / "examples" / "sandpiper.toml"
GOALS = {"import linkcalc": 0.3, "linkcalc check": 2.2}  # times importing numpy
COMMANDS = {
    "import numpy": ["-c", "import numpy"],
    "import linkcalc": ["-c", "import linkcalc"],
    "linkcalc check": ["-m", "linkcalc.cli", "check", str(EXAMPLE)],
    "linkcalc check --json": ["-m", "linkcalc.cli", "check", str(EXAMPLE), "--json"],
}


def seconds(arguments):
    """Return the wall time of one fresh process."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - start


def main(rounds):
    """Measure, print medians and ratios, and fail where one is over its goal."""
    times = {name: [] for name in COMMANDS}
    for _ in range(rounds):
        for name, arguments in COMMANDS.items():
            times[name].append(seconds(arguments))
    base = statistics.median(times["import numpy"])
    for name, found in times.items():
        median = statistics.median(found)
        print(f"{name:22} {median * 1e3:7.1f} ms  {median / base:5.2f} x import numpy")
    ratios = {name: statistics.median(times[name]) / base for name in GOALS}
    within = [
        held(f"`{name}`, times importing numpy", ratios[name], goal) for name, goal in GOALS.items()
    ]
    sys.exit(not all(within))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
