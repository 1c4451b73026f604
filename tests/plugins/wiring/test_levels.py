"""Tree sweeps against dense linear algebra, and the trees that they refuse."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcalc.errors import SolverError
from linkcalc_wiring.levels import Circuit, Regulators, arrange, gathered, linear_step


@st.composite
def trees(draw, most=8):
    """Draw parents in any order of the nodes, and which nodes are joined to theirs."""
    count = draw(st.integers(1, most))
    parent = [draw(st.integers(-1, node - 1)) for node in range(count)]
    order = draw(st.permutations(range(count)))
    renamed = [0] * count
    for node, name in enumerate(order):
        renamed[name] = -1 if parent[node] < 0 else order[parent[node]]
    joined = draw(st.lists(st.booleans(), min_size=count, max_size=count))
    return tuple(renamed), tuple(joined)


def chain(node, parent):
    """Nodes from one to the source."""
    while node >= 0:
        yield node
        node = parent[node]


@given(trees())
def test_every_level_hangs_on_earlier_ones_and_joined_nodes_share_a_position(tree):
    parent, joined = tree
    layout = arrange(parent, joined, ())
    seen = {0}
    for level in layout.levels:
        assert set(level.parents.tolist()) <= seen
        seen |= set(range(level.nodes.start, level.nodes.stop))
    assert seen == set(range(layout.positions))
    for node in range(len(parent)):
        own = layout.node_position[node]
        above = layout.node_position[parent[node]] if parent[node] >= 0 else 0
        if joined[node]:
            assert own == above
            continue
        level = next(
            level for level in layout.levels if level.nodes.start <= own < level.nodes.stop
        )
        assert level.parents[own - level.nodes.start] == above
    assert layout.positions == 1 + joined.count(False)


@given(trees(), st.data())
def test_servos_are_summed_where_they_hang(tree, data):
    parent, joined = tree
    servo_node = data.draw(st.lists(st.integers(0, len(parent) - 1), max_size=6))
    layout = arrange(parent, joined, tuple(servo_node))
    values = np.arange(1.0, 1.0 + 2 * len(servo_node)).reshape(len(servo_node), 1, 2)
    expected = np.zeros((layout.positions, 1, 2))
    for servo, node in enumerate(servo_node):
        expected[layout.node_position[node]] += values[servo]
    assert (gathered(layout, values) == expected).all()


def dense(layout, parent, joined, resistance):
    """Resistance matrix of the positions, the internal resistance included."""
    member = np.zeros((layout.positions, layout.positions))
    member[:, 0] = 1.0
    for node in range(len(parent)):
        for lead in chain(node, parent):
            if not joined[lead]:
                member[layout.node_position[node], layout.node_position[lead]] = 1.0
    return member @ np.diag(resistance) @ member.T


@settings(max_examples=60)
@given(trees(), st.integers(0, 2**32 - 1), st.booleans())
def test_one_step_solves_a_linear_circuit_from_anywhere(tree, seed, zero):
    parent, joined = tree
    layout = arrange(parent, joined, ())
    random = np.random.default_rng(seed)
    shape = (layout.positions, 1, 1)
    ohms = random.uniform(0.01, 1.0, layout.positions) * (
        random.random(layout.positions) > 0.3 * zero
    )
    circuit = Circuit(layout, ohms.reshape(shape), np.array([8.0]), None)
    voltage = random.uniform(0.0, 8.0, shape)
    drawn, slope = random.uniform(0.0, 2.0, (2, *shape))
    residual, change, total = linear_step(circuit, voltage, drawn, slope)
    # The second way: V = V_oc - Z (I + s d), all at once.
    matrix = dense(layout, parent, joined, ohms)
    v, i, s = voltage.ravel(), drawn.ravel(), slope.ravel()
    expected = np.linalg.solve(np.eye(v.size) + matrix * s, 8.0 - v - matrix @ i)
    assert change.ravel() == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert total.item() == pytest.approx(i.sum())
    solved = np.abs(8.0 - v - matrix @ i).max() < 1e-12
    assert solved or np.abs(residual).max() > 0.0


@settings(max_examples=60)
@given(trees(), st.integers(0, 2**32 - 1))
def test_residuals_vanish_only_on_kirchhoffs_laws(tree, seed):
    parent, joined = tree
    layout = arrange(parent, joined, ())
    random = np.random.default_rng(seed)
    shape = (layout.positions, 1, 1)
    ohms = random.uniform(0.01, 1.0, layout.positions)
    circuit = Circuit(layout, ohms.reshape(shape), np.array([8.0]), None)
    drawn = random.uniform(0.0, 2.0, shape)
    voltage = 8.0 - dense(layout, parent, joined, ohms) @ drawn.ravel()
    residual, change, _ = linear_step(circuit, voltage.reshape(shape), drawn, 0.0 * drawn)
    assert np.abs(residual).max() < 1e-12
    assert np.abs(change).max() < 1e-11
    wrong = voltage.copy()
    wrong[random.integers(voltage.size)] += 0.5
    residual, _, _ = linear_step(circuit, wrong.reshape(shape), drawn, 0.0 * drawn)
    assert np.abs(residual).max() == pytest.approx(0.5)


def step_at_terminals(*, voltage, drawn, slope, limit, internal=0.5):
    """Step of a source with a limit whose load sits at its terminals."""
    layout = arrange((-1,), (True,), ())
    numbers = (np.array([[[float(value)]]]) for value in (internal, voltage, drawn, slope))
    ohms, *rest = numbers
    circuit = Circuit(layout, ohms, np.array([8.0]), np.array([float(limit)]))
    return tuple(float(value.item()) for value in linear_step(circuit, *rest))


def test_a_source_at_its_limit_lets_the_voltage_fall_to_what_the_load_makes_of_it():
    # At 6 V a load draws 3 A, 0.5 A less for every volt less; the source gives 2 A at most.
    residual, change, total = step_at_terminals(voltage=6.0, drawn=3.0, slope=0.5, limit=2.0)
    assert (residual, change, total) == pytest.approx((-4.0, -2.0, 3.0))
    # Found at 4 V and 2 A, where the source without its limit would hold 8 V - 0.5 x 2 A.
    residual, change, _ = step_at_terminals(voltage=4.0, drawn=2.0, slope=0.5, limit=2.0)
    assert (residual, change) == pytest.approx((0.0, 0.0))


def test_a_source_under_its_limit_holds_its_own_line():
    # 8 V - 0.5 ohm x 1 A, on a limit of 2 A.
    residual, change, _ = step_at_terminals(voltage=7.5, drawn=1.0, slope=0.1, limit=2.0)
    assert (residual, change) == pytest.approx((0.0, 0.0))
    residual, change, _ = step_at_terminals(voltage=7.0, drawn=1.0, slope=0.0, limit=2.0)
    assert (residual, change) == pytest.approx((0.5, 0.5))


@pytest.mark.parametrize("off", [0.2, -0.2])
def test_a_step_through_a_switching_regulator_leaves_the_square_of_what_was_missing(off):
    # 10 V behind 0.5 ohm, 10 W at 5 V and an efficiency of 0.9: (10 V - V) V / 0.5 ohm = 11.11 W.
    # At 9.41 V it draws 0.125 A more for every volt less; nothing else in the circuit bends.
    layout = arrange((-1,), (False,), (0,), (True,))
    column = np.zeros((3, 1, 1))
    regulators = Regulators(column + 5.0, column, column + np.inf, column + 0.9, column)
    ohms = np.array([0.0, 0.5, 0.0]).reshape(3, 1, 1)
    circuit = Circuit(layout, ohms, np.array([10.0]), None, regulators)
    drawn = np.array([0.0, 0.0, 2.0]).reshape(3, 1, 1)
    settled = (10.0 + np.sqrt(100.0 - 4 * 0.5 * 10.0 / 0.9)) / 2.0
    voltage = np.array([10.0, settled + off, 5.0]).reshape(3, 1, 1)
    _, change, _ = linear_step(circuit, voltage, drawn, column)
    left = abs(float(voltage[1, 0, 0] + change[1, 0, 0]) - settled)
    # Newton's own remainder: f'' / (2 f') of f = 10 - V - 0.5 x 11.11 / V
    current = 0.5 * 10.0 / 0.9
    assert left == pytest.approx(
        current / settled**3 / (1 - current / settled**2) * off**2, rel=0.1
    )


@pytest.mark.parametrize(
    ("parent", "servos", "message"),
    [
        ((1, 0), (), "ring"),
        ((-1, 1), (), "1 of 2 nodes, node 1"),
        ((-1, 2), (), "parent of node 1 is 2, which is no node; give a node from 0 to 1 or -1"),
        ((-2,), (), "parent of node 0 is -2"),
        ((-1, 0), (0, 2), "node of servo 1 is 2, which is no node; give a node from 0 to 1"),
        ((-1, 0), (-1,), "node of servo 0 is -1"),
    ],
)
def test_what_is_no_tree_is_refused(parent, servos, message):
    with pytest.raises(SolverError, match=message):
        arrange(parent, (False,) * len(parent), servos)
