"""Every solver from an aircraft file (invented) to a margin, with what a file can say of a surface."""

import json
import math
import subprocess
import sys

import pytest

import linkcalc
from linkcalc.evaluation.gather import gather
from linkcalc.solver_fields import STATION_FIELDS
from linkcalc.study.methods import compare_methods
from linkcalc.study.paths import placed
from linkcalc.study.uncertain import UncertainAircraft

FILE = """
format = "linkcalc.aircraft/1"
name = "Sanderling (invented)"
[supply]
voltage = "6 V"
current_limit = "none"
[servos.tail]
rows = [{{ voltage = "6.0 V", stall_torque = "5 kg·cm", no_load_speed = "0.13 s/60deg", stall_current = "1.3 A" }}]
[[cases]]
name = "fast"
kind = "manoeuvre"
speed = "{speed}"
incidence = "4 deg"
[[runs]]
name = "elevator"
servo = "tail"
arm = "10 mm"
horn = "16 mm"
pushrod = "300 mm"
[runs.surface]
span = "250 mm"
chord = "45 mm"
throw = "{throw}"
{surface}
"""

PLAIN = "chord_ratio = 0.3"
PLANFORM = (
    PLAIN
    + """
solver = "lattice"
planform = { half_span = "250 mm", root_chord = "160 mm", tip_chord = "140 mm", sweep = "3 deg" }
"""
)
BY_STATIONS = (
    PLAIN
    + """
solver = "lattice"
planform.stations = [
    { y = "0 mm", leading_edge = "0 mm", chord = "160 mm", hinge = "112 mm" },
    { y = "180 mm", leading_edge = "8 mm", chord = "152 mm ± 2 mm", hinge = "106 mm" },
    { y = "250 mm", leading_edge = "24 mm", chord = "130 mm", hinge = "91 mm" },
]
"""
)
HANDBOOK = (
    PLAIN
    + """
solver = "handbook"
thickness_ratio = 0.09
aspect_ratio = 3.3
"""
)
CAMBERED = (
    PLAIN
    + """
camber_line = [{ x = 0, z = 0 }, { x = 0.3, z = 0.015 }, { x = 0.7, z = 0.015 }, { x = 1, z = 0 }]
"""
)


@pytest.fixture
def check(tmp_path):
    def run(surface, speed="30 m/s", throw="15 deg"):
        file = tmp_path / "sanderling.toml"
        file.write_text(FILE.format(surface=surface, speed=speed, throw=throw), encoding="utf-8")
        return linkcalc.check(file).runs[0].cases[0]

    return run


def moment(case):
    return case.values["hinge moment"]


@pytest.mark.parametrize(
    "surface",
    [
        PLAIN,
        PLANFORM,
        BY_STATIONS,
        HANDBOOK,
        CAMBERED,
        PLAIN + "\noverhang = 0.3",
        "hinge_position = 0.22",
    ],
    ids=["plain", "lattice", "stations", "handbook", "camber", "overhang", "all-moving"],
)
def test_a_surface_gets_a_margin(check, surface):
    case = check(surface)
    assert case.margin("torque").margin is not None
    assert case.margin("torque").plain > case.margin("torque").margin


def test_span_and_charts_change_the_plain_margin_and_not_the_verdict(check):
    plain = check(PLAIN).margin("torque")
    for surface in (PLANFORM, BY_STATIONS, HANDBOOK, PLAIN + "\naspect_ratio = 3.3"):
        other = check(surface).margin("torque")
        assert other.margin == pytest.approx(plain.margin, rel=1e-6)
        assert other.plain > plain.plain


def test_credit_for_span_is_given_when_asked_for_and_told(check):
    plain, asked = check(PLAIN), check(PLAIN + '\naspect_ratio = 3.3\ncredit = "span"')
    assert asked.margin("torque").margin > plain.margin("torque").margin
    assert any("credit for the aspect ratio of 3.3" in note for note in asked.notes)


