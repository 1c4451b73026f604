"""What limits the load factor of a pull-out: structure, lift, and the elevator that can be reached."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = ["at_elevator", "at_elevator_by_slope", "at_lift", "lift_coefficient", "pitch_damping"]


def lift_coefficient(
    *, load_factor: Floats, weight: Floats, dynamic_pressure: Floats, wing_area: Floats
) -> Floats:
    r"""Lift coefficient at a load factor.

    .. math:: C_L = \frac{n m g}{q S}

    Parameters
    ----------
    load_factor : float or array, shape (...)
        Load factor n [1].
    weight : float or array, shape (...)
        Weight m g [N].
    dynamic_pressure : float or array, shape (...)
        Dynamic pressure q, more than zero [Pa].
    wing_area : float or array, shape (...)
        S [m^2].

    Returns
    -------
    float or array, shape (...)
        C_L [1].

    Examples
    --------
    >>> lift_coefficient(load_factor=2.0, weight=20.0, dynamic_pressure=200.0, wing_area=0.4)
    0.5
    """
    return load_factor * weight / (dynamic_pressure * wing_area)


def at_lift(
    *, maximum_lift: Floats, weight: Floats, dynamic_pressure: Floats, wing_area: Floats
) -> Floats:
    r"""Load factor at the greatest lift coefficient.

    .. math:: n = \frac{C_{L,max} \, q S}{m g}

    Parameters
    ----------
    maximum_lift : float or array, shape (...)
        C_L,max [1].
    weight : float or array, shape (...)
        Weight m g [N].
    dynamic_pressure : float or array, shape (...)
        Dynamic pressure q [Pa].
    wing_area : float or array, shape (...)
        S [m^2].

    Returns
    -------
    float or array, shape (...)
        n [1].

    Examples
    --------
    >>> at_lift(maximum_lift=1.2, weight=20.0, dynamic_pressure=100.0, wing_area=0.5)
    3.0
    """
    return maximum_lift * dynamic_pressure * wing_area / weight


def pitch_damping(
    *,
    density: Floats,
    wing_area: Floats,
    tail_arm: Floats,
    tail_volume: Floats,
    tail_lift_slope: Floats,
    mass: Floats,
) -> Floats:
    r"""What the tail's pitch damping adds to the static margin in a pull-out.

    .. math:: d = \frac{\rho S \, l_t \, V_H \, a_t}{2 m}

    Parameters
    ----------
    density : float or array, shape (...)
        Density rho [kg/m^3].
    wing_area : float or array, shape (...)
        S [m^2].
    tail_arm : float or array, shape (...)
        From the centre of mass to a quarter of the tail's chord, l_t [m].
    tail_volume : float or array, shape (...)
        Tail area times arm over wing area times mean chord, V_H [1].
    tail_lift_slope : float or array, shape (...)
        Of the tail on its own area, a_t [1/rad].
    mass : float or array, shape (...)
        Mass m [kg].

    Returns
    -------
    float or array, shape (...)
        d [1], to be added to the static margin: the sum is the manoeuvre margin with fixed
        elevator.

    References
    ----------
    .. [1] B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed.
       New York: Wiley, 1996, on the control angle per g (from memory).

    Examples
    --------
    >>> round(pitch_damping(density=1.2, wing_area=0.4, tail_arm=0.7, tail_volume=0.5,
    ...     tail_lift_slope=4.0, mass=2.0), 3)
    0.168
    """
    return density * wing_area * tail_arm * tail_volume * tail_lift_slope / (2.0 * mass)


def at_elevator(
    *,
    deflection: Floats,
    dynamic_pressure: Floats,
    path_angle: Floats,
    wing_loading: Floats,
    trim_dynamic_pressure: Floats,
    trim_deflection: Floats,
    static_margin: Floats,
    damping: Floats,
    tail_power: Floats,
) -> Floats:
    r"""Load factor of a steady pull-up that an elevator deflection holds.

    .. math::
        n = \frac{h \, q / q_t + P \, \dfrac{q S}{m g} (\delta_t - \delta) + d \cos\gamma}{h + d}

    Parameters
    ----------
    deflection : float or array, shape (...)
        Of the elevator, delta, negative trailing edge up [rad].
    dynamic_pressure : float or array, shape (...)
        Dynamic pressure q [Pa].
    path_angle : float or array, shape (...)
        Path angle gamma, positive upward [rad].
    wing_loading : float or array, shape (...)
        Wing loading m g / S [N/m^2].
    trim_dynamic_pressure, trim_deflection : float or array, shape (...)
        Pressure q_t [Pa] and deflection delta_t [rad] of steady level flight as the aircraft is trimmed.
    static_margin : float or array, shape (...)
        With fixed elevator, h, in mean chords, zero or more [1].
    damping : float or array, shape (...)
        Damping d of `pitch_damping` [1].
    tail_power : float or array, shape (...)
        V_H a_t tau: tail volume, lift slope of the tail, and the change of the tail's
        incidence that a change of deflection is worth [1/rad].

    Returns
    -------
    float or array, shape (...)
        n [1]; it may be negative. The arguments broadcast together; nan gives nan.

    Notes
    -----
    Moments about the centre of mass balance: -h (C_L - C_L,t) - V_H a_t tau (delta - delta_t)
    - V_H a_t l_t g (n - cos gamma) / V^2 = 0 with C_L = n m g / (q S). The elevator's own share
    of the lift and the change of the downwash with speed are left out; the tail's lift is
    linear, so it must not stall.

    References
    ----------
    .. [1] B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed.
       New York: Wiley, 1996, on the control angle per g (from memory).

    Examples
    --------
    >>> round(float(at_elevator(deflection=-0.02, dynamic_pressure=300.0, path_angle=0.0,
    ...     wing_loading=50.0, trim_dynamic_pressure=100.0, trim_deflection=-0.02,
    ...     static_margin=0.1, damping=0.0, tail_power=1.0)), 3)
    3.0
    """
    trimmed = static_margin * dynamic_pressure / trim_dynamic_pressure
    pulled = tail_power * dynamic_pressure / wing_loading * (trim_deflection - deflection)
    return (trimmed + pulled + damping * np.cos(path_angle)) / (static_margin + damping)


def at_elevator_by_slope(
    *,
    deflection: Floats,
    dynamic_pressure: Floats,
    trim_dynamic_pressure: Floats,
    trim_deflection: Floats,
    load_factor_slope: Floats,
) -> Floats:
    r"""Load factor that an elevator deflection holds, from a load factor per degree that is known.

    .. math:: n = \frac{q}{q_t} \left[ 1 + G (\delta_t - \delta) \right]

    Parameters
    ----------
    deflection : float or array, shape (...)
        Of the elevator, delta, negative trailing edge up [rad].
    dynamic_pressure : float or array, shape (...)
        Dynamic pressure q [Pa].
    trim_dynamic_pressure, trim_deflection : float or array, shape (...)
        Pressure q_t [Pa] and deflection delta_t [rad] of steady level flight as the aircraft is trimmed.
    load_factor_slope : float or array, shape (...)
        G, load factor for a radian of up elevator, found in level flight at q_t [1/rad].

    Returns
    -------
    float or array, shape (...)
        n [1]. The arguments broadcast together; nan gives nan.

    Notes
    -----
    `at_elevator` without damping, of which G = P q_t S / (m g h) is then the slope.

    Examples
    --------
    >>> at_elevator_by_slope(deflection=-0.1, dynamic_pressure=200.0,
    ...     trim_dynamic_pressure=100.0, trim_deflection=0.0, load_factor_slope=10.0)
    4.0
    """
    pulled = load_factor_slope * (trim_deflection - deflection)
    return dynamic_pressure / trim_dynamic_pressure * (1.0 + pulled)
