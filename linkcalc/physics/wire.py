"""American wire gauge, and what an insulated copper wire measures and weighs.

The gauge is a geometric series between two sizes that were fixed by
definition. Resistance is not computed here: it belongs to whoever knows the
metal, its temperature and how the conductor is stranded.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
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


def insulated_mass(area: Floats, length: Floats) -> Floats:
    r"""Mass of an insulated copper wire.

    .. math:: m = l \left( \rho_c A + \rho_i \frac{\pi}{4} (D^2 - d^2) \right)

    Parameters
    ----------
    area : float or array, shape (...)
        Section of metal A, more than zero [m^2].
    length : float or array, shape (...)
        Length of the wire l [m].

    Returns
    -------
    float or array, shape (...)
        Mass [kg]. nan in gives nan out.

    Notes
    -----
    D is `insulated_diameter`, d that without the wall. The strands' helix adds some per
    cent of length, which is not counted. Weigh a metre where it matters.

    Examples
    --------
    >>> round(insulated_mass(gauge_area(26), 1.0) * 1e3, 2)  # g in a metre
    2.67
    """
    outer = insulated_diameter(area)
    inner = outer - 2.0 * INSULATION_WALL
    insulation = 0.25 * math.pi * (outer * outer - inner * inner)
    return length * (COPPER_DENSITY * area + INSULATION_DENSITY * insulation)


def bundle_diameter(diameter: Floats, count: int) -> Floats:
    r"""Diameter of the smallest circle around equal wires side by side.

    Parameters
    ----------
    diameter : float or array, shape (...)
        Of each wire [m].
    count : int
        How many, from 1 to 4.

    Returns
    -------
    float or array, shape (...)
        Diameter [m].

    Raises
    ------
    ValueError
        For another count.

    Notes
    -----
    In units of the wire's diameter 1, 2, :math:`1 + 2/\sqrt{3}` and :math:`1 + \sqrt{2}`:
    the centres stand on a point, a line, a triangle and a square.

    Examples
    --------
    >>> round(bundle_diameter(1.0, 3), 4)
    2.1547
    """
    around = {1: 1.0, 2: 2.0, 3: 1.0 + 2.0 / math.sqrt(3.0), 4: 1.0 + math.sqrt(2.0)}
    if count not in around:
        raise ValueError(f"found {count} wires; expected 1 to 4")
    return diameter * around[count]
