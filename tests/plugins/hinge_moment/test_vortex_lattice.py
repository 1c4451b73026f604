"""The vortex lattice against closed forms, published slopes, and the physics of a mirror."""

import csv
import math
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcalc.errors import InputError
from linkcalc.physics.stations import Stations
from linkcalc_hinge_moment.lattice import converged, level
from linkcalc_hinge_moment.panels import Counts, Planform, cut, stationed, trapezoid, turned, whole
from linkcalc_hinge_moment.vortex_lattice import circulations, downwash, respond

FOLDER = Path(__file__).parents[2] / "reference"
with (FOLDER / "lifting_surface.csv").open(encoding="utf-8", newline="") as file:
    SURFACES = list(csv.DictReader(file))
with (FOLDER / "hinge_thin_airfoil.csv").open(encoding="utf-8", newline="") as file:
    GLAUERT = list(csv.DictReader(file))
FEW = settings(max_examples=15, deadline=None)


def published(quantity, **inputs):
    (value,) = (
        float(row["expected"])
        for row in SURFACES
        if row["quantity"] == quantity
        and all(f"{name}={value}" in row["inputs"].split("; ") for name, value in inputs.items())
    )
    return value


def glauert(symbol, chord_ratio):
    (value,) = (
        float(row["expected"])
        for row in GLAUERT
        if f"{symbol} =" in row["quantity"]
        and float(re.search(r"flap_chord_ratio=([\d.]+)", row["inputs"])[1]) == chord_ratio
    )
    return value


def rectangle(aspect_ratio, chord_ratio=0.3, **changes):
    sizes = {"half_span": 0.5 * aspect_ratio, "root_chord": 1.0, "tip_chord": 1.0}
    return trapezoid(**(sizes | {"chord_ratio": chord_ratio} | changes))


def answer(planform, aft=4):
    return respond(cut(planform, level(planform, aft)), paired=planform.paired)


# --- the velocity of a horseshoe, by numerical integration of the law of Biot and Savart


def by_integration(start, end, point):
    """Velocity of a horseshoe of unit circulation: into `start`, along to `end`, out along x."""
    far = 1e4
    total = np.zeros(3)
    out = np.array([far, 0.0, 0.0])
    corners = [start + out, start, end, end + out]
    for tail, head in pairwise(corners):
        # steps that grow away from the corner near the point
        steps = np.concatenate([[0.0], np.geomspace(1e-7, 1.0, 40_001)])
        if tail is corners[0]:
            steps = 1.0 - steps[::-1]
        elif tail is start:
            steps = np.linspace(0.0, 1.0, 40_001)
        places = tail + steps[:, None] * (head - tail)
        element = np.diff(places, axis=0)
        apart = point - 0.5 * (places[:-1] + places[1:])
        size = np.linalg.norm(apart, axis=-1, keepdims=True)
        total += np.sum(np.cross(element, apart) / size**3, axis=0)
    return total / (4.0 * math.pi)


def test_velocity_of_a_horseshoe_is_that_of_biot_and_savart():
    surface = trapezoid(
        half_span=1.5, root_chord=1.0, tip_chord=0.6, chord_ratio=0.3, sweep=0.4, dihedral=0.3
    )
    panels = cut(surface, Counts(2, 2, 3))
    for mirrored in (False, True):
        matrix = downwash(panels, mirrored=mirrored)
        for row, column in ((0, 0), (3, 5), (9, 2), (5, 10)):
            start, end = panels.inboard[column], panels.outboard[column]
            if mirrored:
                start, end = end * [1, -1, 1], start * [1, -1, 1]
            velocity = by_integration(start, end, panels.control[row])
            expected = float(velocity @ panels.normal[row])
            assert matrix[row, column] == pytest.approx(expected, rel=2e-4, abs=1e-6)


# --- lift, against closed forms and the textbook


def ellipse(aspect_ratio, bays=12):
    """Draw an elliptic wing with a straight quarter-chord line, all of it moving."""
    turn = np.linspace(0.0, 0.5 * math.pi, bays + 1)
    chord = 8.0 / (math.pi * aspect_ratio) * np.maximum(np.cos(turn), 1e-4)
    nothing, lead = np.zeros(bays + 1), -0.25 * chord
    axis = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    return Planform(
        np.sin(turn), nothing, lead, lead + chord, lead + 0.5 * chord,
        np.full(bays, whole), axis, paired=True,
    )  # fmt: skip


