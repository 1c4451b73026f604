r"""Pull-pull cables: two cables between a double arm and a double horn.

A cable pulls and cannot push, so the one that is taut follows the sign of the external moment M
on the surface: the first cable is the one that holds a positive moment, the second holds a
negative one. Where the horns are not spaced like the arms the two would put the surface at
different angles; the one that is loaded decides, and the other is slack by a length, or, if that
is negative, has to stretch by it. At neutral both have their full length, so a change of load
moves nothing there; with slack in the rigging (cables given longer) it does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism import pushrod
from linkcalc.mechanism.branch import NO_GEOMETRY, VALID
from linkcalc.mechanism.ready import Limits, Ready
from linkcalc.mechanism.rods import Place, bent, place, reaction
from linkcalc.mechanism.stage import SLACK, Hold, Motion, Turn

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["Cables", "Rigging", "Stretched", "make_cables", "shared_tension"]

_BISECTIONS = 60
_WIDEST = 0.6  # how far load and preload may move the surface from where the cables would [rad]


class Rigging(NamedTuple):
    """Where both cables stand at a servo angle, as if neither could stretch.

    Attributes
    ----------
    angles : array, shape (2, ...)
        Surface angle at which the first, and the second cable is taut [rad].
    slack : array, shape (2, ...)
        How much the first, and the second cable is too long while the other is taut [m];
        negative where it has to stretch.
    gap : array, shape (...)
        How far the surface moves when the moment changes its sign, zero or less where the cables
        bind one another [rad].
    reason : array of int8, shape (2, ...)
        Of each cable.
    """

    angles: Floats
    slack: Floats
    gap: Floats
    reason: NDArray[np.int8]


class Stretched(NamedTuple):
    """Where cables that stretch put the surface.

    Attributes
    ----------
    surface_angle : array, shape (...)
        From neutral [rad]; nan where no balance is found within 0.6 rad of the taut cable's angle.
    tension : array, shape (2, ...)
        In the first and the second cable, zero in a slack one [N].
    """

    surface_angle: Floats
    tension: Floats


class Cables(NamedTuple):
    """A pair of cables, or one alone; made by `make_cables`.

    Attributes
    ----------
    ready : tuple of Ready
        Of the cable that holds a positive moment, and of the other.
    geometry : tuple of dict
        Keywords of `rods.place`.
    rigged : array, shape (2, ...)
        Length of each cable without stretch beyond the preload's [m].
    preload, stiffness : array, shape (2, ...)
        Tension in each at neutral without load [N]; tension per stretch, infinite for a cable
        that does not [N/m].
    present : tuple of two bool
        Which of the two there are.
    pair : array of bool, shape (...)
        Whether the cables hold against one another at neutral.
    """

    ready: tuple[Ready, Ready]
    geometry: tuple[dict[str, Floats], dict[str, Floats]]
    rigged: Floats
    preload: Floats
    stiffness: Floats
    present: tuple[bool, bool]
    pair: NDArray[np.bool_]

    @property
    def input_axis(self) -> Floats:
        """Axis of the arm."""
        return self.geometry[0]["servo_axis"]

    @property
    def output_axis(self) -> Floats:
        """Axis of the horn."""
        return self.geometry[0]["hinge_axis"]

    def solve(self, angle: ArrayLike, sense: ArrayLike = 1.0) -> Motion:
        """Return the angle at which the cable that is loaded is taut.

        Parameters
        ----------
        angle : array, shape (...)
            Servo angles [rad].
        sense : array, shape (...), optional
            Sign of the external moment on the surface; zero counts as positive [-].

        Returns
        -------
        Motion
            nan and reason 6 where the cable that would have to pull is not there.
        """
        first, second = (ready.solve(angle) for ready in self.ready)
        positive = np.asarray(sense) >= 0.0
        output = np.where(positive, first.surface_angle, second.surface_angle)
        slope = np.where(positive, first.slope, second.slope)
        reason = self._reason(positive, first.reason, second.reason)
        good = reason == VALID
        return Motion(np.where(good, output, np.nan), np.where(good, slope, np.nan), reason)

    def invert(self, output_angle: ArrayLike, sense: ArrayLike = 1.0) -> Turn:
        """Return the servo angle at which the cable that is loaded holds the surface there.

        Parameters
        ----------
        output_angle : array, shape (...)
            Surface angles [rad].
        sense : array, shape (...), optional
            As for `solve` [-].

        Returns
        -------
        Turn
            Servo angle and reason.
        """
        first, second = (ready.invert(output_angle) for ready in self.ready)
        positive = np.asarray(sense) >= 0.0
        turn = np.where(positive, first.servo_angle, second.servo_angle)
        reason = self._reason(positive, first.reason, second.reason)
        return Turn(np.where(reason == VALID, turn, np.nan), reason)

    def limits(self) -> Limits:
        """Return the nearer of both cables' dead centres on either side.

        Returns
        -------
        Limits
            As of `pushrod.limits`.
        """
        first, second = (ready.limits() for ready in self.ready)
        size = np.abs(first.servo_angle), np.abs(second.servo_angle)
        nearer = ~(size[1] < size[0])  # nan is taken
        ends = Limits(
            np.where(nearer, first.servo_angle, second.servo_angle),
            np.where(nearer, first.reason, second.reason).astype(np.int8),
        )
        bad = ~self.pair[..., None]
        return Limits(
            np.where(bad, np.nan, ends.servo_angle),
            np.where(bad, NO_GEOMETRY, ends.reason).astype(np.int8),
        )

    def rigging(self, angle: ArrayLike) -> Rigging:
        """Return where both cables stand.

        Parameters
        ----------
        angle : array, shape (...)
            Servo angles [rad].

        Returns
        -------
        Rigging
            Angles, slack and gap; nan where a cable does not reach.
        """
        found = [ready.solve(angle) for ready in self.ready]
        angles = np.stack([one.surface_angle for one in found])
        slack = np.stack(
            [
                length - place(angle, other, **geometry).length
                for length, other, geometry in zip(
                    self.rigged, angles[::-1], self.geometry, strict=True
                )
            ]
        )
        reason = np.stack([one.reason for one in found])
        return Rigging(angles, slack, angles[0] - angles[1], reason)

    def hold(self, angle: ArrayLike, moment: ArrayLike) -> Hold:
        """Return the tension in both cables, to first order about where the taut one stands.

        Parameters
        ----------
        angle : array, shape (...)
            Servo angles [rad].
        moment : array, shape (...)
            External moment on the surface [N m].

        Returns
        -------
        Hold
            Members "first cable", taut for a positive moment, and "second cable".
        """
        moment = np.asarray(moment, dtype=np.float64)
        surface = self.solve(angle, moment).output_angle
        places = [place(angle, surface, **geometry) for geometry in self.geometry]
        levers = np.stack([there.lever for there in places])
        stretch = np.stack([there.length for there in places]) - self._lengths(levers.ndim)
        soft = self.stiffness.reshape(self._front(levers.ndim))
        with np.errstate(invalid="ignore"):
            more = np.where(np.isinf(soft), 0.0, soft * stretch)
        start = np.maximum(self.preload.reshape(self._front(levers.ndim)) + more, 0.0)
        tension = shared_tension(moment, levers=levers, preload=start, stiffness=soft)
        tension = np.where(np.isnan(surface), np.nan, tension)
        taut = np.where(moment >= 0.0, 0, 1)
        horn = [
            reaction(geometry["horn"], geometry["hinge_axis"]).radial for geometry in self.geometry
        ]
        sines = [np.abs(there.lever) / size for there, size in zip(places, horn, strict=True)]
        leaning = [
            _bent(there, geometry, angle, surface)
            for there, geometry in zip(places, self.geometry, strict=True)
        ]
        shape = np.broadcast_shapes(tension.shape[1:], sines[0].shape)
        return Hold(
            ("first cable", "second cable"),
            np.broadcast_to(tension, (2, *shape)),
            np.stack([np.broadcast_to(there.direction, (*shape, 3)) for there in places]),
            np.where(taut == 0, *sines),
            np.stack([np.where(taut == 0, *pair) for pair in zip(*leaning, strict=True)]),
        )

    def stretched(self, angle: ArrayLike, moment: ArrayLike) -> Stretched:
        r"""Return where the surface comes to rest, by finite displacements.

        .. math:: \sum_i T_i \frac{\partial d_i}{\partial \delta} = M, \qquad
                  T_i = \max(0, P_i + k_i (d_i(\theta, \delta) - L_i))

        Parameters
        ----------
        angle : array, shape (...)
            Servo angles [rad].
        moment : array, shape (...)
            External moment on the surface [N m].

        Returns
        -------
        Stretched
            Surface angle and tensions. Finite stiffness is needed.
        """
        angle, moment = np.broadcast_arrays(np.asarray(angle, float), np.asarray(moment, float))
        middle = self.rigging(angle).angles.mean(axis=0)
        shape = np.broadcast_shapes(middle.shape, moment.shape)
        low, high = (np.broadcast_to(middle + side, shape).copy() for side in (-_WIDEST, _WIDEST))
        found = self._balance(angle, low, moment) <= 0.0
        found &= self._balance(angle, high, moment) >= 0.0
        for _ in range(_BISECTIONS):
            half = 0.5 * (low + high)
            above = self._balance(angle, half, moment) > 0.0
            high, low = np.where(above, half, high), np.where(above, low, half)
        surface = np.where(found, 0.5 * (low + high), np.nan)
        return Stretched(surface, self._tension(angle, surface)[0])

    def _balance(self, angle: Floats, surface: Floats, moment: Floats) -> Floats:
        tension, levers = self._tension(angle, surface)
        return np.asarray((tension * levers).sum(axis=0) - moment)

    def _tension(self, angle: Floats, surface: Floats) -> tuple[Floats, Floats]:
        places = [place(angle, surface, **geometry) for geometry in self.geometry]
        levers = np.stack([there.lever for there in places])
        stretch = np.stack([there.length for there in places]) - self._lengths(levers.ndim)
        front = self._front(levers.ndim)
        tension = self.preload.reshape(front) + self.stiffness.reshape(front) * stretch
        return np.maximum(tension, 0.0), levers

    def _front(self, axes: int) -> tuple[int, ...]:
        return (2, *(1,) * (axes - self.rigged.ndim), *self.rigged.shape[1:])

    def _lengths(self, axes: int) -> Floats:
        return self.rigged.reshape(self._front(axes))

    def _reason(
        self, positive: NDArray[np.bool_], first: NDArray[np.int8], second: NDArray[np.int8]
    ) -> NDArray[np.int8]:
        there = np.where(positive, *self.present)
        reason = np.where(positive, first, second)
        reason = np.where(there, reason, SLACK)
        return np.where(self.pair, reason, NO_GEOMETRY).astype(np.int8)


def shared_tension(
    moment: ArrayLike, *, levers: Floats, preload: Floats, stiffness: Floats
) -> Floats:
    """Tension in two cables that hold a moment against one another.

    Parameters
    ----------
    moment : array, shape (...)
        External moment [N m].
    levers : array, shape (2, ...)
        Of the cables, of opposite signs [m].
    preload : array, shape (2, ...)
        Tension without the moment, zero or more [N].
    stiffness : array, shape (2, ...)
        Tension per stretch; where one is infinite both are taken for alike [N/m].

    Returns
    -------
    array, shape (2, ...)
        Tension [N]: shared while both are taut, then all in the one that pulls against the moment;
        nan where that has no lever to pull with.

    Examples
    --------
    Two cables on 20 mm with 30 N each: 0.6 N m are shared, 2 N m leave the second one slack.

    >>> levers, preload = np.array([0.02, -0.02]), np.array([30.0, 30.0])
    >>> shared_tension(0.6, levers=levers, preload=preload, stiffness=np.full(2, 1e4)).tolist()
    [45.0, 15.0]
    >>> shared_tension(2.0, levers=levers, preload=preload, stiffness=np.full(2, 1e4)).tolist()
    [100.0, 0.0]
    """
    moment = np.asarray(moment, dtype=np.float64)
    soft = np.where(np.isinf(stiffness).any(axis=0), 1.0, stiffness)
    turn = (moment - (preload * levers).sum(axis=0)) / (soft * levers * levers).sum(axis=0)
    both = preload + soft * levers * turn
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = moment / levers
    alone = np.where(alone > 0.0, alone, 0.0)
    alone = np.where((moment == 0.0) | (alone > 0.0).any(axis=0), alone, np.nan)
    return np.where((both >= 0.0).all(axis=0), both, alone)


def make_cables(
    *,
    servo_pivot: ArrayLike,
    servo_axis: ArrayLike,
    arms: ArrayLike,
    hinge_pivot: ArrayLike,
    hinge_axis: ArrayLike,
    horns: ArrayLike,
    slack: ArrayLike = 0.0,
    preload: ArrayLike = 0.0,
    stiffness: ArrayLike = np.inf,
    present: tuple[bool, bool] = (True, True),
) -> Cables:
    """Make a stage of pull-pull cables.

    Parameters
    ----------
    servo_pivot, servo_axis, hinge_pivot, hinge_axis : array, shape (..., 3)
        As for `pushrod.solve`.
    arms, horns : array, shape (2, ..., 3)
        From each pivot to the joints of the one and of the other cable at neutral [m]; which of
        them holds a positive moment is found out.
    slack : float or array, shape (...), optional
        How much both are longer than from joint to joint at neutral, zero or more [m].
    preload : float or array, shape (...), optional
        Tension in both at neutral without load, zero or more [N].
    stiffness : float or array, shape (...), optional
        Tension per stretch of a cable, more than zero [N/m].
    present : tuple of two bool, optional
        Which of the cables there are, in the order of `arms`: a spring may stand for the other.

    Returns
    -------
    Cables
        The stage. A pair that does not pull the surface both ways, or rods that do not close, are
        no geometry: reason 4.

    Raises
    ------
    ValueError
        A vector's last axis is not 3 long, or shapes do not broadcast; slack and preload at once.

    Examples
    --------
    >>> stage = make_cables(servo_pivot=(0, 0, 0), servo_axis=(0, 0, 1),
    ...     arms=[(0, 0.02, 0), (0, -0.02, 0)], hinge_pivot=(0.5, 0, 0), hinge_axis=(0, 0, 1),
    ...     horns=[(0, 0.02, 0), (0, -0.02, 0)])
    >>> stage.solve(0.3, [1.0, -1.0]).output_angle.round(12).tolist()
    [0.3, 0.3]
    >>> stage.hold(0.0, 0.1).tension.tolist()  # 0.1 N m over 20 mm
    [5.0, 0.0]
    """
    if np.any((np.asarray(slack) > 0.0) & (np.asarray(preload) > 0.0)):
        raise ValueError("slack: a cable that is slack at neutral has no preload; give one of them")
    ends = {"servo_pivot": servo_pivot, "servo_axis": servo_axis,
            "hinge_pivot": hinge_pivot, "hinge_axis": hinge_axis}  # fmt: skip
    fixed = {name: np.asarray(value, dtype=np.float64) for name, value in ends.items()}
    joints = zip(np.asarray(arms, float), np.asarray(horns, float), strict=True)
    both = [fixed | {"arm": arm, "horn": horn} for arm, horn in joints]
    levers = [place(0.0, 0.0, **geometry).lever for geometry in both]
    # The first cable is to hold a positive moment, whichever was named first.
    swap = bool(np.all(np.asarray(levers[0]) < 0.0))
    if swap:
        both, levers, present = both[::-1], levers[::-1], (present[1], present[0])
    lengths = [place(0.0, 0.0, **geometry).length + np.asarray(slack) for geometry in both]
    pair = np.asarray((levers[0] > 0.0) & (levers[1] < 0.0) & (np.asarray(slack) >= 0.0))
    loose = np.any(np.asarray(slack) > 0.0)
    ready = [
        pushrod.prepare(**geometry, rod_length=length if loose else None)
        for geometry, length in zip(both, lengths, strict=True)
    ]
    shape = np.broadcast_shapes(*(np.shape(length) for length in lengths), np.shape(preload))
    rigged = np.stack([np.broadcast_to(length, shape) for length in lengths])
    return Cables(
        (ready[0], ready[1]),
        (both[0], both[1]),
        rigged,
        np.broadcast_to(np.asarray(preload, dtype=np.float64), rigged.shape),
        np.broadcast_to(np.asarray(stiffness, dtype=np.float64), rigged.shape),
        present,
        pair,
    )


def _bent(
    there: Place, geometry: dict[str, Floats], angle: ArrayLike, surface: Floats
) -> tuple[Floats, Floats]:
    """Lean of both joints, their pins along the axes."""
    servo, hinge = geometry["servo_axis"], geometry["hinge_axis"]
    return (
        bent(there.direction, servo, servo, angle),
        bent(there.direction, hinge, hinge, surface),
    )
