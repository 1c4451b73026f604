"""Hinge moment of a control surface on its whole lifting surface, by a vortex lattice."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics.stations import Stations
from linkcalc.solver_fields import MOTION_FIELDS, STATION, STATION_FIELDS
from linkcalc.solver_steps import Step
from linkcalc_hinge_moment.band import FIELDS, VALIDITY, Best, band, section
from linkcalc_hinge_moment.lines import common_shape, declared, taper_factor, taper_step
from linkcalc_hinge_moment.panels import Counts, Planform, cut, stationed, trapezoid
from linkcalc_hinge_moment.thin_aerofoil import (
    DEFLECTION_SHARE,
    INCIDENCE_SHARE,
    SLAB_DEFLECTION_SHARE,
    SLAB_INCIDENCE_SHARE,
    shares,
)
from linkcalc_hinge_moment.vortex_lattice import Response, respond

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.band import Section
    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = ["Converged", "Lattice", "converged", "level"]

LEVELS = (3, 4, 6)
"""Vortices aft of the hinge on each level; the finest has about 200 panels to a side."""
ORDER = 3
"""Order of convergence that the extrapolation supposes; see the tests for what is measured."""

PLANFORM: Mapping[str, str] = MappingProxyType(
    {
        "half_span": "m",
        "root_chord": "m",
        "tip_chord": "m",
        "sweep": "rad",
        "dihedral": "rad",
        "inboard_end": "m",
        "outboard_end": "m",
        "horn_span": "m",
        "horn_lead": "m",
        "paired": "1",
        "partner": "1",
    }
)
"""Fields of the whole surface, with the unit of each.

