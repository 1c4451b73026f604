"""A lifting surface by stations from root to tip: what lies between them, and where it turns."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["STRAIGHT", "Stations", "between", "distances", "hinge_line", "off_line"]

Array: TypeAlias = NDArray[np.float64]

STRAIGHT = 0.01
"""How far a hinge line may lie from a straight one, over the mean chord where the control surface
is: what a ruler can tell on a model (common practice, no source) [1]."""


class Stations(NamedTuple):
    """A surface that is straight between its stations.

    Attributes
    ----------
    y, z : ndarray, shape (station,)
        Outwards from the root, and up [m].
    leading, chord : ndarray, shape (station,)
        x of the leading edge, aft positive, and the whole chord [m].
    hinge : ndarray, shape (station,)
        Hinge line aft of the leading edge [m].
    """

    y: Array
    z: Array
    leading: Array
    chord: Array
    hinge: Array


def distances(y: ArrayLike, z: ArrayLike) -> Array:
    """Distance of every station from the first, along the surface.

    Parameters
    ----------
    y, z : array_like, shape (station,)
        Outwards and up [m].

    Returns
    -------
    ndarray, shape (station,)
        From zero on [m]; nan from a nan on.

    Examples
    --------
    >>> distances([0.0, 0.4, 0.7], [0.0, 0.0, 0.4]).round(3).tolist()
    [0.0, 0.4, 0.9]
    """
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])


def hinge_line(
    along: Array, leading: Array, chord: Array, measured: Array, *, chord_ratio: float
) -> Array:
    """Hinge line aft of the leading edge at every station, from those where it was measured.

    Parameters
    ----------
    along, leading, chord : ndarray, shape (station,)
        Distance from the root, x of the leading edge, and whole chord [m].
    measured : ndarray, shape (station,)
        Hinge line aft of the leading edge; nan where it was not measured [m].
    chord_ratio : float
        Chord aft of the hinge line over the whole chord, where none was measured at all [1].

    Returns
    -------
    ndarray, shape (station,)
        Between two that were measured on the straight line through them, beyond the first or
        last on the line through the two nearest: there it may leave the chord [m]. With
        a single one nan.

    Examples
    --------
    >>> place, nose = np.array([0.0, 0.3, 0.6]), np.array([0.0, 0.01, 0.02])
    >>> seen = np.array([np.nan, 0.15, 0.13])
    >>> hinge_line(place, nose, np.full(3, 0.2), seen, chord_ratio=0.3).round(3).tolist()
    [0.17, 0.15, 0.13]
    """
    known = np.flatnonzero(~np.isnan(measured))
    if not len(known):
        return np.asarray((1.0 - chord_ratio) * chord)
    if len(known) == 1:
        return np.full(len(chord), np.nan)
    at, x = along[known], (leading + measured)[known]
    # the piece of the line on which each station lies; the first and last reach outwards
    piece = np.clip(np.searchsorted(at, along, side="right") - 1, 0, len(at) - 2)
    slope = (x[piece + 1] - x[piece]) / (at[piece + 1] - at[piece])
    lying = np.where(np.isnan(measured), x[piece] + slope * (along - at[piece]) - leading, measured)
    return np.asarray(lying)


def between(stations: Stations, places: ArrayLike) -> Stations:
    """Draw stations at other places along the surface.

    Parameters
    ----------
    stations : Stations
        From the root to the tip.
    places : array_like, shape (place,)
        Distances from the root along the surface, none beyond the tip [m].

    Returns
    -------
    Stations
        At these places, straight between the given ones.

    Examples
    --------
    >>> root, tip = (0.0, 0.0, 0.0, 0.2, 0.15), (0.5, 0.0, 0.02, 0.1, 0.07)
    >>> wing = Stations(*np.array([root, tip]).T)
    >>> between(wing, [0.25]).chord.round(3).tolist()
    [0.15]
    """
    along, at = distances(stations.y, stations.z), np.asarray(places, dtype=np.float64)
    return Stations(*(np.interp(at, along, each) for each in stations))


def off_line(points: Array, ends: Array) -> Array:
    """Distance of points from the straight line through two others.

    Parameters
    ----------
    points : ndarray, shape (point, 3)
        The points [m].
    ends : ndarray, shape (2, 3)
        Two places on the line [m].

    Returns
    -------
    ndarray, shape (point,)
        Square to the line; nan where the two ends are one place [m].

    Examples
    --------
    >>> line = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 0.0]])
    >>> off_line(np.array([[1.0, 0.0, 0.0], [3.0, 3.0, 0.0]]), line).round(3).tolist()
    [0.707, 0.0]
    """
    axis = ends[1] - ends[0]
    length = float(np.linalg.norm(axis))
    unit = axis / length if length > 0.0 else np.full(3, np.nan)
    return np.asarray(np.linalg.norm(np.cross(points - ends[0], unit), axis=-1))
