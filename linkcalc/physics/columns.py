r"""Columns: what a straight rod stands in compression before it buckles.

Euler's formula for slender columns, Johnson's parabola for stubby ones, the secant formula for
a load beside the axis, and the properties of a round section that all need.

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

__all__ = [
    "Section",
    "critical_load",
    "eccentric_load",
    "eccentric_stress",
    "round_section",
    "transition_slenderness",
]

_BISECTIONS = 60


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


def eccentric_stress(
    load: Floats,
    *,
    modulus: Floats,
    area: Floats,
    second_moment: Floats,
    free_length: Floats,
    end_coefficient: Floats,
    eccentricity: Floats,
    extreme_fibre: Floats,
) -> Floats:
    r"""Greatest compressive stress in a column that is loaded beside its axis.

    .. math:: \sigma = \frac{P}{A} \left[ 1 + \frac{e c}{k^2}
              \sec \left( \frac{\pi}{2} \sqrt{\frac{P}{P_E}} \right) \right], \qquad
              P_E = \frac{C \pi^2 E I}{l^2}

    Parameters
    ----------
    load : float or array, shape (...)
        Compression P, zero or more [N].
    modulus, area, second_moment, free_length, end_coefficient : float or array, shape (...)
        As for `critical_load` [Pa], [m^2], [m^4], [m], [-].
    eccentricity : float or array, shape (...)
        Distance e of the line of the load from the column's axis, alike at both ends, zero or
        more: of an offset joint the distance of its pin or ball from the rod's axis [m].
    extreme_fibre : float or array, shape (...)
        Distance c from that axis to the outermost fibre on the side of the load, half the
        diameter of a rod or tube [m].

    Returns
    -------
    float or array, shape (...)
        Stress [Pa], positive in compression; infinite from Euler's load on. nan in, a negative
        load or eccentricity, and what is not more than zero give nan.

    Notes
    -----
    Exact for a straight elastic column with small slopes whose ends are pinned; other ends enter
    as the length that a pinned column of the same Euler load would have.

    References
    ----------
    .. [1] Budynas and Nisbett, Shigley's Mechanical Engineering Design, ch. 4: columns with
       eccentric loading, the secant column formula (cited from memory).

    Examples
    --------
    A load on the axis presses evenly:

    >>> float(eccentric_stress(100.0, modulus=200e9, area=1e-5, second_moment=1e-11,
    ...     free_length=0.2, end_coefficient=1.0, eccentricity=0.0, extreme_fibre=0.002))
    10000000.0
    """
    force = np.asarray(load, dtype=np.float64)
    force = np.where(force >= 0.0, force, np.nan)
    apart = np.asarray(eccentricity, dtype=np.float64)
    apart = np.where(apart >= 0.0, apart, np.nan)
    inertia, section = _positive(second_moment), _positive(area)
    euler = _euler(modulus, second_moment, free_length, end_coefficient)
    share = np.minimum(np.sqrt(force / euler), 1.0)
    bending = apart * _positive(extreme_fibre) * section / inertia
    with np.errstate(divide="ignore", invalid="ignore"):
        secant = np.where(bending > 0.0, bending / np.cos(0.5 * math.pi * share), bending)
    stress = force / section * (1.0 + secant)
    return np.where(force >= euler, np.where(np.isnan(stress), stress, np.inf), stress)[()]


def eccentric_load(
    *,
    modulus: Floats,
    yield_strength: Floats,
    area: Floats,
    second_moment: Floats,
    free_length: Floats,
    end_coefficient: Floats,
    eccentricity: Floats,
    extreme_fibre: Floats,
) -> Floats:
    """Compression at which a column that is loaded beside its axis begins to yield.

    Parameters
    ----------
    modulus, yield_strength, area, second_moment, free_length, end_coefficient : float or array
        As for `critical_load`, shape (...) [Pa], [Pa], [m^2], [m^4], [m], [-]; the yield strength
        has to be finite.
    eccentricity, extreme_fibre : float or array, shape (...)
        As for `eccentric_stress` [m].

    Returns
    -------
    float or array, shape (...)
        The load [N] whose `eccentric_stress` is the yield strength. The arguments broadcast
        together; nan as for that.

    Notes
    -----
    Less than Euler's load and less than A S_y at any eccentricity. Without any it is the lesser
    of these two, which for a stubby column lies above Johnson's parabola: take the least of this
    and of `critical_load`.

    Examples
    --------
    A steel rod of 2 mm, 0.2 m long, its ball links 3 mm beside its axis:

    >>> section = round_section(outer_diameter=0.002, inner_diameter=0.0)
    >>> load = eccentric_load(
    ...     modulus=200e9, yield_strength=500e6, area=section.area,
    ...     second_moment=section.second_moment, free_length=0.2, end_coefficient=1.0,
    ...     eccentricity=0.003, extreme_fibre=0.001,
    ... )
    >>> round(float(load), 1)  # 38.8 N by Euler's formula on the axis
    28.5
    """
    column = {
        "modulus": modulus,
        "area": area,
        "second_moment": second_moment,
        "free_length": free_length,
        "end_coefficient": end_coefficient,
        "eccentricity": eccentricity,
        "extreme_fibre": extreme_fibre,
    }
    strength = _positive(yield_strength)
    euler = _euler(modulus, second_moment, free_length, end_coefficient)
    high = np.minimum(euler, strength * _positive(area)) + 0.0 * np.asarray(eccentricity)
    low = np.zeros_like(high)
    for _ in range(_BISECTIONS):  # the stress only grows with the load
        middle = 0.5 * (low + high)
        strong = eccentric_stress(middle, **column) < strength
        low, high = np.where(strong, middle, low), np.where(strong, high, middle)
    known = np.isfinite(eccentric_stress(low, **column)) & np.isfinite(strength)
    return np.where(known, 0.5 * (low + high), np.nan)[()]


def _euler(
    modulus: Floats, second_moment: Floats, free_length: Floats, end_coefficient: Floats
) -> NDArray[np.float64]:
    """Euler's load."""
    stiff = _positive(modulus) * _positive(second_moment)
    squared = np.square(_positive(free_length))
    return np.asarray(math.pi**2 * _positive(end_coefficient) * stiff / squared)


def _positive(value: Floats) -> NDArray[np.float64]:
    """Return a value as an array, nan where it is not more than zero."""
    array = np.asarray(value, dtype=np.float64)
    return np.where(array > 0.0, array, np.nan)
