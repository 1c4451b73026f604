"""How solvers are found, and how they are asked.

A solver is an object with a name, a description, its sources, its range of
validity, the fields it needs with the unit of each, and one call. It receives
a mapping of its declared fields as SI float64 arrays that broadcast together
and returns SI arrays. Solvers are found through entry points, the bundled ones
too; nothing is imported until its name is asked for, and a broken one is
reported by name, distribution and reason without taking the others down.
"""

from __future__ import annotations

import functools
import os
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.discovery import entries
from linkcalc.errors import InputError, SolverError
from linkcalc.guard import ANY_FAULT, misdescribed, read_only, without_printing
from linkcalc.solver_fields import (
    DIVE_FIELDS,
    DIVE_TABLES,
    MOTION_FIELDS,
    STATION_FIELDS,
    SUPPLY_FIELDS,
    SURFACE_FIELDS,
)
from linkcalc.solver_protocols import DiveSolver, HingeMomentSolver, SupplySolver

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from linkcalc.discovery import Entry

    Floats = NDArray[np.float64]

__all__ = [
    "DIVE_FIELDS",
    "DIVE_TABLES",
    "GROUPS",
    "MOTION_FIELDS",
    "STATION_FIELDS",
    "SURFACE_FIELDS",
    "SWITCH",
    "DiveSolver",
    "Found",
    "HingeMomentSolver",
    "SupplySolver",
    "available",
    "call_dive",
    "call_hinge_moment",
    "call_supply",
    "load",
    "names",
]

SWITCH = "LINKCALC_BUNDLED_SOLVERS_ONLY"
"""Set this environment variable to 1 and solvers of other distributions are not considered."""

GROUPS = {
    "hinge moment": "linkcalc.hinge_moment",
    "supply": "linkcalc.supply",
    "dive": "linkcalc.dive",
}
"""Kinds of solver, and the entry-point group of each."""

_MEMBERS = ("name", "description", "sources", "validity", "fields", "__call__")
_LINES = ("low", "best", "high")
_OTHER = "other_high"
_MAY_BE_INFINITE = {"aspect_ratio"}
_COEFFICIENTS = ("C_h0", "C_h_alpha", "C_h_delta", "k_s")
_DETAILS = ("ground_rise", "regulator_heat", "lead_current", "regulator_input")
_SUPPLY = ("servo_voltage", "servo_current", "node_voltage", "source_current")
_DIVE = (
    "terminal_speed",
    "dive_speed",
    "pull_out_speed",
    "greatest_dynamic_pressure",
    "greatest_mach",
    "greatest_load_factor",
    "height_lost",
    "lowest_height",
    "minimum_height",
)
_DISTRIBUTION = "linkcalc"


class Found(NamedTuple):
    """A solver that is installed, not yet imported.

    Attributes
    ----------
    name : str
        The name it is asked for by.
    distribution : str
        The distribution that brings it, and its version.
    target : str
        The object that the entry point names.
    """

    name: str
    distribution: str
    target: str


_loaded: dict[tuple[str, str], Any] = {}
_entries_loaded: dict[int, Entry] = {}


def _entries(kind: str) -> list[Entry]:
    found = entries(GROUPS[kind])
    if os.environ.get(SWITCH, "") not in {"", "0"}:
        found = [entry for entry in found if entry.key == _DISTRIBUTION]
    return list(dict.fromkeys(found))


def names(kind: str) -> list[str]:
    """List the names of the solvers of a kind.

    Parameters
    ----------
    kind : str
        A key of `GROUPS`.

    Returns
    -------
    list of str
        Sorted.

    Examples
    --------
    >>> names("supply")
    ['tree']
    """
    return sorted({entry.name for entry in _entries(kind)})


