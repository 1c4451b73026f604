"""The three lines of a hinge moment: low, best and high, and what they refer to.

Low and high are counted in the moment that opposes the deflection, whichever way that
turns; the moments that a solver returns are signed, positive trailing edge down.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from linkcalc.solver_steps import Step

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    Floats: TypeAlias = float | NDArray[np.float64]

__all__ = [
    "common_shape",
    "declared",
    "hold_best",
    "opposing_sign",
    "signed_moments",
    "taper_factor",
    "taper_step",
]


def declared(fields: Mapping[str, Array], names: Iterable[str]) -> dict[str, Array]:
    """Pick the declared fields out of what a solver was handed.

    Parameters
    ----------
    fields : mapping of str to array
        What the solver was handed, in SI units.
    names : iterable of str
        The fields that it declares.

    Returns
    -------
    dict of str to array
        The declared ones, not copied.

    Raises
    ------
    KeyError
        A declared field is missing. None is ever guessed.

    Examples
    --------
    >>> {name: float(value) for name, value in declared({"area": 0.01}, ["area"]).items()}
    {'area': 0.01}
    """
    return {name: np.asarray(fields[name], dtype=np.float64) for name in names}


def common_shape(fields: Mapping[str, Array], outputs: Mapping[str, Floats]) -> dict[str, Array]:
    """Spread every output over the shape that all fields have together.

    Parameters
    ----------
    fields : mapping of str to array
        The fields of the solver; they broadcast together.
    outputs : mapping of str to float or array
        What was computed from them.

    Returns
    -------
    dict of str to array
        The outputs as views of one shape, which take no memory of their own and are not
        to be written to.

    Examples
    --------
    >>> spread = common_shape({"chord": np.zeros((2, 1))}, {"k_s": 1.0})
    >>> spread["k_s"].shape
    (2, 1)
    """
    shape = np.broadcast_shapes(*(np.shape(value) for value in fields.values()))
    return {name: np.broadcast_to(value, shape) for name, value in outputs.items()}


def opposing_sign(deflection: Floats) -> Floats:
    """Sign of the deflection, with neutral counted as positive.

    Parameters
    ----------
    deflection : float or array, shape (...)
        Deflection, positive trailing edge down [rad].

    Returns
    -------
    float or array, shape (...)
        -1 below neutral, else 1, at nan too [1]. A signed moment times minus this sign is
        the moment that opposes the deflection, and the other way round.

    Examples
    --------
    >>> opposing_sign(np.array([-0.1, 0.0, 0.1])).tolist()
    [-1.0, 1.0, 1.0]
    """
    return np.where(np.asarray(deflection) < 0.0, -1.0, 1.0)[()]


def hold_best(*, low: Floats, best: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Stretch a band so that it holds the best line.

    Parameters
    ----------
    low, best, high : float or array, shape (...)
        Moments or coefficients that oppose the deflection, in one unit.

    Returns
    -------
    low, high : float or array, shape (...)
        The band's ends with low <= best <= high, in the unit of the arguments. They
        broadcast together; nan in either of two gives nan.

    Examples
    --------
    >>> low, high = hold_best(low=1.0, best=3.0, high=2.0)
    >>> float(low), float(high)
    (1.0, 3.0)
    """
    return np.minimum(low, best), np.maximum(high, best)


def signed_moments(
    fields: Mapping[str, Array], *, low: Floats, best: Floats, high: Floats
) -> dict[str, Floats]:
    """Turn the coefficients of three lines into the hinge moments that a solver returns.

    Parameters
    ----------
    fields : mapping of str to array
        ``deflection``, ``dynamic_pressure``, ``area``, ``chord`` and ``taper`` are used.
    low, high : float or array, shape (...)
        Least and greatest coefficient that opposes the deflection, with neutral counted as
        positive, without the taper; a band that does not hold the best line is stretched [1].
    best : float or array, shape (...)
        Coefficient of the best line, positive trailing edge down, without the taper [1].

    Returns
    -------
    dict of str to float or array
        "low", "best" and "high", positive trailing edge down, and "other_high", which at neutral
        is the high line with neutral counted as negative [N m]. nan in a line's own gives nan.

    Examples
    --------
    >>> still = {"dynamic_pressure": 100.0, "area": 0.01, "chord": 0.05, "taper": 1.0}
    >>> made = signed_moments({**still, "deflection": 0.1}, low=0.1, best=-0.2, high=0.3)
    >>> [round(float(made[name]), 4) for name in ("low", "best", "high")]
    [-0.005, -0.01, -0.015]
    """
    sign = opposing_sign(fields["deflection"])
    least, most = hold_best(low=low, best=-sign * best, high=high)
    load = fields["dynamic_pressure"] * fields["area"] * fields["chord"]
    load = load * taper_factor(fields["taper"])
    made = -sign * load * most
    neutral = np.equal(fields["deflection"], 0.0)
    return {
        "low": -sign * load * least,
        "best": load * best,
        "high": made,
        "other_high": np.where(neutral, load * np.maximum(high, best), made),
    }


def taper_factor(taper: Floats) -> Floats:
    r"""Multiplier on a section's coefficient for a surface with a straight taper.

    .. math:: \frac{\int c^2 \, dy}{S_f \, c_f} = \frac{4 (1 + t + t^2)}{3 (1 + t)^2}

    Parameters
    ----------
    taper : float or array, shape (...)
        Tip over root chord aft of the hinge line t, zero or more [1].

    Returns
    -------
    float or array, shape (...)
        Factor [1], from 1 (no taper) to 4/3 (a point). It is the same for t and 1/t.

    Notes
    -----
    A section method gives a moment per unit of span in terms of the square of the local
    chord; the surface's coefficient refers to its area and mean chord. The coefficient
    is taken as the same at every section, which means the same chord ratio.

    References
    ----------
    .. [1] The integral of c^2 = c_r^2 (1 - (1 - t) y / b)^2 over the span b.

    Examples
    --------
    >>> round(float(taper_factor(0.5)), 4)
    1.0370
    """
    return 4.0 * (1.0 + taper + taper**2) / (3.0 * (1.0 + taper) ** 2)


def taper_step(before: Step, factor: Floats) -> Step:
    """Step from a section's slope to that of a surface with a straight taper.

    Parameters
    ----------
    before : Step
        The last one before.
    factor : float or array, shape (...)
        From `taper_factor` [1].

    Returns
    -------
    Step
        Of the same slope.

    Examples
    --------
    >>> section = Step("C_h_delta", "thickness", -1.0, 0.9, -0.9, "a chart")
    >>> round(float(taper_step(section, taper_factor(0.5)).after), 3)
    -0.933
    """
    source = "square of the chord along the span, over area times mean chord"
    return Step(before.slope, "taper", before.after, factor, before.after * factor, source)
