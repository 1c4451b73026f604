"""Parts for all runs together, held to a plain loop over checks of every set."""

import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

import linkcalc
from linkcalc import DatasheetRow
from linkcalc.catalogue import Catalogue, ServoPart
from linkcalc.choosing.joint_choice import choose_each
from linkcalc.study.running import Workers

ROOT = Path(__file__).resolve().parents[2]
RUNS = ("inboard flap, port", "elevator", "rudder")


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(ROOT / "examples/sandpiper_rewired.toml")


@pytest.fixture(scope="module")
def parts():
    return linkcalc.read_catalogue(ROOT / "examples/catalogue/parts.toml")


def weak(glider, ohms):
    """The glider on a source that sags, so that a thirsty servo on one run is felt on the others."""
    supply = linkcalc.replace(
        glider.supply, internal_resistance=f"{ohms} ohm", current_limit="none"
    )
    return linkcalc.replace(glider, supply=supply)


def part(name, torque, amperes, mass, price):
    row = DatasheetRow(
        voltage="6 V",
        stall_torque=f"{torque} kg·cm",
        no_load_speed="0.1 s/60deg",
        stall_current=f"{amperes} A",
    )
    return ServoPart(
        name=name,
        source="invented",
        rows=[row],
        mass=f"{mass} g",
        price=price,
        minimum_voltage="3.5 V",
        maximum_voltage="8.4 V",
    )


def catalogue(servos):
    return Catalogue(name="c", currency="EUR", servos=servos)


def holds(report, now, own):
    """Tell whether a report passes in some runs, and in others where it passes now."""
    for run, before in zip(report.runs, now.runs, strict=True):
        for case, held in zip(run.cases, before.cases, strict=True):
            for margin, earlier in zip(case.margins, held.margins, strict=True):
                known = margin.margin is not None and margin.margin >= 0
                held_before = earlier.margin is not None and earlier.margin >= 0
                if margin.applies and not known and (run.name in own or held_before):
                    return False
    return True


def by_brute_force(glider, servos, runs, cost, *, same=False):
    """Return the cheapest sets that pass, each as names by run, and what they cost."""
    now = linkcalc.check(glider)
    best, found = math.inf, []
    for each in itertools.product(servos, repeat=len(runs)):
        if same and len({part.name for part in each}) > 1:
            continue
        total = math.fsum(cost(part) for part in each)
        if total > best + 1e-9:
            continue
        put = dict(zip(runs, each, strict=True))
        changed = [
            linkcalc.replace(run, servo=put[run.name].servo()) if run.name in put else run
            for run in glider.runs
        ]
        if holds(linkcalc.check(linkcalc.replace(glider, runs=changed)), now, runs):
            if total < best - 1e-9:
                best, found = total, []
            found.append(tuple(part.name for part in each))
    return best, found


drawn_parts = st.lists(
    st.tuples(
        st.sampled_from([0.6, 1.2, 2.4, 5.0]),
        st.sampled_from([0.3, 0.8, 2.0, 6.0]),
        st.sampled_from([5, 9, 14, 22]),
        st.sampled_from([4, 7, 11, 30]),
    ),
    min_size=1,
    max_size=4,
).map(lambda drawn: [part(f"part{at}", *figures) for at, figures in enumerate(drawn)])


# Each example takes seconds: a failure is told as it was found, not made smaller for minutes.
@settings(
    max_examples=8,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)
@given(
    servos=drawn_parts,
    ohms=st.sampled_from([0.04, 0.3, 0.8]),
    by=st.sampled_from(["mass", "price"]),
    same=st.booleans(),
)
def test_the_set_is_that_of_a_loop_over_checks(glider, servos, ohms, by, same):
    described = weak(glider, ohms)
    found = choose_each(described, catalogue(servos), runs=RUNS, by=by, same_servo=same)

    def cost(each):
        return each.mass.m_as("g") if by == "mass" else each.price

    best, sets = by_brute_force(described, servos, RUNS, cost, same=same)
    assert found.exact
    assert found.bound == pytest.approx(best)
    if math.isinf(best):
        assert found.described is None
        assert all(not each.parts for each in found.runs)
        return
    assert found.cost == pytest.approx(best)
    names = {each.run: each.parts["servo"] for each in found.runs}
    assert tuple(names[run] for run in RUNS) in sets
    report = linkcalc.check(found.described)
    least = min(
        margin.margin
        for run in report.runs
        if run.name in RUNS
        for case in run.cases
        for margin in case.margins
        if margin.applies
    )
    assert found.margin == pytest.approx(least, rel=1e-12, abs=1e-12)


