r"""A vortex lattice: circulations of a lifting surface, and what they do to its hinge.

Every panel has a horseshoe vortex; its trailing parts run aft along x. The condition that no
air passes the control points is one set of linear equations. Its right-hand side is linear in
incidence, sideslip, rates of roll and pitch and deflection, so that a handful of unit
right-hand sides with one factored matrix answers every combination of them by superposition. A
pair that mirrors itself is solved as its symmetric and its antisymmetric half.

The hinge moment is the sum over the panels that move of the panel's force (density times speed
times circulation, along the stream crossed with the vortex) with its arm about the hinge
line, never from section coefficients.

References
----------
.. [1] J. Katz and A. Plotkin, Low-Speed Aerodynamics, 2nd ed. Cambridge University Press,
   2001, sect. 2.12 (velocity of a straight vortex) and 12.3 (from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from linkcalc_hinge_moment.lines import Array
    from linkcalc_hinge_moment.panels import Panels

__all__ = ["Response", "circulations", "downwash", "respond"]

_BLOCK = 8192  # pairs at a time: temporaries stay below what the allocator maps anew


class Response(NamedTuple):
    """What unit motions do to the hinge of this side, per angle.

    Every member is a hinge-moment coefficient slope, M / (q S_f c_f) with the area aft of
    the hinge line and its mean chord, positive trailing edge down; the lift slopes beside
    them refer to the area of this side.

    Attributes
    ----------
    incidence, sideslip, roll, pitch, alike, opposite : float
        Per incidence (stream upwards), per sideslip (wind from starboard), per roll rate over
        speed (starboard side down) [m], per pitch rate over speed about x = 0 (nose up) [m],
        per deflection of both sides alike, and of this side with the other one opposite
        [1/rad]. A single surface has one deflection: `alike` and `opposite` are the same.
    lift_of_incidence, lift_of_alike, lift_of_opposite : float
        Force upwards on this side [1/rad].
    """

    incidence: float
    sideslip: float
    roll: float
    pitch: float
    alike: float
    opposite: float
    lift_of_incidence: float
    lift_of_alike: float
    lift_of_opposite: float


def downwash(panels: Panels, *, mirrored: bool) -> Array:
    """Normal velocity that every vortex of unit circulation induces at every control point.

    Parameters
    ----------
    panels : Panels
        Of one side.
    mirrored : bool
        Whether the vortices are those of the mirror image at y = 0.

    Returns
    -------
    ndarray, shape (control point, vortex)
        Along the normals [1/m].
    """
    start, end = panels.inboard, panels.outboard
    if mirrored:
        mirror = np.array([1.0, -1.0, 1.0])
        start, end = mirror * end, mirror * start
    columns = [np.ascontiguousarray(each) for each in (*start.T, *end.T, *(end - start).T)]
    count = len(start)
    rows = max(1, _BLOCK // count)
    made = np.empty((len(panels.control), count))
    for first in range(0, len(made), rows):
        part = slice(first, first + rows)
        made[part] = _normal_velocity(panels.control[part], panels.normal[part], columns)
    return made


def _normal_velocity(control: Array, normal: Array, columns: list[Array]) -> Array:
    """Velocity of horseshoes along the normals, which have no component along x."""
    ax, ay, az, bx, by, bz, sx, sy, sz = columns
    px, py, pz = (control[:, k, None] for k in range(3))
    ny, nz = normal[:, 1, None], normal[:, 2, None]
    x1, y1, z1 = px - ax, py - ay, pz - az
    x2, y2, z2 = px - bx, py - by, pz - bz
    side1, side2 = y1 * y1 + z1 * z1, y2 * y2 + z2 * z2
    r1, r2 = np.sqrt(x1 * x1 + side1), np.sqrt(x2 * x2 + side2)
    across1, across2 = nz * y1 - ny * z1, nz * y2 - ny * z2  # n . (x axis cross r)
    trailing = across2 * (1.0 + x2 / r2) / side2 - across1 * (1.0 + x1 / r1) / side1
    # bound part: s cross r1 along n, over a form that stays finite on the line's extension
    triple = (ny * sz - nz * sy) * x1 + sx * across1
    product = r1 * r2
    ahead = product + (x1 * x2 + y1 * y2 + z1 * z2)
    velocity: Array = (trailing + triple * (r1 + r2) / (product * ahead)) / (4.0 * np.pi)
    return velocity


def _motions(panels: Panels) -> dict[str, Array]:
    """Normal velocity of the stream at the control points, over speed, for unit motions."""
    _, ny, nz = panels.normal.T
    x, y, z = panels.control.T
    return {
        "incidence": nz,
        "sideslip": -ny,
        "roll": y * nz - z * ny,
        "pitch": x * nz,
        "deflection": panels.deflected,
    }


def circulations(panels: Panels, *, paired: bool) -> dict[str, Array]:
    """Circulations over speed for unit motions.

    Parameters
    ----------
    panels : Panels
        Of one side.
    paired : bool
        Whether there is a mirror image at y = 0.

    Returns
    -------
    dict of str to ndarray, shape (panel,)
        By the names of `Response`'s first six members [m].
    """
    motion = _motions(panels)
    own = downwash(panels, mirrored=False)
    if not paired:
        names = ["incidence", "sideslip", "roll", "pitch", "deflection"]
        found = _solved(own, motion, names)
        turned = found.pop("deflection")
        return found | {"alike": turned, "opposite": turned}
    other = downwash(panels, mirrored=True)
    alike = _solved(own + other, motion, ["incidence", "pitch", "deflection"])
    opposite = _solved(own - other, motion, ["sideslip", "roll", "deflection"])
    both = {"alike": alike.pop("deflection"), "opposite": opposite.pop("deflection")}
    return alike | opposite | both


def _solved(matrix: Array, motion: dict[str, Array], names: list[str]) -> dict[str, Array]:
    right = np.stack([-motion[name] for name in names], axis=-1)
    return dict(zip(names, np.linalg.solve(matrix, right).T, strict=True))


def respond(panels: Panels, *, paired: bool) -> Response:
    """Hinge-moment and lift slopes of a surface.

    Parameters
    ----------
    panels : Panels
        Of one side.
    paired : bool
        Whether there is a mirror image at y = 0.

    Returns
    -------
    Response
        Of this panelling, not extrapolated.

    Raises
    ------
    numpy.linalg.LinAlgError
        The equations are singular.

    Examples
    --------
    >>> from linkcalc_hinge_moment.panels import Counts, cut, trapezoid
    >>> wing = trapezoid(half_span=3.0, root_chord=1.0, tip_chord=1.0, chord_ratio=0.3)
    >>> slopes = respond(cut(wing, Counts(6, 4, 12)), paired=True)
    >>> round(slopes.lift_of_incidence, 2)
    4.21
    """
    found = circulations(panels, paired=paired)
    scale = 2.0 * panels.moving_span / panels.moving_area**2  # over q S_f c_f, c_f = S_f / span
    hinge = {name: float(scale * panels.moment @ each) for name, each in found.items()}
    lift = {name: float(2.0 / panels.area * panels.lift @ each) for name, each in found.items()}
    return Response(
        **hinge,
        lift_of_incidence=lift["incidence"],
        lift_of_alike=lift["alike"],
        lift_of_opposite=lift["opposite"],
    )
