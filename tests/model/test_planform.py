"""A whole surface by stations: what is refused, where, and in which words."""

import copy

import pytest

import linkcalc
from linkcalc.model.planform import surveyed
from linkcalc.solver_fields import MOST_STATIONS
from tests.test_check import PLAIN_FILE

# An outer panel of a survey glider (invented), measured with a ruler.
STATIONS = [
    {"y": "0 mm", "leading_edge": "0 mm", "chord": "180 mm"},
    {"y": "300 mm", "leading_edge": "4 mm", "chord": "170 mm", "hinge": "122 mm"},
    {"y": "450 mm", "leading_edge": "12 mm", "chord": "155 mm", "hinge": "112 mm"},
    {"y": "550 mm", "leading_edge": "22 mm", "chord": "135 mm", "hinge": "101 mm"},
    {"y": "600 mm", "leading_edge": "40 mm", "chord": "80 mm"},
]
SURFACE = (
    'span = "250 mm", chord = "42 mm", throw = "15 deg", chord_ratio = 0.27, solver = "lattice"'
)
PLAIN = 'span = "500 mm", chord = "40 mm", throw = "20 deg", chord_ratio = 0.99'


def words(stations, *, more='inboard_end = "300 mm"', surface=SURFACE):
    listed = ", ".join(
        "{ " + ", ".join(f'{key} = "{value}"' for key, value in each.items()) + " }"
        for each in stations
    )
    known = f"{surface}, planform = {{ stations = [{listed}]{', ' + more if more else ''} }}"
    assert PLAIN_FILE.count(PLAIN) == 1
    return PLAIN_FILE.replace(PLAIN, known)


def changed(index, **new):
    made = copy.deepcopy(STATIONS)
    made[index] |= new
    return made


@pytest.fixture
def read(tmp_path):
    def of(text):
        path = tmp_path / "aircraft.toml"
        path.write_text(text, encoding="utf-8")
        return linkcalc.read_aircraft(path)

    return of


def faults(read, text):
    with pytest.raises(linkcalc.InputFaults) as caught:
        read(text)
    for fault in caught.value.faults:
        assert fault.file.endswith("aircraft.toml")
        assert fault.found
        assert fault.expected
        assert fault.remedy
    return [
        (fault.place.removeprefix("runs['r'].surface."), str(fault))
        for fault in caught.value.faults
    ]


def test_stations_as_measured_are_taken(read):
    planform = read(words(STATIONS)).runs[0].linkages[0].surface.planform
    assert len(planform.stations) == 5
    assert planform.stations[1].hinge.m_as("mm") == pytest.approx(122)
    assert planform.half_span is None


def test_stations_in_code_are_those_of_a_file(read):
    made = linkcalc.Planform(
        inboard_end="300 mm",
        stations=[linkcalc.PlanformStation(**each) for each in STATIONS],
    )
    assert made == read(words(STATIONS)).runs[0].linkages[0].surface.planform


