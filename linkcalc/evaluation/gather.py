"""From the model to plain SI arrays, with a note wherever a default stands in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.evaluation.governing import PLAIN, VERDICT
from linkcalc.evaluation.inputs import (
    Cases,
    Chained,
    Inputs,
    Runs,
    Servos,
    Surfaces,
)
from linkcalc.evaluation.known_air import note_mach, refuse_unknown_air
from linkcalc.evaluation.linkage_fields import chains_of, geometry, hinge_axis, rods
from linkcalc.evaluation.local_air import Stream, ground_speed, is_flat, local_air, speeds_at_runs
from linkcalc.evaluation.notes import Notes
from linkcalc.evaluation.supply_fields import supply_fields
from linkcalc.evaluation.surface_fields import REYNOLDS_TEMPERATURE, solver_name, surface_fields
from linkcalc.evaluation.yielding import with_parts, yields
from linkcalc.model.aircraft import share, throws
from linkcalc.model.case import GROUND_KINDS
from linkcalc.model.defaults import (
    FRACTION,
    GROUND_RANGE_TIME,
    INCIDENCE,
    MINIMUM_SHARE,
    NO_LOAD_SHARE,
    RANGE_TIME,
    resolve,
)
from linkcalc.model.value_classes import given, refuse_samples, si, stated
from linkcalc.physics import air, servo
from linkcalc.sampled import sampled, scalar, side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.gather_chains import Made
    from linkcalc.model import (
        Aircraft,
        ControlRun,
        FlightCase,
        RunDemand,
        Servo,
    )

    Floats = NDArray[np.float64]

__all__ = ["Gathered", "gather"]


class Gathered(NamedTuple):
    """Arrays and notes.

    Attributes
    ----------
    inputs : Inputs
        What the evaluation takes.
    notes : Notes
        Defaults that were used.
    """

    inputs: Inputs
    notes: Notes


def gather(aircraft: Aircraft) -> Gathered:
    """Turn an aircraft into arrays.

    Parameters
    ----------
    aircraft : Aircraft
        A description that its own rules have accepted.

    Returns
    -------
    Gathered
        Arrays and notes.

    Raises
    ------
    InputFaults
        A linkage does not close at neutral, or a case asks for what no method knows.
    Apart, Unsampled
        Quantities are samples, which differ in more than numbers, or cannot be taken together.
    """
    notes = Notes([], tuple([] for _ in aircraft.runs), tuple([] for _ in aircraft.cases))
    if any(linkage.stages for run in aircraft.runs for linkage in run.linkages):
        refuse_samples(aircraft)  # a chain is made of one linkage at a time
    chains = chains_of(aircraft.runs, notes)
    laid = geometry(aircraft.runs, chains, notes)
    surfaces = _surfaces(aircraft.runs, chains, notes)
    surfaces = with_parts(surfaces, aircraft.runs, laid, notes)
    made = _runs(aircraft.runs, notes)
    cases = _cases(aircraft, surfaces, notes)
    if chains:
        from linkcalc.evaluation.preload import with_preload  # noqa: PLC0415 - few have cables

        made = with_preload(made, aircraft.runs, chains, cases, notes)
    inputs = Inputs(
        laid,
        surfaces,
        rods(aircraft.runs, chains, laid.rod_length, notes),
        made,
        _servos(aircraft.runs, notes),
        supply_fields(aircraft, notes.aircraft),
        cases,
        _basis(aircraft, notes),
        tuple(Chained(surface, made.chain, made.clearances) for surface, made in chains.items()),
    )
    return Gathered(inputs, notes)


def _basis(aircraft: Aircraft, notes: Notes) -> int:
    """Return the line of the air load that the verdict stands on; another than the high one is told."""
    if aircraft.verdict_line == "high":
        return VERDICT
    notes.aircraft.append(
        "the verdict stands on the best line of the air load, as the file asks: half of all "
        "estimates err on the other side"
    )
    return PLAIN


# surfaces ----------------------------------------------------------------------


def _surfaces(runs: Sequence[ControlRun], chains: dict[int, Made], notes: Notes) -> Surfaces:
    owner, solver, rows, axes, levers, masses = [], [], [], [], [], []
    friction: list[float] = []
    compliance: list[float] = []
    for index, run in enumerate(runs):
        for linkage in run.linkages:
            surface = linkage.surface
            owner.append(index)
            solver.append(solver_name(surface))
            rows.append(surface_fields(surface, notes.runs[index]))
            friction.append(
                resolve(stated(surface, "hinge_friction"), "hinge friction", notes.runs[index])
            )
            stiff = linkage.stages or yields(linkage)  # these tell of themselves
            compliance.append(
                si(linkage, "compliance", 0.0)
                if stiff
                else resolve(stated(linkage, "compliance"), "compliance", notes.runs[index])
            )
            axis = hinge_axis(linkage)
            axes.append(axis)
            levers.append(_along(_square_to(axis), si(surface, "mass_centre", 0.0)))
            masses.append(si(surface, "mass", 0.0))
            if not given(surface, "mass"):
                _add(notes.runs[index], "mass of the surface not given: its weight is not counted")
    axis = side_by_side(axes, own=1)
    normal = np.cross(np.array([1.0, 0.0, 0.0]), axis)
    at_neutral = np.cross(axis, side_by_side(levers, own=1))
    return Surfaces(
        np.array(owner, dtype=np.intp),
        np.searchsorted(owner, np.arange(len(runs))),
        tuple(solver),
        # only rows of surfaces by stations have more than the others, and zero stands for none
        {name: side_by_side([row.get(name, 0.0) for row in rows]) for name in max(rows, key=len)},
        normal / np.linalg.norm(normal, axis=-1, keepdims=True),
        (at_neutral, np.cross(axis, at_neutral)),
        side_by_side(masses),
        side_by_side(friction),
        side_by_side(
            [
                one + (chains[index].compliance if index in chains else 0.0)
                for index, one in enumerate(compliance)
            ]
        ),
    )


def _add(lines: list[str], note: str) -> None:
    """Note something once."""
    if note not in lines:
        lines.append(note)


def _square_to(axis: Floats) -> Floats:
    """Return the unit vector aft of the hinge line, square to it, in the plane of the surface."""
    aft = np.array([1.0, 0.0, 0.0]) - axis[..., :1] * axis
    return aft / np.linalg.norm(aft, axis=-1, keepdims=True)  # type: ignore[no-any-return] # as it is


def _along(direction: Floats, distance: float) -> Floats:
    """Return a way along a unit vector."""
    return side_by_side([direction[..., place] * distance for place in range(3)])


# runs and servos ----------------------------------------------------------------


def _shaft_friction(run: ControlRun, lines: list[str]) -> float:
    """Return the friction at a servo's shaft; what cables add by their preload tells of itself."""
    if any(given(stage, "preload") for linkage in run.linkages for stage in linkage.stages):
        return si(run, "shaft_friction", 0.0)
    return resolve(stated(run, "shaft_friction"), "shaft friction", lines)


