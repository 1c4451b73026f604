"""What every hinge-moment solver promises, stated as physics."""

import math
from importlib.metadata import entry_points

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcalc_hinge_moment.all_moving import AllMoving
from linkcalc_hinge_moment.given import Given
from linkcalc_hinge_moment.handbook import Handbook
from linkcalc_hinge_moment.lattice import PLANFORM, Lattice
from linkcalc_hinge_moment.plate import Plate
from linkcalc_hinge_moment.thin_aerofoil import ThinAerofoil

SOLVERS = [AllMoving(), Given(), Handbook(), Lattice(), Plate(), ThinAerofoil()]
EVERY_SOLVER = pytest.mark.parametrize("solver", SOLVERS, ids=[solver.name for solver in SOLVERS])
LINES = ("low", "best", "high")
OUTPUTS = {*LINES, "other_high", "C_h0", "C_h_alpha", "C_h_delta", "k_s"}
SIGNED = ("C_h0", "c_l0", "incidence", "deflection")

RANGES = {
    "dynamic_pressure": (1.0, 6000.0),
    "incidence": (-0.2, 0.2),
    "largest_incidence": (0.0, 0.2),
    "deflection": (-0.5, 0.5),
    "area": (1e-4, 1.0),
    "chord": (1e-3, 1.0),
    "taper": (0.0, 1.0),
    "chord_ratio": (0.05, 0.7),
    "square_edged_slab": (0.0, 1.0),
    "aspect_ratio": (1.0, 20.0),
    "span_credit": (0.0, 1.0),
    "incidence_credit": (0.0, 1.0),
    "overhang": (0.0, 0.4),
    "hinge_position": (0.0, 0.5),
    "C_h0": (-0.1, 0.1),
    "c_l0": (-0.5, 0.5),
    "thickness_ratio": (0.0, 0.15),
    "lift_slope_ratio": (0.7, 1.0),
    "open_gap": (0.0, 1.0),
    "density": (0.5, 1.5),
    "viscosity": (1e-6, 1e-4),
    "C_h_alpha": (-1.0, 1.0),
    "C_h_delta": (-1.5, 1.5),
    "band_low": (0.0, 1.0),
    "band_high": (1.0, 3.0),
}
# a few planforms, so that every example has not a lattice of its own
PLANFORMS = (
    (1.0, 0.3, 0.2, 0.1, 0.0, 0.2, 0.9, 0.0, 0.0, 1.0, -1.0),
    (0.4, 0.2, 0.2, 0.0, 0.6, 0.0, 0.4, 0.0, 0.0, 1.0, 1.0),
    (0.3, 0.2, 0.1, 0.3, 0.0, 0.0, 0.3, 0.05, 0.02, 0.0, 1.0),
)
FULL = {name: ends[1] for name, ends in RANGES.items()} | dict(
    zip(PLANFORM, PLANFORMS[0], strict=True)
)
UNITS = {
    "dynamic_pressure": "Pa",
    "incidence": "rad",
    "largest_incidence": "rad",
    "deflection": "rad",
    "area": "m^2",
    "chord": "m",
    "density": "kg/m^3",
    "viscosity": "Pa*s",
    "C_h_alpha": "1/rad",
    "C_h_delta": "1/rad",
    **PLANFORM,
}


@st.composite
def flows(draw):
    """Draw a value for every field that any solver declares."""
    values = {name: draw(st.floats(*ends)) for name, ends in RANGES.items()}
    values["square_edged_slab"] = round(values["square_edged_slab"])
    values |= dict(zip(PLANFORM, draw(st.sampled_from(PLANFORMS)), strict=True))
    values["chord_ratio"] = round(values["chord_ratio"], 1) or 0.05
    return {name: np.array(value, dtype=np.float64) for name, value in values.items()}


def fields_of(solver, flow):
    return {name: flow[name] for name in solver.fields}


def opposing(moment, deflection, line):
    return float(-moment[line] if deflection >= 0.0 else moment[line])


@EVERY_SOLVER
def test_solver_describes_itself(solver):
    assert "\n" not in solver.description
    assert solver.sources
    assert all(isinstance(source, str) and source for source in solver.sources)
    assert {name: UNITS.get(name, "1") for name in solver.fields} == dict(solver.fields)
    assert set(solver.fields) <= {*RANGES, *PLANFORM}
    assert set(solver.validity) <= set(solver.fields)
    assert all(least < greatest for least, greatest in solver.validity.values())


@EVERY_SOLVER
def test_solver_is_found_through_its_entry_point(solver):
    (point,) = entry_points(group="linkcalc.hinge_moment", name=solver.name)
    assert point.load() is type(solver)


@EVERY_SOLVER
@given(flow=flows())
def test_low_best_and_high_are_in_order_against_the_deflection(solver, flow):
    moment = solver(fields_of(solver, flow))
    low, best, high = (opposing(moment, flow["deflection"], line) for line in LINES)
    assert low <= best <= high


@EVERY_SOLVER
@given(flow=flows())
def test_a_mirror_image_turns_every_moment_round(solver, flow):
    mirrored = {name: -value if name in SIGNED else value for name, value in flow.items()}
    moment = solver(fields_of(solver, flow))
    image = solver(fields_of(solver, mirrored))
    # neutral has no mirror image: low and high take it for a positive deflection
    for line in LINES if flow["deflection"] != 0.0 else ("best",):
        assert image[line] == -moment[line]
    for name in ("C_h_alpha", "C_h_delta", "k_s"):
        assert image[name] == moment[name]


