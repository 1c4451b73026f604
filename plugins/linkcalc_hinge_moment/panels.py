r"""Panels of a lifting surface with a control surface: where vortices and control points lie.

A surface is drawn as stations from root to tip, straight between them, and cut into strips
along the stream. In each strip vortices and control points stand where Lan put them, once
ahead of the hinge line and once aft of it: at

.. math::
    \frac{1}{2} \left( 1 - \cos \frac{(2k - 1) \pi}{2n} \right) \quad \text{and} \quad
    \frac{1}{2} \left( 1 - \cos \frac{k \pi}{n} \right)

of that part's chord, k = 1 .. n. They crowd where the pressure difference is singular: at the
leading edge, at the hinge, at the trailing edge. Strips crowd at the tips and at either end of a
control surface for the same reason.

References
----------
.. [1] C. E. Lan, A quasi-vortex-lattice method in thin wing theory. Journal of Aircraft
   11 (9), 1974 (from memory; the orders of convergence are measured by the tests).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.physics.stations import STRAIGHT, Stations, between, distances, off_line

if TYPE_CHECKING:
    from linkcalc_hinge_moment.lines import Array

__all__ = [
    "Counts",
    "Panels",
    "Planform",
    "cut",
    "fixed",
    "stationed",
    "trapezoid",
    "turned",
    "whole",
]

fixed, turned, whole = 0, 1, 2
"""What moves of a bay between two stations: nothing, what is aft of the hinge line, all of it."""

_SAME = 1e-6  # how near the root or the tip a control surface ends there, over the span


class Planform(NamedTuple):
    """A lifting surface: one side of a pair, or the whole of a single one.

    Attributes
    ----------
    y, z : ndarray, shape (station,)
        Across the stream, from the root to the tip: to starboard and up. Two stations at one
        place make a step in the chord [m].
    leading, trailing : ndarray, shape (station,)
        x of the edges, aft positive [m].
    split : ndarray, shape (station,)
        x of the line that parts the panels, inside the chord: the hinge line where there is
        one [m].
    moving : ndarray of int, shape (station - 1,)
        What moves of each bay between two stations: `fixed`, `turned` or `whole`. A bay that
        moves with all of its chord is a horn balance, or part of an all-moving surface.
    hinge : ndarray, shape (2, 3)
        Inboard and outboard end of the hinge axis [m].
    paired : bool
        Whether there is a mirror image at y = 0: a wing or a tail. A fin has none.
    """

    y: Array
    z: Array
    leading: Array
    trailing: Array
    split: Array
    moving: Array
    hinge: Array
    paired: bool


class Counts(NamedTuple):
    """How finely a surface is cut.

    Attributes
    ----------
    fore, aft : int
        Vortices ahead of the hinge line and aft of it.
    strips : int
        Strips from root to tip.
    """

    fore: int
    aft: int
    strips: int


class Panels(NamedTuple):
    """Vortices and control points of one side, panel after panel.

    Attributes
    ----------
    inboard, outboard : ndarray, shape (panel, 3)
        Ends of the bound vortices; from each a vortex trails aft along x [m].
    control : ndarray, shape (panel, 3)
        Where the flow must be along the surface [m].
    normal : ndarray, shape (panel, 3)
        Unit normals there; they have no component along x.
    deflected : ndarray, shape (panel,)
        Normal velocity at the control points per deflection and speed: 0 where nothing moves,
        the cosine of the hinge line's sweep where it does, half at the hinge itself [1/rad].
    lift, moment : ndarray, shape (panel,)
        Force upwards, and moment about the hinge line of the force on what moves (trailing
        edge down positive), per circulation and per density times speed [m, m^2].
    area, moving_area, moving_span : float
        Of this side; aft of the hinge line of what moves; along the span of it [m^2, m^2, m].
    """

    inboard: Array
    outboard: Array
    control: Array
    normal: Array
    deflected: Array
    lift: Array
    moment: Array
    area: float
    moving_area: float
    moving_span: float


def trapezoid(
    *,
    half_span: float,
    root_chord: float,
    tip_chord: float,
    chord_ratio: float,
    sweep: float = 0.0,
    dihedral: float = 0.0,
    inboard: float = 0.0,
    outboard: float | None = None,
    horn: float = 0.0,
    horn_lead: float = 0.0,
    hinge_position: float | None = None,
    paired: bool = True,
) -> Planform:
    """Draw a straight-tapered surface with one control surface.

    Parameters
    ----------
    half_span : float
        From root to tip, along the surface [m].
    root_chord, tip_chord : float
        Whole chords [m].
    chord_ratio : float
        Chord aft of the hinge line over the whole chord; 1 for an all-moving surface [1].
    sweep : float
        Of the quarter-chord line, aft positive [rad].
    dihedral : float
        Tip up positive [rad].
    inboard, outboard : float
        Ends of the control surface along the span, from the root; outboard is the tip
        where it is not given [m].
    horn : float
        Outer part of the control surface's span that moves with its whole chord [m].
    horn_lead : float
        How far the horn stands out ahead of the leading edge [m].
    hinge_position : float, optional
        Of an all-moving surface: hinge aft of the leading edge at mid-span, over the chord
        there; the hinge line is square to the stream [1].
    paired : bool
        Whether it has a mirror image at the root.

    Returns
    -------
    Planform
        Stations at the root, the ends of the control surface and the tip.

    Raises
    ------
    InputError
        A length is not positive, the control surface is not on the surface, or an all-moving one
        has no hinge position.

    Examples
    --------
    >>> wing = trapezoid(half_span=1.0, root_chord=0.2, tip_chord=0.2, chord_ratio=0.25)
    >>> wing.split.tolist()
    [0.15, 0.15]
    """
    _check_sizes(half_span, (root_chord, tip_chord), chord_ratio)
    chords, tip = np.array([root_chord, tip_chord]), half_span * np.tan(sweep)
    drawn = Stations(
        y=np.array([0.0, half_span]),
        z=np.zeros(2),
        leading=0.25 * (root_chord - chords) + np.array([0.0, tip]),
        chord=chords,
        hinge=(1.0 - chord_ratio) * chords,
    )
    made = stationed(
        drawn,
        chord_ratio=chord_ratio,
        dihedral=dihedral,
        inboard=inboard,
        outboard=outboard,
        horn=horn,
        horn_lead=horn_lead,
        paired=paired,
    )
    if chord_ratio < 1.0:
        return made
    if hinge_position is None:
        raise InputError(
            "hinge_position",
            told("nothing"),
            "where on its chord an all-moving surface is hinged, such as 0.25",
            "Give the hinge's distance from the leading edge over the chord, at mid-span.",
        )
    axis = 0.25 * root_chord + 0.5 * tip + (hinge_position - 0.25) * 0.5 * chords.sum()
    hinge = made.hinge.copy()
    hinge[:, 0] = axis
    return made._replace(
        split=0.5 * (made.leading + made.trailing),
        moving=np.where(made.moving == turned, whole, made.moving),
        hinge=hinge,
    )


def stationed(
    stations: Stations,
    *,
    chord_ratio: float,
    dihedral: float = 0.0,
    inboard: float = 0.0,
    outboard: float | None = None,
    horn: float = 0.0,
    horn_lead: float = 0.0,
    paired: bool = True,
) -> Planform:
    """Draw a surface of any shape, given by stations, with one control surface.

    Parameters
    ----------
    stations : Stations
        From the root to the tip; the hinge line counts where the control surface is.
    chord_ratio : float
        Where the panels part beside the control surface: chord aft of that line over the
        whole chord [1].
    dihedral : float
        By which all of it is turned, tip up positive [rad].
    inboard, outboard : float
        Ends of the control surface along the surface, from the root; outboard is the tip
        where it is not given [m].
    horn : float
        Outer part of the control surface's span that moves with its whole chord [m].
    horn_lead : float
        How far the horn stands out ahead of the leading edge [m].
    paired : bool
        Whether it has a mirror image at the root.

    Returns
    -------
    Planform
        Stations at the given ones and at the ends of control surface and horn.

    Raises
    ------
    InputError
        The control surface is not on the surface.

    Examples
    --------
    >>> root, tip = (0.0, 0.0, 0.0, 0.2, 0.15), (1.0, 0.0, 0.02, 0.1, 0.07)
    >>> wing = stationed(Stations(*np.array([root, tip]).T), chord_ratio=0.25, inboard=0.5)
    >>> wing.y.tolist(), wing.split.round(4).tolist()
    ([0.0, 0.5, 1.0], [0.15, 0.12, 0.09])
    """
    given = distances(stations.y, stations.z)
    half_span = float(given[-1])
    end = half_span if outboard is None else outboard
    # no bay between two places that only rounding tells apart
    inboard, end = (_nearest(place, given, half_span) for place in (inboard, end))
    _check_ends(half_span, (inboard, end))
    places = sorted({*given.tolist(), inboard, end} | ({end - horn} if horn else set()))
    # a horn may step out of the leading edge: two stations at its ends
    doubled = {end - horn, end} & set(places) if horn and horn_lead else set()
    along = np.array(sorted([*places, *(doubled - {half_span})]))
    y, z, leading, chord, aft = between(stations, along)
    middle = 0.5 * (along[:-1] + along[1:])
    on, at_horn = (inboard < middle) & (middle < end), (middle > end - horn) & (middle < end)
    step = np.diff(along) == 0.0
    moving = np.where(on & ~step, np.where(at_horn, whole, turned), fixed)
    inside = (inboard <= along) & (along <= end)
    split = leading + np.where(inside, aft, (1.0 - chord_ratio) * chord)
    trailing = leading + chord
    if horn_lead:
        leading = leading - horn_lead * _beside(moving == whole, len(along), along)
    across, up = np.cos(dihedral), np.sin(dihedral)
    points = np.stack([split, y * across - z * up, y * up + z * across], axis=-1)
    at = np.searchsorted(along, [inboard, end])
    return Planform(
        points[:, 1], points[:, 2], leading, trailing, split, moving, points[at], paired
    )


def _nearest(place: float, given: Array, half_span: float) -> float:
    """Return a place, or the station that it is meant to be."""
    nearest = float(given[np.argmin(np.abs(given - place))])
    return nearest if abs(place - nearest) < _SAME * half_span else place


def _check_sizes(half_span: float, chords: tuple[float, float], ratio: float) -> None:
    if not (half_span > 0 and chords[0] > 0 and chords[1] >= 0):
        raise InputError(
            "planform",
            told("a span or a chord that is not more than zero"),
            "a span and a root chord of more than zero",
            "Give the sizes as measured.",
        )
    if not 0 < ratio <= 1:
        raise InputError(
            "chord_ratio",
            ratio,
            "more than 0, at most 1",
            "Give chord aft of the hinge over chord.",
        )


def _check_ends(half_span: float, ends: tuple[float, float]) -> None:
    inboard, end = ends
    if not 0 <= inboard < end <= half_span * (1 + 1e-9):
        raise InputError(
            "planform",
            told(f"a control surface from {inboard:g} m to {end:g} m of {half_span:g} m"),
            "a control surface that lies on its surface",
            "Give where it begins and ends, from the root.",
        )


def _beside(bay: Array, stations: int, along: Array) -> Array:
    """Stations of a bay; of two at one place the one on the bay's side."""
    wide = np.flatnonzero(bay * (np.diff(along) > 0))
    made = np.zeros(stations)
    made[wide] = made[wide + 1] = 1.0
    return made


