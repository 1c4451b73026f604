"""A flight case: what the air does and what the pilot asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.errors import InputError, told
from linkcalc.model.airframe import DiveEntry
from linkcalc.model.fields import (
    QuantityField,
    choice,
    field,
    number,
    part,
    parts,
    quantity_field,
    text,
    vector,
)
from linkcalc.model.value_classes import ValueClass, given, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.model.value_classes import Spec

__all__ = ["GROUND_KINDS", "WINDS", "FlightCase", "InputShare", "RunDemand"]

GROUND_KINDS = ("parked", "handling")
"""Kinds of case in which nothing flies."""

WINDS = {
    "14 CFR 23.415": "by wing loading, 88 ft/s at most (pre-2017 text)",
    "CS 22.415": "100 km/h",
    "14 CFR 25.415": "65 knots",
}
"""Regulations that tell the wind which a parked aircraft is to bear."""


def _load_factor(described: Spec, name: str, value: Any) -> tuple[float, float, float]:
    """Read a load factor: N, or three components along which gravity is felt."""
    parts_given = value if isinstance(value, (list, tuple)) else (0.0, 0.0, value)
    good = len(parts_given) == 3 and all(
        isinstance(item, (int, float))
        and not isinstance(item, bool)
        and described.least <= item <= described.most  # refuses nan as well
        for item in parts_given
    )
    if not good:
        raise InputError(
            name,
            value,
            "a number such as 3.8, or three (aft, starboard, up) such as [0, 0, -3.8]",
            "Give the load factor in multiples of gravity.",
        )
    aft, starboard, up = (float(item) for item in parts_given)
    return (aft, starboard, up if isinstance(value, (list, tuple)) else -up)


def _range_faults(asked: RunDemand | FlightCase) -> Iterator[InputError]:
    low_high, fraction = asked.deflection, asked.fraction
    if low_high is not None and fraction is not None:
        yield InputError(
            "fraction",
            told("both a fraction and a deflection range"),
            "one of the two",
            "Leave one out.",
        )
    if low_high is not None and not low_high[0] <= low_high[1]:
        yield InputError(
            "deflection",
            told("a range with its ends the wrong way round"),
            "least (most trailing edge up) first, such as ['-10 deg', '15 deg']",
            "Swap the two.",
        )
    if low_high == (0.0, 0.0) or fraction == 0:
        yield InputError(
            "deflection",
            told("a range that asks for nothing"),
            "a deflection to hold",
            "Give the deflection that the case needs.",
        )


class InputShare(ValueClass):
    """How much of a pilot input a case asks for."""

    name: str = text("The pilot input, as the surfaces name it.")
    least: float = number(
        "Share of full input trailing edge up: -1 to 0.", default=-1.0, least=-1, most=1
    )
    greatest: float = number(
        "Share of full input trailing edge down: 0 to 1.", default=1.0, least=-1, most=1
    )

    @rule("least", "greatest")
    def _ends_are_in_order(self) -> Iterator[InputError]:
        if not self.least <= self.greatest:
            yield InputError(
                "least",
                told("a share with its ends the wrong way round"),
                "least first",
                "Swap the two.",
            )


class RunDemand(ValueClass):
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
    ground_gust_factor: float = number(
        "K of the regulations' ground gust for this run's surfaces, in a parked case.",
        default=0.75,
        least=0,
        most=2,
        default_words="0.75, the largest (14 CFR 23.415(b), CS 22.415); 0.50 for ailerons at full throw",
    )
    hand_force: QuantityField = quantity_field(
        "force",
        "Force of a hand at the trailing edge of this run's surfaces, either way.",
        bound="not negative",
        default=None,
        default_words="as the case",
    )

    _asks_for_one_range = rule("deflection", "fraction")(_range_faults)


class FlightCase(ValueClass):
    """One condition of flight in which every control run has to do its work."""

    name: str = text("What the report calls it.")
    kind: str | None = choice(
        ("manoeuvre", "dive", "sustained", *GROUND_KINDS),
        "What sort of case it is; it sets what is asked for where the file does not.",
        default=None,
        default_words="none: by speed, between manoeuvre_speed and dive_speed of the aircraft",
    )
    speed: QuantityField = quantity_field(
        "speed",
        "Airspeed; of a parked aircraft the wind.",
        bound="positive",
        default=None,
        default_words="**required**, but for a case with an `entry`, whose greatest speed it then is, for a parked case with a regulation and for a handling case (0 m/s)",
    )
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
    load_factor: tuple[float, float, float] = field(
        "load factor",
        "Load factor N, or three components along which gravity is felt.",
        _load_factor,
        default=(0.0, 0.0, -1.0),
        default_words="1",
        least=-1000,
        most=1000,
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
    gust_speed: QuantityField = quantity_field(
        "speed", "Sharp-edged gust square to the path, upwards positive.", default="0 m/s"
    )
    side_gust_speed: QuantityField = quantity_field(
        "speed", "The same sideways, from starboard positive.", default="0 m/s"
    )
    roll_rate: QuantityField = quantity_field(
        "angular rate",
        "Rate of roll, starboard wing down positive; for surfaces with a station.",
        default="0 deg/s",
    )
    pitch_rate: QuantityField = quantity_field(
        "angular rate", "Rate of pitch, nose up positive.", default="0 deg/s"
    )
    yaw_rate: QuantityField = quantity_field(
        "angular rate", "Rate of yaw, nose to starboard positive.", default="0 deg/s"
    )
    thrust: QuantityField = quantity_field(
        "force",
        "Thrust of the propeller at this speed, negative where it brakes.",
        default=None,
        default_words="from static_thrust; without either no slipstream",
    )
    static_thrust: QuantityField = quantity_field(
        "force",
        "Thrust of the propeller at no speed; its ideal power is held.",
        bound="not negative",
        default=None,
        default_words="none",
    )
    regulation: str | None = choice(
        tuple(WINDS),
        "Whose wind a parked aircraft bears, instead of a speed.",
        default=None,
        default_words="none: speed is the wind",
    )
    hand_force: QuantityField = quantity_field(
        "force",
        "Force of a hand at the trailing edge of every surface, either way.",
        bound="not negative",
        default=None,
        default_words="none",
    )
    fraction: float | None = number(
        "Share of each side's own throw that every run must hold.",
        default=None,
        least=0,
        most=1,
        default_words="1 in a manoeuvre, parked and in handling, 1/3 in a dive (the pattern of CS-22 and 14 CFR 23, from memory), 1/5 when sustained",
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
        default_words="the range from end to end in 0.5 s, on the ground in 5 s (common practice, no source)",
    )
    runs: tuple[RunDemand, ...] = parts(
        RunDemand, "What is asked of single runs.", least=0, most=64, default=()
    )
    entry: DiveEntry | None = part(
        DiveEntry,
        "A dive that is followed, by the aircraft's `airframe`.",
        default=None,
        default_words="none: nothing is followed",
    )

    _asks_for_one_range = rule("deflection", "fraction")(_range_faults)

    @rule("kind", "entry")
    def _enters_a_dive(self) -> Iterator[InputError]:
        if self.entry is not None and self.kind != "dive":
            found = told("an entry in a case of another kind")
            yield InputError(
                "kind", found, "kind = 'dive'", "Write the kind, or leave out the entry."
            )

    @rule("speed", "entry", "airspeed", "density", "altitude", "temperature")
    def _dives_through_its_own_air(self) -> Iterator[InputError]:
        if self.entry is None or given(self, "speed"):
            return
        air = [name for name in ("density", "altitude", "temperature") if given(self, name)]
        air += ["airspeed"] if self.airspeed == "calibrated" else []
        for name in air:
            yield InputError(
                name,
                told(f"{name} beside an entry, without a speed"),
                "neither, as the dive gives both",
                "Leave it out, or give the speed; the field's altitude belongs into the entry.",
            )

    @rule("speed", "kind", "regulation", "entry")
    def _has_a_speed(self) -> Iterator[InputError]:
        if self.regulation is not None and self.kind != "parked":
            yield InputError(
                "regulation",
                self.regulation,
                "kind = 'parked' beside it",
                "Set the kind, or leave the regulation out.",
            )
        elif self.regulation is not None and given(self, "speed"):
            yield InputError(
                "speed",
                told("a speed and a regulation that sets the wind"),
                "one of the two",
                "Leave one out.",
            )
        elsewhere = self.regulation or self.entry or self.kind == "handling"
        if not given(self, "speed") and not elsewhere:
            yield InputError(
                "speed",
                told("nothing"),
                "speed, such as '45 m/s'",
                "Airspeed. Add the key, or an entry of a dive that it is found from.",
            )

    @rule("kind", "gust_speed", "thrust", "hand_force", "runs")
    def _is_in_the_air_or_on_the_ground(self) -> Iterator[InputError]:
        names = ("gust_speed", "side_gust_speed", "roll_rate", "pitch_rate", "yaw_rate")
        moving = [name for name in names if stated(self, name).si != 0]
        moving += [name for name in ("thrust", "static_thrust") if given(self, name)]
        if self.kind in GROUND_KINDS and moving:
            yield InputError(
                moving[0],
                told(f"{moving[0]} in a case of the kind {self.kind!r}"),
                "a case in flight",
                "Leave it out, or choose another kind.",
            )
        if given(self, "thrust", "static_thrust"):
            yield InputError(
                "thrust",
                told("both thrust and static_thrust"),
                "one of the two",
                "Leave one out.",
            )
        held = [self, *self.runs]
        if self.kind == "handling" and not any(given(each, "hand_force") for each in held):
            yield InputError(
                "hand_force",
                told("nothing"),
                "the force of a hand, such as '10 N'",
                "Give it for the case or for single runs.",
            )

    @rule("density", "altitude", "temperature")
    def _air_is_given_once(self) -> Iterator[InputError]:
        if given(self, "density") and (given(self, "altitude") or given(self, "temperature")):
            yield InputError(
                "density",
                told("density with altitude or temperature"),
                "one of the two",
                "Give the density, or altitude and temperature.",
            )

    @rule("airspeed", "density")
    def _calibrated_airspeed_has_an_altitude(self) -> Iterator[InputError]:
        if self.airspeed == "calibrated" and given(self, "density"):
            yield InputError(
                "airspeed",
                told("a calibrated airspeed with a density"),
                "altitude and temperature",
                "Give altitude and temperature, or the true airspeed.",
            )

    @rule("altitude")
    def _flies_in_the_atmosphere(self) -> Iterator[InputError]:
        height = stated(self, "altitude")
        if height is not None and not -5000 <= height.si <= 20000:
            yield InputError(
                "altitude",
                told(height.text),
                "from -5 km to 20 km",
                "Give an altitude inside the atmosphere's table.",
            )

    @rule("runs")
    def _names_a_run_once(self) -> Iterator[InputError]:
        names = [demand.run for demand in self.runs]
        if len(set(names)) < len(names):
            yield InputError(
                "runs", told("a run named twice"), "each run at most once", "Join the two entries."
            )
