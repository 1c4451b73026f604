"""What a report says of the supply: who goes without volts, and how warm the copper gets."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkcalc.results import Value

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.supply import Delivered, Inrush
    from linkcalc.evaluation.wire_heat import Copper
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]

__all__ = ["brown_outs", "copper_temperatures"]

_TOO_HOT = "{}: no steady temperature up to 400 K above the air, or its current is not known"


def brown_outs(
    aircraft: Aircraft, inputs: Inputs, electric: Delivered, starting: Inrush | None
) -> Iterator[str]:
    """Say who goes without volts in the two states that no margin looks at.

    Parameters
    ----------
    aircraft : Aircraft
        Whose runs are named.
    inputs : Inputs
        What was evaluated.
    electric : Delivered
        With all servos stalled.
    starting : Inrush or None
        With all servos starting, where the file asks.

    Yields
    ------
    str
        A line for everyone who browns out.
    """
    state = electric.all_stalled_receiver[0], electric.all_stalled[0]
    yield from _browned(aircraft, inputs, "with all servos stalled at once", *state)
    if starting is not None:
        multiple = inputs.supply.inrush_multiple
        words = f"at a start of all servos with {multiple:g} x their stall current"
        yield from _browned(aircraft, inputs, words, starting.receiver, starting.servo)


def _browned(
    aircraft: Aircraft, inputs: Inputs, words: str, receiver: Floats, servo: Floats
) -> Iterator[str]:
    least = inputs.supply.receiver_minimum
    receiver = np.broadcast_to(receiver, inputs.cases.density.shape)
    if not (receiver >= least).all():
        yield (
            f"the receiver browns out {words}: {_volts(receiver.min())} arrive, "
            f"{least:.4g} V are needed"
        )
    low = ~(servo >= inputs.servos.minimum) & (inputs.cases.live > 0)
    for r in np.flatnonzero(low.any(0)):
        volts = np.where(low, servo, np.inf)[:, r].min()
        yield (
            f"{aircraft.runs[r].name!r} goes without its voltage {words}: "
            f"{_volts(volts)} arrive, {inputs.servos.minimum[r]:.4g} V are needed"
        )


def _volts(volts: float) -> str:
    return "no volts that satisfy the supply" if math.isnan(volts) else f"{volts:.3g} V"


def copper_temperatures(
    inputs: Inputs, found: Copper, names: Sequence[str], *, case: int, run: int
) -> dict[str, Value]:
    """Return how warm the warmest copper on the way to a run's servos gets.

    Parameters
    ----------
    inputs : Inputs
        What was evaluated.
    found : Copper
        Temperatures by case and node.
    names : sequence of str
        Of the nodes.
    case, run : int
        Which.

    Returns
    -------
    dict of str to Value
        In free air and in a bundle, with the lead that is warmest, or why none is known.
    """
    way = []
    node = int(inputs.supply.fields["servo_node"][inputs.servos.first[run]])
    while node > 0:
        if math.isnan(inputs.supply.fields["loop_resistance"][node]):
            way.append(node)
        node = int(inputs.supply.fields["parent"][node])
    made = {}
    for name, column in zip(("in free air", "in a bundle"), found, strict=True):
        values = {node: float(column[case, node]) for node in way}
        lost = [node for node in way if math.isnan(values[node])]
        if lost or not way:
            place = names[lost[0]] if lost else ""
            reason = _TOO_HOT.format(place) if lost else "no lead of known gauge"
            made[f"copper temperature {name}"] = Value(None, "K", reason=reason)
        else:
            warmest = max(way, key=values.__getitem__)
            made[f"copper temperature {name}"] = Value(values[warmest], "K", at=names[warmest])
    return made
