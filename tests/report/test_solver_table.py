"""What solvers say of themselves, in text."""

import math

import pytest

from linkcalc import solvers
from linkcalc.report.solver_table import described


def test_what_a_solver_takes_where_it_is_there_is_told():
    words = " ".join(described("lattice").split())
    assert "takes where it is there" in words
    optional = solvers.load("hinge moment", "lattice").optional
    assert all(name in words for name in optional)
    assert "takes where it is there" not in described("thin_aerofoil")


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((-math.inf, 2.0), "largest_incidence up to 2 rad"),
        ((0.5, math.inf), "largest_incidence from 0.5 rad"),
        ((0.5, 2.0), "largest_incidence 0.5 to 2 rad"),
    ],
)
def test_a_range_with_one_end_has_no_other(monkeypatch, ends, words):
    plate = solvers.load("hinge moment", "plate")
    monkeypatch.setattr(type(plate), "validity", {"largest_incidence": ends})
    assert words in described("plate")
