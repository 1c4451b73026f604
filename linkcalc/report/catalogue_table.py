"""A catalogue and its doubtful datasheets, as text in 80 columns and as a document for programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.catalogue.parts import KINDS_OF_PARTS
from linkcalc.catalogue.plausibility import RULES
from linkcalc.model.value_classes import stated
from linkcalc.report.layout import counted, cut, heading, printable, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from linkcalc.catalogue import Catalogue, ServoPart
    from linkcalc.catalogue.plausibility import Doubt

__all__ = ["PARTS", "catalogue_document", "catalogue_text"]

PARTS = "linkcalc.parts/1"
"""The schema of the document."""

_HOW = (
    "Torque and speed are those of the highest row. A doubt is a warning, not a verdict: figures are "
    "held against each other and against what is common; the page on catalogues has the rules."
)


def catalogue_text(catalogue: Catalogue, doubts: Sequence[Doubt], *, bold: bool = False) -> str:
    """Return a catalogue as text.

    Parameters
    ----------
    catalogue : Catalogue
        What may be bought.
    doubts : sequence of Doubt
        What `linkcalc.catalogue.plausibility.doubts` says of its servos.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        Every servo with its main figures, the names of the other parts, and every doubt.
    """
    lines = heading(f"CATALOGUE: {printable(catalogue.name)}", bold=bold)
    lines += [*wrapped(_counts(catalogue) + ".", 0), ""]
    if catalogue.servos:
        lines += _servos(catalogue, doubts, bold=bold)
    for kind in KINDS_OF_PARTS:
        names = [part.name for part in getattr(catalogue, kind)]
        if names and kind != "servos":
            lines += wrapped(f"{kind.capitalize()}: {printable(', '.join(names))}.", 0)
    lines += ["", *_doubts(doubts, bold=bold)]
    return "\n".join(lines) + "\n"


def _counts(catalogue: Catalogue) -> str:
    found = {kind: len(getattr(catalogue, kind)) for kind in KINDS_OF_PARTS}
    words = [counted(count, kind.removesuffix("s")) for kind, count in found.items() if count]
    return ", ".join(words) or "No parts"


def _servos(catalogue: Catalogue, doubts: Sequence[Doubt], *, bold: bool) -> list[str]:
    doubtful: dict[str, int] = {}
    for doubt in doubts:
        doubtful[doubt.part] = doubtful.get(doubt.part, 0) + 1
    currency = cut(printable(catalogue.currency or ""), 5)
    lines = heading(
        f"  {'servo':20}  {'mass':>7}  {'torque':>10}  {'speed':>9}  {'at':>5}  {currency:>7}  doubts",
        bold=bold,
    )
    for servo in catalogue.servos:
        figures = _figures(servo)
        price = "-" if servo.price is None else f"{servo.price:.2f}"
        lines.append(
            f"  {cut(printable(servo.name), 20):20}  {figures['mass'] * 1e3:5.1f} g"
            f"  {figures['stall_torque']:6.3f} N·m"
            f"  {math.degrees(figures['no_load_speed']):3.0f} deg/s"
            f"  {figures['voltage']:3.1f} V  {price:>7}  {doubtful.get(servo.name, '')}".rstrip()
        )
    return [*lines, "", *wrapped(_HOW, 0), ""]


def _figures(servo: ServoPart) -> dict[str, float]:
    """Return mass and the highest row in SI."""
    row = servo.rows[-1]
    names = ("voltage", "stall_torque", "no_load_speed")
    return {"mass": stated(servo, "mass").si} | {name: stated(row, name).si for name in names}


def _doubts(doubts: Sequence[Doubt], *, bold: bool) -> Iterator[str]:
    """Yield the doubts by rule, so that its reason and remedy are said once."""
    if not doubts:
        yield from wrapped("No datasheet raises a doubt.", 0)
        return
    parts = len({doubt.part for doubt in doubts})
    yield from heading(
        f"DOUBTFUL: {counted(len(doubts), 'figure')} of {counted(parts, 'servo')}", bold=bold
    )
    for rule in RULES:
        mine = [doubt for doubt in doubts if doubt.rule == rule]
        if mine:
            words = f"{rule} ({mine[0].basis}): expected {mine[0].expected}. {mine[0].remedy}"
            yield from wrapped(words, 0)
            for doubt in mine:
                yield from wrapped(f"{printable(doubt.part)}: {doubt.found}")


def catalogue_document(catalogue: Catalogue, doubts: Sequence[Doubt]) -> dict[str, Any]:
    """Return a catalogue as a tree of plain values.

    Parameters
    ----------
    catalogue : Catalogue
        What may be bought.
    doubts : sequence of Doubt
        What `linkcalc.catalogue.plausibility.doubts` says of its servos.

    Returns
    -------
    dict
        Servos in SI units with their sources, names of the other parts, and the doubts.
    """
    return {
        "schema": PARTS,
        "catalogue": catalogue.name,
        "currency": catalogue.currency,
        "servos": [_servo(servo) for servo in catalogue.servos],
        "others": {
            kind: [part.name for part in getattr(catalogue, kind)]
            for kind in KINDS_OF_PARTS
            if kind != "servos"
        },
        "doubts": [doubt._asdict() for doubt in doubts],
    }


def _servo(servo: ServoPart) -> dict[str, Any]:
    return {
        "name": servo.name,
        "source": servo.source,
        "sources": dict(servo.sources),
        "mass": {"value": stated(servo, "mass").si, "unit": "kg"},
        "price": servo.price,
        "rows": [
            {
                name: {"value": held.si, "unit": unit}
                for name, unit in _ROW_UNITS.items()
                if (held := stated(row, name)) is not None
            }
            for row in servo.rows
        ],
    }


_ROW_UNITS = {
    "voltage": "V",
    "stall_torque": "N*m",
    "no_load_speed": "rad/s",
    "stall_current": "A",
    "no_load_current": "A",
}
