"""Tables of parts in columns: headings that declare units, and lines that become parts.

A heading is a key with its unit, ``mass [g]``; the cells below hold numbers alone. The
column that names the parts says of which kind they are: ``servo``, ``wire`` and so on. A
servo has one line for each row of its datasheet.
"""

from __future__ import annotations

import itertools
import math
import re
from typing import TYPE_CHECKING, Any, NamedTuple

from linkcalc.catalogue.parts import KINDS_OF_PARTS, Catalogue
from linkcalc.errors import InputError, shown
from linkcalc.files import _BROKEN
from linkcalc.model.servo import DatasheetRow
from linkcalc.model.value_classes import fields
from linkcalc.units import KINDS, parse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from linkcalc.model.value_classes import Field

__all__ = ["NAMED_BY", "Column", "Record", "Sheet", "heading_of"]

NAMED_BY = {kind.removesuffix("s"): kind for kind in KINDS_OF_PARTS}
"""Kinds of parts by the heading of the column that names them."""

MOST_COLUMNS = 64
MOST_LINES = 50_000

_HEADING = re.compile(r"\s*(\w+(?:\.\w+)?)\s*(?:\[([^\[\]]{0,40})\])?\s*", re.ASCII)
_NUMBER = r"[+-]?(?:\d{1,24}(?:\.\d{0,24})?|\.\d{1,24})(?:[eE][+-]?\d{1,3})?"
_ALONE = re.compile(_NUMBER, re.ASCII)
_CELL = re.compile(rf"({_NUMBER})(?:\s*(?:±|\+/-)\s*({_NUMBER})\s*(%?))?", re.ASCII)
_NAME = Catalogue.name.spec  # type: ignore[attr-defined]
_ROW = {item.name: item for item in fields(DatasheetRow)}
_CONVERT = "Convert the figure: a column has one unit, the one in its heading."


class Column(NamedTuple):
    """One column: the field that it fills, and the unit that its heading declares."""

    heading: str
    key: str
    unit: str
    field: Field | None
    of_row: bool


class Record(NamedTuple):
    """One part as its lines give it."""

    name: str
    table: dict[str, Any]
    line: int
    row_lines: list[int]