THIRSTY = [
    part("strong and thirsty", 4.0, 1.5, 5, 5),
    part("strong", 4.0, 0.5, 9, 9),
    part("weak", 0.1, 0.2, 1, 1),
]


def test_parts_that_pass_alone_are_not_taken_where_they_starve_one_another(glider):
    described = weak(glider, 0.3)
    found = choose_each(described, catalogue(THIRSTY), runs=RUNS)
    assert [each.left for each in found.runs] == [2, 2, 2]  # both strong ones, each alone
    assert {each.parts["servo"] for each in found.runs} == {"strong", "strong and thirsty"}
    best, sets = by_brute_force(described, THIRSTY, RUNS, lambda each: each.mass.m_as("g"))
    names = {each.run: each.parts["servo"] for each in found.runs}
    assert tuple(names[run] for run in RUNS) in sets
    assert found.cost == pytest.approx(best)


def test_order_of_the_catalogue_never_matters_and_a_further_part_never_worsens(glider, parts):
    some = list(parts.servos[::9])
    turned = [some[at] for at in np.random.default_rng(3).permutation(len(some))]
    by = ["mass", "price", "margin"]
    first, second = (
        choose_each(glider, catalogue(each), runs=RUNS, by=by) for each in (some, turned)
    )
    assert (first.runs, first.front) == (second.runs, second.front)
    assert len(first.front) > 1
    assert (first.cost, first.tried, first.margin) == (second.cost, second.tried, second.margin)
    costs = [
        choose_each(glider, catalogue(parts.servos[::step]), runs=RUNS[1:], by="price").bound
        for step in (36, 18, 9)
    ]
    assert costs == sorted(costs, reverse=True)


def test_jobs_a_cluster_of_two_processes_and_blocks_change_nothing(
    glider, parts, cluster, monkeypatch
):
    some, by = catalogue(parts.servos[::12]), ["mass", "price", "margin"]
    alone = choose_each(glider, some, runs=RUNS, by=by)
    others = Workers(jobs=2), Workers(cluster=cluster), Workers(cluster=cluster.scheduler.address)
    found = [choose_each(glider, some, runs=RUNS, by=by, workers=each) for each in others]
    for at_once in (1, 7):
        monkeypatch.setattr("linkcalc.choosing.joint_search._TASK", at_once)
        found.append(choose_each(glider, some, runs=RUNS, by=by))
    assert len(alone.front) > 1
    for each in found:
        assert repr(each._replace(described=None)) == repr(alone._replace(described=None))


def test_holes_and_wires_are_chosen_for_each_run(glider, parts):
    over = {"servo": [each.name for each in parts.servos[58:64]], "gauge": ["30 AWG", "24 AWG"]}
    found = choose_each(glider, parts, runs=["elevator", "rudder"], over=over)
    assert found.exact
    assert {tuple(each.parts) for each in found.runs} == {("servo", "gauge")}
    weights, now = [], linkcalc.check(glider)
    for one, other in itertools.product(itertools.product(*over.values()), repeat=2):
        put = {"elevator": one, "rudder": other}
        changed = []
        for run in glider.runs:
            if run.name in put:
                servo, gauge = put[run.name]
                known = next(each for each in parts.servos if each.name == servo)
                lead = linkcalc.replace(run.lead, name=f"of {run.name}", gauge=gauge)
                run = linkcalc.replace(run, servo=known.servo(), lead=lead)  # noqa: PLW2901
            changed.append(run)
        report = linkcalc.check(linkcalc.replace(glider, runs=changed))
        if holds(report, now, ("elevator", "rudder")):
            weights.append(sorted(put.items()))
    chosen = sorted((each.run, tuple(each.parts.values())) for each in found.runs)
    assert chosen in weights


