"""Every block of code and every console of README, DEVELOPERS and the pages runs as it stands.

The blocks of a page run in their order, in a folder that holds the examples and the files
that the page itself writes. By the language of a block:

- ``pycon`` runs as a doctest, ``python`` is executed; both share the names of the page;
- ``console`` runs the commands after ``$``, the program's own in this process, and
  compares what they print; ``...`` stands for anything;
- ``toml`` whose first line names a file is saved under that name; any other is added to the
  file saved before it, and the whole has to be readable, an aircraft or a catalogue;
- ``sh`` is set-up, which a test cannot do to itself: those lines are held to `.ci/run`;
- ``text`` is not run.
"""

from __future__ import annotations

import base64
import contextlib
import doctest
import importlib.util
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import sysconfig
import tomllib
from pathlib import Path
from typing import NamedTuple

import pytest

import linkcalc
from linkcalc import report
from linkcalc.cli import main

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted(path for path in DOCS.rglob("*.md") if "_build" not in path.parts),
]
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
FILE_NAME = re.compile(r"# ([\w-]+\.toml)\b")
LOOSELY = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
SCRIPTS = sysconfig.get_path("scripts")


class Block(NamedTuple):
    page: Path
    line: int
    language: str
    text: str

    @property
    def name(self):
        return f"{self.page.relative_to(ROOT).as_posix()}:{self.line}-{self.language}"


def _blocks(page):
    text = page.read_text(encoding="utf-8")
    for match in FENCE.finditer(text):
        yield Block(page, text.count("\n", 0, match.start()) + 1, match[1], match[2])


BLOCKS = [block for page in PAGES for block in _blocks(page)]


def _answer(words):
    """Exit code of a command, and what it prints; the program runs here, others of their own.

    That the program is the same as a process of its own, `test_cli` holds.
    """
    if words[0] == "linkcalc":
        printed = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
            code = main(words[1:])
        printed.seek(0)
        return code, printed.read()
    done = subprocess.run(
        words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8", check=False
    )
    return done.returncode, done.stdout


class Reader:
    """Somebody who follows a page from the top down."""

    def __init__(self, folder):
        shutil.copytree(ROOT / "examples", folder / "examples")
        self.folder = folder
        self.names = {"__name__": "__main__"}
        self.done = 0
        self.file = None

    def follow_to(self, block):
        """Run what comes before a block and has not been run yet, then the block."""
        blocks = [other for other in BLOCKS if other.page == block.page]
        until = blocks.index(block) + 1
        todo, self.done = blocks[self.done : until], max(self.done, until)
        with contextlib.chdir(self.folder), pytest.MonkeyPatch.context() as patch:
            patch.setenv("PATH", SCRIPTS, prepend=os.pathsep)
            patch.syspath_prepend(self.folder / "examples/balsa_rig")  # as if it were installed
            for each in todo:
                getattr(self, each.language)(each)

    def pycon(self, block):
        test = doctest.DocTestParser().get_doctest(
            block.text, self.names, block.name, block.page.name, block.line
        )
        said = []
        runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS, verbose=False)
        runner.run(test, out=said.append, clear_globs=False)
        self.names.update(test.globs)
        assert not runner.failures, "".join(said)
        assert test.examples

    def python(self, block):
        exec(compile(block.text, block.name, "exec"), self.names)  # noqa: S102 - our own pages

    def console(self, block):
        code = None
        for part in re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]:
            command, _, expected = part.partition("\n")
            if command == "echo $?":
                printed = f"{code}\n"
            else:
                code, printed = _answer(shlex.split(command))
            same = doctest.OutputChecker().check_output(expected, printed, LOOSELY)
            assert same, f"$ {command}\nexpected:\n{expected}\nprinted:\n{printed}"
        assert code is not None

    def toml(self, block):
        if match := FILE_NAME.match(block.text):
            self.file = Path(match[1])
            self.file.write_text(block.text, encoding="utf-8")
            shown_to_fail = f"$ linkcalc check {match[1]}\nThis cannot be checked"
            if any(shown_to_fail in other.text for other in _blocks(block.page)):
                return  # and the console that shows it compares every fault
        else:
            with self.file.open("a", encoding="utf-8") as file:
                file.write("\n" + block.text)
        is_catalogue = "linkcalc.catalogue/" in self.file.read_text(encoding="utf-8")
        (linkcalc.read_catalogue if is_catalogue else linkcalc.read_aircraft)(self.file)

    def sh(self, block):
        pass

    text = sh


