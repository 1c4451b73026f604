r"""Air: the 1976 standard atmosphere, dynamic pressure and airspeeds.

All constants of the standard stand at the head of this module and nowhere else.

References
----------
.. [1] U.S. Standard Atmosphere, 1976. NOAA, NASA and USAF, NOAA-S/T 76-1562.
   Washington, D.C.: U.S. Government Printing Office, 1976, part 1 (constants and
   equations).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = [
    "EARTH_RADIUS",
    "GREATEST_ALTITUDE",
    "HEAT_CAPACITY_RATIO",
    "LAPSE_RATE",
    "LEAST_ALTITUDE",
    "MOLAR_GAS_CONSTANT",
    "MOLAR_MASS",
    "SEA_LEVEL_DENSITY",
    "SEA_LEVEL_PRESSURE",
    "SEA_LEVEL_SPEED_OF_SOUND",
    "SEA_LEVEL_TEMPERATURE",
    "SPECIFIC_GAS_CONSTANT",
    "STANDARD_GRAVITY",
    "SUTHERLAND_COEFFICIENT",
    "SUTHERLAND_TEMPERATURE",
    "TROPOPAUSE",
    "calibrated_airspeed_from_true",
    "density",
    "dynamic_pressure",
    "geopotential_altitude",
    "pressure",
    "speed_of_sound",
    "temperature",
    "true_airspeed_from_calibrated",
    "viscosity",
]

# The constants that define the standard [1]_, in SI units with the mole counted in
# kilomoles as there. R* is the standard's own value, not today's.
SEA_LEVEL_TEMPERATURE = 288.15
"""T_0 [K]."""
SEA_LEVEL_PRESSURE = 101_325.0
"""p_0 [Pa]."""
STANDARD_GRAVITY = 9.806_65
"""g_0 [m/s^2]."""
MOLAR_GAS_CONSTANT = 8_314.32
"""R* [J/(kmol K)]."""
MOLAR_MASS = 28.964_4
"""M_0, mean for air at sea level [kg/kmol]."""
EARTH_RADIUS = 6_356_766.0
"""r_0, effective radius at 45 degrees of latitude [m]."""
HEAT_CAPACITY_RATIO = 1.4
"""Ratio of the specific heats of air, gamma [1]."""
LAPSE_RATE = -6.5e-3
"""L of the lowest layer, per metre of geopotential altitude [K/m]."""
SUTHERLAND_COEFFICIENT = 1.458e-6
"""beta of the law of viscosity [kg/(s m K^(1/2))]."""
SUTHERLAND_TEMPERATURE = 110.4
"""S of the law of viscosity [K]."""
TROPOPAUSE = 11_000.0
"""Geopotential altitude where the lowest layer ends [m]."""
LEAST_ALTITUDE = -5_000.0
"""Where the standard's tables begin, geometric [m]."""
GREATEST_ALTITUDE = 20_000.0
"""Geometric [m]. The isothermal layer ends a little higher, at 20 km geopotential."""

SPECIFIC_GAS_CONSTANT = MOLAR_GAS_CONSTANT / MOLAR_MASS
"""R* / M_0 [J/(kg K)]."""
SEA_LEVEL_DENSITY = SEA_LEVEL_PRESSURE / (SPECIFIC_GAS_CONSTANT * SEA_LEVEL_TEMPERATURE)
"""rho_0 [kg/m^3]."""
SEA_LEVEL_SPEED_OF_SOUND = math.sqrt(
    HEAT_CAPACITY_RATIO * SPECIFIC_GAS_CONSTANT * SEA_LEVEL_TEMPERATURE
)
"""a_0 [m/s]."""

