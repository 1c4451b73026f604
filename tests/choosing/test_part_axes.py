"""Holes, rods and wires of a catalogue in an aircraft: what is put in, and what it weighs and costs."""

import itertools
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.choosing.choice import choose
from linkcalc.choosing.part_limits import Said
from linkcalc.report.choice_table import choice_text

ROOT = Path(__file__).resolve().parents[2]

# Invented. Two servos of 15T and 21T, arms of both splines, and a rod too short for the rudder.
DRAWER = """
format = "linkcalc.catalogue/1"
name = "The drawer"
currency = "EUR"
[servos.knot]
source = "invented"
rows = [{ voltage = "6 V", stall_torque = "3 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "1.1 A" }]
mass = "20 g"
price = 12
spline = "21T"
arm_holes = ["9 mm", "11 mm"]
maximum_voltage = "6.6 V"
[servos.dunlin]
source = "invented"
rows = [{ voltage = "6 V", stall_torque = "1.5 kg·cm", no_load_speed = "0.1 s/60deg", stall_current = "0.7 A" }]
mass = "9 g"
price = 9
spline = "15T"
arm_holes = ["7 mm"]
maximum_voltage = "8.4 V"
[arms.short]
source = "invented"
spline = "21T"
holes = ["8 mm", "10 mm"]
mass = "0.5 g"
price = 1
[arms.nameless]
source = "invented"
holes = ["8.5 mm"]
mass = "0.5 g"
price = 1
[horns.low]
source = "invented"
holes = ["12 mm", "16 mm"]
mass = "0.4 g"
price = 0.5
[rods.steel]
source = "invented"
diameter = "2 mm"
material = "steel wire"
longest = "1.6 m"
mass_per_length = "25 g/m"
price = 2
[rods.tube]
source = "invented"
diameter = "3 mm"
inner_diameter = "2 mm"
material = "carbon rod"
mass_per_length = "6 g/m"
longest = "1 m"
price = 5
[rods.stub]
source = "invented"
diameter = "3 mm"
material = "carbon rod"
longest = "0.5 m"
price = 1
[wires.thin]
source = "invented"
gauge = "30 AWG"
mass_per_length = "1.75 g/m"
price_per_metre = 0.3
[wires.thick]
source = "invented"
gauge = "22 AWG"
mass_per_length = "5 g/m"
price_per_metre = 0.8
"""


@pytest.fixture(scope="module")
def drawer(tmp_path_factory):
    path = tmp_path_factory.mktemp("parts") / "drawer.toml"
    path.write_text(DRAWER, encoding="utf-8")
    return linkcalc.read_catalogue(path)


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(ROOT / "examples/sandpiper_rewired.toml")


def by_hand(glider, servo, holes, rod, wire):
    """The rudder with other parts, as a flyer would put them into the file."""
    run = next(run for run in glider.runs if run.name == "rudder")
    arm, horn = holes
    (linkage,) = run.linkages
    pushrod = linkcalc.replace(
        linkage.pushrod,
        diameter=rod.diameter,
        inner_diameter=rod.inner_diameter,
        material=rod.material,
    )
    linkage = linkcalc.replace(
        linkage,
        arm=linkcalc.replace(linkage.arm, radius=arm),
        horn=linkcalc.replace(linkage.horn, radius=horn),
        pushrod=pushrod,
    )
    lead = linkcalc.replace(run.lead, name="another", gauge=wire.gauge)
    changed = linkcalc.replace(run, servo=servo.servo(), linkages=[linkage], lead=lead)
    runs = [changed if each.name == "rudder" else each for each in glider.runs]
    return linkcalc.replace(glider, runs=runs)


# Which arms go on which shaft, by the catalogue above; one without a spline is not known to fit.
ARMS = {
    "knot": {
        "short 8 mm": 0.5,
        "short 10 mm": 0.5,
        "its own arm, 9 mm": 0,
        "its own arm, 11 mm": 0,
    },
    "dunlin": {"its own arm, 7 mm": 0},
}
EVERY = ("gauge", "servo", "arm hole", "horn hole", "rod")


