"""What matters: how far each input moves an output, and which measurement to improve first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.tolerances.sensitivities import evaluated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from linkcalc.tolerances.driver import OutputStudy
    from linkcalc.tolerances.indices import Indices
    from linkcalc.tolerances.inputs import UncertainInputs
    from linkcalc.tolerances.sensitivities import Function, Sensitivity

    Floats = NDArray[np.float64]

__all__ = ["Swing", "advice", "shares", "swings"]

_ENDS = 1.959963984540054
"""Standard normal score of 97.5 %."""

_STEP = 1e-3


class Swing(NamedTuple):
    """How far one factor alone moves an output.

    Attributes
    ----------
    inputs : tuple of str
        The input, or those that move together.
    low, high : float
        The output with the factor at either end of its 95 % range, everything else at its
        median; nan where it cannot be computed there.
    value : float
        The output with every input at its median.
    """

    inputs: tuple[str, ...]
    low: float
    high: float
    value: float

    @property
    def width(self) -> float:
        """The greatest distance between the three."""
        found = (self.low, self.high, self.value)
        return math.inf if any(map(math.isnan, found)) else max(found) - min(found)


def swings(
    function: Function, inputs: UncertainInputs, outputs: tuple[str, ...] = ()
) -> dict[str, list[Swing]]:
    """Return how far each factor alone moves every output, the greatest first.

    Parameters
    ----------
    function : callable
        From a mapping of arrays to one, element by element.
    inputs : UncertainInputs
        What varies.
    outputs : tuple of str
        Which; left out, all.

    Returns
    -------
    dict of str to list of Swing
        By output.

    Notes
    -----
    An input goes to the ends of its own 95 % range. Inputs that hang together go the way that
    moves the output most among those that are as likely; for one error in all of them that is
    the error itself.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Uniform
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> two = UncertainInputs({"arm": Uniform(12.0, 1.0), "horn": Uniform(10.0, 0.1)})
    >>> found = swings(lambda of: {"ratio": of["arm"] / of["horn"]}, two)["ratio"]
    >>> [(one.inputs, round(one.low, 3), round(one.high, 3)) for one in found]
    [(('arm',), 1.105, 1.295), (('horn',), 1.212, 1.189)]
    """
    size = len(inputs)
    steps = _STEP * np.eye(size)
    near = evaluated(function, inputs.values(np.concatenate([steps, -steps], axis=1)), outputs)
    made = {}
    for name, value in near.items():
        slope = value[:size] - value[size:]
        ways = np.array([_way(slope, factor) for factor in inputs.factors]).T
        ends = np.concatenate([np.zeros((size, 1)), -_ENDS * ways, _ENDS * ways], axis=1)
        found = evaluated(function, inputs.values(ends), (name,))[name]
        count = len(inputs.factors)
        each = [
            Swing(
                tuple(inputs.names[place] for place in factor),
                float(found[1 + index]),
                float(found[1 + count + index]),
                float(found[0]),
            )
            for index, factor in enumerate(inputs.factors)
        ]
        made[name] = sorted(each, key=lambda one: -one.width)
    return made


def _way(slope: Floats, factor: tuple[int, ...]) -> Floats:
    """Return the direction of scores in which a factor moves the output most, of length 1."""
    way = np.zeros(len(slope))
    part = slope[list(factor)]
    length = float(np.linalg.norm(part))
    single = len(factor) == 1 or not (math.isfinite(length) and length > 0)
    way[list(factor)] = 1.0 / math.sqrt(len(factor)) if single else part / length
    return way


def shares(local: Sensitivity, inputs: UncertainInputs) -> Floats:
    """Return the share of each factor in the variance by the law of propagation.

    Parameters
    ----------
    local : Sensitivity
        Of the output.
    inputs : UncertainInputs
        What varies.

    Returns
    -------
    ndarray, shape (factor,)
        They add to 1; nan where nothing varies [-].

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> from linkcalc.tolerances.sensitivities import sensitivities
    >>> two = UncertainInputs({"a": Normal(0.0, 1.0), "b": Normal(0.0, 2.0)})
    >>> found = sensitivities(lambda of: {"sum": of["a"] + of["b"]}, two)["sum"]
    >>> shares(found, two).round(6).tolist()
    [0.2, 0.8]
    """
    part, correlation = local.per_tolerance, inputs.correlation_of_values()
    parts = [list(factor) for factor in inputs.factors]
    variances = [part[of] @ correlation[np.ix_(of, of)] @ part[of] for of in parts]
    whole = math.fsum(variances)
    return np.array(variances) / whole if whole > 0 else np.full(len(parts), np.nan)


def advice(
    studied: Sequence[OutputStudy], inputs: UncertainInputs, indices: dict[str, Indices]
) -> list[str]:
    """Say in plain words which measurement to improve first.

    Parameters
    ----------
    studied : sequence of OutputStudy
        Outputs that matter.
    inputs : UncertainInputs
        What varies.
    indices : dict of str to Indices
        Sobol indices, where there are any; else the law of propagation stands in.

    Returns
    -------
    list of str
        One sentence for each output that may fall short, the likeliest first, at most five.
    """
    risky = sorted(
        (one for one in studied if one.chance.events), key=lambda one: -one.chance.chance
    )
    if not risky:
        return ["No sample fell short: no measurement has to be improved for that."]
    return [_sentence(one, inputs, indices.get(one.name)) for one in risky[:5]]


def _sentence(one: OutputStudy, inputs: UncertainInputs, indices: Indices | None) -> str:
    exact = indices is not None and not indices.reason
    if exact and indices is not None:
        parts, words = indices.first, "by Sobol indices"
    else:
        parts, words = shares(one.local, inputs), "by the law of propagation"
    if np.isnan(parts).all():
        return f"{one.name}: what moves it could not be told apart; see which values are missing."
    best = int(np.nanargmax(parts))
    share = min(max(float(parts[best]), 0.0), 1.0)
    names = [inputs.names[place] for place in inputs.factors[best]]
    told = names[0] if len(names) == 1 else f"{', '.join(names[:3])} (they move together)"
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    sentence = (
        f"{one.name}: measure {told}{more} first; it brings {100 * share:.0f} % of the variance "
        f"({words}). Were it known, the spread would be {math.sqrt(1 - share):.2f} of what it is."
    )
    if one.local.value < 0:
        sentence += " The stated values themselves fall short: change the design, not the ruler."
    return sentence
