"""American wire gauge: the diameter and the nominal section of a conductor.

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

__all__ = ["gauge_area", "gauge_diameter"]

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
