"""Air against the 1976 standard's values, hydrostatics and gas dynamics."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from linkcalc.physics import air

REFERENCE = Path(__file__).parents[1] / "reference" / "atmosphere.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

KERNELS = {"density": air.density, "temperature": air.temperature, "pressure": air.pressure}

# U.S. Standard Atmosphere, 1976: what its layers define at their ends. From memory, as
# printed in most tables of the standard: geopotential altitude [m], temperature [K],
# pressure [Pa], one unit of the last digit of the pressure.
LAYERS = [
    (0.0, 288.15, 101_325.0, 1.0),
    (11_000.0, 216.65, 22_632.0, 1.0),
]

# 14 CFR 1.1 and the standard's own constants, not those of the module.
GAMMA, P0, RHO0 = 1.4, 101_325.0, 1.225

ALTITUDES = st.floats(-5_000.0, 20_000.0)


def geometric(geopotential):
    return 6_356_766.0 * geopotential / (6_356_766.0 - geopotential)


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_standard_atmosphere_agrees_with_the_reference(row):
    altitude = float(row["inputs"].removeprefix("geometric altitude=").removesuffix(" m"))
    assert row["tolerance_kind"] == "rel"
    value = KERNELS[row["quantity"]](altitude=altitude)
    assert value == pytest.approx(float(row["expected"]), rel=float(row["tolerance"]), abs=0)


@pytest.mark.parametrize(("geopotential", "temperature", "pressure", "digit"), LAYERS)
def test_layers_begin_where_the_standard_says(geopotential, temperature, pressure, digit):
    altitude = geometric(geopotential)
    assert air.temperature(altitude=altitude) == pytest.approx(temperature, rel=0, abs=0.005)
    assert air.pressure(altitude=altitude) == pytest.approx(pressure, rel=0, abs=0.5 * digit)


def test_pressure_and_density_follow_from_hydrostatics_with_gravity_that_falls_with_height():
    # The second way integrates dp/dz = -rho g(z), Newton's gravity, in geometric altitude.
    radius, gas = 6_356_766.0, 8_314.32 / 28.964_4

    def standard_temperature(z):
        return max(288.15 - 0.0065 * radius * z / (radius + z), 216.65)

    def fall(z, p):
        return -p / (gas * standard_temperature(z)) * 9.806_65 * (radius / (radius + z)) ** 2

    upward = np.array([0.0, 300.0, 4_000.0, 11_019.0, 15_000.0, 20_000.0])
    downward = np.array([0.0, -800.0, -5_000.0])
    for altitude in (upward, downward):
        path = solve_ivp(
            fall, (0.0, altitude[-1]), [101_325.0], t_eval=altitude, rtol=1e-10, atol=1e-6,
            max_step=500.0,
        )  # fmt: skip
        warmth = np.array([standard_temperature(z) for z in altitude])
        np.testing.assert_allclose(air.temperature(altitude=altitude), warmth, rtol=1e-12)
        np.testing.assert_allclose(air.pressure(altitude=altitude), path.y[0], rtol=1e-7)
        np.testing.assert_allclose(
            air.density(altitude=altitude), path.y[0] / (gas * warmth), rtol=1e-7
        )


def test_geopotential_altitude_is_the_work_against_gravity():
    def gravity(z):
        return (6_356_766.0 / (6_356_766.0 + z)) ** 2  # over that at sea level

    for altitude in (-5_000.0, 1_000.0, 20_000.0):
        work, _ = quad(gravity, 0.0, altitude)
        assert air.geopotential_altitude(altitude=altitude) == pytest.approx(work, rel=1e-9)


@pytest.mark.parametrize("altitude", [-5_001.0, 20_001.0, math.nan, math.inf, -math.inf])
def test_outside_the_stated_range_the_answer_is_nan(altitude):
    for kernel in (air.geopotential_altitude, air.temperature, air.pressure, air.density):
        assert math.isnan(kernel(altitude=altitude))
    assert math.isnan(air.density(altitude=altitude, temperature=288.15))


@pytest.mark.parametrize("altitude", [-5_000.0, 20_000.0])
def test_the_ends_of_the_range_belong_to_it(altitude):
    assert math.isfinite(air.density(altitude=altitude))


@given(ALTITUDES, st.floats(200.0, 330.0))
def test_air_of_a_given_temperature_obeys_the_gas_law(altitude, temperature):
    standard = air.density(altitude=altitude)
    given_day = air.density(altitude=altitude, temperature=temperature)
    expected = standard * air.temperature(altitude=altitude) / temperature
    assert given_day == pytest.approx(expected, rel=1e-12)


@given(ALTITUDES, ALTITUDES)
def test_pressure_and_density_never_rise_with_height(one, other):
    low, high = sorted((one, other))
    assert air.pressure(altitude=low) >= air.pressure(altitude=high)
    assert air.density(altitude=low) >= air.density(altitude=high)


@given(st.lists(st.floats(-6_000.0, 21_000.0), min_size=1, max_size=5))
def test_a_scalar_equals_its_array_element(altitudes):
    array = np.array(altitudes)
    before = array.copy()
    for kernel in (air.geopotential_altitude, air.temperature, air.pressure, air.density):
        one_by_one = np.array([kernel(altitude=altitude) for altitude in altitudes])
        # The powers of an array may be computed by wider instructions, another way in the last bit.
        np.testing.assert_array_max_ulp(kernel(altitude=array), one_by_one, maxulp=4)
    np.testing.assert_array_equal(array, before)


def test_altitude_and_temperature_broadcast():
    grid = air.density(altitude=np.zeros((3, 1)), temperature=np.full(4, 300.0))
    assert grid.shape == (3, 4)


def test_speed_of_sound_at_sea_level_is_that_of_the_standard():
    # U.S. Standard Atmosphere, 1976: 340.294 m/s at 288.15 K; from memory.
    assert air.speed_of_sound(temperature=288.15) == pytest.approx(340.294, rel=0, abs=0.0005)
    assert pytest.approx(340.294, rel=0, abs=0.0005) == air.SEA_LEVEL_SPEED_OF_SOUND


def test_speed_of_sound_is_the_slope_of_an_isentrope():
    # a^2 = dp/d(rho) at constant entropy, p = C rho^gamma, by central difference
    for altitude in (0.0, 8_000.0, 15_000.0):
        p, rho = air.pressure(altitude=altitude), air.density(altitude=altitude)
        step = 1e-5
        rise = p * ((1.0 + step) ** GAMMA - (1.0 - step) ** GAMMA) / (2.0 * step * rho)
        sound = air.speed_of_sound(temperature=air.temperature(altitude=altitude))
        assert sound == pytest.approx(math.sqrt(rise), rel=1e-8)


def test_air_below_absolute_zero_carries_no_sound():
    assert math.isnan(air.speed_of_sound(temperature=-1.0))
    assert math.isnan(air.speed_of_sound(temperature=math.nan))


def test_dynamic_pressure_is_the_kinetic_energy_of_a_volume():
    # 1.2 kg at 30 m/s: 540 J in a cubic metre, in the head
    assert air.dynamic_pressure(density=1.2, speed=30.0) == pytest.approx(540.0, rel=1e-15)
    assert air.dynamic_pressure(density=1.2, speed=-30.0) == pytest.approx(540.0, rel=1e-15)


def stagnation_rise(speed, pressure, density):
    """Pressure at rest less static, from Bernoulli along an isentrope, by quadrature."""

    def surplus(total):
        work, _ = quad(
            lambda p: (pressure / p) ** (1.0 / GAMMA) / density, pressure, total, epsrel=1e-11
        )
        return work - 0.5 * speed**2

    return brentq(surplus, pressure, 3.0 * pressure, xtol=1e-9, rtol=1e-14) - pressure


@pytest.mark.parametrize("calibrated", [20.0, 60.0, 150.0, 240.0])
@pytest.mark.parametrize(("pressure", "density"), [(101_325.0, 1.1), (54_048.3, 0.736429)])
def test_both_airspeeds_bring_the_same_stagnation_pressure(calibrated, pressure, density):
    true = air.true_airspeed_from_calibrated(
        calibrated=calibrated, pressure=pressure, density=density
    )
    shown = stagnation_rise(calibrated, P0, RHO0)
    # RHO0 as printed differs from the standard's by 1e-6, half of that goes into the speed
    assert stagnation_rise(float(true), pressure, density) == pytest.approx(shown, rel=1e-5)


@given(st.floats(0.0, 230.0), st.floats(-1_000.0, 9_000.0), st.floats(230.0, 320.0))
def test_calibrated_airspeed_comes_back_from_the_true_one(calibrated, altitude, temperature):
    p = air.pressure(altitude=altitude)
    rho = air.density(altitude=altitude, temperature=temperature)
    true = air.true_airspeed_from_calibrated(calibrated=calibrated, pressure=p, density=rho)
    if math.isnan(true):
        # only ever because the true speed would be supersonic
        impact = P0 * ((1.0 + 0.2 * (calibrated / 340.294) ** 2) ** 3.5 - 1.0)
        assert impact / p > 1.2**3.5 - 1.0 - 1e-4
        return
    back = air.calibrated_airspeed_from_true(speed=true, pressure=p, density=rho)
    assert back == pytest.approx(calibrated, rel=1e-10, abs=1e-12)


@given(st.floats(0.0, 300.0))
def test_at_sea_level_on_a_standard_day_calibrated_is_true(speed):
    # 14 CFR 1.1
    true = air.true_airspeed_from_calibrated(
        calibrated=speed, pressure=air.SEA_LEVEL_PRESSURE, density=air.SEA_LEVEL_DENSITY
    )
    assert true == pytest.approx(speed, rel=1e-12)


def test_a_slow_calibrated_airspeed_keeps_the_dynamic_pressure():
    # incompressible limit: V = V_c sqrt(rho_0 / rho)
    rho = 0.909254
    true = air.true_airspeed_from_calibrated(calibrated=1e-3, pressure=70_121.1, density=rho)
    assert true == pytest.approx(1e-3 * math.sqrt(air.SEA_LEVEL_DENSITY / rho), rel=1e-9)


@pytest.mark.parametrize("speed", [-1.0, 341.0, 1e200, math.nan, math.inf])
def test_airspeeds_that_no_indicator_shows_are_nan(speed):
    state = {"pressure": 101_325.0, "density": 1.2250}
    assert math.isnan(air.true_airspeed_from_calibrated(calibrated=speed, **state))
    assert math.isnan(air.calibrated_airspeed_from_true(speed=speed, **state))


def test_a_true_airspeed_above_that_of_sound_is_nan():
    # 300 m/s calibrated at 10 km (26.5 kPa) is beyond Mach 1
    state = {"pressure": 26_500.0, "density": 0.4135}
    assert math.isnan(air.true_airspeed_from_calibrated(calibrated=300.0, **state))


def test_airspeeds_broadcast_element_by_element():
    speeds = np.array([10.0, 50.0, 200.0])
    pressures = np.array([[101_325.0], [70_121.1]])
    densities = np.array([[1.225], [0.909254]])
    before = speeds.copy()
    for kernel, name in (
        (air.true_airspeed_from_calibrated, "calibrated"),
        (air.calibrated_airspeed_from_true, "speed"),
    ):
        grid = kernel(**{name: speeds}, pressure=pressures, density=densities)
        assert grid.shape == (2, 3)
        one = kernel(**{name: 50.0}, pressure=70_121.1, density=0.909254)
        assert grid[1, 1] == one
    np.testing.assert_array_equal(speeds, before)


def test_viscosity_is_that_of_the_printed_table():
    # U.S. Standard Atmosphere, 1976, table of section 1 (from memory): 1.7894e-5 at sea level,
    # and Sutherland's law for a hot and a cold day, written out
    assert air.viscosity(temperature=288.15) == pytest.approx(1.7894e-5, rel=0, abs=0.00005e-5)
    for kelvin in (253.15, 313.15):
        expected = 1.458e-6 * kelvin * math.sqrt(kelvin) / (kelvin + 110.4)
        assert air.viscosity(temperature=kelvin) == pytest.approx(expected, rel=1e-12)
    assert math.isnan(air.viscosity(temperature=0.0))
