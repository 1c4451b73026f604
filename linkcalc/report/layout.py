"""Lines of text in 80 columns: wrapped words, headings, margins and plain bars."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "WIDTH",
    "bar",
    "counted",
    "cut",
    "heading",
    "inside",
    "printable",
    "signed",
    "turned",
    "wrapped",
]

WIDTH = 80
"""No line is longer, but for the marks that make it bold."""

Word = TypeVar("Word")
Place = TypeVar("Place")


def printable(words: str) -> str:
    r"""Return text that a file brought, without what could steer a terminal.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        The same with unprintable characters replaced.

    Examples
    --------
    >>> printable("aileron\x1b[2J")
    'aileron?[2J'
    """
    if words.isprintable():
        return words
    return "".join(letter if letter.isprintable() else "?" for letter in words)


def heading(words: str, *, bold: bool) -> list[str]:
    """Return a heading.

    Parameters
    ----------
    words : str
        What it says.
    bold : bool
        Whether it is set in bold, for a terminal.

    Returns
    -------
    list of str
        Lines.
    """
    lines = textwrap.wrap(printable(words), WIDTH)
    return [f"\x1b[1m{line}\x1b[0m" for line in lines] if bold else lines


def wrapped(words: str, indent: int = 2) -> list[str]:
    """Return words in lines.

    Parameters
    ----------
    words : str
        Any text.
    indent : int
        Of the first line; the others of an indented paragraph stand two further in.

    Returns
    -------
    list of str
        Lines.
    """
    pad = " " * indent
    inner = pad + "  " * (indent > 0)
    return textwrap.wrap(
        printable(words), WIDTH, initial_indent=pad, subsequent_indent=inner, break_on_hyphens=False
    )


def cut(words: str, width: int) -> str:
    """Return words in a given width, with dots for what is left out.

    Parameters
    ----------
    words : str
        Any text.
    width : int
        At least 3 characters.

    Returns
    -------
    str
        Printable.

    Examples
    --------
    >>> cut("dive from the cloud edge", 12)
    'dive from...'
    """
    words = printable(words)
    return words if len(words) <= width else words[: width - 3].rstrip() + "..."


def counted(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun, nothing for zero.

    Parameters
    ----------
    count : int
        How many.
    one, many : str
        What they are called.

    Returns
    -------
    str
        Words.

    Examples
    --------
    >>> counted(2, "flight case")
    '2 flight cases'
    """
    return f"{count} {one if count == 1 else many or one + 's'}" if count else ""


def inside(cases: Iterable[str]) -> str:
    """Return the names of cases as a place.

    Parameters
    ----------
    cases : iterable of str
        Names.

    Returns
    -------
    str
        Words.

    Examples
    --------
    >>> inside(["dive", "turn"])
    "in 'dive', 'turn'"
    """
    return "in " + ", ".join(f"'{name}'" for name in cases)


def signed(margin: float | None) -> str:
    """Return a margin in at most seven characters.

    Parameters
    ----------
    margin : float or None
        The margin.

    Returns
    -------
    str
        With its sign, which rounding never takes away.

    Examples
    --------
    >>> [signed(margin) for margin in (0.204, -0.0012, 0.0, 12345.0, None)]
    ['+0.20', '-0.001', '+0.00', '+1e+04', 'none']
    """
    if margin is None:
        return "none"
    if margin == 0 or 0.005 <= abs(margin) < 1000:
        return f"{margin + 0.0:+.2f}"
    return f"{margin:+.3f}" if 0.0005 <= abs(margin) < 1 else f"{margin:+.0e}"


def bar(margin: float | None) -> str:
    """Return a bar from zero: to the left what is lacking, to the right what is over.

    Parameters
    ----------
    margin : float or None
        The margin.

    Returns
    -------
    str
        A mark for each quarter, four at most.

    Examples
    --------
    >>> [bar(margin) for margin in (-0.6, 0.3, None)]
    ['  <<|', '    |>', '    ?']
    """
    if margin is None:
        return "    ?"
    length = round(min(1.0, abs(margin)) * 4)
    return ("<" * length).rjust(4) + "|" if margin < 0 else "    |" + ">" * length


def turned(places: dict[Word, dict[Place, None]]) -> dict[tuple[Place, ...], list[Word]]:
    """Turn "word to places" round.

    Parameters
    ----------
    places : dict
        Places of every word, the keys of a dict because these keep their order.

    Returns
    -------
    dict
        Words that share the same places.

    Examples
    --------
    >>> turned({"gear": {"wing": None}, "joint": {"wing": None}})
    {('wing',): ['gear', 'joint']}
    """
    found: dict[tuple[Place, ...], list[Word]] = {}
    for word, where in places.items():
        found.setdefault(tuple(where), []).append(word)
    return found
