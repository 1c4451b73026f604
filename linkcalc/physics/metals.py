"""Metals of conductors."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from linkcalc.physics.wire import (
    COPPER_DENSITY,
    COPPER_RESISTIVITY,
    COPPER_TEMPERATURE_COEFFICIENT,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["METALS", "Metal"]


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
            COPPER_DENSITY,
            "international annealed copper standard: NBS Circular 31 and Handbook 100",
        ),
        "tinned copper": Metal(
            1.03 * COPPER_RESISTIVITY,
            COPPER_TEMPERATURE_COEFFICIENT,
            COPPER_DENSITY,
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
