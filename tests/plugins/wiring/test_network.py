"""The search for the greatest voltages against root finding, closed forms and other starts."""

import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, root

from linkcalc.physics import servo
from linkcalc_wiring.network import tabulated
from linkcalc_wiring.tree import Tree

SOURCE = 8.0  # [V]
STEP = SOURCE / 32  # of the table; bends two steps apart are promised to be seen


@st.composite
def broken_lines(draw, most=5):
    """Draw a demand of straight pieces whose bends are two steps of the table apart."""
    count = draw(st.integers(1, most))
    gaps = draw(st.lists(st.floats(2 * STEP, 3.0), min_size=count, max_size=count))
    currents = draw(st.lists(st.floats(0.0, 6.0), min_size=count, max_size=count))
    return np.concatenate(([0.0], np.cumsum(gaps))), np.array([0.0, *currents])


@st.composite
def servos(draw):
    """Draw curves of one servo, rows at least half a volt apart, and a torque."""
    count = draw(st.integers(1, 4))
    gaps = draw(st.lists(st.floats(2 * STEP, 3.0), min_size=count, max_size=count))
    steps = st.lists(st.floats(0.05, 1.5), min_size=count, max_size=count)
    torque, stalled = np.cumsum(draw(steps)), np.cumsum(draw(steps))
    rows = {
        "voltage": np.cumsum(gaps),
        "stall_torque": torque,
        "no_load_speed": torque,
        "stall_current": 2.0 * stalled,
        "no_load_current": 0.1 * stalled,
    }
    load = draw(st.floats(0.0, 1.2)) * torque[-1]
    return servo.curves(**{name: column[None] for name, column in rows.items()}), load


def interpolated(*lines):
    """Demand of several servos, each its own broken line."""

    def demand(voltage):
        columns = [np.interp(voltage[..., k], *line) for k, line in enumerate(lines)]
        return np.stack(columns, axis=-1)

    return demand


def all_roots(excess, points):
    """Every change of sign of a function on a dense scan, refined; none may be nearly missed."""
    values = np.array([excess(point) for point in points])
    inner, near = values[1:-1], np.abs(values)
    touching = (near[1:-1] < near[:-2]) & (near[1:-1] < near[2:]) & (near[1:-1] < 2e-3)
    touching &= (np.sign(values[:-2]) == np.sign(inner)) & (np.sign(values[2:]) == np.sign(inner))
    assume(not touching.any())
    changes = np.flatnonzero(np.sign(values[:-1]) != np.sign(values[1:]))
    return [brentq(excess, points[k], points[k + 1], xtol=1e-14) for k in changes]


def check_single_lead(circuits, demand, resistance, bends):
    """One servo on one lead: the answer is the greatest root of V - V_oc + R I(V)."""

    def excess(volts):
        return volts - SOURCE + resistance * float(demand(np.array([volts]))[0])

    points = np.union1d(np.linspace(0.0, SOURCE, 401), bends[bends < SOURCE])
    roots = all_roots(excess, points)
    result = circuits.one_lead(demand, resistance)
    assert result["reason"] == 0
    assert result["servo_voltage"] == pytest.approx(max(roots), rel=0, abs=1e-9 * SOURCE)
    distinct = [found for found in roots if found < max(roots) - 1e-5]
    assert result["latch_up"] == bool(distinct)


@settings(max_examples=60, deadline=None)
@given(broken_lines(), st.floats(0.01, 3.0))
# A narrow dip just above a long plateau; a steep fall between two rows.
@example((np.array([0.0, 4.0, 6.9, 7.4, 7.9]), np.array([0.0, 3.0, 3.0, 0.45, 3.0])), 1.2)
@example((np.array([0.0, 5.0, 5.5, 8.0]), np.array([0.0, 4.0, 0.3, 0.4])), 0.8)
def test_greatest_root_is_found_whatever_the_demand(circuits, line, resistance):
    check_single_lead(circuits, interpolated(line), resistance, line[0])


@settings(max_examples=30, deadline=None)
@given(servos(), st.floats(0.01, 2.0))
def test_greatest_root_is_found_for_servos(circuits, drawn, resistance):
    curves, torque = drawn
    bends = np.cumsum(curves.ramp_width[0])
    # Where it stalls under the torque its demand bends too, and may do so too near a row.
    stall = servo.stall_torque(curves, bends)
    stalled = np.interp(torque, np.append(0.0, stall), np.append(0.0, bends))
    assume(torque > stall[-1] or (np.abs(stalled - bends) >= 2 * STEP).all())
    bends = np.append(bends, stalled)
    check_single_lead(
        circuits, lambda voltage: servo.current(curves, voltage, torque), resistance, bends
    )


