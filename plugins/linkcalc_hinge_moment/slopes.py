r"""Hinge-moment slopes of a plain flap by thin-aerofoil theory.

Closed forms for a thin section with a sealed, unbalanced flap in inviscid flow. On
Glauert's x = c (1 - cos(theta)) / 2 a flap of chord ratio E takes the part
pi - phi <= theta <= pi, where cos(phi) = 1 - 2E.

References
----------
.. [1] H. Glauert, Theoretical relationships for an aerofoil with hinged flap. ARC
   Reports and Memoranda 1095, 1927.
.. [2] E. L. Houghton and P. W. Carpenter, Aerodynamics for Engineering Students,
   sect. 4.5 (the same theory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from linkcalc_hinge_moment.lines import Floats

__all__ = ["deflection_slope", "incidence_slope"]


def incidence_slope(*, chord_ratio: Floats) -> Floats:
    r"""Slope of the section hinge-moment coefficient with incidence.

    .. math:: b_1 = -\frac{\left( \tfrac{3}{2} - E \right) \sin\phi
              - \left( \tfrac{3}{2} - 2E \right) \phi}{E^2}, \qquad \cos\phi = 1 - 2E

    Parameters
    ----------
    chord_ratio : float or array, shape (...)
        Chord aft of the hinge line over the whole chord E, more than 0, at most 1 [1].

    Returns
    -------
    float or array, shape (...)
        Slope b_1 = c_h_alpha [1/rad]; negative, because the air lifts the trailing edge
        at a positive incidence. It refers to q times the square of the chord aft of the
        hinge line, per unit of span. nan for nan and for a chord ratio out of range.

    Notes
    -----
    Exact for the theory. At chord ratios below 0.001 the terms of the numerator cancel
    and digits are lost.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.

    Examples
    --------
    With the hinge at the leading edge, a lift slope of 2 pi acts at a quarter of the
    chord: the slope is -pi/2.

    >>> round(float(incidence_slope(chord_ratio=1.0)), 4)
    -1.5708
    """
    ratio, angle, sine = _flap(chord_ratio)
    return -((1.5 - ratio) * sine - (1.5 - 2.0 * ratio) * angle) / ratio**2


def deflection_slope(*, chord_ratio: Floats) -> Floats:
    r"""Slope of the section hinge-moment coefficient with deflection.

    .. math:: b_2 = -\frac{2E (1 - E) + \phi \sin\phi
              - \left( \tfrac{3}{2} - 2E \right) \phi^2}{\pi E^2}, \qquad \cos\phi = 1 - 2E

    Parameters
    ----------
    chord_ratio : float or array, shape (...)
        Chord aft of the hinge line over the whole chord E, more than 0, at most 1 [1].

    Returns
    -------
    float or array, shape (...)
        Slope b_2 = c_h_delta [1/rad], at constant incidence of the part ahead of the
        hinge; negative: the air pushes the surface back. It refers to q times the square
        of the chord aft of the hinge line, per unit of span. nan for nan and for a chord
        ratio out of range.

    Notes
    -----
    Exact for the theory. At chord ratios below 0.001 the terms of the numerator cancel
    and digits are lost.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.

    Examples
    --------
    >>> round(float(deflection_slope(chord_ratio=0.25)), 4)
    -0.9436
    """
    ratio, angle, sine = _flap(chord_ratio)
    numerator = 2.0 * ratio * (1.0 - ratio) + angle * sine - (1.5 - 2.0 * ratio) * angle**2
    return -numerator / (np.pi * ratio**2)


def _flap(chord_ratio: Floats) -> tuple[Floats, Floats, Floats]:
    """Chord ratio in range or nan [1], the flap's angle phi [rad] and its sine [1]."""
    ratio = np.asarray(chord_ratio, dtype=np.float64)
    ratio = np.where((ratio > 0.0) & (ratio <= 1.0), ratio, np.nan)
    # the arc tangent of both roots keeps the digits at either end, an arc sine loses half of them
    angle = 2.0 * np.arctan2(np.sqrt(ratio), np.sqrt(1.0 - ratio))
    return ratio, angle, 2.0 * np.sqrt(ratio * (1.0 - ratio))