def test_credit_that_a_solver_does_not_take_is_told(check):
    known = (
        PLAIN
        + '\naspect_ratio = 3.3\ncoefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
    )
    plain, asked = check(known), check(known + '\ncredit = "span and incidence"')
    assert asked.margin("torque").margin == plain.margin("torque").margin
    told = [note for note in asked.notes if "credit" in note]
    assert len(told) == 2
    assert all("the solver 'coefficients' takes none" in note for note in told)


def test_camber_asks_for_more_of_the_verdict(check):
    assert check(CAMBERED).margin("torque").margin < check(PLAIN).margin("torque").margin


@pytest.mark.parametrize(("throw", "more"), [("15 deg", False), ("6 deg", True)])
def test_a_small_slow_surface_bears_relatively_more_near_neutral(check, throw, more):
    # At 12 m/s with a chord of 150 mm the Reynolds number is below 2e5: 0.05 in C_h to 8 degrees,
    # nothing from 10 degrees on. At 48 m/s it is not.
    fast, slow = (
        abs(moment(check(PLAIN, speed=f"{speed} m/s", throw=throw)).value) for speed in (48, 12)
    )
    per_pressure = 0.5 * 1.225 * 12.0**2 * 0.25 * 0.045**2
    extra = 0.05 * per_pressure if more else 0.0
    assert slow - fast / 16.0 == pytest.approx(extra, rel=1e-3, abs=1e-9)


def test_beyond_a_chart_the_report_says_so(check):
    case = check(HANDBOOK.replace("0.09", "0.2"))
    assert any("thickness ratio 0.2, good from 0 to 0.15" in note for note in case.notes)


