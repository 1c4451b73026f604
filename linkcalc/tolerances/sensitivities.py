"""Local sensitivities by central differences, and the law of propagation of uncertainty.

Sources: JCGM 100 (GUM) 5.1 and 5.2 for the law, JCGM 101 (Supplement 1) clause 8 for holding it
against samples; both from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import Any

    from numpy.typing import NDArray

    from linkcalc.tolerances.inputs import UncertainInputs

    Floats = NDArray[np.float64]
    Function = Callable[[Mapping[str, Floats]], Mapping[str, Any]]

__all__ = ["Sensitivity", "evaluated", "parting", "sensitivities"]

HALVINGS = 10
"""Of the step of a central difference, where none are asked for."""

_FIRST = 0.5  # of a standard uncertainty: within the bounds of every distribution


class Sensitivity(NamedTuple):
    """How an output follows small changes of each input.

    Attributes
    ----------
    names : tuple of str
        The inputs.
    value : float
        The output where every input has its stated value.
    derivative : ndarray, shape (input,)
        Output per input [unit of the output / unit of the input].
    error : ndarray, shape (input,)
        What the derivative may be off by, from two extrapolations.
    per_percent : ndarray, shape (input,)
        Change of the output for one percent more of each input.
    per_tolerance : ndarray, shape (input,)
        Change for one standard uncertainty more of each input.
    bent : ndarray, shape (input,)
        Change of the slope over half a standard uncertainty either side, as a share of the
        greater slope [-].
    jump : ndarray, shape (input,)
        Difference of the slopes right and left of the stated value, close to it, as a share
        of the greater slope [-].
    standard_deviation : float
        Of the output, by the law of propagation with the inputs' correlation.
    """

    names: tuple[str, ...]
    value: float
    derivative: Floats
    error: Floats
    per_percent: Floats
    per_tolerance: Floats
    bent: Floats
    jump: Floats
    standard_deviation: float


def evaluated(
    function: Function, values: Mapping[str, Floats], outputs: tuple[str, ...] = ()
) -> dict[str, Floats]:
    """Call a function of arrays and check what comes back.

    Parameters
    ----------
    function : callable
        From a mapping of arrays to one, element by element.
    values : mapping of str to ndarray, shape (sample,)
        The inputs.
    outputs : tuple of str
        Which outputs there have to be; left out, all that come are taken.

    Returns
    -------
    dict of str to ndarray, shape (sample,)
        Infinities are kept, nan says "not computed".

    Raises
    ------
    InputError
        The function returns something else.
    """
    found = function(values)
    number = len(next(iter(values.values())))
    made = {}
    for name in outputs or tuple(found):
        value = np.asarray(found.get(name), dtype=np.float64) if name in found else None
        if value is None or value.shape not in {(), (number,)}:
            shape = "nothing" if value is None else f"an array of shape {value.shape}"
            raise InputError(
                f"function(...)[{name!r}]",
                told(shape),
                f"{number} values, one for each sample",
                "Let the function return one value of every output for each sample.",
            )
        made[name] = np.broadcast_to(value, (number,))
    if not made:
        raise InputError(
            "function(...)",
            told("no output"),
            "at least one",
            "Let the function return one value at least.",
        )
    return made


def sensitivities(
    function: Function,
    inputs: UncertainInputs,
    outputs: tuple[str, ...] = (),
    *,
    halvings: int = HALVINGS,
) -> dict[str, Sensitivity]:
    """Return the local sensitivities of every output.

    Parameters
    ----------
    function : callable
        From a mapping of arrays to one, element by element.
    inputs : UncertainInputs
        Stated values and standard uncertainties.
    outputs : tuple of str
        Which; left out, all.
    halvings : int
        Steps of each input, at least 3; fewer cost fewer evaluations, and may be less exact.

    Returns
    -------
    dict of str to Sensitivity
        By output.

    Notes
    -----
    Central differences of steps from half a standard uncertainty down, each half of the last;
    each two extrapolated (Richardson); taken is the pair whose extrapolations differ least, and
    the difference, with the rounding of the function, is the error.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Normal
    >>> from linkcalc.tolerances.inputs import UncertainInputs
    >>> sides = UncertainInputs({"a": Normal(3.0, 0.1), "b": Normal(4.0, 0.1)})
    >>> found = sensitivities(lambda side: {"c": np.hypot(side["a"], side["b"])}, sides)["c"]
    >>> found.derivative.round(9).tolist(), round(found.standard_deviation, 9)
    ([0.6, 0.8], 0.1)
    """
    middle, spread = inputs.middles(), inputs.standard_deviations()
    size = len(inputs)
    steps = _FIRST * spread[:, None] * 0.5 ** np.arange(halvings)  # (input, halving)
    moved = np.repeat(middle[:, None], 1 + 2 * size * halvings, axis=1)
    up = 1 + np.arange(size * halvings).reshape(size, halvings)
    down = up + size * halvings
    for place in range(size):
        moved[place, up[place]] = middle[place] + steps[place]
        moved[place, down[place]] = middle[place] - steps[place]
        steps[place] = (moved[place, up[place]] - moved[place, down[place]]) / 2.0  # as rounded
    values = dict(zip(inputs.names, moved, strict=True))
    correlation = inputs.correlation_of_values()
    made = {}
    for name, found in evaluated(function, values, outputs).items():
        slope, error = _extrapolated(found[up], found[down], steps)
        right, left = (found[up] - found[0]) / steps, (found[0] - found[down]) / steps
        greater = np.maximum(np.abs(right), np.abs(left))
        turn = np.abs(right - left) / np.where(greater > 0, greater, 1.0)
        part = slope * spread
        made[name] = Sensitivity(
            inputs.names,
            float(found[0]),
            slope,
            error,
            slope * np.abs(middle) / 100.0,
            part,
            turn[:, 0],
            turn[:, -1],
            float(np.sqrt(max(float(np.sum(part[:, None] * part * correlation)), 0.0)))
            if np.isfinite(part).all()
            else float("nan"),
        )
    return made


def _extrapolated(up: Floats, down: Floats, steps: Floats) -> tuple[Floats, Floats]:
    """Return the derivative and its error, from the steps that fit best."""
    plain = (up - down) / (2.0 * steps)
    better = (4.0 * plain[:, 1:] - plain[:, :-1]) / 3.0
    rounding = np.finfo(float).eps * (np.abs(up) + np.abs(down)) / steps
    error = np.abs(np.diff(better, axis=1)) + rounding[:, 2:]
    best = np.argmin(np.where(np.isnan(error), np.inf, error), axis=1)[:, None]
    taken: tuple[Floats, Floats] = (
        np.take_along_axis(better[:, 1:], best, axis=1)[:, 0],
        np.take_along_axis(error, best, axis=1)[:, 0],
    )
    return taken


JUMP, BENT = 0.1, 0.2
"""Shares of the slope from which a jump or a bend is named as the reason."""


def parting(
    local: Sensitivity, values: Floats, *, share: float = 0.1, spread_error: float = 0.0
) -> str:
    """Say why the law of propagation parts from the samples, if it does.

    Parameters
    ----------
    local : Sensitivity
        Of the output.
    values : ndarray
        Samples of it.
    share : float
        By which the two standard deviations may differ [-].
    spread_error : float
        By which the sampled one may be off, in the unit of the output.

    Returns
    -------
    str
        Empty where the two agree.
    """
    lost = int(np.isnan(values).sum())
    if lost:
        return f"{lost} of {values.size} samples gave no number, which no slope foresees"
    if not np.isfinite(values).all() or not np.isfinite(local.standard_deviation):
        return "some values are infinite or have no slope"
    sampled = float(np.std(values))
    apart = abs(sampled - local.standard_deviation)
    if apart <= share * max(sampled, local.standard_deviation) + spread_error:
        return ""
    weight = np.abs(local.per_tolerance)
    leading = weight >= 0.05 * weight.max()
    jumps = [n for n, j, w in zip(local.names, local.jump, leading, strict=True) if w and j > JUMP]
    bends = [n for n, b, w in zip(local.names, local.bent, leading, strict=True) if w and b > BENT]
    for names, words in (
        (jumps, "its slope jumps at the stated value of"),
        (bends, "its slope changes within the tolerance of"),
    ):
        if names:
            return f"{words} {', '.join(names[:3])}"
    return "it is not a straight line over the tolerances, though nearly one at the stated values"
