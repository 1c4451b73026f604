"""The wire chooser: the lightest gauges of all leads with which the servos do their work."""

from __future__ import annotations

import heapq
import math
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import settled
from linkcalc.errors import InputError, told
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.model.aircraft import leads
from linkcalc.model.value_classes import given, stated
from linkcalc.physics import wire
from linkcalc.physics.metals import METALS
from linkcalc.results import MODES
from linkcalc.study.rewriting import evolved
from linkcalc.study.trials import margins_that_apply

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft, Lead

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = [
    "GAUGES",
    "WIRED_MODES",
    "Wire",
    "Wiring",
    "choose_wires",
    "fitted",
    "lead_fits",
    "lead_mass",
]

GAUGES = tuple(f"{number} AWG" for number in range(32, 17, -2))
"""What is tried unless something else is asked for: the even gauges from 32 to 18."""

WIRED_MODES = ("torque", "voltage", "current", "speed", "hold", "source heat")
"""Modes whose margin depends on the wire."""

_AT_ONCE = 32  # combinations that are evaluated together
_MOST = 4096  # combinations that are tried in order of what they cost


class Wire(NamedTuple):
    """One lead, or leads alike that are kept alike.

    Attributes
    ----------
    leads : tuple of str
        Their names.
    length : float
        One-way length of each [m].
    pieces : int
        How often they are laid, all together.
    now : str
        The gauge that they have.
    alone : str or None
        The lightest that will do with the other leads as they are; None for none.
    chosen : str or None
        What the lightest set of gauges gives them; None where no set will do.
    mass_now, mass_chosen : float
        Of all of them, signal wire and insulation included; nan where none will do [kg].
    arm : float
        Distance of their middle aft of the centre of gravity; nan where not given [m].
    fits : bool or None
        Whether bundle and connector pass the bore that is given; None where none is given.
    """

    leads: tuple[str, ...]
    length: float
    pieces: int
    now: str
    alone: str | None
    chosen: str | None
    mass_now: float
    mass_chosen: float
    arm: float
    fits: bool | None


class Wiring(NamedTuple):
    """The lightest gauges.

    Attributes
    ----------
    aircraft : str
        Its name.
    by : str
        ``"mass"``, or ``"balance"`` for mass times distance from the centre of gravity.
    wires : tuple of Wire
        Every lead that has a gauge.
    passes : bool
        Whether some set of gauges lets every margin that depends on the wire be zero or
        more.
    passes_now : bool
        Whether those that are fitted do.
    tried : int
        Sets that were evaluated before the first that passes.
    exact : bool
        Whether every cheaper set was tried. If not, gauges that fail with every other
        lead at its thickest were left out first.
    short : tuple of (str, str, str)
        Where no set will do: mode, run and case that are short with the thickest.
    others : tuple of str
        Modes that are short and that no wire mends.
    """

    aircraft: str
    by: str
    wires: tuple[Wire, ...]
    passes: bool
    passes_now: bool
    tried: int
    exact: bool
    short: tuple[tuple[str, str, str], ...]
    others: tuple[str, ...]

    def _repr_html_(self) -> str:
        """Every lead with its gauges, for a notebook."""
        from linkcalc.notebook import table  # noqa: PLC0415 - a search never asks

        rows = [
            [
                ", ".join(wire.leads),
                wire.now,
                wire.alone or "none will do",
                wire.chosen or "none will do",
            ]
            for wire in self.wires
        ]
        heads = ["lead", "now", "alone", "together"]
        return table(f"Lightest wire of {self.aircraft}, by {self.by}", heads, rows)


def fitted(aircraft: Aircraft, found: Wiring) -> Aircraft:
    """Return the aircraft with the gauges that were chosen for it.

    Parameters
    ----------
    aircraft : Aircraft
        As it was given to `choose_wires`.
    found : Wiring
        What that returned.

    Returns
    -------
    Aircraft
        As it is where no set will do.
    """
    chosen = {name: wire.chosen for wire in found.wires if wire.chosen for name in wire.leads}
    return _with_gauges(aircraft, chosen)


