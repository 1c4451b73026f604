"""Does a solver of one's own keep what solvers promise? One call tells everything that it breaks.

What is held is the contract of `linkcalc.solvers`, and physics that no method may leave out: no
air, no moment; currents that add up; a dive that gains no energy. That the method is right is not
among it. Hold it to measurements or to published values of your own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from linkcalc.errors import LinkcalcError
from linkcalc.guard import ANY_FAULT
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc.solver_fields import DIVE_FIELDS, SUPPLY_FIELDS, SURFACE_FIELDS
from linkcalc.solvers import call_dive, call_hinge_moment, call_supply
from linkcalc.testing.offered import CASES, constant_power, dives, flows, read_only, servos, supply

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from linkcalc.solvers import DiveSolver, HingeMomentSolver, SupplySolver

    Floats = NDArray[np.float64]

__all__ = ["dive", "hinge_moment", "supply_tree"]

_Ask: TypeAlias = "Callable[[Mapping[str, Floats]], Mapping[str, Any]]"
_LINES = ("low", "best", "high")
_MEMBERS = ("name", "description", "sources", "validity", "fields")
_NO_SERVO = ("servo_voltage", "node_voltage")
_ALIKE = 1e-9  # numpy's vector loops may differ from its scalar ones in the last bits
_SETTLED = 1e-6  # how well a supply has to be solved, as a share of the open-circuit voltage


def hinge_moment(solver: HingeMomentSolver) -> None:
    """Hold a hinge-moment solver to what `linkcalc.solvers.HingeMomentSolver` promises.

    Parameters
    ----------
    solver : HingeMomentSolver
        An instance.

    Raises
    ------
    AssertionError
        It breaks something; the message lists all of it.

    Examples
    --------
    >>> from linkcalc.solvers import load
    >>> hinge_moment(load("hinge moment", "plate"))
    """
    _tell(solver, SURFACE_FIELDS, (), _hinge_moment(solver))


def supply_tree(solver: SupplySolver) -> None:
    """Hold a supply solver to what `linkcalc.solvers.SupplySolver` promises.

    Parameters
    ----------
    solver : SupplySolver
        An instance.

    Raises
    ------
    AssertionError
        It breaks something; the message lists all of it.

    Examples
    --------
    >>> from linkcalc.solvers import load
    >>> supply_tree(load("supply", "tree"))
    """
    _tell(solver, SUPPLY_FIELDS, (), _supply(solver))


def dive(solver: DiveSolver) -> None:
    """Hold a dive solver to what `linkcalc.solvers.DiveSolver` promises.

    Parameters
    ----------
    solver : DiveSolver
        An instance.

    Raises
    ------
    AssertionError
        It breaks something; the message lists all of it.

    Examples
    --------
    >>> from linkcalc.solvers import load
    >>> dive(load("dive", "point_mass"))
    """
    _tell(solver, DIVE_FIELDS, ("reasons",), _dive(solver))


def _tell(
    solver: Any, offered: Mapping[str, str], more: tuple[str, ...], answers: Iterator[str]
) -> None:
    """Raise with everything that was found; a solver that cannot be asked is described alone."""
    found = list(_described(solver, offered, more))
    members = all(hasattr(solver, name) for name in (*_MEMBERS, *more))
    if members and _askable(solver) and set(dict(solver.fields)) <= set(offered):
        found += answers
    if found:
        name = getattr(solver, "name", type(solver).__name__)
        raise AssertionError("\n- ".join([f"the solver {name!r} does not conform:", *found]))


def _askable(solver: Any) -> bool:
    return callable(solver) and not isinstance(solver, type)


def _described(solver: Any, offered: Mapping[str, str], more: tuple[str, ...]) -> Iterator[str]:
    lacking = [name for name in (*_MEMBERS, *more) if not hasattr(solver, name)]
    if not _askable(solver):
        yield "it is a class: hand over an instance" if lacking == [] else "it cannot be called"
    if lacking:
        yield f"it lacks {', '.join(lacking)}"
        return
    for name in ("name", "description"):
        word = getattr(solver, name)
        if not isinstance(word, str) or not word.strip() or "\n" in word:
            yield f"its {name} is {word!r} instead of one line of text"
    told = solver.sources
    if isinstance(told, str) or not told or not all(isinstance(x, str) and x for x in told):
        yield f"its sources are {told!r} instead of a tuple of texts"
    yield from _fields_described(solver, offered)


def _fields_described(solver: Any, offered: Mapping[str, str]) -> Iterator[str]:
    for name, unit in dict(solver.fields).items():
        if offered.get(name) != unit:
            yield f"it asks for {name!r} in {unit!r}; offered is {offered.get(name, 'no such field')!r}"
    for name, (least, greatest) in dict(solver.validity).items():
        if name not in solver.fields:
            yield f"its validity names {name!r}, which is none of its fields"
        if not least < greatest:
            yield f"its validity of {name!r} is empty: {least} to {greatest}"


def _asked(ask: _Ask, fields: Mapping[str, Floats]) -> tuple[Mapping[str, Any], str]:
    """Return an answer, or in words why there is none."""
    try:
        return ask(fields), ""
    except LinkcalcError as error:
        return {}, str(error)


def _without(solver: Any, call: _Ask, fields: Mapping[str, Floats]) -> Iterator[str]:
    """A field that is missing is refused."""
    for name in solver.fields:
        try:
            call({other: value for other, value in fields.items() if other != name})
        except ANY_FAULT as error:  # what it raises is its own affair
            if name not in str(error):
                yield f"without the field {name!r} it raises what does not name it: {error!r}"
        else:
            yield f"without the field {name!r} it answers all the same: it guesses, or does not need it"


def _again(ask: _Ask, fields: Mapping[str, Floats], first: Mapping[str, Any]) -> Iterator[str]:
    """The same question has the same answer."""
    second = ask(fields)
    for name, value in first.items():
        if not np.array_equal(np.asarray(value), np.asarray(second[name]), equal_nan=True):
            yield f"asked twice the same, it answers two different {name!r}"


def _alone(
    ask: _Ask, fields: Mapping[str, Floats], varied: Iterable[str], values: Mapping[str, Any]
) -> Iterator[str]:
    """A case has the same answer alone as among others."""
    found, why = _asked(ask, {**fields, **{name: fields[name][1] for name in varied}})
    if why:
        yield f"a case that it solved among others fails alone: {why}"
        return
    for name, value in values.items():
        part = np.asarray(found[name], dtype=np.float64)
        if not np.allclose(part, value[1], rtol=_ALIKE, atol=1e-12, equal_nan=True):
            yield f"one case alone has {name!r} {part}, among others {value[1]}"


def _hinge_moment(solver: HingeMomentSolver) -> Iterator[str]:
    def ask(given: Mapping[str, Floats]) -> Mapping[str, Any]:
        return call_hinge_moment(solver, given)

    fields = _declared(solver, flows(solver.validity))
    answer, why = _asked(ask, fields)
    if why:
        yield why
        return
    lines = {name: answer[name] for name in (*_LINES, "other_high")}
    yield from _again(ask, fields, answer)
    yield from _alone(ask, fields, fields, lines)
    yield from _without(solver, solver, fields)
    yield from _broadcast(ask, fields)
    yield from _nan_stays(ask, fields)
    yield from _air(ask, fields)


def _broadcast(ask: _Ask, fields: Mapping[str, Floats]) -> Iterator[str]:
    """Fields of different shapes are taken together."""
    if "deflection" in fields:
        one = {name: value[0] for name, value in fields.items()}
        some = read_only({"deflection": fields["deflection"][:, np.newaxis]})
        _, why = _asked(ask, one | some)
        if why:
            yield f"with deflections of another shape than the rest: {why}"


def _nan_stays(ask: _Ask, fields: Mapping[str, Floats]) -> Iterator[str]:
    """What depends on nan is nan."""
    for name in fields:
        answer, why = _asked(ask, {**fields, **read_only({name: np.full(CASES, math.nan)})})
        if why:
            yield f"with nan for {name!r}: {why}"
        elif not any(np.isnan(answer[line]).all() for line in _LINES):
            yield f"with nan for {name!r} it still answers with numbers"


def _air(ask: _Ask, fields: Mapping[str, Floats]) -> Iterator[str]:
    """No air, no moment; and at small angles the best line is its own coefficients."""
    if "dynamic_pressure" not in fields:
        return
    answer, why = _asked(ask, {**fields, **read_only({"dynamic_pressure": np.zeros(CASES)})})
    if why or any(np.any(answer[line] != 0.0) for line in _LINES):
        yield why or "without any air it has a hinge moment"
    if not {"area", "chord", "deflection"} <= set(fields):
        return
    angles = {name: 1e-6 * fields[name] for name in ("incidence", "deflection") if name in fields}
    answer, why = _asked(ask, {**fields, **read_only(angles)})
    if why:
        yield why
        return
    load = fields["dynamic_pressure"] * fields["area"] * fields["chord"]
    told = answer["C_h0"] + answer["C_h_delta"] * angles["deflection"]
    told = told + answer["C_h_alpha"] * angles.get("incidence", 0.0)
    if not np.allclose(answer["best"] / load, told, rtol=1e-4, atol=1e-11):
        yield "near neutral its best line is not q S c (C_h0 + C_h_alpha alpha + C_h_delta delta)"


def _supply(solver: SupplySolver) -> Iterator[str]:
    def ask(given: Mapping[str, Floats]) -> Mapping[str, Any]:
        return call_supply(solver, given, servos)

    fields = supply(open_circuit_voltage=[5.0, 6.0, 7.4])
    answer, why = _asked(ask, fields)
    if why:
        yield why
        return
    names = ("servo_voltage", "servo_current", "node_voltage", "source_current")
    values = {name: answer[name] for name in names}
    yield from _again(ask, fields, answer)
    yield from _alone(ask, fields, ["open_circuit_voltage"], values)
    yield from _without(solver, lambda given: solver(given, servos), _declared(solver, fields))
    yield from _circuit(fields, answer)
    yield from _nothing_drawn(solver)
    yield from _greatest(solver)


def _declared(solver: Any, fields: Mapping[str, Floats]) -> dict[str, Floats]:
    return {name: fields[name] for name in solver.fields}


def _circuit(fields: Mapping[str, Floats], answer: Mapping[str, Any]) -> Iterator[str]:
    """Kirchhoff's laws, whatever the leads are made of."""
    source = fields["open_circuit_voltage"]
    parent, hung = fields["parent"].astype(int), fields["servo_node"].astype(int)
    node, servo = answer["node_voltage"], answer["servo_voltage"]
    slack = _SETTLED * source[:, np.newaxis]
    if np.any(answer["reason"] != 0):
        yield "it finds no solution for three servos on a supply that bears them"
        return
    if np.any(np.abs(servo - node[:, hung]) > slack):
        yield "a servo has another voltage than the node that it hangs on"
    if not np.allclose(answer["servo_current"], servos(servo), rtol=1e-4):
        yield "a servo draws another current than its demand at its voltage"
    drawn = answer["servo_current"].sum(axis=-1) + fields["load"].sum()
    if not np.allclose(answer["source_current"], drawn, rtol=1e-4):
        yield "the current of the source is not the sum of what servos and loads draw"
    above = np.where(parent < 0, source[:, np.newaxis], node[:, parent])
    if np.any(node > above + slack):
        yield "a voltage rises along a lead that only draws"


