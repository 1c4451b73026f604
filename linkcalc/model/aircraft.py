"""Control runs, and the aircraft that they belong to."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.model.airframe import Airframe
from linkcalc.model.case import FlightCase
from linkcalc.model.factors import ProofLoad, SafetyFactors
from linkcalc.model.fields import (
    QuantityField,
    choice,
    number,
    part,
    parts,
    quantity_field,
    reference,
    text,
    vector,
)
from linkcalc.model.linkage import Linkage
from linkcalc.model.servo import Servo
from linkcalc.model.supply import Lead, Load, Receiver, Supply
from linkcalc.model.surroundings import flow_faults
from linkcalc.model.tolerances import Tolerances
from linkcalc.model.value_classes import ValueClass, given, rule, si, stated
from linkcalc.sampled import scalar

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from linkcalc.model.case import InputShare
    from linkcalc.model.surface import PilotInput

__all__ = ["Aircraft", "ControlRun"]


class ControlRun(ValueClass):
    """A servo, the lead that feeds it, and the surfaces that it moves."""

    name: str = text("What the report calls it.")
    servo: Servo = reference(Servo, "The servo, by its name.")
    lead: Lead | None = reference(
        Lead,
        "The lead that feeds it, by its name.",
        default=None,
        default_words="straight on the bus",
    )
    linkages: tuple[Linkage, ...] = parts(
        Linkage,
        "The surfaces that this servo moves; for a single one its keys may stand in the run itself.",
    )
    servo_count: int = number(
        "Servos of this kind that work the same surfaces together.",
        default=1,
        least=1,
        most=8,
        whole=True,
    )
    shaft_friction: QuantityField = quantity_field(
        "torque",
        "Friction at each servo's shaft, from the preload of cables.",
        bound="not negative",
        default=None,
        default_words="0 N·m, stated in the report",
    )
    efficiency: float | None = number(
        "Share of the work that gets through the linkage's friction.",
        default=None,
        least=0.05,
        most=1,
        default_words="0.9 (common practice, no source)",
    )
    balance_arm: QuantityField = quantity_field(
        "length",
        "Distance of its servos aft of the centre of gravity, negative ahead of it.",
        default=None,
        default_words="not given; only the choice of parts asks for it",
    )
    pulses: tuple[float, ...] | None = vector(
        "time",
        "Pulses that the radio sends at the ends of its range, with the first surface up and down.",
        names=("up", "down"),
        default=None,
        default_words="whatever the servo's travel takes",
    )
    neutral_pulse: QuantityField = quantity_field(
        "time",
        "Pulse at neutral.",
        bound="positive",
        default="1.5 ms",
        default_words="1.5 ms (common practice, no source)",
    )

    @rule("pulses", "neutral_pulse")
    def _neutral_lies_between(self) -> Iterator[InputError]:
        if self.pulses is None:
            return
        neutral = stated(self, "neutral_pulse")
        low, high = sorted(self.pulses)
        if not 0 < low < neutral.si < high:
            yield InputError(
                "pulses",
                told(f"{low * 1e3:.4g} ms and {high * 1e3:.4g} ms"),
                f"one shorter and one longer than the {neutral.text} of neutral",
                "Give the pulses at both ends of what the radio sends, and neutral_pulse.",
            )


class Aircraft(ValueClass):
    """Everything that a check needs to know."""

    name: str = text("What the report calls it.")
    supply: Supply = part(Supply, "The source.")
    receiver: Receiver = part(
        Receiver, "The receiver.", default=Receiver(), default_words="see receiver"
    )
    loads: tuple[Load, ...] = parts(
        Load, "Other loads on the supply.", least=0, most=64, default=()
    )
    factors: SafetyFactors = part(
        SafetyFactors, "Factors of safety.", default=SafetyFactors(), default_words="see factors"
    )
    tolerances: Tolerances = part(
        Tolerances, "About tolerances.", default=Tolerances(), default_words="see tolerances"
    )
    proof: ProofLoad = part(
        ProofLoad, "The proof load on the bench.", default=ProofLoad(), default_words="see proof"
    )
    verdict_line: str = choice(
        ("high", "best"),
        "Line of the air load that the verdict stands on.",
        default="high",
    )
    manoeuvre_speed: QuantityField = quantity_field(
        "speed",
        "Greatest true airspeed at which full throw may be used.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    dive_speed: QuantityField = quantity_field(
        "speed",
        "Greatest true airspeed the airframe will see.",
        bound="positive",
        default=None,
        default_words="not given",
    )
    airframe: Airframe | None = part(
        Airframe,
        "The aircraft as a whole: what dives, downwash and slipstream need to know.",
        default=None,
        default_words="none: no dive is followed, no downwash known",
    )
    cases: tuple[FlightCase, ...] = parts(FlightCase, "Flight cases.", most=64)
    runs: tuple[ControlRun, ...] = parts(ControlRun, "Control runs.", most=64)

    @rule("cases")
    def _cases_have_names_of_their_own(self) -> Iterator[InputError]:
        yield from _distinct("cases", (case.name for case in self.cases))

    @rule("runs")
    def _runs_have_names_of_their_own(self) -> Iterator[InputError]:
        yield from _distinct("runs", (run.name for run in self.runs))

    @rule("runs")
    def _servos_have_one_meaning(self) -> Iterator[InputError]:
        yield from _one_meaning("servo", [run.servo for run in self.runs])

    @rule("runs", "receiver", "loads")
    def _leads_have_one_meaning(self) -> Iterator[InputError]:
        yield from _one_meaning("lead", leads(self))

    @rule("runs", "receiver", "loads", "supply")
    def _warm_leads_have_air_around_them(self) -> Iterator[InputError]:
        if stated(self.supply, "air_temperature") is not None:
            return
        warm = {
            lead.name for lead in leads(self) if stated(lead, "copper_temperature") == "computed"
        }
        for name in sorted(warm):
            yield InputError(
                f"leads.{name}.copper_temperature",
                told("'computed' without the temperature of the air"),
                "supply.air_temperature, such as '30 degC'",
                "Give it, or the temperature of the copper.",
            )

    @rule("runs", "supply")
    def _rows_that_may_not_be_scaled_are_reached(self) -> Iterator[InputError]:
        most = _most_voltage(self.supply)
        for run in self.runs:
            first = stated(run.servo.rows[0], "voltage")
            seen = min([most, *map(_regulated, _way(run.lead))])
            if run.servo.below_first_row == "refuse" and seen < first.si:
                yield InputError(
                    f"runs[{run.name!r}].servo",
                    told(f"{seen:.4g} V without load, and a first row at {first.text}"),
                    f"no less than {first.text}, as {run.servo.name!r} refuses to be scaled below",
                    "Raise the supply, add a row for a lower voltage, or set below_first_row = 'scale'.",
                )

    @rule("manoeuvre_speed", "dive_speed")
    def _dives_faster(self) -> Iterator[InputError]:
        slow, fast = stated(self, "manoeuvre_speed"), stated(self, "dive_speed")
        if slow is not None and fast is not None and not slow.si < fast.si:
            yield InputError(
                "dive_speed",
                told(fast.text),
                f"more than the manoeuvre speed of {slow.text}",
                "Check the two speeds.",
            )

    @rule("cases", "manoeuvre_speed", "dive_speed")
    def _cases_have_a_kind(self) -> Iterator[InputError]:
        speeds = given(self, "manoeuvre_speed", "dive_speed")
        for case in self.cases:
            by_speed = case.kind is None and case.fraction is None and case.deflection is None
            if by_speed and not speeds:
                yield InputError(
                    f"cases[{case.name!r}].kind",
                    told("neither a kind nor a deflection range"),
                    "kind = 'manoeuvre', 'dive' or 'sustained'",
                    "Give the kind, or what must be held, or manoeuvre_speed and dive_speed of the aircraft.",
                )

    @rule("airframe", "cases")
    def _dives_with_an_airframe(self) -> Iterator[InputError]:
        for case in self.cases:
            if case.entry is None:
                continue
            known = self.airframe
            wanted = ("drag", "maximum_lift", "limit_load_factor")
            missing = [name for name in wanted if getattr(known, name, None) is None]
            if missing:
                lacks = "an airframe" if known is None else ", ".join(missing) + " of the airframe"
                yield InputError(
                    f"cases[{case.name!r}].entry",
                    told(f"a dive without {lacks}"),
                    "an [airframe] table with drag, maximum_lift and limit_load_factor",
                    "Add what is missing, or leave out the entry.",
                )

    @rule("airframe", "runs")
    def _elevator_is_a_run(self) -> Iterator[InputError]:
        elevator = None if self.airframe is None else self.airframe.elevator
        if elevator is None:
            return
        known = {run.name for run in self.runs}
        for name in ("run", "other_run"):
            asked = getattr(elevator, name)
            if asked is not None and (
                asked not in known or (name, asked) == ("other_run", elevator.run)
            ):
                yield InputError(
                    f"airframe.elevator.{name}",
                    asked,
                    "the name of a control run"
                    if name == "run"
                    else "the name of another control run",
                    "Use one of: " + ", ".join(sorted(known)[:8]) + ".",
                )

    @rule("cases", "runs", "airframe")
    def _flows_have_their_sources(self) -> Iterator[InputError]:
        surfaces = (linkage.surface for run in self.runs for linkage in run.linkages)
        yield from flow_faults(surfaces, self.cases, self.airframe)

    @rule("cases", "runs")
    def _cases_fit_the_runs(self) -> Iterator[InputError]:
        for case in self.cases:
            yield from _inputs_unmixed(self.runs, case)
            yield from _runs_unknown(self.runs, case)
            yield from _beyond_throw(self.runs, case)


def _most_voltage(supply: Supply) -> float:
    """Return the voltage of the source without load [V]."""
    if supply.battery is None:
        return si(supply, "voltage")
    from linkcalc.physics.battery import open_circuit_voltage  # noqa: PLC0415 - few describe one

    battery = supply.battery
    volts = open_circuit_voltage(
        battery.chemistry, cells=battery.cells, state_of_charge=battery.charge
    )
    return float(volts)


def _way(lead: Lead | None) -> Iterator[Lead]:
    """Yield a lead and what feeds it, up to the bus."""
    while lead is not None:
        yield lead
        lead = lead.feed


def _regulated(lead: Lead) -> float:
    """Return the voltage that a lead's regulator is set to; infinite without one [V]."""
    return math.inf if lead.regulator is None else si(lead.regulator, "voltage")


