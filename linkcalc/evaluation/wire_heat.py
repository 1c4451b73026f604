"""How warm the copper of the leads gets, and what that does to their resistance."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.evaluate import evaluate, weakened
from linkcalc.evaluation.governing import PLAIN
from linkcalc.evaluation.supply import every_state
from linkcalc.physics.wire import bundle_diameter, insulated_diameter
from linkcalc.physics.wire_heating import steady_temperature

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages

    Floats = NDArray[np.float64]

__all__ = ["RULE", "Copper", "at_work", "copper", "with_warm_copper"]

RULE = (
    "copper temperatures are those that the current at work would bring if it lasted: heat shed to "
    "still air by natural convection around a horizontal cylinder (Churchill and Chu 1975, from "
    "memory) and radiation; within a bundle 0.1 W/(m K) (common practice, no source)"
)
"""What the temperatures stand on."""

_CORE = 0.1  # across a bundle [W/(m K)]; common practice, no source
_CLOSE = 1e-6  # [K]
_ROUNDS = 60
_POWER, _SIGNAL = 2, 1  # wires of a lead


class Copper(NamedTuple):
    """Temperature of the copper under the current at work, if that lasts.

    Attributes
    ----------
    free, bundle : ndarray, shape (..., node)
        Of a single wire in free air, and in the bundle of its lead or leads; nan where no wire
        is known, and where it would be more than 400 K above the air [K].
    """

    free: Floats
    bundle: Floats


def copper(inputs: Inputs, current: Floats) -> Copper:
    """Tell how warm the copper gets.

    Parameters
    ----------
    inputs : Inputs
        The supply is used; its file states the temperature of the air.
    current : ndarray, shape (..., node)
        In the lead to each node [A].

    Returns
    -------
    Copper
        The thinner of the two conductors counts for both.

    Raises
    ------
    ValueError
        The file states no temperature of the air.
    """
    fields, warming = inputs.supply.fields, inputs.supply.warming
    if warming is None:
        raise ValueError("no temperature of the air is stated")
    out, back = fields["conductor_area"], fields["return_area"]
    back = np.where(np.isnan(back), out, back)
    wires = np.stack([insulated_diameter(area) for area in (out, back, out)], axis=-1)
    many = np.sqrt(warming.bundled)[..., None]  # n leads alike: the sum of squares is n-fold
    one = {
        "current": np.where(warming.wired, current, np.nan),
        "area": np.minimum(out, back),
        "resistivity": fields["resistivity"],
        "temperature_coefficient": fields["temperature_coefficient"],
        "strand_factor": fields["strand_factor"],
        "air_temperature": np.asarray(warming.air_temperature)[..., None],
    }
    free = steady_temperature(outer_diameter=wires.min(-1), **one)
    bundle = steady_temperature(
        outer_diameter=bundle_diameter(wires * many),
        conductors=_POWER * warming.bundled,
        core_conductivity=_CORE,
        **one,
    )
    return Copper(np.asarray(free), np.asarray(bundle))


def at_work(inputs: Inputs, factors: Factors, move: Floats) -> Floats:
    """Return the current in every lead with all servos at their largest load.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    factors : Factors
        With the basis axis.
    move : ndarray, shape (basis, ..., case, run)
        Largest torque that each servo of a run needs to move [N m].

    Returns
    -------
    ndarray, shape (..., case, node)
        For the verdict; nan where the supply solver tells none [A].
    """
    solved = every_state(inputs, weakened(inputs, factors), move, factors.torque)
    if "lead_current" not in solved:
        return np.full(solved["node_voltage"].shape[2:], np.nan)
    current: Floats = solved["lead_current"][0, 0]
    return current


def with_warm_copper(inputs: Inputs, factors: Factors, linkages: Linkages) -> Inputs:
    """Return the inputs with copper as warm as its own current makes it, where the file asks.

    Parameters
    ----------
    inputs : Inputs
        The aircraft.
    factors : Factors
        With the basis axis.
    linkages : Linkages
        Made from the inputs.

    Returns
    -------
    Inputs
        As they are where the file does not ask. Otherwise every lead has the temperature of
        its bundle in the case that warms it most, nan where none is steady.

    Notes
    -----
    Warm copper has more resistance, which changes the current: both are found in turns,
    until they stand to a millionth of a kelvin. Loads do not depend on the supply.
    """
    warming = inputs.supply.warming
    if warming is None or not inputs.supply.solver or not warming.computed.any():
        return inputs
    move = evaluate(inputs, factors, linkages, (inputs.basis, PLAIN)).governing.move
    settled: Any = False
    for _ in range(_ROUNDS):
        held = inputs.supply.fields["copper_temperature"]
        found = copper(inputs, at_work(inputs, factors, move)).bundle
        found = found.max(axis=-2, keepdims=found.ndim > 2)
        warm = np.where(warming.computed & ~np.asarray(settled), found, held)
        inputs = _at(inputs, warm)
        moved = np.abs(warm - held).max(-1, keepdims=True)
        settled = ~(moved > _CLOSE)  # nan: there is no steady temperature
        if settled.all():
            return inputs
    return _at(inputs, np.where(warming.computed & ~settled, np.nan, held))


def _at(inputs: Inputs, temperature: Floats) -> Inputs:
    fields = {**inputs.supply.fields, "copper_temperature": temperature}
    return inputs._replace(supply=inputs.supply._replace(fields=fields))
