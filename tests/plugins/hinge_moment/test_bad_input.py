"""What a file may not say of a surface, and what it may say with a warning."""

import pytest

import linkcalc
from tests.evaluation.aircraft import SINGLE

COEFFICIENTS = 'coefficients = { C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad" }'
PLANFORM = (
    'solver = "lattice", chord_ratio = 0.3, planform = {{ half_span = "{}", root_chord = "{}", '
    'tip_chord = "130 mm", inboard_end = "{}" }}'
)


@pytest.fixture
def checked(tmp_path):
    def of(section, *changes):
        words = SINGLE[0].replace(COEFFICIENTS, section)
        for old, new in changes:
            assert words.count(old) == 1
            words = words.replace(old, new)
        path = tmp_path / "aircraft.toml"
        path.write_text(words, encoding="utf-8")
        return linkcalc.check(path).runs[0].cases[0]

    return of


@pytest.mark.parametrize(
    ("section", "key"),
    [
        ("chord_ratio = 0", "chord_ratio"),
        ("chord_ratio = -0.3", "chord_ratio"),
        ("chord_ratio = 1.01", "chord_ratio"),
        ("chord_ratio = 1", "hinge_position"),
        ('chord_ratio = 1, solver = "plate"', "hinge_position"),
        ("hinge_position = 1.1", "hinge_position"),
        ("hinge_position = -0.1", "hinge_position"),
        ("chord_ratio = 0.6, overhang = 0.7", "overhang"),
        ("aspect_ratio = -6", "aspect_ratio"),
        ("aspect_ratio = nan", "aspect_ratio"),
        ("chord_ratio = 0.3, overhang = -0.1", "overhang"),
        ("thickness_ratio = -0.1", "thickness_ratio"),
        (PLANFORM.format("400 mm", "130 mm", "0 mm"), "planform"),
        (PLANFORM.format("600 mm", "130 mm", "200 mm"), "planform"),
        (PLANFORM.format("600 mm", "-130 mm", "0 mm"), "root_chord"),
        (PLANFORM.format("600 mm", "500 mm", "0 mm"), "chord"),
        (
            "camber_line = [{ x = 0, z = 0 }, { x = 0.5, z = 0.1 }, { x = 0.3, z = 0 }]",
            "camber_line",
        ),
    ],
)
def test_a_surface_that_cannot_be_is_refused_at_its_key(checked, section, key):
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked(section)
    assert any(fault.place.endswith(key) for fault in caught.value.faults), caught.value.faults
    assert all(fault.expected and fault.remedy for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("section", "change", "words"),
    [
        ("chord_ratio = 0.3", ('incidence = "0 deg"', 'incidence = "25 deg"'), "incidence 25 deg"),
        (
            "chord_ratio = 0.3",
            ('deflection = ["-10 deg", "20 deg"]', 'deflection = ["-10 deg", "40 deg"]'),
            "deflection 40 deg",
        ),
        ("chord_ratio = 0.3", ('"40 m/s"', '"150 m/s"'), "incompressible"),
    ],
)
def test_beyond_its_range_a_method_answers_and_says_so(checked, section, change, words):
    case = checked(section, change, ('throw = "20 deg"', 'throw = "40 deg"'))
    assert any(words in note for note in case.notes), case.notes
    assert case.margin("torque").margin is not None


@pytest.mark.parametrize(
    "known",
    ["hinge_position = 0.2", COEFFICIENTS, 'moment = "0.1 N*m"'],
    ids=["pivot", "coefficients", "moment"],
)
def test_a_surface_that_moves_as_a_whole_is_taken_where_its_pivot_or_its_load_is_known(
    checked, known
):
    assert checked(f"chord_ratio = 1, {known}").margin("torque").margin is not None


def test_a_surface_that_moves_as_a_whole_without_a_pivot_is_told_what_to_write(checked):
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked("chord_ratio = 1")
    (fault,) = caught.value.faults
    assert "chord_ratio of 1" in fault.found
    assert "pivots" in fault.expected
    assert all(word in fault.remedy for word in ("hinge_position", "coefficients", "moment"))


def test_beyond_stall_the_band_is_wide(checked):
    def width(degrees):
        case = checked(
            "chord_ratio = 0.3",
            ('["-10 deg", "20 deg"]', f'["-1 deg", "{degrees} deg"]'),
            ('throw = "20 deg"', 'throw = "40 deg"'),
            ('horn = "20 mm"', 'horn = "10 mm"'),  # turns as far as the servo
        )
        assert case.values["governing deflection"].value == pytest.approx(degrees)
        moment = case.values["hinge moment"]
        return (moment.high - moment.low) / abs(moment.value)

    assert width(40) > 1.1 * width(20)


# --- mostly flap, past broadside, at speeds and with coefficients that cannot be


def told(case, words):
    return any(words in note for note in case.notes)


@pytest.mark.parametrize(
    ("ratio", "noted"),
    [(0.04, True), (0.05, False), (0.4, False), (0.5, False), (0.55, True), (0.9, True)],
)
def test_a_surface_that_is_mostly_flap_is_beyond_what_was_compared(checked, ratio, noted):
    # charts and computed sections in tests/reference end at a chord ratio of 0.4
    case = checked(f"chord_ratio = {ratio}")
    assert told(case, f"chord ratio {ratio:g}, good from 0.05 to 0.5") is noted
    assert case.margin("torque").margin is not None


