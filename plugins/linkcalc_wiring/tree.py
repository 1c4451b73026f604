"""The supply tree: delivered voltage of servos that share a source and its leads."""

from __future__ import annotations

from math import inf, prod
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.errors import SolverError
from linkcalc_wiring.conductors import loop_resistance
from linkcalc_wiring.levels import Circuit, arrange
from linkcalc_wiring.network import Ends, Loads, search
from linkcalc_wiring.newton import settle

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from linkcalc_wiring.levels import Array, Layout

    Flags = NDArray[np.bool_]
    Demand = Callable[[Array], Array]

__all__ = ["Tree"]

_LEAST_DROP = 1e-11  # inside a source at its limit, as a share of the open-circuit voltage
_AT_LIMIT = 1e-9  # voltage lost to the current limit, as a share of the open-circuit voltage

_WIRE = (
    "length",
    "conductor_area",
    "copper_temperature",
    "strand_factor",
    "contacts",
    "contact_resistance",
)
_SOURCE = ("open_circuit_voltage", "internal_resistance", "current_limit")

VALID = 0
"""Reason: the values hold."""
NO_SOLUTION = 1
"""Reason: no voltage of zero or more satisfies the equations."""
UNDEFINED = 2
"""Reason: an input is nan, or has no meaning (a negative resistance)."""


