"""The solvers that are installed: a list, and all that one says of itself."""

from __future__ import annotations

from math import inf
from typing import Any

from linkcalc import solvers
from linkcalc.errors import SolverError
from linkcalc.report.layout import printable, wrapped

__all__ = ["described", "listed"]


def listed() -> str:
    """List the solvers, none of them imported.

    Returns
    -------
    str
        A line for each: kind, name, and the distribution that brings it.
    """
    return "".join(
        f"{kind:13} {printable(found.name):15} {printable(found.distribution)}\n"
        for kind in solvers.GROUPS
        for found in solvers.available(kind)
    )


def described(name: str) -> str:
    """Tell all that the solvers of a name say of themselves.

    Parameters
    ----------
    name : str
        Of one kind or of several.

    Returns
    -------
    str
        What it is and from where, what it needs, its range and its sources.

    Raises
    ------
    SolverError
        There is none, or one cannot be loaded.
    """
    kinds = [kind for kind in solvers.GROUPS if name in solvers.names(kind)]
    if not kinds:
        known = ", ".join(sorted({each for kind in solvers.GROUPS for each in solvers.names(kind)}))
        raise SolverError(
            f"No solver called {printable(name)!r} is installed (there are: {known}). Check the "
            "spelling, or install the package that brings it.",
            name,
        )
    return "\n".join(_of_kind(kind, name) for kind in kinds)


def _of_kind(kind: str, name: str) -> str:
    solver = solvers.load(kind, name)
    origin = next(each.distribution for each in solvers.available(kind) if each.name == name)
    lines = [f"{kind} solver {printable(name)}, of {printable(origin)}"]
    lines += wrapped(printable(solver.description), 2)
    lines += ["  needs"]
    needed = [f"{field} [{unit}]" for field, unit in dict(solver.fields).items()]
    lines += wrapped(printable(", ".join(needed)), 4)
    optional = dict(getattr(solver, "optional", {}))
    if optional:
        lines += ["  takes where it is there", *wrapped(printable(", ".join(optional)), 4)]
    lines += ["  stands within"]
    for field, (least, most) in dict(solver.validity).items():
        lines += wrapped(printable(_range(field, least, most, dict(solver.fields))), 4)
    lines += ["  from"]
    for source in solver.sources:
        lines += wrapped(printable(source), 4)
    return "\n".join(lines) + "\n"


def _range(field: str, least: float, most: float, units: dict[str, Any]) -> str:
    unit = f" {units[field]}" if units.get(field, "1") != "1" else ""
    if least == -inf:
        return f"{field} up to {most:g}{unit}"
    if most == inf:
        return f"{field} from {least:g}{unit}"
    return f"{field} {least:g} to {most:g}{unit}"
