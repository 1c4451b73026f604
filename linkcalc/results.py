"""What a check answers with: values, margins, cases, runs and the whole report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.errors import InputError
from linkcalc.units import quantity

if TYPE_CHECKING:
    import pint

    from linkcalc.evaluation.load_steps import LoadStep

__all__ = [
    "MODES",
    "AircraftCase",
    "CaseReport",
    "Caution",
    "Margin",
    "Report",
    "RunReport",
    "Value",
]

MODES = (
    "torque", "travel", "voltage", "over-voltage", "current", "speed", "hold", "buckling",
    "joint", "source heat", "gear", "free play", "divergence",
)  # fmt: skip
"""Every way to fail, in the order of the report."""


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
        The mode with the least margin, or the first whose margin could not be computed.
    margins : tuple of Margin
        Every mode, in the order of `MODES`.
    values : dict of str to Value
        By name.
    notes : tuple of str
        What stands in for what was not given, and what to watch.
    steps : tuple of LoadStep
        How the solver of the air load came to its slopes, where it tells.
    """

    name: str
    governing: str
    margins: tuple[Margin, ...]
    values: dict[str, Value]
    notes: tuple[str, ...]
    steps: tuple[LoadStep, ...] = ()

    def __repr__(self) -> str:
        """The case and what governs it; all of it would fill a page."""
        return f"<CaseReport {self.name!r}, least margin {_least(self)}>"

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

        Raises
        ------
        InputError
            There is no such mode.
        """
        if mode not in MODES:
            raise InputError("mode", mode, f"one of {', '.join(MODES)}", "Check the spelling.")
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

    def __repr__(self) -> str:
        """The run and what governs it in each case; all of it would fill pages."""
        told = ", ".join(f"{case.name!r}: {_least(case)}" for case in self.cases)
        return f"<RunReport {self.name!r}, least margins {{{told}}}>"

    def _repr_html_(self) -> str:
        """Every margin of the run, for a notebook."""
        from linkcalc.notebook import margin_words, table  # noqa: PLC0415 - a check never asks

        heads = ["mode", *(case.name for case in self.cases)]
        modes = [mode for mode in MODES if any(case.margin(mode).applies for case in self.cases)]
        rows = [
            [mode, *("does not apply" if not margin.applies else margin_words(margin.margin)
                     for margin in (case.margin(mode) for case in self.cases))]
            for mode in modes
        ]  # fmt: skip
        return table(f"Margins of {self.name}", heads, rows)


class AircraftCase(NamedTuple):
    """What belongs to a case as a whole.

    Attributes
    ----------
    name : str
        The case.
    values : dict of str to Value
        By name.
    notes : tuple of str
        What came of its dive, and what stands in for what was not given there.
    passes : bool
        False where its dive has no recovery, or could not be followed.
    """

    name: str
    values: dict[str, Value]
    notes: tuple[str, ...] = ()
    passes: bool = True


class Caution(NamedTuple):
    """Something to look at.

    Attributes
    ----------
    subject : str
        A word or two.
    text : str
        What was found, and what is usual.
    source : str
        Where that is from.
    """

    subject: str
    text: str
    source: str


class Report(NamedTuple):
    """The answer to a check.

    Attributes
    ----------
    aircraft : str
        Its name.
    verdict : str
        ``"pass"`` where every margin that applies is zero or more and every dive that is followed
        recovers, else ``"short"``.
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
    retention : tuple of str
        What to look at so that no linkage comes apart.
    cautions : tuple of Caution
        About flutter, where the aircraft has an airframe: no analysis of it.
    """

    aircraft: str
    verdict: str
    whole: dict[str, Value]
    runs: tuple[RunReport, ...]
    aircraft_cases: tuple[AircraftCase, ...]
    factors: dict[str, float]
    notes: tuple[str, ...]
    retention: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        """The verdict and the size of the report; all of it would fill a book."""
        held = f"{len(self.runs)} control runs, {len(self.aircraft_cases)} flight cases"
        return f"<Report {self.verdict.upper()} {self.aircraft!r}, {held}>"

    def _repr_html_(self) -> str:
        """The least margin of every run in every case, for a notebook."""
        from linkcalc.notebook import margin_words, table  # noqa: PLC0415 - a check never asks

        names = [case.name for case in self.aircraft_cases]
        rows = []
        for run in self.runs:
            held = {case.name: case.margin(case.governing) for case in run.cases}
            cells = [
                f"{margin_words(held[name].margin)} ({held[name].mode})"
                if name in held
                else "every servo dead"
                for name in names
            ]
            rows.append([run.name, *cells])
        caption = (
            f"{self.verdict.upper()}: {self.aircraft}. Least margin of every run in every case."
        )
        return table(caption, ["control run", *names], rows)


def _least(case: CaseReport) -> str:
    """Return the governing margin of a case in words."""
    from linkcalc.notebook import margin_words  # noqa: PLC0415 - a check never asks

    return f"{margin_words(case.margin(case.governing).margin)} ({case.governing})"
