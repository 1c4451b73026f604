"""Pull-outs that can be written down: at constant speed, and without drag."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from linkcalc.physics.air import STANDARD_GRAVITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = ["height_lost_at_constant_speed", "height_lost_without_drag", "radius"]


def radius(*, speed: Floats, load_factor: Floats) -> Floats:
    r"""Radius of a pull-up at its level bottom.

    .. math:: R = \frac{V^2}{g (n - 1)}

    Parameters
    ----------
    speed : float or array, shape (...)
        True airspeed [m/s].
    load_factor : float or array, shape (...)
        Load factor n, more than 1 [1].

    Returns
    -------
    float or array, shape (...)
        R [m].

    References
    ----------
    .. [1] J. D. Anderson, Aircraft Performance and Design. McGraw-Hill, 1999, eq. 6.41.

    Examples
    --------
    >>> round(radius(speed=50.0, load_factor=6.0), 2)
    50.99
    """
    return speed**2 / (STANDARD_GRAVITY * (load_factor - 1.0))


def height_lost_at_constant_speed(
    *, speed: Floats, load_factor: Floats, dive_angle: Floats
) -> Floats:
    r"""Height lost in a pull-out at constant speed and load factor.

    .. math::
        \Delta h = \frac{V^2}{g} \int_0^\theta \frac{\sin x}{n - \cos x} dx
                 = \frac{V^2}{g} \ln \frac{n - \cos\theta}{n - 1}

    Parameters
    ----------
    speed : float or array, shape (...)
        True airspeed V [m/s].
    load_factor : float or array, shape (...)
        Load factor n, more than 1 [1].
    dive_angle : float or array, shape (...)
        Below the horizon, theta, 0 to pi/2 [rad].

    Returns
    -------
    float or array, shape (...)
        Height lost [m].

    Examples
    --------
    >>> round(float(height_lost_at_constant_speed(speed=50.0, load_factor=6.0, dive_angle=np.pi / 2)), 2)
    46.48
    """
    ratio = (load_factor - np.cos(dive_angle)) / (load_factor - 1.0)
    return speed**2 / STANDARD_GRAVITY * np.log(ratio)


def height_lost_without_drag(*, speed: Floats, load_factor: Floats, dive_angle: Floats) -> Floats:
    r"""Height lost in a pull-out at constant load factor without drag.

    .. math::
        \Delta h = \frac{V^2}{2 g} \left[ \left( \frac{n - \cos\theta}{n - 1} \right)^2 - 1 \right]

    Parameters
    ----------
    speed : float or array, shape (...)
        True airspeed V where the pull-out begins [m/s].
    load_factor : float or array, shape (...)
        Load factor n, more than 1 [1].
    dive_angle : float or array, shape (...)
        There, below the horizon, theta, 0 to pi/2 [rad].

    Returns
    -------
    float or array, shape (...)
        Height lost, more than with drag [m].

    Notes
    -----
    dV / d gamma = -V sin gamma / (n - cos gamma), so that V (n - cos gamma) stays the same, and
    the height is what the speed has gained.

    Examples
    --------
    >>> round(float(height_lost_without_drag(speed=30.0, load_factor=4.0, dive_angle=1.0)), 2)
    15.14
    """
    ratio = (load_factor - np.cos(dive_angle)) / (load_factor - 1.0)
    return 0.5 * speed**2 / STANDARD_GRAVITY * (ratio**2 - 1.0)
