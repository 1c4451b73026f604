"""Stages that are rigid in both senses: pushrod, torque rod, direct drive."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism import pushrod
from linkcalc.mechanism.branch import NO_GEOMETRY, VALID
from linkcalc.mechanism.ready import Limits, Ready
from linkcalc.mechanism.rods import bent, place, reaction
from linkcalc.mechanism.stage import Hold, Motion, Turn, no_members

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["Pushrod", "Shaft", "direct_drive", "lengthened", "make_pushrod", "torque_rod"]

_PARALLEL = 1e-9  # sine of the angle between axes that are taken for one


class Pushrod(NamedTuple):
    """Rod between an arm and a horn, or a bellcrank's; made by `make_pushrod`.

    Attributes
    ----------
    ready : Ready
        The kernel's, made ready.
    geometry : dict of str to array
        Keywords of `rods.place`.
    pins : tuple of two arrays, shape (..., 3)
        Along the pins of the joints on arm and horn, at neutral.
    """

    ready: Ready
    geometry: dict[str, Floats]
    pins: tuple[Floats, Floats]

    @property
    def input_axis(self) -> Floats:
        """Axis of the arm."""
        return self.geometry["servo_axis"]

    @property
    def output_axis(self) -> Floats:
        """Axis of the horn."""
        return self.geometry["hinge_axis"]

    def solve(self, angle: ArrayLike, sense: ArrayLike = 1.0) -> Motion:
        """Return output angle and slope; a rod holds in either sense.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        sense : array, shape (...), optional
            Not looked at.

        Returns
        -------
        Motion
            As of `pushrod.solve`.
        """
        del sense
        found = self.ready.solve(angle)
        return Motion(found.surface_angle, found.slope, found.reason)

    def invert(self, output_angle: ArrayLike, sense: ArrayLike = 1.0) -> Turn:
        """Return input angles, as `pushrod.invert` does.

        Parameters
        ----------
        output_angle : array, shape (...)
            Output angles [rad].
        sense : array, shape (...), optional
            Not looked at.

        Returns
        -------
        Turn
            Input angle and reason.
        """
        del sense
        return Turn(*self.ready.invert(output_angle))

    def limits(self) -> Limits:
        """Return what `pushrod.limits` returns.

        Returns
        -------
        Limits
            The horn's dead centres.
        """
        return self.ready.limits()

    def hold(self, angle: ArrayLike, moment: ArrayLike) -> Hold:
        """Return the force in the rod.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        moment : array, shape (...)
            External moment on the output [N m].

        Returns
        -------
        Hold
            With one member, "rod".
        """
        found = self.ready.solve(angle)
        there = place(angle, found.surface_angle, **self.geometry)
        force, pull = found.rod_force * np.asarray(moment), there.direction
        horn = reaction(self.geometry["horn"], self.output_axis).radial
        shape = np.shape(force)
        leaning = [
            np.broadcast_to(bent(pull, pin, axis, turn), shape)
            for pin, axis, turn in zip(
                self.pins,
                (self.input_axis, self.output_axis),
                (angle, found.surface_angle),
                strict=True,
            )
        ]
        return Hold(
            ("rod",),
            force[None],
            np.broadcast_to(pull, (*shape, 3))[None],
            np.broadcast_to(np.abs(there.lever) / horn, shape),
            np.stack(leaning),
        )


class Shaft(NamedTuple):
    """Bodies that turn as one about one axis; made by `direct_drive` or `torque_rod`.

    Attributes
    ----------
    input_axis, output_axis : array, shape (..., 3)
        The axis, each with its own sense.
    sign : array, shape (...)
        1 or -1, whether these agree; nan if they are no one axis [-].
    """

    input_axis: Floats
    output_axis: Floats
    sign: Floats

    def solve(self, angle: ArrayLike, sense: ArrayLike = 1.0) -> Motion:
        """Return the angle again, with the sign of the axes.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        sense : array, shape (...), optional
            Not looked at.

        Returns
        -------
        Motion
            Output angle, slope and reason.
        """
        del sense
        output = self.sign * np.asarray(angle, dtype=np.float64)
        known = np.isfinite(output)
        output = np.where(known, output, np.nan)
        slope = np.where(known, self.sign, np.nan)
        return Motion(output, slope, np.where(known, VALID, NO_GEOMETRY).astype(np.int8))

    def invert(self, output_angle: ArrayLike, sense: ArrayLike = 1.0) -> Turn:
        """Return the angle again, with the sign of the axes.

        Parameters
        ----------
        output_angle : array, shape (...)
            Output angles [rad].
        sense : array, shape (...), optional
            Not looked at.

        Returns
        -------
        Turn
            Input angle and reason.
        """
        found = self.solve(output_angle, sense)
        return Turn(found.output_angle, found.reason)

    def limits(self) -> Limits:
        """Return that it turns without end.

        Returns
        -------
        Limits
            Infinite, or nan and reason 4 for what is no one axis.
        """
        ends = np.abs(self.sign)[..., None] * np.array([-np.inf, np.inf])
        return Limits(ends, np.where(np.isnan(ends), NO_GEOMETRY, VALID).astype(np.int8))

    def hold(self, angle: ArrayLike, moment: ArrayLike) -> Hold:
        """Return that no member pulls: the moment goes through the shaft.

        Parameters
        ----------
        angle : array, shape (...)
            Input angles [rad].
        moment : array, shape (...)
            External moment on the output [N m].

        Returns
        -------
        Hold
            Without members.
        """
        return no_members(np.broadcast_shapes(np.shape(angle), np.shape(moment), self.sign.shape))


def make_pushrod(
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arm: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horn: ArrayLike,
    rod_length: ArrayLike | None = None,
    arm_pin: ArrayLike | None = None,
    horn_pin: ArrayLike | None = None,
) -> Pushrod:
    """Make a stage of a pushrod.

    Parameters
    ----------
    servo_pivot, servo_axis, arm, hinge_pivot, hinge_axis, horn, rod_length : array_like
        As for `pushrod.solve`, servo standing for the body that drives and hinge for the one
        that is driven.
    arm_pin, horn_pin : array, shape (..., 3), optional
        Along the pins of clevises or the bolts of ball links at neutral; parallel to the axis of
        the arm or horn that carries them, as in a drilled arm, if left out.

    Returns
    -------
    Pushrod
        The stage.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast.

    Examples
    --------
    >>> stage = make_pushrod(servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0), arm=(0, 0, 0.010),
    ...     hinge_pivot=(0.1, 0, -0.010), hinge_axis=(0, 1, 0), horn=(0, 0, 0.020))
    >>> held = stage.hold(0.0, 0.3)
    >>> held.tension.tolist(), float(held.transmission)  # 0.3 N m over 20 mm
    ([15.0], 1.0)
    """
    given = {
        "servo_pivot": servo_pivot, "servo_axis": servo_axis, "arm": arm,
        "hinge_pivot": hinge_pivot, "hinge_axis": hinge_axis, "horn": horn,
    }  # fmt: skip
    geometry = {name: np.asarray(value, dtype=np.float64) for name, value in given.items()}
    pins = (
        geometry["servo_axis"] if arm_pin is None else np.asarray(arm_pin, dtype=np.float64),
        geometry["hinge_axis"] if horn_pin is None else np.asarray(horn_pin, dtype=np.float64),
    )
    return Pushrod(pushrod.prepare(**geometry, rod_length=rod_length), geometry, pins)


def lengthened(stage: Pushrod, change: ArrayLike) -> Pushrod:
    """Make the same pushrod with a longer or shorter rod.

    Parameters
    ----------
    stage : Pushrod
        The stage as it is.
    change : float or array, shape (...)
        What to add to the length of its rod [m].

    Returns
    -------
    Pushrod
        Whose neutral surface angle is another; see `rod_length` of `pushrod.solve`.
    """
    length = stage.ready.loop.rod * stage.ready.loop.unit + np.asarray(change)
    ready = pushrod.prepare(**_spread(stage.geometry, length.ndim), rod_length=length)
    return stage._replace(ready=ready)


def _spread(geometry: dict[str, Floats], axes: int) -> dict[str, Floats]:
    """Geometry with at least so many axes before that of the components."""
    return {
        name: value.reshape((*(1,) * (axes + 1 - value.ndim), *value.shape))
        for name, value in geometry.items()
    }


def direct_drive(*, servo_axis: ArrayLike, hinge_axis: ArrayLike) -> Shaft:
    """Make a stage of a servo whose shaft is the hinge line.

    Parameters
    ----------
    servo_axis, hinge_axis : array, shape (..., 3)
        The axis with the sense of either angle; need not be unit vectors.

    Returns
    -------
    Shaft
        With a slope of 1 or -1. Axes that are not parallel give nan and reason 4: such a drive
        binds.

    Examples
    --------
    >>> float(direct_drive(servo_axis=(0, 1, 0), hinge_axis=(0, -2, 0)).solve(0.3).output_angle)
    -0.3
    """
    first, second = (np.asarray(axis, dtype=np.float64) for axis in (servo_axis, hinge_axis))
    with np.errstate(divide="ignore", invalid="ignore"):  # an axis of zero: nan is the answer
        across = reaction(first, second)
        skew = across.radial / np.hypot(across.radial, across.axial)
    sign = np.where(skew <= _PARALLEL, np.sign(across.axial), np.nan)
    return Shaft(first, second, sign)


def torque_rod(*, axis: ArrayLike) -> Shaft:
    """Make a stage of a straight rod that lies in the hinge line, with a bent end in the surface.

    Parameters
    ----------
    axis : array, shape (..., 3)
        Along the hinge line.

    Returns
    -------
    Shaft
        With a slope of 1. What it twists under load is
        `linkcalc.mechanism.elastic.torque_rod_compliance`.

    Examples
    --------
    >>> float(torque_rod(axis=(0, 1, 0)).solve(0.3).output_angle)
    0.3
    """
    return direct_drive(servo_axis=axis, hinge_axis=axis)
