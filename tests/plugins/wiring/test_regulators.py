"""Regulators and conductors of their own in a tree, against closed forms and root finding."""

import math
from itertools import product
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import root

from linkcalc_wiring.tree import Tree

SOURCE = 8.0  # of the trees that conftest makes [V]
REGULATED = {
    "regulated_voltage": 5.0,
    "dropout": 0.4,
    "output_resistance": 0.05,
    "quiescent_current": 0.01,
}


def regulated(circuits, current, *, lead=0.3, **others):
    """One regulator at the end of one lead with a constant current behind it."""
    values = REGULATED | others
    fields = {name: np.asarray(value)[..., None] for name, value in values.items()}
    fields["open_circuit_voltage"] = fields.pop("open_circuit_voltage", np.array([SOURCE]))[..., 0]
    return circuits.one_lead(circuits.constant(current), lead, **fields, seek_details=np.array(1.0))


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 3.0), st.floats(0.0, 1.5), st.floats(4.0, 9.0))
def test_a_linear_regulator_holds_its_voltage_or_passes_on_what_is_left(
    circuits, current, lead, source
):
    answer = regulated(circuits, current, lead=lead, open_circuit_voltage=source)
    into = source - lead * (current + 0.01)
    expected = min(5.0, into - 0.4) - 0.05 * current
    assume(abs(expected) > 1e-3)
    if expected < 0.0:
        assert answer["reason"] == 1
        return
    assert answer["reason"] == 0
    assert answer["servo_voltage"].item() == pytest.approx(expected, rel=0, abs=1e-8)
    assert answer["regulator_input"].item() == pytest.approx(into, rel=0, abs=1e-8)
    assert answer["source_current"].item() == pytest.approx(current + 0.01, rel=1e-8)
    # (V_in - V_out) I, and what it takes for itself.
    heat = (into - expected) * current + into * 0.01
    assert answer["regulator_heat"].item() == pytest.approx(heat, rel=1e-6, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.05, 4.0), st.floats(0.01, 3.0), st.floats(0.5, 1.0))
def test_a_switching_regulator_is_a_constant_power_with_two_solutions_or_none(
    circuits, current, lead, efficiency
):
    # V_in^2 - V_oc V_in + R P / eta = 0 while it regulates, V_out = 5 V - 0.05 ohm x I.
    others = {"efficiency": efficiency, "quiescent_current": 0.0, "dropout": 0.0}
    answer = regulated(circuits, current, lead=lead, **others)
    power = (5.0 - 0.05 * current) * current / efficiency
    inside = SOURCE**2 - 4.0 * lead * power
    into = (SOURCE + math.sqrt(max(inside, 0.0))) / 2.0
    assume(abs(inside) > 1e-3)
    assume(abs(into - 5.0) > 1e-3)
    if inside < 0.0 or into < 5.0:
        return  # the next test has the rest
    assert answer["reason"] == 0
    assert answer["regulator_input"].item() == pytest.approx(into, rel=0, abs=1e-7)
    assert answer["source_current"].item() == pytest.approx(power / into, rel=1e-6)
    assert answer["servo_voltage"].item() == pytest.approx(5.0 - 0.05 * current, rel=1e-8)
    heat = power * (1.0 - efficiency)
    assert answer["regulator_heat"].item() == pytest.approx(heat, rel=1e-6, abs=1e-8)


@pytest.mark.parametrize(("lead", "into", "out"), [(1.0, 6.0, 5.0), (1.4, 4.64, 4.64)])
def test_a_switching_regulator_on_a_thin_lead_passes_its_input_on(circuits, lead, into, out):
    # 12 W behind 1 ohm: 8 V x 2 A = 12 W + 4 W. Behind 1.4 ohm no more than V_oc^2 / 4 R = 11.4 W
    # arrive; switched on for good, it lets 2.4 A through at 8 V - 1.4 ohm x 2.4 A.
    others = {"efficiency": 1.0, "quiescent_current": 0.0, "dropout": 0.0}
    answer = regulated(circuits, 2.4, lead=lead, output_resistance=0.0, **others)
    assert answer["regulator_input"].item() == pytest.approx(into, rel=1e-7)
    assert answer["servo_voltage"].item() == pytest.approx(out, rel=1e-7)


