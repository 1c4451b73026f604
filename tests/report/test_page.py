"""The page of HTML: complete in itself, verdict first, and whatever a file brings is text."""

import base64
import hashlib
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

import linkcalc
from linkcalc import report, solvers
from linkcalc.cli import main
from linkcalc.report.measures import imperial
from linkcalc.results import MODES
from linkcalc.study.curves import curves

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = str(ROOT / "examples/sandpiper.toml")
STYLE = (ROOT / "linkcalc/report/templates/report.css").read_text(encoding="utf-8")
EMPTY = {"meta", "link", "img", "br", "hr", "input"}
EVIL = '</title><script>window.run=1</script><img src=x onerror=run=1> {{ 7*7 }} & "q"'


class Reader(HTMLParser):
    """Reads a page strictly, and keeps what a test asks for."""

    def __init__(self, page):
        super().__init__()
        self.open, self.tags, self.words = [], [], []
        self.feed(page)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open
        assert self.open.pop() == tag, (tag, self.getpos())

    def handle_data(self, data):
        if self.open and self.open[-1] not in {"style", "script"}:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())

    def of(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="module")
def found():
    return curves(EXAMPLE)


@pytest.fixture(scope="module")
def page(found):
    return report.html(found)


@pytest.fixture(scope="module")
def read(page):
    return Reader(page)


def changed(found, run=0, **fields):
    """The same report with something else in the first case of a run."""
    part = found.report.runs[run]
    case = part.cases[0]._replace(**fields)
    runs = list(found.report.runs)
    runs[run] = part._replace(cases=(case, *part.cases[1:]))
    return found._replace(report=found.report._replace(runs=tuple(runs)))


# what it tells -------------------------------------------------------------------------


def test_verdict_comes_first(read):
    body = read.text.partition("Sandpiper survey glider ")[2]  # behind the title of the window
    assert body.startswith("SHORT Sandpiper survey glider 6 control runs in 3 flight cases: 8 ")


def test_every_shortfall_is_listed_the_least_margin_first(read, found):
    short = [
        m for run in found.report.runs for case in run.cases for m in case.margins if not m.passes
    ]
    listed = re.findall(
        r"([+−]\d+\.\d+) (\w+) of (?=outboard)", read.text.partition("The least margin")[0]
    )
    assert len(listed) == len(short)
    numbers = [float(number.replace("−", "-")) for number, _ in listed]
    assert numbers == sorted(numbers)


def test_every_run_has_its_linkage_and_every_case_four_pictures(page, found):
    pictures = re.findall(r'<figure class="chart" id="([\w-]+)"', page)
    runs, cases = len(found.report.runs), len(found.report.aircraft_cases)
    assert len(pictures) == len(set(pictures)) == runs * (1 + 4 * cases)
    assert page.count("The linkage, to scale</figcaption>") == runs
    for title in ("Torque margin against deflection", "Margin against speed",
                  "Hinge moment and its band", "Voltage along the way to the servo"):  # fmt: skip
        assert page.count(f"{title}</figcaption>") == runs * cases


def test_every_margin_of_every_case_stands_there_with_required_factor_available_and_plain(
    page, found
):
    rows = re.findall(r'<tr role="row"(?: class="lacking")?><th role="rowheader" scope="row"><a '
                      r'href="#term-([\w-]+)">.*?</tr>', page, re.DOTALL)  # fmt: skip
    applying = [
        m.mode for run in found.report.runs for case in run.cases for m in case.margins if m.applies
    ]
    assert len(applying) > 100
    assert [mode.replace("-", " ") for mode in rows if mode.replace("-", " ") in
            {mode.replace("-", " ") for mode in MODES}] == [mode.replace("-", " ") for mode in applying]  # fmt: skip


def test_every_term_is_explained_with_formula_and_source(read, page):
    ids = {attributes["id"] for _, attributes in read.tags if "id" in attributes}
    links = {attributes["href"] for attributes in read.of("a")}
    assert all(link.startswith("#") for link in links)
    assert {link[1:] for link in links} <= ids
    for value in re.findall(r'href="#(term-[\w-]+)"', page):
        row = re.search(rf'<tr role="row" id="{value}">(.*?)</tr>', page, re.DOTALL)[1]
        cells = [
            re.sub(r"<[^>]+>", "", cell).strip()
            for cell in re.findall(r"<td.*?</td>", row, re.DOTALL)
        ]
        assert len(cells) == 4  # meaning, formula, inputs, source
        assert all(cells), value