@pytest.fixture(scope="session")
def readers(tmp_path_factory):
    found = {}

    def reader(page):
        if page not in found:
            found[page] = Reader(tmp_path_factory.mktemp(page.stem))
        return found[page]

    return reader


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.name)
def test_block_runs_as_it_stands(block, readers):
    readers(block.page).follow_to(block)


def test_every_fence_of_a_page_is_found():
    # A block in an unknown form would be passed over in silence.
    for page in PAGES:
        fences = len(re.findall(r"^```", page.read_text(encoding="utf-8"), re.MULTILINE))
        directives = len(re.findall(r"^```\{", page.read_text(encoding="utf-8"), re.MULTILINE))
        assert fences == 2 * (len(list(_blocks(page))) + directives), page


def _set_up_lines(page):
    return [
        line
        for block in _blocks(page)
        if block.language == "sh"
        for line in block.text.splitlines()
    ]


def test_readme_sets_up_with_one_line_and_passes_the_tests_with_another():
    readme = ROOT / "README.md"
    check, tests = _set_up_lines(readme)
    assert check.startswith("python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/")
    shown = check.rpartition(".venv/bin/")[2]
    assert f"$ {shown}\n" in readme.read_text(encoding="utf-8")
    extras = re.search(r"pip install -e '\.\[(.*?)\]'", tests)[1].split(",")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert set(extras) <= set(project["optional-dependencies"])
    assert tests.startswith("python3 -m venv .venv && ")
    assert tests.endswith(" && .venv/bin/python -m pytest -n 2 --dist loadfile")


def test_every_other_set_up_line_begins_one_of_the_readme():
    of_readme = _set_up_lines(ROOT / "README.md")
    for page in PAGES:
        for line in _set_up_lines(page):
            assert any(known.startswith(line) for known in of_readme), f"{page.name}: {line}"


def test_every_command_for_developers_is_one_that_continuous_integration_runs():
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    commands = dict(re.findall(r"^\| ([\w ,]+) \| `(.*?)` \|$", page, re.MULTILINE))
    for what in ("format", "lint", "types", "import contracts", "docstrings", "docs"):
        tool = " ".join(commands[what].split()[:2])
        assert tool.removesuffix(" .") in script, what
    assert commands["all but the last two, from scratch"] == "bash .ci/run"
    for what in ("broken formulas", "what no test walks"):
        assert (ROOT / commands[what].split()[-1]).is_file()


