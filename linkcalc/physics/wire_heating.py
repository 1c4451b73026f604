r"""How warm a wire gets under a steady current, alone in free air or in a bundle.

Per metre, what the current turns into heat is what the surface gives to still air and by
radiation:

.. math:: n I^2 k \rho(T) / A = \pi D \left( h (T_s - T_a) +
          \varepsilon \sigma (T_s^4 - T_a^4) \right), \qquad
          T = T_s + \frac{q'}{4 \pi \lambda}

h is that of natural convection around a horizontal cylinder [1]_. A bundle is one
cylinder of its own diameter D, with the heat of its n conductors spread over its section:
its core is warmer than its surface by the second term.

References
----------
.. [1] S. W. Churchill and H. H. S. Chu, Correlating equations for laminar and turbulent
   free convection from a horizontal cylinder, International Journal of Heat and Mass
   Transfer 18 (1975) 1049-1053 (from memory).
.. [2] U.S. Standard Atmosphere, 1976: viscosity and thermal conductivity of air.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.physics.conductors import REFERENCE_TEMPERATURE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.physics.conductors import Floats

__all__ = ["shed_heat", "steady_temperature"]

_GRAVITY = 9.80665  # [m/s^2]
_GAS_CONSTANT = 287.053  # of dry air [J/(kg K)]
_PRANDTL = 0.71  # of air near room temperature [-]
_STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m^2 K^4)]
_SEA_LEVEL = 101325.0  # [Pa]
_HOTTEST = 400.0  # above the air, beyond which no wire is left to speak of [K]
_HALVINGS = 50


def shed_heat(
    *,
    surface_temperature: Floats,
    air_temperature: Floats,
    diameter: Floats,
    emissivity: Floats = 0.9,
    pressure: Floats = _SEA_LEVEL,
) -> Floats:
    r"""Heat that a metre of horizontal cylinder gives to still air around it.

    .. math:: \mathrm{Nu} = \left( 0.60 + \frac{0.387 \, \mathrm{Ra}^{1/6}}
              {\left( 1 + (0.559 / \mathrm{Pr})^{9/16} \right)^{8/27}} \right)^2

    Parameters
    ----------
    surface_temperature : float or array, shape (...)
        Temperature of the surface, no less than that of the air [K].
    air_temperature : float or array, shape (...)
        Temperature of the air and of the walls around it [K].
    diameter : float or array, shape (...)
        Diameter D of the cylinder, more than zero [m].
    emissivity : float or array, shape (...)
        Of the surface: 0.9 for insulation of any colour (from memory) [-].
    pressure : float or array, shape (...)
        Of the air [Pa].

    Returns
    -------
    float or array, shape (...)
        Heat per length, by convection and radiation [W/m]. The arguments broadcast
        together; nan in gives nan out.

    Notes
    -----
    Still air, nothing near. Around wires thinner than 2 mm this correlation gives up
    to a fifth less than others do, which is on the safe side. Inside a wing without
    room for the air to rise less is shed; no rule for that is known here.

    References
    ----------
    .. [1] Churchill and Chu, and the standard atmosphere, as for the module.

    Examples
    --------
    >>> heat = shed_heat(surface_temperature=323.15, air_temperature=293.15, diameter=1.5e-3)
    >>> round(float(heat), 2)
    3.69
    """
    above = surface_temperature - air_temperature
    film = 0.5 * (surface_temperature + air_temperature)
    viscosity = 1.458e-6 * film**1.5 / (film + 110.4)
    conductivity = 2.64638e-3 * film**1.5 / (film + 245.4 * 10.0 ** (-12.0 / film))
    kinematic = viscosity * _GAS_CONSTANT * film / pressure
    rayleigh = _GRAVITY * np.maximum(above, 0.0) * diameter**3 / (film * kinematic**2) * _PRANDTL
    shape = (1.0 + (0.559 / _PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = np.square(0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / shape)
    radiated = (
        emissivity * _STEFAN_BOLTZMANN * (surface_temperature**4 - air_temperature**4) * diameter
    )
    return np.asarray(math.pi * (nusselt * conductivity * above + radiated))[()]


def steady_temperature(
    *,
    current: Floats,
    area: Floats,
    resistivity: Floats,
    temperature_coefficient: Floats,
    strand_factor: Floats,
    outer_diameter: Floats,
    air_temperature: Floats,
    conductors: Floats = 1.0,
    core_conductivity: Floats = np.inf,
    emissivity: Floats = 0.9,
    pressure: Floats = _SEA_LEVEL,
) -> Floats:
    """Temperature of conductors under a steady current, in free air or in a bundle.

    Parameters
    ----------
    current : float or array, shape (...)
        Current in each conductor [A].
    area, resistivity, temperature_coefficient, strand_factor : float or array, shape (...)
        Of the conductors, as `linkcalc.physics.conductors.conductor_resistance` has them.
    outer_diameter : float or array, shape (...)
        Diameter of the wire over its insulation, or of the bundle [m].
    air_temperature : float or array, shape (...)
        Temperature of the air [K].
    conductors : float or array, shape (...)
        Number of conductors that carry this current in the bundle; two for a lead [-].
    core_conductivity : float or array, shape (...)
        Thermal conductivity across the bundle: 0.1 W/(m K) is common practice, no
        source; infinite for a single wire [W/(m K)].
    emissivity, pressure : float or array, shape (...)
        As for `shed_heat`.

    Returns
    -------
    float or array, shape (...)
        Temperature of the warmest conductor [K]; nan where it would be more than 400 K
        above the air, and where an input is nan.

    Notes
    -----
    Found by halving 50 times the interval of surface temperatures, which leaves less
    than a millionth of a kelvin. The result may be put in for the copper temperature of the lead; its
    resistance then changes its current, and a few rounds settle both.

    Examples
    --------
    Two amperes through a lead of 26 AWG, both of its conductors in one sleeve:

    >>> lead = {"area": 0.1288e-6, "outer_diameter": 2.6e-3, "conductors": 2.0}
    >>> warm = steady_temperature(
    ...     current=2.0,
    ...     resistivity=1.7241e-8,
    ...     temperature_coefficient=0.00393,
    ...     strand_factor=1.1,
    ...     air_temperature=293.15,
    ...     **lead,
    ... )
    >>> round(float(warm) - 293.15, 1)
    8.5
    """
    given = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=np.float64)
            for value in (
                current, area, resistivity, temperature_coefficient, strand_factor,
                outer_diameter, air_temperature, conductors, core_conductivity, emissivity,
                pressure,
            )
        )
    )  # fmt: skip
    amperes, section, ohms, rise, strands, diameter, air, count, core, gloss, bar = given
    cold = count * amperes**2 * strands * ohms / section

    def made(surface: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Heat made at a surface temperature [W/m], and the core's excess over it [K]."""
        # q' = cold (1 + alpha (T_s + q' / (4 pi core) - 20 C)), solved for q'.
        base = cold * (1.0 + rise * (surface - REFERENCE_TEMPERATURE))
        across = 1.0 / (4.0 * math.pi * core)
        gain = 1.0 - cold * rise * across
        heat = np.where(gain > 0.0, base, np.nan) / np.where(gain > 0.0, gain, 1.0)
        return heat, heat * across

    low, high = np.array(air), air + _HOTTEST
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        heat, _ = made(middle)
        shed = shed_heat(
            surface_temperature=middle, air_temperature=air, diameter=diameter,
            emissivity=gloss, pressure=bar,
        )  # fmt: skip
        warmer = ~(heat <= shed)  # nan: more heat than any temperature sheds
        low, high = np.where(warmer, middle, low), np.where(warmer, high, middle)
    heat, excess = made(high)
    warmest = high + excess
    known = (warmest <= air + _HOTTEST) & (high < air + _HOTTEST)
    return np.where(known, warmest, np.nan)[()]
