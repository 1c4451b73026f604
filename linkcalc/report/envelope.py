"""Pictures of the envelope: what is reached, held and survived against speed and height.

Each function takes plain SI numbers, draws into axes and returns them. Lines differ by dash and
by colour, and are named in a legend below the picture, so that they can be told apart in print
without colour too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "Mark",
    "load_factor_against_speed",
    "margin_against_speed",
    "reachable_deflection",
    "speed_against_height",
]

# Colours that people with any common colour blindness can tell apart, in falling contrast to
# white: M. Okabe and K. Ito, "Color Universal Design", 2008 (from memory).
_BLACK, _BLUE, _VERMILION, _GREEN = "#000000", "#0072B2", "#D55E00", "#009E73"
_STYLES = (
    (_BLUE, "-"),
    (_VERMILION, "--"),
    (_GREEN, "-."),
    (_BLACK, ":"),
    ("#CC79A7", (0, (6, 1.5, 1.5, 1.5, 1.5, 1.5))),
    ("#E69F00", (0, (8, 3))),
    ("#56B4E9", (0, (1, 1))),
)
_GREY = "#666666"
_WIDTH = 1.8
_SPEED = "true airspeed [m/s]"


class Mark(NamedTuple):
    """A speed that is marked in a picture.

    Attributes
    ----------
    name : str
        Such as "placard".
    speed : float
        True airspeed; nan is not drawn [m/s].
    """

    name: str
    speed: float


def reachable_deflection(
    speed: Floats,
    up: Floats,
    down: Floats,
    *,
    name: str,
    commanded: tuple[float, float] | None = None,
    marks: tuple[Mark, ...] = (),
    axes: Axes | None = None,
) -> Axes:
    """Draw how far a surface is reached against speed, with the travel that is commanded.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        True airspeeds, ascending [m/s].
    up, down : ndarray, shape (n,)
        Deflections reached on the negative and the positive side, signed [rad]; a gap for nan.
    name : str
        Of the surface, for the title.
    commanded : tuple of float, optional
        Least and greatest deflection that is asked for [rad].
    marks : tuple of Mark
        Speeds to mark.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Trailing edge up is drawn upwards.
    """
    axes = _axes(axes)
    axes.fill_between(
        speed, np.degrees(up), np.degrees(down), color="#56B4E9", alpha=0.25, label="reached"
    )
    for side in (up, down):
        axes.plot(speed, np.degrees(side), color=_BLUE, linewidth=_WIDTH)
    for number, end in enumerate(commanded or ()):
        axes.axhline(
            math.degrees(end),
            color=_VERMILION,
            linestyle="--",
            linewidth=1.4,
            label=None if number else "commanded",
        )
    axes.axhline(0.0, color=_GREY, linewidth=0.6)
    axes.invert_yaxis()
    _finish(axes, f"{name}: deflection reached", _SPEED, "deflection [deg], positive downwards")
    _mark(axes, marks)
    _name_lines(axes)
    return axes


def margin_against_speed(
    speed: Floats,
    margins: Mapping[str, Floats],
    *,
    name: str,
    marks: tuple[Mark, ...] = (),
    axes: Axes | None = None,
) -> Axes:
    """Draw margins against speed.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        True airspeeds, ascending [m/s].
    margins : mapping of str to ndarray, shape (n,)
        By what each is called; a gap for nan [1].
    name : str
        Of the run, for the title.
    marks : tuple of Mark
        Speeds to mark.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        From -1 to 2; what is greater lies above the picture, which says so.
    """
    axes = _axes(axes)
    for number, (called, margin) in enumerate(margins.items()):
        color, style = _STYLES[number % len(_STYLES)]
        axes.plot(speed, margin, color=color, linestyle=style, linewidth=_WIDTH, label=called)
    axes.axhspan(-1.0, 0.0, facecolor="none", edgecolor="#BBBBBB", hatch="///", linewidth=0)
    axes.axhline(0.0, color=_BLACK, linewidth=1.0)
    axes.set_ylim(-1.0, 2.0)
    _finish(axes, f"{name}: margins (hatched: too little)", _SPEED, "margin [1], above 2 not drawn")
    _mark(axes, marks)
    _name_lines(axes)
    return axes


def speed_against_height(
    ways: Mapping[str, tuple[Floats, Floats]],
    *,
    marks: tuple[Mark, ...] = (),
    axes: Axes | None = None,
) -> Axes:
    """Draw dives: speed against height, with the servo's limit and without, or any others.

    Parameters
    ----------
    ways : mapping of str to (ndarray, ndarray), shape (n,) each
        True airspeed [m/s] and height above the ground [m] along each dive, in order, by what
        it is called. The end is marked.
    marks : tuple of Mark
        Speeds to mark.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Height upwards.
    """
    axes = _axes(axes)
    for number, (called, (speed, height)) in enumerate(ways.items()):
        color, style = _STYLES[number % len(_STYLES)]
        known = np.nonzero(np.isfinite(speed) & np.isfinite(height))[0]
        axes.plot(speed, height, color=color, linestyle=style, linewidth=_WIDTH, label=called)
        if known.size:
            end = known[-1]
            axes.plot(
                speed[end],
                height[end],
                marker="osD^v"[number % 5],
                markersize=7,
                color=color,
                markerfacecolor="white",
                markeredgewidth=1.6,
                linestyle="none",
                zorder=3,
                clip_on=False,
            )
    axes.set_ylim(bottom=0.0)
    axes.axhline(0.0, color=_BLACK, linewidth=2.5)
    _finish(axes, "dive and pull-out", _SPEED, "height above the ground [m]")
    _mark(axes, marks)
    _name_lines(axes)
    return axes


def load_factor_against_speed(
    speed: Floats,
    *,
    structure: Floats,
    lift: Floats,
    servo: Floats | None = None,
    marks: tuple[Mark, ...] = (),
    axes: Axes | None = None,
) -> Axes:
    """Draw the load factors that can be pulled against speed, with the servo's boundary.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        True airspeeds, ascending [m/s].
    structure, lift : ndarray, shape (n,)
        Load factors that the structure bears and the wing lifts [1].
    servo : ndarray, shape (n,), optional
        That the servo lets the elevator hold; a gap for nan [1].
    marks : tuple of Mark
        Speeds to mark.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        What can be flown is filled.
    """
    axes = _axes(axes)
    limits = {"lift of the wing": lift, "structure, limit load": structure}
    if servo is not None:
        limits["servo on the elevator"] = servo
    flown = np.min([np.broadcast_to(limit, speed.shape) for limit in limits.values()], axis=0)
    axes.fill_between(speed, 0.0, np.maximum(flown, 0.0), color="#56B4E9", alpha=0.25)
    for (color, style), (called, limit) in zip(
        ((_BLUE, "-"), (_BLACK, "-."), (_VERMILION, "--")), limits.items(), strict=False
    ):
        line = np.broadcast_to(limit, speed.shape)
        axes.plot(speed, line, color=color, linestyle=style, linewidth=_WIDTH, label=called)
    top = float(np.nanmax(np.broadcast_to(structure, speed.shape)))
    axes.set_ylim(0.0, 1.25 * top)
    axes.axhline(1.0, color=_GREY, linewidth=0.6)
    _finish(axes, "load factor that can be pulled (filled)", _SPEED, "load factor [1]")
    _mark(axes, marks)
    _name_lines(axes)
    return axes


def _axes(axes: Axes | None) -> Axes:
    """Return axes to draw in, on a figure of their own if there are none."""
    if axes is not None:
        return axes
    from matplotlib.figure import Figure  # noqa: PLC0415 - only whoever wants pictures pays

    return Figure(figsize=(6.3, 4.2), layout="constrained").subplots()


def _finish(axes: Axes, title: str, x_label: str, y_label: str) -> None:
    axes.set_title(title)
    axes.set_xlabel(x_label)
    axes.set_ylabel(y_label)
    axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.margins(x=0.02)


def _mark(axes: Axes, marks: tuple[Mark, ...]) -> None:
    """Draw speeds as thin upright lines, told apart by their dashes."""
    dashes = ((0, (1, 1.5)), (0, (5, 2)), (0, (8, 2, 1, 2)), "-")
    for number, mark in enumerate(marks):
        if math.isfinite(mark.speed):
            axes.axvline(
                mark.speed,
                color=_GREY,
                linestyle=dashes[number % len(dashes)],
                linewidth=1.2,
                label=f"{mark.name} {mark.speed:.1f} m/s",
            )


def _name_lines(axes: Axes) -> None:
    """Put the legend below the picture, where it hides nothing."""
    longest = max(len(text) for text in axes.get_legend_handles_labels()[1])
    axes.legend(
        loc="upper center",
        bbox_to_anchor=(0.5, -0.16),
        ncols=3 if longest <= 16 else 2,
        frameon=False,
        handlelength=3.2,
    )
