"""How long it takes to read a quantity, or to refuse what is none.

Run it as ``python -m tests.benchmarks.quantity_strings`` on a quiet machine. Promised: any
string of up to a megabyte is accepted or refused within 20 ms. The exit code tells.
"""

from __future__ import annotations

import random
import statistics
import sys
import time

from linkcalc.errors import UnitError
from linkcalc.units import KINDS, parse
from tests.benchmarks.figures import held

LIMIT = 0.020  # [s]
MEGABYTE = 1_000_000

ORDINARY = ["12 mm", "3.2 kg·cm", "0.12 s/60deg", "12 mm ± 0.3 mm", "-0.012 1/deg", "1.225 kg/m^3"]
HOSTILE = {
    "digits": "9" * MEGABYTE,
    "a number with digits after the point": "1." + "9" * MEGABYTE + " mm",
    "powers": "9**" * (MEGABYTE // 3) + "9 mm",
    "units": "1 " + "mm*" * (MEGABYTE // 3) + "mm",
    "spaces": " " * MEGABYTE + "12 mm",
    "spaces behind": "12 mm" + " " * MEGABYTE,
    "signs": "-" * MEGABYTE + "1 mm",
    "brackets": "(" * MEGABYTE + "1" + ")" * MEGABYTE,
    "tolerances": "1 mm" + "±1 mm" * (MEGABYTE // 5),
    "degree signs": "°" * MEGABYTE,
    "letters": "m" * MEGABYTE,
    "letters outside the plane": "\U0001d55e" * (MEGABYTE // 4),
    "surrogates": "\ud800" * MEGABYTE,
    "exponents": "1e" * (MEGABYTE // 2) + " mm",
    "80 digits": "9" * 80,
    "80 letters": "1 " + "m" * 78,
    "40 units": "1 " + "m*" * 38 + "m",
    "nearly a unit": "1 " + "milimetrs" * 8,
    "nested powers": "9**9**9**9**9 mm",
}


def say(text: str) -> None:
    """Show a line at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def spent(text: str, kind: str, times: int = 5) -> float:
    """Return the longest of a few readings [s]."""
    longest = 0.0
    for _ in range(times):
        started = time.perf_counter()
        try:
            parse("field", text, kind)
        except UnitError as error:
            str(error)
        longest = max(longest, time.perf_counter() - started)
    return longest


def main() -> int:
    """Measure, print, and tell whether all is within the limit."""
    parse("warm", "1 mm", "length")
    worst = 0.0
    for text in ORDINARY:
        kind = next(kind for kind in KINDS if _reads(text, kind))
        started = time.perf_counter()
        for _ in range(2000):
            parse("field", text, kind)
        say(f"{(time.perf_counter() - started) / 2000 * 1e6:8.2f} us  {text}")
    for name, text in HOSTILE.items():
        longest = max(spent(text, kind) for kind in KINDS)
        worst = max(worst, longest)
        say(f"{longest * 1e6:8.1f} us  {name} ({len(text)} characters)")
    dice = random.Random(1)  # noqa: S311 - no secret
    alphabet = "0123456789.+-eE mMkgNcsdohV*/^·°±%()\n\t,_'nai"
    samples = []
    for _ in range(20_000):
        text = "".join(dice.choices(alphabet, k=dice.randint(0, 90)))
        samples.append(spent(text, dice.choice(list(KINDS)), times=1))
    worst = max(worst, *samples)
    say(f"{statistics.median(samples) * 1e6:8.1f} us  median of {len(samples)} random strings")
    say(f"{max(samples) * 1e6:8.1f} us  worst of them")
    say(f"{worst * 1e3:8.3f} ms  worst of all, {LIMIT * 1e3:g} ms promised")
    promised = "any string of up to 1 MB, read as a quantity or refused"
    return 0 if held(promised, worst * 1e3, LIMIT * 1e3, "ms") else 1


def _reads(text: str, kind: str) -> bool:
    try:
        parse("field", text, kind)
    except UnitError:
        return False
    return True


if __name__ == "__main__":
    sys.exit(main())
