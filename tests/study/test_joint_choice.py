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
from linkcalc.study.joint_choice import choose_each
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
    first, second = (choose_each(glider, catalogue(each), runs=RUNS) for each in (some, turned))
    assert first.runs == second.runs
    assert (first.cost, first.tried, first.margin) == (second.cost, second.tried, second.margin)
    costs = [
        choose_each(glider, catalogue(parts.servos[::step]), runs=RUNS[1:], by="price").bound
        for step in (36, 18, 9)
    ]
    assert costs == sorted(costs, reverse=True)


def test_jobs_and_a_cluster_change_nothing(glider, parts):
    from distributed import Client, LocalCluster  # noqa: PLC0415 - slow to import

    some = catalogue(parts.servos[::12])
    alone = choose_each(glider, some, runs=RUNS)
    with (
        LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        others = [Workers(jobs=2), Workers(cluster=client)]
        found = [choose_each(glider, some, runs=RUNS, workers=each) for each in others]
    for each in found:
        assert each._replace(described=None) == alone._replace(described=None)


def test_holes_and_wires_are_chosen_for_each_run(glider, parts):
    over = {"servo": [each.name for each in parts.servos[58:64]], "gauge": ["30 AWG", "24 AWG"]}
    found = choose_each(glider, parts, runs=["elevator", "rudder"], over=over)
    assert found.exact
    assert {tuple(each.parts) for each in found.runs} == {("servo", "gauge")}
    weights = []
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
        if holds(report, linkcalc.check(glider), ("elevator", "rudder")):
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


def test_what_cannot_be_asked_is_told(glider, parts):
    for more, words in (
        ({"by": "margin"}, "'mass', 'price', 'balance'"),
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