def test_ids_are_unique_and_what_labels_something_is_there(read):
    ids = [attributes["id"] for _, attributes in read.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for _, attributes in read.tags:
        for label in attributes.get("aria-labelledby", "").split():
            assert label in ids


def test_every_picture_has_a_title_a_description_and_text_as_text(page):
    pictures = re.findall(r'<svg class="field".*?</svg>', page, re.DOTALL)
    for picture in pictures:
        assert 'role="img"' in picture
        assert re.search(r"<title id=[^>]+>[^<]{10,}</title>", picture)
        assert re.search(r"<desc id=[^>]+>[^<]{30,}</desc>", picture)
        assert "<text" in picture


def test_placard_and_freeze_speed_stand_at_the_picture_of_speeds(read, found):
    values = found.report.runs[0].cases[0].values
    for name in ("placard speed", "freeze speed", "torque limit speed"):
        assert f"{name} {values[name].value * 3.6:.2f} km/h" in read.text


def test_lines_of_a_picture_lie_where_their_values_are(page, found):
    # The scale is read off the ticks, as a reader does.
    picture = re.search(r'id="run-4-case-0-2".*?</svg>', page, re.DOTALL)[0]
    ticks = re.findall(r'<text class="y" x="[\d.]+" y="([\d.]+)">([−\d.]+)</text>', picture)
    (y0, v0), (y1, v1) = [
        (float(y) - 4, float(v.replace("−", "-"))) for y, v in (ticks[0], ticks[-1])
    ]
    assert y0 > y1  # the page counts downwards
    assert v0 < v1
    path = re.search(r'data-name="best line" d="([^"]+)"', picture)[1]
    ends = [float(spot.split()[1]) for spot in (path[1:].split("L")[0], path.split("L")[-1])]
    drawn = [v0 + (y - y0) / (y1 - y0) * (v1 - v0) for y in ends]
    in_kg_cm = found.moments[1, 0, 4, [0, -1]] / (9.80665 * 0.01)
    assert drawn == pytest.approx(in_kg_cm.tolist(), abs=0.02)


def test_units_follow_the_reader(found):
    read = Reader(report.html(found, measures=imperial())).text
    assert "mph" in read
    assert "oz·in" in read
    assert "km/h" not in read


def test_band_notes_defaults_factors_and_caution_are_there(read):
    for words in ("What stood in for what was not given", "Factors of safety", "common practice, no source",
                  "An estimate for models and light unmanned aircraft", "stalled at the working point"):  # fmt: skip
        assert words in read.text


# what cannot be computed -----------------------------------------------------------------


def test_margin_that_cannot_be_computed_is_drawn_as_such(found):
    margins = found.report.runs[0].cases[0].margins
    lost = margins[0]._replace(margin=None, plain=None, reason="the solver 'x' failed: <b>why</b>")
    broken = changed(found, margins=(lost, *margins[1:]), governing="torque")
    nothing = found.torque_margin.copy()
    nothing[0, 0] = float("nan")
    page = report.html(broken._replace(torque_margin=nothing))
    picture = re.search(r'<figure class="chart" id="run-0-case-0-0".*?</figure>', page, re.DOTALL)[
        0
    ]
    assert "<path" not in picture
    assert "not computed:" in picture
    words = " ".join(re.sub(r"<[^>]+>", "", picture).split())
    assert "Not computed: the solver &#39;x&#39; failed: &lt;b&gt;why&lt;/b&gt;." in words
    assert re.search(r"<b class=\"number\">none</b>.*?&lt;b&gt;why", page, re.DOTALL)


def test_run_with_every_servo_dead_in_a_case_says_so():
    aircraft = linkcalc.read_aircraft(EXAMPLE)
    dead = linkcalc.RunDemand(run="rudder", dead_servos=1)
    first, *others = aircraft.cases
    first = linkcalc.replace(first, runs=(dead,))
    for cases in ([first], [first, *others]):
        read = Reader(report.html(linkcalc.replace(aircraft, cases=tuple(cases))))
        assert "every servo dead" in read.text
    axes = report.plot_margin_against_speed(
        linkcalc.replace(aircraft, cases=tuple(cases)), "rudder", first.name
    )
    assert "every servo of this run is dead" in axes.texts[0].get_text()


class Broken:
    """A solver that raises."""

    description, sources, validity = "raises", ("none",), {}

    def __init__(self, name, fields):
        self.name, self.fields = name, fields

    def __call__(self, *_):
        raise ZeroDivisionError("oops")


@pytest.mark.parametrize(
    ("failing", "fields"), [("thin_aerofoil", {"deflection": "rad"}), ("tree", {"load": "A"})]
)
def test_pictures_of_a_solver_that_failed_say_so(failing, fields, monkeypatch):
    real = solvers.load
    broken = Broken(failing, fields)
    monkeypatch.setattr(
        solvers, "load", lambda kind, name: broken if name == failing else real(kind, name)
    )
    page = report.html(EXAMPLE)
    read = Reader(page)
    assert f"Not computed: The solver '{failing}'" in read.text
    lost = page.count('<p class="missing">')
    # Air load: margins and moments of all runs; supply: margins and voltages.
    assert lost >= 2 * 6 * 3
    assert page.count("The linkage, to scale</figcaption>") == 6
    assert "SHORT" in read.text


def test_linkage_that_does_not_close_at_neutral_is_not_drawn(found):
    lost = found.drawings[0].servo_angle * float("nan")
    drawings = (
        found.drawings[0]._replace(servo_angle=lost, arm=found.drawings[0].arm * float("nan")),
    )
    page = report.html(found._replace(drawings=drawings + found.drawings[1:]))
    Reader(page)
    picture = re.search(r'id="run-0-linkage".*?</figure>', page, re.DOTALL)[0]
    assert "Not drawn: neutral is not reached." in picture
    assert "<path" not in picture


def test_gap_in_a_curve_breaks_the_line(found):
    margin = found.torque_margin.copy()
    margin[0, 0, 20] = float("nan")
    page = report.html(found._replace(torque_margin=margin))
    picture = re.search(r'id="run-0-case-0-0".*?</svg>', page, re.DOTALL)[0]
    path = re.search(r'data-name="with every factor, worst air load" d="([^"]+)"', picture)[1]
    assert path.count("M") == 2
    assert "nan" not in page.partition("<script>")[0].lower().replace("nano", "")


# what a file brings ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", [EVIL, "x" * 10_000, "\u202egnp.exe\u202c \u05d0\u05d1", "a\x1b[2Jb"]
)
def test_whatever_a_name_holds_stands_there_as_text(name, found):
    aircraft = report.html(found._replace(report=found.report._replace(aircraft=name)))
    noted = report.html(changed(found, notes=(name,)))
    for page in (aircraft, noted):
        read = Reader(page)
        assert len(read.of("script")) == 1
        assert not read.of("img")
        assert name[:100].replace("\u202e", "?").replace("\u202c", "?").replace("\x1b", "?")[
            :60
        ] in " ".join(read.words)
        assert "\u202e" not in page
        assert "\x1b" not in page