@pytest.mark.parametrize("efficiency", [np.nan, 0.9])
def test_a_regulator_gives_its_limit_and_no_more(circuits, efficiency):
    # A resistor of 2 ohm takes 2.44 A at 5 V; limited to 1.5 A it has 3 V.
    fields = {name: np.array([value]) for name, value in REGULATED.items()}
    fields |= {"output_limit": np.array([1.5]), "efficiency": np.array([efficiency])}
    answer = circuits.one_lead(lambda volts: volts / 2.0, 0.3, **fields, seek_details=np.array(1.0))
    assert answer["reason"] == 0
    assert answer["servo_current"].item() == pytest.approx(1.5, rel=1e-8)
    assert answer["servo_voltage"].item() == pytest.approx(3.0, rel=1e-8)
    into = answer["regulator_input"].item()
    taken = 1.5 if np.isnan(efficiency) else 4.5 / (0.9 * into)
    assert into == pytest.approx(SOURCE - 0.3 * (taken + 0.01), rel=1e-8)
    # A constant current above the limit cannot be fed at any voltage.
    fields["output_limit"] = np.array([[1.5], [0.9]])
    answer = circuits.one_lead(circuits.constant(1.0), 0.3, **fields)
    assert answer["reason"].tolist() == [0, 1]


class Bent(NamedTuple):
    """Demand of straight pieces for each servo, from zero to its last bend, then constant."""

    bends: np.ndarray
    currents: np.ndarray

    def __call__(self, volts):
        columns = [
            np.interp(volts[..., k], [0.0, *self.bends[k]], [0.0, *self.currents[k]])
            for k in range(len(self.bends))
        ]
        return np.stack(columns, axis=-1)

    def extended(self, pieces):
        """Demand whose servos each keep one piece's straight line at all voltages."""
        ends = np.array(
            [[0.0, *self.bends[k], self.bends[k][-1] + 1.0] for k in range(len(pieces))]
        )
        at = np.stack([ends[k, piece : piece + 2] for k, piece in enumerate(pieces)], axis=-1)
        low, high = self(at)
        slope = (high - low) / (at[1] - at[0])
        return lambda volts: low + slope * (volts - at[0])


def drawn(circuits, seed, *, switching, rising=False):
    """A tree of five nodes with two regulators, servos that bend, and their demand."""
    random = np.random.default_rng(seed)
    parent = [-1, *(int(random.integers(0, node)) for node in range(1, 5))]
    where = np.isin(np.arange(5), random.choice(5, 2, replace=False))
    bends = np.cumsum(random.uniform(0.6, 3.0, (2, 3)), axis=1)
    currents = random.choice([0.2, 0.8, 1.5, 3.0], (2, 3)) * random.uniform(0.5, 1.0, (2, 3))
    if rising:  # up to a last bend above all voltages that there are
        bends[:, -1], currents = SOURCE, np.sort(currents, axis=1)
    demand = Bent(bends, currents)
    fields = circuits.fields(
        parent,
        random.uniform(0.02, 0.6, 5),
        load=random.choice([0.0, 0.2], 5),
        servo_node=random.integers(1, 5, 2),
        internal_resistance=np.array(0.05),
        regulated_voltage=np.where(where, random.uniform(4.0, 7.0, 5), np.nan),
        dropout=np.array(0.3),
        output_resistance=np.array(0.03),
        quiescent_current=np.array(0.01),
        output_limit=np.where(random.random(5) < 0.5, 2.0, np.inf),
        efficiency=np.array(0.85 if switching else np.nan),
        seek_details=np.array(1.0),
    )
    return fields, demand