@pytest.mark.parametrize("aspect_ratio", [1, 2, 3, 4, 6, 8, 10])
def test_lift_slope_of_an_ellipse_is_near_helmbold_and_below_the_lifting_line(aspect_ratio):
    # Helmbold's form is an approximation that is known to be a few percent high in the middle
    slope = respond(cut(ellipse(aspect_ratio), Counts(3, 3, 24)), paired=True).lift_of_incidence
    helmbold = published("C_L_alpha Helmbold", AR=aspect_ratio)
    assert 0.955 * helmbold < slope < helmbold
    assert slope < published("C_L_alpha lifting line elliptic", AR=aspect_ratio)


def test_lift_slope_of_a_square_wing():
    # 1.4602: E. O. Tuck, Some accurate solutions of the lifting surface integral equation, J.
    # Austral. Math. Soc. B 35, 1993 (from memory)
    made = converged(rectangle(1.0)).slopes.lift_of_incidence
    assert made == pytest.approx(1.4602, rel=0, abs=0.0005)


@pytest.mark.parametrize(("aspect_ratio", "degrees"), [(5, 45), (6, 30), (4, 30)])
def test_lift_slope_of_a_swept_wing_is_near_the_handbook_form(aspect_ratio, degrees):
    # Untapered: the half-chord line is swept as the quarter-chord line. The form is for the
    # elliptic loading; a wing without taper lies some percent below.
    wing = rectangle(aspect_ratio, sweep=math.radians(degrees))
    made = converged(wing).slopes.lift_of_incidence
    expected = published(
        "C_L_alpha DATCOM/Polhamus form",
        AR=aspect_ratio,
        **{"half-chord sweep": f"{degrees} deg"},
    )
    assert 0.93 * expected < made < expected


def even(count, rows):
    """Lay equal panels by hand on the textbook's wing: AR 5, 45 degrees, chord 1."""
    edges = np.linspace(0.0, 2.5, count + 1)
    middle = 0.5 * (edges[:-1] + edges[1:])
    row = np.arange(rows)[:, None]

    def points(share, place):
        x = (row + share) / rows + place
        return np.stack(np.broadcast_arrays(x, place, 0.0), axis=-1).reshape(-1, 3)

    panels = cut(rectangle(5.0), Counts(1, 1, 2))._replace(
        inboard=points(0.25, edges[:-1]),
        outboard=points(0.25, edges[1:]),
        control=points(0.75, middle),
        normal=np.tile([0.0, 0.0, 1.0], (rows * count, 1)),
        deflected=np.zeros(rows * count),
    )
    made = circulations(panels, paired=True)["incidence"]
    return made, 2.0 * made.sum() / count


def test_the_textbook_wing_with_even_panels_ends_where_lans_places_are():
    # even panels converge with the first power of their number
    one, two = even(24, 3)[1], even(48, 3)[1]
    made = converged(rectangle(5.0, sweep=math.radians(45.0))).slopes.lift_of_incidence
    assert made == pytest.approx(2.0 * two - one, rel=5e-3)


def test_one_row_of_four_panels_is_the_textbooks_to_its_digits():
    # the textbook's own panels through the same downwash
    made, slope = even(4, 1)
    assert slope == pytest.approx(
        published("C_L_alpha one chordwise row, 4 panels per semispan", AR=5), rel=2e-3
    )
    rows = [row for row in SURFACES if row["quantity"].startswith("panel circulation")]
    assert len(rows) == 4
    for value, row in zip(made / (4.0 * math.pi * 5.0), rows, strict=True):
        assert value == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]))


# --- hinge moments


