"""Parts of a catalogue in an aircraft, held to a plain loop over checks."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import linkcalc
from linkcalc import DatasheetRow
from linkcalc.catalogue import Catalogue, ServoPart
from linkcalc.choosing.choice import choose
from linkcalc.results import MODES
from linkcalc.study.running import Workers

ROOT = Path(__file__).resolve().parents[2]
NAMES = ("sandpiper", "sandpiper_rewired", "avocet_vee_tail", "tern_flying_wing")


@pytest.fixture(scope="module")
def aircraft():
    return {name: linkcalc.read_aircraft(ROOT / f"examples/{name}.toml") for name in NAMES}


@pytest.fixture(scope="module")
def parts():
    return linkcalc.read_catalogue(ROOT / "examples/catalogue/parts.toml")


def with_servo(aircraft, part, runs):
    return linkcalc.replace(
        aircraft,
        runs=[
            linkcalc.replace(run, servo=part.servo()) if index in runs else run
            for index, run in enumerate(aircraft.runs)
        ],
    )


def margins_of(described):
    """Margins by mode, case and run as a check tells them: inf where a mode does not apply."""
    report = linkcalc.check(described)
    found = np.full((len(MODES), len(described.cases), len(described.runs)), np.inf)
    for index, run in enumerate(report.runs):
        for case, told in enumerate(run.cases):
            for margin in told.margins:
                if margin.applies:
                    known = np.nan if margin.margin is None else margin.margin
                    found[MODES.index(margin.mode), case, index] = known
    return found


def by_checks(aircraft, servos, runs):
    """Margins by the loop that a flyer would write, shape (mode, servo, case, run)."""
    return np.stack([margins_of(with_servo(aircraft, part, runs)) for part in servos], axis=1)


def assert_same(found, expected, now, runs):
    """Hold what a choice has found to margins of shape (mode, candidate, case, run)."""
    own = sorted(runs)
    others = [run for run in range(now.shape[-1]) if run not in runs]
    by_mode = expected[..., own].min(axis=(-2, -1)).T
    assert np.isfinite(by_mode).any()
    np.testing.assert_allclose(found.by_mode, by_mode, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(found.margin, by_mode.min(axis=-1), rtol=1e-12, atol=1e-12)
    counts = np.where((now >= 0)[:, None], expected, np.inf)[..., others]
    beside = counts.min(axis=(0, 2, 3), initial=np.inf)
    np.testing.assert_allclose(found.beside, beside, rtol=1e-12, atol=1e-12)


def of_all(described, servos, runs, **more):
    names = [described.runs[index].name for index in sorted(runs)]
    catalogue = Catalogue(name="c", currency="EUR", servos=servos)
    return choose(described, catalogue, runs=names, **more)


def found_of(described, servos, runs, **more):
    return of_all(described, servos, runs, **more).combinations.found


quantities = st.builds(
    lambda torque, sweep, current, volts: [
        {
            "voltage": f"{volt} V",
            "stall_torque": f"{torque * volt / 6:.4f} kg·cm",
            "no_load_speed": f"{sweep * 6 / volt:.4f} s/60deg",
            **({"stall_current": f"{current * volt / 6:.4f} A"} if current else {}),
        }
        for volt in volts
    ],
    st.floats(0.5, 20),
    st.floats(0.06, 0.3),
    st.sampled_from([0, 0.4, 1.0, 2.5]),
    st.sampled_from([(4.8, 6.0), (6.0,), (5.0, 6.0, 7.4, 8.4), (6.0, 7.4)]),
)
extras = st.fixed_dictionaries(
    {},
    optional={
        "travel": st.sampled_from(["30 deg", "45 deg", "60 deg"]),
        "minimum_voltage": st.just("4.5 V"),
        "maximum_voltage": st.sampled_from(["5.5 V", "8.4 V"]),
        "gear_strength": st.just("12 kg·cm"),
        "gear_play": st.just("0.8 deg"),
        "figures": st.just("measured"),
        "price": st.sampled_from([5.0, 10.0]),
    },
)
servos = st.lists(
    st.tuples(quantities, extras, st.sampled_from([5.0, 9.0, 30.0])), min_size=1, max_size=5
).map(
    lambda drawn: [
        ServoPart(
            name=f"part{index}",
            source="invented",
            mass=f"{mass} g",
            rows=[DatasheetRow(**row) for row in rows],
            **more,
        )
        for index, (rows, more, mass) in enumerate(drawn)
    ]
)


# Each example takes seconds: a failure is told as it was found, not made smaller for minutes.
@settings(max_examples=6, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(drawn=servos, name=st.sampled_from(NAMES), data=st.data())
def test_margins_are_those_of_a_loop_over_checks(aircraft, drawn, name, data):
    described = aircraft[name]
    runs = data.draw(st.sets(st.integers(0, len(described.runs) - 1), min_size=1))
    found = of_all(described, drawn, runs, by=["mass", "margin"])
    expected, now = by_checks(described, drawn, runs), margins_of(described)
    assert_same(found.combinations.found, expected, now, runs)
    assert_ranked(found, drawn, expected, now, runs)


def assert_ranked(found, servos, expected, now, runs):
    """Hold winner and front of mass and margin to a plain loop over margins of checks."""
    own, left = sorted(runs), {}
    held = (now >= 0).copy()
    held[..., own] = False
    for at, part in enumerate(servos):
        mine = expected[:, at][..., own]
        if (mine >= 0).all() and (expected[:, at][held] >= 0).all():
            left[part.name] = part.mass.m_as("g"), -round(mine.min(), 9)
    placed = [each for each in found.ranking.standings if each.place]
    order = sorted(left, key=lambda name: (*left[name], name))
    assert [each.name for each in placed] == order
    for each in placed:
        costs = left[each.name]
        beaten = any(
            all(a <= b for a, b in zip(other, costs, strict=True)) and other != costs
            for other in left.values()
        )
        assert each.on_front == (not beaten)


def test_margins_of_the_invented_catalogue_are_those_of_a_loop_over_checks(aircraft, parts):
    described, some = aircraft["sandpiper"], parts.servos[::12]
    found = found_of(described, some, {4})
    assert_same(found, by_checks(described, some, {4}), margins_of(described), {4})


def test_a_run_of_several_servos_gets_as_many_of_the_new_one(aircraft, parts):
    described = aircraft["sandpiper_rewired"]
    runs = [
        linkcalc.replace(run, servo_count=2) if index == 4 else run
        for index, run in enumerate(described.runs)
    ]
    twins = linkcalc.replace(described, runs=runs)
    some = parts.servos[::40]
    found = found_of(twins, some, {4})
    assert_same(found, by_checks(twins, some, {4}), margins_of(twins), {4})
    both = choose(twins, Catalogue(name="c", currency="EUR", servos=some), runs="elevator")
    for standing in both.ranking.standings:
        part = next(part for part in some if part.name == standing.name)
        assert standing.values[0] == pytest.approx(2 * part.mass.m_as("g"), rel=1e-12)


@pytest.mark.parametrize("at_once", [1, 61 * 18 * 7, 61 * 18 * 64])
def test_blocks_and_jobs_change_no_digit(aircraft, parts, at_once, monkeypatch):
    described, some = aircraft["sandpiper"], parts.servos[::4]
    whole = found_of(described, some, {5})
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", at_once)
    for workers in (None, Workers(jobs=2)):
        for one, other in zip(found_of(described, some, {5}, workers=workers), whole, strict=True):
            np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize("runs", [["rudder"], ["elevator", "rudder"]])
def test_the_winner_is_the_one_that_a_loop_over_checks_finds(runs, aircraft, parts):
    described = aircraft["sandpiper"]
    some = parts.servos[::6]
    own = {index for index, run in enumerate(described.runs) if run.name in runs}
    now = margins_of(described)
    margins = by_checks(described, some, own)
    passing = []
    for at, part in enumerate(some):
        mine = margins[:, at, :, sorted(own)]
        others = [run for run in range(len(described.runs)) if run not in own]
        held = now[:, :, others] >= 0
        beside = margins[:, at][:, :, others][held]
        if (mine >= 0).all() and (beside >= 0).all():
            count = len(runs)
            passing.append((count * part.mass.m_as("g"), count * part.price, part.name))
    found = choose(described, Catalogue(name="some", currency="EUR", servos=some), runs=runs)
    names = [each.name for each in found.ranking.standings if each.place]
    assert names == [name for *_, name in sorted(passing)]
    assert 0 < len(names) < len(some)


def chosen(described, servos, **more):
    catalogue = Catalogue(name="c", currency="EUR", servos=servos)
    return choose(described, catalogue, runs="rudder", **more)


def test_order_of_the_catalogue_never_matters(aircraft, parts):
    some = list(parts.servos[::5])
    turned = [some[at] for at in np.random.default_rng(2).permutation(len(some))]
    for by in (["mass"], ["margin", "price"], ["price", "margin", "mass"]):
        found = [chosen(aircraft["sandpiper"], order, by=by) for order in (some, turned)]
        first, second = (
            [(s.name, s.place, s.on_front) for s in each.ranking.standings] for each in found
        )
        assert first == second


def test_a_further_servo_never_worsens_the_best(aircraft, parts):
    masses = []
    for count in (20, 60, 100, 144):
        best = chosen(aircraft["sandpiper"], parts.servos[-count:], by=["mass"]).ranking.best
        masses.append(math.inf if best is None else best.values[0])
    assert masses == sorted(masses, reverse=True)
    assert masses[-1] < masses[0]


def test_constraints_on_the_part_are_kept_and_told(aircraft, parts):
    found = chosen(
        aircraft["sandpiper"],
        parts.servos,
        most_mass="30 g",
        most_price=15,
        bay=("30 mm", "15 mm", "30 mm"),
        spline="21T",
    )
    by_name = {part.name: part for part in parts.servos}
    placed = [by_name[each.name] for each in found.ranking.standings if each.place]
    assert placed
    for part in placed:
        assert part.mass.m_as("g") <= 30
        assert part.price <= 15
        assert part.length.m_as("mm") <= 30
        assert part.width.m_as("mm") <= 15
        assert part.height.m_as("mm") <= 30
        assert part.spline == "21T"
    reasons = " | ".join(each.lost for each in found.ranking.standings)
    for words in (
        "not mass at most 30 g: ",
        "not price at most 15 EUR: ",
        "not of spline 21T: its spline is 15T",
    ):
        assert words in reasons


def test_doubted_servos_are_out_with_their_reason(aircraft, parts):
    found = chosen(aircraft["sandpiper"], parts.servos, undoubted=True)
    out = {each.name: each.lost for each in found.ranking.standings if "undoubted" in each.lost}
    assert set(out) == set(found.doubts)
    assert out["invented-001"] == "not of an undoubted datasheet: power"
    assert found.ranking.best.name not in found.doubts
    assert chosen(aircraft["sandpiper"], parts.servos).ranking.best.name in found.doubts


def test_a_servo_has_to_fit_the_bay_of_every_run_that_gets_it(aircraft, parts):
    by_name = {part.name: part for part in parts.servos}
    bay = {"rudder": ("60 mm", "13 mm", "60 mm"), "": ("24 mm", "30 mm", "60 mm")}
    catalogue = Catalogue(name="c", currency="EUR", servos=parts.servos)
    runs = {"rudder": (60, 13), "elevator": (24, 30)}  # what each alone lets pass
    for names in (["rudder"], ["elevator"], ["elevator", "rudder"]):
        found = choose(aircraft["sandpiper"], catalogue, runs=names, bay=bay, by=["margin"])
        inside = {
            each.name for each in found.ranking.standings if "inside the bay" not in each.lost
        }
        for name, part in by_name.items():
            sides = part.length.m_as("mm"), part.width.m_as("mm")
            fits = all(
                side <= most for run in names for side, most in zip(sides, runs[run], strict=True)
            )
            assert (name in inside) == fits
    lost = " | ".join(each.lost for each in found.ranking.standings)
    assert "not inside the bay of 'rudder': " in lost
    assert "not inside the bay: " in lost


def test_a_servo_of_unknown_size_or_price_is_not_said_to_fit(aircraft, parts):
    part = linkcalc.replace(parts.servos[60], width=None, price=None)
    fits = chosen(aircraft["sandpiper"], [part], bay=("1 m", "1 m", "1 m"), by=["mass"])
    assert "its size is not given" in fits.ranking.standings[0].lost
    cheap = chosen(aircraft["sandpiper"], [part], most_price=100)
    assert "not known" in cheap.ranking.standings[0].lost


def test_an_empty_selection_says_which_constraint_removed_the_last_servo(aircraft, parts):
    found = chosen(aircraft["sandpiper"], parts.servos, most_mass="4.2 g", spline="25T")
    assert found.ranking.best is None
    assert found.empty.startswith("'of spline 25T' removed the last ")
    assert found.ranking.selection.emptied_by == "of spline 25T"


def test_a_servo_that_starves_another_run_is_out_and_the_run_is_named(aircraft):
    # A strong, thirsty servo on the rudder: its own margins are ample, but stalled it is
    # 6 V / 40 A = 0.15 ohm behind a source of 0.15 ohm and their lead, so that they halve the bus.
    row = DatasheetRow(
        voltage="6 V", stall_torque="40 kg·cm", no_load_speed="0.1 s/60deg", stall_current="40 A"
    )
    thirsty = ServoPart(
        name="thirsty",
        source="invented",
        mass="60 g",
        rows=[row],
        minimum_voltage="0.5 V",
        maximum_voltage="8.4 V",
    )
    supply = linkcalc.replace(
        aircraft["sandpiper_rewired"].supply, current_limit="none", internal_resistance="0.15 ohm"
    )
    described = linkcalc.replace(aircraft["sandpiper_rewired"], supply=supply)
    lost = chosen(described, [thirsty], by=["mass"]).ranking.standings[0].lost
    assert lost.startswith("not every margin of other runs that holds now zero or more: -")
    assert "of 'elevator'" in lost  # on the same lead


def test_doubtful_datasheets_are_named_beside_the_choice(aircraft, parts):
    found = chosen(aircraft["sandpiper"], parts.servos)
    assert set(found.doubts) == {part.name for part in parts.servos if part.sources}
    assert found.doubts["invented-001"] == ("power",)


def test_placards_are_those_of_a_check_and_only_what_will_do_has_one(aircraft, parts):
    described, some = aircraft["sandpiper"], parts.servos[60:80]
    found = chosen(described, some, by=["placard", "mass"])
    assert found.ranking.best
    for each in found.ranking.standings:
        if each.place is None:
            assert np.isnan(each.values[0])
            continue
        with_it = with_servo(described, some[each.candidate], {5})
        run = linkcalc.check(with_it).runs[5]
        speeds = [case.values["placard speed"] for case in run.cases]
        least = 3.6 * min(speed.value for speed in speeds)
        assert each.values[0] == pytest.approx(least, abs=1e-6)
    speeds = [each.values[0] for each in found.ranking.standings if each.place]
    assert speeds == sorted(speeds, reverse=True)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"runs": "ruder"}, "names of control runs"),
        ({"runs": []}, "at least one control run"),
        ({"by": ["weight"]}, "'mass', 'price', 'margin'"),
        ({"by": "mass"}, "a list"),
        ({"bay": {"ruder": ("20 mm", "10 mm", "9 mm")}}, "names of control runs"),
        ({"most_mass": 20}, "12 g"),
        ({"bay": ("20 mm", "10 mm")}, "length, width and height"),
        ({"bay": ("20 mm", "10 mm", "9 g")}, r"bay\[2\]"),
    ],
)
def test_what_cannot_be_asked_is_told(more, words, aircraft, parts):
    with pytest.raises(linkcalc.InputError, match=words):
        choose(aircraft["sandpiper"], parts, **more)


def test_a_catalogue_without_servos_is_told(aircraft):
    with pytest.raises(linkcalc.InputError, match="no servos"):
        choose(aircraft["sandpiper"], Catalogue(name="empty"))


def test_a_solver_that_fails_passes_no_servo_and_takes_nothing_else_down(
    aircraft, parts, monkeypatch
):
    described = aircraft["sandpiper"]
    runs = [
        linkcalc.replace(
            run,
            linkages=[
                linkcalc.replace(each, surface=linkcalc.replace(each.surface, solver="plate"))
                for each in run.linkages
            ],
        )
        if run.name == "rudder"
        else run
        for run in described.runs
    ]
    with_plate = linkcalc.replace(described, runs=runs)
    some = parts.servos[::12]
    torque = MODES.index("torque")
    assert not np.isnan(found_of(with_plate, some, {5}).by_mode[:, torque]).any()

    def fails(*_):
        raise ZeroDivisionError("for this test")

    monkeypatch.setattr("linkcalc_hinge_moment.plate.Plate.__call__", fails)
    assert np.isnan(found_of(with_plate, some, {5}).by_mode[:, torque]).all()
    assert not np.isnan(found_of(with_plate, some, {4}).by_mode[:, torque]).any()
    found = choose(with_plate, Catalogue(name="some", currency="EUR", servos=some), runs="rudder")
    assert found.ranking.best is None


def test_a_solver_that_is_not_installed_is_told(aircraft, parts):
    supply = linkcalc.replace(aircraft["sandpiper"].supply, solver="bush")
    described = linkcalc.replace(aircraft["sandpiper"], supply=supply)
    with pytest.raises(linkcalc.InputFaults, match="bush"):
        choose(described, parts)


@pytest.mark.parametrize("what", ["pulses", "warm copper", "cables"])
def test_what_a_servo_does_elsewhere_is_in_the_margins_of_the_choice(what, aircraft, parts):
    described, runs = aircraft["sandpiper"], [0]
    if what == "pulses":
        first = linkcalc.replace(described.runs[0], pulses=["1.3 ms", "1.6 ms"])
        described = linkcalc.replace(described, runs=[first, *described.runs[1:]])
    elif what == "warm copper":
        supply = linkcalc.replace(described.supply, air_temperature="30 degC")
        first = described.runs[0]
        lead = linkcalc.replace(first.lead, copper_temperature="computed")
        first = linkcalc.replace(first, lead=lead)
        described = linkcalc.replace(described, supply=supply, runs=[first, *described.runs[1:]])
    else:
        described = linkcalc.read_aircraft(ROOT / "examples/dunlin_chains.toml")
        runs = [next(k for k, run in enumerate(described.runs) if run.linkages[0].stages)]
    some = [
        linkcalc.replace(part, travel=f"{30 + 10 * k} deg")
        for k, part in enumerate(parts.servos[40:43])
    ]
    found = found_of(described, some, set(runs))
    assert_same(found, by_checks(described, some, set(runs)), margins_of(described), set(runs))
