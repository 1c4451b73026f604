"""Metals, masses and bundles against standards' ratios, mixtures and known packings."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest

from linkcalc.physics.conductors import CONTACTS, conductor_resistance
from linkcalc.physics.metals import METALS
from linkcalc.physics.wire import bundle_diameter, mass_per_length

REFERENCE = Path(__file__).parents[1] / "reference" / "wire.csv"
with REFERENCE.open(encoding="utf-8", newline="") as file:
    FLEXIBLE = [row for row in csv.DictReader(file) if row["notes"].startswith("tinned")]


def test_tinned_copper_is_as_much_worse_as_the_standard_allows_it_to_be():
    # Maxima of IEC 60228, printed plain ("expected") and tinned ("notes: tinned 138").
    ratios = [
        float(re.match(r"tinned ([\d.]+)", row["notes"])[1]) / float(row["expected"])
        for row in FLEXIBLE
    ]
    assert len(ratios) == 9
    ours = METALS["tinned copper"].resistivity / METALS["copper"].resistivity
    assert min(ratios) - 0.005 <= ours <= max(ratios)
    assert ours == pytest.approx(np.median(ratios), abs=0.005)


def test_clad_aluminium_weighs_what_its_mixture_does_and_conducts_a_little_less():
    # A tenth of the section copper, 8890 kg/m^3 and 1.7241e-8 ohm m; the rest aluminium for
    # conductors, 2703 kg/m^3 and 61 % of the conductivity of copper (IEC 60889; from memory).
    metal, copper = METALS["copper-clad aluminium"], METALS["copper"]
    assert metal.density == pytest.approx(0.1 * copper.density + 0.9 * 2703.0, rel=0.002)
    side_by_side = copper.resistivity / (0.1 + 0.9 * 0.61)
    assert side_by_side < metal.resistivity < 1.05 * side_by_side
    assert metal.temperature_coefficient == pytest.approx(0.00403, rel=0.01)  # aluminium's


def test_for_one_resistance_clad_aluminium_is_thicker_and_lighter():
    wires = {}
    for name in ("copper", "copper-clad aluminium"):
        metal = METALS[name]
        area = 1.0 / conductor_resistance(
            length=1.0, area=1.0, temperature=293.15, strand_factor=1.0,
            resistivity=metal.resistivity, temperature_coefficient=metal.temperature_coefficient,
        )  # fmt: skip
        wires[name] = (1.0 / area, metal.density / area)
    assert wires["copper-clad aluminium"][0] > wires["copper"][0]
    assert wires["copper-clad aluminium"][1] < 0.7 * wires["copper"][1]


def test_resistance_takes_the_metal_that_is_given():
    wire = {"length": 2.0, "area": 1e-6, "strand_factor": 1.0}
    for name, metal in METALS.items():
        cold, warm = (
            conductor_resistance(
                **wire,
                temperature=celsius + 273.15,
                resistivity=metal.resistivity,
                temperature_coefficient=metal.temperature_coefficient,
            )
            for celsius in (20.0, 70.0)
        )
        assert cold == pytest.approx(metal.resistivity * 2.0 / 1e-6), name
        assert warm / cold == pytest.approx(1.0 + 50.0 * metal.temperature_coefficient), name
        assert metal.source


def test_mass_of_a_metre_is_its_metal_and_its_jacket():
    # Seven strands of 0.2 mm in a tube of 0.6 mm bore and 1.2 mm outside, by hand.
    strands = 7 * math.pi / 4 * 0.2e-3**2
    jacket = math.pi / 4 * (1.2e-3**2 - 0.6e-3**2)
    mass = mass_per_length(
        area=strands, density=8890.0, outer_diameter=1.2e-3, insulation_density=1200.0
    )
    assert mass == pytest.approx(8890.0 * strands + 1200.0 * jacket)
    thin = mass_per_length(
        area=strands, density=8890.0, outer_diameter=0.5e-3, insulation_density=1200.0
    )
    assert np.isnan(thin)


@pytest.mark.parametrize(
    ("wires", "closest"),
    [
        (2, 2.0),
        (3, 1.0 + 2.0 / math.sqrt(3.0)),
        (4, 1.0 + math.sqrt(2.0)),
        (5, 1.0 + 1.0 / math.sin(math.pi / 5.0)),
        (6, 3.0),
        (7, 3.0),
    ],
)
def test_a_bundle_is_no_thinner_than_the_closest_packing(wires, closest):
    found = bundle_diameter(np.full(wires, 1.5))
    assert closest <= found / 1.5 <= 1.13 * closest


def test_a_bundle_of_one_wire_is_that_wire_and_another_makes_it_thicker():
    assert bundle_diameter(np.array([2.0, 0.0, 0.0])) == 2.0
    assert bundle_diameter(np.array([2.0, 0.1])) == pytest.approx(1.25 * math.sqrt(4.01))
    assert bundle_diameter(np.array([[1.0, 1.0], [1.0, 0.0]])).tolist() == [2.0, 1.0]
    assert np.isnan(bundle_diameter(np.array([1.0, np.nan])))


def test_solder_is_the_best_of_contacts_and_a_switch_the_worst():
    assert min(CONTACTS, key=CONTACTS.get) == "solder joint"
    assert max(CONTACTS, key=CONTACTS.get) == "switch"