TURNED = (
    ('throw = "20 deg"', 'throw = "{} deg"'),
    ('deflection = ["-10 deg", "20 deg"]', 'deflection = ["-10 deg", "{} deg"]'),
    ('horn = "20 mm"', 'horn = "6 mm"'),
)


def turned(degrees):
    return [(old, new.format(degrees)) for old, new in TURNED]


@pytest.mark.parametrize("solver", ["plate", "split_flap", "thin_aerofoil"])
def test_past_broadside_no_method_answers(checked, solver):
    section = f'chord_ratio = 0.3, solver = "{solver}"'
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked(section, *turned(120))
    (fault,) = caught.value.faults
    assert "120 deg" in fault.found
    assert f"at most 90 deg, for {solver}" in fault.expected
    checked(section, *turned(90))


def test_a_load_that_is_given_may_turn_as_far_as_it_likes(checked):
    for section in ('moment = "0.1 N*m"', COEFFICIENTS):
        assert checked(section, *turned(120)).margins


def test_a_plate_says_wherever_it_is_used_that_it_is_a_floor(checked):
    # broadside: 1.17 and 1.98 measured (flat_plate.csv) over 2 pi / (4 + pi) = 0.880
    for degrees in (20, 90):
        case = checked('chord_ratio = 0.3, solver = "plate"', *turned(degrees))
        (note,) = [note for note in case.notes if "floor" in note]
        assert f"{1.17 / 0.880:.1f} (square) to {1.98 / 0.880:.2f} times (long)" in note
    for section, word in (('chord_ratio = 0.3, solver = "split_flap"', "no split flap was measured"),
                          ("hinge_position = 0.2", "two uncertain places")):  # fmt: skip
        assert told(checked(section), word)


@pytest.mark.parametrize(
    ("slopes", "words"),
    [
        ('C_h_alpha = "-0.1 1/rad", C_h_delta = "-90 1/rad"', "57.3 times the most"),
        ('C_h_alpha = "-30 1/rad", C_h_delta = "-0.5 1/rad"', "19.1 times the most"),
        # 0.9 per radian, written per degree and called per radian: 0.9 / 57.3
        ('C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.0157 1/rad"', "closely balanced"),
        ('C_h0 = 0.6, C_h_alpha = "-0.1 1/rad", C_h_delta = "-0.5 1/rad"', "C_h0 = +0.6"),
    ],
)
def test_coefficients_of_a_size_that_no_surface_has_are_told(checked, slopes, words):
    # closed forms: pi/2 is the largest slope of thin-aerofoil theory (hinge_thin_airfoil.csv at 1.0)
    case = checked(f"coefficients = {{ {slopes} }}")
    assert told(case, words), case.notes
    assert told(case, "check ")


@pytest.mark.parametrize("slopes", ['C_h_delta = "-2.5 1/rad"', 'C_h_delta = "-0.031 1/rad"'])
def test_sizes_that_a_slab_or_a_balanced_surface_may_have_are_not(checked, slopes):
    case = checked(f'coefficients = {{ C_h_alpha = "-0.1 1/rad", {slopes} }}')
    assert not told(case, "check the unit")


@pytest.mark.parametrize(
    ("mach", "words"),
    [(0.29, ""), (0.49, "come out too small"), (0.51, "1.16 times"), (0.69, "1.38 times")],
)
def test_the_faster_the_stream_the_stronger_the_words(checked, mach, words):
    # a density alone: sound at 15 degrees Celsius, 340.294 m/s; 1 / sqrt(1 - M^2)
    case = checked("chord_ratio = 0.3", ('"40 m/s"', f'"{mach * 340.294} m/s"'))
    assert told(case, f"Mach {mach:.2f}") is bool(words)
    assert not words or told(case, words)
    assert told(case, "do not trust these margins") is (mach > 0.5)
    assert case.margin("torque").margin is not None


def test_where_nothing_flies_no_shock_is_looked_for(checked):
    fast = ('"40 m/s"', f'"{0.7001 * 340.294} m/s"')
    ground = '[[cases]]\nname = "ground"\nkind = "handling"\nhand_force = "5 N"\n[[runs]]'
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked("chord_ratio = 0.3", fast, ("[[runs]]", ground))
    assert [fault.place for fault in caught.value.faults] == ["cases['dive'].speed"]


def test_no_margin_is_given_where_shocks_are(checked):
    fast = ('"40 m/s"', f'"{0.7001 * 340.294} m/s"')
    with pytest.raises(linkcalc.InputFaults) as caught:
        checked("chord_ratio = 0.3", fast)
    (fault,) = caught.value.faults
    assert fault.place == "cases['dive'].speed"
    assert "Mach 0.70" in fault.found
    assert "less than Mach 0.7" in fault.expected
    # who gives coefficients knows where they stand; the report still warns
    assert told(checked(COEFFICIENTS, fast), "do not trust these margins")
