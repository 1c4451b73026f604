"""Every line of a workbook is recomputed by sympy from its own printed text, and is the report's."""

import html.parser
import math
import re

import pytest
import sympy

import linkcalc
from linkcalc.checking import checked
from linkcalc.cli import main
from linkcalc.errors import InputFaults
from linkcalc.report.workbook import (
    DIGITS,
    workbook_fragment,
    workbook_markdown,
    workbook_page,
)
from linkcalc.study.workbook import workbook

EXAMPLES = ["sandpiper", "sandpiper_rewired", "tern_flying_wing", "avocet_vee_tail"]
BLOCK = re.compile(r"^    (\w+) = (.+)\n +(?:= )(.+)\n +(?:= )(\S+)(?: (\S+))?$", re.MULTILINE)
ROW = re.compile(r"^\| `(\w+)` \| (\S+) \|", re.MULTILINE)


def half_digit(shown):
    """Half of the last of `DIGITS` significant figures of a printed number."""
    number = float(shown)
    return 0.0 if number == 0 else 0.5 * 10 ** (math.floor(math.log10(abs(number))) + 1 - DIGITS)


def sections(text):
    for part in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
        found = BLOCK.search(part)
        if found:
            yield found, dict(ROW.findall(part))


def recomputed(found, printed):
    """Value of a line by its formula, by its numbers, and how far rounding may take them."""
    symbol, words, numbers, value, _ = found.groups()
    symbols = {name: sympy.Symbol(name, real=True) for name in printed}
    formula = sympy.sympify(words, locals=symbols)
    assert {str(each) for each in formula.free_symbols} <= set(printed), symbol
    at = {symbols[name]: sympy.Float(text) for name, text in printed.items()}
    by_formula = float(formula.subs(at))
    by_numbers = float(sympy.sympify(numbers))
    slack = half_digit(value)
    for name, text in printed.items():
        slope = float(sympy.diff(formula, symbols[name]).subs(at).doit())
        slack += abs(slope) * half_digit(text)
    return by_formula, by_numbers, float(value), slack * 1.01 + 1e-12


@pytest.fixture(scope="module", params=EXAMPLES)
def example(request):
    return checked(f"examples/{request.param}.toml")


def test_every_line_follows_from_its_own_printed_numbers(example):
    lines = 0
    for run in example.described.runs:
        case = example.described.cases[0].name
        for found, printed in sections(
            workbook_markdown(workbook(example, run=run.name, case=case))
        ):
            by_formula, by_numbers, value, slack = recomputed(found, printed)
            assert by_formula == pytest.approx(value, abs=slack), found[0]
            assert by_numbers == pytest.approx(value, abs=slack), found[0]
            lines += 1
    assert lines >= 13 * len(example.described.runs)


REPORTED = {
    "q": "dynamic pressure", "M": "hinge moment", "M_1": "hinge moment", "T_hold": "hold torque",
    "T_move": "moving torque", "T_s": "torque available",
}  # fmt: skip


def test_printed_results_are_those_of_the_report(example):
    report = example.report()
    for run in report.runs:
        for case in run.cases:
            text = workbook_markdown(workbook(example, run=run.name, case=case.name))
            printed = {found[1]: found[4] for found, _ in sections(text)}
            expected = {
                symbol: case.values[name].value
                for symbol, name in REPORTED.items()
                if symbol in printed
            }
            assert len(expected) == 5
            expected["margin"] = case.margin("torque").margin
            for symbol, value in expected.items():
                # a rounding step of the search for the governing deflection, 1e-6, beside the print's
                slack = 1.01 * half_digit(printed[symbol]) + 2e-6 * (1 + abs(value))
                assert float(printed[symbol]) == pytest.approx(value, abs=slack), (run.name, symbol)
            at_limit = case.values["voltage at limit"].value
            volts = [value for symbol, value in printed.items() if symbol.startswith("V_")]
            if volts:
                assert float(volts[-1]) == pytest.approx(at_limit, abs=half_digit(volts[-1]) * 1.01)


def test_lines_carry_their_numbers_on(example):
    run = example.described.runs[0].name
    text = workbook_markdown(workbook(example, run=run, case=example.described.cases[-1].name))
    known = {}
    for found, printed in sections(text):
        for symbol, value in printed.items():
            assert known.setdefault(symbol, value) == value, symbol
        known[found[1]] = found[4]