def test_every_combination_is_what_a_check_of_it_finds(glider, drawer):
    found = choose(glider, drawer, runs="rudder", over=EVERY, by=["mass", "price", "margin"])
    known = {each.name: each for each in found.ranking.standings}
    rods = {part.name: part for part in drawer.rods if part.name != "stub"}
    wires = {part.name: part for part in drawer.wires}
    now = {run.name: run for run in linkcalc.check(glider).runs}
    tried, passed = 0, 0
    for servo, horn, (rod, bar), (wire, strand) in itertools.product(
        drawer.servos, ("12 mm", "16 mm"), rods.items(), wires.items()
    ):
        for hole, arm_mass in ARMS[servo.name].items():
            standing = known[f"{servo.name}, {wire}, {hole}, low {horn}, {rod}"]
            radius = hole.replace("its own arm,", "short").removeprefix("short ")
            report = linkcalc.check(by_hand(glider, servo, (radius, horn), bar, strand))
            own = next(run for run in report.runs if run.name == "rudder")
            least = min(m.margin for case in own.cases for m in case.margins if m.applies)
            values = dict(zip(found.ranking.objectives, standing.values, strict=True))
            assert values["margin"] == pytest.approx(least, abs=1e-9)
            assert found.combinations.margin[tuple(found.places[:, standing.candidate])] == (
                pytest.approx(least, rel=1e-12, abs=1e-12)
            )
            beside = all(
                m.margin >= 0
                for run in report.runs
                if run.name != "rudder"
                for case in run.cases
                for m in case.margins
                if m.applies and before(now, run.name, case.name, m.mode) >= 0
            )
            assert (standing.place is not None) == (least >= 0 and beside), standing
            # Rod 760 mm and lead 35 in of two power conductors and a signal wire.
            grams = servo.mass.m_as("g") + arm_mass + 0.4 + 0.76 * {"steel": 25, "tube": 6}[rod]
            grams += 3 * 35 * 0.0254 * {"thin": 1.75, "thick": 5}[wire]
            euros = servo.price + (1 if arm_mass else 0) + 0.5 + {"steel": 2, "tube": 5}[rod]
            euros += 3 * 35 * 0.0254 * {"thin": 0.3, "thick": 0.8}[wire]
            assert values["mass"] == pytest.approx(grams, rel=1e-12)
            assert values["price"] == pytest.approx(euros, rel=1e-12)
            tried, passed = tried + 1, passed + (standing.place is not None)
    short = [each for each in known.values() if "stub" in each.name]
    assert len(known) == tried + len(short)
    assert 0 < passed < tried
    assert all("not a rod that fits: its longest piece is 500 mm" in each.lost for each in short)


def before(now, run, case, mode):
    held = next(each for each in now[run].cases if each.name == case).margin(mode).margin
    return -np.inf if held is None else held


def test_two_runs_take_twice_the_parts_and_pushrods_are_cut_from_whole_pieces(glider, drawer):
    found = choose(
        glider,
        drawer,
        runs=["elevator", "rudder"],
        over={"rod": ["steel", "tube"], "gauge": None},
        by=["mass", "price"],
    )
    # 740 mm and 760 mm: one steel wire of 1.6 m gives both, of the tube it takes two of 1 m.
    steel, tube = found.axes[0].price
    assert (steel, tube) == (2, 10)
    np.testing.assert_allclose(found.axes[0].mass, [1.5 * 0.025, 1.5 * 0.006], rtol=1e-12)
    np.testing.assert_allclose(found.axes[1].mass[0], 2 * 3 * 0.889 * 1.75e-3, rtol=1e-12)


