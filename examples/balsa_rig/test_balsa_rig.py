"""Does the rig's solver keep what solvers promise, and say what the rig has measured?"""

import numpy as np
import pytest
from balsa_rig import Rig

from linkcalc.testing import conformance


def test_it_keeps_what_solvers_promise():
    conformance.hinge_moment(Rig())


def test_a_surface_bears_what_the_rig_has_measured():
    # 400 Pa on 0.010 m^2 with a chord of 0.050 m at 0.2 rad: 0.74 x 0.2 x 0.2 N m
    measured = -0.0296
    fields = {"dynamic_pressure": 400.0, "area": 0.010, "chord": 0.050, "chord_ratio": 0.4}
    fields |= {"incidence": 0.0, "deflection": 0.2}
    found = Rig()({name: np.asarray(value) for name, value in fields.items()})
    assert found["best"] == pytest.approx(measured, rel=1e-9)
