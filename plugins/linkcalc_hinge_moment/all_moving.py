"""Hinge moment of an all-moving surface: a tail that turns as a whole, or a rudder blade."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.band import (
    SEPARATED_RISE,
    VALIDITY,
    low_reynolds_widening,
    reynolds_number,
    separated_share,
)
from linkcalc_hinge_moment.lines import (
    common_shape,
    declared,
    signed_moments,
    taper_factor,
)
from linkcalc_hinge_moment.plate import (
    LONG_BROADSIDE,
    broadside_force,
    centre_of_pressure,
    normal_force_coefficient,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = ["AllMoving", "attached_moments", "separated_moments"]

LIFT_SHARE = 0.9
"""Lift slope of the best line over theory (common practice, no source) [1]."""
LEAST_LIFT_SHARE = 0.5
"""Lift slope at the low end over theory (common practice, no source) [1]."""
CENTRE = 0.25
"""Where the lift of a thin aerofoil acts, aft of the leading edge, over the chord [1]."""
CENTRE_DOUBT = 0.05
"""How far ahead or aft of that it may act in attached flow (common practice, no source) [1]."""
LOW_REYNOLDS_WIDTH = 0.02
"""What laminar separation adds to either side of the band, in C_h of the whole surface [1]."""


def attached_moments(*, angle: Floats, hinge: Floats, lift_slope: Floats) -> tuple[Floats, Floats]:
    r"""Least and greatest moment against a surface's angle in attached flow.

    .. math:: k \, a_0 \, a \left( \tfrac{1}{4} \pm 0.05 - h \right), \quad k = \tfrac{1}{2}, 1

    Parameters
    ----------
    angle : float or array, shape (...)
        Of the whole surface to the stream a [rad].
    hinge : float or array, shape (...)
        Hinge line aft of the leading edge over the chord h [1].
    lift_slope : float or array, shape (...)
        Theoretical lift slope a_0 [1/rad].

    Returns
    -------
    least, greatest : float or array, shape (...)
        Over q times area times chord of the whole surface; negative helps the angle along [1].

    Examples
    --------
    >>> least, most = attached_moments(angle=0.1, hinge=0.25, lift_slope=2 * np.pi)
    >>> round(float(least), 4), round(float(most), 4)
    (-0.0314, 0.0314)
    """
    ends = [
        share * lift_slope * angle * (CENTRE + shift - hinge)
        for share in (LEAST_LIFT_SHARE, 1.0)
        for shift in (-CENTRE_DOUBT, CENTRE_DOUBT)
    ]
    return _extremes(ends)


def separated_moments(*, angle: Floats, hinge: Floats) -> tuple[Floats, Floats]:
    r"""Least and greatest moment against a surface's angle in separated flow.

    .. math:: k \, C_N(a) \left( \frac{x}{c}(a) - h \right),
              \quad k = 1, \; 1.25 \frac{1.98}{0.880}

    Parameters
    ----------
    angle : float or array, shape (...)
        Of the whole surface to the stream a; beyond a right angle that counts [rad].
    hinge : float or array, shape (...)
        Hinge line aft of the leading edge over the chord h [1].

    Returns
    -------
    least, greatest : float or array, shape (...)
        Over q times area times chord of the whole surface; negative helps the angle along [1].

    References
    ----------
    .. [1] H. Lamb, Hydrodynamics, art. 77; C. Matthews, Aeronautical Engineer's Data Book,
       Fig. 5.13(b), p. 95 (1.98, a long plate broadside).

    Examples
    --------
    >>> least, most = separated_moments(angle=np.pi / 2, hinge=0.25)
    >>> round(float(least), 3), round(float(most), 3)
    (0.220, 0.619)
    """
    size = np.minimum(np.abs(angle), 0.5 * np.pi)
    arm = centre_of_pressure(angle=size) - hinge
    floor = np.sign(angle) * normal_force_coefficient(angle=size) * arm
    rise = SEPARATED_RISE * LONG_BROADSIDE / normal_force_coefficient(angle=0.5 * np.pi)
    return _extremes([floor, rise * floor])


def _extremes(ends: list[Floats]) -> tuple[Floats, Floats]:
    least = most = ends[0]
    for end in ends[1:]:
        least, most = np.minimum(least, end), np.maximum(most, end)
    return least, most


class AllMoving:
    r"""All-moving surface: lift at a quarter of the chord, and a doubt about that.

    Deflection and incidence are the same thing, a = delta + alpha. The best line is

    .. math::
        C_h = C_{h0} + h \, c_{l0}
              - 0.9 \cdot 2\pi \frac{AR}{AR + 2} \left( \tfrac{1}{4} - h \right) a

    over q times area and mean chord of the whole surface, with the hinge h aft of the leading
    edge in chords. Where the hinge lies aft of the centre of pressure the air helps the
    deflection on: such a surface is unstable and turns over when it is let go, and the low line
    is negative. High and low are the greatest and least of attached flow (its centre 0.05 to
    either side, lift from one half to all of theory) and of separated flow (floor to 1.25
    times a long plate), at the largest and the smallest angle that incidence can make; up to a
    Reynolds number of 2e5 and 8 degrees of deflection both ends move out by 0.02, fading to
    nothing at 3e5 and 10 degrees, because laminar separation moves the centre. From 30
    to 35 degrees attached flow is left, and best passes over to a plate of the surface's shape.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field.
    caution
        What a report says wherever it is used.
    fields
        Fields needed, with the unit of each. Area and chord are those of the whole surface,
        C_h0 is about the leading edge.

    Notes
    -----
    Counted in its own angle the load of an all-moving surface is small, and what is left of it
    is a difference of two uncertain places. Believe the band, not the best line.

    References
    ----------
    .. [1] H. Glauert, ARC Reports and Memoranda 1095, 1927 (lift at a quarter of the chord).
    .. [2] H. Lamb, Hydrodynamics, art. 77 (separated flow).

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "incidence": 0.0, "largest_incidence": 0.0}
    >>> surface = {"area": 0.04, "chord": 0.1, "taper": 1.0, "aspect_ratio": 4.0}
    >>> section = {"C_h0": 0.0, "c_l0": 0.0, "hinge_position": 0.2}
    >>> air = {"density": 1.225, "viscosity": 1.79e-5}
    >>> moment = AllMoving()({**flow, **air, **surface, **section, "deflection": 0.1})
    >>> {line: round(float(moment[line]), 4) for line in ("low", "best", "high")}
    {'low': 0.032, 'best': -0.0302, 'high': -0.1325}
    """

    name: str = "all_moving"
    description: str = "surface that turns as a whole, hinged anywhere on its chord"
    sources: tuple[str, ...] = (
        "H. Glauert, ARC R&M 1095, 1927 (lift at a quarter of the chord)",
        "H. Lamb, Hydrodynamics, art. 77; C. Matthews, Aeronautical Engineer's Data Book, Fig. 5.13(b) (separated flow)",
        "0.9, one half, 0.05 of the chord: common practice, no source",
    )
    caution: str = (
        "what is left is a difference of two uncertain places; trust the band, not the best line"
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {
            name: VALIDITY[name]
            for name in (
                "dynamic_pressure",
                "incidence",
                "largest_incidence",
                "deflection",
                "aspect_ratio",
            )
        }
        | {"hinge_position": (0.0, 0.35)}
    )
    fields: Mapping[str, str] = MappingProxyType(
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
            "aspect_ratio": "1",
            "hinge_position": "1",
            "C_h0": "1",
            "c_l0": "1",
        }
    )

    def __call__(self, fields: Mapping[str, Array]) -> Mapping[str, Array]:
        """Evaluate the three lines.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields in their declared units; they broadcast together. They are
            not changed. nan gives nan in what depends on it.

        Returns
        -------
        mapping of str to array
            All of the fields' common shape, read-only: as
            `linkcalc_hinge_moment.band.band` has them; "k_s" is 1.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        hinge = f["hinge_position"]
        finite = 1.0 - 2.0 / (f["aspect_ratio"] + 2.0)
        slope = -LIFT_SHARE * 2.0 * np.pi * finite * (CENTRE - hinge)
        camber = f["C_h0"] + hinge * f["c_l0"]
        best = camber + slope * (f["deflection"] + f["incidence"])
        best = best + separated_share(deflection=f["deflection"]) * (_plate(f) - best)
        least, most = _band(f)
        # the chord is the whole one
        number = reynolds_number({**f, "chord_ratio": np.ones(())})
        rest = np.abs(camber) + low_reynolds_widening(
            reynolds_number=number, deflection=f["deflection"], width=LOW_REYNOLDS_WIDTH
        )
        least, most = least - rest, most + rest
        factor = taper_factor(f["taper"])
        slopes = {"C_h0": factor * camber, "C_h_alpha": factor * slope, "C_h_delta": factor * slope}
        moments = signed_moments(f, low=least, best=best, high=most)
        return common_shape(f, {**moments, **slopes, "k_s": np.ones(())})


