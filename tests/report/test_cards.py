"""Cards measured: what is 100 mm on paper is 100.0 mm in the files, and so are holes and throws."""

import io
import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pypdf
import pytest

import linkcalc
from linkcalc.checking import checked
from linkcalc.cli import main
from linkcalc.errors import InputFaults
from linkcalc.report.cards import KINDS, cards
from linkcalc.report.paper import PAPERS, Sheet, pdf, svg
from linkcalc.results import Value

MILLIMETRE = 72 / 25.4  # PDF user units: 1/72 in (ISO 32000-1, 8.3.2.3), 1 in = 25.4 mm
SANDPIPER = "examples/sandpiper_rewired.toml"
TERN = "examples/tern_flying_wing.toml"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def sandpiper():
    return checked(SANDPIPER)


def pdf_lines(page):
    """Straight lines of a page in millimetres, by its content stream alone (ISO 32000-1, 8.5.2)."""
    matrix, stack, start, found = np.eye(3), [], None, []

    def at(x, y):
        return (np.array([float(x), float(y), 1.0]) @ matrix)[:2] / MILLIMETRE

    for operands, operator in pypdf.generic.ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = map(float, operands)
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator == b"m":
            start = at(*operands)
        elif operator == b"l":
            end = at(*operands)
            found.append((start, end))
            start = end
    return found


def pages(content):
    return pypdf.PdfReader(io.BytesIO(content)).pages


def svg_lines(content, name):
    """Points in millimetres of the line with an id, by the true size that the file states."""
    root = ET.fromstring(content)
    shown = float(root.get("width").removesuffix("pt")) / MILLIMETRE
    scale = shown / float(root.get("viewBox").split()[2])
    (group,) = [each for each in root.iter(f"{SVG}g") if each.get("id") == name]
    drawn = group.find(f"{SVG}path").get("d")
    return np.array(re.findall(r"[ML] ([-\d.e]+) ([-\d.e]+)", drawn), dtype=float) * scale


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_check_ruler_is_100_mm_on_every_page_of_the_pdf(sandpiper, kind, paper):
    for page in pages(pdf(cards(kind, sandpiper, paper=paper))):
        level = [(a, b) for a, b in pdf_lines(page) if a[1] == b[1] and abs(a[1] - 26) < 0.01]
        assert len(level) == 1
        assert abs(level[0][1][0] - level[0][0][0]) == pytest.approx(100.0, abs=0.005)
        marks = sorted(a[0] for a, b in pdf_lines(page) if a[0] == b[0] and abs(a[1] - 26) < 0.01)
        assert len(marks) == 101
        assert np.diff(marks) == pytest.approx(np.ones(100), abs=0.005)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_check_ruler_is_100_mm_in_the_svg(sandpiper, kind, paper):
    ruler = svg_lines(svg(cards(kind, sandpiper, paper=paper)[0]), "ruler")
    assert np.ptp(ruler[:, 0]) == pytest.approx(100.0, abs=0.005)
    assert np.ptp(ruler[:, 1]) == pytest.approx(0.0, abs=1e-6)


# ISO 216: A4 is 210 mm x 297 mm. Letter is 8.5 in x 11 in (ANSI/ASME Y14.1).
@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (210.0, 297.0)), ("Letter", (8.5 * 25.4, 11 * 25.4))]
)
def test_paper_has_its_size(sandpiper, paper, size):
    sheets = cards("placard", sandpiper, paper=paper)
    box = pages(pdf(sheets))[0].mediabox
    assert (box.width / MILLIMETRE, box.height / MILLIMETRE) == pytest.approx(size, abs=0.01)
    root = ET.fromstring(svg(sheets[0]))
    told = [float(root.get(name).removesuffix("pt")) / MILLIMETRE for name in ("width", "height")]
    assert told == pytest.approx(size, abs=0.01)


def test_holes_are_at_true_distance(sandpiper):
    # sandpiper_rewired.toml: arm 9 mm, horn 14 mm, rod 90 mm of the inboard flap
    content = svg(cards("drilling", sandpiper)[2])
    for name, length in (("arm", 9.0), ("horn", 14.0), ("rod", 90.0)):
        assert np.ptp(svg_lines(content, f"{name}-length")[:, 0]) == pytest.approx(
            length, abs=0.005
        )
        across = [
            svg_lines(content, f"{name}-{end}-across")[:, 0].mean() for end in ("centre", "hole")
        ]
        assert across[1] - across[0] == pytest.approx(length, abs=0.005)


