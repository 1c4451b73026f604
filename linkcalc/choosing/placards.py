"""Placard speeds of combinations: up to where every margin of their runs holds."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.evaluation.axes import flattened
from linkcalc.evaluation.evaluate import prepare
from linkcalc.evaluation.factors import Factors, both, factors
from linkcalc.evaluation.speeds import find_placard
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.study.running import Workers, worked
from linkcalc.study.space import part

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.study.space import Space

    Floats = NDArray[np.float64]

__all__ = ["placard_speeds"]

_AT_ONCE = 16  # combinations: a search over speeds looks at each some thirty times


def placard_speeds(
    space: Space,
    wanted: NDArray[np.bool_],
    runs: Sequence[int],
    *,
    workers: Workers | None = None,
) -> Floats:
    """Return the least placard speed of some runs in any case, for some combinations.

    Parameters
    ----------
    space : Space
        What is combined.
    wanted : ndarray of bool, shape (axis, ...)
        Which combinations.
    runs : sequence of int
        Which runs.
    workers : Workers, optional
        Processes or a cluster; this process alone by default.

    Returns
    -------
    ndarray, shape (axis, ...)
        As a report has it [m/s]; nan where there is none, and for other combinations.
    """
    made = np.full(space.by_group(wanted).shape, np.nan)
    places: list[tuple[Any, ...]] = []

    def tasks() -> Iterator[tuple[Inputs]]:
        for place in space.listed(space.by_group(wanted), _AT_ONCE):
            places.append(place)
            yield (part(space.whole, place),)

    work = partial(
        _placards,
        used=factors(space.aircraft.factors),
        cases=len(space.aircraft.cases),
        runs=list(runs),
    )
    for index, found in worked(work, tasks(), workers or Workers()):
        made[places[index]] = found
    return np.asarray(space.spread(made, 0))


def _placards(inputs: Inputs, *, used: Factors, cases: int, runs: list[int]) -> Floats:
    """Return the least placard speed of every combination of a block."""
    flat = flattened(with_warm_copper(inputs, both(used, 4), prepare(inputs)))
    found = find_placard(flat, used, prepare(flat)).speed
    return np.asarray(found.reshape(-1, cases, found.shape[-1])[..., runs].min(axis=(1, 2)))
