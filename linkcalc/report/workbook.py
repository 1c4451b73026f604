"""The calculation written out: Markdown to read and to recompute, HTML with MathML for pages."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from linkcalc.report.layout import cut, printable, signed

if TYPE_CHECKING:
    from linkcalc.study.workbook import Line, Workbook
    from linkcalc.working.chain import Formula

__all__ = [
    "DIGITS",
    "formula_mathml",
    "number",
    "workbook_fragment",
    "workbook_markdown",
    "workbook_page",
]

DIGITS = 6
"""Significant figures of every number."""

NAME = 120  # characters of a name that is shown

HOW = (
    "Every line is a formula, the same with its numbers, and what it gives, all in SI units and "
    f"radians, to {DIGITS} figures. What one line gives the next one takes. Deflection and hinge "
    "moment are positive trailing edge down, on a fin to starboard."
)
CAUTION = (
    "An estimate for models and light unmanned aircraft; not for anything that carries a person. "
    "Prove the installation by a bench proof load before flight. Keep clear of moving parts. Follow "
    "local rules and licensed practice."
)
_SYMBOL = re.compile(r"[A-Za-z_]\w*")
_TWICE = re.compile(r"\(\(([^()]*)\)\)")
_MARKS = re.compile(r"([\\`*_\[\]#|<>&~$])")  # what Markdown might take for its own


def number(value: float) -> str:
    """Return a number as the workbook shows it.

    Parameters
    ----------
    value : float
        The number.

    Returns
    -------
    str
        With `DIGITS` significant figures at most.

    Examples
    --------
    >>> [number(value) for value in (382.8125, -0.0, 1.72e-8, 25.0)]
    ['382.812', '0', '1.72e-08', '25']
    """
    shown = f"{value:.{DIGITS}g}"
    return "0" if shown == "-0" else shown


def _numbers(line: Line) -> str:
    """Return the right side of a formula with its numbers put in."""

    def put(found: re.Match[str]) -> str:
        if found[0] not in line.values:
            return found[0]  # a function
        shown = number(line.values[found[0]])
        return f"({shown})" if shown.startswith("-") or "e" in shown else shown

    return _TWICE.sub(r"(\1)", _SYMBOL.sub(put, line.formula.words))


def _unit(unit: str) -> str:
    return "" if unit == "1" else f" {unit}"


def _title(book: Workbook) -> str:
    return f"{cut(book.run, NAME)} in {cut(book.case, NAME)}"


def _plain(words: str) -> str:
    """Return words that Markdown shows as they are."""
    return _MARKS.sub(r"\\\1", printable(words))


def _ending(book: Workbook) -> str:
    """Say how the calculation ends."""
    if book.reason:
        return f"No torque margin: {book.reason.rstrip('.')}."
    told = book.report.margin("torque").margin if book.report else None
    return f"Torque margin {signed(told)}; governed by: {book.report.governing if book.report else ''}."


def workbook_markdown(book: Workbook) -> str:
    """Return a workbook as Markdown.

    Parameters
    ----------
    book : Workbook
        From `linkcalc.study.workbook.workbook`.

    Returns
    -------
    str
        A heading for every line, its formula and numbers as code, a table of its symbols.

    Examples
    --------
    >>> from linkcalc.study.workbook import workbook
    >>> book = workbook("examples/sandpiper.toml", run="elevator", case="survey line")
    >>> print(workbook_markdown(book).partition("## ")[2].partition("|")[0].rstrip())
    1. Dynamic pressure
    <BLANKLINE>
        q = rho*V**2/2
          = 1.20746*18.0556**2/2
          = 196.817 Pa
    """
    lines = [
        f"# {_plain(cut(book.aircraft, NAME))}: {_plain(_title(book))}",
        "",
        _plain(_ending(book)),
        "",
        HOW,
        "",
    ]
    for place, line in enumerate(book.lines, start=1):
        formula, note = line.formula, f" ({_plain(line.note)})" if line.note else ""
        pad = " " * len(formula.symbol)
        lines += [
            f"## {place}. {formula.name}{note}",
            "",
            f"    {formula.symbol} = {formula.words}",
            f"    {pad} = {_numbers(line)}",
            f"    {pad} = {number(line.value)}{_unit(formula.unit)}",
            "",
        ]
        if formula.terms:
            lines += ["| symbol | value | unit | meaning |", "| --- | --- | --- | --- |"]
            for symbol, (meaning, unit) in formula.terms.items():
                row = (f"`{symbol}`", number(line.values[symbol]), unit, _plain(meaning))
                lines.append(f"| {' | '.join(row)} |")
            lines.append("")
        lines += [f"Source: {_plain(formula.source)}.", ""]
    if book.notes:
        lines += ["## Notes", "", *(f"- {_plain(note)}" for note in book.notes), ""]
    return "\n".join([*lines, CAUTION]) + "\n"


def formula_mathml(formula: Formula) -> str:
    """Return a formula as MathML.

    Parameters
    ----------
    formula : Formula
        Of `linkcalc.working.chain`.

    Returns
    -------
    str
        A ``math`` element, with its words in ``alttext``; nothing that a file brought is in it.

    Examples
    --------
    >>> from linkcalc.working.chain import dynamic_pressure
    >>> formula_mathml(dynamic_pressure()).startswith('<math xmlns="http://www.w3.org/1998/Math/MathML"')
    True
    """
    import html  # noqa: PLC0415 - only here

    import sympy  # noqa: PLC0415 - heavy
    from sympy.printing.mathml import mathml  # noqa: PLC0415 - heavy

    names = {each: sympy.Symbol(each) for each in [*formula.terms, formula.symbol]}
    # unevaluated, so that terms stay in the order in which they are written
    right = sympy.parsing.sympy_parser.parse_expr(formula.words, local_dict=names, evaluate=False)
    parts = [
        mathml(each, printer="presentation", order="none")
        for each in (names[formula.symbol], right)
    ]
    told = html.escape(f"{formula.symbol} = {formula.words}")
    return (
        f'<math xmlns="http://www.w3.org/1998/Math/MathML" display="block" alttext="{told}">'
        f"<mrow>{parts[0]}<mo>=</mo>{parts[1]}</mrow></math>"
    )


def workbook_fragment(book: Workbook, *, level: int = 2) -> str:
    """Return a workbook as a piece of HTML for another page.

    Parameters
    ----------
    book : Workbook
        From `linkcalc.study.workbook.workbook`.
    level : int
        Of its first heading, 1 to 5.

    Returns
    -------
    str
        A ``section`` with formulas in MathML; what a file brought is escaped.

    Examples
    --------
    >>> from linkcalc.study.workbook import workbook
    >>> workbook_fragment(workbook("examples/sandpiper.toml")).count("<math ") > 10
    True
    """
    from markupsafe import Markup  # noqa: PLC0415 - comes with jinja2

    from linkcalc.report.pages import page  # noqa: PLC0415 - jinja2 is for pages only

    lines = [
        {
            "title": line.formula.name,
            "note": printable(line.note),
            # made by sympy from our own symbols alone
            "formula": Markup(formula_mathml(line.formula)),  # noqa: S704
            "numbers": f"{line.formula.symbol} = {_numbers(line)}",
            "value": f"{line.formula.symbol} = {number(line.value)}{_unit(line.formula.unit)}",
            "terms": [
                (symbol, number(line.values[symbol]), unit, printable(meaning))
                for symbol, (meaning, unit) in line.formula.terms.items()
            ],
            "source": printable(line.formula.source),
        }
        for line in book.lines
    ]
    return page(
        "workbook_fragment.html",
        title=_title(book),
        ending=printable(_ending(book)),
        how=HOW,
        lines=lines,
        notes=[printable(note) for note in book.notes],
        level=level,
    )


def workbook_page(book: Workbook) -> str:
    """Return a workbook as one self-contained HTML page.

    Parameters
    ----------
    book : Workbook
        From `linkcalc.study.workbook.workbook`.

    Returns
    -------
    str
        HTML without scripts and without anything to fetch.

    Examples
    --------
    >>> from linkcalc.study.workbook import workbook
    >>> "<script" in workbook_page(workbook("examples/sandpiper.toml"))
    False
    """
    from markupsafe import Markup  # noqa: PLC0415 - comes with jinja2

    from linkcalc.report.pages import page  # noqa: PLC0415 - jinja2 is for pages only

    return page(
        "workbook.html",
        aircraft=cut(book.aircraft, NAME),
        body=Markup(workbook_fragment(book)),  # noqa: S704 - escaped there
        caution=CAUTION,
    )
