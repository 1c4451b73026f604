r"""Camber by thin-aerofoil theory: what a bent line does to a hinge and to the lift.

A camber line through points is a chain of straight pieces, and theory is linear: each
bend is a plain flap that starts there. So the coefficients are sums of closed forms, exact
for the line through the points, with no series and no quadrature. On Glauert's
x = c (1 - cos(theta)) / 2 a bend with the share e of the chord aft of it lies where
cos(theta_e) = 2e - 1.

References
----------
.. [1] H. Glauert, Theoretical relationships for an aerofoil with hinged flap. ARC
   Reports and Memoranda 1095, 1927.
.. [2] W. G. A. Perring, The theoretical relationships for an aerofoil with a multiply
   hinged flap system. ARC Reports and Memoranda 1171, 1928 (from memory; the closed forms
   here were integrated anew).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike

__all__ = ["Camber", "bend_hinge_moment", "bend_lift", "camber_coefficients", "mean_line"]

Array: TypeAlias = NDArray[np.float64]
Floats: TypeAlias = float | NDArray[np.float64]

STATIONS = 161
"""Points of a mean line taken from an outline."""


class Camber(NamedTuple):
    """Coefficients of a cambered section at zero incidence and deflection.

    Attributes
    ----------
    C_h0 : float or array, shape (...)
        Hinge-moment coefficient, referred to the square of the chord aft of the hinge,
        positive trailing edge down [1].
    c_l0 : float
        Lift coefficient [1].
    """

    C_h0: Floats
    c_l0: float


def bend_hinge_moment(*, chord_ratio: Floats, bend: Floats, overhang: Floats = 0.0) -> Floats:
    r"""Hinge-moment coefficient per angle of a bend anywhere in the chord.

    The pressure difference of the bent line is taken over the moving part, which begins
    at the nose n ahead of the hinge h, with its arms about the hinge. With
    :math:`\varphi = \pi - \theta_n`, :math:`D = \cos\theta_n - \cos\theta_e`,
    :math:`L = \ln|\sin\frac{\theta_n + \theta_e}{2} / \sin\frac{\theta_n - \theta_e}{2}|`

    .. math::
        N &= \tfrac{2}{\pi} \left[ (\pi - \theta_e)(\varphi - \sin\theta_n)
             + D L + \varphi \sin\theta_e \right] \\
        M &= \tfrac{1}{\pi} \left[ (\pi - \theta_e) \left( \varphi (\cos\theta_n -
             \tfrac{1}{2}) + \sin\theta_n - \tfrac{1}{2} \sin\theta_n \cos\theta_n \right)
             + \tfrac{1}{2} \left( D^2 L + \sin\theta_e (2 D \varphi + \varphi \cos\theta_e
             + \sin\theta_n) \right) \right] \\
        c_h &= -\frac{M - \tfrac{1}{2} (\cos\theta_n - \cos\theta_h) N}{E^2}

    Parameters
    ----------
    chord_ratio : float or array, shape (...)
        Chord aft of the hinge line over the whole chord E, more than 0, at most 1 [1].
    bend : float or array, shape (...)
        Share of the chord aft of the bend, 0 to 1 [1]: 1 is incidence, E the deflection
        of the flap itself.
    overhang : float or array, shape (...)
        Chord of the moving part ahead of the hinge over that aft of it, zero or more [1].

    Returns
    -------
    float or array, shape (...)
        Slope c_h per radian of bend, trailing edge down positive [1/rad]. nan out of
        range, and where nose or hinge would lie ahead of the leading edge.

    Notes
    -----
    The deflected nose is taken as sealed and inside the section: what it does to the
    stream by standing out is not in it. Against the two points of the handbook (0.93 and 0.2
    of the plain slopes at overhangs of 0.15 and 0.5, each +-0.1) it gives 0.94 and 0.3 to
    0.5: too little relief for a large overhang, which errs on the safe side.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927 (pressure of a bent line).

    Examples
    --------
    >>> round(float(bend_hinge_moment(chord_ratio=1.0, bend=1.0)), 4)
    -1.5708
    >>> slope = bend_hinge_moment(chord_ratio=0.3, bend=0.3, overhang=0.5)
    >>> round(float(slope / bend_hinge_moment(chord_ratio=0.3, bend=0.3)), 2)
    0.46
    """
    ratio = np.asarray(chord_ratio, dtype=np.float64)
    ahead = np.asarray(overhang, dtype=np.float64)
    moving = ratio * (1.0 + ahead)
    good = (ratio > 0.0) & (ratio <= 1.0) & (ahead >= 0.0) & (moving <= 1.0 + 1e-12)
    share = np.asarray(bend, dtype=np.float64)
    good = good & (share >= 0.0) & (share <= 1.0)
    nose, cos_n, sin_n = _glauert(np.where(good, np.minimum(moving, 1.0), np.nan))
    place, cos_e, sin_e = _glauert(np.where(good, share, np.nan))
    angle, turned, apart = np.pi - nose, np.pi - place, cos_n - cos_e
    peak = _peak(nose, place, apart)
    force = turned * (angle - sin_n) + apart * peak + sin_e * angle
    about_nose = turned * (angle * (cos_n - 0.5) + sin_n - 0.5 * sin_n * cos_n) + 0.5 * (
        apart**2 * peak + sin_e * (2.0 * apart * angle + angle * cos_e + sin_n)
    )
    to_hinge = ratio * ahead  # from the nose, over the chord
    moment = about_nose / np.pi - to_hinge * force * 2.0 / np.pi
    return (-moment / ratio**2)[()]


def bend_lift(*, bend: Floats) -> Floats:
    r"""Lift coefficient per angle of a bend anywhere in the chord.

    .. math:: \frac{\partial c_l}{\partial \delta} = 2 (\pi - \theta_e + \sin\theta_e)

    Parameters
    ----------
    bend : float or array, shape (...)
        Share of the chord aft of the bend, 0 to 1 [1].

    Returns
    -------
    float or array, shape (...)
        Slope [1/rad]; over 2 pi it is the effectiveness of a flap. nan out of range.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.

    Examples
    --------
    >>> round(float(bend_lift(bend=1.0) / np.pi), 4)
    2.0000
    """
    share = np.asarray(bend, dtype=np.float64)
    place, _, sine = _glauert(np.where((share >= 0.0) & (share <= 1.0), share, np.nan))
    return (2.0 * (np.pi - place + sine))[()]


def camber_coefficients(
    x: ArrayLike, z: ArrayLike, *, chord_ratio: Floats, overhang: Floats = 0.0
) -> Camber:
    """Coefficients of a camber line that is given by points.

    Parameters
    ----------
    x, z : array_like, shape (point,)
        Points from the leading to the trailing edge, x aft and z up, in any one unit of
        length; x rises from each to the next. The line between them is straight.
    chord_ratio : float or array, shape (...)
        Chord aft of the hinge line over the whole chord, more than 0, at most 1 [1].
    overhang : float or array, shape (...)
        Chord of the moving part ahead of the hinge over that aft of it [1].

    Returns
    -------
    Camber
        At no incidence of the chord line, which joins the two end points. Each is a sum
        over the pieces of slope times the change of the closed form along the piece.

    Raises
    ------
    InputError
        Fewer than two points, one that is not finite, or x does not rise.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.

    Examples
    --------
    A parabola of 2 % camber lifts 4 pi times its camber:

    >>> x = np.linspace(0.0, 1.0, 201)
    >>> section = camber_coefficients(x, 0.08 * x * (1.0 - x), chord_ratio=0.25)
    >>> round(section.c_l0 / np.pi, 3)
    0.080
    """
    aft, up = _checked("camber_line", x, z)
    if not (np.diff(aft) > 0).all():
        raise InputError(
            "camber_line",
            told("points that do not run aft"),
            "points from the leading to the trailing edge, each further aft than the last",
            "Sort the points along the chord, and leave out double ones.",
        )
    chord = aft[-1] - aft[0]
    slope = np.diff(up) / np.diff(aft) - (up[-1] - up[0]) / chord
    bend = (aft[-1] - aft) / chord
    ratio = np.asarray(chord_ratio, dtype=np.float64)[..., None]
    ahead = np.asarray(overhang, dtype=np.float64)[..., None]
    moment = bend_hinge_moment(chord_ratio=ratio, bend=bend, overhang=ahead)
    at_zero = np.sum(slope * np.diff(moment, axis=-1), axis=-1)[()]
    lift = float(np.sum(slope * np.diff(bend_lift(bend=bend))))
    return Camber(at_zero, lift)


def mean_line(x: ArrayLike, z: ArrayLike) -> tuple[Array, Array]:
    """Camber line of an aerofoil that is given by the points of its outline.

    Parameters
    ----------
    x, z : array_like, shape (point,)
        Points once round the outline, from the trailing edge over one side to the leading
        edge and back over the other, x aft and z up, in any one unit of length. Which side
        comes first does not matter; the trailing edge may be blunt.

    Returns
    -------
    x, z : ndarray, shape (station,)
        Half way between both sides, from the leading to the trailing edge, in chords with
        the chord line as x axis: from (0, 0) to (1, 0).

    Raises
    ------
    InputError
        Fewer than seven points, one that is not finite, an outline that does not begin and
        end at its trailing edge, or one side that doubles back.

    Notes
    -----
    The leading edge is the point farthest from the middle of the trailing edge. Half way
    is taken square to the chord line, as the theory does.

    Examples
    --------
    A circle of points has no camber:

    >>> turn = np.linspace(0.0, 2.0 * np.pi, 41)
    >>> x, z = mean_line(np.cos(turn), np.sin(turn))
    >>> bool(abs(z).max() < 1e-12)
    True
    """
    aft, up = _checked("coordinates", x, z, least=7)
    back = np.array([aft[0] + aft[-1], up[0] + up[-1]]) / 2.0
    front = int(np.argmax(np.hypot(aft - back[0], up - back[1])))
    chord = back - np.array([aft[front], up[front]])
    length = float(np.hypot(*chord))
    along = ((aft - aft[front]) * chord[0] + (up - up[front]) * chord[1]) / length**2
    across = ((up - up[front]) * chord[0] - (aft - aft[front]) * chord[1]) / length**2
    if not 0 < front < len(aft) - 1 or abs(along[0] - along[-1]) > 0.05:
        raise _bad_outline("an outline that does not begin and end at the trailing edge")
    sides = (along[front::-1], across[front::-1]), (along[front:], across[front:])
    if any((np.diff(side) <= 0).any() for side, _ in sides):
        raise _bad_outline("an outline that doubles back")
    station = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, STATIONS)))
    # a blunt edge is square to the mean line, so that one side ends a little sooner
    upper, lower = (np.interp(station * side[-1], side, height) for side, height in sides)
    middle = 0.5 * (upper + lower)
    return station, middle - middle[0] * (1.0 - station) - middle[-1] * station


def _glauert(share: Array) -> tuple[Array, Array, Array]:
    """Angle of a place by the share of the chord aft of it [rad], its cosine and sine [1]."""
    angle = 2.0 * np.arctan2(np.sqrt(1.0 - share), np.sqrt(share))
    return angle, 2.0 * share - 1.0, 2.0 * np.sqrt(share * (1.0 - share))


def _peak(nose: Array, place: Array, apart: Array) -> Array:
    """Logarithm of the pressure peak at the bend; 0 at the bend, where its factor is 0."""
    near = np.abs(apart) < 1e-14
    half_gap = np.where(near, 1.0, np.sin(0.5 * (nose - place)))
    half_sum = np.where(near, 1.0, np.sin(0.5 * (nose + place)))
    return np.log(np.abs(half_sum / half_gap))


def _checked(name: str, x: ArrayLike, z: ArrayLike, least: int = 2) -> Iterator[Array]:
    aft, up = np.asarray(x, dtype=np.float64), np.asarray(z, dtype=np.float64)
    good = aft.ndim == 1 and aft.shape == up.shape and len(aft) >= least
    if not good or not (np.isfinite(aft).all() and np.isfinite(up).all()):
        raise InputError(
            name,
            told(f"{aft.size} and {up.size} numbers, or one that is not finite"),
            f"at least {least} points, each with an x and a z",
            "Give the points in order.",
        )
    return iter((aft, up))


def _bad_outline(found: str) -> InputError:
    return InputError(
        "coordinates",
        told(found),
        "points once round, from the trailing edge over one side and back over the other",
        "Put the points in this order, and leave out double ones.",
    )
