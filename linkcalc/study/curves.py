"""What pictures show: margins over deflection and speed, the air load, voltages, the linkage."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.checking import Checked, checked
from linkcalc.evaluation.axes import picked, varies_by_case
from linkcalc.evaluation.evaluate import evaluate, prepare, servo_share, weakened
from linkcalc.evaluation.factors import Factors, both
from linkcalc.evaluation.governing import VERDICT, worst_move
from linkcalc.evaluation.loads import BEST, HIGH, bear
from linkcalc.evaluation.search import Look, nodes
from linkcalc.evaluation.speeds import GREATEST_MACH, SPEED_OF_SOUND
from linkcalc.evaluation.supply import every_state
from linkcalc.evaluation.supply_fields import node_names
from linkcalc.evaluation.wire_heat import with_warm_copper

if TYPE_CHECKING:
    import os

    from numpy.typing import NDArray

    from linkcalc.evaluation.evaluate import Answer
    from linkcalc.evaluation.inputs import Inputs
    from linkcalc.evaluation.linkage import Linkages
    from linkcalc.model import Aircraft
    from linkcalc.results import Report

    Floats = NDArray[np.float64]

__all__ = ["Curves", "Drawing", "Path", "curves"]

_DEFLECTIONS, _SPEEDS = 41, 32
_LOOK = Look(nodes=25, zooms=2, details=False)
_ROOM, _LEAST_TOP, _GREATEST_TOP = 1.1, 1.4, 2.2  # of a freeze speed; of the case's speed


class Path(NamedTuple):
    """The way of the current to the servos of a run.

    Attributes
    ----------
    stations : tuple of str
        The source without load, its terminals under load, then the far end of each lead.
    at_work, at_limit : ndarray, shape (case, station)
        Voltage with every servo at its largest load, and when this run is itself about to
        stall [V]; nan where no voltage satisfies the supply.
    minimum, maximum : float
        Least working and rated maximum voltage of the servo; infinite where there is none [V].
    """

    stations: tuple[str, ...]
    at_work: Floats
    at_limit: Floats
    minimum: float
    maximum: float


class Drawing(NamedTuple):
    """The linkage of the first surface of a run, seen along the hinge line with the nose to the left.

    Attributes
    ----------
    names : tuple of str
        Of the positions: neutral, then the ends of the throw.
    deflection, servo_angle : ndarray, shape (position,)
        Of each [rad]; nan where neutral itself is not reached.
    reached : tuple of bool
        Whether each is reached; an end that is not is drawn as far as the linkage goes.
    servo, hinge : ndarray, shape (2,)
        Pivots, aft and up [m].
    arm, horn, trailing_edge : ndarray, shape (position, 2)
        Where their ends stand [m].
    rod_length : float
        Hole to hole, in space [m].
    chained : bool
        Whether it is a chain of stages, of which nothing is placed.
    """

    names: tuple[str, ...]
    deflection: Floats
    servo_angle: Floats
    reached: tuple[bool, ...]
    servo: Floats
    hinge: Floats
    arm: Floats
    horn: Floats
    trailing_edge: Floats
    rod_length: float
    chained: bool = False


class Curves(NamedTuple):
    """A check of an aircraft with what its pictures need.

    Attributes
    ----------
    report : Report
        The check itself.
    aircraft : Aircraft
        What was checked.
    deflection : ndarray, shape (case, run, deflection)
        Over the part of the commanded range that is reached; nan where there is none [rad].
    moments : ndarray, shape (3, case, run, deflection)
        Hinge moment of the first surface of each run on the low, best and high line of the air load,
        weight included, positive trailing edge down [N m].
    torque_margin, torque_margin_best : ndarray, shape (case, run, deflection)
        With every factor, on the line that asks for most and on the best one [1].
    speed : ndarray, shape (case, speed)
        True airspeeds, ascending [m/s].
    torque_margin_at, least_margin_at : ndarray, shape (case, speed, run)
        Torque margin, and the least of all margins that apply; nan where one of these cannot be
        computed [1].
    case_speed : ndarray, shape (case,)
        True airspeed of each case [m/s].
    paths : tuple of Path
        By run.
    drawings : tuple of Drawing
        By run.
    checked : Checked
        The arrays behind the report.
    """

    report: Report
    aircraft: Aircraft
    deflection: Floats
    moments: Floats
    torque_margin: Floats
    torque_margin_best: Floats
    speed: Floats
    torque_margin_at: Floats
    least_margin_at: Floats
    case_speed: Floats
    paths: tuple[Path, ...]
    drawings: tuple[Drawing, ...]
    checked: Checked

    def place(self, run: str, case: str) -> tuple[int, int]:
        """Return where a run and a case stand.

        Parameters
        ----------
        run, case : str
            Names.

        Returns
        -------
        tuple of int
            Their places, run first.

        Raises
        ------
        KeyError
            The aircraft has no such run or case.
        """
        runs, cases = (
            [each.name for each in group] for group in (self.aircraft.runs, self.aircraft.cases)
        )
        for name, known in ((run, runs), (case, cases)):
            if name not in known:
                raise KeyError(f"{name!r} is none of {', '.join(map(repr, known))}")
        return runs.index(run), cases.index(case)


def curves(aircraft: Aircraft | str | os.PathLike[str]) -> Curves:
    """Check an aircraft, and compute what the pictures of the check need.

    Parameters
    ----------
    aircraft : Aircraft, str or path
        The aircraft, or the file that describes it.

    Returns
    -------
    Curves
        From the same evaluation as the report, at more deflections and speeds.

    Raises
    ------
    InputFaults
        The description cannot be used; all that is wrong with it.

    Examples
    --------
    >>> found = curves("examples/sandpiper.toml")
    >>> run, case = found.place("elevator", "dive from the cloud edge")
    >>> margin = found.report.runs[run].cases[case].margin("torque").margin
    >>> bool(abs(found.torque_margin[case, run].min() - margin) < 1e-6)
    True
    """
    found = checked(aircraft)
    inputs, results = found.inputs, found.results
    linkages = prepare(inputs)
    inputs = with_warm_copper(inputs, both(results.factors, 3), linkages)
    used = Factors(*(value[:1] for value in both(results.factors, 3)))
    answer = results.answer
    deflection = nodes(
        np.maximum(inputs.cases.low, answer.reach.low[0]),
        np.minimum(inputs.cases.high, answer.reach.high[0]),
        _DEFLECTIONS,
    )
    deflection = np.where(deflection[..., :1] <= deflection[..., -1:], deflection, np.nan)
    bearing = bear(inputs, linkages, deflection)
    share, friction = servo_share(inputs, used)[0][..., None], inputs.runs.shaft_friction[..., None]
    moves = worst_move(bearing, VERDICT), bearing.move[BEST]
    margins = [_margin(answer, results.factors.torque, share * move + friction) for move in moves]
    speed = _speeds(inputs, results.speeds.freeze.speed)
    at_speed = _at_speeds(inputs, linkages, used, speed)
    return Curves(
        report=found.report(),
        aircraft=found.described,
        deflection=deflection,
        moments=bearing.moments[: HIGH + 1][..., inputs.surfaces.first, :],
        torque_margin=margins[0],
        torque_margin_best=margins[1],
        speed=speed,
        torque_margin_at=at_speed[0],
        least_margin_at=at_speed[1],
        case_speed=np.asarray(inputs.cases.flight_speed),
        paths=_paths(found.described, inputs, used, answer),
        drawings=tuple(
            _drawing(inputs, linkages, run) for run in range(len(inputs.surfaces.first))
        ),
        checked=found,
    )


def _margin(answer: Answer, factor: float, needed: Floats) -> Floats:
    """Return the torque margin where a torque is needed; nothing is asked where that is zero."""
    with np.errstate(divide="ignore"):
        return np.asarray(answer.torque_available[0][..., None] / (needed * factor) - 1)


def _speeds(inputs: Inputs, freeze: Floats) -> Floats:
    """Return the speeds of the pictures of each case, shape (case, speed)."""
    flown = inputs.cases.flight_speed
    wanted = _ROOM * np.where(np.isnan(freeze), 0.0, freeze).max(-1)
    top = np.clip(wanted, _LEAST_TOP * flown, _GREATEST_TOP * flown)
    top = np.minimum(top, GREATEST_MACH * SPEED_OF_SOUND)
    return np.asarray(top[:, None] * np.linspace(0.0, 1.0, _SPEEDS + 1)[1:])


def _at_speeds(
    inputs: Inputs, linkages: Linkages, used: Factors, speed: Floats
) -> tuple[Floats, Floats]:
    """Return torque margin and least margin of every run, shape (case, speed, run) each."""
    cases, count = inputs.cases, speed.shape[-1]
    index = np.repeat(np.arange(len(speed)), count)
    taken = cases.repeated(index)
    added = (cases.speed**2 - cases.flight_speed[:, None] ** 2)[index]  # by a propeller's wash
    taken["flight_speed"] = speed.ravel()
    taken["speed"] = np.sqrt(speed.reshape(-1, 1) ** 2 + added)
    base = picked(inputs, (index,)) if varies_by_case(inputs) else inputs
    quiet = dict.fromkeys(("seek_latch_up", "seek_details"), np.float64(0.0))
    supply = base.supply._replace(fields={**base.supply.fields, **quiet})
    trial = base._replace(cases=type(cases)(**taken), supply=supply)
    found = evaluate(trial, used, linkages, (inputs.basis,), look=_LOOK)
    shape = (*speed.shape, -1)
    least = np.full(found.margins.torque.margin[0].shape, np.inf)
    for name, mode in found.margins._asdict().items():
        asked = mode.applies[0] & ((mode.required[0] != 0) | (name in {"torque", "divergence"}))
        least = np.minimum(least, np.where(asked, mode.margin[0], np.inf))
    return found.margins.torque.margin[0].reshape(shape), least.reshape(shape)


# the way of the current ------------------------------------------------------------------


def _paths(aircraft: Aircraft, inputs: Inputs, used: Factors, answer: Answer) -> tuple[Path, ...]:
    """Follow the leads of every run from the source to its first servo."""
    load = answer.governing.move[:1]
    if inputs.supply.solver:
        solved = every_state(inputs, weakened(inputs, used), load, used.torque)
        voltage = solved["node_voltage"][:, 0]  # (state, case, node)
    else:  # it has failed
        nodes = len(inputs.supply.fields["parent"])
        voltage = np.full((2 + load.shape[-1], *load.shape[1:-1], nodes), np.nan)
    fields, servos = inputs.supply.fields, inputs.servos
    made, names = [], node_names(aircraft)
    for r in range(len(aircraft.runs)):
        way = [int(fields["servo_node"][servos.first[r]])]
        while fields["parent"][way[0]] >= 0:
            way.insert(0, int(fields["parent"][way[0]]))
        ends = [voltage[state][:, way] for state in (0, 1 + r)]
        unloaded = np.full((len(inputs.cases.flight_speed), 1), fields["open_circuit_voltage"])
        at_work, at_limit = (np.concatenate((unloaded, end), axis=1) for end in ends)
        stations = ("no load", "terminals", *(names[node] for node in way[1:]))
        made.append(
            Path(stations, at_work, at_limit, float(servos.minimum[r]), float(servos.maximum[r]))
        )
    return tuple(made)


# the linkage -----------------------------------------------------------------------------


def _drawing(inputs: Inputs, linkages: Linkages, run: int) -> Drawing:
    """Place the linkage of a run at neutral and at the ends of the throw."""
    first = inputs.surfaces.first[run]
    geometry = {name: value[first] for name, value in inputs.geometry._asdict().items()}
    axis = geometry["hinge_axis"] / np.linalg.norm(geometry["hinge_axis"])
    aft = np.array([1.0, 0.0, 0.0]) - axis[0] * axis
    aft /= np.linalg.norm(aft)
    plane = np.stack((aft, np.cross(aft, axis)))
    wanted = np.array([0.0, inputs.cases.throw_low[run], inputs.cases.throw_high[run]])
    low, high = linkages.stiff.low[run], linkages.stiff.high[run]
    chained = any(item.surface == first for item in inputs.chains)
    placed = low <= high and not chained
    there = np.clip(wanted, low, high) if placed else np.full(3, np.nan)
    asked = np.zeros((len(inputs.surfaces.first), 3))
    asked[run] = there
    servo_angle = there if chained else linkages.first.invert(asked).servo_angle[run]
    arms = geometry["servo_pivot"] + _turned(geometry["arm"], geometry["servo_axis"], servo_angle)
    horns = geometry["hinge_pivot"] + _turned(geometry["horn"], axis, there)
    chord = float(inputs.surfaces.fields["chord"][first])
    edges = geometry["hinge_pivot"] + _turned(chord * aft, axis, there)
    return Drawing(
        names=("neutral", "end of the throw up", "end of the throw down"),
        deflection=there,
        servo_angle=servo_angle,
        reached=tuple(bool(flag) for flag in np.abs(there - wanted) < 1e-9),
        servo=plane @ geometry["servo_pivot"],
        hinge=plane @ geometry["hinge_pivot"],
        arm=arms @ plane.T,
        horn=horns @ plane.T,
        trailing_edge=edges @ plane.T,
        rod_length=float(geometry["rod_length"]),
        chained=chained,
    )


def _turned(vector: Floats, axis: Floats, angle: Floats) -> Floats:
    """Turn a vector right-handed about an axis by some angles, shape (angle, 3)."""
    unit = axis / np.linalg.norm(axis)
    cosine, sine = np.cos(angle)[:, None], np.sin(angle)[:, None]
    along = unit * (unit @ vector)
    return np.asarray(along + cosine * (vector - along) + sine * np.cross(unit, vector))