def _runs(runs: Sequence[ControlRun], notes: Notes) -> Runs:
    efficiency = [
        resolve(run.efficiency, _efficiency(run), lines)
        for run, lines in zip(runs, notes.runs, strict=True)
    ]
    travel = [
        resolve(stated(run.servo, "travel"), "servo travel", lines)
        for run, lines in zip(runs, notes.runs, strict=True)
    ]
    return Runs(
        np.array(efficiency),
        side_by_side(travel),
        side_by_side(
            [_shaft_friction(run, lines) for run, lines in zip(runs, notes.runs, strict=True)]
        ),
        side_by_side([si(run.servo, "gear_strength", math.inf) for run in runs]),
        side_by_side([si(run.servo, "gear_play") for run in runs]),
        np.array([_all_cables(run) for run in runs]),
        side_by_side(
            [
                side_by_side(_sent(run, angle, lines))
                for run, angle, lines in zip(runs, travel, notes.runs, strict=True)
            ],
            own=1,
        ),
    )


def _efficiency(run: ControlRun) -> str:
    """Return the name of the default that a run's linkages take."""
    kinds = [[stage.kind for stage in linkage.stages] for linkage in run.linkages]
    lossy = any("cables" in each or each.count("pushrod") > 1 for each in kinds)
    return _LOSSY if lossy else "linkage efficiency"


_LOSSY = "linkage efficiency of cables or of more than two joints in line"


