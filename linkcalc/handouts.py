"""The commands that make something to print: bench sheet, workbook and cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcalc.errors import shown
from linkcalc.files import read_aircraft
from linkcalc.report import measures
from linkcalc.saving import PAGE, refuse_name, save, save_all

if TYPE_CHECKING:
    import argparse

    from linkcalc.model import Aircraft
    from linkcalc.report.measures import Measures

__all__ = ["cards", "proof", "working"]


def proof(arguments: argparse.Namespace, *, bold: bool = False) -> tuple[str, bool]:
    """Make the bench sheet.

    Parameters
    ----------
    arguments : Namespace
        Of the command line.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    tuple of str and bool
        What to print, and whether every run has a load that its servo is expected to move.

    Raises
    ------
    InputFaults
        The description cannot be used, or the page cannot be written.
    """
    from linkcalc.report.bench_sheet import bench_html, bench_text  # noqa: PLC0415 - only here
    from linkcalc.study.proof import proof as proved  # noqa: PLC0415 - only here

    refuse_name(arguments.html, PAGE, force=arguments.force)
    aircraft = read_aircraft(arguments.file)
    chosen = _measures(arguments, aircraft)
    found = proved(aircraft)
    if not arguments.html:
        return bench_text(found, measures=chosen, bold=bold), found.ready
    page = bench_html(found, measures=chosen)
    save(arguments.html, page.encode(), force=arguments.force)
    return f"{shown(arguments.html)} is written.\n", found.ready


def cards(arguments: argparse.Namespace, *, bold: bool = False) -> tuple[str, bool]:
    """Draw cards at true scale.

    Parameters
    ----------
    arguments : Namespace
        Of the command line.
    bold : bool
        Not used: only names are printed.

    Returns
    -------
    tuple of str and bool
        What to print, and True.

    Raises
    ------
    InputFaults
        The description cannot be used, or the cards cannot be written.
    """
    from linkcalc.checking import checked  # noqa: PLC0415 - only here
    from linkcalc.report.cards import cards as drawn  # noqa: PLC0415 - only here
    from linkcalc.report.paper import pdf, svg  # noqa: PLC0415 - only here

    del bold
    refuse_name(arguments.out, (".pdf", ".svg"), force=arguments.force)
    aircraft = read_aircraft(arguments.file)
    chosen = _measures(arguments, aircraft)
    sheets = drawn(arguments.kind, checked(aircraft), paper=arguments.paper, measures=chosen)
    if arguments.out.lower().endswith(".pdf"):
        made = {arguments.out: pdf(sheets)}
    else:
        made = {
            _numbered(arguments.out, n, len(sheets)): svg(each) for n, each in enumerate(sheets)
        }
    save_all(made, force=arguments.force)
    return "".join(f"{shown(name)} is written.\n" for name in made), True


def _numbered(path: str, index: int, count: int) -> str:
    """Return a name of its own for each of several files."""
    return path if count == 1 else f"{path[:-4]}-{index + 1}{path[-4:]}"


def working(arguments: argparse.Namespace, *, bold: bool = False) -> tuple[str, bool]:
    """Write out the calculation of one run in one case.

    Parameters
    ----------
    arguments : Namespace
        Of the command line.
    bold : bool
        Not used: Markdown has marks of its own.

    Returns
    -------
    tuple of str and bool
        What to print, and whether there is a torque margin of zero or more.

    Raises
    ------
    InputFaults
        The description cannot be used, it has no such run or case, or the page cannot be written.
    """
    from linkcalc.report.workbook import workbook_markdown, workbook_page  # noqa: PLC0415 - only here
    from linkcalc.study.workbook import workbook  # noqa: PLC0415 - only here

    del bold
    refuse_name(arguments.html, PAGE, force=arguments.force)
    aircraft = read_aircraft(arguments.file)
    book = workbook(aircraft, run=arguments.only_run, case=arguments.case)
    complete = bool(book.report and book.report.margin("torque").passes)
    if not arguments.html:
        return workbook_markdown(book), complete
    save(arguments.html, workbook_page(book).encode(), force=arguments.force)
    return f"{shown(arguments.html)} is written.\n", complete


def _measures(arguments: argparse.Namespace, aircraft: Aircraft) -> Measures:
    if arguments.units == "metric":
        return measures.METRIC
    return measures.imperial() if arguments.units == "imperial" else measures.as_stated(aircraft)
