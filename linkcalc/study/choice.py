"""Which parts to order: combinations of a catalogue's parts in some runs, ranked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.catalogue.plausibility import doubts
from linkcalc.checking import settled
from linkcalc.errors import InputError, InputFaults, told
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft
from linkcalc.model.value_classes import given
from linkcalc.results import MODES
from linkcalc.study.choosing import combinations
from linkcalc.study.part_axes import part_axis
from linkcalc.study.part_limits import Limits, Said, fitting
from linkcalc.study.placards import placard_speeds
from linkcalc.study.ranking import Objective, rank
from linkcalc.study.selection import Constraint, select, why_empty

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import Catalogue
    from linkcalc.study.choosing import Combinations
    from linkcalc.study.part_axes import PartAxis
    from linkcalc.study.ranking import Ranking
    from linkcalc.study.running import Workers

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["OBJECTIVES", "Choice", "axes_of", "choose", "doubts_of", "indices", "refuse_unknown"]

OBJECTIVES = ("mass", "price", "margin", "balance", "placard")
"""What a ranking may go by."""


class Choice(NamedTuple):
    """Which parts to order for some runs.

    Attributes
    ----------
    aircraft, catalogue : str
        Their names.
    runs : tuple of str
        The runs that get the parts, all the same ones.
    axes : tuple of PartAxis
        What was chosen from.
    places : ndarray of int, shape (axis, candidate)
        Which value of each axis a candidate has.
    ranking : Ranking
        Every candidate: its place, or the reason why it is out.
    combinations : Combinations
        Least margins of every combination.
    empty : str
        Why nothing is left; empty where something is.
    doubts : dict of str to tuple of str
        By the name of a servo, the rules that its datasheet breaks: a figure that is too good to
        be true wins every comparison.
    """

    aircraft: str
    catalogue: str
    runs: tuple[str, ...]
    axes: tuple[PartAxis, ...]
    places: Whole
    ranking: Ranking
    combinations: Combinations
    empty: str
    doubts: dict[str, tuple[str, ...]]

    def values(self, candidate: int) -> dict[str, str]:
        """Return what a candidate consists of.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        dict of str to str
            By axis, the value in words.
        """
        return {
            each.kind: each.axis.labels[place]
            for each, place in zip(self.axes, self.places[:, candidate], strict=True)
        }

    def least_margins(self, candidate: int) -> dict[str, float]:
        """Return the least margin of each mode in the runs that are chosen for.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        dict of str to float
            nan where one could not be computed, infinite where the mode does not apply.
        """
        found = self.combinations.found.by_mode[tuple(self.places[:, candidate])]
        return dict(zip(MODES, found.tolist(), strict=True))

    @property
    def unsound(self) -> dict[str, str]:
        """What could not be tried because no aircraft could have it, and why."""
        return {label: words for each in self.axes for label, words in each.unsound}

    def doubtful(self, candidate: int) -> bool:
        """Tell whether a candidate has a servo whose datasheet is doubted.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        bool
            Whether `doubts` has its servo.
        """
        return self.values(candidate).get("servo") in self.doubts

    def described(self, candidate: int) -> Aircraft:
        """Return the aircraft with a candidate.

        Parameters
        ----------
        candidate : int
            As its standing has it.

        Returns
        -------
        Aircraft
            As a file could describe it.
        """
        return self.combinations.space.described(self.places[:, candidate].tolist())


def choose(
    aircraft: Aircraft | str | os.PathLike[str],
    catalogue: Catalogue,
    *,
    runs: str | Sequence[str] | None = None,
    over: Sequence[str] | Mapping[str, Sequence[Any] | None] = ("servo",),
    by: Sequence[str] = ("mass", "price", "margin"),
    most_mass: object = None,
    most_price: float | None = None,
    bay: Sequence[object] | None = None,
    spline: str | None = None,
    voltage: object = None,
    total_mass: object = None,
    total_price: float | None = None,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
    keep: str | os.PathLike[str] = "",
) -> Choice:
    """Choose parts for one run, or the same parts for several, with all else as it is.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or its file.
    catalogue : Catalogue
        What may be bought.
    runs : str or sequence of str, optional
        The runs that get the parts; all of them when left out.
    over : sequence of str, or mapping of str to sequence
        What is chosen: ``"servo"``, ``"arm hole"``, ``"horn hole"``, ``"rod"``, ``"gauge"``,
        or a field by its path. A mapping has the values too: names of parts, radii, gauges,
        what the field takes; None stands for all of the catalogue.
    by : sequence of str
        `OBJECTIVES` to rank by, the most important first. Price ranks only what has one;
        balance is mass times distance from the centre of gravity, of servos and wires;
        placard is the least placard speed of the runs in any case, sought for what will do.
    most_mass : quantity, optional
        Of one servo, such as ``"20 g"``.
    most_price : float, optional
        Of one servo, in the currency of the catalogue.
    bay : sequence of three quantities, optional
        Length, width and height that the case has to fit in, as it stands in the catalogue. A
        servo whose size is not given does not fit.
    spline : str, optional
        That the arm at hand fits on; of arms that are chosen, those that have it.
    voltage : quantity, optional
        That the servo has to be rated for.
    total_mass : quantity, optional
        Of all that is chosen, for all of the runs together.
    total_price : float, optional
        Of the same.
    workers : Workers, optional
        Processes or a cluster; this process alone by default. They change no digit.
    progress : callable, optional
        Is told how many combinations are done, and of how many.
    keep : str or path
        File that what is done is kept in, and taken from when the same is asked again.

    Returns
    -------
    Choice
        Every candidate with its place and margins, or the reason why it is out. Where it was
        interrupted, what had been tried is ranked.

    Raises
    ------
    InputFaults
        The aircraft cannot be used.
    InputError
        No run or axis of that name, an objective that is none, nothing to choose from.
    SolverError
        A solver fails with a part of the catalogue that works with those of the file.

    Notes
    -----
    A candidate is out if a margin of its own runs is short or not computed in any case, or if
    it makes a margin of another run short, through the supply that they share, that is zero
    or more with the aircraft as it is. Everything is evaluated as in a check, with an axis for
    all that is chosen: loads do not depend on the servo and are worked out once for a block.
    Margins that differ by less than 1e-9 are ranked as alike. A hole of an arm is a candidate
    only with servos that the arm fits: by its spline, or because it comes with the servo.

    Examples
    --------
    >>> import linkcalc
    >>> found = choose(
    ...     "examples/sandpiper.toml",
    ...     linkcalc.read_catalogue("examples/catalogue/parts.toml"),
    ...     runs="rudder",
    ...     most_price=15,
    ... )
    >>> found.ranking.best.place, found.empty
    (1, '')
    """
    described = settled(aircraft if isinstance(aircraft, Aircraft) else read_aircraft(aircraft))
    own = indices(described, runs)
    axes = axes_of(over, described, catalogue, own)
    refuse_unknown(by, OBJECTIVES, described, own)
    currency = catalogue.currency or ""
    limits = Limits(most_mass, most_price, bay, spline, voltage, total_mass, total_price, currency)
    shared = {"runs": own, "workers": workers, "progress": progress, "keep": keep}
    try:
        found = _combined(described, axes, shared)
    except InputFaults:
        axes = tuple(each.sound(described) for each in axes)
        found = _combined(described, axes, shared)
    candidates = np.stack(np.nonzero(fitting(axes)))
    constraints = limits.constraints(axes, candidates)
    constraints += _margins_hold(found, candidates, own)
    tried = _Tried(axes, candidates, found, select(constraints, candidates.shape[1:]).kept)
    objectives = [tried.objective(name, currency, own, workers) for name in by]
    ranking = rank(_names(axes, candidates), objectives, constraints)
    return Choice(
        described.name,
        catalogue.name,
        tuple(described.runs[index].name for index in own),
        axes,
        candidates,
        ranking,
        found,
        why_empty(constraints, ranking.selection),
        doubts_of(axes),
    )


def _combined(aircraft: Aircraft, axes: Sequence[PartAxis], shared: dict[str, Any]) -> Combinations:
    return combinations(aircraft, [each.axis for each in axes], wanted=fitting(axes), **shared)


def axes_of(
    over: Sequence[str] | Mapping[str, Sequence[Any] | None],
    aircraft: Aircraft,
    catalogue: Catalogue,
    own: Sequence[int],
) -> tuple[PartAxis, ...]:
    """Return what is chosen, servos first: the holes of their arms are chosen with them.

    Parameters
    ----------
    over : sequence of str, or mapping of str to sequence
        As `choose` takes it.
    aircraft : Aircraft
        That parts are chosen for.
    catalogue : Catalogue
        What may be bought.
    own : sequence of int
        Runs that get the parts.

    Returns
    -------
    tuple of PartAxis
        One for each.

    Raises
    ------
    InputError
        One cannot be chosen.
    """
    if isinstance(over, str) or not over:
        raise InputError(
            "over", over, "a list such as ['servo', 'arm hole']", "Name what is chosen."
        )
    wanted: dict[str, Any] = dict(over) if isinstance(over, Mapping) else dict.fromkeys(over)
    made: dict[str, PartAxis] = {}
    for kind in sorted(wanted, key=lambda kind: kind != "servo"):
        servos = made["servo"].parts if "servo" in made else ()
        made[kind] = part_axis(kind, wanted[kind], aircraft, catalogue, own, servos=servos)
    return tuple(made.values())


def _names(axes: Sequence[PartAxis], candidates: Whole) -> list[str]:
    """Return what every candidate consists of, each name once."""
    each = [
        [axis.axis.labels[place] for place in places.tolist()]
        for axis, places in zip(axes, candidates, strict=True)
    ]
    return [", ".join(labels) for labels in zip(*each, strict=True)]


def indices(aircraft: Aircraft, runs: str | Sequence[str] | None) -> list[int]:
    """Return the indices of the runs that get the parts.

    Parameters
    ----------
    aircraft : Aircraft
        That parts are chosen for.
    runs : str, sequence of str, or None
        Their names; None for all.

    Returns
    -------
    list of int
        Ascending, each once.

    Raises
    ------
    InputError
        There is none of that name, or none is named.
    """
    known = [run.name for run in aircraft.runs]
    wanted = known if runs is None else [runs] if isinstance(runs, str) else list(runs)
    for name in wanted:
        if name not in known:
            words = ", ".join(repr(each) for each in known[:8])
            raise InputError("runs", name, f"names of control runs: {words}", "Check the name.")
    if not wanted:
        raise InputError("runs", told("none"), "at least one control run", "Name one.")
    return sorted({known.index(name) for name in wanted})


def refuse_unknown(
    by: Sequence[str], known: Sequence[str], aircraft: Aircraft, own: Sequence[int]
) -> None:
    """Refuse objectives that are none, or that the aircraft cannot be ranked by.

    Parameters
    ----------
    by : sequence of str
        What is asked for.
    known : sequence of str
        What there is.
    aircraft : Aircraft
        That parts are chosen for.
    own : sequence of int
        Which of its runs.

    Raises
    ------
    InputError
        One is none of these, or a run has no distance from the centre of gravity.
    """
    if isinstance(by, str) or not by or not set(by) <= set(known):
        words = ", ".join(repr(each) for each in known)
        raise InputError(
            "by", by, f"a list of one or more of {words}", "Name what counts most first."
        )
    short = [index for index in own if not given(aircraft.runs[index], "balance_arm")]
    if "balance" in by and short:
        raise InputError(
            f"runs[{aircraft.runs[short[0]].name!r}].balance_arm",
            told("no distance from the centre of gravity"),
            "a length such as '0.6 m', negative ahead of it",
            "Give it for every run that is chosen for, or rank by mass.",
        )


class _Tried(NamedTuple):
    """Candidates that were evaluated, and which of them will do."""

    axes: tuple[PartAxis, ...]
    candidates: Whole
    found: Combinations
    kept: NDArray[np.bool_]

    def objective(
        self, name: str, currency: str, own: Sequence[int], workers: Workers | None
    ) -> Objective:
        """Return what a ranking goes by."""
        if name == "margin":
            # A supply is solved to some 1e-13: what differs by less is alike.
            margins = self.found.margin[tuple(self.candidates)]
            return Objective("margin", np.round(margins, 9), largest=True)
        if name == "placard":
            passing = np.zeros(self.found.margin.shape, dtype=np.bool_)
            passing[tuple(self.candidates)] = self.kept
            speeds = placard_speeds(self.found.space, passing, own, workers=workers)
            rounded = np.round(speeds[tuple(self.candidates)] * 3.6, 6)
            return Objective("placard", rounded, "km/h", largest=True)
        if name == "mass":
            return Objective("mass", self._sum("mass") * 1e3, "g")
        if name == "price":
            return Objective("price", self._sum("price"), currency)
        return Objective("balance", self._sum("moment") * 1e3, "g·m")

    def _sum(self, figure: str) -> Floats:
        """Add a figure up over all that a candidate consists of."""
        pairs = zip(self.axes, self.candidates, strict=True)
        each = [getattr(axis, figure)[place] for axis, place in pairs]
        return np.asarray(np.sum(each, axis=0))


def _margins_hold(found: Combinations, candidates: Whole, own: Sequence[int]) -> list[Constraint]:
    """Return what margins have to fulfil: those of the runs, and of others those that hold now."""

    def ended(index: int, *, beside: bool = False) -> str:
        told_of = found.ended(candidates[:, index].tolist(), beside=beside)
        return f"{told_of.mode} of {told_of.run!r} in {told_of.case!r}"

    count = candidates.shape[1]
    made = []
    if not found.complete:
        tried = found.worked[tuple(candidates)]
        made.append(Constraint("tried before the interruption", tried))
    mine = found.found.margin[tuple(candidates)]
    details = Said(count, ended)
    made.append(Constraint("every margin zero or more", mine >= 0, mine, details=details))
    if len(own) < len(found.space.aircraft.runs):
        rest = found.found.beside[tuple(candidates)]
        held = "every margin of other runs that holds now zero or more"
        beside = Said(count, lambda index: ended(index, beside=True))
        made.append(Constraint(held, rest >= 0, rest, details=beside))
    return made


def doubts_of(axes: Sequence[PartAxis]) -> dict[str, tuple[str, ...]]:
    """Return the rules that datasheets of servos break.

    Parameters
    ----------
    axes : sequence of PartAxis
        What is chosen from.

    Returns
    -------
    dict of str to tuple of str
        By the name of a servo.
    """
    made: dict[str, tuple[str, ...]] = {}
    for axis in axes:
        if axis.kind == "servo":
            for doubt in doubts(axis.parts):
                made[doubt.part] = (*made.get(doubt.part, ()), doubt.rule)
    return made
