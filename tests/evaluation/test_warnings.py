"""What a check warns of: wrong signs, fast streams; and the air that Reynolds numbers are of."""

import math

import numpy as np
import pytest

from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.loads import surface_flow
from linkcalc.files import read_aircraft
from tests.evaluation.aircraft import SINGLE

AIR = 'density = "1.25 kg/m^3"'


@pytest.fixture
def gathered(tmp_path):
    def of(*changes):
        words = SINGLE[0]
        for old, new in changes:
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words, encoding="utf-8")
        return gather(read_aircraft(path))

    return of


def viscosity(made):
    return float(surface_flow(made.inputs)["viscosity"][0, 0])


# U.S. Standard Atmosphere, 1976: the table's dynamic viscosity to its last digit (from memory).
@pytest.mark.parametrize(
    ("metres", "printed"), [(0, 1.7894e-5), (1000, 1.7579e-5), (2000, 1.7260e-5)]
)
def test_viscosity_is_that_of_the_cases_altitude(gathered, metres, printed):
    made = gathered((AIR, f'altitude = "{metres} m"'))
    assert viscosity(made) == pytest.approx(printed, abs=0.00005e-5)


def test_viscosity_is_that_of_the_cases_temperature(gathered):
    # Sutherland's law in the standard's form, worked by hand at 308.15 K
    made = gathered((AIR, 'altitude = "500 m"\ntemperature = "35 degC"'))
    assert viscosity(made) == pytest.approx(1.458e-6 * 308.15**1.5 / (308.15 + 110.4), rel=1e-12)


def test_a_density_alone_is_taken_for_that_of_a_hot_day(gathered):
    assert viscosity(gathered()) == pytest.approx(1.458e-6 * 313.15**1.5 / 423.55, rel=1e-12)


@pytest.mark.parametrize("name", ["C_h_alpha", "C_h_delta"])
def test_a_slope_of_the_wrong_sign_is_warned_of_and_used(gathered, name):
    old = {"C_h_alpha": "-0.1 1/rad", "C_h_delta": "-0.5 1/rad"}[name]
    made = gathered((f'{name} = "{old}"', f'{name} = "{old[1:]}"'))
    assert float(made.inputs.surfaces.fields[name][0]) == -float(old.split()[0])
    assert any(name in note and "check the sign" in note for note in made.notes.runs[0])
    assert not any("check the sign" in note for note in gathered().notes.runs[0])


@pytest.mark.parametrize(("speed", "warned"), [(101.0, False), (103.0, True)])
def test_a_stream_above_mach_three_tenths_is_warned_of(gathered, speed, warned):
    # Speed of sound at sea level in the standard atmosphere: 340.294 m/s, so Mach 0.3 is 102.1 m/s
    made = gathered((AIR, ""), ('"40 m/s"', f'"{speed} m/s"'))
    assert any("incompressible" in note for note in made.notes.cases[0]) is warned


def test_the_air_at_altitude_is_slower_to_carry_sound(gathered):
    kelvin = 288.15 - 0.0065 * 6356766.0 * 5000 / (6356766.0 + 5000)
    sound = math.sqrt(1.4 * 8.31432 / 0.0289644 * kelvin)
    fast = gathered((AIR, 'altitude = "5000 m"'), ('"40 m/s"', f'"{0.301 * sound} m/s"'))
    assert any("Mach 0.30" in note for note in fast.notes.cases[0])
    assert np.isfinite(fast.inputs.cases.viscosity).all()
