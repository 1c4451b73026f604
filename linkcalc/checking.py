"""An aircraft in, a margin report out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc import solvers
from linkcalc.errors import Fault, InputFaults, SolverError
from linkcalc.evaluation.evaluate import evaluate
from linkcalc.evaluation.factors import Factors, factors
from linkcalc.evaluation.gather import gather
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.units import quantity

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator

    import pint

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.gather import Gathered
    from linkcalc.evaluation.inputs import Inputs

__all__ = [
    "MODES",
    "AircraftCase",
    "CaseReport",
    "Margin",
    "Report",
    "RunReport",
    "Value",
    "check",
]

NOT_YET = "not yet computed"

MODES = (
    "torque", "travel", "voltage", "over-voltage", "current", "speed", "hold", "buckling",
    "joint", "source heat", "gear", "free play", "divergence",
)  # fmt: skip
"""Every way to fail, in the order of the report."""

_LATER_VALUES = {
    "held deflection up": "deg",
    "held deflection down": "deg",
    "blow-back deflection up": "deg",
    "blow-back deflection down": "deg",
    "torque limit speed": "m/s",
    "freeze speed": "m/s",
    "placard speed": "m/s",
    "surface rate under load": "deg/s",
}


class Value(NamedTuple):
    """A number with its unit, and where and why.

    Attributes
    ----------
    value : float or None
        None where it cannot be computed.
    unit : str
        One per kind of quantity.
    low, high : float or None
        Least and greatest over the three lines of the air load, where they mean something.
    at : str or None
        Where it was taken.
    reason : str or None
        Why there is no value.
    """

    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    at: str | None = None
    reason: str | None = None

    @property
    def quantity(self) -> pint.Quantity[Any] | None:
        """The value as a pint quantity, or None."""
        unit = "dimensionless" if self.unit == "1" else self.unit
        return None if self.value is None else quantity(self.value, unit)


class Margin(NamedTuple):
    """One way to fail: how much there is over what is needed.

    Attributes
    ----------
    mode : str
        One of `MODES`.
    applies : bool
        Whether this mode has a meaning for this run in this case.
    margin : float or None
        available / (required x factor) - 1; None where it cannot be computed.
    plain : float or None
        The same on the best line of the air load with every factor 1.
    factor : float
        The factor on what is required.
    required, available : Value
        What is needed, without the factor, and what there is.
    reason : str or None
        Why there is no margin, or why the mode does not apply.
    """

    mode: str
    applies: bool
    margin: float | None
    plain: float | None
    factor: float
    required: Value
    available: Value
    reason: str | None = None

    @property
    def passes(self) -> bool:
        """Whether this mode stands in nobody's way."""
        return not self.applies or (self.margin is not None and self.margin >= 0)


class CaseReport(NamedTuple):
    """One run in one case.

    Attributes
    ----------
    name : str
        The case.
    governing : str
        The mode with the least margin.
    margins : tuple of Margin
        Every mode, in the order of `MODES`.
    values : dict of str to Value
        By name.
    notes : tuple of str
        What stands in for what was not given, and what to watch.
    """

    name: str
    governing: str
    margins: tuple[Margin, ...]
    values: dict[str, Value]
    notes: tuple[str, ...]

    def margin(self, mode: str) -> Margin:
        """Return the margin of a mode.

        Parameters
        ----------
        mode : str
            One of `MODES`.

        Returns
        -------
        Margin
            Its margin.
        """
        return self.margins[MODES.index(mode)]


class RunReport(NamedTuple):
    """One run in all cases.

    Attributes
    ----------
    name : str
        The run.
    cases : tuple of CaseReport
        In the order of the aircraft.
    """

    name: str
    cases: tuple[CaseReport, ...]


class AircraftCase(NamedTuple):
    """What belongs to a case as a whole.

    Attributes
    ----------
    name : str
        The case.
    values : dict of str to Value
        By name.
    """

    name: str
    values: dict[str, Value]


