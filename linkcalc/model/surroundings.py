"""What shapes the stream at a surface: the wing ahead of it, and the propeller."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import InputError, told
from linkcalc.model.value_classes import given

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from linkcalc.model.airframe import Airframe
    from linkcalc.model.case import FlightCase
    from linkcalc.model.surface import ControlSurface

__all__ = ["flow_faults"]


def flow_faults(
    surfaces: Iterable[ControlSurface], cases: Iterable[FlightCase], airframe: Airframe | None
) -> Iterator[InputError]:
    """List what is missing for the flows that surfaces and cases name.

    Parameters
    ----------
    surfaces : iterable of ControlSurface
        All of an aircraft.
    cases : iterable of FlightCase
        Likewise.
    airframe : Airframe or None
        None where it is not described.

    Yields
    ------
    InputError
        One for each thing that is missing, or that nothing uses.
    """
    behind = {surface.behind for surface in surfaces}
    if any("wing" in place for place in behind) and airframe is None:
        yield InputError(
            "airframe",
            told("nothing, and a surface behind the wing"),
            "mass, wing_area and aspect_ratio of the airframe",
            "Give the airframe, or leave behind out at the surface.",
        )
    for case in cases:
        place = f"cases[{case.name!r}]"
        if given(case, "thrust") or given(case, "static_thrust"):
            yield from _slipstream_faults(airframe, place, behind)
        if case.regulation == "14 CFR 23.415" and airframe is None:
            yield InputError(
                f"{place}.regulation",
                case.regulation,
                "an airframe, as the wind there goes with the wing loading",
                "Give the airframe, or the speed of the wind.",
            )


def _slipstream_faults(
    airframe: Airframe | None, place: str, behind: set[str]
) -> Iterator[InputError]:
    if airframe is None or airframe.propeller is None:
        yield InputError(
            "airframe.propeller",
            told("nothing, and a thrust in a case"),
            "the diameter of the propeller",
            "Give the propeller, or leave the thrust out.",
        )
    if not any("propeller" in each for each in behind):
        yield InputError(
            f"{place}.thrust",
            told("a thrust, and no surface behind the propeller"),
            "behind = 'propeller' at a surface in the slipstream",
            "Say which surface stands in the slipstream, or leave the thrust out.",
        )