def test_totals_are_kept(glider, parts):
    free = choose_each(glider, parts, runs=RUNS[1:])
    dear = sum(
        next(part.price for part in parts.servos if part.name == each.parts["servo"])
        for each in free.runs
    )
    kept = choose_each(glider, parts, runs=RUNS[1:], total_price=dear - 0.01)
    spent = sum(
        next(part.price for part in parts.servos if part.name == each.parts["servo"])
        for each in kept.runs
    )
    assert spent < dear
    assert kept.cost > free.cost
    none = choose_each(glider, parts, runs=RUNS[1:], total_mass="1 g")
    assert (none.described, none.exact, none.bound) == (None, True, math.inf)


def test_a_search_cut_short_says_what_it_can_have_missed(glider):
    described = weak(glider, 0.3)
    whole = choose_each(described, catalogue(THIRSTY), runs=RUNS)
    part = choose_each(described, catalogue(THIRSTY), runs=RUNS, most_tries=1)
    assert not part.exact
    assert part.bound <= whole.cost


def test_nothing_is_left_out_early_where_more_current_may_help(glider):
    regulator = linkcalc.Regulator(kind="switching", voltage="5.5 V", current_limit="none")
    described = weak(glider, 0.3)
    lead = linkcalc.replace(described.runs[4].lead, name="own", regulator=regulator)
    run = linkcalc.replace(described.runs[4], lead=lead)
    runs = [*described.runs[:4], run, *described.runs[5:]]
    described = linkcalc.replace(described, runs=runs)
    found = choose_each(described, catalogue(THIRSTY), runs=RUNS)
    assert [each.left for each in found.runs] == [3, 3, 3]
    best, _ = by_brute_force(described, THIRSTY, RUNS, lambda each: each.mass.m_as("g"))
    assert found.bound == pytest.approx(best)


def test_a_run_without_candidates_says_why(glider, parts):
    found = choose_each(glider, parts, runs=RUNS, most_price=1)
    assert (found.described, found.exact) == (None, True)
    assert all("'price at most 1 EUR' removed the last 144" in each.empty for each in found.runs)
    weak_parts = catalogue([THIRSTY[2]])
    found = choose_each(glider, weak_parts, runs=RUNS)
    assert all("even with nothing else on the supply" in each.empty for each in found.runs)


def test_a_servo_without_a_price_is_left_out_where_prices_are_compared(glider):
    known, unknown = THIRSTY[1], linkcalc.replace(THIRSTY[0], name="priceless", price=None)
    asked = {"runs": RUNS[1:], "by": ["mass", "price"]}
    found = choose_each(glider, catalogue([unknown, known]), **asked)
    assert all(run.out == {"mass or price not known": 1} for run in found.runs)
    assert all(run.parts == {"servo": known.name} for run in found.runs)
    none = choose_each(glider, catalogue([unknown]), **asked)
    assert {run.empty for run in none.runs} == {"The mass or price of no candidate is known."}
    light = choose_each(glider, catalogue([unknown, known]), runs=RUNS[1:])
    assert all(run.out == {} for run in light.runs)


def test_what_cannot_be_asked_is_told(glider, parts):
    for more, words in (
        ({"by": "placard"}, "'mass', 'price', 'balance', 'margin'"),
        ({"by": []}, "one or more of"),
        ({"bay": {"ruder": ("1 m", "1 m", "1 m")}}, "names of control runs"),
        ({"over": {"supply.voltage": ["5 V"]}}, "some of 'servo'"),
        ({"runs": ["ruder"]}, "names of control runs"),
        ({"by": "balance"}, "balance_arm"),
    ):
        with pytest.raises(linkcalc.InputError, match=words):
            choose_each(glider, parts, **more)


def test_runs_that_share_what_is_chosen_are_told(glider, parts):
    trunk = glider.runs[3].lead  # the port outboard aileron hangs from it, too
    runs = [
        linkcalc.replace(run, lead=trunk) if run.name == "rudder" else run for run in glider.runs
    ]
    shared = linkcalc.replace(glider, runs=runs)
    both = ["inboard flap, port", "rudder"]
    with pytest.raises(linkcalc.InputError, match="such as a lead that feeds both"):
        choose_each(shared, parts, runs=both, over={"gauge": ["16 AWG", "18 AWG"]})


