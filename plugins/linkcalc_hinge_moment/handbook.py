"""Hinge moment of a control surface by the charts of a handbook, step by step."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.physics.camber import bend_lift
from linkcalc.solver_steps import Limit, Step
from linkcalc_hinge_moment.band import FIELDS, VALIDITY, Best, band, reynolds_number, section
from linkcalc_hinge_moment.charts import CHARTS, read
from linkcalc_hinge_moment.lines import common_shape, declared, taper_factor, taper_step
from linkcalc_hinge_moment.thin_aerofoil import CAMBER_SHARE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linkcalc_hinge_moment.lines import Array, Floats

__all__ = ["Handbook", "lift_slope_ratio", "steps"]

_PRACTICE = "common practice, no source"
OPEN_GAP_RISE = 0.1
"""What an open gap adds to both slopes: the charts are for a sealed one, and a tenth more is the
safe side (common practice, no source) [1]."""
LEAST_LIFT, MOST_LIFT = 0.85, 0.95
"""Where the line of the lift slope over the Reynolds number ends (common practice, no source) [1]."""
_LIFT_AT_MILLION, _LIFT_PER_DECADE = 0.90, 0.03


def lift_slope_ratio(*, reynolds_number: Floats) -> Floats:
    r"""Section lift slope over theory, where none is given.

    .. math:: 0.90 + 0.03 \log_{10} \frac{Re}{10^6}, \qquad 0.85 \text{ to } 0.95

    Parameters
    ----------
    reynolds_number : float or array, shape (...)
        Of the whole chord, zero or more [1].

    Returns
    -------
    float or array, shape (...)
        Ratio [1]. nan for nan.

    Notes
    -----
    Common practice, no source. 12 % sections computed by a viscous panel method at a Reynolds
    number of 10^6 have 0.89 and 0.93 of their inviscid slope; at 2 * 10^5 slopes are erratic
    near zero lift, and a measured one is worth more than this line.

    Examples
    --------
    >>> round(float(lift_slope_ratio(reynolds_number=1e6)), 3)
    0.900
    """
    number = np.maximum(reynolds_number, 1.0)
    line = _LIFT_AT_MILLION + _LIFT_PER_DECADE * np.log10(number / 1e6)
    return np.minimum(MOST_LIFT, np.maximum(LEAST_LIFT, line))


def _reynolds_at(ratio: float) -> float:
    """Reynolds number at which the line of the lift slope has a value."""
    return float(1e6 * 10.0 ** ((ratio - _LIFT_AT_MILLION) / _LIFT_PER_DECADE))


class Handbook:
    r"""Handbook charts: thickness, viscosity, balance, finite span and sweep, one by one.

    The best line is

    .. math::
        C_{h\alpha} &= c_{h\alpha} \, k_\alpha \, k_b \, \frac{AR \cos\Lambda}{AR + 2 \cos\Lambda} \\
        C_{h\delta} &= \cos^2\Lambda \left( c_{h\delta} \, k_\delta \, k_b
                       - \tau \, c_{h\alpha} \, k_\alpha \, k_b \,
                       \frac{2 \cos\Lambda}{AR + 2 \cos\Lambda} \right)

    with the slopes c of theory for the section's thickness, the ratios k of real to
    theoretical slopes by the section's lift slope, the balance k_b, the flap's effectiveness
    tau, the aspect ratio AR of the whole surface and its sweep. The second term in C_h_delta
    is positive. High and low are those of thin-aerofoil theory, without any of this; `steps`
    tells each factor with its source.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands: where a chart
        ends first, the chart's end. Beyond it the value at the edge is taken, and a report
        that compares fields with this range says so.
    fields
        Fields needed, with the unit of each. A `lift_slope_ratio` of 0 stands for that by
        Reynolds number.

    Notes
    -----
    A gap that is not sealed has no chart here; it adds a tenth to both slopes (common practice,
    no source). The overhang is chord ahead of the hinge over chord aft;
    the handbook takes off some for the thickness at the hinge, which makes its relief less.

    References
    ----------
    .. [1] J. Roskam, Airplane Design, Part VI, sect. 10.4.1 and, from memory for the sweep, 10.4.2.

    Examples
    --------
    >>> flow = {"dynamic_pressure": 400.0, "density": 1.225, "viscosity": 1.79e-5}
    >>> angles = {"incidence": 0.0, "largest_incidence": 0.0, "deflection": 0.2}
    >>> surface = {"area": 0.010, "chord": 0.050, "taper": 1.0, "chord_ratio": 0.3}
    >>> section = {"square_edged_slab": 0.0, "overhang": 0.0, "C_h0": 0.0, "c_l0": 0.0}
    >>> section |= {"span_credit": 0.0, "incidence_credit": 0.0}
    >>> more = {"thickness_ratio": 0.12, "lift_slope_ratio": 0.9, "open_gap": 0.0, "sweep": 0.0}
    >>> moment = Handbook()({**flow, **angles, **surface, **section, **more, "aspect_ratio": 4.0})
    >>> round(float(moment["C_h_delta"]), 3)
    -0.690
    """

    name: str = "handbook"
    description: str = "handbook charts for thickness, viscosity, balance, finite span and sweep"
    sources: tuple[str, ...] = (
        "J. Roskam, Airplane Design, Part VI, sect. 10.4.1 (charts, digitised) and 10.4.2 (finite span; sweep from memory)",
        "H. Glauert, ARC R&M 1095, 1927 (band)",
    )
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        dict(VALIDITY)
        | {
            "chord_ratio": (0.1, 0.4),
            "thickness_ratio": (0.0, 0.15),
            "lift_slope_ratio": (0.0, 1.0),
            "sweep": (-0.79, 0.79),
        }
    )
    fields: Mapping[str, str] = MappingProxyType(
        {
            **FIELDS,
            "thickness_ratio": "1",
            "lift_slope_ratio": "1",
            "open_gap": "1",
            "sweep": "rad",
        }
    )

    def steps(self, fields: Mapping[str, Array]) -> tuple[Step, ...]:
        """Tell every step, for a report: the section's lift slope, then those of the function `steps`.

        Parameters
        ----------
        fields : mapping of str to array
            The declared fields but the angles.

        Returns
        -------
        tuple of Step
            In order; the last of each slope, the taper's, has the coefficient that is returned.
        """
        taken = steps(fields)
        factor = taper_factor(fields["taper"])
        ends = (
            [step for step in taken if step.slope == slope][-1]
            for slope in ("C_h_alpha", "C_h_delta")
        )
        tapered = (taper_step(step, factor) for step in ends)
        return (_lift_step(fields), *taken, *tapered)

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
            All of the fields' common shape, read-only; see `linkcalc_hinge_moment.band.band`.

        Raises
        ------
        KeyError
            A declared field is missing.
        """
        f = declared(fields, self.fields)
        taken = steps(f)
        alpha, delta = (
            [step for step in taken if step.slope == slope][-1].after
            for slope in ("C_h_alpha", "C_h_delta")
        )
        relief = next(step for step in taken if step.name == "finite span")
        downwash = (relief.after - relief.before) * f["c_l0"] / (2.0 * np.pi)
        best = Best(CAMBER_SHARE * f["C_h0"] + downwash, alpha, delta)
        return common_shape(f, band(f, section(f), best))


