"""How sure the margins of an aircraft are."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from linkcalc.checking import check, settled
from linkcalc.errors import InputError, InputFaults
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.study.samples import ANY, PLACARD, Together
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.advice import advice, shares, swings
from linkcalc.tolerances.driver import OutputStudy, study_tolerance

if TYPE_CHECKING:
    import os
    from collections.abc import Callable

    from linkcalc.study.uncertain import UncertainQuantity
    from linkcalc.tolerances.advice import Swing
    from linkcalc.tolerances.inputs import UncertainInputs

__all__ = ["ToleranceReport", "margin_swings", "tolerance"]

_AT_ONCE = 128  # samples in a call of the evaluation


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

    def _repr_html_(self) -> str:
        """The margins that are least sure, for a notebook."""
        from linkcalc.notebook import table  # noqa: PLC0415 - a study never asks

        order = sorted(self.margins.items(), key=lambda item: -item[1].chance.chance)
        rows = [
            [
                f"{mode} of {run} in {case}",
                f"{found.chance.chance:.2%}",
                f"{found.chance.low:.2%} to {found.chance.high:.2%}",
                f"{found.mean.value:+.3f}",
                f"{found.standard_deviation.value:.3f}",
            ]
            for (run, case, mode), found in order[:24]
        ]
        whole = self.whole.chance
        caption = (
            f"Chance of a shortfall of {self.aircraft}: {whole.chance:.2%} ({whole.low:.2%} to "
            f"{whole.high:.2%}), from {self.number} samples."
        )
        heads = ["margin", "chance below zero", "interval", "mean", "standard deviation"]
        return table(caption, heads, rows)


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
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    file = "" if isinstance(aircraft, Aircraft) else str(aircraft)
    try:
        check(described)  # refuses what cannot be used, with all its faults
        uncertain = UncertainAircraft(described, defaults=defaults)
    except InputFaults as error:
        raise InputFaults(
            fault._replace(file=fault.file or file) for fault in error.faults
        ) from None
    evaluator = Together(uncertain, speeds=speeds)
    study = study_tolerance(
        evaluator,
        uncertain.inputs,
        precision=precision,
        confidence=confidence,
        least=min(256, samples),
        most=samples,
        seed=seed,
        block=_AT_ONCE,
        progress=progress,
        halvings=3,
        slopes=Together(uncertain) if speeds else None,
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
    evaluator = Together(UncertainAircraft(aircraft, defaults=defaults))
    if (run, case, mode) not in evaluator.keys:
        raise InputError(
            "margin",
            f"{run} / {case} / {mode}",
            "run, case and mode of a margin that applies",
            "See what a check lists.",
        )
    name = f"{run} / {case} / {mode}"
    return swings(evaluator, evaluator.uncertain.inputs, (name,))[name]
