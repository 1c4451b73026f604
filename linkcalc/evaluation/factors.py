"""Factors of safety as plain numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.model.value_classes import stated

if TYPE_CHECKING:
    from linkcalc.model import SafetyFactors
    from linkcalc.units import Stated

__all__ = ["Factors", "both", "factors"]


class Factors(NamedTuple):
    """Factors of safety [-], named as the fields of `SafetyFactors`; numbers or arrays.

    The last two are no factors on a load: the share of stall torque that may be held [-],
    and the play that is allowed [rad]. They are the same in the plain margins.
    """

    torque: Any
    datasheet: Any
    mismatch: Any
    travel: Any
    voltage: Any
    over_voltage: Any
    current: Any
    speed: Any
    hold: Any
    buckling: Any
    joint: Any
    cable_joint: Any
    source_heat: Any
    gear: Any
    free_play: Any
    divergence: Any
    hold_fraction: Any
    free_play_limit: Any


def factors(given: SafetyFactors) -> Factors:
    """Return the factors of an aircraft as plain numbers.

    Parameters
    ----------
    given : SafetyFactors
        As the aircraft has them.

    Returns
    -------
    Factors
        The same numbers.
    """
    made = {name: getattr(given, name) for name in Factors._fields if name != "free_play_limit"}
    limit: Stated = stated(given, "free_play_limit")
    return Factors(**made, free_play_limit=limit.si)


def both(used: Factors, axes: int) -> Factors:
    """Stack the factors with those of the plain margins along the basis axis.

    Parameters
    ----------
    used : Factors
        For the verdict.
    axes : int
        Axes of the arrays that they meet, the basis axis first.

    Returns
    -------
    Factors
        Arrays of shape (2, 1, ...): as given, and every factor 1.
    """
    kept = ("hold_fraction", "free_play_limit")
    plain = {name: value if name in kept else 1.0 for name, value in used._asdict().items()}
    shape = (2, *(1,) * (axes - 1))
    return Factors(
        *(np.array([value, plain[name]]).reshape(shape) for name, value in used._asdict().items())
    )