def cut(planform: Planform, counts: Counts) -> Panels:
    """Cut a surface into panels.

    Parameters
    ----------
    planform : Planform
        The surface.
    counts : Counts
        How finely.

    Returns
    -------
    Panels
        Strip after strip from the root, each from its leading edge.

    Raises
    ------
    InputError
        Edges that cross, a parting line outside the chord, nothing that moves, or a hinge
        line that is not straight or off the surface.
    """
    _check(planform)
    borders, middles, bay = _strips(planform, counts.strips)
    vortex, control, aft = _chordwise(counts)
    left, right = borders[:-1], borders[1:]
    keep = bay >= 0  # no strip across a step
    a, b, c = (
        _points(planform, place[keep], bay[keep], fractions, aft)
        for place, fractions in ((left, vortex), (right, vortex), (middles, control))
    )
    axis = planform.hinge[1] - planform.hinge[0]
    axis = axis / np.linalg.norm(axis)
    span = b[:, 0] - a[:, 0]
    across = span[:, 1:] / np.linalg.norm(span[:, 1:], axis=-1, keepdims=True)
    normal = np.stack([np.zeros(len(across)), -across[:, 1], across[:, 0]], axis=-1)
    sort = planform.moving[bay[keep]]
    moves = np.where(sort[:, None] == whole, 1.0, aft * (sort[:, None] == turned))
    at_hinge = np.zeros(len(aft))
    at_hinge[counts.fore - 1] = 0.5  # its control point stands on the hinge line
    felt = np.where(sort[:, None] == turned, np.maximum(aft, at_hinge), moves)
    aside = np.cross(axis, normal)[:, 0]
    force = np.cross(np.array([1.0, 0.0, 0.0]), b - a)
    arm = 0.5 * (a + b) - planform.hinge[0]
    moment = np.sum(axis * np.cross(arm, force), axis=-1) * moves
    return Panels(
        a.reshape(-1, 3),
        b.reshape(-1, 3),
        c.reshape(-1, 3),
        np.repeat(normal, len(aft), axis=0),
        (felt * aside[:, None]).ravel(),
        force[..., 2].ravel(),
        moment.ravel(),
        *_areas(planform),
    )


