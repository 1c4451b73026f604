"""What figures stand on although the file does not say it is told, and is no longer once it is said."""

import pytest

import linkcalc
from linkcalc.report.small_print import is_default
from tests.evaluation.aircraft import SINGLE


def told(tmp_path, text):
    path = tmp_path / "unsaid.toml"
    path.write_text(text, encoding="utf-8")
    report = linkcalc.check(path)
    return [*report.notes, *report.runs[0].cases[0].notes]


@pytest.fixture
def bare():
    """A run of which the file says as little as it can."""
    said = {
        "loop_resistance": 'gauge = "24 AWG"\nlength = "1 m"',
        "surface": 'surface = { span = "300 mm", chord = "40 mm", throw = "25 deg" }',
    }
    lines = SINGLE[0].splitlines()
    return "\n".join(said.get(line.partition(" =")[0], line) for line in lines)


@pytest.mark.parametrize(
    ("words", "key", "said"),
    [
        ("hinge friction not given: 0 N·m", "span =", 'hinge_friction = "1 N·mm", span ='),
        ("shaft friction not given: 0 N·m", "surface =", 'shaft_friction = "1 N·mm"\nsurface ='),
        ("compliance not given: ", "surface =", 'compliance = "1 deg/(N·m)"\nsurface ='),
        ("solver of the air load not given: thin_aerofoil", "span =", 'solver = "plate", span ='),
        ("aspect ratio not given: infinite", "span =", "aspect_ratio = 5, span ="),
        ("no taper", "span =", "taper = 0.7, span ="),
        ("level unless", "span =", 'plane = "fin", span ='),
        ("section of an aerofoil", "span =", 'section = "slab", span ='),
        ("sealed gap", "span =", 'gap = "open", span ='),
        ("no overhang", "span =", "overhang = 0.1, span ="),
        ("contacts of leads not given otherwise", "length =", "contacts = 2\nlength ="),
    ],
)
def test_what_is_not_said_is_told(words, key, said, bare, tmp_path):
    (note,) = [note for note in told(tmp_path, bare) if words in note]
    assert is_default(note)
    assert bare.count(key) == 1
    assert not [note for note in told(tmp_path, bare.replace(key, said)) if words in note]