class _Group(NamedTuple):
    """Leads that are alike, and what each gauge would cost and whether it fits."""

    leads: tuple[Lead, ...]
    nodes: Whole
    areas: Floats
    masses: Floats
    costs: Floats
    fits: NDArray[np.bool_]
    arm: float


def choose_wires(aircraft: Aircraft, *, gauges: Sequence[str] = GAUGES, by: str = "mass") -> Wiring:
    """Choose the lightest gauges with which every margin that depends on the wire holds.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft. Leads whose resistance was measured stay as they are.
    gauges : sequence of str
        What may be fitted, such as ``"26 AWG"`` or ``"0.25 mm^2"``.
    by : str
        What is to be least: ``"mass"``, or ``"balance"``, the sum of mass times the distance
        from the centre of gravity, for which every lead needs its `balance_arm`.

    Returns
    -------
    Wiring
        With the thinnest for each lead alone, the set for all together, and what they weigh.

    Raises
    ------
    InputError
        No lead has a gauge, a gauge is none, or a balance arm is missing.
    InputFaults
        The aircraft cannot be evaluated.
    SolverError
        A solver is missing or broken.

    Notes
    -----
    Sets are tried in the order of what they cost, so that the first that passes is the
    best, whatever thinner or thicker wire does elsewhere. Leads of one length, fed from
    leads alike, are kept alike: port and starboard. Mass is copper and insulation of two
    power conductors, a return conductor of its own gauge among them, and a signal wire, as
    `linkcalc.physics.wire.insulated_mass` has it.

    Examples
    --------
    >>> from linkcalc import read_aircraft
    >>> found = choose_wires(read_aircraft("examples/sandpiper_rewired.toml"))
    >>> found.passes, [wire.chosen for wire in found.wires]  # doctest: +ELLIPSIS
    (True, [...])
    """
    aircraft = settled(aircraft)
    search = _Search(aircraft, gauges, by)
    now = search.passing([search.now])[0]
    alone = search.alone()
    options, exact = search.options()
    chosen, tried = None, 0
    for block in _blocks(_cheapest(search.groups, options)):
        good = search.passing([search.areas(each) for each in block])
        if good.any():
            first = int(good.argmax())
            chosen, tried = block[first], tried + first + 1
            break
        tried += len(block)
    thickest = [search.areas([max(each) for each in options])] if all(options) else []
    short = () if chosen is not None or not thickest else search.short(thickest[0])
    wires = [
        search.wire(index, alone[index], None if chosen is None else chosen[index])
        for index in range(len(search.groups))
    ]
    return Wiring(
        aircraft.name,
        by,
        tuple(wires),
        chosen is not None,
        bool(now),
        tried,
        exact,
        short,
        search.others(),
    )


