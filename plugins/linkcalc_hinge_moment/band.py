r"""The band about a best line: what the air may bear at most and at least.

Three methods share it: each brings its own best line, and this module sets the high and
low lines about it, widens them at low Reynolds numbers, and leads all three into separated
flow at large deflections. All is counted in the moment that opposes the deflection, over
q S_f c_f.

.. math::
    \text{high} &= k_s \left( |C_{h0}| + |b_1| |\alpha|_{max} + |b_2| |\delta| \right) \\
    \text{low} &= k_l |b_2| |\delta| - k_s \left( |C_{h0}| + |b_1| |\alpha|_{max} \right)

with the slopes of thin-aerofoil theory, without credit for a finite span, thickness,
viscosity, balance, or incidence that relieves; k_s = 1 and k_l = 0.5 for a thin trailing
edge, 1.2 and 0.6 for a slab with square edges. Where the best line lies outside, the band
is stretched to hold it. A `span_credit` of 1, which has to be asked for, lets the high line have
|b_1| AR / (AR + 2) for |b_1|, and |b_2| - tau 2 / (AR + 2) |b_1| for |b_2|. An `incidence_credit` of
1, which has to be asked for too, lets the high line have - k_l |b_1| AR / (AR + 2) |alpha| for the
incidence's part of k_s |b_1| |alpha|_max where the incidence helps to deflect; what else |alpha|_max
holds stays against it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics.camber import bend_hinge_moment, bend_lift
from linkcalc_hinge_moment.lines import hold_best, opposing_sign, taper_factor
from linkcalc_hinge_moment.plate import (
    broadside_force,
    hinge_moment_coefficient,
    separated_hinge_moment,
)
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = [
    "FIELDS",
    "VALIDITY",
    "Best",
    "Section",
    "band",
    "low_reynolds_widening",
    "reynolds_number",
    "section",
    "separated_share",
]

LOW_SHARE = 0.5
"""k_l of a thin trailing edge (common practice, no source) [1]."""
SLAB_RISE = 0.2
"""What square edges add to k_s and, in proportion, to k_l: evidence at 5 % thickness only [1]."""
LOW_REYNOLDS_WIDTH = 0.05
"""What laminar separation adds to either side of the band, in C_h [1]."""
LAMINAR_REYNOLDS = (2e5, 3e5)
"""Reynolds number of the chord up to which, and from which on no more, it does [1]."""
LAMINAR_DEFLECTION = (np.radians(8.0), np.radians(10.0))
"""Deflection up to which, and from which on no more, it does [rad]."""
STALL = (np.radians(30.0), np.radians(35.0))
"""Deflection where the band leaves attached flow, and where the plate has taken over [rad]."""
SEPARATED_RISE = 1.25
"""High line of a separated surface over a long plate (common practice, no source) [1]."""

FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "dynamic_pressure": "Pa",
        "density": "kg/m^3",
        "viscosity": "Pa*s",
        "incidence": "rad",
        "largest_incidence": "rad",
        "deflection": "rad",
        "area": "m^2",
        "chord": "m",
        "taper": "1",
        "chord_ratio": "1",
        "aspect_ratio": "1",
        "span_credit": "1",
        "incidence_credit": "1",
        "overhang": "1",
        "square_edged_slab": "1",
        "C_h0": "1",
        "c_l0": "1",
    }
)
"""Fields that the band needs, with the unit of each."""

VALIDITY: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "dynamic_pressure": (0.0, 6400.0),
        "incidence": (-0.21, 0.21),
        "largest_incidence": (0.0, 0.21),
        "deflection": (-0.53, 0.53),
        "chord_ratio": (0.05, 0.5),
        "aspect_ratio": (1.0, float("inf")),
        "overhang": (0.0, 0.5),
        "square_edged_slab": (0.0, 1.0),
    }
)
"""Range of each field within which the band was compared with anything.

