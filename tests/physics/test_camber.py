"""Camber by thin-aerofoil theory against the textbook integrals and published sections."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from linkcalc.errors import InputError
from linkcalc.physics.camber import bend_hinge_moment, bend_lift, camber_coefficients, mean_line

REFERENCE = Path(__file__).parents[1] / "reference"
RATIOS = [0.1, 0.25, 0.4, 0.7]


# --- the second way: Glauert's series. The pressure difference of a camber line is
# 4 (A0 (1 + cos t) / sin t + sum An sin nt) with A0 = -mean slope and
# An = (2 / pi) * integral of slope * cos nt; x = (1 - cos t) / 2. (H. Glauert, The Elements of
# Aerofoil and Airscrew Theory, ch. 7; any textbook has it.)


def by_series(slope_of_angle, ratio, overhang=0.0, terms=2):
    """Hinge moment and lift of a camber line with a finite cosine series, by sympy."""
    t = sp.symbols("t", real=True)
    slope = slope_of_angle(t)
    a0 = -sp.integrate(slope, (t, 0, sp.pi)) / sp.pi
    an = [
        2 / sp.pi * sp.integrate(sp.expand(slope * sp.cos(n * t)), (t, 0, sp.pi))
        for n in range(1, terms + 1)
    ]
    pressure_sine = a0 * (1 + sp.cos(t)) + sum(
        a * sp.sin(n * t) * sp.sin(t) for n, a in enumerate(an, start=1)
    )  # pressure difference / 4 times sin t
    hinge, nose = 1 - ratio, 1 - ratio * (1 + overhang)
    arm = (1 - sp.cos(t)) / 2 - hinge
    moment = sp.integrate(sp.expand(2 * pressure_sine * arm), (t, sp.acos(1 - 2 * nose), sp.pi))
    lift = sp.integrate(sp.expand(2 * pressure_sine), (t, 0, sp.pi))
    return float(-moment / ratio**2), float(lift)


# Camber lines with height f: the parabola 4 f x (1 - x), slope 4 f cos t, and the S-shaped
# cubic f x (1 - x) (1 - 2 x) x 4, slope by x = (1 - cos t) / 2.
LINES = {
    "parabola": (lambda x: 4 * x * (1 - x), lambda t: 4 * sp.cos(t)),
    "cubic": (
        lambda x: 4 * x * (1 - x) * (1 - 2 * x),
        lambda t: 4 * (1 - 6 * ((1 - sp.cos(t)) / 2) + 6 * ((1 - sp.cos(t)) / 2) ** 2),
    ),
}


@pytest.mark.parametrize("ratio", [sp.Rational(1, 10), sp.Rational(1, 4), sp.Rational(2, 5)])
@pytest.mark.parametrize("overhang", [sp.Integer(0), sp.Rational(3, 10)])
@pytest.mark.parametrize("name", LINES)
def test_a_smooth_line_agrees_with_symbolic_integration(name, ratio, overhang):
    height, slope = LINES[name]
    moment, lift = by_series(lambda t: sp.Rational(1, 50) * slope(t), ratio, overhang)
    x = 0.5 * (1.0 - np.cos(np.linspace(0.0, math.pi, 801)))
    made = camber_coefficients(
        x, 0.02 * height(x), chord_ratio=float(ratio), overhang=float(overhang)
    )
    # straight pieces: the error falls with the square of their number
    assert made.C_h0 == pytest.approx(moment, rel=1e-4, abs=1e-7)
    assert made.c_l0 == pytest.approx(lift, rel=1e-4, abs=1e-6)


def test_straight_pieces_converge_with_the_square_of_their_number():
    moment, _ = by_series(lambda t: sp.Rational(1, 50) * 4 * sp.cos(t), sp.Rational(1, 4))
    errors = []
    for count in (21, 41, 81):
        x = 0.5 * (1.0 - np.cos(np.linspace(0.0, math.pi, count)))
        made = camber_coefficients(x, 0.08 * x * (1.0 - x), chord_ratio=0.25)
        errors.append(abs(made.C_h0 - moment))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.3)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.3)


# --- closed forms against quadrature of Glauert's pressure difference


def pressure(t, bend):
    """Pressure difference of a unit bend at the angle t."""
    smooth = (math.pi - bend) * (1.0 + math.cos(t)) / math.sin(t)
    peak = math.log(abs(math.sin(0.5 * (t + bend)) / math.sin(0.5 * (t - bend))))
    return 4.0 / math.pi * (smooth + peak)


@pytest.mark.parametrize(
    ("ratio", "bend", "overhang"),
    [
        (0.25, 0.25, 0.0),
        (0.25, 0.6, 0.0),
        (0.25, 0.1, 0.0),
        (0.25, 0.25, 0.4),
        (0.3, 0.05, 0.2),
        (0.4, 0.9, 0.5),
        (0.5, 0.6, 1.0),
    ],
)
def test_closed_form_agrees_with_quadrature_of_the_pressure(ratio, bend, overhang):
    nose, place = math.acos(2.0 * ratio * (1 + overhang) - 1.0), math.acos(2.0 * bend - 1.0)

    def moment(t):
        arm = 0.5 * (1.0 - math.cos(t)) - (1.0 - ratio)
        return pressure(t, place) * 0.5 * math.sin(t) * arm

    inside = [place] if nose < place < math.pi else None
    value, _ = quad(moment, nose, math.pi, points=inside, epsabs=1e-11, epsrel=1e-9, limit=200)
    made = bend_hinge_moment(chord_ratio=ratio, bend=bend, overhang=overhang)
    assert made == pytest.approx(-value / ratio**2, rel=1e-7)


def test_lift_of_a_bend_agrees_with_published_effectiveness():
    # Glauert R&M 1095: a2 of hinge_thin_airfoil.csv
    with (REFERENCE / "hinge_thin_airfoil.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if "a2" in row["quantity"].split(", ")[-1]]
    rows = [row for row in rows if row["quantity"].endswith(", a2")]
    assert len(rows) > 10
    for row in rows:
        ratio = float(row["inputs"].split("flap_chord_ratio=")[1].split(";")[0])
        assert bend_lift(bend=ratio) == pytest.approx(float(row["expected"]), rel=1e-4)


@given(st.floats(0.02, 1.0))
def test_a_bend_at_the_leading_edge_is_incidence_and_one_at_the_trailing_edge_nothing(ratio):
    # Houghton and Carpenter, sect. 4.5: b1, written out here a second way
    turn = math.acos(1.0 - 2.0 * ratio)
    b1 = -((1.5 - ratio) * math.sin(turn) - (1.5 - 2.0 * ratio) * turn) / ratio**2
    assert bend_hinge_moment(chord_ratio=ratio, bend=1.0) == pytest.approx(b1, rel=1e-7)
    assert bend_hinge_moment(chord_ratio=ratio, bend=0.0) == pytest.approx(0.0, abs=1e-9)
    assert bend_lift(bend=0.0) == 0.0


@pytest.mark.parametrize(("overhang", "factor"), [(0.15, 0.93), (0.5, 0.2)])
@pytest.mark.parametrize("ratio", [0.2, 0.3, 0.4])
def test_overhang_relieves_no_more_than_the_handbook_says(overhang, factor, ratio):
    # Roskam VI, 10.4.1, step 4, end points as coded by an open academic data set, +-0.1
    for bend in (ratio, 1.0):
        plain = bend_hinge_moment(chord_ratio=ratio, bend=bend)
        made = bend_hinge_moment(chord_ratio=ratio, bend=bend, overhang=overhang) / plain
        assert factor - 0.1 < made < 1.0


def test_an_overhang_of_the_whole_nose_is_an_all_moving_surface():
    # plate hinged at 40 % of its chord: 2 pi a acts at a quarter, over the square of 0.6
    made = bend_hinge_moment(chord_ratio=0.6, bend=1.0, overhang=0.4 / 0.6)
    assert made == pytest.approx(2.0 * math.pi * 0.15 / 0.6**2, rel=1e-12)


@pytest.mark.parametrize(
    ("ratio", "bend", "overhang"),
    [(0.0, 0.5, 0.0), (1.1, 0.5, 0.0), (0.3, -0.1, 0.0), (0.3, 1.2, 0.0), (0.5, 0.5, 1.2)],
)
def test_out_of_range_is_nan(ratio, bend, overhang):
    assert math.isnan(bend_hinge_moment(chord_ratio=ratio, bend=bend, overhang=overhang))
    assert math.isnan(bend_lift(bend=1.5))


# --- from an outline


def four_digits(camber=0.02, place=0.4, thickness=0.12, count=60):
    """NACA four-digit section (Abbott and von Doenhoff, Theory of Wing Sections, sect. 6.4)."""
    x = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, count)))
    half = (
        5
        * thickness
        * (0.2969 * np.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    )
    fore = x < place
    line = np.where(
        fore,
        camber / place**2 * (2 * place * x - x**2),
        camber / (1 - place) ** 2 * (1 - 2 * place + 2 * place * x - x**2),
    )
    slope = np.where(fore, camber / place**2, camber / (1 - place) ** 2) * 2 * (place - x)
    turn = np.arctan(slope)
    upper = x - half * np.sin(turn), line + half * np.cos(turn)
    lower = x + half * np.sin(turn), line - half * np.cos(turn)
    outline = [np.concatenate([u[::-1], w[1:]]) for u, w in zip(upper, lower, strict=True)]
    return (x, line), tuple(outline)


@pytest.mark.parametrize("ratio", RATIOS)
def test_an_outline_gives_the_camber_line_that_it_was_made_from(ratio):
    line, outline = four_digits()
    expected = camber_coefficients(*line, chord_ratio=ratio)
    made = camber_coefficients(*mean_line(*outline), chord_ratio=ratio)
    # thickness is laid off square to the camber line, which theory does not tell apart
    assert made.C_h0 == pytest.approx(expected.C_h0, rel=0.05)
    assert made.c_l0 == pytest.approx(expected.c_l0, rel=0.03)


def test_an_outline_may_run_either_way_be_turned_scaled_and_moved():
    _, (x, z) = four_digits()
    expected = mean_line(x, z)
    np.testing.assert_allclose(mean_line(x[::-1], z[::-1]), expected, atol=1e-12)
    turn = 0.05
    turned = (
        120 * (x * math.cos(turn) - z * math.sin(turn)) + 7,
        120 * (x * math.sin(turn) + z * math.cos(turn)),
    )
    np.testing.assert_allclose(mean_line(*turned), expected, atol=1e-12)


@pytest.mark.parametrize("ratio", [0.2, 0.4])
def test_camber_agrees_with_the_inviscid_section(ratio):
    # hinge_viscous.csv, NACA 2412 without boundary layer; theory knows no thickness, and 12 %
    # of it take off some (the handbook: a fifth from the deflection slope)
    with (REFERENCE / "hinge_viscous.csv").open(encoding="utf-8", newline="") as file:
        (row,) = (
            row
            for row in csv.DictReader(file)
            if row["section"] == "naca2412"
            and (float(row["chord_ratio"]), float(row["Re"])) == (ratio, 0.0)
            and float(row["alpha_deg"]) == float(row["delta_deg"]) == 0.0
        )
    made = camber_coefficients(*mean_line(*four_digits()[1]), chord_ratio=ratio)
    assert made.c_l0 == pytest.approx(float(row["cl"]), rel=0.15)
    assert abs(float(row["ch"])) < abs(made.C_h0)
    assert made.C_h0 == pytest.approx(float(row["ch"]), rel=0.5)


def test_positive_camber_lifts_and_pushes_the_trailing_edge_up():
    x = np.linspace(0.0, 1.0, 51)
    made = camber_coefficients(x, 0.08 * x * (1.0 - x), chord_ratio=0.3)
    assert made.c_l0 > 0.0
    assert made.C_h0 < 0.0


@given(st.floats(0.1, 10.0), st.floats(-5.0, 5.0), st.floats(-0.05, 0.05))
def test_unit_place_and_incidence_of_the_drawing_do_not_matter(scale, shift, tilt):
    x = np.linspace(0.0, 1.0, 21)
    z = 0.08 * x * (1.0 - x)
    expected = camber_coefficients(x, z, chord_ratio=0.3)
    made = camber_coefficients(scale * x + shift, scale * (z + tilt * x) - shift, chord_ratio=0.3)
    assert made.C_h0 == pytest.approx(expected.C_h0, rel=1e-9)
    assert made.c_l0 == pytest.approx(expected.c_l0, rel=1e-9)


def test_bad_points_are_refused_in_words():
    with pytest.raises(InputError, match="further aft"):
        camber_coefficients(np.array([0.0, 0.5, 0.4]), np.zeros(3), chord_ratio=0.3)
    with pytest.raises(InputError, match="at least 2"):
        camber_coefficients(np.array([0.0]), np.zeros(1), chord_ratio=0.3)
    with pytest.raises(InputError, match="trailing edge"):
        mean_line(np.linspace(0.0, 1.0, 9), np.zeros(9))
    x = np.array([1.0, 0.6, 0.7, 0.3, 0.0, 0.3, 0.7, 1.0])
    with pytest.raises(InputError, match="doubles back"):
        mean_line(x, np.array([0.0, 0.05, 0.05, 0.05, 0.0, -0.05, -0.05, 0.0]))
