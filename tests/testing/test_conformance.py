"""Solvers that are known to be sound conform; each that breaks one promise is told which."""

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from linkcalc.solvers import load, names
from linkcalc.testing import conformance
from linkcalc_dive.point_mass import PointMass
from linkcalc_hinge_moment.plate import Plate
from linkcalc_wiring.tree import Tree

CHECKS = {
    "hinge moment": conformance.hinge_moment,
    "supply": conformance.supply_tree,
    "dive": conformance.dive,
}
_FILE = Path(__file__).parents[2] / "examples/balsa_rig/balsa_rig.py"
_SPEC = importlib.util.spec_from_file_location("balsa_rig", _FILE)
balsa_rig = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(balsa_rig)
Rig = balsa_rig.Rig


@pytest.mark.parametrize("kind", CHECKS)
def test_every_bundled_solver_conforms(kind):
    assert names(kind)
    for name in names(kind):
        CHECKS[kind](load(kind, name))


def changed(change):
    """A rig whose answer is changed."""

    class Changed(Rig):
        def __call__(self, fields):
            return change(fields, super().__call__(fields))

    return Changed()


def scaled(found, factor):
    return found | {line: found[line] * factor for line in ("low", "best", "high")}


def odd_one_out(_, found):
    """Every answer shifted by the number of cases in it."""
    return scaled(found, 1.0 + 1e-6 * np.size(found["best"]))


def grows():
    """Every answer a little larger than the last."""
    calls = []

    def change(_, found):
        calls.append(1)
        return scaled(found, 1.0 + 1e-3 * len(calls))

    return changed(change)


class Guesses(Rig):
    def __call__(self, fields):
        return super().__call__({"incidence": np.asarray(0.0), **fields})


class Vague(Rig):
    def __call__(self, fields):
        if set(fields) != set(self.fields):
            raise TypeError("not what I want")
        return super().__call__(fields)


class Writes(Rig):
    def __call__(self, fields):
        fields["deflection"] *= 1.0
        return super().__call__(fields)


class Numbers(Rig):
    def __call__(self, fields):
        return super().__call__({name: np.nan_to_num(value) for name, value in fields.items()})


class OneAtATime(Rig):
    def __call__(self, fields):
        if fields["deflection"].ndim > 1:
            raise ValueError("one axis is all I know")
        return super().__call__(fields)


def refusing(base, when):
    """A solver that gives up where it is asked for something."""

    class Refusing(base):
        def __call__(self, fields, *rest):
            if when(fields):
                raise ValueError("not with me")
            return super().__call__(fields, *rest)

    return Refusing()


def with_members(base, **members):
    return type("Odd", (base,), members)()


