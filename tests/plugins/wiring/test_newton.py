"""Newton's method with its proof, against closed forms of one lead."""

import numpy as np
import pytest

from linkcalc_wiring.tree import Tree


def counted(demand):
    """Count how often a demand is asked for."""
    asked = []

    def asks(voltage):
        asked.append(voltage.shape)
        return demand(voltage)

    return asks, asked


def test_a_load_that_falls_with_the_voltage_is_found_in_few_steps(circuits):
    # Constant power: V = (V_oc + sqrt(V_oc^2 - 4 R P)) / 2, met by Newton's method from above.
    demand, asked = counted(lambda voltage: 4.0 / voltage)
    fields = circuits.fields([-1], [0.5], seek_latch_up=np.array(0.0))
    result = Tree()(fields, demand)
    assert result["servo_voltage"] == pytest.approx((8.0 + np.sqrt(64.0 - 8.0)) / 2, rel=1e-10)
    assert len(asked) <= 6


@pytest.mark.parametrize("resistance", [(1e-9, 3.0), (3.0, 1e-9)], ids=["source", "lead"])
def test_two_solutions_are_told_wherever_the_resistance_is(circuits, resistance):
    # 2 W through 3 ohm from 8 V: 7.16 V and 0.84 V.
    internal, lead = resistance
    fields = circuits.fields([-1], [lead], internal_resistance=np.array(internal))
    result = Tree()(fields, lambda voltage: 2.0 / voltage)
    assert result["servo_voltage"] == pytest.approx((8.0 + np.sqrt(64.0 - 24.0)) / 2, rel=1e-8)
    assert result["latch_up"]


def test_a_demand_that_turns_negative_on_the_way_has_no_meaning(circuits):
    # At the solution itself it is sound: the chords that prove it meet the negative part.
    result = circuits.one_lead(lambda voltage: np.where(voltage < 4.0, -1.0, 1.0), 0.5)
    assert result["reason"] == 2
    assert np.isnan(result["servo_voltage"]).all()
