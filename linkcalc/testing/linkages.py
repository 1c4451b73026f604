"""Hypothesis strategies for arms, horns, cables, and chains of stages."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from hypothesis import strategies as st
from hypothesis.errors import InvalidArgument

from linkcalc.mechanism.cables import Cables, make_cables
from linkcalc.mechanism.chain import Chain, make_chain
from linkcalc.mechanism.rods import turned
from linkcalc.mechanism.stages import make_pushrod, torque_rod
from linkcalc.testing.strategies import Pushrod, pushrods

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["arms", "cables", "chains", "horns", "pushrods_in_a_row"]


def arms(
    *, shortest: float = 0.005, longest: float = 0.04, lean: float = 0.7
) -> st.SearchStrategy[NDArray[np.float64]]:
    """Servo arms: vectors from shaft to hole, for a shaft along y and a rod along x.

    Parameters
    ----------
    shortest, longest : float, optional
        Ends of the radius [m].
    lean : float, optional
        Greatest angle from square to the rod, either way [rad].

    Returns
    -------
    strategy of array, shape (3,)
        Vectors [m]; they shrink towards upright ones.

    Raises
    ------
    InvalidArgument
        The ends are not above zero and in order, or the lean is not within a right angle.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(arms(longest=0.02))
    ... def no_arm_is_longer(arm):
    ...     assert np.linalg.norm(arm) < 0.0200001
    >>> no_arm_is_longer()
    """
    if not 0.0 < shortest <= longest < math.inf:
        raise InvalidArgument(f"shortest={shortest!r}, longest={longest!r}: above 0, in order")
    if not 0.0 <= lean < math.pi / 2:
        raise InvalidArgument(f"lean={lean!r} must be from 0 to less than a right angle")
    return st.tuples(st.floats(shortest, longest), st.floats(-lean, lean)).map(
        lambda pair: pair[0] * np.array([math.sin(pair[1]), 0.0, math.cos(pair[1])])
    )


def horns(
    *, shortest: float = 0.005, longest: float = 0.06, lean: float = 0.7
) -> st.SearchStrategy[NDArray[np.float64]]:
    """Control horns: vectors from the hinge line to the hole, on either side of the surface.

    Parameters
    ----------
    shortest, longest, lean : float, optional
        As for `arms` [m], [m], [rad].

    Returns
    -------
    strategy of array, shape (3,)
        Vectors [m]; they shrink towards upright ones above the surface.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(horns())
    ... def horn_lies_in_the_plane_of_the_rod(horn):
    ...     assert horn[1] == 0.0
    >>> horn_lies_in_the_plane_of_the_rod()
    """
    above = arms(shortest=shortest, longest=longest, lean=lean)
    return st.tuples(above, st.sampled_from([1.0, -1.0])).map(lambda pair: pair[0] * pair[1])


@st.composite
def cables(draw: st.DrawFn, *, slack: bool | None = None) -> Cables:
    """Pairs of pull-pull cables, with a rudder's proportions.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    slack : bool, optional
        True for cables that are too long, False for taut or preloaded ones; left out for both.

    Returns
    -------
    strategy of Cables
        Both arms level or leaning alike, horns as long or longer, holes up to 5 mm aft or ahead
        of the hinge line.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(cables(slack=False))
    ... def neutral_does_not_jump(pair):
    ...     assert abs(pair.rigging(0.0).gap) < 1e-12
    >>> neutral_does_not_jump()
    """
    arm = draw(st.floats(0.01, 0.03))
    horn, offset = arm * draw(st.floats(1.0, 2.0)), draw(st.floats(-0.005, 0.005))
    tilt, far = draw(st.floats(-0.3, 0.3)), draw(st.floats(0.2, 1.5))
    loose = draw(st.booleans()) if slack is None else slack
    preload = 0.0 if loose else draw(st.floats(0.0, 40.0))
    return make_cables(
        servo_pivot=(0.0, 0.0, 0.0),
        servo_axis=(0.0, math.sin(tilt), math.cos(tilt)),
        arms=[(0.0, -arm, 0.0), (0.0, arm, 0.0)],
        hinge_pivot=(far, 0.0, draw(st.floats(-0.05, 0.05))),
        hinge_axis=(0.0, 0.0, 1.0),
        horns=[(offset, -horn, 0.0), (offset, horn, 0.0)],
        slack=draw(st.floats(1e-5, 1e-3)) if loose else 0.0,
        preload=preload,
        stiffness=draw(st.floats(1e4, 1e5)),
    )


@st.composite
def pushrods_in_a_row(
    draw: st.DrawFn, *, least: int = 1, most: int = 3, planar: bool | None = None
) -> list[Pushrod]:
    """Pushrods of which each drives the next, so that bellcranks lie between them.

    Parameters
    ----------
    draw : callable
        From Hypothesis; not an argument of the strategy.
    least, most : int, optional
        How many.
    planar : bool, optional
        As for `pushrods`, of each by itself.

    Returns
    -------
    strategy of list of dict
        Keywords of `linkcalc.mechanism.pushrod.solve`. Each closes at neutral; the pivot and axis
        of each horn are those of the next arm.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(pushrods_in_a_row(least=2))
    ... def neighbours_share_a_pivot(row):
    ...     for before, after in zip(row, row[1:]):
    ...         assert np.allclose(before["hinge_pivot"], after["servo_pivot"])
    >>> neighbours_share_a_pivot()
    """
    row = draw(st.lists(pushrods(planar=planar), min_size=least, max_size=most))
    for before, after in pairwise(row):
        _carry(after, before["hinge_pivot"], before["hinge_axis"])
    return row


def chains(
    *, least: int = 1, most: int = 3, planar: bool | None = None, ends_in_torque_rod: bool = False
) -> st.SearchStrategy[Chain]:
    """Chains of pushrods over bellcranks.

    Parameters
    ----------
    least, most : int, optional
        How many pushrods.
    planar : bool, optional
        As for `pushrods`.
    ends_in_torque_rod : bool, optional
        Whether a torque rod lies between the last horn and the surface.

    Returns
    -------
    strategy of Chain
        Linkages that are valid at neutral, clear of dead centres there.

    Raises
    ------
    InvalidArgument
        The numbers are not above zero and in order.

    Examples
    --------
    >>> from hypothesis import given
    >>> @given(chains(most=2))
    ... def neutral_is_neutral(chain):
    ...     motion = chain.solve(0.0)
    ...     assert motion.reason == 0
    ...     assert abs(motion.output_angle) < 1e-12
    >>> neutral_is_neutral()
    """
    if not 1 <= least <= most:
        raise InvalidArgument(f"least={least!r}, most={most!r}: above 0, in order")

    def joined(row: list[Pushrod]) -> Chain:
        stages: list[Any] = [make_pushrod(**keywords) for keywords in row]
        if ends_in_torque_rod:
            stages.append(torque_rod(axis=row[-1]["hinge_axis"]))
        return make_chain(stages)

    return pushrods_in_a_row(least=least, most=most, planar=planar).map(joined)


def _carry(pushrod: Pushrod, pivot: NDArray[np.float64], axis: NDArray[np.float64]) -> None:
    """Move a pushrod as one body so that its servo's shaft lies on an axis."""
    start = pushrod["servo_axis"] / np.linalg.norm(pushrod["servo_axis"])
    end = axis / np.linalg.norm(axis)
    about, turn = (
        np.cross(start, end),
        math.atan2(float(np.linalg.norm(np.cross(start, end))), float(start @ end)),
    )
    if np.linalg.norm(about) < 1e-9:
        about = np.cross(start, np.eye(3)[int(np.argmin(np.abs(start)))])
    across = pushrod["hinge_pivot"] - pushrod["servo_pivot"]
    for name in ("arm", "horn", "hinge_axis"):
        pushrod[name] = turned(pushrod[name], about, turn)
    pushrod["servo_axis"] = end
    pushrod["servo_pivot"] = np.array(pivot)
    pushrod["hinge_pivot"] = pivot + turned(across, about, turn)
