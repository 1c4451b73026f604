"""Holes with which no linkage closes, left out of a choice with their reason."""

import itertools
from pathlib import Path

import pytest

import linkcalc
from linkcalc.choosing.choice import choose
from linkcalc.choosing.joint_choice import choose_each

ROOT = Path(__file__).resolve().parents[2]
REASON = "a rod that is too short to close at neutral"


@pytest.fixture(scope="module")
def parts():
    return linkcalc.read_catalogue(ROOT / "examples/catalogue/parts.toml")


def with_rod(horn):
    """A wing whose trim tabs have pivots 120 mm apart, upright levers, and a rod of 120 mm.

    Levers of one length stand parallel; a long arm on a short horn is further from it than
    the rod reaches.
    """
    wing = linkcalc.read_aircraft(ROOT / "examples/tern_flying_wing.toml")
    tabs = next(run for run in wing.runs if run.name == "trim tabs")
    first = tabs.linkages[0]
    made = linkcalc.replace(
        first,
        pushrod=linkcalc.replace(first.pushrod, length="120 mm"),
        horn=linkcalc.replace(first.horn, vector=("0 mm", "0 mm", horn)),
    )
    one = linkcalc.replace(tabs, linkages=[made])
    runs = [one if run.name == "trim tabs" else run for run in wing.runs]
    return linkcalc.replace(wing, runs=runs)


def closes(described, arm, horn):
    """Tell whether a check takes the aircraft with both holes, described as a file would."""
    runs = []
    for run in described.runs:
        if run.name == "trim tabs":
            (one,) = run.linkages
            ends = {
                name: linkcalc.replace(getattr(one, name), vector=("0 mm", "0 mm", radius))
                for name, radius in (("arm", arm), ("horn", horn))
            }
            run = linkcalc.replace(run, linkages=[linkcalc.replace(one, **ends)])  # noqa: PLW2901
        runs.append(run)
    try:
        linkcalc.check(linkcalc.replace(described, runs=runs))
    except linkcalc.InputFaults:
        return False
    return True


OVER = {"arm hole": ["60 mm", "8 mm", "20 mm"], "horn hole": ["8 mm", "40 mm"]}


@pytest.mark.parametrize("turned", [False, True])
def test_holes_that_do_not_close_with_another_are_left_out_and_the_rest_is_chosen_from(
    parts, turned
):
    described = with_rod("40 mm")
    over = {kind: values[:: -1 if turned else 1] for kind, values in OVER.items()}
    pairs = {pair: closes(described, *pair) for pair in itertools.product(*OVER.values())}
    assert [pair for pair, good in pairs.items() if not good] == [("60 mm", "8 mm")]
    found = choose(described, parts, runs="trim tabs", over=over, by=["margin"])
    ((lost, words),) = found.unsound.items()
    assert lost in {"60 mm", "8 mm"}
    other = "horn hole 8 mm" if lost == "60 mm" else "arm hole 60 mm"
    assert words == f"with {other}: {REASON}"
    left = {each.name for each in found.ranking.standings}
    assert len(left) == (4 if lost == "60 mm" else 3)
    for pair in pairs:
        assert (", ".join(pair) in left) == (lost != pair[lost == "8 mm"])
    each = choose_each(described, parts, runs=["trim tabs"], over=over, by="margin")
    assert each.runs[0].unsound == found.unsound
    assert each.runs[0].offered == len(left)
    assert each.cost == found.ranking.best.values[0]


def test_a_hole_that_closes_with_none_is_left_out_and_nothing_else(parts):
    described = with_rod("8 mm")
    over = {"arm hole": ["8 mm", "128 mm", "10 mm"], "horn hole": ["8 mm", "20 mm"]}
    found = choose(described, parts, runs="trim tabs", over=over, by=["margin"])
    assert found.unsound == {"128 mm": REASON}
    assert found.total == 4


def test_what_has_nothing_to_do_with_parts_is_told_as_a_fault(parts):
    with pytest.raises(linkcalc.InputFaults, match="close at neutral"):
        choose_each(with_rod("500 mm"), parts, runs=["trim tabs"])
