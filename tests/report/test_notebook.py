"""What notebooks show of reports, runs and studies."""

from html.parser import HTMLParser

import pytest

import linkcalc
from linkcalc.study.combinations import combinations
from linkcalc.study.remedies import Place, Remedies, Shortfall
from linkcalc.study.sweep import field_axis
from linkcalc.study.wires import Wire, Wiring

EVIL = "<script>run()</script> \u202e & x"


class Cells(HTMLParser):
    def __init__(self, page):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(page)

    def handle_starttag(self, tag, _):
        self.tags.append(tag)

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def report():
    return linkcalc.check("examples/sandpiper.toml")


def test_a_report_shows_itself_in_a_line_where_there_is_no_page():
    made = linkcalc.check("examples/sandpiper.toml")
    run = made.runs[0]
    assert repr(made) == "<Report SHORT 'Sandpiper survey glider', 6 control runs, 3 flight cases>"
    for part in (run, *run.cases):
        assert repr(part).startswith(f"<{type(part).__name__} {part.name!r}, least margin")
        assert len(repr(part)) < 300
    for case in run.cases:
        least = min(each.margin for each in case.margins if each.applies)
        told = repr(case).partition("least margin ")[2].rstrip(">")
        assert float(told.split()[0]) == pytest.approx(least, abs=0.005)
        assert told in repr(run)


def test_report_shows_verdict_and_least_margins(report):
    read = Cells(report._repr_html_())
    assert read.words[0].startswith("SHORT: Sandpiper survey glider")
    assert read.tags.count("tr") == 1 + len(report.runs)
    assert "-1.00 short (speed)" in read.words
    assert "+0.10 (over-voltage)" in read.words


def test_run_shows_every_mode_that_applies(report):
    run = report.runs[0]
    read = Cells(run._repr_html_())
    assert read.tags.count("tr") == 1 + sum(
        any(case.margin(mode).applies for case in run.cases) for mode in ("torque", "travel", "voltage",
        "over-voltage", "current", "speed", "hold", "buckling", "joint", "gear", "free play"))  # fmt: skip
    assert "does not apply" in read.words  # holding in a brief case
    assert f"{run.cases[0].margin('torque').margin:+.2f} short" in read.words


def test_a_run_that_is_dead_or_unknown_is_shown_as_such(report):
    run = report.runs[0]
    lost = run.cases[0].margins[0]._replace(margin=None)
    case = run.cases[0]._replace(governing="torque", margins=(lost, *run.cases[0].margins[1:]))
    changed = report._replace(runs=(run._replace(cases=(case,)), *report.runs[1:]))
    read = Cells(changed._repr_html_())
    assert "not computed (torque)" in read.words
    assert read.words.count("every servo dead") == 2


@pytest.mark.parametrize("name", [EVIL, "x" * 10_000])
def test_names_are_text(name, report):
    place = Place(name, name, name)
    wire = Wire((name,), 1.0, 1, name, None, None, 0.1, 0.1, 0.1, fits=None)
    for shown in (
        report._replace(aircraft=name),
        report.runs[0]._replace(name=name),
        Remedies(name, (Shortfall(place, -0.5, (), ()),), ((place, name),)),
        Wiring(
            name,
            "mass",
            (wire,),
            passes=True,
            passes_now=True,
            tried=1,
            exact=True,
            short=(),
            others=(),
        ),
    ):
        page = shown._repr_html_()
        assert set(Cells(page).tags) == {"table", "caption", "thead", "tbody", "tr", "th", "td"}
        assert "\u202e" not in page
        assert len(page) < 10_000
        assert "no single change clears it" in page or not isinstance(shown, Remedies)


def test_combinations_show_the_best_first():
    glider = linkcalc.read_aircraft("examples/sandpiper.toml")
    arms = field_axis("runs['outboard aileron, starboard'].arm", ["7 mm", "9 mm", "12 mm"])
    found = combinations(glider, [arms])
    cells = Cells(found._repr_html_())
    rows = [word for word in cells.words if word.endswith(" mm")]
    best = [f"{arms.labels[k]}" for k in (-found.margin).argsort(kind="stable")]
    assert rows == best
    assert "0 of 3 combinations will do." in " ".join(cells.words)


def test_a_tolerance_study_shows_the_least_sure_margins_first():
    found = linkcalc.tolerance("examples/sandpiper_rewired.toml", samples=64, precision=0.4)
    cells = Cells(found._repr_html_())
    text = " ".join(cells.words)
    assert f"{found.whole.chance.chance:.2%}" in text
    worst = max(found.margins, key=lambda key: found.margins[key].chance.chance)
    assert f"{worst[2]} of {worst[0]} in {worst[1]}" in text
