"""All-moving surfaces against thin-aerofoil theory, the plate, and a lattice."""

import math

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.evaluation.surface_fields import solver_name, surface_fields
from linkcalc_hinge_moment.all_moving import AllMoving, attached_moments, separated_moments
from linkcalc_hinge_moment.lattice import converged
from linkcalc_hinge_moment.panels import trapezoid


def solve(**changes):
    """Solve for a unit load and a long span, so that moments are coefficients."""
    fields = dict.fromkeys(AllMoving().fields, 0.0) | {"aspect_ratio": math.inf}
    fields |= {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
    fields |= {"density": 2.0, "viscosity": 1e-9} | changes
    return AllMoving()({name: np.asarray(value) for name, value in fields.items()})


def test_hinged_at_its_leading_edge_it_is_the_whole_section_as_a_flap():
    # Glauert, R&M 1095: b1 = b2 = -pi / 2 at a chord ratio of 1; 0.9: common practice, no source
    made = solve(deflection=0.1)
    assert made["C_h_alpha"] == made["C_h_delta"] == pytest.approx(-0.9 * math.pi / 2)
    # the high line is all of 2 pi with its centre at 0.30
    assert made["high"] == pytest.approx(-2.0 * math.pi * 0.1 * 0.30)


def test_hinged_at_a_quarter_nobody_knows_which_way_it_turns():
    made = solve(hinge_position=0.25, deflection=0.1)
    assert made["best"] == pytest.approx(0.0, abs=1e-15)
    assert made["low"] == pytest.approx(2.0 * math.pi * 0.1 * 0.05)
    assert made["high"] < 0.0


@pytest.mark.parametrize(
    ("reynolds", "degrees", "wider"),
    [(2e5, 5, 0.02), (2.5e5, 5, 0.01), (3e5, 5, 0.0), (2e5, 9, 0.01), (2e5, 10, 0.0)],
)
def test_laminar_separation_widens_the_band_near_neutral(reynolds, degrees, wider):
    # 0.02: tests/validation_page.py; the speed is 1 m/s and the chord 1 m
    deflection = math.radians(degrees)
    calm, slow = (
        solve(deflection=deflection, viscosity=2.0 / number) for number in (1e9, reynolds)
    )
    assert calm["high"] - slow["high"] == pytest.approx(wider, abs=1e-9)
    assert slow["low"] - calm["low"] == pytest.approx(wider, abs=1e-9)
    assert slow["best"] == calm["best"]


def test_hinged_too_far_aft_it_is_unstable():
    made = solve(hinge_position=0.35, deflection=np.array([0.1, -0.1]))
    # the air helps the deflection on, either way
    assert (made["best"] * np.array([1.0, -1.0]) > 0.0).all()
    assert (made["C_h_delta"] > 0.0).all()


def test_stall_moves_the_centre_aft_and_the_band_has_that_in_it():
    # plate at 20 degrees: C_N 0.423486 at 0.361115 of the chord (Rayleigh), up to 1.25 x 1.98 /
    # 0.879802 of it (long plate broadside, Matthews Fig. 5.13(b)); hinge at 0.25
    made = solve(hinge_position=0.25, deflection=math.radians(20.0))
    separated = 1.25 * 1.98 / 0.879802 * 0.423486 * (0.361115 - 0.25)
    attached = 2.0 * math.pi * math.radians(20.0) * 0.05
    assert separated > attached
    assert made["high"] == pytest.approx(-separated, rel=1e-5)


def test_broadside_it_is_a_plate():
    made = solve(hinge_position=0.3, deflection=0.5 * math.pi)
    assert made["high"] == pytest.approx(-1.25 * 1.98 * 0.2, rel=1e-9)
    assert made["low"] == pytest.approx(-0.879802 * 0.2, rel=1e-5)
    assert made["best"] == pytest.approx(-1.17 * 0.2, rel=1e-9)  # it is square


def test_nothing_steps_from_attached_to_separated_flow():
    deflection = np.radians(np.arange(0.01, 90.0, 0.01))
    made = solve(hinge_position=0.22, deflection=deflection, incidence=0.05, largest_incidence=0.1)
    for line in ("low", "best", "high"):
        assert np.abs(np.diff(made[line])).max() < 5.0 * math.radians(0.01)


def test_the_band_grows_with_the_incidence_that_may_come_on_top():
    plain, gusty = solve(deflection=0.1), solve(deflection=0.1, largest_incidence=0.1)
    assert gusty["high"] == pytest.approx(2.0 * plain["high"])
    assert gusty["low"] > plain["low"]


def test_camber_acts_about_the_hinge():
    # moment about the leading edge -0.05, lift 0.2 at no angle: about 0.3 c it is -0.05 + 0.06
    made = solve(hinge_position=0.3, C_h0=-0.05, c_l0=0.2)
    assert made["C_h0"] == pytest.approx(0.01)


@pytest.mark.parametrize("position", [0.1, 0.2, 0.3])
def test_best_line_is_near_the_lattice(position):
    # the lattice refers to what lies aft of the hinge, and has no boundary layer: 0.9 on ours
    whole = trapezoid(
        half_span=4.0, root_chord=1.0, tip_chord=1.0, chord_ratio=1.0, hinge_position=position
    )
    found = converged(whole).slopes.incidence * (1.0 - position) ** 2
    made = solve(hinge_position=position, aspect_ratio=8.0)["C_h_alpha"] / 0.9
    assert made == pytest.approx(found, abs=0.02 * 2.0 * math.pi)


def test_ends_are_ordered_whatever_the_sign_of_the_angle():
    angle = np.linspace(-1.5, 1.5, 61)
    for least, most in (
        attached_moments(angle=angle, hinge=0.27, lift_slope=6.0),
        separated_moments(angle=angle, hinge=0.27),
    ):
        assert (least <= most).all()
        np.testing.assert_allclose(least, -most[::-1], atol=1e-12)


def test_a_file_names_the_hinge_and_gets_the_solver():
    sizes = {"span": "0.4 m", "chord": "100 mm", "throw": "12 deg"}
    tail = linkcalc.ControlSurface(**sizes, hinge_position=0.22)
    assert solver_name(tail) == "all_moving"
    fields = surface_fields(tail, [])
    assert (fields["hinge_position"], fields["chord_ratio"]) == (0.22, 1.0)
    with pytest.raises(InputError, match="hinge_position"):
        linkcalc.ControlSurface(**sizes, solver="all_moving")
    with pytest.raises(InputError, match="all_moving"):
        linkcalc.ControlSurface(**sizes, solver="plate", hinge_position=0.2)
