"""The least height from which an aircraft recovers, whatever it meets on the way up from there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Whole = NDArray[np.intp]

__all__ = ["least_height"]

_SCAN = 49
_PARTS = 9
_ROUNDS = 6


def least_height(
    recovers: Callable[[Floats, Whole], Flags], *, floor: Floats, ceiling: Floats
) -> Floats:
    """Least height from which, and from everything up to the ceiling above it, there is recovery.

    Parameters
    ----------
    recovers : callable
        From heights, shape (m,) [m], and the numbers of the aircraft that they belong to,
        shape (m,), to whether each recovers.
    floor, ceiling : ndarray, shape (n,)
        Between which it is sought [m].

    Returns
    -------
    ndarray, shape (n,)
        To a ten-thousandth of the range's part; nan where there is no recovery from the
        ceiling itself [m].

    Notes
    -----
    Where a limit acts by dynamic pressure, an aircraft may recover from a height and not from
    a greater one: in thinner air it becomes faster. So the range is scanned from above, on
    49 heights closer together near the floor, for the greatest that fails; between it and the
    one above the border is found by repeated division. A range of failure that lies between
    two heights of the scan is not seen.

    Examples
    --------
    >>> found = least_height(
    ...     lambda height, which: (height > 30) & ~((50 < height) & (height < 80)),
    ...     floor=np.array([0.0]), ceiling=np.array([200.0]))
    >>> round(float(found[0]), 2)
    80.0
    """
    shares = np.linspace(0.0, 1.0, _SCAN) ** 1.5
    heights = floor + (ceiling - floor) * shares[:, None]
    good = _asked(recovers, heights)
    fails = ~good
    # the greatest that fails; -1 where none does
    last = np.where(fails.any(0), _SCAN - 1 - fails[::-1].argmax(0), -1)
    low = np.take_along_axis(heights, np.maximum(last, 0)[None], 0)[0]
    high = np.take_along_axis(heights, np.clip(last + 1, 0, _SCAN - 1)[None], 0)[0]
    found = np.where(last == _SCAN - 1, np.nan, high)
    sought = np.nonzero((last >= 0) & (last < _SCAN - 1))[0]
    low, high = low[sought], high[sought]
    for _ in range(_ROUNDS if sought.size else 0):
        parts = low + (high - low) * np.linspace(0.0, 1.0, _PARTS + 1)[:, None]
        inner = ~_asked(lambda height, which: recovers(height, sought[which]), parts[1:-1])
        bad = np.concatenate((np.ones((1, len(low)), bool), inner))
        worst = len(bad) - 1 - bad[::-1].argmax(0)
        low, high = (
            np.take_along_axis(parts, worst[None], 0)[0],
            np.take_along_axis(parts, worst[None] + 1, 0)[0],
        )
    found[sought] = high
    return found


def _asked(recovers: Callable[[Floats, Whole], Flags], heights: Floats) -> Flags:
    which = np.broadcast_to(np.arange(heights.shape[1]), heights.shape)
    return recovers(heights.ravel(), which.ravel()).reshape(heights.shape)
