"""Split flaps against plates, and moments as given."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.solvers import call_hinge_moment, load
from tests.evaluation.aircraft import SINGLE

with (Path(__file__).parents[2] / "reference" / "flat_plate.csv").open(
    encoding="utf-8", newline=""
) as file:
    ROWS = {
        row["id"].removeprefix("flat_plate-"): float(row["expected"])
        for row in csv.DictReader(file)
    }
with (Path(__file__).parents[2] / "reference" / "hinge_thin_airfoil.csv").open(
    encoding="utf-8", newline=""
) as file:
    PLAIN = [
        float(row["expected"])
        for row in csv.DictReader(file)
        if "b2 = c_h_delta" in row["quantity"]
        and float(re.match(r"flap_chord_ratio=([\d.]+)", row["inputs"])[1].rstrip(".")) <= 0.5
    ]
PLATE = {30: ("11", "12"), 60: ("15", "16"), 90: ("19", "20")}
COEFFICIENTS = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'


def moments(**changed):
    fields = {
        "dynamic_pressure": 1.0,
        "incidence": 0.0,
        "largest_incidence": 0.0,
        "deflection": 0.0,
        "area": 1.0,
        "chord": 1.0,
        "taper": 1.0,
    }
    fields |= changed
    return call_hinge_moment(
        load("hinge moment", "split_flap"), {key: np.asarray(each) for key, each in fields.items()}
    )


@pytest.mark.parametrize("degrees", PLATE)
def test_low_line_is_the_free_streamline_plate_and_high_the_measured_one(degrees):
    force, centre = (ROWS[row] for row in PLATE[degrees])
    found = moments(deflection=math.radians(degrees))
    assert found["low"] == pytest.approx(-force * centre, rel=2e-4)
    long_plate, theory = ROWS["22"], ROWS["19"]
    assert found["high"] == pytest.approx(-force * centre * long_plate / theory, rel=2e-4)
    # A plate that stands on a wall: 1.2 (from memory).
    assert found["best"] == pytest.approx(-force * centre * 1.2 / theory, rel=2e-4)


def test_a_flap_that_opens_the_other_way_is_its_mirror_image():
    down = moments(deflection=0.8, incidence=0.1, largest_incidence=0.1)
    up = moments(deflection=-0.8, incidence=-0.1, largest_incidence=0.1)
    for line in ("low", "best", "high"):
        assert up[line] == pytest.approx(-down[line], rel=1e-12)


@pytest.mark.parametrize("incidence", [-0.15, 0.15])
def test_best_line_is_at_the_angle_to_the_stream(incidence):
    # H. Lamb, Hydrodynamics, art. 77: force and centre of a plate in free streamlines
    angle = 0.8 + incidence
    force = 2 * math.pi * math.sin(angle) / (4 + math.pi * math.sin(angle))
    centre = 0.5 - 0.75 * math.cos(angle) / (4 + math.pi * math.sin(angle))
    broadside = 2 * math.pi / (4 + math.pi)
    found = moments(deflection=0.8, incidence=incidence, largest_incidence=0.15)
    assert found["best"] == pytest.approx(-1.2 / broadside * force * centre, rel=1e-9)


def test_incidence_only_widens_the_band():
    calm, rough = moments(deflection=0.8), moments(deflection=0.8, largest_incidence=0.1)
    assert -rough["high"] > -calm["high"]
    assert -rough["low"] < -calm["low"]


def test_it_asks_for_more_than_a_plain_flap_in_thin_aerofoil_theory_near_neutral():
    small = 1e-4
    assert moments(deflection=small)["high"] / small < min(PLAIN)


@pytest.fixture
def checked(tmp_path):
    def of(section):
        path = tmp_path / "aircraft.toml"
        path.write_text(SINGLE[0].replace(COEFFICIENTS, section), encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0]

    return of


def test_a_file_asks_for_a_split_flap_by_name(checked):
    force, centre = ROWS["09"], ROWS["10"]  # 20 degrees
    expected = -force * centre * ROWS["22"] / ROWS["19"] * 0.5 * 1.25 * 1600 * 0.5 * 0.04 * 0.04
    moment = checked('solver = "split_flap"').values["hinge moment"].value
    assert moment == pytest.approx(expected, rel=2e-4)


def test_a_moment_is_taken_as_given_at_any_speed(checked):
    case = checked('moment = "0.1 N*m"')
    moment = case.values["hinge moment"]
    assert (moment.low, moment.high) == (-0.1, 0.1)
    assert case.values["torque limit speed"].value is None


@pytest.mark.parametrize(
    "section",
    [
        'solver = "moment"',
        f'moment = "1 N*m", {COEFFICIENTS}',
        'moment = "1 N*m", solver = "plate"',
    ],
)
def test_a_moment_stands_alone(checked, section):
    with pytest.raises(linkcalc.InputFaults, match="moment"):
        checked(section)
