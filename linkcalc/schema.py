"""The JSON Schema of an aircraft file, made from what the fields of the model say of themselves.

For editors and programs that write such files. The schema knows every key, every
word and the form of every quantity; rules that join several keys are the reader's
alone, so a file that fits the schema may still be refused, and never the reverse.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from linkcalc.files import _LINKAGE, FORMAT
from linkcalc.model import Aircraft, ControlRun, Lead, Linkage, Servo
from linkcalc.model.fields import LONGEST_TEXT
from linkcalc.model.planform import Planform
from linkcalc.model.value_classes import REQUIRED, fields
from linkcalc.unit_table import KINDS, UNITS, Powers
from linkcalc.units import LONGEST

if TYPE_CHECKING:
    from linkcalc.model.value_classes import Field, Spec

__all__ = ["DRAFT", "aircraft_schema"]

DRAFT = "https://json-schema.org/draft/2020-12/schema"
"""What the key ``$schema`` of every schema says."""

Schema = dict[str, Any]

_NUMBER = r"[+-]?(?:\d{1,24}(?:\.\d{0,24})?|\.\d{1,24})(?:[eE][+-]?\d{1,3})?"
_DEGREE = "(?:deg|°)"
_OMEGAS = "\N{GREEK CAPITAL LETTER OMEGA}\N{OHM SIGN}"
_OTHER_SPELLINGS = (("deg", _DEGREE), ("ohm", f"(?:ohm|[{_OMEGAS}])"))
_TEMPERATURES = "K", f"{_DEGREE}C", "C", f"{_DEGREE}F"
_SWEEP = rf"m?s\s?/\s?\d{{1,3}}\s?{_DEGREE}"
_GAUGE = r"(?:[Aa][Ww][Gg]\s?\d{1,2}|\d{1,2}\s?[Aa][Ww][Gg])"
_INVISIBLE = "\\u0000-\\u001f\\u007f-\\u00a0"


def aircraft_schema() -> Schema:
    """Return the JSON Schema of an aircraft file, draft 2020-12.

    Returns
    -------
    dict
        Of plain values. A TOML file is held against it as the tables, lists, strings and
        numbers that a TOML reader makes of it.

    Examples
    --------
    >>> made = aircraft_schema()
    >>> made["required"]
    ['format', 'name', 'supply', 'cases', 'runs']
    >>> made["$defs"]["Pushrod"]["properties"]["length"]["$ref"]
    '#/$defs/length'
    """
    definitions = _Definitions()
    root = definitions.table(Aircraft)
    named = {
        "servos": definitions.named(Servo, "Servos by name."),
        "leads": definitions.named(Lead, "Leads by name."),
    }
    version = {"const": FORMAT, "description": "What this file is, and of which version."}
    return {
        "$schema": DRAFT,
        "title": f"Aircraft file of linkcalc, {FORMAT}",
        "$comment": "Rules that join several keys are checked by the reader alone.",
        **root,
        "properties": {"format": version, **root["properties"], **named},
        "required": ["format", *root["required"]],
        "$defs": definitions.made,
    }


_DRIVEN = [{"required": ["arm", "horn"]}, {"required": ["stages"]}]
"""A surface is driven by one pushrod, or by stages."""

_DRAWN = [{"required": ["half_span", "root_chord", "tip_chord"]}, {"required": ["stations"]}]
"""A whole surface is a trapezoid, or given by stations."""


class _Definitions:
    """Collects the definitions that the keys refer to."""

    def __init__(self) -> None:
        self.made: dict[str, Schema] = {}

    def reference(self, name: str, make: Any, *given: Any) -> Schema:
        """Refer to a definition, and make it when it is first asked for."""
        if name not in self.made:
            self.made[name] = {}  # a class may hold others of its kind
            self.made[name] = make(*given)
        return {"$ref": f"#/$defs/{name}"}

    def named(self, cls: Any, doc: str) -> Schema:
        """Describe a table of tables that are named by their keys."""
        return {
            "type": "object",
            "description": doc,
            "propertyNames": _text(),
            "additionalProperties": self.reference(cls.__name__, self.table, cls, ("name",)),
        }

    def table(self, cls: Any, left_out: tuple[str, ...] = ()) -> Schema:
        """Describe the table of a value class."""
        attributes = [item for item in fields(cls) if item.name not in left_out]
        made = {
            "type": "object",
            "description": (cls.__doc__ or "").split("\n", maxsplit=1)[0],
            "properties": {item.name: self.key(item) for item in attributes},
            "required": [item.name for item in attributes if item.required],
            "additionalProperties": False,
        }
        either = {Linkage: _DRIVEN, Planform: _DRAWN}.get(cls)
        if either:
            made["anyOf"] = either
        return self.with_one_linkage(made) if cls is ControlRun else made

    def with_one_linkage(self, run: Schema) -> Schema:
        """Let a run with a single surface carry the keys of its linkage itself."""
        inner = [item for item in fields(Linkage) if item.name in _LINKAGE]
        needed = [item.name for item in inner if item.required]
        return {
            **run,
            "properties": run["properties"] | {item.name: self.key(item) for item in inner},
            "required": [name for name in run["required"] if name != "linkages"],
            "if": {"required": ["linkages"]},
            "then": {"properties": {item.name: False for item in inner}},
            "else": {"required": needed, "anyOf": _DRIVEN},
        }

    def key(self, field: Field) -> Schema:
        """Describe one key."""
        held, default = field.spec, field.default
        described = (
            held.doc
            if field.required or not held.default
            else f"{held.doc} Default: {held.default}."
        )
        made = {**self.form(held), "description": described.replace("..", ".")}
        if held.form in {"number", "choice"} and default not in {REQUIRED, None}:
            made["default"] = default
        return made

    def form(self, held: Spec) -> Schema:
        """Describe what a field holds."""
        if held.form == "quantity":
            quantity = self.quantity(held.kind)
            return {"anyOf": [quantity, {"enum": list(held.choices)}]} if held.choices else quantity
        if held.form in {"vector", "quantities"}:
            ends = (len(held.names),) * 2 if held.names else (held.least, held.most)
            return _list(self.quantity(held.kind), *ends)
        if held.form == "part":
            return self.part(held)
        if held.form == "parts":
            one = self.reference(held.part.__name__, self.table, held.part)
            return _list(one, held.least, held.most)
        others: dict[str, Schema] = {
            "number": _number(held),
            "load factor": {"anyOf": [_number(held), _list(_number(held), 3, 3)]},
            "choice": {"enum": list(held.choices)},
            "sources": {
                "type": "object",
                "propertyNames": {"enum": list(held.choices)},
                "additionalProperties": _text(),
            },
        }
        return others.get(held.form) or _text()  # also a reference to a servo or a lead by its name

    def part(self, held: Spec) -> Schema:
        """Describe a table, or the bare value that may stand for it."""
        table = self.reference(held.part.__name__, self.table, held.part)
        if not held.shorthand:
            return table
        short = getattr(held.part, held.shorthand)
        return {"anyOf": [self.form(short.spec), table]}

    def quantity(self, kind: str) -> Schema:
        """Refer to the description of a quantity of some kind."""
        return self.reference(kind, _quantity, kind)


def _number(held: Spec) -> Schema:
    bounds = {"minimum": held.least, "maximum": held.most}
    finite = {key: bound for key, bound in bounds.items() if math.isfinite(bound)}
    return {"type": "integer" if held.whole else "number", **finite}


def _list(items: Schema, least: float, most: float) -> Schema:
    return {"type": "array", "items": items, "minItems": least, "maxItems": most}


def _text() -> Schema:
    printable = f"^[^{_INVISIBLE}]*[^\\s{_INVISIBLE}][^{_INVISIBLE}]*$"
    return {"type": "string", "maxLength": LONGEST_TEXT, "pattern": printable}


def _quantity(kind: str) -> Schema:
    """Describe a quantity string: a number, a unit of its kind, and perhaps a tolerance."""
    wanted = KINDS[kind]
    article = "an" if kind[0] in "aeiou" else "a"
    text = {
        "type": "string",
        "maxLength": LONGEST,
        "pattern": quantity_pattern(kind),
        "description": f"A decimal number and a unit of {article} {kind}, such as '{wanted.example}'; "
        "a tolerance may follow: '± 2 %', '± 0.3 mm (normal, 2 s)'.",
        "examples": [wanted.example],
    }
    return {"anyOf": [{"type": "number"}, text]} if kind == "ratio" else text


def quantity_pattern(kind: str) -> str:
    r"""Return the pattern of a quantity string of a kind.

    Parameters
    ----------
    kind : str
        A key of `linkcalc.units.KINDS`.

    Returns
    -------
    str
        A regular expression of ECMA 262. A single unit has to be one of the kind;
        of a product or quotient only the words are checked.

    Examples
    --------
    >>> import re
    >>> [bool(re.search(quantity_pattern("length"), text)) for text in ("12 mm", "12 deg", "12")]
    [True, False, False]
    """
    units = [*_single(KINDS[kind].powers), _compound()]
    if kind == "temperature":
        units += _TEMPERATURES
    if kind == "angular rate":
        units.append(_SWEEP)
    value = rf"{_NUMBER}\s*(?:{'|'.join(units)})"
    if kind == "ratio":
        value = rf"{_NUMBER}\s*%?"
    if kind == "area":  # conductors only
        value = rf"(?:{_GAUGE}|{value})"
    return rf"^\s*{value}\s*(?:(?:±|\+/-).*)?$"


def _single(powers: Powers) -> list[str]:
    return [_spelled(word) for word, (_, found, _) in UNITS.items() if found == powers]


def _spelled(word: str) -> str:
    """Return a unit's word with the other ways to write it."""
    for plain, pattern in _OTHER_SPELLINGS:
        word = word.replace(plain, pattern)
    return word.replace("um", "[uµμ]m")


def _compound() -> str:
    """Return the pattern of a product, a power or a quotient of units, whatever their words."""
    word = f"[A-Za-zµμ°%{_OMEGAS}]+"
    power = r"(?:(?:(?:\^|\*\*)?[-−]?|⁻)[1-4¹²³⁴])"
    product = rf"{word}{power}?(?:(?:\s*[*·⋅×−-]\s*|\s+){word}{power}?)"
    over = rf"\s*/\s*(?:\({product}*\)|{product}*)"
    return f"(?:(?:{product}*|1)?{over}|{product}+|{word}{power})"