def equations(fields, demand, counted=lambda _, spare: min(spare)):
    """Residuals for a general root finder: voltages at the inputs of all nodes, then at nodes.

    A regulator spares volts below what it is set to, volts below what its input lets pass, and
    current; the least of the three has to be zero, or that which `counted` takes at its node.
    """
    parent, volts_set = fields["parent"], fields["regulated_voltage"]
    efficiency = float(fields["efficiency"])

    def residuals(unknown):
        into, out = unknown.reshape(2, -1)
        drawn = fields["load"].copy()
        np.add.at(drawn, fields["servo_node"], demand(out[fields["servo_node"]]))
        wrong = np.empty((2, 5))
        for node in reversed(range(5)):
            if np.isnan(volts_set[node]):
                wrong[1, node] = out[node] - into[node]
                taken = drawn[node]
            else:
                free = np.array([volts_set[node], into[node] - 0.3]) - 0.03 * drawn[node]
                spare = fields["output_limit"][node] - drawn[node]
                wrong[1, node] = -counted(node, (*(free - out[node]), spare))
                taken = drawn[node] + 0.01
                if not math.isnan(efficiency):
                    taken = out[node] * drawn[node] / (efficiency * into[node]) + 0.01
            above = parent[node]
            if above >= 0:
                drawn[above] += taken
            start = out[above] if above >= 0 else SOURCE - 0.05 * taken
            wrong[0, node] = into[node] - start + fields["loop_resistance"][node] * taken
        return wrong.ravel()

    return residuals


def every_solution(fields, demand):
    """All voltages that satisfy a tree with linear regulators, at inputs, then at nodes.

    With one straight piece of each demand, and one thing that binds each regulator, the
    equations are linear: all combinations are solved, and what is none of the tree is left out.
    """
    nodes = np.flatnonzero(np.isfinite(fields["regulated_voltage"])).tolist()
    kinds = [range(3 if np.isfinite(fields["output_limit"][node]) else 2) for node in nodes]
    whole, found = equations(fields, demand), []
    for pieces in product(range(4), repeat=2):
        lines = demand.extended(pieces)
        for binds in product(*kinds):
            kind = dict(zip(nodes, binds, strict=True))
            residuals = equations(fields, lines, lambda node, spare, kind=kind: spare[kind[node]])
            offset = residuals(np.zeros(10))
            matrix = np.array([residuals(unit) - offset for unit in np.eye(10)]).T
            if np.linalg.cond(matrix) < 1e12:
                found.append(np.linalg.solve(matrix, -offset))
    return np.array([x for x in found if x.min() >= 0.0 and np.abs(whole(x)).max() < 1e-9])


