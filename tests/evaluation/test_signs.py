"""Signs: incidence on every kind of surface, weight, and which way a rod is loaded."""

import math

import pytest

import linkcalc
from linkcalc import solvers
from tests.evaluation.independent import glauert

ALPHA, BETA, DIHEDRAL = math.radians(4.0), math.radians(7.0), math.radians(35.0)
# 0.5 rho V^2 S c with rho 1.25 kg/m^3, 40 m/s and 0.5 m x 0.04 m
SIZE = 0.8

FILE = """
format = "linkcalc.aircraft/1"
name = "signs"
supply = {{ voltage = "6 V", current_limit = "none" }}
[servos.s]
rows = [{{ voltage = "6 V", stall_torque = "300 mNm", no_load_speed = "0.1 s/60deg", stall_current = "2 A" }}]
[[cases]]
name = "c"
speed = "40 m/s"
density = "1.25 kg/m^3"
{case}
[[runs]]
name = "r"
servo = "s"
arm = {arm}
horn = {horn}
pushrod = "200 mm"
surface = {{ span = "500 mm", chord = "40 mm", throw = "20 deg", {surface} }}
"""
STREAM = 'incidence = "4 deg"\nsideslip = "7 deg"\nfraction = 1'
STILL = 'incidence = "0 deg"\nfraction = 1\nload_factor = '


@pytest.fixture
def value(tmp_path):
    def of(name, *, case, surface, horn='"20 mm"', arm='"10 mm"'):
        path = tmp_path / "aircraft.toml"
        text = FILE.format(case=case, surface=surface, horn=horn, arm=arm)
        path.write_text(text, encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0].values[name].value

    return of


# Wind from below and from starboard, as every textbook draws alpha and beta. C_h_alpha of
# -1 per radian turns a trailing edge with the stream: a positive incidence lifts it.
@pytest.mark.parametrize(
    ("surface", "incidence"),
    [
        ("", ALPHA),
        ('plane = "fin"', BETA),
        (
            'plane = "vee", side = "starboard", dihedral = "35 deg"',
            ALPHA * math.cos(DIHEDRAL) + BETA * math.sin(DIHEDRAL),
        ),
        (
            'plane = "vee", side = "port", dihedral = "35 deg"',
            ALPHA * math.cos(DIHEDRAL) - BETA * math.sin(DIHEDRAL),
        ),
    ],
    ids=["level", "fin", "starboard panel", "port panel"],
)
def test_incidence_is_what_blows_along_aft_cross_hinge(value, surface, incidence):
    known = 'coefficients = { C_h_alpha = "-1 1/rad", C_h_delta = "0 1/rad" }'
    described = ", ".join(part for part in (surface, known) if part)
    found = value("hinge moment", case=STREAM, surface=described)
    assert found == pytest.approx(-SIZE * incidence, rel=1e-12)


# The best line keeps the sign of the incidence, the outer ones take the largest that alpha
# and beta can make: both have to show in the band of a surface under a port panel's stream.
def test_the_high_line_of_a_panel_adds_what_the_best_line_subtracts(value):
    surface = 'plane = "vee", side = "port", dihedral = "35 deg", chord_ratio = 0.99'
    b1, b2 = glauert(0.99)
    largest = ALPHA * math.cos(DIHEDRAL) + BETA * math.sin(DIHEDRAL)
    expected = -SIZE * (b1 * largest + b2 * math.radians(20.0))
    assert abs(value("hinge moment", case=STREAM, surface=surface)) == pytest.approx(
        expected, rel=1e-9
    )


NOTHING_BUT_WEIGHT = (
    'mass = "20 g", mass_centre = "15 mm", '
    'coefficients = { C_h_alpha = "0 1/rad", C_h_delta = "0 1/rad" }'
)
WEIGHT = 0.020 * 9.80665 * 0.015  # [N m]


@pytest.mark.parametrize(
    ("load_factor", "plane", "moment"),
    [
        ("1", "", WEIGHT),  # level flight: the trailing edge wants down
        ("4", "", 4 * WEIGHT),
        ("-1", "", -WEIGHT),  # inverted
        ("[0, 0, -1]", "", WEIGHT),
        ("[0, 1, 0]", 'plane = "fin", ', WEIGHT),  # felt to starboard: so is positive on a fin
        ("[0, 0, -3]", 'plane = "fin", ', 0.0),  # along its hinge
        ("1", 'plane = "vee", dihedral = "60 deg", ', WEIGHT / 2),
    ],
)
def test_weight_aft_of_the_hinge_pulls_with_the_load_factor(value, load_factor, plane, moment):
    found = value("hinge moment", case=STILL + load_factor, surface=plane + NOTHING_BUT_WEIGHT)
    assert (found or 0.0) == pytest.approx(moment, rel=1e-9, abs=1e-15)