def leads(aircraft: Aircraft) -> list[Lead]:
    """Return every lead of an aircraft, what feeds it before it.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft.

    Returns
    -------
    list of Lead
        Each distinct object once.
    """
    found: dict[int, Lead] = {}
    users: list[ControlRun | Receiver | Load] = [*aircraft.runs, aircraft.receiver, *aircraft.loads]
    for user in users:
        chain, lead = [], user.lead
        while lead is not None:
            chain.append(lead)
            lead = lead.feed
        for link in reversed(chain):
            found.setdefault(id(link), link)
    return list(found.values())


def _distinct(place: str, names: Iterable[str]) -> Iterator[InputError]:
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        yield InputError(
            place,
            told(f"{twice[0]!r} more than once"),
            "a name of its own for each",
            "Rename one of them.",
        )


def _one_meaning(what: str, things: list[Any]) -> Iterator[InputError]:
    known: dict[str, Any] = {}
    for thing in things:
        other = known.setdefault(thing.name, thing)
        if other is not thing and other != thing:
            yield InputError(
                f"{what}s",
                told(f"two different {what}s called {thing.name!r}"),
                "one meaning for a name",
                "Rename one of them.",
            )


def _inputs_unmixed(runs: Sequence[ControlRun], case: FlightCase) -> Iterator[InputError]:
    mixed = {
        pilot.name for run in runs for linkage in run.linkages for pilot in linkage.surface.mixing
    }
    for item in case.inputs:
        if item.name not in mixed:
            yield InputError(
                f"cases[{case.name!r}].inputs",
                item.name,
                "a pilot input that a surface mixes",
                "Use one of: " + (", ".join(sorted(mixed)) or "none") + ".",
            )


