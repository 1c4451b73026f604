"""The units that quantities may be stated in, and what quantities there are."""

from __future__ import annotations

import math
from typing import NamedTuple

__all__ = ["KINDS", "MASS_LENGTH", "NO_DIMENSION", "STANDARD_GRAVITY", "UNITS", "Kind", "Powers"]

STANDARD_GRAVITY = 9.80665
"""Standard gravity [m/s^2] (3rd CGPM, 1901); turns printed kg·cm and oz·in into torque."""

Powers = tuple[int, ...]
_M: Powers = (1, 0, 0, 0, 0, 0)
_KG: Powers = (0, 1, 0, 0, 0, 0)
_S: Powers = (0, 0, 1, 0, 0, 0)
_A: Powers = (0, 0, 0, 1, 0, 0)
_K: Powers = (0, 0, 0, 0, 1, 0)
_RAD: Powers = (0, 0, 0, 0, 0, 1)  # a dimension of its own: a bare number is no angle
NO_DIMENSION: Powers = (0, 0, 0, 0, 0, 0)
_N: Powers = (1, 1, -2, 0, 0, 0)
_PA: Powers = (-1, 1, -2, 0, 0, 0)
_V: Powers = (2, 1, -3, -1, 0, 0)
_OHM: Powers = (2, 1, -3, -2, 0, 0)
_W: Powers = (2, 1, -3, 0, 0, 0)
_NM: Powers = (2, 1, -2, 0, 0, 0)
_SPEED: Powers = (1, 0, -1, 0, 0, 0)
_RATE: Powers = (0, 0, -1, 0, 0, 1)
MASS_LENGTH: Powers = (1, 1, 0, 0, 0, 0)

_POUND = 0.45359237  # exact, international yard and pound agreement of 1959
_OUNCE = _POUND / 16
_INCH = 0.0254  # exact, the same agreement

# word -> (factor to SI, powers of the base units, the word pint knows it by)
UNITS: dict[str, tuple[float, Powers, str]] = {
    "m": (1.0, _M, "m"),
    "dm": (0.1, _M, "dm"),
    "cm": (0.01, _M, "cm"),
    "mm": (0.001, _M, "mm"),
    "um": (1e-6, _M, "um"),
    "km": (1000.0, _M, "km"),
    "in": (_INCH, _M, "inch"),
    "inch": (_INCH, _M, "inch"),
    "ft": (12 * _INCH, _M, "foot"),
    "mil": (_INCH / 1000, _M, "thou"),
    "nmi": (1852.0, _M, "nautical_mile"),
    "kg": (1.0, _KG, "kg"),
    "g": (0.001, _KG, "g"),
    "mg": (1e-6, _KG, "mg"),
    "lb": (_POUND, _KG, "lb"),
    "oz": (_OUNCE, _KG, "oz"),
    "s": (1.0, _S, "s"),
    "ms": (0.001, _S, "ms"),
    "us": (1e-6, _S, "us"),
    "min": (60.0, _S, "minute"),
    "h": (3600.0, _S, "hour"),
    "N": (1.0, _N, "N"),
    "mN": (0.001, _N, "mN"),
    "kN": (1000.0, _N, "kN"),
    "kgf": (STANDARD_GRAVITY, _N, "kgf"),
    "gf": (STANDARD_GRAVITY / 1000, _N, "gram_force"),
    "lbf": (_POUND * STANDARD_GRAVITY, _N, "lbf"),
    "ozf": (_OUNCE * STANDARD_GRAVITY, _N, "force_ounce"),
    "Nm": (1.0, _NM, "N*m"),
    "Ncm": (0.01, _NM, "N*cm"),
    "mNm": (0.001, _NM, "mN*m"),
    "Pa": (1.0, _PA, "Pa"),
    "hPa": (100.0, _PA, "hPa"),
    "kPa": (1000.0, _PA, "kPa"),
    "MPa": (1e6, _PA, "MPa"),
    "GPa": (1e9, _PA, "GPa"),
    "V": (1.0, _V, "V"),
    "mV": (0.001, _V, "mV"),
    "A": (1.0, _A, "A"),
    "mA": (0.001, _A, "mA"),
    "ohm": (1.0, _OHM, "ohm"),
    "mohm": (0.001, _OHM, "mohm"),
    "Ah": (3600.0, (0, 0, 1, 1, 0, 0), "A*h"),
    "mAh": (3.6, (0, 0, 1, 1, 0, 0), "mA*h"),
    "W": (1.0, _W, "W"),
    "mW": (0.001, _W, "mW"),
    "K": (1.0, _K, "K"),
    "rad": (1.0, _RAD, "rad"),
    "mrad": (0.001, _RAD, "mrad"),
    "deg": (math.pi / 180, _RAD, "deg"),
    "rev": (2 * math.pi, _RAD, "turn"),
    "rpm": (math.pi / 30, _RATE, "rpm"),
    "kt": (1852.0 / 3600, _SPEED, "knot"),
    "kn": (1852.0 / 3600, _SPEED, "knot"),
    "mph": (5280 * 12 * _INCH / 3600, _SPEED, "mph"),
    "%": (0.01, NO_DIMENSION, "percent"),
}


class Kind(NamedTuple):
    """What a quantity measures.

    Attributes
    ----------
    name : str
        As messages call it, such as ``"length"``.
    powers : tuple of int
        Powers of metre, kilogram, second, ampere, kelvin and radian.
    unit : str
        The SI unit that kernels see, as pint spells it.
    example : str
        A string that would be right.
    """

    name: str
    powers: Powers
    unit: str
    example: str


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", _M, "m", "12 mm"),
        Kind("area", (2, 0, 0, 0, 0, 0), "m**2", "0.14 mm^2"),
        Kind("mass", _KG, "kg", "12 g"),
        Kind("mass per length", (-1, 1, 0, 0, 0, 0), "kg/m", "8 g/m"),
        Kind("time", _S, "s", "0.5 s"),
        Kind("angle", _RAD, "rad", "20 deg"),
        Kind("angular rate", _RATE, "rad/s", "0.12 s/60deg"),
        Kind("speed", _SPEED, "m/s", "45 m/s"),
        Kind("force", _N, "N", "150 N"),
        Kind("torque", _NM, "N*m", "3.2 kg·cm"),
        Kind("pressure", _PA, "Pa", "1200 Pa"),
        Kind("density", (-3, 1, 0, 0, 0, 0), "kg/m**3", "1.225 kg/m^3"),
        Kind("temperature", _K, "K", "15 degC"),
        Kind("voltage", _V, "V", "6.0 V"),
        Kind("current", _A, "A", "1.4 A"),
        Kind("resistance", _OHM, "ohm", "40 mohm"),
        Kind("electric charge", (0, 0, 1, 1, 0, 0), "A*s", "2200 mAh"),
        Kind("power", _W, "W", "2 W"),
        Kind("slope", (0, 0, 0, 0, 0, -1), "1/rad", "-0.012 1/deg"),
        Kind("angular compliance", (-2, -1, 2, 0, 0, 1), "rad/(N*m)", "2 deg/(N·m)"),
        Kind("stiffness", (0, 1, -2, 0, 0, 0), "N/m", "60 N/mm"),
        Kind("ratio", NO_DIMENSION, "dimensionless", "0.25"),
    )
}