def _nothing_drawn(solver: SupplySolver) -> Iterator[str]:
    """Without a current nothing is lost."""
    fields = supply(load=np.zeros(4))
    answer, why = _asked(lambda given: call_supply(solver, given, np.zeros_like), fields)
    if why:
        yield f"where nothing is drawn: {why}"
    elif any(not np.allclose(answer[name], 6.0, rtol=_SETTLED) for name in _NO_SERVO):
        yield "where nothing is drawn the voltage is not that of the source without load"


def _greatest(solver: SupplySolver) -> Iterator[str]:
    """Of two solutions the greater one: a power P behind R, V = (V0 + sqrt(V0^2 - 4 P R)) / 2."""
    if not {"loop_resistance", "internal_resistance"} <= set(solver.fields):
        return
    fields = supply(
        parent=[-1], loop_resistance=[0.4], load=[0.0], servo_node=[0], internal_resistance=0.1
    )
    answer, why = _asked(lambda given: call_supply(solver, given, constant_power(8.0)), fields)
    expected = (6.0 + math.sqrt(36.0 - 4.0 * 8.0 * 0.5)) / 2.0
    if why:
        yield f"with a servo that takes one power at any voltage: {why}"
    elif not np.allclose(answer["servo_voltage"], expected, rtol=_SETTLED):
        yield (
            f"of two voltages that satisfy the circuit it answers {answer['servo_voltage']} V, "
            f"and not the greater one, {expected:.6g} V"
        )