def _check(planform: Planform) -> None:
    lead, split, trail = planform.leading, planform.split, planform.trailing
    if not ((lead < trail).any() and (lead <= trail).all()):
        raise InputError(
            "planform",
            told("edges that cross"),
            "a leading edge that lies ahead of the trailing edge",
            "Give each station its chord, aft of its leading edge.",
        )
    hair = 1e-9 * float(np.max(trail - lead))  # where a hinge line runs out at a pointed tip
    if not ((lead <= split + hair) & (split <= trail + hair)).all():
        raise InputError(
            "planform",
            told("a hinge line off the surface"),
            "a hinge line between leading and trailing edge",
            "Give the hinge line's place at each station.",
        )
    if not (planform.moving != fixed).any():
        raise InputError(
            "planform", told("nothing that moves"), "a control surface", "Say which bays move."
        )
    at = np.flatnonzero(planform.moving == turned)
    stations = np.unique(np.concatenate([at, at + 1]))
    points = np.stack([planform.split, planform.y, planform.z], axis=-1)[stations]
    off = off_line(points, planform.hinge)
    room = STRAIGHT * (trail - lead)[stations].sum() / max(len(stations), 1)
    if (planform.hinge[0] == planform.hinge[1]).all() or not (off <= room).all():
        raise InputError(
            "planform",
            told("a hinge line that is not straight"),
            "a straight hinge line on which the surface turns",
            "Give a control surface for each straight piece.",
        )


