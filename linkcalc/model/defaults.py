"""What is used where a description is silent, each with the words that say so."""

from __future__ import annotations

import math
from typing import NamedTuple

from linkcalc.units import Stated

__all__ = ["DEFAULTS", "Default", "resolve"]

PRACTICE = "common practice, no source"


class Default(NamedTuple):
    """A value that stands in for one that was not given.

    Attributes
    ----------
    value : float
        In SI.
    words : str
        What is used, and by what authority.
    """

    value: float
    words: str


DEFAULTS: dict[str, Default] = {
    "chord ratio": Default(0.4, f"0.4 ({PRACTICE}; high for an aileron, so on the safe side)"),
    "linkage efficiency": Default(0.9, f"0.9 ({PRACTICE})"),
    "linkage efficiency of cables or of more than two joints in line": Default(
        0.8, f"0.8 ({PRACTICE})"
    ),
    "servo travel": Default(math.radians(45), f"45 deg either side ({PRACTICE})"),
    "deadband of a digital servo": Default(2e-6, f"2 us ({PRACTICE})"),
    "deadband of an analogue servo": Default(8e-6, f"8 us ({PRACTICE})"),
    "copper temperature": Default(313.15, f"40 degC ({PRACTICE})"),
    "strand factor": Default(1.10, f"1.10 x the resistance of the nominal section ({PRACTICE})"),
    "contact resistance": Default(0.0, "0 ohm; a caution: worn plugs have tens of milliohms"),
    "internal resistance": Default(
        0.0, "0 ohm; a caution: every source sags, so give a measured value"
    ),
    "receiver current": Default(0.1, f"0.1 A ({PRACTICE})"),
    "receiver minimum voltage": Default(3.5, f"3.5 V ({PRACTICE})"),
    "rod diameter": Default(0.002, f"2 mm ({PRACTICE})"),
    "rod end coefficient": Default(1.0, "1, pinned at both ends"),
    "hinge friction": Default(0.0, "0 N·m"),
    "shaft friction": Default(0.0, "0 N·m"),
    "compliance": Default(0.0, "0 deg/(N·m), a stiff linkage"),
    "altitude": Default(0.0, "0 m in the 1976 standard atmosphere"),
}
"""By the name of the quantity; what depends on other fields is said where it is computed."""

NO_LOAD_SHARE = 0.1
"""No-load current over stall current where a datasheet is silent (common practice, no source)."""

MINIMUM_SHARE = 0.8
"""Minimum voltage over that of the lowest row where a datasheet is silent (common practice, no source)."""

ROD_LENGTHS = 10.0
"""Rod length over the longer radius where a file is silent (common practice, no source)."""

RANGE_TIME = 0.5
"""Time in which a surface runs through its range where no rate is wanted [s] (common practice, no source)."""

GROUND_RANGE_TIME = 5.0
"""The same where nothing flies: it is to be held rather than moved [s] (common practice, no source)."""

INCIDENCE = {
    None: math.radians(10),
    "manoeuvre": math.radians(10),
    "dive": math.radians(3),
    "sustained": math.radians(3),
    "parked": 0.0,
    "handling": 0.0,
}
"""Incidence and sideslip by kind of case [rad] (common practice, no source)."""

FRACTION = {"manoeuvre": 1.0, "dive": 1 / 3, "sustained": 1 / 5} | {"parked": 1.0, "handling": 1.0}
"""Share of the throw by kind of case (the pattern of CS-22 and 14 CFR 23, from memory; when sustained
and on the ground common practice, no source)."""


def resolve(held: Stated | float | None, name: str, notes: list[str]) -> float:
    """Return what was given, or the default, and note that it was used.

    Parameters
    ----------
    held : Stated, float or None
        What the description holds.
    name : str
        A key of `DEFAULTS`.
    notes : list of str
        Receives one line where the default was used.

    Returns
    -------
    float
        In SI.

    Examples
    --------
    >>> notes = []
    >>> resolve(None, "strand factor", notes)
    1.1
    >>> notes
    ['strand factor not given: 1.10 x the resistance of the nominal section (common practice, no source)']
    """
    if held is None:
        note = f"{name} not given: {DEFAULTS[name].words}"
        if note not in notes:
            notes.append(note)
        return DEFAULTS[name].value
    return held.si if isinstance(held, Stated) else float(held)
