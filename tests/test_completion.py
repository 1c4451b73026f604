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
from linkcalc.report.schema import DOCUMENTS

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


@pytest.mark.parametrize("name", sorted({*COMMANDS} - {"completion"}))
def test_examples_of_the_help_run(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    if name != "new":
        shutil.copy(ROOT / "examples/sandpiper_rewired.toml", tmp_path / "glider.toml")
    shutil.copy(ROOT / "examples/catalogue/parts.toml", tmp_path / "parts.toml")
    few = ["--samples", "64"] if name == "tolerance" else []  # it would take half a minute
    for line in examples(name):
        # Some other voltage, or a measurement that is off, may well fall short.
        assert main([*shlex.split(line)[1:], *few]) in {0, 1}, line
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
            {"aircraft", "catalogue", *DOCUMENTS, "--help", "-h"},
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


def options():
    """Every option by its spelling, with the commands that have it."""
    found = {}
    for name, command in COMMANDS.items():
        for action in command.parser._actions:  # noqa: SLF001 - argparse has no other list
            for spelling in action.option_strings:
                found.setdefault(spelling, {})[name] = action
    return found


# One spelling, and what it does is each command's own: the reason why the words differ.
OWN_WORDS = {
    "--html": "beside the text, or in its place",
    "--out": "cards, or what a sweep has found",
    "--picture": "of volts, or of margins",
    "--speeds": "of a study, or of a sweep",
    "--run": "choose takes several runs, which get the servo",
    "--over": "fields alone of a sweep, parts too of a choice",
    "--by": "what wire is weighed by, or what servos are ranked by",
}


@pytest.mark.parametrize("spelling", options())
def test_an_option_is_spelled_and_described_alike_in_all_commands(spelling):
    assert re.fullmatch(r"-h|--[a-z]+(-[a-z]+)*", spelling)
    actions = list(options()[spelling].values())
    if spelling not in OWN_WORDS:
        shapes = {(a.metavar, a.nargs, str(a.choices), a.type, a.dest, a.help) for a in actions}
        assert len(shapes) == 1, shapes


def test_options_with_words_of_their_own_are_in_several_commands():
    assert all(len(options()[spelling]) > 1 for spelling in OWN_WORDS)


def test_a_file_that_is_written_is_shown_by_its_ending():
    for spelling in ("--html", "--out", "--picture"):
        for action in options()[spelling].values():
            assert re.fullmatch(r"NAME\.\w+", action.metavar)


@pytest.mark.parametrize("name", COMMANDS)
def test_the_aircraft_file_is_named_alike_in_all_commands(name):
    for action in COMMANDS[name].parser._actions:  # noqa: SLF001 - as above
        if action.dest == "file" and name != "new":
            assert (action.metavar, action.help) == ("FILE", "the aircraft file (TOML)")
