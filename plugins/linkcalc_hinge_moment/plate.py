"""Hinge moment of a surface with separated flow, by free-streamline theory."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.lines import (
    common_shape,
    declared,
    signed_moments,
    taper_factor,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = [
    "SLOPE_AT_ZERO",
    "Plate",
    "broadside_force",
    "centre_of_pressure",
    "hinge_moment_coefficient",
    "normal_force_coefficient",
    "separated_hinge_moment",
]

SQUARE_BROADSIDE, LONG_BROADSIDE = 1.17, 1.98
"""Measured force coefficients of a square and of a long plate broadside [1]; see `broadside_force`."""

SLOPE_AT_ZERO = -5.0 * np.pi / 32.0
"""dC_h/da at no angle: 2 pi / 4 times the arm of 5/16 [1/rad]."""


def normal_force_coefficient(*, angle: Floats) -> Floats:
    r"""Normal-force coefficient of a flat plate with a cavity behind it.

    .. math:: C_N = \frac{2 \pi \sin a}{4 + \pi \sin a}

    Parameters
    ----------
    angle : float or array, shape (...)
        Angle of the plate to the stream a, 0 to pi/2 [rad].

    Returns
    -------
    float or array, shape (...)
        C_N, referred to q and the plate's chord, zero or more [1]. nan gives nan; the
        range is not checked.

    Notes
    -----
    Two-dimensional, pressure of the stream in the cavity. A real wake sucks: a long plate
    broadside measures 1.98 against 0.88 here, so this is a lower bound.

    References
    ----------
    .. [1] Lord Rayleigh, 1876, after Kirchhoff; H. Lamb, Hydrodynamics, art. 77.

    Examples
    --------
    >>> round(float(normal_force_coefficient(angle=np.pi / 2)), 3)
    0.880
    """
    sine = np.sin(angle)
    return 2.0 * np.pi * sine / (4.0 + np.pi * sine)


def centre_of_pressure(*, angle: Floats) -> Floats:
    r"""Centre of pressure of a flat plate with a cavity behind it.

    .. math:: \frac{x}{c} = \frac{1}{2} - \frac{3}{4} \frac{\cos a}{4 + \pi \sin a}

    Parameters
    ----------
    angle : float or array, shape (...)
        Angle of the plate to the stream a, 0 to pi/2 [rad].

    Returns
    -------
    float or array, shape (...)
        Distance from the leading edge over the chord, 5/16 at no angle to 1/2 broadside
        [1]. nan gives nan; the range is not checked.

    References
    ----------
    .. [1] Lord Rayleigh, 1876; H. Lamb, Hydrodynamics, art. 77.

    Examples
    --------
    >>> float(centre_of_pressure(angle=0.0))
    0.3125
    """
    return 0.5 - 0.75 * np.cos(angle) / (4.0 + np.pi * np.sin(angle))


def hinge_moment_coefficient(*, angle: Floats) -> Floats:
    r"""Hinge-moment coefficient of a plate that is hinged at its leading edge.

    .. math:: C_h = -\operatorname{sgn}(a) \, C_N(|a|) \, \frac{x}{c}(|a|)

    Parameters
    ----------
    angle : float or array, shape (...)
        Signed angle of the plate to the stream a, positive trailing edge down [rad].

    Returns
    -------
    float or array, shape (...)
        C_h, referred to q and the square of the chord, per unit of span, positive trailing
        edge down: it always turns the plate back into the stream [1]. nan gives nan.

    Notes
    -----
    From 90 degrees on, either way, the value at 90 degrees stands. The free streamlines
    leave both edges of a plate whose hinged edge points upstream; past broadside the
    hinged edge is the downstream one and the theory, which knows nothing of what the hinge
    is fixed to, has no answer. The coefficient grows all the way to 90 degrees, so that
    the value kept is the largest that it has.

    References
    ----------
    .. [1] Lord Rayleigh, 1876; H. Lamb, Hydrodynamics, art. 77.

    Examples
    --------
    >>> round(float(hinge_moment_coefficient(angle=-np.pi / 2)), 2)
    0.44
    """
    size = np.minimum(np.abs(angle), 0.5 * np.pi)
    force = normal_force_coefficient(angle=size)
    return -np.sign(angle) * force * centre_of_pressure(angle=size)


def broadside_force(*, aspect_ratio: Floats) -> Floats:
    r"""Measured force coefficient of a plate broadside, by aspect ratio.

    .. math:: C_N = 1.98 - \frac{1.98 - 1.17}{A}, \qquad A = \max(AR, 1/AR)

    Parameters
    ----------
    aspect_ratio : float or array, shape (...)
        Span over chord of the plate, more than 0, infinite for a long one [1].

    Returns
    -------
    float or array, shape (...)
        C_N, from 1.17 (square) to 1.98 (long) [1]. nan for nan and for zero or less.

    Notes
    -----
    The source has the two ends; the line between is ours. Free plates of aspect ratios
    from 5 to 20 are said to bear 1.2 to 1.5 (from memory), less than the line has. A plate
    that is hinged to a wing has that for a wall beside its wake, which is one more reason to
    keep the line.

    References
    ----------
    .. [1] C. Matthews, Aeronautical Engineer's Data Book, Fig. 5.13(b), p. 95.

    Examples
    --------
    >>> [round(float(broadside_force(aspect_ratio=ratio)), 3) for ratio in (1.0, 5.0, np.inf)]
    [1.17, 1.818, 1.98]
    """
    ratio = np.asarray(aspect_ratio, dtype=np.float64)
    ratio = np.where(ratio > 0.0, ratio, np.nan)
    slender = np.minimum(ratio, 1.0 / ratio)
    return (LONG_BROADSIDE - (LONG_BROADSIDE - SQUARE_BROADSIDE) * slender)[()]


def separated_hinge_moment(*, angle: Floats, broadside: Floats) -> Floats:
    r"""Hinge-moment coefficient of a fully separated plate, scaled to a measured force.

    .. math:: C_h = \frac{C_{N,90}}{C_N(90^\circ)} \, C_h(a)

    Parameters
    ----------
    angle : float or array, shape (...)
        Signed angle of the plate to the stream a, positive trailing edge down [rad].
    broadside : float or array, shape (...)
        Measured force coefficient broadside, as `broadside_force` gives it [1].

    Returns
    -------
    float or array, shape (...)
        C_h, positive trailing edge down [1]: free-streamline theory's shape with angle and
        its centre of pressure, with the measured force broadside in place of 0.88.

    Notes
    -----
    That the suction in the wake grows with angle as the rest of the force does is a
    supposition (common practice, no source).

    References
    ----------
    .. [1] H. Lamb, Hydrodynamics, art. 77 (shape); C. Matthews, Aeronautical Engineer's Data
       Book, Fig. 5.13(b), p. 95 (size).

    Examples
    --------
    >>> round(float(separated_hinge_moment(angle=np.pi / 2, broadside=1.98)), 2)
    -0.99
    """
    return (
        broadside
        / normal_force_coefficient(angle=0.5 * np.pi)
        * hinge_moment_coefficient(angle=angle)
    )


class Plate:
    r"""Free-streamline plate: what a surface with separated flow bears at least.

    The surface aft of the hinge line stands alone in the stream as a flat plate that is
    hinged at its leading edge, at the angle a = delta + alpha. With C_h(a) of
    `hinge_moment_coefficient` the best line is C_h(delta + alpha); in the moment that
    opposes the deflection, with f(a) = -C_h(a),

    .. math::
        \text{high} = f(|\delta| + |\alpha|_{max}), \qquad
        \text{low} = f(|\delta| - |\alpha|_{max}) ,

    times q S_f c_f and the taper factor. Then the band is stretched where it does not hold
    the best line. Beyond 90 degrees the value at 90 degrees stands (see
    `hinge_moment_coefficient` for why).

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field: a quarter of a turn either way; dynamic pressure to Mach 0.3 at sea
        level, for an incompressible stream.
    caution
        What a report says wherever it is used.
    fields
        Fields needed, with the unit of each.

    Notes
    -----
    A floor, not an estimate for attached flow: for a deflection in flight (to 30 degrees)
    without incidence it lies below thin-aerofoil theory. For incidence alone it may lie
    above, because the plate has no chord ahead of the hinge that turns the stream for it.
    Broadside a real plate, with suction in its wake, bears 1.3 (square) to 2.25 times
    (long) as much.

    References
    ----------
    .. [1] Lord Rayleigh, 1876, after Kirchhoff; H. Lamb, Hydrodynamics, art. 77.

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "incidence": 0.0, "largest_incidence": 0.0}
    >>> surface = {"area": 0.010, "chord": 0.050, "taper": 1.0}
    >>> moment = Plate()({**flow, **surface, "deflection": np.pi / 2})
    >>> round(float(moment["best"]), 3)
    -0.088
    """

    name: str = "plate"
    description: str = "flat plate with separated flow, free streamlines: a floor"
    sources: tuple[str, ...] = (
        "Lord Rayleigh, 1876, after Kirchhoff; H. Lamb, Hydrodynamics, art. 77",
    )
    caution: str = (
        "all three lines are a floor, without suction in the wake: broadside a real plate bears "
        "1.3 (square) to 2.25 times (long) as much (C. Matthews, Aeronautical Engineer's Data Book); past 90 "
        "degrees to the stream the value at 90 counts, the largest"
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {
            "dynamic_pressure": (0.0, 6400.0),
            "incidence": (-1.571, 1.571),
            "largest_incidence": (0.0, 1.571),
            "deflection": (-1.571, 1.571),
        }
    )
    fields: Mapping[str, str] = MappingProxyType(
        {
            "dynamic_pressure": "Pa",
            "incidence": "rad",
            "largest_incidence": "rad",
            "deflection": "rad",
            "area": "m^2",
            "chord": "m",
            "taper": "1",
        }
    )

    def __call__(self, fields: Mapping[str, Array]) -> Mapping[str, Array]:
        """Evaluate the three lines.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields in their declared units; they broadcast together. They are
            not changed. nan gives nan in what depends on it.

        Returns
        -------
        mapping of str to array
            All of the fields' common shape, read-only: "low", "best" and "high", the hinge
            moment [N m], positive trailing edge down, with low <= best <= high in the
            moment that opposes the deflection (neutral counts as positive, so there low
            and high differ in sign); "other_high", which at neutral is the high line with
            neutral counted as negative; "C_h0" [1], which is 0, "C_h_alpha" and "C_h_delta"
            [1/rad], the slopes at no angle with the taper in them; "k_s" [1], which is 1.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        size = np.abs(f["deflection"])
        moments = signed_moments(
            f,
            low=-hinge_moment_coefficient(angle=size - f["largest_incidence"]),
            best=hinge_moment_coefficient(angle=f["deflection"] + f["incidence"]),
            high=-hinge_moment_coefficient(angle=size + f["largest_incidence"]),
        )
        slope = taper_factor(f["taper"]) * SLOPE_AT_ZERO
        slopes = {"C_h0": np.zeros(()), "C_h_alpha": slope, "C_h_delta": slope}
        return common_shape(f, {**moments, **slopes, "k_s": np.ones(())})
