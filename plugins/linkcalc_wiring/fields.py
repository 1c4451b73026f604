"""Fields of a supply tree: their units, and the circuit that they make for some of its cases."""

from __future__ import annotations

from math import inf, prod
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.errors import SolverError
from linkcalc.physics.conductors import conductor_resistance
from linkcalc.physics.demand import cut
from linkcalc_wiring.levels import Circuit, Regulators

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from linkcalc.physics.demand import Cases
    from linkcalc_wiring.levels import Array, Layout

    Flags = NDArray[np.bool_]

__all__ = ["FIELDS", "Supply", "broadcast", "indices", "own_shape", "read", "regulated", "supplied"]

_LEAST_DROP = 1e-11  # inside a source at its limit, as a share of the open-circuit voltage

_WIRE: dict[str, str] = {
    "length": "m",
    "conductor_area": "m^2",
    "return_area": "m^2",
    "resistivity": "ohm m",
    "temperature_coefficient": "1/K",
    "copper_temperature": "K",
    "strand_factor": "1",
    "contacts": "1",
    "return_contacts": "1",
    "contact_resistance": "ohm",
    "loop_resistance": "ohm",
}
_REGULATOR: dict[str, str] = {
    "regulated_voltage": "V",
    "dropout": "V",
    "output_resistance": "ohm",
    "output_limit": "A",
    "efficiency": "1",
    "quiescent_current": "A",
}
_SOURCE: dict[str, str] = {
    "open_circuit_voltage": "V",
    "internal_resistance": "ohm",
    "current_limit": "A",
}
_BY_NODE = (*_WIRE, "load", *_REGULATOR)

FIELDS: Mapping[str, str] = MappingProxyType(
    {"parent": "1", **_WIRE, "load": "A", **_REGULATOR, "servo_node": "1"}
    | {**_SOURCE, "seek_latch_up": "1", "seek_details": "1"}
)
"""Every field, and its unit."""


class Supply(NamedTuple):
    """Supply of some cases, with meaningless values replaced by harmless ones."""

    resistance: Array
    """Loop resistance of each lead, shape (node, case) [ohm]."""
    ground: Array
    """Resistance of its return conductor, shape (node, case) [ohm]."""
    load: Array
    """Constant load at each node, shape (node, case) [A]."""
    source: dict[str, Array]
    """Fields of the source, each of the shape (case)."""
    regulator: dict[str, Array]
    """Fields of the regulators, each of the shape (node, case)."""
    usable: Flags
    """Where nothing had to be replaced, shape (case)."""

    def circuit(self, layout: Layout) -> tuple[Circuit, Array]:
        """Circuit and constant loads, with the nodes sorted.

        Parameters
        ----------
        layout : Layout
            Where the nodes go.

        Returns
        -------
        circuit : Circuit
            Source, leads and regulators.
        load : array, shape (position, case)
            Constant current at each position [A].
        """
        cases, full = self.usable.size, self.source["open_circuit_voltage"]
        resistance, load = np.zeros((2, layout.positions, cases))
        if layout.distinct:
            load[layout.node_position] = self.load
            resistance[layout.node_position] = self.resistance
        else:  # nodes that share a position add their loads; only the first has a lead
            for node, position in enumerate(layout.node_position.tolist()):
                load[position] += self.load[node]
                resistance[layout.input_position[node]] += self.resistance[node]
        limit = self.source["current_limit"]
        # With a limit the source's line needs a slope, if only one that nobody can measure.
        internal = self.source["internal_resistance"]
        resistance[0] = np.maximum(internal, _LEAST_DROP * full / limit)
        regulators = None
        if (layout.input_position != layout.node_position).any():
            regulators = self._regulators(layout, resistance)
        circuit = Circuit(
            layout=layout,
            resistance=resistance[:, None],
            open_circuit_voltage=full,
            current_limit=limit if (limit < inf).any() else None,
            regulators=regulators,
        )
        return circuit, load

    def _regulators(self, layout: Layout, resistance: Array) -> Regulators:
        """Regulators by position; their output resistances are put among the leads'."""
        given = {name: _spread(each, self.load.shape) for name, each in self.regulator.items()}
        absent = np.isnan(given["regulated_voltage"])
        full = self.source["open_circuit_voltage"]
        plain = {"regulated_voltage": inf, "dropout": 0.0, "output_limit": inf}
        plain |= {"efficiency": np.nan, "quiescent_current": 0.0}
        columns = {name: np.full(resistance.shape, value) for name, value in plain.items()}
        for node, position in enumerate(layout.node_position.tolist()):
            if position == layout.input_position[node]:
                continue
            for name, value in plain.items():
                columns[name][position] = np.where(absent[node], value, given[name][node])
            least = _LEAST_DROP * full / columns["output_limit"][position]
            own = np.where(absent[node], 0.0, given["output_resistance"][node])
            resistance[position] = np.maximum(own, least)
        return Regulators(*(column[:, None] for column in columns.values()))


