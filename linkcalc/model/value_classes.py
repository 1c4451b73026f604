"""What a value class of the model is: frozen, compared by SI values, checked by rules.

A field leaves in its metadata what the file reader, the schema and the page of
keys need to know about it, so that a key is described in one place. A quantity
is stored as it was stated and becomes a pint quantity when somebody reads it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, dataclass_transform

import attrs

from linkcalc.errors import InputError
from linkcalc.units import Stated, remembering

if TYPE_CHECKING:
    import inspect
    from collections.abc import Callable, Collection, Iterator, Mapping

__all__ = ["Rule", "Spec", "given", "read", "rule", "spec", "stated", "value_class"]

T = TypeVar("T", bound=type)


class Spec(NamedTuple):
    """What a field holds, for those who read, write and document it.

    Attributes
    ----------
    form : str
        ``quantity``, ``vector``, ``number``, ``load factor``, ``text``, ``choice``, ``part``,
        ``parts`` or ``reference``.
    doc : str
        One line for the page of keys.
    reader : callable
        Takes this description, the field's name and a value that is not None, and returns
        what the field keeps.
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
    least, most : float
        Bounds of a number, included; for lists of parts, how many there may be.
    whole : bool
        Whether only whole numbers will do.
    bound : str
        For quantities ``"positive"``, ``"not negative"`` or empty.
    names : tuple of str
        For vectors, what the components are.
    """

    form: str
    doc: str
    reader: Callable[[Any, str, Any], Any]
    kind: str = ""
    choices: tuple[str, ...] = ()
    part: Any = None
    default: str = ""
    shorthand: str = ""
    least: float = -math.inf
    most: float = math.inf
    whole: bool = False
    bound: str = ""
    names: tuple[str, ...] = ()


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


class Rule(NamedTuple):
    """A rule that joins several fields of a value class.

    Attributes
    ----------
    fields : tuple of str
        The fields it looks at; it is asked where all of them can be read.
    faults : callable
        Takes an instance and yields an `InputError` for everything that is wrong.
    """

    fields: tuple[str, ...]
    faults: Callable[[Any], Iterator[InputError]]


def rule(*fields: str) -> Callable[[Callable[[Any], Iterator[InputError]]], Rule]:
    """Make a rule of a method of a value class.

    Parameters
    ----------
    *fields : str
        The fields that the method looks at, and no other.

    Returns
    -------
    callable
        A decorator.
    """
    return lambda faults: Rule(fields, faults)


class _Slot:
    """A slot that keeps what was stated and hands out a pint quantity."""

    def __init__(self, slot: Any) -> None:
        self.slot = slot

    def __get__(self, owner: Any, cls: type | None = None) -> Any:
        if owner is None:
            return self
        held = self.slot.__get__(owner, cls)
        return remembering(held) if isinstance(held, Stated) else held

    def __set__(self, owner: Any, value: Any) -> None:
        self.slot.__set__(owner, value)


class _Signature:
    """The signature of a value class, made when somebody asks for it."""

    def __get__(self, owner: Any, cls: type) -> inspect.Signature:
        import inspect  # noqa: PLC0415 - only help and editors ask

        return inspect.Signature(
            [
                inspect.Parameter(
                    item.name,
                    inspect.Parameter.KEYWORD_ONLY,
                    default=inspect.Parameter.empty
                    if item.default is attrs.NOTHING
                    else item.default,
                    annotation=item.type,
                )
                for item in attrs.fields(cls)
            ]
        )


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(attrs.field,))
def value_class(cls: T) -> T:
    """Make a frozen, slotted, keyword-only value class with quantities read lazily.

    Parameters
    ----------
    cls : type
        A class whose fields are made by the helpers of `linkcalc.model.fields`, and whose
        rules by `rule`.

    Returns
    -------
    type
        The attrs class.
    """
    # Generic methods instead of generated ones: a quantity is compared and shown as it was
    # stated, without a unit registry, and importing the model compiles nothing.
    rules = tuple(item for item in vars(cls).values() if isinstance(item, Rule))
    for name, method in {**_METHODS, "_rules": rules}.items():
        setattr(cls, name, method)
    made = attrs.define(
        frozen=True, slots=True, kw_only=True, init=False, match_args=False, getstate_setstate=False
    )(cls)
    for attribute in attrs.fields(made):
        if spec(attribute).form == "quantity":
            setattr(made, attribute.name, _Slot(vars(made)[attribute.name]))
    return made


def read(
    cls: Any, values: Mapping[str, Any], unreadable: Collection[str] = ()
) -> tuple[Any, list[InputError]]:
    """Build a value class as far as it goes, and tell all that is wrong.

    Parameters
    ----------
    cls : type
        A class made by `value_class`.
    values : mapping of str to object
        By field; what is left out takes its default.
    unreadable : collection of str
        Fields that are known to be wrong: left empty, and rules about them not asked.

    Returns
    -------
    instance : object
        Of the class; complete where nothing is wrong and nothing was unreadable.
    errors : list of InputError
        Of single fields in their order, then of the rules.
    """
    made = cls.__new__(cls)
    return made, _fill(made, values, unreadable)


def _fill(made: Any, values: Mapping[str, Any], unreadable: Collection[str]) -> list[InputError]:
    errors, readable = [], set()
    for attribute in attrs.fields(type(made)):
        name, described = attribute.name, spec(attribute)
        if name in unreadable:
            continue
        value = values.get(name, attribute.default)
        try:
            if value is not None or attribute.default is not None:
                value = described.reader(described, name, value)
        except InputError as error:
            errors.append(error)
            continue
        object.__setattr__(made, name, value)
        readable.add(name)
    for item in made._rules:  # noqa: SLF001 - put there by value_class
        if readable.issuperset(item.fields):
            errors.extend(item.faults(made))
    return errors


def _init(self: Any, **values: Any) -> None:
    """Fill every field, or raise the first thing that is wrong."""
    cls = type(self)
    known = {item.name: item.default for item in attrs.fields(cls)}
    for name in values:
        if name not in known:
            raise TypeError(f"{cls.__name__}() got an unexpected keyword argument {name!r}")
    for name, default in known.items():
        if default is attrs.NOTHING and name not in values:
            raise TypeError(f"{cls.__name__}() misses the keyword argument {name!r}")
    for error in _fill(self, values, ()):
        raise error


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
    "__init__": _init,
    "__signature__": _Signature(),
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
