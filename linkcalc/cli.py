"""The command line: a thin face, no arithmetic."""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from linkcalc import __version__
from linkcalc.errors import InputFaults

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main"]

PASS, SHORT, UNUSABLE, INTERNAL = 0, 1, 2, 3
"""Exit codes: all margins zero or more; one short or not computed; input unusable; a defect of ours."""

DETAILS = "LINKCALC_DETAILS"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="linkcalc",
        description="Servo and linkage sizing for people who build their own aircraft.",
        epilog="Exit codes of check: 0 every margin is zero or more, 1 one is short or could not be "
        "computed, 2 the input is unusable, 3 an internal failure.",
    )
    parser.add_argument("--version", action="version", version=f"linkcalc {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    check = commands.add_parser(
        "check", help="check every control run of an aircraft in every flight case"
    )
    check.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    check.add_argument(
        "--json", action="store_true", help="print one JSON document and nothing else"
    )
    check.set_defaults(run=_check)
    solvers = commands.add_parser("solvers", help="list the solvers that are installed")
    solvers.set_defaults(run=_solvers)
    return parser


def _check(arguments: argparse.Namespace) -> int:
    from linkcalc.checking import check  # noqa: PLC0415 - numpy loads after the arguments are understood

    try:
        report = check(arguments.file)
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import document, dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(document(report)) + "\n")
    else:
        from linkcalc.report.text import text  # noqa: PLC0415 - one of the two is used

        _write(text(report))
    return PASS if report.verdict == "pass" else SHORT


def _say_faults(arguments: argparse.Namespace, error: InputFaults) -> None:
    named = InputFaults(fault._replace(file=fault.file or arguments.file) for fault in error.faults)
    if arguments.json:
        from linkcalc.report.document import dumped, faults_document  # noqa: PLC0415 - one of the two is used

        _write(dumped(faults_document(named)) + "\n")
    else:
        from linkcalc.report.text import faults_text  # noqa: PLC0415 - one of the two is used

        sys.stderr.write(_encodable(faults_text(named), sys.stderr.encoding))


def _solvers(_: argparse.Namespace) -> int:
    from linkcalc.solvers import GROUPS, available  # noqa: PLC0415 - only here

    for kind in GROUPS:
        for found in available(kind):
            _write(f"{kind:13} {found.name:15} {found.distribution}\n")
    return PASS


def _encodable(words: str, encoding: str | None) -> str:
    """Return text with what the terminal cannot show replaced."""
    encoding = encoding or "utf-8"
    return words.encode(encoding, "replace").decode(encoding)


def _write(words: str) -> None:
    sys.stdout.write(_encodable(words, sys.stdout.encoding))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Without the program's name; those of the process when left out.

    Returns
    -------
    int
        The exit code.
    """
    chosen = _parser().parse_args(arguments)
    try:
        code: int = chosen.run(chosen)
        sys.stdout.flush()
    except BrokenPipeError:  # the reader has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return SHORT
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        if os.environ.get(DETAILS):
            raise
        message = f"linkcalc: internal failure, a defect of ours: {type(error).__name__}: {error}"
        sys.stderr.write(f"{message[:300]}. Set {DETAILS}=1 and run again for the details.\n")
        return INTERNAL
    return code


if __name__ == "__main__":
    sys.exit(main())
