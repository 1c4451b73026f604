"""Every combination of some axes, against one aircraft described and evaluated after another."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.evaluation.evaluate import evaluate
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.study.paths import parsed, placed
from linkcalc.study.space import Axis, Space, part
from linkcalc.study.trials import margins_that_apply

EXAMPLES = Path(__file__).parents[2] / "examples"
RUN = "runs['outboard aileron, starboard']"


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(EXAMPLES / "sandpiper.toml")


def axis(path, *values):
    return Axis(path, values, lambda aircraft, index: placed(aircraft, path, values[index]))


def brute_force(space):
    """Return the margins of every combination, shape (mode, axis..., case, run)."""
    made = []
    for at in product(*map(range, space.shape)):
        aircraft = space.described(at)
        inputs = gather(aircraft).inputs
        answer = evaluate(inputs, both(factors(aircraft.factors), 3))
        made.append(margins_that_apply(answer, inputs))
    stack = np.stack(made, axis=1)
    return stack.reshape(len(stack), *space.shape, *stack.shape[2:])


def ours(space, at_once):
    parts = []
    used = both(factors(space.aircraft.factors), 3 + len(space.groups))
    for place in space.blocks(at_once):
        inputs = part(space.whole, place)
        parts.append((place, margins_that_apply(evaluate(inputs, used), inputs)))
    lengths = [max(place[g].stop for place, _ in parts) for g in range(len(space.groups))]
    whole = np.full((parts[0][1].shape[0], *lengths, *parts[0][1].shape[-2:]), -np.inf)
    for place, values in parts:
        whole[(slice(None), *place)] = values
    return space.spread(whole, 2)


SPACES = {
    "holes, gauge and voltage": (
        (f"{RUN}.arm", "8 mm", "12 mm"),
        (f"{RUN}.horn", "9 mm", "15 mm", "18 mm"),
        ("leads.outboard_starboard.gauge", "28 AWG", "22 AWG"),
        ("supply.voltage", "5.5 V", "6.2 V"),
    ),
    "a group with another axis between": (
        (f"{RUN}.arm", "8 mm", "12 mm"),
        ("supply.voltage", "5.5 V", "6.2 V", "5.8 V"),
        (f"{RUN}.horn", "9 mm", "15 mm"),
    ),
    "speed, area and servo": (
        ("cases['dive from the cloud edge'].speed", "40 m/s", "50 m/s"),
        (f"{RUN}.surface.span", "500 mm", "700 mm"),
        ("servos.wing.rows[1].stall_torque", "3.3 kg·cm", "5 kg·cm"),
    ),
    "a trunk and another run": (
        ("leads.trunk_starboard.length", "0.5 m", "1.5 m"),
        ("runs['inboard flap, port'].arm.radius", "7 mm", "9 mm"),
        (f"{RUN}.pushrod.diameter", "1 mm", "2 mm"),
    ),
}


@pytest.mark.parametrize("name", SPACES)
def test_every_combination_is_as_described_alone(glider, name):
    space = Space(glider, [axis(*each) for each in SPACES[name]])
    np.testing.assert_allclose(ours(space, 10**6), brute_force(space), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("at_once", [1, 5, 7, 1000])
def test_size_of_a_block_changes_no_digit(glider, at_once):
    space = Space(glider, [axis(*each) for each in SPACES["holes, gauge and voltage"]])
    np.testing.assert_array_equal(ours(space, at_once), ours(space, 10**6))


def test_blocks_have_every_combination_once(glider):
    space = Space(glider, [axis(*each) for each in SPACES["holes, gauge and voltage"]])
    counted = np.zeros([6, 2, 2])
    for place in space.blocks(9):
        counted[place] += 1
    np.testing.assert_array_equal(counted, 1)


def test_what_acts_on_the_same_numbers_is_one_group(glider):
    space = Space(glider, [axis(*each) for each in SPACES["holes, gauge and voltage"]])
    assert space.groups == ((0, 1), (2,), (3,))
    assert space.size == 24


def test_what_acts_together_only_elsewhere_is_found_out(glider):
    # A range by speed: below the manoeuvre speed a higher manoeuvre speed changes nothing.
    case = linkcalc.FlightCase(name="by speed", speed="20 m/s", density="1.2 kg/m^3")
    by_speed = linkcalc.replace(glider, cases=[case], manoeuvre_speed="25 m/s", dive_speed="50 m/s")
    space = Space(
        by_speed,
        [
            axis("cases['by speed'].speed", "20 m/s", "40 m/s"),
            axis("manoeuvre_speed", "25 m/s", "30 m/s"),
        ],
    )
    assert space.groups == ((0, 1),)
    np.testing.assert_allclose(ours(space, 100), brute_force(space), rtol=1e-12, atol=1e-12)


def test_no_axis_no_value_and_a_factor_are_refused(glider):
    with pytest.raises(InputError, match="at least one"):
        Space(glider, [])
    with pytest.raises(InputError, match="no value"):
        Space(glider, [axis("supply.voltage")])
    with pytest.raises(InputError, match="safety factor"):
        Space(glider, [axis("factors.torque", 1.2, 1.5)])


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("", "a path such as"),
        ("runs[", "a path such as"),
        ("a" * 500, "a path such as"),
        ("runs['no such'].arm", "outboard aileron, starboard"),
        ("runs[99].arm", "outboard aileron, starboard"),
        ("supply.colour", "voltage"),
        ("supply.voltage.unit", "nothing inside"),
        ("leads.nowhere.gauge", "trunk_starboard"),
        ("servos.nobody.travel", "wing"),
        ("__class__", "one of"),
    ],
)
def test_a_path_to_nowhere_is_told(glider, path, words):
    with pytest.raises(InputError) as told:
        placed(glider, path, "1 mm")
    assert words in str(told.value)


def test_a_path_is_spelled_with_quotes_or_without():
    assert parsed("runs[elevator].arm") == parsed("runs['elevator'].arm")


def test_a_servo_is_changed_for_all_runs_that_have_it(glider):
    changed = placed(glider, "servos.wing.travel", "33 deg")
    assert [run.servo.name == "wing" for run in glider.runs] == [
        run.servo.travel is not None and run.servo.name == "wing" for run in changed.runs
    ]
