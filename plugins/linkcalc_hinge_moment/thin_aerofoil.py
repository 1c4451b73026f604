"""Hinge moment of a flap in attached flow, by thin-aerofoil theory."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.physics.camber import bend_lift
from linkcalc_hinge_moment.band import FIELDS, VALIDITY, Best, band, section
from linkcalc_hinge_moment.lines import common_shape, declared

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.band import Section
    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = ["Shares", "ThinAerofoil", "best_line", "shares"]

INCIDENCE_SHARE, SLAB_INCIDENCE_SHARE = 0.7, 1.1
"""b_1' over b_1 of a shaped section and of a slab [1]; see the Notes of `ThinAerofoil`."""
DEFLECTION_SHARE, SLAB_DEFLECTION_SHARE = 0.8, 1.0
"""b_2' over b_2 of a shaped section and of a slab [1]; see the Notes of `ThinAerofoil`."""
CAMBER_SHARE, SLAB_CAMBER_SHARE = 0.8, 1.0
"""Share of C_h0 of a shaped section and of a slab [1]; see the Notes of `ThinAerofoil`."""


class Shares(NamedTuple):
    """What viscosity and thickness leave of theory on the best line.

    Attributes
    ----------
    incidence, deflection, camber : float or array, shape (...)
        Of b_1, of b_2 and of C_h0 [1].
    """

    incidence: Floats
    deflection: Floats
    camber: Floats


def shares(square_edged_slab: Array) -> Shares:
    """Shares of theory on the best line, by the section's edges.

    Parameters
    ----------
    square_edged_slab : array, shape (...)
        0 for a shaped section, 1 for a slab [1].

    Returns
    -------
    Shares
        0.7, 0.8 and 0.8, for a slab 1.1, 1.0 and 1.0.

    Examples
    --------
    >>> [round(float(share), 2) for share in shares(np.array(0.0))]
    [0.7, 0.8, 0.8]
    """
    return Shares(
        INCIDENCE_SHARE + (SLAB_INCIDENCE_SHARE - INCIDENCE_SHARE) * square_edged_slab,
        DEFLECTION_SHARE + (SLAB_DEFLECTION_SHARE - DEFLECTION_SHARE) * square_edged_slab,
        CAMBER_SHARE + (SLAB_CAMBER_SHARE - CAMBER_SHARE) * square_edged_slab,
    )


