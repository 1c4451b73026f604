"""Delivered voltage of supply trees against circuit theory, and what the solver promises."""

import csv
import math
import re
from importlib.metadata import entry_points
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcalc.errors import SolverError
from linkcalc.physics import servo, wire
from linkcalc.physics.conductors import loop_resistance
from linkcalc_wiring.tree import Tree

REFERENCE = Path(__file__).parents[2] / "reference"
ROWS = {}
for name in ("wire", "motor"):
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        ROWS |= {row["id"]: row for row in csv.DictReader(file)}

SOURCE = 8.0  # of the trees that conftest makes [V]
CURVES = servo.curves(
    voltage=np.array([4.8, 6.0, 7.4]),
    stall_torque=np.array([0.5, 0.7, 0.8]),
    no_load_speed=np.array([6.0, 7.0, 8.0]),
    stall_current=np.array([1.5, 1.8, 2.4]),
    no_load_current=np.array([0.2, 0.2, 0.25]),
)


@st.composite
def trees(draw, most=6):
    """Draw parents in any order of the nodes, with resistances and servos."""
    count = draw(st.integers(1, most))
    parent = [draw(st.integers(-1, node - 1)) for node in range(count)]
    order = draw(st.permutations(range(count)))
    renamed = [0] * count
    for node, name in enumerate(order):
        renamed[name] = -1 if parent[node] < 0 else order[parent[node]]
    per_node = {"min_size": count, "max_size": count}
    resistance = draw(st.lists(st.floats(0.001, 0.5), **per_node))
    hung = draw(st.lists(st.integers(0, count - 1), min_size=1, max_size=4))
    return renamed, np.array(resistance), np.array(hung)


def servos_under(torque):
    """Demand of alike servos, each under its own torque."""
    return lambda voltage: servo.current(CURVES, voltage, torque)


def at_nodes(count, hung, current):
    total = np.zeros(count)
    np.add.at(total, hung, current)
    return total


def same(one, other, **tolerance):
    assert one.keys() == other.keys()
    for key, value in one.items():
        assert value == pytest.approx(other[key], nan_ok=True, **tolerance), key


# What circuit theory says.


@settings(max_examples=60, deadline=None)
@given(trees(), st.data())
def test_constant_currents_agree_with_nodal_analysis(circuits, tree, data):
    parent, resistance, hung = tree
    amperes = st.floats(0.0, 0.5)
    drawn = np.array(data.draw(st.lists(amperes, min_size=len(hung), max_size=len(hung))))
    load = np.array(data.draw(st.lists(amperes, min_size=len(parent), max_size=len(parent))))
    internal = data.draw(st.floats(0.01, 0.3))
    others = {"load": load, "servo_node": hung, "internal_resistance": np.array(internal)}
    fields = circuits.fields(parent, resistance, **others)
    result = Tree()(fields, circuits.constant(drawn))
    current = load + at_nodes(len(parent), hung, drawn)
    expected = circuits.nodal(parent, resistance, SOURCE, internal, current)
    if expected.min() < 0.0:
        assert result["reason"] == 1
        return
    assert result["reason"] == 0
    assert not result["latch_up"]
    assert result["node_voltage"] == pytest.approx(expected, rel=0, abs=1e-9)
    assert result["servo_voltage"] == pytest.approx(expected[hung], rel=0, abs=1e-9)
    assert result["servo_current"] == pytest.approx(drawn)
    assert result["source_current"] == pytest.approx(current.sum())
    assert result["source_voltage"] == pytest.approx(SOURCE - internal * current.sum())


