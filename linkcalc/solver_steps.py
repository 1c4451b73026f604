"""What a solver may tell of its way: steps from theory to a surface, and ranges that it left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import SolverError
from linkcalc.guard import ANY_FAULT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = float | NDArray[np.float64]

__all__ = ["Limit", "Step", "call_steps"]


class Limit(NamedTuple):
    """A range that a step has, and where it was asked: outside, the value at the edge counts.

    Attributes
    ----------
    name : str
        Of the quantity, in words, with its unit if it has one.
    value : float or array, shape (...)
        Where the step was asked.
    least, most : float
        Ends of the range.
    """

    name: str
    value: Floats
    least: float
    most: float

    @property
    def left(self) -> Any:
        """Whether the value lies outside, False for nan, shape (...)."""
        return (np.asarray(self.value) < self.least) | (np.asarray(self.value) > self.most)


class Step(NamedTuple):
    """One step of a solver from theory to a surface in air.

    Attributes
    ----------
    slope : str
        Which coefficient it leads to: ``"C_h_alpha"``, ``"C_h_delta"``, or another that is named.
    name : str
        What is counted.
    before, after : float or array, shape (...)
        The coefficient before and after, in `unit`.
    factor : float or array, shape (...)
        After over before [1].
    source : str
        Where the factor is from.
    limits : tuple of Limit
        Ranges of the step; where one is left its edge counts, and the report says so.
    remaining : float, array or None
        Error that is known to remain in `after`, either way, in `unit`; None where nobody knows.
    unit : str
        Of the coefficient.

    Examples
    --------
    >>> chart = Limit("thickness ratio", 0.2, 0.0, 0.15)
    >>> bool(Step("C_h_delta", "thickness", -1.0, 0.7, -0.7, "a chart", (chart,)).beyond)
    True
    """

    slope: str
    name: str
    before: Floats
    factor: Floats
    after: Floats
    source: str
    limits: tuple[Limit, ...] = ()
    remaining: Floats | None = None
    unit: str = "1/rad"

    @property
    def beyond(self) -> Any:
        """Whether any range is left, shape (...)."""
        made: Any = np.zeros(np.shape(self.after), dtype=np.bool_)
        for limit in self.limits:
            made = made | limit.left
        return made


def call_steps(solver: Any, offered: Mapping[str, Any]) -> tuple[Step, ...]:
    """Ask a solver for its steps, and check what it tells.

    Parameters
    ----------
    solver : HingeMomentSolver
        The solver. One without a method ``steps`` has none to tell.
    offered : mapping of str to ndarray
        At least its declared fields but the deflection, in SI, broadcasting together; of its
        optional ones those that there are.

    Returns
    -------
    tuple of Step
        Every number a float64 array of the common shape of what was offered to it.

    Raises
    ------
    SolverError
        It raised, or told something that is no step.
    """
    tell = getattr(solver, "steps", None)
    if tell is None:
        return ()
    names = (*solver.fields, *getattr(solver, "optional", ()))
    given = {name: offered[name] for name in names if name in offered}
    shape = np.broadcast_shapes(*(np.shape(value) for value in given.values()))
    try:
        return tuple(_spread(step, shape) for step in tell(given))
    except ANY_FAULT as error:
        reason = f"cannot tell its steps: {type(error).__name__}: {error}"
        raise SolverError(
            f"The solver {solver.name!r} {reason}. Tell its authors, or use another solver.",
            solver.name,
        ) from error


def _spread(step: Step, shape: tuple[int, ...]) -> Step:
    """Return a step with arrays of one shape, its words as words."""

    def spread(value: Any) -> NDArray[np.float64]:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), shape)

    return Step(
        str(step.slope),
        str(step.name),
        spread(step.before),
        spread(step.factor),
        spread(step.after),
        str(step.source),
        tuple(
            Limit(str(each.name), spread(each.value), float(each.least), float(each.most))
            for each in step.limits
        ),
        None if step.remaining is None else spread(step.remaining),
        str(step.unit),
    )
