"""Points to sample at: scrambled Sobol sequences in replicates, reproducible to the bit.

Every replicate is a Sobol sequence with a random linear scramble and a random digital shift
of its own (scipy.stats.qmc). The points of one replicate fill the space evenly and are not independent;
replicates are, so the spread of what they find tells how sure it is (Owen, "Monte Carlo
theory, methods and examples", chapter 17 on randomised quasi-Monte Carlo, from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["KINDS", "Points"]

KINDS = ("sobol", "random")
"""Evenly spread points, or independent ones for which a count is exactly binomial."""

_BITS = 32
MOST_DIMENSIONS = 4096


class Points:
    """Standard normal scores of one replicate, any stretch of them.

    Parameters
    ----------
    dimensions : int
        How many scores make a point.
    seed : int
        Not negative; the same seed gives the same digits.
    replicate : int
        Each is independent of the others.
    kind : str
        One of `KINDS`.

    Examples
    --------
    >>> points = Points(3, seed=1)
    >>> points.scores(0, 8).shape
    (3, 8)
    >>> bool((points.scores(5, 8) == points.scores(0, 8)[:, 5:]).all())
    True
    """

    def __init__(
        self, dimensions: int, *, seed: int = 1, replicate: int = 0, kind: str = "sobol"
    ) -> None:
        if not 1 <= dimensions <= MOST_DIMENSIONS:
            raise InputError(
                "dimensions", dimensions, f"1 to {MOST_DIMENSIONS} of them", "Leave some out."
            )
        if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
            raise InputError(
                "seed",
                seed,
                "a whole number of at least 0, such as 1",
                "Give a number, or leave it out.",
            )
        if kind not in KINDS:
            raise InputError("points", kind, "'sobol' or 'random'", "Choose one of these words.")
        self.dimensions, self.kind = dimensions, kind
        self._entropy = np.random.SeedSequence((seed, replicate))
        self._sobol: Any = None

    def scores(self, start: int, stop: int) -> Floats:
        """Return the scores of some points.

        Parameters
        ----------
        start, stop : int
            The first, and the first that is not wanted any more.

        Returns
        -------
        ndarray, shape (dimension, sample)
            Standard normal, never infinite [-].
        """
        from scipy.special import ndtri  # noqa: PLC0415 - loaded by whoever samples

        evenly = self._even if self.kind == "sobol" else self._random
        made: Floats = ndtri(np.ascontiguousarray(evenly(start, stop).T) + 2.0 ** -(_BITS + 1))
        return made

    def _even(self, start: int, stop: int) -> Floats:
        from scipy.stats import qmc  # noqa: PLC0415 - loaded by whoever samples

        if self._sobol is None:
            generator = np.random.default_rng(self._entropy)
            self._sobol = qmc.Sobol(self.dimensions, scramble=True, bits=_BITS, rng=generator)
        if self._sobol.num_generated > start:
            self._sobol.reset()
        if self._sobol.num_generated < start:
            self._sobol.fast_forward(start - self._sobol.num_generated)
        if (
            start == 0 and stop > 1
        ):  # the first point by itself: scipy warns of odd counts there only
            return np.concatenate([self._sobol.random(1), self._sobol.random(stop - 1)])
        made: Floats = self._sobol.random(stop - start)
        return made

    def _random(self, start: int, stop: int) -> Floats:
        """Return independent points on the same grid as the even ones."""
        bits = np.random.PCG64(self._entropy)
        bits.advance(start * self.dimensions)
        drawn = np.random.Generator(bits).random((stop - start, self.dimensions))
        made: Floats = np.floor(drawn * 2.0**_BITS) / 2.0**_BITS
        return made