# the front ------------------------------------------------------------------------------


def every_set(glider, servos, runs):
    """Return mass, price and margin of every set that passes, in a plain loop over checks."""
    now, made = linkcalc.check(glider), {}
    for each in itertools.product(servos, repeat=len(runs)):
        put = dict(zip(runs, each, strict=True))
        changed = [
            linkcalc.replace(run, servo=put[run.name].servo()) if run.name in put else run
            for run in glider.runs
        ]
        report = linkcalc.check(linkcalc.replace(glider, runs=changed))
        if holds(report, now, runs):
            mass = math.fsum(part.mass.m_as("g") for part in each)
            price = math.fsum(part.price for part in each)
            made[tuple(part.name for part in each)] = (mass, price, least_of(report, runs))
    return made


def least_of(report, runs):
    return min(
        margin.margin
        for run in report.runs
        if run.name in runs
        for case in run.cases
        for margin in case.margins
        if margin.applies
    )


def beats(one, other, names):
    """The definition, with what differs by less than 1e-9 taken as alike; large margins are good."""
    signs = [-1 if name == "margin" else 1 for name in names]
    pairs = list(zip(one, other, signs, strict=True))
    at_most = all(sign * (a - b) <= 1e-9 for a, b, sign in pairs)
    return at_most and any(sign * (a - b) < -1e-9 for a, b, sign in pairs)


@settings(
    max_examples=5,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)
@given(servos=drawn_parts, ohms=st.sampled_from([0.04, 0.3, 0.8]), order=st.permutations([0, 1, 2]))
def test_the_front_is_that_of_a_loop_over_checks(glider, servos, ohms, order):
    described = weak(glider, ohms)
    assert_front_is_whole(described, servos, order, every_set(described, servos, RUNS))


def test_the_front_of_parts_that_starve_one_another_is_that_of_a_loop_over_checks(glider):
    described, servos = weak(glider, 0.3), [*THIRSTY, part("middling", 3.0, 0.7, 7.4, 20.25)]
    every = every_set(described, servos, RUNS)
    for order in ((0, 1, 2), (2, 0, 1)):
        assert len(assert_front_is_whole(described, servos, order, every)) > 2


def test_the_front_of_invented_servos_is_that_of_a_loop_over_checks(glider, parts):
    some, runs = parts.servos[58::12], RUNS[1:]
    every = every_set(glider, some, runs)
    front = assert_front_is_whole(glider, some, (1, 2), every, runs)
    assert len(front) > 3


def assert_front_is_whole(described, servos, order, every, runs=RUNS):
    names = [("mass", "price", "margin")[at] for at in sorted(order)]
    by = [("mass", "price", "margin")[at] for at in order]
    found = choose_each(described, catalogue(servos), runs=runs, by=by)
    every = {chosen: tuple(each[at] for at in sorted(order)) for chosen, each in every.items()}
    front = {}
    for each in found.front:
        got = {told.run: parts["servo"] for told, parts in zip(found.runs, each.parts, strict=True)}
        values = dict(zip(by, each.values, strict=True))
        front[tuple(got[run] for run in runs)] = tuple(values[name] for name in names)
    assert len(front) == len(found.front)
    assert (found.exact, math.isnan(found.front_bound), found.complete) == (True, True, True)
    for each, values in front.items():
        assert values == pytest.approx(every[each], rel=1e-12, abs=1e-9)  # margins have nine digits
        assert not any(beats(other, values, names) for other in every.values())
    for values in every.values():
        assert any(
            beats(member, values, names) or values == pytest.approx(member, abs=2e-9)
            for member in front.values()
        )
    assert bool(every) == bool(front)
    if front:
        assert found.cost == found.front[0].values[0]
        assert [run.parts for run in found.runs] == list(found.front[0].parts)
    return front


