"""The electrical side: source, leads, receiver and other loads."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from linkcalc.errors import InputError, UnitError, told
from linkcalc.model.fields import (
    QuantityField,
    choice,
    field,
    number,
    part,
    parts,
    quantity_field,
    reference,
    refuse_beyond,
    text,
    vector,
)
from linkcalc.model.value_classes import ValueClass, given, rule, stated
from linkcalc.physics import wire
from linkcalc.units import Stated, parse, state

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.model.value_classes import Spec

__all__ = ["Battery", "Connection", "Extension", "Lead", "Load", "Receiver", "Regulator", "Supply"]

_PLUS_MINUS = re.compile(r"\+/-")
_GAUGE = re.compile(r"(?:AWG\s?(\d{1,2})|(\d{1,2})\s?AWG)")


def _gauge(_: Spec, name: str, value: Any) -> Stated:
    """Read a gauge: AWG by the rule of ASTM B258, or a cross-section; a tolerance is of the section."""
    if isinstance(value, str) and "awg" in value[:20].lower():
        held = _american(name, value)
    else:
        try:
            held = state(name, value, "area")
        except UnitError as error:
            expected = "a gauge such as '24 AWG', or a cross-section such as '0.14 mm^2'"
            raise UnitError(name, told(error.fault.found), expected, error.fault.remedy) from None
    if not 1e-9 <= held.si <= 1e-3:
        raise InputError(
            name,
            told(held.text),
            "a cross-section such as '0.14 mm^2'",
            "Give the copper cross-section of one conductor.",
        )
    if held.tolerance:
        refuse_beyond(name, held, "positive")
    return held


def _american(name: str, value: str) -> Stated:
    """Read a gauge in AWG."""
    gauge, sign, tolerance = (part.strip() for part in _PLUS_MINUS.sub("±", value).partition("±"))
    match = _GAUGE.fullmatch(gauge.upper())
    size = int(match[1] or match[2]) if match else -1
    if not 0 <= size <= 40:
        raise InputError(
            name,
            value,
            "a gauge from '0 AWG' to '40 AWG', or a cross-section such as '0.14 mm^2'",
            "Give the gauge printed on the wire.",
        )
    area = float(wire.gauge_area(size))
    held = Stated(area * 1e6, "mm**2", area, f"{size} AWG ({area * 1e6:.3g} mm^2)")
    if not sign:
        return held
    try:
        spread = parse(name, f"{area * 1e6:.12g} mm^2 ± {tolerance}", "area")
    except InputError as error:
        raise InputError(
            name,
            value,
            "a tolerance of the cross-section, such as '26 AWG ± 5 %'",
            error.fault.remedy,
        ) from None
    return held._replace(
        text=f"{held.text} ± {tolerance}",
        tolerance=spread.tolerance / spread.si * area,
        spread=spread.spread,
        multiple=spread.multiple,
    )


class Regulator(ValueClass):
    """A regulator at the far end of a lead: what hangs behind it sees its voltage."""

    kind: str = choice(("linear", "switching"), "How it makes its voltage.")
    voltage: QuantityField = quantity_field(
        "voltage", "Voltage at its output without load.", bound="positive"
    )
    dropout: QuantityField = quantity_field(
        "voltage",
        "Least voltage between input and output.",
        bound="not negative",
        default="0.5 V",
        default_words="0.5 V (common practice, no source)",
    )
    output_resistance: QuantityField = quantity_field(
        "resistance",
        "By which its voltage falls under load.",
        bound="not negative",
        default="0 ohm",
        default_words="0 ohm",
    )
    current_limit: QuantityField = quantity_field(
        "current",
        "Greatest current of its output; 'none' where none is known.",
        bound="positive",
        word="none",
    )
    efficiency: float = number(
        "Of a switching one: power out over power in.",
        default=0.85,
        least=0.2,
        most=1,
        default_words="0.85 (common practice, no source)",
    )
    quiescent_current: QuantityField = quantity_field(
        "current",
        "What it draws for itself.",
        bound="not negative",
        default="10 mA",
        default_words="10 mA (common practice, no source)",
    )
    heat_rating: QuantityField = quantity_field(
        "power",
        "Heat that it can shed where it sits.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )


class Battery(ValueClass):
    """A battery as the source, instead of its voltage and resistance."""

    chemistry: str = choice(
        (
            "lithium polymer",
            "lithium ion",
            "lithium iron phosphate",
            "nickel metal hydride",
        ),
        "Kind of its cells.",
    )
    cells: int = number("Cells in series.", least=1, most=24, whole=True)
    charge: float = number(
        "Charge left over full charge.",
        default=0.3,
        least=0,
        most=1,
        default_words="0.3, near the end of a flight (common practice, no source)",
    )
    capacity: QuantityField = quantity_field(
        "electric charge",
        "Printed capacity; the resistance of a cell is estimated from it.",
        bound="positive",
        default=None,
        default_words="required without cell_resistance",
    )
    cell_resistance: QuantityField = quantity_field(
        "resistance",
        "Measured resistance of a cell at 25 degC.",
        bound="positive",
        default=None,
        default_words="estimated from the capacity (common practice, no source)",
    )
    temperature: QuantityField = quantity_field(
        "temperature",
        "Of its cells.",
        default="15 degC",
        default_words="15 degC (common practice, no source)",
    )

    @rule("capacity", "cell_resistance")
    def _has_a_resistance(self) -> Iterator[InputError]:
        if not given(self, "capacity") and not given(self, "cell_resistance"):
            yield InputError(
                "capacity",
                told("neither a capacity nor a cell resistance"),
                "one of the two, such as '2200 mAh' or '8 mohm'",
                "Give the printed capacity, or the measured resistance of a cell.",
            )


def _lead(_: Spec, name: str, value: Any) -> Lead:
    """Take a lead in a field of a lead, whose class is not made yet when the field is."""
    if not isinstance(value, Lead):
        raise InputError(name, value, "a Lead", "Build it with linkcalc.Lead(...).")
    return value


class Connection(ValueClass):
    """Contacts of one kind in both conductors of a lead."""

    kind: str = choice(
        ("servo plug", "high-current plug", "crimp", "solder joint", "switch"), "What it is."
    )
    number: int = number("How many, in each conductor.", default=1, least=1, most=100, whole=True)
    resistance: QuantityField = quantity_field(
        "resistance",
        "Measured resistance of one contact.",
        bound="not negative",
        default=None,
        default_words="10, 1, 1, 0.2 and 20 mohm in that order (common practice, no source)",
    )


def _return_gauge() -> QuantityField:
    return field(
        "quantity",
        "Wire gauge of the return conductor, if it has another.",
        _gauge,
        kind="area",
        default=None,
        default_words="the same as gauge",
    )


def _metal() -> Any:
    return choice(
        ("copper", "tinned copper", "copper-clad aluminium"),
        "What its conductors are made of.",
        default="copper",
    )


class Extension(ValueClass):
    """A piece of other wire that makes a lead longer, towards the servo."""

    gauge: QuantityField = field(
        "quantity", "Wire gauge of each conductor, as for a lead.", _gauge, kind="area"
    )
    length: QuantityField = quantity_field("length", "One-way length.", bound="positive")
    return_gauge: QuantityField = _return_gauge()
    metal: str = _metal()
    connections: tuple[Connection, ...] = parts(
        Connection, "Its plugs, crimps, solder joints and switches.", least=0, default=()
    )


class Lead(ValueClass):
    """A lead of two conductors; what it hangs from is the bus or another lead.

    A lead that others hang from is one piece of wire, a trunk that they share. A
    lead that only control runs name is laid anew for each of them.
    """

    name: str = text("What the file and the report call it.")
    length: QuantityField = quantity_field(
        "length",
        "One-way length.",
        bound="positive",
        default=None,
        default_words="required with gauge",
    )
    gauge: QuantityField = field(
        "quantity",
        "Wire gauge of each conductor: '26 AWG' or '0.14 mm^2'; a tolerance is of the section.",
        _gauge,
        kind="area",
        default=None,
        default_words="measured loop_resistance",
    )
    return_gauge: QuantityField = _return_gauge()
    metal: str = _metal()
    connections: tuple[Connection, ...] = parts(
        Connection, "Plugs, crimps, solder joints and switches by kind.", least=0, default=()
    )
    extensions: tuple[Extension, ...] = parts(
        Extension,
        "Pieces of other wire that follow in series towards the servo.",
        least=0,
        most=8,
        default=(),
    )
    regulator: Regulator | None = part(
        Regulator, "A regulator at its far end.", default=None, default_words="none"
    )
    loop_resistance: QuantityField = quantity_field(
        "resistance",
        "Measured resistance out and back, contacts included.",
        bound="not negative",
        default=None,
        default_words="from gauge and length",
    )
    copper_temperature: QuantityField = quantity_field(
        "temperature",
        "Temperature of the copper; 'computed': as its own current warms it in a bundle.",
        default=None,
        default_words="40 degC (common practice, no source)",
        word="computed",
    )
    bundled: int = number(
        "Leads alike that are laid together in one bundle, this one included.",
        default=1,
        least=1,
        most=24,
        whole=True,
    )
    strand_factor: float | None = number(
        "Resistance of the stranded wire over that of its nominal section.",
        default=None,
        least=1,
        most=2,
        default_words="1.10 (common practice, no source)",
    )
    contacts: int = number(
        "Contacts in each conductor: plugs, solder joints.",
        default=0,
        least=0,
        most=100,
        whole=True,
    )
    contact_resistance: QuantityField = quantity_field(
        "resistance",
        "Resistance of each contact.",
        bound="not negative",
        default=None,
        default_words="0 ohm, with a caution",
    )
    balance_arm: QuantityField = quantity_field(
        "length",
        "Distance of the middle of the lead aft of the centre of gravity, negative ahead of it.",
        default=None,
        default_words="not given; only the choice of wire asks for it",
    )
    bore: QuantityField = quantity_field(
        "length",
        "Diameter of the narrowest hole that the lead has to pass.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )
    connector: tuple[float, ...] | None = vector(
        "length",
        "Width and height of the connector that has to pass the same hole.",
        names=("width", "height"),
        default=None,
        default_words="not given, not checked",
    )
    feed: Lead | None = field(
        "reference",
        "The lead that it hangs from.",
        _lead,
        default=None,
        default_words="the bus",
    )

    @rule("gauge", "length", "loop_resistance", "connections")
    def _has_a_resistance(self) -> Iterator[InputError]:
        if not given(self, "loop_resistance") and not given(self, "gauge", "length"):
            yield InputError(
                "gauge",
                told("no gauge with length, and no loop_resistance"),
                "gauge and length such as '26 AWG' and '1.8 m'",
                "Give gauge and length, or the measured loop_resistance.",
            )
        if given(self, "loop_resistance") and given(self, "gauge"):
            yield InputError(
                "loop_resistance",
                told("both a gauge and a measured resistance"),
                "one of the two",
                "Leave one out: a measurement says it all.",
            )
        if given(self, "loop_resistance") and self.connections:
            yield InputError(
                "connections",
                told("connections of a lead whose resistance was measured"),
                "none, as its loop_resistance has them in it",
                "Leave them out, or move those of an extension there.",
            )


class Supply(ValueClass):
    """The source that feeds the bus."""

    voltage: QuantityField = quantity_field(
        "voltage",
        "Open-circuit voltage, or a regulator's voltage without load.",
        bound="positive",
        default=None,
        default_words="required without battery",
    )
    battery: Battery | None = part(
        Battery, "The battery, if it feeds the bus directly.", default=None, default_words="none"
    )
    internal_resistance: QuantityField = quantity_field(
        "resistance",
        "Internal resistance of the source.",
        bound="not negative",
        default=None,
        default_words="0 ohm, with a caution",
    )
    current_limit: QuantityField = quantity_field(
        "current",
        "Current limit or rating; 'none' where there is none, or none is known.",
        bound="positive",
        word="none",
    )
    regulator: str = choice(
        ("none", "linear", "switching"),
        "What makes the voltage from a battery, if anything does.",
        default="none",
    )
    input_voltage: QuantityField = quantity_field(
        "voltage",
        "Voltage at the input of a linear regulator, at its highest.",
        bound="positive",
        default=None,
        default_words="required for a linear regulator",
    )
    heat_rating: QuantityField = quantity_field(
        "power",
        "Heat that a linear regulator can shed where it sits.",
        bound="positive",
        default=None,
        default_words="required for a linear regulator",
    )
    inrush_multiple: float | None = number(
        "Start-up current of every servo over its stall current, all of them at once.",
        default=None,
        least=0.1,
        most=20,
        default_words="not given, not checked",
    )
    air_temperature: QuantityField = quantity_field(
        "temperature",
        "Of the still air around the leads; with it the report tells how warm their copper gets.",
        default=None,
        default_words="not given, not told",
    )
    solver: str = text("Supply solver by name.", default="tree")

    @rule("voltage", "battery", "internal_resistance", "regulator")
    def _is_described_once(self) -> Iterator[InputError]:
        if given(self, "voltage") == (self.battery is not None):
            yield InputError(
                "voltage",
                told("both a voltage and a battery" if self.battery else "no voltage, no battery"),
                "one of the two, such as voltage = '6 V'",
                "Give the voltage of a source, or describe the battery that feeds the bus.",
            )
        if self.battery and (given(self, "internal_resistance") or self.regulator != "none"):
            yield InputError(
                "battery",
                told("a battery with an internal resistance or a regulator of the source"),
                "cell_resistance in the battery, a regulator at the end of a lead",
                "Leave the other out: the battery says it.",
            )

    @rule("regulator", "input_voltage", "heat_rating")
    def _linear_regulator_is_described(self) -> Iterator[InputError]:
        linear = self.regulator == "linear"
        if linear and not given(self, "input_voltage", "heat_rating"):
            yield InputError(
                "input_voltage",
                told("a linear regulator without its input voltage or heat rating"),
                "input_voltage and heat_rating, such as '8.4 V' and '3 W'",
                "Give both: what it sheds as heat decides.",
            )
        if not linear and (given(self, "input_voltage") or given(self, "heat_rating")):
            yield InputError(
                "regulator",
                self.regulator,
                "'linear', as its input voltage or heat rating is given",
                "Set regulator = 'linear', or leave the two out.",
            )

    @rule("regulator", "input_voltage", "voltage")
    def _linear_regulator_steps_down(self) -> Iterator[InputError]:
        above, below = stated(self, "input_voltage"), stated(self, "voltage")
        if self.regulator == "linear" and above is not None and not above.si > below.si:
            yield InputError(
                "input_voltage",
                told(above.text),
                "more than the regulated voltage",
                "Check the two voltages.",
            )


class Receiver(ValueClass):
    """The receiver: it draws little, and everything ends when its voltage does."""

    current: QuantityField = quantity_field(
        "current",
        "What it draws.",
        bound="not negative",
        default=None,
        default_words="0.1 A (common practice, no source)",
    )
    minimum_voltage: QuantityField = quantity_field(
        "voltage",
        "Least voltage it works at.",
        bound="positive",
        default=None,
        default_words="3.5 V (common practice, no source)",
    )
    lead: Lead | None = reference(
        Lead, "The lead it hangs on.", default=None, default_words="the bus"
    )


class Load(ValueClass):
    """Something else that draws a constant current: autopilot, radio, camera."""

    name: str = text("What it is.")
    current: QuantityField = quantity_field("current", "What it draws.", bound="not negative")
    lead: Lead | None = reference(
        Lead, "The lead it hangs on.", default=None, default_words="the bus"
    )