def test_voltage_is_followed_along_both_leads_of_the_example():
    book = workbook("examples/sandpiper.toml", run="outboard aileron, port", case="survey line")
    symbols = [line.formula.symbol for line in book.lines]
    assert [each for each in symbols if each.startswith("V_")] == ["V_bus", "V_lead_1", "V_lead_2"]
    assert "lead 'outboard_port'" in book.line("V_lead_2").note


def test_without_names_the_least_torque_margin_is_written_out():
    book = workbook("examples/sandpiper.toml")
    report = linkcalc.check("examples/sandpiper.toml")
    least = min(case.margin("torque").margin for run in report.runs for case in run.cases)
    assert book.report.margin("torque").margin == least


ELASTIC = """
format = "linkcalc.aircraft/1"
name = "workbook rig"
supply = { voltage = "6 V", internal_resistance = "50 mohm", current_limit = "none" }
[servos.s]
rows = [{ voltage = "6 V", stall_torque = "260 mNm", no_load_speed = "0.16 s/60deg", stall_current = "1.9 A" }]
[leads.r]
gauge = "26 AWG"
length = "1 m"
REGULATOR
[[cases]]
name = "turn"
kind = "manoeuvre"
speed = "25 m/s"
[[runs]]
name = "elevator"
servo = "s"
lead = "r"
arm = "10 mm"
horn = "20 mm"
compliance = "8 deg/Nm"
surface = { span = "400 mm", chord = "45 mm", throw = "20 deg" }
"""


def rig(tmp_path, **parts):
    words = ELASTIC.replace("REGULATOR", parts.get("regulator", ""))
    for old, new in parts.get("changes", {}).items():
        assert old in words
        words = words.replace(old, new)
    path = tmp_path / "rig.toml"
    path.write_text(words)
    return workbook(path)


def test_an_elastic_linkage_has_the_line_of_its_give(tmp_path):
    book = rig(tmp_path)
    assert "phi" in [line.formula.symbol for line in book.lines]
    assert book.line("T_hold").value == pytest.approx(
        book.report.values["hold torque"].value, rel=1e-6
    )
    for found, printed in sections(workbook_markdown(book)):
        by_formula, _, value, slack = recomputed(found, printed)
        assert by_formula == pytest.approx(value, abs=slack)


def test_behind_a_regulator_the_voltage_is_the_solvers_and_that_is_said(tmp_path):
    book = rig(
        tmp_path,
        regulator='regulator = { kind = "linear", current_limit = "none", voltage = "5 V", dropout = "0.3 V" }',
    )
    assert not [line for line in book.lines if line.formula.symbol.startswith("V_")]
    assert any("supply solver 'tree'" in note for note in book.notes)
    assert book.line("margin").value == pytest.approx(book.report.margin("torque").margin, rel=1e-5)


def test_separated_flow_has_the_solvers_own_coefficient(tmp_path):
    book = rig(tmp_path, changes={'throw = "20 deg"': 'throw = "38 deg"', '"20 mm"': '"10 mm"'})
    assert any("not linear" in note for note in book.notes)
    assert book.line("T_move").value == pytest.approx(
        book.report.values["moving torque"].value, rel=1e-6
    )


def test_a_margin_that_could_not_be_computed_ends_the_book_with_its_reason(tmp_path):
    coefficients = (
        'throw = "20 deg", coefficients = { C_h_alpha = "0 1/rad", C_h_delta = "0 1/rad" }'
    )
    book = rig(tmp_path, changes={'throw = "20 deg"': coefficients})
    assert book.reason
    assert book.reason == book.report.margin("torque").reason
    assert "No torque margin: " in workbook_markdown(book)
    assert "margin" not in [line.formula.symbol for line in book.lines]
    assert "No torque margin: " in workbook_fragment(book)


def test_a_run_whose_servos_are_dead_has_no_lines(tmp_path):
    dead = '[[cases.runs]]\nrun = "elevator"\ndead_servos = 1\n[[runs]]\n'
    book = rig(tmp_path, changes={"[[runs]]\n": dead})
    assert (book.lines, book.report) == ((), None)
    assert "taken as dead" in workbook_markdown(book)


def test_a_supply_solver_that_fails_ends_the_book_after_the_loads(tmp_path, monkeypatch):
    def broken(*_):
        raise ValueError("broken on purpose")

    monkeypatch.setattr("linkcalc_wiring.tree.Tree.__call__", broken)
    book = rig(tmp_path)
    assert "broken on purpose" in book.reason
    assert book.lines[-1].formula.symbol == "T_move"


