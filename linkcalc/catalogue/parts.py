"""Parts as a catalogue lists them, each figure with its unit and its source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.catalogue.several import Holes, Sources, holes, sources
from linkcalc.errors import InputError, told
from linkcalc.model import Lead, Pushrod, Servo
from linkcalc.model.fields import QuantityField, choice, number, parts, quantity_field, text
from linkcalc.model.servo import DatasheetRow
from linkcalc.model.value_classes import REQUIRED, Field, ValueClass, fields, given, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "KINDS_OF_PARTS",
    "ArmPart",
    "Catalogue",
    "ConnectorPart",
    "HornPart",
    "JointPart",
    "RodPart",
    "ServoPart",
    "WirePart",
]

MOST_PARTS = 20_000
"""Parts of one kind in a catalogue."""

_NOT_GIVEN = "not given"


def _as_in(cls: type[ValueClass], name: str) -> Any:
    """Make a field like one of the model, so that a key is described once."""
    field = vars(cls)[name]
    return Field(field.spec, field.default)


def _name() -> Any:
    return text("What the catalogue calls it.")


def _source() -> Any:
    return text(
        "Where its figures are from: a datasheet, a scale, a bench, or that they are invented.",
    )


def _mass(doc: str = "Mass of one.") -> Any:
    return quantity_field("mass", doc, bound="positive", default=None, default_words=_NOT_GIVEN)


def _price(doc: str = "Price of one, in the currency of the catalogue.") -> Any:
    return number(doc, least=0, most=1e6, default=None, default_words=_NOT_GIVEN)


def _length(doc: str) -> Any:
    return quantity_field("length", doc, bound="positive", default=None, default_words=_NOT_GIVEN)


def _spline(doc: str) -> Any:
    return text(doc, default=None, default_words=_NOT_GIVEN)


_ROW = tuple(item.name for item in fields(DatasheetRow))
_OWN = tuple(item.name for item in fields(Servo) if item.name not in {"name", "rows"})


class ServoPart(ValueClass):
    """A servo as a catalogue lists it: the servo of an aircraft file, and what buying it takes."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources(
        *_ROW,
        *_OWN,
        "mass",
        "length",
        "width",
        "height",
        "price",
        "arm_holes",
        "spline",
        "gear",
        "bearing",
    )
    rows: tuple[DatasheetRow, ...] = parts(DatasheetRow, "Datasheet rows, lowest voltage first.")
    mass: QuantityField = quantity_field("mass", "Mass with its own cable.", bound="positive")
    length: QuantityField = _length("Length of the case, without its lugs.")
    width: QuantityField = _length("Width of the case.")
    height: QuantityField = _length("Height of the case with the shaft, without the arm.")
    price: float | None = _price()
    arm_holes: Holes = holes("Radii of the holes of the arm that comes with it, innermost first.")
    spline: str | None = _spline("Spline of its shaft, such as '25T'; arms of the same one fit.")
    gear: str | None = choice(
        ("plastic", "metal", "plastic and metal"),
        "What its gears are made of.",
        default=None,
        default_words=_NOT_GIVEN,
    )
    bearing: str | None = choice(
        ("plain", "one ball bearing", "two ball bearings"),
        "What carries its shaft.",
        default=None,
        default_words=_NOT_GIVEN,
    )
    travel: QuantityField = _as_in(Servo, "travel")
    minimum_voltage: QuantityField = _as_in(Servo, "minimum_voltage")
    maximum_voltage: QuantityField = _as_in(Servo, "maximum_voltage")
    deadband: QuantityField = _as_in(Servo, "deadband")
    electronics: str | None = _as_in(Servo, "electronics")
    pulse_span: QuantityField = _as_in(Servo, "pulse_span")
    time_constant: QuantityField = _as_in(Servo, "time_constant")
    gear_strength: QuantityField = _as_in(Servo, "gear_strength")
    gear_play: QuantityField = _as_in(Servo, "gear_play")
    figures: str = _as_in(Servo, "figures")
    below_first_row: str = _as_in(Servo, "below_first_row")

    _rows_rise = Servo._rows_rise  # noqa: SLF001 - the same rule for the same rows

    def servo(self) -> Servo:
        """Return the servo as an aircraft carries it.

        Returns
        -------
        Servo
            With the same figures, exactly as stated.
        """
        return Servo(**{item.name: self._held[item.name] for item in fields(Servo)})


class ArmPart(ValueClass):
    """A servo arm."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources("holes", "hole_diameter", "spline", "mass", "price")
    holes: Holes = holes("Radii of its holes from the shaft, innermost first.", default=REQUIRED)
    spline: str | None = _spline("Spline that it fits, such as '25T'.")
    hole_diameter: QuantityField = _length("Diameter of its holes.")
    mass: QuantityField = _mass()
    price: float | None = _price()


class HornPart(ValueClass):
    """A control horn."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources("holes", "hole_diameter", "mass", "price")
    holes: Holes = holes(
        "Radii of its holes from the hinge line, innermost first.", default=REQUIRED
    )
    hole_diameter: QuantityField = _length("Diameter of its holes.")
    mass: QuantityField = _mass()
    price: float | None = _price()