def _strips(planform: Planform, strips: int) -> tuple[Array, Array, Array]:
    """Borders and middles of strips, as station plus share of the bay, and their bays."""
    length = np.hypot(np.diff(planform.y), np.diff(planform.z))
    wanted = np.maximum(2, np.rint(strips * length / length.sum()).astype(int))
    borders, middles, bays = [np.zeros(1)], [], []
    for index in np.flatnonzero(length > 0.0):
        count = wanted[index]
        turn = np.pi / count
        bays.append(np.full(count, index))
        borders.append(index + _crowded(turn * np.arange(1, count + 1)))
        middles.append(index + _crowded(turn * (np.arange(count) + 0.5)))
        if index + 1 < len(length) and length[index + 1] == 0.0:
            borders.append(np.array([index + 2.0]))  # over the step, where no strip is
            middles.append(np.array([index + 1.5]))
            bays.append(np.array([-1]))
    return np.concatenate(borders), np.concatenate(middles), np.concatenate(bays)


def _crowded(turn: Array) -> Array:
    """Share of a length by an angle from 0 to pi: dense at both ends."""
    return np.asarray(0.5 * (1.0 - np.cos(turn)))


def _chordwise(counts: Counts) -> tuple[Array, Array, Array]:
    """Vortices and control points as shares of either part (aft: plus 1), and which are aft."""
    vortex, control = [], []
    for part, count in enumerate((counts.fore, counts.aft)):
        k = np.arange(1, count + 1)
        vortex.append(part + _crowded((2 * k - 1) * np.pi / (2 * count)))
        control.append(part + _crowded(k * np.pi / count))
    aft = np.arange(counts.fore + counts.aft) >= counts.fore
    return np.concatenate(vortex), np.concatenate(control), aft.astype(np.float64)


def _points(planform: Planform, place: Array, bay: Array, shares: Array, aft: Array) -> Array:
    """Points at places along the span and shares along the chord, shape (strip, chord, 3)."""
    weight = (place - bay)[:, None]

    def at(values: Array) -> Array:
        return values[bay, None] * (1.0 - weight) + values[bay + 1, None] * weight

    lead, split, trail = at(planform.leading), at(planform.split), at(planform.trailing)
    x = np.where(aft > 0, split + (shares - 1.0) * (trail - split), lead + shares * (split - lead))
    return np.stack(np.broadcast_arrays(x, at(planform.y), at(planform.z)), axis=-1)


def _areas(planform: Planform) -> tuple[float, float, float]:
    """Area of this side, area aft of the hinge axis and span of what moves."""
    length = np.hypot(np.diff(planform.y), np.diff(planform.z))
    chord = planform.trailing - planform.leading
    axis = planform.hinge[1] - planform.hinge[0]
    out = np.stack([planform.y, planform.z], axis=-1) - planform.hinge[0, 1:]
    along = out @ axis[1:] / (axis[1:] @ axis[1:])
    behind = planform.trailing - (planform.hinge[0, 0] + along * axis[0])
    moves = planform.moving != fixed
    area = float(np.sum(length * 0.5 * (chord[:-1] + chord[1:])))
    moving = float(np.sum((length * 0.5 * (behind[:-1] + behind[1:]))[moves]))
    return area, moving, float(np.sum(length[moves]))
