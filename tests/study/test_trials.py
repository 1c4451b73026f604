"""Changes are tried with what works: solvers that fail are left out, aircraft that are none are nan."""

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import SolverError
from linkcalc.results import MODES
from linkcalc.solvers import load
from linkcalc.study.trials import Trials
from tests.evaluation.test_every_mode import aircraft


@pytest.fixture
def broken(monkeypatch):
    def of(kind, name):
        def fails(*_):
            raise ZeroDivisionError

        monkeypatch.setattr(type(load(kind, name)), "__call__", fails)

    return of


def known(trials):
    margins = trials.base.margins[:, 0, 0]
    return {mode for mode, margin in zip(MODES, margins, strict=True) if np.isfinite(margin)}


def test_all_solvers_that_fail_are_left_out_one_after_another(broken):
    sound = known(Trials(aircraft()))
    assert {"torque", "voltage", "travel"} <= sound
    broken("hinge moment", "coefficients")
    assert "torque" not in known(Trials(aircraft()))
    broken("supply", "tree")
    left = known(Trials(aircraft()))
    assert "travel" in left
    assert not {"torque", "voltage"} & left


def test_an_aircraft_that_its_own_rules_refuse_has_no_margins():
    trials, made = Trials(aircraft()), aircraft()
    run = made.runs[0]
    arm, horn = (
        {"pivot": [far, "0 m", "0 m"], "axis": [0, 1, 0], "vector": ["0 m", "0 m", "15 mm"]}
        for far in ("0 m", "200 mm")
    )
    never = linkcalc.replace(  # a rod of a millimetre between joints that are 200 mm apart
        run.linkages[0],
        arm=linkcalc.ServoArm(**arm),
        horn=linkcalc.ControlHorn(**horn),
        pushrod=linkcalc.Pushrod(length="1 mm", diameter="2 mm"),
    )
    shut = linkcalc.replace(run, linkages=[never])
    margins = trials.margins(linkcalc.replace(made, runs=[shut]))
    assert margins.shape == trials.base.margins.shape
    assert np.isnan(margins).all()


def test_a_failure_that_names_no_solver_is_passed_on(monkeypatch):
    def lost(*_):
        raise SolverError("nobody knows whose")

    monkeypatch.setattr(Trials, "_evaluated", lost)
    with pytest.raises(SolverError, match="nobody knows whose"):
        Trials(aircraft())