@EVERY_SOLVER
@given(
    flow=flows(),
    scale=st.floats(0.01, 100.0),
    name=st.sampled_from(["dynamic_pressure", "area", "chord"]),
)
def test_moments_are_proportional_to_pressure_area_and_chord(solver, flow, scale, name):
    # at one Reynolds number, and below 30 degrees, where the flap's own shape counts
    power = {"dynamic_pressure": 0.5, "area": 0.0, "chord": 1.0}[name]
    moment = solver(fields_of(solver, flow))
    changed = {name: flow[name] * scale, "viscosity": flow["viscosity"] * scale**power}
    scaled = solver(fields_of(solver, flow | changed))
    for line in LINES:
        assert scaled[line] == pytest.approx(scale * moment[line], rel=1e-9, abs=1e-300)


@EVERY_SOLVER
@given(flow=flows())
def test_best_line_is_the_reported_coefficients_at_small_angles(solver, flow):
    small = flow | {name: flow[name] * 1e-6 for name in ("incidence", "deflection")}
    moment = solver(fields_of(solver, small))
    load = small["dynamic_pressure"] * small["area"] * small["chord"]
    angles = small["incidence"], small["deflection"]
    slopes = moment["C_h_alpha"], moment["C_h_delta"]
    expected = load * (moment["C_h0"] + sum(a * b for a, b in zip(angles, slopes, strict=True)))
    assert moment["best"] == pytest.approx(float(expected), rel=1e-5, abs=float(load) * 1e-12)


@EVERY_SOLVER
@given(data=st.lists(flows(), min_size=2, max_size=4))
def test_a_scalar_answer_equals_its_array_element(solver, data):
    arrays = {name: np.array([flow[name] for flow in data]) for name in solver.fields}
    together = solver(arrays)
    for i, flow in enumerate(data):
        alone = solver(fields_of(solver, flow))
        for name in OUTPUTS:
            # numpy's vector loops may differ from its scalar ones in the last bit, and a
            # balanced slope is the difference of two larger numbers
            assert together[name][i] == pytest.approx(float(alone[name]), rel=1e-12, abs=1e-14)


@EVERY_SOLVER
@given(flow=flows())
def test_fields_broadcast_and_every_output_has_their_shape(solver, flow):
    fields = fields_of(solver, flow)
    fields["deflection"] = np.linspace(-0.5, 0.5, 3)[:, np.newaxis]
    fields["area"] = np.array([1.0, 2.0, 3.0, 4.0])
    moment = solver(fields)
    assert set(moment) >= OUTPUTS
    assert all(name.startswith("remaining") for name in set(moment) - OUTPUTS)
    for value in moment.values():
        assert value.shape == (3, 4)
        assert value.dtype == np.float64
        assert np.isfinite(value).all()


@EVERY_SOLVER
@given(flow=flows())
def test_arguments_are_not_changed(solver, flow):
    fields = {name: value.copy() for name, value in fields_of(solver, flow).items()}
    for value in fields.values():
        value.setflags(write=False)
    before = {name: value.copy() for name, value in fields.items()}
    solver(fields)
    assert set(fields) == set(before)
    for name, value in before.items():
        assert fields[name] == value


@EVERY_SOLVER
def test_a_missing_field_is_refused_by_name(solver):
    full = {name: np.array(FULL[name]) for name in solver.fields}
    for name in solver.fields:
        fields = {other: value for other, value in full.items() if other != name}
        with pytest.raises(KeyError, match=name):
            solver(fields)


@EVERY_SOLVER
def test_nan_in_a_field_never_becomes_a_number(solver):
    full = {name: np.array(FULL[name]) for name in solver.fields}
    for name in solver.fields:
        moment = solver(full | {name: np.array(math.nan)})
        assert any(math.isnan(moment[line]) for line in LINES)


@EVERY_SOLVER
@given(flow=flows())
def test_at_neutral_the_other_high_line_is_the_mirror_image_of_that_of_the_mirror(solver, flow):
    # neutral has no sense: what is the worst with a negative deflection in mind is what the
    # mirror image has with a positive one
    neutral = flow | {"deflection": np.array(0.0)}
    mirrored = {name: -value if name in SIGNED else value for name, value in neutral.items()}
    moment, image = (solver(fields_of(solver, each)) for each in (neutral, mirrored))
    assert moment["other_high"] == -image["high"]
    assert moment["other_high"] >= moment["best"] >= moment["high"]


@EVERY_SOLVER
@given(flow=flows())
def test_away_from_neutral_there_is_one_high_line(solver, flow):
    moment = solver(fields_of(solver, flow))
    if flow["deflection"] != 0.0:
        assert moment["other_high"] == moment["high"]


@EVERY_SOLVER
@given(flow=flows())
def test_no_air_no_moment(solver, flow):
    moment = solver(fields_of(solver, flow | {"dynamic_pressure": np.array(0.0)}))
    for line in LINES:
        assert moment[line] == 0.0
