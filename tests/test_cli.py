"""The command line: exit codes, one JSON document and nothing else, no traceback."""

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

import linkcalc
from linkcalc import checking
from linkcalc.cli import main
from tests.test_check import FAULTS, PLAIN_FILE, REPORT

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = str(ROOT / "examples/sandpiper.toml")


@pytest.fixture
def file(tmp_path):
    def written(words, name="aircraft.toml"):
        path = tmp_path / name
        path.write_bytes(words if isinstance(words, bytes) else words.encode())
        return str(path)

    return written


def test_a_report_that_passes_gives_0(monkeypatch, capsys):
    passing = linkcalc.check(EXAMPLE)._replace(verdict="pass")
    monkeypatch.setattr(checking, "check", lambda _: passing)
    assert main(["check", EXAMPLE]) == 0
    assert capsys.readouterr().out.startswith("PASS: Sandpiper")


def test_a_margin_below_zero_gives_1(capsys):
    assert main(["check", EXAMPLE]) == 1
    told = capsys.readouterr()
    assert told.out.startswith("SHORT: Sandpiper")
    assert told.err == ""


def test_json_is_one_document_and_nothing_else(capsys):
    assert main(["check", EXAMPLE, "--json"]) == 1
    told = capsys.readouterr()
    jsonschema.validate(json.loads(told.out, parse_constant=pytest.fail), REPORT)
    assert told.err == ""
    assert told.out.isascii()
    assert told.out.endswith("}\n")


UNUSABLE = {
    "an unknown key": PLAIN_FILE.replace("kind", "kidn"),
    "no TOML": "name = ",
    "an empty file": "",
    "bytes": b"\xff\xfe\x00",
}


@pytest.mark.parametrize("name", UNUSABLE)
def test_an_unusable_file_gives_2_with_every_fault_in_plain_words(name, file, capsys):
    path = file(UNUSABLE[name])
    assert main(["check", path]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Nothing was evaluated" in told.err
    assert "found     " in told.err
    assert "remedy    " in told.err
    assert "Traceback" not in told.err


@pytest.mark.parametrize("name", UNUSABLE)
def test_an_unusable_file_gives_its_faults_as_json(name, file, capsys):
    path = file(UNUSABLE[name])
    assert main(["check", path, "--json"]) == 2
    told = capsys.readouterr()
    tree = json.loads(told.out)
    jsonschema.validate(tree, FAULTS)
    assert {fault["file"] for fault in tree["faults"]} == {path}
    assert told.err == ""


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_a_file_that_is_not_there_and_a_folder_give_2(form, tmp_path, capsys):
    for path in (tmp_path / "gone.toml", tmp_path, tmp_path / "x\0y"):
        assert main(["check", str(path), *form]) == 2
    told = capsys.readouterr()
    assert "no such file" in told.out + told.err
    assert "no regular file" in told.out + told.err


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_a_defect_of_ours_gives_3_in_one_line_with_how_to_get_the_details(
    form, monkeypatch, capsys
):
    def defect(_):
        raise IndexError("list index out of range" * 100)

    monkeypatch.setattr(checking, "check", defect)
    monkeypatch.delenv("LINKCALC_DETAILS", raising=False)
    assert main(["check", EXAMPLE, *form]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert len(told.err) < 500
    assert "defect of ours: IndexError" in told.err
    monkeypatch.setenv("LINKCALC_DETAILS", "1")
    with pytest.raises(IndexError):
        main(["check", EXAMPLE, *form])


def test_a_wrong_argument_gives_2(capsys):
    for arguments in ([], ["check"], ["chekc", EXAMPLE], ["check", EXAMPLE, "--jsn"]):
        with pytest.raises(SystemExit) as caught:
            main(arguments)
        assert caught.value.code == 2
    assert "usage" in capsys.readouterr().err


def test_help_tells_the_exit_codes(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["--help"])
    assert caught.value.code == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "2 the input is unusable" in told


def test_solvers_are_listed(capsys):
    assert main(["solvers"]) == 0
    told = capsys.readouterr().out
    assert {"coefficients", "plate", "thin_aerofoil", "tree"} <= set(told.split())


def _run(*arguments, **settings):
    command = [sys.executable, "-m", "linkcalc.cli", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, check=False, **settings)


def test_a_terminal_without_the_trades_letters_gets_a_report_all_the_same(file):
    # kg·cm and names with accents, in ASCII
    path = file(PLAIN_FILE.replace('"one run"', '"Brachvogel über der Küste"'))
    done = _run("check", path, env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 1
    assert b"Brachvogel ?ber" in done.stdout
    assert done.stderr == b""


def test_control_characters_of_a_name_never_reach_the_terminal(file):
    path = file(PLAIN_FILE.replace("[servos.s]", '[servos."\\u001b[2J\\u0007"]\nx = 1\n[servos.s]'))
    for form in ([], ["--json"]):
        done = _run("check", path, *form)
        assert done.returncode == 2
        told = done.stdout + done.stderr
        assert b"\x1b" not in told
        assert b"\x07" not in told


@pytest.mark.parametrize("name", ["sandpiper", "sandpiper_rewired"])  # short, pass
def test_a_reader_that_stops_early_is_told_as_shells_tell_it_and_as_no_verdict(name):
    # POSIX.1-2017, shell command language, 2.8.2: more than 128 for a signal; shells use
    # 128 + its number, and SIGPIPE is 13 (from memory).
    path = str(ROOT / f"examples/{name}.toml")
    code = (
        "import subprocess, sys\n"
        f"p = subprocess.Popen([sys.executable, '-m', 'linkcalc.cli', 'check', {path!r}], "
        "stdout=subprocess.PIPE, stderr=subprocess.PIPE)\n"
        "p.stdout.close()\n"
        "sys.stdout.write(p.stderr.read().decode()); print(p.wait())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout == "141\n"
