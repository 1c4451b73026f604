"""The options of the command line: commands, their arguments and examples."""

from __future__ import annotations

import argparse
import os
from typing import Any

from linkcalc.version import __version__

__all__ = ["SYSTEMS", "parser"]

SYSTEMS = ("metric", "imperial", "file")
"""Units to choose from; `linkcalc.report.measures` makes them."""

_EXAMPLES = "examples:"


_SHARED: dict[str, dict[str, Any]] = {
    "--json": {"action": "store_true", "help": "print one JSON document and nothing else"},
    "--units": {
        "choices": SYSTEMS,
        "help": "units of the text: metric, imperial, or those that the file uses (the default)",
    },
    "--run": {"metavar": "NAME", "dest": "only_run", "help": "this control run only"},
    "--case": {"metavar": "NAME", "help": "this flight case only"},
    "--force": {"action": "store_true", "help": "replace files that exist"},
}
"""Options that several commands have: one spelling, one meaning."""


class _Formatter(argparse.HelpFormatter):
    """Lays out help as wide as the terminal, asked without the library of file operations."""

    def __init__(self, prog: str) -> None:
        try:
            columns = int(os.environ.get("COLUMNS") or os.get_terminal_size().columns)
        except (OSError, ValueError):  # no terminal, or no number
            columns = 80
        super().__init__(prog, width=max(columns, 40) - 2)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        """Keep the lines of examples as they are."""
        examples = text.startswith(_EXAMPLES)
        return text if examples else super()._fill_text(text, width, indent)


class _Parser(argparse.ArgumentParser):
    """A parser, and the parsers of its commands, with that layout."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(formatter_class=_Formatter, **settings)


def _examples(*lines: str) -> str:
    """Return the end of the help of a command."""
    return "\n  ".join((_EXAMPLES, *lines))


def _share(command: argparse.ArgumentParser, *names: str) -> None:
    """Add the aircraft file and some options that several commands have."""
    command.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    for name in names:
        command.add_argument(name, **_SHARED[name])


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line.

    Returns
    -------
    argparse.ArgumentParser
        With a parser for each command, and examples in each.
    """
    made = _Parser(
        prog="linkcalc",
        description="Servo and linkage sizing for builders of models and light unmanned aircraft.",
        epilog="Exit codes of check: 0 every margin is zero or more, 1 one is short or could not be "
        "computed, 2 the input is unusable, 3 an internal failure.",
    )
    made.add_argument("--version", action="version", version=f"linkcalc {__version__}")
    commands = made.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for add in (
        _add_check,
        _add_starting,
        _add_remedy,
        _add_wires,
        _add_methods,
        _add_tolerance,
        _add_catalogue,
        _add_choose,
        _add_handouts,
        _add_sweep,
        _add_solvers,
        _add_completion,
    ):
        add(commands)
    return made


def _add_check(commands: Any) -> None:
    check = commands.add_parser(
        "check",
        help="check every control run of an aircraft in every flight case",
        epilog=_examples(
            "linkcalc check glider.toml",
            "linkcalc check glider.toml --units imperial --run elevator",
            "linkcalc check glider.toml --html glider.html --force",
        ),
    )
    _share(check, "--json", "--units", "--run", "--case", "--force")
    check.add_argument("--brief", action="store_true", help="show verdict and summary only")
    check.add_argument(
        "--html", metavar="NAME.html", help="write the report as one self-contained page, too"
    )


def _add_starting(commands: Any) -> None:
    """Add the commands that help to write an aircraft file."""
    new = commands.add_parser(
        "new",
        help="write a commented aircraft file to start from",
        epilog=_examples("linkcalc new glider.toml"),
    )
    new.add_argument("file", metavar="NAME.toml", help="the file to write; it must not exist yet")
    new.set_defaults(json=False)
    schema = commands.add_parser(
        "schema",
        help="print a JSON Schema",
        epilog=_examples("linkcalc schema", "linkcalc schema report"),
    )
    schema.add_argument(
        "document",
        nargs="?",
        metavar="DOCUMENT",
        choices=(
            "aircraft",
            "catalogue",
            "report",
            "faults",
            "tolerance",
            "choice",
            "joint_choice",
        ),
        default="aircraft",
        help="aircraft (the default), catalogue: of such a file; report, tolerance, choice, "
        "joint_choice: of what check, tolerance, choose and choose --each print with --json; "
        "faults: of what they print where the input cannot be used",
    )


def _add_remedy(commands: Any) -> None:
    remedy = commands.add_parser(
        "remedy",
        help="find the least single changes that would help",
        epilog=_examples(
            "linkcalc remedy glider.toml", "linkcalc remedy glider.toml --run elevator --json"
        ),
    )
    _share(remedy, "--json", "--run", "--case")


