"""Pictures of what moves a margin: a tornado, and Sobol indices beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.report.tornado import draw_tornado, label_of, verbatim

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from linkcalc.tolerances.advice import Swing
    from linkcalc.tolerances.indices import Indices

__all__ = ["draw_indices", "draw_spread"]

_FIRST, _TOTAL = "#3b6ea5", "#d8893b"  # told apart by readers with any colour vision, and in grey


def draw_indices(indices: Indices, axes: Axes | None = None, *, most: int = 12) -> Axes:
    """Draw first-order and total Sobol indices, the greatest total on top.

    Parameters
    ----------
    indices : Indices
        Of one output, as `linkcalc.tolerances.indices.sobol_indices` returns them.
    axes : matplotlib.axes.Axes, optional
        Where to draw; left out, on a new figure.
    most : int
        Factors, at most.

    Returns
    -------
    matplotlib.axes.Axes
        With two bars for each factor and their intervals; with words where there are none.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.indices import sobol_indices
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> two = UncertainInputs({"have": Normal(10.0, 1.0), "need": Normal(8.0, 2.0)})
    >>> found = sobol_indices(lambda of: {"left": of["have"] - of["need"]}, two)["left"]
    >>> [text.get_text() for text in draw_indices(found).get_yticklabels()]
    ['need', 'have']
    """
    order = [] if indices.reason else np.argsort(-indices.total, kind="stable")[:most].tolist()
    if axes is None:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only who draws loads it

        figure = Figure(figsize=(8.0, 1.2 + 0.4 * max(len(order), 2)), layout="constrained")
        axes = figure.add_subplot()
    if indices.reason:
        axes.text(0.5, 0.5, indices.reason, ha="center", va="center", transform=axes.transAxes)
        axes.set_axis_off()
        return axes
    place = np.arange(len(order))
    for values, intervals, side, colour, label in (
        (indices.first, indices.first_interval, -0.2, _FIRST, "by itself (first order)"),
        (indices.total, indices.total_interval, 0.2, _TOTAL, "with all it acts with (total)"),
    ):
        shown = values[order]
        axes.barh(
            place + side,
            shown,
            height=0.36,
            color=colour,
            label=label,
            xerr=np.abs(intervals[order].T - shown),
            error_kw={"linewidth": 1.0, "capsize": 2.0},
        )
    axes.set_yticks(place, [label_of(indices.factors[each]) for each in order])
    axes.set_ylim(len(order) - 0.4, -0.6)
    axes.axvline(0.0, color="black", linewidth=1.0)
    axes.set_xlabel("share of the variance")
    axes.grid(axis="x", linewidth=0.4)
    axes.set_axisbelow(True)
    axes.legend(loc="lower right", fontsize="small")
    return axes


def draw_spread(swings: Sequence[Swing], indices: Indices | None = None, *, label: str) -> Figure:
    """Draw how far each input moves a margin, and below it what the spread comes from.

    Parameters
    ----------
    swings : sequence of Swing
        As `linkcalc.study.tolerance.margin_swings` returns them.
    indices : Indices, optional
        Of the same margin.
    label : str
        Its name.

    Returns
    -------
    matplotlib.figure.Figure
        A tornado, and bars of Sobol indices where there are any.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - only who draws loads it

    rows = 1 if indices is None else 2
    figure = Figure(figsize=(9.0, (1.4 + 0.4 * min(len(swings), 12)) * rows), layout="constrained")
    axes = np.atleast_1d(figure.subplots(rows, 1))
    draw_tornado(swings, axes[0], label=f"margin: {verbatim(label)}")
    if indices is not None:
        draw_indices(indices, axes[1])
    return figure
