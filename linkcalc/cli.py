"""The command line: a thin face, no arithmetic."""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING, Any

from linkcalc.errors import Fault, InputError, InputFaults, shown
from linkcalc.options import parser

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

    from linkcalc.model import Aircraft
    from linkcalc.report.measures import Measures
    from linkcalc.results import Report
    from linkcalc.study.drops import Path
    from linkcalc.study.remedies import Remedies
    from linkcalc.study.tolerance import ToleranceReport

__all__ = ["main", "process"]

PASS, SHORT, UNUSABLE, INTERNAL = 0, 1, 2, 3
"""Exit codes: all margins zero or more; one short or not computed; input unusable; a defect of ours."""

STOPPED, UNREAD = 128 + 2, 128 + 13
"""Stopped by the keyboard; left by the reader of a pipe: as shells tell of signals 2 and 13."""

DETAILS = "LINKCALC_DETAILS"


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
    from linkcalc.saving import PAGE, refuse_name  # noqa: PLC0415 - only for a page
    from linkcalc.study.curves import curves  # noqa: PLC0415 - only for a page

    refuse_name(arguments.html, PAGE, force=arguments.force)
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
        remedy = "Add --html NAME.html, or leave --force out."
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
            _draw(arguments.picture, paths, force=arguments.force)
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


def _draw(name: str, paths: Sequence[Path], *, force: bool) -> None:
    """Draw where the volts go into a file."""
    from linkcalc.report.drop import voltage_drop  # noqa: PLC0415 - only here

    _kind_of_picture(name)
    _save_figure(name, voltage_drop(paths).get_figure(root=True), force=force)


def _kind_of_picture(name: str) -> str:
    import pathlib  # noqa: PLC0415 - only here

    kind = pathlib.Path(name).suffix
    if kind not in {".svg", ".png", ".pdf"}:
        expected, remedy = "a name with .svg, .png or .pdf", "Choose one of these."
        raise InputFaults([Fault("", "--picture", shown(name), expected, remedy)])
    return kind[1:]


def _save_figure(name: str, figure: Any, *, force: bool) -> None:
    import io  # noqa: PLC0415 - only here

    from linkcalc.saving import save  # noqa: PLC0415 - only here

    drawn = io.BytesIO()
    figure.savefig(drawn, format=_kind_of_picture(name))
    save(name, drawn.getvalue(), force=force)


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
    from linkcalc.study.tolerance import margin_named, tolerance  # noqa: PLC0415 - only here

    names = ("samples", "precision", "seed", "speeds", "rare", "indices", "jobs")
    asked: dict[str, Any] = {name: getattr(arguments, name) for name in names}
    terminal = sys.stderr.isatty()
    try:
        _refuse_picture(arguments)
        drawn = arguments.margin and margin_named(arguments.file, arguments.margin)
        found = tolerance(
            arguments.file,
            **asked,
            defaults=False if arguments.no_defaults else None,
            progress=_count if terminal else None,
        )
        if arguments.picture is not None:
            _draw_spread(arguments, found, drawn)
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
    if found.interrupted:
        return STOPPED
    return SHORT if found.whole.chance.events else PASS


def _refuse_picture(arguments: argparse.Namespace) -> None:
    """Refuse a picture that cannot be made, before any work is done for it."""
    from linkcalc.saving import refuse_existing  # noqa: PLC0415 - only here

    if arguments.picture is not None:
        _kind_of_picture(arguments.picture)
        refuse_existing([arguments.picture] if not arguments.force else [])
    elif arguments.margin is not None:
        remedy = "Add --picture, or leave it out: the report tells of all margins."
        raise InputFaults([Fault("", "--margin", "no --picture", "a picture of it", remedy)])