@settings(max_examples=150, deadline=None)
@given(st.floats(0.01, 5.0), st.floats(0.01, 60.0), st.floats(1.0, 60.0))
# The answer is right below a voltage at which the chords of the table meet.
@example(2.6328125, 56.65625, 39.0)
def test_constant_power_agrees_with_the_quadratic(circuits, resistance, power, source):
    # V^2 - V_oc V + R P = 0: two solutions, or none.
    root_of = source**2 - 4.0 * resistance * power
    assume(abs(root_of) > 1e-6 * source**2)
    result = circuits.one_lead(
        lambda voltage: power / voltage, resistance, open_circuit_voltage=np.array(source)
    )
    if root_of < 0.0:
        assert result["reason"] == 1
        assert np.isnan(result["servo_voltage"]).all()
        assert not result["latch_up"]
        return
    greatest, least = (source + math.sqrt(root_of)) / 2, (source - math.sqrt(root_of)) / 2
    assume(least > 1e-5 * source)
    assert result["reason"] == 0
    # A residual of 1e-10 moves the root by that over the slope of the equation there.
    slope = 1.0 - resistance * power / greatest**2
    assert result["servo_voltage"] == pytest.approx(greatest, rel=0, abs=1e-10 * source / slope)
    assert result["latch_up"]


def networks(seed, *, limit):
    """A small tree with demands that rise and fall, for one random seed."""
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 5))
    parent = [-1, *(int(random.integers(0, node)) for node in range(1, count))]
    lines = []
    for _ in range(count - 1):
        bends = np.cumsum(2 * STEP + random.exponential(0.8, 4)) + random.uniform(0.0, 2.0)
        currents = random.choice([0.0, 0.2, 1.0, 2.0, 4.0], 4) * random.uniform(0.5, 1.0, 4)
        lines.append((np.append(0.0, bends), np.append(0.0, currents)))
    return {
        "parent": np.array(parent),
        "loop_resistance": random.uniform(0.05, 1.5, count),
        "load": random.choice([0.0, 0.0, 0.2], count),
        "servo_node": np.arange(1, count),
        "internal_resistance": np.array(random.choice([0.05, 0.3])),
        "current_limit": np.array(limit),
    }, lines


def equations(circuits, fields, demand):
    """Residuals of a tree, for any solver: node voltages, then the terminals'."""
    parent, limit = fields["parent"].tolist(), float(fields["current_limit"])
    internal, source = float(fields["internal_resistance"]), SOURCE
    shared = circuits.shared(parent, fields["loop_resistance"], 0.0)

    def residuals(unknown):
        volts, terminals = unknown[:-1], unknown[-1]
        current = fields["load"].copy()
        np.add.at(current, fields["servo_node"], demand(volts[fields["servo_node"]]))
        total = current.sum()
        lost = source - internal * total - terminals
        at_source = lost if math.isinf(limit) else min(lost, limit - total)
        return np.append(volts - terminals + shared @ current, at_source)

    return residuals


@pytest.mark.parametrize("seed", range(30))
def test_no_other_start_finds_a_voltage_above_the_answer_at_any_node(circuits, seed):
    values, lines = networks(seed, limit=math.inf if seed % 2 else 2.5)
    demand = interpolated(*lines)
    result = Tree()(circuits.fields(values["parent"], values["loop_resistance"]) | values, demand)
    residuals = equations(circuits, values, demand)
    random = np.random.default_rng(seed)
    count = len(values["parent"]) + 1
    starts = [np.full(count, SOURCE), *(random.uniform(0.0, SOURCE, count) for _ in range(15))]
    found = [root(residuals, start, tol=1e-13).x for start in starts]
    found = [x for x in found if np.abs(residuals(x)).max() < 1e-9 and x.min() >= 0.0]
    answer = np.append(result["node_voltage"], result["source_voltage"])
    if result["reason"] == 1:
        assert not found
        return
    assert np.abs(residuals(answer)).max() < 1e-9
    for other in found:
        assert (other <= answer + 1e-6).all()
    others = [other for other in found if np.abs(other - answer).max() > 1e-4]
    assert result["latch_up"] or not others


def test_networks_that_are_searched_from_many_starts_do_latch_up_and_do_not():
    # The test above would say nothing if all of its networks were of one kind.
    kinds = set()
    for seed in range(30):
        values, lines = networks(seed, limit=math.inf if seed % 2 else 2.5)
        fields = {name: np.array(np.nan) for name in Tree.fields} | values
        fields["open_circuit_voltage"] = np.array(SOURCE)
        result = Tree()(fields, interpolated(*lines))
        kinds.add((bool(result["latch_up"]), bool(result["limited"])))
    assert len(kinds) == 4