def steps(f: Mapping[str, Array]) -> tuple[Step, ...]:
    """Tell every step from theory to the surface.

    Parameters
    ----------
    f : mapping of str to array
        Fields of `Handbook`.

    Returns
    -------
    tuple of Step
        For C_h_alpha first, then for C_h_delta, in the order in which they are taken; the
        last one of each has the slope of the best line.

    Examples
    --------
    >>> section = {"chord_ratio": 0.3, "thickness_ratio": 0.12, "lift_slope_ratio": 0.9}
    >>> surface = {"overhang": 0.0, "open_gap": 0.0, "aspect_ratio": 4.0, "sweep": 0.0}
    >>> air = {"dynamic_pressure": 400.0, "density": 1.2, "viscosity": 1.8e-5, "chord": 0.05}
    >>> for step in steps({**section, **surface, **air})[:3]:
    ...     print(f"{step.name}: {step.before:.3f} x {step.factor:.2f} = {step.after:.3f}")
    thickness: -0.617 x 0.86 = -0.530
    viscosity: -0.530 x 0.77 = -0.406
    gap: -0.406 x 1.00 = -0.406
    """
    made = {slope: _section_steps(f, slope) for slope in ("C_h_alpha", "C_h_delta")}
    alpha, delta = (made[slope][-1].after for slope in ("C_h_alpha", "C_h_delta"))
    cosine = np.cos(f["sweep"])
    induced = 2.0 * cosine / (f["aspect_ratio"] + 2.0 * cosine)
    tau = bend_lift(bend=f["chord_ratio"]) / (2.0 * np.pi)
    source = "J. Roskam, Airplane Design, Part VI, sect. 10.4.2"
    swept = f"{source} (from memory)"
    spanned = delta - tau * induced * alpha
    relieved = alpha * (1.0 - induced)
    made["C_h_alpha"] += [
        _step("C_h_alpha", "finite span", (alpha, relieved), source),
        _step("C_h_alpha", "sweep", (relieved, relieved * cosine), swept),
    ]
    made["C_h_delta"] += [
        _step("C_h_delta", "finite span", (delta, spanned), source),
        _step("C_h_delta", "sweep", (spanned, spanned * cosine**2), swept),
    ]
    return (*made["C_h_alpha"], *made["C_h_delta"])


