"""The command line: a thin face, no arithmetic."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from typing import TYPE_CHECKING, Any

from linkcalc import __version__
from linkcalc.errors import Fault, InputError, InputFaults, shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkcalc.model import Aircraft
    from linkcalc.report.measures import Measures
    from linkcalc.results import Report
    from linkcalc.study.drops import Path
    from linkcalc.study.remedies import Remedies

__all__ = ["main", "parser", "process"]

PASS, SHORT, UNUSABLE, INTERNAL = 0, 1, 2, 3
"""Exit codes: all margins zero or more; one short or not computed; input unusable; a defect of ours."""

STOPPED, UNREAD = 128 + 2, 128 + 13
"""Stopped by the keyboard; left by the reader of a pipe: as shells tell of signals 2 and 13."""

DETAILS = "LINKCALC_DETAILS"

SYSTEMS = ("metric", "imperial", "file")
"""Units to choose from; `linkcalc.report.measures` makes them."""


_EXAMPLES = "examples:"


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


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line.

    Returns
    -------
    argparse.ArgumentParser
        With a parser for each command, and examples in each.
    """
    made = _Parser(
        prog="linkcalc",
        description="Servo and linkage sizing for people who build their own aircraft.",
        epilog="Exit codes of check: 0 every margin is zero or more, 1 one is short or could not be "
        "computed, 2 the input is unusable, 3 an internal failure.",
    )
    made.add_argument("--version", action="version", version=f"linkcalc {__version__}")
    commands = made.add_subparsers(dest="command", required=True, metavar="COMMAND")
    check = commands.add_parser(
        "check",
        help="check every control run of an aircraft in every flight case",
        epilog=_examples(
            "linkcalc check glider.toml",
            "linkcalc check glider.toml --units imperial --run elevator",
            "linkcalc check glider.toml --html glider.html --force",
        ),
    )
    check.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    check.add_argument(
        "--json", action="store_true", help="print one JSON document and nothing else"
    )
    check.add_argument(
        "--units",
        choices=SYSTEMS,
        help="units of the text: metric, imperial, or those that the file uses (the default)",
    )
    check.add_argument("--run", metavar="NAME", dest="only_run", help="show this control run only")
    check.add_argument("--case", metavar="NAME", help="show this flight case only")
    check.add_argument("--brief", action="store_true", help="show verdict and summary only")
    check.add_argument(
        "--html", metavar="OUT.html", help="write the report as one self-contained page, too"
    )
    check.add_argument("--force", action="store_true", help="replace that page if it exists")
    check.set_defaults(run=_check)
    new = commands.add_parser(
        "new",
        help="write a commented aircraft file to start from",
        epilog=_examples("linkcalc new glider.toml"),
    )
    new.add_argument("file", metavar="NAME.toml", help="the file to write; it must not exist yet")
    new.set_defaults(run=_new, json=False)
    schema = commands.add_parser(
        "schema",
        help="print a JSON Schema",
        epilog=_examples("linkcalc schema", "linkcalc schema report"),
    )
    schema.add_argument(
        "document",
        nargs="?",
        choices=("aircraft", "catalogue", "report", "faults"),
        default="aircraft",
        help="of the aircraft file (the default), of a catalogue, or of what check --json prints",
    )
    schema.set_defaults(run=_schema)
    remedy = commands.add_parser(
        "remedy",
        help="find the least single changes that would help",
        epilog=_examples(
            "linkcalc remedy glider.toml", "linkcalc remedy glider.toml --run elevator --json"
        ),
    )
    remedy.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    remedy.add_argument("--run", metavar="NAME", dest="only_run", help="this control run only")
    remedy.add_argument("--case", metavar="NAME", help="this flight case only")
    remedy.add_argument("--json", action="store_true", help="print one JSON document")
    remedy.set_defaults(run=_remedy)
    wires = commands.add_parser(
        "wires",
        help="choose the lightest wire with which servos do their work",
        epilog=_examples(
            "linkcalc wires glider.toml",
            "linkcalc wires glider.toml --gauges '28 AWG, 22 AWG'",
        ),
    )
    wires.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
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
    wires.add_argument("--json", action="store_true", help="print one JSON document")
    wires.set_defaults(run=_wires)
    methods = commands.add_parser(
        "methods",
        help="set the air loads by all solvers side by side, with their steps",
        epilog=_examples("linkcalc methods glider.toml"),
    )
    methods.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
    methods.add_argument("--json", action="store_true", help="print one JSON document")
    methods.set_defaults(run=_methods)
    _add_tolerance(commands)
    catalogue = commands.add_parser(
        "catalogue",
        help="list parts, and doubt their datasheets",
        epilog=_examples("linkcalc catalogue parts.toml"),
    )
    catalogue.add_argument(
        "files", metavar="FILE", nargs="+", help="catalogues (TOML), or tables of parts (CSV)"
    )
    catalogue.add_argument("--json", action="store_true", help="print one JSON document")
    catalogue.set_defaults(run=_catalogue)
    _add_choose(commands)
    _add_handouts(commands)
    solvers = commands.add_parser(
        "solvers", help="list the solvers that are installed", epilog=_examples("linkcalc solvers")
    )
    solvers.set_defaults(run=_solvers)
    completion = commands.add_parser(
        "completion",
        help="print a script with which the shell completes these commands",
        epilog=_examples(
            'eval "$(linkcalc completion bash)"',
            "linkcalc completion fish > ~/.config/fish/completions/linkcalc.fish",
        ),
    )
    completion.add_argument("shell", choices=("bash", "zsh", "fish"), help="the shell")
    completion.set_defaults(run=_completion)
    return made