def _runs_unknown(runs: Sequence[ControlRun], case: FlightCase) -> Iterator[InputError]:
    counts = {run.name: run.servo_count for run in runs}
    place = f"cases[{case.name!r}].runs"
    for demand in case.runs:
        if demand.run not in counts:
            yield InputError(
                place,
                demand.run,
                "the name of a control run",
                "Use one of: " + ", ".join(sorted(counts)[:8]) + ".",
            )
        elif demand.dead_servos > counts[demand.run]:
            yield InputError(
                place,
                told(f"{demand.dead_servos} dead servos on {demand.run!r}"),
                "no more than it has",
                "Check the number.",
            )


def _beyond_throw(runs: Sequence[ControlRun], case: FlightCase) -> Iterator[InputError]:
    for run in runs:
        low, high = throws(run)
        own = (item.deflection for item in case.runs if item.run == run.name)
        for asked in (case.deflection, *own):
            if asked is not None and not (-low - 1e-9 <= asked[0] and asked[1] <= high + 1e-9):
                yield InputError(
                    f"cases[{case.name!r}].deflection",
                    told(f"a deflection beyond the throw of {run.name!r}"),
                    "a range within the throw",
                    "Ask for less, or give the surface more throw.",
                )


def _stated_throw(run: ControlRun) -> tuple[float, float]:
    surface = run.linkages[0].surface
    both = stated(surface, "throw")
    up, down = (stated(surface, side) or both for side in ("throw_up", "throw_down"))
    return (up.si, down.si) if up is not None and down is not None else (math.inf, math.inf)