@pytest.mark.parametrize(("longest", "pieces"), [("3 m", 1), ("1.6 m", 2), ("1 m", 3)])
def test_pushrods_are_cut_one_after_another_from_what_is_left(glider, drawer, longest, pieces):
    # Of 760, 740 and 740 mm: 3 m give all three, 1.6 m two and 1 m one.
    third = next(run for run in glider.runs if run.name == "elevator")
    runs = [
        linkcalc.replace(run, linkages=third.linkages) if run.name.startswith("inboard flap, p")
        else run
        for run in glider.runs
    ]  # fmt: skip
    steel = linkcalc.replace(drawer.rods[0], longest=longest)
    found = choose(
        linkcalc.replace(glider, runs=runs),
        linkcalc.replace(drawer, rods=[steel]),
        runs=["inboard flap, port", "elevator", "rudder"],
        over=["rod"],
    )
    assert found.axes[0].price.tolist() == [2 * pieces]


def test_a_hole_in_space_is_further_out_the_same_way(drawer):
    tern = linkcalc.read_aircraft(ROOT / "examples/tern_flying_wing.toml")
    spatial = next(run for run in tern.runs if run.linkages[0].arm.pivot is not None)
    found = choose(tern, drawer, runs=spatial.name, over={"arm hole": ["6 mm", "7 mm"]})
    linkage = next(r for r in found.described(1).runs if r.name == spatial.name).linkages[0]
    before = np.array(spatial.linkages[0].arm.vector)
    after = np.array(linkage.arm.vector)
    assert np.linalg.norm(after) == pytest.approx(0.007, rel=1e-12)
    np.testing.assert_allclose(np.cross(before, after), 0, atol=1e-15)


def test_own_gauge_changes_no_other_lead_and_a_trunk_changes_all_that_hangs_from_it(glider, drawer):
    found = choose(glider, drawer, runs="rudder", over={"gauge": ["16 AWG"]})
    changed = {run.name: run.lead.gauge for run in found.described(0).runs}
    before = {run.name: run.lead.gauge for run in glider.runs}
    assert changed["rudder"] != before["rudder"]
    assert all(changed[name] == before[name] for name in before if name != "rudder")
    found = choose(glider, drawer, runs="inboard flap, port", over={"gauge": ["16 AWG"]})
    runs = {run.name: run for run in found.described(0).runs}
    thick = runs["inboard flap, port"].lead.gauge
    assert runs["outboard aileron, port"].lead.feed.gauge == thick
    assert runs["outboard aileron, starboard"].lead.feed.gauge != thick


def test_a_bundle_that_does_not_pass_the_bore_is_out(glider, drawer):
    runs = [
        linkcalc.replace(run, lead=linkcalc.replace(run.lead, name="own", bore="3 mm"))
        if run.name == "rudder"
        else run
        for run in glider.runs
    ]
    bored = linkcalc.replace(glider, runs=runs)
    found = choose(bored, drawer, runs="rudder", over=["gauge"], by=["mass"])
    lost = {each.name: each.lost for each in found.ranking.standings}
    assert lost["thick"] == "not a gauge that fits: the bundle does not pass the bore of 'own'"
    assert "bore" not in lost["thin"]


@pytest.mark.parametrize(
    ("over", "words"),
    [
        ({"servo": ["gull"]}, "'gull'"),
        (["weight"], "'servo', 'arm hole', 'horn hole', 'rod', 'gauge'"),
        ("servo", "a list such as"),
        ([], "a list such as"),
        ({"arm hole": ["9 g"]}, "arm hole: found '9 g'"),
        ({"arm hole": []}, "no arms"),
        ({"runs['rudder'].arms": ["9 mm"]}, "no field 'arms'"),
        ({"gauge": ["99 AWG"]}, "'0 AWG' to '40 AWG'"),
    ],
)
def test_what_cannot_be_chosen_is_told(over, words, glider, drawer):
    with pytest.raises(linkcalc.InputError, match=words):
        choose(glider, drawer, runs="rudder", over=over)


