"""Catalogues: three ways in that agree, and every fault at once with its place and what to do."""

import os
import pickle
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import linkcalc
from linkcalc.catalogue import Catalogue, HornPart, ServoPart, catalogue_of, read_catalogue
from linkcalc.model.value_classes import stated

ROOT = Path(__file__).resolve().parents[2]

TOML = """
format = "linkcalc.catalogue/1"
name = "drawer"
currency = "EUR"

[servos.small]
source = "invented"
sources = { mass = "weighed" }
rows = [
    { voltage = "4.8 V", stall_torque = "1.6 kg·cm", no_load_speed = "0.12 s/60deg" },
    { voltage = "6.0 V", stall_torque = "2 kg·cm", no_load_speed = "0.1 s/60deg", stall_current = "0.9 A" },
]
mass = "9 g ± 0.5 g"
price = 7.5
arm_holes = ["8 mm", "10.5 mm"]
spline = "21T"

[servos.large]
source = "invented"
rows = [{ voltage = "6.0 V", stall_torque = "11 kg·cm", no_load_speed = "0.15 s/60deg" }]
mass = "55 g"
price = 19

[horns.long]
source = "calliper"
holes = ["10 mm", "12.5 mm"]

[wires.thin]
source = "invented"
gauge = "28 AWG"
mass_per_length = "2.1 g/m"
price_per_metre = 0.4
"""
SERVOS = """servo,source,sources.mass,mass [g],price [EUR],arm_holes [mm],spline,voltage [V],stall_torque [kg·cm],no_load_speed [s/60deg],stall_current [A]
large,invented,,55,19,,,6.0,11,0.15,
small,invented,weighed,9 ± 0.5,7.5,8 10.5,21T,6.0,2,0.1,0.9
small,,,,,,,4.8,1.6,0.12,
"""
WIRES = "wire;source;gauge [AWG];mass_per_length [g/m];price_per_metre [EUR]\nthin;invented;28;2.1;0.4\n"
HORNS = '"horn","source","holes [mm]"\r\n"long","calliper","10 12.5"\r\n'


@pytest.fixture
def read(tmp_path):
    def reader(*texts):
        paths = []
        for number, text in enumerate(texts):
            content = text if isinstance(text, bytes) else text.encode()
            ending = "toml" if b"format" in content else "csv"
            paths.append(tmp_path / f"parts{number}.{ending}")
            paths[-1].write_bytes(content)
        return read_catalogue(*paths, name="drawer")

    return reader


@pytest.fixture
def faults(read):
    def of(*texts):
        with pytest.raises(linkcalc.InputFaults) as caught:
            read(*texts)
        for fault in caught.value.faults:
            assert all((fault.found, fault.expected, fault.remedy)), fault
        return caught.value.faults

    return of


def by_name(catalogue):
    return {part.name: part for part in (*catalogue.servos, *catalogue.horns, *catalogue.wires)}


def test_toml_and_tables_in_columns_say_the_same(read):
    ours, theirs = read(TOML), read(SERVOS, WIRES, HORNS)
    assert by_name(ours) == by_name(theirs)
    assert ours.currency == theirs.currency == "EUR"
    small = by_name(theirs)["small"]
    assert stated(small, "mass").tolerance == pytest.approx(0.5e-3)  # 0.5 g
    assert small.sources.get("mass", small.source) == "weighed"
    assert small.sources.get("price", small.source) == "invented"
    assert small.arm_holes.si == pytest.approx((0.008, 0.0105))


def test_files_of_both_sorts_make_one_catalogue(read):
    only_horns = (
        TOML.partition("[servos.small]")[0] + "[horns.long]\n" + TOML.partition("[horns.long]\n")[2]
    )
    assert by_name(read(only_horns, SERVOS)) == by_name(read(TOML))


def test_order_of_lines_says_nothing(read):
    head, *lines = SERVOS.splitlines(keepends=True)
    turned = head + lines[0] + lines[2].replace("small,,", "small,invented,") + lines[1]
    assert by_name(read(turned)) == by_name(read(SERVOS))


