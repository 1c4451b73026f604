"""Every formula of the pages of theory is tied to code and tests that there are."""

import importlib
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "docs/theory.md", ROOT / "docs/dive.md"]
TIED = re.compile(r"^\*Code: (.*?)\. Tests: (.*?)\.\*$", re.MULTILINE)
BROKEN = [
    entry
    for path in (ROOT / "tests/broken_formulas").glob("*.toml")
    for entry in tomllib.loads(path.read_text(encoding="utf-8"))["broken"]
]


def parts():
    for page in PAGES:
        for part in re.split(r"(?m)^(?=## |\*\*)", page.read_text(encoding="utf-8")):
            yield pytest.param(part, id=f"{page.stem}: {part.splitlines()[0][:30]}")


def ticked(words):
    return re.findall(r"`(.*?)`", words)


def tied(part):
    (found,) = TIED.findall(part)
    return ticked(found[0]), ticked(found[1])


def home(name):
    """Module and object behind a dotted name."""
    try:
        return importlib.import_module(name), None
    except ModuleNotFoundError:
        module, _, rest = name.rpartition(".")
        return importlib.import_module(module), rest


PARTS = list(parts())
WITH_TIES = [part for part in PARTS if TIED.search(part.values[0])]


@pytest.mark.parametrize("part", PARTS)
def test_every_part_with_a_formula_names_its_code_and_its_tests(part):
    formulas = re.findall(r"\$[^$]+\$", part)
    if any("=" in formula for formula in formulas):
        assert len(TIED.findall(part)) == 1


@pytest.mark.parametrize("part", WITH_TIES)
def test_what_a_formula_is_tied_to_exists(part):
    codes, tests = tied(part)
    for name in codes:
        module, rest = home(name)
        assert rest is None or hasattr(module, rest), name
    for name in tests:
        assert (ROOT / name).is_file(), name


@pytest.mark.parametrize("part", WITH_TIES)
def test_breaking_the_code_of_a_formula_is_noticed_by_a_test_that_is_named(part):
    # for at least one of its codes; `break_formulas.py` puts the errors in and sees them noticed
    codes, tests = tied(part)
    files = {Path(home(name)[0].__file__).relative_to(ROOT).as_posix() for name in codes}
    assert any(
        entry["file"] in files and any(test.partition("::")[0] in tests for test in entry["tests"])
        for entry in BROKEN
    )


def test_there_are_formulas():
    assert len(WITH_TIES) >= 25
