"""Single changes to an aircraft: what can be changed, by how much, and the aircraft that results."""

from __future__ import annotations

import math
import re
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from linkcalc.evaluation.yielding import yields
from linkcalc.model import Regulator, RunDemand
from linkcalc.model.aircraft import leads
from linkcalc.model.defaults import DEFAULTS
from linkcalc.model.value_classes import ValueClass, stated
from linkcalc.physics.wire import gauge_area
from linkcalc.results import MODES
from linkcalc.study.paths import relaid
from linkcalc.study.rewriting import (
    degrees,
    evolved,
    millimetres,
    scaled,
    tidied,
    times,
    words,
)
from linkcalc.units import Stated

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import (
        Aircraft,
        Battery,
        ControlRun,
        FlightCase,
        Lead,
        Linkage,
        Load,
        Receiver,
    )

__all__ = ["Change", "changes"]

V = TypeVar("V", bound=ValueClass)

_UP, _DOWN = (1.1, 1.3, 1.8, 3.0, 5.5, 10.0), (0.9, 0.75, 0.55, 0.35, 0.2, 0.1)
_FAR_UP, _FAR_DOWN = (*_UP, 30.0, 100.0), (*_DOWN, 0.03, 0.01)
_HOLES_UP, _HOLES_DOWN = (1.1, 1.3, 1.7, 2.2, 3.0), (0.9, 0.75, 0.6, 0.45, 0.33)
_VOLTS_UP, _VOLTS_DOWN = (1.06, 1.2, 1.4, 1.7, 2.0), (0.94, 0.85, 0.7, 0.5)

_VOLTS_REGULATED = (1.2, 1.4, 1.7, 2.0, 2.5, 3.0)
_MOST_CELLS = 24
_REGULATED_LESS = frozenset({"over-voltage", "current", "source heat"})

_GAUGES = range(40, 9, -2)
_SECTIONS = (0.14, 0.22, 0.25, 0.34, 0.5, 0.75, 1.0, 1.5, 2.5)  # [mm^2]

_ELECTRIC = frozenset({"torque", "speed", "hold", "voltage", "current", "source heat"})
_GEOMETRIC = frozenset(MODES) - {"over-voltage"}
_LOADED = _GEOMETRIC - {"free play"}  # play is taken at neutral, without load


class Change(NamedTuple):
    """One kind of change at one place, in one direction.

    Attributes
    ----------
    kind : str
        What is changed, in the trade's words.
    place : str
        Where.
    modes : frozenset of str
        Modes that it may help; to the margins of the others it makes no difference, or
        only one for the worse.
    sizes : tuple of float
        Factors on what is changed, from next to 1 outward to the bound of the search.
    stepped : bool
        Whether these are all there are, as with standard sizes.
    at : callable
        Factor to changed aircraft. Raises `InputError` where its own rules refuse it.
    told : callable
        Factor to words; what stands there now for a factor of 1.
    tidy : callable
        Factor to one that is written with fewer digits in the unit of the description, a
        little further from 1.
    """

    kind: str
    place: str
    modes: frozenset[str]
    sizes: tuple[float, ...]
    stepped: bool
    at: Callable[[float], Aircraft]
    told: Callable[[float], str]
    tidy: Callable[[float], float]


def changes(aircraft: Aircraft, inputs: Inputs, run: int, case: int) -> list[Change]:
    """Return every single change that may help a run in a case.

    Parameters
    ----------
    aircraft : Aircraft
        As it is described.
    inputs : Inputs
        What `linkcalc.evaluation.gather.gather` makes of it.
    run, case : int
        Which.

    Returns
    -------
    list of Change
        What can be bought, drilled or laid first, what is given up last.
    """
    return [
        *_servo(aircraft, run),
        *_holes(aircraft, run),
        *_wires(aircraft, run),
        *_source(aircraft),
        *_at_far_ends(aircraft, inputs),
        *_rods(aircraft, inputs, run),
        *_asked(aircraft, run, case),
        *_flown(aircraft, run, case),
    ]


def _factors(
    what: tuple[str, str],
    modes: frozenset[str] | set[str],
    sizes: tuple[float, ...],
    held: Sequence[Stated],
    put: Callable[[float], Aircraft],
) -> Change:
    """Return a change of kind and place by a factor on one or more quantities."""
    return Change(
        *what,
        frozenset(modes),
        sizes,
        stepped=False,
        at=put,
        told=partial(words, held),
        tidy=partial(tidied, held[0].number),
    )


