"""A battery as a source: open-circuit voltage by charge, internal resistance by temperature.

The voltages of rested cells are common practice, no source: makers' curves differ by a few
hundredths of a volt, most where a cell is nearly empty. A measured voltage, or the pack's own
curve, is worth more. What a pack gives after minutes under load, and how it sags with time,
is not in here.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import SolverError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = float | NDArray[np.float64]

__all__ = ["CHEMISTRIES", "Chemistry", "internal_resistance", "open_circuit_voltage"]

_GAS_CONSTANT = 8.314462618  # [J/(mol K)]
_WARM = 298.15  # to which resistances refer [K]


class Chemistry(NamedTuple):
    """What is known about the cells of a kind, all of it common practice, no source."""

    state_of_charge: tuple[float, ...]
    """Ascending from 0 to 1 [-]."""
    voltage: tuple[float, ...]
    """Of one rested cell there [V]."""
    resistance_times_capacity: float
    """Internal resistance of one cell at 25 degrees Celsius times its capacity [ohm A s]."""
    activation_energy: float
    """By which the resistance rises in the cold [J/mol]."""


CHEMISTRIES: Mapping[str, Chemistry] = MappingProxyType(
    {
        "lithium polymer": Chemistry(
            (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0),
            (3.30, 3.60, 3.69, 3.73, 3.77, 3.79, 3.82, 3.87, 3.93, 4.02, 4.11, 4.20),
            3600.0 * 0.012,
            22e3,
        ),
        "lithium ion": Chemistry(
            (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0),
            (3.00, 3.35, 3.45, 3.55, 3.61, 3.66, 3.72, 3.80, 3.90, 3.99, 4.08, 4.20),
            3600.0 * 0.10,
            22e3,
        ),
        "lithium iron phosphate": Chemistry(
            (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.97, 1.0),
            (2.60, 3.05, 3.20, 3.24, 3.27, 3.29, 3.32, 3.34, 3.36, 3.45),
            3600.0 * 0.025,
            25e3,
        ),
        "nickel metal hydride": Chemistry(
            (0.0, 0.1, 0.2, 0.5, 0.8, 0.9, 1.0),
            (1.10, 1.20, 1.24, 1.28, 1.32, 1.35, 1.40),
            3600.0 * 0.040,
            12e3,
        ),
    }
)
"""Chemistries by name."""


def _known(chemistry: str) -> Chemistry:
    """Chemistry of a name."""
    try:
        return CHEMISTRIES[chemistry]
    except KeyError:
        raise SolverError(
            f"battery: no chemistry is called {chemistry!r}; there are {', '.join(CHEMISTRIES)}. "
            "Give one of these, or the measured voltage and resistance"
        ) from None


def open_circuit_voltage(chemistry: str, *, cells: Floats, state_of_charge: Floats) -> Floats:
    """Voltage of a rested battery without load.

    Parameters
    ----------
    chemistry : str
        A key of `CHEMISTRIES`.
    cells : float or array, shape (...)
        Number of cells in series [-].
    state_of_charge : float or array, shape (...)
        Charge left over full charge, from 0 to 1 [-].

    Returns
    -------
    float or array, shape (...)
        Voltage [V], linear between the points of the curve. nan in, and a state of
        charge below 0 or above 1, give nan out.

    Raises
    ------
    linkcalc.errors.SolverError
        No such chemistry.

    Notes
    -----
    Temperature moves this voltage by less than the curves differ, and is left out.

    Examples
    --------
    >>> float(open_circuit_voltage("lithium polymer", cells=2, state_of_charge=0.5))
    7.64
    """
    kind = _known(chemistry)
    charge = np.asarray(state_of_charge, dtype=np.float64)
    inside = (charge >= 0.0) & (charge <= 1.0)
    cell = np.interp(charge, kind.state_of_charge, kind.voltage)
    return np.asarray(cells * np.where(inside, cell, np.nan))[()]


def internal_resistance(
    chemistry: str,
    *,
    cells: Floats,
    temperature: Floats,
    cell_resistance: Floats = np.nan,
    capacity: Floats = np.nan,
) -> Floats:
    r"""Internal resistance of a battery.

    .. math:: R = n R_{25} \exp \left( \frac{E}{R_m} \left( \frac{1}{T} -
              \frac{1}{298.15\,\mathrm{K}} \right) \right)

    Parameters
    ----------
    chemistry : str
        A key of `CHEMISTRIES`.
    cells : float or array, shape (...)
        Number n of cells in series [-].
    temperature : float or array, shape (...)
        Temperature T of the cells [K].
    cell_resistance : float or array, shape (...)
        Resistance of one cell, or of the cells side by side that stand for one,
        measured at 25 degrees Celsius [ohm]. nan: estimated from the capacity.
    capacity : float or array, shape (...)
        Capacity of one cell, or of those side by side [A s]. Not used beside a
        measured resistance.

    Returns
    -------
    float or array, shape (...)
        Resistance R of the battery, its leads and plug left out [ohm]. nan in, and
        neither resistance nor capacity, give nan out.

    Raises
    ------
    linkcalc.errors.SolverError
        No such chemistry.

    Notes
    -----
    The estimate from the capacity is good to a factor of two either way (common
    practice, no source): made for high currents a cell has half of it, old and worn
    twice. The law of the cold is meant from -20 to 45 degrees Celsius.

    References
    ----------
    .. [1] Arrhenius' law for the conductivity of an electrolyte; the activation energies
       are common practice, no source.

    Examples
    --------
    Two cells of 6 milliohm, at freezing point:

    >>> cold = internal_resistance(
    ...     "lithium polymer", cells=2, temperature=273.15, cell_resistance=0.006
    ... )
    >>> round(float(cold), 4)
    0.0271
    """
    kind = _known(chemistry)
    with np.errstate(divide="ignore"):
        estimated = kind.resistance_times_capacity / np.asarray(capacity, dtype=np.float64)
    warm = np.where(np.isnan(cell_resistance), estimated, cell_resistance)
    colder = 1.0 / np.asarray(temperature, dtype=np.float64) - 1.0 / _WARM
    rise = np.exp(kind.activation_energy / _GAS_CONSTANT * colder)
    return np.asarray(cells * warm * rise)[()]
