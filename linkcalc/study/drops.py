"""Where the volts go between the source and every servo, element by element."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.checking import settled
from linkcalc.errors import InputError, told
from linkcalc.evaluation.evaluate import evaluate, prepare, weakened
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.governing import PLAIN
from linkcalc.evaluation.supply import every_state
from linkcalc.evaluation.supply_fields import node_names
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.physics.conductors import conductor_resistance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft

__all__ = ["ELEMENTS", "STATES", "Drop", "Path", "voltage_drops"]

STATES = ("work", "limit", "stalled")
"""All servos at their largest load, the run's own servos at their limit, all stalled."""

ELEMENTS = (
    "internal resistance", "current limit", "conductor out", "conductor back", "contacts",
    "measured lead", "lead", "regulator",
)  # fmt: skip
"""What a voltage can be lost in; *lead* stands for a whole lead where a solver tells no currents."""


class Drop(NamedTuple):
    """Volts lost in one element.

    Attributes
    ----------
    place : str
        ``"source"``, or the lead by name.
    element : str
        One of `ELEMENTS`.
    voltage : float
        Lost there, negative where a current flows backwards; nan where there is no solution [V].
    """

    place: str
    element: str
    voltage: float


class Path(NamedTuple):
    """The way from the source to the servos of one run in one case.

    Attributes
    ----------
    run, case : str
        By name.
    open_circuit, delivered : float
        Voltage of the source without load, and at the servo's plug [V].
    drops : tuple of Drop
        In order from the source; they add up to the difference of the two.
    """

    run: str
    case: str
    open_circuit: float
    delivered: float
    drops: tuple[Drop, ...]


def voltage_drops(aircraft: Aircraft, *, state: str = "limit") -> tuple[Path, ...]:
    """Tell where the volts go between the source and every servo.

    Parameters
    ----------
    aircraft : Aircraft
        The aircraft.
    state : str
        ``"work"``, all servos at their largest load; ``"limit"``, the run's own at their
        limit and the others at their load with its factor, on which the torque margin
        stands; or ``"stalled"``, all stalled.

    Returns
    -------
    tuple of Path
        For every run in every case in which one of its servos works, case by case.

    Raises
    ------
    InputError
        There is no such state.
    InputFaults
        The aircraft cannot be evaluated.
    SolverError
        A solver is missing or broken.

    Notes
    -----
    Ohm's law for each element with the current that the supply solver tells for it; a
    regulator takes the difference of its two sides. The verdict's line of the air load
    and the factors of the file are used.

    Examples
    --------
    >>> from linkcalc import read_aircraft
    >>> path = voltage_drops(read_aircraft("examples/sandpiper_rewired.toml"))[0]
    >>> lost = sum(drop.voltage for drop in path.drops)
    >>> abs(path.open_circuit - lost - path.delivered) < 1e-8
    True
    """
    if state not in STATES:
        expected = f"one of {', '.join(STATES)}"
        raise InputError("state", told(state), expected, "Choose one of the three.")
    aircraft = settled(aircraft)
    inputs = gather(aircraft).inputs
    stacked = both(factors(aircraft.factors), 3)
    linkages = prepare(inputs)
    inputs = with_warm_copper(inputs, stacked, linkages)
    found = evaluate(inputs, stacked, linkages, (inputs.basis, PLAIN))
    curves = weakened(inputs, stacked)
    solved = every_state(inputs, curves, found.governing.move, stacked.torque)
    tree = _Tree(inputs, solved, node_names(aircraft))
    return tuple(
        tree.path(STATES.index(state), c, r, (run.name, case.name))
        for c, case in enumerate(aircraft.cases)
        for r, run in enumerate(aircraft.runs)
        if inputs.cases.live[c, r] > 0
    )


class _Tree:
    """A supply whose states are solved, shape (state, basis, case, node or servo)."""

    def __init__(self, inputs: Inputs, solved: dict[str, Any], names: tuple[str, ...]) -> None:
        self.inputs, self.solved, self.names = inputs, solved, names
        shape = solved["node_voltage"].shape
        self.fields = {
            name: np.broadcast_to(value, shape[-2:])
            for name, value in inputs.supply.fields.items()
            if name not in {"parent", "servo_node"}
            and np.ndim(value)
            and np.shape(value)[-1] == shape[-1]
        }

    def path(self, state: int, c: int, r: int, names: tuple[str, str]) -> Path:
        """Return the way to a run's first servo."""
        supply = self.inputs.supply
        place = ((0, 1 + r, -1)[state], 0, c)
        volts = self.solved["node_voltage"][place]
        node = int(supply.fields["servo_node"][self.inputs.servos.first[r]])
        parent, way = supply.fields["parent"], []
        while node > 0:
            way.append(node)
            node = int(parent[node])
        drops = [*self._source(place, float(volts[0]))]
        for node in reversed(way):
            drops += self._lead(place, node, float(volts[parent[node]]), float(volts[node]))
        servo = int(way[0]) if way else 0
        source = float(supply.fields["open_circuit_voltage"])
        return Path(*names, source, float(volts[servo]), tuple(drops))

    def _source(self, place: tuple[int, ...], bus: float) -> Iterator[Drop]:
        fields = self.inputs.supply.fields
        source = float(fields["open_circuit_voltage"])
        inside = float(fields["internal_resistance"] * self.solved["source_current"][place])
        yield Drop("source", "internal resistance", inside)
        if source - inside - bus > 1e-9 * source:
            yield Drop("source", "current limit", source - inside - bus)

    def _lead(
        self, place: tuple[int, ...], node: int, above: float, below: float
    ) -> Iterator[Drop]:
        name, case = self.names[node], place[-1]
        if "lead_current" not in self.solved:
            yield Drop(name, "lead", above - below)
            return
        current = float(self.solved["lead_current"][place][node])
        own = {key: float(value[case, node]) for key, value in self.fields.items()}
        if not np.isnan(own["loop_resistance"]):
            yield Drop(name, "measured lead", own["loop_resistance"] * current)
        else:
            back = own["return_area"]
            areas = (own["conductor_area"], own["conductor_area"] if np.isnan(back) else back)
            for element, area in zip(("conductor out", "conductor back"), areas, strict=True):
                yield Drop(name, element, _resistance(own, area) * current)
            contacts = 2 * own["contacts"] * own["contact_resistance"]
            if contacts:
                yield Drop(name, "contacts", contacts * current)
        entry = float(self.solved["regulator_input"][place][node])
        if not np.isnan(own["regulated_voltage"]):
            yield Drop(name, "regulator", entry - below)


def _resistance(own: dict[str, float], area: float) -> float:
    return float(
        conductor_resistance(
            length=own["length"],
            area=area,
            temperature=own["copper_temperature"],
            strand_factor=own["strand_factor"],
            resistivity=own["resistivity"],
            temperature_coefficient=own["temperature_coefficient"],
        )
    )
