"""The airframe as a dive sees it: drag, lift, elevator, and how a dive begins."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from linkcalc.errors import InputError, told
from linkcalc.model.fields import (
    QuantityField,
    choice,
    number,
    part,
    quantity_field,
    text,
)
from linkcalc.model.fields import parts as several
from linkcalc.model.value_classes import ValueClass, given, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "Airframe",
    "DiveEntry",
    "Drag",
    "DragPart",
    "ElevatorPower",
    "PolarPoint",
    "Propeller",
]

_PRACTICE = "(common practice, no source)"


def _one_of(owner: Any, *ways: tuple[str, ...]) -> Iterator[InputError]:
    """Tell where not exactly one of several ways to give something is used."""
    used = [way for way in ways if any(_is_there(owner, name) for name in way)]
    listed = ", or ".join(" with ".join(way) for way in ways)
    if len(used) != 1:
        found = " and ".join(way[0] for way in used) or "nothing"
        place = used[-1][0] if used else ways[0][0]
        yield InputError(place, told(found), listed, "Give exactly one of these.")
    for way in used[: len(used) == 1]:
        for name in way:
            if not _is_there(owner, name):
                yield InputError(
                    name, told(f"{way[0]} without {name}"), " with ".join(way), "Add the key."
                )


def _is_there(owner: Any, name: str) -> bool:
    value = stated(owner, name)
    return value is not None and value != ()


class PolarPoint(ValueClass):
    """One point of a measured or computed polar."""

    lift: float = number("Lift coefficient.", least=-5, most=5)
    drag: float = number("Drag coefficient of the whole aircraft there.", least=0, most=5)


class DragPart(ValueClass):
    """A part of the airframe in the air: along its wetted area, or against its frontal area."""

    name: str = text("What it is.")
    wetted_area: QuantityField = quantity_field(
        "area",
        "Area that the air flows along, all sides.",
        bound="positive",
        default=None,
        default_words="by frontal_area",
    )
    length: QuantityField = quantity_field(
        "length",
        "Its length along the stream, for the Reynolds number.",
        bound="positive",
        default=None,
        default_words="required with wetted_area",
    )
    thickness_ratio: float | None = number(
        "Thickness over chord, of a wing or a tail.",
        default=None,
        least=0,
        most=0.5,
        default_words="0, a flat plate",
    )
    fineness_ratio: float | None = number(
        "Length over diameter, of a body.",
        default=None,
        least=2,
        most=100,
        default_words="not a body",
    )
    laminar_share: float = number(
        "Share of its length with a laminar boundary layer: 1 has the least drag and the fastest dive.",
        default=0.0,
        least=0,
        most=1,
    )
    frontal_area: QuantityField = quantity_field(
        "area",
        "Area that the air flows against.",
        bound="positive",
        default=None,
        default_words="by wetted_area",
    )
    drag_coefficient: float | None = number(
        "Drag coefficient on the frontal area.",
        default=None,
        least=0,
        most=5,
        default_words="required with frontal_area",
    )

    @rule("wetted_area", "length", "frontal_area", "drag_coefficient")
    def _has_one_area(self) -> Iterator[InputError]:
        yield from _one_of(self, ("wetted_area", "length"), ("frontal_area", "drag_coefficient"))

    @rule("thickness_ratio", "fineness_ratio")
    def _has_one_form(self) -> Iterator[InputError]:
        if self.thickness_ratio is not None and self.fineness_ratio is not None:
            yield InputError(
                "fineness_ratio",
                told("both a thickness_ratio and a fineness_ratio"),
                "thickness_ratio of a wing, or fineness_ratio of a body",
                "Leave one out.",
            )


class Propeller(ValueClass):
    """A propeller: what it does in a dive, where it does not pull, and how wide its slipstream is."""

    state: str = choice(
        ("folded", "stopped", "windmilling", "idling"),
        "What it does in a dive; folded has the least drag, and so the greatest speed.",
        default="folded",
    )
    diameter: QuantityField = quantity_field("length", "Its diameter.", bound="positive")
    solidity: float = number(
        "Area of all blades over that of the disc.",
        default=0.08,
        least=0.001,
        most=1,
        default_words=f"0.08 {_PRACTICE}",
    )
    pitch: QuantityField = quantity_field(
        "length",
        "Its pitch, where it turns.",
        bound="positive",
        default=None,
        default_words="required where it turns",
    )
    friction_torque: QuantityField = quantity_field(
        "torque",
        "Friction of motor and gears that a windmilling one turns against.",
        bound="not negative",
        default="0 N*m",
    )
    rate: QuantityField = quantity_field(
        "angular rate",
        "Rate at which an idling one is turned.",
        bound="positive",
        default=None,
        default_words="required where it idles",
    )

    @rule("state", "pitch", "rate")
    def _turns_at_a_pitch(self) -> Iterator[InputError]:
        needed = {"windmilling": ("pitch",), "idling": ("pitch", "rate")}.get(self.state, ())
        for name in needed:
            if not given(self, name):
                found = told(f"{self.state} without {name}")
                yield InputError(name, found, "a quantity", "Add the key.")


class Drag(ValueClass):
    """Drag of the aircraft: one figure, a polar by points, or built up from parts."""

    zero_lift: float | None = number(
        "Zero-lift drag coefficient of the whole aircraft.",
        default=None,
        least=0,
        most=2,
        default_words="by polar or parts",
    )
    polar: tuple[PolarPoint, ...] = several(
        PolarPoint,
        "Points, lift ascending; linear between them, and nothing is known beyond them.",
        least=0,
        most=200,
        default=(),
    )
    parts: tuple[DragPart, ...] = several(
        DragPart, "Parts that are added up.", least=0, most=64, default=()
    )
    interference: float = number(
        "Share that gaps, joints and interference add to the parts.",
        default=0.1,
        least=0,
        most=2,
        default_words=f"0.1 {_PRACTICE}",
    )
    friction_speed: QuantityField = quantity_field(
        "speed",
        "True airspeed at which the Reynolds numbers of the parts are taken.",
        bound="positive",
        default=None,
        default_words="terminal speed straight down: the least friction of all dives",
    )

    @rule("zero_lift", "polar", "parts")
    def _is_given_once(self) -> Iterator[InputError]:
        yield from _one_of(self, ("zero_lift",), ("polar",), ("parts",))

    @rule("polar")
    def _polar_ascends(self) -> Iterator[InputError]:
        lifts = [point.lift for point in self.polar]
        if len(lifts) == 1:
            yield InputError(
                "polar",
                told("a single point"),
                "two points at least",
                "Add points, or use zero_lift.",
            )
        for before, after in pairwise(lifts):
            if not before < after:
                yield InputError(
                    "polar",
                    told(f"lift {after:g} after {before:g}"),
                    "points in ascending order of lift, each once",
                    "Sort the points.",
                )
                return


class ElevatorPower(ValueClass):
    """Which run is the elevator, and what load factor its deflection brings."""

    run: str = text("The control run that is the elevator.")
    other_run: str | None = text(
        "A second run that works with it, such as the other half: the lesser reach counts.",
        default=None,
        default_words="none",
    )
    trim_speed: QuantityField = quantity_field(
        "speed",
        "True airspeed at sea level of steady level flight as trimmed.",
        bound="positive",
        default=None,
        default_words="cruise_speed of the airframe",
    )
    trim_deflection: QuantityField = quantity_field(
        "angle", "Deflection there, trailing edge up negative.", default="0 deg"
    )
    load_factor_slope: QuantityField = quantity_field(
        "slope",
        "Load factor for each angle of up elevator, in level flight at the trim speed.",
        bound="positive",
        default=None,
        default_words="from the tail",
    )
    static_margin: float | None = number(
        "Static margin with fixed elevator, in mean chords.",
        default=None,
        least=0,
        most=2,
        default_words="required without load_factor_slope",
    )
    tail_volume: float | None = number(
        "Tail area times arm over wing area times mean chord.",
        default=None,
        least=0.001,
        most=5,
        default_words="required without load_factor_slope",
    )
    tail_lift_slope: QuantityField = quantity_field(
        "slope",
        "Lift slope of the tail on its own area.",
        bound="positive",
        default="4 1/rad",
        default_words=f"4 1/rad {_PRACTICE}",
    )
    tail_arm: QuantityField = quantity_field(
        "length",
        "Centre of mass to a quarter of the tail's chord.",
        bound="positive",
        default=None,
        default_words="required without load_factor_slope",
    )
    effectiveness: float = number(
        "Change of the tail's incidence that a change of deflection is worth; 1 where it moves as a whole.",
        default=0.5,
        least=0.01,
        most=1,
        default_words=f"0.5 {_PRACTICE}",
    )

    @rule("load_factor_slope", "static_margin", "tail_volume", "tail_arm")
    def _has_one_power(self) -> Iterator[InputError]:
        tail = ("static_margin", "tail_volume", "tail_arm")
        yield from _one_of(self, ("load_factor_slope",), tail)


class Airframe(ValueClass):
    """What dives, downwash and slipstream need to know of the aircraft as a whole."""

    mass: QuantityField = quantity_field("mass", "Ready to fly.", bound="positive")
    wing_area: QuantityField = quantity_field("area", "Area of the wing.", bound="positive")
    aspect_ratio: float = number("Span squared over wing area.", least=0.5, most=60)
    span_efficiency: float = number(
        "Oswald's factor of the induced drag.",
        default=0.8,
        least=0.1,
        most=1.2,
        default_words=f"0.8 {_PRACTICE}",
    )
    maximum_lift: float | None = number(
        "Greatest lift coefficient C_L,max.",
        default=None,
        least=0.1,
        most=5,
        default_words="not given; a dive needs it",
    )
    limit_load_factor: float | None = number(
        "Load factor that the structure bears.",
        default=None,
        least=1.01,
        most=200,
        default_words="not given; a dive needs it",
    )
    drag: Drag | None = part(
        Drag, "Its drag.", default=None, default_words="not given; a dive needs it"
    )
    propeller: Propeller | None = part(
        Propeller, "A propeller in the stream.", default=None, default_words="none"
    )
    elevator: ElevatorPower | None = part(
        ElevatorPower,
        "Its elevator.",
        default=None,
        default_words="none: the pull-out is not limited by a servo, stated in the report",
    )
    stall_speed: QuantityField = quantity_field(
        "speed",
        "True airspeed of the stall in level flight at sea level.",
        bound="positive",
        default=None,
        default_words="from mass, wing_area and maximum_lift, where that is given",
    )
    cruise_speed: QuantityField = quantity_field(
        "speed",
        "True airspeed of the cruise.",
        bound="positive",
        default=None,
        default_words="not given, no margin told",
    )
    solver: str = text("The dive solver.", default="point_mass")

    @rule("elevator", "cruise_speed")
    def _is_trimmed_somewhere(self) -> Iterator[InputError]:
        if (
            self.elevator is None
            or given(self.elevator, "trim_speed")
            or given(self, "cruise_speed")
        ):
            return
        yield InputError(
            "elevator.trim_speed",
            told("neither a trim_speed nor a cruise_speed"),
            "the speed of steady level flight as trimmed",
            "Add trim_speed to the elevator, or cruise_speed to the airframe.",
        )

    @rule("stall_speed", "cruise_speed")
    def _cruises_above_the_stall(self) -> Iterator[InputError]:
        slow, fast = stated(self, "stall_speed"), stated(self, "cruise_speed")
        if slow is not None and fast is not None and not slow.si < fast.si:
            yield InputError(
                "cruise_speed",
                told(fast.text),
                f"more than the stall speed of {slow.text}",
                "Check the two speeds.",
            )


class DiveEntry(ValueClass):
    """How a dive begins, and what is under it."""

    start_height: QuantityField = quantity_field(
        "length", "Height above the field where the dive begins.", bound="positive"
    )
    preset: str | None = choice(
        ("stall", "spin exit", "missed pull-out"),
        "An entry by name, which stands in for angle, speed and delay where they are not given.",
        default=None,
        default_words="none",
    )
    dive_angle: QuantityField = quantity_field(
        "angle",
        "Below the horizon, above 0 and at most 90 deg.",
        bound="positive",
        default=None,
        default_words="as the preset says; required without one",
    )
    start_speed: QuantityField = quantity_field(
        "speed",
        "True airspeed at the start.",
        bound="positive",
        default=None,
        default_words="as the preset says; the stall speed without one",
    )
    drop: QuantityField = quantity_field(
        "length",
        "Height lost in the straight dive before the delay begins.",
        bound="not negative",
        default="0 m",
    )
    delay: QuantityField = quantity_field(
        "time",
        "Time from there until the pull begins.",
        bound="not negative",
        default=None,
        default_words=f"as the preset says, else 1 s {_PRACTICE}",
    )
    field_altitude: QuantityField = quantity_field(
        "length", "Altitude of the field above sea level.", default="0 m"
    )
    ceiling: QuantityField = quantity_field(
        "length",
        "Up to which height above the field the least height to recover from is sought.",
        bound="positive",
        default=None,
        default_words="three times start_height, at least 300 m",
    )

    @rule("preset", "dive_angle")
    def _goes_down(self) -> Iterator[InputError]:
        angle = stated(self, "dive_angle")
        if angle is None and self.preset is None:
            yield InputError(
                "dive_angle",
                told("neither a dive_angle nor a preset"),
                "an angle such as '45 deg'",
                "Add dive_angle, or preset = 'stall', 'spin exit' or 'missed pull-out'.",
            )
        if angle is not None and not angle.si <= math.radians(90) * (1 + 1e-12):
            yield InputError(
                "dive_angle",
                told(angle.text),
                "above 0 and at most 90 deg",
                "Give the angle below the horizon.",
            )

    @rule("start_height", "field_altitude", "ceiling")
    def _stays_in_the_air(self) -> Iterator[InputError]:
        field = stated(self, "field_altitude").si
        tops = [stated(self, name) for name in ("start_height", "ceiling")]
        top = field + max(held.si for held in tops if held is not None)
        if not (field >= -5000 and top <= 20000):
            yield InputError(
                "field_altitude",
                told(f"a dive between {field:g} m and {top:g} m"),
                "altitudes from -5 km to 20 km",
                "Stay inside the atmosphere's table.",
            )