_TROPOPAUSE_TEMPERATURE = SEA_LEVEL_TEMPERATURE + LAPSE_RATE * TROPOPAUSE
_PRESSURE_EXPONENT = -STANDARD_GRAVITY / (SPECIFIC_GAS_CONSTANT * LAPSE_RATE)
_ISOTHERMAL_SCALE = SPECIFIC_GAS_CONSTANT * _TROPOPAUSE_TEMPERATURE / STANDARD_GRAVITY
_ISENTROPIC_EXPONENT = HEAT_CAPACITY_RATIO / (HEAT_CAPACITY_RATIO - 1.0)


def geopotential_altitude(*, altitude: Floats) -> Floats:
    r"""Geopotential altitude of a geometric one.

    .. math:: H = \frac{r_0 \, z}{r_0 + z}

    Parameters
    ----------
    altitude : float or array, shape (...)
        Geometric altitude z above mean sea level, -5 km to 20 km [m].

    Returns
    -------
    float or array, shape (...)
        Geopotential altitude H [m]. Outside the range, and for nan, nan.

    Notes
    -----
    It takes the fall of gravity with height into the altitude, so that the layers
    can be integrated with constant gravity. At 20 km the two differ by 63 m.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(geopotential_altitude(altitude=20_000.0)))
    19937
    """
    z = np.asarray(altitude, dtype=np.float64)
    inside = (z >= LEAST_ALTITUDE) & (z <= GREATEST_ALTITUDE)
    z = np.where(inside, z, np.nan)
    return (EARTH_RADIUS * z / (EARTH_RADIUS + z))[()]


def temperature(*, altitude: Floats) -> Floats:
    r"""Temperature of the standard atmosphere.

    .. math:: T = T_0 + L H \quad (H \le 11 \text{ km}), \qquad
              T = 216.65 \text{ K} \quad (H \ge 11 \text{ km})

    Parameters
    ----------
    altitude : float or array, shape (...)
        Geometric altitude z above mean sea level, -5 km to 20 km [m].

    Returns
    -------
    float or array, shape (...)
        Temperature T [K]. Outside the range, and for nan, nan.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(temperature(altitude=0.0)), 2)
    288.15
    """
    return _temperature(geopotential_altitude(altitude=altitude))


def pressure(*, altitude: Floats) -> Floats:
    r"""Pressure of the standard atmosphere.

    .. math:: p = p_0 (T / T_0)^{-g_0 M_0 / (R^* L)} \quad (H \le 11 \text{ km}), \qquad
              p = p_{11} \, e^{-g_0 M_0 (H - H_{11}) / (R^* T_{11})} \quad (H \ge 11 \text{ km})

    Parameters
    ----------
    altitude : float or array, shape (...)
        Geometric altitude z above mean sea level, -5 km to 20 km [m].

    Returns
    -------
    float or array, shape (...)
        Pressure p [Pa]. Outside the range, and for nan, nan.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(pressure(altitude=0.0)))
    101325
    """
    height = geopotential_altitude(altitude=altitude)
    ratio = _temperature(height) / SEA_LEVEL_TEMPERATURE
    # Above the tropopause the ratio stays at its value there, so one product does for both.
    above = np.maximum(height - TROPOPAUSE, 0.0)
    return SEA_LEVEL_PRESSURE * ratio**_PRESSURE_EXPONENT * np.exp(-above / _ISOTHERMAL_SCALE)


def density(*, altitude: Floats, temperature: Floats | None = None) -> Floats:
    r"""Density of the air at an altitude, on a standard day or at a given temperature.

    .. math:: \rho = \frac{p(z) \, M_0}{R^* \, T}

    Parameters
    ----------
    altitude : float or array, shape (...)
        Geometric altitude z above mean sea level, -5 km to 20 km [m]. With a
        temperature given it is read as the pressure altitude.
    temperature : float or array, shape (...), optional
        Temperature T of the air there, more than zero [K]. Left out, it is the
        standard's own. A day that is 20 K warmer than standard:
        ``air.temperature(altitude=z) + 20.0``.

    Returns
    -------
    float or array, shape (...)
        Density [kg/m^3]. The arguments broadcast together. Outside the range of
        altitude, and for nan, nan.

    Notes
    -----
    Dry air. Moist air is lighter (saturated at 35 degrees C by 2 %, from the ratio of the
    molar masses), so that dry air errs on the side of the larger load.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(density(altitude=0.0)), 4)
    1.225
    >>> round(float(density(altitude=0.0, temperature=308.15)), 4)
    1.1455
    """
    if temperature is None:
        temperature = _temperature(geopotential_altitude(altitude=altitude))
    return pressure(altitude=altitude) / (SPECIFIC_GAS_CONSTANT * temperature)


