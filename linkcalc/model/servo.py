"""A servo, as its datasheet prints it."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.fields import QuantityField, choice, parts, quantity_field, text
from linkcalc.model.value_classes import ValueClass, rule, stated

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["DatasheetRow", "Servo"]


class DatasheetRow(ValueClass):
    """What the datasheet prints for one voltage, at the servo's plug."""

    voltage: QuantityField = quantity_field("voltage", "Voltage of this row.", bound="positive")
    stall_torque: QuantityField = quantity_field(
        "torque", "Stall torque; kg·cm and oz·in are weights times lengths.", bound="positive"
    )
    no_load_speed: QuantityField = quantity_field(
        "angular rate", "Speed without load, such as '0.12 s/60deg'.", bound="positive"
    )
    stall_current: QuantityField = quantity_field(
        "current",
        "Current when stalled.",
        bound="positive",
        default=None,
        default_words="the high end of an estimate from torque, speed and voltage (common practice, no source)",
    )
    no_load_current: QuantityField = quantity_field(
        "current",
        "Current when running without load.",
        bound="not negative",
        default=None,
        default_words="0.1 x stall current (common practice, no source)",
    )

    @rule("no_load_current", "stall_current")
    def _stalls_at_the_larger(self) -> Iterator[InputError]:
        idle, stall = stated(self, "no_load_current"), stated(self, "stall_current")
        if idle is not None and stall is not None and not idle.si < stall.si:
            yield InputError(
                "no_load_current",
                told(idle.text),
                f"less than the stall current of {stall.text}",
                "Check the two columns: stall current is the larger.",
            )


class Servo(ValueClass):
    """A servo with the rows of its datasheet, lowest voltage first."""

    name: str = text("What the file and the report call it.")
    rows: tuple[DatasheetRow, ...] = parts(DatasheetRow, "Datasheet rows, lowest voltage first.")
    travel: QuantityField = quantity_field(
        "angle",
        "Travel either side of neutral.",
        bound="positive",
        default=None,
        default_words="45 deg (common practice, no source)",
    )
    minimum_voltage: QuantityField = quantity_field(
        "voltage",
        "Least voltage it works at.",
        bound="positive",
        default=None,
        default_words="0.8 x the lowest row (common practice, no source)",
    )
    maximum_voltage: QuantityField = quantity_field(
        "voltage",
        "Rated maximum voltage.",
        bound="positive",
        default=None,
        default_words="the highest row (common practice, no source)",
    )
    deadband: QuantityField = quantity_field(
        "time",
        "Whole width of pulses that it takes for one, such as '2 us'.",
        bound="not negative",
        default=None,
        default_words="by `electronics`; not shown without",
    )
    electronics: str | None = choice(
        ("digital", "analogue"),
        "How it drives its motor: stands in for a deadband that is not given.",
        default=None,
        default_words="not given",
    )
    pulse_span: QuantityField = quantity_field(
        "time",
        "Difference of the pulses at both ends of its travel.",
        bound="positive",
        default="1 ms",
        default_words="1 ms (common practice, no source)",
    )
    time_constant: QuantityField = quantity_field(
        "time",
        "In which it warms up to two thirds when it holds a load.",
        bound="positive",
        default="60 s",
        default_words="60 s (common practice, no source)",
    )
    gear_strength: QuantityField = quantity_field(
        "torque",
        "Static torque that the gears bear.",
        bound="positive",
        default=None,
        default_words="not given, not checked",
    )
    gear_play: QuantityField = quantity_field(
        "angle",
        "Play of the gears at the servo arm, end to end.",
        bound="not negative",
        default=None,
        default_words="not given, not checked",
    )
    figures: str = choice(
        ("printed", "measured"),
        "Where the rows are from: printed ones are divided by the datasheet factor.",
        default="printed",
    )
    below_first_row: str = choice(
        ("scale", "refuse"),
        "Below the lowest row: scale with the voltage, or refuse an answer.",
        default="scale",
    )

    @rule("rows")
    def _more_volts_give_no_less(self) -> Iterator[InputError]:
        for index, (before, row) in enumerate(itertools.pairwise(self.rows), start=1):
            if stated(before, "voltage").si >= stated(row, "voltage").si:
                continue  # told by itself
            for name in ("stall_torque", "no_load_speed"):
                lower, upper = stated(before, name), stated(row, name)
                if upper.si < lower.si * (1 - 1e-9):
                    yield InputError(
                        f"rows[{index}].{name}",
                        told(upper.text),
                        f"no less than in the row before it, {lower.text}",
                        "Check the column: a servo is no weaker or slower at more volts.",
                    )

    @rule("rows")
    def _rows_rise(self) -> Iterator[InputError]:
        volts = [stated(row, "voltage") for row in self.rows]
        for index, (lower, upper) in enumerate(itertools.pairwise(volts), start=1):
            if not lower.si < upper.si:
                yield InputError(
                    f"rows[{index}].voltage",
                    told(upper.text),
                    f"more than the row before it, {lower.text}",
                    "List the rows with the lowest voltage first, each voltage once.",
                )