def share(
    run: ControlRun, fraction: float, inputs: Sequence[InputShare] = ()
) -> tuple[float, float]:
    """Return the range of deflection for a share of the throw.

    Parameters
    ----------
    run : ControlRun
        The run; its first surface counts.
    fraction : float
        Of each side's own throw, or of every pilot input where inputs are mixed.
    inputs : sequence of InputShare
        Share of single pilot inputs, multiplied with the fraction.

    Returns
    -------
    tuple of float
        Least and greatest deflection [rad].

    Notes
    -----
    Pilot inputs are multiplied first, then added - on the port panel those with an
    opposite sense are taken away - and the sum is limited by the stated travel.
    """
    surface, shares = run.linkages[0].surface, {item.name: item for item in inputs}
    up, down = _stated_throw(run)
    if not surface.mixing:
        return -fraction * up, fraction * down
    low = high = 0.0
    for pilot in surface.mixing:
        part = shares.get(pilot.name)
        least, greatest = (part.least, part.greatest) if part else (-1.0, 1.0)
        turns = -1.0 if pilot.sense == "opposite" and surface.side == "port" else 1.0
        shares_here = sorted((turns * least, turns * greatest))
        ends = [fraction * _deflection(pilot, end) for end in shares_here]
        low, high = low + ends[0], high + ends[1]
    return scalar(np.maximum(low, -up)), scalar(np.minimum(high, down))


def _deflection(pilot: PilotInput, amount: float) -> float:
    """Return the deflection [rad] that a pilot input asks for, -1 fully up to 1 fully down."""
    held = stated(pilot, "rate_down" if amount > 0 else "rate_up") or stated(pilot, "rate")
    return amount * held.si  # type: ignore[no-any-return] # a float, or samples


def throws(run: ControlRun) -> tuple[float, float]:
    """Return the full throw of the first surface of a run, as magnitudes.

    Parameters
    ----------
    run : ControlRun
        The run.

    Returns
    -------
    tuple of float
        Trailing edge up (negative side) and down (positive side) [rad]; where pilot inputs
        are mixed, the least of the sum of the rates and the stated travel.
    """
    low, high = share(run, 1.0)
    return -low, high