class Report(NamedTuple):
    """The answer to a check.

    Attributes
    ----------
    aircraft : str
        Its name.
    verdict : str
        ``"pass"`` where every margin that applies is zero or more, else ``"short"``.
    whole : dict of str to Value
        What belongs to the aircraft as a whole.
    runs : tuple of RunReport
        In the order of the aircraft.
    aircraft_cases : tuple of AircraftCase
        What belongs to each case as a whole.
    factors : dict of str to float
        Every factor that was used.
    notes : tuple of str
        Defaults of the supply and the receiver.
    """

    aircraft: str
    verdict: str
    whole: dict[str, Value]
    runs: tuple[RunReport, ...]
    aircraft_cases: tuple[AircraftCase, ...]
    factors: dict[str, float]
    notes: tuple[str, ...]


def check(aircraft: Aircraft | str | os.PathLike[str]) -> Report:
    """Check every control run of an aircraft in every flight case.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.

    Returns
    -------
    Report
        Every margin of every run in every case, with what was needed and what there is.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.
    SolverError
        A solver is missing, broken, or returned what it may not.

    Examples
    --------
    >>> report = check("examples/sandpiper.toml")
    >>> report.runs[0].cases[1].margin("torque").required.unit
    'N*m'
    """
    described = aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft)
    gathered = gather(described)
    used = factors(described.factors)
    inputs, failures = gathered.inputs, _installed(described)
    while True:
        try:
            answer = evaluate(inputs, used)
            break
        except (
            SolverError
        ) as error:  # goes on without it: its margins have no value, with this reason
            failures[error.solver] = str(error)
            inputs = _without(inputs, error.solver)
    return _Writer(described, gathered, used, answer, failures).report()


def _installed(aircraft: Aircraft) -> dict[str, str]:
    """Refuse solvers that are not installed, with the place where the file names them."""
    faults = [
        Fault(
            "",
            place,
            f"the {kind} solver {name!r}",
            f"one of {', '.join(known)}",
            "Check the spelling, or install the package that brings it.",
        )
        for kind, place, name, known in _named_solvers(aircraft)
        if name not in known
    ]
    if faults:
        raise InputFaults(faults)
    return {}


def _named_solvers(aircraft: Aircraft) -> Iterator[tuple[str, str, str, list[str]]]:
    by_name = [
        (f"runs[{run.name!r}].surface.solver", linkage.surface.solver)
        for run in aircraft.runs
        for linkage in run.linkages
        if linkage.surface.solver is not None
    ]
    if by_name:
        known = [found.name for found in solvers.available("hinge moment")]
        yield from (("hinge moment", place, name, known) for place, name in by_name)
    if aircraft.supply.solver != "tree":
        known = [found.name for found in solvers.available("supply")]
        yield "supply", "supply.solver", aircraft.supply.solver, known


def _without(inputs: Inputs, solver: str) -> Inputs:
    """Return the inputs with a solver that has failed taken out."""
    surfaces, supply = inputs.surfaces, inputs.supply
    if solver == supply.solver:
        return inputs._replace(supply=supply._replace(solver=""))
    left = tuple("" if name == solver else name for name in surfaces.solver)
    if left == surfaces.solver:
        raise SolverError(
            f"The solver {solver!r} failed and is not the one that was asked for.", solver
        )
    return inputs._replace(surfaces=surfaces._replace(solver=left))


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


