"""Samples of an aircraft evaluated: each by itself, or many along an axis of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError, InputFaults, SolverError
from linkcalc.evaluation import axes as stacks
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.speeds import find_speeds
from linkcalc.results import MODES
from linkcalc.study.trials import margins_that_apply

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.speeds import Limit
    from linkcalc.study.uncertain import UncertainAircraft

    Floats = NDArray[np.float64]

__all__ = ["ANY", "PLACARD", "OneByOne", "Together"]

ANY = "any margin of the aircraft"
"""The output that is the least of all margins."""

PLACARD = "placard speed"
"""What stands for the mode in the name of the output that is a placard speed [m/s]."""


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
    keys : list of (str, str, str)
        Run, case and mode of every margin that applies at the stated values.
    speed_keys : list of (str, str)
        Run and case of every placard speed, none where they are not sought.
    refused : dict of str to int
        Why samples could not be evaluated, and how many.
    """

    def __init__(self, uncertain: UncertainAircraft, *, speeds: bool = False) -> None:
        self.uncertain, self.speeds = uncertain, speeds
        self.refused: dict[str, int] = {}
        aircraft = uncertain.aircraft
        self._base = gather(aircraft).inputs
        self._used = factors(aircraft.factors)
        nominal = self._evaluated([self._base])[0][:, 0]
        runs, cases = ([each.name for each in many] for many in (aircraft.runs, aircraft.cases))
        self._kept = ~np.isposinf(nominal).transpose(2, 1, 0)
        self.keys = [
            (run, case, mode)
            for r, run in enumerate(runs)
            for c, case in enumerate(cases)
            for m, mode in enumerate(MODES)
            if self._kept[r, c, m]
        ]
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
        described: dict[int, Inputs] = {}
        for sample in range(number):
            try:
                one = {name: float(at[sample]) for name, at in values.items()}
                described[sample] = gather(self.uncertain.at(one)).inputs
            except (InputError, InputFaults) as error:
                self._refuse(error)
        for samples in self._parts(list(described)):
            try:
                found, placard = self._evaluated([described[sample] for sample in samples])
            except SolverError as error:
                self._refuse(error)
                continue
            margins[:, samples] = found.transpose(3, 2, 0, 1)[self._kept]
            if self.speeds:
                speeds[:, samples] = placard.transpose(2, 1, 0).reshape(-1, len(samples))
        made_of = {" / ".join(key): row for key, row in zip(self.keys, margins, strict=True)}
        placards = {
            " / ".join((*key, PLACARD)): row
            for key, row in zip(self.speed_keys, speeds, strict=True)
        }
        return {**made_of, **placards, ANY: margins.min(axis=0)}

    def _parts(self, samples: list[int]) -> list[list[int]]:
        """Return the samples that are evaluated at once."""
        return [[sample] for sample in samples]

    def _refuse(self, error: Exception) -> None:
        words = str(error)[:200]
        self.refused[words] = self.refused.get(words, 0) + 1

    def _evaluated(self, many: list[Inputs]) -> tuple[Floats, Floats]:
        """Return margins (mode, sample, case, run) and placard speeds (sample, case, run)."""
        (inputs,) = many
        linkages = prepare(inputs)
        margins = margins_that_apply(evaluate(inputs, both(self._used, 3), linkages), inputs)
        if not self.speeds:
            return margins[:, None], np.full((1, *margins.shape[1:]), np.nan)
        placard = find_speeds(inputs, self._used, linkages).placard
        return margins[:, None], _speed(placard)[None]


class Together(OneByOne):
    """Evaluates all samples of a call at once, along an axis in front of the flight cases.

    As `OneByOne`, but the description of each is all that is made for it alone. Where a
    solver fails, or a sample differs in more than numbers, they are evaluated one by one.
    """

    def _parts(self, samples: list[int]) -> list[list[int]]:
        return [samples] if samples else []

    def _evaluated(self, many: list[Inputs]) -> tuple[Floats, Floats]:
        if len(many) == 1:
            return super()._evaluated(many)
        try:
            stacked = stacks.inserted(self._base, [many])
        except ValueError:  # they differ in more than numbers
            return self._singly(many)
        try:
            return self._stacked(stacked, len(many))
        except SolverError:
            return self._singly(many)

    def _singly(self, many: list[Inputs]) -> tuple[Floats, Floats]:
        margins, speeds = [], []
        for one in many:
            try:
                found, placard = super()._evaluated([one])
            except SolverError as error:
                self._refuse(error)
                found = np.full((len(MODES), 1, *self._kept.shape[1::-1]), np.nan)
                placard = found[0]
            margins.append(found)
            speeds.append(placard)
        return np.concatenate(margins, axis=1), np.concatenate(speeds)

    def _stacked(self, inputs: Inputs, count: int) -> tuple[Floats, Floats]:
        answer = evaluate(inputs, both(self._used, 4))
        margins = margins_that_apply(answer, inputs)
        shape = (len(MODES), count, *margins.shape[2:])
        margins = np.broadcast_to(margins, shape)
        if not self.speeds:
            return margins, np.full(shape[1:], np.nan)
        flat = stacks.flattened(inputs)
        placard = find_speeds(flat, self._used, prepare(flat)).placard
        return margins, _speed(placard).reshape(-1, *shape[2:])


def _speed(placard: Limit) -> Floats:
    """Return placard speeds, infinite where nothing ends them, 0 where they hold at no speed."""
    found: Floats = np.where(placard.mode < 0, np.inf, placard.speed)
    return np.where(placard.at_zero, found, 0.0)