@pytest.mark.parametrize("chord_ratio", [0.2, 0.3, 0.4, 0.5])
def test_as_the_span_grows_the_slopes_become_those_of_the_section(chord_ratio):
    b1, b2, a2 = (glauert(name, chord_ratio) for name in ("b1", "b2", "flap effectiveness tau"))
    lift = 2.0 * math.pi
    errors = []
    for aspect_ratio in (10.0, 40.0, 160.0):
        found = respond(cut(rectangle(aspect_ratio, chord_ratio), Counts(9, 6, 24)), paired=True)
        errors.append(
            [
                found.incidence / b1 - 1.0,
                found.alike / b2 - 1.0,
                found.lift_of_incidence / lift - 1.0,
                found.lift_of_alike / (lift * a2) - 1.0,
            ]
        )
    errors = np.abs(errors)
    # at least in proportion to 1 / AR, but for what the panels leave
    assert (errors[1:] < 0.35 * errors[:-1] + 0.006).all()
    assert (errors[-1] < 0.03).all()


def test_a_finite_span_relieves_more_than_lifting_line_theory_says():
    # Roskam VI 10.4.2: the lifting-surface increment lowers both magnitudes further
    section, line = glauert("b2", 0.3), published_handbook("C_h_delta", 4)
    found = converged(rectangle(4.0)).slopes
    assert abs(found.alike) < abs(line) < abs(section)
    assert abs(found.incidence) < abs(published_handbook("C_h_alpha", 4)) < abs(glauert("b1", 0.3))


def published_handbook(symbol, aspect_ratio):
    with (FOLDER / "hinge_handbook.csv").open(encoding="utf-8", newline="") as file:
        (value,) = (
            float(row["expected"])
            for row in csv.DictReader(file)
            if row["quantity"].startswith(f"finite-span {symbol}")
            and row["inputs"].startswith(f"AR={aspect_ratio};")
        )
    return value


def test_with_nothing_aft_of_the_hinge_there_is_no_hinge_moment():
    panels = cut(rectangle(5.0), Counts(6, 4, 8))
    found = circulations(panels, paired=True)
    moves = panels.deflected == 1.0  # not the control points on the hinge line itself
    assert moves.sum() == 4 * 8
    for name in ("incidence", "roll", "pitch", "alike", "opposite"):
        assert abs(panels.moment @ found[name]) > 0.01
        assert np.where(moves, 0.0, panels.moment) @ found[name] == 0.0


def test_moment_is_force_times_arm_and_nothing_of_a_section():
    # a unit circulation on each vortex in turn: on a level unswept surface the moment is minus
    # the span of the vortex times its distance aft of the hinge line at x = 0.7
    panels = cut(rectangle(5.0), Counts(6, 4, 8))
    span = panels.outboard[:, 1] - panels.inboard[:, 1]
    arm = 0.5 * (panels.inboard[:, 0] + panels.outboard[:, 0]) - 0.7
    np.testing.assert_allclose(panels.moment, -span * np.maximum(arm, 0.0), atol=1e-14)
    np.testing.assert_allclose(panels.lift, span, atol=1e-14)


def test_a_swept_hinge_line_takes_the_moment_about_itself():
    # M = h . (r x F), written out for a level surface: h = (sin, cos, 0), F upwards
    sweep = 0.5
    panels = cut(rectangle(5.0, sweep=sweep), Counts(3, 3, 4))
    middle = 0.5 * (panels.inboard + panels.outboard)
    square_to_hinge = (middle[:, 0] - 0.7) * math.cos(sweep) - middle[:, 1] * math.sin(sweep)
    expected = -panels.lift * np.maximum(square_to_hinge, 0.0)
    np.testing.assert_allclose(panels.moment, expected, atol=1e-13)
    assert panels.deflected.max() == pytest.approx(math.cos(sweep))


# --- mirror and superposition