def at_inputs_and_nodes(answer):
    """Voltages of an answer in the order of the equations."""
    out = answer["node_voltage"]
    return np.concatenate(
        (np.where(np.isnan(answer["regulator_input"]), out, answer["regulator_input"]), out)
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_answer_is_the_greatest_of_all_solutions_through_linear_regulators(circuits, seed):
    fields, demand = drawn(circuits, seed, switching=False)
    solutions, answer = every_solution(fields, demand), Tree()(fields, demand)
    assert answer["reason"] == (0 if len(solutions) else 1)
    if len(solutions):
        greatest = solutions.max(axis=0)
        assert at_inputs_and_nodes(answer) == pytest.approx(greatest, rel=0, abs=1e-7)


@pytest.mark.parametrize("switching", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_no_other_start_finds_voltages_above_the_answer(circuits, seed, switching):
    fields, demand = drawn(circuits, seed, switching=switching)
    answer = Tree()(fields, demand)
    residuals = equations(fields, demand)
    random = np.random.default_rng(seed)
    starts = [np.full(10, SOURCE), *(random.uniform(0.5, SOURCE, 10) for _ in range(15))]
    with np.errstate(all="ignore"):
        found = [root(residuals, start, tol=1e-13).x for start in starts]
        found = [x for x in found if np.abs(residuals(x)).max() < 1e-9 and x.min() >= 0.0]
    if answer["reason"] == 1:
        assert not found
        return
    here = at_inputs_and_nodes(answer)
    assert np.abs(residuals(here)).max() < 1e-7
    # A switching regulator whose output has broken down takes less power, so that in front of
    # it another solution may have more voltage; behind it has none.
    behind = np.isfinite(fields["regulated_voltage"])
    for node, above in enumerate(fields["parent"].tolist()):
        behind[node] |= above >= 0 and behind[above]
    every = np.full(5, not switching)
    counted = np.concatenate((every, every | behind))
    for other in found:
        assert (other[counted] <= here[counted] + 1e-6).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_power_of_the_source_is_that_of_loads_and_heat(circuits, seed, switching):
    fields, demand = drawn(circuits, seed, switching=switching)
    answer = Tree()(fields, demand)
    assume(answer["reason"] == 0)
    total = answer["source_current"]
    spent = answer["node_voltage"] @ fields["load"]
    spent += answer["servo_voltage"] @ answer["servo_current"]
    spent += answer["lead_heat"].sum() + np.nansum(answer["regulator_heat"]) + 0.05 * total**2
    assert SOURCE * total == pytest.approx(spent, rel=1e-7)
    assert np.nanmin(answer["regulator_heat"]) >= 0.0


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans(), st.data())
def test_the_order_of_nodes_does_not_matter_with_regulators(circuits, seed, switching, data):
    fields, demand = drawn(circuits, seed, switching=switching)
    names = np.array(data.draw(st.permutations(range(5))))
    renamed = np.empty(5, dtype=int)
    renamed[names] = [-1 if above < 0 else names[above] for above in fields["parent"]]
    moved = dict(fields) | {"parent": renamed, "servo_node": names[fields["servo_node"]]}
    for name in ("loop_resistance", "load", "regulated_voltage", "output_limit"):
        moved[name] = np.empty(5)
        moved[name][names] = fields[name]
    plain, other = (Tree()(each, demand) for each in (fields, moved))
    for name in ("node_voltage", "lead_current", "ground_rise", "regulator_heat"):
        tolerance = {"rel": 1e-7, "abs": 1e-7, "nan_ok": True}
        assert other[name][names] == pytest.approx(plain[name], **tolerance), name


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4), st.floats(0.0, 0.5), st.booleans())
def test_a_longer_lead_raises_nothing_it_feeds_where_no_demand_falls_with_voltage(
    circuits, seed, lead, more, rising
):
    # With any demand it is so for the lead that feeds all others, node 0.
    lead = lead if rising else 0
    fields, demand = drawn(circuits, seed, switching=False, rising=rising)
    short, long = with_a_longer_lead(fields, demand, lead, more)
    fed = circuits.paths(fields["parent"].tolist())[:, lead] > 0.0
    if not long["reason"]:
        assert (long["node_voltage"][fed] <= short["node_voltage"][fed] + 1e-7).all()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4), st.floats(0.0, 0.5))
def test_a_load_raises_no_voltage_through_linear_regulators(circuits, seed, node, more):
    fields, demand = drawn(circuits, seed, switching=False)
    loaded = fields | {"load": fields["load"] + more * (np.arange(5) == node)}
    with_less, with_more = (Tree()(each, demand) for each in (fields, loaded))
    if not with_more["reason"]:
        most = at_inputs_and_nodes(with_less) + 1e-7
        assert (at_inputs_and_nodes(with_more) <= most).all()


def with_a_longer_lead(fields, demand, lead, more):
    """Answers with the leads as they are, and with one of more resistance."""
    longer = fields["loop_resistance"] + more * (np.arange(5) == lead)
    both = (
        Tree()(fields | {"loop_resistance": r}, demand) for r in (fields["loop_resistance"], longer)
    )
    return tuple(both)


def test_a_longer_lead_may_raise_what_it_feeds_when_another_demand_falls(circuits):
    # Node 0 is a regulator at its limit of 2 A. Servo 1, at node 2, draws least at 1.76 V; with
    # the lead to node 1 as it is, servo 0 behind it takes 2 mA too much for the regulator to stay
    # there, and servo 1 draws more as the voltage falls. With 0.1 ohm more it stays.
    fields, demand = drawn(circuits, 2720, switching=False)
    longer = fields | {"loop_resistance": fields["loop_resistance"] + [0.0, 0.1, 0.0, 0.0, 0.0]}
    one, several = every_solution(fields, demand), every_solution(longer, demand)
    assert (len(one), len(several)) == (1, 3)
    short, long = (at_inputs_and_nodes(Tree()(each, demand)) for each in (fields, longer))
    assert short == pytest.approx(one[0], rel=0, abs=1e-8)
    assert long == pytest.approx(several.max(axis=0), rel=0, abs=1e-8)
    assert (long[5:] > short[5:] + 0.4).all()


