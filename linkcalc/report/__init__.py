"""How an answer is shown: as text for a flyer, as a page and pictures, as a document for programs.

No arithmetic beyond the choice of digits. Imports `check` and what lies below it. Page and
pictures are loaded when they are first asked for.

Examples
--------
>>> from linkcalc import report
>>> report.html("examples/sandpiper.toml").count("<figure")
78
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linkcalc.report.page import html, write_html
    from linkcalc.report.plots import (
        plot_air_load,
        plot_linkage,
        plot_margin_against_deflection,
        plot_margin_against_speed,
        plot_voltage,
    )

__all__ = [
    "html",
    "plot_air_load",
    "plot_linkage",
    "plot_margin_against_deflection",
    "plot_margin_against_speed",
    "plot_voltage",
    "write_html",
]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'linkcalc.report' has no attribute {name!r}")
    room = "plots" if name.startswith("plot_") else "page"
    value = getattr(importlib.import_module(f"linkcalc.report.{room}"), name)
    globals()[name] = value
    return value
