"""The tornado picture: bars that show which input moves a margin how far."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from linkcalc.tolerances.advice import Swing

__all__ = ["draw_tornado", "label_of", "verbatim"]

_DOWN, _UP = "#3b6ea5", "#d8893b"  # told apart by readers with any colour vision, and in grey
_LONGEST = 44


def draw_tornado(
    swings: Sequence[Swing],
    axes: Axes | None = None,
    *,
    label: str = "margin",
    limit: float | None = 0.0,
    most: int = 12,
) -> Axes:
    """Draw how far each input alone moves an output, the greatest on top.

    Parameters
    ----------
    swings : sequence of Swing
        As `linkcalc.tolerances.advice.swings` returns them.
    axes : matplotlib.axes.Axes, optional
        Where to draw; left out, on a new figure.
    label : str
        What the horizontal axis shows.
    limit : float, optional
        A line below which the output falls short; None for no line.
    most : int
        Bars, at most.

    Returns
    -------
    matplotlib.axes.Axes
        With the bars. An end that cannot be computed is a cross at the stated value.

    Examples
    --------
    >>> from linkcalc.tolerances.advice import Swing
    >>> drawn = draw_tornado([Swing(("arm",), 0.1, 0.3, 0.2), Swing(("horn",), 0.25, 0.15, 0.2)])
    >>> [text.get_text() for text in drawn.get_yticklabels()]
    ['arm', 'horn']
    """
    from matplotlib.patches import Patch  # noqa: PLC0415 - only who draws loads it

    shown = swings[:most]
    if axes is None:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only who draws loads it

        figure = Figure(figsize=(8.0, 1.2 + 0.4 * max(len(shown), 2)), layout="constrained")
        axes = figure.add_subplot()
    for place, swing in enumerate(shown):
        for end, colour in ((swing.low, _DOWN), (swing.high, _UP)):
            if math.isnan(end):
                axes.plot([swing.value], [place], "x", color=colour, markersize=9, zorder=3)
            else:
                axes.barh(place, end - swing.value, left=swing.value, height=0.62, color=colour)
    axes.set_yticks(range(len(shown)), [label_of(swing.inputs) for swing in shown])
    axes.set_ylim(len(shown) - 0.4, -0.6)
    if shown:
        axes.axvline(shown[0].value, color="black", linewidth=1.0)
    if limit is not None:
        axes.axvline(limit, color="black", linewidth=1.0, linestyle="--")
    axes.margins(x=0.06)
    axes.set_xlabel(label)
    axes.grid(axis="x", linewidth=0.4)
    axes.set_axisbelow(True)
    axes.legend(
        handles=[
            Patch(color=_DOWN, label="at the low end (2.5 %)"),
            Patch(color=_UP, label="at the high end (97.5 %)"),
        ],
        loc="lower right",
        fontsize="small",
    )
    return axes


def label_of(inputs: Sequence[str]) -> str:
    """Return the label of inputs that move together.

    Parameters
    ----------
    inputs : sequence of str
        Their places.

    Returns
    -------
    str
        At most 44 characters, the end of longer ones: it tells more than the start.
    """
    words = ", ".join(inputs)
    return verbatim(words if len(words) <= _LONGEST else "..." + words[3 - _LONGEST :])


def verbatim(words: str) -> str:
    """Return words from a file so that no sign in them asks for mathematics.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        For matplotlib.
    """
    return words.replace("$", r"\$")
