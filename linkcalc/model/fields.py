"""What a field of the model is: a quantity, a number, a word, a part or a list of parts.

Each helper makes an attrs field and leaves, in its metadata, what the file
reader, the schema and the page of keys need to know about it, so that a key is
described in one place. A quantity is stored as it was stated and becomes a pint
quantity when somebody reads it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, dataclass_transform

import attrs

from linkcalc.errors import InputError, UnitError, told
from linkcalc.units import KINDS, Stated, quantity, state

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = [
    "QuantityField",
    "Spec",
    "choice",
    "given",
    "number",
    "part",
    "parts",
    "quantity_field",
    "spec",
    "stated",
    "text",
    "value_class",
    "vector",
]

QuantityField = Any
"""A field that takes a string or a pint quantity and is read as a pint quantity."""

LONGEST_TEXT = 120
TOO_MANY = "Leave some out, or describe them in files of their own."
_MISSING: Any = object()
T = TypeVar("T", bound=type)


class Spec(NamedTuple):
    """What a field holds, for those who read, write and document it.

    Attributes
    ----------
    form : str
        ``quantity``, ``vector``, ``number``, ``text``, ``choice``, ``part`` or ``parts``.
    doc : str
        One line for the page of keys.
    kind : str
        For quantities, a key of `linkcalc.units.KINDS`.
    choices : tuple of str
        For choices, the words.
    part : type or None
        For parts, the class.
    default : str
        The default in words, with its source; empty where the field is required.
    shorthand : str
        For parts, the field that a bare value in a file stands for.
    most : int
        For lists of parts, how many there may be.
    """

    form: str
    doc: str
    kind: str = ""
    choices: tuple[str, ...] = ()
    part: Any = None
    default: str = ""
    shorthand: str = ""
    most: int = 1


def spec(attribute: attrs.Attribute[Any]) -> Spec:
    """Return what a field of a value class holds.

    Parameters
    ----------
    attribute : attrs.Attribute
        A field of a class made by `value_class`.

    Returns
    -------
    Spec
        Its description.
    """
    found: Spec = attribute.metadata["spec"]
    return found


class _Slot:
    """A slot that keeps what was stated and hands out a pint quantity."""

    def __init__(self, slot: Any) -> None:
        self.slot = slot

    def __get__(self, owner: Any, cls: type | None = None) -> Any:
        if owner is None:
            return self
        held = self.slot.__get__(owner, cls)
        return held if held is None or isinstance(held, str) else quantity(held.number, held.unit)

    def __set__(self, owner: Any, value: Any) -> None:
        self.slot.__set__(owner, value)


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(attrs.field,))
def value_class(cls: T) -> T:
    """Make a frozen, slotted, keyword-only value class with quantities read lazily.

    Parameters
    ----------
    cls : type
        A class whose fields are made by the helpers of this module.

    Returns
    -------
    type
        The attrs class.
    """
    # Generic methods instead of generated ones: a quantity is compared and shown as it was
    # stated, without a unit registry, and importing the model is quicker.
    for name, method in _METHODS.items():
        setattr(cls, name, method)
    made = attrs.define(
        frozen=True, slots=True, kw_only=True, match_args=False, getstate_setstate=False
    )(cls)
    for attribute in attrs.fields(made):
        if spec(attribute).form == "quantity":
            setattr(made, attribute.name, _Slot(vars(made)[attribute.name]))
    return made


def _held(owner: Any) -> dict[str, Any]:
    """Return what every field keeps, quantities as they were stated."""
    return {
        item.name: stated(owner, item.name)
        if isinstance(vars(type(owner)).get(item.name), _Slot)
        else getattr(owner, item.name)
        for item in attrs.fields(type(owner))
    }


def _compared(owner: Any) -> tuple[Any, ...]:
    """Return what equality looks at: SI values, so that 12 mm equals 0.012 m."""
    return tuple(
        (value.si, value.tolerance) if isinstance(value, Stated) else value
        for value in _held(owner).values()
    )


def _equal(self: Any, other: object) -> bool:
    return _compared(self) == _compared(other) if type(self) is type(other) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_compared(self))


def _shown(self: Any) -> str:
    words = (
        f"{name}={value.text if isinstance(value, Stated) else value!r}"
        for name, value in _held(self).items()
    )
    return f"{type(self).__name__}({', '.join(words)})"


def _restore(self: Any, held: dict[str, Any]) -> None:
    for name, value in held.items():
        object.__setattr__(self, name, value)


_METHODS: dict[str, Any] = {
    "__eq__": _equal,
    "__hash__": _hash,
    "__repr__": _shown,
    "__getstate__": _held,
    "__setstate__": _restore,
}


def stated(owner: Any, name: str) -> Any:
    """Return a quantity of a value class as it was stated, without building it.

    Parameters
    ----------
    owner : object
        An instance of a value class.
    name : str
        The field.

    Returns
    -------
    Stated, str or None
        What the field keeps.
    """
    return vars(type(owner))[name].slot.__get__(owner)


def given(owner: Any, *names: str) -> bool:
    """Tell whether all of some quantities were given, without building them.

    Parameters
    ----------
    owner : object
        An instance of a value class.
    *names : str
        Fields that hold quantities.

    Returns
    -------
    bool
        Whether none of them is None.
    """
    return all(stated(owner, name) is not None for name in names)


def _bounded(name: str, held: Stated, kind: str, bound: str) -> Stated:
    import numpy as np  # noqa: PLC0415 - loaded by units already

    value = held.si
    if np.ndim(value):
        raise UnitError(
            name,
            told("an array"),
            f"one value such as {KINDS[kind].example!r}",
            "Give one value; a sweep takes arrays.",
        )
    example = KINDS[kind].example
    if bound == "positive" and not value > 0:
        raise InputError(
            name,
            told(held.text),
            f"more than zero, such as {example!r}",
            "Give the size as measured.",
        )
    if bound == "not negative" and not value >= 0:
        raise InputError(
            name, told(held.text), f"zero or more, such as {example!r}", "Give zero or more."
        )
    tiny = bound == "positive" and value < 1e-15  # elsewhere it may be zero but for rounding
    if abs(value) > 1e12 or tiny:
        raise InputError(
            name,
            told(held.text),
            f"a size such as {example!r}",
            "Check the unit: nothing on an aircraft is of this size.",
        )
    return held


def quantity_field(
    kind: str,
    doc: str,
    *,
    bound: str = "",
    default: Any = _MISSING,
    default_words: str = "",
    word: str = "",
) -> Any:
    """Make a field that holds a quantity.

    Parameters
    ----------
    kind : str
        A key of `linkcalc.units.KINDS`.
    doc : str
        One line for the page of keys.
    bound : str
        ``"positive"``, ``"not negative"`` or empty.
    default : str or None, optional
        Quantity string, or None for "not given". Left out: the field is required.
    default_words : str
        What is used when it is not given, and by what authority.
    word : str
        A word that may stand instead of a quantity, such as ``"none"``.

    Returns
    -------
    attrs field
        With a converter that names the field in its errors.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        if value is None and default is None:
            return None
        if word and isinstance(value, str) and value == word:
            return value
        return _bounded(attribute.name, state(attribute.name, value, kind), kind, bound)

    described = Spec(
        "quantity",
        doc,
        kind,
        choices=(word,) if word else (),
        default=default_words or ("" if default is _MISSING else str(default)),
    )
    return _field(described, convert, default)


