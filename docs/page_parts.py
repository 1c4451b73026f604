"""Parts of pages that are written from the source, so that they cannot drift from it.

``keys()`` is the reference of the aircraft file, made from the fields of the model;
``units()`` lists the words that quantities may use; ``changes()`` joins the fragments in
``docs/changes``; ``tolerances()`` lists those that stand in where none is stated;
``commands()`` is the help of every command, ``nomenclature()`` the table of names. The build puts each where a page says ``<!-- page part: NAME -->``. At a
release ``python docs/page_parts.py changes`` prints the joined fragments.
"""

from __future__ import annotations

import base64
import contextlib
import csv
import html
import io
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import linkcalc
from linkcalc.catalogue.parts import KINDS_OF_PARTS, Catalogue
from linkcalc.catalogue.reading import FORMAT
from linkcalc.completion import commands as subcommands
from linkcalc.model import Aircraft, Lead, Servo
from linkcalc.model.value_classes import fields
from linkcalc.options import parser
from linkcalc.report import nomenclature as formulas
from linkcalc.report import terms
from linkcalc.study.uncertain import DEFAULT_TOLERANCES
from linkcalc.units import KINDS, UNITS

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from linkcalc.model.value_classes import Field, Spec

FRAGMENTS = Path(__file__).resolve().parent / "changes"
CHANGES = {
    "added": "Added",
    "changed": "Changed",
    "fixed": "Fixed",
    "removed": "Removed",
}
"""Endings of fragments, and the headings they go under."""

_MARK = re.compile(r"<!-- page part: (\w+) -->")
_PICTURE = re.compile(r"<!-- picture: (.*?) -->")


class Table(NamedTuple):
    """One table of an aircraft file: how it is headed there, and the class behind it."""

    heading: str
    words: str
    cls: Any
    named: bool


def tables() -> list[Table]:
    """Return the tables of an aircraft file, outermost first."""
    found = [Table("", "Top of the file", Aircraft, named=False)]
    known = {Aircraft}
    waiting = [Table("[servos.NAME]", "Servos", Servo, named=True)]
    waiting.append(Table("[leads.NAME]", "Leads", Lead, named=True))
    waiting = [*_inner(found[0]), *waiting]
    while waiting:
        table = waiting.pop(0)
        if table.cls not in known:
            known.add(table.cls)
            found.append(table)
            waiting = [*_inner(table), *waiting]
    return found


def _inner(table: Table) -> Iterator[Table]:
    """Yield the tables that stand in a table."""
    outer = table.heading.strip("[]")
    for field in fields(table.cls):
        held = field.spec
        if held.form in {"part", "parts"}:
            place = f"{outer}.{field.name}" if outer else field.name
            heading = f"[[{place}]]" if held.form == "parts" else f"[{place}]"
            yield Table(heading, _words(held.part), held.part, named=False)


