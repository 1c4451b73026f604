"""How sure the margins of an aircraft are."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.checking import check
from linkcalc.errors import InputError, InputFaults, SolverError
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.results import MODES
from linkcalc.study.trials import margins_that_apply
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.advice import advice, shares, swings
from linkcalc.tolerances.driver import OutputStudy, study_tolerance

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from linkcalc.study.uncertain import UncertainQuantity
    from linkcalc.tolerances.advice import Swing
    from linkcalc.tolerances.inputs import UncertainInputs

    Floats = NDArray[np.float64]

__all__ = ["ANY", "OneByOne", "ToleranceReport", "margin_swings", "tolerance"]

ANY = "any margin of the aircraft"
"""The output that is the least of all margins."""

PLACARD = "placard speed"
"""What stands for the mode in the name of the output that is a placard speed [m/s]."""


class ToleranceReport(NamedTuple):
    """How sure the margins of an aircraft are.

    Attributes
    ----------
    aircraft : str
        Its name.
    margins : dict of (str, str, str) to OutputStudy
        By run, case and mode: what applies at the stated values.
    whole : OutputStudy
        The least of them all in each sample.
    placard_speeds : dict of (str, str) to OutputStudy
        By run and case [m/s], where they were asked for.
    quantities : tuple of UncertainQuantity
        What was varied.
    inputs : UncertainInputs
        The same, as distributions; what moves together.
    advice : tuple of str
        Which measurement to improve first.
    notes : tuple of str
        Default tolerances that stood in, what was cut off, and refused samples.
    number : int
        Samples.
    reached, interrupted : bool
        Whether every chance is as sure as was wanted, and whether it was stopped before.
    seed : int
        With which the same digits come again.
    """

    aircraft: str
    margins: dict[tuple[str, str, str], OutputStudy]
    whole: OutputStudy
    placard_speeds: dict[tuple[str, str], OutputStudy]
    quantities: tuple[UncertainQuantity, ...]
    inputs: UncertainInputs
    advice: tuple[str, ...]
    notes: tuple[str, ...]
    number: int
    reached: bool
    interrupted: bool
    seed: int

    def shares(self, run: str, case: str, mode: str) -> list[tuple[tuple[str, ...], float]]:
        """Return which share of a margin's variance comes from what, by the law of propagation.

        Parameters
        ----------
        run, case, mode : str
            A key of `margins`.

        Returns
        -------
        list of (tuple of str, float)
            The places that move together, and their share, the greatest first [-].
        """
        found = shares(self.margins[run, case, mode].local, self.inputs)
        named = [tuple(self.inputs.names[k] for k in factor) for factor in self.inputs.factors]
        return sorted(zip(named, found.tolist(), strict=True), key=lambda pair: -pair[1])


class OneByOne:
    """Evaluates samples of an aircraft, each put into it and evaluated by itself.

    Slow and exact: every sample takes the way of a check. What takes its place has to answer
    as it does: from arrays by place to arrays by output, nan for what cannot be computed.

    Parameters
    ----------
    uncertain : UncertainAircraft
        What is varied.
    speeds : bool
        Whether placard speeds are sought too; it takes some three times as long.

    Attributes
    ----------
    refused : dict of str to int
        Why samples could not be evaluated, and how many.
    """

    def __init__(self, uncertain: UncertainAircraft, *, speeds: bool = False) -> None:
        self.uncertain, self.speeds = uncertain, speeds
        self.refused: dict[str, int] = {}
        aircraft = uncertain.aircraft
        nominal = self._one(aircraft)
        runs, cases = ([each.name for each in many] for many in (aircraft.runs, aircraft.cases))
        self.keys = [
            (run, case, mode)
            for r, run in enumerate(runs)
            for c, case in enumerate(cases)
            for m, mode in enumerate(MODES)
            if not np.isposinf(nominal[0][m, c, r])
        ]
        self._kept = ~np.isposinf(nominal[0]).transpose(2, 1, 0)
        self.speed_keys = [(run, case) for run in runs for case in cases] if speeds else []

    def __call__(self, values: Mapping[str, Floats]) -> dict[str, Floats]:
        """Evaluate samples.

        Parameters
        ----------
        values : mapping of str to ndarray, shape (sample,)
            By place, in SI.

        Returns
        -------
        dict of str to ndarray, shape (sample,)
            Margins by ``"run / case / mode"``, their least, and placard speeds.
        """
        number = len(next(iter(values.values())))
        margins = np.full((len(self.keys), number), np.nan)
        speeds = np.full((len(self.speed_keys), number), np.nan)
        for sample in range(number):
            try:
                made = self.uncertain.at({name: float(at[sample]) for name, at in values.items()})
                found, placard = self._one(made)
            except (InputError, InputFaults, SolverError) as error:
                words = str(error)[:200]
                self.refused[words] = self.refused.get(words, 0) + 1
                continue
            margins[:, sample] = found.transpose(2, 1, 0)[self._kept]
            speeds[:, sample] = placard.T.ravel() if self.speeds else 0.0
        made_of = {" / ".join(key): row for key, row in zip(self.keys, margins, strict=True)}
        placards = {
            " / ".join((*key, PLACARD)): row
            for key, row in zip(self.speed_keys, speeds, strict=True)
        }
        return {**made_of, **placards, ANY: margins.min(axis=0)}

    def _one(self, aircraft: Aircraft) -> tuple[Floats, Floats]:
        """Return margins (mode, case, run) and placard speeds (case, run)."""
        inputs, used = gather(aircraft).inputs, factors(aircraft.factors)
        linkages = prepare(inputs)
        margins = margins_that_apply(evaluate(inputs, both(used, 3), linkages), inputs)
        if not self.speeds:
            return margins, np.zeros(margins.shape[1:])
        placard = find_speeds(inputs, used, linkages).placard
        return margins, np.where(placard.at_zero, placard.speed, 0.0)


def tolerance(
    aircraft: Aircraft | str | os.PathLike[str],
    *,
    precision: float = 0.02,
    confidence: float = 0.95,
    samples: int = 1024,
    speeds: bool = False,
    defaults: bool | None = None,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> ToleranceReport:
    """Tell how sure the margins of an aircraft are, given the tolerances of what was measured.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    precision : float
        Greatest half width of the interval of each chance of a shortfall [-].
    confidence : float
        Of every interval [-].
    samples : int
        At most, at least 64.
    speeds : bool
        Whether placard speeds are sought in each sample; it takes some three times as long.
    defaults : bool, optional
        Whether common tolerances stand in where none is stated; left out, what the aircraft says.
    seed : int
        The same seed gives the same digits.
    progress : callable, optional
        Told how many samples are done, and how many there may be.

    Returns
    -------
    ToleranceReport
        The distribution of every margin, chances, sensitivities and advice.

    Raises
    ------
    InputFaults
        The description cannot be used, or nothing about it is uncertain.
    KeyboardInterrupt
        It was stopped before there was anything to keep; later, what is done is returned.

    Notes
    -----
    Safety factors stay as they are: the chance is that of a margin below zero, factors included.
    Common tolerances are common practice without a source. Errors of kinds that have no
    tolerance, such as the method for the air load, are not in the answer.

    Examples
    --------
    >>> import linkcalc
    >>> found = linkcalc.tolerance("examples/sandpiper_rewired.toml", samples=64)
    >>> found.number
    64
    """
    described = aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft)
    file = "" if isinstance(aircraft, Aircraft) else str(aircraft)
    try:
        check(described)  # refuses what cannot be used, with all its faults
        uncertain = UncertainAircraft(described, defaults=defaults)
    except InputFaults as error:
        raise InputFaults(
            fault._replace(file=fault.file or file) for fault in error.faults
        ) from None
    evaluator = OneByOne(uncertain, speeds=speeds)
    study = study_tolerance(
        evaluator,
        uncertain.inputs,
        precision=precision,
        confidence=confidence,
        least=min(256, samples),
        most=samples,
        seed=seed,
        block=16,
        progress=progress,
        halvings=3,
        judged=(ANY, *(" / ".join(key) for key in evaluator.keys)),
    )
    margins = {key: study.outputs[" / ".join(key)] for key in evaluator.keys}
    refused = [
        f"{count} evaluations refused: {words}" for words, count in evaluator.refused.items()
    ]
    return ToleranceReport(
        described.name,
        margins,
        study.outputs[ANY],
        {key: study.outputs[" / ".join((*key, PLACARD))] for key in evaluator.speed_keys},
        uncertain.quantities,
        uncertain.inputs,
        tuple(advice(list(margins.values()), uncertain.inputs, {})),
        (*uncertain.notes, *refused[:5]),
        study.number,
        study.reached,
        study.interrupted,
        seed,
    )


def margin_swings(
    aircraft: Aircraft, run: str, case: str, mode: str, *, defaults: bool | None = None
) -> list[Swing]:
    """Return how far each uncertain quantity alone moves a margin, for a tornado picture.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    run, case, mode : str
        Of the margin, which has to apply.
    defaults : bool, optional
        As `tolerance` takes it.

    Returns
    -------
    list of Swing
        The greatest first.

    Raises
    ------
    InputFaults
        The description cannot be used, or nothing about it is uncertain.
    InputError
        There is no such margin.
    """
    evaluator = OneByOne(UncertainAircraft(aircraft, defaults=defaults))
    if (run, case, mode) not in evaluator.keys:
        raise InputError(
            "margin",
            f"{run} / {case} / {mode}",
            "run, case and mode of a margin that applies",
            "See what a check lists.",
        )
    name = f"{run} / {case} / {mode}"
    return swings(evaluator, evaluator.uncertain.inputs, (name,))[name]
