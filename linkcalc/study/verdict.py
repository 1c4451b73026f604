"""The margins on which the verdict stands, of many aircraft at once, and nothing beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.evaluation.axes import leaves
from linkcalc.evaluation.evaluate import burden, evaluate, prepare
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.search import Look
from linkcalc.evaluation.wire_heat import with_warm_copper

if TYPE_CHECKING:
    from linkcalc.evaluation.evaluate import Answer, Burden
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

__all__ = ["LOOK", "asked_of_servos", "look", "same_burden", "verdict"]

LOOK = Look(nodes=61, zooms=8, details=False)
"""As closely as a check looks."""


_GEARS = ("gear_strength", "gear_play")  # they bear, and ask for nothing


def asked_of_servos(inputs: Inputs, used: Factors) -> Burden:
    """Return what surfaces ask of their servos, for `verdict`.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with any axes in front of its cases; all but servos and supply are used.
    used : Factors
        For the verdict, plain numbers.

    Returns
    -------
    Burden
        The same for all aircraft of which `same_burden` holds.
    """
    alone = _alone(used, inputs)
    return burden(inputs, alone, bases=(inputs.basis,), look=LOOK)


def same_burden(one: Inputs, other: Inputs) -> bool:
    """Tell whether surfaces ask the same of servos, for everything behind it is the very same.

    Parameters
    ----------
    one, other : Inputs
        Parts of one space.

    Returns
    -------
    bool
        False where arrays are others, whatever they hold.
    """
    nothing: Any = ()
    pairs = zip(
        *(leaves(each._replace(servos=nothing, supply=nothing)) for each in (one, other)),
        strict=True,
    )
    return all(a is b for (path, a), (_, b) in pairs if path[-1] not in _GEARS)


def _alone(used: Factors, inputs: Inputs) -> Factors:
    """Return factors with a basis axis of one, for the verdict."""
    each = both(used, inputs.cases.speed.ndim + 1)
    return Factors(*(value[:1] for value in each))


def verdict(
    inputs: Inputs,
    used: Factors,
    linkages: Linkages | None = None,
    known: Burden | None = None,
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
    known : Burden, optional
        What `asked_of_servos` makes of the same, where it is at hand.

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
    if known is not None:
        linkages = known.linkages
    linkages = linkages or prepare(inputs)
    inputs = with_warm_copper(inputs, both(used, inputs.cases.speed.ndim + 1), linkages)
    return look(inputs, used, linkages, known), inputs


def look(inputs: Inputs, used: Factors, linkages: Linkages, known: Burden | None = None) -> Answer:
    """Evaluate for the verdict alone, with copper as warm as the inputs have it.

    Parameters
    ----------
    inputs : Inputs
        The aircraft, with any axes in front of its cases.
    used : Factors
        For the verdict, plain numbers.
    linkages : Linkages
        Made from the inputs.
    known : Burden, optional
        What `asked_of_servos` makes of the same, where it is at hand.

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
    return evaluate(looked, _alone(used, inputs), linkages, bases, look=LOOK, known=known)
