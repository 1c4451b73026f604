"""How a dive begins: a few entries by name."""

from __future__ import annotations

import math
from typing import NamedTuple

from linkcalc.errors import InputError

__all__ = ["PRESETS", "Preset", "preset"]


class Preset(NamedTuple):
    """An entry by name. All figures are common practice, no source.

    Attributes
    ----------
    description : str
        One line.
    speed_ratio : float
        Speed over the stall speed of level flight; nan for the terminal speed of the dive [1].
    dive_angle : float
        Below the horizon [rad].
    delay : float
        Until somebody pulls [s].
    """

    description: str
    speed_ratio: float
    dive_angle: float
    delay: float


PRESETS: dict[str, Preset] = {
    "stall": Preset(
        "wings level, the nose has dropped; it is noticed, and the pull begins a second later",
        1.0,
        math.radians(45.0),
        1.0,
    ),
    "spin exit": Preset(
        "rotation has just stopped in a steep dive, the pull begins half a second later",
        1.2,
        math.radians(75.0),
        0.5,
    ),
    "missed pull-out": Preset(
        "the dive has gone on to its terminal speed, the pull begins two seconds late",
        math.nan,
        math.radians(60.0),
        2.0,
    ),
}
"""Entries by name: what a file gives of its own takes the place of the figure here."""


def preset(name: str) -> Preset:
    """Return an entry by its name.

    Parameters
    ----------
    name : str
        A key of `PRESETS`.

    Returns
    -------
    Preset
        Its figures.

    Raises
    ------
    InputError
        There is none of that name.

    Examples
    --------
    >>> preset("stall").delay
    1.0
    """
    if name not in PRESETS:
        raise InputError(
            "preset",
            name,
            f"one of {', '.join(PRESETS)}",
            "Choose one of these, or give the start state.",
        )
    return PRESETS[name]