def read(fields: Mapping[str, Array]) -> dict[str, Array]:
    """Take the fields out of a mapping, as float64 arrays.

    Parameters
    ----------
    fields : mapping of str to array
        At least `FIELDS`.

    Returns
    -------
    dict of str to array
        `FIELDS` alone; what belongs to nodes has one axis at least.
    """
    missing = [name for name in FIELDS if name not in fields]
    if missing:
        raise SolverError(f"supply tree: missing {', '.join(missing)}; give every declared field")
    values = {name: np.asarray(fields[name], dtype=np.float64) for name in FIELDS}
    return values | {name: np.atleast_1d(values[name]) for name in _BY_NODE}


def indices(name: str, values: Array) -> tuple[int, ...]:
    """Whole numbers of a field that counts nodes.

    Parameters
    ----------
    name : str
        The field.
    values : array
        Its values.

    Returns
    -------
    tuple of int
        The same.
    """
    if values.ndim != 1 or not (values == np.rint(values)).all():
        raise SolverError(
            f"supply tree: {name} has the shape {values.shape} and the values {values!s:.60}; "
            "give whole numbers along one axis"
        )
    return tuple(int(value) for value in values)


def broadcast(shapes: Mapping[str, tuple[int, ...]]) -> tuple[int, ...]:
    """Shape to which all broadcast, or an error that names them.

    Parameters
    ----------
    shapes : mapping of str to tuple of int
        Shapes, and whose they are.

    Returns
    -------
    tuple of int
        Their common shape.
    """
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError:
        listed = ", ".join(f"{name} {shape}" for name, shape in shapes.items() if shape)
        raise SolverError(
            f"supply tree: shapes do not broadcast together: {listed}; "
            "the last axis of a lead's field is the node, of the source's fields there is none"
        ) from None


def own_shape(values: Mapping[str, Array], nodes: int) -> tuple[int, ...]:
    """Axes before the node to which all fields broadcast.

    Parameters
    ----------
    values : mapping of str to array
        The fields.
    nodes : int
        Number of nodes.

    Returns
    -------
    tuple of int
        The axes.
    """
    shape = broadcast({"parent": (nodes,), **{name: values[name].shape for name in _BY_NODE}})
    if shape[-1] != nodes:
        raise SolverError(f"supply tree: fields of {shape[-1]} nodes, but parent has {nodes}")
    source = {name: values[name].shape for name in _SOURCE}
    return broadcast({"the leads": shape[:-1], **source})


def regulated(values: Mapping[str, Array], nodes: int) -> tuple[bool, ...]:
    """Whether each node has a regulator in any case.

    Parameters
    ----------
    values : mapping of str to array
        The fields.
    nodes : int
        Number of nodes.

    Returns
    -------
    tuple of bool
        One for each node; empty if no node has one.
    """
    voltage = values["regulated_voltage"]
    if np.isnan(voltage).all():
        return ()
    some = ~np.isnan(np.broadcast_to(voltage, (*voltage.shape[:-1], nodes)))
    return tuple(bool(column.any()) for column in some.reshape(-1, nodes).T)


