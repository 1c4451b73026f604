"""Help with examples that run, and scripts with which a shell completes the commands."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from linkcalc.cli import main
from linkcalc.completion import SHELLS, commands, script
from linkcalc.options import parser

ROOT = Path(__file__).resolve().parent.parent
COMMANDS = {command.name: command for command in commands(parser())}


def examples(name):
    help_text = COMMANDS[name].parser.format_help()
    return re.findall(r"^  (.*linkcalc .*)$", help_text.partition("\nexamples:\n")[2], re.MULTILINE)


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_every_command_has_an_example_that_uses_it(name):
    found = examples(name)
    assert found
    assert all(f"linkcalc {name}" in line for line in found)


@pytest.mark.parametrize("name", set(COMMANDS) - {"completion"})
def test_examples_of_the_help_run(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    if name != "new":
        shutil.copy(ROOT / "examples/sandpiper_rewired.toml", tmp_path / "glider.toml")
    shutil.copy(ROOT / "examples/catalogue/parts.toml", tmp_path / "parts.toml")
    for line in examples(name):
        # Some other voltage, or a measurement that is off, may well fall short.
        assert main(shlex.split(line)[1:]) in {0, 1}, line
        assert capsys.readouterr().out


def test_help_of_the_program_names_every_command(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    told = capsys.readouterr().out
    assert all(name in told for name in COMMANDS)


@pytest.mark.parametrize("shell", SHELLS)
def test_script_names_every_command_and_option(shell, capsys):
    assert main(["completion", shell]) == 0
    told = capsys.readouterr().out
    for name, command in COMMANDS.items():
        assert re.search(rf"\b{name}\b", told)
        for option in re.findall(r"--([\w-]+)", command.parser.format_usage()):
            assert re.search(rf"(?:--|-l ){option}\b", told), (name, option)


@pytest.mark.parametrize("shell", SHELLS)
def test_shell_reads_its_script(shell, tmp_path):
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"there is no {shell} here")
    path = tmp_path / "script"
    path.write_text(script(parser(), shell), encoding="utf-8")
    done = subprocess.run([program, "-n", str(path)], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        (["che"], {"check"}),
        (["check", "--h"], {"--help", "--html"}),
        (["check", "--units", "im"], {"imperial"}),
        (
            ["schema", ""],
            {"aircraft", "catalogue", "report", "faults", "tolerance", "--help", "-h"},
        ),
        (["completion", "f"], {"fish"}),
        (["wires", "x.toml", "--by", ""], {"mass", "balance"}),
    ],
)
def test_bash_completes(typed, offered, tmp_path):
    path = tmp_path / "script"
    path.write_text(script(parser(), "bash"), encoding="utf-8")
    words = " ".join(shlex.quote(word) for word in ("linkcalc", *typed))
    line = (
        f"source {path}; COMP_WORDS=({words}); COMP_CWORD={len(typed)}; _linkcalc; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = subprocess.run(
        [shutil.which("bash"), "-c", line], capture_output=True, text=True, check=True
    )
    assert set(done.stdout.split()) == offered