def available(kind: str) -> list[Found]:
    """List the solvers of a kind without importing any.

    Parameters
    ----------
    kind : str
        A key of `GROUPS`.

    Returns
    -------
    list of Found
        Sorted by name.

    Examples
    --------
    >>> [found.name for found in available("hinge moment")]
    ['all_moving', 'coefficients', 'handbook', 'lattice', 'moment', 'plate', 'split_flap', 'thin_aerofoil']
    """
    return sorted(Found(entry.name, entry.origin, entry.target) for entry in _entries(kind))


def load(kind: str, name: str) -> Any:
    """Return a solver by name, importing it if this is the first time.

    Parameters
    ----------
    kind : str
        A key of `GROUPS`.
    name : str
        The entry point's name.

    Returns
    -------
    HingeMomentSolver, SupplySolver or DiveSolver
        The solver.

    Raises
    ------
    SolverError
        Not installed, claimed by two distributions, fails to import, or lacks a
        member of the protocol: each with its own message and remedy.

    Examples
    --------
    >>> load("hinge moment", "plate").name
    'plate'
    """
    if (kind, name) not in _loaded:
        _loaded[kind, name] = _import(kind, name)
    return _loaded[kind, name]


def _import(kind: str, name: str) -> Any:
    named = [entry for entry in _entries(kind) if entry.name == name]
    if not named:
        known = ", ".join(names(kind)) or "none"
        raise SolverError(
            f"No {kind} solver called {name!r} is installed (there are: {known}). Check the spelling, or install the package that brings it.",
            name,
        )
    if len(named) > 1:
        both = " and ".join(sorted(entry.origin for entry in named))
        raise SolverError(
            f"Two distributions claim the {kind} solver {name!r}: {both}. Uninstall one of them.",
            name,
        )
    entry = named[0]
    try:
        with without_printing(lambda: _who(kind, entry)):
            solver = entry.load()
            if isinstance(solver, type):
                solver = solver()
            _check_protocol(kind, entry, solver)
    except SolverError:
        raise
    except ANY_FAULT as error:
        raise SolverError(
            f"{_who(kind, entry)} cannot be loaded: {type(error).__name__}: {error}. Reinstall it, or use another solver.",
            name,
        ) from error
    _entries_loaded[id(solver)] = entry
    return solver


def _who(kind: str, entry: Entry) -> str:
    return f"The {kind} solver {entry.name!r} of {entry.origin}"


def _check_protocol(kind: str, entry: Entry, solver: Any) -> None:
    members = (*_MEMBERS, "reasons") if kind == "dive" else _MEMBERS
    lacking = [member for member in members if not hasattr(solver, member)]
    wrong = f"lacks {', '.join(lacking) or 'a call'}" if lacking or not callable(solver) else ""
    if wrong := wrong or misdescribed(solver):
        raise SolverError(
            f"{_who(kind, entry)} {wrong}. Tell its authors, or use another solver.", entry.name
        )
    offered = {"hinge moment": SURFACE_FIELDS, "supply": SUPPLY_FIELDS, "dive": DIVE_FIELDS}[kind]
    asked = [(field, unit, offered) for field, unit in dict(solver.fields).items()]
    if kind == "hinge moment":
        more = dict(getattr(solver, "optional", {}))
        asked += [(field, unit, STATION_FIELDS | MOTION_FIELDS) for field, unit in more.items()]
    for field, unit, known in asked:
        if known.get(field) != unit:
            raise SolverError(
                f"{_who(kind, entry)} asks for the field {field!r} in {unit!r}, which is not offered. Tell its authors, or use another solver.",
                entry.name,
            )


def _named(solver: Any) -> str:
    entry = _entries_loaded.get(id(solver))  # its origin takes long to find out
    return f"The solver {solver.name!r}" + (f" of {entry.origin}" if entry else "")


def _told(solver: Any, reason: str) -> SolverError:
    message = f"{_named(solver)} {reason}. Tell its authors, or use another solver."
    return SolverError(message, solver.name)


