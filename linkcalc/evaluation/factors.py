"""Factors of safety as plain numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from linkcalc.model import SafetyFactors

__all__ = ["PLAIN", "Factors", "factors"]


class Factors(NamedTuple):
    """Factors of safety [-], named as the fields of `SafetyFactors`; numbers or arrays."""

    torque: Any = 1.0
    datasheet: Any = 1.0
    current: Any = 1.0
    voltage: Any = 1.0
    over_voltage: Any = 1.0
    travel: Any = 1.0


PLAIN = Factors()
"""Every factor 1."""


def factors(stated: SafetyFactors) -> Factors:
    """Return the factors of an aircraft as plain numbers.

    Parameters
    ----------
    stated : SafetyFactors
        As the aircraft has them.

    Returns
    -------
    Factors
        The same numbers.
    """
    return Factors(*(getattr(stated, name) for name in Factors._fields))
