"""Figures that benchmarks hold, and where they are put down when all are measured in one run.

A benchmark asks ``assert held(...)``. On its own that is a comparison; with a file named in the
environment, as `measure_all` does, every figure is put down there as well, held or not.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

__all__ = ["FILE", "held"]

FILE = "LINKCALC_FIGURES"


def held(what: str, measured: float, at_most: float, unit: str = "x") -> bool:
    """Put a figure down where figures are collected, and tell whether it is within its goal.

    Parameters
    ----------
    what : str
        What was measured, in words for the table.
    measured, at_most : float
        In the unit; nan is not held.
    unit : str
        ``x`` is a ratio.
    """
    if place := os.environ.get(FILE):
        figure = {"what": what, "measured": measured, "at_most": at_most, "unit": unit}
        with Path(place).open("a", encoding="utf-8") as kept:
            kept.write(json.dumps(figure) + "\n")
    return measured <= at_most
