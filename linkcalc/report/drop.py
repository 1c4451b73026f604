"""The drop from source to servo, as a picture and as a table."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.report.layout import cut, heading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from linkcalc.study.drops import Path

__all__ = ["drop_document", "drop_lines", "least_paths", "voltage_drop"]

# Colour and hatch of each kind of element: either tells them apart. The colours are those of
# M. Okabe and K. Ito, "Color Universal Design", 2008 (from memory).
_KINDS = {
    "source": ("#000000", ""),
    "conductors": ("#56B4E9", ""),
    "contacts": ("#E69F00", "///"),
    "regulator": ("#009E73", "..."),
}
_KIND = {
    "internal resistance": "source",
    "current limit": "source",
    "contacts": "contacts",
    "regulator": "regulator",
}
_COLUMNS = ("source", "wire", "contacts", "regulator", "arrives")


def least_paths(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Return for every run the path in the case in which least arrives.

    Parameters
    ----------
    paths : sequence of Path
        What `linkcalc.study.drops.voltage_drops` returns.

    Returns
    -------
    tuple of Path
        One for each run, in its order; what has no solution counts as least.
    """
    made: dict[str, Path] = {}
    for path in paths:
        known = made.setdefault(path.run, path)
        if not path.delivered >= known.delivered:
            made[path.run] = path
    return tuple(made.values())


def voltage_drop(paths: Sequence[Path], *, title: str = "", axes: Axes | None = None) -> Axes:
    """Draw the drop along the way from source to servo, stacked by element.

    Parameters
    ----------
    paths : sequence of Path
        One bar for each; `least_paths` chooses one for every run.
    title : str
        Above the picture.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones if left out.

    Returns
    -------
    matplotlib.axes.Axes
        Bars start at the source, on the left, and grow by what each element takes; what
        arrives stands at their end. A path without solution has no bar, and says so.
    """
    if axes is None:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only whoever wants pictures pays

        size = (6.3, 1.8 + 0.45 * len(paths))
        axes = Figure(figsize=size, layout="constrained").subplots()
    named: set[str] = set()
    for place, path in enumerate(paths):
        start = 0.0
        for drop in path.drops:
            if math.isnan(path.delivered):
                break
            kind = _KIND.get(drop.element, "conductors")
            color, hatch = _KINDS[kind]
            axes.barh(
                place,
                drop.voltage,
                left=start,
                height=0.6,
                color=color,
                hatch=hatch,
                edgecolor="white",
                linewidth=0.8,
                label="_" if kind in named else kind,
            )
            named.add(kind)
            start += drop.voltage
        told = "no solution" if math.isnan(path.delivered) else f"{path.delivered:.2f} V arrive"
        axes.annotate(told, (start, place), (5, 0), textcoords="offset points", va="center")
    axes.set_yticks(range(len(paths)), [f"{path.run}\n{path.case}" for path in paths])
    axes.invert_yaxis()
    axes.set_xlabel("voltage drop from the source on [V]")
    axes.set_title(title or "drop from source to servo")
    longest = max((path.open_circuit - path.delivered for path in paths), default=0.0)
    axes.set_xlim(0.0, 1.4 * longest if longest > 0 else 1.0)
    axes.grid(visible=True, axis="x", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    if named:
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.2), ncols=4, frameon=False)
    return axes


def drop_lines(paths: Sequence[Path], *, bold: bool = False) -> list[str]:
    """Return a table of where the volts go, one line for each path.

    Parameters
    ----------
    paths : sequence of Path
        As for `voltage_drop`.
    bold : bool
        Whether the heading is set in bold.

    Returns
    -------
    list of str
        In 80 columns.
    """
    head = f"  {'volts lost in':24}" + "".join(f"{name:>10}" for name in _COLUMNS)
    lines = heading(head, bold=bold)
    for path in paths:
        lost = dict.fromkeys(_KINDS, 0.0)
        for drop in path.drops:
            lost[_KIND.get(drop.element, "conductors")] += drop.voltage
        figures = [f"{value:10.3f}" for value in (*lost.values(), path.delivered)]
        if math.isnan(path.delivered):
            figures = ["  no voltage satisfies the supply"]
        lines.append(f"  {cut(path.run, 24):24}" + "".join(figures))
    return lines


def drop_document(paths: Sequence[Path]) -> list[dict[str, Any]]:
    """Return where the volts go as plain values.

    Parameters
    ----------
    paths : sequence of Path
        As for `voltage_drop`.

    Returns
    -------
    list of dict
        For JSON; voltages in V, None where there is no solution.
    """
    return [
        {
            **path._asdict(),
            "delivered": _plain(path.delivered),
            "drops": [{**drop._asdict(), "voltage": _plain(drop.voltage)} for drop in path.drops],
        }
        for path in paths
    ]


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None
