"""A flight case: what the air does and what the pilot asks for."""

from __future__ import annotations

import math
from typing import Any

import attrs

from linkcalc.errors import InputError, told
from linkcalc.model.fields import (
    QuantityField,
    Spec,
    choice,
    given,
    number,
    parts,
    quantity_field,
    stated,
    text,
    value_class,
    vector,
)

__all__ = ["FlightCase", "InputShare", "RunDemand"]


def _load_factor(value: Any, attribute: attrs.Attribute[Any]) -> tuple[float, float, float]:
    """Read a load factor: N, or three components along which gravity is felt."""
    parts_given = value if isinstance(value, (list, tuple)) else (0.0, 0.0, value)
    good = len(parts_given) == 3 and all(
        isinstance(item, (int, float)) and not isinstance(item, bool) and abs(item) <= 1000
        for item in parts_given
    )
    if not good or any(math.isnan(item) for item in parts_given):
        raise InputError(
            attribute.name,
            value,
            "a number such as 3.8, or three (aft, starboard, up) such as [0, 0, -3.8]",
            "Give the load factor in multiples of gravity.",
        )
    aft, starboard, up = (float(item) for item in parts_given)
    return (aft, starboard, up if isinstance(value, (list, tuple)) else -up)


def _check_range(low_high: tuple[float, float] | None, fraction: float | None) -> None:
    if low_high is not None and fraction is not None:
        raise InputError(
            "fraction",
            told("both a fraction and a deflection range"),
            "one of the two",
            "Leave one out.",
        )
    if low_high is not None and not low_high[0] <= low_high[1]:
        raise InputError(
            "deflection",
            told("a range with its ends the wrong way round"),
            "least (most trailing edge up) first, such as ['-10 deg', '15 deg']",
            "Swap the two.",
        )
    if low_high == (0.0, 0.0) or fraction == 0:
        raise InputError(
            "deflection",
            told("a range that asks for nothing"),
            "a deflection to hold",
            "Give the deflection that the case needs.",
        )


@value_class
class InputShare:
    """How much of a pilot input a case asks for."""

    name: str = text("The pilot input, as the surfaces name it.")
    least: float = number(
        "Share of full input trailing edge up: -1 to 0.", default=-1.0, least=-1, most=1
    )
    greatest: float = number(
        "Share of full input trailing edge down: 0 to 1.", default=1.0, least=-1, most=1
    )

    def __attrs_post_init__(self) -> None:
        """Check what no single field can."""
        if not self.least <= self.greatest:
            raise InputError(
                "least",
                told("a share with its ends the wrong way round"),
                "least first",
                "Swap the two.",
            )


@value_class
class RunDemand:
    """What a case asks of one control run in particular."""

    run: str = text("The control run's name.")
    fraction: float | None = number(
        "Share of each side's own throw that must be held.",
        default=None,
        least=0,
        most=1,
        default_words="as the case",
    )
    deflection: tuple[float, float] | None = vector(
        "angle",
        "Least and greatest deflection that must be held.",
        names=("least", "greatest"),
        default=None,
        default_words="as the case",
    )
    wanted_rate: QuantityField = quantity_field(
        "angular rate",
        "Rate of the surface that is wanted.",
        bound="positive",
        default=None,
        default_words="as the case",
    )
    dead_servos: int = number(
        "Servos of this run that are taken as dead.", default=0, least=0, most=8, whole=True
    )
    wash_speed: QuantityField = quantity_field(
        "speed",
        "What the propeller's wash adds to the speed at this surface.",
        bound="not negative",
        default="0 m/s",
    )

    def __attrs_post_init__(self) -> None:
        """Check what no single field can."""
        _check_range(self.deflection, self.fraction)


@value_class
class FlightCase:
    """One condition of flight in which every control run has to do its work."""

    name: str = text("What the report calls it.")
    kind: str | None = choice(
        ("manoeuvre", "dive", "sustained"),
        "What sort of case it is; it sets what is asked for where the file does not.",
        default=None,
        default_words="none: by speed, between manoeuvre_speed and dive_speed of the aircraft",
    )
    speed: QuantityField = quantity_field("speed", "Airspeed.", bound="positive")
    airspeed: str = choice(("true", "calibrated"), "Which airspeed is given.", default="true")
    density: QuantityField = quantity_field(
        "density",
        "Air density.",
        bound="positive",
        default=None,
        default_words="from altitude and temperature",
    )
    altitude: QuantityField = quantity_field(
        "length", "Altitude in the 1976 standard atmosphere.", default=None, default_words="0 m"
    )
    temperature: QuantityField = quantity_field(
        "temperature",
        "Air temperature, where it is not the standard one.",
        bound="positive",
        default=None,
        default_words="standard at the altitude",
    )
    load_factor: tuple[float, float, float] = attrs.field(
        default=(0.0, 0.0, -1.0),
        converter=attrs.Converter(_load_factor, takes_field=True),
        metadata={
            "spec": Spec(
                "load factor",
                "Load factor N, or three components along which gravity is felt.",
                default="1",
            )
        },
    )
    incidence: QuantityField = quantity_field(
        "angle",
        "Incidence alpha.",
        default=None,
        default_words="10 deg in a manoeuvre, 3 deg in a dive or sustained (common practice, no source)",
    )
    sideslip: QuantityField = quantity_field(
        "angle",
        "Sideslip beta, wind from starboard positive.",
        default=None,
        default_words="as incidence",
    )
    fraction: float | None = number(
        "Share of each side's own throw that every run must hold.",
        default=None,
        least=0,
        most=1,
        default_words="1 in a manoeuvre, 1/3 in a dive (the pattern of CS-22 and 14 CFR 23, from memory), 1/5 when sustained",
    )
    deflection: tuple[float, float] | None = vector(
        "angle",
        "Least and greatest deflection that every run must hold.",
        names=("least", "greatest"),
        default=None,
        default_words="by fraction",
    )
    inputs: tuple[InputShare, ...] = parts(
        InputShare, "Share of single pilot inputs, where they are mixed.", least=0, default=()
    )
    wanted_rate: QuantityField = quantity_field(
        "angular rate",
        "Rate of the surfaces that is wanted.",
        bound="positive",
        default=None,
        default_words="the range from end to end in 0.5 s (common practice, no source)",
    )
    runs: tuple[RunDemand, ...] = parts(
        RunDemand, "What is asked of single runs.", least=0, most=64, default=()
    )

    def __attrs_post_init__(self) -> None:
        """Check what no single field can."""
        _check_range(self.deflection, self.fraction)
        if given(self, "density") and (given(self, "altitude") or given(self, "temperature")):
            raise InputError(
                "density",
                told("density with altitude or temperature"),
                "one of the two",
                "Give the density, or altitude and temperature.",
            )
        if self.airspeed == "calibrated" and given(self, "density"):
            raise InputError(
                "airspeed",
                told("a calibrated airspeed with a density"),
                "altitude and temperature",
                "Give altitude and temperature, or the true airspeed.",
            )
        height = stated(self, "altitude")
        if height is not None and not -5000 <= height.si <= 20000:
            raise InputError(
                "altitude",
                told(height.text),
                "from -5 km to 20 km",
                "Give an altitude inside the atmosphere's table.",
            )
        names = [demand.run for demand in self.runs]
        if len(set(names)) < len(names):
            raise InputError(
                "runs", told("a run named twice"), "each run at most once", "Join the two entries."
            )
