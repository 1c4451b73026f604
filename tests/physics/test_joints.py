"""What joints bear, by hand and by adding up stresses over what is sheared."""

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from linkcalc.physics import joints


def test_a_pin_is_sheared_at_both_cheeks():
    # the stress over each of two sections of the pin, added up in polar coordinates
    section, _ = dblquad(lambda r, _: 250e6 * r, 0, 2 * math.pi, 0, 0.8e-3)
    found = joints.pin_shear(diameter=1.6e-3, shear_strength=250e6)
    assert found == pytest.approx(2 * section, rel=1e-9)


def test_a_thread_is_stripped_along_half_of_its_cylinder():
    # 2.0 mm x 6 mm x pi are 37.70 mm^2, half of it 18.85 mm^2, at 40 N/mm^2: 754 N
    found = joints.thread_shear(diameter=2e-3, engaged_length=6e-3, shear_strength=40e6)
    assert found == pytest.approx(754.0, abs=0.5)


def test_a_clamped_rod_slips_on_two_faces():
    # 200 N pinch it between screw and collar; each face holds 0.15 x 200 N = 30 N
    assert joints.clamp_slip(clamping_force=200.0, friction=0.15) == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("kernel", "keywords"),
    [
        (joints.pin_shear, {"diameter": 1e-3, "shear_strength": 1e8}),
        (
            joints.thread_shear,
            {"diameter": 2e-3, "engaged_length": 5e-3, "shear_strength": 1e8},
        ),
        (joints.clamp_slip, {"clamping_force": 100.0, "friction": 0.2}),
    ],
)
def test_kernels_broadcast_and_let_nan_through(kernel, keywords):
    for name, value in keywords.items():
        several = kernel(**keywords | {name: np.array([value, 2 * value, np.nan])})
        assert several.shape == (3,)
        assert several[0] == kernel(**keywords)
        assert several[1] > several[0]
        assert np.isnan(several[2])
