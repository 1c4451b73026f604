"""The supply tree: delivered voltage of servos that share a source and its leads."""

from __future__ import annotations

from math import inf, prod
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import SolverError
from linkcalc_wiring.details import DETAILS, detailed
from linkcalc_wiring.fields import FIELDS, broadcast, indices, own_shape, read, regulated, supplied
from linkcalc_wiring.levels import arrange
from linkcalc_wiring.network import Ends, Loads, search
from linkcalc_wiring.newton import Asked, settle

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from linkcalc_wiring.levels import Array, Circuit

    Flags = NDArray[np.bool_]
    Demand = Callable[[Array], Array]

__all__ = ["Tree"]

_AT_LIMIT = 1e-9  # voltage lost to the current limit, as a share of the open-circuit voltage
_ELEMENTS = 3 * 2**14  # of an array in a block: much larger ones leave the cache
_SEARCHED_AT_ONCE = 256  # cases; a search holds some 2 kB for each servo of each

VALID = 0
"""Reason: the values hold."""
NO_SOLUTION = 1
"""Reason: no voltage of zero or more satisfies the equations."""
UNDEFINED = 2
"""Reason: an input is nan, or has no meaning (a negative resistance)."""


class Tree:
    r"""A tree of two-wire leads behind one source, with servos at its nodes.

    Every lead is its loop resistance, k rho(T) l / A + n R_c of the conductor out
    and the same of the conductor back; every node draws its constant load and
    the demand of the servos that hang on it. The source holds V_oc - R_i I at
    its terminals up to its current limit; when that binds, its current is the
    limit, and its terminal voltage is what the network makes of it, at or below
    V_oc - R_i I. A regulator at a node holds min(V_set, V_in - V_d) - R_o I
    there, again up to a limit; a linear one takes I + I_q from the end of its
    lead, a switching one V I / (eta V_in) + I_q. Of all voltages that satisfy
    this the greatest are the answer, which the supply takes when it is switched
    on first and the load grows from zero; they are the greatest at every node
    at once, but in front of a switching regulator: when its output breaks down
    it takes less power, and leaves more voltage there.

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

        ==============================  =======  ======================================
        parent [1]                      (node)   the node's parent, -1 for one that is
                                                 fed from the source's terminals
        length [m]                      (node)   one-way length of the lead to the node,
                                                 zero or more
        conductor_area [m^2]            (node)   nominal section of the conductor out
        return_area [m^2]               (node)   that of the conductor back; nan: the
                                                 same. Infinite for either one: the lead
                                                 has no such conductor of its own
        resistivity [ohm m]             (node)   of the metal at 20 degrees Celsius
        temperature_coefficient [1/K]   (node)   its rise, as a share of that
        copper_temperature [K]          (node)   temperature of the metal
        strand_factor [1]               (node)   resistance of the stranded conductor
                                                 over that of its nominal section; 1.10
                                                 is common practice
        contacts [1]                    (node)   contacts in the conductor out
        return_contacts [1]             (node)   those in the conductor back; nan: as many
        contact_resistance [ohm]        (node)   resistance of each contact
        loop_resistance [ohm]           (node)   measured from plug to plug, both
                                                 conductors and all contacts included;
                                                 it replaces all that is computed from
                                                 the nine fields above. nan: not measured
        load [A]                        (node)   constant current of other loads there
        regulated_voltage [V]           (node)   output without load of a regulator that
                                                 stands at the end of the lead, more than
                                                 zero; the node is its output. nan: none
        dropout [V]                     (node)   least voltage between input and output
        output_resistance [ohm]         (node)   of the regulator
        output_limit [A]                (node)   its greatest current, infinite for none
        efficiency [1]                  (node)   of a switching one that steps down, power
                                                 out over power in; nan: a linear one
        quiescent_current [A]           (node)   that it takes for itself
        servo_node [1]                  (servo)  the node that each servo hangs on
        open_circuit_voltage [V]        ()       voltage without load, more than zero
        internal_resistance [ohm]       ()       of the source, zero or more
        current_limit [A]               ()       greatest current, infinite for none
        seek_latch_up [1]               ()       1 to tell latch-up, 0 not to look for it
        seek_details [1]                ()       1 to tell details of leads and regulators
        ==============================  =======  ======================================

    Notes
    -----
    The currents are direct and steady: no inductance, no battery that sags
    with time. `demand` is asked for many voltages at once, with more axes in
    front; each servo's current may depend on its own voltage only. It is zero
    or more, and continuous; it is never asked below a millionth of the
    open-circuit voltage.

    A plain function is asked for all cases at once, and some 2 kB are held for
    each servo of each case, so that its owner sends large studies in blocks. A
    demand with `shape` and `part`, as `linkcalc.physics.demand.ServoDemand`
    has them, is taken apart here: blocks stay in the cache, and what is known of
    its slope saves most of the questions.

    A ground that several leads share is a lead of its own without a conductor
    out, from which they hang without conductors back. Pieces in series are
    nodes in series.

    Newton's method converges with the square of the error, three or four steps
    to 1e-10 of the open-circuit voltage; what it finds is proved, or searched
    for by a monotone sequence. Trees with regulators are always
    searched, and so are those whose source reaches its limit. That the search cannot pass the greatest solution is shown for
    linear regulators. For a switching one it is shown while it regulates; at
    its limit or in dropout it is Newton's method on the circuit, and the
    solution found need not be the greatest where there are several.

    Latch-up is told where the supply can also stay at lower voltages: where
    they satisfy the equations too, or where the network asks for more current
    without voltage than can be delivered, so that it cannot rise from there.
    Behind regulators it is looked for from below, which proves nothing: a low
    voltage at which such a supply could stay may be passed over. A caller who asks for many trials does better without it.

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

    >>> absent = dict.fromkeys(("return_area", "return_contacts", "efficiency"), np.nan)
    >>> tree = Tree()(
    ...     {
    ...         **dict.fromkeys(Tree.fields, 0.0),
    ...         **absent,
    ...         "regulated_voltage": np.nan,
    ...         "output_limit": np.inf,
    ...         "parent": np.array([-1, 0, 0]),
    ...         "conductor_area": 0.2e-6,
    ...         "resistivity": 1.7241e-8,
    ...         "temperature_coefficient": 0.00393,
    ...         "copper_temperature": 293.15,
    ...         "strand_factor": 1.0,
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
            "dropout": (0.0, inf),
            "output_resistance": (0.0, inf),
            "efficiency": (0.0, 1.0),
            "quiescent_current": (0.0, inf),
            "copper_temperature": (233.15, 423.15),
            "strand_factor": (1.0, 1.3),
            "contacts": (0.0, inf),
            "contact_resistance": (0.0, inf),
            "load": (0.0, inf),
            "internal_resistance": (0.0, inf),
        }
    )
    fields: Mapping[str, str] = FIELDS

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
            among them. Where the reason is not 0 every value is nan. With
            seek_details also lead_current [A], lead_heat [W], ground_rise [V],
            regulator_input [V] and regulator_heat [W], all (..., node), as
            `linkcalc_wiring.details` describes them.

        Raises
        ------
        linkcalc.errors.SolverError
            A field is missing, the tree is none, or shapes do not fit.
        """
        values = read(fields)
        parent = indices("parent", values["parent"])
        servo_node = indices("servo_node", values["servo_node"])
        own = own_shape(values, len(parent))
        tree = _Tree(values, parent, servo_node, own, demand)
        answers = _empty(tree)
        for start in range(0, tree.count, tree.at_once):
            tree.solve(slice(start, min(start + tree.at_once, tree.count)), answers)
        return {
            name: each.reshape((*tree.shape, *each.shape[1:])) for name, each in answers.items()
        }


