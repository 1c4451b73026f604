"""The wire chooser against brute force over whole checks, hand figures, and its own rules."""

import itertools
import json
import math
import re
import subprocess
import sys

import pytest

import linkcalc
from linkcalc.errors import InputError
from linkcalc.physics import wire
from linkcalc.report.drop import least_paths
from linkcalc.report.wire_table import wire_document, wire_text
from linkcalc.study.drops import voltage_drops
from linkcalc.study.wires import WIRED_MODES, choose_wires, fitted

# An invented test rig: two servos on a trunk with a lead each, and one on a lead of its own.
FILE = """
format = "linkcalc.aircraft/1"
name = "wire rig"
supply = {{ voltage = "6 V", internal_resistance = "60 mohm", current_limit = "none" }}
[servos.s]
rows = [
    {{ voltage = "4.8 V", stall_torque = "200 mNm", no_load_speed = "0.2 s/60deg", stall_current = "1.5 A" }},
    {{ voltage = "6 V", stall_torque = "260 mNm", no_load_speed = "0.16 s/60deg", stall_current = "1.9 A" }},
]
[leads.trunk]
length = "1.5 m"
gauge = "{0}"
[leads.tip]
length = "1.2 m"
gauge = "{1}"
feed = "trunk"
[leads.tail]
length = "2 m"
gauge = "{2}"
{3}
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "{4} m/s"
[[runs]]
name = "outer"
servo = "s"
lead = "tip"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
[[runs]]
name = "inner"
servo = "s"
lead = "trunk"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "400 mm", chord = "45 mm", throw = "20 deg" }}
[[runs]]
name = "elevator"
servo = "s"
lead = "tail"
arm = "10 mm"
horn = "14 mm"
pushrod = "100 mm"
surface = {{ span = "380 mm", chord = "45 mm", throw = "20 deg" }}
"""
GAUGES = ("32 AWG", "28 AWG", "24 AWG", "20 AWG")


@pytest.fixture
def rig(tmp_path):
    def made(*gauges, tail="", speed=25):
        path = tmp_path / "rig.toml"
        path.write_text(FILE.format(*gauges, tail, speed), encoding="utf-8")
        return linkcalc.read_aircraft(path)

    return made


def holds(aircraft):
    """Tell whether a whole check finds every margin that wire has to do with zero or more."""
    margins = [
        margin
        for run in linkcalc.check(aircraft).runs
        for case in run.cases
        for margin in case.margins
        if margin.mode in WIRED_MODES and margin.applies
    ]
    return all(margin.margin is not None and margin.margin >= 0 for margin in margins)


def weight(gauges):
    """By hand: three wires to each of a trunk of 1.5 m, a tip lead of 1.2 m and a tail lead of 2 m."""
    total = 0.0
    for gauge, length in zip(gauges, (1.5, 1.2, 2.0), strict=True):
        section = math.pi / 4 * (0.127e-3 * 92 ** ((36 - int(gauge.split()[0])) / 39)) ** 2
        core = 1.15 * math.sqrt(4 * section / math.pi)
        cover = math.pi / 4 * ((core + 0.8e-3) ** 2 - core**2)
        total += 3 * length * (8890 * section + 1400 * cover)
    return total


@pytest.mark.parametrize("speed", [23, 26, 28])
def test_the_lightest_set_is_the_one_that_brute_force_finds(rig, speed):
    passing = [
        gauges for gauges in itertools.product(GAUGES, repeat=3) if holds(rig(*gauges, speed=speed))
    ]
    found = choose_wires(rig(*("26 AWG",) * 3, speed=speed), gauges=GAUGES)
    chosen = tuple(each.chosen for each in found.wires)
    if not passing:
        assert not found.passes
        assert chosen == (None, None, None)
        return
    best = min(passing, key=weight)
    assert chosen == best
    assert 0 < len(passing) < len(GAUGES) ** 3  # the rig asks a question
    assert sum(each.mass_chosen for each in found.wires) == pytest.approx(weight(best), rel=1e-9)


def test_alone_is_the_thinnest_with_the_others_as_they_are(rig):
    now = ("24 AWG", "24 AWG", "24 AWG")
    found = choose_wires(rig(*now, speed=26), gauges=GAUGES)
    for index, each in enumerate(found.wires):
        good = [
            gauge
            for gauge in GAUGES
            if holds(rig(*now[:index], gauge, *now[index + 1 :], speed=26))
        ]
        assert each.alone == (good[0] if good else None)  # the list runs from thin to thick


def test_what_no_wire_mends_is_told(rig):
    found = choose_wires(rig(*("26 AWG",) * 3, speed=60), gauges=GAUGES)
    assert not found.passes
    assert {run for _, run, _ in found.short} == {"outer", "inner", "elevator"}
    words = wire_text(found)
    assert "NO WIRE WILL DO" in words
    assert "With the thickest still short: torque" in words


def test_leads_alike_are_kept_alike():
    found = choose_wires(linkcalc.read_aircraft("examples/sandpiper_rewired.toml"))
    assert ("trunk_starboard", "trunk_port") in [each.leads for each in found.wires]
    assert found.passes_now
    assert found.exact


