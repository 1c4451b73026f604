"""Name the modules of which the tests walk too little; run it after the tests were measured.

``coverage run -m pytest; coverage combine; python tests/coverage_floor.py`` measures lines and
branches together. The exit code is 0 when every module has its share, 1 when one has not, and 2
when nothing was measured.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLOOR = 95.0  # per cent of lines and branches, in every module


def measured(root: Path = ROOT) -> dict[str, float]:
    """Return the per cent of every module, as coverage counts them."""
    with tempfile.TemporaryDirectory(prefix="coverage-") as folder:
        file = Path(folder) / "coverage.json"
        command = [sys.executable, "-m", "coverage", "json", "-q", "-o", str(file)]
        done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
        if done.returncode:
            raise LookupError((done.stdout + done.stderr).strip())
        found = json.loads(file.read_text(encoding="utf-8"))["files"]
    return {name: each["summary"]["percent_covered"] for name, each in found.items()}


def under(shares: dict[str, float], floor: float = FLOOR) -> list[str]:
    """Return a line for each module that is under the floor, the least first."""
    least = sorted((share, name) for name, share in shares.items() if share < floor)
    return [f"{share:5.1f} %  {name}" for share, name in least]


def main() -> int:
    """Run from the command line."""
    try:
        shares = measured()
    except LookupError as error:
        print(f"nothing measured: {error}", file=sys.stderr)
        return 2
    found = under(shares)
    print("\n".join(found) or f"all {len(shares)} modules have {FLOOR:g} % or more")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