def _field(described: Spec, convert: Callable[[Any, Any], Any], default: Any) -> Any:
    given = {} if default is _MISSING else {"default": default}
    converter = attrs.Converter(convert, takes_field=True)
    return attrs.field(converter=converter, metadata={"spec": described}, **given)


def vector(
    kind: str,
    doc: str,
    *,
    names: tuple[str, ...] = ("aft", "starboard", "up"),
    default: Any = _MISSING,
    default_words: str = "",
) -> Any:
    """Make a field that holds a few components: quantities, or numbers for a ratio.

    Parameters
    ----------
    kind : str
        A key of `linkcalc.units.KINDS`.
    doc : str
        One line for the page of keys.
    names : tuple of str
        What the components are.
    default : sequence or None, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given.

    Returns
    -------
    attrs field
        Kept as a tuple of SI floats.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        name = attribute.name
        if value is None and default is None:
            return None
        if (
            isinstance(value, (str, bytes, dict))
            or not hasattr(value, "__len__")
            or len(value) != len(names)
        ):
            example = KINDS[kind].example
            raise InputError(
                name,
                value,
                f"a list of {len(names)} ({', '.join(names)}) such as [{example!r}, ...]",
                "Give them in this order.",
            )
        return tuple(
            _bounded(f"{name}[{index}]", state(f"{name}[{index}]", value[index], kind), kind, "").si
            for index in range(len(names))
        )

    return _field(Spec("vector", doc, kind, default=default_words), convert, default)


def number(
    doc: str,
    *,
    least: float = -math.inf,
    most: float = math.inf,
    default: Any = _MISSING,
    default_words: str = "",
    whole: bool = False,
) -> Any:
    """Make a field that holds a plain number: a ratio, a factor or a count.

    Parameters
    ----------
    doc : str
        One line for the page of keys.
    least, most : float
        Bounds, included.
    default : float or None, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given, and by what authority.
    whole : bool
        Whether only whole numbers will do.

    Returns
    -------
    attrs field
        Kept as float or int.
    """
    wanted = ("a whole number" if whole else "a number") + _between(least, most)

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        name = attribute.name
        if value is None and default is None:
            return None
        ordinary = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not ordinary or (whole and not isinstance(value, int)):
            raise InputError(
                name,
                value,
                wanted,
                "Write a plain number, without quotation marks and without a unit.",
            )
        if not (least <= value <= most and abs(value) < math.inf):  # refuses nan as well
            raise InputError(name, value, wanted, "Give a number within these bounds.")
        return value if whole else float(value)

    words = default_words or ("" if default is _MISSING else str(default))
    return _field(Spec("number", doc, "ratio", default=words), convert, default)


def _between(least: float, most: float) -> str:
    if math.isfinite(least) and math.isfinite(most):
        return f" from {least:g} to {most:g}"
    if math.isfinite(least):
        return f" of at least {least:g}"
    return f" of at most {most:g}" if math.isfinite(most) else ""


def text(doc: str, *, default: Any = _MISSING, default_words: str = "") -> Any:
    """Make a field that holds a name: printable, on one line, not too long.

    Parameters
    ----------
    doc : str
        One line for the page of keys.
    default : str or None, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given.

    Returns
    -------
    attrs field
        Kept as str.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        if value is None and default is None:
            return None
        good = isinstance(value, str) and len(value.strip()) > 0 and len(value) <= LONGEST_TEXT
        if not good or not value.isprintable():
            raise InputError(
                attribute.name,
                value,
                f"a name of 1 to {LONGEST_TEXT} printable characters",
                "Give it a short name in quotation marks.",
            )
        return value

    words = default_words or ("" if default in {_MISSING, None} else str(default))
    return _field(Spec("text", doc, default=words), convert, default)


