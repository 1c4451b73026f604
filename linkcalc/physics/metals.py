"""Metals of conductors, what a metre of wire weighs, and how thick a bundle gets."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics.wire import COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = float | NDArray[np.float64]

__all__ = ["METALS", "Metal", "bundle_diameter", "mass_per_length"]


class Metal(NamedTuple):
    """A metal that conductors are made of."""

    resistivity: float
    """Resistivity at 20 degrees Celsius [ohm m]."""
    temperature_coefficient: float
    """Its rise with temperature, as a share of the value at 20 degrees Celsius [1/K]."""
    density: float
    """Density [kg/m^3]."""
    source: str
    """Where the figures are from."""


METALS: Mapping[str, Metal] = MappingProxyType(
    {
        "copper": Metal(
            COPPER_RESISTIVITY,
            COPPER_TEMPERATURE_COEFFICIENT,
            8890.0,
            "international annealed copper standard: NBS Circular 31 and Handbook 100",
        ),
        "tinned copper": Metal(
            1.03 * COPPER_RESISTIVITY,
            COPPER_TEMPERATURE_COEFFICIENT,
            8890.0,
            "IEC 60228: maxima of tinned flexible conductors are 3 to 6 % above plain ones, "
            "3 % in most sizes; the same temperature factors hold for both",
        ),
        "copper-clad aluminium": Metal(
            2.743e-8,
            0.00404,
            3320.0,
            "a tenth of the section copper: ASTM B566, class 10 (maximum resistivity; from memory)",
        ),
    }
)
"""Metals by name."""

# Round wires that touch: no known packing of up to seven alike is wider.
_PACKED = 1.25


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