def test_a_regulator_in_some_cases_leaves_the_others_as_they_were(circuits):
    demand = circuits.constant(0.5)
    others = {"servo_node": np.array([2]), "load": np.array([0.1, 0.0, 0.0])}
    ohms = [0.1, 0.2, 0.3]
    volts = np.array([[np.nan] * 3, [np.nan, 5.0, np.nan]])
    both = Tree()(
        circuits.fields(
            [-1, 0, 1], ohms, **others, regulated_voltage=volts, dropout=np.array(0.2),
            quiescent_current=np.array(0.02), efficiency=np.array(0.9),
        ),
        demand,
    )  # fmt: skip
    plain = Tree()(circuits.fields([-1, 0, 1], ohms, **others), demand)
    assert both["node_voltage"][0] == pytest.approx(plain["node_voltage"], rel=1e-9)
    assert both["source_current"][0] == pytest.approx(plain["source_current"], rel=1e-9)
    assert both["node_voltage"][1, 1] == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("regulated_voltage", 0.0),
        ("dropout", -0.1),
        ("output_resistance", -0.1),
        ("output_limit", 0.0),
        ("efficiency", 1.1),
        ("efficiency", 0.0),
        ("quiescent_current", np.nan),
    ],
)
def test_a_regulator_without_meaning_is_told_and_spoils_no_other(circuits, name, value):
    good = (REGULATED | {"output_limit": np.inf, "efficiency": 0.9})[name]
    answer = regulated(circuits, 0.5, **{name: np.array([good, value])})
    assert answer["reason"].tolist() == [0, 2]


# Conductors of their own.


def test_a_shared_ground_is_a_lead_without_a_conductor_out(circuits):
    # Two servos with plus wires of their own, 0.2 and 0.3 ohm, and one ground of 0.1 ohm: by
    # Ohm's law V_1 = 8 - 0.2 I_1 - 0.1 (I_1 + I_2), and so on.
    metal = {"resistivity": np.array(1e-8), "temperature_coefficient": np.array(0.0)}
    fields = circuits.fields(
        [-1, 0, 0],
        [np.nan] * 3,
        **metal,
        length=np.array([1.0, 2.0, 3.0]),
        conductor_area=np.array([np.inf, 1e-7, 1e-7]),
        return_area=np.array([1e-7, np.inf, np.inf]),
        copper_temperature=np.array(300.0),
        strand_factor=np.array(1.0),
        contacts=np.array(0.0),
        contact_resistance=np.array(0.0),
        servo_node=np.array([1, 2]),
        seek_details=np.array(1.0),
    )
    answer = Tree()(fields, circuits.constant([1.0, 2.0]))
    assert answer["servo_voltage"] == pytest.approx([8 - 0.2 - 0.3, 8 - 0.6 - 0.3])
    assert answer["ground_rise"] == pytest.approx([0.3, 0.3, 0.3])
    assert answer["lead_heat"] == pytest.approx([0.1 * 9.0, 0.2, 0.3 * 4.0])


def test_conductors_and_contacts_may_differ_each_way(circuits):
    fields = circuits.fields(
        [-1],
        [np.nan],
        length=np.array([2.0]),
        conductor_area=np.array([2e-7]),
        return_area=np.array([1e-7]),
        resistivity=np.array(2e-8),
        temperature_coefficient=np.array(0.004),
        copper_temperature=np.array(293.15 + 50.0),
        strand_factor=np.array(1.1),
        contacts=np.array(1.0),
        return_contacts=np.array(3.0),
        contact_resistance=np.array(0.01),
        seek_details=np.array(1.0),
    )
    answer = Tree()(fields, circuits.constant(1.0))
    out = 1.1 * 2e-8 * 1.2 * 2.0 / 2e-7 + 0.01
    back = 1.1 * 2e-8 * 1.2 * 2.0 / 1e-7 + 0.03
    assert SOURCE - answer["servo_voltage"].item() == pytest.approx(out + back)
    assert answer["ground_rise"].item() == pytest.approx(back)


def test_a_measured_lead_has_half_of_its_resistance_each_way(circuits):
    answer = circuits.one_lead(circuits.constant(2.0), 0.3, seek_details=np.array(1.0))
    assert answer["ground_rise"].item() == pytest.approx(0.3)
    assert answer["lead_current"].item() == pytest.approx(2.0)