def test_a_hole_in_space_is_as_far_from_its_axis_as_square_to_it():
    described = linkcalc.read_aircraft(SANDPIPER)
    run = described.runs[2]
    linkage = run.linkages[0].__replace__(
        arm=linkcalc.ServoArm(pivot=["0 mm", "0 mm", "0 mm"], axis=[0, 1, 0], vector=["0 mm", "5 mm", "12 mm"]),
        horn=linkcalc.ControlHorn(
            pivot=["80 mm", "0 mm", "0 mm"], axis=[0, 2, 0], vector=["3 mm", "5 mm", "4 mm"]
        ),
        pushrod=linkcalc.Pushrod(),
    )  # fmt: skip
    flown = described.__replace__(runs=(run.__replace__(linkages=(linkage,)),))
    content = svg(cards("drilling", checked(flown))[0])
    assert np.ptp(svg_lines(content, "arm-length")[:, 0]) == pytest.approx(12.0, abs=0.005)
    assert np.ptp(svg_lines(content, "horn-length")[:, 0]) == pytest.approx(5.0, abs=0.005)


def test_a_rod_longer_than_the_paper_is_told_and_not_drawn(sandpiper):
    content = svg(cards("drilling", sandpiper)[4]).decode()  # the elevator's rod: 740 mm
    assert "Pushrod: 740.0 mm" in content
    assert "Too long to be drawn" in content
    assert 'id="rod-length"' not in content


def test_throws_are_marked_at_their_angles_on_an_arc_of_the_chord(sandpiper):
    # inboard flap: chord 46 mm, 6 deg up, 24 deg down
    content = svg(cards("throw", sandpiper)[2])
    hinge = (
        svg_lines(content, "hinge-across")[:, 0].mean(),
        svg_lines(content, "hinge-up")[:, 1].mean(),
    )
    arc = svg_lines(content, "trailing-edge") - hinge
    assert np.hypot(*arc.T) == pytest.approx(np.full(len(arc), 46.0), abs=0.01)
    for degrees in (-6.0, 24.0, 0.0):
        mark = svg_lines(content, f"mark-{degrees:.1f}") - hinge
        out = mark[-1]
        assert math.degrees(math.atan2(out[1], out[0])) == pytest.approx(degrees, abs=0.01)
    # straight from neutral: 2 x 46 mm x sin 12 deg = 19.13 mm, 2 x 46 x sin 3 deg = 4.81 mm
    words = content.decode()
    assert "24.0 deg, 19.1 mm" in words
    assert "6.0 deg, 4.8 mm" in words


def test_every_case_has_its_throws_on_the_card(sandpiper):
    # outboard aileron 22 deg up: full throw in the turn, a third in the dive, a fifth on the line
    words = svg(cards("throw", sandpiper)[0]).decode()
    assert all(f">{degrees}<" in words for degrees in ("22.0", "7.3", "4.4", "14.0", "4.7", "2.8"))


def test_a_second_surface_goes_where_its_linkage_takes_it():
    words = svg(cards("throw", checked(TERN))[3]).decode()
    assert "surface 2" in words
    first = svg(cards("throw", checked(TERN))[2]).decode()
    assert ">up<" in words
    assert ">up<" in first


def test_an_arc_that_does_not_fit_is_told_and_not_cut(sandpiper):
    described = sandpiper.described
    run = described.runs[2]
    surface = run.linkages[0].surface.__replace__(chord="300 mm")
    link = run.linkages[0].__replace__(surface=surface)
    content = svg(
        cards("throw", checked(described.__replace__(runs=(run.__replace__(linkages=(link,)),))))[0]
    )
    assert b"does not fit" in content
    assert b'id="trailing-edge"' not in content
    assert f"{2 * 300 * math.sin(math.radians(12)):.1f}".encode() in content


def words_of(content):
    return "".join(each.text or "" for each in ET.fromstring(content).iter(f"{SVG}text"))


