"""What would help: each remedy is written into an aircraft file again and evaluated from there."""

from __future__ import annotations

import copy
import json
import re
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import linkcalc
from linkcalc import solvers
from linkcalc.errors import InputFaults, SolverError
from linkcalc.evaluation.evaluate import evaluate
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.files import read_aircraft
from linkcalc.results import MODES
from linkcalc.study import remedies as study
from linkcalc.study.changes import changes
from linkcalc.study.remedies import remedies

EXAMPLE = Path("examples/sandpiper.toml")
SECTIONS = ["0.14 mm^2", "0.22 mm^2", "0.25 mm^2", "0.34 mm^2", "0.5 mm^2", "0.75 mm^2"]
SECTIONS += ["1 mm^2", "1.5 mm^2", "2.5 mm^2"]
GAUGES = [f"{size} AWG" for size in range(40, 9, -2)]

# One run on a trunk and one on a lead of its own, short in most ways.
SMALL = {
    "format": "linkcalc.aircraft/1",
    "name": "invented glider of a coastal mapping crew",
    "supply": {"voltage": "6 V", "internal_resistance": "60 mohm", "current_limit": "2.4 A"},
    "servos": {
        "wing": {
            "rows": [
                {
                    "voltage": "4.8 V",
                    "stall_torque": "2.6 kg·cm",
                    "no_load_speed": "0.15 s/60deg",
                    "stall_current": "1.1 A",
                },
                {
                    "voltage": "6 V",
                    "stall_torque": "3.2 kg·cm",
                    "no_load_speed": "0.12 s/60deg",
                    "stall_current": "1.4 A",
                },
            ],
            "minimum_voltage": "4.9 V",
        }
    },
    "leads": {
        "trunk": {"gauge": "0.25 mm^2", "length": "0.8 m"},
        "tip": {"feed": "trunk", "gauge": "30 AWG", "length": "80 cm"},
    },
    "cases": [{"name": "turn", "kind": "manoeuvre", "speed": "105 km/h"}],
    "runs": [
        {
            "name": name,
            "servo": "wing",
            "lead": lead,
            "linkages": [
                {
                    "arm": "12 mm",
                    "horn": "11 mm",
                    "pushrod": {"length": "420 mm", "diameter": "1.2 mm"},
                    "joint_play": "0.4 mm",
                    "joint_rating": "60 N",
                    "surface": {
                        "span": "400 mm",
                        "chord": "50 mm",
                        "chord_ratio": 0.25,
                        "throw_up": "20 deg",
                        "throw_down": "15 deg",
                    },
                }
            ],
        }
        for name, lead in (("aileron", "tip"), ("flap", "trunk"))
    ],
}

# writing and reading ------------------------------------------------------------------