def test_weight_felt_straight_aft_pulls_the_surface_back_to_neutral(value):
    # Felt straight aft: nothing at neutral, m g r sin(delta) back to it.
    case = STILL.replace("fraction = 1", 'deflection = ["0 deg", "20 deg"]') + "[1, 0, 0]"
    found = value("hinge moment", case=case, surface=NOTHING_BUT_WEIGHT)
    assert found == pytest.approx(-WEIGHT * math.sin(math.radians(20.0)), rel=1e-9)


@pytest.mark.parametrize(("lean", "sign"), [("0 deg", 1.0), ("180 deg", -1.0)])
def test_a_horn_on_top_of_the_surface_pulls_the_rod_when_the_trailing_edge_wants_down(
    value, lean, sign
):
    horn = f'{{ radius = "20 mm", lean = "{lean}" }}'
    force = value("rod force", case=STILL + "1", surface=NOTHING_BUT_WEIGHT, horn=horn)
    assert math.copysign(1.0, force) == sign


class Unsure:
    """A made-up solver: nothing, or a moment of one sign or the other that it cannot tell."""

    name, description, sources, validity = "plate", "made up", ("none",), {}
    fields = {"deflection": "rad"}  # noqa: RUF012 - as a stranger might write it
    MOST = 0.01  # [N m]

    def __call__(self, fields):
        zero = 0.0 * fields["deflection"]
        against = zero + self.MOST * (1.0 - 2.0 * (fields["deflection"] >= 0))
        return dict.fromkeys(("low", "best", "C_h0", "C_h_alpha", "C_h_delta", "k_s"), zero) | {
            "high": against
        }


def test_at_neutral_the_high_line_is_tried_with_either_sign(value, monkeypatch):
    real = solvers.load
    monkeypatch.setattr(
        solvers, "load", lambda kind, name: Unsure() if name == "plate" else real(kind, name)
    )
    case = STILL.replace("fraction = 1", 'deflection = ["0 deg", "20 deg"]') + "1"
    surface = 'solver = "plate", mass = "20 g", mass_centre = "15 mm"'
    # Against a deflection downwards it works against the weight; at neutral it may add to it.
    assert value("governing deflection", case=case, surface=surface) == 0.0
    found = value("hinge moment", case=case, surface=surface)
    assert found == pytest.approx(Unsure.MOST + WEIGHT, rel=1e-12)


def test_at_neutral_a_band_of_known_sign_has_no_other(value):
    # The air lifts the surface by 0.1 within 0.08 and 0.12, whatever the deflection, and the
    # weight takes some of that off. Were the sign unknown at neutral, both would add up there.
    surface = (
        'mass = "20 g", mass_centre = "15 mm", coefficients = '
        '{ C_h0 = -0.1, C_h_alpha = "0 1/rad", C_h_delta = "0 1/rad", '
        "band_low = 0.8, band_high = 1.2 }"
    )
    case = STILL.replace("fraction = 1", 'deflection = ["-1 deg", "0 deg"]') + "1"
    found = value("hinge moment", case=case, surface=surface)
    assert found == pytest.approx(WEIGHT - 0.12 * SIZE, rel=1e-4)


def test_a_drawn_hinge_line_of_a_fin_keeps_its_sweep(value):
    # Leaning aft by L, the surface hangs lowest at neutral, m g r sin(L) (1 - cos(delta)) below:
    # its weight turns it back with m g r sin(L) sin(delta). Upright it would do nothing.
    lean, delta = math.radians(40.0), math.radians(20.0)
    axis = f"axis = [{math.sin(lean)}, 0, {math.cos(lean)}]"
    horn = f'{{ pivot = ["200 mm", "-10 mm", "0 mm"], {axis}, vector = ["0 mm", "20 mm", "0 mm"] }}'
    arm = f'{{ pivot = ["0 mm", "0 mm", "0 mm"], {axis}, vector = ["0 mm", "10 mm", "0 mm"] }}'
    surface = 'plane = "fin", ' + NOTHING_BUT_WEIGHT
    case = STILL.replace("fraction = 1", 'deflection = ["0 deg", "20 deg"]') + "1"
    found = value("hinge moment", case=case, surface=surface, horn=horn, arm=arm)
    assert found == pytest.approx(-WEIGHT * math.sin(lean) * math.sin(delta), rel=1e-9)