@settings(max_examples=60, deadline=None)
@given(trees(), st.data())
def test_power_of_the_source_is_what_leads_loads_and_servos_turn_over(circuits, tree, data):
    parent, resistance, hung = tree
    torque = np.array([data.draw(st.floats(0.0, 1.0)) for _ in hung])
    load = np.array([data.draw(st.floats(0.0, 0.2)) for _ in parent])
    internal = data.draw(st.floats(0.0, 0.2))
    others = {"load": load, "servo_node": hung, "internal_resistance": np.array(internal)}
    result = Tree()(circuits.fields(parent, resistance, **others), servos_under(torque))
    if result["reason"]:
        return
    drawn = load + at_nodes(len(parent), hung, result["servo_current"])
    through = circuits.paths(parent).T @ drawn
    volts, total = result["node_voltage"], result["source_current"]
    spent = volts @ drawn + resistance @ through**2 + internal * total**2
    assert SOURCE * total == pytest.approx(spent, rel=1e-8, abs=1e-9)
    # Kirchhoff and Ohm, lead by lead, with the servo's own curve at the voltage that it gets.
    above = np.where(np.array(parent) < 0, result["source_voltage"], volts[np.array(parent)])
    assert above - volts == pytest.approx(resistance * through, rel=0, abs=1e-8)
    own = servo.current(CURVES, result["servo_voltage"], torque)
    assert result["servo_current"] == pytest.approx(own, rel=1e-12)
    assert total == pytest.approx(drawn.sum(), rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(trees(), st.data(), st.floats(0.0, 0.5), st.booleans())
def test_a_longer_lead_raises_nothing_it_feeds_where_no_other_demand_falls_with_voltage(
    circuits, tree, data, more, stiff
):
    # True for every demand behind a lead from a stiff source, for nothing that hangs elsewhere
    # counts there; and for every lead where the servos are resistors.
    parent, resistance, hung = tree
    loads = np.array([data.draw(st.floats(0.0, 1.0)) for _ in hung])
    demand = servos_under(loads) if stiff else lambda voltage: loads * voltage
    first = [lead for lead, above in enumerate(parent) if above < 0]
    lead = data.draw(st.sampled_from(first if stiff else range(len(parent))))
    longer = resistance.copy()
    longer[lead] += more
    others = {"servo_node": hung, "internal_resistance": np.array(0.0 if stiff else 0.1)}
    short, long = (
        Tree()(circuits.fields(parent, ohms, **others), demand) for ohms in (resistance, longer)
    )
    if short["reason"]:
        assert long["reason"]
        return
    fed = circuits.paths(parent)[:, lead] > 0.0
    if not long["reason"]:
        assert (long["node_voltage"][fed] <= short["node_voltage"][fed] + 1e-8).all()


@settings(max_examples=60, deadline=None)
@given(trees(), st.data(), st.floats(0.0, 0.3))
def test_where_no_demand_rises_with_voltage_a_longer_lead_raises_none(circuits, tree, data, more):
    parent, resistance, hung = tree
    watts = np.array([data.draw(st.floats(0.0, 3.0)) for _ in hung])
    lead = data.draw(st.integers(0, len(parent) - 1))
    longer = resistance.copy()
    longer[lead] += more
    short, long = (
        Tree()(circuits.fields(parent, ohms, servo_node=hung), lambda voltage: watts / voltage)
        for ohms in (resistance, longer)
    )
    if short["reason"]:
        assert long["reason"]
    elif not long["reason"]:
        assert (long["node_voltage"] <= short["node_voltage"] + 1e-7).all()


def test_a_longer_lead_may_raise_the_voltage_of_another_servo(circuits):
    # The other side of the statement above: a stalled servo that gets less also draws less.
    voltages = [
        Tree()(
            circuits.fields([-1, 0, 0], [0.3, ohms, 0.1], servo_node=np.array([1, 2])),
            servos_under(np.array([5.0, 0.1])),
        )["servo_voltage"]
        for ohms in (0.1, 0.5)
    ]
    assert voltages[1][0] < voltages[0][0]
    assert voltages[1][1] > voltages[0][1]


def test_a_longer_lead_may_raise_what_it_feeds_itself_when_another_servo_recovers(circuits):
    # Servo 0 on the bus behind 0.5 ohm takes 30.7 W while it can, 0.2 ohm when it stalls; servo 1
    # is a resistor of 10 ohm. A source of V_oc and R has V_oc^2 / 4 R for servo 0: 30.5 W with a
    # lead of 0.1 ohm to servo 1, by Thevenin's theorem, and 31.0 W with 5 ohm.
    def demand(voltage):
        bus, end = voltage[..., 0], voltage[..., 1]
        return np.stack((np.minimum(30.7 / bus, bus / 0.2), end / 10.0), axis=-1)

    share = {lead: (10.0 + lead) / (10.5 + lead) for lead in (0.1, 5.0)}
    expected = {
        0.1: share[0.1] * 8.0 * 0.2 / (0.2 + share[0.1] * 0.5),
        5.0: (share[5.0] * 8.0 + math.sqrt((share[5.0] * 8.0) ** 2 - 2.0 * share[5.0] * 30.7))
        / 2.0,
    }
    for lead, bus in expected.items():
        volts = Tree()(circuits.fields([-1, 0], [0.5, lead], servo_node=np.arange(2)), demand)
        ends = [bus, bus * 10.0 / (10.0 + lead)]
        assert volts["node_voltage"] == pytest.approx(ends, rel=1e-8)
    assert expected[5.0] / 15.0 > expected[0.1] / 10.1  # the current of servo 1, and so its voltage


# The source.


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 0.5), st.floats(0.5, 20.0), st.floats(0.0, 1.0), st.floats(0.1, 5.0))
def test_a_limited_source_gives_its_limit_and_no_more(circuits, internal, load, lead, limit):
    # A resistor on a lead: Ohm's law with and without the limit.
    result = circuits.one_lead(
        lambda voltage: voltage / load,
        lead,
        internal_resistance=np.array(internal),
        current_limit=np.array(limit),
    )
    free = SOURCE / (internal + lead + load)
    current = min(free, limit)
    assert result["reason"] == 0
    assert not result["latch_up"]
    assert result["source_current"] == pytest.approx(current, rel=1e-9)
    assert result["servo_voltage"] == pytest.approx(current * load, rel=1e-9)
    assert result["source_voltage"] == pytest.approx(current * (lead + load), rel=1e-9)
    if abs(free - limit) > 1e-6 * limit:
        assert result["limited"] == (free > limit)