def inline(value):
    if isinstance(value, dict):
        parts = (f"{json.dumps(key)} = {inline(item)}" for key, item in value.items())
        return "{" + ", ".join(parts) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(inline(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    """Write a tree to an aircraft file, and read that."""
    path = tmp_path_factory.mktemp("aircraft") / "aircraft.toml"

    def written(tree):
        lines = (f"{key} = {inline(value)}" for key, value in tree.items())
        path.write_text("\n".join(lines), encoding="utf-8")
        return read_aircraft(path)

    return written


@pytest.fixture
def only(monkeypatch):
    """Let the search try some kinds of change only, to save time."""

    return lambda *kinds: only_kinds(monkeypatch, kinds)


def only_kinds(patch, kinds):
    def some(*place):
        return [change for change in changes(*place) if change.kind in kinds]

    patch.setattr(study, "changes", some)


def margins(aircraft):
    """Return every margin of the verdict by mode, infinite where the mode does not apply."""
    answer = evaluate(gather(aircraft).inputs, both(factors(aircraft.factors), 3))
    made = {}
    for mode in MODES:
        item = getattr(answer.margins, mode.replace(" ", "_").replace("-", "_"))
        idle = ~item.applies[0] | ((item.required[0] == 0) & (mode != "torque"))
        made[mode] = np.where(idle, np.inf, item.margin[0])
    return made


def margin_at(aircraft, place):
    case = [item.name for item in aircraft.cases].index(place.case)
    run = [item.name for item in aircraft.runs].index(place.run)
    return margins(aircraft)[place.mode][case, run]


def number(text):
    """Split words such as '0.12 s/60deg (500 deg/s)' or '12 mm' into number and unit."""
    text = text.partition("(")[2].rstrip(")") or text
    match = re.fullmatch(r"(-?[0-9.]+(?:e-?[0-9]+)?) ?(.*)", text)
    return float(match[1]), match[2]


def between(before, after, share):
    """Return the words for a share of a change."""
    made = []
    for old, new in zip(before.split(", "), after.split(", "), strict=True):
        if old == new:
            made.append(old)
            continue
        (start, _), (end, unit) = number(old), number(new)
        made.append(new if share == 1 else f"{start + share * (end - start):.12g} {unit}")
    return made


FAR_ENDS = "supply voltage with regulators at the far ends"
KEYS = {
    "arm hole": "arm",
    "horn hole": "horn",
    "current limit of the supply": "current_limit",
    "flight speed": "speed",
    "free length of the rod": "free_length",
    "joint play": "joint_play",
    "joint rating": "joint_rating",
    "lead length": "length",
    "no-load speed": "no_load_speed",
    "rod diameter": "diameter",
    "servo travel": "travel",
    "stall torque": "stall_torque",
    "supply voltage": "voltage",
    "wire gauge": "gauge",
}


def applied(tree, place, remedy, share=1.0):
    """Return the tree with a share of a remedy written into it."""
    tree = copy.deepcopy(tree)
    run = next(item for item in tree["runs"] if item["name"] == place.run)
    linkage = run["linkages"][0] if "linkages" in run else run
    if remedy.kind == "throw":
        ends = between(remedy.before, remedy.after, share)
        keys = [key for key in ("throw", "throw_up", "throw_down") if key in linkage["surface"]]
        linkage["surface"] |= dict(zip(keys, ends * (3 - len(ends)), strict=True))
        return tree
    if remedy.kind == FAR_ENDS:
        volts = remedy.after.partition(" with a regulator to ")[0]
        tree["supply"]["voltage"] = between(remedy.before, volts, share)[0]
        setting = {"kind": "switching", "voltage": remedy.before, "current_limit": "none"}
        for name in {item["lead"] for item in tree["runs"]}:
            tree["leads"][name]["regulator"] = setting
        return tree
    if remedy.kind == "wire gauge":
        text = remedy.after
    else:
        text = between(remedy.before, remedy.after, share)[0]
    key = KEYS[remedy.kind]
    if remedy.kind in {"stall torque", "no-load speed"}:
        for row in servo_of(tree, run)["rows"]:
            row[key] = grown(row[key], number(text)[0] / number(remedy.before)[0])
    else:
        table_of(tree, run, place, remedy)[key] = text
    return tree


def servo_of(tree, run):
    """Return a servo of its own for a run."""
    tree["servos"]["bought"] = copy.deepcopy(tree["servos"][run["servo"]])
    run["servo"] = "bought"
    return tree["servos"]["bought"]


def lead_of(tree, run):
    """Return a lead of its own for a run."""
    tree["leads"]["laid"] = copy.deepcopy(tree["leads"][run["lead"]])
    run["lead"] = "laid"
    return tree["leads"]["laid"]


def table_of(tree, run, place, remedy):
    """Return the table of the file that a remedy is written into."""
    linkage = run["linkages"][0] if "linkages" in run else run
    kind, _, name = remedy.place.partition(" ")
    if kind == "trunk":
        return tree["leads"][name.strip("'")]
    if kind in {"servo", "lead"}:
        return (servo_of if kind == "servo" else lead_of)(tree, run)
    if kind == "supply":
        return tree["supply"]
    if remedy.kind == "flight speed":
        return next(item for item in tree["cases"] if item["name"] == place.case)
    if remedy.kind in {"rod diameter", "free length of the rod"}:
        rod = linkage["pushrod"]
        linkage["pushrod"] = dict(rod) if isinstance(rod, dict) else {"length": rod}
        return linkage["pushrod"]
    return linkage


def grown(text, factor):
    value, unit = number(text)
    if unit == "s/60deg":
        value, unit = 60 / value, "deg/s"
    return f"{value * factor!r} {unit}"


def section(text):
    """Return a section in mm^2: of an AWG size by ASTM B258, 0.127 mm x 92 ** ((36 - n) / 39)."""
    value, unit = number(text.partition(" (")[0])
    return np.pi / 4 * (0.127 * 92 ** ((36 - value) / 39)) ** 2 if unit == "AWG" else value


def assert_least(tree, read, found):
    """Check every remedy: it clears, and a twentieth less of it or the next smaller size does not."""
    for shortfall in found.shortfalls:
        place = shortfall.place
        before = margin_at(read(tree), place)
        assert before < 0
        assert before == pytest.approx(shortfall.margin)
        for remedy in shortfall.remedies:
            after = margin_at(read(applied(tree, place, remedy)), place)
            assert after >= 0, remedy
            assert after == pytest.approx(
                np.inf if remedy.margin is None else remedy.margin, abs=1e-4
            )
            if remedy.kind == "wire gauge":
                sizes = GAUGES if "AWG" in remedy.after else SECTIONS
                smaller = sizes[sizes.index(remedy.after) - 1]
                if section(smaller) <= section(remedy.before):
                    continue  # what there is, or less
                less = applied(tree, place, remedy._replace(after=smaller))
            else:
                less = applied(tree, place, remedy, share=0.95)
            assert not margin_at(read(less), place) >= 0, remedy


# the example -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def example():
    return tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def short_of_the_example():
    run = "outboard aileron, starboard"
    case = "gust penetration turn"
    return remedies(EXAMPLE, run=run, case=case)


def test_remedies_of_the_example_clear_and_a_little_less_does_not(
    example, read, short_of_the_example
):
    assert short_of_the_example.shortfalls
    assert all(item.remedies for item in short_of_the_example.shortfalls)
    assert_least(example, read, short_of_the_example)


def test_every_shortfall_of_a_check_is_looked_at(short_of_the_example):
    report = linkcalc.check(EXAMPLE)
    case = report.runs[0].cases[0]
    wanted = [item.mode for item in case.margins if item.applies and item.margin < 0]
    assert [item.place.mode for item in short_of_the_example.shortfalls] == wanted
    for item in short_of_the_example.shortfalls:
        assert item.margin == case.margin(item.place.mode).margin
        assert (item.place.run, item.place.case) == (report.runs[0].name, case.name)
        remedy = item.remedies[0]
        assert remedy.travel.before == case.margin("travel").margin
        assert remedy.rate.before == pytest.approx(case.margin("speed").available.value)


# a small aircraft that is short in most ways ------------------------------------------------


@pytest.fixture(scope="module")
def small(read):
    return read(SMALL)


@pytest.fixture(scope="module")
def short_of_the_small(small):
    return remedies(small, run="aileron")


def test_remedies_of_a_small_aircraft_clear_and_a_little_less_does_not(read, short_of_the_small):
    modes = [item.place.mode for item in short_of_the_small.shortfalls]
    assert modes == ["torque", "voltage", "current", "speed", "buckling", "joint", "free play"]
    kinds = {remedy.kind for item in short_of_the_small.shortfalls for remedy in item.remedies}
    assert kinds >= {
        "wire gauge",
        "lead length",
        "joint rating",
        "joint play",
        "free length of the rod",
    }
    assert_least(SMALL, read, short_of_the_small)


def test_where_no_change_of_a_kind_helps_its_bound_does_not_clear_either(read, short_of_the_small):
    seen = 0
    for item in short_of_the_small.shortfalls:
        for futile in item.futile:
            if futile.reason:
                continue
            at_bound = applied(SMALL, item.place, futile_as_remedy(futile))
            value = margin_at(read(at_bound), item.place)
            assert not value >= 0, futile
            if futile.best:
                best = applied(SMALL, item.place, futile_as_remedy(futile, futile.best))
                assert margin_at(read(best), item.place) == pytest.approx(futile.margin, abs=1e-4)
                assert item.margin < futile.margin < 0
            seen += 1
    assert seen > 10


def futile_as_remedy(futile, after=None):
    words = (futile.kind, futile.place, futile.before, after or futile.bound)
    return study.Remedy(*words, *(None,) * (len(study.Remedy._fields) - len(words)))


def test_losses_are_what_turns_negative_or_loses_more_than_a_third(small, read, short_of_the_small):
    before = margins(small)
    seen = 0
    for item in short_of_the_small.shortfalls:
        for remedy in item.remedies:
            after = margins(read(applied(SMALL, item.place, remedy)))
            told = dict(remedy.losses)
            for mode in MODES:
                for run, name in enumerate(("aileron", "flap")):
                    place = (name, "turn", mode)
                    old, new = before[mode][0, run], after[mode][0, run]
                    turned = old >= 0 and not new >= 0
                    lost = np.isfinite(old) and old - new > abs(old) / 3 + 1e-3
                    kept = np.isfinite(old) and old - new < abs(old) / 3 - 1e-3
                    if place == item.place:
                        assert place not in told
                    elif turned or lost:
                        assert told[place].after == pytest.approx(new, abs=1e-4)
                        seen += 1
                    elif kept:
                        assert place not in told
    assert seen > 3


def test_margins_that_turn_negative_stand_first(short_of_the_small):
    ordered = 0
    for item in short_of_the_small.shortfalls:
        for remedy in item.remedies:
            turned = [
                (effect.before is None or effect.before >= 0)
                and (effect.after is None or effect.after < 0)
                for _, effect in remedy.losses
            ]
            assert turned == sorted(turned, reverse=True)
            ordered += len(turned) > 1
    assert ordered


def not_passing(report):
    cases = [case for run in report.runs for case in run.cases]
    return sum(not margin.passes for case in cases for margin in case.margins)


def test_rate_travel_resolution_and_count_are_those_of_the_changed_aircraft(
    small, read, short_of_the_small
):
    torque = short_of_the_small.shortfalls[0]
    arm = next(item for item in torque.remedies if item.kind == "arm hole")
    changed = read(applied(SMALL, torque.place, arm))
    for aircraft, column in ((small, 0), (changed, 1)):
        case = linkcalc.check(aircraft).runs[0].cases[0]
        assert arm.rate[column] == pytest.approx(case.margin("speed").available.value, rel=1e-4)
        assert arm.travel[column] == pytest.approx(case.margin("travel").margin, rel=1e-4)
        report = linkcalc.check(aircraft)
        short = sum(
            not margin.passes
            for run in report.runs
            for item in run.cases
            for margin in item.margins
        )
        assert arm.short[column] == short
    # parallel arms: the surface turns by the ratio of the radii
    assert arm.resolution == pytest.approx((12 / 11, number(arm.after)[0] / 11), rel=1e-3)


def test_changes_that_are_not_tried_for_a_mode_leave_its_margin_as_it_is(small):
    """Or can only make it worse: less voltage, or a servo that reaches further."""
    inputs, before = gather(small).inputs, margins(small)
    pairs = 0
    for change in changes(small, inputs, 0, 0):
        after = margins(change.at(change.sizes[-1]))
        for mode in set(MODES) - change.modes:
            old, new = before[mode][0, 0], after[mode][0, 0]
            worse = change.kind in {"supply voltage", "servo travel"} and new < old
            assert worse or new == pytest.approx(old, rel=1e-6), (change.kind, mode)
            pairs += 1
    assert pairs > 50


ELECTRIC = {
    "stall torque",
    "wire gauge",
    "lead length",
    "supply voltage",
    "current limit of the supply",
}
LOADED = {"arm hole", "horn hole", "throw", "flight speed", "compliance"}


@pytest.mark.parametrize(
    ("mode", "kinds"),
    [
        ("torque", ELECTRIC | LOADED),
        ("travel", LOADED | {"servo travel"}),
        ("voltage", ELECTRIC | LOADED),
        ("over-voltage", {"supply voltage", "rated maximum voltage"}),
        ("current", ELECTRIC | LOADED),
        ("speed", ELECTRIC | LOADED | {"no-load speed"}),
        ("hold", ELECTRIC | LOADED),
        ("buckling", LOADED | {"rod diameter", "free length of the rod"}),
        ("joint", LOADED | {"joint rating"}),
        ("source heat", ELECTRIC | LOADED | {"heat rating of the regulator"}),
        ("gear", LOADED | {"gear strength"}),
        ("free play", {"arm hole", "horn hole", "joint play", "gear play"}),
        ("divergence", LOADED),
    ],
)
def test_every_change_that_may_help_a_mode_is_tried(read, mode, kinds):
    tree = single()
    tree["runs"][0]["linkages"][0]["compliance"] = "1 deg/Nm"
    tree["servos"]["wing"] |= {"gear_strength": "1 N·m", "gear_play": "1 deg"}
    tree["supply"] |= {"regulator": "linear", "input_voltage": "20 V", "heat_rating": "9 W"}
    aircraft = read(tree)
    found = changes(aircraft, gather(aircraft).inputs, 0, 0)
    assert {item.kind for item in found if mode in item.modes} == kinds
    volts = [
        item.sizes[-1] for item in found if item.kind == "supply voltage" and mode in item.modes
    ]
    both_ways = {"over-voltage": [0.5], "current": [2.0, 0.5], "source heat": [2.0, 0.5]}
    assert volts == both_ways.get(mode, [2.0] * len(volts))
    for kind in ("arm hole", "horn hole"):
        ways = [item.sizes[-1] > 1 for item in found if item.kind == kind and mode in item.modes]
        assert ways == [False, True] * (kind in kinds)


def test_flight_speed_is_no_matter_for_the_travel_of_a_stiff_linkage(small):
    found = changes(small, gather(small).inputs, 0, 0)
    assert "travel" not in next(item for item in found if item.kind == "flight speed").modes


def test_a_trunk_is_changed_for_all_and_a_lead_for_one(small):
    by_place = {
        (item.kind, item.place): item for item in changes(small, gather(small).inputs, 0, 0)
    }
    trunk = by_place["wire gauge", "trunk 'trunk'"].at(2.0)
    assert [run.lead.gauge.m_as("mm^2") for run in trunk.runs] == pytest.approx(
        [0.0509, 0.5], rel=1e-2
    )
    assert trunk.runs[0].lead.feed is trunk.runs[1].lead
    own = by_place["lead length", "lead of 'aileron'"].at(0.5)
    assert [run.lead.length.m_as("m") for run in own.runs] == pytest.approx([0.4, 0.8])
    assert [run.lead.name for run in own.runs] == ["tip, changed", "trunk"]


def test_a_trunk_of_the_receiver_is_changed_for_the_receiver_too(read):
    tree = copy.deepcopy(SMALL)
    tree["receiver"] = {"lead": "trunk"}
    tree["loads"] = [{"name": "camera", "current": "0.3 A", "lead": "tip"}]
    aircraft = read(tree)
    found = changes(aircraft, gather(aircraft).inputs, 0, 0)
    places = {item.place for item in found if item.kind == "lead length"}
    assert places == {"trunk 'tip'", "trunk 'trunk'"}  # the camera hangs on the first
    shorter = next(
        item for item in found if item.place == "trunk 'trunk'" and item.kind == "lead length"
    ).at(0.5)
    assert shorter.receiver.lead.length.m_as("m") == pytest.approx(0.4)
    assert shorter.loads[0].lead.feed is shorter.receiver.lead
    assert shorter.loads[0].lead.length.m_as("m") == pytest.approx(0.8)


def test_the_servo_of_another_run_is_left_alone(small):
    stall = next(
        item for item in changes(small, gather(small).inputs, 1, 0) if item.kind == "stall torque"
    )
    changed = stall.at(2.0)
    assert changed.runs[0].servo == small.runs[0].servo
    torques = [
        row.stall_torque.m_as("kg*cm*standard_gravity") for row in changed.runs[1].servo.rows
    ]
    assert torques == pytest.approx([5.2, 6.4])


def test_standard_sizes_are_even_gauges_or_metric_sections(small):
    found = {
        item.place: item
        for item in changes(small, gather(small).inputs, 0, 0)
        if item.kind == "wire gauge"
    }
    by_gauge, by_section = found["lead of 'aileron'"], found["trunk 'trunk'"]
    assert [by_gauge.told(size) for size in by_gauge.sizes] == GAUGES[GAUGES.index("28 AWG") :]
    assert [by_section.told(size) for size in by_section.sizes] == SECTIONS[3:]
    for small_size, size in pairwise(by_gauge.sizes):  # two gauges: 92 ** (2 * 2 / 39)
        assert size / small_size == pytest.approx(92 ** (4 / 39))  # ASTM B258


# drawn aircraft ----------------------------------------------------------------------------


@st.composite
def trees(draw):
    def between(low, high, unit):
        return f"{draw(st.floats(low, high)):.4g} {unit}"

    tree = copy.deepcopy(SMALL)
    wing, run = tree["servos"]["wing"], tree["runs"][0]
    linkage = run["linkages"][0]
    tree["supply"]["voltage"] = between(4.5, 8.5, "V")
    tree["leads"]["tip"]["gauge"] = draw(st.sampled_from(["26 AWG", "31 AWG", "0.14 mm^2"]))
    tree["leads"]["tip"]["length"] = between(0.3, 2, "m")
    tree["cases"][0]["speed"] = between(10, 30, "m/s")
    tree["cases"][0]["kind"] = draw(st.sampled_from(["manoeuvre", "dive", "sustained"]))
    linkage["arm"], linkage["horn"] = between(6, 20, "mm"), between(8, 25, "mm")
    linkage["pushrod"] = {"length": between(60, 500, "mm"), "diameter": between(0.8, 2, "mm")}
    linkage["surface"]["chord_ratio"] = draw(st.floats(0.15, 0.5))
    linkage["surface"]["throw_up"] = between(5, 30, "deg")
    linkage["joint_rating"] = between(20, 200, "N")
    wing["rows"][0]["stall_torque"] = between(1, 3, "kg·cm")
    wing["minimum_voltage"] = between(3, 5, "V")
    tree["runs"] = [run]
    return tree


KINDS = [
    "stall torque", "no-load speed", "arm hole", "horn hole", "wire gauge", "lead length",
    "supply voltage", "current limit of the supply", "rod diameter", "free length of the rod",
    "joint rating", "joint play", "throw", "flight speed", "servo travel",
]  # fmt: skip


@settings(max_examples=8)
@given(tree=trees(), kinds=st.sets(st.sampled_from(KINDS), min_size=4, max_size=4))
def test_remedies_of_any_aircraft_clear_and_a_little_less_does_not(read, tree, kinds):
    with pytest.MonkeyPatch.context() as patch:
        only_kinds(patch, kinds)
        found = remedies(read(tree))
    assert_least(tree, read, found)


# other descriptions -------------------------------------------------------------------------


def helps(aircraft, mode, **chosen):
    """Return the remedies of a mode by kind."""
    found = [item for item in remedies(aircraft, **chosen).shortfalls if item.place.mode == mode]
    assert len(found) == 1
    return {remedy.kind: remedy for remedy in found[0].remedies}


def single(**case):
    """Return the small aircraft with its first run only."""
    tree = copy.deepcopy(SMALL)
    tree["runs"] = tree["runs"][:1]
    tree["cases"][0] |= case
    return tree


def test_in_space_the_vector_from_the_pivot_is_scaled(read, only):
    """A horn drawn in space has to be as much longer as one laid out from radii."""
    only("horn hole")
    drawn = single()
    linkage = drawn["runs"][0]["linkages"][0]
    arm = {
        "pivot": ["0 mm", "0 mm", "0 mm"],
        "axis": [0, 1, 0],
        "vector": ["0 mm", "0 mm", "12 mm"],
    }
    horn = {
        "pivot": ["420 mm", "0 mm", "1 mm"],
        "axis": [0, 1, 0],
        "vector": ["0 mm", "0 mm", "11 mm"],
    }
    linkage |= {"arm": arm, "horn": horn, "pushrod": {"diameter": "1.2 mm"}}
    aircraft = read(drawn)
    change = changes(aircraft, gather(aircraft).inputs, 0, 0)
    arm_hole = next(item for item in change if item.kind == "arm hole")
    shorter = gather(arm_hole.at(0.75)).inputs.geometry
    assert shorter.arm[0] == pytest.approx([0, 0, 0.009])
    assert shorter.horn[0] == pytest.approx([0, 0, 0.011])
    assert arm_hole.told(0.75) == "9 mm"
    in_space, laid_out = (helps(item, "joint")["horn hole"] for item in (aircraft, read(single())))
    assert in_space.factor - 1 == pytest.approx(laid_out.factor - 1, rel=0.05)


def test_a_range_that_a_case_states_is_what_is_asked_for_less(read, only):
    only("deflection asked for")
    tree = single()
    stated = {"name": "stated", "speed": "105 km/h", "deflection": ["-20 deg", "12 deg"]}
    stated["runs"] = [{"run": "aileron", "wash_speed": "1 m/s"}]
    tree["cases"].append(stated)
    aircraft = read(tree)
    inputs = gather(aircraft).inputs
    by_case = [{item.kind: item for item in changes(aircraft, inputs, 0, case)} for case in (0, 1)]
    assert "throw" in by_case[0]
    assert "deflection asked for" not in by_case[0]
    assert "throw" not in by_case[1]
    asked = by_case[1]["deflection asked for"]
    assert asked.told(0.5) == "-10 deg, 6 deg"
    less = gather(asked.at(0.5)).inputs.cases
    assert np.degrees(less.low[:, 0]) == pytest.approx([-20, -10])
    assert np.degrees(less.high[:, 0]) == pytest.approx([15, 6])
    remedy = helps(aircraft, "torque", case="stated")["deflection asked for"]
    stated["deflection"] = remedy.after.split(", ")
    assert margin_at(read(tree), study.Place("aileron", "stated", "torque")) >= 0


def test_a_fraction_that_a_case_states_for_a_run_goes_before_a_range(read):
    tree = single()
    stated = {"deflection": ["-20 deg", "12 deg"], "runs": [{"run": "aileron", "fraction": 0.5}]}
    tree["cases"][0] |= stated
    aircraft = read(tree)
    kinds = {item.kind for item in changes(aircraft, gather(aircraft).inputs, 0, 0)}
    assert "throw" in kinds
    assert "deflection asked for" not in kinds


def test_pilot_inputs_that_are_mixed_are_scaled_together(read):
    tree = single()
    tree["runs"][0]["linkages"][0]["surface"]["mixing"] = [
        {"name": "pitch", "rate_up": "12 deg", "rate_down": "8 deg"},
        {"name": "roll", "rate": "6 deg", "sense": "opposite"},
    ]
    aircraft = read(tree)
    found = changes(aircraft, gather(aircraft).inputs, 0, 0)
    throw = next(item for item in found if item.kind == "throw")
    less = gather(throw.at(0.5)).inputs.cases
    assert np.degrees([less.low[0, 0], less.high[0, 0]]) == pytest.approx([-9, 7])


def test_every_linkage_of_a_run_is_changed_together(read):
    tree = single()
    other = copy.deepcopy(tree["runs"][0]["linkages"][0]) | {"arm": "8 mm"}
    tree["runs"][0]["linkages"].append(other)
    aircraft = read(tree)
    found = changes(aircraft, gather(aircraft).inputs, 0, 0)
    arm = next(item for item in found if item.kind == "arm hole")
    assert arm.told(1.0) == "12 mm, 8 mm"
    radii = [linkage.arm.radius.m_as("mm") for linkage in arm.at(0.5).runs[0].linkages]
    assert radii == pytest.approx([6, 4])


def test_a_change_that_the_model_refuses_is_told_with_its_reason(read, only):
    only("supply voltage")
    tree = single()
    tree["supply"] |= {"regulator": "linear", "input_voltage": "7 V", "heat_rating": "50 W"}
    torque = next(item for item in remedies(read(tree)).shortfalls if item.place.mode == "torque")
    assert [item.bound for item in torque.futile] == ["12 V"]
    assert [item.reason for item in torque.futile] == ["7 V"]


# names, failures, progress ------------------------------------------------------------------


def test_an_unknown_name_is_told_with_the_nearest(small):
    with pytest.raises(InputFaults, match="Did you mean 'aileron'") as error:
        remedies(small, run="airelon")
    assert error.value.faults[0].place == "run"
    with pytest.raises(InputFaults, match=r"flight case.*Did you mean 'turn'"):
        remedies(small, case="dive")


def test_only_what_is_asked_for_is_looked_at(small, only):
    only("joint rating")
    found = remedies(small, run="flap", case="turn")
    assert {item.place[:2] for item in found.shortfalls} == {("flap", "turn")}
    everything = remedies(small).shortfalls
    assert {item.place.run for item in everything} == {"aileron", "flap"}
    assert found.shortfalls == tuple(item for item in everything if item.place.run == "flap")


def test_progress_counts_shortfalls(small, only):
    only("joint rating")
    told = []
    found = remedies(small, progress=lambda *numbers: told.append(numbers))
    count = len(found.shortfalls)
    assert count > 5
    assert told == [(done, count) for done in range(count + 1)]


def test_where_nothing_is_short_nothing_is_done(read):
    tree = copy.deepcopy(SMALL)
    tree["cases"][0] |= {"speed": "5 m/s", "wanted_rate": "10 deg/s"}
    tree["supply"] |= {"current_limit": "20 A"}
    tree["servos"]["wing"]["minimum_voltage"] = "3 V"
    for run in tree["runs"]:
        run["linkages"][0]["joint_play"] = "0.05 mm"
    told = []
    found = remedies(read(tree), progress=lambda *numbers: told.append(numbers))
    assert found.shortfalls == ()
    assert found.unknown == ()
    assert told == [(0, 0)]


def test_margins_that_cannot_be_computed_are_told_with_the_reason_of_a_check(read, only):
    only("joint rating")
    tree = single()
    tree["servos"]["wing"]["below_first_row"] = "refuse"
    tree["leads"]["tip"]["length"] = "40 m"
    aircraft = read(tree)
    found = remedies(aircraft)
    case = linkcalc.check(aircraft).runs[0].cases[0]
    wanted = [
        (item.mode, item.reason) for item in case.margins if item.applies and item.margin is None
    ]
    assert "torque" in dict(wanted)
    assert [(place.mode, reason) for place, reason in found.unknown] == wanted
    assert not {place for place, _ in found.unknown} & {item.place for item in found.shortfalls}


def test_a_run_whose_servos_are_all_dead_needs_nothing(read, only):
    only("joint rating")
    tree = copy.deepcopy(SMALL)
    tree["cases"][0]["runs"] = [{"run": "flap", "dead_servos": 1}]
    found = remedies(read(tree))
    assert {item.place.run for item in found.shortfalls} == {"aileron"}
    assert found.unknown == ()


def test_a_solver_that_fails_takes_only_its_own_margins_down(small, monkeypatch, only):
    only("joint play")
    load = solvers.load

    def broken(kind, name):
        if kind == "hinge moment":
            raise SolverError("The hinge moment solver is broken.", name)
        return load(kind, name)

    monkeypatch.setattr(solvers, "load", broken)
    found = remedies(small, run="flap")
    play = next(item for item in found.shortfalls if item.place.mode == "free play")
    assert [remedy.kind for remedy in play.remedies] == ["joint play"]
    assert dict(found.unknown)["flap", "turn", "torque"] == "The hinge moment solver is broken."
    report = linkcalc.check(small)
    assert play.remedies[0].short[0] == not_passing(report)


def test_a_solver_that_fails_on_a_changed_aircraft_refuses_only_that(small, monkeypatch, only):
    only("stall torque", "flight speed")
    call = solvers.call_hinge_moment
    limit = 0.5 * 1.225 * (103 / 3.6) ** 2

    def at_speed_only(solver, offered):
        if np.min(offered["dynamic_pressure"]) < limit:
            raise SolverError("Below its range.", "thin_aerofoil")
        return call(solver, offered)

    monkeypatch.setattr(solvers, "call_hinge_moment", at_speed_only)
    found = remedies(small, run="flap")
    torque = next(item for item in found.shortfalls if item.place.mode == "torque")
    assert [item.reason for item in torque.futile] == ["Below its range."]
    assert [item.kind for item in torque.remedies] == ["stall torque"]


def test_a_solver_that_is_not_installed_is_refused(read):
    tree = copy.deepcopy(SMALL)
    tree["runs"][0]["linkages"][0]["surface"]["solver"] = "sorcery"
    with pytest.raises(InputFaults, match="sorcery"):
        remedies(read(tree))
