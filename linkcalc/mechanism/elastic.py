r"""What a linkage gives way under load with the servo held, and how much it plays without any.

Every member that a moment M on the surface loads with a force f M, and that stretches by c for a
force of one, turns the surface by :math:`f^2 c` for a moment of one (virtual work); a shaft that
carries a share m of the moment and twists by c for a moment of one, by :math:`m^2 c`. Compliances
of members in line add up. A clearance of s along a rod lets the surface play by :math:`|f| s`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from linkcalc.mechanism.cables import Cables
from linkcalc.mechanism.stages import Pushrod, lengthened

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from linkcalc.mechanism.chain import Chain

    Floats = NDArray[np.float64]

__all__ = [
    "Play",
    "Shares",
    "cantilever_compliance",
    "compliance",
    "free_play",
    "rod_compliance",
    "torque_rod_compliance",
    "without_preload",
]


class Shares(NamedTuple):
    """What each contributor gives way.

    Attributes
    ----------
    names : tuple of str
        Of the contributors, in the order of the first axis.
    values : array, shape (contributor, ...)
        Compliance at the surface [rad/(N m)], or play there [rad].
    total : array, shape (...)
        Their sum.
    """

    names: tuple[str, ...]
    values: Floats
    total: Floats


class Play(NamedTuple):
    """How far the surface can be moved by hand while the servo holds.

    Attributes
    ----------
    exact : array, shape (...)
        Between both ends of all clearances, by finite displacements [rad]; nan beside a dead
        centre that the clearances reach.
    linear : Shares
        To first order, each contributor by itself [rad].
    """

    exact: Floats
    linear: Shares


def rod_compliance(*, length: ArrayLike, modulus: ArrayLike, area: ArrayLike) -> Floats:
    """Stretch of a rod or cable for a force of one: L / (E A).

    Parameters
    ----------
    length, modulus, area : float or array, shape (...)
        Length between the joints [m], modulus of elasticity [Pa] and area of material [m^2],
        more than zero. A stranded cable's modulus is that of the strand, well below the wire's.

    Returns
    -------
    array, shape (...)
        Compliance [m/N]; nan in gives nan out.

    Examples
    --------
    >>> float(rod_compliance(length=0.2, modulus=200e9, area=1e-6))
    1e-06
    """
    stiff = np.asarray(modulus, dtype=np.float64) * np.asarray(area)
    return np.asarray(np.asarray(length) / stiff)


def cantilever_compliance(
    *, length: ArrayLike, modulus: ArrayLike, second_moment: ArrayLike
) -> Floats:
    """Movement of the tip of an arm or horn for a force of one square to it: l^3 / (3 E I).

    Parameters
    ----------
    length, modulus, second_moment : float or array, shape (...)
        Length from the root [m], modulus of elasticity [Pa] and second moment of area [m^4], more
        than zero.

    Returns
    -------
    array, shape (...)
        Compliance [m/N]; nan in gives nan out.

    Examples
    --------
    >>> round(float(cantilever_compliance(length=0.03, modulus=3e9, second_moment=1e-11)), 9)
    0.0003
    """
    stiff = 3.0 * np.asarray(modulus, dtype=np.float64) * np.asarray(second_moment)
    return np.asarray(np.asarray(length) ** 3 / stiff)


def torque_rod_compliance(
    *,
    length: ArrayLike,
    shear_modulus: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike = 0.0,
    bent_length: ArrayLike = 0.0,
    modulus: ArrayLike = np.inf,
) -> Floats:
    r"""Twist of a torque rod with a bent end, for a moment of one.

    .. math:: C = \frac{l}{G J} + \frac{b}{3 E I}, \qquad J = 2 I = \frac{\pi}{32}(D^4 - d^4)

    Parameters
    ----------
    length : float or array, shape (...)
        Length l along the hinge line between the driven end and the bend [m].
    shear_modulus : float or array, shape (...)
        Shear modulus G [Pa].
    outer_diameter, inner_diameter : float or array, shape (...)
        Diameters D and d [m].
    bent_length : float or array, shape (...), optional
        Distance b from the hinge line to where the bent end bears on the surface [m].
    modulus : float or array, shape (...), optional
        Modulus of elasticity E of the bent end [Pa]; infinite for one that does not bend.

    Returns
    -------
    array, shape (...)
        Compliance [rad/(N m)]; nan in gives nan out.

    Notes
    -----
    The bent end is a cantilever loaded at its tip: its tip moves by F b^3 / (3 E I), and F b is
    the moment.

    References
    ----------
    .. [1] Torsion of a round shaft and the end-loaded cantilever, in any text on strength of
       materials.

    Examples
    --------
    >>> twist = torque_rod_compliance(length=0.1, shear_modulus=80e9, outer_diameter=0.003)
    >>> round(float(np.degrees(twist)), 2)  # 9 degrees for 1 N m
    9.01
    """
    outer, inner = (np.asarray(d, dtype=np.float64) for d in (outer_diameter, inner_diameter))
    second = math.pi / 64.0 * (outer**4 - inner**4)
    bend = np.asarray(bent_length) / (3.0 * np.asarray(modulus, dtype=np.float64) * second)
    return np.asarray(np.asarray(length) / (2.0 * np.asarray(shear_modulus) * second) + bend)


def without_preload(chain: Chain) -> Chain:
    """Return the same chain with cables that bear nothing at neutral.

    Parameters
    ----------
    chain : Chain
        The linkage.

    Returns
    -------
    Chain
        Whose tensions are proportional to the moment on the surface.
    """
    return chain._replace(
        stages=tuple(
            stage._replace(preload=np.zeros_like(stage.preload))
            if isinstance(stage, Cables)
            else stage
            for stage in chain.stages
        )
    )


def compliance(
    chain: Chain,
    servo_angle: ArrayLike,
    *,
    members: Sequence[ArrayLike] | None = None,
    shafts: Sequence[ArrayLike] | None = None,
    mounts: Sequence[ArrayLike] | None = None,
    sense: ArrayLike = 1.0,
) -> Shares:
    """Turn of the surface for a moment of one on it, with the servo held.

    Parameters
    ----------
    chain : Chain
        The linkage.
    servo_angle : float or array, shape (...)
        Where it stands [rad].
    members : sequence of float or array, one for each stage, optional
        Stretch of its rod, or of the taut one of its cables, for a force of one, the arm and the
        horn's bending included [m/N]. Two cables that are both taut by preload, of equal
        stiffness, count half of one.
    shafts : sequence of float or array, one for each body, optional
        Twist for a moment of one: the servo's gear train first, bellcranks, and last what lies
        between horn and surface, such as a torque rod [rad/(N m)].
    mounts : sequence of float or array, one for each body, optional
        Movement of its bearing for a force of one, along the force [m/N]: the servo's mount
        first, the hinges last.
    sense : float or array, shape (...), optional
        Sign of the moment, for cables [-].

    Returns
    -------
    Shares
        Compliance of every contributor and of all [rad/(N m)]; nan where the chain has no answer.

    Examples
    --------
    >>> from linkcalc.mechanism.chain import make_chain
    >>> from linkcalc.mechanism.stages import make_pushrod
    >>> chain = make_chain([make_pushrod(servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0),
    ...     arm=(0, 0, 0.010), hinge_pivot=(0.1, 0, -0.010), hinge_axis=(0, 1, 0),
    ...     horn=(0, 0, 0.020))])
    >>> found = compliance(chain, 0.0, members=[1e-6], shafts=[0.08, 0.0])
    >>> found.names, found.values.round(6).tolist()  # (1/20 mm)^2 c and (10/20)^2 c
    (('members of stage 0', 'shaft of body 0', 'shaft of body 1'), [0.0025, 0.02, 0.0])
    """
    bare = without_preload(chain)  # what is there without the moment is no part of its work
    statics = bare.statics(servo_angle, np.where(np.asarray(sense) >= 0.0, 1.0, -1.0))
    loads = np.concatenate([-statics.torque[None], statics.moments])
    parts: list[tuple[str, Floats]] = [
        (f"members of stage {number}", np.square(hold.tension).sum(axis=0) * np.asarray(soft))
        for number, (hold, soft) in enumerate(zip(statics.holds, members or (), strict=False))
    ]
    parts += [
        (f"shaft of body {number}", np.square(load) * np.asarray(soft))
        for number, (load, soft) in enumerate(zip(loads, shafts or (), strict=False))
    ]
    parts += [
        (f"mount of body {number}", np.square(bearing.force).sum(axis=-1) * np.asarray(soft))
        for number, (bearing, soft) in enumerate(zip(statics.bearings, mounts or (), strict=False))
    ]
    return _shares(parts, statics.torque.shape)


def free_play(
    chain: Chain,
    servo_angle: ArrayLike,
    *,
    servo_play: ArrayLike = 0.0,
    clearances: Sequence[ArrayLike] | None = None,
) -> Play:
    """Play of the surface with the servo held.

    Parameters
    ----------
    chain : Chain
        The linkage.
    servo_angle : float or array, shape (...)
        Where it stands, in the middle of its play [rad].
    servo_play : float or array, shape (...), optional
        From end to end of the servo's gears, at its arm [rad]. With the servo's deadband instead
        this tells what that comes to at the surface.
    clearances : sequence of float or array, one for each stage, optional
        From end to end along its rod, of both joints and of the bearings of both arms [m]. Of
        cables none; their slack is known to the chain.

    Returns
    -------
    Play
        Exact and to first order [rad].

    Examples
    --------
    A tenth of a millimetre at a horn of 12 mm:

    >>> from linkcalc.mechanism.chain import make_chain
    >>> from linkcalc.mechanism.stages import make_pushrod
    >>> chain = make_chain([make_pushrod(servo_pivot=(0, 0, 0), servo_axis=(0, 1, 0),
    ...     arm=(0, 0, 0.012), hinge_pivot=(0.1, 0, 0), hinge_axis=(0, 1, 0), horn=(0, 0, 0.012))])
    >>> found = free_play(chain, 0.0, clearances=[0.0001])
    >>> float(np.degrees(found.linear.total).round(6)), float(np.degrees(found.exact).round(4))
    (0.477465, 0.4775)
    """
    angle = np.asarray(servo_angle, dtype=np.float64)
    loose = np.asarray(servo_play, dtype=np.float64)
    gaps = [np.asarray(0.0)] * len(chain.stages) if clearances is None else list(clearances)
    statics = chain.statics(angle, 1.0)
    slope = chain.solve(angle).slope
    parts: list[tuple[str, Floats]] = [("servo", np.abs(slope) * loose)]
    ends = []
    for number, (stage, gap, hold) in enumerate(
        zip(chain.stages, gaps, statics.holds, strict=True)
    ):
        if not isinstance(stage, Pushrod):
            continue
        ends.append((number, np.sign(hold.tension[0]) * 0.5 * np.asarray(gap)))
        parts.append((f"clearance of stage {number}", np.abs(hold.tension[0]) * np.asarray(gap)))
    apart = []
    for side in (1.0, -1.0):
        stages = list(chain.stages)
        for number, change in ends:
            rod = stages[number]
            if isinstance(rod, Pushrod):
                stages[number] = lengthened(rod, side * change)
        shifted = angle + side * 0.5 * np.sign(slope) * loose
        apart.append(chain._replace(stages=tuple(stages)).solve(shifted, side).output_angle)
    slack = chain.solve(angle, 1.0).output_angle - chain.solve(angle, -1.0).output_angle
    parts.append(("slack of cables", np.maximum(slack, 0.0)))
    shares = _shares(parts, np.broadcast_shapes(*(np.shape(value) for _, value in parts)))
    return Play(np.asarray(apart[0] - apart[1]), shares)


def _shares(parts: list[tuple[str, Floats]], shape: tuple[int, ...]) -> Shares:
    names = tuple(name for name, _ in parts)
    shape = np.broadcast_shapes(shape, *(np.shape(value) for _, value in parts))
    values = np.empty((len(parts), *shape))
    for row, (_, value) in enumerate(parts):
        values[row] = value
    return Shares(names, values, values.sum(axis=0))
