"""Where a solver is asked beyond the range within which its method stands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc import solvers
from linkcalc.errors import SolverError
from linkcalc.evaluation.loads import surface_flow

if TYPE_CHECKING:
    from linkcalc.evaluation.inputs import Inputs

__all__ = ["beyond"]

_DEGREES = ("incidence", "largest_incidence", "deflection")


def beyond(inputs: Inputs) -> dict[tuple[int, int], list[str]]:
    """Return what lies outside the range of validity of the hinge-moment solvers.

    Parameters
    ----------
    inputs : Inputs
        Surfaces and cases are used, at the speeds of the cases.

    Returns
    -------
    dict of (case, run) to list of str
        One line for each field of a run's surfaces that is out of range in a case, after the
        solver's own caution, if it has one.
    """
    found: dict[tuple[int, int], list[str]] = {}
    surfaces, cases = inputs.surfaces, inputs.cases
    asked = surface_flow(inputs) | surfaces.fields
    asked["deflection"] = np.stack((cases.low, cases.high))[:, :, surfaces.owner]
    shape = (len(cases.density), len(surfaces.owner))
    for name in dict.fromkeys(surfaces.solver):
        try:
            solver = solvers.load("hinge moment", name) if name else None
        except SolverError:
            continue  # told where its loads are missing
        own = np.array(surfaces.solver) == name
        in_air = np.broadcast_to(own, shape)
        if cases.local:  # on the ground no solver is asked
            in_air = own & np.isnan(cases.local["gust_size"])
        if caution := getattr(solver, "caution", ""):
            for case, surface in zip(*np.nonzero(in_air), strict=True):
                lines = found.setdefault((int(case), int(surfaces.owner[surface])), [])
                lines += [] if (words := f"{name}: {caution}") in lines else [words]
        ranges = {} if solver is None else solver.validity
        for field, (least, most) in ranges.items():
            values = np.broadcast_to(asked[field], (2, *shape) if field == "deflection" else shape)
            values = values.reshape(-1, *shape)
            out = ((values < least) | (values > most)).any(0)
            out &= in_air
            for case, surface in zip(*np.nonzero(out), strict=True):
                worst = values[:, case, surface][np.argmax(np.abs(values[:, case, surface]))]
                words = f"outside the range of {name}: {_told(field, float(worst), least, most)}"
                lines = found.setdefault((int(case), int(surfaces.owner[surface])), [])
                if words not in lines:
                    lines.append(words)
    return found


def _told(field: str, value: float, least: float, most: float) -> str:
    scale, unit = (math.degrees(1.0), " deg") if field in _DEGREES else (1.0, "")
    if field == "dynamic_pressure":
        unit = " Pa"
    label = field.replace("_", " ")
    return f"{label} {value * scale:.4g}{unit}, good from {least * scale:.4g} to {most * scale:.4g}{unit}"