def _all_cables(run: ControlRun) -> bool:
    """Tell whether all members of a run are cables."""
    kinds = {stage.kind for linkage in run.linkages for stage in linkage.stages}
    plain = any(not linkage.stages for linkage in run.linkages)
    return "cables" in kinds and "pushrod" not in kinds and not plain


def _sent(run: ControlRun, travel: float, lines: list[str]) -> tuple[float, float]:
    """Return how far the radio's pulses send a servo, the first surface up and down [rad]."""
    if run.pulses is None:
        return math.inf, math.inf
    from linkcalc.physics.servo_sheet import pulse_angle  # noqa: PLC0415 - seldom

    up, down = (
        abs(
            scalar(
                pulse_angle(
                    pulse=pulse,
                    neutral_pulse=si(run, "neutral_pulse"),
                    travel=2 * travel,
                    pulse_span=si(run.servo, "pulse_span"),
                )
            )
        )
        for pulse in run.pulses
    )
    lines.append(
        f"the radio's pulses send the servo {np.degrees(up):.4g} deg for up and "
        f"{np.degrees(down):.4g} deg for down, of {np.degrees(travel):.4g} deg either side"
    )
    return up, down


_COLUMNS = ("voltage", "stall_torque", "no_load_speed", "stall_current", "no_load_current")


def _servos(runs: Sequence[ControlRun], notes: Notes) -> Servos:
    longest = max(len(run.servo.rows) for run in runs)
    pairs = list(zip(runs, notes.runs, strict=True))
    sheets = [_columns(run.servo, longest, lines) for run, lines in pairs]
    columns = [side_by_side(column, own=1) for column in zip(*sheets, strict=True)]
    columns[4] = np.where(np.isnan(columns[4]), NO_LOAD_SHARE * columns[3], columns[4])
    made = servo.curves(**dict(zip(_COLUMNS, columns, strict=True)))
    bounds = zip(*(_voltage_bounds(run, lines) for run, lines in pairs), strict=True)
    measured = np.array([run.servo.figures == "measured" for run in runs])
    refuse = np.array([run.servo.below_first_row == "refuse" for run in runs])
    counts = [run.servo_count for run in runs]
    owner = np.repeat(np.arange(len(runs)), counts)
    first = np.cumsum([0, *counts[:-1]])
    made = type(made)(*(column[..., owner, :] for column in made))
    rank = np.arange(len(owner)) - first[owner]
    warming = side_by_side([si(run.servo, "time_constant") for run in runs])
    deadband = side_by_side([_deadband(run.servo, lines) for run, lines in pairs])
    ends = (side_by_side(bound) for bound in bounds)
    return Servos(owner, rank, first, made, deadband, warming, measured, refuse, *ends)


def _columns(held: Servo, longest: int, lines: list[str]) -> list[Floats]:
    """Return the columns of a datasheet; a short one repeats its last row."""
    rows = [held.rows[min(position, len(held.rows) - 1)] for position in range(longest)]
    columns = [side_by_side([si(row, name) for row in rows]) for name in _COLUMNS]
    if np.isnan(columns[3]).any():
        columns[3] = _estimated_stall_current(columns, lines)
    if np.isnan(columns[4]).any():
        lines.append(
            f"no-load current not given: {NO_LOAD_SHARE:g} x stall current (common practice, no source)"
        )
    return columns


def _deadband(held: Servo, lines: list[str]) -> float:
    """Return the angle at the shaft within which a servo does not answer [rad]."""
    travel = resolve(stated(held, "travel"), "servo travel", [])
    width = si(held, "deadband")
    if np.isnan(width) and held.electronics is not None:
        article = "an" if held.electronics == "analogue" else "a"
        width = resolve(None, f"deadband of {article} {held.electronics} servo", lines)
    return width * 2 * travel / si(held, "pulse_span")


def _estimated_stall_current(columns: list[Floats], lines: list[str]) -> Floats:
    """Return stall currents, those not printed at the high end, which loads the supply most."""
    from linkcalc.physics.servo_sheet import estimated_stall_current  # noqa: PLC0415 - seldom

    voltage, torque, speed, stall, idle = columns
    found = estimated_stall_current(
        voltage=voltage, stall_torque=torque, no_load_speed=speed, no_load_current=idle
    )
    missing = np.isnan(stall)
    last = int(np.flatnonzero(missing.reshape(-1, missing.shape[-1])[0])[-1])
    low, best, high = (scalar(np.asarray(each)[..., last]) for each in found)
    lines.append(
        f"stall current not given: {high:.3g} A at {scalar(voltage[..., last]):g} V, the high end of an "
        f"estimate from torque and speed ({low:.3g} to {high:.3g} A, most likely {best:.3g} A; "
        "common practice, no source)"
    )
    made = np.where(missing, found.high, stall)
    return sampled(made) if made.ndim > 1 else made


