"""From the model to the fields of a dive solver, with a note for everything that was not given."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import InputError
from linkcalc.model.value_classes import stated
from linkcalc.physics import air, drag
from linkcalc.physics.air import STANDARD_GRAVITY
from linkcalc.physics.dive_entries import preset
from linkcalc.physics.propeller import stopped_drag_area, turning, windmilling

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.model import Airframe, DiveEntry, Drag, DragPart, ElevatorPower, Propeller

    Floats = NDArray[np.float64]

__all__ = ["dive_fields", "stall_speed", "zero_lift_drag"]

_PRACTICE = "common practice, no source"
_DELAY = 1.0
_LEAST_CEILING, _CEILINGS = 300.0, 3.0
_GREATEST_MACH = 0.7
_ROUNDS = 40  # each brings the terminal speed a digit nearer
_LEAST_REYNOLDS = 1e4
_ELEVATOR = (
    "load_factor_slope",
    "static_margin",
    "tail_volume",
    "tail_lift_slope",
    "tail_arm",
    "elevator_effectiveness",
    "trim_dynamic_pressure",
    "trim_deflection",
)
_SPEEDS = np.geomspace(2.0, 240.0, 80)


def dive_fields(airframe: Airframe, entry: DiveEntry, notes: list[str]) -> dict[str, Floats]:
    """Return the fields of one dive.

    Parameters
    ----------
    airframe : Airframe
        The aircraft.
    entry : DiveEntry
        How the dive begins.
    notes : list of str
        Receives a line for everything that stands in for something not given.

    Returns
    -------
    dict of str to ndarray
        Every key of `linkcalc.solver_fields.DIVE_FIELDS` in SI, 0-d but for the tables; nan is
        "not given".
    """
    start = _start(airframe, entry, notes)
    air_there = start["field_altitude"] + start["start_height"]
    made = {
        "mass": _si(airframe, "mass"),
        "wing_area": _si(airframe, "wing_area"),
        "maximum_lift": airframe.maximum_lift,
        "limit_load_factor": airframe.limit_load_factor,
        **_polar(airframe, start["field_altitude"], notes),
        **_propeller(airframe.propeller, air_there, notes),
        **_elevator(airframe, airframe.elevator, notes),
        **start,
    }
    return {name: np.asarray(value, dtype=np.float64) for name, value in made.items()}


def _si(owner: Any, name: str, default: float = math.nan) -> float:
    held = stated(owner, name)
    return default if held is None else float(held.si)


def stall_speed(airframe: Airframe, *, altitude: float = 0.0) -> float:
    r"""Stall speed of level flight, as given or from the greatest lift coefficient.

    .. math:: V_s = \sqrt{\frac{2 m g}{\rho S C_{L,max}}}

    Parameters
    ----------
    airframe : Airframe
        The aircraft.
    altitude : float
        Geometric [m].

    Returns
    -------
    float
        True airspeed at that altitude [m/s]; a speed that is given is one at sea level, and
        grows with the square root of the density's ratio. nan where neither that nor the
        maximum lift is given.
    """
    density = float(air.density(altitude=np.float64(altitude)))
    held = _si(airframe, "stall_speed")
    if not math.isnan(held):
        return held * math.sqrt(air.SEA_LEVEL_DENSITY / density)
    if airframe.maximum_lift is None:
        return math.nan
    weight = _si(airframe, "mass") * STANDARD_GRAVITY
    return math.sqrt(2 * weight / (density * _si(airframe, "wing_area") * airframe.maximum_lift))


def zero_lift_drag(airframe: Airframe, *, altitude: float, notes: list[str]) -> float:
    """Zero-lift drag coefficient, as given or built up from parts.

    Parameters
    ----------
    airframe : Airframe
        The aircraft; its drag is no polar.
    altitude : float
        Of the air whose viscosity and density count, geometric [m].
    notes : list of str
        Receives what was built up, and at which speed.

    Returns
    -------
    float
        C_D0 [1].

    Notes
    -----
    Friction falls with the Reynolds number. Unless the file names a speed, it is taken at the
    terminal speed straight down, which no dive exceeds: the least friction, so the fastest dive.
    """
    held = airframe.drag
    if held is None:  # its rules ask for one where a dive is described
        raise InputError(
            "airframe.drag",
            "nothing",
            "the drag of the aircraft",
            "Add zero_lift, a polar, or what it is built up from, to the airframe.",
        )
    if held.zero_lift is not None:
        return held.zero_lift
    density = float(air.density(altitude=np.float64(altitude)))
    temperature = air.temperature(altitude=np.float64(altitude))
    viscosity = float(air.viscosity(temperature=temperature)) / density
    area, weight = _si(airframe, "wing_area"), _si(airframe, "mass") * STANDARD_GRAVITY
    speed = _si(held, "friction_speed")
    if math.isnan(speed):
        fastest = _GREATEST_MACH * float(air.speed_of_sound(temperature=temperature))
        speed = fastest
        for _ in range(_ROUNDS):
            found = _built_up(held, speed / viscosity, area)
            speed = min(fastest, math.sqrt(2 * weight / (density * area * found)))
    found = _built_up(held, speed / viscosity, area)
    notes.append(
        f"zero-lift drag built up: {found:.4f}, friction at {speed:.1f} m/s, "
        f"{held.interference:.0%} for interference"
    )
    notes += [
        f"{part.name}: a Reynolds number of {_reynolds(part, speed / viscosity):.2g}, below what the "
        f"friction formulas are for ({_LEAST_REYNOLDS:.0e})"
        for part in held.parts
        if _reynolds(part, speed / viscosity) < _LEAST_REYNOLDS
    ]
    return found


def _reynolds(part: DragPart, per_metre: float) -> float:
    return _si(part, "length", math.inf) * per_metre


def _built_up(held: Drag, per_metre: float, wing_area: float) -> float:
    areas = [_drag_area(part, per_metre) for part in held.parts]
    return float(
        drag.zero_lift_drag(
            drag_areas=np.array(areas), interference=held.interference, wing_area=wing_area
        )
    )


def _drag_area(part: DragPart, per_metre: float) -> float:
    if part.drag_coefficient is not None:
        frontal = _si(part, "frontal_area")
        return float(
            drag.frontal_drag_area(coefficient=part.drag_coefficient, frontal_area=frontal)
        )
    friction = drag.friction_coefficient(
        reynolds_number=_reynolds(part, per_metre), laminar_share=part.laminar_share
    )
    if part.fineness_ratio is not None:
        form = drag.body_form_factor(fineness_ratio=part.fineness_ratio)
    else:
        form = drag.wing_form_factor(thickness_ratio=part.thickness_ratio or 0.0)
    wetted = _si(part, "wetted_area")
    return float(drag.wetted_drag_area(friction=friction, form_factor=form, wetted_area=wetted))


def _polar(airframe: Airframe, altitude: float, notes: list[str]) -> dict[str, Any]:
    points = () if airframe.drag is None else airframe.drag.polar
    if points:
        return {
            "zero_lift_drag": 0.0,
            "induced_factor": 0.0,
            "polar_lift": [point.lift for point in points],
            "polar_drag": [point.drag for point in points],
        }
    induced = drag.induced_drag_factor(
        aspect_ratio=airframe.aspect_ratio, span_efficiency=airframe.span_efficiency
    )
    return {
        "zero_lift_drag": zero_lift_drag(airframe, altitude=altitude, notes=notes),
        "induced_factor": induced,
        "polar_lift": [],
        "polar_drag": [],
    }


def _propeller(held: Propeller | None, altitude: float, notes: list[str]) -> dict[str, Any]:
    if held is None or held.state == "folded":
        return {"propeller_speed": [], "propeller_drag_area": []}
    radius, solidity = 0.5 * _si(held, "diameter"), held.solidity
    notes.append(
        f"propeller {held.state}: one blade section in momentum theory "
        f"({_PRACTICE}), in the air of the start"
    )
    standing = np.full(_SPEEDS.shape, stopped_drag_area(radius=radius, solidity=solidity))
    if held.state == "stopped":
        return {"propeller_speed": _SPEEDS, "propeller_drag_area": standing}
    given: dict[str, Any] = {
        "speed": _SPEEDS,
        "density": air.density(altitude=np.float64(altitude)),
        "radius": radius,
        "pitch": _si(held, "pitch"),
        "solidity": solidity,
    }
    if held.state == "idling":
        found = turning(rotation=_si(held, "rate"), **given).drag_area
    else:
        spun, rate = windmilling(friction_torque=_si(held, "friction_torque"), **given)
        found = np.where(rate > 0, spun.drag_area, standing)
    return {"propeller_speed": _SPEEDS, "propeller_drag_area": found}


def _elevator(airframe: Airframe, held: ElevatorPower | None, notes: list[str]) -> dict[str, Any]:
    if held is None:
        notes.append(
            "no elevator given: structure and lift limit the pull-out, no servo; whether the "
            "servo holds enough elevator was not checked"
        )
        return dict.fromkeys(_ELEVATOR, math.nan)
    trim = _si(held, "trim_speed")
    if math.isnan(trim):
        trim = _si(airframe, "cruise_speed")
        notes.append(f"trim speed not given: the cruise speed, {trim:.4g} m/s")
    from_tail = held.static_margin is not None
    return {
        "trim_dynamic_pressure": 0.5 * air.SEA_LEVEL_DENSITY * trim**2,
        "trim_deflection": _si(held, "trim_deflection"),
        "load_factor_slope": _si(held, "load_factor_slope"),
        "static_margin": held.static_margin if from_tail else math.nan,
        "tail_volume": held.tail_volume if from_tail else math.nan,
        "tail_lift_slope": _si(held, "tail_lift_slope"),
        "tail_arm": _si(held, "tail_arm"),
        "elevator_effectiveness": held.effectiveness,
    }


def _start(airframe: Airframe, entry: DiveEntry, notes: list[str]) -> dict[str, float]:
    """Return how the dive begins; a speed of nan is the terminal one."""
    field, height = _si(entry, "field_altitude"), _si(entry, "start_height")
    named = None if entry.preset is None else preset(entry.preset)
    angle, delay = _si(entry, "dive_angle"), _si(entry, "delay")
    speed, stall = _si(entry, "start_speed"), stall_speed(airframe, altitude=field + height)
    taken = []
    if math.isnan(angle) and named is not None:
        angle = named.dive_angle
        taken.append(f"{math.degrees(angle):.3g} deg below the horizon")
    if math.isnan(speed):
        ratio = 1.0 if named is None else named.speed_ratio
        speed = ratio * stall  # nan: the terminal one
        words = (
            "the terminal speed of the dive" if math.isnan(ratio) else f"{ratio:g} x stall speed"
        )
        taken.append(f"begun at {words}")
    if math.isnan(delay):
        delay = _DELAY if named is None else named.delay
        taken.append(f"pulled after {delay:.3g} s")
    if taken:
        origin = "dive entry" if entry.preset is None else f"dive entry {entry.preset!r}"
        notes.append(f"{origin}: {', '.join(taken)} ({_PRACTICE})")
    ceiling = _si(entry, "ceiling")
    if math.isnan(ceiling):
        ceiling = min(max(_CEILINGS * height, _LEAST_CEILING), air.GREATEST_ALTITUDE - field)
    return {
        "field_altitude": field,
        "start_height": height,
        "start_speed": speed,
        "dive_angle": angle,
        "drop": _si(entry, "drop"),
        "delay": delay,
        "ceiling": ceiling,
    }