def _add_tolerance(commands: Any) -> None:
    tolerance = commands.add_parser(
        "tolerance",
        help="tell how sure the margins are, from the tolerances of what was measured",
        epilog=_examples(
            "linkcalc tolerance glider.toml", "linkcalc tolerance glider.toml --speeds"
        ),
    )
    tolerance.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
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
        "--no-defaults", action="store_true", help="vary only what states a tolerance"
    )
    tolerance.add_argument("--json", action="store_true", help="print one JSON document")
    tolerance.set_defaults(run=_tolerance)


def _add_choose(commands: Any) -> None:
    choose = commands.add_parser(
        "choose",
        help="choose a servo from a catalogue",
        epilog=_examples("linkcalc choose glider.toml --catalogue parts.toml --mass '20 g'"),
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
        help="a run that gets the servo; all of them when left out",
    )
    choose.add_argument(
        "--by",
        metavar="LIST",
        default="mass,price,margin",
        help="what counts, most important first: mass, price, margin (the default order)",
    )
    choose.add_argument("--mass", metavar="MASS", help="most that it may weigh, such as '20 g'")
    choose.add_argument("--price", metavar="NUMBER", type=float, help="most that it may cost")
    choose.add_argument(
        "--bay", metavar="SIZES", help="length, width and height, such as '24 mm, 13 mm, 30 mm'"
    )
    choose.add_argument("--spline", metavar="NAME", help="spline of the arm at hand, such as 25T")
    choose.add_argument("--all", action="store_true", help="show every servo, with its reason")
    choose.add_argument("--json", action="store_true", help="print one JSON document")
    choose.set_defaults(run=_choose)


def _add_handouts(commands: Any) -> None:
    """Add the commands that make something to print; `linkcalc.handouts` runs them."""
    made = {
        "proof": "make the bench sheet: proof loads, what to expect, and boxes for what was read",
        "working": "write out the calculation of one control run in one flight case",
        "cards": "draw cards at true scale: throws, holes to drill, a placard",
    }
    parsers = {name: commands.add_parser(name, help=words) for name, words in made.items()}
    cards = parsers["cards"]
    cards.add_argument("kind", choices=("throw", "drilling", "placard"), help="what to draw")
    for name, parser in parsers.items():
        parser.add_argument("file", metavar="FILE", help="the aircraft file (TOML)")
        parser.set_defaults(run=_handout, json=False)
        if name != "working":
            parser.add_argument(
                "--units", choices=SYSTEMS, help="metric, imperial, or those that the file uses"
            )
        parser.add_argument("--force", action="store_true", help="replace files that exist")
    cards.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="A4 or Letter")
    cards.add_argument(
        "--out", metavar="CARDS.pdf", required=True,
        help="where to write them: .pdf with a page for each, or .svg, numbered if several",
    )  # fmt: skip
    for name in ("proof", "working"):
        parsers[name].add_argument(
            "--html", metavar="OUT.html", help="write a page to print instead of text"
        )
    working = parsers["working"]
    working.add_argument("--run", metavar="NAME", dest="only_run", help="the control run")
    working.add_argument("--case", metavar="NAME", help="the flight case")


def _handout(arguments: argparse.Namespace) -> int:
    from linkcalc import handouts  # noqa: PLC0415 - only here

    try:
        words, complete = getattr(handouts, arguments.command)(arguments, bold=_is_bold())
    except InputFaults as error:
        _say_faults(arguments, error, "This cannot be made", "written")
        return UNUSABLE
    _write(words)
    return PASS if complete else SHORT


