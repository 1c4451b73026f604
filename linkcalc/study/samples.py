"""Samples of an aircraft evaluated: each by itself, or many along an axis of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linkcalc.errors import InputError, InputFaults, SolverError
from linkcalc.evaluation import axes as stacks
from linkcalc.evaluation.evaluate import prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.linkage import picked_linkages
from linkcalc.evaluation.speeds import find_placard
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.results import MODES
from linkcalc.sampled import Unsampled, parted, sampled
from linkcalc.study.trials import margins_that_apply
from linkcalc.study.verdict import look

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.evaluation.speeds import Limit
    from linkcalc.study.uncertain import UncertainAircraft

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]
    _Part = tuple[Whole, Floats, Floats]

__all__ = ["ANY", "AT_ONCE", "PLACARD", "SHARED", "OneByOne", "Together"]

ANY = "any margin of the aircraft"
"""The output that is the least of all margins."""

AT_ONCE = 512
"""Samples that are evaluated together."""

SHARED = 128
"""Samples that one of several processes takes at a time, so that each of them gets some."""

_CLOSELY = 384
"""Cases of samples that are looked at closely together: their arrays then fit in cache."""

_FEWEST = 64
"""Samples in a block, repeated where there are fewer: short arrays are summed in another order."""

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
        self._like: Limit | None = None  # of the aircraft as it is described
        nominal = self._evaluated(self._base)[0][:, 0]
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
        count = len(next(iter(values.values())))
        margins = np.full((len(self.keys), count), np.nan)
        speeds = np.full((len(self.speed_keys), count), np.nan)
        for which, found, placard in self._found(values, np.arange(count)):
            margins[:, which] = found.transpose(3, 2, 0, 1)[self._kept]
            if self.speeds:
                speeds[:, which] = placard.transpose(2, 1, 0).reshape(-1, len(which))
        made_of = {" / ".join(key): row for key, row in zip(self.keys, margins, strict=True)}
        placards = {
            " / ".join((*key, PLACARD)): row
            for key, row in zip(self.speed_keys, speeds, strict=True)
        }
        return {**made_of, **placards, ANY: margins.min(axis=0)}

    def _found(self, values: Mapping[str, Floats], which: Whole) -> Iterator[_Part]:
        """Yield samples with their margins and placard speeds; what is refused is left out."""
        for sample in which.tolist():
            try:
                one = {name: float(at[sample]) for name, at in values.items()}
                inputs = gather(self.uncertain.at(one)).inputs
                yield np.array([sample]), *self._evaluated(inputs)
            except (InputError, InputFaults, SolverError) as error:
                self._refuse(error)

    def _refuse(self, error: Exception, count: int = 1) -> None:
        words = str(error)[:200]
        self.refused[words] = self.refused.get(words, 0) + count

    def _evaluated(self, inputs: Inputs) -> tuple[Floats, Floats]:
        """Return margins (mode, sample, case, run) and placard speeds (sample, case, run).

        Of one sample without an axis of its own, or of as many as there are along theirs.
        """
        cases = inputs.cases.speed.shape[-2]
        linkages = prepare(inputs)
        inputs = with_warm_copper(inputs, both(self._used, inputs.cases.speed.ndim + 1), linkages)
        flat = stacks.flattened(inputs)
        count = len(flat.cases.speed)
        if flat is not inputs:
            linkages = picked_linkages(linkages, np.divmod(np.arange(count), cases), flat)
        parts = [np.arange(at, min(at + _CLOSELY, count)) for at in range(0, count, _CLOSELY)]
        found = [self._margins(flat, linkages, part, whole=len(parts) == 1) for part in parts]
        margins = np.concatenate(found, axis=1).reshape(len(MODES), -1, cases, found[0].shape[-1])
        if not self.speeds:
            return margins, np.full(margins.shape[1:], np.nan)
        placard = find_placard(flat, self._used, linkages, self._like)
        self._like = self._like or placard
        return margins, _speed(placard).reshape(margins.shape[1:])

    def _margins(self, flat: Inputs, linkages: Linkages, part: Whole, *, whole: bool) -> Floats:
        """Return the margins of some samples in cases, (mode, case, run)."""
        if not whole:
            flat = stacks.picked(flat, (part,))
            linkages = picked_linkages(linkages, (part,), flat)
        return margins_that_apply(look(flat, self._used, linkages), flat)


class Together(OneByOne):
    """Evaluates many samples at once, along an axis in front of the flight cases.

    As `OneByOne`, but the description of a block of samples is made once, its quantities
    `Sampled`. Samples that the rules or the preparation treat differently are parted; where
    a solver fails they are evaluated one by one, and so are aircraft that take no samples:
    those with chains of stages or with a planform.
    """

    def _found(self, values: Mapping[str, Floats], which: Whole) -> Iterator[_Part]:
        for start in range(0, len(which), AT_ONCE):
            some = which[start : start + AT_ONCE]
            for part, found in parted(some, lambda one: self._block(values, one)):
                if found is None:
                    yield from super()._found(values, part)
                elif found:
                    margins, placard = found
                    yield part, margins, placard

    def _block(self, values: Mapping[str, Floats], part: Whole) -> tuple[Floats, ...] | None:
        """Return what comes of samples: nothing if all are refused, None if not all together."""
        each = np.resize(part, max(len(part), _FEWEST))
        try:
            many = {name: sampled(at[each]) for name, at in values.items()}
            inputs = stacks.of_samples(gather(self.uncertain.at(many)).inputs)
            found, placard = self._evaluated(inputs)
        except (SolverError, Unsampled):
            return None
        except (InputError, InputFaults) as error:
            self._refuse(error, len(part))
            return ()
        shape = (len(each), *found.shape[2:])  # nothing may have depended on the samples
        found = np.broadcast_to(found, (len(found), *shape))[:, : len(part)]
        return found, np.broadcast_to(placard, shape)[: len(part)]


def _speed(placard: Limit) -> Floats:
    """Return placard speeds, infinite where nothing ends them, 0 where they hold at no speed."""
    found: Floats = np.where(placard.mode < 0, np.inf, placard.speed)
    return np.where(placard.at_zero, found, 0.0)