@pytest.mark.parametrize(
    ("surface", "word"),
    [
        (PLAIN + '\nsolver = "lattice"', "planform"),
        (PLAIN + '\nsolver = "handbook"', "thickness_ratio"),
        (PLANFORM.replace("250 mm", "200 mm"), "ends 0.25 m from the root"),
        (PLANFORM.replace("160 mm", "320 mm"), "chord"),
        (PLANFORM.replace("chord_ratio = 0.3", ""), "chord_ratio"),
        (CAMBERED + "C_h0 = 0.01", "one of them"),
        (PLAIN + '\ncredit = "span"', "aspect_ratio"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(check, surface, word):
    with pytest.raises(linkcalc.InputFaults, match=word):
        check(surface)


def test_the_default_path_loads_no_scipy(tmp_path):
    file = tmp_path / "sanderling.toml"
    text = FILE.format(surface=CAMBERED, speed="30 m/s", throw="15 deg")
    file.write_text(text, encoding="utf-8")
    code = (
        "import sys, linkcalc; linkcalc.check(sys.argv[1]); "
        "print([name for name in ('scipy', 'sympy', 'matplotlib', 'xarray') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


# --- a planform by stations


@pytest.fixture
def file(tmp_path):
    def of(surface, runs=1):
        text = FILE.format(surface=surface, speed="30 m/s", throw="15 deg")
        head, run = text.split("[[runs]]")
        path = tmp_path / "sanderling.toml"
        path.write_text(
            head + "".join("[[runs]]" + run.replace("elevator", f"run {i}") for i in range(runs)),
            encoding="utf-8",
        )
        return path

    return of


def test_a_trapezoid_by_stations_is_the_trapezoid_from_the_file_to_the_report(check):
    # 3 degrees of sweep: the quarter-chord line goes back by 250 mm tan(3 deg) = 13.10 mm, and
    # the leading edge by a quarter of what the chord loses more
    back = 250.0 * math.tan(math.radians(3.0)) + 0.25 * (160.0 - 140.0)
    drawn = BY_STATIONS[: BY_STATIONS.index("planform")] + (
        'planform.stations = [{ y = "0 mm", leading_edge = "0 mm", chord = "160 mm", hinge = "112 mm" }, '
        f'{{ y = "250 mm", leading_edge = "{back!r} mm", chord = "140 mm", hinge = "98 mm" }}]'
    )
    one, other = check(PLANFORM), check(drawn)
    for name in ("value", "low", "high"):
        assert getattr(moment(other), name) == pytest.approx(getattr(moment(one), name), rel=1e-12)
    torque = one.margin("torque")
    assert other.margin("torque").plain == pytest.approx(torque.plain, rel=1e-12)


def test_aircraft_without_stations_carry_no_fields_of_stations(file):
    for surface, some in ((PLAIN, False), (PLANFORM, False), (BY_STATIONS, True)):
        surfaces = gather(linkcalc.read_aircraft(file(surface))).inputs.surfaces
        assert any(name in STATION_FIELDS for name in surfaces.fields) is some


def test_other_solvers_get_the_trapezoid_that_comes_near_to_the_stations(file):
    fields = gather(linkcalc.read_aircraft(file(BY_STATIONS))).inputs.surfaces.fields
    assert [fields[name][0] for name in ("half_span", "root_chord", "tip_chord")] == [
        0.25, 0.16, 0.13,
    ]  # fmt: skip
    # quarter-chord line: 40 mm back at the root, 24 + 32.5 mm at the tip
    assert math.tan(fields["sweep"][0]) == pytest.approx((24.0 + 32.5 - 40.0) / 250.0, rel=1e-12)


def test_surfaces_with_and_without_stations_fly_in_one_aircraft(file, check):
    path = file(BY_STATIONS, runs=2)
    text = path.read_text(encoding="utf-8")
    first, last = text.rsplit(BY_STATIONS, 1)
    path.write_text(first + PLANFORM + last, encoding="utf-8")
    report = linkcalc.check(path)
    for run, surface in zip(report.runs, (BY_STATIONS, PLANFORM), strict=True):
        alone = check(surface).margin("torque").plain
        assert run.cases[0].margin("torque").plain == pytest.approx(alone, rel=1e-9)


def test_methods_give_every_solver_what_a_planform_by_stations_tells(file):
    found = {each.solver: each for each in compare_methods(file(BY_STATIONS)).estimates}
    assert found["lattice"].used
    assert found["lattice"].reason is None
    best = {name: abs(found[name].best) for name in ("lattice", "thin_aerofoil")}
    assert 0.5 * best["thin_aerofoil"] < best["lattice"] < best["thin_aerofoil"]


def test_a_station_has_a_place_for_sweeps_and_tolerances(file):
    aircraft = linkcalc.read_aircraft(file(BY_STATIONS))
    where = "runs['run 0'].surface.planform.stations[1].chord"
    wider = placed(aircraft, where, "158 mm")
    changed = wider.runs[0].linkages[0].surface.planform.stations[1]
    assert changed.chord.m_as("mm") == pytest.approx(158.0)
    uncertain = UncertainAircraft(aircraft, defaults=False)
    (quantity,) = uncertain.quantities
    assert quantity.place == where
    low, high = (uncertain.at({where: chord}) for chord in (0.150, 0.154))
    margins = [
        linkcalc.check(each).runs[0].cases[0].margin("torque").plain
        for each in (low, aircraft, high)
    ]
    assert min(margins[0], margins[2]) < margins[1] < max(margins[0], margins[2])


@pytest.mark.parametrize("command", ["check", "methods"])
def test_commands_tell_a_planform_by_stations_in_json(file, command):
    done = subprocess.run(
        [sys.executable, "-m", "linkcalc.cli", command, str(file(BY_STATIONS)), "--json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    assert json.loads(done.stdout)["aircraft"] == "Sanderling (invented)"


def test_what_is_wrong_with_stations_ends_the_command_with_2_and_no_traceback(file):
    path = file(BY_STATIONS.replace('y = "180 mm"', 'y = "280 mm"'))
    done = subprocess.run(
        [sys.executable, "-m", "linkcalc.cli", "check", str(path)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "Traceback" not in done.stderr + done.stdout
    assert "planform.stations[2].y" in done.stderr + done.stdout