def _voltage_bounds(run: ControlRun, lines: list[str]) -> tuple[float, float, float]:
    first, last = si(run.servo.rows[0], "voltage"), si(run.servo.rows[-1], "voltage")
    least, most = si(run.servo, "minimum_voltage"), si(run.servo, "maximum_voltage")
    if np.isnan(least):
        least = MINIMUM_SHARE * first
        lines.append(
            f"servo minimum voltage not given: {least:.4g} V, {MINIMUM_SHARE:g} x the lowest row (common practice, no source)"
        )
    if np.isnan(most):
        most = last
        lines.append(
            f"servo maximum voltage not given: {most:.4g} V, the highest row (common practice, no source)"
        )
    return first, least, most


# cases --------------------------------------------------------------------------


def _cases(aircraft: Aircraft, surfaces: Surfaces, notes: Notes) -> Cases:
    rows = [
        _case(aircraft, case, lines)
        for case, lines in zip(aircraft.cases, notes.cases, strict=True)
    ]
    columns = list(zip(*rows, strict=True))
    density, flight_speed, temperature, incidence, sideslip = map(side_by_side, columns[:5])
    speed, low, high = (side_by_side(column, own=1) for column in columns[5:])
    mach = note_mach(speed.max(-1), temperature, notes.cases)
    up, down = (
        side_by_side(ends) for ends in zip(*(throws(run) for run in aircraft.runs), strict=True)
    )
    live = [
        [run.servo_count - _dead(case, run) for run in aircraft.runs] for case in aircraft.cases
    ]
    made = Cases(
        density,
        np.asarray(
            air.viscosity(
                temperature=np.where(np.isnan(temperature), REYNOLDS_TEMPERATURE, temperature)
            )
        ),
        flight_speed,
        speed,
        incidence,
        sideslip,
        np.array([case.load_factor for case in aircraft.cases]),
        low,
        high,
        -up,
        down,
        _wanted_rate(aircraft, low, high, notes),
        np.array(live, dtype=np.float64),
        np.array([case.kind == "sustained" for case in aircraft.cases]),
        {}
        if is_flat(aircraft)
        else local_air(
            aircraft,
            [
                Stream(scalar(density[..., place]), scalar(flight_speed[..., place]))
                for place in range(len(aircraft.cases))
            ],
            surfaces.normal,
            notes.cases,
        ),
    )
    refuse_unknown_air(aircraft, surfaces, made, mach)
    return made


def _demand(case: FlightCase, run: ControlRun) -> RunDemand | None:
    return next((item for item in case.runs if item.run == run.name), None)


def _dead(case: FlightCase, run: ControlRun) -> int:
    demand = _demand(case, run)
    return demand.dead_servos if demand else 0


def _wanted_rate(aircraft: Aircraft, low: Floats, high: Floats, notes: Notes) -> Floats:
    """Return the rate that is wanted: as given, or the range end to end in half a second."""
    whole = np.maximum(high, 0.0) - np.minimum(low, 0.0)
    rates = []
    for index, case in enumerate(aircraft.cases):
        time = GROUND_RANGE_TIME if case.kind in GROUND_KINDS else RANGE_TIME
        own = [scalar(whole[..., index, position]) / time for position in range(len(aircraft.runs))]
        rates.append(own)
        for position, run in enumerate(aircraft.runs):
            sources = (_demand(case, run), case)
            stating = [item for item in sources if item is not None and given(item, "wanted_rate")]
            if stating:
                own[position] = si(stating[0], "wanted_rate")
                continue
            note = f"rate not given: the range from end to end in {time:g} s (common practice, no source)"
            if note not in notes.cases[index]:
                notes.cases[index].append(note)
    return side_by_side([side_by_side(own) for own in rates], own=1)


