"""Margins that combinations keep with a stated confidence, given the tolerances of what was measured."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError
from linkcalc.study.running import Workers, worked
from linkcalc.study.samples import Together
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.points import Points

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.model import Aircraft
    from linkcalc.study.space import Space

    Floats = NDArray[np.float64]

__all__ = ["SAMPLES", "refuse_confidence", "sure_margin", "sure_margins"]

SAMPLES = 512
"""Samples of every combination: at a confidence of 95 % some 25 of them lie below the answer."""

LEAST_CONFIDENCE, MOST_CONFIDENCE = 0.5, 0.99
"""With so many samples there are too few beyond."""


def refuse_confidence(confidence: float | None) -> None:
    """Refuse a confidence that so many samples cannot tell.

    Parameters
    ----------
    confidence : float or None
        None for none.

    Raises
    ------
    InputError
        It is not from 0.5 to 0.99.
    """
    if confidence is None or LEAST_CONFIDENCE <= confidence <= MOST_CONFIDENCE:
        return
    raise InputError(
        "confidence",
        f"{confidence:g}",
        f"a share from {LEAST_CONFIDENCE:g} to {MOST_CONFIDENCE:g}, such as 0.95",
        "Give another one.",
    )


def sure_margin(aircraft: Aircraft, runs: Sequence[int], confidence: float) -> float:
    """Return the least margin of some runs that is reached with a stated confidence.

    Parameters
    ----------
    aircraft : Aircraft
        With its tolerances, common ones where it states none and does not turn them off.
    runs : sequence of int
        Which runs.
    confidence : float
        Share of samples in which the least margin of these runs is at least the answer [-].

    Returns
    -------
    float
        nan if it cannot be computed in more samples than may lie below; the same whenever it is
        asked, as the samples are.

    Raises
    ------
    InputFaults
        Nothing about the aircraft is uncertain.
    """
    uncertain = UncertainAircraft(aircraft)
    evaluator = Together(uncertain)
    names = [aircraft.runs[index].name for index in runs]
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, SAMPLES))
    found = evaluator(values)
    mine = [found[" / ".join(key)] for key in evaluator.keys if key[0] in names]
    least = np.min(mine, axis=0)
    ordered = np.sort(np.where(np.isnan(least), -np.inf, least))  # what is unknown counts as short
    place = int(np.floor((1.0 - confidence) * SAMPLES))
    return float(ordered[place]) if np.isfinite(ordered[place]) else np.nan


def sure_margins(
    space: Space,
    wanted: NDArray[np.bool_],
    runs: Sequence[int],
    confidence: float,
    *,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Floats:
    """Return what `sure_margin` finds of some combinations.

    Parameters
    ----------
    space : Space
        What is combined.
    wanted : ndarray of bool, shape (axis, ...)
        Which combinations.
    runs : sequence of int
        Which runs.
    confidence : float
        As `sure_margin` takes it.
    workers : Workers, optional
        Processes or a cluster; this process alone by default. They change no digit.
    progress : callable, optional
        Is told how many are done, and of how many.

    Returns
    -------
    ndarray, shape (axis, ...)
        nan for other combinations.

    Raises
    ------
    InputFaults
        Nothing about the aircraft is uncertain.
    """
    made = np.full(wanted.shape, np.nan)
    places = np.argwhere(wanted).tolist()

    def tasks() -> Iterator[tuple[Aircraft]]:
        for place in places:
            yield (space.described(place),)

    work = partial(sure_margin, runs=list(runs), confidence=confidence)
    for done, (index, found) in enumerate(worked(work, tasks(), workers or Workers()), start=1):
        made[tuple(places[index])] = found
        if progress:
            progress(done, len(places))
    return made