BROKEN = {
    "has other coefficients": (
        changed(lambda _, found: found | {"C_h_delta": 1.1 * found["C_h_delta"]}),
        r"near neutral its best line is not q S c \(C_h0",
    ),
    "has a moment without air": (
        changed(
            lambda _, found: found | {line: found[line] - 1e-9 for line in ("low", "best", "high")}
        ),
        "without any air it has a hinge moment",
    ),
    "sees its neighbours": (changed(odd_one_out), "one case alone has 'best'"),
    "is not the same twice": (grows(), "asked twice the same, it answers two different 'low'"),
    "guesses": (Guesses(), "without the field 'incidence' it answers all the same"),
    "does not say what is missing": (Vague(), "raises what does not name it: TypeError"),
    "writes into its arguments": (Writes(), "output array is read-only"),
    "makes numbers of nan": (Numbers(), "with nan for 'deflection' it still answers with numbers"),
    "knows one axis": (OneAtATime(), "with deflections of another shape than the rest"),
    "gives up alone": (
        refusing(Rig, lambda f: np.ndim(f.get("deflection", [0])) == 0),
        "a case that it solved among others fails alone: .*not with me",
    ),
    "gives up at nan": (
        refusing(Rig, lambda f: any(np.isnan(value).any() for value in f.values())),
        "with nan for 'deflection': .*not with me",
    ),
    "gives up without air": (
        refusing(Rig, lambda f: np.all(f.get("dynamic_pressure", 1.0) == 0.0)),
        "not with me",
    ),
    "gives up near neutral": (
        refusing(Rig, lambda f: np.abs(f.get("deflection", 1.0)).max() < 1e-4),
        "not with me",
    ),
    "turns the lines round": (
        changed(lambda _, found: found | {"low": found["high"], "high": found["low"]}),
        "not in the order low, best, high",
    ),
    "has no sources": (with_members(Rig, sources=()), r"its sources are \(\) instead of"),
    "has two lines": (with_members(Rig, description="a\nb"), "its description is .* one line"),
    "asks in degrees": (with_members(Rig, fields={"deflection": "deg"}), "'deflection' in 'deg'"),
    "asks for the moon": (with_members(Rig, fields={"moon": "1"}), "offered is 'no such field'"),
    "stands nowhere": (
        with_members(Rig, validity={"deflection": (0.5, -0.5)}),
        "its validity of 'deflection' is empty: 0.5 to -0.5",
    ),
    "stands for another's field": (
        with_members(Rig, validity={"taper": (0.5, 1.0)}),
        "its validity names 'taper', which is none of its fields",
    ),
    "is a class": (Rig, "it is a class: hand over an instance"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_a_hinge_moment_solver_is_told_what_it_breaks(what):
    solver, words = BROKEN[what]
    with pytest.raises(AssertionError, match=f"does not conform:\n(.*\n)*- .*{words}"):
        conformance.hinge_moment(solver)


def test_the_sound_rig_conforms():
    conformance.hinge_moment(Rig())


def test_everything_is_told_at_once():
    with pytest.raises(AssertionError) as told:
        conformance.hinge_moment(with_members(Guesses, sources=(), validity={"taper": (0, 1)}))
    assert str(told.value).count("\n- ") == 3


def test_what_lacks_its_members_is_not_called():
    with pytest.raises(AssertionError, match="it lacks description, sources, validity, fields"):
        conformance.hinge_moment(type("Bare", (), {"name": "bare", "__call__": None})())


def tree(change):
    class Changed(Tree):
        def __call__(self, fields, demand):
            found = dict(super().__call__(fields, demand))
            return change(fields, demand, found)

    return Changed()


def lower(fields, demand, found):
    """The lower of two solutions, where the closed form has two."""
    if np.shape(fields["parent"]) != (1,):
        return found
    volts = np.array([(6.0 - math.sqrt(36.0 - 16.0)) / 2.0])
    return found | {"servo_voltage": volts, "node_voltage": volts, "servo_current": demand(volts)}


BROKEN_SUPPLIES = {
    "raises": (refusing(Tree, lambda f: "parent" in f), "not with me"),
    "gives up without a current": (
        refusing(Tree, lambda f: np.size(f.get("load", 0.0)) == 4 and not np.any(f["load"])),
        "where nothing is drawn: .*not with me",
    ),
    "gives up on a constant power": (
        refusing(Tree, lambda f: np.size(f.get("parent", [0, 0])) == 1),
        "takes one power at any voltage: .*not with me",
    ),
    "draws another current": (
        tree(lambda _, __, found: found | {"servo_current": 1.01 * found["servo_current"]}),
        "a servo draws another current than its demand",
    ),
    "loses a load": (
        tree(lambda _, __, found: found | {"source_current": 0.9 * found["source_current"]}),
        "not the sum of what servos and loads draw",
    ),
    "has another voltage at the plug": (
        tree(lambda _, __, found: found | {"servo_voltage": 0.99 * found["servo_voltage"]}),
        "another voltage than the node",
    ),
    "loses volts without a current": (
        tree(
            lambda _, __, found: (
                found | {name: 0.999 * found[name] for name in ("servo_voltage", "node_voltage")}
            )
        ),
        "where nothing is drawn the voltage is not that of the source",
    ),
    "makes voltage": (
        tree(lambda _, __, found: found | {"node_voltage": 1.0 + found["node_voltage"]}),
        "a voltage rises along a lead",
    ),
    "gives up": (
        tree(lambda _, __, found: found | {"reason": np.ones_like(found["reason"])}),
        "it finds no solution for three servos",
    ),
    "takes the lower solution": (tree(lower), "and not the greater one, 5.23607 V"),
}


@pytest.mark.parametrize("what", BROKEN_SUPPLIES)
def test_a_supply_solver_is_told_what_it_breaks(what):
    solver, words = BROKEN_SUPPLIES[what]
    with pytest.raises(AssertionError, match=f"does not conform:\n(.*\n)*- .*{words}"):
        conformance.supply_tree(solver)


def point_mass(change):
    class Changed(PointMass):
        def __call__(self, fields, reach):
            return change(reach, dict(super().__call__(fields, reach)))

    return Changed()


def refuse_reach(reach, found):
    if reach is not None:
        raise ValueError("not with me")
    return found


BROKEN_DIVES = {
    "raises": (refusing(PointMass, lambda f: "mass" in f), "not with me"),
    "gains energy": (
        point_mass(lambda _, found: found | {"dive_speed": 2.0 * found["dive_speed"]}),
        "faster than its height allows",
    ),
    "breaks the wing": (
        point_mass(lambda _, found: found | {"greatest_load_factor": found["dive_speed"]}),
        "beyond the load factor of the structure",
    ),
    "loses a metre": (
        point_mass(lambda _, found: found | {"lowest_height": found["lowest_height"] + 1.0}),
        "start height less the height lost is not the lowest height",
    ),
    "likes a weak servo": (
        point_mass(
            lambda reach, found: (
                found if reach is None else found | {"height_lost": 0.5 * found["height_lost"]}
            )
        ),
        "loses less height than with one that is not",
    ),
    "raises where a servo is blown back": (
        point_mass(refuse_reach),
        "with a servo that is blown back: .*not with me",
    ),
    "never recovers": (
        point_mass(lambda _, found: found | {"reason": np.ones_like(found["reason"])}),
        "does not recover",
    ),
}


@pytest.mark.parametrize("what", BROKEN_DIVES)
def test_a_dive_solver_is_told_what_it_breaks(what):
    solver, words = BROKEN_DIVES[what]
    with pytest.raises(AssertionError, match=f"does not conform:\n(.*\n)*- .*{words}"):
        conformance.dive(solver)


def test_a_solver_of_another_kind_is_told_that_its_fields_are_not_offered():
    with pytest.raises(AssertionError, match="offered is 'no such field'"):
        conformance.supply_tree(Plate())
