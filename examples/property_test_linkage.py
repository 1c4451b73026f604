"""Property tests of a home-made linkage calculation, on pushrods that the library draws.

By hand, at neutral with arm and horn square to the rod: the rod moves as far as either hole,
so the surface turns by arm / horn of what the servo turns. Run it as it stands, or with pytest.
"""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcalc.mechanism import pushrod
from linkcalc.testing.strategies import Pushrod, pushrods, servo_angles_within


def quick_ratio(linkage: Pushrod) -> float:
    """Return what is tested here: lever of the servo arm over lever of the horn, at neutral."""
    rod = linkage["hinge_pivot"] + linkage["horn"] - linkage["servo_pivot"] - linkage["arm"]
    levers = [
        np.cross(linkage[axis], linkage[arm]) @ rod / np.linalg.norm(linkage[axis])
        for axis, arm in (("servo_axis", "arm"), ("hinge_axis", "horn"))
    ]
    return float(levers[0] / levers[1])


@settings(deadline=None, max_examples=25)
@given(linkage=pushrods())
def test_quick_ratio_is_the_slope_at_neutral(linkage: Pushrod) -> None:
    """The home-made ratio agrees with the library where it claims to hold."""
    slope = float(pushrod.solve(0.0, **linkage).slope)
    assert math.isclose(quick_ratio(linkage), slope, rel_tol=1e-9)  # noqa: S101 - a test


@settings(deadline=None, max_examples=25)
@given(data=st.data())
def test_slope_is_what_a_small_step_of_the_servo_moves(data: st.DataObject) -> None:
    """Anywhere within reach, not at neutral alone."""
    linkage = data.draw(pushrods())
    angle = data.draw(servo_angles_within(linkage, share=0.8))
    ends = pushrod.solve(angle + np.array([-1e-5, 1e-5]), **linkage).surface_angle
    slope = float(pushrod.solve(angle, **linkage).slope)
    assert math.isclose(np.diff(ends)[0] / 2e-5, slope, rel_tol=1e-3, abs_tol=1e-6)  # noqa: S101 - a test


if __name__ == "__main__":
    test_quick_ratio_is_the_slope_at_neutral()
    test_slope_is_what_a_small_step_of_the_servo_moves()
    print("both properties hold")
