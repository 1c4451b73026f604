"""Handbook charts of section hinge-moment slopes, as numbers, and their interpolation.

The points were digitised from the figures named; lines between them are straight, as between
the curves of a chart that are read by eye. scipy interpolates and is imported when a chart is
first asked. A value beyond a chart's edge is that of the edge, and `Reading.beyond` says so.

References
----------
.. [1] J. Roskam, Airplane Design, Part VI, sect. 10.4.1 (charts identical in kind to USAF DATCOM
   6.1.3): Fig. 10.63 and the chart paired with it, Fig. 10.69a and b, step 4 (balance).
   Digitised points.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.solver_steps import Limit

if TYPE_CHECKING:
    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = ["CHARTS", "Chart", "Reading", "read"]


class Chart(NamedTuple):
    """A chart: a table of values over one or two axes.

    Attributes
    ----------
    axes : tuple of (str, tuple of float)
        What each axis is, and its points, ascending.
    values : tuple
        Nested as the axes.
    source : str
        Where it is from.
    """

    axes: tuple[tuple[str, tuple[float, ...]], ...]
    values: tuple[Any, ...]
    source: str


class Reading(NamedTuple):
    """A value that was read from a chart.

    Attributes
    ----------
    value : float or array, shape (...)
        In the unit of the chart.
    beyond : bool or array of bool, shape (...)
        Whether the chart ends before the place that was asked for.
    limits : tuple of Limit
        The chart's axes, and where they were asked.
    """

    value: Floats
    beyond: Any
    limits: tuple[Limit, ...]


_ROSKAM = "J. Roskam, Airplane Design, Part VI, sect. 10.4.1"

CHARTS: dict[str, Chart] = {
    "incidence slope": Chart(
        (
            ("thickness ratio", (0.0, 0.04, 0.08, 0.12, 0.16)),
            ("chord ratio", (0.1, 0.4)),
        ),
        ((-0.35, -0.75), (-0.325, -0.72), (-0.295, -0.70), (-0.25, -0.67), (-0.225, -0.65)),
        f"{_ROSKAM}, Fig. 10.63 (digitised)",
    ),
    "deflection slope": Chart(
        (
            ("thickness ratio", (0.0, 0.04, 0.08, 0.12, 0.15)),
            ("chord ratio", (0.1, 0.4)),
        ),
        ((-0.88, -1.02), (-0.83, -0.995), (-0.77, -0.97), (-0.70, -0.94), (-0.64, -0.925)),
        f"{_ROSKAM}, Fig. 10.69b (digitised)",
    ),
    "incidence ratio": Chart(
        (
            ("lift slope ratio", (0.7, 0.74, 0.78, 0.8, 0.84, 0.88, 0.9, 0.94, 0.98, 1.0)),
            ("chord ratio", (0.1, 0.4)),
        ),
        (
            (-0.1, 0.12),
            (0.08, 0.30),
            (0.28, 0.46),
            (0.36, 0.53),
            (0.50, 0.65),
            (0.65, 0.75),
            (0.70, 0.80),
            (0.82, 0.88),
            (0.93, 0.96),
            (1.0, 1.0),
        ),
        f"{_ROSKAM}, chart paired with Fig. 10.63 (digitised)",
    ),
    "deflection ratio": Chart(
        (
            ("lift slope ratio", (0.6, 0.7, 0.8, 0.9, 1.0)),
            ("chord ratio", (0.1, 0.25, 0.4)),
        ),
        (
            (0.64, 0.56, 0.415),
            (0.75, 0.725, 0.66),
            (0.84, 0.83, 0.80),
            (0.92, 0.91, 0.90),
            (1.0, 1.0, 1.0),
        ),
        f"{_ROSKAM}, Fig. 10.69a (digitised)",
    ),
    "balance": Chart(
        (("overhang", (0.0, 0.15, 0.5)),),
        (1.0, 0.93, 0.2),
        f"{_ROSKAM}, step 4: round nose, the two end points, and 1 without overhang",
    ),
}
"""By name: slopes of a plain sealed flap [1/rad] by thickness, ratios of real to theoretical
slopes by the ratio of the section's lift slope to theory [1], and the factor of an overhang [1]."""


def read(name: str, *place: Floats) -> Reading:
    """Read a chart.

    Parameters
    ----------
    name : str
        A key of `CHARTS`.
    *place : float or array, shape (...)
        A value for each axis; they broadcast together.

    Returns
    -------
    Reading
        nan for nan.

    Examples
    --------
    >>> round(float(read("deflection ratio", 0.9, 0.25).value), 2)
    0.91
    >>> reading = read("deflection ratio", 0.9, 0.55)
    >>> round(float(reading.value), 2), bool(reading.beyond)
    (0.9, True)
    """
    axes = [np.array(points) for _, points in CHARTS[name].axes]
    asked = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in place))
    inside: list[Array] = [
        np.minimum(np.maximum(value, axis[0]), axis[-1])
        for value, axis in zip(asked, axes, strict=True)
    ]
    beyond = np.zeros(asked[0].shape, dtype=bool)
    for value, kept in zip(asked, inside, strict=True):
        beyond |= (value != kept) & ~np.isnan(value)
    points = np.stack(inside, axis=-1)
    limits = tuple(
        Limit(label, value, axis[0], axis[-1])
        for (label, axis), value in zip(CHARTS[name].axes, asked, strict=True)
    )
    return Reading(_interpolator(name)(points).reshape(asked[0].shape)[()], beyond[()], limits)


@cache
def _interpolator(name: str) -> Any:
    from scipy.interpolate import RegularGridInterpolator  # noqa: PLC0415 - for this solver alone

    chart = CHARTS[name]
    axes = [np.array(points) for _, points in chart.axes]
    # nothing beyond an edge arrives here, and nan shall be nan
    return RegularGridInterpolator(axes, np.array(chart.values), bounds_error=False)
