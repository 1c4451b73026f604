"""American wire gauge, and what an insulated copper wire measures and weighs.

The gauge is a geometric series between two sizes that were fixed by
definition. Resistance is not computed here: it belongs to whoever knows the
metal, its temperature and how the conductor is stranded.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = float | NDArray[np.float64]

__all__ = [
    "COPPER_DENSITY",
    "COPPER_RESISTIVITY",
    "COPPER_TEMPERATURE_COEFFICIENT",
    "INSULATION_DENSITY",
    "INSULATION_WALL",
    "STRANDED_WIDTH",
    "bundle_diameter",
    "gauge_area",
    "gauge_diameter",
    "insulated_diameter",
    "insulated_mass",
    "mass_per_length",
]

COPPER_RESISTIVITY = 1.7241e-8
"""Resistivity of annealed copper of 100 % conductivity at 20 degrees Celsius [ohm m]; NBS
Circular 31 and Handbook 100."""
COPPER_TEMPERATURE_COEFFICIENT = 0.00393
"""Its rise with temperature, as a share of the value at 20 degrees Celsius [1/K]; the same."""
COPPER_DENSITY = 8890.0
"""Density of annealed copper at 20 degrees Celsius [kg/m^3]; IEC 60028, from memory."""
INSULATION_WALL = 0.4e-3
"""Thickness of the insulation of thin flexible wire [m]; common practice, no source."""
INSULATION_DENSITY = 1400.0
"""Density of soft polyvinyl chloride [kg/m^3]; common practice, no source."""
STRANDED_WIDTH = 1.15
"""Diameter of a stranded conductor over that of a solid one of its section [-]; common
practice, no source (seven equal strands in a circle: 3 / sqrt(7) = 1.134)."""

# Round wires that touch: no known packing of up to seven alike is wider.
_PACKED = 1.25

# Gauge 36 is 0.005 inch and gauge 0000 is 0.46 inch, 92 times as much, with
# 39 equal steps in between.
_DIAMETER_OF_GAUGE_36 = 0.127e-3  # [m]
_RATIO = 92.0
_STEPS = 39.0


def gauge_diameter(number: Floats) -> Floats:
    r"""Diameter of a solid round conductor of an American wire gauge.

    .. math:: d_n = 0.127\,\mathrm{mm} \times 92^{(36 - n)/39}

    Parameters
    ----------
    number : float or array, shape (...)
        Gauge number n, an integer from -3 to 56 [-]. The sizes larger than
        gauge 0 are counted downwards: 00 is -1, 000 is -2 and 0000 is -3.

    Returns
    -------
    float or array, shape (...)
        Diameter [m], smaller for a larger number. nan in gives nan out.

    Notes
    -----
    The rule defines the size, so it is exact; tables print it rounded. The
    formula is continuous, and nothing here refuses a fraction or a number
    out of range: that is done once, where the gauge is read. A stranded
    conductor has the section of its gauge, not the outer diameter.

    References
    ----------
    .. [1] ASTM B258, Standard Specification for Standard Nominal Diameters
       and Cross-Sectional Areas of AWG Sizes of Solid Round Wires Used as
       Electrical Conductors.

    Examples
    --------
    >>> gauge_diameter(36)
    0.000127
    >>> round(gauge_diameter(-3) / 0.0254, 6)  # 0000 is 0.46 inch
    0.46
    """
    return _DIAMETER_OF_GAUGE_36 * _RATIO ** ((36.0 - number) / _STEPS)


def gauge_area(number: Floats) -> Floats:
    r"""Nominal section of a conductor of an American wire gauge.

    .. math:: A_n = \frac{\pi}{4} d_n^2

    Parameters
    ----------
    number : float or array, shape (...)
        Gauge number n, an integer from -3 to 56, counted as for
        `gauge_diameter` [-].

    Returns
    -------
    float or array, shape (...)
        Section of metal [m^2]. nan in gives nan out.

    Notes
    -----
    Nominal: a stranded conductor of the same gauge may carry a little less
    metal, and its strands run on a helix, so that its resistance is higher
    than that of this section at its own length.

    References
    ----------
    .. [1] ASTM B258, as for `gauge_diameter`.

    Examples
    --------
    >>> round(gauge_area(22) * 1e6, 3)  # mm^2
    0.326
    """
    return 0.25 * math.pi * gauge_diameter(number) ** 2


def insulated_diameter(area: Floats) -> Floats:
    """Outer diameter of an insulated stranded wire.

    Parameters
    ----------
    area : float or array, shape (...)
        Section of metal, more than zero [m^2].

    Returns
    -------
    float or array, shape (...)
        Diameter [m]. nan in gives nan out.

    Notes
    -----
    The conductor is `STRANDED_WIDTH` times as wide as a solid one, and has a wall of
    `INSULATION_WALL` around it: both common practice, no source. Measure where it matters.

    Examples
    --------
    >>> round(insulated_diameter(gauge_area(26)) * 1e3, 2)  # mm
    1.27
    """
    return STRANDED_WIDTH * (4.0 * area / math.pi) ** 0.5 + 2.0 * INSULATION_WALL


def insulated_mass(area: Floats, length: Floats, density: Floats = COPPER_DENSITY) -> Floats:
    """Mass of an insulated stranded wire.

    Parameters
    ----------
    area : float or array, shape (...)
        Section of metal, more than zero [m^2].
    length : float or array, shape (...)
        Length of the wire [m].
    density : float or array, shape (...)
        Density of the metal, copper's unless given [kg/m^3].

    Returns
    -------
    float or array, shape (...)
        Mass [kg]. nan in gives nan out.

    Notes
    -----
    `mass_per_length` with a wall of `INSULATION_WALL` around strands that are
    `STRANDED_WIDTH` times as wide as a solid conductor. The strands' helix adds some per
    cent of length, which is not counted. Weigh a metre where it matters.

    Examples
    --------
    >>> round(float(insulated_mass(gauge_area(26), 1.0)) * 1e3, 2)  # g in a metre
    2.67
    """
    return length * mass_per_length(
        area=area,
        density=density,
        outer_diameter=insulated_diameter(area),
        insulation_density=INSULATION_DENSITY,
        fill=STRANDED_WIDTH**-2,
    )


def mass_per_length(
    *,
    area: Floats,
    density: Floats,
    outer_diameter: Floats,
    insulation_density: Floats,
    fill: Floats = 7.0 / 9.0,
) -> Floats:
    r"""Mass of a metre of insulated single wire.

    .. math:: m' = \rho A + \rho_i \left( \frac{\pi}{4} D^2 - \frac{A}{f} \right)

    Parameters
    ----------
    area : float or array, shape (...)
        Section A of metal, more than zero [m^2].
    density : float or array, shape (...)
        Density of the metal [kg/m^3].
    outer_diameter : float or array, shape (...)
        Diameter D over the insulation [m].
    insulation_density : float or array, shape (...)
        Density of the insulation [kg/m^3]: 1200 for silicone rubber, 1400 for
        plasticised PVC, 2200 for PTFE (from memory).
    fill : float or array, shape (...)
        Share f of the strands in the round that encloses them: 7/9 for seven
        strands, 1 for a solid conductor [-].

    Returns
    -------
    float or array, shape (...)
        Mass of one conductor per length [kg/m]; a lead has two of them. nan where
        the insulation would be thinner than nothing. The arguments broadcast
        together; nan in gives nan out.

    References
    ----------
    .. [1] Geometry.

    Examples
    --------
    A millimetre square of copper, bare and solid:

    >>> bare = {"outer_diameter": math.sqrt(4e-6 / math.pi), "fill": 1.0}
    >>> mass = mass_per_length(area=1e-6, density=8890.0, insulation_density=0.0, **bare)
    >>> round(float(mass), 5)
    0.00889
    """
    jacket = 0.25 * math.pi * np.square(outer_diameter) - area / fill
    jacket = np.where(jacket < -1e-9 * np.asarray(area), np.nan, np.maximum(jacket, 0.0))
    return np.asarray(density * area + insulation_density * jacket)[()]


def bundle_diameter(diameters: NDArray[np.float64]) -> Floats:
    r"""Diameter of the round that a bundle of wires passes through.

    .. math:: D = \max \left( \frac{5}{4} \sqrt{\sum d_i^2}, \; d_1 + d_2 \right)

    Parameters
    ----------
    diameters : array, shape (..., wire)
        Outer diameter of each wire, zero for one that is not there [m].

    Returns
    -------
    float or array, shape (...)
        Diameter D of the bundle [m], with d_1 and d_2 the two largest; of one
        wire its own. nan in gives nan out.

    Notes
    -----
    No less than the closest packings of two to seven equal circles need, and at
    most 13 % more for those. That it will do for wires of different sizes, laid side
    by side and not braided, is common practice, no source. A sleeve comes on top.

    References
    ----------
    .. [1] Closest packings of equal circles in a circle: 2, 2.155, 2.414, 2.701,
       3 and 3 diameters for two to seven (geometry).

    Examples
    --------
    >>> float(bundle_diameter(np.array([1e-3, 1e-3])))
    0.002
    """
    largest = np.sort(diameters, axis=-1)[..., ::-1]
    two = largest[..., :2].sum(axis=-1)
    packed = _PACKED * np.sqrt(np.square(diameters).sum(axis=-1))
    alone = largest[..., 1:].sum(axis=-1) == 0.0
    return np.asarray(np.where(alone, two, np.maximum(packed, two)))[()]