Dynamic pressure to Mach 0.3 at sea level (above, compressibility adds more than 5 %),
incidence to 12 degrees (about where small sections stall; common practice, no source),
deflection to 30 degrees (beyond, the wide band of a separated plate answers), chord ratio to
one half: charts and computed sections end at 0.4, and of a surface that is mostly flap, whose
section bends where it carries most, nobody has told how far theory is off (the half is common
practice, no source); overhang as far as the handbook has a point.
"""


class Section(NamedTuple):
    """Thin-aerofoil slopes of a flap, and its multipliers.

    Attributes
    ----------
    b1, b2 : float or array, shape (...)
        Slopes with incidence and deflection, without balance [1/rad].
    balanced_b1, balanced_b2 : float or array, shape (...)
        The same with the overhang in them [1/rad].
    k_s, k_l : float or array, shape (...)
        Multipliers of the high and the low line [1].
    """

    b1: Floats
    b2: Floats
    balanced_b1: Floats
    balanced_b2: Floats
    k_s: Floats
    k_l: Floats


class Best(NamedTuple):
    """Coefficients of a best line.

    Attributes
    ----------
    C_h0 : float or array, shape (...)
        At zero incidence and deflection [1].
    C_h_alpha, C_h_delta : float or array, shape (...)
        Slopes [1/rad].
    motion : float, array or None
        What an incidence that varies over the surface adds [1].
    """

    C_h0: Floats
    C_h_alpha: Floats
    C_h_delta: Floats
    motion: Floats | None = None


def low_reynolds_widening(
    *, reynolds_number: Floats, deflection: Floats, width: float = LOW_REYNOLDS_WIDTH
) -> Floats:
    r"""What laminar separation ahead of the hinge adds to either side of the band.

    .. math:: w \, f(Re; 2 \cdot 10^5, 3 \cdot 10^5) \, f(|\delta|; 8^\circ, 10^\circ)

    with f falling in a straight line from 1 to 0 between its two limits.

    Parameters
    ----------
    reynolds_number : float or array, shape (...)
        Of the whole chord [1].
    deflection : float or array, shape (...)
        Deflection [rad].
    width : float
        The widening w where it is whole [1].

    Returns
    -------
    float or array, shape (...)
        In C_h, zero or more [1]. nan gives nan.

    Notes
    -----
    At a Reynolds number of 2e5 moments of 12 % sections computed by a viscous panel method
    exceed thin-aerofoil theory near neutral by up to 0.03 in C_h; 0.05 holds them all. That is
    fitted to the very sections that it is held to: made without one of the four groups of them
    (section and chord ratio), a width by the same rule held 83 % of the worst group's cases.

    Examples
    --------
    >>> near, far = np.radians(5.0), np.radians(9.0)
    >>> float(low_reynolds_widening(reynolds_number=1e5, deflection=near))
    0.05
    >>> round(float(low_reynolds_widening(reynolds_number=1e5, deflection=far)), 3)
    0.025
    """
    reached = width * _falling(reynolds_number, LAMINAR_REYNOLDS)
    return reached * _falling(np.abs(deflection), LAMINAR_DEFLECTION)


def separated_share(*, deflection: Floats) -> Floats:
    """Share of separated flow in the three lines: 0 to 30 degrees, 1 from 35 degrees on.

    Parameters
    ----------
    deflection : float or array, shape (...)
        Deflection [rad].

    Returns
    -------
    float or array, shape (...)
        From 0 to 1, in a straight line between (common practice, no source) [1]. nan gives nan.

    Examples
    --------
    >>> round(float(separated_share(deflection=np.radians(-32.5))), 3)
    0.500
    """
    return 1.0 - _falling(np.abs(deflection), STALL)


def _falling(value: Floats, limits: tuple[float, float]) -> Floats:
    first, last = limits
    return np.minimum(1.0, np.maximum(0.0, (last - value) / (last - first)))


def section(f: Mapping[str, Array]) -> Section:
    """Slopes and multipliers of the section.

    Parameters
    ----------
    f : mapping of str to array
        `FIELDS`; the chord ratio, the overhang and the edges are used.

    Returns
    -------
    Section
        nan where the chord ratio or the overhang is out of range.
    """
    ratio, overhang = f["chord_ratio"], f["overhang"]
    b1, b2 = incidence_slope(chord_ratio=ratio), deflection_slope(chord_ratio=ratio)
    balanced = b1, b2
    if np.any(overhang != 0.0):
        ahead = {"chord_ratio": ratio, "overhang": overhang}
        balanced = bend_hinge_moment(bend=1.0, **ahead), bend_hinge_moment(bend=ratio, **ahead)
    rise = 1.0 + SLAB_RISE * f["square_edged_slab"]
    return Section(b1, b2, *balanced, rise, LOW_SHARE * rise)


def band(f: Mapping[str, Array], thin: Section, best: Best) -> dict[str, Floats]:
    """Set the band about a best line, and turn coefficients into moments.

    Parameters
    ----------
    f : mapping of str to array
        `FIELDS`.
    thin : Section
        Of these fields.
    best : Best
        Coefficients of the best line, without the taper.

    Returns
    -------
    dict of str to float or array
        "low", "best" and "high", the signed hinge moments [N m], with low <= best <= high
        in the moment that opposes the deflection (neutral counts as positive);
        "other_high", which at neutral is the high line of a negative deflection and
        elsewhere the high line [N m]; "C_h0", "C_h_alpha", "C_h_delta" of the best line
        with the taper in them; "k_s".
    """
    against = -opposing_sign(f["deflection"])
    size = np.abs(f["deflection"])
    line: Floats = best.C_h0 + best.C_h_alpha * f["incidence"] + best.C_h_delta * f["deflection"]
    if best.motion is not None:
        line = line + best.motion
    low, high = _attached(f, thin, size)
    bare = high
    if np.any(f["incidence_credit"]):
        high = bare - _relief(f, thin, -against)
    if np.any(size > STALL[0]):
        low, line, high = _separated(f, size, low, line, high)
    widening = low_reynolds_widening(reynolds_number=reynolds_number(f), deflection=f["deflection"])
    low, high = low - widening, high + widening
    bottom, top = hold_best(low=low, best=against * line, high=high)
    factor = taper_factor(f["taper"])
    load = f["dynamic_pressure"] * f["area"] * f["chord"] * factor
    signed = against * load
    made = signed * top
    neutral = size == 0.0
    other = made
    if np.any(neutral):
        below = high
        if np.any(f["incidence_credit"]):  # of neutral as negative; attached, so nothing else
            below = bare - _relief(f, thin, -1.0) + widening
        other = np.where(neutral, load * np.maximum(below, line), made)
    return {
        "low": signed * bottom,
        "best": load * line,
        "high": made,
        "other_high": other,
        "C_h0": factor * best.C_h0,
        "C_h_alpha": factor * best.C_h_alpha,
        "C_h_delta": factor * best.C_h_delta,
        "k_s": thin.k_s,
    }


def _attached(f: Mapping[str, Array], thin: Section, size: Array) -> tuple[Floats, Floats]:
    """Low and high line of attached flow, over q S_f c_f."""
    steep = np.maximum(np.abs(thin.b1), np.abs(thin.balanced_b1))
    # what is left of the deflection's part after the balance, or helps with it beyond
    least = np.minimum(-thin.b2, -thin.balanced_b2)
    most = np.maximum(-thin.b2, -thin.balanced_b2)
    credit = f["span_credit"] * 2.0 / (f["aspect_ratio"] + 2.0)
    tau = bend_lift(bend=f["chord_ratio"]) / (2.0 * np.pi)

    def rest(slope: Floats) -> Floats:
        return thin.k_s * (np.abs(f["C_h0"]) + slope * f["largest_incidence"])

    low = np.minimum(thin.k_l * least, thin.k_s * least) * size - rest(steep)
    return low, thin.k_s * (most - tau * credit * steep) * size + rest((1.0 - credit) * steep)


def _relief(f: Mapping[str, Array], thin: Section, sense: Floats) -> Floats:
    """What the high line loses by an incidence that relieves a deflection of this sense.

    Its part there goes from k_s |b1| |alpha| against the deflection to k_l |b1| |alpha| with it,
    the latter with all that makes it less: finite span and balance.
    """
    steep = np.maximum(np.abs(thin.b1), np.abs(thin.balanced_b1))
    weak = np.maximum(0.0, np.minimum(-thin.b1, -thin.balanced_b1))
    induced = 2.0 / (f["aspect_ratio"] + 2.0)
    per_angle = thin.k_s * (1.0 - f["span_credit"] * induced) * steep
    per_angle = per_angle + thin.k_l * (1.0 - induced) * weak
    return f["incidence_credit"] * per_angle * np.maximum(-sense * f["incidence"], 0.0)


def reynolds_number(f: Mapping[str, Array]) -> Floats:
    r"""Reynolds number of the whole chord.

    .. math:: Re = \frac{\rho V c}{\mu}, \qquad V = \sqrt{2 q / \rho}, \quad c = c_f / E

    Parameters
    ----------
    f : mapping of str to array
        `FIELDS`; dynamic pressure, density, viscosity, chord and chord ratio are used.

    Returns
    -------
    float or array, shape (...)
        Zero or more [1]; nan where the chord ratio is not more than zero.
    """
    ratio = np.asarray(f["chord_ratio"])
    per_speed = f["density"] * (f["chord"] / np.where(ratio > 0.0, ratio, np.nan)) / f["viscosity"]
    return np.sqrt(2.0 * f["dynamic_pressure"] / f["density"]) * per_speed


def _separated(
    f: Mapping[str, Array], size: Array, low: Floats, line: Floats, high: Floats
) -> tuple[Floats, Floats, Floats]:
    """Lead low, best and high over to a plate in separated flow."""
    share = separated_share(deflection=size)
    force = broadside_force(aspect_ratio=f["area"] / f["chord"] ** 2)
    most, incidence = f["largest_incidence"], f["incidence"]
    long_plate = broadside_force(aspect_ratio=np.inf)
    plate_low = -hinge_moment_coefficient(angle=size - most)
    plate_best = separated_hinge_moment(angle=f["deflection"] + incidence, broadside=force)
    plate_high = -SEPARATED_RISE * separated_hinge_moment(angle=size + most, broadside=long_plate)
    return (
        low + share * (plate_low - low),
        line + share * (plate_best - line),
        high + share * (plate_high - high),
    )