def test_a_front_cut_short_has_all_members_below_its_bound(glider, parts):
    some, by = catalogue(parts.servos[::6]), ["mass", "price", "margin"]
    whole = choose_each(glider, some, runs=RUNS, by=by)
    for tries in (10, 25, 60, 150):
        part_of_it = choose_each(glider, some, runs=RUNS, by=by, most_tries=tries)
        if math.isnan(part_of_it.front_bound):
            assert part_of_it.front == whole.front
            continue
        below = [each for each in whole.front if each.values[0] < part_of_it.front_bound]
        assert list(part_of_it.front[: len(below)]) == (below if part_of_it.exact else [])
        assert set(map(repr, part_of_it.front)) <= set(map(repr, whole.front))
    assert math.isnan(whole.front_bound)
    assert len(whole.front) > 3


def test_a_further_part_leaves_no_member_of_the_front_better_than_all_new_ones(glider, parts):
    fewer, more = (
        choose_each(glider, catalogue(parts.servos[::step]), runs=RUNS[1:], by=["price", "margin"])
        for step in (12, 6)
    )
    for each in fewer.front:
        assert any(
            one.values[0] <= each.values[0] and one.values[1] >= each.values[1]
            for one in more.front
        )


# what is kept ---------------------------------------------------------------------------


def counting(monkeypatch):
    """Count sets that are evaluated, and return where."""
    from linkcalc.choosing.assembly import Assembly  # noqa: PLC0415 - what is counted

    counts, inputs = [], Assembly.inputs

    def counted(assembly, sets):
        counts.append(len(sets))
        return inputs(assembly, sets)

    monkeypatch.setattr(Assembly, "inputs", counted)
    return counts


def test_an_interruption_keeps_what_is_done_and_the_answer_is_that_of_one_go(
    glider, parts, tmp_path, monkeypatch
):
    some, by, kept = catalogue(parts.servos[::6]), ["mass", "margin"], tmp_path / "kept.npz"
    whole = choose_each(glider, some, runs=RUNS, by=by)
    asked = {"runs": RUNS, "by": by, "keep": kept}

    def stop(done, _):
        if done >= whole.tried // 3:
            raise KeyboardInterrupt

    stopped = choose_each(glider, some, **asked, progress=stop)
    assert not stopped.complete
    assert 0 < stopped.tried < whole.tried
    counts = counting(monkeypatch)
    again = choose_each(glider, some, **asked)
    corners = 3  # evaluated in any case, to see whether runs act on each other
    assert sum(counts) == whole.tried - stopped.tried + corners
    assert repr(again._replace(described=None)) == repr(whole._replace(described=None))
    counts.clear()
    choose_each(glider, some, **asked)
    assert sum(counts) == corners


def test_an_interruption_before_any_set_tells_what_sets_come_to_at_least(
    glider, parts, tmp_path, monkeypatch
):
    from linkcalc.study.running import Crew  # noqa: PLC0415 - what is stopped

    each, calls = Crew.each, []

    def stop(crew, function, tasks):
        calls.append(tasks)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return each(crew, function, tasks)

    some, kept = catalogue(parts.servos[::6]), tmp_path / "kept.npz"
    monkeypatch.setattr(Crew, "each", stop)
    stopped = choose_each(glider, some, runs=RUNS, keep=kept)
    assert (stopped.complete, stopped.exact, stopped.described) == (False, False, None)
    lightest = min(part.mass.m_as("g") for part in some.servos)
    assert [run.left for run in stopped.runs[1:]] == [24, 24]  # not known to be out
    monkeypatch.undo()
    counts = counting(monkeypatch)
    whole = choose_each(glider, some, runs=RUNS, keep=kept)
    assert sum(counts) == whole.tried + 3 - 24  # the candidates of the first run were known
    assert stopped.runs[0].left == whole.runs[0].left < 24
    assert 3 * lightest < stopped.bound <= whole.cost


def test_a_file_of_another_question_or_none_is_refused(glider, parts, tmp_path):
    kept = tmp_path / "kept.npz"
    choose_each(glider, catalogue(parts.servos[::24]), runs=RUNS, keep=kept)
    for more in ({"runs": RUNS[1:]}, {"runs": RUNS, "over": {"servo": ["invented-013"]}}):
        with pytest.raises(linkcalc.InputFaults, match="another study"):
            choose_each(glider, parts, **more, keep=kept)
    kept.write_bytes(b"PK\x03\x04 broken")
    with pytest.raises(linkcalc.InputFaults, match="an earlier run of the same study"):
        choose_each(glider, catalogue(parts.servos[::24]), runs=RUNS, keep=kept)


