"""What hinge-moment solvers are told of a surface, whatever the case and the deflection."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc import solvers
from linkcalc.errors import SolverError
from linkcalc.model.defaults import resolve
from linkcalc.model.planform import surveyed
from linkcalc.model.surface import section_camber
from linkcalc.model.value_classes import given, si
from linkcalc.solver_fields import STATION, STATION_FIELDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.model.surface import ControlSurface, HingeMomentCoefficients
    from linkcalc.physics.stations import Stations

__all__ = ["REYNOLDS_TEMPERATURE", "solver_name", "surface_fields"]

REYNOLDS_TEMPERATURE = 313.15
"""Temperature of the viscosity where a case gives a density alone: a hot day [K].

A Reynolds number that is too small is the safe side: it widens the band. This one is 7 %
below that of the standard atmosphere at sea level.
"""


def solver_name(surface: ControlSurface) -> str:
    """Return the hinge-moment solver of a surface: as given, or by what is known of it.

    Parameters
    ----------
    surface : ControlSurface
        As described.

    Returns
    -------
    str
        Its name.
    """
    if surface.solver:
        return surface.solver
    if surface.coefficients:
        return "coefficients"
    if given(surface, "moment"):
        return "moment"
    return "thin_aerofoil" if surface.hinge_position is None else "all_moving"


def surface_fields(surface: ControlSurface, lines: list[str]) -> dict[str, float]:
    """Return the fields of one surface.

    Parameters
    ----------
    surface : ControlSurface
        As described.
    lines : list of str
        Receives a line for every default that is used.

    Returns
    -------
    dict of str to float
        In the units of `linkcalc.solvers.SURFACE_FIELDS`; nan where it is not known. Those of
        `linkcalc.solvers.STATION_FIELDS` stand among them for a surface by stations alone.
    """
    known = surface.coefficients
    span, chord = si(surface, "span"), si(surface, "chord")
    by_hand = surface.solver in {None, "coefficients"} and known is not None
    whole = surface.hinge_position is not None
    ratio = (
        1.0
        if whole
        else math.nan
        if by_hand and surface.chord_ratio is None
        else resolve(surface.chord_ratio, "chord ratio", lines)
    )
    if known is not None:
        lines.extend(_signs(known))
        lines.extend(_sizes(known, whole=whole))
    camber = section_camber(surface, ratio)
    lines.extend(_credits(surface))
    lines.extend(note for note in _unsaid(surface) if note not in lines)
    return {
        "area": span * chord,
        "chord": chord,
        "taper": surface.taper,
        "chord_ratio": ratio,
        "aspect_ratio": math.inf if surface.aspect_ratio is None else surface.aspect_ratio,
        "span_credit": float("span" in surface.credit),
        "incidence_credit": float("incidence" in surface.credit),
        "overhang": surface.overhang,
        "hinge_position": math.nan if surface.hinge_position is None else surface.hinge_position,
        "square_edged_slab": float(surface.section == "slab"),
        "C_h0": known.C_h0 if known else float(camber.C_h0),
        "c_l0": camber.c_l0,
        "thickness_ratio": math.nan if surface.thickness_ratio is None else surface.thickness_ratio,
        "lift_slope_ratio": surface.lift_slope_ratio or 0.0,
        "open_gap": float(surface.gap == "open"),
        **_planform(surface, span),
        "C_h_alpha": si(known, "C_h_alpha") if known else math.nan,
        "C_h_delta": si(known, "C_h_delta") if known else math.nan,
        "band_low": known.band_low if known else math.nan,
        "band_high": known.band_high if known else math.nan,
        "given_moment": si(surface, "moment"),
    }


_USUAL = {
    "plane": (None, "level unless laid out in space"),
    "taper": (1.0, "no taper"),
    "section": ("aerofoil", "section of an aerofoil"),
    "gap": ("sealed", "sealed gap"),
    "overhang": (0.0, "no overhang"),
}
"""Shape of a surface of which the file says no other: key, value, in words."""


def _unsaid(surface: ControlSurface) -> Iterator[str]:
    """Tell the solver that was chosen, and which of the usual shape the surface has, said or not."""
    if surface.solver is None:
        yield f"solver of the air load not given: {solver_name(surface)}"
    usual = {
        name: words for name, (value, words) in _USUAL.items() if getattr(surface, name) == value
    }
    if solver_name(surface) in {"coefficients", "moment"}:  # which have the shape in them
        usual = {name: words for name, words in usual.items() if name == "plane"}
    elif surface.aspect_ratio is None:
        yield "aspect ratio not given: infinite, no relief by a finite span"
    if usual:
        yield f"shape of the surface not given otherwise: {', '.join(usual.values())}"


def _signs(known: HingeMomentCoefficients) -> Iterator[str]:
    """Warn of slopes that let a surface float away; it may be overbalanced, or a sign be wrong."""
    for name, words in (
        ("C_h_alpha", "floats against the stream"),
        ("C_h_delta", "pushes itself further out"),
    ):
        slope = si(known, name)
        if slope > 0:
            yield (
                f"{name} = {slope:+.3g} 1/rad is positive: the surface {words}, as only an overbalanced "
                "one does; check the sign (positive is trailing edge down)"
            )


_SECTION = math.pi / 2
"""Largest slope of thin-aerofoil theory with incidence and deflection at any chord ratio, that of the
hinge at the leading edge: lift of 2 pi at a quarter of the chord (H. Glauert, R&M 1095) [1/rad]."""
_WHOLE = 1.5 * math.pi
"""That of a surface that moves as a whole, hinged at its trailing edge: 2 pi at 3/4 [1/rad]."""
_SQUARE_EDGES, _POINTED = 1.2, 4 / 3
"""What square edges (common practice, no source) and a taper to a point (closed form) add at most [1]."""
_PER_DEGREE = 0.03
"""Slope with deflection under which it is likely one per degree: theory has 0.85 to 1.57 1/rad, which
is 0.015 to 0.027 per degree [1/rad]."""
_WHOLE_PRESSURE = 0.5
"""C_h of a pressure difference of the whole dynamic pressure all over the surface [1]."""


def _sizes(known: HingeMomentCoefficients, *, whole: bool) -> Iterator[str]:
    """Warn of coefficients that no unbalanced surface has: the unit may be wrong."""
    theory = _WHOLE if whole else _SECTION
    most = _SQUARE_EDGES * _POINTED * theory
    for name in ("C_h_alpha", "C_h_delta"):
        slope = si(known, name)
        if abs(slope) > most:
            yield (
                f"{name} = {slope:+.4g} 1/rad is {abs(slope) / theory:.3g} times the most that thin-aerofoil theory "
                f"has at any chord ratio ({theory:.3g} 1/rad, H. Glauert, ARC R&M 1095; {most:.3g} with square edges and "
                "a taper to a point): check the unit, a slope per degree is 57.3 times smaller"
            )
    slope = si(known, "C_h_delta")
    if not whole and 0 < abs(slope) < _PER_DEGREE:
        yield (
            f"C_h_delta = {slope:+.3g} 1/rad is so small that only a closely balanced surface has it (theory: 0.85 to "
            "1.57, H. Glauert, ARC R&M 1095): check the unit, it may be a slope per degree"
        )
    if abs(known.C_h0) > _WHOLE_PRESSURE:
        yield (
            f"C_h0 = {known.C_h0:+.3g} is more than the whole dynamic pressure all over the surface makes "
            f"({_WHOLE_PRESSURE:g}): check it"
        )


def _credits(surface: ControlSurface) -> Iterator[str]:
    """Say what the high line takes credit for, or that its solver takes none."""
    if surface.credit == "none":
        return
    name = solver_name(surface)
    try:
        known = solvers.load("hinge moment", name).fields
    except SolverError:
        return  # told where its loads are missing
    for what, field, words in (
        ("incidence", "incidence_credit", "an incidence that helps to deflect"),
        ("span", "span_credit", f"the aspect ratio of {surface.aspect_ratio or math.inf:g}"),
    ):
        if what in surface.credit and field in known:
            yield f"the high line takes credit for {words}, as asked"
        elif what in surface.credit:
            yield f"credit for {words} was asked for, and the solver {name!r} takes none"


_LENGTHS = ("half_span", "root_chord", "tip_chord", "inboard_end", "horn_span", "horn_lead")
_PARTNER = {"alike": 1.0, "opposite": -1.0, "still": 0.0, "none": 1.0}


def _planform(surface: ControlSurface, span: float) -> dict[str, float]:
    """Return the fields of the whole surface; nan where it is not described."""
    whole = surface.planform
    names = (*_LENGTHS, "sweep", "dihedral", "outboard_end", "paired", "partner")
    if whole is None:
        return dict.fromkeys(names, math.nan) | {"sweep": 0.0}
    partner = whole.partner or ("none" if surface.plane == "fin" else "alike")
    sizes = {name: si(whole, name) for name in (*_LENGTHS, "sweep")}
    if whole.stations:
        sizes |= _stations(surveyed(whole, surface.chord_ratio or math.nan))
    return sizes | {
        "dihedral": si(surface, "dihedral", 0.0),
        "outboard_end": sizes["inboard_end"] + span,
        "paired": float(partner != "none"),
        "partner": _PARTNER[partner],
    }


def _stations(stations: Stations) -> dict[str, float]:
    """Return the fields of stations, and those of the trapezoid that comes near to them."""
    from linkcalc.physics.stations import distances  # noqa: PLC0415 - few files have stations

    half_span, chord = float(distances(stations.y, stations.z)[-1]), stations.chord
    quarter = stations.leading + 0.25 * chord
    made = dict.fromkeys(STATION_FIELDS, 0.0) | {
        "half_span": half_span,
        "root_chord": float(chord[0]),
        "tip_chord": float(chord[-1]),
        "sweep": math.atan2(float(quarter[-1] - quarter[0]), half_span),
        "stations": float(len(chord)),
    }
    for number, station in enumerate(zip(*stations, strict=True), start=1):
        for name, value in zip(STATION, station, strict=True):
            made[f"station_{number}_{name}"] = float(value)
    return made