@pytest.mark.parametrize("internal", [0.0, 0.4])
def test_the_greater_of_a_free_and_a_limited_solution_is_taken(circuits, internal):
    # A load that takes 2 A up to 5 V and 1 A from 5.5 V on. With a limit of 1.5 A it can run
    # freely at 1 A, or at the limit half way up the fall.
    def demand(voltage):
        return np.interp(voltage, [0.0, 1.0, 5.0, 5.5], [0.0, 2.0, 2.0, 1.0])

    source = {"internal_resistance": np.array(internal), "current_limit": np.array(1.5)}
    free = circuits.one_lead(demand, 0.5, **source)
    assert free["servo_voltage"] == pytest.approx(SOURCE - (0.5 + internal) * 1.0, rel=1e-9)
    assert not free["limited"]
    assert free["latch_up"]
    # With 0.9 A it cannot, and the answer is on the way from zero to 2 A.
    source["current_limit"] = np.array(0.9)
    limited = circuits.one_lead(demand, 0.5, **source)
    assert limited["servo_voltage"] == pytest.approx(0.45, rel=1e-9)
    assert limited["source_voltage"] == pytest.approx(0.45 + 0.5 * 0.9, rel=1e-9)
    assert limited["limited"]


def test_loads_beyond_the_limit_have_no_solution(circuits):
    result = circuits.one_lead(
        circuits.constant(1.0), 0.1, load=np.array([1.5]), current_limit=np.array([2.4, 2.6])
    )
    assert result["reason"].tolist() == [1, 0]
    assert not result["limited"].any()


@settings(max_examples=40, deadline=None)
@given(st.floats(0.01, 2.0), st.floats(0.01, 20.0))
def test_a_constant_current_has_a_solution_while_the_voltage_is_not_negative(
    circuits, resistance, current
):
    left = SOURCE - resistance * current
    result = circuits.one_lead(circuits.constant(current), resistance)
    if abs(left) > 1e-4:
        assert result["reason"] == (0 if left > 0.0 else 1)
    if result["reason"]:
        assert all(np.isnan(result[key]).all() for key in result if "volt" in key or "curr" in key)
        assert not result["limited"]
        assert not result["latch_up"]


# Published values.


def test_loop_drop_through_the_tree_agrees_with_the_reference(circuits):
    row = ROWS["wire-46"]  # "gauge=26; one-way 1.0 m; I=1.5 A; 20 C"
    assert row["inputs"] == "gauge=26; one-way 1.0 m; I=1.5 A; 20 C"
    result = Tree()(
        circuits.fields(
            [-1],
            [np.nan],
            length=np.array([1.0]),
            conductor_area=wire.gauge_area(26),
            copper_temperature=np.array(293.15),
            strand_factor=np.array(1.0),
            contacts=np.array(0.0),
            contact_resistance=np.array(0.0),
        ),
        circuits.constant(1.5),
    )
    drop = SOURCE - result["servo_voltage"]
    assert drop == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]))


