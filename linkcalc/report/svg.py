"""From a picture as data to the places of its parts on a page."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from linkcalc.report.chart import ticks
from linkcalc.report.measures import figure

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from linkcalc.report.chart import Chart

__all__ = ["Tick", "View", "laid_out"]

_WIDTH, _HEIGHT = 380.0, 250.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 10.0, 12.0, 46.0
_FRAMELESS = 8.0
_TALLEST = 230.0


class Tick(NamedTuple):
    """A place on an axis.

    Attributes
    ----------
    at : float
        Place in the picture.
    words : str
        What stands there.
    """

    at: float
    words: str


class View(NamedTuple):
    """Where the parts of a picture lie, in the units of its own box.

    Attributes
    ----------
    width, height : float
        Of the box.
    left, top, right, bottom : float
        Edges of the field in it.
    x_ticks, y_ticks : tuple of Tick
        Along the axes; none for a picture without.
    lines : tuple of (str, str, int, tuple)
        Name, path, style, and places of markers.
    bands : tuple of (str, str)
        Name and path.
    marks, levels, texts : tuple
        Name and place; words and two places.
    zero : float or None
        Where y is zero, if that lies within.
    """

    width: float
    height: float
    left: float
    top: float
    right: float
    bottom: float
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    lines: tuple[tuple[str, str, int, tuple[tuple[float, float], ...]], ...]
    bands: tuple[tuple[str, str], ...]
    marks: tuple[tuple[str, float], ...]
    levels: tuple[tuple[str, float], ...]
    texts: tuple[tuple[str, float, float], ...]
    zero: float | None


def laid_out(chart: Chart) -> View:
    """Lay out a picture.

    Parameters
    ----------
    chart : Chart
        What it shows.

    Returns
    -------
    View
        All places rounded to a tenth; y runs downwards.
    """
    framed = bool(chart.x_label or chart.y_label)
    (x_low, x_high), (y_low, y_high) = chart.x_range, chart.y_range
    width, height = _WIDTH, _HEIGHT
    left, right, top, bottom = _LEFT, width - _RIGHT, _TOP, height - _BOTTOM
    if not framed:  # to scale: one unit is as long on both axes
        left, right, top = _FRAMELESS, width - _FRAMELESS, _FRAMELESS
        scale = min((right - left) / (x_high - x_low), _TALLEST / (y_high - y_low))
        middle = 0.5 * (x_low + x_high)
        x_low, x_high = (middle + side * 0.5 * (right - left) / scale for side in (-1, 1))
        bottom = top + scale * (y_high - y_low)
        height = bottom + _FRAMELESS

    def across(value: float) -> float:
        return round(left + (value - x_low) / (x_high - x_low) * (right - left), 1)

    def down(value: float) -> float:
        return round(bottom - (value - y_low) / (y_high - y_low) * (bottom - top), 1)

    lines = tuple(
        (line.name, _path(spots), line.style, tuple(spots_known(spots)) if line.marked else ())
        for line in chart.lines
        for spots in [[(across(x), down(y)) for x, y in zip(line.x, line.y, strict=True)]]
    )
    bands = tuple(
        (band.name, _area([(across(x), down(low), down(high)) for x, low, high in
                           zip(band.x, band.low, band.high, strict=True)]))
        for band in chart.bands
    )  # fmt: skip
    named = [Tick(across(place), words) for place, words in enumerate(chart.places)]
    x_ticks = named or [Tick(across(value), _number(value)) for value in ticks((x_low, x_high))]
    y_ticks = [Tick(down(value), _number(value)) for value in ticks((y_low, y_high))]
    return View(
        width, round(height, 1), left, top, right, round(bottom, 1),
        tuple(x_ticks) if framed else (),
        tuple(y_ticks) if framed else (),
        lines,
        bands,
        tuple((mark.name, across(mark.at)) for mark in chart.marks),
        tuple((level.name, down(level.at)) for level in chart.levels),
        tuple((text.words, across(text.x), down(text.y)) for text in chart.texts),
        down(0.0) if y_low <= 0.0 <= y_high else None,
    )  # fmt: skip


def _number(value: float) -> str:
    return figure(value).replace("-", "\N{MINUS SIGN}")


Spots = list[tuple[float, float]]


def spots_known(spots: Spots) -> Iterator[tuple[float, float]]:
    """Yield the places that there are.

    Parameters
    ----------
    spots : list of tuple of float
        Places, nan among them.

    Yields
    ------
    tuple of float
        A place.
    """
    yield from (spot for spot in spots if not any(map(math.isnan, spot)))


def _pieces(spots: Sequence[tuple[float, ...]]) -> Iterator[list[tuple[float, ...]]]:
    """Yield runs of places without a gap."""
    piece: list[tuple[float, ...]] = []
    for spot in spots:
        if any(not math.isfinite(value) for value in spot):
            if piece:
                yield piece
            piece = []
        else:
            piece.append(spot)
    if piece:
        yield piece


def _path(spots: Spots) -> str:
    return "".join("M" + "L".join(f"{x:g} {y:g}" for x, y in piece) for piece in _pieces(spots))


def _area(spots: list[tuple[float, float, float]]) -> str:
    made = []
    for piece in _pieces(spots):
        there = [f"{x:g} {low:g}" for x, low, _ in piece]
        back = [f"{x:g} {high:g}" for x, _, high in reversed(piece)]
        made.append("M" + "L".join([*there, *back]) + "Z")
    return "".join(made)