class _Writer:
    """Turns the arrays of an answer into the objects of a report."""

    def __init__(
        self,
        aircraft: Aircraft,
        gathered: Gathered,
        used: Factors,
        answer: Answer,
        failures: dict[str, str],
    ) -> None:
        self.failures = failures
        self.aircraft, self.gathered, self.used = aircraft, gathered, used
        self.answer = answer
        self.margins = {
            mode: [column.tolist() for column in comparison]
            for mode, comparison in answer.margins._asdict().items()
        }
        self.governing = {
            name: value.tolist() for name, value in answer.governing._asdict().items()
        }
        self.delivered = {
            name: value[0].tolist() for name, value in answer.delivered._asdict().items()
        }
        self.available = answer.torque_available[0].tolist()
        self.pressure = answer.dynamic_pressure.tolist()

    def report(self) -> Report:
        runs = tuple(
            RunReport(run.name, tuple(self.case(c, r) for c in range(len(self.aircraft.cases))))
            for r, run in enumerate(self.aircraft.runs)
        )
        passes = all(margin.passes for run in runs for case in run.cases for margin in case.margins)
        whole = {
            name: Value(None, "m/s", reason=NOT_YET)
            for name in ("placard speed", "manoeuvre placard speed")
        }
        cases = tuple(
            AircraftCase(case.name, self.whole_case(c))
            for c, case in enumerate(self.aircraft.cases)
        )
        verdict = "pass" if passes else "short"
        return Report(
            self.aircraft.name,
            verdict,
            whole,
            runs,
            cases,
            self.used._asdict(),
            tuple(self.gathered.notes.aircraft),
        )

    def whole_case(self, c: int) -> dict[str, Value]:
        found = self.delivered
        stalled = min(
            found["all_stalled"][c], key=lambda volts: -math.inf if math.isnan(volts) else volts
        )
        return {
            "source current at work": _value(found["source_current"][c], "A", self.no_voltage()),
            "source current, all stalled": _value(
                found["all_stalled_current"][c], "A", self.no_voltage()
            ),
            "least servo voltage, all stalled": _value(stalled, "V", self.no_voltage()),
        }

    def case(self, c: int, r: int) -> CaseReport:
        margins = (*self.computed(c, r), *(self.later(mode) for mode in MODES[5:]))
        known = [margin for margin in margins if margin.applies and margin.margin is not None]
        least = min(known, key=lambda item: item.margin or 0.0, default=margins[0])
        return CaseReport(
            self.aircraft.cases[c].name,
            least.mode,
            margins,
            self.values(c, r),
            tuple(self.notes(c, r)),
        )

    @staticmethod
    def later(mode: str) -> Margin:
        nothing = Value(None, "1", reason=NOT_YET)
        return Margin(
            mode,
            applies=True,
            margin=None,
            plain=None,
            factor=1.0,
            required=nothing,
            available=nothing,
            reason=NOT_YET,
        )

    def computed(self, c: int, r: int) -> list[Margin]:
        degrees = math.degrees
        lines = [line[c][r] for line in self.governing["move_lines"]]
        moved = self.at(self.governing["deflection"][c][r])
        return [
            self.margin(c, r, "torque", "N*m", lines=lines, at=moved, reason=self.no_torque(c, r)),
            self.margin(c, r, "travel", "deg", reason="neutral is not reached", scale=degrees),
            self.margin(c, r, "voltage", "V", reason=self.no_voltage()),
            self.margin(c, r, "over-voltage", "V", reason="not known"),
            self.current(c, r),
        ]

    def margin(
        self,
        c: int,
        r: int,
        mode: str,
        unit: str,
        *,
        reason: str,
        lines: list[float] | None = None,
        at: str | None = None,
        scale: Callable[[float], float] = float,
    ) -> Margin:
        name = mode.replace("-", "_")
        required, available, margin = (column[0][c][r] for column in self.margins[name])
        needed = _value(scale(required), unit, reason, lines, at)
        there = _value(scale(available), unit, reason)
        plain = _number(self.margins[name][2][1][c][r])
        known = _number(margin)
        return Margin(
            mode,
            True,
            known,
            plain,
            getattr(self.used, name),
            needed,
            there,
            None if known is not None else reason,
        )  # noqa: FBT003

    def current(self, c: int, r: int) -> Margin:
        if math.isfinite(self.gathered.inputs.supply.limit):
            return self.margin(c, r, "current", "A", reason=self.no_voltage())
        needed = _value(self.delivered["required_current"][c], "A", self.no_voltage())
        none = "not given, not checked"
        return Margin(
            "current",
            False,
            None,
            None,
            self.used.current,
            needed,
            Value(None, "A", reason=none),
            none,
        )  # noqa: FBT003

    def no_torque(self, c: int, r: int) -> str:
        """Say why there is no torque margin."""
        failed = [self.failures[name] for name in self.asked(r) if name in self.failures]
        if failed:
            return failed[0]
        if math.isnan(self.answer.reach.low[r]):
            return "neutral is not reached"
        move = self.governing["move"][0][c][r]
        if math.isnan(move):
            return "no part of the commanded range is reached"
        return (
            "no load at any deflection: something is missing in the file"
            if move == 0
            else self.no_voltage()
        )

    def asked(self, r: int) -> list[str]:
        """Return the hinge-moment solvers of a run."""
        surfaces = self.gathered.inputs.surfaces
        return [
            name for name, owner in zip(surfaces.solver, surfaces.owner, strict=True) if owner == r
        ]

    def no_voltage(self) -> str:
        """Say why there is no voltage."""
        return self.failures.get(
            self.gathered.inputs.supply.solver, "no voltage satisfies the supply"
        )

    @staticmethod
    def at(deflection: float) -> str | None:
        return None if math.isnan(deflection) else f"deflection {math.degrees(deflection):.4g} deg"

    def values(self, c: int, r: int) -> dict[str, Value]:
        found, electric = self.governing, self.delivered
        at, reason = self.at(found["deflection"][c][r]), self.no_torque(c, r)

        def lines(name: str) -> list[float]:
            return [line[c][r] for line in found[name]]

        made = {
            "dynamic pressure": _value(self.pressure[c][r], "Pa", reason),
            "hinge moment": _value(found["moment"][c][r], "N*m", reason, lines("moment_lines"), at),
            "governing deflection": _value(math.degrees(found["deflection"][c][r]), "deg", reason),
            "hold torque": _value(found["hold"][c][r], "N*m", reason, lines("hold_lines"), at),
            "moving torque": _value(found["move"][0][c][r], "N*m", reason, lines("move_lines"), at),
            "voltage at work": _value(electric["at_work"][c][r], "V", self.no_voltage()),
            "voltage at limit": _value(electric["at_limit"][c][r], "V", self.no_voltage()),
            "torque available": _value(self.available[c][r], "N*m", self.no_voltage()),
            "current at work": _value(electric["current_at_work"][c][r], "A", self.no_voltage()),
            "rod force": _value(
                found["rod_force"][c][r], "N", reason, at=self.at(found["rod_force_at"][c][r])
            ),
        }
        return made | {
            name: Value(None, unit, reason=NOT_YET) for name, unit in _LATER_VALUES.items()
        }

    def notes(self, c: int, r: int) -> list[str]:
        notes = [*self.gathered.notes.runs[r], *self.gathered.notes.cases[c]]
        watch = {
            "stalled": "stalled at the working point: the load is more than this servo gives there",
            "latch_up": "latch-up: a second, lower voltage satisfies the supply too; a brown-out may hold itself",
            "scaled": "a voltage below the first datasheet row was met: its figures were scaled with the voltage",
        }
        notes += [words for flag, words in watch.items() if self.delivered[flag][c][r]]
        return [
            *notes,
            *(
                []
                if math.isfinite(self.gathered.inputs.supply.limit)
                else ["current limit of the source: not given, not checked"]
            ),
        ]


def _value(
    value: float, unit: str, reason: str, lines: list[float] | None = None, at: str | None = None
) -> Value:
    known = _number(value)
    low, high = (_number(min(lines)), _number(max(lines))) if lines else (None, None)
    if known is None:
        return Value(None, unit, reason=reason)
    return Value(known, unit, low, high, at)
