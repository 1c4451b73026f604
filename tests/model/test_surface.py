"""A control surface: its section by points, and what they do to its hinge."""

import math

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.evaluation.surface_fields import surface_fields
from linkcalc.model.surface import SectionPoint
from linkcalc.solvers import SURFACE_FIELDS

PARABOLA = [SectionPoint(x=i, z=0.08 * i * (1 - i / 100)) for i in range(101)]


def surface(**changes):
    sizes = {"span": "0.5 m", "chord": "40 mm", "throw": "20 deg", "chord_ratio": 0.25}
    return linkcalc.ControlSurface(**(sizes | changes))


def test_a_camber_line_gives_the_coefficients_of_the_section():
    # parabola of 2 % camber: lift 4 pi x 0.02 (any textbook on thin aerofoils)
    fields = surface_fields(surface(camber_line=PARABOLA), [])
    assert fields["c_l0"] == pytest.approx(4 * math.pi * 0.02, rel=2e-3)
    assert fields["C_h0"] < 0


def test_an_outline_gives_the_same_as_its_mean_line():
    outline = [
        SectionPoint(x=p.x, z=p.z + 0.3 * math.sqrt(p.x) * (1 - p.x / 100)) for p in PARABOLA
    ]
    below = [SectionPoint(x=p.x, z=p.z - 0.3 * math.sqrt(p.x) * (1 - p.x / 100)) for p in PARABOLA]
    made = surface_fields(surface(coordinates=[*reversed(outline), *below[1:]]), [])
    line = surface_fields(surface(camber_line=PARABOLA), [])
    assert made["c_l0"] == pytest.approx(line["c_l0"], rel=0.01)
    assert made["C_h0"] == pytest.approx(line["C_h0"], rel=0.01)


def test_what_is_given_arrives_and_what_is_not_gives_no_credit():
    fields = surface_fields(surface(), [])
    assert set(fields) <= set(SURFACE_FIELDS)
    assert (fields["aspect_ratio"], fields["overhang"], fields["c_l0"]) == (math.inf, 0.0, 0.0)
    fields = surface_fields(surface(aspect_ratio=5.5, overhang=0.2, C_h0=-0.02, c_l0=0.3), [])
    assert (fields["aspect_ratio"], fields["overhang"]) == (5.5, 0.2)
    assert (fields["C_h0"], fields["c_l0"]) == (-0.02, 0.3)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"camber_line": PARABOLA, "C_h0": -0.1}, "camber_line"),
        ({"camber_line": PARABOLA, "coordinates": PARABOLA}, "camber_line"),
        ({"camber_line": PARABOLA[::-1]}, "camber_line"),
        ({"camber_line": PARABOLA[:1]}, "camber_line"),
        ({"coordinates": PARABOLA}, "coordinates"),
        ({"aspect_ratio": -3.0}, "aspect_ratio"),
        ({"aspect_ratio": math.nan}, "aspect_ratio"),
        ({"overhang": -0.1}, "overhang"),
    ],
)
def test_bad_sections_are_refused_by_field(changes, field):
    with pytest.raises(InputError) as caught:
        surface(**changes)
    assert caught.value.fault.place == field
