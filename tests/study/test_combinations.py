"""The least margin of every combination, against a check of each, one after another."""

from __future__ import annotations

import io
import itertools
from pathlib import Path

import numpy as np
import pytest

import linkcalc
from linkcalc.study.combinations import combinations
from linkcalc.study.running import Workers
from linkcalc.study.space import Axis
from linkcalc.study.sweep import field_axis

EXAMPLES = Path(__file__).parents[2] / "examples"
RUN = "runs['outboard aileron, starboard']"


def servo(name, torque, rows=1, current=1.2):
    made = [
        linkcalc.DatasheetRow(
            voltage=f"{6.0 + 1.2 * k} V",
            stall_torque=f"{torque * (1 + 0.2 * k)} kg·cm",
            no_load_speed=f"{7 + k} rad/s",
            stall_current=f"{current * (1 + 0.1 * k)} A",
        )
        for k in range(rows)
    ]
    return linkcalc.Servo(name=name, rows=made, maximum_voltage="7.4 V")


SERVOS = [servo("a", 2.0), servo("b", 4.0, 2), servo("c", 9.0, 3, 2.5), servo("d", 5.0)]


def servo_axis(servos):
    def put(aircraft, at):
        first, *others = aircraft.runs
        return linkcalc.replace(aircraft, runs=[linkcalc.replace(first, servo=servos[at]), *others])

    return Axis("servo", tuple(each.name for each in servos), put)


ONE_ARRAY = io.BytesIO()
np.save(ONE_ARRAY, np.arange(3))  # a sound file of the library, but of one array

AXES = (
    servo_axis(SERVOS),
    field_axis(f"{RUN}.arm", ["7 mm", "12 mm"]),
    field_axis("leads.outboard_starboard.gauge", ["28 AWG", "22 AWG"]),
    field_axis(f"{RUN}.horn", ["9 mm", "15 mm"]),
)


@pytest.fixture(scope="module")
def glider():
    return linkcalc.read_aircraft(EXAMPLES / "sandpiper_rewired.toml")


@pytest.fixture(scope="module")
def found(glider):
    return combinations(glider, AXES)


def least(report):
    """Return the least margin of a report that applies, and what has it; a missing one is the least."""
    known = [
        (-np.inf if margin.margin is None else margin.margin, margin.mode, run.name, case.name)
        for run in report.runs
        for case in run.cases
        for margin in case.margins
        if margin.applies
    ]
    return min(known)


def test_least_margins_are_those_of_a_check(found):
    for at in itertools.product(*map(range, found.space.shape)):
        report = linkcalc.check(found.space.described(at))
        margin, *_ = least(report)
        ended = found.ended(at)
        assert found.margin[at] == pytest.approx(margin, rel=1e-12, abs=1e-12)
        run = next(run for run in report.runs if run.name == ended.run)
        case = next(case for case in run.cases if case.name == ended.case)
        assert case.margin(ended.mode).margin == pytest.approx(margin, rel=1e-12, abs=1e-12)
        assert found.passes()[at] == (report.verdict == "pass")


def test_some_pass_and_some_do_not(found):
    assert 0 < found.passes().sum() < found.space.size


def test_order_of_a_catalogue_changes_no_digit(glider, found):
    turned = combinations(glider, [servo_axis(SERVOS[::-1]), *AXES[1:]])
    np.testing.assert_array_equal(turned.margin[::-1], found.margin)


def test_order_of_axes_changes_no_digit(glider, found):
    turned = combinations(glider, [AXES[2], AXES[0], AXES[3], AXES[1]])
    np.testing.assert_array_equal(
        np.moveaxis(turned.margin, (0, 1, 2, 3), (2, 0, 3, 1)), found.margin
    )


@pytest.mark.parametrize("at_once", [1, 61 * 18 * 9])
def test_blocks_and_processes_change_no_digit(glider, found, at_once, monkeypatch):
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", at_once)
    np.testing.assert_array_equal(combinations(glider, AXES).margin, found.margin)
    other = combinations(glider, AXES, workers=Workers(jobs=2))
    np.testing.assert_array_equal(other.margin, found.margin)


def test_blocks_with_other_loads_change_no_digit(glider, monkeypatch):
    axes = [field_axis(f"{RUN}.arm", ["7 mm", "8 mm", "9 mm", "11 mm", "12 mm"]), AXES[0]]
    whole = combinations(glider, axes)
    assert len(set(whole.margin[:, 1])) > 1
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", 1)
    for one, other in zip(combinations(glider, axes).found, whole.found, strict=True):
        np.testing.assert_array_equal(one, other)