class Outline(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.tags, self.headings = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in {"meta", "br"}:
            self.open.append(tag)
        if re.fullmatch(r"h\d", tag):
            self.headings.append(int(tag[1]))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_fragment_is_well_formed_with_a_formula_for_every_line():
    book = workbook("examples/sandpiper.toml")
    page = Outline()
    page.feed(workbook_fragment(book, level=3))
    assert not page.open
    assert page.headings[0] == 3
    assert set(page.headings) == {3, 4}
    formulas = [held for tag, held in page.tags if tag == "math"]
    assert len(formulas) == len(book.lines)
    assert formulas[0]["alttext"] == "q = rho*V**2/2"


def test_mathml_says_what_the_formula_says():
    # sympy's own presentation of the formula, read back by its words: V squared, rho, over two
    found = workbook_fragment(workbook("examples/sandpiper.toml"))
    first = found.partition("<math")[2].partition("</math>")[0]
    assert "<msup>" in first
    assert "<mfrac>" in first
    assert "&#961;" in first or "ρ" in first


HOSTILE = "<script>alert(1)</script>\u202e`*_|\x1b[2J" + "x" * 10_000


@pytest.mark.parametrize("made", [workbook_markdown, workbook_fragment, workbook_page])
def test_hostile_names_are_cut_and_shown_as_text(made):
    book = workbook("examples/sandpiper.toml")
    lines = tuple(line._replace(note=HOSTILE[:100]) for line in book.lines)
    words = made(book._replace(aircraft=HOSTILE, run=HOSTILE, case=HOSTILE, lines=lines))
    assert "<script" not in words.replace("\\<script", "")
    assert "\u202e" not in words
    assert "\x1b" not in words
    assert len(words) < 100_000


def test_page_fetches_and_runs_nothing():
    page = Outline()
    page.feed(workbook_page(workbook("examples/sandpiper.toml")))
    assert not page.open
    assert not {"src", "href", "onclick"} & {name for _, held in page.tags for name in held}
    assert "script" not in [tag for tag, _ in page.tags]


def test_unknown_names_are_faults():
    with pytest.raises(InputFaults, match="elevator"):
        workbook("examples/sandpiper.toml", run="elevatr")
    with pytest.raises(InputFaults, match="survey line"):
        workbook("examples/sandpiper.toml", case="x" * 10_000)


def test_command_prints_markdown_and_tells_by_its_code_whether_the_torque_suffices(
    capsys, tmp_path
):
    chosen = ["--run", "elevator", "--case", "survey line"]
    assert main(["working", "examples/sandpiper.toml", *chosen]) == 0
    assert capsys.readouterr().out.startswith("# Sandpiper survey glider: elevator in survey line")
    assert main(["working", "examples/sandpiper.toml"]) == 1
    out = tmp_path / "book.html"
    assert main(["working", "examples/sandpiper.toml", *chosen, "--html", str(out)]) == 0
    assert main(["working", "examples/sandpiper.toml", *chosen, "--html", str(out)]) == 2
    assert main(["working", "examples/sandpiper.toml", "--run", "rudr"]) == 2


@pytest.mark.parametrize("what", ["an extension", "copper that warms"])
def test_the_way_of_the_current_is_written_out_with(what):
    glider = linkcalc.read_aircraft("examples/sandpiper_rewired.toml")
    rudder = next(k for k, run in enumerate(glider.runs) if run.name == "rudder")
    lead = glider.runs[rudder].lead
    supply = glider.supply
    if what == "an extension":
        piece = linkcalc.Extension(gauge="28 AWG", length="0.3 m")
        lead = linkcalc.replace(lead, name="longer", extensions=[piece])
    else:
        lead = linkcalc.replace(lead, name="warm", copper_temperature="computed")
        supply = linkcalc.replace(supply, air_temperature="30 degC")
    runs = list(glider.runs)
    runs[rudder] = linkcalc.replace(runs[rudder], lead=lead)
    changed = linkcalc.replace(glider, runs=runs, supply=supply)
    book = workbook(changed, run="rudder")
    told = book.report.values["voltage at limit"].value
    pieces = 2 if what == "an extension" else 1
    way = [line for line in book.lines if line.formula.symbol.startswith("V_lead")]
    assert len(way) == pieces
    assert way[-1].value == pytest.approx(told, rel=1e-9)
    assert not any("is that of the supply solver" in note for note in book.notes)