def test_placard_has_the_speed_rounded_down_and_what_ends_it():
    known = checked(TERN)
    value = known.report().whole["placard speed"]
    words = words_of(svg(cards("placard", known)[0]))
    assert f"Placard speed: {math.floor(value.value)} m/s" in words
    assert value.at.rpartition(", ")[2] in words
    assert "not for anything that carries a person" in words.replace("  ", " ")


def test_a_placard_speed_that_could_not_be_computed_is_shown_as_such(monkeypatch):
    known = checked(TERN)
    report = known.report()
    lost = report._replace(
        whole=report.whole | {"placard speed": Value(None, "m/s", reason="the solver failed")}
    )
    monkeypatch.setattr(type(known), "report", lambda _: lost)
    words = words_of(svg(cards("placard", known)[0]))
    assert "Placard speed: none stated" in words
    assert "the solver failed" in words


def test_a_short_aircraft_has_that_on_its_placard():
    words = words_of(svg(cards("placard", checked("examples/sandpiper.toml"))[0]))
    assert "SHORT: the check has margins below zero" in words


HOSTILE = [
    "<script>alert(1)</script> & $x^2$",
    "\u202eabc\x1b[2J",
    "\u65e5\u672c \U0001f6e9",
    "x" * 10_000,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_text_that_is_cut(name):
    sheet = Sheet.new(f"Throw card: {name}")
    sheet.write(20, 200, name, lines=3)
    content = svg(sheet)
    root = ET.fromstring(content)
    assert not list(root.iter(f"{SVG}script"))
    assert b"\x1b" not in content
    assert "\u202e".encode() not in content
    assert len(content) < 60_000
    assert len(pages(pdf([sheet]))) == 1
    if name.startswith("<"):
        assert "<script>alert(1)</script> & $x^2$" in words_of(content)


def test_text_is_text_and_the_svg_has_a_title(sandpiper):
    root = ET.fromstring(svg(cards("throw", sandpiper)[0]))
    assert root.find(f"{SVG}title").text == "Throw card: outboard aileron, starboard"
    assert len(list(root.iter(f"{SVG}text"))) > 20


def test_the_same_card_is_the_same_file(sandpiper):
    one, other = (svg(cards("throw", sandpiper)[0]) for _ in range(2))
    assert one == other
    assert pdf(cards("throw", sandpiper)) == pdf(cards("throw", sandpiper))


def test_unknown_cards_and_papers_are_faults(sandpiper):
    with pytest.raises(InputFaults, match="A4, Letter"):
        cards("throw", sandpiper, paper="A5")
    with pytest.raises(InputFaults, match="throw, drilling, placard"):
        cards("thrown", sandpiper)


def test_command_writes_one_pdf_or_numbered_svgs(tmp_path, capsys):
    assert main(["cards", "throw", SANDPIPER, "--out", str(tmp_path / "t.pdf")]) == 0
    assert len(pages((tmp_path / "t.pdf").read_bytes())) == 6
    assert main(["cards", "drilling", SANDPIPER, "--out", str(tmp_path / "d.svg")]) == 0
    names = sorted(path.name for path in tmp_path.glob("*.svg"))
    assert names == [f"d-{number}.svg" for number in range(1, 7)]
    assert capsys.readouterr().out.count("is written") == 7


def test_command_replaces_none_of_several_files_without_force(tmp_path, capsys):
    (tmp_path / "d-4.svg").write_text("old")
    out = str(tmp_path / "d.svg")
    assert main(["cards", "drilling", SANDPIPER, "--out", out]) == 2
    assert "--force" in capsys.readouterr().err
    assert [path.read_text() for path in tmp_path.iterdir()] == ["old"]
    assert main(["cards", "drilling", SANDPIPER, "--out", out, "--force"]) == 0
    assert len(list(tmp_path.iterdir())) == 6


@pytest.mark.parametrize("name", ["t.png", "none/t.pdf"])
def test_command_refuses_what_it_cannot_write(tmp_path, capsys, name):
    assert main(["cards", "throw", SANDPIPER, "--out", str(tmp_path / name)]) == 2
    assert "expected" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