def test_an_interruption_keeps_what_is_done(glider, found, monkeypatch):
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", 1)

    def stop(done, total):
        assert total == found.space.size
        if done >= total // 2:
            raise KeyboardInterrupt

    part = combinations(glider, AXES, progress=stop)
    done = np.isfinite(part.margin)
    assert not part.complete
    assert done.sum() == found.space.size // 2
    np.testing.assert_array_equal(part.margin[done], found.margin[done])


def test_what_is_kept_is_not_worked_again_and_changes_no_digit(
    glider, found, monkeypatch, tmp_path
):
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", 1)
    kept = tmp_path / "kept.npz"

    def stop(done, total):
        if done >= total // 2:
            raise KeyboardInterrupt

    part = combinations(glider, AXES, progress=stop, keep=kept)
    assert not part.complete
    counts = []
    whole = combinations(
        glider, AXES, progress=lambda done, total: counts.append((done, total)), keep=kept
    )
    assert whole.complete
    assert counts[0][0] > part.worked.sum() == part.space.size // 2
    assert counts[-1] == (part.space.size, part.space.size)
    for one, other in zip(whole.found, found.found, strict=True):
        np.testing.assert_array_equal(one, other)
    again = combinations(glider, AXES, progress=pytest.fail, keep=kept)
    np.testing.assert_array_equal(again.margin, found.margin)


@pytest.mark.parametrize(
    "content", [b"", b"no archive", b"PK\x03\x04 broken", ONE_ARRAY.getvalue()]
)
def test_a_file_that_was_not_kept_is_refused(glider, content, tmp_path):
    path = tmp_path / "kept.npz"
    path.write_bytes(content)
    with pytest.raises(linkcalc.InputFaults, match="an earlier run of the same study"):
        combinations(glider, AXES, keep=path)
    assert path.read_bytes() == content


def test_what_was_kept_of_another_question_is_refused(glider, tmp_path):
    path = tmp_path / "kept.npz"
    combinations(glider, AXES[1:2], keep=path)
    with pytest.raises(linkcalc.InputFaults, match="another study"):
        combinations(glider, [field_axis(f"{RUN}.arm", ["7 mm", "11 mm"])], keep=path)
    faster = linkcalc.replace(
        glider, cases=[linkcalc.replace(glider.cases[0], speed="91 km/h"), *glider.cases[1:]]
    )
    with pytest.raises(linkcalc.InputFaults, match="another study"):
        combinations(faster, AXES[1:2], keep=path)


@pytest.mark.parametrize("named", [False, True])
def test_a_cluster_of_two_processes_changes_no_digit(glider, found, monkeypatch, cluster, named):
    monkeypatch.setattr("linkcalc.study.combinations._AT_ONCE", 61 * 18 * 4)
    assert len(cluster.scheduler_info()["workers"]) == 2
    where = cluster.scheduler.address if named else cluster
    other = combinations(glider, AXES, workers=Workers(cluster=where))
    for one, whole in zip(other.found, found.found, strict=True):
        np.testing.assert_array_equal(one, whole)


def test_wanted_combinations_alone_are_worked_and_are_the_same(glider, found, monkeypatch):
    wanted = np.zeros(found.margin.shape, dtype=np.bool_)
    wanted[1, 0, :, 1] = wanted[3, 1, 1, 0] = True
    monkeypatch.setattr("linkcalc.study.combinations._SPARSE", 1.0)
    some = combinations(glider, AXES, wanted=wanted)
    assert some.complete
    np.testing.assert_array_equal(some.worked, wanted)
    np.testing.assert_array_equal(some.margin[wanted], found.margin[wanted])
    assert np.isneginf(some.margin[~wanted]).all()


def test_a_run_that_is_alone_has_its_margins_among_a_thousand_loads(glider):
    weak = linkcalc.replace(glider.runs[0], servo=servo("weak", 3.0, current=3.0))
    case = linkcalc.replace(glider.cases[0], runs=[], wanted_rate="1 deg/s")
    alone = linkcalc.replace(glider, runs=[weak], cases=[case])
    axes = [
        field_axis(f"{RUN}.arm", [f"{7 + 0.2 * place} mm" for place in range(30)]),
        field_axis(f"{RUN}.servo.rows[0].stall_torque", [f"{3 + k / 40} kg·cm" for k in range(40)]),
    ]
    found = combinations(alone, axes)
    assert "torque" in {found.ended(at).mode for at in itertools.product((0, 13, 29), (0, 39))}
    for at in ((0, 0), (29, 39), (13, 7), (4, 31)):
        margin, mode, *_ = least(linkcalc.check(found.space.described(at)))
        assert found.margin[at] == pytest.approx(margin, rel=1e-12, abs=1e-12)
        assert found.ended(at).mode == mode
