"""Linkages in an evaluation: how far they reach, and where they stand at a deflection."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism import pushrod

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linkcalc.evaluation.inputs import Geometry, Inputs
    from linkcalc.mechanism.pushrod import Ready
    from linkcalc.mechanism.ready import Solution

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

__all__ = ["Linkages", "Position", "Reach", "position", "prepare"]

_INSIDE = 1.0 - 1e-9  # at a dead centre itself the slope has no value


class Linkages(NamedTuple):
    """Linkages made ready to be asked for many deflections.

    Attributes
    ----------
    first : Ready
        Of the first surface of every run, shape (run, 1).
    every : Ready
        Of every surface, shape (surface, 1); `first` again where every run has one.
    owner, starts : ndarray of int, shape (surface,) and (run,)
        The run of each surface, and the first surface of each run.
    stiff : Reach
        How far each gets without load.
    neutral : Solution, shape (surface, 1)
        Of every surface, with the servo at neutral.
    """

    first: Ready
    every: Ready
    owner: Whole
    starts: Whole
    stiff: Reach
    neutral: Solution


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
    first = pushrod.prepare(**_along_last(inputs.geometry, surfaces.first))
    single = len(surfaces.owner) == len(surfaces.first)
    every = first if single else pushrod.prepare(**_along_last(inputs.geometry, slice(None)))
    stiff = _reach(first, every, surfaces.first, inputs.runs.travel)
    neutral = every.solve(np.float64(0.0))
    return Linkages(first, every, surfaces.owner, surfaces.first, stiff, neutral)


def _reach(first: Ready, every: Ready, starts: Whole, travel: Floats) -> Reach:
    """Return the deflection that each linkage reaches without load, walking outward from neutral.

    It is the nearest of servo travel, the arm's dead centre and the horn's, of every
    surface that the servo moves. Beyond it an inverse may exist again; that counts for
    nothing.
    """
    ends = np.abs(every.limits().servo_angle[..., 0, :])
    nearest = np.minimum.reduceat(ends, starts, axis=-2) * _INSIDE
    span = np.minimum(nearest, travel[..., None]) * np.array([-1.0, 1.0])
    at_ends = first.solve(span).surface_angle
    at_ends = np.sort(at_ends, axis=-1)  # a reversed linkage goes down where the servo goes up
    dead = first.surface_limits()[..., 0, :] * _INSIDE  # where arm or horn can do no more
    known = np.isfinite(dead)
    there = first.invert(np.where(known, dead, 0.0)).servo_angle
    side = np.where(there < 0, -span[..., :1], span[..., 1:])  # how far the servo goes on that side
    before = known & (np.abs(there) < side)  # the servo would come past it
    ends = np.where(before, dead, at_ends)
    return Reach(ends[..., 0], ends[..., 1])


def position(linkages: Linkages, deflection: Floats) -> Position:
    """Return where every linkage stands when the first surfaces would have a deflection.

    Parameters
    ----------
    linkages : Linkages
        From `prepare`.
    deflection : ndarray, shape (..., run, deflection)
        Of the first surface of each run, with a stiff linkage [rad].

    Returns
    -------
    Position
        nan beyond what the linkage reaches.
    """
    servo_angle = linkages.first.invert(deflection).servo_angle
    if linkages.every is linkages.first:
        answer = linkages.first.solve(servo_angle)
        return Position(servo_angle, deflection, answer.slope, answer.rod_force)
    answer = linkages.every.solve(servo_angle[..., linkages.owner, :])
    angle = np.where(np.abs(answer.surface_angle) < 1e-12, 0.0, answer.surface_angle)
    angle[..., linkages.starts, :] = deflection
    return Position(servo_angle, angle, answer.slope, answer.rod_force)
