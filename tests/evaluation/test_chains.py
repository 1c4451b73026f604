"""Linkages that are chains, from a file to margins, against loops closed by a root finder."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

import linkcalc
from linkcalc.evaluation.axes import inserted
from linkcalc.evaluation.chains import Mixed
from linkcalc.evaluation.evaluate import evaluate, prepare
from linkcalc.evaluation.factors import both, factors
from linkcalc.evaluation.gather import gather
from linkcalc.evaluation.linkage import position
from linkcalc.mechanism.cables import make_cables
from linkcalc.mechanism.chain import make_chain
from linkcalc.study.trials import resolution
from linkcalc.testing.aircraft import aircraft
from tests.evaluation import chains_apart as apart

DEG = math.pi / 180
SLOPE = -0.6  # C_h_delta of all surfaces here [1/rad]
SPAN, CHORD = 0.3, 0.05
SPEED, DENSITY = 30.0, 1.2
STIFFNESS = 0.5 * DENSITY * SPEED**2 * SPAN * CHORD**2 * SLOPE  # moment per deflection [N m/rad]
THROW = 20 * DEG

HEAD = f"""
format = "linkcalc.aircraft/1"
name = "Invented: a survey glider on the bench"
[supply]
voltage = "6 V"
current_limit = "none"
[servos.one]
rows = [{{ voltage = "6 V", stall_torque = "400 mNm", no_load_speed = "0.1 s/60deg", stall_current = "1 A" }}]
travel = "55 deg"
[[cases]]
name = "turn"
speed = "{SPEED} m/s"
density = "{DENSITY} kg/m^3"
deflection = ["-20 deg", "20 deg"]
[[runs]]
name = "surface"
servo = "one"
efficiency = 1
surface = {{ plane = "level", span = "{SPAN} m", chord = "{CHORD} m", throw = "20 deg", coefficients = {{ C_h_alpha = "0 1/rad", C_h_delta = "{SLOPE} 1/rad" }} }}
"""

BELLCRANK = (
    """
stages = [
    { kind = "pushrod", arm = { radius = "10 mm", lean = "5 deg" }, horn = "14 mm", pushrod = "120 mm", joint_rating = "200 N" },
    { kind = "pushrod", arm = "16 mm", horn = { radius = "13 mm", lean = "-8 deg" }, pushrod = { length = "300 mm", diameter = "3 mm", material = "carbon rod" }, turn = "70 deg", joint_rating = "80 N" },
]
""",
    lambda: apart.in_plane(
        [
            (0.010, 5 * DEG, 0.120, 0.014, 0.0, 0.0),
            (0.016, 0.0, 0.300, 0.013, -8 * DEG, 70 * DEG),
        ]
    ),
)
TORQUE_ROD = (
    """
stages = [
    { kind = "pushrod", arm = "9 mm", horn = "12 mm", pushrod = "110 mm" },
    { kind = "torque rod", length = "80 mm", diameter = "3 mm", shear_modulus = "80 GPa" },
]
""",
    lambda: [*apart.in_plane([(0.009, 0.0, 0.110, 0.012, 0.0, 0.0)]), apart.Shaft()],
)
CABLES = (
    """
stages = [
    { kind = "cables", arm = { radius = "14 mm", lean = "4 deg" }, horn = { radius = "17 mm", lean = "-6 deg" }, length = "800 mm", joint_rating = "60 N" },
]
""",
    lambda: [cables(0.014, 4 * DEG, 0.800, 0.017, -6 * DEG)],
)
DRIVE = ('\nstages = [{ kind = "direct drive" }]\n', lambda: [apart.Shaft()])
IN_SPACE = (
    """
