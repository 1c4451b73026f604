"""Samples that several processes work, and what is sought beside them."""

import math
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.report.document import dumped
from linkcalc.report.tolerance_text import tolerance_document, tolerance_text
from linkcalc.study.samples import ANY, OneByOne
from linkcalc.study.sharing import Shared
from linkcalc.study.tolerance import tolerance
from linkcalc.study.uncertain import UncertainAircraft
from linkcalc.tolerances.points import Points

# An invented glider.
FILE = """
format = "linkcalc.aircraft/1"
name = "Plover"
supply = { voltage = "6.0 V ± 0.2 V", internal_resistance = "40 mohm", current_limit = "10 A" }
tolerances = { defaults = "off" }

[servos.wing]
rows = [{ voltage = "6.0 V", stall_torque = "3.2 kg·cm ± 10 % (normal, 2 s)", no_load_speed = "0.12 s/60deg", stall_current = "1.4 A" }]
maximum_voltage = "6.6 V"

[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "38 m/s ± 4 m/s"

[[runs]]
name = "aileron"
servo = "wing"
arm = "10 mm ± 0.3 mm"
horn = "14 mm"
pushrod = "110 mm"
surface = { span = "400 mm", chord = "40 mm", chord_ratio = 0.24, throw = "18 deg" }
"""


@pytest.fixture
def plover(tmp_path):
    path = tmp_path / "plover.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def slower(plover, speed="24 m/s ± 4 m/s (normal, 2 s)"):
    plover.write_text(FILE.replace("38 m/s ± 4 m/s", speed), encoding="utf-8")
    return plover


def test_shared_samples_are_what_they_are_one_by_one_and_refusals_are_counted(plover):
    uncertain = UncertainAircraft(linkcalc.read_aircraft(plover))
    values = uncertain.inputs.values(Points(len(uncertain.inputs)).scores(0, 50))
    values["supply.voltage"][[3, 40]] = -1.0
    alone = OneByOne(uncertain)
    expected = alone(values)
    with Shared(uncertain) as here, Shared(uncertain, jobs=2) as shared:
        one, other = here(values), shared(values)
        assert here.refused == shared.refused == alone.refused
    for name, margins in expected.items():
        assert one[name] == pytest.approx(margins, rel=1e-9, abs=1e-12, nan_ok=True)
        assert np.array_equal(one[name], other[name], equal_nan=True)


@pytest.mark.parametrize("jobs", [0, 65])
def test_a_number_of_processes_that_is_none_is_refused(plover, jobs):
    with pytest.raises(InputError, match="processes"):
        tolerance(plover, jobs=jobs)


def test_processes_change_no_digit_of_anything(plover):
    slower(plover)
    settings = {"samples": 64, "precision": 0.2, "speeds": True, "rare": True, "indices": 64}
    one, two = (tolerance(plover, **settings, jobs=jobs) for jobs in (1, 2))
    assert dumped(tolerance_document(one)) == dumped(tolerance_document(two))
    key = "aileron", "turn", "torque"
    assert np.array_equal(one.indices[key].first_interval, two.indices[key].first_interval)
    assert one.rare.keys() == two.rare.keys()


def test_indices_of_a_margin_of_one_input_are_one_and_those_of_torque_add_up(plover):
    found = tolerance(plover, samples=64, precision=0.2, indices=256)
    volts = found.indices["aileron", "turn", "over-voltage"]  # 6.6 V over the supply's, less one
    place = volts.factors.index(("supply.voltage",))
    assert volts.first_interval[place, 0] <= 1 <= volts.first_interval[place, 1]
    assert np.delete(volts.total, place) == pytest.approx(0, abs=1e-12)
    torque = found.indices["aileron", "turn", "torque"]
    assert torque.evaluations == 256 * 6
    # nearly a sum: indices are those of the law of propagation, within their own intervals
    linear = dict(found.shares("aileron", "turn", "torque"))
    assert len(linear) == len(torque.factors) == 4
    for factor, (low, high) in zip(torque.factors, torque.first_interval, strict=True):
        assert low - 0.02 < linear[factor] < high + 0.02
    assert found.whole_indices is not None
    assert "(by Sobol indices)" in found.advice[0]
    assert found.advice[0].startswith(ANY)


def test_a_rare_shortfall_has_the_chance_of_the_closed_form(plover):
    # torque margin = torque / need - 1, and only the torque varies: normal, 5 % deviation
    text = FILE.replace(" ± 0.2 V", "").replace("38 m/s ± 4 m/s", "34 m/s").replace(" ± 0.3 mm", "")
    plover.write_text(text, encoding="utf-8")
    found = tolerance(plover, samples=64, precision=0.2, rare=True)
    key = "aileron", "turn", "torque"
    assert found.margins[key].chance.events == 0
    rare = found.rare[key]
    margin = found.margins[key].local.value
    # of the torque, scaled by 1 + 0.05 u: short where (1 + margin)(1 + 0.05 u) < 1
    distance = (1 - 1 / (1 + margin)) / 0.05
    assert rare.first_order.distance == pytest.approx(distance, rel=1e-6)
    assert rare.sampled.low <= 0.5 * math.erfc(distance / math.sqrt(2)) <= rare.sampled.high