class _Search:
    """Evaluates sets of gauges, many at a time."""

    def __init__(self, aircraft: Aircraft, gauges: Sequence[str], by: str) -> None:
        if by not in {"mass", "balance"}:
            raise InputError("by", told(by), "'mass' or 'balance'", "Choose one of the two.")
        self.aircraft, self.by = aircraft, by
        self.inputs = gather(aircraft).inputs
        self.gauges = _read(gauges)
        quiet = dict.fromkeys(("seek_latch_up", "seek_details"), np.float64(0.0))
        fields = {**self.inputs.supply.fields, **quiet}
        self.inputs = self.inputs._replace(supply=self.inputs.supply._replace(fields=fields))
        self.linkages = prepare(self.inputs)
        self.factors = both(factors(aircraft.factors), 3)
        self.now: Floats = fields["conductor_area"]
        self.groups = self._grouped()
        self.wired = [MODES.index(mode) for mode in WIRED_MODES]

    def _grouped(self) -> list[_Group]:
        alike: dict[object, list[Lead]] = {}
        for lead in leads(self.aircraft):
            if given(lead, "gauge"):
                alike.setdefault(_key(lead), []).append(lead)
        if not alike:
            raise InputError(
                "leads",
                told("no lead with a gauge"),
                "at least one lead with gauge and length",
                "A measured resistance stays as it is.",
            )
        return [self._group(tuple(each)) for each in alike.values()]

    def _group(self, alike: tuple[Lead, ...]) -> _Group:
        names = {lead.name for lead in alike}
        doubled = f"{2 * stated(alike[0], 'gauge').si * 1e6!r} mm^2"
        marked = _with_gauges(self.aircraft, dict.fromkeys(names, doubled))
        nodes = np.flatnonzero(gather(marked).inputs.supply.fields["conductor_area"] != self.now)
        arm = _arm(alike[0])
        areas = np.array([area for _, area in self.gauges])
        masses = np.asarray(len(nodes) * lead_mass(alike[0], areas))
        if self.by == "balance" and math.isnan(arm):
            raise InputError(
                f"leads.{alike[0].name}.balance_arm",
                told("no distance from the centre of gravity"),
                "a length such as '0.6 m', negative ahead of it",
                "Give it for every lead, or choose by mass.",
            )
        fits = np.array([lead_fits(alike[0], area) is not False for area in areas])
        costs = np.asarray(masses * (abs(arm) if self.by == "balance" else 1.0))
        return _Group(alike, nodes, areas, masses, costs, fits, arm)

    def areas(self, chosen: Sequence[int], base: Floats | None = None) -> Floats:
        """Return the conductor areas of all nodes with gauges by their index [m^2]."""
        made = np.array(self.now if base is None else base)
        for group, index in zip(self.groups, chosen, strict=True):
            if index >= 0:
                made[group.nodes] = group.areas[index]
        return made

    def margins(self, areas: Sequence[Floats]) -> Floats:
        """Return margins, shape (mode, set, case, run); infinite where one does not apply."""
        inputs = self.inputs
        count, cases = len(areas), len(inputs.cases.density)
        index = np.tile(np.arange(cases), count)
        taken = inputs.cases.repeated(index)
        fields = {**inputs.supply.fields, "conductor_area": np.repeat(areas, cases, axis=0)}
        if inputs.supply.warming is not None:
            fields["copper_temperature"] = np.repeat(self._warm(areas), cases, axis=0)
        tried: Inputs = inputs._replace(
            cases=type(inputs.cases)(**taken), supply=inputs.supply._replace(fields=fields)
        )
        answer = evaluate(tried, self.factors, self.linkages)
        found = margins_that_apply(answer, tried)
        return found.reshape(len(MODES), count, cases, -1)

    def _warm(self, areas: Sequence[Floats]) -> list[Floats]:
        """Return how warm the copper gets with each set of areas, shape (set, node)."""
        made = []
        for area in areas:
            fields = {**self.inputs.supply.fields, "conductor_area": area}
            fields["seek_details"] = np.float64(1.0)
            tried = self.inputs._replace(supply=self.inputs.supply._replace(fields=fields))
            warm = with_warm_copper(tried, self.factors, self.linkages)
            made.append(warm.supply.fields["copper_temperature"])
        return made

    def passing(self, areas: Sequence[Floats]) -> NDArray[np.bool_]:
        """Tell which sets of areas let all margins be that depend on the wire; nan does not."""
        return np.asarray((self.margins(areas)[self.wired] >= 0).all((0, 2, 3)))

    def alone(self) -> list[int | None]:
        """Return the cheapest gauge of each group that passes with the others as they are."""
        tries = [
            (group, int(index))
            for group, each in enumerate(self.groups)
            for index in np.flatnonzero(each.fits)
        ]
        sets = [
            self.areas([index if at == group else -1 for at in range(len(self.groups))])
            for group, index in tries
        ]
        good = [bool(passes) for block in _blocks(sets) for passes in self.passing(block)]
        found: list[int | None] = [None] * len(self.groups)
        for (group, index), passes in zip(tries, good, strict=True):
            costs, best = self.groups[group].costs, found[group]
            if passes and (best is None or costs[index] < costs[best]):
                found[group] = index
        return found

    def options(self) -> tuple[list[list[int]], bool]:
        """Return what is tried for each group, and whether nothing was left out."""
        options = [[int(index) for index in np.flatnonzero(group.fits)] for group in self.groups]
        if math.prod(len(each) for each in options) <= _MOST:
            return options, True
        thickest = [max(each, key=lambda index: self.gauges[index][1]) for each in options]
        left = []
        for at, each in enumerate(options):
            sets = [self.areas([*thickest[:at], index, *thickest[at + 1 :]]) for index in each]
            good = [bool(passes) for block in _blocks(sets) for passes in self.passing(block)]
            left.append([index for index, passes in zip(each, good, strict=True) if passes])
        return left, False

    def short(self, areas: Floats) -> tuple[tuple[str, str, str], ...]:
        """Return mode, run and case of every margin that is short, or not computed."""
        bad = ~(self.margins([areas])[self.wired, 0] >= 0)
        return tuple(
            (WIRED_MODES[mode], self.aircraft.runs[run].name, self.aircraft.cases[case].name)
            for mode, case, run in zip(*np.nonzero(bad), strict=True)
        )

    def others(self) -> tuple[str, ...]:
        """Return the modes that are short with the wire as it is, and that no wire mends."""
        held: list[bool] = np.all(self.margins([self.now])[:, 0] >= 0, axis=(1, 2)).tolist()
        return tuple(
            mode
            for mode, good in zip(MODES, held, strict=True)
            if not good and mode not in WIRED_MODES
        )

    def wire(self, index: int, alone: int | None, chosen: int | None) -> Wire:
        """Return what is told of one group."""
        group = self.groups[index]
        first = group.leads[0]
        held = stated(first, "gauge")
        mass = len(group.nodes) * lead_mass(first, held.si)
        return Wire(
            leads=tuple(lead.name for lead in group.leads),
            length=_length(first),
            pieces=len(group.nodes),
            now=held.text.split(" (")[0],
            alone=None if alone is None else self.gauges[alone][0],
            chosen=None if chosen is None else self.gauges[chosen][0],
            mass_now=float(mass),
            mass_chosen=math.nan if chosen is None else float(group.masses[chosen]),
            arm=group.arm,
            fits=lead_fits(first, held.si if chosen is None else group.areas[chosen]),
        )


