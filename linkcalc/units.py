"""Quantities at the door: strict parsing, SI in, pint quantities out.

A string is a decimal number and a unit, with an optional tolerance. It is read
by a parser of our own that evaluates nothing, looks units up in the table below
and is bounded in length; pint is imported when somebody reads a quantity, so a
check of a file never pays for a unit registry.
"""

from __future__ import annotations

import math
import re
import sys
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import UnitError, told
from linkcalc.unit_table import KINDS, MASS_LENGTH, STANDARD_GRAVITY, UNITS, Kind

if TYPE_CHECKING:
    import pint
    from numpy.typing import NDArray

    from linkcalc.unit_table import Powers

__all__ = [
    "KINDS",
    "STANDARD_GRAVITY",
    "Kind",
    "Stated",
    "parse",
    "quantity",
    "remembering",
    "si",
    "state",
]

LONGEST = 80
"""A quantity string of more characters is refused unread."""

# Written another way, meaning the same.
_SPELLINGS = str.maketrans(
    {"·": "*", "⋅": "*", "×": "*", "µ": "u", "μ": "u", "⁻": "^-", "−": "-"}
    | dict(zip("¹²³⁴", "1234", strict=True))
)
_SYMBOLS = (("°C", "degC"), ("°F", "degF"), ("°", "deg"), ("Ω", "ohm"), ("Ω", "ohm"))
_TEMPERATURES = {
    "degC": (1.0, 273.15, "degC"),
    "C": (1.0, 273.15, "degC"),
    "degF": (5 / 9, 459.67 * 5 / 9, "degF"),
}

_MEMORY = "_stated_for_linkcalc"
_NUMBER = re.compile(r"[+-]?(?:\d{1,24}(?:\.\d{0,24})?|\.\d{1,24})(?:[eE][+-]?\d{1,3})?", re.ASCII)
_JOINT = re.compile(r"\s*(?:\*|-(?!\d))\s*|\s+", re.ASCII)
_FACTOR = re.compile(r"([A-Za-z%]+)(?:\^?(-?[1-4]))?")
_TIME_PER_SWEEP = re.compile(r"(s|ms)\s?/\s?(\d{1,3})\s?(?:deg|°)", re.ASCII)


class Stated(NamedTuple):
    """A quantity as it was stated, with its SI value.

    Attributes
    ----------
    number : float or ndarray
        The number as given.
    unit : str
        The unit as pint spells it.
    si : float or ndarray
        The value in the SI unit of its kind.
    text : str
        The words to show in a report.
    tolerance : float
        Half width of the stated band in the SI unit, 0 where none was stated.
    spread : str
        Distribution that the tolerance names: ``"uniform"`` over the band,
        ``"triangular"`` over it, or ``"normal"``.
    multiple : float
        Standard deviations that a normal tolerance stands for, 0 for the others.
    """

    number: Any
    unit: str
    si: Any
    text: str
    tolerance: float = 0.0
    spread: str = "uniform"
    multiple: float = 0.0


def parse(name: str, text: str, kind: str) -> Stated:
    """Read a quantity string.

    Parameters
    ----------
    name : str
        The argument or field it is for; every error names it.
    text : str
        A decimal number, a unit, and perhaps a tolerance: ``"12 mm"``,
        ``"3.2 kg·cm"``, ``"0.12 s/60deg"``, ``"12 mm ± 0.3 mm"``,
        ``"11 kg·cm +/- 10 %"``, ``"12 mm ± 0.3 mm (normal, 2 s)"``. No arithmetic, no nan,
        no infinity, at most 80 characters.
    kind : str
        A key of `KINDS`.

    Returns
    -------
    Stated
        The number and unit as given, and the SI value.

    Raises
    ------
    UnitError
        The string is not a quantity of this kind.

    Notes
    -----
    For a torque, mass times length is read as that mass's weight at standard
    gravity times the length, because datasheets print kg·cm and oz·in. Nowhere
    else. Joules are no torque here. An angle needs its unit.

    A bare tolerance means bounds of a uniform distribution (GUM 4.3.7, from memory). A
    percentage is of the value; of a time for a sweep the same share of the speed is taken.

    Examples
    --------
    >>> parse("arm", "12 mm", "length").si
    0.012
    >>> round(parse("stall_torque", "10 kg·cm", "torque").si, 6)
    0.980665
    """
    if len(text) > LONGEST:
        raise _refusal(
            name, text, kind, f"Shorten it: a quantity has at most {LONGEST} characters."
        )
    value, sign, tolerance = _spelled(text).partition("±")
    number, unit = _split(name, text, value, kind)
    factor, offset, pint_unit = _unit(name, text, unit, kind)
    given = number
    if kind == "angular rate" and (match := _TIME_PER_SWEEP.fullmatch(unit)):
        number = _rate(name, text, number, match)
    value_si = number * factor + offset
    if not math.isfinite(value_si):
        raise _refusal(name, text, kind, "Give a number of ordinary size.")
    width, shape = 0.0, ("uniform", 0.0)
    if sign:
        tolerance, shape = _shape(name, text, tolerance)
        width = _tolerance(
            name, text, tolerance, kind=kind, value=(given, unit), value_si=value_si, factor=factor
        )
    shown_text = text.strip() if given == number else f"{text.strip()} ({number:.4g} deg/s)"
    return Stated(number, pint_unit, value_si, shown_text, width, *shape)