def _dive(solver: DiveSolver) -> Iterator[str]:
    def ask(given: Mapping[str, Floats]) -> Mapping[str, Any]:
        return call_dive(solver, given, None)

    fields = dives()
    answer, why = _asked(ask, fields)
    if why:
        yield why
        return
    values = {name: answer[name] for name in ("dive_speed", "height_lost", "reason")}
    yield from _again(ask, fields, answer)
    yield from _alone(ask, fields, ["dive_angle"], values)
    yield from _without(solver, lambda given: solver(given, None), _declared(solver, fields))
    yield from _energy(fields, answer)
    yield from _weak_servo(solver, fields, answer)


def _energy(fields: Mapping[str, Floats], answer: Mapping[str, Any]) -> Iterator[str]:
    """A glider gains no energy, and heights add up."""
    if np.any(answer["reason"] != 0):
        yield "a glider with height to spare and no limit by the servo does not recover"
        return
    lost, start = answer["height_lost"], fields["start_height"]
    if not np.allclose(start - lost, answer["lowest_height"], rtol=1e-6, atol=1e-6):
        yield "start height less the height lost is not the lowest height"
    most = np.sqrt(fields["start_speed"] ** 2 + 2.0 * STANDARD_GRAVITY * lost)
    if np.any(answer["dive_speed"] > most * (1.0 + 1e-6)):
        yield "a dive becomes faster than its height allows"
    if np.any(answer["greatest_load_factor"] > fields["limit_load_factor"] * (1.0 + 1e-6)):
        yield "a pull-out goes beyond the load factor of the structure"


def _weak_servo(
    solver: DiveSolver, fields: Mapping[str, Floats], free: Mapping[str, Any]
) -> Iterator[str]:
    """A servo that is blown back never brings the aircraft out sooner."""

    def reach(pressure: Floats) -> tuple[Floats, Floats]:
        up = -0.35 * np.minimum(1.0, 60.0 / np.maximum(pressure, 1e-9))
        return up, -up

    answer, why = _asked(lambda given: call_dive(solver, given, reach), fields)
    if why:
        yield f"with a servo that is blown back: {why}"
        return
    both = (answer["reason"] == 0) & (free["reason"] == 0)
    if np.any(answer["height_lost"][both] < free["height_lost"][both] - 1e-3):
        yield "with a servo that is blown back it loses less height than with one that is not"
