"""From the arrays of an evaluation to the objects of a report, with a reason for every gap."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.joints import retention
from linkcalc.evaluation.load_steps import edge_notes
from linkcalc.evaluation.loads import surface_flow
from linkcalc.evaluation.supply_fields import node_names
from linkcalc.results import (
    MODES,
    AircraftCase,
    CaseReport,
    Margin,
    Report,
    RunReport,
    Value,
)
from linkcalc.supply_words import brown_outs, copper_temperatures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.factors import Factors
    from linkcalc.evaluation.gather import Gathered
    from linkcalc.evaluation.held import Held
    from linkcalc.evaluation.load_steps import LoadStep
    from linkcalc.evaluation.speeds import Speeds
    from linkcalc.evaluation.supply import Inrush
    from linkcalc.evaluation.wire_heat import Copper
    from linkcalc.model import Aircraft

    Floats = NDArray[np.float64]

__all__ = ["Results", "Writer"]

_UNITS = {
    "torque": "N*m",
    "travel": "deg",
    "voltage": "V",
    "over-voltage": "V",
    "current": "A",
    "speed": "deg/s",
    "hold": "N*m",
    "buckling": "N",
    "joint": "N",
    "source heat": "W",
    "gear": "N*m",
    "free play": "deg",
    "divergence": "1",
}
_IN_DEGREES = ("deg", "deg/s")

_NOT_APPLYING = {
    "current": "not given, not checked",
    "hold": "a brief case",
    "buckling": "the rod is never in compression",
    "joint": "not given, not checked",
    "source heat": "no linear regulator, or no heat rating of one",
    "gear": "not given, not checked",
    "free play": "not given, not checked",
    "divergence": "not given, not checked",
}
_NOTHING_ASKED = "nothing asked"
_AS_LONG = "no limit: it may be held for as long as it lasts"
_STARTS = "from {:.4g} m/s on it is held; at lower speeds weight or camber is too much"
_NEVER = "not held at any speed up to {:.4g} m/s"
_NO_VOLTAGE = "no voltage satisfies the supply"
_REFUSED = "less arrives than the first datasheet row has, and the file refuses to scale below it"
_SIGNAL_ROOM = 0.4
"""High level that an output of 3.3 V logic keeps over what an input asks for [V]: 2.4 V over
2.0 V (JEDEC JESD8C, from memory)."""
_WATCH = {
    "stalled": "stalled at the working point: the load is more than this servo gives there",
    "latch_up": "latch-up: a second, lower voltage satisfies the supply too; a brown-out may hold itself",
    "scaled": "a voltage below the first datasheet row was met: its figures were scaled with the voltage",
}


class Results(NamedTuple):
    """What was computed for one aircraft.

    Attributes
    ----------
    factors : Factors
        That were used.
    answer : Answer
        At the speeds of the cases.
    share : ndarray, shape (case, run)
        Of the load, that each servo takes.
    held : Held
        Deflections that can be held there.
    speeds : Speeds
        Limits of speed.
    hold_time : ndarray, shape (case, run)
        How long the largest load may be held; infinite for as long as it lasts [s].
    deadband : ndarray, shape (run,)
        Of each servo, at the first surface; nan where it is not given [rad].
    beyond : dict of (case, run) to list of str
        What lies outside the range of validity of a solver.
    inrush : Inrush or None
        All servos starting at once, where the file states how much they draw.
    copper : Copper or None
        How warm the copper gets, shape (case, node), where the file states the air around it.
    steps : dict of (case, run) to list of LoadStep
        How solvers of the air load came to their slopes, where they tell.
    """

    factors: Factors
    answer: Answer
    share: Floats
    held: Held
    speeds: Speeds
    hold_time: Floats
    deadband: Floats
    beyond: dict[tuple[int, int], list[str]]
    inrush: Inrush | None
    copper: Copper | None
    steps: dict[tuple[int, int], list[LoadStep]]


class Writer:
    """Writes the report of one aircraft.

    Parameters
    ----------
    aircraft : Aircraft
        As it was described.
    gathered : Gathered
        Arrays and notes made from it.
    results : Results
        What was computed.
    failures : dict of str to str
        Solvers that have failed, and why.
    """

    def __init__(
        self, aircraft: Aircraft, gathered: Gathered, results: Results, failures: dict[str, str]
    ) -> None:
        answer = results.answer
        self.aircraft, self.gathered, self.results = aircraft, gathered, results
        self.failures = failures
        self.node_names = () if results.copper is None else node_names(aircraft)
        self.margins = {
            mode.replace("_", " ").replace("over voltage", "over-voltage"): [
                _spread(column, answer).tolist() for column in comparison
            ]
            for mode, comparison in answer.margins._asdict().items()
        }
        self.governing = {
            name: value.tolist() for name, value in answer.governing._asdict().items()
        }
        self.delivered = {
            name: value[0].tolist() for name, value in answer.delivered._asdict().items()
        }
        self.available = answer.torque_available[0].tolist()
        self.rate = answer.rate[0].tolist()
        self.share = results.share.tolist()
        self.pressure = answer.dynamic_pressure.tolist()
        self.jam_force = answer.jam_force.tolist()
        self.held = {name: value.tolist() for name, value in results.held._asdict().items()}
        self.limits = {
            name: {part: column.tolist() for part, column in limit._asdict().items()}
            for name, limit in results.speeds._asdict().items()
            if name != "greatest"
        }
        self.neutral_lost = [
            math.isnan(value) for value in answer.reach.low[0].reshape(-1, len(aircraft.runs))[0]
        ]

    def report(self) -> Report:
        """Return the report.

        Returns
        -------
        Report
            A run whose servos are all dead in a case is not in that case.
        """
        live = self.gathered.inputs.cases.live
        runs = tuple(
            RunReport(
                run.name,
                tuple(self._case(c, r) for c in range(len(self.aircraft.cases)) if live[c, r] > 0),
            )
            for r, run in enumerate(self.aircraft.runs)
        )
        passes = all(margin.passes for run in runs for case in run.cases for margin in case.margins)
        cases = tuple(
            AircraftCase(case.name, self._whole_case(c))
            for c, case in enumerate(self.aircraft.cases)
        )
        return Report(
            self.aircraft.name,
            "pass" if passes and any(run.cases for run in runs) else "short",
            self._whole(),
            runs,
            cases,
            self.results.factors._asdict()
            | {"free_play_limit": math.degrees(self.results.factors.free_play_limit)},
            (*self.gathered.notes.aircraft, *self._of_supply()),
            retention(self.aircraft),
        )

    # the aircraft as a whole ------------------------------------------------------

    def _whole(self) -> dict[str, Value]:
        """Return the placard speeds of the aircraft."""
        kinds = {"placard speed": "dive", "manoeuvre placard speed": "manoeuvre"}
        return {name: self._least("placard", kind) for name, kind in kinds.items()}

    def limits_of_dives(self) -> dict[str, Value]:
        """Return the least placard and freeze speed over the runs of dive cases.

        Returns
        -------
        dict of str to Value
            Each with the run and the case that it is from; null with a reason.
        """
        return {f"{name} speed": self._least(name, "dive") for name in ("placard", "freeze")}

    def limits_of_runs(self) -> dict[tuple[str, str], dict[str, Value]]:
        """Return placard and freeze speed of every run in every case.

        Returns
        -------
        dict of (str, str) to dict of str to Value
            By run and case.
        """
        return {
            (run.name, case.name): {
                f"{name} speed": self._limit(name, c, r) for name in ("placard", "freeze")
            }
            for r, run in enumerate(self.aircraft.runs)
            for c, case in enumerate(self.aircraft.cases)
        }

    def _least(self, name: str, kind: str) -> Value:
        """Return the least limit of speed over the runs in cases of a kind."""
        cases = [c for c, case in enumerate(self.aircraft.cases) if case.kind == kind]
        if not cases:
            return Value(None, "m/s", reason=f"there is no case of the kind {kind!r}")
        live = self.gathered.inputs.cases.live
        least: tuple[float, str] | None = None
        for c in cases:
            for r, run in enumerate(self.aircraft.runs):
                if live[c, r] == 0:
                    continue
                value = self._limit(name, c, r)
                if value.value is None and self.limits[name]["at_zero"][c][r]:
                    continue  # nothing ends it below the greatest speed that is sought
                if value.value is None:
                    return Value(None, "m/s", reason=f"{run.name!r}: {value.reason}")
                if least is None or value.value < least[0]:
                    where = f"{run.name!r} in {self.aircraft.cases[c].name!r}"
                    least = (value.value, f"{where}, {value.at}" if value.at else where)
        if least is None:
            return Value(None, "m/s", reason=self._none_up_to())
        return Value(least[0], "m/s", at=least[1])

    def _none_up_to(self) -> str:
        """Say that nothing limits the speed."""
        return f"none up to {self.results.speeds.greatest:.4g} m/s"

    def _whole_case(self, c: int) -> dict[str, Value]:
        """Return what belongs to a case as a whole."""
        found, lost = self.delivered, self._no_voltage()
        stalled = min(
            found["all_stalled"][c], key=lambda volts: -math.inf if math.isnan(volts) else volts
        )
        receiver = found["all_stalled_receiver"][c]
        made = {
            "source current at work": _value(found["source_current"][c], "A", lost),
            "source current, all stalled": _value(found["all_stalled_current"][c], "A", lost),
            "least servo voltage, all stalled": _value(stalled, "V", lost),
            "receiver voltage, all stalled": _value(receiver, "V", lost),
        }
        starting = self.results.inrush
        if starting is not None:
            made |= {
                "source current, inrush": _value(float(starting.current[c]), "A", lost),
                "least servo voltage, inrush": _value(float(starting.servo[c].min()), "V", lost),
                "receiver voltage, inrush": _value(float(starting.receiver[c]), "V", lost),
            }
        return made

    def _of_supply(self) -> list[str]:
        """Say what no margin looks at: who goes without volts, and how warm copper is judged."""
        electric, starting = self.results.answer.delivered, self.results.inrush
        notes = list(brown_outs(self.aircraft, self.gathered.inputs, electric, starting))
        if self.results.copper is not None:
            from linkcalc.evaluation.wire_heat import RULE  # noqa: PLC0415 - few files ask for it

            notes.append(RULE)
        return notes

    # one run in one case -----------------------------------------------------------

    def _case(self, c: int, r: int) -> CaseReport:
        """Return one run in one case."""
        margins = tuple(self._margin(c, r, mode) for mode in MODES)
        known = [margin for margin in margins if margin.applies and margin.margin is not None]
        least = min(known, key=lambda item: item.margin or 0.0, default=margins[0])
        return CaseReport(
            self.aircraft.cases[c].name,
            least.mode,
            margins,
            self._values(c, r),
            tuple(self._notes(c, r, margins)),
            tuple(self.results.steps.get((c, r), ())),
        )

    def _margin(self, c: int, r: int, mode: str) -> Margin:
        """Return one margin, or why there is none."""
        required, available, margin, applies = (column[0][c][r] for column in self.margins[mode])
        plain = self.margins[mode][2][1][c][r]
        unit = _UNITS[mode]
        scale = math.degrees if unit in _IN_DEGREES else float
        factor = self._factor(r, mode)
        reason = None
        if not applies:
            reason = self._not_applying(r, mode)
        elif required == 0 and mode not in {"torque", "divergence"}:
            applies, reason = False, _NOTHING_ASKED
        elif math.isnan(margin):
            reason = self._why(c, r, mode)
        lines, at = None, None
        if mode == "torque":
            lines = [line[c][r] for line in self.governing["move_lines"]]
            at = _at(self.governing["deflection"][c][r])
        return Margin(
            mode=mode,
            applies=bool(applies),
            margin=_number(margin) if applies else None,
            plain=_number(plain) if applies else None,
            factor=factor,
            required=_value(scale(required), unit, reason or _NOTHING_ASKED, lines, at),
            available=_value(scale(available), unit, reason or "no limit"),
            reason=reason,
        )

    def _not_applying(self, r: int, mode: str) -> str:
        """Say why a mode does not apply."""
        rods = self.gathered.inputs.rods
        if mode == "buckling" and np.isinf(rods.critical_load[rods.owner == r]).all():
            return "nothing there that buckles: cables, or a direct drive"
        return _NOT_APPLYING[mode]

    def _factor(self, r: int, mode: str) -> float:
        """Return the factor of a mode."""
        cables = mode == "joint" and self.gathered.inputs.runs.cables[r]
        name = "cable_joint" if cables else mode.replace("-", "_").replace(" ", "_")
        return float(getattr(self.results.factors, name))

    def _why(self, c: int, r: int, mode: str) -> str:
        """Say why a margin that applies cannot be computed."""
        if mode == "travel":
            return "neutral is not reached"
        if mode in {"voltage", "current", "source heat"}:
            return self._no_voltage(c, r)
        return self._no_torque(c, r)

    def _no_torque(self, c: int, r: int) -> str:
        """Say why there is no torque margin."""
        failed = [self.failures[name] for name in self._asked(r) if name in self.failures]
        if failed:
            return failed[0]
        if self.neutral_lost[r]:
            return "neutral is not reached"
        move = self.governing["move"][0][c][r]
        if math.isnan(move):
            return "no part of the commanded range is reached"
        return (
            "no load at any deflection: something is missing in the file"
            if move == 0
            else self._no_voltage(c, r)
        )

    def _asked(self, r: int) -> list[str]:
        """Return the hinge-moment solvers of a run."""
        surfaces = self.gathered.inputs.surfaces
        return [
            name for name, owner in zip(surfaces.solver, surfaces.owner, strict=True) if owner == r
        ]

    def _by_line(self, c: int, r: int) -> Value:
        """Return the torque margin of the verdict, and those of the air-load lines there."""
        margin = self.margins["torque"][2][0][c][r]
        moves = [line[c][r] for line in self.governing["move_lines"]]
        lines = [self._over(c, r, move) for move in moves]
        at = _at(self.governing["deflection"][c][r])
        return _value(margin, "1", self._no_torque(c, r), lines, at)

    def _on_best(self, c: int, r: int) -> Value:
        """Return the torque margin on the best line, at the deflection where that takes most."""
        inputs, plain = self.gathered.inputs, self.governing["move"][1][c][r]
        friction = float(inputs.runs.shaft_friction[r])
        share = self.share[c][r] * float(inputs.cases.live[c, r])  # the plain one has no mismatch
        move = (plain - friction) * share + friction
        return _value(self._over(c, r, move), "1", self._no_torque(c, r))

    def _hold_time(self, c: int, r: int) -> Value:
        """Return how long the largest load of a sustained case may be held."""
        if not self.gathered.inputs.cases.sustained[c]:
            return Value(None, "s", reason=_NOT_APPLYING["hold"])
        time = float(self.results.hold_time[c, r])
        reason = _AS_LONG if time == math.inf else self._no_torque(c, r)
        return _value(time, "s", reason)

    def _over(self, c: int, r: int, move: float) -> float:
        """Return what is available over a torque to move with its factor, less one."""
        needed = move * float(self.results.factors.torque)
        return self.available[c][r] / needed - 1 if needed > 0 else math.nan

    def _datasheet(self, r: int) -> float:
        """Return what the stall torque of a run's servo was divided by."""
        measured = bool(self.gathered.inputs.servos.measured[r])
        return 1.0 if measured else float(self.results.factors.datasheet)

    def _no_voltage(self, c: int | None = None, r: int | None = None) -> str:
        """Say why there is no voltage."""
        failed = self.failures.get(self.gathered.inputs.supply.solver)
        if c is not None and not failed and self.delivered["scaled"][c][r]:
            refused = self.gathered.inputs.servos.refuse_below[r]
            return _REFUSED if refused else _NO_VOLTAGE
        return failed or _NO_VOLTAGE

    def _values(self, c: int, r: int) -> dict[str, Value]:
        """Return what was computed on the way."""
        found, electric = self.governing, self.delivered
        reason, lost = self._no_torque(c, r), self._no_voltage(c, r)
        at = _at(found["deflection"][c][r])

        def lines(name: str) -> list[float]:
            return [line[c][r] for line in found[name]]

        live = int(self.gathered.inputs.cases.live[c, r])
        made = {
            "servos at work": Value(float(live), "1"),
            "dead servos": Value(float(self.aircraft.runs[r].servo_count - live), "1"),
            "share of each servo": _value(self.share[c][r], "1", reason),
            "datasheet factor": Value(self._datasheet(r), "1"),
            "torque margin": self._by_line(c, r),
            "torque margin, best air load": self._on_best(c, r),
            "dynamic pressure": _value(self.pressure[c][r], "Pa", reason),
            "hinge moment": _value(found["moment"][c][r], "N*m", reason, lines("moment_lines"), at),
            "governing deflection": _value(math.degrees(found["deflection"][c][r]), "deg", reason),
            "hold torque": _value(found["hold"][c][r], "N*m", reason, lines("hold_lines"), at),
            "moving torque": _value(found["move"][0][c][r], "N*m", reason, lines("move_lines"), at),
            "voltage at work": _value(electric["at_work"][c][r], "V", lost),
            "voltage at limit": _value(electric["at_limit"][c][r], "V", lost),
            "torque available": _value(self.available[c][r], "N*m", lost),
            "current at work": _value(electric["current_at_work"][c][r], "A", lost),
            "rod force": _value(
                found["rod_force"][c][r], "N", reason, at=_at(found["rod_force_at"][c][r])
            ),
            **self._bearings(c, r, reason),
            "jam force": _value(self.jam_force[r], "N", reason, at="neutral"),
            "hold time": self._hold_time(c, r),
            "deadband": _value(
                math.degrees(self.results.deadband[r]), "deg", "not given", at="neutral"
            ),
            "ground rise": _value(electric["ground_rise"][c][r], "V", lost),
        }
        if self.results.copper is not None:
            copper, inputs = self.results.copper, self.gathered.inputs
            made |= copper_temperatures(inputs, copper, self.node_names, case=c, run=r)
        for side, name in enumerate(("up", "down")):
            for kind, label in (("factored", "held"), ("blow_back", "blow-back")):
                angle = self.held[kind][side][c][r]
                made[f"{label} deflection {name}"] = _value(math.degrees(angle), "deg", reason)
        if self.gathered.inputs.cases.local:
            made |= self._local_air(c, r)
        made["torque limit speed"] = self._limit("torque_limit", c, r)
        made["freeze speed"] = self._limit("freeze", c, r)
        made["placard speed"] = self._limit("placard", c, r)
        made["surface rate under load"] = _value(
            math.degrees(max(self.rate[c][r], 0.0)), "deg/s", reason
        )
        return made

    def _local_air(self, c: int, r: int) -> dict[str, Value]:
        """Return the stream at the first surface of a run, where flows were named."""
        inputs = self.gathered.inputs
        flow, first = surface_flow(inputs), inputs.surfaces.first[r]
        names = {
            "incidence": "incidence at the surface",
            "largest_incidence": "largest incidence at the surface",
        }
        made = {
            label: Value(math.degrees(flow[name][c, first]), "deg") for name, label in names.items()
        }
        return made | {"speed at the surface": Value(float(inputs.cases.speed[c, r]), "m/s")}

    def _bearings(self, c: int, r: int, reason: str) -> dict[str, Value]:
        """Return what the bearings of a linkage carry where its rod force is largest."""
        found, at = self.governing, _at(self.governing["rod_force_at"][c][r])
        names = ["shaft load", "hinge load"]
        if not math.isnan(found["bellcrank_load"][c][r]):
            names.insert(1, "bellcrank load")
        return {
            name: _value(found[name.replace(" ", "_")][c][r], "N", reason, at=at) for name in names
        }

    def _limit(self, name: str, c: int, r: int) -> Value:
        """Return a limit of speed, or why there is none."""
        parts = {part: column[c][r] for part, column in self.limits[name].items()}
        if not math.isnan(parts["speed"]):
            ends = f"ended by {MODES[parts['mode']]}" if name == "placard" else None
            return Value(parts["speed"], "m/s", at=ends)
        if parts["at_zero"]:
            return Value(None, "m/s", reason=self._none_up_to())
        if not math.isnan(parts["from_speed"]):
            return Value(None, "m/s", reason=_STARTS.format(parts["from_speed"]))
        return Value(None, "m/s", reason=_NEVER.format(self.results.speeds.greatest))

    def _notes(self, c: int, r: int, margins: tuple[Margin, ...]) -> list[str]:
        """Return what stands in for what was not given, and what to watch."""
        refused = self.gathered.inputs.servos.refuse_below[r]
        notes = [
            words
            for flag, words in _WATCH.items()
            if self.delivered[flag][c][r] and not (flag == "scaled" and refused)
        ]
        rise = self.delivered["ground_rise"][c][r]
        if rise > _SIGNAL_ROOM:
            notes.append(
                f"the servo's ground rises {rise:.2g} V over the receiver's: a 3.3 V signal has "
                f"{_SIGNAL_ROOM:g} V of room (JESD8C levels, from memory); thicken the return conductor, "
                "or shift the signal's level"
            )
        notes += self.results.beyond.get((c, r), [])
        notes += edge_notes(self.results.steps.get((c, r), []))
        missing = [margin.mode for margin in margins if margin.reason == "not given, not checked"]
        if missing:
            notes.append(f"not given, not checked: {', '.join(missing)}")
        notes += self._tension(c, r)
        return [*notes, *self.gathered.notes.runs[r], *self.gathered.notes.cases[c]]

    def _tension(self, c: int, r: int) -> list[str]:
        """Say on which side of the surface a horn keeps the rod in tension.

        With the servo ahead of the hinge line, a moment that pushes the trailing edge down
        pulls at a rod on the upper side (on a fin: the port side).
        """
        force, moment = self.governing["rod_force"][c][r], self.governing["moment"][c][r]
        if math.isnan(force) or math.isnan(moment) or 0 in {force, moment}:
            return []
        inputs = self.gathered.inputs
        first = inputs.surfaces.first[r]
        geometry = inputs.geometry
        if inputs.runs.cables[r] or np.isnan(geometry.rod_length[first]):
            return []
        ahead = geometry.servo_pivot[first, 0] < geometry.hinge_pivot[first, 0]
        upright = abs(inputs.surfaces.normal[first, 1]) > abs(inputs.surfaces.normal[first, 2])
        sides = ("port", "starboard") if upright else ("upper", "lower")
        pulls = sides[0] if (moment > 0) == ahead else sides[1]
        state = "tension" if force > 0 else "compression"
        where = f"the rod is in {state} where its force is largest"
        return [
            f"{where}; at the governing deflection a horn on the {pulls} side keeps it in tension"
        ]


def _spread(column: Any, answer: Answer) -> Any:
    """Return a column of a comparison at the full shape (basis, case, run)."""
    return np.broadcast_to(column, answer.governing.move.shape)


def _at(deflection: float) -> str | None:
    return None if math.isnan(deflection) else f"deflection {math.degrees(deflection):.4g} deg"


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _value(
    value: float, unit: str, reason: str, lines: list[float] | None = None, at: str | None = None
) -> Value:
    known = _number(value)
    if known is None:
        return Value(None, unit, reason=reason)
    if lines and all(math.isfinite(line) for line in lines):
        return Value(known, unit, min(lines), max(lines), at)
    return Value(known, unit, at=at)
