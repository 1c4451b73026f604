"""Hinge moment from coefficients that the user gives."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc_hinge_moment.lines import common_shape, declared, opposing_sign

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array

__all__ = ["Given"]


class Given:
    r"""Given coefficients: the definition of C_h and a band about it.

    .. math:: M_h = q S_f c_f \left( C_{h0} + C_{h\alpha} \, \alpha + C_{h\delta} \, \delta
              \right)

    Low, best and high are one line unless a band is given as two multiples: with o the
    best line's moment that opposes the deflection, low is the lesser and high the greater
    of band_low x o and band_high x o. Where the moment helps the deflection (o < 0), the
    greater multiple therefore lies on the low side.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in the unit of
        the field. Linear coefficients have a range of their own, which only their source
        knows; what is stated here is what keeps low <= best <= high. (That ten times the
        moment is no band any more is common practice, no source.)
    fields
        Fields needed, with the unit of each.

    References
    ----------
    .. [1] B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed.
       New York: Wiley, 1996, sec. 2.5 (definition of C_h).

    Examples
    --------
    >>> flow = {"dynamic_pressure": 250.0, "incidence": 0.1, "deflection": 0.2}
    >>> surface = {"area": 0.010, "chord": 0.050}
    >>> slopes = {"C_h0": 0.0, "C_h_alpha": -0.2, "C_h_delta": -0.5}
    >>> band = {"band_low": 0.5, "band_high": 1.5}
    >>> moment = Given()({**flow, **surface, **slopes, **band})
    >>> {line: round(float(moment[line]), 4) for line in ("low", "best", "high")}
    {'low': -0.0075, 'best': -0.0150, 'high': -0.0225}
    """

    name: str = "coefficients"
    description: str = "hinge-moment coefficients as given, with a band if one is given"
    sources: tuple[str, ...] = (
        "B. Etkin and L. D. Reid, Dynamics of Flight: Stability and Control, 3rd ed., 1996, sec. 2.5 (definition of C_h)",
        "the source of the given coefficients",
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {"band_low": (0.0, 1.0), "band_high": (1.0, 10.0)}
    )
    fields: Mapping[str, str] = MappingProxyType(
        {
            "dynamic_pressure": "Pa",
            "incidence": "rad",
            "deflection": "rad",
            "area": "m^2",
            "chord": "m",
            "C_h0": "1",
            "C_h_alpha": "1/rad",
            "C_h_delta": "1/rad",
            "band_low": "1",
            "band_high": "1",
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
            All of the fields' common shape, read-only: "low", "best" and "high", the hinge
            moment [N m], positive trailing edge down, with low <= best <= high in the
            moment that opposes the deflection (neutral counts as positive); "other_high",
            which at neutral is the high line with neutral counted as negative, elsewhere
            high [N m]; "C_h0" [1], "C_h_alpha" and "C_h_delta" [1/rad] as given; "k_s",
            the multiplier on C_h_delta at the stiff end, which is band_high [1].

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        coefficient = f["C_h0"] + f["C_h_alpha"] * f["incidence"] + f["C_h_delta"] * f["deflection"]
        best = f["dynamic_pressure"] * f["area"] * f["chord"] * coefficient
        sign = opposing_sign(f["deflection"])
        opposing = -sign * best
        ends = f["band_low"] * opposing, f["band_high"] * opposing
        high = -sign * np.maximum(*ends)
        below = np.maximum(f["band_low"] * best, f["band_high"] * best)  # neutral as negative
        return common_shape(
            f,
            {
                "low": -sign * np.minimum(*ends),
                "best": best,
                "high": high,
                "other_high": np.where(f["deflection"] == 0.0, below, high),
                "C_h0": f["C_h0"],
                "C_h_alpha": f["C_h_alpha"],
                "C_h_delta": f["C_h_delta"],
                "k_s": f["band_high"],
            },
        )