def _spelled(text: str) -> str:
    for symbol, word in _SYMBOLS:
        text = text.replace(symbol, word)
    return text.replace("+/-", "±").strip()


def _split(name: str, text: str, value: str, kind: str) -> tuple[float, str]:
    value = value.strip()
    match = _NUMBER.match(value)
    if match is None:
        raise _refusal(
            name, text, kind, "Write a decimal number (with a point, not a comma), then the unit."
        )
    unit = value[match.end() :]
    if unit[:1] in {",", ".", "_"} or unit[:1].isdigit():
        raise _refusal(name, text, kind, "Write the number with a decimal point and no grouping.")
    return float(match.group()), unit.strip()


def _rate(name: str, text: str, number: float, match: re.Match[str]) -> float:
    """Turn a datasheet's time for a sweep into degrees a second."""
    seconds = number * (0.001 if match[1] == "ms" else 1.0)
    if seconds <= 0:
        raise _refusal(name, text, "angular rate", "The time for a sweep must be more than zero.")
    return float(match[2]) / seconds


def _unit(name: str, text: str, unit: str, kind: str) -> tuple[float, float, str]:
    """Return factor and offset to SI, and the unit as pint spells it."""
    wanted = KINDS[kind]
    if kind == "temperature" and unit in _TEMPERATURES:
        return _TEMPERATURES[unit]
    if kind == "angular rate" and _TIME_PER_SWEEP.fullmatch(unit):
        return math.pi / 180, 0.0, "deg/s"
    if not unit:
        if kind == "ratio":
            return 1.0, 0.0, "dimensionless"
        raise _refusal(name, text, kind, f"Add the unit, for example {wanted.example!r}.")
    factor, powers, pint_unit = _product(name, text, unit, kind)
    if kind == "torque" and powers == MASS_LENGTH:
        return factor * STANDARD_GRAVITY, 0.0, f"standard_gravity*{pint_unit}"
    if powers != wanted.powers:
        raise _refusal(
            name, text, kind, f"Use a unit of {wanted.name}, for example {wanted.example!r}."
        )
    return factor, 0.0, pint_unit


def _product(name: str, text: str, unit: str, kind: str) -> tuple[float, Powers, str]:
    """Read a product of units: a*b/c, a/(b*c), a b, a-b; each with a small power.

    A minus before a digit belongs to a power, as in kg m-3 or kg·m⁻³; before a letter
    it joins two units, as in oz-in.
    """
    plain = unit.translate(_SPELLINGS).replace("**", "^")
    above, slash, below = plain.partition("/")
    if below.startswith("(") and below.endswith(")"):
        below = below[1:-1]
    factor, total = 1.0, [0] * 6
    words: tuple[list[str], list[str]] = ([], [])
    halves = [(above, 1), (below, -1)] if slash else [(above, 1)]
    if slash and above.strip() in {"", "1"}:
        del halves[0]  # "1/deg" and "/deg"
    for half, sign in halves:
        for part in _JOINT.split(half.strip()):
            match = _FACTOR.fullmatch(part)
            if match is None or match[1] not in UNITS or (match[2] and match[1] == "%"):
                raise _refusal(name, text, kind, _suggestion(part, kind))
            size, powers, word = UNITS[match[1]]
            power = int(match[2] or 1)
            factor *= size ** (sign * power)
            total = [old + sign * power * new for old, new in zip(total, powers, strict=True)]
            words[sign < 0].append(word if power == 1 else f"{word}**{power}")
    spelled = "*".join(words[0]) or "1"
    if words[1]:
        spelled = f"{spelled}/({'*'.join(words[1])})"
    return factor, tuple(total), spelled


