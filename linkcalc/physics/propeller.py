r"""Drag of a propeller that does not pull: stopped, windmilling or idling.

The turning propeller is taken at one blade section, three quarters of the radius out, in the
stream of momentum theory: the disc slows the air by the share a, and

.. math:: \frac{D}{q A} = 4 a (1 - a)

References
----------
.. [1] H. Glauert, The Elements of Aerofoil and Airscrew Theory. Cambridge, 1926: momentum
   theory and the blade element (from memory). One section for the whole blade is common
   practice, no source.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    Floats: TypeAlias = float | Array

__all__ = ["Turning", "stopped_drag_area", "turning", "windmilling"]

_STATION = 0.75  # of the radius
_HALVINGS = 60
_LEAST_SLOWED = -100.0  # a propeller that pulls hard at a walking pace
_MOST_SLOWED = 0.5  # beyond, momentum theory has the air flow back behind the disc


class Turning(NamedTuple):
    """A propeller in a stream: forces, and where the power goes.

    Attributes
    ----------
    drag_area : ndarray, shape (...)
        Drag over the dynamic pressure of flight; negative where it pulls [m^2].
    shaft_power : ndarray, shape (...)
        What the air gives to the shaft; negative where the shaft drives it [W].
    profile_power : ndarray, shape (...)
        Lost to friction at the blades [W].
    wake_power : ndarray, shape (...)
        Lost to the wake [W].
    slowed : ndarray, shape (...)
        Share a of the speed by which the disc slows the air [1].
    """

    drag_area: Array
    shaft_power: Array
    profile_power: Array
    wake_power: Array
    slowed: Array


def stopped_drag_area(*, radius: Floats, solidity: Floats) -> Floats:
    r"""Drag area of a propeller that stands still.

    .. math:: D / q = 0.8 \, \sigma A

    Parameters
    ----------
    radius : float or array, shape (...)
        Of the propeller [m].
    solidity : float or array, shape (...)
        Area of all blades over that of the disc A, sigma [1].

    Returns
    -------
    float or array, shape (...)
        Drag over dynamic pressure [m^2].

    Notes
    -----
    Of a fixed blade with its flat side to the stream. A folding propeller that lies along the
    fuselage has next to none: take zero.

    References
    ----------
    .. [1] D. P. Raymer, Aircraft Design: A Conceptual Approach, ch. 12, on stopped and
       windmilling propellers (from memory).

    Examples
    --------
    >>> round(stopped_drag_area(radius=0.15, solidity=0.08), 5)
    0.00452
    """
    return 0.8 * solidity * math.pi * radius**2


def turning(
    *,
    speed: Floats,
    density: Floats,
    rotation: Floats,
    radius: Floats,
    pitch: Floats,
    solidity: Floats,
    section_drag: Floats = 0.02,
    maximum_lift: Floats = 1.0,
) -> Turning:
    r"""A propeller that turns at a given rate in a stream.

    With W the speed of the air at the section, phi its angle to the plane of the disc and
    c_l, c_d the section's coefficients, the blades' area being sigma A,

    .. math::
        D = -\tfrac{1}{2} \rho W^2 \sigma A (c_l \cos\varphi - c_d \sin\varphi), \qquad
        Q = -\tfrac{1}{2} \rho W^2 \sigma A \, r (c_l \sin\varphi + c_d \cos\varphi)

    Parameters
    ----------
    speed : float or array, shape (...)
        True airspeed, more than zero [m/s].
    density : float or array, shape (...)
        Of the air [kg/m^3].
    rotation : float or array, shape (...)
        Of the propeller, zero or more [rad/s].
    radius : float or array, shape (...)
        [m].
    pitch : float or array, shape (...)
        Advance in one turn at which the blade has no lift; a little more than the pitch
        printed on a propeller with cambered blades [m].
    solidity : float or array, shape (...)
        Area of all blades over that of the disc, sigma [1].
    section_drag : float or array, shape (...)
        Section drag c_d [1]; 0.02 is common practice at the Reynolds numbers of models, no source.
    maximum_lift : float or array, shape (...)
        The section's lift coefficient stays within this, either sign [1].

    Returns
    -------
    Turning
        The arguments broadcast together. Where the air would be slowed by more than half,
        momentum theory ends: a is held at a half there, with the blades' own force.

    Notes
    -----
    D V = shaft power + profile power + wake power, each found in its own way: the torque times
    the rate, the friction times W, the drag times a V. That is tested.

    Examples
    --------
    >>> idle = turning(speed=30.0, density=1.225, rotation=200.0, radius=0.15, pitch=0.2,
    ...     solidity=0.08)
    >>> power = 0.5 * 1.225 * 30.0**3 * idle.drag_area
    >>> spent = idle.shaft_power + idle.profile_power + idle.wake_power
    >>> abs(float(power / spent - 1)) < 1e-9
    True
    """
    given = (speed, density, rotation, radius, pitch, solidity, section_drag, maximum_lift)
    v, rho, omega, outer, advance, sigma, c_d, most = np.broadcast_arrays(
        *(np.asarray(item, dtype=np.float64) for item in given)
    )
    place = _STATION * outer
    blades = _Blades(v, omega * place, np.arctan2(advance, 2 * math.pi * place), sigma, c_d, most)
    low, high = np.full(v.shape, _LEAST_SLOWED), np.full(v.shape, _MOST_SLOWED)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        more = _section(blades, middle)[3] > 4 * middle * (1 - middle)
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    slowed = 0.5 * (low + high)
    angle, wind, lift, force = _section(blades, slowed)
    load = 0.5 * rho * wind**2 * sigma * math.pi * outer**2
    driving = -(lift * np.sin(angle) + blades.drag * np.cos(angle))
    drag_area = force * math.pi * outer**2
    return Turning(
        drag_area=drag_area,
        shaft_power=load * driving * blades.across,
        profile_power=load * c_d * wind,
        wake_power=0.5 * rho * v**3 * drag_area * slowed,
        slowed=slowed,
    )


class _Blades(NamedTuple):
    """The section and its surroundings: V, omega r, angle of no lift, sigma, c_d, c_l at most."""

    speed: Array
    across: Array
    angle: Array
    solidity: Array
    drag: Array
    maximum_lift: Array


def _section(blades: _Blades, slowed: Array) -> tuple[Array, Array, Array, Array]:
    """Return phi, W, c_l and the drag over q A of the blades, in air slowed by a share."""
    along = blades.speed * (1 - slowed)
    angle, wind = np.arctan2(along, blades.across), np.hypot(along, blades.across)
    lift = 2 * math.pi * np.sin(blades.angle - angle)
    lift = np.clip(lift, -blades.maximum_lift, blades.maximum_lift)
    force = -(lift * np.cos(angle) - blades.drag * np.sin(angle))
    return angle, wind, lift, force * (wind / blades.speed) ** 2 * blades.solidity


def windmilling(
    *,
    speed: Floats,
    density: Floats,
    friction_torque: Floats,
    radius: Floats,
    pitch: Floats,
    solidity: Floats,
    section_drag: Floats = 0.02,
    maximum_lift: Floats = 1.0,
) -> tuple[Turning, Array]:
    """A propeller that the stream turns against the friction of what it is fixed to.

    Parameters
    ----------
    speed, density, radius, pitch, solidity, section_drag, maximum_lift : float or array
        As `turning` takes them.
    friction_torque : float or array, shape (...)
        Of motor and gears, zero or more [N m].

    Returns
    -------
    Turning
        At the rate at which it settles.
    ndarray, shape (...)
        That rate; zero where the stream cannot turn it against the friction, and then the
        blades stand as a plate would and `stopped_drag_area` is the better figure [rad/s].

    Examples
    --------
    >>> spun, rate = windmilling(speed=30.0, density=1.225, friction_torque=0.02, radius=0.15,
    ...     pitch=0.2, solidity=0.08)
    >>> abs(float(spun.shaft_power - 0.02 * rate)) < 1e-9
    True
    """
    torque = np.asarray(friction_torque, dtype=np.float64)
    given = {
        "speed": speed,
        "density": density,
        "radius": radius,
        "pitch": pitch,
        "solidity": solidity,
        "section_drag": section_drag,
        "maximum_lift": maximum_lift,
    }
    shape = np.broadcast_shapes(torque.shape, *(np.shape(value) for value in given.values()))
    # The greatest rate at which the air still drives it: without lift it never does, and at
    # the rate of no lift there is only friction.
    high = np.broadcast_to(2 * math.pi * np.asarray(speed) / np.asarray(pitch) * 1.5, shape)
    rates = high * np.linspace(1.0, 0.0, 65)[:, *(None,) * len(shape)]
    grid = turning(rotation=rates, **given)
    surplus = grid.shaft_power - torque * rates
    drives = (surplus > 0) & (rates > 0)
    first = drives.argmax(0)
    turns = drives.any(0)
    low = np.where(turns, np.take_along_axis(rates, first[None], 0)[0], 0.0)
    high = np.where(turns, np.take_along_axis(rates, np.maximum(first - 1, 0)[None], 0)[0], 0.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        found = turning(rotation=middle, **given)
        more = found.shaft_power > torque * middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    rate = 0.5 * (low + high)
    return turning(rotation=rate, **given), rate