def test_a_placard_speed_that_nothing_ends_is_above_all_others(plover):
    # hardly any surface: the air that a model can meet does not stop it
    text = FILE.replace('span = "400 mm", chord = "40 mm"', 'span = "4 mm", chord = "4 mm"')
    plover.write_text(text, encoding="utf-8")
    found = tolerance(plover, samples=64, precision=0.3, speeds=True)
    placard = found.placard_speeds["aileron", "turn"]
    assert placard.quantile(0.01).value == placard.quantile(0.99).value == math.inf
    assert "no limit" in tolerance_text(found)
    told = tolerance_document(found)["placard_speeds"][0]
    assert told["no_limit"] == 64
    assert told["quantiles"][0]["value"] is None


def test_all_that_takes_long_tells_how_far_it_is(plover):
    told = []
    tolerance(plover, samples=64, indices=64, progress=lambda *at: told.append(at))
    kinds = list(dict.fromkeys(words for words, _, _ in told))
    assert kinds == ["evaluations for slopes", "samples", "evaluations for Sobol indices"]
    for kind in kinds:
        done = [(at, most) for words, at, most in told if words == kind]
        assert done == sorted(done)
        assert done[-1][0] == done[-1][1]
    assert told[0][2] == 1 + 2 * 3 * 4  # three steps up and down of each of four inputs


def test_few_points_for_indices_are_refused_before_any_work(plover):
    told = []
    with pytest.raises(InputError, match="64"):
        tolerance(plover, indices=63, progress=lambda *at: told.append(at))
    assert told == []


@pytest.mark.parametrize("words", ["samples", "evaluations for Sobol indices", "runs searched"])
def test_the_keyboard_keeps_what_is_done_in_every_part(plover, words):
    slower(plover)

    def stop(what, done, most):
        assert 0 <= done <= most
        if what.startswith(words) and done >= (64 if words == "samples" else 0):
            raise KeyboardInterrupt

    found = tolerance(plover, samples=256, precision=0.001, indices=256, rare=True, progress=stop)
    assert found.interrupted
    assert found.number >= 32
    if words == "runs searched":
        assert found.rare == found.indices == {}
        assert found.number == 256
    if words.startswith("evaluations"):
        assert len(found.rare) == 1
        assert found.whole_indices is None or found.whole_indices.number < 256


@pytest.mark.skipif(os.name != "posix", reason="a signal to a group of processes")
@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_stopped_command_tells_what_it_has_and_leaves_no_process(plover, jobs):
    command = [sys.executable, "-m", "linkcalc.cli", "tolerance", str(plover)]
    options = ["--samples", "1048576", "--precision", "0.00001", "--jobs", jobs]
    process = subprocess.Popen(
        [*command, *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(8)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "stopped by the keyboard" in " ".join(out.split())
    assert err == ""
    with pytest.raises(ProcessLookupError):
        wait_for_the_end(process.pid)


def wait_for_the_end(group):
    """Look for processes of a group; what watches the workers ends a moment after them."""
    for _ in range(100):
        os.killpg(group, 0)
        time.sleep(0.1)


def test_the_text_shows_slopes_indices_and_rare_shortfalls_in_80_columns(plover):
    found = tolerance(plover, samples=64, precision=0.3, indices=64, rare=True, speeds=True)
    words = tolerance_text(found)
    assert all(len(line) <= 80 for line in words.splitlines())
    plain = " ".join(words.split())
    assert "from 64 points, 384 evaluations" in plain  # four tolerances, and two more each
    assert "every run had one in a sample" in plain
    local = found.margins["aileron", "turn", "torque"].local
    place = local.names.index("cases['turn'].speed")
    each = (local.per_percent[place], local.per_tolerance[place])
    assert " ".join(f"{value:+.2g}" for value in each) + " cases['turn'].speed" in plain
    rare = tolerance(slower(plover), samples=64, precision=0.3, rare=True)
    assert "aileron, turn: " in " ".join(tolerance_text(rare).split())


def run(plover, *options):
    command = [sys.executable, "-m", "linkcalc.cli", "tolerance", str(plover)]
    few = ["--samples", "64", "--precision", "0.3"]
    return subprocess.run([*command, *few, *options], capture_output=True, text=True, check=False)


def test_the_command_draws_the_least_sure_margin_or_the_named_one(plover, tmp_path):
    picture = tmp_path / "spread.svg"
    made = run(plover, "--picture", str(picture), "--indices", "64")
    assert made.returncode == 1, made.stderr
    first = picture.read_text(encoding="utf-8")
    assert "<svg" in first
    named = run(plover, "--picture", str(picture), "--force", "--margin", "aileron / turn / travel")
    assert named.returncode == 1, named.stderr
    assert picture.read_text(encoding="utf-8") != first


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--margin", "aileron / turn / torque"], "--picture"),
        (["--picture", "x.svg", "--margin", "aileron / turn / torq"], "'aileron / turn / torque'"),
        (["--picture", "x.jpg"], ".svg, .png or .pdf"),
        (["--picture", "{plover}.svg"], "a name that is free"),
        (["--indices", "5"], "64"),
        (["--jobs", "0"], "processes"),
    ],
)
def test_what_cannot_be_asked_is_refused_before_the_work(plover, options, words):
    (plover.parent / "plover.toml.svg").write_text("", encoding="utf-8")
    made = run(plover, *(each.format(plover=plover) for each in options))
    assert made.returncode == 2
    assert words in " ".join(made.stderr.split())
    assert made.stdout == ""