COLUMNS = {
    "servo": ["large", "small", "small"],
    "source": ["invented", "invented", None],
    "sources.mass": [None, "weighed", None],
    "mass [g]": [55.0, 9.0, None],
    "price [EUR]": [19.0, 7.5, None],
    "arm_holes [mm]": [None, "8 10.5", None],
    "spline": [None, "21T", None],
    "voltage [V]": [6.0, 6.0, 4.8],
    "stall_torque [kg·cm]": [11.0, 2.0, 1.6],
    "no_load_speed [s/60deg]": [0.15, 0.1, 0.12],
    "stall_current [A]": [None, 0.9, None],
}


def test_holes_are_alike_where_their_lengths_are_whatever_their_units():
    one, same, other = (
        HornPart(name="long", source="calliper", holes=holes).holes
        for holes in (["10 mm", "1.25 cm"], ["1 cm", "12.5 mm"], ["10 mm", "13 mm"])
    )
    assert one == same
    assert len({one, same, other}) == 2
    assert repr(one) == "[10 mm, 1.25 cm]"


@pytest.mark.parametrize("library", ["pandas", "polars", ""])
def test_data_frames_say_what_a_file_says(library, read):
    if library and not os.environ.get("CI"):
        pytest.importorskip(library)
    frame = COLUMNS if not library else __import__(library).DataFrame(COLUMNS)
    found = by_name(catalogue_of(name="drawer", servos=frame))
    expected = by_name(read(SERVOS.replace("9 ± 0.5", "9")))
    assert found == expected


def test_missing_numbers_of_every_pandas_type_are_not_given():
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame(COLUMNS)
    for made in (frame, frame.convert_dtypes(), frame.astype(object)):
        small = by_name(catalogue_of(name="drawer", servos=made))["small"]
        assert [stated(row, "stall_current") is None for row in small.rows] == [True, False]


def test_a_frame_with_a_fault_says_kind_row_and_column():
    columns = {"horn": ["a"], "source": ["x"], "holes [mm]": ["10 g"]}
    with pytest.raises(linkcalc.InputFaults) as caught:
        catalogue_of(name="drawer", horns=columns)
    assert caught.value.faults[0].place == "horns: row 1, 'holes [mm]'"


def test_a_kind_of_parts_that_nobody_sells_is_refused():
    with pytest.raises(TypeError, match="motors"):
        catalogue_of(name="drawer", motors={})


def test_a_part_becomes_the_servo_of_an_aircraft(read):
    servo = by_name(read(TOML))["small"].servo()
    assert isinstance(servo, linkcalc.Servo)
    assert servo.rows == by_name(read(TOML))["small"].rows
    assert servo == linkcalc.Servo(name="small", rows=servo.rows)


def changed(old, new, words):
    assert words.count(old) == 1, old
    return words.replace(old, new)