def _add_wires(commands: Any) -> None:
    wires = commands.add_parser(
        "wires",
        help="choose the lightest wire with which servos do their work",
        epilog=_examples(
            "linkcalc wires glider.toml",
            "linkcalc wires glider.toml --gauges '28 AWG, 22 AWG'",
        ),
    )
    _share(wires, "--json", "--force")
    wires.add_argument(
        "--gauges", metavar="LIST", help="what may be fitted, such as '30 AWG, 26 AWG, 0.25 mm^2'"
    )
    wires.add_argument(
        "--by",
        choices=("mass", "balance"),
        default="mass",
        help="what is to be least: mass (the default), or mass times distance from the centre of gravity",
    )
    wires.add_argument(
        "--picture",
        metavar="NAME.svg",
        help="also draw where the volts go, from source to servo (svg, png or pdf)",
    )


def _add_methods(commands: Any) -> None:
    methods = commands.add_parser(
        "methods",
        help="set the air loads by all solvers side by side, with their steps",
        epilog=_examples("linkcalc methods glider.toml"),
    )
    _share(methods, "--json")


def _add_tolerance(commands: Any) -> None:
    tolerance = commands.add_parser(
        "tolerance",
        help="tell how sure the margins are, from the tolerances of what was measured",
        epilog=_examples(
            "linkcalc tolerance glider.toml",
            "linkcalc tolerance glider.toml --indices --jobs 4 --picture spread.svg",
        ),
    )
    _share(tolerance, "--json", "--force")
    tolerance.add_argument(
        "--samples", type=int, default=1024, metavar="N", help="at most so many (1024)"
    )
    tolerance.add_argument(
        "--precision",
        type=float,
        default=0.02,
        metavar="P",
        help="half width of the interval of a chance at which to stop (0.02)",
    )
    tolerance.add_argument(
        "--seed", type=int, default=1, metavar="N", help="the same one gives the same digits (1)"
    )
    tolerance.add_argument(
        "--speeds", action="store_true", help="placard speeds too; takes several times as long"
    )
    tolerance.add_argument(
        "--rare",
        action="store_true",
        help="seek the likeliest shortfall of every run that had none in a sample",
    )
    tolerance.add_argument(
        "--indices",
        type=int,
        nargs="?",
        const=256,
        default=0,
        metavar="N",
        help="Sobol indices from so many points (256); each is evaluated once for every tolerance",
    )
    tolerance.add_argument(
        "--no-defaults", action="store_true", help="vary only what states a tolerance"
    )
    tolerance.add_argument(
        "--picture",
        metavar="NAME.svg",
        help="draw what moves the least sure margin (svg, png or pdf)",
    )
    tolerance.add_argument(
        "--margin",
        metavar="NAME",
        help="another margin to draw, as the report names it: 'RUN / CASE / MODE'",
    )
    tolerance.add_argument(
        "--jobs", type=int, default=1, metavar="N", help="processes that work (1)"
    )


def _add_catalogue(commands: Any) -> None:
    catalogue = commands.add_parser(
        "catalogue",
        help="list parts, and doubt their datasheets",
        epilog=_examples("linkcalc catalogue parts.toml"),
    )
    catalogue.add_argument(
        "files", metavar="FILE", nargs="+", help="catalogues (TOML), or tables of parts (CSV)"
    )
    catalogue.add_argument("--json", **_SHARED["--json"])


def _add_choose(commands: Any) -> None:
    choose = commands.add_parser(
        "choose",
        help="choose servos, holes, rods and wires from a catalogue",
        epilog=_examples(
            "linkcalc choose glider.toml --catalogue parts.toml --mass '20 g'",
            "linkcalc choose glider.toml --catalogue parts.toml --over 'arm hole'",
        ),
    )
    choose.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    choose.add_argument(
        "--catalogue", metavar="FILE", nargs="+", required=True, help="catalogues (TOML or CSV)"
    )
    choose.add_argument(
        "--run",
        metavar="NAME",
        dest="runs",
        action="append",
        help="a run that gets the parts; all of them when left out",
    )
    choose.add_argument(
        "--over",
        metavar="WHAT[=VALUES]",
        action="append",
        help="what is chosen: servo (the default), arm hole, horn hole, rod, gauge, or a field by "
        "its path; all of the catalogue, or values with ; between",
    )
    choose.add_argument(
        "--by",
        metavar="LIST",
        help="what counts, most important first: mass, price, margin (the default order), balance, "
        "placard; with --each mass (the default), price, balance, margin",
    )
    _limit_parts(choose)
    choose.add_argument(
        "--each",
        action="store_true",
        help="choose for every run parts of its own, that pass together and come to the least",
    )
    choose.add_argument(
        "--same-servo", action="store_true", help="with --each: the same servo for all of them"
    )
    choose.add_argument(
        "--tries", metavar="N", type=int, help="with --each: sets that are tried at most (20000)"
    )
    choose.add_argument(
        "--confidence",
        metavar="SHARE",
        type=float,
        help="judge and rank by the margin that is reached with this confidence, such as 0.95, "
        "within the tolerances of the aircraft",
    )
    choose.add_argument("--all", action="store_true", help="show every candidate and its reason")
    choose.add_argument(
        "--keep",
        metavar="NAME.npz",
        default="",
        help="keep what is done in this file, and go on from it when asked the same again",
    )
    choose.add_argument(
        "--memory",
        metavar="GIGABYTES",
        type=float,
        default=2.0,
        help="that the answer may take, about (2); more combinations are worked in parts",
    )
    _add_workers(choose)
    choose.add_argument("--json", **_SHARED["--json"])


