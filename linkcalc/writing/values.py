"""The values that were computed on the way to the margins."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linkcalc.evaluation.loads import surface_flow
from linkcalc.results import Value
from linkcalc.writing.columns import at_deflection, told
from linkcalc.writing.limits import limit_of
from linkcalc.writing.margins import torque_margins
from linkcalc.writing.reasons import NOT_APPLYING, no_torque, no_voltage
from linkcalc.writing.supply import copper_temperatures

if TYPE_CHECKING:
    from linkcalc.writing.columns import Columns

__all__ = ["case_values", "values_of"]

_AS_LONG = "no limit: it may be held for as long as it lasts"


def values_of(columns: Columns, c: int, r: int) -> dict[str, Value]:
    """Return what was computed on the way.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c, r : int
        The case and the run.

    Returns
    -------
    dict of str to Value
        By name, in the order in which they are told.
    """
    found, electric = columns.governing, columns.delivered
    reason, lost = no_torque(columns, c, r), no_voltage(columns, c, r)
    at = at_deflection(found["deflection"][c][r])

    def lines(name: str) -> list[float]:
        return [line[c][r] for line in found[name]]

    live = int(columns.gathered.inputs.cases.live[c, r])
    made = {
        "servos at work": Value(float(live), "1"),
        "dead servos": Value(float(columns.aircraft.runs[r].servo_count - live), "1"),
        "share of each servo": told(columns.share[c][r], "1", reason),
        "datasheet factor": Value(_datasheet(columns, r), "1"),
        **torque_margins(columns, c, r),
        "dynamic pressure": told(columns.pressure[c][r], "Pa", reason),
        "hinge moment": told(found["moment"][c][r], "N*m", reason, lines("moment_lines"), at),
        "governing deflection": told(math.degrees(found["deflection"][c][r]), "deg", reason),
        "hold torque": told(found["hold"][c][r], "N*m", reason, lines("hold_lines"), at),
        "moving torque": told(found["move"][0][c][r], "N*m", reason, lines("move_lines"), at),
        "voltage at work": told(electric["at_work"][c][r], "V", lost),
        "voltage at limit": told(electric["at_limit"][c][r], "V", lost),
        "torque available": told(columns.available[c][r], "N*m", lost),
        "current at work": told(electric["current_at_work"][c][r], "A", lost),
        "rod force": told(
            found["rod_force"][c][r], "N", reason, at=at_deflection(found["rod_force_at"][c][r])
        ),
        **_bearings(columns, c, r, reason),
        "jam force": told(columns.jam_force[r], "N", reason, at="neutral"),
        "hold time": _hold_time(columns, c, r),
        "deadband": told(
            math.degrees(columns.results.deadband[r]), "deg", "not given", at="neutral"
        ),
        "ground rise": told(electric["ground_rise"][c][r], "V", lost),
    }
    if columns.results.copper is not None:
        copper, inputs = columns.results.copper, columns.gathered.inputs
        made |= copper_temperatures(inputs, copper, columns.node_names, case=c, run=r)
    for side, name in enumerate(("up", "down")):
        for kind, label in (("factored", "held"), ("blow_back", "blow-back")):
            angle = columns.held[kind][side][c][r]
            made[f"{label} deflection {name}"] = told(math.degrees(angle), "deg", reason)
    if columns.gathered.inputs.cases.local:
        made |= _local_air(columns, c, r)
    made["torque limit speed"] = limit_of(columns, "torque_limit", c, r)
    made["freeze speed"] = limit_of(columns, "freeze", c, r)
    made["placard speed"] = limit_of(columns, "placard", c, r)
    made["surface rate under load"] = told(
        math.degrees(max(columns.rate[c][r], 0.0)), "deg/s", reason
    )
    return made


def _local_air(columns: Columns, c: int, r: int) -> dict[str, Value]:
    """Return the stream at the first surface of a run, where flows were named."""
    inputs = columns.gathered.inputs
    flow, first = surface_flow(inputs), inputs.surfaces.first[r]
    names = {
        "incidence": "incidence at the surface",
        "largest_incidence": "largest incidence at the surface",
    }
    made = {
        label: Value(math.degrees(flow[name][c, first]), "deg") for name, label in names.items()
    }
    return made | {"speed at the surface": Value(float(inputs.cases.speed[c, r]), "m/s")}


def _bearings(columns: Columns, c: int, r: int, reason: str) -> dict[str, Value]:
    """Return what the bearings of a linkage carry where its rod force is largest."""
    found, at = columns.governing, at_deflection(columns.governing["rod_force_at"][c][r])
    names = ["shaft load", "hinge load"]
    if not math.isnan(found["bellcrank_load"][c][r]):
        names.insert(1, "bellcrank load")
    return {name: told(found[name.replace(" ", "_")][c][r], "N", reason, at=at) for name in names}


def _hold_time(columns: Columns, c: int, r: int) -> Value:
    """Return how long the largest load of a sustained case may be held."""
    if not columns.gathered.inputs.cases.sustained[c]:
        return Value(None, "s", reason=NOT_APPLYING["hold"])
    time = float(columns.results.hold_time[c, r])
    reason = _AS_LONG if time == math.inf else no_torque(columns, c, r)
    return told(time, "s", reason)


def _datasheet(columns: Columns, r: int) -> float:
    """Return what the stall torque of a run's servo was divided by."""
    measured = bool(columns.gathered.inputs.servos.measured[r])
    return 1.0 if measured else float(columns.results.factors.datasheet)


def case_values(columns: Columns, c: int) -> dict[str, Value]:
    """Return what belongs to a case as a whole.

    Parameters
    ----------
    columns : Columns
        What was computed.
    c : int
        The case.

    Returns
    -------
    dict of str to Value
        Of supply and receiver.
    """
    found, lost = columns.delivered, no_voltage(columns)
    stalled = min(
        found["all_stalled"][c], key=lambda volts: -math.inf if math.isnan(volts) else volts
    )
    receiver = found["all_stalled_receiver"][c]
    made = {
        "source current at work": told(found["source_current"][c], "A", lost),
        "source current, all stalled": told(found["all_stalled_current"][c], "A", lost),
        "least servo voltage, all stalled": told(stalled, "V", lost),
        "receiver voltage, all stalled": told(receiver, "V", lost),
    }
    starting = columns.results.inrush
    if starting is not None:
        made |= {
            "source current, inrush": told(float(starting.current[c]), "A", lost),
            "least servo voltage, inrush": told(float(starting.servo[c].min()), "V", lost),
            "receiver voltage, inrush": told(float(starting.receiver[c]), "V", lost),
        }
    return made
