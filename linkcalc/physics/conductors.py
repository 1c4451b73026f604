"""Copper and contacts: the resistance of a lead, out and back.

The constants of other metals than copper stand in `linkcalc.physics.metals`.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from linkcalc.physics.wire import COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "CONTACTS",
    "REFERENCE_TEMPERATURE",
    "conductor_resistance",
    "copper_resistivity",
    "loop_resistance",
]

Floats: TypeAlias = float | NDArray[np.float64]

REFERENCE_TEMPERATURE = 293.15
"""20 degrees Celsius [K]."""

CONTACTS: Mapping[str, float] = MappingProxyType(
    {
        "servo plug": 10e-3,
        "high-current plug": 1e-3,
        "crimp": 1e-3,
        "solder joint": 0.2e-3,
        "switch": 20e-3,
    }
)
"""Resistance of one contact in good order, by kind [ohm] (common practice, no source).

Worn or loose ones have several times as much; a measured value is worth more.
"""


def copper_resistivity(*, temperature: Floats) -> Floats:
    r"""Resistivity of annealed copper.

    .. math:: \rho = \rho_{20} \left( 1 + \alpha_{20} (T - T_{20}) \right)

    Parameters
    ----------
    temperature : float or array, shape (...)
        Temperature T of the metal [K].

    Returns
    -------
    float or array, shape (...)
        Resistivity [ohm m]. nan in gives nan out.

    Notes
    -----
    The straight line is good to a few parts in a thousand between the frost
    and the heat that a lead's insulation stands. Copper of 100 % conductivity
    by the standard; wire as it is sold is as good or some percent worse.

    References
    ----------
    .. [1] Copper Wire Tables, National Bureau of Standards, Circular 31 and
       Handbook 100 (the international annealed copper standard).

    Examples
    --------
    >>> copper_resistivity(temperature=293.15)
    1.7241e-08
    """
    warmer = temperature - REFERENCE_TEMPERATURE
    return COPPER_RESISTIVITY * (1.0 + COPPER_TEMPERATURE_COEFFICIENT * warmer)


def conductor_resistance(
    *,
    length: Floats,
    area: Floats,
    temperature: Floats,
    strand_factor: Floats,
    resistivity: Floats = COPPER_RESISTIVITY,
    temperature_coefficient: Floats = COPPER_TEMPERATURE_COEFFICIENT,
) -> Floats:
    r"""Resistance of one conductor.

    .. math:: R = k \, \rho(T) \, l / A

    Parameters
    ----------
    length : float or array, shape (...)
        Length l of the conductor, zero or more [m].
    area : float or array, shape (...)
        Nominal section A of metal, more than zero [m^2].
    temperature : float or array, shape (...)
        Temperature T of the metal [K].
    strand_factor : float or array, shape (...)
        Resistance of the stranded conductor over that of its nominal section
        at its own length, k; 1 for a solid one [-].
    resistivity : float or array, shape (...)
        Resistivity of the metal at 20 degrees Celsius, copper's unless given [ohm m].
    temperature_coefficient : float or array, shape (...)
        Its rise with temperature, as a share of that, copper's unless given [1/K].

    Returns
    -------
    float or array, shape (...)
        Resistance R [ohm]. nan in gives nan out.

    References
    ----------
    .. [1] Definition of resistivity; for the copper as `copper_resistivity`.

    Examples
    --------
    >>> solid = {"length": 1.0, "temperature": 293.15, "strand_factor": 1.0}
    >>> conductor_resistance(area=1e-6, **solid)
    0.017241
    """
    warmer = 1.0 + temperature_coefficient * (temperature - REFERENCE_TEMPERATURE)
    # In this order the long axis of many temperatures comes in last.
    return strand_factor * length / area * (resistivity * warmer)


def loop_resistance(
    *,
    length: Floats,
    conductor_area: Floats,
    copper_temperature: Floats,
    strand_factor: Floats,
    contacts: Floats,
    contact_resistance: Floats,
) -> Floats:
    r"""Resistance of a lead of two conductors, out and back.

    .. math:: R = 2 \left( k \, \rho(T) \, l / A + n R_c \right)

    Parameters
    ----------
    length : float or array, shape (...)
        Length l of the lead, one way, zero or more [m].
    conductor_area : float or array, shape (...)
        Nominal section A of each conductor, more than zero [m^2].
    copper_temperature : float or array, shape (...)
        Temperature T of the copper [K].
    strand_factor : float or array, shape (...)
        Resistance of the stranded conductor over that of its nominal section
        k [-].
    contacts : float or array, shape (...)
        Number n of contacts in each of the two conductors [-].
    contact_resistance : float or array, shape (...)
        Resistance R_c of each contact, zero or more [ohm].

    Returns
    -------
    float or array, shape (...)
        Resistance R of the whole loop [ohm]. The arguments broadcast
        together; nan in gives nan out. Values are not checked here.

    References
    ----------
    .. [1] Resistances in series; for the copper as `copper_resistivity`.

    Examples
    --------
    A metre of 1 mm^2 with one plug, 5 milliohm in each conductor:

    >>> loop_resistance(
    ...     length=1.0,
    ...     conductor_area=1e-6,
    ...     copper_temperature=293.15,
    ...     strand_factor=1.0,
    ...     contacts=1.0,
    ...     contact_resistance=0.005,
    ... )
    0.044482
    """
    conductor = conductor_resistance(
        length=length,
        area=conductor_area,
        temperature=copper_temperature,
        strand_factor=strand_factor,
    )
    return 2.0 * (conductor + contacts * contact_resistance)
