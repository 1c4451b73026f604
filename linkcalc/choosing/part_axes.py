"""Parts of a catalogue as axes: what each puts into some runs, and what it weighs and costs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import InputError, InputFaults, shown, told
from linkcalc.evaluation.gather import gather
from linkcalc.model.aircraft import leads
from linkcalc.model.value_classes import given, replace, si, stated
from linkcalc.sampled import Unsampled, parted
from linkcalc.study.merging import kinds, merged, of_samples
from linkcalc.study.paths import relaid
from linkcalc.study.rewriting import evolved
from linkcalc.study.space import Axis
from linkcalc.study.sweep import field_axis
from linkcalc.study.wires import lead_fits, lead_mass

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from linkcalc.catalogue import ArmPart, Catalogue, HornPart, RodPart, ServoPart, WirePart
    from linkcalc.model import Aircraft, ControlRun, Lead, Linkage
    from linkcalc.units import Stated

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["KINDS_OF_AXES", "Hole", "PartAxis", "part_axis", "with_servo"]

_POWER_AND_SIGNAL = 3  # conductors of a lead


class PartAxis(NamedTuple):
    """Something that may be put otherwise in some runs.

    Attributes
    ----------
    kind : str
        One of `KINDS_OF_AXES`, or the path of a field.
    axis : Axis
        What it puts into the aircraft.
    parts : tuple
        What each value is: parts of the catalogue, `Hole`, or the values of a field.
    mass, price, moment : ndarray, shape (value,)
        Of all pieces that the runs take: mass [kg], price, and mass times distance from the
        centre of gravity [kg m]; nan where not known, zero for a field.
    refused : tuple of str
        For each value why it does not fit where it has to, whatever else is chosen.
    unsound : tuple of tuple of str
        What is no value because no aircraft could have it, and why.
    """

    kind: str
    axis: Axis
    parts: tuple[Any, ...]
    mass: Floats
    price: Floats
    moment: Floats
    refused: tuple[str, ...]
    unsound: tuple[tuple[str, str], ...] = ()

    def taken(self, values: Sequence[int]) -> PartAxis:
        """Return the axis with some of its values.

        Parameters
        ----------
        values : sequence of int
            Which.

        Returns
        -------
        PartAxis
            In that order.
        """
        kept = list(values)
        return PartAxis(
            self.kind,
            self.axis.taken(kept),
            tuple(self.parts[at] for at in kept),
            self.mass[kept],
            self.price[kept],
            self.moment[kept],
            tuple(self.refused[at] for at in kept),
            self.unsound,
        )

    def sound(self, aircraft: Aircraft) -> PartAxis:
        """Return the axis without values that are refused on their own.

        Parameters
        ----------
        aircraft : Aircraft
            That they are put into.

        Returns
        -------
        PartAxis
            What was left out is in `unsound`.
        """
        out: dict[int, tuple[str, str]] = {}
        for at in self._doubtful(aircraft):
            try:
                gather(self.axis.put(aircraft, at))
            except InputFaults as error:
                out[at] = self.axis.labels[at], error.faults[0].found
        kept = [at for at in range(len(self.parts)) if at not in out]
        return self.taken(kept)._replace(unsound=(*self.unsound, *out.values()))

    def _doubtful(self, aircraft: Aircraft) -> list[int]:
        """Return values that are not known to be sound from being put in with others."""
        many = self.axis.many
        doubtful: list[int] = []
        numbers = np.array(self.axis.kinds or [0] * len(self.parts))

        def sound(which: Whole) -> bool:
            try:
                made = many(aircraft, which) if many else None
                return made is not None and bool(gather(made))
            except (InputError, InputFaults, Unsampled):
                return False

        for number in np.unique(numbers):
            for which, good in parted(np.flatnonzero(numbers == number), sound):
                doubtful += [] if good else which.tolist()
        return sorted(doubtful)


class Hole(NamedTuple):
    """A hole of an arm or of a horn.

    Attributes
    ----------
    part : ArmPart, HornPart or None
        What it is in; None for the arm that comes with a servo, and for one at hand.
    radius : Stated
        From the pivot.
    own : bool
        Whether it is in the arm that comes with a servo.
    """

    part: ArmPart | HornPart | None
    radius: Stated
    own: bool = False

    @property
    def label(self) -> str:
        """The hole in words."""
        if self.part is not None:
            return f"{self.part.name} {self.radius.text}"
        return f"its own arm, {self.radius.text}" if self.own else self.radius.text


class _Place(NamedTuple):
    """What axes are for: some runs of an aircraft, with a catalogue beside."""

    aircraft: Aircraft
    catalogue: Catalogue
    runs: tuple[int, ...]
    servos: Sequence[ServoPart]  # that are chosen from, if any are


def part_axis(
    kind: str,
    values: Sequence[Any] | None,
    aircraft: Aircraft,
    catalogue: Catalogue,
    runs: Sequence[int],
    *,
    servos: Sequence[ServoPart] = (),
) -> PartAxis:
    """Make an axis of parts for some runs, which all get the same.

    Parameters
    ----------
    kind : str
        One of `KINDS_OF_AXES`, or the path of a field of the aircraft.
    values : sequence or None
        Names of servos or rods, radii of holes, gauges, values of a field. None for all
        that the catalogue has.
    aircraft : Aircraft
        That they are for.
    catalogue : Catalogue
        What may be bought.
    runs : sequence of int
        Which runs get them.
    servos : sequence of ServoPart
        That are chosen from at the same time: the holes of their own arms are offered.

    Returns
    -------
    PartAxis
        With a value for each part.

    Raises
    ------
    InputError
        No such kind, part or field, nothing to choose from, or runs that cannot take it.
    """
    place = _Place(aircraft, catalogue, tuple(runs), servos)
    if kind in _MADE:
        made = _MADE[kind](place, values)
        if not made.parts:
            table = _TABLES[kind]
            raise InputError(
                kind,
                told(f"no {table} in the catalogue"),
                "at least one",
                "Add some to the catalogue, or choose over something else.",
            )
        return made
    if values is None:
        words = ", ".join(repr(each) for each in KINDS_OF_AXES)
        raise InputError(
            "over", kind, f"one of {words}, or a field with its values", "Check the spelling."
        )
    nothing = np.zeros(len(values))
    axis = field_axis(kind, values)
    return PartAxis(kind, axis, tuple(values), nothing, nothing, nothing, ("",) * len(values))


def _axis(
    kind: str,
    parts: Sequence[Any],
    labels: Sequence[str],
    put: Callable[[Aircraft, Any], Aircraft],
    *,
    figures: Sequence[Any],
    refused: Sequence[str] = (),
) -> PartAxis:
    table = np.array(figures, dtype=np.float64).reshape(-1, 3)
    held = tuple(parts)
    return PartAxis(
        kind,
        Axis(kind, tuple(labels), lambda aircraft, at: put(aircraft, held[at])),
        held,
        table[:, 0],
        table[:, 1],
        table[:, 2],
        tuple(refused) or ("",) * len(held),
    )


def _named(kind: str, parts: Sequence[Any], values: Sequence[Any] | None) -> list[Any]:
    """Return the parts of those names, or all of them."""
    if values is None:
        return list(parts)
    known = {part.name: part for part in parts}
    for name in values:
        if name not in known:
            raise InputError(
                kind,
                name,
                f"the name of one of the {len(known)} in the catalogue",
                "Check the spelling.",
            )
    return [known[name] for name in dict.fromkeys(values)]


def _changed(
    aircraft: Aircraft, runs: Sequence[int], change: Callable[[ControlRun], ControlRun]
) -> Aircraft:
    return evolved(
        aircraft,
        runs=tuple(
            change(run) if index in runs else run for index, run in enumerate(aircraft.runs)
        ),
    )


# servos ---------------------------------------------------------------------------------


def with_servo(aircraft: Aircraft, part: ServoPart, runs: Sequence[int]) -> Aircraft:
    """Put a servo of a catalogue into some runs.

    Parameters
    ----------
    aircraft : Aircraft
        Any.
    part : ServoPart
        Its name is lengthened where another servo of the aircraft has it.
    runs : sequence of int
        Which.

    Returns
    -------
    Aircraft
        With it.
    """
    servo = part.servo()
    others = {each.servo.name: each.servo for each in aircraft.runs}
    while others.get(servo.name, servo) != servo:
        servo = replace(servo, name=f"{servo.name[:100]}'")
    return _changed(aircraft, runs, lambda run: replace(run, servo=servo))


def _servos(place: _Place, values: Sequence[Any] | None) -> PartAxis:
    parts, held, unsound = [], [], []
    for part in _named("servo", place.catalogue.servos, values):
        try:
            held.append(part.servo())
            parts.append(part)
        except InputError as error:  # a datasheet that contradicts itself
            fault = error.fault
            unsound.append((part.name, f"{fault.place} is {fault.found}, not {fault.expected}"))
    taken = [place.aircraft.runs[index] for index in place.runs]
    count = sum(run.servo_count for run in taken)
    distance = sum(run.servo_count * abs(si(run, "balance_arm")) for run in taken)
    figures = [
        (count * si(part, "mass"), count * _price(part), distance * si(part, "mass"))
        for part in parts
    ]

    def put(aircraft: Aircraft, part: ServoPart) -> Aircraft:
        return with_servo(aircraft, part, place.runs)

    made = _axis("servo", parts, [part.name for part in parts], put, figures=figures)
    axis = made.axis._replace(many=_many_servos(parts, place.runs), kinds=tuple(kinds(held)))
    return made._replace(axis=axis, unsound=tuple(unsound))


def _many_servos(
    parts: Sequence[ServoPart], runs: Sequence[int]
) -> Callable[[Aircraft, Whole], Aircraft]:
    """Return what puts servos that differ in quantities alone into some runs at once."""
    servos = [part.servo() for part in parts]

    def many(aircraft: Aircraft, at: Whole) -> Aircraft:
        made, taken = merged(servos, at), {each.servo.name for each in aircraft.runs}
        while made.name in taken:
            made = replace(made, name=f"{made.name[:100]}'")
        return _changed(aircraft, runs, lambda run: replace(run, servo=made))

    return many


def _price(part: Any, name: str = "price") -> float:
    price = getattr(part, name)
    return math.nan if price is None else float(price)


# holes ----------------------------------------------------------------------------------


def _arm_holes(place: _Place, values: Sequence[Any] | None) -> PartAxis:
    offered = [Hole(arm, hole) for arm in place.catalogue.arms for hole in arm.holes]
    offered += _own_holes(place.servos)
    return _holes(place, "arm hole", "arm", offered, values)


def _horn_holes(place: _Place, values: Sequence[Any] | None) -> PartAxis:
    offered = [Hole(horn, hole) for horn in place.catalogue.horns for hole in horn.holes]
    return _holes(place, "horn hole", "horn", offered, values)


def _own_holes(servos: Sequence[ServoPart]) -> list[Hole]:
    """Return the holes of the arms that come with servos, each radius once."""
    radii = {hole.si: hole for servo in servos for hole in servo.arm_holes}
    return [Hole(None, radii[radius], own=True) for radius in sorted(radii)]


def _holes(
    place: _Place, kind: str, end: str, offered: list[Hole], values: Sequence[Any] | None
) -> PartAxis:
    for index in place.runs:
        if any(linkage.stages for linkage in place.aircraft.runs[index].linkages):
            name = place.aircraft.runs[index].name
            raise InputError(
                kind,
                told(f"{shown(name)}, which is a chain of stages"),
                "runs with one pushrod",
                "Name the fields instead, such as runs['flap'].linkages[0].stages[0].arm.",
            )
    holes = offered if values is None else [Hole(None, _radius(kind, each)) for each in values]
    count = sum(len(place.aircraft.runs[index].linkages) for index in place.runs)
    if end == "arm":
        count = sum(place.aircraft.runs[index].servo_count for index in place.runs)
    figures = [
        (0.0, 0.0, 0.0)
        if hole.part is None
        else (count * si(hole.part, "mass"), count * _price(hole.part), 0.0)
        for hole in holes
    ]

    def at_radius(aircraft: Aircraft, radius: Any) -> Aircraft:
        return _changed(
            aircraft,
            place.runs,
            lambda run: evolved(
                run, linkages=tuple(_at_radius(each, end, radius) for each in run.linkages)
            ),
        )

    def put(aircraft: Aircraft, hole: Hole) -> Aircraft:
        return at_radius(aircraft, hole.radius)

    made = _axis(kind, holes, [hole.label for hole in holes], put, figures=figures)
    ends = [getattr(each, end) for at in place.runs for each in place.aircraft.runs[at].linkages]
    if any(each.pivot is not None for each in ends):  # in space an end is a vector
        return made
    radii = np.array([hole.radius.si for hole in holes])

    def many(aircraft: Aircraft, at: NDArray[np.intp]) -> Aircraft:
        return at_radius(aircraft, of_samples("length", radii[at]))

    return made._replace(axis=made.axis._replace(many=many))


def _radius(kind: str, value: Any) -> Stated:
    from linkcalc.model import ControlHorn  # noqa: PLC0415 - as a value class, not for types

    try:
        held: Stated = stated(ControlHorn(radius=value), "radius")
    except InputError as error:
        raise InputError(kind, value, error.fault.expected, error.fault.remedy) from None
    return held


def _at_radius(linkage: Linkage, end: str, radius: Stated) -> Linkage:
    """Return a linkage with the rod at another hole; in space, further out the same way."""
    held: Any = getattr(linkage, end)
    if held.pivot is None:
        return evolved(linkage, **{end: evolved(held, radius=radius)})
    factor = radius.si / math.hypot(*held.vector)
    vector = tuple(factor * each for each in held.vector)
    return evolved(linkage, **{end: evolved(held, vector=vector)})


# rods -----------------------------------------------------------------------------------


def _rods(place: _Place, values: Sequence[Any] | None) -> PartAxis:
    parts: list[RodPart] = _named("rod", place.catalogue.rods, values)
    inputs = gather(place.aircraft).inputs
    own = np.isin(inputs.surfaces.owner, place.runs)
    lengths = inputs.geometry.rod_length[own]  # nan for a chain, whose rods are not chosen here
    figures, refused = [], []
    for part in parts:
        longest = si(part, "longest", math.inf)
        figures.append((lengths.sum() * si(part, "mass_per_length"), _of_pieces(part, lengths), 0))
        fits = bool((lengths <= longest).all())
        refused.append("" if fits else f"its longest piece is {longest * 1e3:.4g} mm")

    def put(aircraft: Aircraft, part: RodPart) -> Aircraft:
        figures = ("diameter", "inner_diameter", "modulus")
        new = {name: stated(part, name) for name in figures} | {"material": part.material}
        return _changed(
            aircraft,
            place.runs,
            lambda run: evolved(
                run,
                linkages=tuple(
                    evolved(each, pushrod=evolved(each.pushrod, **new)) for each in run.linkages
                ),
            ),
        )

    return _axis("rod", parts, [part.name for part in parts], put, figures=figures, refused=refused)


def _of_pieces(part: RodPart, lengths: Floats) -> float:
    """Return the price of the pieces that pushrods are cut from, each from one piece."""
    longest = si(part, "longest")
    if not (lengths <= longest).all():
        return math.nan
    left: list[float] = []
    for length in sorted(lengths.tolist(), reverse=True):  # the longest first, each where it fits
        at = next((index for index, rest in enumerate(left) if rest >= length), None)
        if at is None:
            left.append(longest - length)
        else:
            left[at] -= length
    return len(left) * _price(part)


# wires ----------------------------------------------------------------------------------


def _gauges(place: _Place, values: Sequence[Any] | None) -> PartAxis:
    ends = [_lead(place.aircraft, index) for index in place.runs]
    if values is None:
        parts: list[Any] = list(place.catalogue.wires)
        known = [(part.name, stated(part, "gauge")) for part in parts]
    else:
        from linkcalc.model import Lead  # noqa: PLC0415 - as a value class, not for types

        parts = list(values)
        trial = [Lead(name="trial", gauge=each, length="1 m") for each in parts]
        known = [
            (str(value), stated(lead, "gauge")) for value, lead in zip(parts, trial, strict=True)
        ]
    shared = _shared(place.aircraft)
    distinct: dict[Any, Lead] = {
        lead.name if lead.name in shared else index: lead for index, lead in enumerate(ends)
    }
    figures, refused = [], []
    for part, (_, gauge) in zip(parts, known, strict=True):
        each = [_wire_figures(lead, part, gauge) for lead in distinct.values()]
        figures.append(tuple(np.sum(each, axis=0)))
        tight = [lead.name for lead in distinct.values() if lead_fits(lead, gauge.si) is False]
        refused.append(f"the bundle does not pass the bore of {tight[0]!r}" if tight else "")

    def put(aircraft: Aircraft, part: Any) -> Aircraft:
        new: dict[str, Any] = {"gauge": part}
        if values is None:
            new = {"gauge": stated(part, "gauge"), "metal": part.metal}
            new["strand_factor"] = part.strand_factor
        for index in place.runs:
            aircraft = _with_lead(aircraft, index, new)
        return aircraft

    return _axis("gauge", parts, [name for name, _ in known], put, figures=figures, refused=refused)


def _lead(aircraft: Aircraft, index: int) -> Lead:
    lead = aircraft.runs[index].lead
    if lead is None or not given(lead, "gauge"):
        lacks = "which has no lead" if lead is None else "whose lead has no gauge"
        raise InputError(
            "gauge",
            told(f"{shown(aircraft.runs[index].name)}, {lacks}"),
            "runs with a lead of gauge and length",
            "Name the runs that have one, each with --run; this one's wire stays as it is.",
        )
    return lead


def _shared(aircraft: Aircraft) -> set[str]:
    """Return the leads that feed more than one run."""
    return {lead.feed.name for lead in leads(aircraft) if lead.feed is not None}


def _with_lead(aircraft: Aircraft, index: int, new: dict[str, Any]) -> Aircraft:
    """Change the lead of a run: its own alone, or a trunk for everything that hangs from it."""
    run = aircraft.runs[index]
    lead: Any = run.lead
    if lead.name in _shared(aircraft):
        return relaid(aircraft, f"leads.{lead.name}", lead.name, lambda each: evolved(each, **new))
    taken, name = {each.name for each in leads(aircraft)}, f"{lead.name[:100]}, chosen"
    while name in taken:
        name += "'"
    return _changed(aircraft, [index], lambda _: evolved(run, lead=evolved(lead, name=name, **new)))


def _wire_figures(lead: Lead, part: Any, gauge: Stated) -> tuple[float, float, float]:
    """Return mass, price and moment of a lead of that wire."""
    length = si(lead, "length")
    if isinstance(part, str):
        mass, price = float(lead_mass(lead, gauge.si)), 0.0
    else:
        wire: WirePart = part
        mass = si(wire, "mass_per_length") * length * _POWER_AND_SIGNAL
        if math.isnan(mass) or given(lead, "return_gauge"):
            mass = float(lead_mass(evolved(lead, metal=wire.metal), gauge.si))
        price = _POWER_AND_SIGNAL * length * _price(wire, "price_per_metre")
    return mass, price, mass * abs(si(lead, "balance_arm"))


_MADE = {
    "servo": _servos,
    "arm hole": _arm_holes,
    "horn hole": _horn_holes,
    "rod": _rods,
    "gauge": _gauges,
}
_TABLES = dict(zip(_MADE, ("servos", "arms", "horns", "rods", "wires"), strict=True))
KINDS_OF_AXES = tuple(_MADE)
"""What parts of a catalogue may be chosen for a run."""