def test_stall_torque_at_the_end_of_a_lead_agrees_with_the_reference(circuits):
    row = ROWS["motor-09"]
    volts, motor, lead, torque = map(float, re.findall(r"\d+\.?\d*", row["inputs"]))
    curves = servo.curves(
        voltage=np.array([volts]),
        stall_torque=np.array([torque]),
        no_load_speed=np.array([6.0]),
        stall_current=np.array([volts / motor]),
        no_load_current=np.array([0.0]),
    )
    result = circuits.one_lead(
        lambda voltage: servo.stall_current(curves, voltage),
        lead,
        open_circuit_voltage=np.array(volts),
    )
    # Half of the sixth decimal, to which it is printed, is more than the tolerance of 1e-6.
    delivered = servo.stall_torque(curves, result["servo_voltage"])
    assert delivered == pytest.approx(float(row["expected"]), rel=0, abs=0.5e-6)


# One circuit, told in different ways.


@settings(max_examples=40, deadline=None)
@given(trees(), st.data())
def test_the_order_of_nodes_and_servos_does_not_matter(circuits, tree, data):
    parent, resistance, hung = tree
    torque = np.array([data.draw(st.floats(0.0, 1.0)) for _ in hung])
    names = np.array(data.draw(st.permutations(range(len(parent)))))
    places = np.array(data.draw(st.permutations(range(len(hung)))))
    renamed = np.empty(len(parent), dtype=int)
    renamed[names] = [-1 if above < 0 else names[above] for above in parent]
    moved = np.empty(len(parent))
    moved[names] = resistance
    plain = Tree()(circuits.fields(parent, resistance, servo_node=hung), servos_under(torque))
    other = Tree()(
        circuits.fields(renamed, moved, servo_node=names[hung[places]]),
        servos_under(torque[places]),
    )
    tolerance = {"rel": 1e-9, "abs": 1e-9, "nan_ok": True}
    assert other["node_voltage"][names] == pytest.approx(plain["node_voltage"], **tolerance)
    assert other["servo_voltage"] == pytest.approx(plain["servo_voltage"][places], **tolerance)
    assert other["latch_up"] == plain["latch_up"]


