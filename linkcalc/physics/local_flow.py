r"""The flow at a surface: behind a wing, in a propeller's slipstream, in a gust.

References
----------
.. [1] H. Glauert, The Elements of Aerofoil and Airscrew Theory. Cambridge University Press,
   1926 (momentum theory of the propeller and of the wing; from memory).
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Slipstream",
    "downwash_angle",
    "gust_incidence",
    "slipstream",
    "slipstream_at_full_power",
    "tail_incidence",
]

Floats: TypeAlias = float | NDArray[np.float64]

_ROUNDS = 60  # Newton's method on a convex cubic from its safe side


class Slipstream(NamedTuple):
    """What a propeller makes of the stream.

    Attributes
    ----------
    thrust : float or array, shape (...)
        Along the stream [N].
    at_disc, far : float or array, shape (...)
        Speed through the disc and far behind it [m/s].
    """

    thrust: Floats
    at_disc: Floats
    far: Floats


def downwash_angle(*, lift_coefficient: Floats, aspect_ratio: Floats) -> Floats:
    r"""Downwash far behind a wing with elliptic lift.

    .. math:: \varepsilon = \frac{2 C_L}{\pi \, AR}

    Parameters
    ----------
    lift_coefficient : float or array, shape (...)
        C_L of the wing [1].
    aspect_ratio : float or array, shape (...)
        AR of the wing, more than zero [1].

    Returns
    -------
    float or array, shape (...)
        Angle by which the stream is turned down, positive for positive lift [rad]. nan for
        an aspect ratio of zero or less.

    Notes
    -----
    Twice the downwash at the wing itself. A tail one or two spans behind, near the sheet, sees
    most of it; one high above or below it sees less (common practice, no source).

    References
    ----------
    .. [1] L. Prandtl's lifting line; H. Glauert, The Elements of Aerofoil and Airscrew Theory.

    Examples
    --------
    >>> round(float(np.degrees(downwash_angle(lift_coefficient=0.5, aspect_ratio=8.0))), 2)
    2.28
    """
    ratio = np.where(np.asarray(aspect_ratio) > 0.0, aspect_ratio, np.nan)
    return (2.0 * np.asarray(lift_coefficient) / (np.pi * ratio))[()]


def tail_incidence(*, incidence: Floats, downwash: Floats, setting: Floats = 0.0) -> Floats:
    r"""Incidence of a tail in the downwash of a wing.

    .. math:: \alpha_t = \alpha - \varepsilon + i_t

    Parameters
    ----------
    incidence : float or array, shape (...)
        Of the line that the setting is measured from [rad].
    downwash : float or array, shape (...)
        As `downwash_angle` gives it [rad].
    setting : float or array, shape (...)
        Of the tail, leading edge up positive [rad].

    Returns
    -------
    float or array, shape (...)
        [rad].

    Examples
    --------
    >>> round(tail_incidence(incidence=0.10, downwash=0.04, setting=-0.02), 3)
    0.040
    """
    return incidence - downwash + setting


def gust_incidence(*, gust_speed: Floats, airspeed: Floats) -> Floats:
    r"""Change of incidence by a gust square to the path.

    .. math:: \Delta\alpha = \arctan \frac{w}{V}

    Parameters
    ----------
    gust_speed : float or array, shape (...)
        Speed w, positive upwards, on a fin positive from starboard [m/s].
    airspeed : float or array, shape (...)
        V before the gust, zero or more [m/s].

    Returns
    -------
    float or array, shape (...)
        [rad]. The gust is sharp-edged: no alleviation is counted, which is the safe side.

    Examples
    --------
    >>> round(float(np.degrees(gust_incidence(gust_speed=3.0, airspeed=20.0))), 2)
    8.53
    """
    return np.arctan2(gust_speed, airspeed)


def slipstream(*, thrust: Floats, speed: Floats, density: Floats, disc_area: Floats) -> Slipstream:
    r"""Slipstream of a propeller of known thrust, by momentum theory.

    .. math:: V_s^2 = V^2 + \frac{2 T}{\rho A}, \qquad V_d = \frac{V + V_s}{2}

    Parameters
    ----------
    thrust : float or array, shape (...)
        T; negative for a propeller that brakes [N].
    speed : float or array, shape (...)
        V of flight, zero or more [m/s].
    density, disc_area : float or array, shape (...)
        Of the air, and of the disc that the propeller sweeps [kg/m^3, m^2].

    Returns
    -------
    Slipstream
        nan where a brake takes more than the stream has, and for a density or area that is not
        more than zero.

    Notes
    -----
    Swirl and the hub's wake are left out. A surface close behind sees between the speed at the
    disc and the one far behind; the one far behind is the safe side.

    References
    ----------
    .. [1] W. J. M. Rankine and R. E. Froude, in H. Glauert, The Elements of Aerofoil and Airscrew
       Theory (from memory).

    Examples
    --------
    >>> flow = slipstream(thrust=10.0, speed=15.0, density=1.225, disc_area=0.05)
    >>> round(float(flow.far), 1)
    23.5
    """
    mass = np.asarray(density) * disc_area
    mass = np.where(mass > 0.0, mass, np.nan)
    squared = np.asarray(speed) ** 2 + 2.0 * np.asarray(thrust) / mass
    far = np.sqrt(np.where(squared >= 0.0, squared, np.nan))
    return Slipstream(np.asarray(thrust)[()], (0.5 * (speed + far))[()], far[()])


def slipstream_at_full_power(
    *, static_thrust: Floats, speed: Floats, density: Floats, disc_area: Floats
) -> Slipstream:
    r"""Slipstream of a propeller of known static thrust, with its ideal power held.

    .. math:: (V + v)^2 v = v_0^3, \qquad v_0 = \sqrt{\frac{T_0}{2 \rho A}}, \qquad
              T = 2 \rho A (V + v) v, \quad V_s = V + 2 v

    Parameters
    ----------
    static_thrust : float or array, shape (...)
        T_0 at no speed, zero or more [N].
    speed : float or array, shape (...)
        V of flight, zero or more [m/s].
    density, disc_area : float or array, shape (...)
        Of the air, and of the disc that the propeller sweeps [kg/m^3, m^2].

    Returns
    -------
    Slipstream
        nan for a thrust or speed below zero, a density or area that is not more than zero.

    Notes
    -----
    That the power which goes into the stream stays the same is an upper bound for a fixed-pitch
    propeller, whose thrust falls faster with speed; so the slipstream is rather too fast.

    References
    ----------
    .. [1] As `slipstream`.

    Examples
    --------
    >>> flow = slipstream_at_full_power(
    ...     static_thrust=10.0, speed=15.0, density=1.225, disc_area=0.05
    ... )
    >>> round(float(flow.far), 1), round(float(flow.thrust), 1)
    (19.9, 5.2)
    """
    fast, thrust = np.asarray(speed, dtype=np.float64), np.asarray(static_thrust)
    mass = np.asarray(density) * disc_area
    good = (mass > 0.0) & (thrust >= 0.0) & (fast >= 0.0)
    start = np.sqrt(np.where(good, thrust, np.nan) / (2.0 * np.where(good, mass, np.nan)))
    induced = start  # too much at any speed: from there Newton's steps only go down
    for _ in range(_ROUNDS):
        slope = (fast + induced) * (fast + 3.0 * induced)
        excess = (fast + induced) ** 2 * induced - start**3
        step = excess / np.where(slope > 0.0, slope, 1.0)
        induced = induced - step
        if not np.any(np.abs(step) > 1e-14 * (1.0 + np.abs(induced))):
            break
    through = fast + induced
    made = 2.0 * mass * through * induced
    return Slipstream(made[()], through[()], (fast + 2.0 * induced)[()])
