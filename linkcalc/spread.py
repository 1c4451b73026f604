"""How a tolerance is meant: the words in parentheses behind it, and tolerances of a time."""

from __future__ import annotations

import re

from linkcalc.errors import UnitError

__all__ = ["SHAPES", "percent_of_time", "read_spread"]

SHAPES = ("uniform", "triangular", "normal")
"""Distributions that a tolerance may name; uniform is meant where none is named."""

LEAST_MULTIPLE, MOST_MULTIPLE = 0.1, 10.0
"""Standard deviations that a normal tolerance may stand for."""

_NORMAL = re.compile(r"normal\s*,\s*(\d{1,2}(?:\.\d{1,6})?)\s?s", re.ASCII)


def read_spread(name: str, text: str, words: str) -> tuple[str, float]:
    """Read how a tolerance is meant.

    Parameters
    ----------
    name : str
        The argument or field it is for; every error names it.
    text : str
        The whole quantity string, for the error.
    words : str
        What stands between the parentheses: ``"uniform"``, ``"triangular"`` or
        ``"normal, 2 s"``.

    Returns
    -------
    shape : str
        One of `SHAPES`.
    multiple : float
        Standard deviations that the tolerance stands for, 0 where the shape is not normal [-].

    Raises
    ------
    UnitError
        Other words, or a multiple that nobody states.

    Examples
    --------
    >>> read_spread("arm", "12 mm ± 0.3 mm (normal, 2 s)", "normal, 2 s")
    ('normal', 2.0)
    """
    plain = words.strip()
    if plain in {"uniform", "triangular"}:
        return plain, 0.0
    match = _NORMAL.fullmatch(plain)
    if match and LEAST_MULTIPLE <= float(match[1]) <= MOST_MULTIPLE:
        return "normal", float(match[1])
    raise UnitError(
        name,
        text,
        "(uniform), (triangular) or (normal, 2 s) behind the tolerance",
        "A normal one says how many standard deviations it stands for, from "
        f"{LEAST_MULTIPLE:g} to {MOST_MULTIPLE:g}.",
    )


def percent_of_time(
    name: str,
    text: str,
    time: tuple[float, re.Match[str]],
    tolerance: tuple[float, re.Match[str] | str],
) -> float:
    """Return the tolerance of a time for a sweep in percent of it.

    Parameters
    ----------
    name : str
        The argument or field it is for; every error names it.
    text : str
        The whole quantity string, for the error.
    time : tuple
        The number, and its unit as ``"s"`` or ``"ms"`` and the sweep in degrees.
    tolerance : tuple
        The same of the tolerance, or its number and another unit.

    Returns
    -------
    float
        In percent, which is also that of the speed where it is small [-].

    Raises
    ------
    UnitError
        The tolerance is neither in percent nor a time for the same sweep.
    """
    number, unit = tolerance
    if unit == "%":
        return number
    if isinstance(unit, str) or unit[2] != time[1][2]:
        raise UnitError(
            name,
            text,
            "a speed such as '0.12 s/60deg ± 0.01 s/60deg'",
            "Give the tolerance in % or as a time for the same sweep.",
        )
    seconds = [
        size * (0.001 if found[1] == "ms" else 1.0) for size, found in (time, (number, unit))
    ]
    return 100 * seconds[1] / seconds[0]
