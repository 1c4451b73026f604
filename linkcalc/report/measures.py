"""The units in which a report shows its numbers: metric, imperial, or as the file has them."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.errors import UnitError
from linkcalc.model.value_classes import ValueClass, fields, stated
from linkcalc.units import Stated, state

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.model import Aircraft
    from linkcalc.results import Value

__all__ = ["METRIC", "Measures", "amount", "as_stated", "figure", "heights", "imperial", "reworded"]

# what a report's unit measures, and how the metric report writes it
_KINDS = {
    "N*m": ("torque", "N·m"),
    "N": ("force", "N"),
    "Pa": ("pressure", "Pa"),
    "m/s": ("speed", "m/s"),
    "deg": ("angle", "deg"),
    "deg/s": ("angular rate", "deg/s"),
    "V": ("voltage", "V"),
    "A": ("current", "A"),
    "W": ("power", "W"),
    "m": ("length", "mm"),
    "kg": ("mass", "g"),
}
_IMPERIAL = {
    "torque": "oz·in",
    "force": "lbf",
    "pressure": "lbf/ft^2",
    "speed": "mph",
    "length": "in",
    "mass": "oz",
}
_AS_STATED = ("torque", "force", "speed", "angle", "angular rate")
_IN_WORDS = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?(?:e[+-]?\d+)?) (m/s)\b")


class Measure(NamedTuple):
    """A unit to show.

    Attributes
    ----------
    factor : float
        Numbers of the report times this are numbers in the unit.
    symbol : str
        As it is written.
    """

    factor: float
    symbol: str


Measures = dict[str, Measure]
"""By the report's own unit."""


def _measure(unit: str, symbol: str) -> Measure:
    kind = _KINDS[unit][0]
    own, shown = (float(state("unit", f"1 {word}", kind).si) for word in (unit, symbol))
    return Measure(own / shown, symbol)


def _measures(chosen: dict[str, str]) -> Measures:
    return {
        unit: _measure(unit, chosen.get(kind, metric)) for unit, (kind, metric) in _KINDS.items()
    }


METRIC = _measures({})
"""Newton metres, newtons, pascals, metres a second, degrees."""


def imperial() -> Measures:
    """Return the measures of a report for those who think in ounces, inches and miles an hour.

    Returns
    -------
    Measures
        For every unit of a report.

    Examples
    --------
    >>> round(imperial()["N*m"].factor, 1)  # one newton metre in ounce-inches
    141.6
    """
    return _measures(_IMPERIAL)


def heights(measures: Measures) -> Measures:
    """Return measures in which lengths are heights above the ground.

    Parameters
    ----------
    measures : Measures
        Of a report.

    Returns
    -------
    Measures
        Metres instead of millimetres, feet instead of inches.

    Examples
    --------
    >>> heights(METRIC)["m"]
    Measure(factor=1.0, symbol='m')
    """
    return measures | {"m": _measure("m", "ft" if measures["m"].symbol == "in" else "m")}


def as_stated(aircraft: Aircraft) -> Measures:
    """Return the measures in which an aircraft is described.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft.

    Returns
    -------
    Measures
        For torques, forces, speeds, angles and their rates the unit that the description
        uses most often, the first of equals; metric for the rest and where there is none.
    """
    counts: dict[str, Counter[str]] = {}
    for kind, held in _quantities(aircraft):
        word = _unit_word(held)
        if kind in _AS_STATED and _readable(kind, word):
            counts.setdefault(kind, Counter())[word] += 1
    return _measures({kind: max(found, key=found.__getitem__) for kind, found in counts.items()})


def _quantities(owner: Any) -> Iterator[tuple[str, Stated]]:
    """Walk through the quantities of a value class and of what it holds."""
    for field in fields(type(owner)):
        held = field.spec
        if held.form == "quantity":
            found = stated(owner, field.name)
            if isinstance(found, Stated) and found.number != 0:
                yield held.kind, found
            continue
        value = getattr(owner, field.name)
        for part in value if isinstance(value, tuple) else (value,):
            if isinstance(part, ValueClass):
                yield from _quantities(part)


def _unit_word(held: Stated) -> str:
    """Return the unit as it was written, without the number before it and the tolerance after."""
    value = held.text.partition("±")[0].partition("+/-")[0].partition("(")[0]
    return re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?", "", value.strip()).strip()


def _readable(kind: str, word: str) -> bool:
    """Tell whether a unit can be shown again: a time for a sweep cannot."""
    try:
        return bool(state("unit", f"1 {word}", kind).text == f"1 {word}")
    except UnitError:
        return False


def figure(number: float, digits: int = 4) -> str:
    """Return a number with some significant figures, written out where it is of ordinary size.

    Parameters
    ----------
    number : float
        The number.
    digits : int
        Significant figures.

    Returns
    -------
    str
        As few characters as will do.

    Examples
    --------
    >>> [figure(number) for number in (0.41823, 22.0, 11752.4, -0.0, 1.5e9)]
    ['0.4182', '22', '11752', '0', '1.5e+09']
    """
    if 10**digits <= abs(number) < 1e7:
        return f"{number:.0f}"
    shown = f"{number:.{digits}g}"
    return "0" if shown == "-0" else shown


def amount(value: Value, measures: Measures) -> str:
    """Return a value with its unit, or ``"none"``.

    Parameters
    ----------
    value : Value
        Of a report.
    measures : Measures
        Units to show.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> from linkcalc.results import Value
    >>> amount(Value(0.25, "N*m"), imperial())
    '35.4 oz·in'
    """
    if value.value is None:
        return "none"
    factor, symbol = measures.get(value.unit, (1.0, "" if value.unit == "1" else value.unit))
    return f"{figure(value.value * factor)} {symbol}".strip()


def reworded(words: str, measures: Measures) -> str:
    """Return words with the speeds in them in the units to show.

    Parameters
    ----------
    words : str
        Where something was taken, or why there is no value.
    measures : Measures
        Units to show.

    Returns
    -------
    str
        The same words.

    Examples
    --------
    >>> reworded("none up to 238.2 m/s", imperial())
    'none up to 532.8 mph'
    """
    factor, symbol = measures["m/s"]
    return _IN_WORDS.sub(lambda found: f"{figure(float(found[1]) * factor)} {symbol}", words)
