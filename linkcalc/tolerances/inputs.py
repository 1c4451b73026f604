"""Uncertain inputs together: their distributions, and which of them move together.

Correlation is that of a Gaussian copula: the standard normal scores of the inputs are
jointly normal, and the correlation is theirs. That of the values is a little less, for two
uniform inputs (6 / pi) asin(r / 2).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import InputError, told

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from linkcalc.tolerances.distributions import Distribution

    Floats = NDArray[np.float64]

__all__ = ["Group", "UncertainInputs", "correlation_of_values"]

_SLACK = 1e-9  # what rounding may take from a pivot of a correlation matrix


class Group(NamedTuple):
    """Inputs that move together, such as the servos of one batch or all that one ruler measured.

    Attributes
    ----------
    name : str
        What they have in common.
    names : tuple of str
        The inputs, at least two.
    correlation : float
        Of the standard normal scores of every two of them; 1 where one error is in all [-].
    """

    name: str
    names: tuple[str, ...]
    correlation: float = 1.0


class UncertainInputs:
    """Distributions by name, and their correlation.

    Parameters
    ----------
    distributions : mapping of str to Distribution
        At least one.
    groups : iterable of Group, optional
        Which inputs move together; everything else is independent.
    correlation : array_like, shape (input, input), optional
        The whole matrix of the scores instead of groups [-].

    Attributes
    ----------
    names : tuple of str
        In the order of the mapping.
    correlation : ndarray, shape (input, input)
        Of the standard normal scores [-].
    factors : tuple of tuple of int
        Which inputs hang together, directly or through others; they share scores, so their
        parts in a variance cannot be told apart.

    Raises
    ------
    InputError
        No input; an unknown name; two groups that disagree; a matrix that is not symmetric, has
        no ones on its diagonal or is not positive semi-definite.

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Uniform
    >>> two = {"arm": Uniform(12.0, 0.3), "horn": Uniform(10.0, 0.3)}
    >>> ruler = UncertainInputs(two, groups=[Group("one ruler", ("arm", "horn"), 0.5)])
    >>> ruler.correlation.tolist()
    [[1.0, 0.5], [0.5, 1.0]]
    """

    def __init__(
        self,
        distributions: Mapping[str, Distribution],
        *,
        groups: Iterable[Group] = (),
        correlation: Floats | None = None,
    ) -> None:
        if not distributions:
            raise InputError(
                "inputs", told("no uncertain input"), "at least one", "State a tolerance."
            )
        self.names = tuple(distributions)
        self.distributions = tuple(distributions.values())
        groups = tuple(groups)
        if correlation is not None and groups:
            raise InputError(
                "correlation", told("a matrix and groups"), "one of the two", "Leave one out."
            )
        found = self._grouped(groups) if correlation is None else np.array(correlation, dtype=float)
        self.correlation = _checked(found, self.names)
        self._root = _root(self.correlation, self.names)
        self._terms = [
            [(int(other), float(row[other])) for other in np.flatnonzero(row)] for row in self._root
        ]
        self.factors = _connected(self.correlation)

    def __len__(self) -> int:
        return len(self.names)

    def _grouped(self, groups: tuple[Group, ...]) -> Floats:
        made = np.eye(len(self.names))
        known: dict[tuple[int, int], Group] = {}
        for group in groups:
            places = [self._place(group, name) for name in dict.fromkeys(group.names)]
            if len(places) < 2 or not -1 <= group.correlation <= 1:
                raise InputError(
                    f"groups[{group.name!r}]",
                    told(f"{len(places)} inputs with a correlation of {group.correlation:g}"),
                    "two or more inputs, and a correlation from -1 to 1",
                    "Name what moves together.",
                )
            for pair in ((i, j) for i in places for j in places if i < j):
                other = known.setdefault(pair, group)
                if other.correlation != group.correlation:
                    raise InputError(
                        f"groups[{group.name!r}]",
                        told(f"another correlation of the same inputs than {other.name!r} states"),
                        "one correlation for two inputs",
                        "Take the inputs out of one of the groups.",
                    )
                made[pair] = made[pair[::-1]] = group.correlation
        return made

    def _place(self, group: Group, name: str) -> int:
        if name not in self.names:
            raise InputError(
                f"groups[{group.name!r}]",
                name,
                "the name of an uncertain input",
                "Use one of: " + ", ".join(self.names[:8]) + ".",
            )
        return self.names.index(name)

    def values(self, scores: Floats) -> dict[str, Floats]:
        """Return the inputs at independent standard normal scores.

        Parameters
        ----------
        scores : ndarray, shape (input, sample)
            Any [-].

        Returns
        -------
        dict of str to ndarray, shape (sample,)
            By name.

        Notes
        -----
        Sums are taken term by term and not by a matrix product, whose last digit may depend on
        how many samples are asked for at once.
        """
        made = {}
        for name, held, terms in zip(self.names, self.distributions, self._terms, strict=True):
            together = np.zeros(scores.shape[1])
            for place, part in terms:
                together = together + part * scores[place]
            made[name] = held.at_score(together)
        return made

    def middles(self) -> Floats:
        """Return the stated values.

        Returns
        -------
        ndarray, shape (input,)
            In the order of the names.
        """
        return np.array([held.middle for held in self.distributions])

    def standard_deviations(self) -> Floats:
        """Return the standard uncertainties.

        Returns
        -------
        ndarray, shape (input,)
            In the order of the names.
        """
        return np.array([held.standard_deviation for held in self.distributions])

    def correlation_of_values(self) -> Floats:
        """Return the correlation of the values themselves, as the law of propagation needs it.

        Returns
        -------
        ndarray, shape (input, input)
            Linear (Pearson's) correlation [-].
        """
        made = self.correlation.copy()
        for i, j in zip(*np.nonzero(np.triu(self.correlation, 1)), strict=True):
            pair = self.distributions[i], self.distributions[j]
            made[i, j] = made[j, i] = correlation_of_values(*pair, self.correlation[i, j])
        return made


def correlation_of_values(first: Distribution, second: Distribution, correlation: float) -> float:
    """Return the correlation of two values whose normal scores have a known one.

    Parameters
    ----------
    first, second : Distribution
        Of the two values.
    correlation : float
        Of their scores, from -1 to 1 [-].

    Returns
    -------
    float
        Linear (Pearson's) correlation, by the trapezoidal rule in both scores [-].

    Examples
    --------
    >>> from linkcalc.tolerances.distributions import Uniform
    >>> one = Uniform(0.0, 1.0)
    >>> round(correlation_of_values(one, one, 0.5), 6), round(6 / math.pi * math.asin(0.25), 6)
    (0.482584, 0.482584)
    """
    score = np.arange(-136, 137) / 16.0
    weight = np.exp(-0.5 * score**2)
    weight /= weight.sum()
    other = correlation * score[:, None] + math.sqrt(1.0 - correlation**2) * score
    one, two = first.at_score(score), second.at_score(other)
    one, two = one - first.mean, two - second.mean
    covariance = float(weight @ (one * (two @ weight)))
    return covariance / (first.standard_deviation * second.standard_deviation)


def _checked(found: Floats, names: tuple[str, ...]) -> Floats:
    size = len(names)
    good = found.shape == (size, size) and bool(np.isfinite(found).all())
    if not (good and np.array_equal(found, found.T) and (np.diagonal(found) == 1).all()):
        raise InputError(
            "correlation",
            told(f"an array of shape {found.shape}"),
            f"a symmetric matrix of {size} by {size} with ones on its diagonal",
            "Give the correlation of every two inputs, both ways round.",
        )
    return found


def _root(correlation: Floats, names: tuple[str, ...]) -> Floats:
    """Return the lower triangular root; a pivot of zero (full correlation) gets a column of zeros."""
    size = len(names)
    root, left = np.zeros((size, size)), correlation.copy()
    for place in range(size):
        pivot, below = left[place, place], left[place + 1 :, place]
        if pivot < -_SLACK or (pivot <= _SLACK and (np.abs(below) > math.sqrt(_SLACK)).any()):
            raise InputError(
                "correlation",
                told(f"correlations that contradict each other, seen at {names[place]!r}"),
                "a positive semi-definite matrix",
                "No three things can all be opposite to each other: state weaker correlations.",
            )
        if pivot > _SLACK:
            column = left[place:, place] / math.sqrt(pivot)
            root[place:, place] = column
            left[place:, place:] -= column[:, None] * column
    return root


def _connected(correlation: Floats) -> tuple[tuple[int, ...], ...]:
    """Return the sets of inputs that hang together."""
    waiting, found = list(range(len(correlation))), []
    while waiting:
        together, edge = set(), {waiting[0]}
        while edge:
            together |= edge
            edge = {int(j) for i in edge for j in np.flatnonzero(correlation[i])} - together
        found.append(tuple(sorted(together)))
        waiting = [place for place in waiting if place not in together]
    return tuple(found)
