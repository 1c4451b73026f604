"""The page of the six-run example, made by a fresh process: at most 4 s, at most 3 MB.

    env -u PYTHONDONTWRITEBYTECODE python -m tests.benchmarks.html_page

Wall time, the median of seven processes; the first of them, which compiles, is left out.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.figures import held

EXAMPLE = Path(__file__).resolve().parents[2] / "examples/sandpiper.toml"
ROUNDS, SECONDS, BYTES = 8, 4.0, 3e6


def once(out):
    """Return how long a process takes for the page [s]."""
    command = [sys.executable, "-m", "linkcalc.cli", "check", str(EXAMPLE), "--brief"]
    start = time.perf_counter()
    done = subprocess.run([*command, "--html", str(out)], capture_output=True, check=False)
    if done.returncode != 1:  # the example falls short
        raise SystemExit(done.stderr.decode())
    return time.perf_counter() - start


def main():
    """Print time and size, and fail where one is over its limit."""
    with tempfile.TemporaryDirectory() as folder:
        pages = [Path(folder) / f"{number}.html" for number in range(ROUNDS)]
        took = statistics.median([once(page) for page in pages][1:])
        size = pages[-1].stat().st_size
    print(f"{took:.2f} s (at most {SECONDS:g}), {size / 1e6:.2f} MB (at most {BYTES / 1e6:g})")
    quick = held("page of six runs with all pictures, cold", took, SECONDS, "s")
    small = held("size of that page", size / 1e6, BYTES / 1e6, "MB")
    sys.exit(not (quick and small))


if __name__ == "__main__":
    main()