def supplied(
    values: Mapping[str, Array], shape: tuple[int, ...], cases: Cases, count: int
) -> Supply:
    """Resistances, loads, source and regulators of some cases, and where they have a meaning.

    Parameters
    ----------
    values : mapping of str to array
        The fields.
    shape : tuple of int
        Axes before node and servo.
    cases : slice or array of int
        Which cases, counted along those axes made one.
    count : int
        How many they are.

    Returns
    -------
    Supply
        Arrays of the shape (node, case) and (case).
    """
    nodes = values["parent"].size
    by_node = {name: cut(values[name], 1, shape, cases) for name in ("load", *_REGULATOR)}
    source = {name: cut(values[name], 0, shape, cases) for name in _SOURCE}
    wires = {name: values[name] for name in _WIRE}
    wide = np.broadcast_shapes((nodes,), *(each.shape for each in wires.values()))
    if prod(wide) <= nodes * count:  # leads differ less than cases do
        resistance, ground = (
            cut(np.broadcast_to(each, wide), 1, shape, cases) for each in _lead_resistance(wires)
        )
    else:
        by_case = {name: cut(each, 1, shape, cases) for name, each in wires.items()}
        resistance, ground = _lead_resistance(by_case)
    load, full, limit = by_node["load"], source["open_circuit_voltage"], source["current_limit"]
    internal = source["internal_resistance"]
    usable = (full > 0.0) & (full < inf) & (limit > 0.0) & (internal >= 0.0) & (internal < inf)
    for amount in (resistance, load):
        if not (amount.min(initial=inf) >= 0.0 and amount.max(initial=-inf) < inf):
            usable = usable & ((amount >= 0.0) & (amount < inf)).all(axis=0)
    regulator = {name: by_node[name] for name in _REGULATOR}
    if not np.isnan(regulator["regulated_voltage"]).all():
        usable = usable & _sane(regulator).all(axis=0)
    if not usable.all():
        resistance, load = (np.where(usable, each, 0.0) for each in (resistance, load))
        harmless = {"open_circuit_voltage": 1.0, "internal_resistance": 0.0, "current_limit": inf}
        source = {name: np.where(usable, source[name], harmless[name]) for name in source}
        regulator = {
            name: np.where(usable, column, np.nan) if name == "regulated_voltage" else column
            for name, column in regulator.items()
        }
    source = {name: _spread(each, (count,)) for name, each in source.items()}
    resistance, ground, load = (
        _spread(each, (nodes, count)) for each in (resistance, ground, load)
    )
    usable = np.array(np.broadcast_to(usable, (count,)))
    return Supply(resistance, ground, load, source, regulator, usable)


def _spread(values: Array, shape: tuple[int, ...]) -> Array:
    """Values along all nodes and cases."""
    return values if values.shape == shape else np.broadcast_to(values, shape)


def _sane(regulator: Mapping[str, Array]) -> Flags:
    """Where regulators have a meaning, or there is none."""
    voltage, dropout, ohms, limit, efficiency, quiescent = regulator.values()
    sane = (voltage > 0.0) & (voltage < inf) & (limit > 0.0)
    for amount in (dropout, ohms, quiescent):
        sane = sane & (amount >= 0.0) & (amount < inf)
    sane = sane & (np.isnan(efficiency) | ((efficiency > 0.0) & (efficiency <= 1.0)))
    return sane | np.isnan(voltage)


def _lead_resistance(values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Loop resistance of each lead and that of its return conductor [ohm].

    nan for a meaningless wire; of a measured one the return conductor has half.
    """
    measured = values["loop_resistance"]
    back, back_contacts = values["return_area"], values["return_contacts"]
    alike = bool(np.isnan(back).all() and np.isnan(back_contacts).all())
    # Beside a measured resistance the wire's own fields may be nan or zero.
    with np.errstate(divide="ignore", invalid="ignore"):
        forth = returning = _conductor(values, values["conductor_area"], values["contacts"])
        if not alike:
            area = np.where(np.isnan(back), values["conductor_area"], back)
            count = np.where(np.isnan(back_contacts), values["contacts"], back_contacts)
            returning = _conductor(values, area, count)
    loop = forth + returning
    if np.isnan(measured).all():
        return loop, returning
    known = ~np.isnan(measured)
    return np.where(known, measured, loop), np.where(known, 0.5 * measured, returning)


def _conductor(values: Mapping[str, Array], area: Array, contacts: Array) -> Array:
    """Resistance of one conductor of each lead with its contacts; nan if meaningless [ohm]."""
    metal = {
        name: values[name]
        for name in ("length", "strand_factor", "resistivity", "temperature_coefficient")
    }
    temperature, ohms = values["copper_temperature"], values["contact_resistance"]
    bare = conductor_resistance(area=area, temperature=temperature, **metal)
    resistance = np.asarray(bare + contacts * ohms)
    sane = [area > 0.0, temperature > 0.0, contacts >= 0.0, ohms >= 0.0]
    sane += [metal[name] >= 0.0 for name in ("length", "strand_factor", "resistivity")]
    for right in sane:
        if not right.all():
            resistance = np.where(right, resistance, np.nan)
    return resistance