# What is wrong, where it has to be told, and words that the message has to have.
ONE_FAULT = {
    "no format": (
        changed('format = "linkcalc.catalogue/1"', "format = 1", TOML),
        "format",
        "linkcalc.catalogue/1",
    ),
    "aircraft file": (
        'format = "linkcalc.aircraft/1"\nname = "x"\n',
        "format",
        "linkcalc.catalogue/1",
    ),
    "unknown key": (changed("price = 19", "prize = 19", TOML), "servos.large.prize", "'price'"),
    "unknown kind": (changed("[horns.long]", "[hornes.long]", TOML), "hornes", "'horns'"),
    "name inside": (changed("price = 19", 'name = "x"', TOML), "servos.large.name", "unknown key"),
    "kinds as a list": (
        changed("[horns.long]", "[[horns.long]]", TOML),
        "horns.long",
        "its keys below",
    ),
    "table of one part": (
        changed("[horns.long]", "[horns]", TOML),
        "horns.source",
        "its keys below",
    ),
    "no mass": (changed('mass = "55 g"\n', "", TOML), "servos.large.mass", "12 g"),
    "no source": (changed('source = "calliper"\n', "", TOML), "horns.long.source", "datasheet"),
    "no rows": (
        changed(
            'rows = [{ voltage = "6.0 V", stall_torque = "11 kg·cm", no_load_speed = "0.15 s/60deg" }]\n',
            "",
            TOML,
        ),
        "servos.large.rows",
        "Datasheet rows",
    ),
    "empty rows": (
        changed(
            'rows = [{ voltage = "6.0 V", stall_torque = "11 kg·cm", no_load_speed = "0.15 s/60deg" }]',
            "rows = []",
            TOML,
        ),
        "servos.large.rows",
        "at least 1",
    ),
    "rows out of order": (
        changed('"4.8 V"', '"6.0 V"', TOML),
        "servos.small.rows[1].voltage",
        "lowest voltage first",
    ),
    "bare mass": (changed('mass = "55 g"', "mass = 55", TOML), "servos.large.mass", "12 g"),
    "price as text": (
        changed("price = 19", 'price = "19 EUR"', TOML),
        "servos.large.price",
        "plain number",
    ),
    "price without currency": (changed('currency = "EUR"\n', "", TOML), "currency", "EUR"),
    "hole of nothing": (
        changed('"10 mm", "12.5 mm"', '"0 mm"', TOML),
        "horns.long.holes[0]",
        "more than zero",
    ),
    "holes out of order": (
        changed('"10 mm", "12.5 mm"', '"12.5 mm", "10 mm"', TOML),
        "horns.long.holes[1]",
        "innermost",
    ),
    "no holes": (
        changed('["10 mm", "12.5 mm"]', "[]", TOML),
        "horns.long.holes",
        "list of 1 to 32",
    ),
    "a hole, not a list": (
        changed('["10 mm", "12.5 mm"]', '"10 mm"', TOML),
        "horns.long.holes",
        "list of 1 to 32",
    ),
    "source of a figure that is none": (
        changed("{ mass =", "{ mas =", TOML),
        "servos.small.sources",
        "mass",
    ),
    "source that is no text": (
        changed('"weighed"', "1", TOML),
        "servos.small.sources.mass",
        "printable",
    ),
    "mass per length in grams": (
        changed('"2.1 g/m"', '"2.1 g"', TOML),
        "wires.thin.mass_per_length",
        "g/m",
    ),
    "gauge of nobody": (changed('"28 AWG"', '"41 AWG"', TOML), "wires.thin.gauge", "40 AWG"),
    "same key twice": (TOML + '[horns.long]\nholes = ["1 mm"]\n', "", "a name of its own"),
    "not UTF-8": (TOML.encode("latin-1"), "", "UTF-8"),
    "mixed units": (
        changed("large,invented,,55", "large,invented,,1.9 oz", SERVOS),
        "line 2, 'mass [g]'",
        "one unit",
    ),
    "decimal comma": (changed(",55,", ',"55,5",', SERVOS), "line 2, 'mass [g]'", "decimal number"),
    "no number": (changed(",55,", ",heavy,", SERVOS), "line 2, 'mass [g]'", "decimal number"),
    "nan": (changed(",55,", ",nan,", SERVOS), "line 2, 'mass [g]'", "decimal number"),
    "infinite": (
        changed(",55,", ",1e999,", SERVOS),
        "line 2, 'mass [g]' ('large')",
        "ordinary size",
    ),
    "negative": (
        changed(",55,", ",-55,", SERVOS),
        "line 2, 'mass [g]' ('large')",
        "more than zero",
    ),
    "no mass in a line": (
        changed(",55,", ",,", SERVOS),
        "line 2, 'mass [g]' ('large')",
        "Add the key",
    ),
    "price of words": (
        changed(",19,", ",cheap,", SERVOS),
        "line 2, 'price [EUR]'",
        "decimal number",
    ),
    "heading without unit": (changed("mass [g]", "mass", SERVOS), "line 1, 'mass'", "mass [g]"),
    "heading with a wrong unit": (
        changed("mass [g]", "mass [mm]", SERVOS),
        "line 1, 'mass [mm]'",
        "unit of mass",
    ),
    "heading with a unit of nobody": (
        changed("mass [g]", "mass [grams]", SERVOS),
        "line 1, 'mass [grams]'",
        "mass [g]",
    ),
    "text with a unit": (
        changed("spline", "spline [mm]", SERVOS),
        "line 1, 'spline [mm]'",
        "no unit",
    ),
    "price without its currency": (
        changed("price [EUR]", "price", SERVOS),
        "line 1, 'price'",
        "price [EUR]",
    ),
    "unknown column": (changed("spline", "splines", SERVOS), "line 1, 'splines'", "'spline'"),
    "heading of many words": (
        changed("spline", "the spline", SERVOS),
        "line 1, 'the spline'",
        "a key",
    ),
    "column twice": (changed("spline", "source", SERVOS), "line 1", "'source'"),
    "no column of mass": (changed("mass [g]", "width [mm]", SERVOS), "line 1", "'mass [g]'"),
    "no kind": (changed("servo,", "name,", SERVOS), "line 1", "column of names"),
    "two kinds": (changed("spline", "horn", SERVOS), "line 1", "several kinds"),
    "short line": (SERVOS + "mid,invented\n", "line 5", "11"),
    "nameless line": (SERVOS + ",invented,,12,5,,,6.0,3,0.1,\n", "line 5", "no name"),
    "two parts of one name": (
        changed("small,,,,", "small,,,12,", SERVOS),
        "line 4",
        "two parts called 'small'",
    ),
    "two horns of one name": (HORNS + "long,scale,9\r\n", "line 3", "two parts called 'long'"),
    "row twice": (changed("4.8,", "6.0,", SERVOS), "line 4", "two rows at 6.0 V"),
    "servo without rows": (
        SERVOS + "mid,invented,,12,5,,,,,,\n",
        "line 5",
        "at least one line",
    ),
    "row without torque": (
        SERVOS + "mid,invented,,12,5,,,6.0,,0.1,\n",
        "line 5, 'stall_torque [kg·cm]' ('mid')",
        "kg·cm",
    ),
    "wrong choice": (changed("spline", "gear", SERVOS), "line 3, 'gear' ('small')", "plastic"),
    "name of a page": (changed("large", "l" * 200, SERVOS), "line 2, 'name'", "120"),
    "unclosed quotation mark": (SERVOS + '"mid,\n', "line 5", "quotation mark"),
    "no headings": ("", "line 1", "column of names"),
    "column of sources of nothing": (
        changed("sources.mass", "sources.mas", SERVOS),
        "line 1, 'sources.mas'",
        "mass",
    ),
}


