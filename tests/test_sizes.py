"""Modules and functions stay small enough to be read in one piece."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted(path for room in ("linkcalc", "plugins") for path in (ROOT / room).rglob("*.py"))
MOST_IN_A_MODULE, MOST_IN_A_FUNCTION = 600, 80


def _lines(node):
    """Lines of a function; its docstring, which is as long as it has to be, is not counted."""
    whole = node.end_lineno - node.lineno + 1
    if ast.get_docstring(node) is None:
        return whole
    return whole - (node.body[0].end_lineno - node.body[0].lineno + 1)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_module_and_no_function_is_too_long_to_be_read(path):
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_IN_A_MODULE
    functions = (ast.FunctionDef, ast.AsyncFunctionDef)
    long = {
        node.name: _lines(node)
        for node in ast.walk(ast.parse(text))
        if isinstance(node, functions) and _lines(node) > MOST_IN_A_FUNCTION
    }
    assert not long