class ThinAerofoil:
    r"""Thin-aerofoil theory: section slopes with a band for what theory leaves out.

    In the moment that opposes the deflection, over q S_f c_f and the taper factor:

    .. math::
        \text{high} &= k_s \left( |C_{h0}| + |b_1| |\alpha|_{max} + |b_2| |\delta| \right) \\
        \text{low} &= k_l |b_2| |\delta| - k_s \left( |C_{h0}| + |b_1| |\alpha|_{max} \right)

    with k_s = 1 and k_l = 0.5, for a flat slab with square edges 1.2 and 0.6; and, signed,
    best = C_h0' + C_h_alpha alpha + C_h_delta delta with

    .. math::
        C_{h\alpha} &= b_1' \frac{AR}{AR + 2} \\
        C_{h\delta} &= b_2' - \tau \frac{2}{AR + 2} b_1' \\
        C_{h0}' &= s \, C_{h0} - \frac{2}{AR + 2} b_1' \frac{c_{l0}}{2 \pi}

    where b_1' = 0.7 b_1, b_2' = 0.8 b_2 and s = 0.8, for a slab 1.1, 1.0 and 1.0, tau is the
    flap's effectiveness and AR the aspect ratio of the whole surface. The second terms are
    positive: the downwash of the surface's own lift relieves the hinge. Then the band is
    stretched where it does not hold the best line.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field; see `linkcalc_hinge_moment.band.VALIDITY`.
    fields
        Fields needed, with the unit of each. C_h0 is a section's, referred as b_1 is, c_l0
        its lift coefficient at zero incidence. The aspect ratio is infinite where no
        relief is to be counted; the overhang is chord ahead of the hinge over chord aft of it.

    Notes
    -----
    *Bare theory errs on the safe side* for an unbalanced plain flap in attached flow, and
    that is the high line: no credit for incidence that relieves it, for stall, thickness,
    viscosity, balance or a finite span. The handbook charts of measured over theoretical
    slopes (Roskam, Part VI, 10.4.1) have 0.90 to 0.92 of the deflection slope and 0.7 to
    0.8 of the incidence slope where the section reaches 90 % of the theoretical lift
    slope; thickness takes off more: with 12 % and chord ratios of 0.2 to 0.4, 0.77 to 0.84
    and 0.57 to 0.72 remain. 0.8 and 0.7 on the best line are the greatest of these, to the
    nearest tenth. They are on the safe side: least squares over sections of 12 % computed with a
    free boundary layer ask for 0.26 of the incidence slope and 0.66 of the deflection slope. What square edges add was seen on slabs of
    5 % thickness only.

    *Below a Reynolds number of 2e5 and 8 degrees* the laminar layer separates ahead of the
    hinge and slopes are erratic: both ends of the band move out by 0.05 in C_h, fading to
    nothing at 3e5 and 10 degrees. That holds all computed sections it was made from; a width made
    without one of them held 83 % of the worst one's cases.

    *From 30 to 35 degrees* the three lines pass over to a fully separated plate: best to the
    measured force of a plate of the flap's aspect ratio, high to 1.25 times that of a long
    one, low to the free-streamline floor.

    *Overhang* (set-back hinge): best and low count the relief of the pressure ahead of the
    hinge, high does not. Where the balance outweighs the rest, low has it with k_s. Sections
    are taken strip by strip with one chord ratio along the span and a sealed gap.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.
    .. [2] J. Roskam, Airplane Design, Part VI, sect. 10.4.1 and 10.4.2.

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "density": 1.225, "viscosity": 1.79e-5}
    >>> angles = {"incidence": 0.0, "largest_incidence": 0.0, "deflection": 0.2}
    >>> surface = {"area": 0.010, "chord": 0.050, "taper": 1.0, "chord_ratio": 0.25}
    >>> section = {"square_edged_slab": 0.0, "overhang": 0.0, "C_h0": 0.0, "c_l0": 0.0}
    >>> section |= {"span_credit": 0.0, "incidence_credit": 0.0}
    >>> moment = ThinAerofoil()({**flow, **angles, **surface, **section, "aspect_ratio": 6.0})
    >>> {line: round(float(moment[line]), 4) for line in ("low", "best", "high")}
    {'low': -0.0189, 'best': -0.0278, 'high': -0.0377}
    """

    name: str = "thin_aerofoil"
    description: str = "flap in attached flow, thin-aerofoil section slopes with finite span"
    sources: tuple[str, ...] = (
        "H. Glauert, Theoretical relationships for an aerofoil with hinged flap, ARC R&M 1095, 1927",
        "J. Roskam, Airplane Design, Part VI, sect. 10.4.1 (measured over theoretical slopes, for the best line) and 10.4.2 (finite span)",
        "1.2 for square edges, one half on the low line: common practice, no source",
    )
    validity: Mapping[str, tuple[float, float]] = VALIDITY
    fields: Mapping[str, str] = MappingProxyType(dict(FIELDS))

    def __call__(self, fields: Mapping[str, Array]) -> Mapping[str, Array]:
        """Evaluate the three lines.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields in their declared units; they broadcast together. They are
            not changed. nan gives nan in what depends on it, and so does a chord ratio
            that is not more than 0 and at most 1.

        Returns
        -------
        mapping of str to array
            All of the fields' common shape, read-only; see `linkcalc_hinge_moment.band.band`.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        thin = section(f)
        return common_shape(f, band(f, thin, best_line(f, thin)))


def best_line(f: Mapping[str, Array], thin: Section) -> Best:
    """Coefficients of the best line of thin-aerofoil theory.

    Parameters
    ----------
    f : mapping of str to array
        The fields of the band.
    thin : Section
        Of these fields.

    Returns
    -------
    Best
        With finite span, as `ThinAerofoil` describes it, without the taper.
    """
    share = shares(f["square_edged_slab"])
    b1, b2 = share.incidence * thin.balanced_b1, share.deflection * thin.balanced_b2
    induced = 2.0 / (f["aspect_ratio"] + 2.0)
    lift = bend_lift(bend=f["chord_ratio"]) / (2.0 * np.pi)
    return Best(
        share.camber * f["C_h0"] - induced * b1 * f["c_l0"] / (2.0 * np.pi),
        b1 * (1.0 - induced),
        b2 - lift * induced * b1,
    )