`paired` is 1 where it has a mirror image; `partner` is what the control surface on the other
side does: 1 as this one, -1 the opposite, 0 nothing.
"""


class Converged(NamedTuple):
    """Slopes of a surface, extrapolated over the panel counts.

    Attributes
    ----------
    slopes : Response
        Extrapolated.
    remaining : Response
        What is left of the error: the furthest that any level lies from the extrapolation.
    middle : tuple of float
        Of the control surface: x, aft of the root's leading edge, and y [m].
    """

    slopes: Response
    remaining: Response
    middle: tuple[float, float]


def level(planform: Planform, aft: int) -> Counts:
    """Panel counts with panels of like size on both sides of the hinge line.

    Parameters
    ----------
    planform : Planform
        The surface.
    aft : int
        Vortices aft of the hinge line.

    Returns
    -------
    Counts
        With twice as many strips.

    Examples
    --------
    >>> wing = trapezoid(half_span=1.0, root_chord=0.2, tip_chord=0.2, chord_ratio=0.25)
    >>> level(wing, 6)
    Counts(fore=10, aft=6, strips=12)
    """
    ahead = np.mean(planform.split - planform.leading)
    behind = np.mean(planform.trailing - planform.split)
    return Counts(max(2, round(aft * float(np.sqrt(ahead / behind)))), aft, 2 * aft)


def converged(planform: Planform) -> Converged:
    r"""Hinge-moment slopes of a surface, extrapolated over three panel counts.

    .. math:: f = f_3 + \frac{f_3 - f_2}{(n_3 / n_2)^3 - 1}

    Parameters
    ----------
    planform : Planform
        The surface.

    Returns
    -------
    Converged
        With the error that remains, which is the largest distance of a level from f.

    Notes
    -----
    Chordwise the slopes converge with the second (deflection) to the third power (incidence) of
    the panel count. Where a swept surface ends part of the way along the span, or a horn steps
    out of the leading edge, convergence is slower and uneven; then the remaining error says so.

    Examples
    --------
    >>> wing = trapezoid(half_span=3.0, root_chord=1.0, tip_chord=1.0, chord_ratio=0.3)
    >>> found = converged(wing)
    >>> round(found.slopes.alike, 2)
    -0.78
    >>> found.remaining.alike < 0.02
    True
    """
    panels = [cut(planform, level(planform, aft)) for aft in LEVELS]
    values = np.array([respond(each, paired=planform.paired) for each in panels])
    ratio = (LEVELS[-1] / LEVELS[-2]) ** ORDER
    best = values[-1] + (values[-1] - values[-2]) / (ratio - 1.0)
    left = np.abs(values - best).max(axis=0)
    x, y, _ = planform.hinge.mean(axis=0).tolist()
    middle = (x + 0.5 * panels[-1].moving_area / panels[-1].moving_span, y)
    return Converged(Response(*best.tolist()), Response(*left.tolist()), middle)


class Lattice:
    r"""Vortex lattice: the best line from the whole surface, the band from thin-aerofoil theory.

    The lattice has the finite span, taper, sweep, dihedral or the stations, the ends of a part-span
    control surface, its partner on the other side and a horn balance in it; it has no thickness and
    no boundary layer. So its slopes c_alpha and c_delta take the shares of
    `linkcalc_hinge_moment.thin_aerofoil.ThinAerofoil`, b_1'/b_1 = p and b_2'/b_2 = r, as the
    formulas there do:

    .. math::
        C_{h\alpha} &= p \, c_\alpha \\
        C_{h\delta} &= r \, b_2 + p \, (c_\delta - b_2) \\
        C_{h0}' &= s \, C_{h0} + p \, (c_\alpha - b_1) \frac{c_{l0}}{2 \pi}

    To the best line comes p times the lattice's own answer to sideslip and to rates of roll, pitch
    and yaw, where they are offered, in the place of c_alpha times their incidence at the station.

    High and low are those of thin-aerofoil theory, without credit for a horn, and for the span
    or for incidence that helps only where that is asked for.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field; see `linkcalc_hinge_moment.band.VALIDITY`.
    fields
        Fields needed, with the unit of each.
    optional
        Fields used where they are offered: the stations of a surface that is no trapezoid, and
        how the incidence varies over it.

    Notes
    -----
    Incidence counts square to the surface, the same on both sides of a pair but for what sideslip
    and rates of roll and yaw make, which is opposite there. The incidence of a roll grows from the
    plane of symmetry outwards, of a single surface from its station. That of a pitch and a yaw
    grows aft from the station, which is taken for the middle of the control surface.

    References
    ----------
    .. [1] J. Katz and A. Plotkin, Low-Speed Aerodynamics, 2nd ed., 2001 (from memory).
    .. [2] C. E. Lan, Journal of Aircraft 11 (9), 1974 (from memory).

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "density": 1.225, "viscosity": 1.79e-5}
    >>> angles = {"incidence": 0.0, "largest_incidence": 0.0, "deflection": 0.2}
    >>> surface = {"area": 0.036, "chord": 0.06, "taper": 1.0, "chord_ratio": 0.3}
    >>> part = {"square_edged_slab": 0.0, "overhang": 0.0, "C_h0": 0.0, "c_l0": 0.0}
    >>> part |= {"span_credit": 0.0, "incidence_credit": 0.0}
    >>> whole = {"half_span": 0.6, "root_chord": 0.2, "tip_chord": 0.2, "aspect_ratio": 6.0}
    >>> place = dict.fromkeys(["sweep", "dihedral", "inboard_end", "horn_span", "horn_lead"], 0.0)
    >>> pair = {"outboard_end": 0.6, "paired": 1.0, "partner": 1.0}
    >>> moment = Lattice()({**flow, **angles, **surface, **part, **whole, **place, **pair})
    >>> round(float(moment["C_h_delta"]), 3)
    -0.644
    """

    name: str = "lattice"
    description: str = "vortex lattice of the whole surface, band of thin-aerofoil theory"
    sources: tuple[str, ...] = (
        "J. Katz and A. Plotkin, Low-Speed Aerodynamics, 2nd ed., 2001 (from memory)",
        "C. E. Lan, A quasi-vortex-lattice method in thin wing theory, J. Aircraft 11 (9), 1974 (from memory)",
        "H. Glauert, ARC R&M 1095, 1927; J. Roskam, Airplane Design, Part VI, sect. 10.4.1 (viscosity)",
    )
    validity: Mapping[str, tuple[float, float]] = VALIDITY
    fields: Mapping[str, str] = MappingProxyType({**FIELDS, **PLANFORM})
    optional: Mapping[str, str] = MappingProxyType(STATION_FIELDS | MOTION_FIELDS)

    def steps(self, fields: Mapping[str, Array]) -> tuple[Step, ...]:
        """Tell the way from the section in theory to the whole surface in air.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields but the angles, and all of the optional ones or none.

        Returns
        -------
        tuple of Step
            In order; the last of each slope has the coefficient that is returned. What is known
            to remain is the error of the panels, not that of the method.
        """
        f = {name: np.asarray(value, dtype=np.float64) for name, value in fields.items()}
        thin, taper = section(f), taper_factor(f["taper"])
        incidence, turned, *left = _slopes(f)[:4]
        best = _best(f, thin, incidence, turned)
        # the error is in what the whole surface adds to the section, whose share is that of b_1
        share = shares(f["square_edged_slab"]).incidence
        return (
            *_steps("C_h_alpha", (thin.b1, incidence, thin.balanced_b1, best.C_h_alpha), taper,
                    (left[0], share * left[0])),
            *_steps("C_h_delta", (thin.b2, turned, thin.balanced_b2, best.C_h_delta), taper,
                    (left[1], share * left[1])),
        )  # fmt: skip

    def __call__(self, fields: Mapping[str, Array]) -> Mapping[str, Array]:
        """Evaluate the three lines.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields in their declared units, and of the stations and of the motions
            all or none; they broadcast together. They are not changed. nan gives nan in what
            depends on it.

        Returns
        -------
        mapping of str to array
            All of the fields' common shape, read-only: what
            `linkcalc_hinge_moment.band.band` returns, and "remaining_alpha" and
            "remaining_delta", the error of the lattice's panels in the two slopes [1/rad].

        Raises
        ------
        KeyError
            A declared field is missing.
        InputError
            A planform that cannot be: see `linkcalc_hinge_moment.panels`.
        """
        asked = list(self.fields)
        asked += STATION_FIELDS if "stations" in fields else ()
        asked += MOTION_FIELDS if "roll_incidence" in fields else ()
        f = declared(fields, asked)
        thin, found = section(f), _slopes(f)
        best = _best(f, thin, found.incidence, found.turned)
        if "roll_incidence" in f:
            best = best._replace(motion=_motion(f, found))
        remaining = {"remaining_alpha": found.left_alpha, "remaining_delta": found.left_delta}
        return common_shape(f, band(f, thin, best) | remaining)


_WHOLE = "lattice of the whole surface, extrapolated over three panel counts"
_BALANCED = "thin-aerofoil theory of the section with the chord ahead of the hinge, H. Glauert"
_KEPT = (
    f"{INCIDENCE_SHARE:g} of b_1 and of what the whole surface turns the air, {DEFLECTION_SHARE:g} of b_2: charts of "
    f"J. Roskam for 12 %; of a slab {SLAB_INCIDENCE_SHARE:g} and {SLAB_DEFLECTION_SHARE:g}: common practice, no source"
)


def _steps(
    slope: str,
    values: tuple[Floats, Floats, Floats, Floats],
    taper: Floats,
    errors: tuple[Floats, Floats],
) -> tuple[Step, ...]:
    """Steps of one slope: section's theory, taper, lattice, overhang, shares."""
    theory, whole, balanced, after = values
    source = "thin-aerofoil theory of the section, H. Glauert"
    begin = taper_step(Step(slope, "section", theory, 1.0, theory, source), taper)
    with_nose = whole + taper * (balanced - theory)
    ways = (
        ("whole surface", begin.after, whole, _WHOLE, errors[0]),
        ("overhang", whole, with_nose, _BALANCED, errors[0]),
        ("viscosity and thickness", with_nose, taper * after, _KEPT, errors[1]),
    )
    return (
        begin,
        *(Step(slope, name, old, new / old, new, word, (), left) for name, old, new, word, left in ways),
    )  # fmt: skip


