"""The calculation of one run in one case written out, from speed to margin.

Every line is one of the formulas of `linkcalc.working.chain`, with the numbers that the check used
put in. The lines are evaluated again here, one after the other; the tests hold the last ones to
the report.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc import solvers
from linkcalc.checking import Checked, checked
from linkcalc.errors import Fault, InputFaults, shown
from linkcalc.evaluation.evaluate import prepare, servo_share, weakened
from linkcalc.evaluation.factors import both
from linkcalc.evaluation.governing import counting_line
from linkcalc.evaluation.loads import BEST, HIGH, LINES, LOW, bear, motions, surface_flow
from linkcalc.evaluation.supply import every_state
from linkcalc.evaluation.supply_fields import node_names
from linkcalc.evaluation.wire_heat import with_warm_copper
from linkcalc.model.value_classes import stated
from linkcalc.units import STANDARD_GRAVITY
from linkcalc.working import chain

if TYPE_CHECKING:
    import os

    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.model import Aircraft
    from linkcalc.results import CaseReport
    from linkcalc.working.chain import Formula

__all__ = ["Line", "Workbook", "workbook"]

_SAME = 1e-6  # relative difference up to which a formula has given what a solver gave


class Line(NamedTuple):
    """A formula with its numbers.

    Attributes
    ----------
    formula : Formula
        The line.
    values : dict of str to float
        Numbers that were put in, by symbol.
    value : float
        What it gives.
    note : str
        What it is about: a surface, a lead.
    """

    formula: Formula
    values: dict[str, float]
    value: float
    note: str


class Workbook(NamedTuple):
    """A calculation written out.

    Attributes
    ----------
    aircraft, run, case : str
        What it is of.
    lines : tuple of Line
        In the order in which they are worked out.
    notes : tuple of str
        What the lines leave to a solver, and defaults that were used.
    reason : str
        Why it ends before the margin; empty where it does not.
    report : CaseReport or None
        What the check reports; None where all servos of the run are dead in the case.
    """

    aircraft: str
    run: str
    case: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...]
    reason: str
    report: CaseReport | None

    def line(self, symbol: str) -> Line:
        """Return a line.

        Parameters
        ----------
        symbol : str
            Of what it gives.

        Returns
        -------
        Line
            The one.
        """
        return next(line for line in self.lines if line.formula.symbol == symbol)


def workbook(
    aircraft: Aircraft | Checked | str | os.PathLike[str],
    *,
    run: str | None = None,
    case: str | None = None,
) -> Workbook:
    """Write out the calculation of one run in one case.

    Parameters
    ----------
    aircraft : Aircraft, Checked, str or path
        The aircraft, its check, or the file that describes it.
    run, case : str, optional
        Which; those with the least torque margin when left out.

    Returns
    -------
    Workbook
        Every line from speed to torque margin.

    Raises
    ------
    InputFaults
        The description cannot be used, or has no such run or case.

    Examples
    --------
    >>> book = workbook("examples/sandpiper.toml", run="elevator", case="survey line")
    >>> round(book.line("margin").value, 3) == round(book.report.margin("torque").margin, 3)
    True
    """
    known = aircraft if isinstance(aircraft, Checked) else checked(aircraft)
    return _Book(known, *_chosen(known, run, case)).workbook()


def _chosen(known: Checked, run: str | None, case: str | None) -> tuple[int, int]:
    """Return the places of run and case."""
    described = known.described
    asked = (("--run", run, described.runs), ("--case", case, described.cases))
    faults = [
        Fault(
            "",
            place,
            shown(name),
            f"one of {', '.join(shown(each.name) for each in things[:8])}",
            "Check the spelling.",
        )
        for place, name, things in asked
        if name is not None and name not in [each.name for each in things]
    ]
    if faults:
        raise InputFaults(faults)
    margins = np.array(known.results.answer.margins.torque.margin[0])
    margins = np.where(np.isnan(margins), -math.inf, margins)
    margins[known.inputs.cases.live == 0] = math.inf
    cases = [each.name for each in described.cases]
    runs = [each.name for each in described.runs]
    outside = np.ones_like(margins, dtype=bool)
    rows = slice(None) if case is None else cases.index(case)
    columns = slice(None) if run is None else runs.index(run)
    outside[rows, columns] = False
    least = int(np.argmin(np.where(outside, np.inf, margins)))
    if run is not None and case is not None:
        return runs.index(run), cases.index(case)
    place = np.unravel_index(least, margins.shape)
    return int(place[1]), int(place[0])


class _Stop(Exception):  # noqa: N818 - no error: the calculation goes no further
    """A number is not known."""


class _Book:
    """A workbook that is being written."""

    def __init__(self, known: Checked, run: int, case: int) -> None:
        self.known, self.run, self.case = known, run, case
        self.values: dict[str, float] = {"g": STANDARD_GRAVITY}
        self.lines: list[Line] = []
        self.notes: list[str] = []
        inputs = known.inputs
        self.surfaces = np.flatnonzero(inputs.surfaces.owner == run)
        several = len(self.surfaces) > 1
        self.marks = [f"_{n + 1}" if several else "" for n in range(len(self.surfaces))]

    def workbook(self) -> Workbook:
        """Write all lines, as far as they go."""
        described = self.known.described
        run, case = described.runs[self.run], described.cases[self.case]
        report = next(
            (each for each in self.known.report().runs[self.run].cases if each.name == case.name),
            None,
        )
        reason = ""
        if report is None:
            reason = "all servos of this run are taken as dead in this case"
        else:
            try:
                self._loads()
                self._torques()
                self._supply()
                self._margin()
            except _Stop as stop:
                reason = report.margin("torque").reason or str(stop)
        notes = (*self.notes, *(report.notes if report else ()))
        return Workbook(
            described.name, run.name, case.name, tuple(self.lines), notes, reason, report
        )

    def _add(self, formula: Formula, note: str = "", **given: float) -> float:
        """Add a line, with numbers that are given and those that lines before have found."""
        self.values.update(given)
        values = {term: float(self.values[term]) for term in formula.terms}
        lost = [name for name, value in values.items() if not math.isfinite(value)]
        if lost:
            raise _Stop(f"{formula.terms[lost[0]][0]} is not known")
        value = chain.evaluated(formula, values)
        self.lines.append(Line(formula, values, value, note))
        self.values[formula.symbol] = value
        return value

    # loads ---------------------------------------------------------------------

    def _loads(self) -> None:
        inputs, answer = self.known.inputs, self.known.results.answer
        at = answer.governing.deflection[..., None]
        if not math.isfinite(at[self.case, self.run, 0]):
            raise _Stop("no part of the commanded range is reached")
        bearing = bear(inputs, prepare(inputs), at)
        self.line_at = int(counting_line(bearing, inputs.basis)[0, self.case, self.run, 0])
        place = bearing.place
        here = min(self.line_at, place.slope.shape[0] - 1)
        self.angle = float(
            np.broadcast_to(place.servo_angle, (*place.servo_angle.shape[:1], *at.shape))[
                here, self.case, self.run, 0
            ]
        )
        deflections = np.broadcast_to(
            place.deflection, (*place.deflection.shape[:1], len(at), *place.deflection.shape[-2:])
        )
        for surface, mark in zip(self.surfaces, self.marks, strict=True):
            index = min(self.line_at, deflections.shape[0] - 1)
            self._surface(int(surface), mark, float(deflections[index, self.case, surface, 0]))

    def _surface(self, surface: int, mark: str, deflection: float) -> None:
        inputs, case = self.known.inputs, self.case
        surfaces, flow = inputs.surfaces, surface_flow(inputs) | motions(inputs)
        note = f"surface {mark[1:]}" if mark else ""
        here = {name: float(value[case, surface]) for name, value in flow.items()}
        fields = here | {name: float(value[surface]) for name, value in surfaces.fields.items()}
        fields["deflection"] = deflection
        pressure = self._add(
            chain.dynamic_pressure(),
            note,
            rho=here["density"],
            V=float(inputs.cases.speed[case, self.run]),
        )
        self.values |= {
            f"q{mark}": pressure,
            f"S{mark}": fields["area"],
            f"c{mark}": fields["chord"],
            f"alpha{mark}": here["incidence"],
            f"delta{mark}": deflection,
        }
        line = self._air(surface, mark, note, fields)
        felt = inputs.cases.load_factor[case]
        levers = [float(swing[surface] @ felt) for swing in surfaces.swing]
        self._add(
            chain.weight_moment(mark), note,
            **{f"m{mark}": surfaces.mass[surface], f"a{mark}": levers[0], f"b{mark}": levers[1]},
        )  # fmt: skip
        self._add(chain.hinge_moment(line, mark), note)
        self._slope(surface, mark, note, deflection)

    def _air(self, surface: int, mark: str, note: str, fields: dict[str, float]) -> str:
        """Add the air load on the best line and on the line that counts."""
        name = self.known.inputs.surfaces.solver[surface]
        if not name:
            raise _Stop("the hinge-moment solver failed")
        solver = solvers.load("hinge moment", name)
        offered = {key: np.array(value) for key, value in fields.items()}
        answer = solvers.call_hinge_moment(solver, offered)
        size = self.values[f"q{mark}"] * fields["area"] * fields["chord"]
        from_solver = {
            f"C_{short}{mark}": float(answer[long])
            for short, long in (("h0", "C_h0"), ("h_alpha", "C_h_alpha"), ("h_delta", "C_h_delta"))
        }
        source = f"coefficient by the solver {name!r}: {'; '.join(solver.sources)}"
        best = float(answer["best"])
        linear = self._add(chain.coefficient(mark), note, **from_solver)
        if not math.isclose(linear * size, best, rel_tol=_SAME, abs_tol=_SAME * abs(size)):
            self.lines.pop()
            self.values[f"C_best{mark}"] = best / size if size else math.nan
            self.notes.append(
                f"the best line is not linear here (separated flow, or an incidence that varies over the surface): its coefficient is that of {name!r}"
            )
        self._add(chain.air_load("best", source, mark), note)
        lines = (*LINES, "other_high")
        if self.line_at == BEST:
            return LINES[BEST]
        counting = LINES[LOW] if self.line_at == LOW else LINES[HIGH]
        moment = float(answer[lines[self.line_at]])
        self.values[f"C_{counting}{mark}"] = moment / size if size else math.nan
        self._add(chain.air_load(counting, source, mark), note)
        return counting

    def _slope(self, surface: int, mark: str, note: str, deflection: float) -> None:
        """Add the levers of the rod and the slope of the linkage."""
        inputs, geometry = self.known.inputs, self.known.inputs.geometry
        compliance = float(inputs.surfaces.compliance[surface])
        horn_at = deflection
        if compliance:
            horn_at = self._add(chain.stiff_angle(mark), note, **{f"C{mark}": compliance})
        axes = [_unit(axis[surface]) for axis in (geometry.servo_axis, geometry.hinge_axis)]
        arm, horn = (
            _turned(vector[surface], axis, angle)
            for vector, axis, angle in zip(
                (geometry.arm, geometry.horn), axes, (self.angle, horn_at), strict=True
            )
        )
        rod = geometry.hinge_pivot[surface] + horn - geometry.servo_pivot[surface] - arm
        given = {f"L{mark}": float(geometry.rod_length[surface])}
        for letter, vector in (
            ("es", axes[0]),
            ("eh", axes[1]),
            ("rs", arm),
            ("rh", horn),
            ("d", rod),
        ):
            given |= {
                f"{letter}_{part}{mark}": float(value)
                for part, value in zip("xyz", vector, strict=True)
            }
        self._add(chain.lever("s", axes[0].tolist(), mark), note, **given)
        self._add(chain.lever("h", axes[1].tolist(), mark), note)
        self._add(chain.slope(mark), note)

    def _torques(self) -> None:
        inputs, results = self.known.inputs, self.known.results
        share = servo_share(inputs, both(results.factors, 3))[0, self.case, self.run]
        friction = {
            f"M_f{mark}": float(inputs.surfaces.hinge_friction[surface])
            for surface, mark in zip(self.surfaces, self.marks, strict=True)
        }
        runs = inputs.runs
        self._add(chain.hold_torque(self.marks), s=float(share))
        self._add(
            chain.moving_torque(self.marks),
            "",
            eta=float(runs.efficiency[self.run]),
            T_f=float(runs.shaft_friction[self.run]),
            **friction,
        )

    # supply ----------------------------------------------------------------------

    def _supply(self) -> None:
        """Add the voltage along the path to the servo, where the formulas give what the solver gives."""
        told = float(self.known.results.answer.delivered.at_limit[0, self.case, self.run])
        self.values["V_s"] = told
        if not math.isfinite(told):
            raise _Stop("no voltage satisfies the supply")
        start = len(self.lines)
        found = self._path()
        if found is None or not math.isclose(found, told, rel_tol=_SAME):
            del self.lines[start:]
            name = self.known.inputs.supply.solver
            self.notes.append(
                f"the voltage at the servo is that of the supply solver {name!r}: something on its way "
                "(a regulator, a current limit) makes it more than a sum of drops"
            )
        self.values["V_s"] = told

    def _path(self) -> float | None:
        inputs, results = self.known.inputs, self.known.results
        stacked = both(results.factors, 3)
        inputs = with_warm_copper(inputs, stacked, prepare(inputs))
        fields, servos = inputs.supply.fields, inputs.servos
        if inputs.supply.solver != "tree" or np.isfinite(fields["regulated_voltage"]).any():
            return None
        state = every_state(
            inputs, weakened(inputs, stacked), results.answer.governing.move, stacked.torque
        )
        amps = state["servo_current"][1 + self.run, 0, self.case]  # the working point comes first
        nodes = _path(fields["parent"], int(fields["servo_node"][servos.first[self.run]]))
        names = node_names(self.known.described)
        volts = "V_oc"
        what = "voltage of the source without load"
        self.values["V_oc"] = float(fields["open_circuit_voltage"])
        for step, node in enumerate(nodes):
            place = "bus" if step == 0 else f"lead_{step}"
            note = "" if step == 0 else f"lead {names[node]!r}"
            behind = self._behind(node, amps)
            self._add(
                chain.current(place, {symbol: words for symbol, (words, _) in behind.items()}),
                note,
                **{symbol: value for symbol, (_, value) in behind.items()},
            )
            if step == 0:
                self.values["R_bus"] = float(fields["internal_resistance"])
            else:
                self._resistance(inputs, place, node, note)
            self._add(chain.node_voltage(place, volts, what), note)
            volts, what = f"V_{place}", f"voltage at {place.replace('_', ' ')}"
        return self.values[volts]

    def _behind(self, node: int, amps: Any) -> dict[str, tuple[str, float]]:
        """Return what draws current at a node and behind it."""
        fields, servos = self.known.inputs.supply.fields, self.known.inputs.servos
        parent = fields["parent"]
        made: dict[str, tuple[str, float]] = {}
        for index, at in enumerate(fields["servo_node"]):
            if node in _path(parent, int(at)) and amps[index]:
                run = self.known.described.runs[int(servos.owner[index])].name
                made[f"I_{index + 1}"] = (f"servo of {run!r}", float(amps[index]))
        load = sum(
            float(drawn)
            for at, drawn in enumerate(fields["load"])
            if node in _path(parent, at) and drawn
        )
        return made | ({f"I_load{node}": ("receiver and other loads", load)} if load else {})

    def _resistance(self, inputs: Inputs, place: str, node: int, note: str) -> None:
        fields = {
            name: float(np.broadcast_to(value, fields_shape)[node])
            for name, value in inputs.supply.fields.items()
            if np.shape(value) in {(), (fields_shape := np.shape(inputs.supply.fields["length"]))}
        }
        if math.isfinite(fields["loop_resistance"]):
            self.values[f"R_{place}"] = fields["loop_resistance"]
            return
        back = fields["return_area"]
        contacts = fields["contacts"]
        others = fields["return_contacts"]
        given = {
            "k": fields["strand_factor"],
            "rho_20": fields["resistivity"],
            "alpha_20": fields["temperature_coefficient"],
            "t": fields["copper_temperature"],
            "l": fields["length"],
            "A": fields["conductor_area"],
            "A_b": back,
            "n": contacts + (contacts if math.isnan(others) else others),
            "R_c": fields["contact_resistance"],
        }
        formula = chain.resistance(place, one_return=math.isnan(back))
        self._add(formula, note, **{f"{name}_{place}": value for name, value in given.items()})

    def _margin(self) -> None:
        volts = self.values["V_s"]
        rows = self.known.described.runs[self.run].servo.rows
        table = [(stated(row, "voltage").si, stated(row, "stall_torque").si) for row in rows]
        above = [index for index, (row_volts, _) in enumerate(table) if row_volts > volts]
        upper = above[0] if above else len(table)
        first = table[max(upper - 1, 0)]
        second = table[min(upper, len(table) - 1)]
        measured = bool(self.known.inputs.servos.measured[self.run])
        formula = chain.stall_torque(1 + (0 < upper < len(table)), between=upper == 0)
        factors = self.known.results.factors
        self._add(
            formula,
            V_1=float(first[0]),
            T_1=float(first[1]),
            V_2=float(second[0]),
            T_2=float(second[1]),
            f_d=1.0 if measured else float(factors.datasheet),
        )
        if not self.values["T_move"]:
            raise _Stop("no load at any deflection: something is missing in the file")
        self._add(chain.margin(), f=float(factors.torque))


def _unit(axis: Any) -> Any:
    return axis / np.linalg.norm(axis)


def _turned(vector: Any, axis: Any, angle: float) -> Any:
    """Turn a vector about a unit vector (Rodrigues)."""
    along = axis * (axis @ vector)
    return along + (vector - along) * math.cos(angle) + np.cross(axis, vector) * math.sin(angle)


def _path(parent: Any, node: int) -> list[int]:
    """Return the nodes from the bus to a node."""
    found = [node]
    while parent[found[-1]] >= 0:
        found.append(int(parent[found[-1]]))
    return found[::-1]
