"""Every fault speaks in one way: what was expected is a phrase, what to do a sentence of its own."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# faults whose last three words are: found, expected, remedy
RAISED = ("InputError", "Fault", "UnitError")
LEAST_WORDS = 3


def _words(node):
    """Return a text as it is written, nan for what is only known when it runs."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        parts = [part.value if isinstance(part, ast.Constant) else "x" for part in node.values]
        return "".join(parts)
    return None


def _raised():
    for path in sorted([*ROOT.glob("linkcalc/**/*.py"), *ROOT.glob("plugins/**/*.py")]):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(getattr(node, "func", None), "id", None)
            if name in RAISED and len(node.args) >= 4:
                expected, remedy = (_words(each) for each in node.args[-2:])
                yield f"{path.relative_to(ROOT)}:{node.lineno}", expected, remedy


FAULTS = list(_raised())


def test_many_faults_are_held():
    assert sum(remedy is not None for _, _, remedy in FAULTS) > 150


@pytest.mark.parametrize(("where", "remedy"), [(w, r) for w, _, r in FAULTS if r is not None])
def test_what_to_do_is_a_sentence_that_says_what(where, remedy):
    assert re.match(r"[A-Z'x]", remedy), where
    assert remedy.endswith((".", "?", "x")), where
    assert len(remedy.split()) >= LEAST_WORDS, where


@pytest.mark.parametrize(("where", "expected"), [(w, e) for w, e, _ in FAULTS if e is not None])
def test_what_was_expected_is_a_phrase_that_goes_on_after_found(where, expected):
    assert not expected.endswith("."), where
    assert not re.match(r"(The|A|An|Give|Use|Check)\b", expected), where