def _suggestion(word: str, kind: str) -> str:
    from linkcalc.spelling import nearest  # noqa: PLC0415 - only an error pays for it

    close = nearest(word[:20], UNITS)
    hint = f" Did you mean {close!r}?" if close else ""
    return f"No unit is called {word[:20]!r} here.{hint} For example {KINDS[kind].example!r}."


def _shape(name: str, text: str, tolerance: str) -> tuple[str, tuple[str, float]]:
    """Take the words in parentheses off a tolerance."""
    width, opened, words = tolerance.partition(" (")
    if not (opened and words.endswith(")")):
        return tolerance, ("uniform", 0.0)
    from linkcalc.spread import read_spread  # noqa: PLC0415 - few tolerances name a distribution

    return width, read_spread(name, text, words[:-1])


def _tolerance(
    name: str,
    text: str,
    tolerance: str,
    *,
    kind: str,
    value: tuple[float, str],
    value_si: float,
    factor: float,
) -> float:
    number, unit = _split(name, text, tolerance, kind)
    given, own = value
    if kind == "angular rate" and (sweep := _TIME_PER_SWEEP.fullmatch(own)):
        from linkcalc.spread import percent_of_time  # noqa: PLC0415 - as above

        found = _TIME_PER_SWEEP.fullmatch(unit or own)
        number = percent_of_time(name, text, (given, sweep), (number, found or unit))
        unit = "%"
    if unit == "%":
        if number > 100 or (value_si == 0 and number != 0):
            raise _refusal(
                name, text, kind, "A tolerance in % is at most 100, of a value that is not zero."
            )
        width = abs(value_si) * number / 100
    elif not unit:
        width = number * factor
    else:
        width = number * _unit(name, text, unit, kind)[0]
    if not (math.isfinite(width) and width >= 0):
        refused = _refusal(name, text, kind, "Give it without a sign.").fault
        expected = f"{refused.expected}, and a tolerance of zero or more"
        raise UnitError(name, text, expected, refused.remedy)
    return width


def _refusal(name: str, found: object, kind: str, remedy: str) -> UnitError:
    wanted = KINDS[kind]
    article = "an" if wanted.name[0] in "aeiou" else "a"
    return UnitError(name, found, f"{article} {wanted.name} such as {wanted.example!r}", remedy)


def state(name: str, value: object, kind: str) -> Stated:
    """Take a quantity at the door, in whatever way it comes.

    Parameters
    ----------
    name : str
        The argument or field it is for; every error names it.
    value : str, pint.Quantity, Stated, or for a ratio a number
        Quantities of any registry are asked for their own magnitude. Arrays are
        welcome inside a quantity.
    kind : str
        A key of `KINDS`.

    Returns
    -------
    Stated
        Number and unit as given, SI value, words to show.

    Raises
    ------
    UnitError
        No unit, one of another dimension, nan, infinity, or no quantity at all.

    Examples
    --------
    >>> state("chord_ratio", 0.25, "ratio").si
    0.25
    """
    if isinstance(value, Stated):
        return value
    if isinstance(value, str):
        return parse(name, value, kind)
    if "pint" in sys.modules:
        import pint  # noqa: PLC0415 - already loaded: a quantity exists

        if isinstance(value, pint.Quantity):
            return _remembered(value, _from_pint(name, value, kind))
    if isinstance(value, (int, float, np.ndarray, np.number)) and not isinstance(value, bool):
        if kind == "ratio":
            return _from_number(name, value)
        wanted = KINDS[kind].example
        raise _refusal(name, value, kind, f"A bare number has no unit: write it as {wanted!r}.")
    raise _refusal(name, value, kind, f"Write it as {KINDS[kind].example!r}.")