def _best(f: Mapping[str, Array], thin: Section, incidence: Floats, turned: Floats) -> Best:
    """Coefficients of the best line, without the taper, which the band multiplies back."""
    share = shares(f["square_edged_slab"])
    taper = taper_factor(f["taper"])
    # the overhang is the section's: the lattice has the hinge at the nose
    alpha = incidence / taper + thin.balanced_b1 - thin.b1
    delta = turned / taper + thin.balanced_b2 - thin.b2
    downwash = share.incidence * (alpha - thin.balanced_b1) * f["c_l0"] / (2.0 * np.pi)
    return Best(
        share.camber * f["C_h0"] + downwash,
        share.incidence * alpha,
        share.deflection * thin.balanced_b2 + share.incidence * (delta - thin.balanced_b2),
    )


class _Found(NamedTuple):
    """What the lattice says of surfaces, over q S_f c_f; arrays of the planforms' shape.

    `aside` and `roll` are per incidence that is opposite on the other side and per rise of the
    incidence outwards, both less what the same incidence at the station, alike on both sides,
    makes; `aft` is the same per rise aft. `own_roll` is 1 where `roll` counts from the plane of
    symmetry, so that the station's share of it has to go.
    """

    incidence: Array
    turned: Array
    left_alpha: Array
    left_delta: Array
    aside: Array
    roll: Array
    aft: Array
    own_roll: Array


