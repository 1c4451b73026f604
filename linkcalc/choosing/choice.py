"""Which parts to order: combinations of a catalogue's parts in some runs, ranked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linkcalc.checking import settled
from linkcalc.choosing.large_choice import ranked_in_parts
from linkcalc.choosing.part_limits import Limits, bays_of
from linkcalc.choosing.question import OBJECTIVES, axes_of, indices, refuse_unknown
from linkcalc.choosing.ranked_choice import Asked, Choice
from linkcalc.choosing.sound_parts import sound_parts
from linkcalc.choosing.sure_margins import refuse_confidence
from linkcalc.errors import InputFaults
from linkcalc.files import read_aircraft
from linkcalc.model import Aircraft

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Mapping, Sequence

    from linkcalc.catalogue import Catalogue
    from linkcalc.study.running import Workers

__all__ = ["Choice", "choose"]


def choose(
    aircraft: Aircraft | str | os.PathLike[str],
    catalogue: Catalogue,
    *,
    runs: str | Sequence[str] | None = None,
    over: Sequence[str] | Mapping[str, Sequence[Any] | None] = ("servo",),
    by: Sequence[str] = ("mass", "price", "margin"),
    most_mass: object = None,
    most_price: float | None = None,
    bay: Sequence[object] | Mapping[str, Sequence[object]] | None = None,
    spline: str | None = None,
    voltage: object = None,
    undoubted: bool = False,
    total_mass: object = None,
    total_price: float | None = None,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
    keep: str | os.PathLike[str] = "",
    memory: float = 2e9,
    confidence: float | None = None,
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
    bay : sequence of three quantities, or mapping of str to these, optional
        Length, width and height that the case has to fit in, as it stands in the catalogue; or
        these by the name of a run, where the empty name stands for all others. A servo whose
        size is not given does not fit.
    spline : str, optional
        That the arm at hand fits on; of arms that are chosen, those that have it.
    voltage : quantity, optional
        That the servo has to be rated for.
    undoubted : bool
        Whether servos are left out whose datasheet `linkcalc catalogue` doubts.
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
    memory : float
        That the answer may take, about [bytes]. Where it would take more, combinations are
        worked in parts, and of each part the front and the first ones are kept.
    confidence : float, optional
        From 0.5 to 0.99. Candidates that will do are then sampled within the tolerances of the
        aircraft, and judged and ranked by the margin that they reach with this confidence.

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
    refuse_confidence(confidence)
    currency = catalogue.currency or ""
    bays = bays_of(bay, described, own)
    limits = Limits(
        most_mass, most_price, bays, spline, voltage, total_mass, total_price, currency, undoubted
    )
    asked = Asked(described, catalogue.name, own, by, limits, workers, progress, keep, confidence)
    try:
        return ranked_in_parts(asked, axes, memory)
    except InputFaults:
        return ranked_in_parts(asked, sound_parts(axes, described), memory)
