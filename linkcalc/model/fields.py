"""The fields of a value class: a quantity, a number, a word, a part or a list of parts.

Each helper makes a `Field` with its description; the reader of each form stands
below it, and names the field in its errors.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import InputError, UnitError, told
from linkcalc.model.value_classes import REQUIRED, Field, Spec
from linkcalc.sampled import is_sampled
from linkcalc.units import KINDS, Stated, state

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

__all__ = [
    "QuantityField",
    "choice",
    "field",
    "number",
    "part",
    "parts",
    "quantity_field",
    "reference",
    "refuse_beyond",
    "text",
    "vector",
]

QuantityField = Any
"""A field that takes a string or a pint quantity and is read as a pint quantity."""

LONGEST_TEXT = 120
TOO_FEW = "Add what is missing."
TOO_MANY = "Leave some out, or describe them in files of their own."


def field(
    form: str,
    doc: str,
    reader: Callable[[Spec, str, Any], Any],
    *,
    default: Any = REQUIRED,
    default_words: str = "",
    **more: Any,
) -> Any:
    """Make a field of any form; the helpers below make those that are used often.

    Parameters
    ----------
    form, doc : str
        As `Spec` has them.
    reader : callable
        As `Spec` has it.
    default : object, optional
        Left out: the field is required. None: it may be left empty.
    default_words : str
        What is used when it is not given, and by what authority; left out: the default itself.
    **more : object
        What else `Spec` holds.

    Returns
    -------
    Field
        With its description.
    """
    words = default_words or ("" if default in (REQUIRED, None) else str(default))
    return Field(Spec(form, doc, reader, default=words, **more), default)


def quantity_field(
    kind: str,
    doc: str,
    *,
    bound: str = "",
    default: Any = REQUIRED,
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
    Field
        Kept as it was stated.
    """
    choices = (word,) if word else ()
    more = {"kind": kind, "bound": bound, "choices": choices}
    return field(
        "quantity", doc, _read_quantity, default=default, default_words=default_words, **more
    )


def _read_quantity(described: Spec, name: str, value: Any) -> Stated | str:
    if isinstance(value, str) and value in described.choices:
        return value
    kind, bound = described.kind, described.bound
    held, example = state(name, value, kind), KINDS[kind].example
    size = held.si
    if np.ndim(size) and not is_sampled(size):
        raise UnitError(
            name,
            told("an array"),
            f"one value such as {example!r}",
            "Give one value; a sweep takes arrays.",
        )
    if bound == "positive" and not size > 0:
        raise InputError(
            name,
            told(held.text),
            f"more than zero, such as {example!r}",
            "Give the size as measured.",
        )
    if bound == "not negative" and not size >= 0:
        raise InputError(
            name, told(held.text), f"zero or more, such as {example!r}", "Give zero or more."
        )
    tiny = bound == "positive" and size < 1e-15  # elsewhere it may be zero but for rounding
    if abs(size) > 1e12 or tiny:
        raise InputError(
            name,
            told(held.text),
            f"a size such as {example!r}",
            "Check the unit: nothing on an aircraft is of this size.",
        )
    if held.tolerance:
        refuse_beyond(name, held, bound)
    return held


def refuse_beyond(name: str, held: Stated, bound: str) -> None:
    """Refuse a tolerance that makes no sense beside its value.

    Parameters
    ----------
    name : str
        The field it is for; every error names it.
    held : Stated
        With its tolerance.
    bound : str
        ``"positive"``, ``"not negative"`` or empty.

    Raises
    ------
    InputError
        It crosses the bound, is too large, or so small that it changes nothing. The tails of a
        normal one cross every bound: two standard deviations have to stay within.
    """
    reach = held.tolerance * (2 / held.multiple if held.multiple else 1.0)
    below = held.si - reach
    crosses = (bound == "positive" and below <= 0) or (bound == "not negative" and below < 0)
    if crosses:
        raise InputError(
            name,
            told(held.text),
            "a tolerance that stays above zero",
            "Give a smaller one: what it is of cannot be negative"
            + (" (two standard deviations count)." if held.multiple else "."),
        )
    if not 1e-9 * abs(held.si) <= held.tolerance <= 1e12:
        raise InputError(
            name,
            told(held.text),
            "a tolerance of ordinary size",
            "Check unit and number; leave out what changes nothing.",
        )


