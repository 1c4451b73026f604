"""Ordinary differential equations of many start states at once, a step of its own for each."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]
    Flags = NDArray[np.bool_]
    Rate = Callable[[Floats], Floats]

__all__ = ["End", "Paths", "march"]

# The pair of Dormand and Prince: stages, fifth-order weights, and their difference from the
# embedded fourth-order ones.
_STAGES = (
    (1 / 5,),
    (3 / 40, 9 / 40),
    (44 / 45, -56 / 15, 32 / 9),
    (19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729),
    (9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656),
)
_WEIGHTS = (35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84)
_ERROR = (71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40)
_ORDER = 5

# Control of the step as in E. Hairer's code DOPRI5 and in scipy's RK45.
_SAFETY, _LEAST_FACTOR, _GREATEST_FACTOR = 0.9, 0.2, 10.0

_LANDED = 1e-12  # of a gap's own scale
_MOST_TRIALS = 20_000
_LEAST_STEP = 1e-13  # of the longest one: below, the equations have no answer


class End(NamedTuple):
    """Where a path ends: when a row of its state has come to a level.

    Attributes
    ----------
    row : int
        Of the state.
    sign : float
        1 where the row falls to the level, -1 where it rises to it.
    level : ndarray, shape (n,) or float
        In the unit of the row.
    """

    row: int
    sign: float
    level: Floats | float


class Paths(NamedTuple):
    """What comes of a march.

    Attributes
    ----------
    states : ndarray, shape (step, row, n)
        The start and the end of every step; nan after the last of each path.
    rates : ndarray, shape (step, row, n)
        There.
    last : ndarray, shape (row, n)
        Where each ended.
    ended_by : ndarray of int, shape (n,)
        Which of the ends it was; -1 where the equations had no answer, or none within twenty
        thousand trial steps.
    """

    states: Floats
    rates: Floats
    last: Floats
    ended_by: Whole


def march(
    rate_of: Callable[[Whole], Rate],
    start: Floats,
    ends: Sequence[End],
    *,
    relative: float,
    absolute: Floats,
    longest: float,
) -> Paths:
    r"""Integrate dy/dx = f(y) from many start states, each until it comes to one of its ends.

    Parameters
    ----------
    rate_of : callable
        From the numbers of some paths, shape (m,), to the function that turns their states,
        shape (row, m), into rates of the same shape. nan says that there is none.
    start : ndarray, shape (row, n)
        Start states.
    ends : sequence of End
        At least one that is certain to come. A path that starts at or beyond one ends there.
    relative : float
        Tolerance of the error of a step, relative to the state, as `rtol` of scipy's solvers.
    absolute : ndarray, shape (row,)
        To which this is added, in the unit of each row.
    longest : float
        Longest step, in the unit of x.

    Returns
    -------
    Paths
        The step that comes to an end is shortened until it lands there, to 1e-12 of the level
        (or of the unit, where the level is smaller).

    Notes
    -----
    The embedded pair of Dormand and Prince [1]_, with the root mean square of a state's rows as
    the norm of its error, which is what ``scipy.integrate.solve_ivp`` does by default with one
    state. Stacked into one system, all states would share one step, and wherever one of them
    meets a kink (a limit that begins to act, a point of a table) all would crawl.

    A step in which a row dips beyond its level and comes back is found too: where its rate
    changes sign within the step, the cubic through both ends tells how deep it dips, and the
    step is shortened to the bottom.

    References
    ----------
    .. [1] J. R. Dormand and P. J. Prince, "A family of embedded Runge-Kutta formulae", Journal
       of Computational and Applied Mathematics 6, 1980, pp. 19-26.

    Examples
    --------
    >>> fall = lambda which: lambda y: np.stack((np.full(y.shape[1], -9.8), y[0]))
    >>> start = np.array([[0.0, 0.0], [4.9, 19.6]])  # speed and height
    >>> down = march(fall, start, [End(1, 1.0, 0.0)], relative=1e-9, absolute=np.full(2, 1e-9),
    ...     longest=1.0)
    >>> down.last[0].round(6).tolist()
    [-9.8, -19.6]
    """
    walk = _Walk(rate_of, start, ends, absolute=absolute, relative=relative, longest=longest)
    for _ in range(_MOST_TRIALS):
        if not walk.which.size:
            break
        walk.step()
    return Paths(*walk.history(), walk.last, walk.ended_by)


class _Walk:
    """The paths that have not ended yet, and the bracket of the step in which each does."""

    def __init__(
        self,
        rate_of: Callable[[Whole], Rate],
        start: Floats,
        ends: Sequence[End],
        *,
        absolute: Floats,
        relative: float,
        longest: float,
    ) -> None:
        count = start.shape[1]
        self.rate_of, self.relative, self.longest = rate_of, relative, longest
        self.absolute = absolute[:, None]
        self.rows = np.array([end.row for end in ends])
        self.signs = np.array([end.sign for end in ends])[:, None]
        self.levels = np.stack([np.broadcast_to(end.level, (count,)) for end in ends])
        self.taken = np.ones(count, dtype=np.intp)
        self.last = np.array(start)
        self.ended_by = np.full(count, -1)
        self.which = np.arange(count)
        self.state = np.array(start)
        self.rate = rate_of(self.which)
        self.slope = self.rate(self.state)
        self.kept = np.stack((self.state, self.slope))[None]
        self.size = np.full(count, 1e-3 * longest)
        self.growth = np.full(count, _GREATEST_FACTOR)
        self.low, self.high = np.zeros(count), np.full(count, np.inf)
        self.low_gap, self.high_gap = np.full(count, np.nan), np.full(count, np.nan)
        self.was_over = np.zeros(count, dtype=bool)
        gap = self.gaps(self.state)
        self.leave(np.asarray(np.isnan(self.slope).any(0) | (gap <= 0).any(0)), gap)

    def gaps(self, state: Floats) -> Floats:
        """How far each end still is, shape (end, n), negative beyond it; relative to its level."""
        levels = self.levels[:, self.which]
        return np.asarray(
            self.signs * (state[self.rows] - levels) / np.maximum(np.abs(levels), 1.0)
        )

    def step(self) -> None:
        """Try a step of every path; those whose step is good go on, the others try another."""
        size = self.size
        tried, slope, error = self.try_step(size)
        good = error <= 1.0  # not where it is nan
        before, after = self.gaps(self.state), self.gaps(tried)
        nearest = after.min(0)
        dip = self.dip(size, before, after, slope)
        over = good & (nearest < -_LANDED)
        inside = good & ~over & (dip < size)
        landed = good & (np.abs(nearest) <= _LANDED)
        # An end that has been passed once is approached until it is hit; nothing else will do.
        below = good & ~over & ~inside & ~landed & np.isfinite(self.high)
        accepted = good & ~over & ~inside & ~below
        with np.errstate(divide="ignore"):
            factor = _SAFETY * np.maximum(error, 1e-10) ** (-1 / _ORDER)
        factor = np.where(np.isnan(factor), _LEAST_FACTOR, factor)
        limit = np.where(good, self.growth, 1.0)
        following = np.minimum(size * np.clip(factor, _LEAST_FACTOR, limit), self.longest)
        self.growth = np.where(good, _GREATEST_FACTOR, 1.0)
        self.bracket(over, below, before, nearest)
        # A step of the search that is not good itself (a kink lies in it) ends the search; the
        # path goes on with the shorter one.
        self.low, self.high = np.where(good, self.low, 0.0), np.where(good, self.high, np.inf)
        sought = over | below
        self.size = np.where(sought, self.between(), np.where(inside, dip, following))
        # A bracket as narrow as the arithmetic allows is as good as a hit.
        narrow = sought & ~(self.high - self.low > 1e-15 * self.longest)
        accepted |= narrow
        lost = (following < _LEAST_STEP * self.longest) & ~good
        self.accept(accepted, tried, slope)
        self.leave(landed | narrow | lost, after)

    def try_step(self, size: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the state after a step, the rate there and the norm of the error over tolerance."""
        slopes = [self.slope]
        for stage in _STAGES:
            slopes.append(self.rate(self.state + size * _weighted(stage, slopes)))
        tried = self.state + size * _weighted(_WEIGHTS, slopes)
        slopes.append(self.rate(tried))
        scale = self.absolute + self.relative * np.maximum(np.abs(self.state), np.abs(tried))
        error = size * _weighted(_ERROR, slopes) / scale
        return tried, slopes[-1], np.sqrt(np.mean(error**2, axis=0))

    def dip(self, size: Floats, before: Floats, after: Floats, slope: Floats) -> Floats:
        """Return where within the step a row dips beyond its level, or the size of the step."""
        scale = self.signs / np.maximum(np.abs(self.levels[:, self.which]), 1.0)
        fall, rise = scale * self.slope[self.rows] * size, scale * slope[self.rows] * size
        turns = (fall < 0) & (rise > 0) & (before > 0) & (after > 0)
        if not turns.any():
            return size
        # The cubic through both ends: a s^3 + b s^2 + fall s + before, 0 <= s <= 1.
        a = 2 * (before - after) + fall + rise
        b = 3 * (after - before) - 2 * fall - rise
        root = np.sqrt(np.maximum(b * b - 3 * a * fall, 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            place = np.where(b + root != 0, -fall / (b + root), 1.0)
            place = np.where((place > 0) & (place < 1), place, 1.0)
            depth = ((a * place + b) * place + fall) * place + before
        return np.asarray(size * np.where(turns & (depth < 0), place, 1.0).min(0))

    def bracket(self, over: Flags, below: Flags, before: Floats, nearest: Floats) -> None:
        """Note on which side of the end a trial came out, with Illinois's halving."""
        first = over & ~np.isfinite(self.high)
        self.low_gap = np.where(first, before.min(0), self.low_gap)
        again = over & ~first
        self.low_gap = np.where(again & self.was_over, 0.5 * self.low_gap, self.low_gap)
        self.high_gap = np.where(below & ~self.was_over, 0.5 * self.high_gap, self.high_gap)
        self.high, self.high_gap = (
            np.where(over, self.size, self.high),
            np.where(over, nearest, self.high_gap),
        )
        self.low, self.low_gap = (
            np.where(below, self.size, self.low),
            np.where(below, nearest, self.low_gap),
        )
        self.was_over = over | (self.was_over & ~below)

    def between(self) -> Floats:
        """Where the straight line through both sides of the bracket meets the end."""
        with np.errstate(invalid="ignore"):
            share = self.low_gap / (self.low_gap - self.high_gap)
            return np.asarray(self.low + share * (self.high - self.low))

    def accept(self, at: Flags, tried: Floats, slope: Floats) -> None:
        """Go on to the states that were tried, and keep them."""
        if not at.any():
            return
        self.state = np.where(at, tried, self.state)
        self.slope = np.where(at, slope, self.slope)
        self.low, self.high = np.where(at, 0.0, self.low), np.where(at, np.inf, self.high)
        paths = self.which[at]
        if self.taken[paths].max() >= len(self.kept):
            more = np.full((len(self.kept), *self.kept.shape[1:]), np.nan)
            self.kept = np.concatenate((self.kept, more))
        self.kept[self.taken[paths], 0, :, paths] = tried[:, at].T
        self.kept[self.taken[paths], 1, :, paths] = slope[:, at].T
        self.taken[paths] += 1

    def leave(self, at: Flags, gaps: Floats) -> None:
        """Let paths end, and go on with the others alone."""
        if not at.any():
            return
        paths = self.which[at]
        self.last[:, paths] = self.state[:, at]
        arrived = gaps[:, at].min(0) <= 1e-6
        self.ended_by[paths] = np.where(arrived, gaps[:, at].argmin(0), -1)
        on = ~at
        self.which = self.which[on]
        self.state, self.slope = self.state[:, on], self.slope[:, on]
        for name in ("size", "growth", "low", "high", "low_gap", "high_gap", "was_over"):
            setattr(self, name, getattr(self, name)[on])
        if self.which.size:
            self.rate = self.rate_of(self.which)

    def history(self) -> tuple[Floats, Floats]:
        """Return the states and rates that were kept, as far as the longest path goes."""
        kept = self.kept[: self.taken.max()]
        return kept[:, 0], kept[:, 1]


def _weighted(weights: Sequence[float], slopes: Sequence[Floats]) -> Floats:
    """Sum of slopes, each with its weight."""
    total = weights[0] * slopes[0]
    for weight, slope in zip(weights[1:], slopes[1:], strict=False):
        if weight:
            total = total + weight * slope
    return np.asarray(total)