class Tree:
    r"""A tree of two-wire leads behind one source, with servos at its nodes.

    Every lead is its loop resistance, r = 2 (k rho(T) l / A + n R_c), every
    node draws its constant load and the demand of the servos that hang on it.
    The source holds V_oc - R_i I at its terminals up to its current limit;
    when that binds, its current is the limit, and its terminal voltage is what
    the network makes of it, at or below V_oc - R_i I. Of all voltages that
    satisfy this the greatest are the answer, which the supply takes when it
    is switched on first and the load grows from zero; they are the greatest
    at every node at once.

    Attributes
    ----------
    name, description, sources
        What the solver is called, what it does, and where it is from.
    validity
        Least and greatest value of a field within which the method stands, in
        the unit of the field.
    fields
        Fields needed, with the unit of each. The last axis of a field is the
        node or the servo, axes before it broadcast together; what belongs to
        the source has those axes only.

        =========================  ========  =======================================
        parent [1]                 (node)    the node's parent, -1 for one that is
                                             fed from the source's terminals
        length [m]                 (node)    one-way length of the lead to the node,
                                             zero or more
        conductor_area [m^2]       (node)    nominal section of each conductor
        copper_temperature [K]     (node)    temperature of the copper
        strand_factor [1]          (node)    resistance of the stranded conductor
                                             over that of its nominal section; 1.10
                                             is common practice
        contacts [1]               (node)    contacts in each of both conductors
        contact_resistance [ohm]   (node)    resistance of each contact
        loop_resistance [ohm]      (node)    measured from plug to plug, both
                                             conductors and all contacts included;
                                             it replaces all that is computed from
                                             the six fields above. nan: not measured
        load [A]                   (node)    constant current of other loads there
        servo_node [1]             (servo)   the node that each servo hangs on
        open_circuit_voltage [V]   ()        voltage without load, more than zero
        internal_resistance [ohm]  ()        of the source, zero or more
        current_limit [A]          ()        greatest current, infinite for none
        seek_latch_up [1]          ()        1 to tell latch-up, 0 not to look for it
        =========================  ========  =======================================

    Notes
    -----
    The currents are direct and steady: no inductance, no battery that sags
    with time. `demand` is asked for many voltages at once, with more axes in
    front; each servo's current may depend on its own voltage only. It is zero
    or more, and continuous; it is never asked below a millionth of the
    open-circuit voltage. Some 2 kB are held for each servo of each case, so
    that large studies go through in blocks.

    Latch-up is told where the supply can also stay at lower voltages: where
    they satisfy the equations too, or where the network asks for more current
    without voltage than can be delivered, so that it cannot rise from there.
    A caller who asks for many trials does better without it.

    References
    ----------
    .. [1] Kirchhoff's laws; how they are solved is described in
       `linkcalc_wiring.newton` and `linkcalc_wiring.network`.
    .. [2] Copper Wire Tables, National Bureau of Standards, Circular 31 and
       Handbook 100.

    Examples
    --------
    A receiver pack, a bus without length, and two leads of half an ohm with a
    servo on each that draws a constant current:

    >>> tree = Tree()(
    ...     {
    ...         "parent": np.array([-1, 0, 0]),
    ...         "length": np.array([0.0, 1.0, 1.0]),
    ...         "conductor_area": 0.2e-6,
    ...         "copper_temperature": 293.15,
    ...         "strand_factor": 1.0,
    ...         "contacts": 0.0,
    ...         "contact_resistance": 0.0,
    ...         "loop_resistance": np.array([np.nan, 0.5, 0.5]),
    ...         "load": np.array([0.1, 0.0, 0.0]),
    ...         "servo_node": np.array([1, 2]),
    ...         "open_circuit_voltage": 6.0,
    ...         "internal_resistance": 0.1,
    ...         "current_limit": np.inf,
    ...         "seek_latch_up": 1.0,
    ...     },
    ...     lambda voltage: np.broadcast_to([0.4, 0.5], voltage.shape),
    ... )
    >>> tree["node_voltage"]  # 6.0 V - 0.1 ohm x 1.0 A at the bus
    array([5.9 , 5.7 , 5.65])
    """

    name: str = "tree"
    description: str = "two-wire leads in a tree behind one source, servos by their own curves"
    sources: tuple[str, ...] = (
        "Kirchhoff's and Ohm's laws",
        "Copper Wire Tables, National Bureau of Standards, Circular 31 and Handbook 100 (resistivity of copper)",
        "J. M. Ortega and W. C. Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables, 1970, chapter 13 (monotone convergence; from memory)",
    )
    # That the copper's straight line holds from -40 to 150 degrees Celsius, and that stranding
    # costs no more than 30 %, is common practice, no source.
    validity: Mapping[str, tuple[float, float]] = MappingProxyType(
        {
            "length": (0.0, inf),
            "conductor_area": (1e-10, inf),
            "copper_temperature": (233.15, 423.15),
            "strand_factor": (1.0, 1.3),
            "contacts": (0.0, inf),
            "contact_resistance": (0.0, inf),
            "load": (0.0, inf),
            "internal_resistance": (0.0, inf),
        }
    )
    fields: Mapping[str, str] = MappingProxyType(
        {
            "parent": "1",
            "length": "m",
            "conductor_area": "m^2",
            "copper_temperature": "K",
            "strand_factor": "1",
            "contacts": "1",
            "contact_resistance": "ohm",
            "loop_resistance": "ohm",
            "load": "A",
            "servo_node": "1",
            "open_circuit_voltage": "V",
            "internal_resistance": "ohm",
            "current_limit": "A",
            "seek_latch_up": "1",
        }
    )

    def __call__(self, fields: Mapping[str, Array], demand: Demand) -> Mapping[str, NDArray[Any]]:
        """Voltage and current at every node and servo.

        Parameters
        ----------
        fields : mapping of str to array
            Values of `fields`, in their units. Others are ignored.
        demand : callable
            Current of every servo [A] at the voltage at its node [V], both of
            the shape (..., servo).

        Returns
        -------
        mapping of str to array
            node_voltage (..., node) [V], servo_voltage (..., servo) [V],
            servo_current (..., servo) [A], source_current (...) [A],
            source_voltage (...) at the terminals [V], limited (...) whether
            the current limit binds, latch_up (...) whether the supply can also
            stay at lower voltages, and reason (...): 0 valid, 1 no voltage of
            zero or more satisfies the equations to 1e-10 of the open-circuit
            voltage, 2 an input is nan or has no meaning, a negative demand
            among them. Where the reason is not 0 every value is nan.

        Raises
        ------
        linkcalc.errors.SolverError
            A field is missing, the tree is none, or shapes do not fit.
        """
        values = _read(fields, self.fields)
        parent = _indices("parent", values["parent"])
        servo_node = _indices("servo_node", values["servo_node"])
        supply = _supply(values, len(parent))
        joined = (supply.resistance == 0.0).reshape(-1, len(parent)).all(axis=0)
        layout = arrange(parent, tuple(joined.tolist()), servo_node)
        lead = _lead(supply, demand, len(servo_node))
        circuit, constant = _flattened(supply, layout, lead)

        def asked(voltage: Array) -> Array:
            """Ask for the demand, with the servo last as its owner has it."""
            points, servos, starts, cases = voltage.shape
            outside = voltage.transpose(0, 2, 3, 1).reshape(points, starts, *lead, servos)
            current = _answer(demand, outside)
            inside = current.reshape(points, starts, cases, servos).transpose(0, 3, 1, 2)
            return np.ascontiguousarray(inside)

        usable = np.broadcast_to(supply.usable, lead).reshape(-1)
        everywhere = bool(np.any(values["seek_latch_up"]))
        ends, usable = _solved(circuit, Loads(constant, asked), usable, everywhere=everywhere)
        return _results(circuit, ends, usable, lead)


