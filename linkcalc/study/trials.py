"""Changed aircraft put on trial: each is evaluated once, with all its runs and cases."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.checking import check
from linkcalc.errors import InputError, InputFaults, SolverError
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.mechanism import pushrod
from linkcalc.results import MODES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft
    from linkcalc.study.changes import Change

    Floats = NDArray[np.float64]

__all__ = ["Outcome", "Trials", "margins_that_apply", "mode_margins", "resolution"]


class Outcome(NamedTuple):
    """What an evaluation of a changed aircraft shows.

    Attributes
    ----------
    margins : ndarray, shape (mode, case, run)
        Infinite where the mode does not apply, nan where it cannot be computed.
    rate : ndarray, shape (case, run)
        Least rate of the surface under load [rad/s].
    inputs : Inputs
        What was evaluated.
    """

    margins: Floats
    rate: Floats
    inputs: Inputs


class Trials:
    """Evaluates changed aircraft, each once.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.

    Attributes
    ----------
    aircraft : Aircraft
        The same.
    base : Outcome
        Without any change. Solvers that fail are left out from here on, and what they
        were asked for is nan.

    Raises
    ------
    InputFaults
        The aircraft cannot be evaluated.
    """

    def __init__(self, aircraft: Aircraft) -> None:
        self.aircraft = aircraft
        self._failed: set[str] = set()
        self._known: dict[tuple[str, str, float], Outcome | str] = {}
        try:
            self.base = self._evaluated(aircraft)
        except SolverError as error:
            check(aircraft)  # refuses one that is not installed
            self.base = self._with_what_works(error)

    def working(self, inputs: Inputs) -> Inputs:
        """Leave out of some inputs what has failed.

        Parameters
        ----------
        inputs : Inputs
            Of a changed aircraft.

        Returns
        -------
        Inputs
            Without solvers that have failed: what they were asked for is nan.
        """
        return _without(inputs, self._failed)

    def margins(self, aircraft: Aircraft) -> Floats:
        """Return the margins of a changed aircraft, which is not kept.

        Parameters
        ----------
        aircraft : Aircraft
            The whole of it.

        Returns
        -------
        ndarray, shape (mode, case, run)
            As of `Outcome`; nan where the aircraft's own rules refuse it.

        Raises
        ------
        SolverError
            A solver fails that works without the change.
        """
        try:
            return self._evaluated(aircraft).margins
        except InputFaults:
            return np.full_like(self.base.margins, np.nan)

    def _with_what_works(self, error: SolverError) -> Outcome:
        while error.solver not in self._failed:
            self._failed.add(error.solver)
            try:
                return self._evaluated(self.aircraft)
            except SolverError as another:
                error = another
        raise error

    def _evaluated(self, aircraft: Aircraft) -> Outcome:
        inputs = _without(gather(aircraft).inputs, self._failed)
        stacked = both(factors(aircraft.factors), 3)
        linkages = prepare(inputs)
        if inputs.supply.warming is not None:
            inputs = with_warm_copper(inputs, stacked, linkages)
        answer = evaluate(inputs, stacked, linkages)
        return Outcome(margins_that_apply(answer, inputs), np.maximum(answer.rate[0], 0.0), inputs)

    def outcome(self, change: Change, factor: float) -> Outcome | str:
        """Return what a change brings, or why there can be no such aircraft.

        Parameters
        ----------
        change : Change
            What is changed.
        factor : float
            By how much.

        Returns
        -------
        Outcome or str
            Words where the aircraft's own rules, or a solver, refuse it.
        """
        key = (change.kind, change.place, factor)
        if key not in self._known:
            self._known[key] = self._tried(change, factor)
        return self._known[key]

    def _tried(self, change: Change, factor: float) -> Outcome | str:
        try:
            return self._evaluated(change.at(factor))
        except InputFaults as error:
            return error.faults[0].found
        except InputError as error:
            return error.fault.found
        except SolverError as error:
            return str(error)


def _without(inputs: Inputs, failed: Iterable[str]) -> Inputs:
    """Return the inputs without solvers that have failed: their margins are nan."""
    surfaces, supply = inputs.surfaces, inputs.supply
    left = tuple("" if name in failed else name for name in surfaces.solver)
    source = "" if supply.solver in failed else supply.solver
    return inputs._replace(
        surfaces=surfaces._replace(solver=left), supply=supply._replace(solver=source)
    )


def margins_that_apply(answer: Answer, inputs: Inputs) -> Floats:
    """Return the verdict's margins of an evaluation.

    Parameters
    ----------
    answer : Answer
        What was found out.
    inputs : Inputs
        What was evaluated.

    Returns
    -------
    ndarray, shape (mode, case, run)
        Infinite where a mode does not apply, nan where it cannot be computed.
    """
    made = np.empty((len(MODES), *answer.rate.shape[1:]))
    for place, margin in zip(made, mode_margins(answer, inputs), strict=True):
        place[...] = margin
    return made


def mode_margins(answer: Answer, inputs: Inputs) -> Iterator[Floats]:
    """Return the verdict's margin of one mode after another.

    Parameters
    ----------
    answer : Answer
        What was found out.
    inputs : Inputs
        What was evaluated.

    Yields
    ------
    ndarray, shape (..., case, run)
        As `margins_that_apply` has them; axes in front of the cases that a mode does not depend
        on may have length 1.
    """
    live = inputs.cases.live > 0
    for mode, item in zip(MODES, answer.margins, strict=True):
        asked = (item.required[0] != 0) | (mode in {"torque", "divergence"})
        works = item.applies[0] & asked & live
        yield item.margin[0] if works.all() else np.where(works, item.margin[0], np.inf)


def resolution(inputs: Inputs, run: int) -> float:
    """Return the surface angle per servo angle at neutral.

    Parameters
    ----------
    inputs : Inputs
        Geometry and surfaces are used.
    run : int
        Which; its first surface counts.

    Returns
    -------
    float
        As a magnitude [-].
    """
    first = inputs.surfaces.first[run]
    for item in inputs.chains:
        if item.surface == first:
            return abs(float(item.chain.solve(0.0).slope))
    geometry = {name: value[first] for name, value in inputs.geometry._asdict().items()}
    return abs(float(pushrod.solve(np.float64(0.0), **geometry).slope))