# what is no candidate -------------------------------------------------------------------


def test_a_hole_that_no_aircraft_could_have_is_left_out_with_its_reason():
    wing = linkcalc.read_aircraft(ROOT / "examples/tern_flying_wing.toml")
    tabs = next(run for run in wing.runs if run.name == "trim tabs")
    first = tabs.linkages[0]
    # Pivots stand 120 mm apart: a rod of that length has no way to a hole of 60 mm.
    rod = linkcalc.replace(first.pushrod, length="120 mm")
    short = linkcalc.replace(tabs, linkages=[linkcalc.replace(first, pushrod=rod)])
    runs = [short if run.name == "trim tabs" else run for run in wing.runs]
    described = linkcalc.replace(wing, runs=runs)
    parts = linkcalc.read_catalogue(ROOT / "examples/catalogue/parts.toml")
    asked = {"runs": ["trim tabs"], "by": "margin"}
    found = choose_each(described, parts, over={"arm hole": ["60 mm", "8 mm"]}, **asked)
    (run,) = found.runs
    assert run.unsound == {"60 mm": "a rod that is too short to close at neutral"}
    assert (run.parts, run.offered, run.left) == ({"arm hole": "8 mm"}, 1, 1)
    alone = choose_each(described, parts, over={"arm hole": ["8 mm"]}, **asked)
    assert alone.margin == found.margin
    (untouched,) = alone.runs
    assert untouched.unsound == {}
    none = choose_each(described, parts, over={"arm hole": ["60 mm"]}, **asked)
    assert (none.described, none.exact) == (None, True)
    assert none.runs[0].unsound == run.unsound
    assert none.runs[0].empty == "There are no candidates."


def test_doubted_servos_are_left_out_and_counted(glider, parts):
    found = choose_each(glider, parts, runs=RUNS[1:], undoubted=True)
    for run in found.runs:
        assert run.parts["servo"] not in found.doubts
        assert run.out == {"not of an undoubted datasheet": 36}
        assert run.offered == 144
    assert choose_each(glider, parts, runs=RUNS[1:]).cost < found.cost  # a doubted one wins


def test_a_run_has_a_bay_of_its_own(glider, parts):
    by_name = {part.name: part for part in parts.servos}
    bay = {"elevator": ("24 mm", "13 mm", "26 mm"), "": ("35 mm", "18 mm", "36 mm")}
    found = choose_each(glider, parts, runs=RUNS[1:], by="margin", bay=bay)
    tail, rudder = found.runs
    lengths = {run.run: by_name[run.parts["servo"]].length.m_as("mm") for run in found.runs}
    assert lengths["elevator"] <= 24
    assert "not inside the bay of 'elevator'" in tail.out
    assert "not inside the bay" in rudder.out
    assert tail.out["not inside the bay of 'elevator'"] > rudder.out["not inside the bay"]


def test_parts_that_together_starve_a_run_without_new_ones_do_not_pass(glider):
    # Stalled, each is 6 V / 30 A = 0.2 ohm behind a source of half as much; two are as much as it.
    thirsty = linkcalc.replace(part("thirsty", 40, 30, 60, 9), minimum_voltage="0.5 V")
    found = choose_each(weak(glider, 0.1), catalogue([thirsty]), runs=RUNS[1:])
    assert [each.left for each in found.runs] == [1, 1]
    assert (found.described, found.exact) == (None, True)


def test_a_regulator_whose_heat_is_checked_leaves_nothing_out_early(glider):
    regulator = linkcalc.Regulator(
        kind="linear", voltage="5.5 V", current_limit="none", heat_rating="3 W"
    )
    lead = linkcalc.replace(glider.runs[4].lead, name="own", regulator=regulator)
    run = linkcalc.replace(glider.runs[4], lead=lead)
    described = linkcalc.replace(glider, runs=[*glider.runs[:4], run, *glider.runs[5:]])
    found = choose_each(described, catalogue(THIRSTY), runs=RUNS[1:])
    assert [each.left for each in found.runs] == [3, 3]
