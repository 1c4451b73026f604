"""The margins on which the verdict stands, of many aircraft at once, and nothing beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.evaluation.evaluate import begin, evaluate, prepare
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.search import Look
from linkcalc.evaluation.wire_heat import with_warm_copper

if TYPE_CHECKING:
    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

__all__ = ["LOOK", "look", "verdict"]

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
    inputs = with_warm_copper(inputs, both(used, inputs.cases.speed.ndim + 1), linkages)
    return look(inputs, used, linkages), inputs


def look(inputs: Inputs, used: Factors, linkages: Linkages) -> Answer:
    """Evaluate for the verdict alone, with copper as warm as the inputs have it.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with any axes in front of its cases.
    used : Factors
        For the verdict, plain numbers.
    linkages : Linkages
        Made from the inputs.

    Returns
    -------
    Answer
        As `verdict` has it.

    Raises
    ------
    SolverError
        A solver is missing, broken, or returned what it may not.
    """
    quiet = {"seek_latch_up": np.float64(0.0), "seek_details": np.float64(0.0)}
    supply, bases = inputs.supply, (inputs.basis,)
    looked = inputs._replace(supply=supply._replace(fields={**supply.fields, **quiet}))
    start = begin(looked, linkages, LOOK, bases)
    alone = Factors(*(value[:1] for value in both(used, inputs.cases.speed.ndim + 1)))
    return evaluate(looked, alone, linkages, bases, look=LOOK, start=start)