@FEW
@given(
    sweep=st.floats(-0.5, 0.5),
    dihedral=st.floats(-0.6, 0.6),
    taper=st.floats(0.4, 1.0),
    inboard=st.floats(0.0, 0.6),
)
def test_a_pair_is_the_whole_surface_solved_at_once(sweep, dihedral, taper, inboard):
    # the second way: both sides in one matrix, starboard and port, without symmetry
    surface = trapezoid(
        half_span=1.5, root_chord=1.0, tip_chord=taper, chord_ratio=0.3,
        sweep=sweep, dihedral=dihedral, inboard=inboard, outboard=1.4,
    )  # fmt: skip
    panels = cut(surface, Counts(3, 2, 4))
    mirror = np.array([1.0, -1.0, 1.0])
    both = panels._replace(
        inboard=np.concatenate([panels.inboard, mirror * panels.outboard]),
        outboard=np.concatenate([panels.outboard, mirror * panels.inboard]),
        control=np.concatenate([panels.control, mirror * panels.control]),
        normal=np.concatenate([panels.normal, mirror * panels.normal]),
    )
    matrix, count = downwash(both, mirrored=False), len(panels.control)
    x, y, z = both.control.T
    _, ny, nz = both.normal.T
    motions = {
        "incidence": nz,
        "sideslip": -ny,
        "roll": y * nz - z * ny,
        "pitch": x * nz,
        "alike": np.concatenate([panels.deflected, panels.deflected]),
        "opposite": np.concatenate([panels.deflected, -panels.deflected]),
    }
    found = circulations(panels, paired=True)
    for name, motion in motions.items():
        at_once = np.linalg.solve(matrix, -motion)
        np.testing.assert_allclose(found[name], at_once[:count], rtol=1e-9, atol=1e-11)
        sign = 1.0 if name in {"incidence", "pitch", "alike"} else -1.0
        other = at_once[count:]
        np.testing.assert_allclose(other, sign * at_once[:count], rtol=1e-9, atol=1e-11)


def test_one_side_alone_is_half_of_alike_and_half_of_opposite():
    surface = rectangle(5.0, inboard=0.5)
    panels = cut(surface, Counts(4, 3, 6))
    mirror = np.array([1.0, -1.0, 1.0])
    both = panels._replace(
        inboard=np.concatenate([panels.inboard, mirror * panels.outboard]),
        outboard=np.concatenate([panels.outboard, mirror * panels.inboard]),
        control=np.concatenate([panels.control, mirror * panels.control]),
        normal=np.concatenate([panels.normal, panels.normal]),
    )
    motion = np.concatenate([panels.deflected, 0.0 * panels.deflected])
    at_once = np.linalg.solve(downwash(both, mirrored=False), -motion)
    found = circulations(panels, paired=True)
    own = 0.5 * (found["alike"] + found["opposite"])
    np.testing.assert_allclose(at_once[: len(own)], own, rtol=1e-9, atol=1e-12)


def test_a_pair_far_from_its_mirror_image_is_two_single_surfaces():
    # a panel that stands 50 spans off the plane of symmetry
    far = 100.0
    apart = Planform(
        np.array([far, far + 2.0]), np.zeros(2), np.zeros(2), np.ones(2), np.full(2, 0.7),
        np.array([turned]), np.array([[0.7, far, 0.0], [0.7, far + 2.0, 0.0]]), paired=True,
    )  # fmt: skip
    single = rectangle(4.0, paired=False)
    one, other = answer(apart), answer(single)
    for name in ("incidence", "alike", "opposite", "lift_of_incidence"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-3)


@FEW
@given(scale=st.floats(0.01, 100.0))
def test_coefficients_do_not_depend_on_size(scale):
    sizes = {"half_span": 1.0, "root_chord": 0.5, "tip_chord": 0.3, "inboard": 0.2}
    rest = {"chord_ratio": 0.3, "sweep": 0.2}
    one = answer(trapezoid(**sizes, **rest), 3)
    other = answer(trapezoid(**{name: scale * size for name, size in sizes.items()}, **rest), 3)
    for name in ("incidence", "alike", "opposite"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9)
    assert other.roll == pytest.approx(scale * one.roll, rel=1e-9)


# --- signs, at every door


def test_signs():
    vee = trapezoid(
        half_span=1.5, root_chord=1.0, tip_chord=0.7, chord_ratio=0.35, dihedral=math.radians(35)
    )
    found = converged(vee).slopes
    # positive incidence and deflection push the trailing edge back up; so does wind from
    # starboard on the starboard panel, and rolling starboard down; lift is upwards
    for name in ("incidence", "sideslip", "roll", "pitch", "alike", "opposite"):
        assert getattr(found, name) < 0.0
    assert found.lift_of_incidence > found.lift_of_alike > found.lift_of_opposite > 0.0
    # the panels of a vee help each other when they move alike
    assert abs(found.alike) > abs(found.opposite)


