"""The supply as a solver takes it: nodes of the tree, what leads to each, and the source."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.inputs import Supply, Warming
from linkcalc.model.aircraft import leads
from linkcalc.model.defaults import DEFAULTS, resolve
from linkcalc.model.value_classes import given, si, stated
from linkcalc.physics.wire import COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT
from linkcalc.sampled import scalar, side_by_side

if TYPE_CHECKING:
    from linkcalc.model import Aircraft, Battery, Connection, Extension, Lead, Regulator
    from linkcalc.model import Supply as Source

__all__ = ["node_names", "supply_fields"]


class _Node(NamedTuple):
    """A node, and what leads to it; the defaults are those of the bus."""

    parent: int = -1
    length: float = 0.0
    conductor_area: float = 1.0
    return_area: float = math.nan
    resistivity: float = COPPER_RESISTIVITY
    temperature_coefficient: float = COPPER_TEMPERATURE_COEFFICIENT
    copper_temperature: float = 293.15
    strand_factor: float = 1.0
    contacts: float = 0.0
    contact_resistance: float = 0.0
    loop_resistance: float = math.nan
    regulated_voltage: float = math.nan
    dropout: float = 0.0
    output_resistance: float = 0.0
    output_limit: float = math.inf
    efficiency: float = math.nan
    quiescent_current: float = 0.0


class _Tree:
    """Nodes of the supply: the bus, a node for each trunk, a node for each lead of its own."""

    def __init__(self, aircraft: Aircraft, notes: list[str]) -> None:
        self.notes = notes
        self.nodes = [_Node()]
        self.names = ["bus"]
        self.warmed = [(1, False, False)]
        self.load = [0.0]
        self.most = [math.inf]
        self.heat_rating = [math.nan]
        self.trunks = {lead.feed.name for lead in leads(aircraft) if lead.feed is not None}
        others = [aircraft.receiver.lead, *(load.lead for load in aircraft.loads)]
        self.trunks |= {lead.name for lead in others if lead is not None}
        self.known: dict[str, int] = {}

    def node(self, lead: Lead | None) -> int:
        """Return the node at the end of a lead: a shared one, or a new one."""
        if lead is None:
            return 0
        if lead.name in self.known:
            return self.known[lead.name]
        parent = self.node(lead.feed)
        most = self.most[parent]
        for index, node in enumerate(_lead_nodes(lead, parent, self.notes)):
            self.nodes.append(node if index == 0 else node._replace(parent=len(self.load) - 1))
            wired = bool(np.isnan(node.loop_resistance))
            asked = stated(lead, "copper_temperature") == "computed"
            self.warmed.append((lead.bundled, wired, wired and asked))
            self.names.append(f"{lead.name}, extension {index}" if index else lead.name)
            self.load.append(0.0)
            self.most.append(most)
            self.heat_rating.append(math.nan)
        if lead.regulator:
            self.most[-1] = min(most, si(lead.regulator, "voltage"))
            self.heat_rating[-1] = si(lead.regulator, "heat_rating")
        made = len(self.load) - 1
        if lead.name in self.trunks:
            self.known[lead.name] = made
        return made

    def warming(self, source: Source) -> Warming | None:
        """Return what tells how warm the copper gets, if the file asks for it."""
        air = stated(source, "air_temperature")
        if air is None:
            return None
        bundled, wired, computed = zip(*self.warmed, strict=True)
        return Warming(air.si, side_by_side(bundled), np.array(wired), np.array(computed))


def _lead_nodes(lead: Lead, parent: int, lines: list[str]) -> list[_Node]:
    """Return the nodes at the ends of a lead and of its extensions; the regulator is at the last."""
    if given(lead, "loop_resistance"):
        first = _Node(parent, loop_resistance=si(lead, "loop_resistance"), contacts=lead.contacts)
    else:
        first = _piece(lead, lead, parent, lines, lead.contacts)
    made = [first, *(_piece(each, lead, -1, lines, 0) for each in lead.extensions)]
    if lead.regulator:
        end: dict[str, Any] = dict(_regulated(lead.regulator))
        made[-1] = made[-1]._replace(**end)
    return made


def _piece(
    piece: Lead | Extension, lead: Lead, parent: int, lines: list[str], contacts: int
) -> _Node:
    """Return the node at the end of a lead's own wire, or of an extension of it."""
    own = {}
    if piece.metal != "copper":
        from linkcalc.physics.metals import METALS  # noqa: PLC0415 - few leads are of another

        metal = METALS[piece.metal]
        own = {
            "resistivity": metal.resistivity,
            "temperature_coefficient": metal.temperature_coefficient,
        }
        note = f"{piece.metal}: {metal.source}"
        if note not in lines:
            lines.append(note)
    resistance = 0.0
    if piece is lead and (contacts or not piece.connections):
        resistance = resolve(stated(lead, "contact_resistance"), "contact resistance", lines)
        note = "contacts of leads not given otherwise: none counted"
        if not contacts and note not in lines:
            lines.append(note)
    if piece.connections:
        resistance = contacts * resistance + _connections(piece.connections, lines)
        contacts = 1
    return _Node(
        parent,
        length=si(piece, "length"),
        conductor_area=si(piece, "gauge"),
        return_area=si(piece, "return_gauge"),
        copper_temperature=_temperature(lead, lines),
        strand_factor=resolve(lead.strand_factor, "strand factor", lines),
        contacts=contacts,
        contact_resistance=resistance,
        **own,
    )


