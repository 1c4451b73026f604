"""Which unit somebody may have meant who writes it as others do."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["nearest"]

# as others write it -> as a file has it; for a hint alone, never read
_ELSEWHERE = {
    "kmh": "km/h",
    "kph": "km/h",
    "sec": "s",
    "psi": "lbf/in^2",
    "volts": "V",
    "degrees": "deg",
}


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the way to write a unit that is the nearest to a word.

    Parameters
    ----------
    word : str
        As it was found.
    known : iterable of str
        Words that a unit may be made of.

    Returns
    -------
    str
        Empty where none is near.

    Examples
    --------
    >>> nearest("kmh", ["km", "h"]), nearest("mOhm", ["mohm"]), nearest("xyzzy", ["m"])
    ('km/h', 'mohm', '')
    """
    close = difflib.get_close_matches(word, known, n=1)
    return _ELSEWHERE.get(word.lower()) or next(iter(close), "")