@settings(max_examples=40, deadline=None)
@given(st.floats(0.01, 0.5), st.floats(0.01, 0.5), st.floats(0.0, 1.0))
def test_two_leads_in_series_are_one_and_two_servos_at_a_node_are_twice_one(
    circuits, first, second, torque
):
    load = np.array(torque)
    split = Tree()(circuits.fields([-1, 0], [first, second]), servos_under(load))
    whole = circuits.one_lead(servos_under(load), first + second)
    assert split["servo_voltage"] == pytest.approx(whole["servo_voltage"], rel=1e-9)
    pair = Tree()(circuits.fields([-1], [first], servo_node=np.array([0, 0])), servos_under(load))
    twice = circuits.one_lead(lambda v: 2.0 * servo.current(CURVES, v, load), first)
    assert pair["servo_voltage"] == pytest.approx([twice["servo_voltage"].item()] * 2, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(trees(), st.data())
def test_a_lead_without_resistance_joins_its_ends(circuits, tree, data):
    parent, resistance, hung = tree
    torque = np.array([data.draw(st.floats(0.0, 1.0)) for _ in hung])
    bare = np.array([data.draw(st.booleans()) for _ in parent])
    none, little = (
        Tree()(
            circuits.fields(parent, np.where(bare, ohms, resistance), servo_node=hung),
            servos_under(torque),
        )
        for ohms in (0.0, 1e-9)
    )
    tolerance = {"rel": 0, "abs": 1e-6, "nan_ok": True}
    assert none["node_voltage"] == pytest.approx(little["node_voltage"], **tolerance)
    # The same where only one of several cases has no resistance there.
    cases = np.stack([np.where(bare, 0.0, resistance), resistance])
    both = Tree()(circuits.fields(parent, cases, servo_node=hung), servos_under(torque))
    assert both["node_voltage"][0] == pytest.approx(none["node_voltage"], **tolerance)


@settings(max_examples=30, deadline=None)
@given(trees(), st.data())
def test_every_case_of_many_gives_what_it_gives_alone(circuits, tree, data):
    parent, resistance, hung = tree
    states, servos = 3, len(hung)
    torque = np.array(
        [[data.draw(st.floats(0.0, 1.0)) for _ in range(servos)] for _ in range(states)]
    )
    source = np.array([[5.0], [8.0]])
    together = Tree()(
        circuits.fields(
            parent,
            resistance,
            servo_node=hung,
            open_circuit_voltage=source,
            current_limit=np.array([np.inf, 3.0, 1.0]),
            internal_resistance=np.array(0.05),
        ),
        servos_under(torque),
    )
    assert together["servo_voltage"].shape == (2, states, servos)
    assert together["node_voltage"].shape == (2, states, len(parent))
    assert together["source_current"].shape == (2, states)
    for row, volts in enumerate(source[:, 0]):
        for state, limit in enumerate((np.inf, 3.0, 1.0)):
            alone = Tree()(
                circuits.fields(
                    parent,
                    resistance,
                    servo_node=hung,
                    open_circuit_voltage=np.array(volts),
                    current_limit=np.array(limit),
                    internal_resistance=np.array(0.05),
                ),
                servos_under(torque[state]),
            )
            case = {key: value[row, state] for key, value in together.items()}
            same(case, alone, rel=1e-8, abs=1e-8)


def test_voltages_scale_with_the_source_when_the_demand_does(circuits):
    plain = circuits.one_lead(lambda v: servo.current(CURVES, v, 0.4), 0.7)
    scaled = circuits.one_lead(
        lambda v: 50.0 * servo.current(CURVES, v / 50.0, 0.4),
        0.7,
        open_circuit_voltage=np.array(50.0 * SOURCE),
    )
    assert scaled["servo_voltage"] == pytest.approx(50.0 * plain["servo_voltage"], rel=1e-9)


# Fields and promises.

WIRE = {
    "length": np.array([0.0, 1.5, 0.4]),
    "conductor_area": np.array([1e-6, 0.3e-6, 0.2e-6]),
    "copper_temperature": np.array(313.15),
    "strand_factor": np.array(1.10),
    "contacts": np.array([0.0, 2.0, 1.0]),
    "contact_resistance": np.array(0.005),
}


def wired(circuits, **others):
    return circuits.fields([-1, 0, 1], np.full(3, np.nan), **WIRE | others)


def test_a_lead_is_its_conductors_and_contacts_unless_it_was_measured(circuits):
    computed = loop_resistance(**WIRE)
    demand = circuits.constant(1.0)
    plain = Tree()(wired(circuits), demand)
    same(plain, Tree()(circuits.fields([-1, 0, 1], computed), demand), rel=1e-12)
    assert SOURCE - plain["servo_voltage"] == pytest.approx(computed.sum())
    # Measured with its contacts: nothing of what is known about the wire is added.
    measured = np.array([np.nan, 0.2, np.nan])
    mixed = Tree()(wired(circuits, loop_resistance=measured), demand)
    assert SOURCE - mixed["servo_voltage"] == pytest.approx(computed[0] + 0.2 + computed[2])


@pytest.mark.parametrize("name", sorted(WIRE))
@pytest.mark.parametrize("value", [np.nan, -1.0])
def test_a_wire_without_meaning_is_told_unless_the_lead_was_measured(circuits, name, value):
    fields = wired(circuits, **{name: np.array([value, value, value])})
    result = Tree()(fields, circuits.constant(1.0))
    assert result["reason"] == 2
    assert np.isnan(result["node_voltage"]).all()
    fields["loop_resistance"] = np.array([0.0, 0.1, 0.1])
    assert Tree()(fields, circuits.constant(1.0))["reason"] == 0


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("loop_resistance", [[0.1], [-0.1], [np.inf]]),
        ("load", [[0.1], [-0.1], [np.nan]]),
        ("open_circuit_voltage", [8.0, 0.0, np.nan]),
        ("internal_resistance", [0.1, -0.1, np.nan]),
        ("current_limit", [5.0, 0.0, np.nan]),
    ],
)
def test_a_case_without_meaning_is_told_and_spoils_no_other(circuits, name, values):
    fields = circuits.fields([-1], [0.1]) | {name: np.array(values)}
    result = Tree()(fields, circuits.constant(1.0))
    assert result["reason"].tolist() == [0, 2, 2]
    assert np.isfinite(result["servo_voltage"][0]).all()
    for key in ("node_voltage", "servo_voltage", "servo_current", "source_current"):
        assert np.isnan(result[key][1:]).all()


@pytest.mark.parametrize("bad", [np.nan, -0.1])
def test_a_demand_without_meaning_is_told_and_spoils_no_other(circuits, bad):
    result = circuits.one_lead(circuits.constant(np.array([[0.5], [bad]])), 0.1)
    assert result["reason"].tolist() == [0, 2]
    assert result["servo_voltage"][0] == pytest.approx(SOURCE - 0.05)