def _case(aircraft: Aircraft, case: FlightCase, lines: list[str]) -> tuple[Any, ...]:
    slow = si(case, "speed") if given(case, "speed") else ground_speed(aircraft, case, lines)
    density, true_airspeed, temperature = _air(case, slow, lines)
    default = INCIDENCE[case.kind]
    incidence, sideslip = si(case, "incidence"), si(case, "sideslip")
    for name, value in (("incidence", incidence), ("sideslip", sideslip)):
        if np.isnan(value) and case.kind not in GROUND_KINDS:
            lines.append(
                f"{name} not given: {math.degrees(default):.3g} deg for this kind of case (common practice, no source)"
            )
    asked = {demand.run: demand for demand in case.runs}
    speed, low, high = [], [], []
    at_runs = speeds_at_runs(aircraft, case, Stream(density, true_airspeed), lines)
    for run, flow in zip(aircraft.runs, at_runs, strict=True):
        demand = asked.get(run.name)
        speed.append(flow + (si(demand, "wash_speed") if demand else 0.0))
        least, most = _range(aircraft, case, run, true_airspeed, lines)
        if least == 0 and most == 0:
            found = f"a range of {run.name!r} that asks for nothing"
            remedy = "Give the throw, or what the case needs of this run."
            place = f"cases[{case.name!r}]"
            raise InputFaults([Fault("", place, found, "a deflection to hold", remedy)])
        low.append(least)
        high.append(most)
    return (
        density,
        true_airspeed,
        temperature,
        default if np.isnan(incidence) else incidence,
        default if np.isnan(sideslip) else sideslip,
        side_by_side(speed),
        side_by_side(low),
        side_by_side(high),
    )


def _air(case: FlightCase, speed: float, lines: list[str]) -> tuple[float, float, float]:
    """Return density, true airspeed and temperature; nan where the density alone is known."""
    if given(case, "density"):
        return si(case, "density"), speed, math.nan
    altitude = resolve(stated(case, "altitude"), "altitude", lines)
    temperature = si(case, "temperature")
    outside = None if np.isnan(temperature) else np.float64(temperature)
    density = scalar(air.density(altitude=np.float64(altitude), temperature=outside))
    if case.airspeed == "calibrated":
        pressure = air.pressure(altitude=np.float64(altitude))
        speed = scalar(
            air.true_airspeed_from_calibrated(
                calibrated=np.float64(speed), pressure=pressure, density=np.float64(density)
            )
        )
    if not (np.isfinite(speed) and np.isfinite(density)):
        found = f"{stated(case, 'speed').text} {case.airspeed} at {altitude:g} m"
        raise InputFaults(
            [
                Fault(
                    "",
                    f"cases[{case.name!r}].speed",
                    found,
                    "a subsonic speed",
                    "Give an ordinary speed and altitude.",
                )
            ]
        )
    if np.isnan(temperature):
        temperature = scalar(air.temperature(altitude=np.float64(altitude)))
    return density, speed, temperature


def _by_speed(speed: float, slow: float, fast: float) -> float:
    """Return the share of the throw: all of it up to one speed, that of a dive from another on."""
    fall = (FRACTION["dive"] - 1.0) / (fast - slow)
    return scalar(fall * (np.clip(speed, slow, fast) - slow) + 1.0)


_PATTERN = "the pattern of CS-22 and 14 CFR 23, from memory; when sustained, "


def _range(
    aircraft: Aircraft, case: FlightCase, run: ControlRun, speed: float, lines: list[str]
) -> tuple[float, float]:
    """Return the range of deflection that a case asks of a run."""
    for source in (_demand(case, run), case):
        if source is not None and source.deflection is not None:
            return source.deflection
        if source is not None and source.fraction is not None:
            return share(run, source.fraction, case.inputs)
    if case.kind is not None:
        fraction = FRACTION[case.kind]
        origin = "" if case.kind in GROUND_KINDS else _PATTERN
        words = (
            f"{fraction:.3g} of each throw, by kind of case ({origin}common practice, no source)"
        )
    else:
        slow, fast = si(aircraft, "manoeuvre_speed"), si(aircraft, "dive_speed")
        fraction = _by_speed(speed, slow, fast)
        words = f"{fraction:.3g} of each throw, by speed between manoeuvre and dive speed"
    note = f"deflection to hold not given: {words}"
    if note not in lines:
        lines.append(note)
    return share(run, fraction, case.inputs)
