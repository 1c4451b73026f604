"""Break every formula on purpose, one at a time, and see that a test notices.

Run it as ``python tests/break_formulas.py [topic ...]``; a topic is the name of a file in
``tests/broken_formulas``, without its ending, and no topic means all of them. With
``--sample 50 --seed 1`` fifty of them are drawn at random, the same fifty for the same seed.
Nothing is changed in the tree: it is copied to a temporary folder first. The exit code is 0 when
every broken formula was noticed, 1 when one was not, and 2 when the list itself is wrong.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

ROOT = Path(__file__).resolve().parent.parent
LISTS = "tests/broken_formulas"
KEYS = {"file", "find", "replace", "tests"}
LEFT_OUT = shutil.ignore_patterns(
    ".*_cache",
    ".benchmarks",
    ".git",
    ".hypothesis",
    ".venv*",
    "__pycache__",
    "_build",
    "*.egg-info",
)
MOST_SECONDS = 600
ALL_PASSED, SOME_FAILED = 0, 1  # of pytest's exit codes, the two that answer the question


class Broken(NamedTuple):
    """One formula with an error put into it."""

    topic: str
    file: str
    find: str
    replace: str
    tests: tuple[str, ...]

    def __str__(self) -> str:
        """Show the error on one line."""
        old, new = (" ".join(text.split()) for text in (self.find, self.replace))
        return f"{self.file}: {old!r} -> {new!r}"


class ListError(Exception):
    """The list of broken formulas does not fit the tree, or the tests fail without any."""


def topics(root: Path = ROOT) -> list[str]:
    """Return the names of all lists."""
    return sorted(path.stem for path in (root / LISTS).glob("*.toml"))


def read(topic: str, root: Path = ROOT) -> list[Broken]:
    """Read the list of one topic."""
    path = root / LISTS / f"{topic}.toml"
    if not path.is_file():
        raise ListError(f"no topic is called {topic!r}; there are: {', '.join(topics(root))}")
    entries = tomllib.loads(path.read_text(encoding="utf-8")).get("broken", [])
    if not entries:
        raise ListError(f"{path.name} lists nothing")
    for entry in entries:
        if set(entry) != KEYS or not entry["tests"] or entry["find"] == entry["replace"]:
            raise ListError(
                f"{path.name}: an entry has file, find, another replace, and tests: {entry}"
            )
    return [Broken(topic, **entry | {"tests": tuple(entry["tests"])}) for entry in entries]


def broken_text(broken: Broken, root: Path = ROOT) -> str:
    """Return the text of the file with the error in it."""
    path = root / broken.file
    text = path.read_text(encoding="utf-8") if path.is_file() else ""
    if (count := text.count(broken.find)) != 1:
        raise ListError(f"{broken.topic}: found {count} times instead of once in {broken}")
    missing = [test for test in broken.tests if not (root / test.partition("::")[0]).exists()]
    if missing:
        raise ListError(f"{broken.topic}: no such tests: {', '.join(missing)}")
    return text.replace(broken.find, broken.replace)


def _environment(copy: Path) -> dict[str, str]:
    """Put the copy ahead of the package that is installed."""
    ahead = os.pathsep.join((str(copy), str(copy / "plugins")))
    # A file that is changed within a second and keeps its length would be taken from its cache.
    # And that a test fails is enough: nobody looks for its smallest example.
    return os.environ | {
        "PYTHONPATH": ahead,
        "PYTHONDONTWRITEBYTECODE": "1",
        "LINKCALC_ANY_EXAMPLE": "1",
    }


def _module(file: str) -> str:
    parts = Path(file).with_suffix("").parts
    return ".".join(part for part in parts if part not in {"plugins", "__init__"})


def _check_import(copy: Path, files: Iterable[str]) -> None:
    """Make sure that the tests will import the copy, not the package that is installed."""
    modules = sorted({_module(file) for file in files})
    code = (
        "import importlib, sys\n"
        "for name in sys.argv[1:]: print(importlib.import_module(name).__file__)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *modules],
        cwd=copy,
        env=_environment(copy),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise ListError(f"the copy cannot be imported:\n{done.stderr}")
    for module, place in zip(modules, done.stdout.splitlines(), strict=True):
        if not Path(place).resolve().is_relative_to(copy.resolve()):
            raise ListError(f"{module} was imported from {place}, not from the copy")


def _pytest(copy: Path, tests: Iterable[str]) -> subprocess.CompletedProcess[str]:
    """Run tests in the copy until the first fails; the same examples every time."""
    shutil.rmtree(copy / ".hypothesis", ignore_errors=True)
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider"]
    return subprocess.run(
        [*command, "--hypothesis-seed=0", *tests],
        cwd=copy,
        env=_environment(copy),
        capture_output=True,
        text=True,
        check=False,
        timeout=MOST_SECONDS,
    )


def _verdict(copy: Path, broken: Broken) -> str:
    """Put one error into the copy, run its tests, and take it out again."""
    path = copy / broken.file
    sound = path.read_text(encoding="utf-8")
    path.write_text(broken_text(broken, copy), encoding="utf-8")
    try:
        code = _pytest(copy, broken.tests).returncode
    except subprocess.TimeoutExpired:
        return "hangs"
    finally:
        path.write_text(sound, encoding="utf-8")
    return {ALL_PASSED: "NOT NOTICED", SOME_FAILED: "noticed"}.get(code, "no test could run")


def drawn(listed: list[Broken], sample: int, seed: int) -> list[Broken]:
    """Draw some broken formulas at random, and leave them in the order of the lists."""
    if not 0 < sample <= len(listed):
        raise ListError(f"a sample of {sample} cannot be drawn from {len(listed)}")
    draw = random.Random(seed)  # noqa: S311 - a draw that can be repeated is the point
    chosen = draw.sample(range(len(listed)), sample)
    return [listed[index] for index in sorted(chosen)]


def run(
    chosen: Iterable[str] = (),
    root: Path = ROOT,
    *,
    sample: int | None = None,
    seed: int = 0,
) -> list[tuple[Broken, str]]:
    """Try every broken formula of some topics, or of all, and tell what became of it."""
    listed = [broken for topic in chosen or topics(root) for broken in read(topic, root)]
    if sample is not None:
        listed = drawn(listed, sample, seed)
    for broken in listed:
        broken_text(broken, root)
    results: list[tuple[Broken, str]] = []
    with tempfile.TemporaryDirectory(prefix="broken-formulas-") as folder:
        copy = Path(folder) / "tree"
        shutil.copytree(root, copy, ignore=LEFT_OUT)
        _check_import(copy, {broken.file for broken in listed})
        tests = sorted({test for broken in listed for test in broken.tests})
        print(f"all sound: {len(tests)} tests or files of tests", flush=True)
        if (sound := _pytest(copy, tests)).returncode != ALL_PASSED:
            raise ListError(f"tests fail while every formula is sound:\n{sound.stdout}")
        try:
            for number, broken in enumerate(listed, start=1):
                started = time.monotonic()
                verdict = _verdict(copy, broken)
                results.append((broken, verdict))
                spent = time.monotonic() - started
                print(f"[{number}/{len(listed)}] {verdict:11} {spent:4.1f} s  {broken}", flush=True)
        except KeyboardInterrupt:
            print(f"interrupted after {len(results)} of {len(listed)}", flush=True)
            if not results:
                raise
            results += [(broken, "not tried") for broken in listed[len(results) :]]
    return results


def table(results: Iterable[tuple[Broken, str]]) -> str:
    """Count verdicts by topic, and list what no test noticed."""
    results = list(results)
    counts = Counter((broken.topic, verdict) for broken, verdict in results)
    verdicts = ["noticed", *sorted({verdict for _, verdict in results} - {"noticed"})]
    lines = [f"{'topic':24}" + "".join(f"{verdict:>20}" for verdict in verdicts)]
    for topic in dict.fromkeys(broken.topic for broken, _ in results):
        cells = (f"{counts[topic, verdict]:20}" for verdict in verdicts)
        lines.append(f"{topic:24}" + "".join(cells))
    noticed = sum(verdict == "noticed" for _, verdict in results)
    lines.append(f"{noticed} of {len(results)} noticed")
    lines += [f"{verdict}: {broken}" for broken, verdict in results if verdict != "noticed"]
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("topics", nargs="*", help="all of them, if none is named")
    parser.add_argument("--sample", type=int, help="how many to draw at random; all, if not given")
    parser.add_argument("--seed", type=int, default=0, help="which draw; the same seed, the same")
    given = parser.parse_args(arguments)
    try:
        results = run(given.topics, sample=given.sample, seed=given.seed)
    except ListError as error:
        print(f"broken formulas: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    print(table(results))
    return 0 if all(verdict == "noticed" for _, verdict in results) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