REFUSED = {
    "one station": (STATIONS[:1], "planform.stations", "a single station"),
    "a root that is not at the root": (changed(0, y="20 mm"), "planform.stations[0].y", "0 mm"),
    "stations out of order": (changed(2, y="250 mm"), "planform.stations[2].y", "more than 300 mm"),
    "a station twice": (changed(2, y="300 mm"), "planform.stations[2].y", "in order"),
    "a negative chord": (changed(3, chord="-5 mm"), "planform.stations[3].chord", "zero or more"),
    "a chord of nothing ahead of the tip": (changed(0, chord="0 mm"), "planform.stations[0].chord", "only the tip"),
    "a hinge aft of the trailing edge": (changed(2, hinge="156 mm"), "planform.stations[2].hinge", "at most the chord there, 155 mm"),
    "a hinge ahead of the leading edge": (changed(2, hinge="-1 mm"), "planform.stations[2].hinge", "zero or more"),
    "a single hinge": ([STATIONS[0], *changed(1)[1:2], STATIONS[4]], "planform.stations", "a hinge at stations[1] alone"),
    "a chord without unit": (changed(1, chord="170"), "planform.stations[1].chord", "unit"),
    "a chord in degrees": (changed(1, chord="17 deg"), "planform.stations[1].chord", "length"),
    "a key that is not known": (changed(1, cord="17 mm"), "planform.stations[1].cord", "Did you mean 'chord'"),
    "no chord": ([{k: v for k, v in each.items() if k != "chord"} if i == 2 else each for i, each in enumerate(STATIONS)], "planform.stations[2].chord", "Add the key"),
    "a bent hinge line": (changed(2, hinge="118 mm"), "planform.stations", "from straight at y = 450 mm"),
    "a control surface over a crank": (changed(2, height="60 mm"), "planform.stations", "from straight"),
    "too many": ([{"y": f"{20 * i} mm", "leading_edge": "0 mm", "chord": "150 mm"} for i in range(MOST_STATIONS + 1)], "planform.stations", f"at most {MOST_STATIONS}"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_stations_that_cannot_be_are_refused_at_their_key(read, name):
    stations, place, said = REFUSED[name]
    found = faults(read, words(stations))
    assert [where for where, _ in found] == [place]
    assert said in found[0][1]


@pytest.mark.parametrize(
    ("more", "place", "said"),
    [
        ('inboard_end = "400 mm"', "planform", "ends 0.65 m from the root"),
        ('inboard_end = "300 mm", half_span = "600 mm"', "planform.stations", "stations beside half_span"),
        ('inboard_end = "300 mm", sweep = "3 deg"', "planform.stations", "stations beside sweep"),
    ],
)  # fmt: skip
def test_what_contradicts_the_stations_is_refused(read, more, place, said):
    ((where, fault),) = faults(read, words(STATIONS, more=more))
    assert where == place
    assert said in fault


@pytest.mark.parametrize(
    ("old", "new", "place", "said"),
    [
        ('chord = "42 mm"', 'chord = "60 mm"', "chord", "about 42.7 mm"),
        ("chord_ratio = 0.27", "chord_ratio = 0.4", "chord_ratio", "about 0.275"),
        ("chord_ratio = 0.27, ", "", "chord_ratio", "nothing"),
        ('span = "250 mm"', 'span = "250 mm", plane = "vee", dihedral = "35 deg"', "planform.stations[4].height", "dihedral"),
    ],
)  # fmt: skip
def test_a_surface_that_is_not_that_of_the_stations_is_refused(read, old, new, place, said):
    # mean chord aft of the hinge from 300 to 550 mm by the trapezoidal rule, by hand:
    # (48 + 43) / 2 * 150 + (43 + 34) / 2 * 100 over 250 = 42.7; the whole chord likewise 155.5, and 42.7 / 155.5 = 0.275
    assert SURFACE.count(old) == 1
    tip_up = changed(4, height="5 mm")
    ((where, fault),) = faults(read, words(tip_up, surface=SURFACE.replace(old, new)))
    assert where == place
    assert said in fault


def test_all_that_is_wrong_is_told_at_once(read):
    bad = changed(2, hinge="156 mm")
    bad[3] |= {"y": "440 mm"}
    bad[0] |= {"chord": "0 mm"}
    places = {where for where, _ in faults(read, words(bad))}
    assert places == {
        "planform.stations[0].chord", "planform.stations[2].hinge", "planform.stations[3].y"
    }  # fmt: skip


@pytest.mark.parametrize("left", ["half_span", "root_chord", "tip_chord"])
def test_a_trapezoid_still_needs_all_of_its_sizes(left):
    sizes = {"half_span": "600 mm", "root_chord": "180 mm", "tip_chord": "120 mm"}
    del sizes[left]
    with pytest.raises(linkcalc.InputError, match=f"{left}.*or stations"):
        linkcalc.Planform(**sizes)


def test_a_trapezoid_is_two_stations():
    made = linkcalc.Planform(
        half_span="600 mm", root_chord="180 mm", tip_chord="100 mm", sweep="45 deg"
    )
    stations = surveyed(made, 0.25)
    # quarter-chord line: from 45 mm back by 600 mm; the tip's leading edge 25 mm ahead of it
    assert stations.leading == pytest.approx([0.0, 0.62], rel=1e-12)
    assert stations.hinge == pytest.approx([0.135, 0.075], rel=1e-12)


def test_an_upright_tip_may_stand_on_the_last_place(read):
    upright = [*STATIONS[:4], {**STATIONS[4], "y": "550 mm", "height": "60 mm"}]
    assert len(read(words(upright)).runs[0].linkages[0].surface.planform.stations) == 5
