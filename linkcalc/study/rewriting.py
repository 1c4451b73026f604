"""Values of the model written anew: a field changed, a quantity scaled, a number rounded."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, TypeVar

from linkcalc.model.value_classes import ValueClass, replace
from linkcalc.units import KINDS, Stated

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["degrees", "evolved", "millimetres", "scaled", "tidied", "times", "words"]

V = TypeVar("V", bound=ValueClass)


def evolved(owner: V, **new: Any) -> V:
    """Return a value of the model with some of its fields changed, the others exactly as stated.

    Parameters
    ----------
    owner : object
        An instance of a value class of `linkcalc.model`.
    **new
        Fields to change.

    Returns
    -------
    object
        Of the same class, checked by its own rules.

    Raises
    ------
    InputError
        Its rules refuse it.

    Notes
    -----
    As `linkcalc.replace`, but the components of a new vector may be SI floats, as the
    model hands them out.

    Examples
    --------
    >>> from linkcalc.model import Lead
    >>> from linkcalc.model.value_classes import stated
    >>> longer = evolved(Lead(name="tail", gauge="26 AWG", length="0.5 m"), length="0.9 m")
    >>> stated(longer, "gauge").text
    '26 AWG (0.129 mm^2)'
    """
    for name, value in new.items():
        held = getattr(type(owner), name).spec
        if held.form == "vector" and value is not None:
            new[name] = tuple(_component(item, held.kind) for item in value)
    return replace(owner, **new)


def _component(value: Any, kind: str) -> Any:
    if not isinstance(value, float) or kind == "ratio":
        return value
    return Stated(value, KINDS[kind].unit, value, f"{value:.10g} {KINDS[kind].unit}")


_WRITTEN = re.compile(r"\s*[-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?\s*(.*)")


def times(held: Stated, factor: float) -> Stated:
    """Return a quantity times a factor, in the unit in which it was stated.

    Parameters
    ----------
    held : Stated
        The quantity.
    factor : float
        On its number and its tolerance [-].

    Returns
    -------
    Stated
        A rate that was stated as the time for a sweep comes out in degrees a second.

    Examples
    --------
    >>> from linkcalc.units import parse
    >>> times(parse("arm", "12 mm ± 0.3 mm", "length"), 0.75).text
    '9 mm'
    """
    plain = re.split(r"±|\+/-", held.text)[0].strip()
    match = _WRITTEN.fullmatch(plain)
    unit = match[1] if match and "(" not in plain else held.unit
    number = held.number * factor
    text = f"{number:.10g} {unit}"
    return held._replace(
        number=number, si=held.si * factor, text=text, tolerance=held.tolerance * factor
    )


def scaled(held: Stated, factor: float) -> Stated:
    """Return a quantity times a factor as one would write it: with no digits that do not matter.

    Parameters
    ----------
    held : Stated
        The quantity.
    factor : float
        On it [-].

    Returns
    -------
    Stated
        The number is the one in the words, so that what is told is what is evaluated; it
        differs from the exact product by less than a hundredth of the change.

    Examples
    --------
    >>> from linkcalc.units import parse
    >>> scaled(parse("rod", "740 mm", "length"), 1 / 3).text
    '246.67 mm'
    """
    if factor == 1 or held.number == 0:
        return held
    digits = 4 - math.floor(math.log10(min(abs(factor - 1), 1.0)))
    return times(held, float(f"{held.number * factor:.{digits}g}") / held.number)


def words(held: Sequence[Stated], factor: float) -> str:
    """Return quantities times a factor as one would write them.

    Parameters
    ----------
    held : sequence of Stated
        Quantities.
    factor : float
        On all of them; 1 for what stands there [-].

    Returns
    -------
    str
        Each text once.

    Examples
    --------
    >>> from linkcalc.units import parse
    >>> words([parse("throw", text, "angle") for text in ("20 deg", "10 deg", "10 deg")], 0.5)
    '10 deg, 5 deg'
    """
    return ", ".join(dict.fromkeys(scaled(item, factor).text for item in held))


def tidied(number: float, factor: float) -> float:
    """Round a factor on a number away from 1, to what its change says in three digits.

    Parameters
    ----------
    number : float
        Not zero.
    factor : float
        On it [-].

    Returns
    -------
    float
        A factor at least as far from 1, by at most a hundredth of the change. The number
        times it ends where the third digit of the change does.

    Examples
    --------
    >>> round(12 * tidied(12, 0.86), 6), round(12 * tidied(12, 0.8596), 6)  # 12 less 1.68, 1.69
    (10.32, 10.31)
    """
    change = number * factor - number
    if change == 0:
        return factor
    digits = 2 - math.floor(math.log10(abs(change)))
    whole = math.ceil if change > 0 else math.floor
    slack = math.copysign(1e-9, change)
    return whole(number * factor * 10.0**digits - slack) / 10.0**digits / number


def degrees(angle: float) -> Stated:
    """Return an angle in degrees.

    Parameters
    ----------
    angle : float
        Any [rad].

    Returns
    -------
    Stated
        As one would write it.

    Examples
    --------
    >>> degrees(math.pi / 6).text
    '30 deg'
    """
    number = math.degrees(angle)
    return Stated(number, "deg", angle, f"{number:.6g} deg")


def millimetres(length: float) -> Stated:
    """Return a length in millimetres.

    Parameters
    ----------
    length : float
        Any [m].

    Returns
    -------
    Stated
        As one would write it.

    Examples
    --------
    >>> millimetres(0.11).text
    '110 mm'
    """
    return Stated(length * 1e3, "mm", length, f"{length * 1e3:.6g} mm")
