"""How sure the margins of an aircraft are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from linkcalc.checking import check, settled
from linkcalc.errors import InputError, InputFaults
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.study.samples import ANY, AT_ONCE, PLACARD, SHARED, Together
from linkcalc.study.sharing import Shared
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.advice import advice, shares, swings
from linkcalc.tolerances.driver import OutputStudy, study_tolerance
from linkcalc.tolerances.indices import LEAST, Indices, sobol_indices
from linkcalc.tolerances.reliability import RareChance, rare_chance

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator

    from linkcalc.study.uncertain import UncertainQuantity
    from linkcalc.tolerances.advice import Swing
    from linkcalc.tolerances.driver import ToleranceStudy
    from linkcalc.tolerances.inputs import UncertainInputs

    Key = tuple[str, str, str]
    Progress = Callable[[str, int, int], None]

__all__ = ["ToleranceReport", "least_sure", "margin_named", "margin_swings", "tolerance"]

_INDICES_AT_ONCE = AT_ONCE  # evaluations between two signs of progress
_MOST = 2**20  # samples of a study, and points of its indices
_RARE = 1024  # samples around each likeliest shortfall


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
    rare : dict of (str, str, str) to RareChance
        Of one margin of each run that never fell short, where they were asked for.
    indices : dict of (str, str, str) to Indices
        Sobol indices of every margin, where they were asked for.
    whole_indices : Indices or None
        Those of the least margin.
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
    rare: dict[tuple[str, str, str], RareChance]
    indices: dict[tuple[str, str, str], Indices]
    whole_indices: Indices | None

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

    def __repr__(self) -> str:
        """The chance that any margin falls short; all of it would fill a book."""
        chance = f"chance of a shortfall {self.whole.chance.chance:.2%}"
        return f"<ToleranceReport {self.aircraft!r}, {chance}, {self.number} samples>"

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
    rare: bool = False,
    indices: int = 0,
    defaults: bool | None = None,
    seed: int = 1,
    jobs: int = 1,
    progress: Progress | None = None,
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
        At most; from 64 to 2^20.
    speeds : bool
        Whether placard speeds are sought in each sample; it takes some three times as long.
    rare : bool
        Whether the likeliest shortfall is sought in every run that never fell short: of the
        margin whose mean is the fewest standard deviations above zero.
    indices : int
        Points for first-order and total Sobol indices, from 64; 0 for none. Every point is
        evaluated once for each factor, and twice.
    defaults : bool, optional
        Whether common tolerances stand in where none is stated; left out, what the aircraft says.
    seed : int
        The same seed gives the same digits.
    jobs : int
        Processes; they change no digit. A script that asks for more than one has to be one that
        other processes can import (``if __name__ == "__main__":``).
    progress : callable, optional
        Told what is being counted, how many are done, and how many there may be.

    Returns
    -------
    ToleranceReport
        The distribution of every margin, chances, sensitivities and advice.

    Raises
    ------
    InputFaults
        The description cannot be used, or nothing about it is uncertain.
    InputError
        A number that was asked for is off.
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
    if not LEAST <= samples <= _MOST:
        raise InputError("samples", samples, f"from {LEAST} to {_MOST}", "Ask for another number.")
    if indices and not LEAST <= indices <= _MOST:
        remedy = "Ask for another number, or for none."
        raise InputError("indices", indices, f"0, or from {LEAST} to {_MOST} points", remedy)
    uncertain = _uncertain(aircraft, defaults=defaults)
    told, how = progress or (lambda *_: None), (seed, confidence)
    with Shared(uncertain, speeds=speeds, jobs=jobs) as evaluator:
        study = _sampled(evaluator, told, how, precision=precision, samples=samples, jobs=jobs)
        further = _Further({}, {}, [])
        if not study.interrupted:
            try:
                further.rare.update(_rare_ones(evaluator.plain(), study, told, how) if rare else ())
                further.indices.update(
                    _indices(evaluator.plain(), indices, told, how) if indices else {}
                )
            except KeyboardInterrupt:
                study = study._replace(interrupted=True)
            if any(found.number < indices for found in further.indices.values()):
                study = study._replace(interrupted=True)
    if rare and not (further.rare or study.interrupted):
        further.notes.append("No rare shortfall was sought: every run had one in a sample.")
    return _reported(evaluator, study, further, seed)


def _sampled(
    evaluator: Shared,
    told: Progress,
    how: tuple[int, float],
    *,
    precision: float,
    samples: int,
    jobs: int,
) -> ToleranceStudy:
    """Sample the margins; placard speeds have no slopes, which would cost much."""
    seed, confidence = how
    return study_tolerance(
        evaluator,
        evaluator.uncertain.inputs,
        precision=precision,
        confidence=confidence,
        least=min(256, samples),
        most=samples,
        seed=seed,
        block=AT_ONCE if jobs == 1 else SHARED,
        jobs=jobs,
        progress=lambda done, most: told("samples", done, most),
        halvings=3,
        slopes=evaluator.plain(lambda done, all_: told("evaluations for slopes", done, all_)),
        judged=(ANY, *(" / ".join(key) for key in evaluator.keys)),
    )


class _Further(NamedTuple):
    """What is found beside the samples; it fills as it is found, so that a stop loses little."""

    rare: dict[Key, RareChance]
    indices: dict[str, Indices]
    notes: list[str]


def _uncertain(
    aircraft: Aircraft | str | os.PathLike[str], *, defaults: bool | None = None
) -> UncertainAircraft:
    """Return the aircraft with what is uncertain about it; its faults name its file."""
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    file = "" if isinstance(aircraft, Aircraft) else str(aircraft)
    try:
        check(described)  # refuses what cannot be used, with all its faults
        return UncertainAircraft(described, defaults=defaults)
    except InputFaults as error:
        raise InputFaults(
            fault._replace(file=fault.file or file) for fault in error.faults
        ) from None


def _rare_ones(
    evaluator: Shared, study: ToleranceStudy, told: Progress, how: tuple[int, float]
) -> Iterator[tuple[Key, RareChance]]:
    """Seek the likeliest shortfall of every run that had none in a sample.

    Of its margins that one whose mean is the fewest standard deviations above zero.
    """
    margins = {key: study.outputs[" / ".join(key)] for key in evaluator.keys}
    runs = dict.fromkeys(run for run, _, _ in margins)
    for run, _, _ in (key for key, one in margins.items() if one.chance.events):
        runs.pop(run, None)
    keys = [
        min((key for key in margins if key[0] == run), key=lambda key: _far(margins[key]))
        for run in runs
    ]
    seed, confidence = how
    for done, key in enumerate(keys):
        told("runs searched for rare shortfalls", done, len(keys))
        yield (
            key,
            rare_chance(
                evaluator,
                evaluator.uncertain.inputs,
                " / ".join(key),
                number=_RARE,
                seed=seed,
                confidence=confidence,
            ),
        )


def _far(one: OutputStudy) -> float:
    """Return the standard deviations between zero and the mean, infinite where one is missing."""
    found = one.mean.value / (one.standard_deviation.value or math.nan)
    return math.inf if math.isnan(found) else found


def least_sure(found: ToleranceReport) -> tuple[str, str, str]:
    """Return the least sure margin.

    Parameters
    ----------
    found : ToleranceReport
        What `tolerance` returns.

    Returns
    -------
    (str, str, str)
        Its run, case and mode: of the greatest chance of a shortfall, among equals the one whose
        mean is the fewest standard deviations above zero.
    """
    margins = found.margins
    return min(margins, key=lambda key: (-margins[key].chance.chance, _far(margins[key])))


def _indices(
    evaluator: Shared, number: int, told: Progress, how: tuple[int, float]
) -> dict[str, Indices]:
    """Return the Sobol indices of every margin and of the least."""
    seed, confidence = how
    return sobol_indices(
        evaluator,
        evaluator.uncertain.inputs,
        (ANY, *(" / ".join(key) for key in evaluator.keys)),
        number=number,
        seed=seed,
        confidence=confidence,
        block=_INDICES_AT_ONCE,
        progress=lambda done, most: told("evaluations for Sobol indices", done, most),
    )


def _reported(
    evaluator: Shared, study: ToleranceStudy, further: _Further, seed: int
) -> ToleranceReport:
    uncertain = evaluator.uncertain
    margins = {key: study.outputs[" / ".join(key)] for key in evaluator.keys}
    rare, indices, notes = further
    judged = [*([study.outputs[ANY]] if indices else []), *margins.values()]
    refused = [
        f"{count} evaluations refused: {words}"
        for words, count in sorted(evaluator.refused.items(), key=lambda pair: (-pair[1], pair[0]))
    ]
    return ToleranceReport(
        uncertain.aircraft.name,
        margins,
        study.outputs[ANY],
        {key: study.outputs[" / ".join((*key, PLACARD))] for key in evaluator.speed_keys},
        uncertain.quantities,
        uncertain.inputs,
        tuple(advice(judged, uncertain.inputs, indices)),
        (*uncertain.notes, *refused[:5], *notes),
        study.number,
        study.reached,
        study.interrupted,
        seed,
        rare,
        {key: indices[" / ".join(key)] for key in evaluator.keys if indices},
        indices.get(ANY),
    )


def margin_named(aircraft: Aircraft | str | os.PathLike[str], name: str) -> tuple[str, str, str]:
    """Return the run, case and mode that a margin is named by.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
    name : str
        As advice names it: ``"aileron / turn / torque"``.

    Returns
    -------
    (str, str, str)
        A key of `ToleranceReport.margins`.

    Raises
    ------
    InputFaults
        The description cannot be used, or nothing about it is uncertain.
    InputError
        There is no such margin.
    """
    import difflib  # noqa: PLC0415 - only who asks by name

    named = {" / ".join(key): key for key in Together(_uncertain(aircraft)).keys}
    if name not in named:
        close = difflib.get_close_matches(name[:200], named, 1, 0.0)
        remedy = f"The nearest is {close[0]!r}." if close else "See what a check lists."
        raise InputError("margin", name, "run, case and mode of a margin that applies", remedy)
    return named[name]


def margin_swings(
    aircraft: Aircraft | str | os.PathLike[str],
    run: str,
    case: str,
    mode: str,
    *,
    defaults: bool | None = None,
) -> list[Swing]:
    """Return how far each uncertain quantity alone moves a margin, for a tornado picture.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.
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
    evaluator = Together(_uncertain(aircraft, defaults=defaults))
    if (run, case, mode) not in evaluator.keys:
        raise InputError(
            "margin",
            f"{run} / {case} / {mode}",
            "run, case and mode of a margin that applies",
            "See what a check lists.",
        )
    name = f"{run} / {case} / {mode}"
    return swings(evaluator, evaluator.uncertain.inputs, (name,))[name]
