"""Servo arm, pushrod and control horn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.defaults import DEFAULTS
from linkcalc.model.fields import QuantityField, choice, number, quantity_field, vector
from linkcalc.model.materials import MATERIALS
from linkcalc.model.value_classes import ValueClass, given, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["ControlHorn", "Pushrod", "ServoArm"]


_LAYOUT = ("radius", "lean", "pivot", "axis", "vector")


def _one_way(end: ServoArm | ControlHorn) -> Iterator[InputError]:
    radius, lean = given(end, "radius"), given(end, "lean")
    drawn = [item is not None for item in (end.pivot, end.axis, end.vector)]
    if not radius and not any(drawn):
        yield InputError(
            "radius",
            told("nothing"),
            "the hole's radius, such as '12 mm'",
            "Give the radius, or pivot, axis and vector.",
        )
    if any(drawn) and (radius or lean):
        yield InputError(
            "radius",
            told("a radius and a layout in space"),
            "one of the two",
            "Leave radius and lean out, or leave pivot, axis and vector out.",
        )
    if any(drawn) and not all(drawn):
        yield InputError(
            "pivot",
            told("part of a layout in space"),
            "pivot, axis and vector together",
            "Give all three.",
        )


class ServoArm(ValueClass):
    """The arm on the servo: a radius square to the rod, or pivot, axis and vector in space."""

    radius: QuantityField = quantity_field(
        "length",
        "Servo shaft to the hole in use.",
        bound="positive",
        default=None,
        default_words="pivot, axis and vector",
    )
    lean: QuantityField = quantity_field(
        "angle",
        "Arm at neutral from square to the rod, positive aft.",
        default=None,
        default_words="0 deg",
    )
    pivot: tuple[float, float, float] | None = vector(
        "length", "Servo shaft in space.", default=None, default_words="laid out from the radii"
    )
    axis: tuple[float, float, float] | None = vector(
        "ratio", "Direction of the servo shaft.", default=None, default_words="as pivot"
    )
    vector: tuple[float, float, float] | None = vector(
        "length", "From shaft to hole at neutral.", default=None, default_words="as pivot"
    )

    _is_drawn_one_way = rule(*_LAYOUT)(_one_way)


class ControlHorn(ValueClass):
    """The horn on the surface: a radius square to the rod, or pivot, axis and vector in space."""

    radius: QuantityField = quantity_field(
        "length",
        "Hinge line to the hole in use.",
        bound="positive",
        default=None,
        default_words="pivot, axis and vector",
    )
    lean: QuantityField = quantity_field(
        "angle",
        "Horn at neutral from square to the rod, positive aft.",
        default=None,
        default_words="0 deg",
    )
    pivot: tuple[float, float, float] | None = vector(
        "length",
        "A point of the hinge line in space.",
        default=None,
        default_words="laid out from the radii",
    )
    axis: tuple[float, float, float] | None = vector(
        "ratio",
        "Direction of the hinge line: to starboard, on a fin upwards.",
        default=None,
        default_words="as pivot",
    )
    vector: tuple[float, float, float] | None = vector(
        "length", "From the pivot to the hole at neutral.", default=None, default_words="as pivot"
    )

    _is_drawn_one_way = rule(*_LAYOUT)(_one_way)

    @rule("axis")
    def _points_to_starboard(self) -> Iterator[InputError]:
        if self.axis is not None and not (
            self.axis[1] > 0 or (self.axis[1] == 0 and self.axis[2] > 0)
        ):
            yield InputError(
                "axis",
                told("a hinge line that points to port, down or aft"),
                "one that points to starboard, on a fin upwards",
                "Turn the three numbers round; deflection is then positive trailing edge down.",
            )


class Pushrod(ValueClass):
    """The rod between the two holes."""

    length: QuantityField = quantity_field(
        "length",
        "Hole to hole. In space it sets the neutral; without it the rod just fits at neutral.",
        bound="positive",
        default=None,
        default_words="10 x the longer radius; in space: as drawn",
    )
    diameter: QuantityField = quantity_field(
        "length",
        "Outer diameter.",
        bound="positive",
        default=None,
        default_words="2 mm (common practice, no source)",
    )
    inner_diameter: QuantityField = quantity_field(
        "length",
        "Inner diameter of a tube.",
        bound="not negative",
        default=None,
        default_words="0 mm, a solid rod",
    )
    material: str | None = choice(
        tuple(MATERIALS),
        "What it is made of.",
        default=None,
        default_words="steel wire (common practice, no source)",
    )
    modulus: QuantityField = quantity_field(
        "pressure",
        "Modulus of elasticity, where it is measured.",
        bound="positive",
        default=None,
        default_words="that of the material",
    )
    free_length: QuantityField = quantity_field(
        "length",
        "Longest length between joints or guides.",
        bound="positive",
        default=None,
        default_words="the whole rod",
    )
    end_coefficient: float | None = number(
        "End-condition constant of the free length: 1 pinned, 4 clamped at both ends.",
        default=None,
        least=0.25,
        most=4,
        default_words="1, pinned",
    )

    @rule("diameter", "inner_diameter")
    def _is_hollow_inside(self) -> Iterator[InputError]:
        outer, inner = stated(self, "diameter"), stated(self, "inner_diameter")
        most = outer.si if outer is not None else DEFAULTS["rod diameter"].value
        if inner is not None and not inner.si < most:
            yield InputError(
                "inner_diameter",
                told(inner.text),
                "less than the outer diameter",
                "Check the two diameters.",
            )