def _in_run(aircraft: Aircraft, index: int, run: ControlRun) -> Aircraft:
    return evolved(aircraft, runs=(*aircraft.runs[:index], run, *aircraft.runs[index + 1 :]))


# servo ---------------------------------------------------------------------------


def _servo(aircraft: Aircraft, index: int) -> Iterator[Change]:
    run = aircraft.runs[index]
    place, servo, last = f"servo of {run.name!r}", run.servo, run.servo.rows[-1]

    def with_servo(**new: Any) -> Aircraft:
        own = evolved(servo, name=_free_name(servo.name, aircraft), **new)
        return _in_run(aircraft, index, evolved(run, servo=own))

    def in_rows(name: str, factor: float) -> Aircraft:
        told = scaled(stated(last, name), factor).si / stated(last, name).si
        rows = [evolved(row, **{name: times(stated(row, name), told)}) for row in servo.rows]
        return with_servo(rows=tuple(rows))

    for kind, name, modes in (
        ("stall torque", "stall_torque", _ELECTRIC),
        ("no-load speed", "no_load_speed", {"speed"}),
    ):
        yield _factors((kind, place), modes, _UP, [stated(last, name)], partial(in_rows, name))
    travel = DEFAULTS["servo travel"].value
    assumed: dict[str, Stated] = {
        "travel": degrees(travel),
        "maximum_voltage": stated(last, "voltage"),
    }
    for kind, name, mode, sizes in (
        ("servo travel", "travel", "travel", _HOLES_UP),
        ("rated maximum voltage", "maximum_voltage", "over-voltage", _UP),
        ("gear strength", "gear_strength", "gear", _FAR_UP),
        ("gear play", "gear_play", "free play", _FAR_DOWN),
    ):
        held = stated(servo, name) or assumed.get(name)
        if held is not None and held.si > 0:

            def rated(factor: float, name: str = name, held: Stated = held) -> Aircraft:
                return with_servo(**{name: scaled(held, factor)})

            yield _factors((kind, place), {mode}, sizes, [held], rated)


def _free_name(name: str, aircraft: Aircraft) -> str:
    """Return a name for a changed servo or lead that no other has."""
    taken = {run.servo.name for run in aircraft.runs} | {lead.name for lead in leads(aircraft)}
    made = f"{name[:100]}, changed"
    while made in taken:
        made += "'"
    return made


# linkage -------------------------------------------------------------------------


def _linked(
    aircraft: Aircraft, index: int, scale: Callable[[Linkage, float], Linkage], factor: float
) -> Aircraft:
    """Return the aircraft with every linkage of a run scaled in some way."""
    run = aircraft.runs[index]
    linkages = tuple(scale(linkage, factor) for linkage in run.linkages)
    return _in_run(aircraft, index, evolved(run, linkages=linkages))


def _holes(aircraft: Aircraft, index: int) -> Iterator[Change]:
    """Arm and horn: another radius; in space, the vector from the pivot longer or shorter."""
    run = aircraft.runs[index]
    if any(linkage.stages for linkage in run.linkages):
        return  # which hole of which stage is the builder's to say
    for kind, name in (("arm hole", "arm"), ("horn hole", "horn")):

        def scale(linkage: Linkage, factor: float, name: str = name) -> Linkage:
            end = getattr(linkage, name)
            new: dict[str, Any] = {"vector": tuple(factor * item for item in end.vector or ())}
            if end.pivot is None:
                new = {"radius": scaled(stated(end, "radius"), factor)}
            return evolved(linkage, **{name: evolved(end, **new)})

        held = [_radius(getattr(linkage, name)) for linkage in run.linkages]
        for sizes in (_HOLES_DOWN, _HOLES_UP):
            put = partial(_linked, aircraft, index, scale)
            yield _factors((kind, repr(run.name)), _GEOMETRIC, sizes, held, put)


def _radius(end: Any) -> Stated:
    held: Stated = stated(end, "radius") or millimetres(math.hypot(*end.vector or ()))
    return held