def _check(arguments: argparse.Namespace) -> int:
    from linkcalc.checking import check  # noqa: PLC0415 - numpy loads after the arguments are understood
    from linkcalc.files import read_aircraft  # noqa: PLC0415 - as above

    try:
        aircraft = read_aircraft(arguments.file)
        _refuse_unknown(arguments, aircraft)
        report = _paged(arguments, aircraft) if arguments.html is not None else check(aircraft)
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import document, dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(document(report)) + "\n")
    else:
        from linkcalc.report.text import text  # noqa: PLC0415 - one of the two is used

        found = _measures(arguments, aircraft)
        chosen = {"run": arguments.only_run, "case": arguments.case, "brief": arguments.brief}
        _write(text(report, measures=found, **chosen, bold=_is_bold()))
    return PASS if report.verdict == "pass" else SHORT


def _measures(arguments: argparse.Namespace, aircraft: Aircraft) -> Measures:
    """Return the units to show."""
    from linkcalc.report import measures  # noqa: PLC0415 - a JSON document has its own

    return {
        "metric": lambda: measures.METRIC,
        "imperial": measures.imperial,
    }.get(arguments.units, lambda: measures.as_stated(aircraft))()


def _paged(arguments: argparse.Namespace, aircraft: Aircraft) -> Report:
    """Check an aircraft and write the page of it."""
    from linkcalc.report.page import write_html  # noqa: PLC0415 - only for a page
    from linkcalc.study.curves import curves  # noqa: PLC0415 - only for a page

    if not arguments.force and os.path.lexists(arguments.html):
        remedy = "Choose another name, or add --force to replace it."
        fault = Fault(arguments.html, "", "a file of this name", "a name that is free", remedy)
        raise InputFaults([fault])
    found = curves(aircraft)
    measures = _measures(arguments, aircraft)
    write_html(arguments.html, found, measures=measures, force=arguments.force)
    return found.report


def _refuse_unknown(arguments: argparse.Namespace, aircraft: Aircraft) -> None:
    """Refuse the name of a run or case that the aircraft does not have, and JSON in parts."""
    faults = []
    asked = (
        ("--run", arguments.only_run, "control run", aircraft.runs),
        ("--case", arguments.case, "flight case", aircraft.cases),
    )
    for option, name, what, things in asked:
        known = [thing.name for thing in things]
        if name is not None and name not in known:
            remedy = f"Did you mean {_nearest(name, known)!r}?"
            faults.append(Fault("", option, shown(name), f"the name of a {what}", remedy))
    if arguments.force and arguments.html is None:
        remedy = "Add --html OUT.html, or leave --force out."
        faults.append(Fault("", "--force", "no page to write", "--html beside it", remedy))
    parts = ("units", "only_run", "case", "brief")
    if arguments.json and any(getattr(arguments, part) for part in parts):
        found = "--json with an option for the text"
        remedy = "Leave out --units, --run, --case and --brief: the document has everything."
        faults.append(Fault("", "--json", found, "one of the two", remedy))
    if faults:
        raise InputFaults(faults)


def _nearest(name: str, known: list[str]) -> str:
    import difflib  # noqa: PLC0415 - only an error pays for it

    close = difflib.get_close_matches(name[:60].lower(), [word.lower() for word in known], 1, 0.0)
    return next(word for word in known if word.lower() == close[0])