@pytest.mark.parametrize("slip", ONE_FAULT)
def test_a_fault_says_where_it_is_and_what_would_be_right(slip, faults):
    text, place, words = ONE_FAULT[slip]
    found = faults(text)
    assert any(fault.place.startswith(place) and words in " ".join(fault) for fault in found), [
        str(fault) for fault in found
    ]
    assert len(found) <= 2  # one slip is not told ten times


def test_all_faults_of_all_files_are_told_at_once_with_their_files(faults):
    found = faults(changed('mass = "55 g"', "mass = 55", TOML), changed(",55,", ",x,", SERVOS))
    places = {(Path(fault.file).name, fault.place) for fault in found}
    assert ("parts0.toml", "servos.large.mass") in places
    assert ("parts1.csv", "line 2, 'mass [g]'") in places


def test_parts_of_one_name_in_two_files_are_told(faults):
    found = faults(TOML, WIRES)
    assert ["two parts called 'thin'" in fault.found for fault in found] == [True]
    assert Path(found[0].file).name == "parts1.csv"


def test_two_currencies_are_told(faults):
    found = faults(changed("[wires.thin]", "[wires.thick]", TOML), WIRES.replace("EUR", "USD"))
    assert found[0].place == "currency"


def test_no_such_file_is_told():
    with pytest.raises(linkcalc.InputFaults, match="no such file"):
        read_catalogue("nowhere/parts.toml")