def _rods(aircraft: Aircraft, inputs: Inputs, index: int) -> Iterator[Change]:
    run = aircraft.runs[index]
    first = int(inputs.surfaces.first[index])
    rods = inputs.geometry.rod_length[first : first + len(run.linkages)].tolist()
    lengths = {
        id(linkage): millimetres(rod) for linkage, rod in zip(run.linkages, rods, strict=True)
    }
    for kind, part, name, modes, sizes in (
        ("rod diameter", "pushrod", "diameter", {"buckling"}, _UP),
        ("free length of the rod", "pushrod", "free_length", {"buckling"}, _DOWN),
        ("joint rating", "", "joint_rating", {"joint"}, _FAR_UP),
        ("joint play", "", "joint_play", {"free play"}, _FAR_DOWN),
        ("compliance", "", "compliance", _LOADED, _FAR_DOWN),
    ):

        def now(linkage: Linkage, part: str = part, name: str = name) -> Stated | None:
            assumed = {
                "diameter": millimetres(DEFAULTS["rod diameter"].value),
                "free_length": lengths[id(linkage)],
            }
            if part and linkage.stages:
                return None  # which rod of which stage is the builder's to say
            found = stated(getattr(linkage, part) if part else linkage, name)
            return found or assumed.get(name)

        def scale(
            linkage: Linkage, factor: float, part: str = part, name: str = name, now: Any = now
        ) -> Linkage:
            held = now(linkage)
            if held is None:
                return linkage
            new = {name: scaled(held, factor)}
            return evolved(
                linkage, **({part: evolved(getattr(linkage, part), **new)} if part else new)
            )

        held = [item for linkage in run.linkages if (item := now(linkage)) and item.si > 0]
        if held:
            put = partial(_linked, aircraft, index, scale)
            yield _factors((kind, repr(run.name)), modes, sizes, held, put)


# wires and source ----------------------------------------------------------------


def _wires(aircraft: Aircraft, index: int) -> Iterator[Change]:
    """Every lead from the servo up to the bus: one of the run's own, then the trunks."""
    shared = {lead.feed.name for lead in leads(aircraft) if lead.feed is not None}
    others: tuple[Receiver | Load, ...] = (aircraft.receiver, *aircraft.loads)
    shared |= {user.lead.name for user in others if user.lead is not None}
    lead = aircraft.runs[index].lead
    while lead is not None:
        if lead.name in shared:
            place, put = f"trunk {lead.name!r}", partial(_relaid, aircraft, lead.name)
        else:
            place = f"lead of {aircraft.runs[index].name!r}"
            put = partial(_own_lead, aircraft, index)
        yield from _one_wire(lead, place, put)
        if lead.regulator is not None:
            yield from _one_regulator(lead.regulator, place, put)
        lead = lead.feed


def _one_wire(lead: Lead, place: str, put: Callable[..., Aircraft]) -> Iterator[Change]:
    gauge, measured = stated(lead, "gauge"), stated(lead, "loop_resistance")
    if gauge is not None:
        thicker = _thicker(gauge)
        told = {1.0: gauge.text, **thicker}
        yield Change(
            "wire gauge",
            place,
            _ELECTRIC,
            tuple(thicker),
            stepped=True,
            at=lambda factor: put(gauge=thicker[factor]),
            told=lambda factor: told[factor],
            tidy=lambda factor: factor,
        )
    for kind, name, held in (
        ("lead length", "length", stated(lead, "length") if gauge is not None else None),
        ("lead resistance", "loop_resistance", measured),
    ):
        if held is not None and held.si > 0:

            def scale(factor: float, name: str = name, held: Stated = held) -> Aircraft:
                return put(**{name: scaled(held, factor)})

            yield _factors((kind, place), _ELECTRIC, _DOWN, [held], scale)


def _one_regulator(
    regulator: Regulator, place: str, put: Callable[..., Aircraft]
) -> Iterator[Change]:
    """Set a regulator to another voltage, or take a larger one."""
    for kind, name, modes, sizes in (
        ("voltage of the regulator", "voltage", _ELECTRIC, _VOLTS_UP),
        ("voltage of the regulator", "voltage", _REGULATED_LESS, _VOLTS_DOWN),
        ("current limit of the regulator", "current_limit", _ELECTRIC, _UP),
        ("heat rating of the regulator", "heat_rating", {"source heat"}, _FAR_UP),
    ):
        held = stated(regulator, name)
        if isinstance(held, Stated):

            def scale(factor: float, name: str = name, held: Stated = held) -> Aircraft:
                return put(regulator=evolved(regulator, **{name: scaled(held, factor)}))

            yield _factors((kind, place), modes, sizes, [held], scale)


