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