def test_a_bundle_that_does_not_pass_its_bore_is_not_chosen(rig):
    # By hand: three wires of 24 AWG are 1.15 x 0.5106 + 0.8 mm = 1.387 mm thick each. Side by side
    # they pass (1 + 2 / sqrt(3)) times that, 2.989 mm; the rule for any wires adds half a per cent.
    assert (
        pytest.approx(wire.insulated_diameter(wire.gauge_area(24)) * 1e3, abs=1e-4)
        == 1.15 * 0.5106 + 0.8
    )
    narrow = choose_wires(rig(*("24 AWG",) * 3, tail='bore = "2.98 mm"', speed=23), gauges=GAUGES)
    wide = choose_wires(rig(*("24 AWG",) * 3, tail='bore = "3.01 mm"', speed=23), gauges=GAUGES[2:])
    assert narrow.wires[2].chosen in {None, "32 AWG", "28 AWG"}
    assert wide.wires[2].fits
    plug = 'bore = "5 mm"\nconnector = ["7.8 mm", "2.6 mm"]'
    stuck = choose_wires(rig(*("24 AWG",) * 3, tail=plug, speed=23), gauges=GAUGES)
    assert not stuck.passes
    assert "do not pass the bore" in wire_text(stuck)


def test_balance_counts_the_distance_and_asks_for_it(rig):
    with pytest.raises(InputError, match=r"leads\.trunk\.balance_arm"):
        choose_wires(rig(*("24 AWG",) * 3), by="balance")
    with pytest.raises(InputError, match="'mass' or 'balance'"):
        choose_wires(rig(*("24 AWG",) * 3), by="price")


def test_a_gauge_that_is_none_is_refused_by_its_option(rig):
    with pytest.raises(InputError, match=r"^gauges: found '99 AWG'"):
        choose_wires(rig(*("24 AWG",) * 3), gauges=["26 AWG", "99 AWG"])


def test_the_command_prints_text_or_one_document():
    command = [sys.executable, "-m", "linkcalc.cli", "wires", "examples/sandpiper_rewired.toml"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    done = subprocess.run([*command, "--json"], capture_output=True, text=True, check=False)
    document = json.loads(done.stdout)
    assert document["schema"] == "linkcalc.wires/1"
    aircraft = linkcalc.read_aircraft("examples/sandpiper_rewired.toml")
    found = choose_wires(aircraft)
    paths = least_paths(voltage_drops(fitted(aircraft, found)))
    assert document == json.loads(json.dumps(wire_document(found, paths)))
    assert [path["run"] for path in document["paths"]] == [run.name for run in aircraft.runs]
    done = subprocess.run(
        [*command, "--gauges", "99 AWG"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2


def test_the_command_draws_into_a_file_or_says_why_not(tmp_path):
    command = [sys.executable, "-m", "linkcalc.cli", "wires", "examples/sandpiper_rewired.toml"]
    picture = tmp_path / "volts.svg"
    subprocess.run([*command, "--picture", str(picture)], capture_output=True, check=True)
    assert "<svg" in picture.read_text(encoding="utf-8")
    done = subprocess.run(
        [*command, "--picture", "volts.none"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "--picture" in done.stderr
    before = picture.read_bytes()
    again = [*command, "--picture", str(picture)]
    done = subprocess.run(again, capture_output=True, text=True, check=False)
    assert (done.returncode, "a name that is free" in done.stderr) == (2, True)
    assert picture.read_bytes() == before


def test_mass_counts_the_metal_and_the_return_conductor_that_are_given(rig):
    # By hand: power and signal of 26 AWG, the return of 22 AWG, clad aluminium of 3320 kg/m^3.
    tail = 'return_gauge = "22 AWG"\nmetal = "copper-clad aluminium"'
    found = choose_wires(rig(*("26 AWG",) * 3, tail=tail, speed=23), gauges=("26 AWG",))

    def metre(size):
        section = math.pi / 4 * (0.127e-3 * 92 ** ((36 - size) / 39)) ** 2
        core = 1.15 * math.sqrt(4 * section / math.pi)
        return 3320 * section + 1400 * math.pi / 4 * ((core + 0.8e-3) ** 2 - core**2)

    assert found.wires[2].mass_now == pytest.approx(2.0 * (2 * metre(26) + metre(22)), rel=1e-9)


def test_balance_is_told_as_mass_times_distance(tmp_path):
    # All leads half a metre aft: half of the mass in g is what they weigh in g·m.
    far = 'balance_arm = "0.5 m"'
    text = FILE.format("24 AWG", "24 AWG", "24 AWG", far, 23)
    for length in ("1.5 m", "1.2 m"):
        text = text.replace(f'length = "{length}"', f'length = "{length}"\n{far}')
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    found = choose_wires(linkcalc.read_aircraft(path), by="balance")
    words = " ".join(wire_text(found).split())
    mass, moment = (
        [
            float(number)
            for number in re.search(rf"{of} now ([\d.]+) g.*?together ([\d.]+) g", words).groups()
        ]
        for of in ("Mass", "centre of gravity")
    )
    assert moment == pytest.approx([0.5 * each for each in mass], rel=0.02)
    assert "in the order of balance" in words