def _thicker(gauge: Stated) -> dict[float, str]:
    """Return the standard gauges with more copper, thinnest first, as (factor on section: words)."""
    if match := re.match(r"(\d+) AWG", gauge.text):
        sizes = [size for size in _GAUGES if size < int(match[1])]
        return {float(gauge_area(size)) / gauge.si: f"{size} AWG" for size in sizes}
    areas = [area for area in _SECTIONS if area * 1e-6 > gauge.si * (1 + 1e-9)]
    return {area * 1e-6 / gauge.si: f"{area:g} mm^2" for area in areas}


def _own_lead(aircraft: Aircraft, index: int, **new: Any) -> Aircraft:
    """Return the aircraft with the lead of one run changed, that of no other."""
    run = aircraft.runs[index]
    lead: Any = run.lead
    own = evolved(lead, name=_free_name(lead.name, aircraft), **new)
    return _in_run(aircraft, index, evolved(run, lead=own))


def _relaid(aircraft: Aircraft, trunk: str, **new: Any) -> Aircraft:
    """Return the aircraft with a trunk changed for everything that hangs from it."""
    return relaid(aircraft, f"leads.{trunk}", trunk, lambda lead: evolved(lead, **new))


def _source(aircraft: Aircraft) -> Iterator[Change]:
    source = aircraft.supply

    def put(name: str, factor: float) -> Aircraft:
        new = {name: scaled(stated(source, name), factor)}
        return evolved(aircraft, supply=evolved(source, **new))

    for kind, name, modes, sizes in (
        ("supply voltage", "voltage", _ELECTRIC, _VOLTS_UP),
        ("supply voltage", "voltage", {"over-voltage", "current", "source heat"}, _VOLTS_DOWN),
        ("current limit of the supply", "current_limit", _ELECTRIC, _UP),
        ("heat rating of the regulator", "heat_rating", {"source heat"}, _FAR_UP),
    ):
        held = stated(source, name)
        if isinstance(held, Stated):
            yield _factors((kind, "supply"), modes, sizes, [held], partial(put, name))
    if source.battery is not None:
        yield from _cells(aircraft, source.battery)


def _cells(aircraft: Aircraft, battery: Battery) -> Iterator[Change]:
    """One cell more or less in the battery, and further."""
    count = battery.cells

    def put(factor: float) -> Aircraft:
        other = evolved(battery, cells=round(count * factor))
        return evolved(aircraft, supply=evolved(aircraft.supply, battery=other))

    for modes, counts in (
        (_ELECTRIC, range(count + 1, min(2 * count, _MOST_CELLS) + 1)),
        (frozenset({"over-voltage", "current"}), range(count - 1, 0, -1)),
    ):
        yield Change(
            "cells of the battery",
            "supply",
            modes,
            tuple(number / count for number in counts),
            stepped=True,
            at=put,
            told=lambda factor: str(round(count * factor)),
            tidy=lambda factor: factor,
        )


def _at_far_ends(aircraft: Aircraft, inputs: Inputs) -> Iterator[Change]:
    """More volts through the leads, brought down where the servos are: thin wire then does.

    A switching regulator at the end of every servo's lead holds there what the source gives
    without load now. A servo on the bus itself would see all of the higher voltage, so that
    there is no such change for an aircraft with one.
    """
    source, ends = aircraft.supply, [run.lead for run in aircraft.runs]
    held: Stated | None = stated(source, "voltage")
    if held is None or source.regulator != "none":
        return
    if any(lead is None or _regulated(lead) for lead in ends):
        return
    volts = float(inputs.supply.fields["open_circuit_voltage"])
    names = {lead.name for lead in ends if lead is not None}
    nested = {up.name for lead in ends for up in _above(lead)} & names
    if nested:  # a servo behind another's regulator is fed by that one
        return
    setting = Regulator(
        kind="switching",
        voltage=Stated(volts, "V", volts, f"{volts:.10g} V"),
        current_limit="none",
    )

    def put(factor: float) -> Aircraft:
        made = aircraft
        for name in names:
            made = _relaid(made, name, regulator=setting)
        return evolved(made, supply=evolved(source, voltage=scaled(held, factor)))

    def told(factor: float) -> str:
        if factor == 1.0:
            return held.text
        return f"{scaled(held, factor).text} with a regulator to {held.text} at each servo's lead"

    yield Change(
        "supply voltage with regulators at the far ends",
        "supply",
        _ELECTRIC,
        _VOLTS_REGULATED,
        stepped=False,
        at=put,
        told=told,
        tidy=partial(tidied, held.number),
    )


