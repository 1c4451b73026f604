"""How far any method here knows the air: warnings of fast streams, and what is refused beyond."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc import solvers
from linkcalc.errors import Fault, InputFaults, SolverError
from linkcalc.model.case import GROUND_KINDS
from linkcalc.physics import air

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Cases, Surfaces
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]

__all__ = ["note_mach", "refuse_unknown_air"]

STANDARD_TEMPERATURE = 288.15
"""At sea level in the 1976 standard atmosphere [K]."""
GREATEST_INCOMPRESSIBLE = 0.3
"""Mach number up to which a stream passes for incompressible: loads grow as 1 / sqrt(1 - M^2), which
is 5 % there (Prandtl and Glauert)."""
GREATEST_TRUSTED = 0.5
"""Mach number from which on that growth is over 15 %, more than the torque factor is meant for."""
GREATEST_SUBSONIC = 0.7
"""Mach number from which on no margin is given: shocks stand on sections of 12 % not far above it (from
memory), and what they do to a hinge moment, its sign included, no method here knows."""
BROADSIDE = 0.5 * math.pi
"""Deflection beyond which nothing is known: the hinged edge of the surface is then the downstream
one, and what stands ahead of it is not described [rad]."""


def note_mach(speed: Floats, temperature: Floats, notes: Sequence[list[str]]) -> Floats:
    """Say where the stream is faster than the solvers' incompressible one may be.

    Parameters
    ----------
    speed : ndarray, shape (..., case)
        At the fastest surface [m/s].
    temperature : ndarray, shape (..., case)
        Of the air; nan for the standard's at sea level [K].
    notes : sequence of list of str
        Of the cases; receive a line each. Words are of the first sample.

    Returns
    -------
    ndarray, shape (case,)
        Greatest Mach number over all samples [1].
    """
    standard = np.where(np.isnan(temperature), STANDARD_TEMPERATURE, temperature)
    every: Floats = np.asarray(speed / air.speed_of_sound(temperature=standard))
    mach: Floats = every.reshape(-1, every.shape[-1])[0]
    for index in np.flatnonzero(mach > GREATEST_INCOMPRESSIBLE).tolist():
        notes[index].append(_fast(float(mach[index])))
    return np.asarray(every.reshape(-1, every.shape[-1]).max(0))


def _fast(mach: float) -> str:
    if not mach > GREATEST_TRUSTED:
        return (
            f"Mach {mach:.2f} at the fastest surface, over {GREATEST_INCOMPRESSIBLE:g}: the air "
            "loads are those of an incompressible stream and come out too small"
        )
    rise = "grow without bound" if mach >= 1 else f"are some {1 / math.sqrt(1 - mach**2):.2f} times"
    return (
        f"do not trust these margins: Mach {mach:.2f} at the fastest surface, over {GREATEST_TRUSTED:g}, where "
        f"air loads {rise} those of the incompressible stream that the solvers take, 1 / sqrt(1 - M^2) (Prandtl "
        "and Glauert); that is not in them"
    )


def refuse_unknown_air(aircraft: Aircraft, surfaces: Surfaces, cases: Cases, mach: Floats) -> None:
    """Refuse cases in which the solver of a surface knows nothing of the air.

    Parameters
    ----------
    aircraft : Aircraft
        As described.
    surfaces : Surfaces
        Of its runs.
    cases : Cases
        Of its cases.
    mach : ndarray, shape (case,)
        Mach number at the fastest surface [1].

    Raises
    ------
    InputFaults
        A stream of Mach 0.7 or more, or a deflection past 90 degrees, asked of a solver that
        has a range of dynamic pressure or of deflection and is outside it. Coefficients and
        moments that are given have none: whoever gives them knows where they stand.
    """
    furthest = np.maximum(np.abs(cases.low), np.abs(cases.high))
    furthest = furthest.reshape(-1, *furthest.shape[-2:]).max(0)
    if not ((mach >= GREATEST_SUBSONIC).any() or (furthest > BROADSIDE + 1e-9).any()):
        return
    faults = list(_faults(aircraft, surfaces, furthest, mach))
    if faults:
        raise InputFaults(faults)


def _faults(
    aircraft: Aircraft, surfaces: Surfaces, furthest: Floats, mach: Floats
) -> Iterator[Fault]:
    given = "give coefficients or a moment that somebody has measured there"
    for index, case in enumerate(aircraft.cases):
        if case.kind in GROUND_KINDS:
            continue
        place = f"cases[{case.name!r}]"
        bound = [
            name for name in dict.fromkeys(surfaces.solver) if "dynamic_pressure" in _ranges(name)
        ]
        if mach[index] >= GREATEST_SUBSONIC and bound:
            yield Fault(
                "",
                f"{place}.speed",
                f"Mach {mach[index]:.2f} at the fastest surface",
                f"less than Mach {GREATEST_SUBSONIC:g}: from there on shocks decide what a hinge bears, "
                f"and {', '.join(bound)} knows nothing of them",
                f"Check the unit of the speed, or {given}.",
            )
        for run, described in enumerate(aircraft.runs):
            own = {name for name, owner in zip(surfaces.solver, surfaces.owner, strict=True) if owner == run}  # fmt: skip
            blind = sorted(name for name in own if "deflection" in _ranges(name))
            if furthest[index, run] > BROADSIDE + 1e-9 and blind:
                yield Fault(
                    "",
                    f"{place}: the range of {described.name!r}",
                    f"a deflection of {math.degrees(furthest[index, run]):.4g} deg",
                    f"at most 90 deg, for {', '.join(blind)} knows nothing of a surface turned past broadside",
                    f"Give a smaller throw or deflection, or {given}.",
                )


def _ranges(name: str) -> dict[str, tuple[float, float]]:
    """Return the range of validity of a solver, nothing of one that cannot be loaded."""
    try:
        return dict(solvers.load("hinge moment", name).validity)
    except SolverError:
        return {}  # told where its loads are missing, or refused by name