def test_a_vee_lifts_with_the_square_of_the_cosine_of_its_dihedral():
    # simplified vee-tail theory, NACA Report 823: C_L_alpha / isolated = cos^2, deflection cos;
    # it knows nothing of what the panels do to each other, hence the tolerance
    flat, vee = (
        converged(rectangle(5.0, dihedral=math.radians(angle))).slopes for angle in (0, 35)
    )
    by_incidence = published("vee tail C_L_alpha / isolated", dihedral="35 deg")
    ratio = vee.lift_of_incidence / flat.lift_of_incidence
    assert ratio == pytest.approx(by_incidence, rel=0.07)
    by_deflection = published(
        "vee tail lift per symmetric deflection / flat tail", dihedral="35 deg"
    )
    assert vee.lift_of_alike / flat.lift_of_alike == pytest.approx(by_deflection, rel=0.07)


def test_a_horn_balance_relieves():
    plain = converged(rectangle(4.0, 0.4)).slopes
    horn = converged(rectangle(4.0, 0.4, horn=0.15)).slopes
    standing_out = converged(rectangle(4.0, 0.4, horn=0.15, horn_lead=0.1)).slopes
    assert plain.alike < horn.alike < standing_out.alike
    assert plain.incidence < horn.incidence < standing_out.incidence


def test_an_all_moving_surface_hinged_at_its_aerodynamic_centre_has_no_moment():
    # thin aerofoil: at a quarter of the chord; a long rectangle comes close to it
    for position in (0.0, 0.25, 0.5):
        found = converged(rectangle(40.0, 1.0, hinge_position=position)).slopes
        lift = found.lift_of_incidence
        expected = lift * (position - 0.25) / (1.0 - position) ** 2
        assert found.incidence == pytest.approx(expected, abs=0.02 * lift)
        assert found.alike == pytest.approx(found.incidence, rel=1e-9)


# --- convergence


@pytest.mark.parametrize(("name", "order"), [("incidence", 2.5), ("alike", 1.7)])
def test_slopes_converge_with_the_panels_along_the_chord(name, order):
    # 2.5 and 1.7: what Lan's places give for the square-root and the logarithmic singularity,
    # measured here against a fine lattice, so "still the same" and no more
    surface = rectangle(6.0)
    values = {
        aft: getattr(respond(cut(surface, Counts(round(1.5 * aft), aft, 8)), paired=True), name)
        for aft in (4, 8, 24)
    }
    coarse, fine = (abs(values[aft] - values[24]) for aft in (4, 8))
    assert math.log2(coarse / fine) > order


@pytest.mark.parametrize(
    "surface",
    [
        rectangle(6.0),
        trapezoid(half_span=1.0, root_chord=1.2, tip_chord=0.6, chord_ratio=0.4, sweep=0.4),
        trapezoid(half_span=5.0, root_chord=1.0, tip_chord=0.6, chord_ratio=0.2, inboard=2.5),
        trapezoid(half_span=1.5, root_chord=1.2, tip_chord=0.6, chord_ratio=0.4, dihedral=0.6),
        rectangle(2.0, 0.5, sweep=0.3, paired=False),
        rectangle(4.0, 0.4, horn=0.15, horn_lead=0.1),
    ],
)
def test_remaining_error_holds_what_a_finer_lattice_finds(surface):
    found = converged(surface)
    finer = answer(surface, 10)
    for name in ("incidence", "alike", "opposite", "lift_of_incidence", "lift_of_alike"):
        off = abs(getattr(found.slopes, name) - getattr(finer, name))
        assert off <= getattr(found.remaining, name) + 1e-12
        assert getattr(found.remaining, name) < 0.06


# --- stations of any shape


