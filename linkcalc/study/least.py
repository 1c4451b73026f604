"""The least change of a factor that brings a margin to zero."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["least"]

_CLOSE = 0.005  # of the change
_LESS = 0.95
_LEAST = 1e-6  # no change is sought more closely than this
_PEAKS = 5
_ROUNDS = 200


def least(
    margin: Callable[[float], float],
    now: float,
    sizes: tuple[float, ...],
    *,
    stepped: bool = False,
    tidy: Callable[[float], float] = lambda factor: factor,
) -> float | None:
    """Find the least change of a factor from 1 that brings a margin to zero or more.

    Parameters
    ----------
    margin : callable
        Factor to margin; nan where there is none, which counts as failing.
    now : float
        The margin at a factor of 1, below zero.
    sizes : tuple of float
        Factors from next to 1 outward to the bound, all on one side of 1.
    stepped : bool
        Whether these are all there are.
    tidy : callable
        Rounds a factor away from 1; not used where that changes much.

    Returns
    -------
    float or None
        A factor that clears and of whose change a twentieth less does not, unless that
        is less than a millionth; the first of the sizes that clears where they are
        stepped. None where none was found.

    Examples
    --------
    >>> round(least(lambda factor: factor**2 / 1.5 - 1, -1 / 3, (1.1, 1.5, 2.0)), 2)
    1.23
    >>> least(lambda factor: factor / 3 - 1, -2 / 3, (1.1, 1.5, 2.0)) is None
    True
    """
    tried = {1.0: now}

    def ask(factor: float) -> float:
        if factor not in tried:
            tried[factor] = margin(factor)
        return tried[factor]

    found = next((factor for factor in sizes if ask(factor) >= 0), None)
    if stepped:
        return found
    if found is None:
        found = _on_peak(ask, (1.0, *sizes))
    if found is None:
        return None
    low, high = _inside(tried, found), found
    while True:
        low, high = _closed_in(ask, low, high, tidy)
        less = 1 + _LESS * (high - 1)
        if not ask(less) >= 0 or abs(high - 1) <= _LEAST:
            return high
        low, high = _inside(tried, less), less  # there was a window nearer to 1


def _inside(tried: dict[float, float], found: float) -> float:
    """Return the failing factor next to one that clears, on the side of 1."""
    failing = [
        factor
        for factor, value in tried.items()
        if not value >= 0 and abs(factor - 1) < abs(found - 1)
    ]
    return max(failing, key=lambda factor: abs(factor - 1))


def _closed_in(
    ask: Callable[[float], float], low: float, high: float, tidy: Callable[[float], float]
) -> tuple[float, float]:
    """Close in from a factor that fails and one that clears, until the latter is good enough.

    That is when no more than a hundredth of its change is too much, by what the two
    margins say of where the root lies and with both within a twentieth of each other.
    """
    for count in range(_ROUNDS):
        change = abs(high - 1)
        root = _root(low, ask(low), high, ask(high))
        near = abs(high - low) <= 1.01 * (1 - _LESS) * change
        if abs(high - low) <= max(_CLOSE * change, _LEAST):
            break
        if change <= (1 + 2 * _CLOSE) * abs(root - 1):
            if near:
                break
            trial = 1 + _LESS * (high - 1)
        else:
            trial = tidy(root + 0.2 * _CLOSE * (high - 1))
        inside = abs(low - 1) < abs(trial - 1) < change
        if count % 4 == 3 or not inside:
            trial = (low + high) / 2
        if ask(trial) >= 0:
            high = trial
        else:
            low = trial
    rounded = tidy(high)
    slight = abs(rounded - 1) <= (1 + 4 * _CLOSE) * abs(high - 1)
    return low, rounded if slight and ask(rounded) >= 0 else high


def _root(low: float, below: float, high: float, above: float) -> float:
    """Return where a margin passes zero, as a power of the factor where that can be.

    Most margins go nearly as a power of what is changed: torque with the stall torque,
    a load with the square of the speed.
    """
    if not math.isfinite(above - below):
        return (low + high) / 2
    if below > -1:
        bottom, top = math.log1p(below), math.log1p(above)
        return float(low * (high / low) ** (-bottom / (top - bottom)))
    return low + (high - low) * (-below / (above - below))


def _on_peak(ask: Callable[[float], float], order: tuple[float, ...]) -> float | None:
    """Look between the neighbours of the best size that fails for one that clears."""
    heights = [value if math.isfinite(value := ask(factor)) else -math.inf for factor in order]
    best = max(range(len(order)), key=heights.__getitem__)
    if best in {0, len(order) - 1} or heights[best] <= heights[best - 1]:
        return None
    low, middle, high = order[best - 1 : best + 2]
    for _ in range(_PEAKS):
        wider = low if abs(middle - low) > abs(high - middle) else high
        trial = middle + 0.382 * (wider - middle)
        height = ask(trial)
        if height >= 0:
            return trial
        if height > ask(middle):
            low, middle, high = (low, trial, middle) if wider == low else (middle, trial, high)
        elif wider == low:
            low = trial
        else:
            high = trial
    return None