def call_hinge_moment(
    solver: HingeMomentSolver, offered: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Call a hinge-moment solver with its declared fields, and check what it returns.

    Parameters
    ----------
    solver : HingeMomentSolver
        The solver.
    offered : mapping of str to ndarray
        At least its declared fields, in SI, broadcasting together; of its optional ones those
        that there are.

    Returns
    -------
    dict of str to ndarray
        ``low``, ``best``, ``high``, ``other_high`` [N m] and the coefficients, of the common
        shape. ``other_high`` is the solver's own; one that returns none has at zero
        deflection its high line and that with the other sign, if its band is open there.

    Raises
    ------
    SolverError
        It raised, left something out, or returned another shape, a value that is not
        finite where all inputs are, or lines out of order.
    """
    given = {name: offered[name] for name in solver.fields}
    given |= {name: offered[name] for name in getattr(solver, "optional", ()) if name in offered}
    shape = np.broadcast_shapes(*(np.shape(value) for value in given.values()))
    try:
        with without_printing(lambda: _named(solver)):
            result = solver(read_only(given))
        names = [*_LINES, *_COEFFICIENTS, *({_OTHER} & set(result))]
        answer = {name: np.asarray(result[name], dtype=np.float64) for name in names}
    except ANY_FAULT as error:
        raise _told(solver, f"failed: {type(error).__name__}: {error}") from error
    known = (
        ~np.isnan(v) if name in _MAY_BE_INFINITE else np.isfinite(v) for name, v in given.items()
    )
    unsure = [flags for flags in known if not flags.all()]
    valid = functools.reduce(np.logical_and, unsure, np.ones((), dtype=np.bool_))
    for name in answer.keys() - set(_COEFFICIENTS):
        if answer[name].shape != shape:
            raise _told(
                solver, f"returned {name!r} of shape {answer[name].shape} instead of {shape}"
            )
    total = np.array(answer["low"])  # one look for all of them
    for name in answer.keys() - {"low"}:
        total += _once(answer[name])
    if not np.all(np.isfinite(total) | ~valid):
        for name, value in answer.items():
            if not np.all(np.isfinite(value) | ~valid):
                raise _told(solver, f"returned a value of {name!r} that is not finite")
    side = np.where(given["deflection"] < 0, 1.0, -1.0) if "deflection" in given else -1.0
    low, best, high = (answer[name] for name in _LINES)
    if np.any(_crossed(low, best, high, side) & valid):
        raise _told(solver, "returned lines that are not in the order low, best, high")
    if _OTHER not in answer:
        neutral = given["deflection"] == 0 if "deflection" in given else np.zeros(shape, bool)
        flips = neutral & (answer["low"] != answer["high"])
        answer[_OTHER] = np.where(flips, -answer["high"], answer["high"])
    return answer


def _crossed(low: Floats, best: Floats, high: Floats, side: Floats | float) -> NDArray[np.bool_]:
    """Tell where lines are out of order, by more than rounding, in the moment that opposes."""
    gap, other = np.asarray(best - low), np.asarray(high - best)
    np.multiply(gap, side, out=gap)
    np.multiply(other, side, out=other)
    np.minimum(gap, other, out=gap)
    if gap.min(initial=0.0) >= 0.0:
        return np.zeros((), dtype=np.bool_)
    return np.asarray(gap < -1e-9 * (np.abs(low) + np.abs(high)))


def _once(value: Floats) -> Floats:
    """Return an array without the axes along which it is spread."""
    return value[tuple(slice(1) if step == 0 else slice(None) for step in value.strides)]


def call_supply(
    solver: SupplySolver, offered: Mapping[str, Floats], demand: Callable[[Floats], Floats]
) -> dict[str, Any]:
    """Call a supply solver with its declared fields, and check what it returns.

    Parameters
    ----------
    solver : SupplySolver
        The solver.
    offered : mapping of str to ndarray
        At least its declared fields, in SI.
    demand : callable
        Servo voltages [V], last axis servos, to servo currents [A].

    Returns
    -------
    dict of str to ndarray
        As `SupplySolver` describes it.

    Raises
    ------
    SolverError
        It raised, left something out, or returned a value that is not finite beside
        reason 0.
    """
    try:
        with without_printing(lambda: _named(solver)):
            result = solver(read_only({name: offered[name] for name in solver.fields}), demand)
        answer = {name: np.asarray(result[name], dtype=np.float64) for name in _SUPPLY}
        answer["reason"] = np.asarray(result["reason"])
        answer["latch_up"] = np.asarray(result["latch_up"])
        told = [name for name in _DETAILS if name in result]
        answer |= {name: np.asarray(result[name], dtype=np.float64) for name in told}
    except ANY_FAULT as error:
        raise _told(solver, f"failed: {type(error).__name__}: {error}") from error
    lead = answer["reason"].shape
    counts = {"servo": np.shape(offered["servo_node"])[-1], "node": np.shape(offered["parent"])[-1]}
    for name in told:  # nan where there is nothing to tell
        if answer[name].shape != (*lead, counts["node"]):
            raise _told(solver, f"returned {name!r} of shape {answer[name].shape}, by node")
    for name in _SUPPLY:
        last = counts.get(name.split("_")[0])
        shape = lead if last is None else (*lead, last)
        if answer[name].shape != shape:
            raise _told(solver, f"returned {name!r} of shape {answer[name].shape}, not {shape}")
        finite = np.isfinite(answer[name])
        if finite.all():
            continue
        good = finite if last is None else np.asarray(finite.all(-1))
        if not np.all(good | (answer["reason"] != 0)):
            raise _told(solver, f"returned a value of {name!r} that is not finite")
    return answer


def call_dive(
    solver: DiveSolver,
    offered: Mapping[str, Floats],
    reach: Callable[[Floats], tuple[Floats, Floats]] | None,
) -> dict[str, Any]:
    """Call a dive solver with its declared fields, and check what it returns.

    Parameters
    ----------
    solver : DiveSolver
        The solver.
    offered : mapping of str to ndarray
        At least its declared fields, in SI.
    reach : callable or None
        As `DiveSolver` describes it.

    Returns
    -------
    dict of str to ndarray
        As `DiveSolver` describes it, and whatever else it returned.

    Raises
    ------
    InputError
        A field cannot be used; passed on as the solver raised it.
    SolverError
        It raised anything else, left something out, or returned what it may not.
    """
    given = {name: offered[name] for name in solver.fields}
    shape = np.broadcast_shapes(
        *(np.shape(value) for name, value in given.items() if name not in DIVE_TABLES)
    )
    try:
        with without_printing(lambda: _named(solver)):
            result = solver(read_only(given), reach)
        answer = {name: np.asarray(result[name], dtype=np.float64) for name in _DIVE}
        answer = {**{name: np.asarray(value) for name, value in result.items()}, **answer}
        reason = np.asarray(result["reason"])
    except InputError:
        raise
    except ANY_FAULT as error:
        raise _told(solver, f"failed: {type(error).__name__}: {error}") from error
    for name in (*_DIVE, "reason"):
        if np.shape(answer[name]) != shape:
            raise _told(
                solver, f"returned {name!r} of shape {np.shape(answer[name])} instead of {shape}"
            )
    if np.any((reason < 0) | (reason >= len(solver.reasons))):
        raise _told(solver, "returned a reason that it has no words for")
    for name in ("height_lost", "lowest_height", "greatest_dynamic_pressure", "dive_speed"):
        if not np.all(np.isfinite(answer[name]) | (reason != 0)):
            raise _told(solver, f"returned a recovery without a finite {name!r}")
    if np.any((reason == 0) & (answer["lowest_height"] < -1e-6)):
        raise _told(solver, "returned a recovery below the ground")
    return answer