def _above(lead: Lead | None) -> Iterator[Lead]:
    """Yield the leads between a lead and the bus."""
    up = lead.feed if lead is not None else None
    while up is not None:
        yield up
        up = up.feed


def _regulated(lead: Lead) -> bool:
    return any(each.regulator is not None for each in (lead, *_above(lead)))


# what is asked for ----------------------------------------------------------------


_THROWS = ("throw", "throw_up", "throw_down")
_RATES = ("rate", "rate_up", "rate_down")


def _asked(aircraft: Aircraft, index: int, number: int) -> Iterator[Change]:
    """Less throw; where the case states a range of its own for the run, less of that."""
    run, case = aircraft.runs[index], aircraft.cases[number]
    stating = _stated_range(case, run)
    if stating is not None:
        ends = [degrees(end) for end in stating]
        held = sorted(ends, key=lambda end: abs(end.si), reverse=True)
        place = f"{run.name!r} in {case.name!r}"
        put = partial(_less_range, aircraft, index, number, ends)
        yield _factors(("deflection asked for", place), _LOADED, _DOWN, held, put)
        return
    surface = run.linkages[0].surface
    found = [stated(surface, name) for name in _THROWS]
    found += [stated(pilot, name) for pilot in surface.mixing for name in _RATES]
    held = [item for item in found if item is not None and item.si > 0]

    def scale(linkage: Linkage, factor: float) -> Linkage:
        if linkage is not run.linkages[0]:
            return linkage
        mixing = tuple(_all_scaled(pilot, _RATES, factor) for pilot in surface.mixing)
        less = _all_scaled(surface, _THROWS, factor)
        return evolved(linkage, surface=evolved(less, mixing=mixing))

    put_throw = partial(_linked, aircraft, index, scale)
    if held:
        yield _factors(("throw", repr(run.name)), _LOADED, _DOWN, held, put_throw)


def _all_scaled(owner: V, names: tuple[str, ...], factor: float) -> V:
    held = {name: stated(owner, name) for name in names}
    return evolved(
        owner, **{name: scaled(item, factor) for name, item in held.items() if item is not None}
    )


def _stated_range(case: FlightCase, run: ControlRun) -> tuple[float, float] | None:
    """Return the range that a case states for a run in so many degrees, if it does."""
    demand = next((item for item in case.runs if item.run == run.name), None)
    for source in (demand, case):
        if source is not None and (source.deflection is not None or source.fraction is not None):
            return source.deflection
    return None


def _less_range(
    aircraft: Aircraft, index: int, number: int, ends: list[Stated], factor: float
) -> Aircraft:
    run, case = aircraft.runs[index], aircraft.cases[number]
    others = tuple(item for item in case.runs if item.run != run.name)
    demand = next((item for item in case.runs if item.run == run.name), RunDemand(run=run.name))
    less = evolved(demand, deflection=tuple(scaled(end, factor) for end in ends))
    return _in_case(aircraft, number, runs=(*others, less))


def _in_case(aircraft: Aircraft, number: int, **new: Any) -> Aircraft:
    case = evolved(aircraft.cases[number], **new)
    return evolved(aircraft, cases=(*aircraft.cases[:number], case, *aircraft.cases[number + 1 :]))


def _flown(aircraft: Aircraft, index: int, number: int) -> Iterator[Change]:
    held: Stated = stated(aircraft.cases[number], "speed")
    elastic = any(
        yields(linkage) or ((item := stated(linkage, "compliance")) is not None and item.si > 0)
        for linkage in aircraft.runs[index].linkages
    )

    def put(factor: float) -> Aircraft:
        return _in_case(aircraft, number, speed=scaled(held, factor))

    modes = _LOADED if elastic else _LOADED - {"travel"}
    what = ("flight speed", repr(aircraft.cases[number].name))
    yield _factors(what, modes, _DOWN, [held], put)
