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
_CLOSE = 1e-2  # of the interval, by which the chord may be elsewhere at the end
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
        The place, to some 1e-7 of the value.
    function : ndarray of int, shape (search,)
        Which turns positive there.

    Notes
    -----
    The next trial is the least root, of the functions that are positive at the upper end,
    of the inverse parabola through both ends and the third place, or where that leaves the
    ends, of the chord. A function that is far above zero at the upper end has no chord
    and halves the interval, and so does every trial after the third in a row on one side.
    The error of an inverse parabola is of the order of the product of the three values
    that it goes through (from memory); where that is small enough, and the chord ends
    nearby, the next trial is the root, and is not tried.

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
        halve = (np.abs(side[busy]) >= _STUBBORN) & (error > _GOOD)
        share = np.where(halve, 0.5, share)
        ends = x[:2, busy]
        root[busy] = ends[0] + (ends[1] - ends[0]) * share
        narrow = np.abs(ends[1] - ends[0]) <= _GOOD * np.abs(ends[1])
        busy = busy[~(narrow | (error <= _GOOD))]
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

    The error is in units of the value, infinite where nothing is known about it; last comes
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
    first = share.argmin(0)
    error = np.abs(f_low * f_high * f_third)
    apart = np.abs(bent - chord) > _CLOSE  # too much bent to trust the order of anything
    error = np.where(np.isnan(bent) | apart | (f_high > _FAR), np.inf, error)
    touches = (f_low == 0.0) | (np.minimum(np.abs(f_low), f_high) <= _GOOD)
    error = np.where(touches & (f_high <= _FAR), 0.0, error)
    each = np.arange(len(first))
    return share[first, each], error[first, each], first