stages = [
    { kind = "pushrod", arm = { pivot = ["0 m", "0 m", "0 m"], axis = [0.2, 0, 1], vector = ["0 mm", "12 mm", "0 mm"] }, horn = { pivot = ["200 mm", "5 mm", "0 mm"], axis = [0, 0, 1], vector = ["1 mm", "14 mm", "0 mm"] } },
    { kind = "pushrod", arm = { pivot = ["200 mm", "5 mm", "0 mm"], axis = [0, 0, 1], vector = ["15 mm", "0 mm", "0 mm"] }, horn = { pivot = ["215 mm", "250 mm", "-13 mm"], axis = [0.1, 1, 0], vector = ["0 mm", "0 mm", "13 mm"] } },
]
""",
    lambda: [
        apart.Rod((0, 0, 0), (0.2, 0, 1), (0, 0.012, 0), (0.2, 0.005, 0), (0, 0, 1), (0.001, 0.014, 0)),
        apart.Rod((0.2, 0.005, 0), (0, 0, 1), (0.015, 0, 0), (0.215, 0.25, -0.013), (0.1, 1, 0), (0, 0, 0.013)),
    ],
)  # fmt: skip
KINDS = {
    "bellcrank": BELLCRANK,
    "torque rod": TORQUE_ROD,
    "cables": CABLES,
    "direct drive": DRIVE,
}


def cables(arm, arm_lean, length, horn, horn_lean):
    """Two cables of which the second lies on the other side, leaning the same way."""

    def end(radius, lean, side):
        return (radius * math.sin(lean), 0.0, side * radius * math.cos(lean))

    first = apart.in_plane([(arm, arm_lean, length, horn, horn_lean, 0.0)])[0]
    across = (0.0, 1.0, 0.0)
    second = apart.Rod(
        (0.0, 0.0, 0.0), across, end(arm, arm_lean, -1), first.a.hinge_pivot, across,
        end(horn, horn_lean, -1),
    )  # fmt: skip
    return apart.Cables(first, second)


def checked(stages, head=HEAD, tmp_path=None):
    """The one case of the one run."""
    file = tmp_path / "aircraft.toml"
    file.write_text(head + stages)
    return linkcalc.check(file).runs[0].cases[0]


def twist():
    """Of the torque rod above: l / (G J), J = pi d^4 / 32, for a moment of one."""
    return 0.080 / (80e9 * math.pi * 0.003**4 / 32)


@pytest.mark.parametrize("kind", KINDS)
def test_torque_and_forces_of_a_chain_are_those_of_statics(kind, tmp_path):
    stages, make = KINDS[kind]
    case, links = checked(stages, tmp_path=tmp_path), make()
    give = twist() if kind == "torque rod" else 0.0
    most, force, at = 0.0, 0.0, None
    for delta in np.linspace(-THROW, THROW, 801):
        moment = STIFFNESS * delta
        _, torque, tensions = apart.through(links, delta - give * moment, moment)
        assert math.isfinite(torque)
        if abs(torque) > most:
            most, at = abs(torque), delta
        force = max([force, *map(abs, tensions)])
    torque = case.margin("torque")
    assert torque.required.value == pytest.approx(most, rel=2e-5)
    assert abs(case.values["governing deflection"].value * DEG) == pytest.approx(abs(at), abs=2e-3)
    assert abs(case.values["rod force"].value) == pytest.approx(force, rel=2e-5, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_an_end_of_travel_of_a_chain_is_where_the_root_finder_puts_it(kind, tmp_path):
    stages, make = KINDS[kind]
    (tmp_path / "a.toml").write_text(HEAD + stages)
    reach = prepare(gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs).stiff
    for end, side in ((reach.low[0], -1.0), (reach.high[0], 1.0)):
        # the servo, 55 degrees from neutral, is what ends all of these; cables the nearer of both
        turned = [abs(apart.through(make(), end, sign)[0]) for sign in (1.0, -1.0)]
        assert np.sign(end) == side
        assert np.isfinite(turned).all()
        assert max(turned) == pytest.approx(55 * DEG, abs=1e-8)


def test_the_rod_next_to_its_rating_counts_for_the_joint_and_cables_have_a_factor_of_their_own(
    tmp_path,
):
    case, links = checked(BELLCRANK[0], tmp_path=tmp_path), BELLCRANK[1]()
    worst = max(
        max(abs(each) / rating for each, rating in zip(tensions, (200.0, 80.0), strict=True))
        for delta in np.linspace(-THROW, THROW, 801)
        for tensions in [apart.through(links, delta, STIFFNESS * delta)[2]]
    )
    joint = case.margin("joint")
    assert joint.margin + 1 == pytest.approx(1 / (worst * 3.33 * 1.25), rel=2e-5)
    assert joint.available.value == 80.0
    case = checked(CABLES[0], tmp_path=tmp_path)
    assert case.margin("joint").factor == 2.0  # 14 CFR 23.693, cables
    assert not case.margin("buckling").applies


def test_by_hand_a_direct_drive_bears_the_hinge_moment_itself(tmp_path):
    # q = 0.5 x 1.2 x 30^2 = 540 Pa; S c = 0.3 x 0.05 x 0.05 = 7.5e-4 m^3; 20 deg = 0.349066 rad
    # M = 540 x 7.5e-4 x 0.6 x 0.349066 = 0.084823 N m
    case = checked(DRIVE[0], tmp_path=tmp_path)
    assert case.margin("torque").required.value == pytest.approx(0.084823, abs=5e-7)
    assert not case.margin("buckling").applies
    assert not case.margin("joint").applies
    assert case.values["rod force"].value == 0.0


def test_the_twist_of_a_torque_rod_is_its_compliance(tmp_path):
    case = checked(TORQUE_ROD[0], tmp_path=tmp_path)
    # divergence with k_s = 1 for given coefficients: C dM/d(delta), which is negative here
    (tmp_path / "a.toml").write_text(HEAD + TORQUE_ROD[0])
    inputs = gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs
    assert inputs.surfaces.compliance[0] == pytest.approx(twist(), rel=1e-12)
    assert case.margin("divergence").applies


def test_a_chain_in_space_is_closed_loop_by_loop(tmp_path):
    stages, make = IN_SPACE
    case, links = checked(stages, tmp_path=tmp_path), make()
    most = max(
        abs(apart.through(links, delta, STIFFNESS * delta)[1])
        for delta in np.linspace(-THROW, THROW, 801)
    )
    assert case.margin("torque").required.value == pytest.approx(most, rel=2e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_a_plain_pushrod_beside_a_chain_is_answered_as_if_it_were_alone(kind, tmp_path):
    plain = '\narm = "10 mm"\nhorn = "12 mm"\npushrod = "100 mm"\njoint_play = "0.05 mm"\n'
    second = HEAD[HEAD.index("[[runs]]") :].replace('"surface"', '"second"') + plain
    alone = checked(plain, tmp_path=tmp_path)
    (tmp_path / "both.toml").write_text(HEAD + KINDS[kind][0] + second)
    both = linkcalc.check(tmp_path / "both.toml").runs[1].cases[0]
    for mode in ("travel", "buckling", "free play", "hold"):
        one, other = alone.margin(mode), both.margin(mode)
        assert (one.margin is None) == (other.margin is None)
        assert one.margin is None or other.margin == pytest.approx(one.margin, rel=1e-9)
    torque = both.margin("torque").required.value
    assert torque == pytest.approx(alone.margin("torque").required.value, rel=1e-9)


def test_one_pushrod_as_a_stage_is_the_pushrod(tmp_path):
    plain = '\narm = "10 mm"\nhorn = { radius = "12 mm", lean = "9 deg" }\npushrod = "100 mm"\n'
    staged = '\nstages = [{ kind = "pushrod", arm = "10 mm", horn = { radius = "12 mm", lean = "9 deg" }, pushrod = "100 mm" }]\n'
    one, other = (checked(text, tmp_path=tmp_path) for text in (plain, staged))
    for first, second in zip(one.margins, other.margins, strict=True):
        assert first.applies == second.applies
        if first.margin is not None:
            assert second.margin == pytest.approx(first.margin, rel=1e-7, abs=1e-9)
    for name, value in one.values.items():
        if value.value is not None:
            assert other.values[name].value == pytest.approx(value.value, rel=1e-5, abs=1e-7), name


@pytest.mark.parametrize(
    ("kinds", "efficiency"),
    [
        ('{ kind = "pushrod", arm = "10 mm", horn = "12 mm" }', 0.9),
        ('{ kind = "cables", arm = "10 mm", horn = "12 mm" }', 0.8),
        ('{ kind = "direct drive" }', 0.9),
        (
            '{ kind = "pushrod", arm = "9 mm", horn = "9 mm" }, { kind = "pushrod", arm = "9 mm", horn = "9 mm" }',
            0.8,
        ),
    ],
)
def test_default_efficiency_of_cables_and_of_more_than_two_joints_is_less(
    kinds, efficiency, tmp_path
):
    # common practice, no source
    (tmp_path / "a.toml").write_text(HEAD.replace("efficiency = 1\n", "") + f"stages = [{kinds}]")
    gathered = gather(linkcalc.read_aircraft(tmp_path / "a.toml"))
    assert gathered.inputs.runs.efficiency[0] == efficiency


def test_unequal_cables_have_the_play_of_their_slack(tmp_path):
    # 0.3 mm each too long, both arms 14 and 17 mm square: the surface moves 0.3/17 either way
    text = '\nstages = [{ kind = "cables", arm = "14 mm", horn = "17 mm", length = "800 mm", slack = "0.3 mm" }]\n'
    play = checked(text, tmp_path=tmp_path).margin("free play").required.value
    assert play == pytest.approx(math.degrees(2 * 0.3 / 17), rel=1e-3)


def test_play_of_gears_and_of_joints_adds_up(tmp_path):
    # a parallelogram hands an angle on as it is; 0.12 mm on an arm of 12 mm are 0.01 rad
    text = (
        '\nstages = [{ kind = "pushrod", arm = "12 mm", horn = "12 mm", joint_play = "0.12 mm" }]\n'
    )
    head = HEAD.replace("[servos.one]", '[servos.one]\ngear_play = "1 deg"')
    play = checked(text, head, tmp_path).margin("free play").required.value
    assert play == pytest.approx(1 + math.degrees(0.01), rel=1e-6)


def test_the_surface_turns_back_where_the_nearer_of_two_cables_lets_it():
    # short arms that lean: each cable comes to its greatest throw at an angle of its own
    loop = {
        "servo_pivot": (0.0, 0.0, 0.0), "servo_axis": (0.0, 1.0, 0.0),
        "arms": [(0.004, 0.0, 0.010), (0.004, 0.0, -0.010)],
        "hinge_pivot": (0.5, 0.0, 0.0), "hinge_axis": (0.0, 1.0, 0.0),
        "horns": [(-0.003, 0.0, 0.020), (-0.003, 0.0, -0.020)],
    }  # fmt: skip
    stage = make_cables(**loop)
    angles = np.linspace(-math.pi, math.pi, 20_001)
    throws = np.array([stage.solve(angles, sense).output_angle for sense in (1.0, -1.0)])
    least, most = np.nanmin(throws, axis=1), np.nanmax(throws, axis=1)
    assert min(abs(least[0] - least[1]), abs(most[0] - most[1])) > 0.01
    chain = make_chain([stage])
    found = Mixed(1, None, np.zeros(0, dtype=np.intp), ((0, chain),)).surface_limits()
    assert found[0, 0] == pytest.approx([least.max(), most.min()], abs=1e-6)


def faults_of(stages, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text(HEAD + stages)
    with pytest.raises(linkcalc.InputFaults) as caught:
        linkcalc.check(file)
    return caught.value.faults


SPACE = (
    '{{ pivot = ["{0} mm", "0 mm", "0 mm"], axis = [{1}], vector = ["0 mm", "0 mm", "{2} mm"] }}'
)


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ("[]", "nothing"),
        ('[{ kind = "rope" }]', "'rope'"),
        ('[{ kind = "pushrod", horn = "12 mm" }]', "nothing"),
        ('[{ kind = "pushrod", arm = "0 mm", horn = "12 mm" }]', "0 mm"),
        ('[{ kind = "pushrod", arm = "9 mm", horn = "12 mm", pushrod = "0 mm" }]', "0 mm"),
        ('[{ kind = "direct drive", arm = "9 mm" }]', "arm in a stage of the kind 'direct drive'"),
        ('[{ kind = "torque rod", length = "9 mm" }]', "nothing"),
        (
            '[{ kind = "cables", arm = "9 mm", horn = "9 mm", slack = "1 mm", preload = "5 N" }]',
            "slack and preload at once",
        ),
        (
            '[{ kind = "cables", arm = "9 mm", horn = "9 mm", other_horn = { radius = "9 mm", lean = "180 deg" } }]',
            "no geometry",
        ),
        (  # the rod is 10 mm too long between joints 100 mm apart, on arms of 2 mm
            f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 1, 0", 2)}, horn = {SPACE.format(100, "0, 1, 0", 2)}, pushrod = "110 mm" }}]',
            "shorter",
        ),
        (
            f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 0, 0", 9)}, horn = {SPACE.format(100, "0, 1, 0", 9)} }}]',
            "no geometry",
        ),
        (
            f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 0, 1", 9)}, horn = {SPACE.format(100, "0, 1, 0", 9)} }}]',
            "no geometry",
        ),
        (
            (
                f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 1, 0", 9)}, horn = {SPACE.format(100, "0, 1, 0", 9)} }},'
                f' {{ kind = "pushrod", arm = {SPACE.format(150, "0, 1, 0", 9)}, horn = {SPACE.format(300, "0, 1, 0", 9)} }}]'
            ),
            "neighbours",
        ),
        (
            (
                f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 1, 0", 9)}, horn = {SPACE.format(100, "0, 1, 0", 9)} }},'
                f' {{ kind = "pushrod", arm = {SPACE.format(100, "1, 0, 0", 9)}, horn = {SPACE.format(300, "0, 1, 0", 9)} }}]'
            ),
            "neighbours",
        ),
        (
            f'[{{ kind = "pushrod", arm = {SPACE.format(0, "0, 1, 0", 9)}, horn = {SPACE.format(100, "0, -1, 0", 9)} }}]',
            "port",
        ),
    ],
)
def test_a_chain_that_is_none_is_refused_with_what_was_found(stages, words, tmp_path):
    faults = faults_of(f"\nstages = {stages}\n", tmp_path)
    assert any(words in fault.found for fault in faults), faults
    assert all(fault.place and fault.expected and fault.remedy for fault in faults)


def test_what_stands_beside_stages_is_refused(tmp_path):
    faults = faults_of('\narm = "9 mm"\nstages = [{ kind = "direct drive" }]\n', tmp_path)
    assert any(fault.found == "arm beside stages" for fault in faults)


def test_travel_ends_at_the_dead_centre_of_a_chain_and_the_margin_says_so(tmp_path):
    text = '\nstages = [{ kind = "pushrod", arm = "12 mm", horn = "12 mm" }, { kind = "pushrod", arm = "20 mm", horn = "9 mm", pushrod = "90 mm" }]\n'
    head = HEAD.replace('"-20 deg", "20 deg"', '"-85 deg", "85 deg"').replace(
        'throw = "20 deg"', 'throw = "85 deg"'
    )
    (tmp_path / "a.toml").write_text(head + text)
    reach = prepare(gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs).stiff
    links = apart.in_plane(
        [(0.012, 0.0, 0.120, 0.012, 0.0, 0.0), (0.020, 0.0, 0.090, 0.009, 0.0, 0.0)]
    )
    # the second horn's dead centre, through the first loop
    for end, side in ((reach.low[0], -1), (reach.high[0], 1)):
        bellcrank = links[1].ends[side]
        limit = max(links[0].ends.values())
        assert abs(bellcrank) < limit
        assert abs(end) == pytest.approx(abs(links[1].surface(bellcrank * (1 - 1e-9))), abs=1e-3)


def test_a_joint_beyond_its_limit_ends_the_travel(tmp_path):
    # a servo that lies flat: its arm's joint leaves the plane of the horn, and the other way round
    text = """
    stages = [{ kind = "pushrod", joint_limit = "3 deg",
    arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0, 0, 1], vector = ["0 mm", "12 mm", "0 mm"] },
    horn = { pivot = ["60 mm", "12 mm", "-12 mm"], axis = [0, 1, 0], vector = ["0 mm", "0 mm", "12 mm"] } }]
    """
    (tmp_path / "a.toml").write_text(HEAD + text.replace("\n    ", " "))
    reach = prepare(gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs).stiff
    rod = apart.Rod(
        (0, 0, 0), (0, 0, 1), (0, 0.012, 0), (0.060, 0.012, -0.012), (0, 1, 0), (0, 0, 0.012)
    )
    for end in (reach.low[0], reach.high[0]):
        angle = rod.servo(end)
        along = [a - b for a, b in zip(rod.horn_tip(end), rod.arm_tip(angle), strict=True)]
        assert abs(angle) < 50 * DEG
        assert max(abs(along[1]), abs(along[2])) / 0.060 == pytest.approx(
            math.sin(3 * DEG), rel=1e-6
        )


def test_other_surfaces_of_a_run_with_cables_stand_where_their_own_load_puts_them(tmp_path):
    surface = HEAD[HEAD.index("surface = ") :]
    head = HEAD[: HEAD.index("surface = ")]
    link = f"\n[[runs.linkages]]\n{surface}{CABLES[0]}"
    other = link.replace('radius = "17 mm"', 'radius = "20 mm"')
    case = checked(link + other, head=head, tmp_path=tmp_path)
    one, two = CABLES[1]()[0], cables(0.014, 4 * DEG, 0.800, 0.020, -6 * DEG)
    most = 0.0
    for delta in np.linspace(-THROW, THROW, 401):
        angle, torque, _ = apart.through([one], delta, STIFFNESS * delta)
        # the cable of the second surface that its own load makes taut
        taut = next(c for c in two.pair if c.back(delta, STIFFNESS * delta or 1.0)[2][0] >= 0)
        there = taut.surface(angle)
        most = max(most, abs(torque + apart.through([two], there, STIFFNESS * there)[1]))
    assert case.margin("torque").required.value == pytest.approx(most, rel=2e-5)


ROD = 'arm = "10 mm", horn = "12 mm", pushrod = "100 mm"'


@pytest.mark.parametrize(
    ("joints", "rating"),
    [
        # by hand: 2 x pi/4 x 1.6^2 mm^2 x 250 N/mm^2 = 1005 N
        ('[{ kind = "clevis", pin_diameter = "1.6 mm", shear_strength = "250 MPa" }]', 1005.3),
        ('[{ kind = "ball link", rating = "45 N" }, { kind = "clevis", rating = "60 N" }]', 45.0),
        # by hand: 2 x 0.15 x 200 N
        ('[{ kind = "clamp screw", clamping_force = "200 N", friction = 0.15 }]', 60.0),
        # by hand: pi/2 x 2 mm x 6 mm x 40 N/mm^2
        (
            '[{ kind = "thread", thread_diameter = "2 mm", engaged_length = "6 mm", shear_strength = "40 MPa" }]',
            753.98,
        ),
        ('[{ kind = "clevis", rating = "80 N" }, { kind = "ball link" }]', 80.0),
    ],
)
def test_the_weakest_joint_that_is_known_is_the_rating(joints, rating, tmp_path):
    plain = "\n" + ROD.replace(", ", "\n", 2) + f"\njoints = {joints}\n"
    staged = f'\nstages = [{{ kind = "pushrod", {ROD}, joints = {joints} }}]\n'
    for text in (plain, staged):
        case = checked(text, tmp_path=tmp_path)
        assert case.margin("joint").available.value == pytest.approx(rating, rel=1e-4)
        unknown = "ball link" in joints and "45 N" not in joints
        assert any("without a rating or data: not checked" in n for n in case.notes) == unknown


def test_a_joint_without_anything_known_is_not_checked_and_says_so(tmp_path):
    text = f'\nstages = [{{ kind = "pushrod", {ROD}, joints = [{{ kind = "clevis" }}] }}]\n'
    case = checked(text, tmp_path=tmp_path)
    assert not case.margin("joint").applies
    assert case.margin("joint").reason == "not given, not checked"
    assert "clevis without a rating or data: not checked" in case.notes


@pytest.mark.parametrize(
    ("joints", "words"),
    [
        ('[{ kind = "clevis", pin_diameter = "1.6 mm" }]', "nothing"),
        ('[{ kind = "ball link", pin_diameter = "1.6 mm" }]', "pin_diameter of a ball link"),
        ('[{ kind = "glue" }]', "'glue'"),
    ],
)
def test_a_joint_with_data_that_do_not_belong_to_it_is_refused(joints, words, tmp_path):
    text = f'\nstages = [{{ kind = "pushrod", {ROD}, joints = {joints} }}]\n'
    assert any(words in fault.found for fault in faults_of(text, tmp_path))


def test_the_list_of_what_holds_a_linkage_together_names_its_joints(tmp_path):
    text = f'\nstages = [{{ kind = "pushrod", {ROD}, joints = [{{ kind = "ball link" }}] }}, {{ kind = "direct drive" }}]\n'
    (tmp_path / "a.toml").write_text(HEAD + text)
    listed = linkcalc.check(tmp_path / "a.toml").retention
    for word in ("servo arm", "ball link", "direct drive"):
        assert sum(line.startswith(word) for line in listed) == 1
    assert not any(line.startswith(("clevis", "cables", "rod:")) for line in listed)


def test_bearings_carry_the_forces_of_their_rods(tmp_path):
    # At neutral the rods of the example's aileron are square to one another; here they are so
    # at 70 degrees: the bellcrank carries |F1 u1 - F2 u2|, which is largest close to where F2 is.
    case, links = checked(BELLCRANK[0], tmp_path=tmp_path), BELLCRANK[1]()
    at = float(case.values["rod force"].at.split()[1]) * DEG
    angle, _, (first, second) = apart.through(links, at, STIFFNESS * at)
    crank = links[1].servo(at)
    along = []
    for rod, start, end in ((links[0], angle, crank), (links[1], crank, at)):
        apart_by = np.subtract(rod.horn_tip(end), rod.arm_tip(start))
        along.append(apart_by / np.linalg.norm(apart_by))
    by_hand = np.linalg.norm(first * along[0] - second * along[1])
    assert case.values["bellcrank load"].value == pytest.approx(by_hand, rel=1e-3)
    assert case.values["shaft load"].value == pytest.approx(abs(first), rel=1e-3)
    assert case.values["hinge load"].value == pytest.approx(abs(second), rel=1e-3)


def test_in_space_a_bearing_carries_what_is_square_to_its_axis(tmp_path):
    # a servo on its side whose rod rises by 30 mm over 60: 1/sqrt(5) of the force is along its axis
    text = """
    arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0, 0, 1], vector = ["0 mm", "12 mm", "0 mm"] }
    horn = { pivot = ["60 mm", "12 mm", "18 mm"], axis = [0, 1, 0], vector = ["0 mm", "0 mm", "12 mm"] }
    """.replace("    ", "")
    head = HEAD.replace('["-20 deg", "20 deg"]', '["-0.01 deg", "0.01 deg"]')
    values = checked(text, head=head, tmp_path=tmp_path).values
    force = abs(values["rod force"].value)
    assert values["shaft load"].value == pytest.approx(force * 2 / math.sqrt(5), rel=1e-3)
    assert values["hinge load"].value == pytest.approx(force, rel=1e-3)


def test_in_space_and_away_from_neutral_the_rod_is_where_arm_and_horn_have_turned_it(tmp_path):
    # turned by scipy, closed by a root finder; both tips swing out of the plane of the rod
    text = """
    arm = { pivot = ["0 mm", "0 mm", "0 mm"], axis = [0.3, 0.2, 1], vector = ["3 mm", "12 mm", "0 mm"] }
    horn = { pivot = ["80 mm", "20 mm", "18 mm"], axis = [0.2, 1, 0], vector = ["2 mm", "5 mm", "14 mm"] }
    """.replace("    ", "")
    head = HEAD.replace('["-20 deg", "20 deg"]', '["19.99 deg", "20 deg"]')
    values = checked(text, head=head, tmp_path=tmp_path).values
    at = float(values["rod force"].at.split()[1]) * DEG
    axes = [np.array(axis) / np.linalg.norm(axis) for axis in ((0.3, 0.2, 1.0), (0.2, 1.0, 0.0))]
    arm, horn = np.array([0.003, 0.012, 0.0]), np.array([0.002, 0.005, 0.014])

    def rod(servo):
        tip = Rotation.from_rotvec(servo * axes[0]).apply(arm)
        end = np.array([0.080, 0.020, 0.018]) + Rotation.from_rotvec(at * axes[1]).apply(horn)
        return end - tip

    length = np.linalg.norm(np.array([0.080, 0.020, 0.018]) + horn - arm)
    servo = brentq(lambda angle: np.linalg.norm(rod(angle)) - length, -0.7, 0.7)
    force = abs(values["rod force"].value)
    for name, axis in zip(("shaft load", "hinge load"), axes, strict=True):
        square = np.linalg.norm(np.cross(axis, rod(servo))) / length
        assert values[name].value == pytest.approx(force * square, rel=1e-6)


def test_two_preloaded_cables_pull_at_the_shaft_together(tmp_path):
    # by hand: side by side, 8 N each; what the one gains the other loses
    text = '\nstages = [{ kind = "cables", arm = "14 mm", horn = "14 mm", length = "800 mm", preload = "8 N" }]\n'
    values = checked(text, tmp_path=tmp_path).values
    assert values["shaft load"].value == pytest.approx(16.0, rel=1e-3)


LINKS = st.lists(
    st.tuples(
        st.sampled_from(["pushrod", "cables"]),
        st.floats(0.008, 0.02), st.floats(-0.2, 0.2), st.floats(0.08, 0.6),
        st.floats(0.01, 0.03), st.floats(-0.2, 0.2), st.floats(-1.5, 1.5),
    ),
    min_size=1, max_size=2,
)  # fmt: skip


def described(link):
    """A stage as the model has it, and as the second way has it."""
    kind, arm, arm_lean, length, horn, horn_lean, turn = link
    own = {"pushrod": linkcalc.Pushrod(length=f"{length!r} m")}
    ends = {
        name: linkcalc.ServoArm(radius=f"{radius!r} m", lean=f"{lean!r} rad")
        for name, radius, lean in (("arm", arm, arm_lean), ("horn", horn, horn_lean))
    }
    stage = linkcalc.LinkageStage(
        kind=kind, turn=f"{turn!r} rad", **ends,
        **(own if kind == "pushrod" else {"length": f"{length!r} m"}),
    )  # fmt: skip
    if kind == "cables":
        return stage, cables(arm, arm_lean, length, horn, horn_lean)
    return stage, apart.in_plane([(arm, arm_lean, length, horn, horn_lean, 0.0)])[0]


@settings(max_examples=10, deadline=None)
@given(LINKS, st.floats(-0.3, 0.3), st.floats(-2.0, 2.0))
def test_random_chains_are_those_of_the_root_finder(links, delta, moment):
    assume(abs(moment) > 0.01)
    stages, second = zip(*map(described, links), strict=True)
    angle, torque, _ = apart.through(second, delta, moment)
    # what lies further out than the second way has walked is another test's
    assume(math.isfinite(angle) and abs(angle) < 1.2)
    made = plain_aircraft(stages)
    linkages = prepare(gather(made).inputs)
    found = position(linkages, np.array([[delta]]), np.array([[moment]]))
    assert found.servo_angle[0, 0] == pytest.approx(angle, abs=1e-9)
    assert -moment * found.slope[0, 0] == pytest.approx(torque, rel=1e-7, abs=1e-9)


def plain_aircraft(stages):
    row = linkcalc.DatasheetRow(
        voltage="6 V", stall_torque="3 kg·cm", no_load_speed="0.1 s/60deg", stall_current="1 A"
    )
    surface = linkcalc.ControlSurface(span="0.3 m", chord="40 mm", throw="20 deg")
    return linkcalc.Aircraft(
        name="drawn",
        supply=linkcalc.Supply(voltage="6 V", current_limit="none"),
        cases=(linkcalc.FlightCase(name="turn", kind="manoeuvre", speed="20 m/s"),),
        runs=(
            linkcalc.ControlRun(
                name="one",
                servo=linkcalc.Servo(name="one", rows=(row,)),
                linkages=(linkcalc.Linkage(surface=surface, stages=tuple(stages)),),
            ),
        ),
    )


@settings(max_examples=25, deadline=None)
@given(aircraft(most_runs=1, most_cases=1), st.floats(0.02, 0.95), st.sampled_from([-1.0, 1.0]))
def test_virtual_work_over_whatever_linkage_an_aircraft_has(drawn, share, sense):
    # torque in x d(in) = torque out x d(out): the slope that torques go by is that of the angles
    linkages = prepare(gather(drawn).inputs)
    for end in (linkages.stiff.low[0], linkages.stiff.high[0]):
        delta, step = 0.9 * share * end, 1e-6 * abs(end)
        asked = delta + step * np.array([-1.0, 0.0, 1.0])
        found = position(linkages, asked[None], np.array([[sense]]))
        turned = (found.servo_angle[0, 2] - found.servo_angle[0, 0]) / (2 * step)
        assert found.slope[0, 1] * turned == pytest.approx(1.0, rel=1e-4)


def test_variants_of_an_aircraft_with_chains_stand_along_an_axis(tmp_path):
    plain = '\narm = "10 mm"\nhorn = "12 mm"\npushrod = "100 mm"\n'
    second = HEAD[HEAD.index("[[runs]]") :].replace('"surface"', '"second"')

    def made(speed, arm):
        text = HEAD.replace(f"{SPEED} m/s", f"{speed} m/s") + CABLES[0] + second
        (tmp_path / "a.toml").write_text(text + plain.replace("10 mm", arm))
        return gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs

    base = made(30, "10 mm")
    speeds = [made(speed, "10 mm") for speed in (20, 30, 40)]
    arms = [made(30, arm) for arm in ("8 mm", "10 mm")]
    whole = evaluate(inserted(base, [speeds, arms]), both(factors(linkcalc.SafetyFactors()), 5))
    for i, speed in enumerate((20, 30, 40)):
        for j, arm in enumerate(("8 mm", "10 mm")):
            one = evaluate(made(speed, arm), both(factors(linkcalc.SafetyFactors()), 3))
            for mode in ("torque", "joint", "travel"):
                found = np.broadcast_to(getattr(whole.margins, mode).margin, (2, 3, 2, 1, 2))
                alone = np.broadcast_to(getattr(one.margins, mode).margin, (2, 1, 2))
                assert found[:, i, j] == pytest.approx(alone, rel=1e-9, nan_ok=True)


def test_variants_with_other_chains_are_refused(tmp_path):
    made = []
    for arm in ("14 mm", "15 mm"):
        (tmp_path / "a.toml").write_text(HEAD + CABLES[0].replace("14 mm", arm))
        made.append(gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs)
    with pytest.raises(ValueError, match="chains"):
        inserted(made[0], [made])


def test_the_resolution_of_a_chain_is_its_slope_at_neutral(tmp_path):
    # two parallelograms, of which the second has half the arm: a degree of servo is half a degree
    text = '\nstages = [{ kind = "pushrod", arm = "12 mm", horn = "12 mm" }, { kind = "pushrod", arm = "7 mm", horn = "14 mm", pushrod = "100 m" }]\n'
    (tmp_path / "a.toml").write_text(HEAD + text)
    inputs = gather(linkcalc.read_aircraft(tmp_path / "a.toml")).inputs
    assert resolution(inputs, 0) == pytest.approx(0.5, rel=1e-3)