def test_a_solution_at_a_bend_is_found_and_is_lost_a_hair_further_on(circuits):
    # On 1 ohm, V + R I has a dip of 8.5 V at 6.5 V, a hump of 10 V at 6 V and falls below that:
    # with 8.5 V and a hair the answer is at the bend, with a hair less it is at 5.5 V,
    # where V + 2 A + 2 A/V (V - 5 V) = V_oc.
    line = (np.array([0.0, 5.0, 6.0, 6.5, 20.0]), np.array([0.0, 2.0, 4.0, 2.0, 2.0]))
    for hair, expected in ((1e-6, 6.5 + 1e-6), (-1e-6, (8.5 - 1e-6 + 8.0) / 3.0)):
        source = np.array(8.5 + hair)
        result = circuits.one_lead(interpolated(line), 1.0, open_circuit_voltage=source)
        assert result["servo_voltage"] == pytest.approx(expected, rel=0, abs=1e-8)


def test_a_network_that_cannot_start_at_low_voltage_is_told(circuits):
    # Constant power at the end of one of two leads, a servo on the other: without voltage the
    # power would take any current, so that the supply cannot rise from zero.
    def demand(voltage):
        return np.stack([2.0 / voltage[..., 0], 0.1 * voltage[..., 1]], axis=-1)

    fields = circuits.fields([-1, -1], [0.5, 0.5], servo_node=np.array([0, 1]))
    result = Tree()(fields, demand)
    assert result["reason"] == 0
    assert result["latch_up"]
    first = (SOURCE + math.sqrt(SOURCE**2 - 4 * 0.5 * 2.0)) / 2
    assert result["servo_voltage"] == pytest.approx([first, SOURCE / 1.05], rel=1e-9)


def test_a_demand_that_jumps_across_the_equation_has_no_solution(circuits):
    # On 1 ohm, just above 7 V the load is 0.5 mA too large for 8.0005 V, just below as much too
    # small: the excess is never zero, only small.
    result = circuits.one_lead(
        lambda voltage: np.where(voltage > 7.0, 1.001, 1.0),
        1.0,
        open_circuit_voltage=np.array(8.0005),
    )
    assert result["reason"] == 1
    assert np.isnan(result["servo_voltage"]).all()


def test_a_case_that_cannot_rise_from_zero_tells_no_other_of_latch_up(circuits):
    # Constant power; a load that bends and has one solution; and one that no lead can feed.
    power = np.array([[2.0], [0.0], [0.0]])
    bending = np.array([[0.0], [1.0], [1.0]])
    result = circuits.one_lead(
        lambda volts: power / volts + bending * np.interp(volts, [0.0, 2.0, 8.0], [0.0, 1.5, 1.8]),
        0.5,
        load=np.array([[0.0], [0.3], [99.0]]),
    )
    assert result["latch_up"].tolist() == [True, False, False]
    assert result["reason"].tolist() == [0, 0, 1]


@settings(max_examples=50, deadline=None)
@given(broken_lines(most=4))
def test_table_holds_the_demand_at_its_corners_too(line):
    table = tabulated(
        lambda voltage: np.interp(voltage, *line), servos=1, open_circuit_voltage=np.array([SOURCE])
    )
    assert table.usable.all()
    height, level = table.height[:, 0, :, 0], table.level[:, 0, :, 0]
    assert (height[:, 1] == -height[:, 0]).all()
    assert (level[:, 1] == -level[:, 0]).all()
    inside = (line[0] > 2 * STEP) & (line[0] < SOURCE - 2 * STEP)
    slopes = np.diff(line[1]) / np.diff(line[0])
    bent = np.abs(np.diff(np.append(slopes, 0.0))) > 1e-3
    for volts, amperes in np.transpose(line)[1:][bent & inside[1:]]:
        near = np.abs(height[:, 0] - volts) < 1e-6
        assert near.any()
        assert np.abs(level[near, 0] - amperes).min() < 1e-5


def test_an_ordinary_network_takes_few_questions(circuits):
    curves = servo.curves(
        voltage=np.array([[4.8, 6.0]]),
        stall_torque=np.array([[0.5, 0.7]]),
        no_load_speed=np.array([[6.0, 7.0]]),
        stall_current=np.array([[1.5, 1.9]]),
        no_load_current=np.array([[0.2, 0.2]]),
    )
    asked = []

    def demand(voltage):
        asked.append(voltage.shape)
        return servo.current(curves, voltage, 0.3)

    fields = circuits.fields([-1, 0, 0], [0.05, 0.3, 0.4], servo_node=np.array([1, 2]))
    result = Tree()(fields, demand)
    assert result["reason"] == 0
    assert len(asked) <= 9
    assert all(shape[-1] == 2 for shape in asked)