def _read(gauges: Sequence[str]) -> list[tuple[str, float]]:
    """Return each gauge's words and conductor area [m^2], thinnest first."""
    from linkcalc.model import Lead  # noqa: PLC0415 - as a value class, not for types

    found = {}
    for gauge in gauges:
        try:
            held = stated(Lead(name="trial", gauge=gauge, length="1 m"), "gauge")
        except InputError as error:
            fault = error.fault
            raise InputError("gauges", told(fault.found), fault.expected, fault.remedy) from None
        found[held.si] = held.text.split(" (")[0]
    if not found:
        raise InputError(
            "gauges",
            told("none"),
            "at least one gauge",
            "Name the gauges that can be bought, or leave them out.",
        )
    return [(words, area) for area, words in sorted(found.items())]


def _length(lead: Lead) -> float:
    length: float = stated(lead, "length").si
    return length


def _arm(lead: Lead) -> float:
    held = stated(lead, "balance_arm")
    return math.nan if held is None else float(held.si)


def _conductors(lead: Lead, area: Any) -> Floats:
    """Return the sections of power, return and signal, shape (..., 3) [m^2]."""
    back = stated(lead, "return_gauge")
    each = (area, area if back is None else back.si, area)
    made: Floats = np.stack(np.broadcast_arrays(*each), axis=-1)
    return made


def lead_mass(lead: Lead, area: Any) -> Floats:
    """Return the mass of a lead if its gauge has another section.

    Parameters
    ----------
    lead : Lead
        With a length.
    area : float or ndarray, shape (...)
        Section of its conductors [m^2]; a return conductor of its own keeps its own.

    Returns
    -------
    ndarray, shape (...)
        Two power conductors and a signal wire with their insulation [kg].
    """
    made: Any = wire.insulated_mass(
        _conductors(lead, area), _length(lead), METALS[lead.metal].density
    )
    total: Floats = np.asarray(made).sum(axis=-1)
    return total