def _section_steps(f: Mapping[str, Array], slope: str) -> list[Step]:
    kind = {"C_h_alpha": "incidence", "C_h_delta": "deflection"}[slope]
    ratio, lift = f["chord_ratio"], _lift(f)
    thin = read(f"{kind} slope", 0.0, ratio)
    thick = read(f"{kind} slope", f["thickness_ratio"], ratio)
    viscous = read(f"{kind} ratio", lift, ratio)
    balance = read("balance", f["overhang"])
    real = thick.value * viscous.value
    sealed = real * (1.0 + OPEN_GAP_RISE * f["open_gap"])
    balanced = sealed * balance.value
    by_thickness, by_lift, by_overhang = (
        CHARTS[name].source for name in (f"{kind} slope", f"{kind} ratio", "balance")
    )
    return [
        _step(slope, "thickness", (thin.value, thick.value), by_thickness, thick.limits),
        _step(slope, "viscosity", (thick.value, real), by_lift, viscous.limits),
        _step(slope, "gap", (real, sealed), f"a tenth more where it is open ({_PRACTICE})"),
        _step(slope, "balance", (sealed, balanced), by_overhang, balance.limits),
    ]


def _step(
    slope: str,
    name: str,
    values: tuple[Floats, Floats],
    source: str,
    limits: tuple[Limit, ...] = (),
) -> Step:
    before, after = values
    nothing = np.asarray(before) == 0.0
    factor = np.where(nothing, 1.0, after / np.where(nothing, 1.0, before))[()]
    return Step(slope, name, before, factor, after, source, limits)


def _lift(f: Mapping[str, Array]) -> Floats:
    """Section lift slope over theory: as given, or by Reynolds number."""
    given = np.asarray(f["lift_slope_ratio"])
    return np.where(given == 0.0, lift_slope_ratio(reynolds_number=reynolds_number(f)), given)


def _lift_step(f: Mapping[str, Array]) -> Step:
    """Step from the section's lift slope in theory to that in air."""
    given = np.asarray(f["lift_slope_ratio"]) != 0.0
    # what is given has no range here: the charts that take it tell theirs
    number = np.where(given, np.nan, reynolds_number(f))
    line = Limit("Reynolds number", number, _reynolds_at(LEAST_LIFT), _reynolds_at(MOST_LIFT))
    ratio = _lift(f)
    source = f"as given, else by the Reynolds number of the chord ({_PRACTICE})"
    whole = np.ones(np.shape(ratio))
    return Step("lift slope ratio", "viscosity", whole, ratio, ratio, source, (line,), unit="1")