def _draw_spread(
    arguments: argparse.Namespace, found: ToleranceReport, key: tuple[str, str, str] | None
) -> None:
    """Draw what moves a margin into a file."""
    from linkcalc.report.spread_picture import draw_spread  # noqa: PLC0415 - only here
    from linkcalc.study.tolerance import least_sure, margin_swings  # noqa: PLC0415 - only here

    key = key or least_sure(found)
    defaults = False if arguments.no_defaults else None
    swings = margin_swings(arguments.file, *key, defaults=defaults)
    figure = draw_spread(swings, found.indices.get(key), label=" / ".join(key))
    _save_figure(arguments.picture, figure, force=arguments.force)


def _sweep(arguments: argparse.Namespace) -> int:
    from linkcalc.report.progress import shown_progress  # noqa: PLC0415 - only here
    from linkcalc.report.sweep_table import swept_text, write_swept  # noqa: PLC0415 - only here
    from linkcalc.saving import refuse_existing  # noqa: PLC0415 - only here
    from linkcalc.study.running import Workers  # noqa: PLC0415 - only here
    from linkcalc.study.sweep import over_of, sweep  # noqa: PLC0415 - only here

    files = [name for name in (arguments.out, arguments.picture) if name is not None]
    try:
        over = over_of(arguments.over)
        refuse_existing(files if not arguments.force else [])
        with shown_progress("combinations") as progress:
            found = sweep(
                arguments.file,
                over,
                speeds=arguments.speeds,
                workers=Workers(arguments.jobs, arguments.cluster),
                progress=progress,
            )
        write_swept(found, out=arguments.out, picture=arguments.picture, force=arguments.force)
    except (InputError, InputFaults, ImportError) as error:
        _say_faults(arguments, _study_faults(arguments, error))
        return UNUSABLE
    _write(swept_text(found, bold=_is_bold()))
    if not found.attrs["complete"]:
        return STOPPED
    return PASS if bool((found["least margin"] >= 0).all()) else SHORT


def _study_faults(arguments: argparse.Namespace, error: Exception) -> InputFaults:
    """Return what is to be told of a study that cannot be made."""
    if isinstance(error, InputFaults):
        return error
    if isinstance(error, InputError):
        return InputFaults([error.fault._replace(file=arguments.file)])
    name = getattr(error, "name", "module")
    remedy = "Install them: pip install 'linkcalc[study]'"
    found = f"no {name}"
    return InputFaults([Fault("", arguments.command, found, "what studies need", remedy)])


def _count(words: str, done: int, most: int) -> None:
    sys.stderr.write(f"\r\x1b[K{done} of {'at most ' * (words == 'samples')}{most} {words} ")
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
    from linkcalc import purchases  # noqa: PLC0415 - only here

    try:
        words, verdict = purchases.choice(arguments, bold=_is_bold())
    except (InputError, InputFaults, ImportError) as error:
        _say_faults(
            arguments, _study_faults(arguments, error), "Nothing can be chosen", "evaluated"
        )
        return UNUSABLE
    _write(words)
    return STOPPED if verdict is None else PASS if verdict else SHORT


def _solvers(arguments: argparse.Namespace) -> int:
    from linkcalc.errors import SolverError  # noqa: PLC0415 - only here
    from linkcalc.report.solver_table import described, listed  # noqa: PLC0415 - only here

    if not arguments.names:
        _write(listed())
        return PASS
    try:
        texts = [described(name) for name in arguments.names]
    except SolverError as error:
        sys.stderr.write(_encodable(f"linkcalc: {error}\n", sys.stderr.encoding))
        return UNUSABLE
    _write("\n".join(texts))
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


_COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "cards": _handout,
    "catalogue": _catalogue,
    "check": _check,
    "choose": _choose,
    "completion": _completion,
    "methods": _methods,
    "new": _new,
    "proof": _handout,
    "remedy": _remedy,
    "schema": _schema,
    "solvers": _solvers,
    "sweep": _sweep,
    "tolerance": _tolerance,
    "wires": _wires,
    "working": _handout,
}


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
        code: int = _COMMANDS[chosen.command](chosen)
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