def _words(cls: type) -> str:
    """Return the name of a class in words."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", cls.__name__).capitalize()


def keys() -> str:
    """Return every key of the aircraft file, with its unit and what stands in for it."""
    return "\n".join(line for table in tables() for line in _section(table))


def catalogue_keys() -> str:
    """Return every key of a catalogue, as `keys` does."""
    found = [Table("", "Top of a catalogue", Catalogue, named=False)]
    for kind, cls in KINDS_OF_PARTS.items():
        found.append(Table(f"[{kind}.NAME]", _words(cls), cls, named=True))
        found += [each for each in _inner(found[-1]) if each.cls not in {x.cls for x in found}]
    return "\n".join(line for table in found for line in _section(table))


def _section(table: Table) -> Iterator[str]:
    yield f"### {table.words}"
    yield ""
    if table.heading:
        yield f"`{table.heading}`"
        yield ""
    yield from (line.strip() for line in (table.cls.__doc__ or "").splitlines())
    yield ""
    yield "| key | what it is | value | when it is left out |"
    yield "| --- | --- | --- | --- |"
    if table.cls is Aircraft:
        yield '| `format` | What kind of file this is. | `"linkcalc.aircraft/1"` | **required** |'
    if table.cls is Catalogue:
        yield f'| `format` | What kind of file this is. | `"{FORMAT}"` | **required** |'
    for field in fields(table.cls):
        if (table.named and field.name == "name") or field.name in KINDS_OF_PARTS:
            continue  # it stands in the heading of a table
        cells = (field.name, *_cells(field))
        yield "| `{}` | {} | {} | {} |".format(*(cell.replace("|", r"\|") for cell in cells))
    yield ""


def _cells(field: Field) -> tuple[str, str, str]:
    held = field.spec
    return held.doc, _value(held), _left_out(field)


def _left_out(field: Field) -> str:
    """Say what stands in for a key that is left out."""
    if field.required:
        return "**required**"
    return field.spec.default or f"`{_quoted(field.default)}`"


def _value(held: Spec) -> str:
    """Say what a key holds."""
    if held.form == "quantity":
        words = f"{held.kind}, such as `{_quoted(KINDS[held.kind].example)}`"
        return words + "".join(f", or `{_quoted(word)}`" for word in held.choices)
    if held.form in {"vector", "quantities"}:
        return "list of numbers" if held.kind == "ratio" else f"list of {held.kind}s"
    if held.form == "choice":
        return ", ".join(f"`{_quoted(word)}`" for word in held.choices)
    if held.form == "part":
        short = f", or a bare {held.shorthand}" if held.shorthand else ""
        return f"table: {_words(held.part).lower()}{short}"
    if held.form == "parts":
        return f"tables: {_words(held.part).lower()}"
    plain = {
        "sources": "table of texts",
        "number": "number, no unit",
        "text": "text",
        "reference": "a name in this file",
    }
    return plain.get(held.form, held.form)


def _quoted(word: str) -> str:
    return f'"{word}"'


def attribute_lines(cls: type) -> list[str]:
    """Return the fields of a value class as a numpydoc section."""
    lines = ["", "Attributes", "----------"]
    for field in fields(cls):
        doc, value, default = _cells(field)
        kept = "required" if default == "**required**" else f"left out: {default}"
        words = _object(field) or value.replace("`", "")
        lines += [f"{field.name} : {words}", f"    {doc} ({kept})"]
    return lines


def _object(field: Field) -> str:
    """Name the class that a field holds in a script, where a file has a table or a name."""
    held = field.spec
    if held.form == "reference":
        return "Servo" if field.name == "servo" else "Lead"
    if held.form == "parts":
        return f"tuple of {held.part.__name__}"
    return held.part.__name__ if held.form == "part" else ""


def units() -> str:
    """Return the words for units, by what they measure."""
    lines = ["| what | such as | words that it is made of |", "| --- | --- | --- |"]
    for kind in KINDS.values():
        words = [word for word, (_, powers, _) in UNITS.items() if powers == kind.powers]
        words += ["degC", "degF"] * (kind.name == "temperature")  # these have a zero of their own
        listed = " ".join(f"`{word}`" for word in words) or "a product of the others"
        lines.append(f"| {kind.name} | `{_quoted(kind.example)}` | {listed} |")
    return "\n".join(lines)


def changes(folder: Path = FRAGMENTS) -> str:
    """Return the fragments of changes, joined under their headings."""
    lines: list[str] = []
    for ending, heading in CHANGES.items():
        texts = [
            path.read_text(encoding="utf-8").strip()
            for path in sorted(folder.glob(f"*.{ending}.md"))
        ]
        if texts:
            lines += [f"### {heading}", "", *(f"- {' '.join(text.split())}" for text in texts), ""]
    return "\n".join(lines)


def tolerances() -> str:
    """Return the tolerances that stand in where none is stated."""
    lines = ["| table | key | tolerance |", "| --- | --- | --- |"]
    lines += [
        f"| {_words(getattr(linkcalc, cls))} | `{key}` | ± {words} |"
        for (cls, key), words in DEFAULT_TOLERANCES.items()
    ]
    return "\n".join(lines)


def commands() -> str:
    """Return the help of every command, as the program prints it."""
    found = parser()
    lines = ["## linkcalc", "", *_help(found)]
    for command in subcommands(found):
        lines += [f"## linkcalc {command.name}", "", f"{_sentence(command.help)}", ""]
        lines += _help(command.parser)
    return "\n".join(lines)


def _help(one: argparse.ArgumentParser) -> list[str]:
    """Return what a parser prints, 80 columns wide whatever the terminal."""
    before = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "80"
    try:
        words = one.format_help().rstrip()
    finally:
        if before is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = before
    return ["```text", words, "```", ""]


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


NOMENCLATURE = Path(__file__).resolve().parent / "nomenclature.csv"
_QUANTITIES = ("quantity", "vector", "quantities", "number", "load factor")


def quantity_keys() -> dict[str, Field]:
    """Return the keys of an aircraft file that hold a quantity, by class and name."""
    return {
        f"{table.cls.__name__}.{field.name}": field
        for table in tables()
        for field in fields(table.cls)
        if field.spec.form in _QUANTITIES
    }


def other_keys() -> str:
    """Return the keys that hold none, by the words of their tables."""
    lines = []
    for table in tables():
        names = [f.name for f in fields(table.cls) if f.spec.form not in _QUANTITIES]
        if names:
            lines.append(f"- {table.words}: {', '.join(f'`{name}`' for name in names)}")
    return "\n".join(lines)


def named() -> list[dict[str, str]]:
    """Return the rows of the nomenclature."""
    with NOMENCLATURE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def nomenclature() -> str:
    """Return the nomenclature as a table."""
    words = {table.cls.__name__: table.words for table in tables()}
    lines = [
        "| quantity | symbol | unit | sign | in a file | in a report | told to solvers |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in named():
        keys = [key.partition(".") for key in row["file"].split()]
        cells = (
            row["quantity"] + (f" ({row['why']})" if row["why"] else ""),
            row["symbol"],
            "" if row["unit"] == "1" else row["unit"].replace("*", "·"),
            row["sign"],
            ", ".join(f"`{key}` ({words[cls].lower()})" for cls, _, key in keys),
            row["report"],
            ", ".join(f"`{field}`" for field in row["solver"].split()),
        )
        lines.append("| {} |".format(" | ".join(cell.replace("|", r"\|") for cell in cells)))
    return "\n".join(lines)


def modes() -> str:
    """Return the modes of failure, with the symbols and formulas of their margins."""
    lines = ["| mode | symbol | margin | what it asks |", "| --- | --- | --- | --- |"]
    lines += [
        f"| {name} | {entry.symbol} | {entry.formula.replace('|', chr(92) + '|')} | {terms.MODES[name]} |"
        for name, entry in formulas.MODES.items()
    ]
    return "\n".join(lines)


PARTS: dict[str, Callable[[], str]] = {
    "catalogue_keys": catalogue_keys,
    "changes": changes,
    "commands": commands,
    "keys": keys,
    "modes": modes,
    "nomenclature": nomenclature,
    "other_keys": other_keys,
    "tolerances": tolerances,
    "units": units,
}


def filled(text: str) -> str:
    """Return the text of a page with its parts and pictures put in."""
    text = _MARK.sub(lambda match: PARTS[match[1]](), text)
    return _pictured(text) if _PICTURE.search(text) else text


def _pictured(text: str) -> str:
    """Run the blocks of a page, and put the picture that a mark asks for in its place.

    A picture is that of the last `figure` or `axes`, whichever its block has made.
    """
    names: dict[str, Any] = {}
    made: list[str] = []
    with contextlib.chdir(FRAGMENTS.parent.parent):
        for piece in re.split(
            r"(^```python\n.*?^```$|<!-- picture: .*? -->)", text, flags=re.MULTILINE | re.DOTALL
        ):
            if block := re.fullmatch(r"```python\n(.*?)```", piece, re.DOTALL):
                names.pop("figure", None)
                exec(block[1], names)  # noqa: S102 - our own pages
            elif mark := _PICTURE.fullmatch(piece):
                piece = _image(names.get("figure") or names["axes"].figure, mark[1])  # noqa: PLW2901
            made.append(piece)
    return "".join(made)


def _image(figure: Any, words: str) -> str:
    """Return a figure as an image that stands in the page itself."""
    from matplotlib import rc_context  # noqa: PLC0415 - only pages with pictures pay

    drawn = io.StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "linkcalc"}):
        figure.savefig(drawn, format="svg", metadata={"Date": None})
    source = base64.b64encode(drawn.getvalue().encode()).decode()
    return f'<img alt="{html.escape(words)}" src="data:image/svg+xml;base64,{source}">'


if __name__ == "__main__":
    sys.stdout.write(PARTS[sys.argv[1]]() + "\n")
