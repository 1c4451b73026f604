"""Scripts with which a shell completes the command line, made from its own parser."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["SHELLS", "Command", "commands", "script"]

SHELLS = ("bash", "zsh", "fish")
"""Shells that there is a script for."""


class Command(NamedTuple):
    """A command of the program.

    Attributes
    ----------
    name : str
        As it is typed.
    help : str
        What it does.
    parser : argparse.ArgumentParser
        Its own.
    """

    name: str
    help: str
    parser: argparse.ArgumentParser


def commands(parser: argparse.ArgumentParser) -> list[Command]:
    """Return the commands of a parser.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of the program.

    Returns
    -------
    list of Command
        In their order.
    """
    group = next(
        action
        for action in _arguments(parser)
        if isinstance(action, argparse._SubParsersAction)  # noqa: SLF001 - as below
    )
    helps = {action.dest: action.help or "" for action in group._choices_actions}  # noqa: SLF001
    return [Command(name, helps[name], each) for name, each in group.choices.items()]


def _arguments(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    """Return the arguments of a parser, which argparse tells in no public way."""
    return parser._actions  # noqa: SLF001


def script(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return the script with which a shell completes the program.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of the program.
    shell : str
        One of `SHELLS`.

    Returns
    -------
    str
        To be read by the shell at its start.
    """
    made = {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell]
    return "\n".join(made(parser.prog, commands(parser))) + "\n"


def _words(command: Command) -> tuple[list[str], list[str]]:
    """Return options and choices that stand without an option."""
    options: list[str] = []
    choices: list[str] = []
    for action in _arguments(command.parser):
        options += action.option_strings
        if not action.option_strings:
            choices += [str(choice) for choice in action.choices or ()]
    return options, choices


def _valued(command: Command) -> Iterator[tuple[str, list[str]]]:
    """Yield options that take a value, with the choices for it."""
    for action in _arguments(command.parser):
        if action.option_strings and action.nargs != 0:
            for option in action.option_strings:
                yield option, [str(choice) for choice in action.choices or ()]


def _bash(program: str, found: list[Command]) -> Iterator[str]:
    yield f"# {program}: completion for bash"
    yield f"_{program}() {{"
    yield '    local word="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}"'
    yield "    COMPREPLY=()"
    yield '    if [ "$COMP_CWORD" -eq 1 ]; then'
    names = " ".join(command.name for command in found)
    yield f'        COMPREPLY=($(compgen -W "{names} --help --version" -- "$word")); return'
    yield "    fi"
    yield '    case "${COMP_WORDS[1]} $before" in'
    for command in found:
        for option, choices in _valued(command):
            if choices:
                reply = f'COMPREPLY=($(compgen -W "{" ".join(choices)}" -- "$word"))'
            else:
                reply = 'COMPREPLY=($(compgen -f -- "$word"))'
            yield f'        "{command.name} {option}") {reply}; return ;;'
    yield "    esac"
    yield '    case "${COMP_WORDS[1]}" in'
    for command in found:
        options, choices = _words(command)
        yield f'        {command.name}) COMPREPLY=($(compgen -W "{" ".join([*choices, *options])}" -- "$word")) ;;'
    yield "    esac"
    yield "}"
    yield f"complete -o default -F _{program} {program}"


def _zsh(program: str, found: list[Command]) -> Iterator[str]:
    yield f"#compdef {program}"
    yield "autoload -Uz bashcompinit && bashcompinit"
    yield from _bash(program, found)


def _fish(program: str, found: list[Command]) -> Iterator[str]:
    yield f"# {program}: completion for fish"
    for command in found:
        told = command.help.replace("'", "")
        yield f"complete -c {program} -n __fish_use_subcommand -f -a {command.name} -d '{told}'"
        where = f"complete -c {program} -n '__fish_seen_subcommand_from {command.name}'"
        valued = dict(_valued(command))
        options, choices = _words(command)
        for option in options:
            if not option.startswith("--"):
                continue
            value = ""
            if option in valued:
                value = f" -x -a '{' '.join(valued[option])}'" if valued[option] else " -r"
            yield f"{where} -l {option[2:]}{value}"
        if choices:
            yield f"{where} -f -a '{' '.join(choices)}'"
