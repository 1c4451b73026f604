"""Solvers are found through entry points; a broken one is told and takes nobody down."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from linkcalc import solvers
from linkcalc.errors import LinkcalcError, SolverError
from linkcalc.report.solver_table import described, listed

GOOD = '''
"""A stranger's solver."""


class Flat:
    name = "flat"
    description = "always the same"
    sources = ("none",)
    validity = {}
    fields = {"deflection": "rad", "area": "m^2"}

    def __call__(self, fields):
        zero = 0.0 * (fields["deflection"] + fields["area"])
        return {"low": zero - 1, "best": zero - 1, "high": zero - 1} | dict.fromkeys(
            ("C_h0", "C_h_alpha", "C_h_delta", "k_s"), zero
        )


flat = Flat()


class NeedsArguments(Flat):
    def __init__(self, speed):
        pass


class NoFields:
    name = description = "x"
    sources, validity = (), {}

    def __call__(self, fields):
        return {}


class Asks(Flat):
    fields = {"deflection": "deg"}


class AsksForNothingOffered(Flat):
    fields = {"reynolds_number": "1"}


class MightAsk(Flat):
    optional = {"station_1_y": "mm"}


text = "not a solver"
'''


@pytest.fixture
def install(tmp_path, monkeypatch):
    """Install a made-up distribution with entry points and a module, for this test alone."""

    def installed(distribution, entries, module="", code=GOOD, group="linkcalc.hinge_moment"):
        info = tmp_path / f"{distribution}-1.2.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(
            f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.2\n"
        )
        lines = "".join(f"{name} = {target}\n" for name, target in entries.items())
        (info / "entry_points.txt").write_text(f"[{group}]\n{lines}")
        if module:
            (tmp_path / f"{module}.py").write_text(code)
            monkeypatch.delitem(sys.modules, module, raising=False)

    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delenv(solvers.SWITCH, raising=False)
    monkeypatch.setattr(solvers, "_loaded", {})
    return installed


def test_the_bundled_solvers_are_there():
    names = {kind: {found.name for found in solvers.available(kind)} for kind in solvers.GROUPS}
    assert names["hinge moment"] >= {"coefficients", "plate", "thin_aerofoil"}
    assert names["supply"] >= {"tree"}


@pytest.mark.parametrize(("kind", "name"), [("hinge moment", "plate"), ("supply", "tree")])
def test_a_solver_describes_itself(kind, name):
    solver = solvers.load(kind, name)
    assert solver.name == name
    assert solver.description
    assert "\n" not in solver.description
    assert all(solver.sources)
    protocol = {"hinge moment": solvers.HingeMomentSolver, "supply": solvers.SupplySolver}[kind]
    assert isinstance(solver, protocol)


def test_a_strangers_solver_is_found_beside_ours_by_instance_or_by_class(install):
    install("stranger", {"flat": "made_up:flat", "flat_class": "made_up:Flat"}, "made_up")
    found = {item.name: item for item in solvers.available("hinge moment")}
    assert found["flat"].distribution == "stranger 1.2"
    assert "made_up" not in sys.modules  # listing imports nothing
    assert "plate" in found
    for name in ("flat", "flat_class"):
        assert solvers.load("hinge moment", name).fields == {"deflection": "rad", "area": "m^2"}


BROKEN = {
    "misspelt": ("made_up:flat", "plaet", "no_entry"),
    "missing module": ("not_there_at_all:x", "ModuleNotFoundError", "stranger 1.2"),
    "missing name": ("made_up:not_there", "AttributeError", "stranger 1.2"),
    "class with arguments": ("made_up:NeedsArguments", "TypeError", "stranger 1.2"),
    "without fields": ("made_up:NoFields", "lacks fields", "stranger 1.2"),
    "no solver": ("made_up:text", "lacks", "stranger 1.2"),
    "another unit": ("made_up:Asks", "'deflection' in 'deg'", "stranger 1.2"),
    "a station in another unit": ("made_up:MightAsk", "'station_1_y' in 'mm'", "stranger 1.2"),
    "a field that is not offered": (
        "made_up:AsksForNothingOffered",
        "reynolds_number",
        "stranger 1.2",
    ),
}


@pytest.mark.parametrize("name", [name for name in BROKEN if name != "misspelt"])
def test_a_broken_solver_is_told_by_name_distribution_and_reason(name, install):
    target, reason, origin = BROKEN[name]
    install("stranger", {"broken": target}, "made_up")
    assert "broken" in {found.name for found in solvers.available("hinge moment")}
    for _ in range(2):  # the reason is told every time
        with pytest.raises(SolverError) as caught:
            solvers.load("hinge moment", "broken")
        told = str(caught.value)
        assert "'broken'" in told
        assert reason in told
        assert origin in told
        assert caught.value.solver == "broken"
    assert solvers.load("hinge moment", "plate").name == "plate"


def test_a_solver_whose_module_raises_anything_is_told(install):
    install("stranger", {"broken": "made_up:x"}, "made_up", "raise MemoryError('at import')")
    with pytest.raises(
        SolverError, match=r"stranger 1\.2 cannot be loaded: MemoryError: at import"
    ):
        solvers.load("hinge moment", "broken")


def test_a_name_that_is_not_installed_is_told_with_those_that_are():
    with pytest.raises(SolverError, match=r"called 'plaet' is installed \(there are: .*plate"):
        solvers.load("hinge moment", "plaet")


def test_two_distributions_that_claim_one_name_are_both_named(install):
    install("stranger", {"flat": "made_up:flat"}, "made_up")
    install("neighbour", {"flat": "made_up:Flat"})
    with pytest.raises(SolverError, match=r"neighbour 1\.2 and stranger 1\.2"):
        solvers.load("hinge moment", "flat")


def test_one_switch_turns_other_distributions_off(install, monkeypatch):
    install("stranger", {"flat": "made_up:flat"}, "made_up")
    install("linkcalc_extra", {"extra": "made_up:flat"})
    monkeypatch.setenv(solvers.SWITCH, "1")
    assert not {"flat", "extra"} & set(solvers.names("hinge moment"))
    finder = type("Finder", (), {"find_distributions": lambda *_: [], "find_spec": lambda *_: None})
    with monkeypatch.context() as asked:  # now the standard library is asked
        asked.setattr(sys, "meta_path", [*sys.meta_path, finder()])
        assert not {"flat", "extra"} & set(solvers.names("hinge moment"))
        assert "plate" in solvers.names("hinge moment")
    assert "flat" not in {found.name for found in solvers.available("hinge moment")}
    assert "plate" in {found.name for found in solvers.available("hinge moment")}
    monkeypatch.setenv(solvers.SWITCH, "0")
    assert "flat" in {found.name for found in solvers.available("hinge moment")}


def test_an_error_of_a_solver_is_one_of_ours():
    assert issubclass(SolverError, LinkcalcError)


# calling ---------------------------------------------------------------------------------


class Told:
    """A solver that returns what it is told to."""

    name, description, sources, validity = "told", "", (), {}

    def __init__(self, fields=("deflection",), **answer):
        self.fields = dict.fromkeys(fields, "rad")
        lines = {"low": -1.0, "best": -2.0, "high": -3.0}
        self.answer = lines | dict.fromkeys(("C_h0", "C_h_alpha", "C_h_delta", "k_s"), 0.0) | answer

    def __call__(self, fields):
        self.given = fields
        shape = np.shape(fields["deflection"])
        return {
            name: value if np.ndim(value) else np.full(shape, value)
            for name, value in self.answer.items()
            if value is not None
        }


HERE = {"deflection": np.array([0.1, 0.2]), "area": np.array(1.0)}


class Meddles(Told):
    """A solver that changes what it is given."""

    def __call__(self, fields):
        fields["deflection"] *= 2.0
        return super().__call__(fields)


class Talks(Told):
    """A solver that prints."""

    def __call__(self, fields):
        sys.stdout.write("now in\x1b[31m step 1")
        return super().__call__(fields)


def test_a_solver_cannot_change_what_it_was_given():
    given = {name: np.array(value) for name, value in HERE.items()}
    with pytest.raises(SolverError, match=r"The solver 'told' failed: ValueError: .*read-only"):
        solvers.call_hinge_moment(Meddles(), given)
    assert given["deflection"].tolist() == HERE["deflection"].tolist()
    given["deflection"][0] = 7.0  # whoever gave it still can


def test_what_a_solver_prints_is_told_beside_the_answer_and_is_not_in_it(capsys):
    answer = solvers.call_hinge_moment(Talks(), HERE)
    assert answer["best"].tolist() == [-2.0, -2.0]
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("The solver 'told' printed 'now in\\x1b[31m step 1'")


def test_a_solver_that_fails_at_work_is_told_with_its_distribution(install):
    code = GOOD.replace("zero = 0.0", "raise KeyError('wing')\n        zero = 0.0")
    install("stranger", {"flat": "made_up:flat"}, "made_up", code)
    solver = solvers.load("hinge moment", "flat")
    with pytest.raises(SolverError, match=r"The solver 'flat' of stranger 1\.2 failed: KeyError"):
        solvers.call_hinge_moment(solver, HERE)


@pytest.mark.parametrize("where", ["at import", "at work"])
def test_a_solver_that_exits_does_not_end_us_with_a_code_of_its_choice(where, install):
    leave = "raise SystemExit(0)"
    code = (
        leave
        if where == "at import"
        else GOOD.replace("zero = 0.0", f"{leave}\n        zero = 0.0")
    )
    install("stranger", {"flat": "made_up:flat"}, "made_up", code)
    with pytest.raises(SolverError, match=r"'flat' of stranger 1\.2 .*: SystemExit: 0"):
        solvers.call_hinge_moment(solvers.load("hinge moment", "flat"), HERE)


@pytest.mark.parametrize(
    ("member", "reason"),
    [
        ("fields = None", "has fields that are no mapping of texts"),
        ("fields = {'area': 3}", "has fields that are no mapping of texts"),
        ("fields = property(lambda self: 1 / 0)", "cannot be loaded: ZeroDivisionError"),
        ("optional = 7", "has optional fields that are no mapping of texts"),
        ("validity = None", "has a validity that is no mapping by names of fields"),
        ("validity = {'area': 3}", "has a validity that is not two numbers for each field"),
        ("validity = {'area': (0.0,)}", "has a validity that is not two numbers"),
        ("validity = {'area': (None, 1.0)}", "has a validity that is not two numbers"),
        ("sources = 5", "has sources that are no tuple of texts"),
        ("sources = 'a report'", "has sources that are no tuple of texts"),
        ("description = None", "has a description that is no text"),
        ("caution = object()", "has a caution that is no text"),
    ],
)
def test_a_solver_with_a_member_that_cannot_be_used_is_told(member, reason, install):
    code = GOOD.replace("    def __call__", f"    {member}\n\n    def __call__", 1)
    assert member in code
    install("stranger", {"flat": "made_up:flat"}, "made_up", code)
    with pytest.raises(SolverError) as caught:
        solvers.load("hinge moment", "flat")
    assert str(caught.value).startswith("The hinge moment solver 'flat' of stranger 1.2 ")
    assert reason in str(caught.value)


def test_a_solver_is_listed_with_all_that_it_says_of_itself(install):
    code = GOOD.replace("validity = {}", 'validity = {"area": (0.01, 2.0)}')
    install("stranger", {"flat": "made_up:flat", "broken": "not_there:x"}, "made_up", code)
    assert "hinge moment  broken          stranger 1.2\n" in listed()
    told = described("flat")
    for words in ("flat, of stranger 1.2", "always the same", "deflection [rad], area [m^2]"):
        assert words in told
    assert "area 0.01 to 2 m^2" in told
    with pytest.raises(SolverError, match=r"'broken' of stranger 1\.2 cannot be loaded"):
        described("broken")
    with pytest.raises(SolverError, match=r"No solver called 'plaet'.*thin_aerofoil"):
        described("plaet")


def test_a_solver_receives_the_fields_it_declares_and_no_other():
    solver = Told()
    answer = solvers.call_hinge_moment(solver, HERE)
    assert set(solver.given) == {"deflection"}
    np.testing.assert_array_equal(answer["best"], [-2.0, -2.0])


def test_a_solver_receives_what_it_could_use_where_that_is_offered():
    solver = Told()
    solver.optional = {"stations": "1", "station_1_y": "m"}
    solvers.call_hinge_moment(solver, HERE)
    assert set(solver.given) == {"deflection"}
    solvers.call_hinge_moment(solver, HERE | {"stations": np.array(2.0)})
    assert set(solver.given) == {"deflection", "stations"}


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        ({"high": None}, "failed: KeyError"),
        ({"low": np.zeros(3)}, r"'low' of shape \(3,\) instead of \(2,\)"),
        ({"best": np.array([np.nan, -2.0])}, "'best' that is not finite"),
        ({"high": np.inf}, "'high' that is not finite"),
        ({"C_h_delta": np.nan}, "'C_h_delta' that is not finite"),
        ({"low": -2.5}, "not in the order low, best, high"),
        ({"high": -1.5}, "not in the order low, best, high"),
        ({"best": "a word"}, "failed: ValueError"),
    ],
)
def test_what_a_hinge_moment_solver_may_not_return_is_told(answer, reason):
    with pytest.raises(SolverError, match=f"The solver 'told' .*{reason}"):
        solvers.call_hinge_moment(Told(**answer), HERE)


def test_order_of_lines_is_that_of_the_moment_that_opposes_the_deflection():
    up = {"deflection": np.array([-0.1])}
    lines = {"low": 1.0, "best": 2.0, "high": 3.0}
    assert solvers.call_hinge_moment(Told(**lines), up)["high"] == 3.0
    with pytest.raises(SolverError, match="order"):
        solvers.call_hinge_moment(Told(**lines), {"deflection": np.array([0.1])})


def test_a_solver_that_tells_no_other_high_line_has_both_signs_at_neutral_if_its_band_is_open():
    offered = {"deflection": np.array([0.0, 0.1])}
    told = solvers.call_hinge_moment(Told(), offered)
    assert told["other_high"].tolist() == [-told["high"][0], told["high"][1]]
    closed = {name: np.array([1.0, -1.0]) for name in ("low", "best", "high")}
    assert solvers.call_hinge_moment(Told(**closed), offered)["other_high"].tolist() == [1.0, -1.0]


def test_the_other_high_line_is_the_solvers_own():
    offered = {"deflection": np.array([0.0, 0.1])}
    told = solvers.call_hinge_moment(Told(other_high=np.array([0.5, -3.0])), offered)
    assert told["other_high"].tolist() == [0.5, -3.0]


def test_nan_in_an_input_may_give_nan_out():
    answer = {name: np.array([np.nan, -1.0]) for name in ("low", "best", "high")}
    found = solvers.call_hinge_moment(Told(**answer), {"deflection": np.array([np.nan, 0.1])})
    assert np.isnan(found["best"]).tolist() == [True, False]


BUS = {"parent": np.array([-1]), "servo_node": np.array([0]), "load": np.array([0.0])}
"""One servo on one node."""


class ToldSupply:
    name, description, sources, validity, fields = "told", "", (), {}, {"load": "A"}

    def __init__(self, **answer):
        self.answer = {
            "servo_voltage": np.array([5.0]),
            "servo_current": np.array([1.0]),
            "node_voltage": np.array([5.0]),
            "source_current": np.array(1.0),
            "reason": np.array(0),
            "latch_up": np.array(False),  # noqa: FBT003 - a value of an array
        } | answer

    def __call__(self, fields, demand):
        self.given = fields, demand
        return {name: value for name, value in self.answer.items() if value is not None}


@pytest.mark.parametrize(
    "answer",
    [
        {"reason": None},
        {"node_voltage": None},
        {"servo_voltage": np.array([np.nan])},
        {"servo_current": np.array([np.inf])},
        {"node_voltage": np.array([np.nan])},
        {"source_current": np.array(np.nan)},
        {"servo_voltage": np.array([5.0, 5.0])},
        {"servo_current": np.array([1.0, 1.0])},
        {"node_voltage": np.array([5.0, 5.0])},
        {"servo_voltage": np.array(5.0)},
    ],
)
def test_what_a_supply_solver_may_not_return_is_told(answer):
    with pytest.raises(SolverError, match=r"^The solver 'told' (failed|returned)"):
        solvers.call_supply(ToldSupply(**answer), BUS, lambda volts: volts)


def test_a_supply_without_solution_may_be_nan_beside_a_reason():
    nothing = {
        name: np.array([np.nan]) for name in ("servo_voltage", "servo_current", "node_voltage")
    }
    solver = ToldSupply(**nothing, source_current=np.array(np.nan), reason=np.array(1))
    found = solvers.call_supply(solver, BUS, lambda volts: volts)
    assert found["reason"] == 1


def test_a_strangers_broken_solver_leaves_the_command_line_working(tmp_path):
    info = tmp_path / "stranger-1.2.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: stranger\nVersion: 1.2\n")
    (info / "entry_points.txt").write_text("[linkcalc.hinge_moment]\nboom = not_there:x\n")
    root = Path(__file__).resolve().parent.parent
    path = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    for arguments, code in ((["solvers"], 0), (["check", "examples/sandpiper.toml"], 1)):
        done = subprocess.run(
            [sys.executable, "-m", "linkcalc.cli", *arguments],
            cwd=root,
            env=os.environ | {"PYTHONPATH": path},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code
        assert done.stderr == ""
        assert ("boom" in done.stdout) == (arguments == ["solvers"])


def test_every_bundled_solver_runs_on_what_a_plain_install_brings():
    # What solvers and design helpers import late has to be among the dependencies, not the extras.
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    project = tomllib.loads(text)["project"]
    brought = {re.match(r"[\w-]+", item)[0] for item in project["dependencies"]}
    late = set()
    for path in (Path(__file__).parents[1] / "plugins").rglob("*.py"):
        words = path.read_text(encoding="utf-8")
        late |= set(
            re.findall(r"^\s*(?:from|import) (scipy|sympy|pandas|xarray)\b", words, re.MULTILINE)
        )
    assert late == {"scipy"}
    assert late <= brought