def _limit_parts(choose: Any) -> None:
    """Add what parts have to keep to."""
    choose.add_argument(
        "--mass",
        metavar="MASS",
        dest="most_mass",
        help="most that a servo may weigh, such as '20 g'",
    )
    choose.add_argument(
        "--price",
        metavar="NUMBER",
        dest="most_price",
        type=float,
        help="most that a servo may cost",
    )
    choose.add_argument("--voltage", metavar="VOLTAGE", help="that a servo has to be rated for")
    choose.add_argument(
        "--total-mass", metavar="MASS", help="most that all that is chosen may weigh together"
    )
    choose.add_argument(
        "--total-price", metavar="NUMBER", type=float, help="most that all of it may cost"
    )
    choose.add_argument(
        "--bay",
        metavar="[RUN=]SIZES",
        action="append",
        help="length, width and height that a servo has to fit in, such as '24 mm, 13 mm, 30 mm'; "
        "with 'rudder=' in front that of a run, of all others without",
    )
    choose.add_argument(
        "--undoubted",
        action="store_true",
        help="leave out servos whose datasheet is doubted, see linkcalc catalogue",
    )
    choose.add_argument("--spline", metavar="NAME", help="spline of the arm at hand, such as 25T")


def _add_handouts(commands: Any) -> None:
    """Add the commands that make something to print; `linkcalc.handouts` runs them."""
    made = {
        "proof": "make the bench sheet: proof loads, what to expect, and boxes for what was read",
        "working": "write out the calculation of one control run in one flight case",
        "cards": "draw cards at true scale: throws, holes to drill, a placard",
    }
    shown = {
        "proof": ("linkcalc proof glider.toml", "linkcalc proof glider.toml --html bench.html"),
        "working": ("linkcalc working glider.toml", "linkcalc working glider.toml --run elevator"),
        "cards": ("linkcalc cards throw glider.toml --out throws.pdf",),
    }
    parsers = {
        name: commands.add_parser(name, help=words, epilog=_examples(*shown[name]))
        for name, words in made.items()
    }
    cards = parsers["cards"]
    cards.add_argument("kind", choices=("throw", "drilling", "placard"), help="what to draw")
    for parser in parsers.values():
        parser.set_defaults(json=False)
    _share(parsers["proof"], "--units", "--force")
    _share(parsers["working"], "--run", "--case", "--force")
    _share(cards, "--units", "--force")
    cards.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="A4 or Letter")
    cards.add_argument(
        "--out", metavar="NAME.pdf", required=True,
        help="where to write them: .pdf with a page for each, or .svg, numbered if several",
    )  # fmt: skip
    for name in ("proof", "working"):
        parsers[name].add_argument(
            "--html", metavar="NAME.html", help="write a page to print instead of text"
        )


def _add_sweep(commands: Any) -> None:
    sweep = commands.add_parser(
        "sweep",
        help="check an aircraft with every combination of values of some of its fields",
        epilog=_examples(
            'linkcalc sweep glider.toml --over "supply.voltage=5 V; 6 V; 7 V"',
            'linkcalc sweep glider.toml --over "cases[0].speed=30 m/s" --out one.csv',
        ),
    )
    _share(sweep, "--force")
    sweep.add_argument(
        "--over",
        metavar="PATH=VALUES",
        action="append",
        required=True,
        help="a field by its path, and its values with ; between; once for each field",
    )
    sweep.add_argument("--speeds", action="store_true", help="limits of speed too; slower")
    sweep.add_argument(
        "--out",
        metavar="NAME.nc",
        help="write all that was found as NetCDF (.nc) or a table (.csv)",
    )
    sweep.add_argument(
        "--picture",
        metavar="NAME.svg",
        help="draw the least margin against one field or two (svg, png or pdf)",
    )
    _add_workers(sweep)
    sweep.set_defaults(json=False)


def _add_solvers(commands: Any) -> None:
    solvers = commands.add_parser(
        "solvers",
        help="list the solvers that are installed",
        epilog=_examples("linkcalc solvers", "linkcalc solvers thin_aerofoil tree"),
    )
    solvers.add_argument(
        "names", metavar="NAME", nargs="*", help="tell all that these say of themselves"
    )


def _add_completion(commands: Any) -> None:
    completion = commands.add_parser(
        "completion",
        help="print a script with which the shell completes these commands",
        epilog=_examples(
            'eval "$(linkcalc completion bash)"',
            "linkcalc completion fish > ~/.config/fish/completions/linkcalc.fish",
        ),
    )
    completion.add_argument("shell", choices=("bash", "zsh", "fish"), help="the shell")


def _add_workers(command: Any) -> None:
    command.add_argument("--jobs", metavar="N", type=int, default=1, help="processes that work (1)")
    command.add_argument(
        "--cluster", metavar="ADDRESS", default="", help="a dask scheduler that works instead"
    )