def test_markup_in_names_of_a_file_stands_there_as_text(tmp_path):
    words = Path(EXAMPLE).read_text(encoding="utf-8")
    for name in ("Sandpiper survey glider", "rudder", "survey line"):
        words = words.replace(f'name = "{name}"', f"name = '{EVIL} {name}'")
    words = words.replace("outboard_port", '"a <b>bold</b> lead"').replace(
        'lead = ""a <b>bold</b> lead""', "lead = 'a <b>bold</b> lead'"
    )
    path = tmp_path / "evil.toml"
    path.write_text(words, encoding="utf-8")
    read = Reader(report.html(path))
    assert len(read.of("script")) == 1
    assert not read.of("img")
    assert not [tag for tag in read.of("b") if tag.get("class") != "number"]
    assert read.text.count(EVIL) > 20
    assert "a <b>bold</b> lead" in read.text
    assert "49" not in read.text.partition("Not given")[0]


def test_name_of_10000_characters_is_refused_before_anything_is_written(tmp_path, capsys):
    path, out = tmp_path / "long.toml", tmp_path / "out.html"
    words = Path(EXAMPLE).read_text(encoding="utf-8")
    path.write_text(words.replace("Sandpiper survey glider", "x" * 10_000), encoding="utf-8")
    assert main(["check", str(path), "--html", str(out)]) == 2
    assert not out.exists()
    assert len(capsys.readouterr().err) < 1000


# complete in itself ---------------------------------------------------------------------------