def test_a_link_to_something_endless_is_refused(tmp_path):
    for name in ("parts.toml", "parts.csv"):
        (tmp_path / name).symlink_to("/dev/zero")
        with pytest.raises(linkcalc.InputFaults, match="no regular file"):
            read_catalogue(tmp_path / name)


def test_a_large_file_is_refused_unread(tmp_path):
    path = tmp_path / "parts.csv"
    with path.open("wb") as file:
        file.truncate(9 * 2**20)
    with pytest.raises(linkcalc.InputFaults, match="more than 8 MB"):
        read_catalogue(path)


HOSTILE = [
    b"\0" * 1000,
    b"servo,source\n" + b'"' * 100_001,
    b"servo," + b"a" * 200_000,
    b"servo," + b"x," * 200_000,
    "servo,mass [" + "g" * 100 + "]\n",
    "servo,source,mass [m^4^4^4^4]\na,b,9\n",
    "horn,source,holes [mm]\na,b," + "1 " * 5000 + "\n",
    "horn,source,holes [mm]\n=cmd|' /C calc'!A0,b,1\n",
    'format = "linkcalc.catalogue/1"\nservos.' + "a." * 5000 + "b = 1\n",
    'format = "linkcalc.catalogue/1"\nname = ' + "[" * 100_000,
]


@pytest.mark.parametrize("number", range(len(HOSTILE)))
def test_hostile_files_are_read_or_refused_and_never_crash(number, tmp_path):
    content = HOSTILE[number]
    content = content if isinstance(content, bytes) else content.encode()
    path = tmp_path / ("parts.toml" if b"format" in content else "parts.csv")
    path.write_bytes(content)
    told = outcome(path)
    assert len(told) < 40_000
    assert told.replace("\n", "").isprintable()


def outcome(path):
    """Return all faults of a file; empty where it can be read."""
    try:
        read_catalogue(path)
    except linkcalc.InputFaults as error:
        return str(error) or "a refusal without words"
    return ""


@given(data=st.data())
def test_a_spoilt_table_is_read_or_refused(tmp_path_factory, data):
    text = SERVOS.encode()
    at = data.draw(st.integers(0, len(text)))
    width = data.draw(st.integers(0, 20))
    spoilt = text[:at] + data.draw(st.binary(max_size=12)) + text[at + width :]
    path = tmp_path_factory.mktemp("spoilt") / "parts.csv"
    path.write_bytes(spoilt)
    told = outcome(path)
    assert not told or all(word in told for word in ("found", "expected"))


def test_a_catalogue_survives_pickling(read):
    found = read(TOML)
    assert pickle.loads(pickle.dumps(found)) == found  # noqa: S301 - our own


def test_parts_are_made_in_code_too():
    part = HornPart(name="h", source="calliper", holes=["8 mm", "10 mm"])
    assert part == HornPart(name="h", source="calliper", holes=["0.8 cm", "1 cm"])
    assert linkcalc.replace(part, price=2.0).holes == part.holes
    with pytest.raises(linkcalc.InputError, match="holes"):
        HornPart(name="h", source="calliper", holes=[])
    twice = [part, part]
    with pytest.raises(linkcalc.InputError, match="two parts of this name"):
        Catalogue(name="c", horns=twice)


def test_a_servo_of_a_catalogue_has_every_key_of_a_servo_and_its_words():
    for name, field in vars(linkcalc.Servo).items():
        if hasattr(field, "spec") and name != "name":
            assert vars(ServoPart)[name].spec == field.spec
