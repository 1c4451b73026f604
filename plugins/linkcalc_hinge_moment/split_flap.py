"""Hinge moment of a split flap or of an airbrake that swings out into the stream."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.lines import (
    common_shape,
    declared,
    signed_moments,
    taper_factor,
)
from linkcalc_hinge_moment.plate import (
    LONG_BROADSIDE,
    SLOPE_AT_ZERO,
    hinge_moment_coefficient,
    normal_force_coefficient,
    separated_hinge_moment,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array

__all__ = ["SplitFlap"]

WALL_BROADSIDE = 1.2
"""Force coefficient of a plate that stands on a wall, square to the stream (from memory) [1]."""
_THEORY = float(normal_force_coefficient(angle=0.5 * np.pi))


class SplitFlap:
    r"""A plate that swings out of a surface, its other side in the wake: split flap, airbrake.

    .. math::
        \text{low} &: C_{h,FS}(|\delta| - |\alpha|_{max}) \\
        \text{best} &: \frac{1.2}{0.88} \, C_{h,FS}(\delta + \alpha) \\
        \text{high} &: \frac{1.98}{0.88} \, C_{h,FS}(|\delta| + |\alpha|_{max})

    with the free-streamline plate's C_h,FS. The band reaches from that plate, whose wake has the
    pressure of the stream, to a long free plate as measured; a plate on a wall, which the flap
    is more like, lies between.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands.
    caution
        What a report says wherever it is used.
    fields
        Fields needed, with the unit of each.

    Notes
    -----
    The evidence is thin: plates alone, no split flap. Between the flap and the wing the wake's
    suction is not known, nor what a wing's circulation adds; that is why the high line stands
    at the free plate's force, 65 % over the best. An airbrake that slides out of the wing
    has no hinge moment of this kind.

    References
    ----------
    .. [1] H. Lamb, Hydrodynamics, art. 77 (shape with angle, low line).
    .. [2] C. Matthews, Aeronautical Engineer's Data Book, Fig. 5.13(b), p. 95 (high line).

    Examples
    --------
    >>> flow = {"dynamic_pressure": 250.0, "incidence": 0.0, "largest_incidence": 0.0}
    >>> surface = {"area": 0.020, "chord": 0.040, "taper": 1.0}
    >>> moment = SplitFlap()({**flow, **surface, "deflection": np.pi / 2})
    >>> {line: round(float(moment[line]), 3) for line in ("low", "best", "high")}
    {'low': -0.088, 'best': -0.12, 'high': -0.198}
    """

    name: str = "split_flap"
    description: str = "plate that swings out of a surface: split flap, airbrake (thin evidence)"
    sources: tuple[str, ...] = (
        "H. Lamb, Hydrodynamics, art. 77 (free-streamline plate)",
        "C. Matthews, Aeronautical Engineer's Data Book, Fig. 5.13(b), p. 95 (long plate)",
        "plate on a wall: from memory",
    )
    caution: str = "the evidence is plates alone, no split flap was measured; trust the band, not the best line; past 90 degrees to the stream the value at 90 counts, the largest"
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {
            "dynamic_pressure": (0.0, 6400.0),
            "incidence": (-0.21, 0.21),
            "largest_incidence": (0.0, 0.21),
            "deflection": (-1.571, 1.571),
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
            All of the fields' common shape, read-only, as `linkcalc_hinge_moment.plate.Plate`
            returns them.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        size = np.abs(f["deflection"])
        moments = signed_moments(
            f,
            low=-hinge_moment_coefficient(angle=size - f["largest_incidence"]),
            best=separated_hinge_moment(
                angle=f["deflection"] + f["incidence"], broadside=WALL_BROADSIDE
            ),
            high=-separated_hinge_moment(
                angle=size + f["largest_incidence"], broadside=LONG_BROADSIDE
            ),
        )
        slope = taper_factor(f["taper"]) * SLOPE_AT_ZERO * WALL_BROADSIDE / _THEORY
        slopes = {"C_h0": np.zeros(()), "C_h_alpha": slope, "C_h_delta": slope}
        return common_shape(
            f, {**moments, **slopes, "k_s": np.full((), LONG_BROADSIDE / WALL_BROADSIDE)}
        )