def _from_number(name: str, value: Any) -> Stated:
    try:
        number: Any = np.asarray(value, dtype=np.float64) if np.ndim(value) else float(value)
    except (OverflowError, ValueError, TypeError) as error:
        raise _refusal(name, value, "ratio", "Give a number of ordinary size.") from error
    if not np.all(np.isfinite(number)):
        raise _refusal(name, value, "ratio", "Give a finite number.")
    return Stated(
        number, "dimensionless", number, f"{number:g}" if np.ndim(number) == 0 else "array"
    )


def _radians(value: pint.Quantity[Any]) -> int:
    """Return the power of an angle in a unit, which pint counts as no dimension."""
    root = value._REGISTRY.get_root_units(value.units)[1]  # noqa: SLF001 - the quantity's own
    power: Any = root._units.get("radian", 0)  # noqa: SLF001 - pint offers no other way
    return int(power)


def _from_pint(name: str, value: pint.Quantity[Any], kind: str) -> Stated:
    import pint  # noqa: PLC0415 - already loaded: a quantity exists

    wanted = KINDS[kind]
    shown = told(f"{value:~}"[:60])
    if _radians(value) != wanted.powers[-1]:
        remedy = (
            "A number without a unit of angle is none: give degrees or radians."
            if wanted.powers[-1]
            else f"Use a unit of {wanted.name}, for example {wanted.example!r}."
        )
        raise _refusal(name, shown, kind, remedy)
    try:
        if kind == "torque" and value.check("[mass]*[length]"):
            magnitude = value.m_as("kg*m") * STANDARD_GRAVITY
        elif kind == "torque" and any("joule" in unit for unit in value.units._units):  # noqa: SLF001
            raise _refusal(name, shown, kind, "Energy is no torque: give newton metres.")
        else:
            magnitude = value.m_as(wanted.unit)
    except pint.DimensionalityError as error:
        remedy = f"Use a unit of {wanted.name}, for example {wanted.example!r}."
        raise _refusal(name, shown, kind, remedy) from error
    value_si: Any = (
        np.asarray(magnitude, dtype=np.float64) if np.ndim(magnitude) else float(magnitude)
    )
    if not np.all(np.isfinite(value_si)):
        raise _refusal(name, shown, kind, "Give a finite number.")
    return Stated(value.magnitude, str(value.units), value_si, f"{value:~}")


def si(name: str, value: object, kind: str) -> Any:
    """Return the SI value of a quantity, as the kernels see it.

    Parameters
    ----------
    name : str
        The argument it is for; every error names it.
    value : str, pint.Quantity or Stated
        The quantity.
    kind : str
        A key of `KINDS`.

    Returns
    -------
    float or ndarray
        The value in the SI unit of its kind; the shape of what came in.

    Raises
    ------
    UnitError
        As `state`.

    Examples
    --------
    >>> si("speed", "162 km/h", "speed")
    45.0
    """
    return state(name, value, kind).si


def quantity(value: float | NDArray[np.float64], unit: str) -> pint.Quantity[Any]:
    """Attach a unit to a value, in the caller's own application registry.

    Parameters
    ----------
    value : float or ndarray
        The magnitude.
    unit : str
        A unit as pint spells it, such as ``"N*m"``.

    Returns
    -------
    pint.Quantity
        Built from number and unit.

    Examples
    --------
    >>> print(quantity(0.5, "N*m"))
    0.5 meter * newton
    """
    import pint  # noqa: PLC0415 - the registry is paid for when a quantity is read

    made: pint.Quantity[Any] = pint.application_registry.Quantity(value, unit)
    return made


def remembering(held: Stated) -> pint.Quantity[Any]:
    """Make a quantity that remembers how it was stated.

    Parameters
    ----------
    held : Stated
        A quantity as it was stated.

    Returns
    -------
    pint.Quantity
        Where it comes back to `state` unchanged, the words and the tolerance come with it;
        what is computed from it is a quantity like any other.

    Examples
    --------
    >>> state("arm", remembering(parse("arm", "12 mm ± 0.3 mm", "length")), "length").tolerance
    0.0003
    """
    made = quantity(held.number, held.unit)
    vars(made)[_MEMORY] = held, made.units
    return made


def _remembered(value: pint.Quantity[Any], checked: Stated) -> Stated:
    """Return how a quantity was stated, unless it was changed in place since."""
    held, unit = vars(value).get(_MEMORY, (checked, None))
    same = unit == value.units and np.array_equal(held.number, value.magnitude)
    return held if same else checked