def _solved(
    circuit: Circuit, loads: Loads, usable: Flags, *, everywhere: bool
) -> tuple[Ends, Flags]:
    """Solve by Newton's method, and search where it proves nothing; and where there is a meaning."""
    if circuit.current_limit is None:
        quick, proved = settle(circuit, loads, everywhere=everywhere)
        if (proved | ~usable).all():
            return quick, usable
    ends, meant = search(circuit, loads, usable)
    if circuit.current_limit is None:
        ends = Ends(*(np.where(proved, one, other) for one, other in zip(quick, ends, strict=True)))
        meant |= proved
    return ends, usable & meant


class _Supply(NamedTuple):
    """Fields that were read, with meaningless values replaced by harmless ones."""

    resistance: Array
    """Loop resistance of each lead, shape (..., node) [ohm]."""
    load: Array
    """Constant load at each node, shape (..., node) [A]."""
    open_circuit_voltage: Array
    """Shape (...) [V]."""
    internal_resistance: Array
    """Shape (...) [ohm]."""
    current_limit: Array
    """Shape (...) [A]."""
    usable: Flags
    """Where nothing had to be replaced, shape (...)."""


def _read(fields: Mapping[str, Array], needed: Mapping[str, str]) -> dict[str, Array]:
    """Copy the needed fields out of a mapping, as float64 arrays."""
    missing = [name for name in needed if name not in fields]
    if missing:
        raise SolverError(f"supply tree: missing {', '.join(missing)}; give every declared field")
    return {name: np.asarray(fields[name], dtype=np.float64) for name in needed}


def _indices(name: str, values: Array) -> tuple[int, ...]:
    """Whole numbers of a field that counts nodes."""
    if values.ndim != 1 or not (values == np.rint(values)).all():
        raise SolverError(
            f"supply tree: {name} has the shape {values.shape} and the values {values!s:.60}; "
            "give whole numbers along one axis"
        )
    return tuple(int(value) for value in values)


def _broadcast(shapes: Mapping[str, tuple[int, ...]]) -> tuple[int, ...]:
    """Shape to which all broadcast, or an error that names them."""
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError:
        listed = ", ".join(f"{name} {shape}" for name, shape in shapes.items() if shape)
        raise SolverError(
            f"supply tree: shapes do not broadcast together: {listed}; "
            "the last axis of a lead's field is the node, of the source's fields there is none"
        ) from None


def _supply(values: Mapping[str, Array], nodes: int) -> _Supply:
    """Resistances, loads and source, and where all of them have a meaning."""
    along = {name: values[name].shape for name in (*_WIRE, "loop_resistance", "load")}
    shape = _broadcast({"parent": (nodes,), **along})
    if shape[-1] != nodes:
        raise SolverError(f"supply tree: fields of {shape[-1]} nodes, but parent has {nodes}")
    source = {name: values[name] for name in _SOURCE}
    _broadcast({"the leads": shape[:-1], **{name: source[name].shape for name in _SOURCE}})
    resistance = np.broadcast_to(_lead_resistance(values), shape)
    load = np.broadcast_to(values["load"], shape)
    voltage, internal, limit = source.values()
    usable = ((resistance >= 0.0) & (resistance < inf) & (load >= 0.0) & (load < inf)).all(axis=-1)
    usable = usable & (voltage > 0.0) & (voltage < inf) & (limit > 0.0)
    usable = usable & (internal >= 0.0) & (internal < inf)
    return _Supply(
        resistance=np.where(usable[..., None], resistance, 0.0),
        load=np.where(usable[..., None], load, 0.0),
        open_circuit_voltage=np.where(usable, voltage, 1.0),
        internal_resistance=np.where(usable, internal, 0.0),
        current_limit=np.where(usable, limit, inf),
        usable=usable,
    )