def test_runs_that_cannot_take_a_part_are_told(glider, drawer):
    dunlin = linkcalc.read_aircraft(ROOT / "examples/dunlin_chains.toml")
    chained = next(run.name for run in dunlin.runs if run.linkages[0].stages)
    with pytest.raises(linkcalc.InputError, match="a chain of stages"):
        choose(dunlin, drawer, runs=chained, over=["arm hole"])
    bare = linkcalc.replace(glider, runs=[linkcalc.replace(run, lead=None) for run in glider.runs])
    with pytest.raises(linkcalc.InputError, match=r"no lead.*with --run"):
        choose(bare, drawer, runs="rudder", over=["gauge"])


def test_balance_is_mass_times_distance_of_servos_and_wires(glider, drawer):
    def placed(run):
        lead = linkcalc.replace(run.lead, name="own", balance_arm="-0.2 m")
        return linkcalc.replace(run, lead=lead, balance_arm="0.6 m")

    runs = [placed(run) if run.name == "rudder" else run for run in glider.runs]
    found = choose(
        linkcalc.replace(glider, runs=runs), drawer, runs="rudder", over=["servo", "gauge"],
        by=["balance"],
    )  # fmt: skip
    for each in found.ranking.standings:
        servo, wire = each.name.split(", ")
        grams = {"knot": 20, "dunlin": 9}[servo] * 0.6
        grams += 3 * 0.889 * {"thin": 1.75, "thick": 5}[wire] * 0.2
        assert each.values[0] == pytest.approx(grams, rel=1e-12)
    with pytest.raises(linkcalc.InputError, match=r"runs\['rudder'\].balance_arm"):
        choose(glider, drawer, runs="rudder", by=["balance"])


def test_voltage_and_totals_are_asked_for(glider, drawer):
    found = choose(
        glider,
        drawer,
        runs="rudder",
        over=["servo", "horn hole"],
        voltage="7.4 V",
        total_mass="25 g",
        total_price=9.2,
    )
    lost = {each.name: each.lost for each in found.ranking.standings}
    assert lost["knot, low 12 mm"] == "not rated for 7.4 V: 6.6 V"
    assert lost["dunlin, low 12 mm"] == "not price of all at most 9.2 EUR: 9.5 EUR"


def test_a_part_that_no_aircraft_could_have_is_left_out_and_told(glider, drawer):
    knot = drawer.servos[0]
    falling = linkcalc.replace(
        knot,
        name="falling",
        rows=[knot.rows[0], linkcalc.replace(knot.rows[0], voltage="7 V", stall_torque="2 kg·cm")],
    )
    catalogue = linkcalc.replace(drawer, servos=[falling, *drawer.servos])
    found = choose(glider, catalogue, runs="rudder")
    assert {each.name for each in found.ranking.standings} == {"dunlin", "knot"}
    assert "rows[1].stall_torque is 2 kg·cm" in found.unsound["falling"]
    assert "falling cannot be tried" in choice_text(found)
    spatial = linkcalc.read_aircraft(ROOT / "examples/tern_flying_wing.toml")
    name = next(run.name for run in spatial.runs if run.linkages[0].arm.pivot is not None)
    rod = f"runs['{name}'].linkages[0].pushrod.length"  # its pivots are 120 mm apart
    found = choose(spatial, drawer, runs=name, over={rod: ["120 mm", "30 mm"]})
    assert [each.name for each in found.ranking.standings] == ["120 mm"]
    assert found.unsound.keys() == {"30 mm"}


def test_words_for_candidates_are_a_sequence():
    said = Said(4, lambda index: f"number {index}")
    assert [said[0], said[-1]] == ["number 0", "number 3"]
    assert said[1:3] == ["number 1", "number 2"]
    assert list(said)[::-1] == said[::-1]
    with pytest.raises(IndexError):
        said[4]
