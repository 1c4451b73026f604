r"""What the joints of a rod bear: a clevis pin in shear, a thread, a clamp screw.

Ball links have no formula: what pulls the socket off its ball is measured, or printed by the maker.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["clamp_slip", "pin_shear", "thread_shear"]


def pin_shear(*, diameter: ArrayLike, shear_strength: ArrayLike) -> Floats:
    r"""Force that shears a clevis pin through at both cheeks.

    .. math:: F = 2 \tau \frac{\pi d^2}{4}

    Parameters
    ----------
    diameter : float or array, shape (...)
        Of the pin, more than zero [m].
    shear_strength : float or array, shape (...)
        Of its material, more than zero [Pa].

    Returns
    -------
    array, shape (...)
        Force [N]; nan in gives nan out.

    Notes
    -----
    A clevis that holds its pin at one cheek alone bears half of it. The holes that the pin bears
    on, and cheeks that spread, are another matter.

    References
    ----------
    .. [1] A pin in double shear, in any text on machine elements.

    Examples
    --------
    >>> round(float(pin_shear(diameter=0.0016, shear_strength=300e6)), 1)
    1206.4
    """
    size = np.asarray(diameter, dtype=np.float64)
    return np.asarray(0.5 * math.pi * size**2 * np.asarray(shear_strength))


def thread_shear(
    *, diameter: ArrayLike, engaged_length: ArrayLike, shear_strength: ArrayLike
) -> Floats:
    r"""Force that strips a thread.

    .. math:: F = \frac{1}{2} \tau \pi d l

    Parameters
    ----------
    diameter : float or array, shape (...)
        At which the weaker of both threads is sheared: the inner diameter of the male one where
        that is weaker, the outer where the female one is [m].
    engaged_length : float or array, shape (...)
        Length l of thread in thread [m].
    shear_strength : float or array, shape (...)
        Of the weaker material [Pa].

    Returns
    -------
    array, shape (...)
        Force [N]; nan in gives nan out.

    Notes
    -----
    Half of the cylinder is taken as thread, which is on the safe side for full ones of V form
    (common practice, no source).

    Examples
    --------
    >>> round(float(thread_shear(diameter=0.002, engaged_length=0.006, shear_strength=40e6)), 1)
    754.0
    """
    size = np.asarray(diameter, dtype=np.float64) * np.asarray(engaged_length)
    return np.asarray(0.5 * math.pi * size * np.asarray(shear_strength))


def clamp_slip(*, clamping_force: ArrayLike, friction: ArrayLike) -> Floats:
    r"""Force at which a rod slips under a clamp screw.

    .. math:: F = 2 \mu N

    Parameters
    ----------
    clamping_force : float or array, shape (...)
        Force N of the screw on the rod [N].
    friction : float or array, shape (...)
        Coefficient mu between rod and both faces that pinch it [-].

    Returns
    -------
    array, shape (...)
        Force [N]; nan in gives nan out.

    References
    ----------
    .. [1] Coulomb friction on two faces, in any text on statics.

    Examples
    --------
    >>> float(clamp_slip(clamping_force=200.0, friction=0.15))
    60.0
    """
    return np.asarray(2.0 * np.asarray(friction, dtype=np.float64) * np.asarray(clamping_force))