def rounded(aspect_ratio, chord_ratio=0.3, count=12):
    """Draw an ellipse of half span 1 by stations, with a straight hinge line square to the stream."""
    turn = np.linspace(0.0, 0.5 * math.pi, count)
    chord = 8.0 / (math.pi * aspect_ratio) * np.cos(turn)
    chord[-1] = 0.0
    ahead = (1.0 - chord_ratio) * chord
    return Stations(np.sin(turn), np.zeros(count), -ahead, chord, ahead)


@pytest.mark.parametrize("aspect_ratio", [2, 3, 4, 6, 8, 10])
def test_lift_slope_of_an_ellipse_by_stations_is_near_helmbold_too(aspect_ratio):
    # as above: the form is a few percent high in the middle
    slope = converged(stationed(rounded(aspect_ratio), chord_ratio=0.3)).slopes.lift_of_incidence
    helmbold = published("C_L_alpha Helmbold", AR=aspect_ratio)
    assert 0.955 * helmbold < slope < helmbold


@pytest.mark.parametrize("chord_ratio", [0.2, 0.3, 0.4])
@pytest.mark.parametrize(("aspect_ratio", "within"), [(12, 0.05), (24, 0.015), (48, 0.003)])
def test_hinge_slopes_of_a_slender_ellipse_are_those_of_lifting_line_theory(
    chord_ratio, aspect_ratio, within
):
    # The induced angle of an ellipse is alike along the span: alpha - alpha_i = AR/(AR + 2) alpha
    # and alpha_i = 2 tau delta / (AR + 2) (Prandtl). The moment grows with the chord squared,
    # whose mean over that of the chord, squared, is 32 / (3 pi^2) for an ellipse.
    b1, b2, tau = (
        glauert(name, chord_ratio)
        for name in ("b1", "b2", "tau")
    )  # fmt: skip
    found = converged(stationed(rounded(aspect_ratio, chord_ratio), chord_ratio=chord_ratio)).slopes
    shape, relief = 32.0 / (3.0 * math.pi**2), 1.0 / (aspect_ratio + 2.0)
    assert found.incidence == pytest.approx(shape * b1 * aspect_ratio * relief, rel=within)
    assert found.alike == pytest.approx(shape * (b2 - 2.0 * tau * relief * b1), rel=within)


def test_panels_part_at_the_hinge_where_there_is_one_and_elsewhere_by_the_chord_ratio():
    # hinge 0.62 of 1.0 aft where the surface turns; 1 - 0.3 = 0.7 at the root and at the tip
    square = Stations(*np.array([[y, 0.0, 0.0, 1.0, 0.62] for y in (0.0, 1.0, 1.5, 2.0)]).T)
    drawn = stationed(square, chord_ratio=0.3, inboard=0.5, outboard=1.2)
    assert drawn.y.tolist() == [0.0, 0.5, 1.0, 1.2, 1.5, 2.0]
    assert drawn.split == pytest.approx([0.7, 0.62, 0.62, 0.62, 0.7, 0.7], rel=1e-12)
    assert drawn.hinge == pytest.approx(np.array([[0.62, 0.5, 0.0], [0.62, 1.2, 0.0]]), rel=1e-12)
    assert drawn.moving.tolist() == [0, turned, turned, 0, 0]


def test_with_nothing_aft_of_the_hinge_stations_have_no_hinge_moment():
    # the flap is taken out, or nothing but a hair ahead of a straight trailing edge is left of it
    round_one = rounded(6.0)
    panels = cut(stationed(round_one, chord_ratio=0.3), Counts(6, 4, 12))
    moves = panels.deflected == 1.0
    found = circulations(panels, paired=True)
    for name in ("incidence", "roll", "pitch", "alike", "opposite"):
        assert np.where(moves, 0.0, panels.moment) @ found[name] == 0.0
        assert abs(panels.moment @ found[name]) > 1e-3 * panels.moving_area**2
    chord = round_one.chord
    hair = round_one._replace(leading=-chord, hinge=(1.0 - 1e-5) * chord)
    panels = cut(stationed(hair, chord_ratio=1e-5), Counts(6, 4, 12))
    alone = panels.moment @ circulations(panels, paired=True)["incidence"]
    panels = cut(stationed(round_one, chord_ratio=0.3), Counts(6, 4, 12))
    usual = panels.moment @ circulations(panels, paired=True)["incidence"]
    assert abs(alone) < 1e-9 * abs(usual)