def test_a_tree_without_servos_feeds_its_other_loads(circuits):
    fields = circuits.fields([-1, 0], [0.1, 0.2], load=np.array([1.0, 0.5]))
    fields["servo_node"] = np.array([], dtype=int)
    result = Tree()(fields, np.zeros_like)
    assert result["node_voltage"] == pytest.approx([8.0 - 0.15, 8.0 - 0.15 - 0.1])
    assert result["servo_voltage"].shape == (0,)


def test_no_case_at_all_gives_empty_answers(circuits):
    fields = circuits.fields([-1], [0.1], open_circuit_voltage=np.empty((0,)))
    result = Tree()(fields, circuits.constant(1.0))
    assert result["node_voltage"].shape == (0, 1)
    assert result["reason"].shape == (0,)


def test_arguments_are_not_changed_and_may_be_read_only(circuits):
    fields = wired(circuits, open_circuit_voltage=np.array([8.0, np.nan]))
    before = {name: np.copy(value) for name, value in fields.items()}
    for value in fields.values():
        value.flags.writeable = False
    Tree()(fields, servos_under(0.3))
    for name, value in fields.items():
        np.testing.assert_array_equal(value, before[name])


def test_the_tree_is_found_by_its_name_and_declares_all_that_it_reads(circuits):
    (point,) = entry_points(group="linkcalc.supply", name="tree")
    solver = point.load()()
    assert solver.name == "tree"
    assert solver.description
    assert solver.sources
    assert set(solver.validity) <= set(solver.fields)
    assert all(least <= greatest for least, greatest in solver.validity.values())
    assert set(solver.fields) == set(circuits.fields([-1], [0.1]))
    for name in solver.fields:
        fields = circuits.fields([-1], [0.1])
        del fields[name]
        with pytest.raises(SolverError, match=f"missing {name}; give every declared field"):
            solver(fields, circuits.constant(1.0))


@pytest.mark.parametrize(
    ("others", "message"),
    [
        ({"parent": [-1, 0.5]}, "parent has the shape"),
        ({"parent": [[-1, 0]]}, r"parent has the shape \(1, 2\)"),
        ({"parent": [-1, 1]}, "ring"),
        ({"servo_node": [2]}, "node of servo 0 is 2, which is no node"),
        ({"servo_node": [np.nan]}, "give whole numbers"),
        ({"load": [0.1, 0.1, 0.1]}, r"do not broadcast together: parent \(2,\)"),
        ({"open_circuit_voltage": [6.0, 7.0], "internal_resistance": [0.1] * 3}, "broadcast"),
    ],
)
def test_fields_that_make_no_tree_are_refused(circuits, others, message):
    fields = circuits.fields([-1, 0], [0.1, 0.1])
    fields |= {name: np.array(value) for name, value in others.items()}
    with pytest.raises(SolverError, match=message):
        Tree()(fields, circuits.constant(1.0))


@pytest.mark.parametrize("shape", [(3,), (2, 3), (2, 2, 2)])
def test_a_demand_of_the_wrong_shape_is_refused(circuits, shape):
    fields = circuits.fields([-1, 0], [0.1, 0.1], servo_node=np.array([0, 1]))
    with pytest.raises(SolverError, match="demand"):
        Tree()(fields, lambda voltage: np.ones(shape if voltage.ndim > 1 else shape[-1:]))


def test_twice_the_wire_is_twice_the_drop_but_for_the_contacts(circuits):
    short, long = (
        Tree()(wired(circuits, length=factor * WIRE["length"]), circuits.constant(1.0))
        for factor in (1.0, 2.0)
    )
    contacts = 2 * WIRE["contacts"].sum() * WIRE["contact_resistance"]
    drops = [SOURCE - result["servo_voltage"].item() for result in (short, long)]
    assert drops[1] - contacts == pytest.approx(2 * (drops[0] - contacts))


def test_nodes_that_are_joined_add_their_loads(circuits):
    # A bus of three nodes without leads between them draws 0.6 A through half an ohm.
    load = np.array([0.1, 0.2, 0.3, 0.0])
    result = Tree()(
        circuits.fields([-1, 0, 1, 0], [0.5, 0.0, 0.0, 0.2], load=load), circuits.constant(0.0)
    )
    assert result["node_voltage"] == pytest.approx([SOURCE - 0.3] * 4)
