"""Aircraft files: read strictly, and tell all that is wrong at once.

A file is TOML in UTF-8. What a key may hold is written once, in the fields of
the model; this module walks a table along those fields, resolves names of
servos and leads, and collects every fault with its place before it gives up.
"""

from __future__ import annotations

import os
import stat
import tomllib
from typing import TYPE_CHECKING, Any, cast

from linkcalc.errors import Fault, InputFaults, shown
from linkcalc.model import Aircraft, Lead, Linkage, Servo
from linkcalc.model.fields import TOO_MANY
from linkcalc.model.value_classes import fields, read
from linkcalc.units import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linkcalc.model.value_classes import Field, Spec

__all__ = ["FORMAT", "read_aircraft"]

FORMAT = "linkcalc.aircraft/1"
"""What the key ``format`` of an aircraft file says."""

AIRCRAFT_FILE = "an aircraft file"

LARGEST = 2 * 1024 * 1024
"""A larger file is refused unread [bytes]."""

MOST_DOTS = 250
"""A line with more dots is refused: a key of thousands of parts takes a parser minutes."""

LONGEST_PLACE = 200
"""A place is told in so many characters."""

MOST_NAMED = 128
"""Servos, and leads, in one file."""

MOST_FAULTS = 100
"""More faults than this are counted, not told."""

_LINKAGE = tuple(item.name for item in fields(Linkage))
_BROKEN: Any = object()


def read_aircraft(path: str | os.PathLike[str]) -> Aircraft:
    """Read an aircraft file.

    Parameters
    ----------
    path : str or path
        A TOML file; the page on the aircraft file explains every key.

    Returns
    -------
    Aircraft
        What the file describes.

    Raises
    ------
    InputFaults
        All that is wrong with the file, each fault with file, place, what was
        found, what was expected and what to do.
    """
    name = str(path)
    try:
        return _Reader().aircraft(_table(os.fspath(path)))
    except InputFaults as error:
        raise InputFaults(fault._replace(file=name) for fault in error.faults) from None


def _unusable(found: str, expected: str, remedy: str, place: str = "") -> InputFaults:
    return InputFaults([Fault("", place, found, expected, remedy)])


def _table(path: str, what: str = AIRCRAFT_FILE, largest: int = LARGEST) -> dict[str, Any]:
    """Read a regular file as TOML."""
    content = _content(path, what, largest)
    for number, line in enumerate(content.splitlines(), start=1):
        if line.count(b".") > MOST_DOTS:
            raise _unusable(
                f"more than {MOST_DOTS} dots in line {number}",
                "lines of ordinary length",
                "Write long lists on several lines.",
            )
    return _parsed(content, what)


def _content(path: str, what: str, largest: int) -> bytes:
    """Read bounded bytes of a regular file."""
    try:
        regular = stat.S_ISREG(os.stat(path).st_mode)
        content = b""
        if regular:
            with open(path, "rb") as file:
                content = file.read(largest + 1)
    except FileNotFoundError:
        remedy = "Check the name and the folder."
        raise _unusable("no such file", what, remedy) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        remedy = "Check name and permissions."
        raise _unusable(str(reason).lower(), "a file that can be read", remedy) from None
    if not regular:
        raise _unusable("no regular file", what, "Name the file itself.")
    if len(content) > largest:
        remedy = "Name the right file, or split it."
        raise _unusable(f"a file of more than {largest // 2**20} MB", what, remedy)
    return content


def _parsed(content: bytes, what: str) -> dict[str, Any]:
    """Parse bytes as TOML in UTF-8."""
    text = _decoded(content)
    try:
        return tomllib.loads(text)
    except ValueError as error:  # a decoding error, or a number of thousands of digits
        words = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in str(error)[:160])
        found = f"text that is not TOML: {words}"
        expected = 'TOML, such as name = "glider"'
        raise _unusable(found, expected, "Mend the text at that place.") from None
    except RecursionError:
        found = "tables or lists nested too deeply"
        raise _unusable(found, what, "Name the right file.") from None