def _lead_resistance(values: Mapping[str, Array]) -> Array:
    """Loop resistance of each lead, measured or computed; nan for a meaningless wire [ohm]."""
    wire = {name: values[name] for name in _WIRE}
    sane = (wire["conductor_area"] > 0.0) & (wire["copper_temperature"] > 0.0)
    for name in ("length", "strand_factor", "contacts", "contact_resistance"):
        sane = sane & (wire[name] >= 0.0)
    # Beside a measured resistance the wire's own fields may be nan or zero.
    with np.errstate(divide="ignore", invalid="ignore"):
        computed = np.where(sane, loop_resistance(**wire), np.nan)
    measured = values["loop_resistance"]
    return np.where(np.isnan(measured), computed, measured)


def _answer(demand: Demand, voltage: Array) -> Array:
    """Ask for the demand and hold it to the shape that was asked for [A]."""
    current = np.asarray(demand(voltage), dtype=np.float64)
    if current.shape == voltage.shape:
        return current
    try:
        return np.broadcast_to(current, voltage.shape)
    except ValueError:
        raise SolverError(
            f"supply tree: demand answered voltages of shape {voltage.shape} with currents of "
            f"shape {current.shape}; give one current for each voltage, the servo last"
        ) from None


def _lead(supply: _Supply, demand: Demand, servos: int) -> tuple[int, ...]:
    """Axes before node and servo, those of the demand included."""
    own = supply.usable.shape
    voltage = np.broadcast_to(supply.open_circuit_voltage, own)[..., None].repeat(servos, axis=-1)
    current = np.shape(demand(voltage))
    if current and current[-1] not in (1, servos):
        raise SolverError(f"supply tree: demand has {current[-1]} servos, servo_node {servos}")
    return _broadcast({"the fields": own, "the demand": current[:-1]})


def _flattened(supply: _Supply, layout: Layout, lead: tuple[int, ...]) -> tuple[Circuit, Array]:
    """Circuit and constant loads, with the leading axes made one and the nodes sorted."""
    cases, nodes = prod(lead), len(layout.node_position)

    def by_node(values: Array) -> Array:
        return np.broadcast_to(values, (*lead, nodes)).reshape(cases, nodes).T

    def by_case(values: Array) -> Array:
        return np.broadcast_to(values, lead).reshape(cases)

    # Nodes that share a position add their loads; only the first has a lead with resistance.
    resistance, load = np.zeros((2, layout.positions, 1, cases))
    np.add.at(resistance[:, 0], layout.node_position, by_node(supply.resistance))
    np.add.at(load[:, 0], layout.node_position, by_node(supply.load))
    limit, full = by_case(supply.current_limit), by_case(supply.open_circuit_voltage)
    # With a limit the source's line needs a slope, if only one that nobody can measure.
    resistance[0, 0] = np.maximum(by_case(supply.internal_resistance), _LEAST_DROP * full / limit)
    circuit = Circuit(
        layout=layout,
        resistance=resistance,
        open_circuit_voltage=full,
        current_limit=limit if (limit < inf).any() else None,
    )
    return circuit, load


def _results(
    circuit: Circuit, ends: Ends, usable: Flags, lead: tuple[int, ...]
) -> dict[str, NDArray[Any]]:
    """Put the answers into the caller's order and shape, nan where there is none."""
    valid = usable & ends.solved
    voltage = np.where(valid, ends.voltage, np.nan)
    current = np.where(valid, ends.current, np.nan)
    total = np.where(valid, ends.total, np.nan)
    full = circuit.open_circuit_voltage
    lost = full - circuit.resistance[0, 0] * total - voltage[0]

    def last(values: NDArray[Any]) -> NDArray[Any]:
        return np.ascontiguousarray(values.T).reshape(*lead, len(values))

    return {
        "node_voltage": last(voltage[circuit.layout.node_position]),
        "servo_voltage": last(voltage[circuit.layout.servo_position]),
        "servo_current": last(current),
        "source_current": total.reshape(lead),
        "source_voltage": voltage[0].reshape(lead),
        "limited": (lost > _AT_LIMIT * full).reshape(lead),
        "latch_up": (valid & ends.latch_up).reshape(lead),
        "reason": np.where(usable, np.where(valid, VALID, NO_SOLUTION), UNDEFINED).reshape(lead),
    }
