r"""Columns: what a straight rod stands in compression before it buckles.

Euler's formula for slender columns, Johnson's parabola for stubby ones, and the
properties of a round section that both need.

References
----------
.. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, ch. 4:
   long columns with central loading, intermediate-length columns with central loading
   (cited from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = ["Section", "critical_load", "round_section", "transition_slenderness"]


class Section(NamedTuple):
    """What a column's cross-section contributes to its strength.

    Attributes
    ----------
    area : float or array, shape (...)
        Area of material A [m^2].
    second_moment : float or array, shape (...)
        Second moment of area I about the axis of least stiffness [m^4].
    radius_of_gyration : float or array, shape (...)
        Radius of gyration k, the square root of I / A [m].
    """

    area: Floats
    second_moment: Floats
    radius_of_gyration: Floats


def round_section(*, outer_diameter: Floats, inner_diameter: Floats) -> Section:
    r"""Area, second moment and radius of gyration of a rod or a tube.

    .. math:: A = \frac{\pi}{4} (D^2 - d^2), \qquad I = \frac{\pi}{64} (D^4 - d^4), \qquad
              k = \sqrt{I / A} = \frac{1}{4} \sqrt{D^2 + d^2}

    Parameters
    ----------
    outer_diameter : float or array, shape (...)
        Outer diameter D, more than zero [m].
    inner_diameter : float or array, shape (...)
        Inner diameter d, less than the outer one; zero for a solid rod [m].

    Returns
    -------
    Section
        `area` [m^2], `second_moment` about any diameter [m^4] and `radius_of_gyration` [m],
        each of shape (...). The arguments broadcast together; nan, and diameters that are
        no section, give nan in all three.

    Notes
    -----
    Exact for a concentric bore. A thread has to come with its root diameter.

    References
    ----------
    .. [1] Geometry; the closed forms stand in any table of sections.

    Examples
    --------
    >>> section = round_section(outer_diameter=0.004, inner_diameter=0.0)
    >>> round(float(section.radius_of_gyration), 6)  # a quarter of the diameter
    0.001
    """
    outer = np.asarray(outer_diameter, dtype=np.float64)
    inner = np.asarray(inner_diameter, dtype=np.float64)
    outer, inner = (
        np.where((inner >= 0.0) & (inner < outer), value, np.nan) for value in (outer, inner)
    )
    # D^2 - d^2 as a product, so that a thin wall keeps its digits
    area = 0.25 * math.pi * (outer - inner) * (outer + inner)
    radius = 0.25 * np.hypot(outer, inner)
    return Section(area[()], (area * np.square(radius))[()], radius[()])


def transition_slenderness(
    *, modulus: Floats, yield_strength: Floats, end_coefficient: Floats
) -> Floats:
    r"""Slenderness above which a column fails by Euler's formula.

    .. math:: \left( \frac{l}{k} \right)_1 = \sqrt{\frac{2 \pi^2 C E}{S_y}}

    Parameters
    ----------
    modulus : float or array, shape (...)
        Modulus of elasticity E along the column, more than zero [Pa].
    yield_strength : float or array, shape (...)
        Yield strength S_y in compression, more than zero [Pa].
    end_coefficient : float or array, shape (...)
        End-condition constant C, more than zero; see `critical_load` [-].

    Returns
    -------
    float or array, shape (...)
        Free length over radius of gyration, (l/k)_1 [-]. The arguments broadcast together;
        an infinite yield strength gives zero, because then Euler's formula holds at every
        slenderness. nan, and an argument that is not more than zero, give nan.

    Notes
    -----
    The slenderness at which Euler's stress is half of the yield strength. That it is half
    is the convention of Johnson's parabola.

    References
    ----------
    .. [1] Budynas and Nisbett, Shigley's Mechanical Engineering Design, ch. 4 (cited from
       memory).

    Examples
    --------
    >>> limit = transition_slenderness(modulus=207e9, yield_strength=500e6, end_coefficient=1.0)
    >>> round(float(limit), 1)
    90.4
    """
    elastic = 2.0 * math.pi**2 * _positive(end_coefficient) * _positive(modulus)
    return np.sqrt(elastic / _positive(yield_strength))[()]


def critical_load(
    *,
    modulus: Floats,
    yield_strength: Floats,
    area: Floats,
    second_moment: Floats,
    free_length: Floats,
    end_coefficient: Floats,
) -> Floats:
    r"""Compression at which a straight, centrally loaded column fails.

    .. math:: \frac{P_{cr}}{A} = \frac{C \pi^2 E}{(l/k)^2}
              \quad \left( \frac{l}{k} \ge \left( \frac{l}{k} \right)_1 \right), \qquad
              \frac{P_{cr}}{A} = S_y - \left( \frac{S_y}{2 \pi} \frac{l}{k} \right)^2
              \frac{1}{C E} \quad \left( \frac{l}{k} \le \left( \frac{l}{k} \right)_1 \right)

    Euler's formula and Johnson's parabola. They touch at the slenderness (l/k)_1 of
    `transition_slenderness`.

    Parameters
    ----------
    modulus : float or array, shape (...)
        Modulus of elasticity E along the column, more than zero [Pa].
    yield_strength : float or array, shape (...)
        Yield strength S_y in compression, more than zero [Pa]. For a material that does not
        yield, such as wood or a laminate, its compressive strength. Infinite for Euler's
        formula alone.
    area : float or array, shape (...)
        Area of material A, more than zero [m^2].
    second_moment : float or array, shape (...)
        Second moment of area I about the axis of least stiffness, more than zero [m^4].
    free_length : float or array, shape (...)
        Length l between joints or guides, more than zero [m].
    end_coefficient : float or array, shape (...)
        End-condition constant C, more than zero [-]: 1 for both ends pinned, 1/4 for one
        fixed and one free. Fixed and pinned is 2 in theory and fixed at both ends is 4;
        as no end is truly fixed, 1.2 is recommended for both [1]_.

    Returns
    -------
    float or array, shape (...)
        Critical load P_cr [N], positive in compression, never above A S_y. The arguments
        broadcast together; nan, and an argument that is not more than zero, give nan.

    Notes
    -----
    Holds for a straight prismatic column loaded along its axis. A bent rod, an offset
    joint and a side load lower the load that it stands; so does local buckling of a wall
    much thinner than the radius, and shear in a stubby column of wood or laminate. None
    of these is in the formula.

    Johnson's parabola was made for ductile metals. Used with a compressive strength it is
    cautious for wood: the fourth-power parabola made for wood, tangent to Euler's curve at
    two thirds of the strength, lies above it (from memory).

    References
    ----------
    .. [1] Budynas and Nisbett, Shigley's Mechanical Engineering Design, ch. 4, formulas
       and table of end-condition constants (cited from memory).

    Examples
    --------
    >>> section = round_section(outer_diameter=0.002, inner_diameter=0.0)
    >>> load = critical_load(
    ...     modulus=200e9,
    ...     yield_strength=500e6,
    ...     area=section.area,
    ...     second_moment=section.second_moment,
    ...     free_length=0.2,
    ...     end_coefficient=1.0,
    ... )
    >>> round(float(load), 2)  # pi^3 / 64 x 200e9 x 0.002^4 / 0.2^2
    38.76
    """
    bending = _positive(modulus) * _positive(second_moment)
    squash = _positive(yield_strength) * _positive(area)
    length, ends = _positive(free_length), _positive(end_coefficient)
    # Lengths out of all proportion may overflow on the way to a load that is right: none, or A S_y
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        euler = math.pi**2 * ends * bending / np.square(length)
        johnson = squash * (1.0 - squash / (4.0 * euler))
    # Beyond the transition Euler's load is less than half of A S_y; nan takes the other branch
    return np.where(euler <= 0.5 * squash, euler, johnson)[()]


def _positive(value: Floats) -> NDArray[np.float64]:
    """Return a value as an array, nan where it is not more than zero."""
    array = np.asarray(value, dtype=np.float64)
    return np.where(array > 0.0, array, np.nan)