def _empty(tree: _Tree) -> dict[str, NDArray[Any]]:
    """Arrays for the answers, the cases along the first axis."""
    count, nodes, servos = tree.count, len(tree.parent), len(tree.servo_node)
    answers: dict[str, NDArray[Any]] = {
        "node_voltage": np.empty((count, nodes)),
        "servo_voltage": np.empty((count, servos)),
        "servo_current": np.empty((count, servos)),
        "source_current": np.empty(count),
        "source_voltage": np.empty(count),
        "limited": np.empty(count, dtype=np.bool_),
        "latch_up": np.empty(count, dtype=np.bool_),
        "reason": np.empty(count, dtype=np.int_),
    }
    if tree.details:
        answers |= {name: np.empty((count, nodes)) for name in DETAILS}
    return answers


class _Tree:
    """One call: fields and demand, of which blocks of cases are solved in turn."""

    def __init__(
        self,
        values: dict[str, Array],
        parent: tuple[int, ...],
        servo_node: tuple[int, ...],
        own: tuple[int, ...],
        demand: Demand,
    ) -> None:
        self.values, self.parent, self.servo_node = values, parent, servo_node
        self.regulated = regulated(values, len(parent))
        self.everywhere = bool(np.any(values["seek_latch_up"]))
        self.details = bool(np.any(values["seek_details"]))
        self.demand = demand
        # Only a demand that can be taken apart can be asked for some cases alone.
        self.part = getattr(demand, "part", None)
        lead = self._demand_shape(own)
        self.shape = broadcast({"the fields": own, "the demand": lead})
        self.count = prod(self.shape)
        widest = max(len(parent), len(servo_node), 1)
        self.at_once = max(1, _ELEMENTS // widest if self.part else self.count)

    def _demand_shape(self, own: tuple[int, ...]) -> tuple[int, ...]:
        """Axes before the servo that the demand has of its own."""
        servos = len(self.servo_node)
        if self.part:
            return tuple(self.demand.shape)  # type: ignore[attr-defined]
        full = self.values["open_circuit_voltage"]
        voltage = np.broadcast_to(full, own)[..., None].repeat(servos, axis=-1)
        current = np.shape(self.demand(voltage))
        if current and current[-1] not in {1, servos}:
            raise SolverError(f"supply tree: demand has {current[-1]} servos, servo_node {servos}")
        return current[:-1]

    def solve(self, cases: slice, answers: dict[str, NDArray[Any]]) -> None:
        """Solve a block of cases, and put its answers where they belong."""
        supply = supplied(self.values, self.shape, cases, cases.stop - cases.start)
        joined = (supply.resistance == 0.0).all(axis=1)
        layout = arrange(self.parent, tuple(joined.tolist()), self.servo_node, self.regulated)
        circuit, constant = supply.circuit(layout)
        if self.part is None:
            ends, meant = self._asked(circuit, constant, self._ask, supply.usable)
        else:
            ends, meant = self._parted(circuit, constant, cases.start, supply.usable)
        voltage, current = _answer(circuit, ends, meant & supply.usable, cases, answers)
        if self.details:
            told = detailed(supply, circuit, self.parent, self.servo_node, (voltage, current))
            for name, values in told.items():
                answers[name][cases] = values.T

    def _parted(
        self, circuit: Circuit, constant: Array, start: int, usable: Flags
    ) -> tuple[Ends, Flags]:
        """Solve by what is known about the demand, and what that leaves by asking for it."""
        part = self.part
        if part is None:
            raise ValueError("a demand that cannot be taken apart")
        cases = slice(start, start + usable.size)
        limit = circuit.current_limit
        if circuit.regulators is None:
            own = part(self.shape, cases)
            free = circuit._replace(current_limit=None)
            ends, proved = settle(free, constant, own.line, own.current, lambda *_: own.least_slope)
            if limit is not None:
                # A limit that is not reached takes nothing from the greatest voltages. Lower
                # ones at the limit are ruled out where no demand falls with its voltage.
                proved &= ends.total <= limit
                proved &= (own.least_slope >= 0.0).all(axis=0) | (not self.everywhere)
        else:
            ends = _nothing(circuit, len(self.servo_node))
            proved = np.zeros(usable.shape, dtype=np.bool_)
        meant = np.array(proved)
        left = np.flatnonzero(usable & ~proved)
        for first in range(0, left.size, _SEARCHED_AT_ONCE):
            some = left[first : first + _SEARCHED_AT_ONCE]
            few = part(self.shape, start + some)

            def ask(voltage: Array, few: Any = few) -> Array:
                return np.asarray(few.current(voltage.swapaxes(1, 2)).swapaxes(1, 2))

            sure = np.ones(some.shape, dtype=np.bool_)
            found, meant[some] = self._asked(circuit.some(some), constant[:, some], ask, sure)
            for whole, piece in zip(ends, found, strict=True):
                whole[..., some] = piece
        return ends, meant

    def _ask(self, voltage: Array) -> Array:
        """Ask for the demand, with the servo last as its owner has it."""
        points, servos, starts, cases = voltage.shape
        outside = voltage.transpose(0, 2, 3, 1).reshape(points, starts, *self.shape, servos)
        current = _held(self.demand, outside)
        inside = current.reshape(points, starts, cases, servos).transpose(0, 3, 1, 2)
        return np.ascontiguousarray(inside)

    def _asked(
        self, circuit: Circuit, constant: Array, ask: Demand, usable: Flags
    ) -> tuple[Ends, Flags]:
        """Solve by Newton's method, and search where it proves nothing; and where it means anything."""
        quick = circuit.current_limit is None and circuit.regulators is None
        if quick:
            servos, full = len(self.servo_node), circuit.open_circuit_voltage
            known = Asked(ask, servos, full, everywhere=self.everywhere)
            sure, proved = settle(circuit, constant, known.line, known.current, known.least_slope)
            if (proved | ~usable).all():
                return sure, usable
        ends, meant = search(circuit, Loads(constant[:, None], ask), usable)
        if quick:
            ends = Ends(
                *(np.where(proved, one, other) for one, other in zip(sure, ends, strict=True))
            )
            meant |= proved
        return ends, meant


def _nothing(circuit: Circuit, servos: int) -> Ends:
    """Answers of which nothing is known yet."""
    cases = circuit.open_circuit_voltage.size
    voltage, current = np.full((circuit.layout.positions, cases), np.nan), np.empty((servos, cases))
    no = np.zeros((2, cases), dtype=np.bool_)
    return Ends(voltage, current, np.empty(cases), no[0], no[1])


def _held(demand: Demand, voltage: Array) -> Array:
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


def _answer(
    circuit: Circuit, ends: Ends, usable: Flags, cases: slice, answers: dict[str, NDArray[Any]]
) -> tuple[Array, Array]:
    """Put the answers of a block into the caller's order and shape, nan where there is none.

    Return voltages and currents, shape (position, case) and (servo, case).
    """
    layout, full = circuit.layout, circuit.open_circuit_voltage
    valid = usable & ends.solved
    voltage, current, total = ends.voltage, ends.current, ends.total
    answers["reason"][cases] = VALID
    if not valid.all():
        voltage, current, total = (
            np.where(valid, values, np.nan) for values in (voltage, current, total)
        )
        lacking = np.where(usable, np.where(valid, VALID, NO_SOLUTION), UNDEFINED)
        answers["reason"][cases] = lacking
    lost = full - circuit.resistance[0, 0] * total - voltage[0]
    answers["node_voltage"][cases] = voltage.take(layout.node_position, axis=0).T
    answers["servo_voltage"][cases] = voltage.take(layout.servo_position, axis=0).T
    answers["servo_current"][cases] = current.T
    answers["source_current"][cases] = total
    answers["source_voltage"][cases] = voltage[0]
    answers["limited"][cases] = lost > _AT_LIMIT * full
    answers["latch_up"][cases] = valid & ends.latch_up
    return voltage, current
