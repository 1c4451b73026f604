"""Follows the dives of an aircraft with the solver that it names."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.diving.fields import dive_fields
from linkcalc.errors import Fault, InputError, InputFaults, SolverError
from linkcalc.evaluation.evaluate import prepare
from linkcalc.evaluation.factors import factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.reach_of_pressure import reach_of_pressure
from linkcalc.model.value_classes import given, replace, stated
from linkcalc.physics import air
from linkcalc.units import Stated

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from linkcalc.model import Aircraft, Airframe, FlightCase

    Floats = NDArray[np.float64]
    Reach = Callable[[Floats], tuple[Floats, Floats]]

__all__ = ["WARNED_MACH", "Followed", "follow", "has_dives", "settle"]

WARNED_MACH, _GREATEST_MACH = 0.3, 0.7
"""Above the first the equations of incompressible flow err by some percent."""

_OF_ENTRY = (
    "field_altitude",
    "start_height",
    "start_speed",
    "dive_angle",
    "drop",
    "delay",
    "ceiling",
)
_PROVISIONAL = (
    30.0  # a speed for the case while its own is sought; the reach has pressures of its own
)


class Followed(NamedTuple):
    """A dive of one case, followed.

    Attributes
    ----------
    case : str
        Its name.
    fields : dict of str to ndarray
        What the solver was given.
    reach : callable or None
        What the servo lets the elevator reach; None where no elevator is given.
    found : dict of str to float
        What the solver lists, see `linkcalc.solvers.DiveSolver`; empty where it failed.
    unlimited : dict of str to float
        The same with a servo that holds everything; empty where no elevator is given.
    reason : str
        In words, what came of it; why there is nothing, where the solver failed.
    recovers : bool
        Whether the path becomes level above the ground.
    speed_given : bool
        Whether the file gives the speed of the case.
    notes : tuple of str
        What stands in for what was not given.
    """

    case: str
    fields: dict[str, Floats]
    reach: Reach | None
    found: dict[str, float]
    unlimited: dict[str, float]
    reason: str
    recovers: bool
    speed_given: bool
    notes: tuple[str, ...]


def has_dives(aircraft: Aircraft) -> bool:
    """Tell whether any case of an aircraft has a dive to follow.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft.

    Returns
    -------
    bool
        Whether one has an entry.
    """
    return any(case.entry is not None for case in aircraft.cases)


def follow(aircraft: Aircraft) -> tuple[Followed, ...]:
    """Follow the dive of every case that has an entry.

    Parameters
    ----------
    aircraft : Aircraft
        With an airframe, where any case has an entry.

    Returns
    -------
    tuple of Followed
        In the order of the cases. The pull-out of each is limited by structure, by lift and by
        the elevator's servo, as it holds against the air with the voltage that arrives.

    Raises
    ------
    InputFaults
        The solver is not installed, a dive cannot be flown as described, or it becomes faster
        than Mach 0.7.
    """
    frame = aircraft.airframe
    if frame is None or not has_dives(aircraft):
        return ()
    _refuse_unknown(frame)
    solver, failure = None, ""
    try:
        solver = solvers.load("dive", frame.solver)
    except SolverError as error:
        failure = str(error)
    reaches = _reaches(aircraft, frame)
    return tuple(
        _followed(frame, case, reaches.get(case.name), solver, failure)
        for case in aircraft.cases
        if case.entry is not None
    )


def _refuse_unknown(frame: Airframe) -> None:
    known = solvers.names("dive")
    if frame.solver not in known:
        raise InputFaults(
            [
                Fault(
                    "",
                    "airframe.solver",
                    f"the dive solver {frame.solver!r}",
                    f"one of {', '.join(known)}",
                    "Check the spelling, or install the package that brings it.",
                )
            ]
        )


def _followed(
    frame: Airframe, case: FlightCase, reach: Reach | None, solver: Any, failure: str
) -> Followed:
    notes: list[str] = []
    fields = dive_fields(frame, case.entry, notes)  # type: ignore[arg-type]  # asked for by the caller
    speed_given = given(case, "speed")
    found: dict[str, float] = {}
    unlimited: dict[str, float] = {}
    reason, recovers = failure, False
    if solver is not None:
        try:
            found = _asked(solver, fields, reach)
            if reach is not None:
                unlimited = _asked(solver, fields | {"ceiling": np.asarray(math.nan)}, None)
            reason, recovers = solver.reasons[int(found["reason"])], found["reason"] == 0
        except InputError as error:
            raise InputFaults([_placed(case, error)]) from None
        except SolverError as error:
            found, reason = {}, str(error)
    if found:
        _refuse_fast(case, found, reason)
    return Followed(
        case.name, fields, reach, found, unlimited, reason, recovers, speed_given, tuple(notes)
    )


def _asked(solver: Any, fields: dict[str, Floats], reach: Reach | None) -> dict[str, float]:
    answer = solvers.call_dive(solver, fields, reach)
    return {name: float(value) for name, value in answer.items() if np.ndim(value) == 0}


def _placed(case: FlightCase, error: InputError) -> Fault:
    """Tell a fault of a solver's field at the key that it was made from."""
    fault, name = error.fault, error.fault.place
    place = f"cases[{case.name!r}].entry.{name}" if name in _OF_ENTRY else f"airframe: {name}"
    return fault._replace(place=place)


