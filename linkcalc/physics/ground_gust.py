"""Ground gusts: what the regulations let a parked or taxiing aircraft bear at its hinges.

References
----------
.. [1] 14 CFR 23.415 (pre-2017 text); 14 CFR 25.415; CS 22.415.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "FACTORS",
    "LARGEST_FACTOR",
    "SAILPLANE_SPEED",
    "TRANSPORT_SPEED",
    "design_speed",
    "hinge_moment",
]

Floats: TypeAlias = float | NDArray[np.float64]

FOOT = 0.3048
POUND_PER_SQUARE_FOOT = 4.4482216152605 / FOOT**2
"""A pound-force on a square foot [Pa]."""

FACTORS: Mapping[str, float] = MappingProxyType(
    {
        "aileron, control held in the middle": 0.75,
        "ailerons at full throw": 0.50,
        "elevator at full throw": 0.75,
        "rudder in neutral or at full throw": 0.75,
    }
)
"""K by surface and position; either sign (14 CFR 23.415(b), CS 22.415) [1]."""

LARGEST_FACTOR = max(FACTORS.values())
"""K where nothing is known of the surface's part and position [1]."""

SAILPLANE_SPEED = 100.0 / 3.6
"""CS 22.415: 100 km/h [m/s]."""
TRANSPORT_SPEED = 65.0 * 1852.0 / 3600.0
"""14 CFR 25.415: 65 knots [m/s]."""


def design_speed(*, wing_loading: Floats) -> Floats:
    r"""Wind that a small aeroplane is to bear on the ground.

    .. math:: V = \min \left( 88, \; 14.6 \sqrt{W/S} + 14.6 \right)

    in feet per second, with the wing loading W/S in pounds per square foot.

    Parameters
    ----------
    wing_loading : float or array, shape (...)
        Weight over wing area, zero or more [Pa].

    Returns
    -------
    float or array, shape (...)
        [m/s]. nan for a wing loading below zero.

    References
    ----------
    .. [1] 14 CFR 23.415(a)(2) (pre-2017 text).

    Examples
    --------
    >>> round(float(design_speed(wing_loading=60.0)), 1)
    9.4
    """
    loading = np.asarray(wing_loading, dtype=np.float64) / POUND_PER_SQUARE_FOOT
    loading = np.where(loading >= 0.0, loading, np.nan)
    return (np.minimum(88.0, 14.6 * np.sqrt(loading) + 14.6) * FOOT)[()]


def hinge_moment(
    *, factor: Floats, chord: Floats, area: Floats, speed: Floats, density: Floats
) -> Floats:
    r"""Limit hinge moment of a ground gust.

    .. math:: H = K \, c \, S \, \tfrac{1}{2} \rho V^2

    Parameters
    ----------
    factor : float or array, shape (...)
        K, as `FACTORS` has it; either sign [1].
    chord, area : float or array, shape (...)
        Mean chord and area behind the hinge line [m, m^2].
    speed, density : float or array, shape (...)
        Of the wind, and of the air [m/s, kg/m^3].

    Returns
    -------
    float or array, shape (...)
        With the sign of the factor [N m].

    References
    ----------
    .. [1] 14 CFR 23.415(a)(2) (pre-2017 text); CS 22.415; 14 CFR 25.415(b).

    Examples
    --------
    >>> moment = hinge_moment(
    ...     factor=0.75, chord=0.04, area=0.02, speed=SAILPLANE_SPEED, density=1.225
    ... )
    >>> round(float(moment), 3)
    0.284
    """
    return factor * chord * area * 0.5 * density * np.asarray(speed) ** 2