def vector(
    kind: str,
    doc: str,
    *,
    names: tuple[str, ...] = ("aft", "starboard", "up"),
    default: Any = REQUIRED,
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
    Field
        Kept as a tuple of SI floats.
    """
    more = {"kind": kind, "names": names}
    return field("vector", doc, _read_vector, default=default, default_words=default_words, **more)


class Components(tuple[float, ...]):  # noqa: SLOT001 - a tuple has no slots to add
    """The SI components of a vector as a field keeps them, which a field of its kind takes again."""

    kind: str

    @classmethod
    def of(cls, kind: str, components: Iterable[float]) -> Components:
        """Make one.

        Parameters
        ----------
        kind : str
            A key of `linkcalc.units.KINDS`.
        components : iterable of float
            SI values.

        Returns
        -------
        Components
            A tuple that remembers its kind.
        """
        made = cls(components)
        made.kind = kind
        return made


def _read_vector(described: Spec, name: str, value: Any) -> Components:
    names = described.names
    if isinstance(value, Components) and value.kind == described.kind:
        value = [Stated(item, KINDS[value.kind].unit, item, f"{item:.10g}") for item in value]
    listed = hasattr(value, "__len__") and not isinstance(value, (str, bytes, dict))
    if not listed or len(value) != len(names):
        example = KINDS[described.kind].example
        raise InputError(
            name,
            value,
            f"a list of {len(names)} ({', '.join(names)}) such as [{example!r}, ...]",
            "Give them in this order.",
        )
    components: Any = (
        _read_quantity(described, f"{name}[{index}]", value[index]) for index in range(len(names))
    )
    return Components.of(described.kind, (component.si for component in components))


def number(
    doc: str,
    *,
    least: float = -math.inf,
    most: float = math.inf,
    default: Any = REQUIRED,
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
    Field
        Kept as float or int.
    """
    more = {"kind": "ratio", "least": least, "most": most, "whole": whole}
    return field("number", doc, _read_number, default=default, default_words=default_words, **more)


def _read_number(described: Spec, name: str, value: Any) -> float:
    least, most, whole = described.least, described.most, described.whole
    wanted = ("a whole number" if whole else "a number") + _between(least, most)
    ordinary = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not ordinary or (whole and not isinstance(value, int)):
        raise InputError(
            name, value, wanted, "Write a plain number, without quotation marks and without a unit."
        )
    if not (least <= value <= most and abs(value) < math.inf):  # refuses nan as well
        raise InputError(name, value, wanted, "Give a number within these bounds.")
    return value if whole else float(value)


def _between(least: float, most: float) -> str:
    if math.isfinite(least) and math.isfinite(most):
        return f" from {least:g} to {most:g}"
    if math.isfinite(least):
        return f" of at least {least:g}"
    return f" of at most {most:g}" if math.isfinite(most) else ""


def text(doc: str, *, default: Any = REQUIRED, default_words: str = "") -> Any:
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
    Field
        Kept as str.
    """
    return field("text", doc, _read_text, default=default, default_words=default_words)


def _read_text(_: Spec, name: str, value: Any) -> str:
    good = isinstance(value, str) and len(value.strip()) > 0 and len(value) <= LONGEST_TEXT
    if not good or not value.isprintable():
        raise InputError(
            name,
            value,
            f"a name of 1 to {LONGEST_TEXT} printable characters",
            "Give it a short name in quotation marks.",
        )
    return str(value)


def choice(
    choices: tuple[str, ...], doc: str, *, default: Any = REQUIRED, default_words: str = ""
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
    Field
        Kept as str.
    """
    more = {"choices": choices}
    return field("choice", doc, _read_choice, default=default, default_words=default_words, **more)


def _read_choice(described: Spec, name: str, value: Any) -> str:
    if not isinstance(value, str) or value not in described.choices:
        words = ", ".join(repr(word) for word in described.choices)
        raise InputError(name, value, f"one of {words}", "Choose one of these words.")
    return value


def part(
    cls: Any, doc: str, *, default: Any = REQUIRED, default_words: str = "", shorthand: str = ""
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
    Field
        Kept as an instance of `cls`.
    """
    more = {"part": cls, "shorthand": shorthand}
    return field("part", doc, _read_part, default=default, default_words=default_words, **more)


def reference(cls: Any, doc: str, *, default: Any = REQUIRED, default_words: str = "") -> Any:
    """Make a field that holds another value class, which a file names instead of describing it.

    Parameters
    ----------
    cls : type
        The class.
    doc : str
        One line for the page of keys.
    default : None, optional
        Left out: the field is required.
    default_words : str
        What is used when it is not given.

    Returns
    -------
    Field
        Kept as an instance of `cls`.
    """
    more = {"part": cls}
    return field("reference", doc, _read_part, default=default, default_words=default_words, **more)


def _read_part(described: Spec, name: str, value: Any) -> Any:
    cls = described.part
    if not isinstance(value, cls):
        raise InputError(
            name, value, f"a {cls.__name__}", f"Build it with linkcalc.{cls.__name__}(...)."
        )
    return value


def parts(cls: Any, doc: str, *, least: int = 1, most: int = 16, default: Any = REQUIRED) -> Any:
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
    Field
        Kept as a tuple.
    """
    more = {"part": cls, "least": least, "most": most}
    words = "" if default is REQUIRED else "none"
    return field("parts", doc, _read_parts, default=default, default_words=words, **more)


def _read_parts(described: Spec, name: str, value: Any) -> tuple[Any, ...]:
    cls, least, most = described.part, described.least, described.most
    good = isinstance(value, (list, tuple)) and all(isinstance(item, cls) for item in value)
    if good and len(value) > most:
        raise InputError(name, told(f"{len(value)} of them"), f"at most {most}", TOO_MANY)
    if good and len(value) < least:
        raise InputError(name, told(f"{len(value)} of them"), f"at least {least}", TOO_FEW)
    if not good:
        raise InputError(
            name,
            value,
            f"a list, each a {cls.__name__}",
            f"Build each with linkcalc.{cls.__name__}(...).",
        )
    return tuple(value)
