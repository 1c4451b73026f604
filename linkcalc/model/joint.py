"""Joints of a rod or cable: what they are, and what they are known to bear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, number, quantity_field
from linkcalc.model.value_classes import ValueClass, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Joint"]

_DATA = {
    "clevis": ("pin_diameter", "shear_strength"),
    "ball link": (),
    "thread": ("thread_diameter", "engaged_length", "shear_strength"),
    "clamp screw": ("clamping_force", "friction"),
}


class Joint(ValueClass):
    """A joint of a rod or cable; without a rating or data of its kind it is not checked."""

    kind: str = choice(tuple(_DATA), "What it is.")
    rating: QuantityField = quantity_field(
        "force",
        "What it bears, such as the pull-off force of a ball link, measured or as printed.",
        bound="positive",
        default=None,
        default_words="from the data of its kind, or not checked",
    )
    pin_diameter: QuantityField = quantity_field(
        "length", "Of a clevis.", bound="positive", default=None, default_words="not given"
    )
    thread_diameter: QuantityField = quantity_field(
        "length",
        "At which the weaker thread would shear.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    engaged_length: QuantityField = quantity_field(
        "length",
        "Of thread in thread.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    shear_strength: QuantityField = quantity_field(
        "pressure",
        "Of a clevis pin, or of the weaker thread.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    clamping_force: QuantityField = quantity_field(
        "force",
        "Of a clamp screw on the rod.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    friction: float | None = number(
        "Coefficient of friction between clamp and rod.",
        default=None,
        least=0.01,
        most=1.5,
        default_words="not given",
    )

    @rule("kind", "rating", *dict.fromkeys(name for names in _DATA.values() for name in names))
    def _has_all_data_of_its_kind(self) -> Iterator[InputError]:
        wanted = _DATA[self.kind]
        every = dict.fromkeys(name for names in _DATA.values() for name in names)
        held = [name for name in every if stated(self, name) is not None]
        for name in held:
            if name not in wanted:
                yield InputError(
                    name,
                    told(f"{name} of a {self.kind}"),
                    f"a rating{', or ' + ' and '.join(wanted) if wanted else ''}",
                    "Leave it out, or check the kind.",
                )
        missing = [name for name in wanted if name not in held]
        if held and missing and set(held) <= set(wanted):
            yield InputError(
                missing[0],
                told("nothing"),
                f"{' and '.join(wanted)} together",
                "Give all of them, or the rating alone.",
            )
