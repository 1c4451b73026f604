"""The bench sheet as text and as a page: complete, in 80 columns, with hostile names as text."""

import html.parser
import re
import stat

import pytest

import linkcalc
from linkcalc.cli import main
from linkcalc.report import measures
from linkcalc.report.bench_sheet import STEPS, bench_html, bench_text
from linkcalc.study.proof import proof

REWIRED = "examples/sandpiper_rewired.toml"
HOSTILE = "<script>alert(1)</script>\u202eevil\x1b[2J" + "x" * 10_000


class Outline(html.parser.HTMLParser):
    """Elements and text of a page."""

    def __init__(self):
        super().__init__()
        self.elements, self.words = [], []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)


def outlined(page):
    found = Outline()
    found.feed(page)
    return found


def hostile():
    """Return a proof whose names are what no file is let through with."""
    found = proof(REWIRED)
    first = found.runs[0]._replace(name=HOSTILE, case=HOSTILE)
    return found._replace(aircraft=HOSTILE, runs=(first, *found.runs[1:]))


def test_text_keeps_to_80_columns_and_has_every_run_and_step():
    words = bench_text(proof(REWIRED))
    assert max(map(len, words.splitlines())) <= 80
    joined = " ".join(words.split())
    assert all(step in joined for step in STEPS)
    assert words.count("to read ") == 6
    assert words.count("[____") == 6 * 8


def test_propeller_comes_off_before_anything_has_power_and_the_mass_rests_before_it_is_freed():
    text = " ".join(STEPS)
    order = [
        "propeller off", "Tie the aircraft down", "Switch on", "fix strap", "third of the load",
        "hold for the time", "back on its rest", "switch off", "take the load off",
    ]  # fmt: skip
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert "Keep fingers out" in text


def test_numbers_of_the_text_are_those_of_the_proof():
    found = proof(REWIRED)
    load, run = found.runs[4].surfaces[0], found.runs[4]
    words = " ".join(bench_text(found).partition("\nelevator\n")[2].split())
    assert float(re.search(r"hang ([\d.]+) g", words)[1]) == pytest.approx(
        load.mass * 1e3, rel=5e-3
    )
    shown = re.search(r"servo's plug ([\d.]+) V", words)[1]
    assert float(shown) == pytest.approx(run.likely.voltage, rel=5e-3)
    least = re.search(r"pass: at least ([\d.]+) V", words)[1]
    assert float(least) == pytest.approx(
        max(run.minimum_voltage, 0.98 * run.cautious.voltage), rel=5e-3
    )


def test_a_surface_without_a_mass_has_no_weight_of_its_own():
    found = proof(REWIRED)
    first = found.runs[4].surfaces[0]
    assert first.own_level != 0
    bare = found.runs[4]._replace(surfaces=(first._replace(own_level=0.0, own_vertical=0.0),))
    words = " ".join(bench_text(found._replace(runs=(bare,))).split())
    assert words.count("No weight of its own is counted.") == 2
    assert "Its own weight" not in words


def test_imperial_units_are_ounces_and_inches():
    words = bench_text(proof(REWIRED), measures=measures.imperial())
    assert " oz on the chord line" in words
    assert "oz·in" in words
    assert " mm" not in words


def test_page_is_self_contained_and_its_tables_have_heads_and_boxes():
    page = outlined(bench_html(proof(REWIRED)))
    tags = [tag for tag, _ in page.elements]
    assert "script" not in tags
    assert not {"src", "href"} & {name for _, held in page.elements for name in held}
    assert tags.count("table") == 6
    assert sum(held.get("class") == "box" for _, held in page.elements) == 6 * 8
    assert ("html", {"lang": "en"}) in page.elements
    assert all(held.get("scope") in {"col", "row"} for tag, held in page.elements if tag == "th")


@pytest.mark.parametrize("made", [bench_text, bench_html])
def test_hostile_names_are_cut_and_shown_as_text(made):
    words = made(hostile())
    assert ("<script" in words) == (made is bench_text)
    assert "\u202e" not in words
    assert "\x1b" not in words
    assert len(words) < 60_000


def test_hostile_names_keep_what_can_be_read():
    page = outlined(bench_html(hostile()))
    assert any("<script>alert(1)</script>?evil?[2J" in words for words in page.words)
    assert "script" not in [tag for tag, _ in page.elements]


both_ways = pytest.mark.parametrize("made", [bench_text, bench_html])


@both_ways
def test_a_run_that_would_stall_has_no_boxes_and_says_so_first(made):
    words = made(proof("examples/sandpiper.toml"))
    assert words.count("DO NOT LOAD IT YET") == 2
    assert words.count("held for<") + words.count("  held for ") == 4


@both_ways
def test_a_run_without_a_load_is_shown_with_the_reason(made):
    found = proof(REWIRED)
    lost = found.runs[0]._replace(reason="neutral is not <reached>", surfaces=())
    words = made(found._replace(runs=(lost, *found.runs[1:])))
    assert "No proof load: neutral is not" in words
    assert ("<reached>" in words) == (made is bench_text)


def test_markup_in_a_file_is_text_on_the_page():
    described = linkcalc.read_aircraft(REWIRED)
    page = bench_html(proof(described.__replace__(name="<b onclick=x>&amp; \u05d0\u05d1</b>")))
    assert "&lt;b onclick=x&gt;&amp;amp; \u05d0\u05d1&lt;/b&gt;" in page


def test_command_prints_the_sheet_and_tells_by_its_code_whether_all_can_be_loaded(capsys):
    assert main(["proof", REWIRED]) == 0
    assert capsys.readouterr().out.startswith("BENCH SHEET: Sandpiper")
    assert main(["proof", "examples/sandpiper.toml"]) == 1


def test_command_writes_a_page_and_replaces_none_without_force(tmp_path, capsys):
    out = str(tmp_path / "sheet.html")
    assert main(["proof", REWIRED, "--html", out]) == 0
    first = (tmp_path / "sheet.html").read_bytes()
    assert main(["proof", REWIRED, "--html", out]) == 2
    assert "--force" in capsys.readouterr().err
    (tmp_path / "sheet.html").write_text("old")
    assert main(["proof", REWIRED, "--html", out, "--force"]) == 0
    assert (tmp_path / "sheet.html").read_bytes() == first


@pytest.mark.parametrize("name", ["sheet.pdf", "sheet", "none/sheet.html"])
def test_command_refuses_what_it_cannot_write(tmp_path, capsys, name):
    assert main(["proof", REWIRED, "--html", str(tmp_path / name)]) == 2
    assert "expected" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_written_page_can_be_read_like_the_users_other_files(tmp_path):
    out = tmp_path / "sheet.html"
    assert main(["proof", REWIRED, "--html", str(out)]) == 0
    assert stat.S_IMODE(out.stat().st_mode) & 0o400
