"""Hinge moment of a plain flap in attached flow, by thin-aerofoil theory."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.lines import (
    common_shape,
    declared,
    hold_best,
    opposing_sign,
    taper_factor,
)
from linkcalc_hinge_moment.slopes import deflection_slope, incidence_slope

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array

__all__ = ["ThinAerofoil"]

INCIDENCE_SHARE = 0.7
"""Share of b_1 on the best line [1]; see the Notes of `ThinAerofoil`."""
DEFLECTION_SHARE = 0.8
"""Share of b_2 on the best line [1]; see the Notes of `ThinAerofoil`."""
LOW_SHARE = 0.5
"""Share of the deflection's part that is left on the low line (common practice, no source) [1]."""
SLAB_RISE = 0.2
"""What square edges add to the high and low lines of a slab (common practice, no source) [1]."""


class ThinAerofoil:
    r"""Thin-aerofoil theory: section slopes with a band for what theory leaves out.

    In the moment that opposes the deflection, over q S_f c_f and the taper factor:

    .. math::
        \text{high} &= k_s \left( |C_{h0}| + |b_1| |\alpha|_{max} + |b_2| |\delta| \right) \\
        \text{low} &= k_s \left( \tfrac{1}{2} |b_2| |\delta| - |C_{h0}| - |b_1| |\alpha|_{max}
                      \right)

    and, signed, best = C_h0 + 0.7 b_1 alpha + 0.8 b_2 delta. Then the band is stretched
    where it does not hold the best line. k_s is 1, and 1.2 for a flat slab with square
    edges.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field: dynamic pressure to Mach 0.3 at sea level (above, compressibility adds
        more than 5 %), incidence to 12 degrees (about where small sections stall; common
        practice, no source), deflection to 30 degrees (as far as the high line was
        compared with computed sections, separated ones to 25), chord ratio as far as the theory was.
    fields
        Fields needed, with the unit of each. C_h0 is a section's, referred as b_1 is.

    Notes
    -----
    *Bare theory errs on the safe side* for an unbalanced plain flap in attached flow, and
    that is the high line. The handbook charts of measured over theoretical slopes
    (Roskam, Part VI, 10.4.1) have 0.90 to 0.92 of the deflection slope and 0.7 to 0.8 of
    the incidence slope where the section reaches 90 % of the theoretical lift slope;
    thickness takes off more: with 12 % and chord ratios of 0.2 to 0.4, 0.77 to 0.84 and
    0.57 to 0.72 remain. 0.8 and 0.7 on the best line are common multiples in line with
    these charts, not read from them for a section.

    *Where the band is known to be too narrow.* At a Reynolds number of 200 000 the laminar
    layer separates ahead of the trailing edge within some 5 degrees of neutral. There,
    moments of 12 % sections computed by a viscous panel method exceed the high line by up to
    a third (0.03 in C_h) if `largest_incidence` is no more than the incidence of the moment.
    A `largest_incidence` of at least 5.2 degrees covers them all; one of 3 degrees covers
    all but those at neutral.

    *What it says nothing about* is a stalled or fully deflected surface: see `Plate`.
    Sections are taken strip by strip, without the relief that a finite span gives, with one
    chord ratio along the span, sealed gap and no aerodynamic balance.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927.
    .. [2] J. Roskam, Airplane Design, Part VI, sect. 10.4.1.

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "incidence": 0.0, "deflection": 0.2}
    >>> surface = {"area": 0.010, "chord": 0.050, "chord_ratio": 1.0, "taper": 1.0}
    >>> rest = {"largest_incidence": 0.0, "square_edged_slab": 0.0, "C_h0": 0.0}
    >>> moment = ThinAerofoil()({**flow, **surface, **rest})
    >>> {line: round(float(moment[line]), 4) for line in ("low", "best", "high")}
    {'low': -0.0314, 'best': -0.0503, 'high': -0.0628}
    """

    name: str = "thin_aerofoil"
    description: str = "plain sealed flap in attached flow, thin-aerofoil section slopes"
    sources: tuple[str, ...] = (
        "H. Glauert, Theoretical relationships for an aerofoil with hinged flap, ARC R&M 1095, 1927",
        "J. Roskam, Airplane Design, Part VI, sect. 10.4.1 (measured over theoretical slopes, for the best line)",
        "1.2 for square edges, one half on the low line: common practice, no source",
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {
            "dynamic_pressure": (0.0, 6400.0),
            "incidence": (-0.21, 0.21),
            "largest_incidence": (0.0, 0.21),
            "deflection": (-0.53, 0.53),
            "chord_ratio": (0.05, 1.0),
            "square_edged_slab": (0.0, 1.0),
        }
    )
    fields: Mapping[str, str] = MappingProxyType(
        {
            "dynamic_pressure": "Pa",
            "incidence": "rad",
            "largest_incidence": "rad",
            "deflection": "rad",
            "area": "m^2",
            "chord": "m",
            "taper": "1",
            "chord_ratio": "1",
            "square_edged_slab": "1",
            "C_h0": "1",
        }
    )

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
            All of the fields' common shape, read-only: "low", "best" and "high", the hinge
            moment [N m], positive trailing edge down, with low <= best <= high in the
            moment that opposes the deflection (neutral counts as positive, so there low
            and high differ in sign); "C_h0" [1], "C_h_alpha" and "C_h_delta" [1/rad] of
            the best line with the taper in them; "k_s" [1].

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        b1 = incidence_slope(chord_ratio=f["chord_ratio"])
        b2 = deflection_slope(chord_ratio=f["chord_ratio"])
        k_s = 1.0 + SLAB_RISE * f["square_edged_slab"]
        sign = opposing_sign(f["deflection"])
        factor = taper_factor(f["taper"])

        best = (
            f["C_h0"]
            + INCIDENCE_SHARE * b1 * f["incidence"]
            + DEFLECTION_SHARE * b2 * f["deflection"]
        )
        from_deflection = k_s * np.abs(b2 * f["deflection"])
        the_rest = k_s * (np.abs(f["C_h0"]) + np.abs(b1) * f["largest_incidence"])
        low, high = hold_best(
            low=LOW_SHARE * from_deflection - the_rest,
            best=-sign * best,
            high=from_deflection + the_rest,
        )
        load = f["dynamic_pressure"] * f["area"] * f["chord"] * factor
        return common_shape(
            f,
            {
                "low": -sign * load * low,
                "best": load * best,
                "high": -sign * load * high,
                "C_h0": factor * f["C_h0"],
                "C_h_alpha": factor * INCIDENCE_SHARE * b1,
                "C_h_delta": factor * DEFLECTION_SHARE * b2,
                "k_s": k_s,
            },
        )
