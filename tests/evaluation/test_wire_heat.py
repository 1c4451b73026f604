"""How warm the copper of a file's leads gets, and what that does: energy balances by hand."""

import itertools
import math

import numpy as np
import pytest

import linkcalc
from linkcalc import solvers
from linkcalc.errors import InputFaults
from linkcalc.evaluation import wire_heat
from linkcalc.evaluation.gather import gather
from linkcalc.files import read_aircraft
from linkcalc.study.drops import voltage_drops
from linkcalc.study.paths import placed
from linkcalc.study.sweep import sweep
from linkcalc.study.wires import WIRED_MODES, choose_wires
from tests.evaluation.test_supply_fields import FILE, alone, at_limit

AIR = 303.15
SOURCE = 'voltage = "6 V"\ninternal_resistance = "0 ohm"\nair_temperature = "30 degC"'
WIRE = 'gauge = "0.05 mm^2"\nlength = "1.2 m"\nstrand_factor = 1.0\n'
COMPUTED = WIRE + 'copper_temperature = "computed"\n'
# 1.7241e-8 ohm m and 0.00393 / K at 20 degC: NBS Handbook 100.
LOOP = 2 * 1.2 * 1.7241e-8 / 0.05e-6


def shed(surface, diameter):
    """Churchill and Chu (1975) and Stefan's law, written down again; air of the 1976 standard atmosphere."""
    film = (surface + AIR) / 2
    viscosity = 1.458e-6 * film**1.5 / (film + 110.4) * 287.053 * film / 101325
    conductivity = 2.64638e-3 * film**1.5 / (film + 245.4 * 10 ** (-12 / film))
    rayleigh = 9.80665 * (surface - AIR) * diameter**3 * 0.71 / (film * viscosity**2)
    nusselt = (
        0.6 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / 0.71) ** (9 / 16)) ** (8 / 27)
    ) ** 2
    radiation = 0.9 * 5.670374419e-8 * (surface**4 - AIR**4) * diameter
    return math.pi * (nusselt * conductivity * (surface - AIR) + radiation)


def made(current, temperature, conductors):
    resistivity = 1.7241e-8 * (1 + 0.00393 * (temperature - 293.15))
    return conductors * current**2 * resistivity / 0.05e-6


OUTER = 1.15 * math.sqrt(4 * 0.05e-6 / math.pi) + 0.8e-3  # common practice, no source


@pytest.fixture
def path(tmp_path):
    def of(lead, supply=SOURCE):
        file = tmp_path / "warm.toml"
        text = FILE.format(supply=supply, lead=lead).replace("20 m/s", "36 m/s")
        file.write_text(text, encoding="utf-8")
        return file

    return of


def values(made):
    return made.runs[0].cases[0].values


@pytest.mark.parametrize("leads", [1, 4])
def test_copper_sheds_what_it_makes(path, leads):
    found = values(linkcalc.check(path(WIRE + f"bundled = {leads}")))
    current = found["current at work"].value
    free = found["copper temperature in free air"]
    assert free.at == "l"
    assert made(current, free.value, 1) == pytest.approx(shed(free.value, OUTER), rel=1e-4)
    core = found["copper temperature in a bundle"].value
    heat = made(current, core, 2 * leads)
    surface = core - heat / (4 * math.pi * 0.1)
    around = 1.25 * math.sqrt(3 * leads) * OUTER
    assert heat == pytest.approx(shed(surface, around), rel=1e-4)
    assert core > free.value > AIR + 1


def test_the_thinner_of_two_conductors_is_the_warmer(path):
    found = values(linkcalc.check(path(WIRE + 'return_gauge = "0.10 mm^2"')))
    current, free = found["current at work"].value, found["copper temperature in free air"].value
    assert made(current, free, 1) == pytest.approx(shed(free, OUTER), rel=1e-4)


def test_resistance_is_that_of_the_warm_copper_where_the_file_asks(path):
    report = linkcalc.check(path(COMPUTED))
    warm = values(report)["copper temperature in a bundle"].value
    assert warm > AIR + 5
    ohms = LOOP * (1 + 0.00393 * (warm - 293.15))
    assert at_limit(report) == pytest.approx(alone(6.0, ohms), rel=1e-7)
    # Told only: the default of 40 degC stands.
    told = linkcalc.check(path(WIRE))
    assert at_limit(told) == pytest.approx(alone(6.0, LOOP * (1 + 0.00393 * 20)), rel=1e-7)
    assert any("Churchill and Chu" in note for note in report.notes)


def test_more_leads_in_a_bundle_leave_less_voltage(path):
    volts = [
        at_limit(linkcalc.check(path(COMPUTED + f"bundled = {count}"))) for count in (1, 2, 4, 8)
    ]
    assert volts == sorted(volts, reverse=True)
    assert volts[0] > volts[-1]


