"""The first root of several functions at once, each between ends of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["first_root"]

_ROUNDS = 60
_GOOD = 1e-7  # what is left of a value at a root, and of an interval
_AGREED = 2e-7  # parabola and line through the nearest places differ by less, as a part of these
_FAR = 5.0  # values above have no chord worth following
_STUBBORN = 3  # trials in a row on one side, after which the interval is halved


def first_root(
    at: Callable[[Floats, Whole], Floats], places: Sequence[Floats], heights: Sequence[Floats]
) -> tuple[Floats, Whole]:
    """Find where the first of several functions turns positive.

    Parameters
    ----------
    at : callable
        Places, shape (n,), and which of the searches they belong to, to values, shape
        (function, n), of the order of one away from a root.
    places : sequence of three ndarray, shape (search,)
        Near ends, where no function is positive; far ends, on either side of these, where
        at least one is; and third places, anywhere else.
    heights : sequence of three ndarray, shape (function, search)
        Values there.

    Returns
    -------
    root : ndarray, shape (search,)
        The place, to some 1e-7 of the value; a few 1e-6 where a function bends much.
    function : ndarray of int, shape (search,)
        Which turns positive there.

    Notes
    -----
    The next trial is the least root, of the functions that are positive at the upper end,
    of the inverse parabola through both ends and the third place, or where that leaves the
    ends, of the chord. A function that is far above zero at the upper end has no chord
    and halves the interval, and so does every trial after the third in a row on one side.
    Where the parabola and the line through the two places with the least values agree to
    2e-7, which is more than the parabola is off, and the product of the three values is a
    twentieth of that, the next trial is the root, and is not tried.

    Examples
    --------
    >>> ends = [np.array([1.0]), np.array([2.0]), np.array([3.0])]
    >>> square = lambda x, which: x[None] ** 2 / 2 - 1
    >>> root, function = first_root(square, ends, [square(end, None) for end in ends])
    >>> bool(abs(root[0] - np.sqrt(2)) < 1e-7), int(function[0])
    (True, 0)
    """
    x, f = np.stack(places), np.stack(heights)
    root, side = np.array(x[0]), np.zeros(x[0].shape)
    busy, found = np.arange(x.shape[1]), np.zeros(x.shape[1], dtype=np.intp)
    for _ in range(_ROUNDS):
        share, error, found[busy] = _least_share(x[:, busy], f[..., busy])
        # Halved where one side gets stubborn, but not a root that has just been found.
        halve = (np.abs(side[busy]) >= _STUBBORN) & (error > _AGREED)
        share = np.where(halve, 0.5, share)
        ends = x[:2, busy]
        root[busy] = ends[0] + (ends[1] - ends[0]) * share
        narrow = np.abs(ends[1] - ends[0]) <= _GOOD * np.abs(ends[1])
        busy = busy[~(narrow | (error <= _AGREED))]
        if not busy.size:
            break
        (low, high), (f_low, f_high) = x[:2, busy], f[:2, :, busy]
        trial, value = root[busy], at(root[busy], busy)
        rises = (value > 0).any(0)
        # The end that the trial replaces becomes the third place.
        x[:, busy] = np.where(rises, (low, trial, high), (trial, high, low))
        f[:, :, busy] = np.where(rises, (f_low, value, f_high), (value, f_high, f_low))
        step = np.where(rises, 1.0, -1.0)
        side[busy] = np.where(side[busy] * step > 0, side[busy] + step, step)
    return root, found


def _least_share(x: Floats, f: Floats) -> tuple[Floats, Floats, Whole]:
    """Return how far from the lower to the upper end the first root is expected, and how far off.

    That is told as a part of the place, infinite where nothing is known about it; last comes
    the function whose root it is.
    """
    (low, high, third), (f_low, f_high, f_third) = x, f
    rise = np.where(f_high > f_low, f_high - f_low, 1.0)
    below, above = f_low - f_third, f_high - f_third
    apart = (below != 0) & (above != 0) & (np.abs(f_third) <= _FAR)
    # Lagrange's formula with places and heights exchanged, the lower end at 0, the upper at 1.
    bent = f_low * f_third / np.where(apart, rise * above, 1.0)
    far = (third - low) / (high - low)
    bent = bent + far * f_low * f_high / np.where(apart, below * above, 1.0)
    bent = np.where(apart & (bent > 0.0) & (bent < 1.0), bent, np.nan)
    chord = -f_low / rise
    share = np.where(np.isnan(bent), chord, bent)
    share = np.where((f_high > _FAR) | (f_high <= f_low), 0.5, share)
    share = np.where(f_high > 0, np.clip(share, 0.0, 1.0), 1.0)
    first, each = share.argmin(0), np.arange(x.shape[1])
    height, place = f[:, first, each], low + (high - low) * share[first, each]
    near, next_near = np.argsort(np.abs(height), axis=0)[:2]
    with np.errstate(divide="ignore", invalid="ignore"):  # level: nothing is known
        run = (x[next_near, each] - x[near, each]) / (height[next_near, each] - height[near, each])
        line = x[near, each] - height[near, each] * run
        error = np.abs(line - place) / np.maximum(np.abs(low), np.abs(high))
    guessed = np.isnan(bent[first, each]) | (height[1] > _FAR)
    # The line may meet the parabola by chance: the values have to be small as well.
    error = np.maximum(error, 20 * np.abs(height.prod(0)))
    error = np.where(guessed | np.isnan(error), np.inf, error)
    met = (np.abs(height[0]) <= _GOOD) | (np.abs(height[1]) <= _GOOD)
    return share[first, each], np.where(met, 0.0, error), first
