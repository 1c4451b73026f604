"""Linkages in an evaluation: how far they reach, and where they stand at a deflection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from linkcalc.evaluation.axes import with_leaves
from linkcalc.mechanism import pushrod
from linkcalc.mechanism.ready import Ready

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.chains import Mixed
    from linkcalc.evaluation.inputs import Chained, Geometry, Inputs
    from linkcalc.mechanism.ready import Solution

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = [
    "LaterLinkages",
    "Linkages",
    "Position",
    "Reach",
    "picked_linkages",
    "position",
    "prepare",
]

_INSIDE = 1.0 - 1e-9  # at a dead centre itself the slope has no value


class Linkages(NamedTuple):
    """Linkages made ready to be asked for many deflections.

    Attributes
    ----------
    first : Ready or Mixed
        Of the first surface of every run, shape (run, 1).
    every : Ready or Mixed
        Of every surface, shape (surface, 1); `first` again where every run has one.
    owner, starts : ndarray of int, shape (surface,) and (run,)
        The run of each surface, and the first surface of each run.
    stiff : Reach
        How far each gets without load.
    neutral : Solution, shape (surface, 1)
        Of every surface, with the servo at neutral.
    sided : bool
        Whether where a surface stands depends on the sign of its load.
    """

    first: Ready | Mixed
    every: Ready | Mixed
    owner: Whole
    starts: Whole
    stiff: Reach
    neutral: Solution
    sided: bool


class Reach(NamedTuple):
    """What servo travel and linkage let the first surface of each run do.

    Attributes
    ----------
    low, high : ndarray, shape (run,)
        Ends of the deflection reached from neutral, negative and positive side
        [rad]; nan where neutral itself is not reached.
    """

    low: Floats
    high: Floats


class Position(NamedTuple):
    """Every surface at a deflection of the first one of its run.

    Attributes
    ----------
    servo_angle : ndarray, shape (..., run, deflection)
        From neutral [rad].
    deflection : ndarray, shape (..., surface, deflection)
        Of every surface [rad].
    slope : ndarray, shape (..., surface, deflection)
        d(deflection) / d(servo angle) [-].
    rod_force : ndarray, shape (..., surface, deflection)
        Tension per unit moment on the surface [1/m].
    """

    servo_angle: Floats
    deflection: Floats
    slope: Floats
    rod_force: Floats


def _along_last(geometry: Geometry, which: Whole | slice) -> dict[str, Floats]:
    """Return the geometry of some surfaces, with an axis for deflections."""
    return {
        name: value[..., which, None] if name == "rod_length" else value[..., which, None, :]
        for name, value in geometry._asdict().items()
    }


def prepare(inputs: Inputs) -> Linkages:
    """Make the linkages of an aircraft ready.

    Parameters
    ----------
    inputs : Inputs
        Geometry, surfaces and the servos' travel are used.

    Returns
    -------
    Linkages
        What `position` asks.
    """
    surfaces = inputs.surfaces
    single = len(surfaces.owner) == len(surfaces.first)
    first: Ready | Mixed
    every: Ready | Mixed
    if inputs.chains:
        from linkcalc.evaluation.chains import mixed  # noqa: PLC0415 - few files have chains

        first = mixed(inputs.geometry, inputs.chains, surfaces.first)
        everything = np.arange(len(surfaces.owner))
        every = first if single else mixed(inputs.geometry, inputs.chains, everything)
    else:
        first = pushrod.prepare(**_along_last(inputs.geometry, surfaces.first))
        every = first if single else pushrod.prepare(**_along_last(inputs.geometry, slice(None)))
    neutral = every.solve(np.float64(0.0))
    travel = _servo_travel(inputs, neutral.slope[..., surfaces.first, :])
    stiff = _reach(first, every, surfaces.first, travel)
    return Linkages(
        first, every, surfaces.owner, surfaces.first, stiff, neutral, _sided(inputs.chains)
    )


def _sided(chains: tuple[Chained, ...]) -> bool:
    if not chains:
        return False
    from linkcalc.evaluation.chains import sided  # noqa: PLC0415 - few files have chains

    return sided(chains)


def _servo_travel(inputs: Inputs, slope: Floats) -> Floats:
    """Return how far each servo goes to the negative and the positive side, shape (run, 2) [rad].

    Its own travel, or less where the radio's pulses send it less far.
    """
    up_first = np.where(slope > 0, inputs.runs.sent, inputs.runs.sent[..., ::-1])
    return np.asarray(np.minimum(up_first, inputs.runs.travel[..., None]))


def _reach(first: Ready | Mixed, every: Ready | Mixed, starts: Whole, travel: Floats) -> Reach:
    """Return the deflection that each linkage reaches without load, walking outward from neutral.

    It is the nearest of servo travel, the arm's dead centre and the horn's, of every
    surface that the servo moves. Beyond it an inverse may exist again; that counts for
    nothing. Cables have to get there whichever of them is taut.
    """
    ends = np.abs(every.limits().servo_angle[..., 0, :])
    nearest = np.minimum.reduceat(ends, starts, axis=-2) * _INSIDE
    span = np.minimum(nearest, travel) * np.array([-1.0, 1.0])
    dead = first.surface_limits()[..., 0, :] * _INSIDE  # where arm or horn can do no more
    there = np.where(np.isfinite(dead), dead, 0.0)
    if isinstance(first, Ready):
        ends = _ends(first.solve(span).surface_angle, first.invert(there).servo_angle, span, dead)
        return Reach(ends[..., 0], ends[..., 1])
    both = [
        _ends(
            first.solve(span, sense).surface_angle,
            first.invert(there, sense).servo_angle,
            span,
            dead,
        )
        for sense in (1.0, -1.0)
    ]
    low, high = np.stack(both)[..., 0].max(0), np.stack(both)[..., 1].min(0)
    return Reach(low, high)


def _ends(at_ends: Floats, there: Floats, span: Floats, dead: Floats) -> Floats:
    """Return the deflections at the ends of the servo's way, or at a dead centre before these."""
    at_ends = np.sort(at_ends, axis=-1)  # a reversed linkage goes down where the servo goes up
    side = np.where(there < 0, -span[..., :1], span[..., 1:])  # how far the servo goes on that side
    before = np.isfinite(dead) & (np.abs(there) < side)  # the servo would come past it
    return np.where(before, dead, at_ends)