def choice(
    choices: tuple[str, ...], doc: str, *, default: Any = _MISSING, default_words: str = ""
) -> Any:
    """Make a field that holds one of a few words.

    Parameters
    ----------
    choices : tuple of str
        The words.
    doc : str
        One line for the page of keys.
    default : str or None, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given.

    Returns
    -------
    attrs field
        Kept as str.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        if value is None and default is None:
            return None
        if not isinstance(value, str) or value not in choices:
            words = ", ".join(repr(word) for word in choices)
            raise InputError(attribute.name, value, f"one of {words}", "Choose one of these words.")
        return value

    words = default_words or ("" if default in {_MISSING, None} else str(default))
    return _field(Spec("choice", doc, choices=choices, default=words), convert, default)


def part(
    cls: Any, doc: str, *, default: Any = _MISSING, default_words: str = "", shorthand: str = ""
) -> Any:
    """Make a field that holds another value class.

    Parameters
    ----------
    cls : type
        The class.
    doc : str
        One line for the page of keys.
    default : object, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given.
    shorthand : str
        The field of `cls` that a bare value in a file stands for.

    Returns
    -------
    attrs field
        Kept as an instance of `cls`.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        if value is None and default is None:
            return None
        if not isinstance(value, cls):
            raise InputError(
                attribute.name,
                value,
                f"a {cls.__name__}",
                f"Build it with linkcalc.{cls.__name__}(...).",
            )
        return value

    described = Spec("part", doc, part=cls, default=default_words, shorthand=shorthand)
    return _field(described, convert, default)


def parts(cls: Any, doc: str, *, least: int = 1, most: int = 16, default: Any = _MISSING) -> Any:
    """Make a field that holds several of another value class.

    Parameters
    ----------
    cls : type
        The class of each.
    doc : str
        One line for the page of keys.
    least, most : int
        How many there must and may be.
    default : tuple, optional
        Left out: the field is required.

    Returns
    -------
    attrs field
        Kept as a tuple.
    """

    def convert(value: Any, attribute: attrs.Attribute[Any]) -> Any:
        good = isinstance(value, (list, tuple)) and all(isinstance(item, cls) for item in value)
        if good and len(value) > most:
            raise InputError(
                attribute.name, told(f"{len(value)} of them"), f"at most {most}", TOO_MANY
            )
        if not good or len(value) < least:
            raise InputError(
                attribute.name,
                value,
                f"a list of at least {least} {cls.__name__}",
                f"Build each with linkcalc.{cls.__name__}(...).",
            )
        return tuple(value)

    return _field(
        Spec("parts", doc, part=cls, default="" if default is _MISSING else "none", most=most),
        convert,
        default,
    )