def test_drops_see_warm_copper(path):
    delivered = voltage_drops(read_aircraft(path(COMPUTED)))[0].delivered
    assert delivered == pytest.approx(at_limit(linkcalc.check(path(COMPUTED))), rel=1e-9)


def test_the_choice_of_wire_sees_how_warm_each_gauge_gets(path):
    gauges = [f"{area} mm^2" for area in (0.05, 0.053, 0.056, 0.06, 0.065, 0.07, 0.08, 0.1)]

    def thinnest(lead):
        for gauge in gauges:
            margins = (
                linkcalc.check(path(lead.replace("0.05 mm^2", gauge))).runs[0].cases[0].margins
            )
            asked = [item for item in margins if item.mode in WIRED_MODES and item.applies]
            if all(item.margin is not None and item.margin >= 0 for item in asked):
                return gauge
        return None

    bundle = COMPUTED + "bundled = 6"
    warm, default = thinnest(bundle), thinnest(WIRE)
    assert gauges.index(default) < gauges.index(warm)
    assert choose_wires(read_aircraft(path(bundle)), gauges=gauges).wires[0].chosen == warm
    assert choose_wires(read_aircraft(path(WIRE)), gauges=gauges).wires[0].chosen == default


def test_a_wire_that_would_burn_is_no_pass(path):
    thin = COMPUTED.replace("0.05 mm^2", "0.0012 mm^2").replace("1.2 m", "0.05 m")
    report = linkcalc.check(path(thin + "bundled = 24"))
    found = values(report)["copper temperature in a bundle"]
    assert found.value is None
    assert "no steady temperature" in found.reason
    assert report.runs[0].cases[0].margin("voltage").margin is None
    assert report.verdict == "short"


def test_a_measured_lead_tells_no_temperature(path):
    found = values(linkcalc.check(path('loop_resistance = "0.3 ohm"')))
    assert found["copper temperature in free air"].reason == "no lead of known gauge"


def test_nothing_is_told_without_the_temperature_of_the_air(path):
    supply = SOURCE.replace('air_temperature = "30 degC"', "")
    assert not any("copper" in name for name in values(linkcalc.check(path(WIRE, supply))))
    with pytest.raises(InputFaults, match="air_temperature"):
        linkcalc.check(path(COMPUTED, supply))


def test_a_sweep_sees_warm_copper_and_pulses_as_checks_do(path):
    file = path(COMPUTED, SOURCE + "\ninrush_multiple = 2.0")
    over = {
        "leads['l'].gauge": ["0.05 mm^2", "0.08 mm^2"],
        "supply.air_temperature": ["0 degC", "60 degC"],
        "runs['r'].pulses": [["1.2 ms", "1.8 ms"], ["1.1 ms", "1.7 ms"]],
    }
    found = sweep(file, over, speeds=True)
    aircraft = read_aircraft(file)
    for at in itertools.product(range(2), repeat=3):
        changed = aircraft
        for (key, values_of), index in zip(over.items(), at, strict=True):
            changed = placed(changed, key, values_of[index])
        case = linkcalc.check(changed).runs[0].cases[0]
        there = found.isel(dict(zip(over, at, strict=True)) | {"case": 0, "run": 0})
        told = case.values["voltage at limit"].value
        assert float(there["voltage at limit"]) == pytest.approx(told, rel=1e-9)
        travel = float(there["margin"].sel(mode="travel"))
        assert travel == pytest.approx(case.margin("travel").margin, rel=1e-9)
        limit = case.values["torque limit speed"].value
        assert float(there["torque limit speed"]) == pytest.approx(limit, rel=1e-6)


def test_a_temperature_that_does_not_settle_is_none(path, monkeypatch):
    settled = linkcalc.check(path(COMPUTED)).runs[0].cases[0].margin("voltage")
    assert settled.margin is not None
    monkeypatch.setattr(wire_heat, "_ROUNDS", 1)
    margin = linkcalc.check(path(COMPUTED)).runs[0].cases[0].margin("voltage")
    assert margin.margin is None
    assert not margin.passes


def test_a_solver_that_tells_no_currents_of_leads_tells_no_warmth(path, monkeypatch):
    class Terse:
        """The tree, which says no more than it has to."""

        def __init__(self, tree):
            self.tree, self.name, self.fields = tree, tree.name, tree.fields

        def __call__(self, fields, demand):
            told = self.tree(fields, demand)
            return {name: value for name, value in told.items() if name != "lead_current"}

    load = solvers.load
    monkeypatch.setattr(
        solvers,
        "load",
        lambda kind, name: Terse(load(kind, name)) if kind == "supply" else load(kind, name),
    )
    found = values(linkcalc.check(path(WIRE)))
    assert found["copper temperature in free air"].value is None
    assert found["current at work"].value > 0
    inputs = gather(
        read_aircraft(path(WIRE, SOURCE.replace('air_temperature = "30 degC"', "")))
    ).inputs
    with pytest.raises(ValueError, match="no temperature of the air"):
        wire_heat.copper(inputs, np.array([[1.0]]))