def _refuse_fast(case: FlightCase, found: dict[str, float], reason: str) -> None:
    """Refuse a dive beyond the equations, and one that has no speed where the case needs one."""
    fast = found["greatest_mach"] >= _GREATEST_MACH * (1 - 1e-9)
    if fast:
        expected = "a dive that stays below Mach 0.7"
        remedy = "Begin it lower, shallower or slower, or mend mass, wing area and drag."
    elif not (given(case, "speed") or found["dive_speed"] > 0):
        expected = "a dive that comes to a speed, as the case gives none"
        remedy = "Give it a start_speed or a steeper dive_angle, or give the case a speed."
    else:
        return
    place = f"cases[{case.name!r}].entry"
    raise InputFaults([Fault("", place, f"a dive that {reason}", expected, remedy)])


def _reaches(aircraft: Aircraft, frame: Airframe) -> dict[str, Reach]:
    """Return what the elevator's servo lets it reach, in every case with an entry."""
    elevator = frame.elevator
    if elevator is None:
        return {}
    made = gather(_provisional(aircraft))
    used, linkages = factors(aircraft.factors), prepare(made.inputs)
    names = [run.name for run in aircraft.runs]
    runs = [names.index(name) for name in (elevator.run, elevator.other_run) if name is not None]
    reaches: dict[str, Reach] = {}
    for c, case in enumerate(aircraft.cases):
        if case.entry is not None:
            each = [reach_of_pressure(made.inputs, used, linkages, case=c, run=run) for run in runs]
            dead = any(made.inputs.cases.live[c, run] == 0 for run in runs)
            reaches[case.name] = _nothing if dead else each[0] if len(each) == 1 else _lesser(each)
    return reaches


def _nothing(pressure: Floats) -> tuple[Floats, Floats]:
    """A servo that is dead holds nothing: the elevator trails."""
    return np.zeros(np.shape(pressure)), np.zeros(np.shape(pressure))


def _lesser(reaches: list[Reach]) -> Reach:
    def both(pressure: Floats) -> tuple[Floats, Floats]:
        ups, downs = zip(*(reach(pressure) for reach in reaches), strict=True)
        return np.max(ups, axis=0), np.min(downs, axis=0)

    return both


def _provisional(aircraft: Aircraft) -> Aircraft:
    """Return the aircraft with some speed in cases whose own is still sought."""
    cases = tuple(
        case
        if case.entry is None or given(case, "speed")
        else replace(
            case,
            speed=_metres_a_second(_PROVISIONAL),
            altitude=stated(case.entry, "field_altitude"),
        )
        for case in aircraft.cases
    )
    return replace(aircraft, cases=cases)


def settle(aircraft: Aircraft, followed: tuple[Followed, ...]) -> Aircraft:
    """Put the speeds that were reached into the cases that give none.

    Parameters
    ----------
    aircraft : Aircraft
        As it was described.
    followed : tuple of Followed
        From `follow`.

    Returns
    -------
    Aircraft
        Each such case at the greatest speed of its dive, in the air in which that speed has the
        dive's greatest dynamic pressure; without those whose dive could not be followed.

    Raises
    ------
    InputFaults
        Nothing is left to check.
    """
    known = {dive.case: dive for dive in followed}
    cases = []
    for case in aircraft.cases:
        if case.entry is None or given(case, "speed"):
            cases.append(case)
        elif known[case.name].found:
            found = known[case.name].found
            density = 2 * found["greatest_dynamic_pressure"] / found["dive_speed"] ** 2
            altitude = _altitude(density)
            cases.append(
                replace(
                    case,
                    speed=_metres_a_second(found["dive_speed"]),
                    altitude=Stated(altitude, "m", altitude, f"{altitude:.4g} m"),
                )
            )
    if not cases:
        first = followed[0]
        remedy = "Mend or replace the solver, or give the case a speed."
        place, expected = f"cases[{first.case!r}].entry", "a dive that the solver can follow"
        raise InputFaults([Fault("", place, first.reason, expected, remedy)])
    return replace(aircraft, cases=tuple(cases))


def _metres_a_second(speed: float) -> Stated:
    return Stated(speed, "m/s", speed, f"{speed:.4g} m/s")


def _altitude(density: float) -> float:
    """Return the altitude at which the standard atmosphere has a density [m]."""
    low, high = air.LEAST_ALTITUDE, air.GREATEST_ALTITUDE
    for _ in range(50):
        middle = 0.5 * (low + high)
        thin = float(air.density(altitude=np.float64(middle))) < density
        low, high = (low, middle) if thin else (middle, high)
    return 0.5 * (low + high)