def dynamic_pressure(*, density: Floats, speed: Floats) -> Floats:
    r"""Dynamic pressure of a stream.

    .. math:: q = \tfrac{1}{2} \rho V^2

    Parameters
    ----------
    density : float or array, shape (...)
        Density of the air, more than zero [kg/m^3].
    speed : float or array, shape (...)
        True airspeed V [m/s]; its sign does not matter.

    Returns
    -------
    float or array, shape (...)
        Dynamic pressure q [Pa]. The arguments broadcast together; nan gives nan.

    Notes
    -----
    By definition. It is not the impact pressure of a pitot tube, which is greater by
    a share of about M^2 / 4 (see `true_airspeed_from_calibrated`).

    References
    ----------
    .. [1] B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed.
       New York: Wiley, 1996 (definition).

    Examples
    --------
    >>> dynamic_pressure(density=1.25, speed=20.0)
    250.0
    """
    return 0.5 * density * speed**2


def viscosity(*, temperature: Floats) -> Floats:
    r"""Dynamic viscosity of air by the standard's form of Sutherland's law.

    .. math:: \mu = \frac{\beta T^{3/2}}{T + S}

    Parameters
    ----------
    temperature : float or array, shape (...)
        Temperature T, more than zero [K].

    Returns
    -------
    float or array, shape (...)
        Dynamic viscosity mu [Pa s]. nan for nan and for a temperature of zero or less.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(viscosity(temperature=288.15)) * 1e5, 4)
    1.7894
    """
    absolute = np.asarray(temperature, dtype=np.float64)
    absolute = np.where(absolute > 0.0, absolute, np.nan)
    return (SUTHERLAND_COEFFICIENT * absolute**1.5 / (absolute + SUTHERLAND_TEMPERATURE))[()]


def speed_of_sound(*, temperature: Floats) -> Floats:
    r"""Speed of sound in air.

    .. math:: a = \sqrt{\gamma R^* T / M_0}

    Parameters
    ----------
    temperature : float or array, shape (...)
        Temperature T of the air, zero or more [K].

    Returns
    -------
    float or array, shape (...)
        Speed of sound a [m/s]. nan gives nan, and so does a temperature below zero.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, part 1.

    Examples
    --------
    >>> round(float(speed_of_sound(temperature=288.15)), 2)
    340.29
    """
    with np.errstate(invalid="ignore"):
        return np.sqrt(HEAT_CAPACITY_RATIO * SPECIFIC_GAS_CONSTANT * temperature)


