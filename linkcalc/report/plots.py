"""The pictures of a check in matplotlib axes, for scripts and notebooks.

The same pictures as on the page of HTML: what they show is computed and described once, in
`linkcalc.report.pictures`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.report import pictures
from linkcalc.report.layout import cut
from linkcalc.report.measures import as_stated
from linkcalc.study.curves import Curves, curves

if TYPE_CHECKING:
    import os
    from collections.abc import Callable

    from matplotlib.axes import Axes

    from linkcalc.model import Aircraft
    from linkcalc.report.chart import Chart
    from linkcalc.report.measures import Measures

    Checked = Curves | Aircraft | str | os.PathLike[str]

__all__ = [
    "plot_air_load",
    "plot_linkage",
    "plot_margin_against_deflection",
    "plot_margin_against_speed",
    "plot_voltage",
]

_COLORS = ("#9a3412", "#0b5a7a", "#4d6212", "#52605f")
_DASHES = ("-", (0, (5, 2)), (0, (1, 1.3)), "-")
_MARKERS = ("o", "s", "^", ".")
_UPRIGHT = (":", (0, (5, 2)), (0, (8, 2, 1, 2)), (0, (3, 1, 1, 1, 1, 1)))
_SOFT = "#52605f"
_LONGEST = 40


def plot_margin_against_deflection(
    checked: Checked,
    run: str,
    case: str,
    *,
    measures: Measures | None = None,
    axes: Axes | None = None,
) -> Axes:
    """Draw the torque margin of a run over the range that a case asks for.

    Parameters
    ----------
    checked : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    run, case : str
        Names.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Where it was drawn.

    Raises
    ------
    KeyError
        The aircraft has no such run or case.

    Examples
    --------
    >>> axes = plot_margin_against_deflection("examples/sandpiper.toml", "rudder", "survey line")
    >>> axes.get_xlabel()
    'deflection [deg], trailing edge down positive'
    """
    return _of_case(pictures.margin_against_deflection, checked, (run, case), measures, axes)


def plot_margin_against_speed(
    checked: Checked,
    run: str,
    case: str,
    *,
    measures: Measures | None = None,
    axes: Axes | None = None,
) -> Axes:
    """Draw the margins of a run against speed, with placard, torque limit and freeze speed.

    Parameters
    ----------
    checked : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    run, case : str
        Names.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Where it was drawn.

    Raises
    ------
    KeyError
        The aircraft has no such run or case.
    """
    return _of_case(pictures.margin_against_speed, checked, (run, case), measures, axes)


def plot_air_load(
    checked: Checked,
    run: str,
    case: str,
    *,
    measures: Measures | None = None,
    axes: Axes | None = None,
) -> Axes:
    """Draw the band of the hinge moment of a run over the range that a case asks for.

    Parameters
    ----------
    checked : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    run, case : str
        Names.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Where it was drawn.

    Raises
    ------
    KeyError
        The aircraft has no such run or case.
    """
    return _of_case(pictures.air_load, checked, (run, case), measures, axes)


def plot_voltage(
    checked: Checked,
    run: str,
    case: str,
    *,
    measures: Measures | None = None,
    axes: Axes | None = None,
) -> Axes:
    """Draw the voltage from the source to the servo of a run.

    Parameters
    ----------
    checked : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    run, case : str
        Names.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Where it was drawn.

    Raises
    ------
    KeyError
        The aircraft has no such run or case.
    """
    return _of_case(pictures.voltage_along_the_lead, checked, (run, case), measures, axes)


def plot_linkage(
    checked: Checked, run: str, *, measures: Measures | None = None, axes: Axes | None = None
) -> Axes:
    """Draw the linkage of a run to scale, at neutral and at both ends of the throw.

    Parameters
    ----------
    checked : Curves, Aircraft, str or path
        What `linkcalc.curves` returned, or what it takes.
    run : str
        Its name.
    measures : Measures, optional
        Units to show; those that the aircraft uses, if left out.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Where it was drawn; one unit is as long on both axes.

    Raises
    ------
    KeyError
        The aircraft has no such run.
    """
    found = checked if isinstance(checked, Curves) else curves(checked)
    chart = pictures.linkage(found, run, measures or as_stated(found.aircraft))
    return _drawn(chart, cut(run, _LONGEST), axes)


def _of_case(
    picture: Callable[[Curves, str, str, Measures], Chart],
    checked: Checked,
    place: tuple[str, str],
    measures: Measures | None,
    axes: Axes | None,
) -> Axes:
    found = checked if isinstance(checked, Curves) else curves(checked)
    chart = picture(found, *place, measures or as_stated(found.aircraft))
    return _drawn(chart, ", ".join(cut(name, _LONGEST) for name in place), axes)


def _drawn(chart: Chart, subject: str, axes: Axes | None) -> Axes:
    """Draw a picture into axes."""
    own = None
    if axes is None:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only whoever wants pictures pays

        height = 4.6 if chart.x_label else 3.4
        own = Figure(figsize=(6.3, height), layout="constrained")
        axes = own.subplots()
    axes.set_title(f"{chart.title}\n{_verbatim(subject)}", fontsize=11)
    if chart.missing:
        axes.set_axis_off()
        axes.text(0.5, 0.5, _verbatim(chart.missing), ha="center", va="center", wrap=True,
                  transform=axes.transAxes)  # fmt: skip
        return axes
    _fill(chart, axes)
    for number, line in enumerate(chart.lines):
        axes.plot(
            line.x, line.y,
            color=_COLORS[line.style], linestyle=_DASHES[line.style], linewidth=1.8,
            marker=_MARKERS[line.style] if line.marked else None, markerfacecolor="white",
            label=_verbatim(line.name) or "_", zorder=3 - 0.01 * number,
        )  # fmt: skip
    for number, level in enumerate(chart.levels):
        axes.axhline(
            level.at, color=_COLORS[2], linestyle=("-.", "--")[number % 2], label=level.name
        )
    for number, mark in enumerate(chart.marks):
        axes.axvline(
            mark.at, color=_SOFT, linestyle=_UPRIGHT[number % 4], linewidth=1.2, label=mark.name
        )
    for text in chart.texts:
        axes.text(text.x, text.y, text.words, ha="center", va="center", color=_SOFT)
    axes.set_xlim(*chart.x_range)
    axes.set_ylim(*chart.y_range)
    _frame(chart, axes)
    _legend(axes, whole_figure=own is not None)
    if own and not chart.x_label:  # an equal scale moves the title after the room for it is made
        own.draw_without_rendering()
    return axes


def _fill(chart: Chart, axes: Axes) -> None:
    for band in chart.bands:
        axes.fill_between(
            band.x, band.low, band.high, color=_COLORS[1], alpha=0.16, label=band.name
        )
    if chart.short_below:
        axes.axhspan(
            chart.y_range[0], 0.0, facecolor="none", edgecolor="#C9C2B0", hatch="///", linewidth=0,
            label="below zero: too little",
        )  # fmt: skip


def _frame(chart: Chart, axes: Axes) -> None:
    if not (chart.x_label or chart.y_label):
        axes.set_aspect("equal")
        axes.set_axis_off()
        return
    axes.set_xlabel(chart.x_label)
    axes.set_ylabel(chart.y_label)
    if chart.places:
        axes.set_xticks(range(len(chart.places)), [_verbatim(name) for name in chart.places])
    axes.grid(visible=True, axis="y", color="#DDD8CC", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.axhline(0.0, color="black", linewidth=0.8)


def _legend(axes: Axes, *, whole_figure: bool) -> None:
    """Put the legend below the picture, where it hides nothing."""
    handles, labels = axes.get_legend_handles_labels()
    longest = max((len(label) for label in labels), default=0)
    look: dict[str, Any] = {
        "ncols": 2 if longest <= 36 else 1,
        "frameon": False,
        "fontsize": 9,
        "handlelength": 3.2,
    }
    if whole_figure:  # which makes room for it
        axes.figure.legend(handles, labels, loc="outside lower center", **look)
    else:
        axes.legend(handles, labels, loc="upper center", bbox_to_anchor=(0.5, -0.18), **look)


def _verbatim(words: str) -> str:
    """Return words from a file so that no sign in them asks for mathematics."""
    return words.replace("$", r"\$")