def _motion(f: Mapping[str, Array], found: _Found) -> Floats:
    """What varying incidence adds to the best line, without the taper."""
    more = found.aside * f["aside_incidence"] + found.aft * f["incidence_per_chord"]
    more = more + found.roll * f["incidence_per_span"]
    # exactly on the plane of symmetry no way is outwards, and nothing is to be taken off
    more = more - found.own_roll * found.incidence * f["roll_incidence"]
    return shares(f["square_edged_slab"]).incidence * more / taper_factor(f["taper"])


def _slopes(f: Mapping[str, Array]) -> _Found:
    """Ask the lattice once for every planform."""
    names = [*PLANFORM, "chord_ratio", *(STATION_FIELDS if "stations" in f else ())]
    columns = np.broadcast_arrays(*(f[name] for name in names))
    rows = np.stack([column.ravel() for column in columns], axis=-1)
    # one lattice for each planform, however many cases and deflections ask for it
    different, which = np.unique(rows, axis=0, return_inverse=True)
    found = np.array([_of_row(dict(zip(names, row, strict=True))) for row in different.tolist()])
    return _Found(*found[which.ravel()].T.reshape(len(_Found._fields), *columns[0].shape))


def _of_row(row: dict[str, float]) -> tuple[float, ...]:
    partner = row.pop("partner")
    if np.isnan([*row.values(), partner]).any():
        return (np.nan,) * len(_Found._fields)
    if row.get("stations"):
        slopes, left, middle = _of_stations(**row)
    else:
        plain = {name: value for name, value in row.items() if name not in STATION_FIELDS}
        slopes, left, middle = _of_planform(**plain)
    alike, opposite = 0.5 * (1.0 + partner), 0.5 * (1.0 - partner)
    leaning = 1.0 / np.cos(row["dihedral"])  # incidence counts square to the surface
    incidence, lean = leaning * slopes.incidence, np.sin(row["dihedral"])
    aft = leaning * (slopes.pitch - middle[0] * slopes.incidence)
    if row["paired"]:
        aside = slopes.sideslip / lean - incidence if lean else 0.0
        roll, own_roll = slopes.roll, 1.0
    else:
        aside, roll, own_roll = 0.0, slopes.roll - middle[1] * slopes.incidence, 0.0
    return (
        incidence,
        alike * slopes.alike + opposite * slopes.opposite,
        leaning * left.incidence,
        max(left.alike, left.opposite),
        aside,
        roll,
        aft,
        own_roll,
    )


@lru_cache(maxsize=256)
def _of_planform(
    *,
    half_span: float,
    root_chord: float,
    tip_chord: float,
    chord_ratio: float,
    sweep: float,
    dihedral: float,
    inboard_end: float,
    outboard_end: float,
    horn_span: float,
    horn_lead: float,
    paired: float,
) -> Converged:
    planform = trapezoid(
        half_span=half_span,
        root_chord=root_chord,
        tip_chord=tip_chord,
        chord_ratio=chord_ratio,
        sweep=sweep,
        dihedral=dihedral,
        inboard=inboard_end,
        outboard=outboard_end,
        horn=horn_span,
        horn_lead=horn_lead,
        paired=bool(paired),
    )
    return converged(planform)


@lru_cache(maxsize=256)
def _of_stations(
    *,
    stations: float,
    chord_ratio: float,
    dihedral: float,
    inboard_end: float,
    outboard_end: float,
    horn_span: float,
    horn_lead: float,
    paired: float,
    **row: float,
) -> Converged:
    rows = [
        [row[f"station_{number}_{name}"] for name in STATION]
        for number in range(1, int(stations) + 1)
    ]
    planform = stationed(
        Stations(*np.array(rows).T),
        chord_ratio=chord_ratio,
        dihedral=dihedral,
        inboard=inboard_end,
        outboard=outboard_end,
        horn=horn_span,
        horn_lead=horn_lead,
        paired=bool(paired),
    )
    return converged(planform)
