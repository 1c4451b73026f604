"""What cannot be dived with, told to the person who can mend it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.physics import air

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["refuse_bad_fields"]

_POSITIVE = {
    "mass": "kg, such as 2.4",
    "wing_area": "m^2, such as 0.35",
    "maximum_lift": "1, such as 1.1",
    "limit_load_factor": "1, such as 6",
    "start_height": "m above the ground, such as 120",
}
_NOT_NEGATIVE = {
    "zero_lift_drag": "1, such as 0.025",
    "induced_factor": "1, such as 0.04",
    "drop": "m, such as 0 for none",
    "delay": "s, such as 0.5",
}
_ELEVATOR_POSITIVE = {"trim_dynamic_pressure": "Pa, such as 90"}
_TAIL_POSITIVE = {
    "tail_volume": "1, such as 0.5",
    "tail_lift_slope": "1/rad, such as 4",
    "tail_arm": "m, such as 0.7",
    "elevator_effectiveness": "1, such as 0.5",
}
_REMEDIES = {
    "mass": "Give the mass ready to fly.",
    "start_height": "A dive begins above the ground.",
    "zero_lift_drag": "A drag below zero would be a thrust; mend the polar.",
    "induced_factor": "A drag below zero would be a thrust; mend the polar.",
}


def refuse_bad_fields(fields: Mapping[str, Floats], *, servo: bool) -> None:
    """Refuse fields that make no sense.

    Parameters
    ----------
    fields : mapping of str to ndarray
        Of a dive.
    servo : bool
        Whether the elevator's servo limits, so that trim and tail are needed.

    Raises
    ------
    InputError
        The first that cannot be used: which, what was found, what was expected.
    """
    for name, example in _POSITIVE.items():
        _need(name, fields[name], fields[name] > 0, f"a number above zero [{example}]")
    for name, example in _NOT_NEGATIVE.items():
        _need(name, fields[name], fields[name] >= 0, f"zero or more [{example}]")
    angle = fields["dive_angle"]
    _need(
        "dive_angle",
        angle,
        (angle > 0) & (angle <= 0.5 * math.pi * (1 + 1e-12)),
        "an angle below the horizon, above 0 and at most pi/2 rad (90 degrees)",
    )
    _refuse_bad_air(fields)
    if servo:
        _refuse_bad_elevator(fields)


def _refuse_bad_air(fields: Mapping[str, Floats]) -> None:
    ground = fields["field_altitude"]
    inside = (ground >= air.LEAST_ALTITUDE) & (ground < air.GREATEST_ALTITUDE)
    _need("field_altitude", ground, inside, "an altitude of -5 km to 20 km")
    for name in ("start_height", "ceiling"):
        altitude = ground + fields[name]
        _need(
            name,
            fields[name],
            (altitude <= air.GREATEST_ALTITUDE) | np.isnan(altitude),
            "a height that ends below 20 km above sea level, where the table of the air ends",
        )
    ceiling = fields["ceiling"]
    _need("ceiling", ceiling, (ceiling > 0) | np.isnan(ceiling), "a height above the ground")
    speed = fields["start_speed"]
    _need("start_speed", speed, (speed > 0) | np.isnan(speed), "a true airspeed above zero [m/s]")
    sound = air.speed_of_sound(
        temperature=air.temperature(altitude=ground + fields["start_height"])
    )
    _need(
        "start_speed",
        speed,
        ~(speed > 0.7 * sound),
        "a speed of Mach 0.7 at most, above which these equations do not hold",
    )


def _refuse_bad_elevator(fields: Mapping[str, Floats]) -> None:
    for name, example in _ELEVATOR_POSITIVE.items():
        _need(name, fields[name], fields[name] > 0, f"a number above zero [{example}]")
    trim = fields["trim_deflection"]
    _need("trim_deflection", trim, np.isfinite(trim), "the elevator's deflection in level flight")
    slope = fields["load_factor_slope"]
    _need(
        "load_factor_slope",
        slope,
        (slope > 0) | np.isnan(slope),
        "a load factor above zero for a radian of up elevator [1/rad], or the tail's figures",
    )
    from_tail = np.isnan(slope)
    for name, example in _TAIL_POSITIVE.items():
        good = (fields[name] > 0) | ~from_tail
        _need(
            name,
            np.broadcast_to(fields[name], good.shape),
            good,
            f"a number above zero [{example}], or a load_factor_slope",
        )
    margin = fields["static_margin"]
    good = (margin >= 0) | ~from_tail
    _need(
        "static_margin",
        np.broadcast_to(margin, good.shape),
        good,
        "zero or more, in mean chords; an unstable aircraft is not followed",
    )


def _need(name: str, value: Floats, good: NDArray[np.bool_], expected: str) -> None:
    """Raise where something is not good; nan and infinity are not."""
    good = np.asarray(good & ~np.isinf(value))
    if good.all():
        return
    worst = np.broadcast_to(value, good.shape)[~good].flat[0]
    found = told("nothing" if np.isnan(worst) else f"{worst:g}")
    raise InputError(
        name, found, expected, _REMEDIES.get(name, "Check this field and what it is made from.")
    )