def _decoded(content: bytes) -> str:
    """Decode UTF-8, with a mark at its start or without."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        found = f"bytes that are not UTF-8 in line {line}"
        raise _unusable(found, "UTF-8 text", "Save the file as UTF-8.") from None


def _words(field: Field) -> str:
    """Say what a field expects."""
    held = field.spec
    if held.form == "quantity":
        return f"{held.kind}, such as {KINDS[held.kind].example!r}"
    if held.form == "choice":
        return "one of " + ", ".join(repr(word) for word in held.choices)
    others = {"part": "a table", "parts": "a list of tables", "reference": "a name"}
    others["quantities"] = (
        f"a list of {held.kind}s, such as [{KINDS[held.kind or 'length'].example!r}]"
    )
    return others.get(held.form, f"a {held.form}")


_OTHER_FILES = {
    "linkcalc.aircraft": "This is an aircraft file: name a catalogue here.",
    "linkcalc.catalogue": "This is a catalogue: name an aircraft file here.",
}


class _Reader:
    """Walks a table along the fields of the model and keeps what is wrong."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.servos: dict[str, Any] = {}
        self.leads: dict[str, Any] = {}

    def fault(self, place: str, found: str, expected: str, remedy: str) -> None:
        self.faults.append(Fault("", _cut(place), found, expected, remedy))

    def format(self, table: dict[str, Any], due: str) -> None:
        """Take the format out of a file; where it is another one of ours, nothing else counts."""
        held = table.pop("format", None)
        if held == due:
            return
        found = "nothing" if held is None else shown(held)
        kind = held.partition("/")[0] if isinstance(held, str) else ""
        remedy = _OTHER_FILES.get(kind, f'Write format = "{due}" at the top of the file.')
        if kind == due.partition("/")[0]:
            remedy = f"This version reads {due} alone: write the file in that format."
        if kind in _OTHER_FILES:
            raise _unusable(found, f"format = {due!r}", remedy, "format")
        self.fault("format", found, f"format = {due!r}", remedy)

    def aircraft(self, table: dict[str, Any]) -> Aircraft:
        """Read the whole file."""
        table = dict(table)
        self.format(table, FORMAT)
        servos, leads = (self.named(table, key) for key in ("servos", "leads"))
        for name, item in servos.items():
            self.servos[name] = self.build(Servo, item, f"servos.{name}", name=name)
        for name in leads:
            self.lead(name, leads, [])
        made = self.build(Aircraft, table, "", extra=("format", "servos", "leads"))
        self.give_up()
        return cast("Aircraft", made)

    def give_up(self) -> None:
        """Raise all faults that there are, the first ones in words."""
        if self.faults:
            kept = self.faults[:MOST_FAULTS]
            if len(self.faults) > len(kept):
                more = len(self.faults) - len(kept)
                kept.append(
                    Fault("", "", f"{more} more faults", "none", "Mend the ones above first.")
                )
            raise InputFaults(kept)

    def named(
        self, table: dict[str, Any], key: str, example: str = "wing", most: int = MOST_NAMED
    ) -> dict[str, Any]:
        """Take a table of named tables out of the file."""
        found = table.pop(key, {})
        if not isinstance(found, dict):
            self.fault(
                key,
                shown(found),
                f"a table of tables, such as [{key}.{example}]",
                "Give each one a table with its name.",
            )
            return {}
        if len(found) > most:
            self.fault(key, f"{len(found)} of them", f"at most {most}", TOO_MANY)
            return {}
        return found

    def lead(self, name: str, leads: dict[str, Any], above: list[str]) -> Any:
        """Read a lead, what feeds it first."""
        if name in self.leads:
            return self.leads[name]
        item = leads[name]
        feed = item.get("feed") if isinstance(item, dict) else None
        source = None
        if isinstance(feed, str) and feed in leads:
            if feed in (*above, name):
                self.fault(
                    f"leads.{name}.feed",
                    shown(feed),
                    "a lead nearer to the source",
                    "Break the loop: every lead must lead back to the bus.",
                )
                source = _BROKEN
            else:
                source = self.lead(feed, leads, [*above, name])
        elif feed is not None:
            self.unknown(f"leads.{name}.feed", feed, leads, "lead")
            source = _BROKEN
        if isinstance(item, dict):
            item = {key: value for key, value in item.items() if key != "feed"}
        made = self.build(Lead, item, f"leads.{name}", name=name, feed=source)
        self.leads[name] = made
        return made

    def unknown(self, place: str, name: object, known: Iterable[str], what: str) -> None:
        """Tell that a name names nothing, with the nearest that does."""
        import difflib  # noqa: PLC0415 - only an error pays for it

        known = list(known)
        close = difflib.get_close_matches(str(name)[:60], known, n=1)
        listed = ", ".join(repr(word) for word in sorted(known)[:8]) or "none yet"
        remedy = f"Did you mean {close[0]!r}?" if close else f"There are: {listed}."
        self.fault(place, shown(name), f"the name of a {what} in this file", remedy)

    def build(
        self, cls: Any, table: Any, place: str, *, extra: tuple[str, ...] = (), **fixed: Any
    ) -> Any:
        """Make an instance of a value class, or return the mark of a broken one."""
        if not isinstance(table, dict):
            last = place.rpartition(".")[2]
            inline = f"Write its keys in braces, such as {last} = {{ ... }}."
            remedy = inline if "[" in place else f"Write [{place}], and its keys below."
            self.fault(place, shown(table), "a table", remedy)
            return _BROKEN
        known = {item.name: item for item in fields(cls) if item.name not in fixed}
        before = len(self.faults)
        meant = self.unknown_keys(table, known, place, extra)
        values = dict(fixed)
        for name, field in known.items():
            where = f"{place}.{name}" if place else name
            if name in table:
                values[name] = self.value(field, table[name], where)
            elif field.required:
                values[name] = _BROKEN
                self.fault(where, "nothing", _words(field), f"{field.spec.doc} Add the key.")
        broken = {name for name, value in values.items() if value is _BROKEN}
        made, errors = read(cls, values, broken | meant)
        for error in errors:
            self.faults.append(error.fault._replace(place=_join(place, error.fault.place)))
        return _BROKEN if broken or len(self.faults) > before else made

    def unknown_keys(
        self, table: dict[str, Any], known: dict[str, Any], place: str, extra: tuple[str, ...]
    ) -> set[str]:
        """Tell the keys that are unknown, and return those that were probably meant."""
        meant: set[str] = set()
        for key in table:
            if key not in known:
                import difflib  # noqa: PLC0415 - only an error pays for it

                close = difflib.get_close_matches(key[:60], (*known, *extra), n=1)
                meant.update(close)
                remedy = (
                    f"Did you mean {close[0]!r}?"
                    if close
                    else "Known here: " + ", ".join(known) + "."
                )
                self.fault(
                    f"{place}.{key[:60]}" if place else key[:60],
                    "an unknown key",
                    "a key of this table",
                    remedy,
                )
        return meant - table.keys()

    def value(self, field: Field, raw: Any, place: str) -> Any:
        """Read one field: nested parts are built, names resolved, the rest left to the field."""
        held = field.spec
        if held.form == "reference":
            return self.reference(field.name, raw, place)
        if held.form == "part":
            if held.shorthand and not isinstance(raw, dict):
                raw = {held.shorthand: raw}
            return self.build(held.part, raw, place)
        if held.form == "parts":
            return self.several(held, raw, place)
        return raw

    def reference(self, field: str, raw: Any, place: str) -> Any:
        what, known = ("servo", self.servos) if field == "servo" else ("lead", self.leads)
        if not isinstance(raw, str) or raw not in known:
            self.unknown(place, raw, known, what)
            return _BROKEN
        return known[raw]

    def several(self, held: Spec, raw: Any, place: str) -> Any:
        cls = held.part
        if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
            self.fault(
                place,
                shown(raw),
                "a list of tables",
                f"Write [[{place}]] before each.",
            )
            return _BROKEN
        if len(raw) > held.most:  # told before anything is built
            self.fault(place, f"{len(raw)} of them", f"at most {held.most}", TOO_MANY)
            return _BROKEN
        made = []
        for index, item in enumerate(raw):
            label = item.get("name")
            where = f"{place}[{label[:40]!r}]" if isinstance(label, str) else f"{place}[{index}]"
            made.append(self.build(cls, self.unfold(cls, item), where))
            if "linkages" not in item:
                self.fold(where)
        return _BROKEN if any(item is _BROKEN for item in made) else tuple(made)

    @staticmethod
    def unfold(made: Any, item: dict[str, Any]) -> dict[str, Any]:
        """Let a run with a single surface carry the keys of its linkage itself."""
        if made.__name__ != "ControlRun" or "linkages" in item:
            return item
        own = {key: value for key, value in item.items() if key not in _LINKAGE}
        return {**own, "linkages": [{key: item[key] for key in _LINKAGE if key in item}]}

    def fold(self, where: str) -> None:
        """Tell faults of an unfolded linkage at the place where the file has it."""
        inner = f"{where}.linkages[0]"
        self.faults = [
            fault._replace(place=fault.place.replace(inner, where)) for fault in self.faults
        ]


def _join(place: str, inner: str) -> str:
    return _cut(f"{place}.{inner}" if place and inner else place or inner)


def _cut(place: str) -> str:
    """Keep a place short, whatever names a file brings."""
    return place if len(place) <= LONGEST_PLACE else place[:LONGEST_PLACE] + "..."
