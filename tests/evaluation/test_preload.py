"""Preload of cables: what rubs at the servo's shaft by hand, what is left of it by a root finder."""

import cmath
import math
import re

import numpy as np
import pytest
from scipy.optimize import brentq

import linkcalc
from linkcalc.errors import InputFaults
from tests.evaluation.test_chains import HEAD

CABLES = 'kind = "cables", arm = "14 mm", horn = "14 mm", length = "800 mm", preload = "8 N"'
RUBS = 'bearing_friction = 0.2, bearing_diameter = "6 mm"'
NOT_COUNTED = "friction from preload not given, not counted"


@pytest.fixture
def case(tmp_path):
    def made(stage, *keys):
        path = tmp_path / "aircraft.toml"
        text = "\n".join((HEAD, *keys, f"stages = [{{ {stage} }}]"))
        path.write_text(text, encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0]

    return made


def moving(case):
    return case.values["moving torque"].value


def notes(case):
    return " | ".join(case.notes)


def test_friction_of_the_shaft_is_coefficient_times_pull_times_radius(case):
    # 2 x 8 N on a shaft of 6 mm: 0.2 x 16 x 0.003 = 9.6 mN m
    bare, rubbing = case(CABLES), case(f"{CABLES}, {RUBS}")
    assert moving(rubbing) - moving(bare) == pytest.approx(9.6e-3, rel=1e-9)
    assert "friction from preload: 9.6 mN m" in notes(rubbing)
    assert NOT_COUNTED in notes(bare)
    assert NOT_COUNTED not in notes(rubbing)


def test_a_shaft_further_on_rubs_at_the_rate_at_which_it_turns(case):
    # A rod from 10 to 20 mm turns the bellcrank half as fast as the servo at neutral.
    rod = 'kind = "pushrod", arm = "10 mm", horn = "20 mm", pushrod = "100 mm" }, { '
    bare, rubbing = case(rod + CABLES), case(f"{rod}{CABLES}, {RUBS}")
    assert moving(rubbing) - moving(bare) == pytest.approx(4.8e-3, rel=1e-9)


def test_two_servos_share_what_the_shaft_rubs(case):
    two = "servo_count = 2"
    bare, rubbing = case(CABLES, two), case(f"{CABLES}, {RUBS}", two)
    assert moving(rubbing) - moving(bare) == pytest.approx(9.6e-3 / 2, rel=1e-9)


def test_a_measured_friction_stands_for_all_of_it(case):
    given = 'shaft_friction = "4 mNm"'
    bare = case(CABLES)
    for stage in (CABLES, f"{CABLES}, {RUBS}"):
        measured = case(stage, given)
        assert moving(measured) - moving(bare) == pytest.approx(4e-3, rel=1e-9)
        assert NOT_COUNTED not in notes(measured)
    assert "none computed beside it" in notes(measured)


def test_without_preload_nothing_is_told(case):
    assert "preload" not in notes(case(CABLES.replace(', preload = "8 N"', "")))


def test_a_coefficient_asks_for_the_shaft(case):
    with pytest.raises(InputFaults, match="bearing_diameter"):
        case(f"{CABLES}, bearing_friction = 0.2")


def left(text):
    found = re.search(r"at least ([\d.e-]+) N over the travel, a loss of ([\d.e-]+) N", text)
    return [float(number) for number in found.groups()]


def test_like_horns_keep_their_preload(case):
    assert left(notes(case(f'{CABLES}, stiffness = "40 N/mm"'))) == pytest.approx(
        [8.0, 0.0], abs=5e-3
    )


def test_leaning_horns_lose_what_two_springs_about_a_hinge_lose(case):
    # Complex numbers for the plane, x aft and y up; right-handed about starboard turns y to x.
    arm, horn, length, lean, soft, start = 0.014, 0.014, 0.8, math.radians(20), 40e3, 20.0
    arms = np.array([1j, -1j]) * arm
    horns = horn * np.array(
        [math.sin(lean) + 1j * math.cos(lean), math.sin(lean) - 1j * math.cos(lean)]
    )
    hinge = arms[0] + length - horns[0]
    cables = np.abs(hinge + horns - arms)

    def tensions(servo, surface):
        apart = hinge + horns * cmath.exp(-1j * surface) - arms * cmath.exp(-1j * servo)
        return np.maximum(start + soft * (np.abs(apart) - cables), 0.0), apart

    def pull(surface, servo):
        """Moment of both cables about the hinge."""
        tension, apart = tensions(servo, surface)
        lever = np.imag(np.conj(horns * cmath.exp(-1j * surface)) * apart / np.abs(apart))
        return float((tension * lever).sum())

    def at_rest(servo):
        return brentq(pull, -0.6, 0.6, args=(servo,), xtol=1e-14)

    def too_long(servo, surface):
        """Of the first cable, which is taut under a positive moment."""
        return abs(tensions(servo, surface)[1][0]) - cables[0]

    throws = (math.radians(-20), math.radians(20))
    ends = [brentq(too_long, -0.6, 0.6, args=(throw,)) for throw in throws]
    least = min(tensions(servo, at_rest(servo))[0].min() for servo in np.linspace(*ends, 41))
    stage = (
        'kind = "cables", arm = "14 mm", horn = { radius = "14 mm", lean = "20 deg" }, '
        'length = "800 mm", preload = "20 N", stiffness = "40 N/mm"'
    )
    told = left(notes(case(stage)))
    assert 1.0 < least < 19.0  # some is lost, and not all
    assert told == pytest.approx([least, start - least], rel=6e-3)  # three digits are told


def test_cables_of_unknown_stiffness_tell_that_the_loss_is_not_known(case):
    assert "over the travel not known: stiffness not given" in notes(case(CABLES))


def test_cables_that_would_rather_turn_the_surface_over_are_told_to_reach_no_rest(case):
    # Of two springs at horns that lean away by b the moment per turn is 2 k (r cos b)^2 - 2 T r
    # sin b: here 2 x 500 x 0.007^2 - 2 x 100 x 0.014 x 0.866 = -2.4 N m/rad, which is no rest.
    stage = (
        'kind = "cables", arm = "14 mm", horn = { radius = "14 mm", lean = "60 deg" }, '
        'length = "800 mm", preload = "100 N", stiffness = "0.5 N/mm"'
    )
    assert "the cables reach no rest there" in notes(case(stage))