def true_airspeed_from_calibrated(
    *, calibrated: Floats, pressure: Floats, density: Floats
) -> Floats:
    r"""Turn a calibrated airspeed into the true one.

    A faultless airspeed indicator measures the impact pressure

    .. math:: q_c = p \left[ \left( 1 + \frac{\gamma - 1}{2} \frac{V^2}{a^2}
              \right)^{\gamma / (\gamma - 1)} - 1 \right], \qquad a^2 = \gamma p / \rho

    and its scale is marked with this equation for the standard atmosphere at sea level:
    the two speeds have the same q_c, one with p and rho, the other with p_0 and rho_0.

    Parameters
    ----------
    calibrated : float or array, shape (...)
        Calibrated airspeed, zero or more [m/s].
    pressure : float or array, shape (...)
        Static pressure p of the air outside, more than zero [Pa].
    density : float or array, shape (...)
        Density rho of the air outside, more than zero [kg/m^3].

    Returns
    -------
    float or array, shape (...)
        True airspeed V [m/s]. The arguments broadcast together; nan gives nan. A speed
        below zero, and one that is above the speed of sound on either side, gives nan:
        ahead of the pitot tube there would be a shock, and the equation does not hold.

    See Also
    --------
    calibrated_airspeed_from_true : The inverse.

    References
    ----------
    .. [1] 14 CFR 1.1, "Calibrated airspeed": equal to true airspeed in standard
       atmosphere at sea level.
    .. [2] W. Gracey, Measurement of Aircraft Speed and Altitude, NASA Reference
       Publication 1046, 1980 (the compressible equation of Saint-Venant; cited from
       memory).

    Examples
    --------
    >>> speed = true_airspeed_from_calibrated(calibrated=50.0, pressure=70_121.1, density=0.909254)
    >>> round(float(speed), 2)
    57.98
    """
    impact = _impact_pressure(calibrated, SEA_LEVEL_PRESSURE, SEA_LEVEL_DENSITY)
    return _speed(impact, pressure, density)


def calibrated_airspeed_from_true(*, speed: Floats, pressure: Floats, density: Floats) -> Floats:
    r"""Turn a true airspeed into the calibrated one.

    Inverse of `true_airspeed_from_calibrated`, which states the equation and its limits.

    Parameters
    ----------
    speed : float or array, shape (...)
        True airspeed V, zero or more [m/s].
    pressure : float or array, shape (...)
        Static pressure p of the air outside, more than zero [Pa].
    density : float or array, shape (...)
        Density rho of the air outside, more than zero [kg/m^3].

    Returns
    -------
    float or array, shape (...)
        Calibrated airspeed [m/s]. The arguments broadcast together; nan gives nan. A
        speed below zero or above the speed of sound on either side gives nan.

    References
    ----------
    .. [1] 14 CFR 1.1, "Calibrated airspeed".
    .. [2] W. Gracey, Measurement of Aircraft Speed and Altitude, NASA Reference
       Publication 1046, 1980 (cited from memory).

    Examples
    --------
    >>> speed = calibrated_airspeed_from_true(speed=57.98, pressure=70_121.1, density=0.909254)
    >>> round(float(speed), 2)
    50.00
    """
    impact = _impact_pressure(speed, pressure, density)
    return _speed(impact, SEA_LEVEL_PRESSURE, SEA_LEVEL_DENSITY)


def _temperature(height: Floats) -> Floats:
    """Temperature [K] at a geopotential altitude [m]."""
    return SEA_LEVEL_TEMPERATURE + LAPSE_RATE * np.minimum(height, TROPOPAUSE)


def _impact_pressure(speed: Floats, pressure: Floats, density: Floats) -> Floats:
    """Impact pressure [Pa] at a subsonic speed [m/s]."""
    v = np.asarray(speed, dtype=np.float64)
    sonic = np.sqrt(HEAT_CAPACITY_RATIO * pressure / density)
    v = np.where((v >= 0.0) & (v <= sonic), v, np.nan)
    # (gamma - 1) / 2 times Mach number squared; log1p and expm1 keep the digits of slow flight
    heating = density * v**2 / (2.0 * _ISENTROPIC_EXPONENT * pressure)
    return pressure * np.expm1(_ISENTROPIC_EXPONENT * np.log1p(heating))


def _speed(impact: Floats, pressure: Floats, density: Floats) -> Floats:
    """Subsonic speed [m/s] at an impact pressure [Pa]."""
    heating = np.expm1(np.log1p(impact / pressure) / _ISENTROPIC_EXPONENT)
    subsonic = heating <= 0.5 * (HEAT_CAPACITY_RATIO - 1.0)
    speed = np.sqrt(2.0 * _ISENTROPIC_EXPONENT * heating * pressure / density)
    return np.where(subsonic, speed, np.nan)[()]
