"""The margins on which the verdict stands, of many aircraft at once, and nothing beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.evaluation.evaluate import begin, evaluate, prepare
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.search import Look
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.study.trials import mode_margins

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["LOOK", "least_margins", "verdict"]

LOOK = Look(nodes=61, zooms=8, details=False)
"""As closely as a check looks."""


def verdict(
    inputs: Inputs, used: Factors, linkages: Linkages | None = None
) -> tuple[Answer, Inputs]:
    """Evaluate for the verdict alone, without the plain evaluation and without details.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with any axes in front of its cases.
    used : Factors
        For the verdict, plain numbers.
    linkages : Linkages, optional
        Made from the inputs, where they are at hand.

    Returns
    -------
    answer : Answer
        With a basis axis of one; `linkcalc.study.trials.margins_that_apply` takes it.
    inputs : Inputs
        What was evaluated: with copper as warm as it gets, where the file asks.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    linkages = linkages or prepare(inputs)
    each = both(used, inputs.cases.speed.ndim + 1)
    inputs = with_warm_copper(inputs, each, linkages)
    quiet = {"seek_latch_up": np.float64(0.0), "seek_details": np.float64(0.0)}
    supply, bases = inputs.supply, (inputs.basis,)
    looked = inputs._replace(supply=supply._replace(fields={**supply.fields, **quiet}))
    start = begin(looked, linkages, LOOK, bases)
    alone = Factors(*(value[:1] for value in each))
    return evaluate(looked, alone, linkages, bases, look=LOOK, start=start), inputs


def least_margins(inputs: Inputs, used: Factors) -> tuple[Floats, Whole]:
    """Return the least margin of the verdict of every variant, and where it is.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with any axes in front of its cases.
    used : Factors
        For the verdict, plain numbers.

    Returns
    -------
    least : ndarray, shape (...)
        Over modes, cases and runs; nan where one of them could not be computed.
    where : ndarray of int, shape (...)
        Counted along (mode, case, run): the first of equal ones.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    answer, inputs = verdict(inputs, used)
    *lead, cases, runs = answer.rate.shape[1:]
    least, where = np.full(lead, np.inf), np.zeros(lead, dtype=np.intp)
    for mode, margin in enumerate(mode_margins(answer, inputs)):
        axes, count = margin.shape[:-2], cases * runs
        rows = np.broadcast_to(margin, (*axes, cases, runs)).reshape(*axes, count)
        lost = np.isnan(rows)
        if lost.any():
            rows = np.where(lost, -np.inf, rows)  # what could not be computed is the least
        first = rows.argmin(-1) if count > 1 else np.zeros(axes, dtype=np.intp)
        lowest = rows.min(-1) if count > 1 else rows[..., 0]
        if np.isposinf(lowest).all():
            continue
        lower = lowest < least
        np.copyto(least, lowest, where=lower)
        np.copyto(where, mode * count + first, where=lower)
    return np.where(np.isneginf(least), np.nan, least), where