class RodPart(ValueClass):
    """A rod or tube to cut pushrods from."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources(
        "diameter", "inner_diameter", "material", "modulus", "longest", "mass_per_length", "price"
    )
    diameter: QuantityField = quantity_field("length", "Outer diameter.", bound="positive")
    inner_diameter: QuantityField = _as_in(Pushrod, "inner_diameter")
    material: str | None = _as_in(Pushrod, "material")
    modulus: QuantityField = _as_in(Pushrod, "modulus")
    longest: QuantityField = _length("Longest piece that is sold.")
    mass_per_length: QuantityField = quantity_field(
        "mass per length",
        "Mass of a metre.",
        bound="positive",
        default=None,
        default_words=_NOT_GIVEN,
    )
    price: float | None = _price("Price of the longest piece, in the currency of the catalogue.")

    _is_hollow_inside = Pushrod._is_hollow_inside  # noqa: SLF001 - the same rule


class JointPart(ValueClass):
    """A clevis, a ball link or another joint of a rod."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources("rating", "play", "pin_diameter", "mass", "price")
    rating: QuantityField = quantity_field(
        "force",
        "What it is rated for along the rod.",
        bound="positive",
        default=None,
        default_words=_NOT_GIVEN,
    )
    play: QuantityField = quantity_field(
        "length",
        "Its play along the rod.",
        bound="not negative",
        default=None,
        default_words=_NOT_GIVEN,
    )
    pin_diameter: QuantityField = _length("Diameter of its pin, for the hole that it fits.")
    mass: QuantityField = _mass()
    price: float | None = _price()


class WirePart(ValueClass):
    """A wire, by the single conductor."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources(
        "gauge", "metal", "strand_factor", "outer_diameter", "mass_per_length", "price_per_metre"
    )
    gauge: QuantityField = Field(Lead.gauge.spec._replace(default=""))
    metal: str = _as_in(Lead, "metal")
    strand_factor: float | None = _as_in(Lead, "strand_factor")
    outer_diameter: QuantityField = _length("Diameter over its insulation.")
    mass_per_length: QuantityField = quantity_field(
        "mass per length",
        "Mass of a metre, insulation included.",
        bound="positive",
        default=None,
        default_words=_NOT_GIVEN,
    )
    price_per_metre: float | None = _price("Price of a metre, in the currency of the catalogue.")


class ConnectorPart(ValueClass):
    """A plug and its socket."""

    name: str = _name()
    source: str = _source()
    sources: Sources = sources("contact_resistance", "rating", "width", "height", "mass", "price")
    contact_resistance: QuantityField = quantity_field(
        "resistance",
        "Of one mated contact.",
        bound="not negative",
        default=None,
        default_words=_NOT_GIVEN,
    )
    rating: QuantityField = quantity_field(
        "current",
        "What one contact carries for good.",
        bound="positive",
        default=None,
        default_words=_NOT_GIVEN,
    )
    width: QuantityField = _length("Width, for the hole that it has to pass.")
    height: QuantityField = _length("Height, for the hole that it has to pass.")
    mass: QuantityField = _mass("Mass of plug and socket.")
    price: float | None = _price("Price of plug and socket, in the currency of the catalogue.")


KINDS_OF_PARTS: dict[str, type[Any]] = {
    "servos": ServoPart,
    "arms": ArmPart,
    "horns": HornPart,
    "rods": RodPart,
    "joints": JointPart,
    "wires": WirePart,
    "connectors": ConnectorPart,
}
"""Classes of parts by the table of a file that lists them."""


def _listed(key: str, doc: str) -> Any:
    return parts(KINDS_OF_PARTS[key], doc, least=0, most=MOST_PARTS, default=())


class Catalogue(ValueClass):
    """What may be bought, or lies in the drawer."""

    name: str = text("What the report calls it.")
    currency: str | None = text(
        "Currency of every price, such as 'EUR'.",
        default=None,
        default_words="required where a price is given",
    )
    servos: tuple[ServoPart, ...] = _listed("servos", "Servos.")
    arms: tuple[ArmPart, ...] = _listed("arms", "Servo arms.")
    horns: tuple[HornPart, ...] = _listed("horns", "Control horns.")
    rods: tuple[RodPart, ...] = _listed("rods", "Rods and tubes.")
    joints: tuple[JointPart, ...] = _listed("joints", "Joints of rods.")
    wires: tuple[WirePart, ...] = _listed("wires", "Wires.")
    connectors: tuple[ConnectorPart, ...] = _listed("connectors", "Plugs with their sockets.")

    @rule(*KINDS_OF_PARTS)
    def _names_are_unique(self) -> Iterator[InputError]:
        for kind in KINDS_OF_PARTS:
            seen: set[str] = set()
            for item in getattr(self, kind):
                if item.name in seen:
                    yield InputError(
                        f"{kind}.{item.name[:40]}",
                        told("two parts of this name"),
                        "a name of its own for every part of a kind",
                        "Rename one, or leave it out.",
                    )
                seen.add(item.name)

    @rule("currency", *KINDS_OF_PARTS)
    def _prices_have_a_currency(self) -> Iterator[InputError]:
        if self.currency is None:
            for kind in KINDS_OF_PARTS:
                for item in getattr(self, kind):
                    if any(given(item, key) for key in _PRICES if hasattr(item, key)):
                        yield InputError(
                            "currency",
                            told(f"nothing, and a price of {item.name[:40]!r}"),
                            "the currency of all prices, such as 'EUR'",
                            "Give the currency once for the whole catalogue.",
                        )
                        return


_PRICES = ("price", "price_per_metre")