def _is_bold() -> bool:
    """Tell whether the output is a terminal whose user has nothing against emphasis."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM", "dumb") == "dumb"
    return sys.stdout.isatty() and not plain


def _say_faults(arguments: argparse.Namespace, error: InputFaults, *words: str) -> None:
    named = InputFaults(fault._replace(file=fault.file or arguments.file) for fault in error.faults)
    if arguments.json:
        from linkcalc.report.document import dumped, faults_document  # noqa: PLC0415 - one of the two is used

        _write(dumped(faults_document(named)) + "\n")
    else:
        from linkcalc.report.text import faults_text  # noqa: PLC0415 - one of the two is used

        sys.stderr.write(_encodable(faults_text(named, *words), sys.stderr.encoding))


def _remedy(arguments: argparse.Namespace) -> int:
    from linkcalc.report.advice import advice_document, advice_text  # noqa: PLC0415 - only here

    try:
        found = _counted_remedies(arguments)
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(advice_document(found)) + "\n")
    else:
        _write(advice_text(found, bold=_is_bold()))
    return SHORT if found.shortfalls or found.unknown else PASS


def _wires(arguments: argparse.Namespace) -> int:
    from linkcalc.files import read_aircraft  # noqa: PLC0415 - only here
    from linkcalc.report.drop import least_paths  # noqa: PLC0415 - only here
    from linkcalc.report.wire_table import wire_document, wire_text  # noqa: PLC0415 - only here
    from linkcalc.study.drops import voltage_drops  # noqa: PLC0415 - only here
    from linkcalc.study.wires import GAUGES, choose_wires, fitted  # noqa: PLC0415 - only here

    gauges = [each.strip() for each in arguments.gauges.split(",")] if arguments.gauges else GAUGES
    try:
        aircraft = read_aircraft(arguments.file)
        found = choose_wires(aircraft, gauges=gauges, by=arguments.by)
        paths = least_paths(voltage_drops(fitted(aircraft, found)))
        if arguments.picture:
            _draw(arguments.picture, paths)
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    except InputError as error:
        _say_faults(arguments, InputFaults([error.fault._replace(file=arguments.file)]))
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(wire_document(found, paths)) + "\n")
    else:
        _write(wire_text(found, paths, bold=_is_bold()))
    return PASS if found.passes else SHORT


def _draw(name: str, paths: Sequence[Path]) -> None:
    """Draw where the volts go into a file."""
    try:
        from linkcalc.report.drop import voltage_drop  # noqa: PLC0415 - only here

        figure: Any = voltage_drop(paths).get_figure(root=True)
        figure.savefig(name)
    except ImportError:
        found, remedy = "no matplotlib", "Install linkcalc[report], or leave out --picture."
        raise InputFaults([Fault("", "--picture", found, "matplotlib", remedy)]) from None
    except (OSError, ValueError) as error:
        expected, remedy = "a file such as volts.svg", "Give a name that can be written."
        raise InputFaults([Fault("", "--picture", shown(str(error)), expected, remedy)]) from None


def _methods(arguments: argparse.Namespace) -> int:
    from linkcalc.report.methods_table import methods_document, methods_text  # noqa: PLC0415 - only here
    from linkcalc.study.methods import compare_methods  # noqa: PLC0415 - only here

    try:
        found = compare_methods(arguments.file)
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(methods_document(found)) + "\n")
    else:
        _write(methods_text(found, bold=_is_bold()))
    return PASS


def _tolerance(arguments: argparse.Namespace) -> int:
    from linkcalc.report.tolerance_text import tolerance_document, tolerance_text  # noqa: PLC0415 - only here
    from linkcalc.study.tolerance import tolerance  # noqa: PLC0415 - only here

    asked: dict[str, Any] = {"samples": arguments.samples, "precision": arguments.precision}
    asked |= {"seed": arguments.seed, "speeds": arguments.speeds}
    terminal = sys.stderr.isatty()
    try:
        found = tolerance(
            arguments.file,
            **asked,
            defaults=False if arguments.no_defaults else None,
            progress=_count_samples if terminal else None,
        )
    except InputFaults as error:
        _say_faults(arguments, error)
        return UNUSABLE
    except InputError as error:
        _say_faults(arguments, InputFaults([error.fault._replace(file=arguments.file)]))
        return UNUSABLE
    finally:
        if terminal:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(tolerance_document(found)) + "\n")
    else:
        _write(tolerance_text(found, bold=_is_bold()))
    return SHORT if found.whole.chance.events else PASS


def _count_samples(done: int, most: int) -> None:
    sys.stderr.write(f"\r{done} samples of at most {most} ")
    sys.stderr.flush()


def _counted_remedies(arguments: argparse.Namespace) -> Remedies:
    """Search for remedies; a terminal sees a count, which is taken away however it ends."""
    from linkcalc.study.remedies import remedies  # noqa: PLC0415 - only here

    chosen = {"run": arguments.only_run, "case": arguments.case}
    if not sys.stderr.isatty():
        return remedies(arguments.file, **chosen)
    try:
        return remedies(arguments.file, **chosen, progress=_count_shortfalls)
    finally:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


def _count_shortfalls(done: int, total: int) -> None:
    sys.stderr.write(f"\rshortfall {min(done + 1, total)} of {total} ")
    sys.stderr.flush()


def _new(arguments: argparse.Namespace) -> int:
    import shlex  # noqa: PLC0415 - only here

    from linkcalc.starter import write_starter  # noqa: PLC0415 - only here

    try:
        write_starter(arguments.file)
    except InputFaults as error:
        _say_faults(arguments, error, "The file cannot be made", "written")
        return UNUSABLE
    _write(
        f"{shown(arguments.file)} is written. Its numbers are invented: put yours in their place, "
        f"then run: linkcalc check {shlex.quote(arguments.file)}\n"
    )
    return PASS


def _schema(arguments: argparse.Namespace) -> int:
    import json  # noqa: PLC0415 - only here

    if arguments.document == "aircraft":
        from linkcalc.schema import aircraft_schema  # noqa: PLC0415 - one of the two is used

        made = aircraft_schema()
    elif arguments.document == "catalogue":
        from linkcalc.catalogue.schema import catalogue_schema  # noqa: PLC0415 - as above

        made = catalogue_schema()
    else:
        from linkcalc.report.schema import document_schema  # noqa: PLC0415 - one of the two is used

        made = document_schema(arguments.document)
    _write(json.dumps(made, indent=2) + "\n")
    return PASS


def _catalogue(arguments: argparse.Namespace) -> int:
    from linkcalc.catalogue import read_catalogue  # noqa: PLC0415 - only here
    from linkcalc.catalogue.plausibility import doubts  # noqa: PLC0415 - only here
    from linkcalc.report import catalogue_table  # noqa: PLC0415 - only here

    try:
        found = read_catalogue(*arguments.files)
    except InputFaults as error:
        arguments.file = arguments.files[0]
        _say_faults(arguments, error, "The catalogue cannot be used", "used")
        return UNUSABLE
    doubtful = doubts(found.servos)
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(catalogue_table.catalogue_document(found, doubtful)) + "\n")
    else:
        _write(catalogue_table.catalogue_text(found, doubtful, bold=_is_bold()))
    return PASS


def _choose(arguments: argparse.Namespace) -> int:
    from linkcalc.catalogue import read_catalogue  # noqa: PLC0415 - only here
    from linkcalc.report.choice_table import choice_document, choice_text  # noqa: PLC0415 - only here
    from linkcalc.study.servo_choice import choose  # noqa: PLC0415 - only here

    try:
        found = choose(
            arguments.file,
            read_catalogue(*arguments.catalogue),
            runs=arguments.runs,
            by=[each.strip() for each in arguments.by.split(",")],
            most_mass=arguments.mass,
            most_price=arguments.price,
            bay=arguments.bay and [each.strip() for each in arguments.bay.split(",")],
            spline=arguments.spline,
        )
    except InputFaults as error:
        _say_faults(arguments, error, "Nothing can be chosen", "evaluated")
        return UNUSABLE
    except InputError as error:
        faults = InputFaults([error.fault._replace(file=arguments.file)])
        _say_faults(arguments, faults, "Nothing can be chosen", "evaluated")
        return UNUSABLE
    if arguments.json:
        from linkcalc.report.document import dumped  # noqa: PLC0415 - one of the two is used

        _write(dumped(choice_document(found)) + "\n")
    else:
        _write(choice_text(found, every=arguments.all, bold=_is_bold()))
    return PASS if found.ranking.best else SHORT


def _solvers(_: argparse.Namespace) -> int:
    from linkcalc.solvers import GROUPS, available  # noqa: PLC0415 - only here

    for kind in GROUPS:
        for found in available(kind):
            _write(f"{kind:13} {found.name:15} {found.distribution}\n")
    return PASS


def _completion(arguments: argparse.Namespace) -> int:
    from linkcalc.completion import script  # noqa: PLC0415 - only here

    _write(script(parser(), arguments.shell))
    return PASS


def _encodable(words: str, encoding: str | None) -> str:
    """Return text with what the terminal cannot show replaced."""
    encoding = encoding or "utf-8"
    try:
        words.encode(encoding)
    except UnicodeEncodeError:
        words = words.replace("·", "*").replace("±", "+/-").replace("°", "deg")
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
    chosen = parser().parse_args(arguments)
    try:
        code: int = chosen.run(chosen)
        sys.stdout.flush()
    except BrokenPipeError:  # the reader has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return UNREAD  # whatever the verdict: it has not been told
    except KeyboardInterrupt:
        return STOPPED
    except Exception as error:
        if os.environ.get(DETAILS):
            raise
        message = f"linkcalc: internal failure, a defect of ours: {type(error).__name__}: {error}"
        sys.stderr.write(f"{message[:300]}. Set {DETAILS}=1 and run again for the details.\n")
        return INTERNAL
    return code


def process() -> int:
    """Run the command line as a process of its own.

    Returns
    -------
    int
        The exit code.

    Notes
    -----
    A check lives for a moment. Looking for garbage while modules are loaded, and once more
    through all of them at the end, would cost it a tenth of its time.
    """
    gc.set_threshold(50_000, 20, 20)
    # No matrix of ours is large: threads for them cost a start of many milliseconds on a busy
    # machine, and earn nothing. Who has a solver that wants them sets the variable.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        return main()
    finally:
        gc.freeze()


if __name__ == "__main__":
    sys.exit(process())
