r"""Proof loads: what to hang on a surface on the bench, and what to expect.

The calculation ends where the installation begins. For every run the case that asks most of its
servos gives the governing hinge moment M at the governing deflection; on the bench a mass or a
luggage scale stands for k M, with `proof.factor` of the aircraft for k. The weight of the
surface itself is counted by statics: with the hinge line level and gravity along the load it
takes its part,

.. math:: m = \frac{k |M| - m_s g r_s \cos\delta}{g r \cos\delta}, \qquad
          F = \frac{k |M| - M_s}{r}

for a mass hung on the chord line a distance r aft of the hinge line, and for a pull square to
the surface there; M_s is the moment of the surface's own weight in the sense of the load.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.checking import Checked, checked
from linkcalc.evaluation.evaluate import prepare, servo_share, weakened
from linkcalc.evaluation.factors import both
from linkcalc.evaluation.governing import counting_line
from linkcalc.evaluation.linkage import position
from linkcalc.evaluation.loads import bear
from linkcalc.evaluation.supply import delivered
from linkcalc.evaluation.yielding import yields
from linkcalc.model.value_classes import stated
from linkcalc.physics import servo
from linkcalc.physics.servo_sheet import hold_time
from linkcalc.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    import os

    from numpy.typing import NDArray

    from linkcalc.evaluation.linkage import Linkages, Position
    from linkcalc.model import Aircraft, ControlSurface, ProofLoad
    from linkcalc.results import Report

    Floats = NDArray[np.float64]

__all__ = ["READING", "Expected", "Proof", "ProofRun", "ProofSurface", "proof"]

READING = math.radians(1.0)
"""To which a deflection is read on a card held to the surface [rad] (common practice, no source)."""

STEEPEST = math.radians(75.0)
"""Deflection beyond which a hanging mass has too little leverage to be told well [rad]."""


class ProofSurface(NamedTuple):
    """The load on one surface, in SI; None where it cannot be made so.

    Attributes
    ----------
    deflection : float
        To be held, positive trailing edge down [rad].
    moment : float
        That the bench has to make about the hinge line, positive trailing edge down [N m].
    upright : bool
        Whether it is a fin: its deflection is to starboard where others go down.
    panel : bool
        Whether it is a panel of a vee.
    pulled_down : bool
        Whether gravity acts in the sense of the load when the surface is level.
    chord, lever : float
        Mean chord aft of the hinge line, and where on it the load goes [m].
    own_level, own_vertical : float
        Moment of the surface's own weight at that deflection, in the sense of `moment`, with
        the hinge line level and gravity along the load, and with the surface upright [N m].
    mass : float or None
        To hang there with the surface level [kg].
    mass_reason : str
        Why there is none.
    pull_level, pull_vertical : float
        Square to the surface there, in the sense of `moment`; negative against it [N].
    rod_force : float
        In the pushrod under the load, tension positive [N].
    give : float
        How far the load turns the surface with the servo held [rad].
    stiffness_known : bool
        Whether a compliance was given.
    """

    deflection: float
    moment: float
    upright: bool
    panel: bool
    pulled_down: bool
    chord: float
    lever: float
    own_level: float
    own_vertical: float
    mass: float | None
    mass_reason: str
    pull_level: float
    pull_vertical: float
    rod_force: float
    give: float
    stiffness_known: bool

    @property
    def edge_travel(self) -> float:
        """From the trailing edge at neutral straight to where it is held [m]."""
        return 2 * self.chord * math.sin(abs(self.deflection) / 2)


class Expected(NamedTuple):
    """What the calculation expects of one servo, with printed torque or on the safe side.

    Attributes
    ----------
    voltage, current : float
        At its plug while it moves the load, all other servos at rest [V], [A].
    rate : float
        Of the slowest surface there; zero or less where the servo stalls [rad/s].
    stall : float
        Torque that stalls it at that voltage [N m].
    """

    voltage: float
    current: float
    rate: float
    stall: float


class ProofRun(NamedTuple):
    """The proof of one control run.

    Attributes
    ----------
    name : str
        The run.
    reason : str
        Why there is no proof load; empty where there is one.
    case : str
        The flight case that asks most of its servos.
    surfaces : tuple of ProofSurface
        All of them are loaded at the same time.
    servos : int
        That work together.
    hold, move : float
        Torque of each to hold the load, signed, and to move it [N m].
    likely, cautious : Expected
        With the printed stall torque; with it divided by the factor `datasheet`.
    play : float
        Total free play at the first surface; nan where it is not given [rad].
    play_limit : float
        That is allowed [rad].
    deadband : float
        Of the servo at the first surface; nan where it is not given [rad].
    minimum_voltage : float
        Least working voltage of the servo [V].
    time : float
        To hold the load, no longer than `warm_limit` [s].
    warm_limit : float
        Longer than which the servo would be too warm [s].
    """

    name: str
    reason: str = ""
    case: str = ""
    surfaces: tuple[ProofSurface, ...] = ()
    servos: int = 1
    hold: float = math.nan
    move: float = math.nan
    likely: Expected = Expected(*[math.nan] * 4)
    cautious: Expected = Expected(*[math.nan] * 4)
    play: float = math.nan
    play_limit: float = math.nan
    deadband: float = math.nan
    minimum_voltage: float = math.nan
    time: float = math.nan
    warm_limit: float = math.nan

    @property
    def holds(self) -> bool:
        """Whether the servo is expected to move the load even on the safe side."""
        return not self.reason and self.cautious.rate > 0

    @property
    def tolerance(self) -> float:
        """By which a deflection may differ from what is expected [rad]."""
        return READING + float(np.nan_to_num(self.play) / 2 + np.nan_to_num(self.deadband))


class Proof(NamedTuple):
    """Proof loads of an aircraft.

    Attributes
    ----------
    aircraft : str
        Its name.
    asked : ProofLoad
        Factor on every governing hinge moment, lever and time.
    runs : tuple of ProofRun
        In the order of the aircraft.
    report : Report
        Of the check that they come from.
    """

    aircraft: str
    asked: ProofLoad
    runs: tuple[ProofRun, ...]
    report: Report

    @property
    def ready(self) -> bool:
        """Whether every run has a load that its servo is expected to move."""
        return all(run.holds for run in self.runs)


def proof(aircraft: Aircraft | Checked | str | os.PathLike[str]) -> Proof:
    """Work out the proof load of every control run.

    Parameters
    ----------
    aircraft : Aircraft, Checked, str or path
        The aircraft, its check, or the file that describes it.

    Returns
    -------
    Proof
        A load for every run, or the reason why there is none.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.

    Notes
    -----
    The load goes on the chord line at half span, where a surface with straight edges has its mean
    chord. That the factor has the default of that on torque means: a run whose torque margin is
    zero just moves its proof load.

    Examples
    --------
    >>> found = proof("examples/sandpiper_rewired.toml")
    >>> flap = found.runs[2]
    >>> round(flap.surfaces[0].mass, 2), found.asked.factor
    (0.91, 1.25)
    """
    known = aircraft if isinstance(aircraft, Checked) else checked(aircraft)
    factor = float(known.described.proof.factor)
    report = known.report()
    bench = _Bench(known, factor)
    runs = tuple(bench.run(index, report) for index in range(len(known.described.runs)))
    return Proof(known.described.name, known.described.proof, runs, report)


class _Bench:
    """All runs of an aircraft on the bench, each loaded while the others rest."""

    def __init__(self, known: Checked, factor: float) -> None:
        self.known, self.factor = known, factor
        inputs, results = known.inputs, known.results
        self.linkages = prepare(inputs)
        at = results.answer.governing.deflection
        bearing = bear(inputs, self.linkages, at[..., None])
        line = counting_line(bearing, inputs.basis)
        owner = inputs.surfaces.owner
        each = np.broadcast_to(line[..., owner, :], (1, *bearing.moments.shape[1:]))
        moments = np.take_along_axis(bearing.moments, each, 0)[0, ..., 0]
        hold = np.abs(np.take_along_axis(bearing.hold, line, 0)[0, ..., 0])
        hold = np.where(np.isnan(hold) | (inputs.cases.live == 0), -1.0, hold)
        self.case = hold.argmax(0)
        self.asked = hold.max(0)
        runs = np.arange(len(self.case))
        self.moment = factor * moments[self.case[owner], np.arange(len(owner))]
        self.at = at[self.case, runs]
        self.place = self._placed(self.linkages)
        self.torques()

    def _placed(self, linkages: Linkages) -> Position:
        """Where the linkages stand when the load has turned them to the deflection to hold."""
        first = self.known.inputs.surfaces.first
        give = self.known.inputs.surfaces.compliance * self.moment
        found = position(linkages, (self.at - give[first])[:, None])
        angle = found.deflection[:, 0] + give
        angle[first] = self.at
        return type(found)(found.servo_angle[:, 0], angle, found.slope[:, 0], found.rod_force[:, 0])

    def torques(self) -> None:
        """Work out torques, and what the supply makes of them."""
        inputs, results = self.known.inputs, self.known.results
        surfaces, first = inputs.surfaces, inputs.surfaces.first
        work = self.moment * self.place.slope
        hold = -np.add.reduceat(work, first)
        lost = (1 / inputs.runs.efficiency - 1)[surfaces.owner] * np.abs(work)
        lost = lost + surfaces.hinge_friction * np.abs(self.place.slope)
        count = np.array([run.servo_count for run in self.known.described.runs], dtype=np.float64)
        runs = len(count)
        live = np.tile(count, (runs, 1))
        inputs = inputs._replace(cases=inputs.cases._replace(live=live))
        stacked = both(results.factors, 3)
        share = servo_share(inputs, stacked)[:, 0]
        self.hold = share * hold
        self.move = (
            share * (np.abs(hold) + np.add.reduceat(lost, first)) + inputs.runs.shaft_friction
        )
        load = np.zeros((2, runs, runs))
        load[:, np.arange(runs), np.arange(runs)] = self.move
        curves = weakened(inputs, stacked)
        self.electric = delivered(inputs, curves, load, stacked.torque, stalled=False)
        of_runs = type(curves)(*(column[..., inputs.servos.first, :] for column in curves))
        volts = _own(self.electric.at_work)
        self.voltage, self.current = volts, _own(self.electric.current_at_work)
        voltage = self.electric.at_work
        self.stall = _own(np.asarray(servo.stall_torque(of_runs, voltage)))
        self.no_load = _own(np.asarray(servo.no_load_speed(of_runs, voltage)))

    def expected(self, run: int, place: int) -> Expected:
        """Return what is expected of a run, on one place of the basis axis."""
        slope = np.minimum.reduceat(np.abs(self.place.slope), self.known.inputs.surfaces.first)
        stall = float(self.stall[place, run])
        turn = float(self.no_load[place, run]) * (1 - float(self.move[place, run]) / stall)
        return Expected(
            float(self.voltage[place, run]),
            float(self.current[place, run]),
            float(slope[run]) * turn if stall > 0 else -math.inf,
            stall,
        )

    def run(self, index: int, report: Report) -> ProofRun:
        """Return the proof of one run."""
        described = self.known.described.runs[index]
        inputs, results = self.known.inputs, self.known.results
        surfaces = np.flatnonzero(inputs.surfaces.owner == index)
        reason = self._why_not(index, surfaces, report)
        if reason:
            return ProofRun(described.name, reason)
        hold = float(self.hold[0, index])
        warm = hold_time(
            torque_share=abs(hold),
            continuous_share=float(results.factors.hold_fraction) * float(self.stall[0, index]),
            time_constant=inputs.servos.time_constant[index],
        )
        warm = float(warm) if not np.isnan(warm) else math.inf
        play = np.broadcast_to(
            results.answer.margins.free_play.required, results.answer.governing.move.shape
        )
        return ProofRun(
            name=described.name,
            case=self.known.described.cases[self.case[index]].name,
            surfaces=tuple(self._surface(int(place), int(surfaces[0])) for place in surfaces),
            servos=described.servo_count,
            hold=hold,
            move=float(self.move[0, index]),
            likely=self.expected(index, 1),
            cautious=self.expected(index, 0),
            play=float(play[0, 0, index]),
            play_limit=float(results.factors.free_play_limit),
            deadband=float(results.deadband[index]),
            minimum_voltage=float(inputs.servos.minimum[index]),
            time=min(float(stated(self.known.described.proof, "time").si), warm),
            warm_limit=warm,
        )

    def _why_not(self, index: int, surfaces: NDArray[np.intp], report: Report) -> str:
        """Say why there is no proof load."""
        cases = report.runs[index].cases
        if not cases:
            return "its servos are taken as dead in every flight case"
        if self.asked[index] < 0 or not np.all(np.isfinite(self.moment[surfaces])):
            reasons = [case.margin("torque").reason for case in cases]
            return next((reason for reason in reasons if reason), "its load could not be computed")
        if self.asked[index] == 0:
            return "no load at any deflection: something is missing in the file"
        if not np.all(np.isfinite(self.place.slope[surfaces])):
            return "the linkage does not reach the deflection with the load on it"
        if not math.isfinite(self.voltage[0, index]):
            failed = self.known.failures.get(self.known.described.supply.solver)
            return failed or "no voltage satisfies the supply with the load on this run"
        return ""

    def _surface(self, index: int, first: int) -> ProofSurface:
        """Return the load on one surface; the aircraft lies as the first of the run needs it."""
        described = [link for run in self.known.described.runs for link in run.linkages][index]
        inputs = self.known.inputs
        normal = inputs.surfaces.normal[index]
        upright = bool(abs(normal[1]) > abs(normal[2]))
        return load_on(
            described.surface,
            deflection=float(self.place.deflection[index]),
            moment=float(self.moment[index]),
            upright=upright,
            lever=self.known.described.proof.lever,
            pulled_down=bool(self.moment[index] * self.moment[first] > 0),
            rod_force=float(self.moment[index] * self.place.rod_force[index]),
            compliance=float(inputs.surfaces.compliance[index]),
            stiffness_known=stated(described, "compliance") is not None or yields(described),
        )


def _own(by_case: Floats) -> Floats:
    """Return every run's value in its own case, where it alone is loaded."""
    return np.asarray(np.diagonal(by_case, axis1=-2, axis2=-1))


