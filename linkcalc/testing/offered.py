"""What the conformance checks offer to a solver: flows, a supply and dives, all invented.

Arrays are read-only, so that a solver which writes into its arguments fails at once.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.solver_fields import DIVE_TABLES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["CASES", "constant_power", "dives", "flows", "read_only", "servos", "supply"]

CASES = 12
"""How many flows are offered at once."""

_FLOWS: dict[str, tuple[float, float]] = {
    "dynamic_pressure": (1.0, 2000.0),
    "incidence": (-0.15, 0.15),
    "deflection": (-0.35, 0.35),
    "area": (1e-3, 0.1),
    "chord": (0.01, 0.2),
    "taper": (0.3, 1.0),
    "chord_ratio": (0.15, 0.5),
    "aspect_ratio": (2.0, 12.0),
    "overhang": (0.0, 0.3),
    "hinge_position": (0.1, 0.4),
    "C_h0": (-0.05, 0.05),
    "c_l0": (-0.3, 0.3),
    "thickness_ratio": (0.03, 0.12),
    "lift_slope_ratio": (0.75, 0.95),
    "density": (0.9, 1.3),
    "viscosity": (1.5e-5, 2.0e-5),
    "C_h_alpha": (-0.6, 0.1),
    "C_h_delta": (-1.0, -0.2),
    "band_low": (0.5, 1.0),
    "band_high": (1.0, 1.5),
    "given_moment": (0.05, 0.5),
}
# one planform for all flows: a lattice is worked out for each that differs
_SAME: dict[str, float] = {
    "span_credit": 0.0,
    "incidence_credit": 0.0,
    "square_edged_slab": 0.0,
    "open_gap": 0.0,
    "half_span": 1.0,
    "root_chord": 0.3,
    "tip_chord": 0.2,
    "sweep": 0.1,
    "dihedral": 0.0,
    "inboard_end": 0.2,
    "outboard_end": 0.9,
    "horn_span": 0.0,
    "horn_lead": 0.0,
    "paired": 1.0,
    "partner": -1.0,
}


def read_only(values: Mapping[str, Any]) -> dict[str, Floats]:
    """Return arrays that refuse to be written into.

    Parameters
    ----------
    values : mapping of str to array_like
        Numbers.

    Returns
    -------
    dict of str to ndarray
        Copies, float64.
    """
    made = {name: np.array(value, dtype=np.float64) for name, value in values.items()}
    for value in made.values():
        value.flags.writeable = False
    return made


def flows(validity: Mapping[str, tuple[float, float]]) -> dict[str, Floats]:
    """Return every field of `linkcalc.solvers.SURFACE_FIELDS` for some flows, the same every time.

    Parameters
    ----------
    validity : mapping of str to (float, float)
        Of the solver: a field stays within it.

    Returns
    -------
    dict of str to ndarray, shape (CASES,)
        Flows with deflections to both sides, in SI.
    """
    drawn = np.random.default_rng(1)
    made: dict[str, Any] = dict(_SAME)
    for name, ends in _FLOWS.items():
        least, greatest = _within(ends, validity.get(name))
        made[name] = least + (greatest - least) * drawn.random(CASES)
    bound = validity.get("largest_incidence", (0.0, math.inf))
    made["largest_incidence"] = np.clip(np.abs(made["incidence"]), *bound)
    return read_only({name: np.broadcast_to(value, CASES) for name, value in made.items()})


def _within(ends: tuple[float, float], bound: tuple[float, float] | None) -> tuple[float, float]:
    """Return what two ranges share, or the second where they share nothing."""
    if bound is None:
        return ends
    least, greatest = max(ends[0], bound[0]), min(ends[1], bound[1])
    return (least, greatest) if least < greatest else bound


def supply(**changes: Any) -> dict[str, Floats]:
    """Return every field of a supply: a bus with a load, a lead from it, and one behind that.

    Parameters
    ----------
    **changes : array_like
        Fields that differ.

    Returns
    -------
    dict of str to ndarray
        Four nodes, three servos; resistances as measured, no regulator, no limit.
    """
    node = {
        "parent": [-1, 0, 0, 1],
        "loop_resistance": [0.0, 0.10, 0.05, 0.20],
        "load": [0.3, 0.0, 0.0, 0.0],
    }
    count = len(changes.get("parent", node["parent"]))
    same = {
        "length": 1.0,
        "conductor_area": 1e-6,
        "return_area": math.nan,
        "resistivity": 1.7241e-8,
        "temperature_coefficient": 0.00393,
        "copper_temperature": 293.15,
        "strand_factor": 1.1,
        "contacts": 0.0,
        "return_contacts": math.nan,
        "contact_resistance": 0.0,
        "regulated_voltage": math.nan,
        "dropout": 0.0,
        "output_resistance": 0.0,
        "output_limit": math.inf,
        "efficiency": math.nan,
        "quiescent_current": 0.0,
    }
    source = {
        "servo_node": [1, 2, 3],
        "open_circuit_voltage": 6.0,
        "internal_resistance": 0.05,
        "current_limit": math.inf,
        "seek_latch_up": 1.0,
        "seek_details": 1.0,
    }
    made = node | {name: np.full(count, value) for name, value in same.items()} | source
    return read_only(made | changes)


def servos(voltage: Floats) -> Floats:
    """Return currents of servos that draw more the less voltage they get, down to a stall.

    Parameters
    ----------
    voltage : ndarray, shape (..., servo)
        At each servo, more than zero [V].

    Returns
    -------
    ndarray, shape (..., servo)
        Currents, zero or more [A].
    """
    rated = np.array([0.8, 0.5, 0.6])
    return rated * np.minimum(voltage / 3.0, 6.0 / np.maximum(voltage, 1.0))


def constant_power(power: float) -> Any:
    """Return the demand of something that takes one power at any voltage.

    Parameters
    ----------
    power : float
        The power [W].

    Returns
    -------
    callable
        From voltages [V] to currents [A].

    Examples
    --------
    >>> float(constant_power(6.0)(np.float64(3.0)))
    2.0
    """
    return lambda voltage: power / voltage


def dives(**changes: Any) -> dict[str, Floats]:
    """Return every field of `linkcalc.solvers.DIVE_FIELDS` for three dives of one glider.

    Parameters
    ----------
    **changes : array_like
        Fields that differ.

    Returns
    -------
    dict of str to ndarray
        In SI; the tables are empty.
    """
    made: dict[str, Any] = {
        "mass": 2.0,
        "wing_area": 0.35,
        "zero_lift_drag": 0.02,
        "induced_factor": 0.04,
        "maximum_lift": 1.1,
        "limit_load_factor": 6.0,
        "trim_dynamic_pressure": 300.0,
        "trim_deflection": -0.02,
        "load_factor_slope": math.nan,
        "static_margin": 0.10,
        "tail_volume": 0.5,
        "tail_lift_slope": 4.0,
        "tail_arm": 0.7,
        "elevator_effectiveness": 0.5,
        "field_altitude": 0.0,
        "start_height": 300.0,
        "start_speed": 18.0,
        "dive_angle": np.radians([20.0, 45.0, 70.0]),
        "drop": 30.0,
        "delay": 1.0,
        "ceiling": math.nan,
    }
    return read_only(made | {name: np.zeros(0) for name in DIVE_TABLES} | changes)