def _page_parts():
    spec = importlib.util.spec_from_file_location("page_parts", DOCS / "page_parts.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


page_parts = _page_parts()


def _keys(table):
    for key, value in table.items():
        yield key
        for inner in value if isinstance(value, list) else [value]:
            if isinstance(inner, dict):
                # servos and leads are tables whose keys are names that somebody chose
                named = key in {"servos", "leads"}
                for part in inner.values() if named else [inner]:
                    yield from _keys(part)


def test_every_key_of_the_example_is_on_the_page_of_keys():
    example = tomllib.loads((ROOT / "examples/sandpiper.toml").read_text(encoding="utf-8"))
    used = set(_keys(example)) - {"servos", "leads"}
    assert {"stall_torque", "chord_ratio", "feed", "load_factor"} <= used
    listed = set(re.findall(r"^\| `(\w+)` \|", page_parts.keys(), re.MULTILINE))
    assert used <= listed


@pytest.mark.parametrize(
    ("key", "row"),
    [
        ("no_load_speed", 'angular rate, such as `"0.12 s/60deg"` | **required** |'),
        ("contacts", "number, no unit | 0 |"),
        ("strand_factor", "number, no unit | 1.10 (common practice, no source) |"),
        ("solver", "text | tree |"),
    ],
)
def test_page_of_keys_gives_unit_and_default(key, row):
    lines = [line for line in page_parts.keys().splitlines() if line.startswith(f"| `{key}` |")]
    assert any(line.endswith(row) for line in lines), lines


def test_every_part_of_a_page_that_is_asked_for_exists():
    pages = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    asked = set(re.findall(r"<!-- page part: (\w+) -->", pages))
    assert asked == set(page_parts.PARTS)


def test_gallery_shows_a_picture_behind_every_block_that_draws():
    page = (DOCS / "gallery.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```\n\n(<!-- picture)?", page, re.MULTILINE | re.DOTALL)
    drawing = [(code, mark) for code, mark in blocks if "plot_" in code or "axes = " in code]
    assert len(drawing) == page.count("<!-- picture: ") == 11
    assert all(mark for _, mark in drawing)
    for name in report.__all__:
        assert not name.startswith("plot_") or f"report.{name}(" in page, name


def test_gallery_is_filled_with_pictures_that_its_own_code_made():
    page = page_parts.filled((DOCS / "gallery.md").read_text(encoding="utf-8"))
    images = re.findall(r'<img alt="([^"]{20,})" src="data:image/svg\+xml;base64,([^"]+)">', page)
    drawn = [base64.b64decode(source).decode() for _, source in images]
    assert len(drawn) == 11
    assert all("<text" in picture and picture.rstrip().endswith("</svg>") for picture in drawn)
    assert len({picture.partition("</metadata>")[2] for picture in drawn}) == 11
    assert "placard speed 56.06 km/h" in drawn[3]
    assert "[mph]" in drawn[6]


def test_every_command_and_option_is_on_the_page_of_commands(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    page = page_parts.commands()
    for name in ("check", "completion", "new", "remedy", "schema", "solvers", "wires"):
        assert f"## linkcalc {name}\n" in page
        assert f"usage: linkcalc {name}" in page
    assert "--html NAME.html" in page
    assert max(map(len, page.splitlines())) <= 80
    assert os.environ["COLUMNS"] == "200"


def test_every_fragment_of_changes_has_a_known_kind_and_is_joined():
    folder = DOCS / "changes"
    fragments = [path for path in folder.iterdir() if path.name != "README.md"]
    joined = page_parts.changes()
    for path in fragments:
        assert path.suffixes[-2:] in [[f".{kind}", ".md"] for kind in page_parts.CHANGES], path
        assert " ".join(path.read_text(encoding="utf-8").split()) in joined


def test_every_public_name_is_on_a_reference_page():
    pages = "".join(path.read_text(encoding="utf-8") for path in (DOCS / "reference").glob("*.md"))
    missing = [
        name
        for name in linkcalc.__all__
        if not re.search(rf":: linkcalc\.{name}$", pages, re.MULTILINE)
    ]
    assert not missing


def test_every_page_is_in_a_table_of_contents():
    listed = set()
    for index in (DOCS / "index.md", DOCS / "how_to/index.md", DOCS / "reference/index.md"):
        trees = re.findall(r"```\{toctree\}\n(.*?)```", index.read_text("utf-8"), re.DOTALL)
        lines = [line for tree in trees for line in tree.splitlines()]
        names = [line for line in lines if line and not line.startswith(":")]
        listed |= {index.parent / f"{name}.md" for name in names}
    pages = {page for page in PAGES if DOCS in page.parents and page.parent.name != "changes"}
    assert pages - {DOCS / "index.md"} <= listed


HOW_TO = sorted(path for path in (DOCS / "how_to").glob("*.md") if path.stem != "index")


@pytest.mark.parametrize("page", HOW_TO, ids=lambda page: page.stem)
def test_a_how_to_page_asks_runs_something_and_cautions(page):
    words = page.read_text(encoding="utf-8")
    assert words.startswith("# ")
    assert words.splitlines()[0].endswith("?")
    assert "invented" in words
    assert {block.language for block in _blocks(page)} & {"console", "pycon"}
    assert ":::{warning}" in words or "to be proved" in words


def test_there_are_a_dozen_how_to_pages():
    assert len(HOW_TO) >= 12
