"""A picture as data: what is drawn, before it is known on which canvas."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["Band", "Chart", "Level", "Line", "Mark", "Text", "spanned", "ticks"]

Numbers = tuple[float, ...]


class Line(NamedTuple):
    """A line; nan breaks it.

    Attributes
    ----------
    name : str
        For the legend; empty for none.
    x, y : tuple of float
        Along the axes.
    style : int
        Which colour, dash and marker; the same in all pictures.
    marked : bool
        Whether every point has a marker.
    """

    name: str
    x: Numbers
    y: Numbers
    style: int = 0
    marked: bool = False


class Band(NamedTuple):
    """What lies between two lines over the same positions.

    Attributes
    ----------
    name : str
        For the legend.
    x, low, high : tuple of float
        Along the axes.
    """

    name: str
    x: Numbers
    low: Numbers
    high: Numbers


class Mark(NamedTuple):
    """An upright line.

    Attributes
    ----------
    name : str
        For the legend, with its value.
    at : float
        Where.
    """

    name: str
    at: float


class Level(NamedTuple):
    """A level line.

    Attributes
    ----------
    name : str
        For the legend, with its value.
    at : float
        Where.
    """

    name: str
    at: float


class Text(NamedTuple):
    """Words in the picture.

    Attributes
    ----------
    words : str
        What they say.
    x, y : float
        Where they are centred.
    """

    words: str
    x: float
    y: float


class Chart(NamedTuple):
    """A picture.

    Attributes
    ----------
    title, words : str
        What it shows, in a few words and in a sentence or two for those who do not see it.
    x_label, y_label : str
        With the unit; empty where the picture has no axes but is drawn to scale.
    x_range, y_range : tuple of float
        Ends of the axes; what lies beyond is not drawn, and a note says so.
    lines, bands, marks, levels, texts : tuple
        What is drawn.
    places : tuple of str
        Names of the positions 0, 1, 2 ... where x is no number.
    short_below : bool
        Whether what lies below zero is hatched.
    missing : str
        Why there is nothing to draw; else empty.
    notes : tuple of str
        Sentences below the picture.
    """

    title: str
    words: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    lines: tuple[Line, ...] = ()
    bands: tuple[Band, ...] = ()
    marks: tuple[Mark, ...] = ()
    levels: tuple[Level, ...] = ()
    texts: tuple[Text, ...] = ()
    places: tuple[str, ...] = ()
    short_below: bool = False
    missing: str = ""
    notes: tuple[str, ...] = ()


def spanned(values: Iterable[float], room: float = 0.06) -> tuple[float, float]:
    """Return the ends of an axis for some values.

    Parameters
    ----------
    values : iterable of float
        What has to lie on it; nan and infinity are passed over.
    room : float
        Left free at each end, as a part of the whole.

    Returns
    -------
    tuple of float
        Low and high, never the same.

    Examples
    --------
    >>> spanned([0.0, 10.0, float("nan")], room=0.1)
    (-1.0, 11.0)
    """
    known = [value for value in values if math.isfinite(value)] or [0.0, 1.0]
    low, high = min(known), max(known)
    free = room * (high - low) if high > low else 0.5 * (abs(high) or 1.0)
    return low - free, high + free


def ticks(ends: Sequence[float], most: int = 6) -> list[float]:
    """Return round numbers on an axis.

    Parameters
    ----------
    ends : sequence of float
        Of the axis.
    most : int
        How many at most.

    Returns
    -------
    list of float
        Multiples of 1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> ticks((-1.0, 2.0), most=4)
    [-1.0, 0.0, 1.0, 2.0]
    """
    low, high = ends
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(
        round_step * power
        for round_step in (1, 2, 5, 10, 20)
        if (high - low) / (round_step * power) <= most
    )
    slack = 1e-9 * step
    first, last = math.ceil((low - slack) / step), math.floor((high + slack) / step)
    return [count * step for count in range(first, last + 1)]
