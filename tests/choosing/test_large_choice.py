"""A product that is too large to keep gives the answer of one that is kept whole."""

from pathlib import Path

import pytest

import linkcalc
from linkcalc.choosing.choice import choose
from linkcalc.report.choice_table import choice_text

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(ROOT / "examples/sandpiper.toml")


@pytest.fixture(scope="module")
def parts():
    return linkcalc.read_catalogue(ROOT / "examples/catalogue/parts.toml")


@pytest.fixture(scope="module")
def over(parts):
    return {
        "servo": [each.name for each in parts.servos[58:82]],
        "arm hole": ["8 mm", "10 mm", "12 mm"],
        "horn hole": None,
    }


def told(standings):
    return [(each.name, each.place, each.on_front, each.values) for each in standings]


@pytest.mark.parametrize("memory", [2e5, 4e5])
def test_first_ones_front_and_counts_are_those_of_the_whole(
    parts, over, memory, monkeypatch, tmp_path
):
    glider = ROOT / "examples/sandpiper.toml"
    monkeypatch.setattr("linkcalc.choosing.large_choice.KEPT", 20)
    whole = choose(glider, parts, runs="rudder", over=over)
    counts = []
    found = choose(
        glider,
        parts,
        runs="rudder",
        over=over,
        memory=memory,
        progress=lambda done, total: counts.append((done, total)),
        keep=tmp_path / "kept.npz",
    )
    assert whole.note == ""
    assert found.note.startswith(f"{whole.total} combinations would take ")
    assert (found.total, found.passing) == (whole.total, whole.passing)
    assert told(found.ranking.standings[:20]) == told(whole.ranking.standings[:20])
    fronts = [{each.name for each in one.ranking.front} for one in (found, whole)]
    assert fronts[0] == fronts[1]
    assert 0 < whole.passing < whole.total
    assert sum(found.out.values()) == whole.total - whole.passing
    assert counts[-1] == (whole.total, whole.total)
    assert sorted(counts) == counts
    assert len(list(tmp_path.iterdir())) > 1
    text = choice_text(found)
    assert f"{whole.passing} of {whole.total} combinations" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_nothing_left_of_a_large_product_is_told_with_its_counts(glider, parts, over):
    found = choose(glider, parts, runs="rudder", over=over, memory=2e5, most_price=1)
    assert found.ranking.best is None
    assert found.empty == f"None of {found.total} candidates will do."
    listed = sum(not each.place for each in found.ranking.standings)
    assert sum(found.out.values()) + listed == found.total
    assert "not price at most 1 EUR" in found.out


def test_memory_for_nothing_is_refused(glider, parts):
    with pytest.raises(linkcalc.InputError, match="at least 2000 bytes"):
        choose(glider, parts, memory=float("nan"))


def test_parts_none_of_which_fits_another_leave_nothing(glider, parts):
    servo = linkcalc.replace(parts.servos[0], spline=None, arm_holes=())
    lonely = linkcalc.replace(parts, servos=[servo])
    found = choose(glider, lonely, runs="rudder", over=["servo", "arm hole"])
    assert (found.total, found.ranking.best) == (0, None)
    assert found.empty == "There are no candidates."
    assert "NO COMBINATION WILL DO" in choice_text(found)