class Sheet:
    """Reads a table of parts.

    Parameters
    ----------
    tell : callable
        Takes place, found, expected and remedy of everything that is wrong.
    kind : str
        A key of `linkcalc.catalogue.parts.KINDS_OF_PARTS`; empty where the headings say it.
    line : str
        What a line is called in messages.
    """

    def __init__(self, tell: Callable[[str, str, str, str], None], kind: str, line: str) -> None:
        self.tell = tell
        self.kind = kind
        self.line = line
        self.currency = ""
        self.columns: list[Column | None] = []

    def read(
        self, headings: Sequence[str], lines: Iterable[tuple[int, Sequence[Any]]]
    ) -> list[Record]:
        """Return the parts of a table.

        Parameters
        ----------
        headings : sequence of str
            Of the columns.
        lines : iterable of (int, sequence)
            Number and cells of each line; a cell is text, a number, or None where it is empty.

        Returns
        -------
        list of Record
            None where the headings are wrong, which has then been told.
        """
        if not self._heads(headings):
            return []
        found: dict[str, Record] = {}
        for count, (number, cells) in enumerate(lines):
            if count >= MOST_LINES:
                self.tell("", f"more than {MOST_LINES} lines", "fewer", "Split the table.")
                break
            self._line(found, number, [_text(cell) for cell in cells])
        for record in found.values():
            self._sort(record)
        return [record for record in found.values() if self._has_rows(record)]

    def _has_rows(self, record: Record) -> bool:
        has = self.kind != "servos" or "rows" in record.table
        if not has:
            self.tell(
                f"{self.line} {record.line}",
                f"{shown(record.name)} without a row of its datasheet",
                "a voltage with torque and speed in at least one line of a servo",
                "Fill the cells in, or leave the servo out.",
            )
        return has

    # headings -----------------------------------------------------------------------------

    def _heads(self, headings: Sequence[str]) -> bool:
        """Understand the headings, and say whether lines can be read by them."""
        if len(headings) > MOST_COLUMNS:
            self.tell("", f"{len(headings)} columns", f"at most {MOST_COLUMNS}", "Leave some out.")
            return False
        names = [match[1] for text in headings if (match := _HEADING.fullmatch(str(text)))]
        kinds = {NAMED_BY[name] for name in names if name in NAMED_BY}
        if not self.kind and len(kinds) != 1:
            words = ", ".join(repr(word) for word in NAMED_BY)
            self.tell(
                f"{self.line} 1",
                "no column that names the parts" if not kinds else "parts of several kinds",
                f"one column of names, headed by one of {words}",
                "Head the column of names with what it lists; one table for each kind.",
            )
            return False
        self.kind = self.kind or kinds.pop()
        self.columns = [self._column(str(text)) for text in headings]
        return None not in self.columns and self._is_whole()

    def _column(self, heading: str) -> Column | None:
        place = f"{self.line} 1, {shown(heading)}"
        match = _HEADING.fullmatch(heading)
        if match is None:
            self.tell(
                place, "no heading", "a key, with its unit in brackets: 'mass [g]'", "Mend it."
            )
            return None
        key, unit = match[1], (match[2] or "").strip()
        if key in {"name", self.kind.removesuffix("s")}:
            key = "name"
        known = {item.name: item for item in fields(KINDS_OF_PARTS[self.kind])}
        known.pop("rows", None)
        of_row = self.kind == "servos" and key in _ROW
        if key.startswith("sources.") and not unit:
            figures = known["sources"].spec.choices
            if key.removeprefix("sources.") in figures:
                return Column(heading, key, "", None, of_row=False)
            known = {f"sources.{figure}": known["sources"] for figure in figures}
        field = _ROW[key] if of_row else known.get(key)
        if field is None or key == "sources":
            self._unknown(place, key, [*known, *(_ROW if self.kind == "servos" else ())])
            return None
        fits = self._fits(place, field, unit)
        return Column(heading, key, unit, field, of_row) if fits else None

    def _unknown(self, place: str, key: str, known: list[str]) -> None:
        import difflib  # noqa: PLC0415 - only an error pays for it

        close = difflib.get_close_matches(key[:60], known, n=1)
        remedy = f"Did you mean {close[0]!r}?" if close else "Known: " + ", ".join(known) + "."
        self.tell(place, "an unknown column", f"a key of {self.kind}", remedy)

    def _fits(self, place: str, field: Field, unit: str) -> bool:
        """Tell whether a heading declares a unit where one is due, and none elsewhere."""
        held, key = field.spec, field.name
        if key.startswith("price"):
            return self._is_priced(place, key, unit)
        if held.form not in {"quantity", "quantities"}:
            if unit:
                self.tell(place, f"the unit {shown(unit)}", "no unit", f"Head it with {key!r}.")
            return not unit
        if held.kind == "area" and unit.upper() == "AWG":
            return True
        try:
            parse(place, f"1 {unit}", held.kind)
        except InputError as error:
            declared = f"the unit {shown(unit)}" if unit else "no unit"
            example = f"a unit of {held.kind} in brackets, as in '{key} [{_unit_of(held.kind)}]'"
            self.tell(place, declared, example, error.fault.remedy)
            return False
        return True

    def _is_priced(self, place: str, key: str, unit: str) -> bool:
        if not unit or self.currency not in {"", unit}:
            found = f"the currency {shown(unit)} beside {self.currency}" if unit else "no currency"
            self.tell(
                place, found, f"one currency, as in '{key} [EUR]'", "Declare it in the heading."
            )
            return False
        self.currency = unit
        return True

    def _is_whole(self) -> bool:
        """Tell whether every column that is needed is there, once."""
        keys = [column.key for column in self.columns if column]
        required = [item for item in fields(KINDS_OF_PARTS[self.kind]) if item.name != "rows"]
        required += list(_ROW.values()) if self.kind == "servos" else []
        good = True
        for item in required:
            if item.required and item.name not in keys:
                heading = heading_of(item, self.kind)
                self.tell(f"{self.line} 1", f"no column {heading!r}", item.spec.doc, "Add it.")
                good = False
        for key in dict.fromkeys(keys):
            if keys.count(key) > 1:
                self.tell(
                    f"{self.line} 1", f"{keys.count(key)} columns {key!r}", "one", "Leave one out."
                )
                good = False
        return good

    # lines --------------------------------------------------------------------------------

    def _line(self, found: dict[str, Record], number: int, cells: list[str]) -> None:
        if not any(cells):
            return
        if len(cells) != len(self.columns):
            self.tell(
                f"{self.line} {number}",
                f"{len(cells)} cells",
                f"{len(self.columns)}, as there are headings",
                "Put text that holds the separator in quotation marks, and leave no cell out.",
            )
            return
        table: dict[str, Any] = {}
        row: dict[str, Any] = {}
        for column, cell in zip(self.columns, cells, strict=True):
            if column is not None and cell:
                value = self._value(column, cell, number)
                (row if column.of_row else table)[column.key] = value
        name = table.get("name")
        if name is None:
            self.tell(f"{self.line} {number}", "no name", "the name of the part", "Name it.")
            return
        try:
            _NAME.reader(_NAME, "name", name)
        except InputError as error:
            self.tell(f"{self.line} {number}, 'name'", *error.fault[2:])
            return
        record = found.setdefault(name, Record(name, {}, number, []))
        other = self._difference(record, table, number)
        if other:
            self._tell_twice(record, number, other)
        record.table.update({key: value for key, value in table.items() if not other})
        if self.kind == "servos" and row:
            record.table.setdefault("rows", []).append(row)
            record.row_lines.append(number)

    def _difference(self, record: Record, table: dict[str, Any], number: int) -> str:
        """Return a key by which a line contradicts its part: only a servo has several lines."""
        if self.kind != "servos" and number != record.line:
            return "line"
        known = record.table
        return next(
            (
                key
                for key, value in table.items()
                if known.get(key, value) != value
                and not (value is _BROKEN or known[key] is _BROKEN)
            ),
            "",
        )

    def _tell_twice(self, record: Record, number: int, other: str) -> None:
        expected = "a name of its own for every part"
        if self.kind == "servos":
            expected += "; further lines of a servo repeat its figures or leave them empty"
        self.tell(
            f"{self.line} {number}",
            f"two parts called {shown(record.name)}, with another {other} "
            f"than in {self.line} {record.line}",
            expected,
            "Rename one, or leave it out.",
        )

    def _value(self, column: Column, cell: str, number: int) -> Any:
        """Return what the reader of the field takes, or the mark of what has been told to be wrong."""
        form = column.field.spec.form if column.field else "text"
        place = f"{self.line} {number}, {column.heading!r}"
        if form == "quantity":
            return self._quantity(place, cell, column.unit)
        if form == "quantities":
            each = [self._quantity(place, one, column.unit) for one in cell.split()]
            return _BROKEN if _BROKEN in each else each
        if form == "number":
            if _ALONE.fullmatch(cell) is None:
                remedy = "Write a decimal number, with a point and without a unit."
                self.tell(place, shown(cell), "a number", remedy)
                return _BROKEN
            return float(cell)
        return cell

    def _quantity(self, place: str, cell: str, unit: str) -> Any:
        match = _CELL.fullmatch(cell)
        if match is None:
            mixed = _ALONE.match(cell) is not None
            self.tell(
                place,
                f"{shown(cell)}, a unit or a mark in a column that has its unit"
                if mixed
                else shown(cell),
                f"a decimal number of {unit}, with a point",
                _CONVERT if mixed else "Write the number alone, or leave the cell empty.",
            )
            return _BROKEN
        value, width, share = match.groups()
        if width is None:
            return f"{value} {unit}"
        return f"{value} {unit} ± {width} {share or unit}"

    def _sort(self, record: Record) -> None:
        """Put the rows of a servo in order of voltage: the order of lines says nothing."""
        rows = record.table.get("rows", [])
        if len(rows) < 2 or not all(isinstance(row.get("voltage"), str) for row in rows):
            return
        volts = [float(_ALONE.match(row["voltage"])[0]) for row in rows]  # type: ignore[index]
        order = sorted(range(len(rows)), key=volts.__getitem__)
        for before, after in itertools.pairwise(order):
            if volts[before] == volts[after]:
                self.tell(
                    f"{self.line} {record.row_lines[after]}",
                    f"two rows at {rows[after]['voltage']} of {shown(record.name)}",
                    "one row for each voltage, and a name of its own for every part",
                    "Rename one part, or leave the second row out.",
                )
        record.table["rows"] = [rows[index] for index in order]
        record.row_lines[:] = [record.row_lines[index] for index in order]

    def placed(self, record: Record, place: str) -> str:
        """Return where in the table something is wrong with a part.

        Parameters
        ----------
        record : Record
            The part.
        place : str
            The path of the key in it.

        Returns
        -------
        str
            Line and heading.
        """
        line, key = record.line, place
        if match := re.match(r"rows\[(\d+)\]\.?", place):
            line, key = record.row_lines[int(match[1])], place[match.end() :]
        first = re.split(r"[.\[]", key)[0]
        headings = [each.heading for each in self.columns if each and first and each.key == first]
        return f"{self.line} {line}" + (
            f", {headings[0]!r}" if headings else f", {key}" if key else ""
        )


def heading_of(field: Field, kind: str) -> str:
    """Return the heading of a column for a field.

    Parameters
    ----------
    field : Field
        Of a part or of a row of a datasheet.
    kind : str
        The kind of part.

    Returns
    -------
    str
        The key with the unit of the kind's example.

    Examples
    --------
    >>> from linkcalc.catalogue import ServoPart
    >>> heading_of(ServoPart.mass, "servos")
    'mass [g]'
    """
    if field.name == "name":
        return kind.removesuffix("s")
    if field.name.startswith("price"):
        return f"{field.name} [EUR]"
    if field.spec.form in {"quantity", "quantities"}:
        return f"{field.name} [{_unit_of(field.spec.kind)}]"
    return field.name


def _unit_of(kind: str) -> str:
    return KINDS[kind].example.partition(" ")[2]


def _text(cell: Any) -> str:
    """Return a cell as text: empty for nothing, a number in full."""
    if isinstance(cell, str):
        return cell.strip()
    if cell is None:
        return ""
    try:
        number = float(cell)
    except (TypeError, ValueError, OverflowError):
        return shown(cell)
    if math.isnan(number):  # how data frames leave a number out
        return ""
    return str(cell).lower() if isinstance(cell, bool) else f"{number:.17g}"
