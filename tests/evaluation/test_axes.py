"""Variants along axes of their own: the same numbers as one aircraft after another."""

from __future__ import annotations

from pathlib import Path

import attrs
import numpy as np
import pytest

import linkcalc
from linkcalc.evaluation import axes
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.speeds import find_speeds

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(EXAMPLES / "sandpiper.toml")


def _with(aircraft, run, **changes):
    """Return the aircraft with changes to the linkage, surface, servo or lead of one run."""
    old = aircraft.runs[run]
    linkage, servo, lead = old.linkages[0], old.servo, old.lead
    for name in ("arm", "horn"):
        if name in changes:
            part = attrs.evolve(getattr(linkage, name), radius=changes[name])
            linkage = attrs.evolve(linkage, **{name: part})
    if "surface" in changes:
        linkage = attrs.evolve(linkage, surface=attrs.evolve(linkage.surface, **changes["surface"]))
    if "compliance" in changes:
        linkage = attrs.evolve(linkage, compliance=changes["compliance"])
    if "rows" in changes:
        servo = attrs.evolve(servo, name="another", rows=changes["rows"])
    if "gauge" in changes:
        lead = attrs.evolve(lead, name="another", gauge=changes["gauge"])
    new = attrs.evolve(old, linkages=[linkage], servo=servo, lead=lead)
    runs = list(aircraft.runs)
    runs[run] = new
    return attrs.evolve(aircraft, runs=runs)


def _rows(count, torque):
    return [
        linkcalc.DatasheetRow(
            voltage=f"{4.8 + 0.6 * k} V",
            stall_torque=f"{torque * (1 + 0.1 * k)} N·m",
            no_load_speed=f"{7 + k} rad/s",
            stall_current=f"{1 + 0.2 * k} A",
        )
        for k in range(count)
    ]


AXES = {
    "arms and horns": lambda glider: [
        _with(glider, 0, arm=f"{arm} mm", horn=f"{horn} mm") for arm in (8, 11) for horn in (9, 14)
    ],
    "servos": lambda glider: [
        _with(glider, 1, rows=_rows(count, torque))
        for count, torque in ((1, 0.1), (3, 0.25), (2, 0.02))
    ],
    "leads": lambda glider: [_with(glider, 0, gauge=gauge) for gauge in ("0.08 mm^2", "0.5 mm^2")],
    "surfaces": lambda glider: [
        _with(glider, 3, surface={"span": span, "mass": "60 g", "mass_centre": "20 mm"})
        for span in ("300 mm", "500 mm")
    ],
    "compliance": lambda glider: [
        _with(glider, 4, compliance=value) for value in ("0.5 deg/(N·m)", "9 deg/(N·m)")
    ],
    "cases": lambda glider: [
        attrs.evolve(glider, cases=[attrs.evolve(case, speed=speed) for case in glider.cases])
        for speed in ("20 m/s", "31 m/s")
    ],
    "supply": lambda glider: [
        attrs.evolve(glider, supply=attrs.evolve(glider.supply, internal_resistance=ohms))
        for ohms in ("10 mohm", "0.4 ohm")
    ],
    "receiver": lambda glider: [
        attrs.evolve(glider, receiver=attrs.evolve(glider.receiver, minimum_voltage=volts))
        for volts in ("3 V", "4.5 V")
    ],
}


def _inputs(aircraft):
    return gather(aircraft).inputs


def _margins(answer, place, shape):
    return np.stack(
        [
            np.broadcast_to(mode.margin, (mode.margin.shape[0], *shape))[:, *place]
            for mode in answer.margins
        ]
    )


@pytest.mark.parametrize("name", AXES)
def test_one_axis_is_one_aircraft_after_another(glider, name):
    variants = [_inputs(each) for each in AXES[name](glider)]
    used, cases, runs = factors(glider.factors), *variants[0].cases.speed.shape
    answer = evaluate(axes.inserted(_inputs(glider), [variants]), both(used, 4))
    for place, each in enumerate(variants):
        alone = evaluate(each, both(used, 3))
        np.testing.assert_allclose(
            _margins(answer, (place,), (len(variants), cases, runs)),
            _margins(alone, (), (cases, runs)),
            rtol=1e-12,
            atol=1e-12,
        )


def test_two_axes_are_every_pair(glider):
    names = ("servos", "leads")
    # the base is the first of neither axis
    lists = [[_inputs(each) for each in AXES[name](glider)] for name in names]
    used, cases, runs = factors(glider.factors), *lists[0][0].cases.speed.shape
    answer = evaluate(axes.inserted(_inputs(glider), lists), both(used, 5))
    shape = (*map(len, lists), cases, runs)
    for i, row in enumerate(((1, 0.1), (3, 0.25), (2, 0.02))):
        for j, gauge in enumerate(("0.08 mm^2", "0.5 mm^2")):
            both_changed = _with(_with(glider, 1, rows=_rows(*row)), 0, gauge=gauge)
            alone = evaluate(_inputs(both_changed), both(used, 3))
            np.testing.assert_allclose(
                _margins(answer, (i, j), shape), _margins(alone, (), (cases, runs)), rtol=1e-12
            )


@pytest.mark.parametrize("name", AXES)
def test_limits_of_speed_of_variants_as_cases(glider, name):
    variants = [_inputs(each) for each in AXES[name](glider)]
    used, (cases, runs) = factors(glider.factors), variants[0].cases.speed.shape
    flat = axes.flattened(axes.inserted(_inputs(glider), [variants]))
    found = find_speeds(flat, used, prepare(flat))
    for place, each in enumerate(variants):
        alone = find_speeds(each, used, prepare(each))
        for one, other in zip(found[:3], alone[:3], strict=True):
            for name_, ours, theirs in zip(one._fields, one, other, strict=True):
                part = ours.reshape(len(variants), cases, runs)[place]
                np.testing.assert_allclose(part, theirs, rtol=1e-9, err_msg=name_)


def test_flattened_inputs_are_evaluated_alike(glider):
    lists = [[_inputs(each) for each in AXES[name](glider)] for name in ("servos", "surfaces")]
    used, (cases, runs) = factors(glider.factors), lists[0][0].cases.speed.shape
    stacked = axes.inserted(_inputs(glider), lists)
    shape = (*map(len, lists), cases, runs)
    ours = _margins(evaluate(stacked, both(used, 5)), (), shape)
    flat = _margins(evaluate(axes.flattened(stacked), both(used, 3)), (), (cases * 6, runs))
    np.testing.assert_allclose(flat.reshape(ours.shape), ours, rtol=1e-12)


def test_axes_that_change_one_thing_are_refused(glider):
    lists = [[_inputs(each) for each in AXES[name](glider)] for name in ("servos", "servos")]
    with pytest.raises(ValueError, match="two axes change servos"):
        axes.inserted(_inputs(glider), lists)


def test_a_variant_with_another_count_of_runs_is_refused(glider):
    fewer = attrs.evolve(glider, runs=glider.runs[:-1])
    with pytest.raises(ValueError, match="a variant has another"):
        axes.inserted(_inputs(glider), [[_inputs(fewer)]])


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_array_has_the_axes_that_are_known_of_it(file):
    for path, leaf in axes.leaves(_inputs(linkcalc.read_aircraft(file))):
        if isinstance(leaf, (str, tuple)) or path[-1] in axes.ALIKE:
            continue
        by_case = path[0] == "cases" and not str(path[1]).startswith("throw")
        assert np.ndim(leaf) == axes.own_axes(path) + by_case, path
