"""Hypothesis strategies for linkage geometry.

Sizes are those of models and light unmanned aircraft; everything drawn is in SI units and
radians and goes into the kernels of `linkcalc.mechanism` as it is. Examples shrink towards
level axes, arms square to the rod and no offset.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from hypothesis import strategies as st
from hypothesis.errors import InvalidArgument

from linkcalc.mechanism import pushrod as kernel

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Pushrod", "pushrods", "servo_angles_within"]

Pushrod: TypeAlias = "dict[str, NDArray[np.float64]]"
"""Keywords of `linkcalc.mechanism.pushrod.solve`."""

_LEAN = math.radians(40.0)  # of an arm from square to the line of pivots, of an axis in space
_LEAST_SINE = 0.2  # of the angle between an arm's path and the rod at neutral


def pushrods(*, planar: bool | None = None) -> st.SearchStrategy[Pushrod]:
    """Pushrods that close at neutral, with neither arm near a dead centre there.

    Parameters
    ----------
    planar : bool, optional
        True for arms and rod in one plane, with parallel or opposite axes; False for axes at an
        angle and joints out of plane; left out for both. A pushrod in space may by chance be
        a plane one.

    Returns
    -------
    strategy of dict
        Keywords of `linkcalc.mechanism.pushrod.solve` but `rod_length`: arrays of shape (3,). Arms
        of 5 to 40 mm, horns of 5 to 60 mm and pivots 60 to 600 mm apart, anywhere within a metre
        of the origin and turned any way [m].

    Raises
    ------
    InvalidArgument
        `planar` is none of True, False and None.

    Notes
    -----
    The sizes are common practice, no source.

    Examples
    --------
    >>> from hypothesis import given
    >>> from linkcalc.mechanism import pushrod
    >>> @given(pushrods())
    ... def surface_stands_at_neutral_with_the_servo(keywords):
    ...     solution = pushrod.solve(0.0, **keywords)
    ...     assert solution.reason == 0
    ...     assert abs(solution.surface_angle) < 1e-12
    >>> surface_stands_at_neutral_with_the_servo()
    """
    if planar is not None and not isinstance(planar, bool):
        raise InvalidArgument(f"planar={planar!r} must be True, False or None")
    return _pushrods(planar=planar).filter(_clear_of_dead_centres)


def servo_angles_within(
    pushrod: Pushrod, *, share: float = 0.95, reach: float = math.pi
) -> st.SearchStrategy[float]:
    """Servo angles at which a pushrod closes, on either side of neutral.

    Parameters
    ----------
    pushrod : dict
        Keywords of `linkcalc.mechanism.pushrod.solve`, for one geometry.
    share : float, optional
        How much of the way to the horn's first dead centre on either side may be used, more than
        zero and less than one [-].
    reach : float, optional
        Largest angle on either side, as of a servo that turns no further [rad].

    Returns
    -------
    strategy of float
        Servo angles [rad].

    Raises
    ------
    InvalidArgument
        `share` or `reach` is out of range, or the pushrod has no loop at neutral.

    Examples
    --------
    >>> from hypothesis import given, strategies as st
    >>> from linkcalc.mechanism import pushrod
    >>> @given(st.data())
    ... def surface_moves_with_the_servo(data):
    ...     keywords = data.draw(pushrods())
    ...     angle = data.draw(servo_angles_within(keywords))
    ...     assert pushrod.solve(angle, **keywords).reason == 0
    >>> surface_moves_with_the_servo()
    """
    if not 0.0 < share < 1.0:
        raise InvalidArgument(f"share={share!r} must be more than 0 and less than 1")
    if not 0.0 < reach < math.inf:
        raise InvalidArgument(f"reach={reach!r} must be more than 0 and finite")
    ends = kernel.limits(**pushrod).servo_angle
    if ends.shape != (2,) or not ends[0] < 0.0 < ends[1]:
        raise InvalidArgument(f"pushrod={pushrod!r} must be one loop that closes at neutral")
    lower, upper = (float(end) for end in np.clip(share * ends, -reach, reach))
    return st.floats(lower, upper)


@st.composite
def _pushrods(draw: st.DrawFn, *, planar: bool | None) -> Pushrod:
    """Pushrod in a frame with x from servo to hinge and axes about y, then turned."""
    in_plane = draw(st.booleans()) if planar is None else planar
    tilt = st.just(0.0) if in_plane else st.floats(-_LEAN, _LEAN)
    aside = st.just(0.0) if in_plane else st.floats(-0.02, 0.02)
    turn = _rotation(draw(_angles()), draw(_angles()), draw(_angles()))

    def lever(longest: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        tilted = _rotation(draw(tilt), 0.0, draw(tilt))
        axis = draw(st.sampled_from([1.0, -1.0])) * tilted[:, 1]
        lean, size = draw(st.floats(-_LEAN, _LEAN)), draw(st.floats(0.005, longest))
        joint = size * (math.sin(lean) * tilted[:, 0] + math.cos(lean) * tilted[:, 2])
        return turn @ axis, turn @ (joint + draw(aside) * tilted[:, 1])

    servo_axis, arm = lever(0.04)
    hinge_axis, horn = lever(0.06)
    horn = draw(st.sampled_from([1.0, -1.0])) * horn
    across = np.array([draw(st.floats(0.06, 0.6)), draw(aside), draw(st.floats(-0.02, 0.02))])
    servo_pivot = np.array([draw(st.floats(-1.0, 1.0)) for _ in range(3)])
    return {
        "servo_pivot": servo_pivot,
        "servo_axis": servo_axis,
        "arm": arm,
        "hinge_pivot": servo_pivot + turn @ across,
        "hinge_axis": hinge_axis,
        "horn": horn,
    }


def _angles() -> st.SearchStrategy[float]:
    return st.floats(-math.pi, math.pi)


def _rotation(about_x: float, about_y: float, about_z: float) -> NDArray[np.float64]:
    """Rotation matrix from three turns about fixed axes, x first [rad]."""
    (cx, cy, cz), (sx, sy, sz) = (
        [function(angle) for angle in (about_x, about_y, about_z)]
        for function in (math.cos, math.sin)
    )
    return np.asarray(
        np.array([[cz, -sz, 0.0], [sz, cz, 0.0], [0.0, 0.0, 1.0]])
        @ np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
        @ np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]])
    )


def _clear_of_dead_centres(pushrod: Pushrod) -> bool:
    rod = pushrod["hinge_pivot"] + pushrod["horn"] - pushrod["servo_pivot"] - pushrod["arm"]
    rod = rod / np.linalg.norm(rod)
    paths = (
        np.cross(pushrod["servo_axis"], pushrod["arm"]),
        np.cross(pushrod["hinge_axis"], pushrod["horn"]),
    )
    return all(abs(path @ rod) > _LEAST_SINE * np.linalg.norm(path) for path in paths)