def test_nothing_is_fetched_and_only_our_own_script_may_run(read, page):
    assert not re.search(r"(?:src|srcset|xlink:href|action|data)\s*=", page.replace("data-", ""))
    assert not read.of("link")
    assert "url(" not in re.sub(r"url\(#[\w-]+\)", "", page)
    assert "@import" not in page
    policy = next(meta["content"] for meta in read.of("meta") if "http-equiv" in meta)
    assert policy.startswith("default-src 'none'")
    script = re.search(r"<script>(.*?)</script>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert not [name for _, attributes in read.tags for name in attributes if name.startswith("on")]


def test_same_aircraft_makes_the_same_page(found, page):
    assert report.html(found) == page


# colours --------------------------------------------------------------------------------------


def _luminance(color):
    """Relative luminance of sRGB (W3C, Web Content Accessibility Guidelines 2.1, definition)."""
    color = color if len(color) == 7 else "#" + "".join(2 * digit for digit in color[1:])
    parts = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one, other):
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("scheme", range(3), ids=["light", "dark", "print"])
def test_colours_have_the_contrast_that_level_aa_asks_for(scheme):
    # W3C, Web Content Accessibility Guidelines 2.1, 1.4.3: 4.5 for text; 1.4.11: 3 for graphics.
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    blocks = re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)
    assert len(blocks) == 3
    colors = dict(re.findall(r"--(\w+): (#\w+)", blocks[scheme]))
    for paper in ("paper", "sheet"):
        for words in ("ink", "soft", "link"):
            assert _contrast(colors[words], colors[paper]) >= 4.5, (words, paper)
    for line in ("k0", "k1", "k2", "k3"):
        assert _contrast(colors[line], colors["paper"]) >= 3.0, line


def test_lines_differ_by_more_than_their_colour():
    dashes = [re.search(rf"\.s{style} \{{([^}}]*)\}}", STYLE)[1] for style in range(3)]
    assert len({re.sub(r"stroke: var\(--k\d\);?", "", dash).strip() for dash in dashes}) == 3


# the file -----------------------------------------------------------------------------------------


def test_command_writes_the_page_beside_the_text(tmp_path, capsys, page):
    out = tmp_path / "glider.html"
    assert main(["check", EXAMPLE, "--html", str(out)]) == 1
    assert capsys.readouterr().out.startswith("SHORT: Sandpiper")
    assert out.read_text(encoding="utf-8") == page
    assert [path.name for path in tmp_path.iterdir()] == ["glider.html"]


def test_a_page_gets_no_name_of_another_kind(tmp_path, capsys):
    assert main(["check", EXAMPLE, "--html", str(tmp_path / "glider.txt")]) == 2
    told = capsys.readouterr()
    assert "a name that ends in .html" in told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []


def test_existing_file_is_left_alone_without_force(tmp_path, capsys):
    out = tmp_path / "glider.html"
    out.write_text("mine", encoding="utf-8")
    assert main(["check", EXAMPLE, "--html", str(out)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "--force" in told.err
    assert out.read_text(encoding="utf-8") == "mine"
    assert main(["check", EXAMPLE, "--html", str(out), "--force", "--brief"]) == 1
    assert out.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    with pytest.raises(linkcalc.InputFaults, match="a file of this name"):
        report.write_html(out, EXAMPLE)


@pytest.mark.parametrize("out", ["no/such/folder/x.html", "", "bad\0name.html"])
def test_place_that_cannot_be_written_is_a_fault(out, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code = main(["check", EXAMPLE, "--html", out, "--json"])
    told = capsys.readouterr().out
    assert code == 2
    assert '"schema": "linkcalc.faults/1"' in told
    assert not list(tmp_path.iterdir())


def test_failure_while_writing_leaves_the_old_file_as_it_was(tmp_path, monkeypatch, found):
    out = tmp_path / "glider.html"
    out.write_text("mine", encoding="utf-8")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(linkcalc.InputFaults, match="no space left"):
        report.write_html(out, found, force=True)
    assert out.read_text(encoding="utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["glider.html"]


def test_force_without_a_page_is_refused(capsys):
    assert main(["check", EXAMPLE, "--force"]) == 2
    assert "--html" in capsys.readouterr().err


def test_page_of_six_runs_has_less_than_3_megabytes(page):
    assert len(page.encode()) < 3e6


def test_the_calculation_of_every_run_is_written_out_to_its_torque_margin(page):
    report = linkcalc.check(EXAMPLE)
    told = re.findall(r'<details class="working">(.*?)</details>', page, re.DOTALL)
    assert len(told) == len(report.runs)
    for words, run in zip(told, report.runs, strict=True):
        least = min(case.margin("torque").margin for case in run.cases)
        last = re.findall(r"<code>margin = ([-0-9.e]+)", words)[-1]
        assert float(last) == pytest.approx(least, rel=1e-4)
        assert words.count("<math ") >= 10