def _key(lead: Lead | None) -> object:
    """Return what leads have in common that are kept alike; the gauge that they have is not in it."""
    if lead is None:
        return None
    told_of = (
        *("length", "copper_temperature", "contact_resistance", "loop_resistance", "bore"),
        "return_gauge",
    )
    held = [stated(lead, name) for name in told_of]
    arm = round(abs(_arm(lead)), 9) if given(lead, "balance_arm") else None
    plain = (
        lead.strand_factor,
        lead.contacts,
        lead.bundled,
        lead.connector,
        lead.metal,
        lead.regulator,
        arm,
    )
    more = (lead.connections, lead.extensions)
    sizes = (getattr(item, "si", item) for item in held)  # a word, or nothing, as it is
    return (*sizes, *plain, *more, _key(lead.feed))


def lead_fits(lead: Lead, area: float) -> bool | None:
    """Tell whether a lead passes its bore if its gauge has another section.

    Parameters
    ----------
    lead : Lead
        Any.
    area : float
        Section of its conductors [m^2].

    Returns
    -------
    bool or None
        Whether bundle and connector pass; None where no bore is given.
    """
    bore = stated(lead, "bore")
    if bore is None:
        return None
    bundle = wire.bundle_diameter(np.asarray(wire.insulated_diameter(_conductors(lead, area))))
    widest = max(float(bundle), math.hypot(*lead.connector) if lead.connector else 0.0)
    return bool(widest <= bore.si)


def _with_gauges(aircraft: Aircraft, gauges: dict[str, str]) -> Aircraft:
    """Return the aircraft with other gauges of some leads."""
    known: dict[int, Lead] = {}

    def renewed(lead: Lead | None) -> Lead | None:
        if lead is None:
            return None
        if id(lead) not in known:
            new: dict[str, object] = {"feed": renewed(lead.feed)}
            if lead.name in gauges:
                new["gauge"] = gauges[lead.name]
            known[id(lead)] = evolved(lead, **new)
        return known[id(lead)]

    return evolved(
        aircraft,
        receiver=evolved(aircraft.receiver, lead=renewed(aircraft.receiver.lead)),
        loads=[evolved(load, lead=renewed(load.lead)) for load in aircraft.loads],
        runs=[evolved(run, lead=renewed(run.lead)) for run in aircraft.runs],
    )


def _cheapest(groups: Sequence[_Group], options: Sequence[list[int]]) -> Iterator[tuple[int, ...]]:
    """Yield sets of gauges in the order of what they cost, without making all of them."""
    if not all(options):
        return
    ranked = [
        sorted(each, key=lambda index, group=group: float(group.costs[index]))  # type: ignore[misc]
        for group, each in zip(groups, options, strict=True)
    ]
    cost: Callable[[tuple[int, ...]], float] = lambda place: math.fsum(  # noqa: E731
        float(group.costs[each[at]]) for group, each, at in zip(groups, ranked, place, strict=True)
    )
    start = (0,) * len(ranked)
    waiting, seen = [(cost(start), start)], {start}
    while waiting:
        _, place = heapq.heappop(waiting)
        yield tuple(each[at] for each, at in zip(ranked, place, strict=True))
        for axis, at in enumerate(place):
            if at + 1 < len(ranked[axis]):
                after = (*place[:axis], at + 1, *place[axis + 1 :])
                if after not in seen:
                    seen.add(after)
                    heapq.heappush(waiting, (cost(after), after))


def _blocks(items: object) -> Iterator[list]:  # type: ignore[type-arg]
    """Yield what there is in blocks, the first ones small: the answer is often among them."""
    left, size = iter(items), 4  # type: ignore[call-overload]
    while block := list(islice(left, size)):
        yield block
        size = min(2 * size, _AT_ONCE)
