"""Drag from what a builder can measure: wetted and frontal areas, lengths, thicknesses, spans."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = [
    "body_form_factor",
    "friction_coefficient",
    "frontal_drag_area",
    "induced_drag_factor",
    "laminar_friction",
    "turbulent_friction",
    "wetted_drag_area",
    "wing_form_factor",
    "zero_lift_drag",
]


def laminar_friction(*, reynolds_number: Floats) -> Floats:
    r"""Friction coefficient of one side of a flat plate with a laminar boundary layer.

    .. math:: C_f = \frac{1.328}{\sqrt{Re}}

    Parameters
    ----------
    reynolds_number : float or array, shape (...)
        Speed times length over kinematic viscosity, Re, some 1e3 to 1e6 [1].

    Returns
    -------
    float or array, shape (...)
        C_f, mean over the length, referred to the wetted area [1].

    References
    ----------
    .. [1] H. Blasius, 1908; H. Schlichting, Boundary-Layer Theory (from memory).

    Examples
    --------
    >>> round(float(laminar_friction(reynolds_number=1e5)), 5)
    0.00420
    """
    return 1.328 / np.sqrt(reynolds_number)


def turbulent_friction(*, reynolds_number: Floats) -> Floats:
    r"""Friction coefficient of one side of a flat plate with a turbulent boundary layer.

    .. math:: C_f = \frac{0.455}{(\log_{10} Re)^{2.58}}

    Parameters
    ----------
    reynolds_number : float or array, shape (...)
        Re, some 1e5 to 1e9; turbulent from the leading edge [1].

    Returns
    -------
    float or array, shape (...)
        C_f, mean over the length, referred to the wetted area [1].

    References
    ----------
    .. [1] H. Schlichting, Boundary-Layer Theory: the formula of Prandtl and Schlichting
       (from memory).

    Examples
    --------
    >>> round(float(turbulent_friction(reynolds_number=1e6)), 5)
    0.00447
    """
    return 0.455 / np.log10(reynolds_number) ** 2.58


def friction_coefficient(*, reynolds_number: Floats, laminar_share: Floats) -> Floats:
    r"""Friction coefficient of a plate that is laminar over its forward part.

    .. math:: C_f = C_{f,turb}(Re) - x \left[ C_{f,turb}(x Re) - C_{f,lam}(x Re) \right]

    Parameters
    ----------
    reynolds_number : float or array, shape (...)
        Re of the whole length, 1e5 or more [1].
    laminar_share : float or array, shape (...)
        Share x of the length over which the boundary layer is laminar, 0 to 1 [1].
        Zero is the careful choice where drag is wanted, one where it is feared missing: the
        least drag gives the highest terminal speed.

    Returns
    -------
    float or array, shape (...)
        C_f, referred to the wetted area [1]. The arguments broadcast together.

    Notes
    -----
    Prandtl's construction: behind transition the layer is as if it had been turbulent from the
    leading edge. Where transition lies so far forward that the two formulas have crossed (a
    Reynolds number below some 1e4 there), nothing is saved.

    References
    ----------
    .. [1] L. Prandtl, 1927; H. Schlichting, Boundary-Layer Theory (from memory).

    Examples
    --------
    >>> round(float(friction_coefficient(reynolds_number=1e6, laminar_share=0.0)), 5)
    0.00447
    >>> round(float(friction_coefficient(reynolds_number=1e6, laminar_share=1.0)), 5)
    0.00133
    """
    share = np.asarray(laminar_share, dtype=np.float64)
    forward = share * reynolds_number
    part = np.maximum(forward, 1e3)  # neither formula has a value at zero
    turbulent = turbulent_friction(reynolds_number=part)
    saved = share * (turbulent - laminar_friction(reynolds_number=part))
    return turbulent_friction(reynolds_number=reynolds_number) - np.maximum(saved, 0.0)


def wing_form_factor(*, thickness_ratio: Floats) -> Floats:
    r"""How much more than a flat plate's friction a wing or tail section has.

    .. math:: F = 1 + 2 \frac{t}{c} + 60 \left( \frac{t}{c} \right)^4

    Parameters
    ----------
    thickness_ratio : float or array, shape (...)
        Thickness over chord t/c, 0 to some 0.25 [1].

    Returns
    -------
    float or array, shape (...)
        Form factor on the friction of both sides [1].

    References
    ----------
    .. [1] S. F. Hoerner, Fluid-Dynamic Drag, 1965, ch. 6 (from memory).

    Examples
    --------
    >>> round(wing_form_factor(thickness_ratio=0.12), 3)
    1.252
    """
    return 1.0 + 2.0 * thickness_ratio + 60.0 * thickness_ratio**4


def body_form_factor(*, fineness_ratio: Floats) -> Floats:
    r"""How much more than a flat plate's friction a streamlined body has.

    .. math:: F = 1 + 1.5 \left( \frac{d}{l} \right)^{3/2} + 7 \left( \frac{d}{l} \right)^3

    Parameters
    ----------
    fineness_ratio : float or array, shape (...)
        Length over diameter l/d, 3 or more [1].

    Returns
    -------
    float or array, shape (...)
        Form factor on the friction of the wetted area [1].

    References
    ----------
    .. [1] S. F. Hoerner, Fluid-Dynamic Drag, 1965, ch. 6 (from memory).

    Examples
    --------
    >>> round(body_form_factor(fineness_ratio=10.0), 4)
    1.0544
    """
    return 1.0 + 1.5 / fineness_ratio**1.5 + 7.0 / fineness_ratio**3


def wetted_drag_area(*, friction: Floats, form_factor: Floats, wetted_area: Floats) -> Floats:
    r"""Drag area of a part that the air flows along.

    .. math:: D / q = C_f F S_w

    Parameters
    ----------
    friction : float or array, shape (...)
        Friction coefficient C_f [1].
    form_factor : float or array, shape (...)
        F, 1 or more [1].
    wetted_area : float or array, shape (...)
        S_w, all sides [m^2].

    Returns
    -------
    float or array, shape (...)
        Drag over dynamic pressure [m^2].

    References
    ----------
    .. [1] D. P. Raymer, Aircraft Design: A Conceptual Approach, ch. 12 (from memory).

    Examples
    --------
    >>> wetted_drag_area(friction=0.005, form_factor=1.2, wetted_area=0.5)
    0.003
    """
    return friction * form_factor * wetted_area


def frontal_drag_area(*, coefficient: Floats, frontal_area: Floats) -> Floats:
    r"""Drag area of a part that the air flows against.

    .. math:: D / q = C_D S_f

    Parameters
    ----------
    coefficient : float or array, shape (...)
        C_D of the shape, referred to its frontal area [1]. Circular wires and struts across
        the stream below the drag crisis 1.2, a flat plate square to it 1.2 (square plate) to 2
        (long strip): S. F. Hoerner, Fluid-Dynamic Drag, ch. 3 (from memory).
    frontal_area : float or array, shape (...)
        S_f [m^2].

    Returns
    -------
    float or array, shape (...)
        Drag over dynamic pressure [m^2].

    Examples
    --------
    >>> round(frontal_drag_area(coefficient=1.2, frontal_area=0.002), 4)
    0.0024
    """
    return coefficient * frontal_area


def zero_lift_drag(*, drag_areas: Floats, interference: Floats, wing_area: Floats) -> Floats:
    r"""Zero-lift drag coefficient from the drag areas of all parts.

    .. math:: C_{D0} = (1 + i) \frac{1}{S} \sum \left( \frac{D}{q} \right)

    Parameters
    ----------
    drag_areas : array, shape (..., part)
        Of each part [m^2].
    interference : float or array, shape (...)
        Share i that gaps, joints and interference add [1]: 0.05 to 0.15 is common
        practice, no source.
    wing_area : float or array, shape (...)
        Reference area S [m^2].

    Returns
    -------
    float or array, shape (...)
        C_D0 [1].

    Examples
    --------
    >>> round(float(zero_lift_drag(drag_areas=[0.004, 0.002], interference=0.1, wing_area=0.3)), 4)
    0.0220
    """
    total = np.sum(np.asarray(drag_areas, dtype=np.float64), axis=-1)
    return np.asarray((1.0 + interference) * total / wing_area)[()]


def induced_drag_factor(*, aspect_ratio: Floats, span_efficiency: Floats) -> Floats:
    r"""Factor of the square of the lift in a parabolic polar.

    .. math:: k = \frac{1}{\pi A e}

    Parameters
    ----------
    aspect_ratio : float or array, shape (...)
        Square of the span over the wing area, A, more than zero [1].
    span_efficiency : float or array, shape (...)
        Oswald's factor e, more than zero [1]. 0.8 is common practice for a plain wing on
        a fuselage, no source.

    Returns
    -------
    float or array, shape (...)
        k [1]. The arguments broadcast together; nan gives nan.

    References
    ----------
    .. [1] J. D. Anderson, Aircraft Performance and Design. McGraw-Hill, 1999, ch. 2
       (from memory).

    Examples
    --------
    >>> round(induced_drag_factor(aspect_ratio=10.0, span_efficiency=0.8), 4)
    0.0398
    """
    return 1.0 / (math.pi * aspect_ratio * span_efficiency)
