"""The lists of broken formulas fit the tree, and their runner tells the truth."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def _runner():
    spec = importlib.util.spec_from_file_location(
        "break_formulas", ROOT / "tests/break_formulas.py"
    )
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


runner = _runner()

AREA = """\
def area(length, width):
    return length * width


def half(length):
    return length / 2
"""
TESTS = """\
from toy.area import area, half


def test_area():
    assert area(2.0, 3.0) == 6.0


def test_half():
    assert half(0.0) == 0.0  # cannot tell a half from a double
"""
LIST = """\
[[broken]]
file = "toy/area.py"
find = "length * width"
replace = "length + width"
tests = ["tests/test_area.py::test_area"]

[[broken]]
file = "toy/area.py"
find = "length / 2"
replace = "length * 2"
tests = ["tests/test_area.py"]
"""


def _tree(root, *, tests=TESTS, listed=LIST):
    files = {
        "toy/__init__.py": "",
        "toy/area.py": AREA,
        "tests/test_area.py": tests,
        f"{runner.LISTS}/toy.toml": listed,
    }
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


@pytest.mark.parametrize("topic", runner.topics())
def test_every_broken_formula_stands_once_in_its_file_and_names_tests_that_exist(topic):
    for broken in runner.read(topic):
        sound = (ROOT / broken.file).read_text(encoding="utf-8")
        assert runner.broken_text(broken) != sound


def test_a_broken_formula_that_no_test_notices_is_told(tmp_path):
    results = runner.run(root=_tree(tmp_path))
    assert [verdict for _, verdict in results] == ["noticed", "NOT NOTICED"]
    assert "NOT NOTICED: toy/area.py: 'length / 2' -> 'length * 2'" in runner.table(results)
    assert (tmp_path / "toy/area.py").read_text(encoding="utf-8") == AREA


def test_a_sample_is_some_of_the_list_in_its_order_and_the_same_for_the_same_seed(tmp_path):
    listed = [broken for topic in runner.topics() for broken in runner.read(topic)]
    some = runner.drawn(listed, 50, seed=1)
    assert len(set(some)) == 50
    assert some == sorted(some, key=listed.index)
    assert some == runner.drawn(listed, 50, seed=1) != runner.drawn(listed, 50, seed=2)
    assert runner.drawn(listed, len(listed), seed=1) == listed
    results = runner.run(root=_tree(tmp_path), sample=1, seed=1)
    assert len(results) == 1
    assert "1 of 1 noticed" in runner.table([(results[0][0], "noticed")])


@pytest.mark.parametrize("sample", [0, 3])
def test_a_sample_that_the_list_cannot_give_is_refused(tmp_path, sample):
    with pytest.raises(runner.ListError, match=f"a sample of {sample} cannot be drawn from 2"):
        runner.run(root=_tree(tmp_path), sample=sample)


def test_tests_that_fail_without_any_error_are_no_proof(tmp_path):
    with pytest.raises(runner.ListError, match="fail while every formula is sound"):
        runner.run(root=_tree(tmp_path, tests=TESTS.replace("== 6.0", "== 7.0")))


def test_a_text_that_is_not_in_the_file_is_refused(tmp_path):
    stale = LIST.replace("length * width", "width * length")
    with pytest.raises(runner.ListError, match="found 0 times instead of once"):
        runner.run(root=_tree(tmp_path, listed=stale))


def test_an_unknown_topic_is_refused_with_the_known_ones(tmp_path):
    with pytest.raises(runner.ListError, match=r"'area'; there are: toy$"):
        runner.run(["area"], root=_tree(tmp_path))


def test_a_package_that_is_not_the_copy_is_refused(tmp_path):
    # A folder without __init__.py gives way to the package of that name that is installed.
    root = _tree(tmp_path, listed=LIST.replace("toy/area.py", "json/decoder.py"))
    (root / "json").mkdir()
    (root / "json/decoder.py").write_text(AREA, encoding="utf-8")
    with pytest.raises(runner.ListError, match=r"json\.decoder was imported from"):
        runner.run(root=root)
