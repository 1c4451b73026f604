"""Catalogues from files and data frames: read strictly, and all that is wrong told at once."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from linkcalc.catalogue.columns import Sheet
from linkcalc.catalogue.parts import KINDS_OF_PARTS, MOST_PARTS, Catalogue
from linkcalc.errors import Fault, InputFaults, shown
from linkcalc.files import _BROKEN, _content, _decoded, _Reader, _table, _unusable
from linkcalc.model.fields import LONGEST_TEXT

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from linkcalc.catalogue.columns import Record

__all__ = ["FORMAT", "catalogue_of", "read_catalogue"]

FORMAT = "linkcalc.catalogue/1"
"""What the key ``format`` of a catalogue says."""

LARGEST = 8 * 1024 * 1024
"""A larger file is refused unread [bytes]."""

_WHAT = "a catalogue"


def read_catalogue(*paths: str | os.PathLike[str], name: str | None = None) -> Catalogue:
    """Read a catalogue from one file, or from several that make it up together.

    Parameters
    ----------
    *paths : str or path
        TOML files, and tables whose names end in ``.csv``; the page on catalogues explains both.
    name : str, optional
        Of the catalogue; left out, the one in the first TOML file, or the first file's.

    Returns
    -------
    Catalogue
        What the files list.

    Raises
    ------
    InputFaults
        All that is wrong with the files, each fault with file, place, what was found, what
        was expected and what to do.

    Examples
    --------
    >>> found = read_catalogue("examples/catalogue/parts.toml")
    >>> found.servos[0].rows[0].voltage
    <Quantity(4.8, 'volt')>
    """
    reader = _CatalogueReader()
    for path in paths:
        reader.file(os.fspath(path))
    return reader.catalogue(name, Path(paths[0]).name[:LONGEST_TEXT] if paths else "")


def catalogue_of(*, name: str, **frames: Any) -> Catalogue:
    """Make a catalogue of data frames.

    Parameters
    ----------
    name : str
        Of the catalogue.
    **frames : data frame or mapping of str to sequence
        By kind of part: ``servos``, ``arms``, ``horns``, ``rods``, ``joints``, ``wires`` and
        ``connectors``. A frame of pandas or polars, or anything that has ``columns`` and gives a
        column by its heading, such as ``"mass [g]"``. Cells that are empty, None or nan are not
        given.

    Returns
    -------
    Catalogue
        What the frames list.

    Raises
    ------
    InputFaults
        All that is wrong; lines are counted from 1 without the headings.

    Examples
    --------
    >>> catalogue_of(
    ...     name="drawer",
    ...     horns={"horn": ["long"], "source": ["calliper"], "holes [mm]": ["10 12.5"]},
    ... ).horns
    (HornPart(name='long', source='calliper', sources=(), holes=[10 mm, 12.5 mm], ...),)
    """
    reader = _CatalogueReader()
    for kind, frame in frames.items():
        if kind not in KINDS_OF_PARTS:
            raise TypeError(f"catalogue_of() has no kind of part {kind!r}")
        reader.frame(kind, frame)
    return reader.catalogue(name)


class _CatalogueReader(_Reader):
    """Collects parts from files and frames, and all that is wrong with them."""

    def __init__(self) -> None:
        super().__init__()
        self.head: dict[str, Any] = {}
        self.parts: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS_OF_PARTS}

    def catalogue(self, name: str | None, otherwise: str = "") -> Catalogue:
        """Make the catalogue, or tell all that is wrong."""
        head = {"name": otherwise} | self.head | ({} if name is None else {"name": name})
        known = {
            kind: tuple(item for item in found.values() if item is not _BROKEN)
            for kind, found in self.parts.items()
        }
        made = self.build(Catalogue, head, "", extra=("format",), **known)
        self.give_up()
        return cast("Catalogue", made)

    def file(self, path: str) -> None:
        """Read one file."""
        before = len(self.faults)
        try:
            if path.lower().endswith(".csv"):
                self.csv(path)
            else:
                self.toml(_table(path, _WHAT, LARGEST))
        except InputFaults as error:
            self.faults += map(_of_one_name, error.faults)
        self.faults[before:] = [fault._replace(file=path) for fault in self.faults[before:]]

    # TOML ---------------------------------------------------------------------------------

    def toml(self, table: dict[str, Any]) -> None:
        """Read the tables of a TOML file."""
        table = dict(table)
        self.format(table, FORMAT)
        named = {kind: self.named(table, kind, "NAME", MOST_PARTS) for kind in KINDS_OF_PARTS}
        known = ("name", "currency", *KINDS_OF_PARTS)
        self.unknown_keys(table, dict.fromkeys(known), "", ("format",))
        for key in ("name", "currency"):
            if key in table:
                self.agree(key, table[key])
        for kind, found in named.items():
            for name, item in found.items():
                self.add(kind, name, item, f"{kind}.{name}")

    def agree(self, key: str, value: Any) -> None:
        """Keep the name of the first file, and the one currency of all."""
        first = self.head.setdefault(key, value)
        if key == "currency" and first != value:
            self.fault(
                key,
                shown(value),
                f"{shown(first)}, as before",
                "Give all prices of a catalogue in one currency.",
            )

    def add(self, kind: str, name: str, item: Any, place: str) -> None:
        """Build one part."""
        if name in self.parts[kind]:
            self.fault(
                place,
                f"two parts called {shown(name)}",
                "a name of its own for every part of a kind",
                "Rename one, or leave it out.",
            )
            return
        self.parts[kind][name] = self.build(KINDS_OF_PARTS[kind], item, place, name=name)

    # tables in columns --------------------------------------------------------------------

    def csv(self, path: str) -> None:
        """Read a table of comma-separated values."""
        text = _decoded(_content(path, _WHAT, LARGEST))
        first = text.partition("\n")[0]
        separator = ";" if ";" in first and "," not in first else ","
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
        try:
            headings = next(rows, [])
            self.sheet(Sheet(self.fault, "", "line"), headings, _numbered(rows))
        except csv.Error as error:
            raise _unusable(
                f"text that is no table: {ascii(str(error))[1:80]}",
                "comma-separated values (RFC 4180)",
                "Close every quotation mark on its own line; write one inside text as two.",
                f"line {rows.line_num}",
            ) from None

    def frame(self, kind: str, frame: Any) -> None:
        """Read a data frame, whoever made it."""
        headings = list(frame.columns if hasattr(frame, "columns") else frame.keys())
        columns = [_cells(frame[heading]) for heading in headings]
        rows = enumerate(zip(*columns, strict=True), start=1)
        before = len(self.faults)
        self.sheet(Sheet(self.fault, kind, "row"), headings, rows)
        self.faults[before:] = [
            fault._replace(place=": ".join(filter(None, (kind, fault.place))))
            for fault in self.faults[before:]
        ]

    def sheet(self, sheet: Sheet, headings: Sequence[Any], rows: Any) -> None:
        """Build the parts of a table."""
        records = sheet.read(headings, rows)
        if sheet.currency:
            self.agree("currency", sheet.currency)
        for record in records:
            before, place = len(self.faults), f"{sheet.kind}.{record.name}"
            self.add(sheet.kind, record.name, _table_of(record), place)
            self.faults[before:] = [
                _in_table(fault, sheet, record, place) for fault in self.faults[before:]
            ]


def _of_one_name(fault: Fault) -> Fault:
    """Say in the words of catalogues that TOML has met one table twice."""
    if "Cannot declare" in fault.found or "Cannot overwrite" in fault.found:
        return fault._replace(
            expected="a name of its own for every part of a kind",
            remedy="Rename one, or leave it out.",
        )
    return fault


def _table_of(record: Record) -> dict[str, Any]:
    """Return the keys of a part, its sources in a table of their own."""
    table = {key: value for key, value in record.table.items() if "." not in key and key != "name"}
    prefix = "sources."
    own = {
        key.removeprefix(prefix): words
        for key, words in record.table.items()
        if key.startswith(prefix)
    }
    return {**table, "sources": own} if own else table


def _in_table(fault: Fault, sheet: Sheet, record: Record, place: str) -> Fault:
    inner = fault.place.removeprefix(place).removeprefix(".")
    where = f"{sheet.placed(record, inner)} ({shown(record.name)})"
    return fault._replace(place=where)


def _numbered(rows: Any) -> Iterator[tuple[int, list[str]]]:
    for row in rows:
        yield rows.line_num, row


def _cells(column: Any) -> list[Any]:
    """Return the cells of a column, None where it says that there is none."""
    cells = list(column)
    for mask in ("isna", "is_null"):
        if hasattr(column, mask):
            empty = list(getattr(column, mask)())
            return [None if none else cell for cell, none in zip(cells, empty, strict=True)]
    return cells