def picked_linkages(linkages: Linkages, where: tuple[Whole, ...], trial: Inputs) -> Linkages:
    """Return linkages of some variants and cases, each as often as it is named.

    Parameters
    ----------
    linkages : Linkages
        From `prepare`, with any axes in front of the run.
    where : tuple of ndarray of int, shape (n,)
        Which, along every axis up to that of the cases.
    trial : Inputs
        The same variants and cases, from which chains are made ready again.

    Returns
    -------
    Linkages
        With n cases where variants differ in their linkages; the same where they do not.
    """
    if isinstance(linkages, LaterLinkages):
        linkages = linkages.picked()
    if all(end.ndim <= 1 for end in linkages.stiff):
        return linkages
    if not isinstance(linkages.first, Ready):
        return prepare(trial)

    def change(path: tuple[str | int, ...], leaf: Any) -> Any:
        if "loop" in path:  # nobody asks for the loop of one that is ready
            return leaf
        own = 1 if path[0] == "stiff" else 2  # run or surface, and a node
        front = int("weights" in path or "half" in path)  # three weights, before all axes
        ahead = np.shape(leaf)[front : max(np.ndim(leaf) - own, front)]
        if not ahead:
            return leaf
        chosen = where[len(where) - len(ahead) :]
        index = (i if n > 1 else 0 * i for i, n in zip(chosen, ahead, strict=True))
        return leaf[(*(slice(None),) * front, *index)]

    made: Linkages = with_leaves(linkages._replace(every=linkages.first), change)
    if linkages.every is linkages.first:
        return made._replace(every=made.first)
    return made._replace(every=with_leaves(linkages.every, change, ("every",)))


class LaterLinkages:
    """Linkages of some variants and cases, picked when somebody asks where they stand.

    Parameters
    ----------
    linkages : Linkages
        From `prepare`.
    where : tuple of ndarray of int, shape (n,)
        Which, as `picked_linkages` takes it.
    trial : Inputs
        The same variants and cases.
    """

    def __init__(self, linkages: Linkages, where: tuple[Whole, ...], trial: Inputs) -> None:
        self._asked = linkages, where, trial
        self.sided = linkages.sided

    def __getattr__(self, name: str) -> Any:
        """Pick them, the first time that an attribute of `Linkages` is missing."""
        if name not in Linkages._fields:
            raise AttributeError(name)
        self.__dict__.update(picked_linkages(*self._asked)._asdict())
        return self.__dict__[name]

    def picked(self) -> Linkages:
        """Return them as they are without waiting.

        Returns
        -------
        Linkages
            The same.
        """
        return Linkages(*(getattr(self, name) for name in Linkages._fields))


def position(linkages: Linkages, deflection: Floats, sense: Floats | None = None) -> Position:
    """Return where every linkage stands when the first surfaces would have a deflection.

    Parameters
    ----------
    linkages : Linkages
        From `prepare`.
    deflection : ndarray, shape (..., run, deflection)
        Of the first surface of each run, with a stiff linkage [rad].
    sense : ndarray, shape (..., surface, deflection), optional
        Sign of the moment on every surface, where that matters; positive when left out [-].

    Returns
    -------
    Position
        nan beyond what the linkage reaches.
    """
    if linkages.sided:
        return _on_its_side(linkages, deflection, np.ones(1) if sense is None else sense)
    servo_angle = linkages.first.invert(deflection).servo_angle
    if linkages.every is linkages.first:
        answer = linkages.first.solve(servo_angle)
        return Position(servo_angle, deflection, answer.slope, answer.rod_force)
    answer = linkages.every.solve(servo_angle[..., linkages.owner, :])
    angle = np.where(np.abs(answer.surface_angle) < 1e-12, 0.0, answer.surface_angle)
    angle[..., linkages.starts, :] = deflection
    return Position(servo_angle, angle, answer.slope, answer.rod_force)


def _on_its_side(linkages: Linkages, deflection: Floats, sense: Floats) -> Position:
    """Do the same where cables have to know which of them is loaded."""
    first, every = linkages.first, linkages.every
    if isinstance(first, Ready) or isinstance(every, Ready):
        raise TypeError("pushrods alone have no side")
    starts, owner = linkages.starts, linkages.owner
    sense = np.broadcast_to(
        sense, np.broadcast_shapes(sense.shape, (*deflection.shape[:-2], len(owner), 1))
    )
    servo_angle = first.invert(deflection, sense[..., starts, :]).servo_angle
    answer = every.solve(servo_angle[..., owner, :], sense)
    angle = np.array(answer.surface_angle)
    angle[..., starts, :] = deflection
    return Position(servo_angle, angle, answer.slope, answer.rod_force)