def load_on(
    surface: ControlSurface,
    *,
    deflection: float,
    moment: float,
    lever: float = 0.5,
    upright: bool = False,
    pulled_down: bool = True,
    rod_force: float = math.nan,
    compliance: float = 0.0,
    stiffness_known: bool = True,
) -> ProofSurface:
    """Turn a hinge moment into a mass to hang and forces to pull with.

    Parameters
    ----------
    surface : ControlSurface
        Its chord, mass and centre of mass are used.
    deflection : float
        To be held, positive trailing edge down [rad].
    moment : float
        That the bench has to make, positive trailing edge down, not zero [N m].
    lever : float
        Where the load goes: share of the mean chord aft of the hinge line.
    upright : bool
        Whether it is a fin, whose hinge line is plumb when the surface is vertical; any other
        surface is vertical with the nose up.
    pulled_down : bool
        Whether gravity acts in the sense of the load when the surface is level; against it
        where one servo moves two surfaces opposite ways.
    rod_force : float
        In the pushrod under the load [N].
    compliance : float
        Deflection per hinge moment with the servo held [rad/(N m)].
    stiffness_known : bool
        Whether that was given.

    Returns
    -------
    ProofSurface
        The load.

    Examples
    --------
    A quarter of a newton metre on a chord of 50 mm at neutral, the load half way aft:

    >>> from linkcalc import ControlSurface
    >>> plain = ControlSurface(span="0.5 m", chord="50 mm", throw="20 deg")
    >>> found = load_on(plain, deflection=0.0, moment=0.25)
    >>> found.pull_level, round(found.mass * 9.80665, 9)
    (10.0, 10.0)
    """
    chord, mass = float(stated(surface, "chord").si), stated(surface, "mass")
    centre = stated(surface, "mass_centre")
    weight = STANDARD_GRAVITY * (mass.si if mass else 0.0) * (centre.si if centre else 0.0)
    aft = chord * (1 - (surface.hinge_position or 0.0))
    arm, sense = lever * aft, math.copysign(1.0, moment)
    level = weight * math.cos(deflection) * (1.0 if pulled_down else -1.0)
    vertical = 0.0 if upright else -sense * weight * math.sin(deflection)
    size = abs(moment)
    hung, reason = None, ""
    if not pulled_down:
        reason = "the load is upwards here: use the luggage scale"
    elif abs(deflection) > STEEPEST:
        reason = "the surface hangs too steep for a mass: use the luggage scale"
    elif size <= level:
        reason = "the surface's own weight is more than the load"
    else:
        hung = (size - level) / (STANDARD_GRAVITY * arm * math.cos(deflection))
    return ProofSurface(
        deflection,
        moment,
        upright,
        surface.plane == "vee",
        pulled_down,
        aft,
        arm,
        level,
        vertical,
        hung,
        reason,
        (size - level) / arm,
        (size - vertical) / arm,
        rod_force,
        abs(compliance * (moment - sense * level)),
        stiffness_known,
    )
