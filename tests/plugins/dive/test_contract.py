"""The dive's solver as the library meets it: found by name, called with arrays, checked."""

import numpy as np
import pytest

from linkcalc.errors import InputError, SolverError
from linkcalc.solvers import DIVE_FIELDS, DIVE_TABLES, DiveSolver, call_dive, load, names
from linkcalc_dive.point_mass import FIELDS, TABLES, PointMass
from tests.plugins.dive.described import fields, servo


def test_it_is_found_by_its_name_and_keeps_the_protocol():
    assert "point_mass" in names("dive")
    solver = load("dive", "point_mass")
    assert isinstance(solver, DiveSolver)
    assert dict(FIELDS) == DIVE_FIELDS
    assert TABLES == DIVE_TABLES


def test_the_library_calls_it_with_arrays_of_any_shape():
    offered = fields(
        start_speed=np.array([[20.0], [40.0]]), dive_angle=np.array([0.5, 1.0, 1.5]), ceiling=200.0
    )
    answer = call_dive(load("dive", "point_mass"), offered, servo(100.0))
    for name in ("terminal_speed", "height_lost", "reason", "minimum_height", "share_servo"):
        assert answer[name].shape == (2, 3), name


def test_no_dives_at_all_are_no_fault():
    for reach in (None, servo(50.0)):
        answer = call_dive(PointMass(), fields(start_speed=np.zeros(0)), reach)
        assert answer["height_lost"].shape == (0,)


def test_a_field_that_cannot_be_used_comes_through_as_it_is():
    with pytest.raises(InputError, match="mass"):
        call_dive(PointMass(), fields(mass=0.0), None)


@pytest.mark.parametrize(
    ("name", "value", "match"),
    [
        ("height_lost", np.zeros(3), r"shape \(3,\)"),
        ("height_lost", np.array(np.nan), "recovery without a finite 'height_lost'"),
        ("lowest_height", np.array(-1.0), "recovery below the ground"),
        ("reason", np.array(99), "no words"),
    ],
)
def test_an_answer_that_may_not_be_is_refused_by_the_solvers_name(name, value, match):
    class Wrong(PointMass):
        name = "wrong"

        def __call__(self, given, reach):
            return dict(super().__call__(given, reach)) | {name: value}

    with pytest.raises(SolverError, match=match):
        call_dive(Wrong(), fields(), None)


def test_a_solver_that_fails_is_told_by_its_name():
    class Failing(PointMass):
        name = "failing"

        def __call__(self, given, reach):  # noqa: ARG002 - it fails before
            raise ZeroDivisionError

    with pytest.raises(SolverError, match="'failing' failed: ZeroDivisionError"):
        call_dive(Failing(), fields(), None)