def _temperature(lead: Lead, lines: list[str]) -> float:
    """Return the temperature of the copper, or where its search starts [K]."""
    held = stated(lead, "copper_temperature")
    if held == "computed":
        return DEFAULTS["copper temperature"].value
    return resolve(held, "copper temperature", lines)


def _connections(connections: tuple[Connection, ...], lines: list[str]) -> float:
    """Return the resistance of all contacts in one conductor [ohm]."""
    from linkcalc.physics.conductors import CONTACTS  # noqa: PLC0415 - few leads name their kind

    total = 0.0
    for item in connections:
        each = si(item, "resistance", CONTACTS[item.kind])
        if not given(item, "resistance"):
            note = (
                f"resistance of a {item.kind} not given: {each * 1e3:.3g} mohm (common practice, "
                "no source; worn ones have several times as much)"
            )
            if note not in lines:
                lines.append(note)
        total += item.number * each
    return total


def _regulated(regulator: Regulator) -> dict[str, float]:
    limit = stated(regulator, "current_limit")
    return {
        "regulated_voltage": si(regulator, "voltage"),
        "dropout": si(regulator, "dropout"),
        "output_resistance": si(regulator, "output_resistance"),
        "output_limit": math.inf if limit == "none" else limit.si,
        "efficiency": regulator.efficiency if regulator.kind == "switching" else math.nan,
        "quiescent_current": si(regulator, "quiescent_current"),
    }


def _source(source: Source, lines: list[str]) -> tuple[float, float, float]:
    """Return open-circuit voltage, its greatest [V], and internal resistance [ohm]."""
    if source.battery:
        return _battery(source.battery, lines)
    resistance = resolve(stated(source, "internal_resistance"), "internal resistance", lines)
    voltage = si(source, "voltage")
    return voltage, voltage, resistance


def _battery(battery: Battery, lines: list[str]) -> tuple[float, float, float]:
    from linkcalc.physics import battery as kernel  # noqa: PLC0415 - few files describe one

    capacity = si(battery, "capacity")
    voltage, full = (
        scalar(
            kernel.open_circuit_voltage(
                battery.chemistry, cells=battery.cells, state_of_charge=charge
            )
        )
        for charge in (battery.charge, 1.0)
    )
    resistance = scalar(
        kernel.internal_resistance(
            battery.chemistry,
            cells=battery.cells,
            temperature=si(battery, "temperature"),
            cell_resistance=si(battery, "cell_resistance"),
            capacity=capacity,
        )
    )
    lines.append(
        f"battery of {battery.cells} cells, {battery.chemistry}, at {battery.charge:.0%} charge: "
        f"{voltage:.4g} V and {resistance * 1e3:.3g} mohm; over-voltage is checked with the "
        f"{full:.4g} V of a full one (common practice, no source)"
    )
    return voltage, full, resistance


def _grown(aircraft: Aircraft, lines: list[str]) -> tuple[_Tree, int, list[int]]:
    """Return the tree with all its nodes, that of the receiver and those of the servos."""
    tree = _Tree(aircraft, lines)
    receiver = tree.node(aircraft.receiver.lead)
    for load in aircraft.loads:
        tree.node(load.lead)
    servos = [tree.node(run.lead) for run in aircraft.runs for _ in range(run.servo_count)]
    return tree, receiver, servos


def node_names(aircraft: Aircraft) -> tuple[str, ...]:
    """Return what each node of the supply is called.

    Parameters
    ----------
    aircraft : Aircraft
        As described.

    Returns
    -------
    tuple of str
        The bus, and for every other node the lead, or the extension of it, that ends there.
    """
    return tuple(_grown(aircraft, [])[0].names)


def supply_fields(aircraft: Aircraft, lines: list[str]) -> Supply:
    """Return the electrical side of an aircraft.

    Parameters
    ----------
    aircraft : Aircraft
        As described.
    lines : list of str
        Receives a line for every default that is used.

    Returns
    -------
    Supply
        Fields by node in the units of `linkcalc.solvers.SUPPLY_FIELDS`.
    """
    source, (tree, receiver, servos) = aircraft.supply, _grown(aircraft, lines)
    tree.load[receiver] += resolve(stated(aircraft.receiver, "current"), "receiver current", lines)
    for load in aircraft.loads:
        tree.load[tree.node(load.lead)] += si(load, "current")
    limit = stated(source, "current_limit")
    most = math.inf if limit == "none" else limit.si
    voltage, full, resistance = _source(source, lines)
    fields: dict[str, Any] = {
        name: side_by_side(column)
        for name, column in zip(_Node._fields, zip(*tree.nodes, strict=True), strict=True)
    }
    first = np.cumsum([0, *(run.servo_count for run in aircraft.runs[:-1])])
    fields |= {
        "return_contacts": np.float64(math.nan),
        "parent": np.array([node.parent for node in tree.nodes], dtype=np.intp),
        "load": side_by_side(tree.load),
        "servo_node": np.array(servos, dtype=np.intp),
        "open_circuit_voltage": np.asarray(voltage)[()],
        "internal_resistance": np.asarray(resistance)[()],
        "current_limit": np.asarray(most)[()],
        "seek_latch_up": np.float64(1.0),
        "seek_details": np.float64(1.0),
    }
    least = resolve(stated(aircraft.receiver, "minimum_voltage"), "receiver minimum voltage", lines)
    return Supply(
        source.solver,
        fields,
        side_by_side([np.minimum(full, tree.most[servos[index]]) for index in first]),
        most,
        receiver,
        least,
        si(source, "input_voltage"),
        si(source, "heat_rating"),
        math.nan if source.inrush_multiple is None else source.inrush_multiple,
        tree.warming(source),
        side_by_side(tree.heat_rating),
    )