@FEW
@given(
    taper=st.floats(0.3, 1.0), sweep=st.floats(-0.4, 0.4), chord_ratio=st.floats(0.15, 0.5),
    inboard=st.floats(0.0, 0.6), slope=st.floats(-0.3, 0.3),
)  # fmt: skip
def test_heights_that_rise_evenly_are_dihedral(taper, sweep, chord_ratio, inboard, slope):
    rest = {"chord_ratio": chord_ratio, "inboard": inboard}
    plain = trapezoid(
        half_span=1.5, root_chord=1.0, tip_chord=taper, sweep=sweep, dihedral=slope, **rest
    )
    chord = np.array([1.0, taper])
    back = np.array([0.0, 0.25 * (1.0 - taper) + 1.5 * math.tan(sweep)])
    tip = np.array([0.0, 1.5])
    drawn = Stations(
        tip * math.cos(slope), tip * math.sin(slope), back, chord, (1.0 - chord_ratio) * chord
    )
    one, other = answer(plain, 3), answer(stationed(drawn, **rest), 3)
    assert other == pytest.approx(one, rel=1e-9, abs=1e-12)


def test_a_surface_that_is_cranked_outside_its_control_surface_turns_about_its_own_line():
    # a level centre with tips turned up by 60 degrees: a flap on the level part has its area and
    # span whatever the tips do, and carries as much as two thirds of the chord there say
    flat = Stations(*np.array([[0.0, 0, 0, 1, 0.7], [1.0, 0, 0, 1, 0.7], [1.6, 0, 0, 1, 0.7]]).T)
    tips = flat._replace(y=np.array([0.0, 1.0, 1.3]), z=np.array([0.0, 0.0, 0.3 * math.sqrt(3.0)]))
    for surface in (flat, tips):
        panels = cut(stationed(surface, chord_ratio=0.3, outboard=1.0), Counts(4, 3, 12))
        assert panels.moving_area == pytest.approx(0.3, rel=1e-12)
        assert panels.moving_span == pytest.approx(1.0, rel=1e-12)
        assert panels.area == pytest.approx(1.6, rel=1e-12)


def test_a_control_surface_on_a_raised_tip_has_the_chord_aft_of_its_own_hinge():
    # tips turned up by 45 degrees and swept from 1.0 m on, the flap on them alone: 0.3 by 0.3 sqrt(2)
    raised = Stations(
        *np.array([[0.0, 0, 0, 1, 0.7], [1.0, 0, 0, 1, 0.7], [1.3, 0.3, 0.2, 1, 0.7]]).T
    )
    panels = cut(stationed(raised, chord_ratio=0.3, inboard=1.0), Counts(4, 3, 12))
    assert panels.moving_area == pytest.approx(0.3 * 0.3 * math.sqrt(2.0), rel=1e-12)


# --- what is refused


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"half_span": -1.0}, "not more than zero"),
        ({"tip_chord": -0.2}, "not more than zero"),
        ({"chord_ratio": 1.2}, "more than 0"),
        ({"chord_ratio": 1.0}, "hinged"),
        ({"inboard": 2.0}, "lies on its surface"),
        ({"outboard": 9.0}, "lies on its surface"),
    ],
)
def test_a_surface_that_cannot_be_is_refused(changes, words):
    with pytest.raises(InputError, match=words):
        rectangle(3.0, **changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"trailing": np.array([1.0, -0.5])}, "edges that cross"),
        ({"split": np.array([0.7, 1.2])}, "off the surface"),
        ({"moving": np.array([0])}, "nothing that moves"),
        ({"hinge": np.array([[0.7, 0.0, 0.0], [0.6, 2.0, 0.0]])}, "not straight"),
        ({"hinge": np.array([[0.7, 0.0, 0.0], [0.7, 0.0, 0.0]])}, "not straight"),
    ],
)
def test_stations_that_cannot_be_are_refused(changes, words):
    surface = rectangle(4.0)._replace(**changes)
    with pytest.raises(InputError, match=words):
        cut(surface, Counts(2, 2, 4))
