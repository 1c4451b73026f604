"""Horn, arm with its mount, and rod, each giving way by itself: by hand, from virtual work.

The horn of the one run is 20 mm square to the rod, which bears 50 N for a hinge moment of 1 N m:
a part that moves by 1 / k for 1 N turns the surface by 50 / k / 0.020 = 2500 / k for 1 N m.
"""

import math

import pytest

import linkcalc
from linkcalc.errors import InputFaults
from tests.evaluation.aircraft import SINGLE

SIZE = 0.5 * 1.25 * 40.0**2 * 0.5 * 0.04 * 0.04  # q S c
HORN, MOUNT = 2500 / 50e3, 2500 / 200e3  # of 50 and 200 N/mm
ROD = 2500 * 0.200 / (203e9 * math.pi / 4 * 0.002**2)  # L / (E A) of 2 mm of steel wire
KEYS = {
    'horn_stiffness = "50 N/mm"': HORN,
    'mount_stiffness = "200 N/mm"': MOUNT,
    'rod_stiffness = "3 kN/mm"': 2500 / 3e6,
    'rod_stretch = "computed"': ROD,
    'compliance = "10 deg/Nm"': math.radians(10.0),
}


@pytest.fixture
def run(tmp_path):
    def made(*keys):
        """The one run with some keys, its surface pulled on by dM/d(delta) of + 0.5 q S c."""
        text = SINGLE[0].replace("pushrod =", "\n".join((*keys, "pushrod =")))
        path = tmp_path / "aircraft.toml"
        path.write_text(text.replace('"-0.5 1/rad"', '"0.5 1/rad"'), encoding="utf-8")
        return linkcalc.check(path).runs[0]

    return made


def found(run):
    return run.cases[0].margin("divergence").required.value / (0.5 * SIZE)


@pytest.mark.parametrize("key", KEYS)
def test_a_part_turns_the_surface_by_the_square_of_what_the_rod_bears(key, run):
    assert found(run(key)) == pytest.approx(KEYS[key], rel=1e-9)


def test_parts_in_line_add_up_and_tell_their_shares(run):
    keys = [key for key in KEYS if not key.startswith("rod_stiff")]
    whole = HORN + MOUNT + ROD + math.radians(10.0)  # 0.05, 0.0125, 0.00078 and 0.17453
    given = run(*keys)
    assert found(given) == pytest.approx(whole, rel=1e-9)
    (told,) = [note for note in given.cases[0].notes if "compliance of the linkage" in note]
    assert told.startswith("compliance of the linkage: 13.6 deg/(N·m) at neutral: ")
    for share in (
        "horn 2.86 deg/(N·m) (21%)",
        "arm and servo mount 0.716 deg/(N·m) (5%)",
        "rod 0.0449 deg/(N·m) (0%)",
        "the rest, as given 10 deg/(N·m) (73%)",
    ):
        assert share in told


def test_a_horn_leaning_by_60_degrees_has_half_the_lever(tmp_path):
    # lever 20 mm cos 60 = 10 mm: 100 N for 1 N m, four times the turn
    text = 'horn = { radius = "20 mm", lean = "60 deg" }'
    path = tmp_path / "leaning.toml"
    lines = [text if line.startswith("horn =") else line for line in SINGLE[0].splitlines()]
    path.write_text("\n".join(lines).replace("pushrod =", 'horn_stiffness = "50 N/mm"\npushrod ='))
    told = " ".join(linkcalc.check(path).runs[0].cases[0].notes)
    assert f"horn {math.degrees(4 * HORN):.3g} deg/(N·m)" in told


def test_a_stretch_that_is_measured_is_not_computed_too(run):
    with pytest.raises(InputFaults, match="rod_stretch"):
        run('rod_stiffness = "3 kN/mm"', 'rod_stretch = "computed"')