def _plate(f: Mapping[str, Array]) -> Floats:
    """Moment of a separated plate of this shape, trailing edge down, over q S c."""
    angle = f["deflection"] + f["incidence"]
    size = np.minimum(np.abs(angle), 0.5 * np.pi)
    broadside = broadside_force(aspect_ratio=f["area"] / f["chord"] ** 2)
    rise = broadside / normal_force_coefficient(angle=0.5 * np.pi)
    arm = centre_of_pressure(angle=size) - f["hinge_position"]
    return -np.sign(angle) * rise * normal_force_coefficient(angle=size) * arm


def _band(f: Mapping[str, Array]) -> tuple[Floats, Floats]:
    """Least and greatest moment against the deflection, over q S c."""
    hinge, size = f["hinge_position"], np.abs(f["deflection"])
    ends = [size - f["largest_incidence"], size + f["largest_incidence"]]
    slope = 2.0 * np.pi
    attached = [attached_moments(angle=end, hinge=hinge, lift_slope=slope) for end in ends]
    separated = [separated_moments(angle=end, hinge=hinge) for end in ends]
    (low, high), (least, most) = (
        (np.minimum(one[0], other[0]), np.maximum(one[1], other[1]))
        for one, other in (attached, separated)
    )
    share = 1.0 - separated_share(deflection=size)
    return (
        least + share * np.minimum(low - least, 0.0),
        most + share * np.maximum(high - most, 0.0),
    )
