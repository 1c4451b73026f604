"""The solver of the lattice: what it does with the slopes of the surface."""

import math

import numpy as np
import pytest

from linkcalc.solver_fields import STATION, STATION_FIELDS
from linkcalc_hinge_moment import lattice
from linkcalc_hinge_moment.lattice import Lattice, converged
from linkcalc_hinge_moment.panels import trapezoid
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil

TAIL = {
    "half_span": 0.4,
    "root_chord": 0.2,
    "tip_chord": 0.2,
    "sweep": 0.0,
    "dihedral": 0.0,
    "inboard_end": 0.0,
    "outboard_end": 0.4,
    "horn_span": 0.0,
    "horn_lead": 0.0,
    "paired": 1.0,
    "partner": 1.0,
}


def solve(solver=None, **changes):
    """Solve for a unit load, so that moments are coefficients."""
    fields = dict.fromkeys(Lattice().fields, 0.0) | TAIL
    fields |= {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
    fields |= {"chord_ratio": 0.3, "density": 1.0, "viscosity": 1e-9, "aspect_ratio": 4.0}
    fields |= changes
    solver = solver or Lattice()
    return solver({name: np.asarray(fields[name]) for name in solver.fields})


def slopes(**changes):
    sizes = {"half_span": 0.4, "root_chord": 0.2, "tip_chord": 0.2, "chord_ratio": 0.3}
    return converged(trapezoid(**(sizes | changes))).slopes


def test_best_line_is_the_lattice_with_the_shares_of_viscosity():
    # a slab takes 1.1 of the incidence's part and of what the span relieves, 1.0 of the
    # section's slope with deflection: -0.965403 at chord ratio 0.3 (Glauert, R&M 1095)
    made, whole = solve(square_edged_slab=1.0), slopes()
    assert made["C_h_alpha"] == pytest.approx(1.1 * whole.incidence, rel=1e-12)
    relief = whole.alike + 0.965403
    assert relief > 0.0
    assert made["C_h_delta"] == pytest.approx(-0.965403 + 1.1 * relief, rel=1e-5)


def test_the_lattice_of_a_long_surface_is_the_thin_aerofoil():
    long = {"half_span": 8.0, "outboard_end": 8.0, "aspect_ratio": 80.0}
    angles = {"incidence": 0.05, "largest_incidence": 0.05, "deflection": 0.2, "c_l0": 0.3}
    one, other = solve(**long, **angles), solve(ThinAerofoil(), **long, **angles)
    assert one["best"] == pytest.approx(other["best"], rel=0.03)
    assert one["high"] == other["high"]
    assert one["low"] == other["low"]


def test_the_partner_on_the_other_side_counts():
    alike, still, opposite = (float(solve(partner=p)["C_h_delta"]) for p in (1.0, 0.0, -1.0))
    assert alike < still < opposite < 0.0
    assert still == pytest.approx(0.5 * (alike + opposite), rel=1e-12)


def test_taper_is_counted_once():
    # the lattice has the taper in it already, the band adds it to the section's slopes
    tapered = {"tip_chord": 0.1}
    made = solve(**tapered, taper=0.5, square_edged_slab=1.0)
    assert made["C_h_alpha"] == pytest.approx(1.1 * slopes(**tapered).incidence, rel=1e-12)


def test_a_panel_of_a_vee_counts_incidence_square_to_itself():
    dihedral = math.radians(35.0)
    made = solve(dihedral=dihedral, square_edged_slab=1.0)
    expected = 1.1 * slopes(dihedral=dihedral).incidence / math.cos(dihedral)
    assert made["C_h_alpha"] == pytest.approx(expected, rel=1e-12)


def test_overhang_is_the_sections():
    plain, balanced = solve(square_edged_slab=1.0), solve(square_edged_slab=1.0, overhang=0.4)
    thin = [
        solve(ThinAerofoil(), overhang=o, square_edged_slab=1.0, aspect_ratio=1e9)
        for o in (0.0, 0.4)
    ]
    for name in ("C_h_alpha", "C_h_delta"):
        gained = balanced[name] - plain[name]
        assert gained == pytest.approx(float(thin[1][name] - thin[0][name]), rel=1e-6)


def test_remaining_error_is_told():
    made = solve()
    assert 0.0 < made["remaining_alpha"] < 0.02
    assert 0.0 < made["remaining_delta"] < 0.03


def test_a_surface_is_solved_once_for_all_cases_and_deflections(monkeypatch):
    asked = []
    monkeypatch.setattr(
        lattice, "_of_planform", lambda **row: asked.append(row) or slopes_and_rest()
    )
    two = {"half_span": np.array([[0.4], [0.5]]), "outboard_end": np.array([[0.4], [0.5]])}
    made = solve(**two, deflection=np.linspace(-0.4, 0.4, 61), incidence=np.zeros((21, 1, 1)))
    assert made["best"].shape == (21, 2, 61)
    assert len(asked) == 2


def slopes_and_rest():
    return converged(trapezoid(half_span=1.0, root_chord=1.0, tip_chord=1.0, chord_ratio=0.3))


def test_a_planform_that_is_not_known_gives_no_number():
    made = solve(half_span=np.array([0.4, math.nan]))
    for line in ("low", "best", "high"):
        assert np.isnan(made[line]).tolist() == [False, True]


# --- stations


def by_stations(*rows):
    """Return the fields of stations: y, z, leading edge, chord, hinge aft of it."""
    fields = dict.fromkeys(STATION_FIELDS, 0.0) | {"stations": float(len(rows))}
    for number, row in enumerate(rows, start=1):
        fields |= {
            f"station_{number}_{name}": value for name, value in zip(STATION, row, strict=True)
        }
    return fields


def solve_stations(*rows, **changes):
    optional = by_stations(*rows)
    solver = Lattice()
    fields = dict.fromkeys(solver.fields, 0.0) | TAIL
    fields |= {"dynamic_pressure": 1.0, "area": 1.0, "chord": 1.0, "taper": 1.0}
    fields |= {"chord_ratio": 0.3, "density": 1.0, "viscosity": 1e-9, "aspect_ratio": 4.0}
    fields |= optional | changes
    return solver({name: np.asarray(value) for name, value in fields.items()})


SWEPT = {"tip_chord": 0.12, "sweep": 0.25, "inboard_end": 0.1, "outboard_end": 0.36}
BACK = 0.25 * (0.2 - 0.12) + 0.4 * math.tan(0.25)


@pytest.mark.parametrize("dihedral", [0.0, math.radians(35.0)])
@pytest.mark.parametrize("horn", [{}, {"horn_span": 0.05, "horn_lead": 0.02}], ids=["", "horn"])
@pytest.mark.parametrize("partner", [1.0, 0.0, -1.0])
def test_a_trapezoid_by_stations_has_the_coefficients_of_the_trapezoid(dihedral, horn, partner):
    more = {"dihedral": dihedral, "partner": partner, **horn}
    plain = solve(**SWEPT, **more)
    root, tip = (0.0, 0.0, 0.0, 0.2, 0.14), (0.4, 0.0, BACK, 0.12, 0.084)
    made = solve_stations(root, tip, **SWEPT, **more)
    for name in ("C_h_alpha", "C_h_delta", "C_h0", "remaining_alpha", "remaining_delta"):
        assert made[name] == pytest.approx(float(plain[name]), rel=1e-12, abs=1e-14)


def test_a_station_that_adds_nothing_changes_no_more_than_what_is_left_of_the_error():
    plain = solve(**SWEPT)
    rows = [
        (0.4 * s, 0.0, BACK * s, 0.2 - 0.08 * s, 0.7 * (0.2 - 0.08 * s)) for s in (0.0, 0.3, 0.7, 1)
    ]
    made = solve_stations(*rows, **SWEPT)
    for slope, left in (("C_h_alpha", "remaining_alpha"), ("C_h_delta", "remaining_delta")):
        assert abs(made[slope] - plain[slope]) < plain[left]


def test_surfaces_by_stations_and_trapezoids_stand_beside_each_other():
    rows = [(0.0, 0.0, 0.0, 0.2, 0.14), (0.4, 0.0, BACK, 0.12, 0.084)]
    count = {"stations": np.array([0.0, 2.0])}
    made = solve_stations(*rows, **(SWEPT | count | {"tip_chord": np.array([0.2, 0.12])}))
    assert made["C_h_delta"][0] == solve(**(SWEPT | {"tip_chord": 0.2}))["C_h_delta"]
    assert made["C_h_delta"][1] == pytest.approx(float(solve(**SWEPT)["C_h_delta"]), rel=1e-12)


def test_stations_of_which_one_is_not_known_give_no_number():
    rows = [(0.0, 0.0, 0.0, 0.2, 0.14), (0.4, 0.0, 0.0, math.nan, 0.14)]
    assert np.isnan(solve_stations(*rows)["best"])
