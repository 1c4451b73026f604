"""What a value class of the model is: frozen, compared by SI values, checked by rules.

A field says what the file reader, the schema and the page of keys need to know
about it, so that a key is described in one place. A quantity is kept as it was
stated and becomes a pint quantity when somebody reads it. Nothing is generated
when a class is made: importing the model is part of every check.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, Self, TypeVar, dataclass_transform

from linkcalc.errors import InputError
from linkcalc.sampled import Unsampled, is_sampled
from linkcalc.units import Stated, remembering

if TYPE_CHECKING:
    import inspect
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

    import attrs

__all__ = [
    "REQUIRED",
    "Field",
    "Rule",
    "Spec",
    "ValueClass",
    "fields",
    "given",
    "read",
    "refuse_samples",
    "replace",
    "rule",
    "si",
    "stated",
    "stated_by_all",
]

V = TypeVar("V", bound="ValueClass")
REQUIRED: Any = object()
"""The default of a field that has none."""


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


class Field:
    """A field of a value class, which hands out what an instance keeps.

    Parameters
    ----------
    spec : Spec
        What it holds.
    default : object
        What stands where nothing is given; `REQUIRED` where something has to be.
    """

    __slots__ = ("default", "name", "spec")

    def __init__(self, spec: Spec, default: Any = REQUIRED) -> None:
        self.spec = spec
        self.default = default
        self.name = ""

    def __set_name__(self, cls: type, name: str) -> None:
        self.name = name

    def __get__(self, owner: Any, cls: type | None = None) -> Any:
        if owner is None:
            return self
        held = owner._held[self.name]  # noqa: SLF001 - a field is part of its class
        return remembering(held) if isinstance(held, Stated) else held

    @property
    def required(self) -> bool:
        """Whether something has to be given."""
        return self.default is REQUIRED


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


class _Signature:
    """The signature of a value class, made when help or an editor asks for it."""

    def __get__(self, owner: Any, cls: type[ValueClass]) -> inspect.Signature:
        import inspect  # noqa: PLC0415 - as the class says

        def parameter(item: Field) -> inspect.Parameter:
            default = inspect.Parameter.empty if item.required else item.default
            words = cls.__annotations__[item.name]
            only = inspect.Parameter.KEYWORD_ONLY
            return inspect.Parameter(item.name, only, default=default, annotation=words)

        return inspect.Signature([parameter(item) for item in fields(cls)])


class _AttrsFields:
    """What makes `attrs.evolve`, `attrs.asdict` and their kin take a value class as one of theirs."""

    def __init__(self) -> None:
        self.made: dict[str, tuple[attrs.Attribute[Any], ...]] = {}

    def __get__(self, owner: Any, cls: type[ValueClass]) -> tuple[attrs.Attribute[Any], ...]:
        import attrs  # noqa: PLC0415 - only attrs asks

        if cls.__name__ not in self.made:
            own = {
                item.name: attrs.field(default=attrs.NOTHING if item.required else item.default)
                for item in fields(cls)
            }
            self.made[cls.__name__] = attrs.fields(
                attrs.make_class(cls.__name__, own, kw_only=True)
            )
        return self.made[cls.__name__]


@dataclass_transform(kw_only_default=True, frozen_default=True)
class ValueClass:
    """A frozen class with keyword-only fields, made by the helpers of `linkcalc.model.fields`.

    Parameters
    ----------
    **values
        By field.

    Raises
    ------
    InputError
        The first thing that is wrong; `read` tells all.
    """

    __slots__ = ("_held",)

    _fields: ClassVar[tuple[Field, ...]] = ()
    _rules: ClassVar[tuple[Rule, ...]] = ()
    _held: dict[str, Any]

    __signature__ = _Signature()
    __attrs_attrs__ = _AttrsFields()

    def __init_subclass__(cls) -> None:
        """Collect fields and rules in the order in which they are written."""
        cls._fields = tuple(item for item in vars(cls).values() if isinstance(item, Field))
        cls._rules = tuple(item for item in vars(cls).values() if isinstance(item, Rule))

    def __init__(self, **values: Any) -> None:
        known = {item.name: item for item in self._fields}
        for name in values:
            if name not in known:
                raise TypeError(f"{type(self).__name__}() has no field {name!r}")
        for name, item in known.items():
            if item.required and name not in values:
                raise TypeError(f"{type(self).__name__}() needs the field {name!r}")
        for error in self._fill(values, ()):
            raise error

    def _fill(self, values: Mapping[str, Any], unreadable: Collection[str]) -> list[InputError]:
        """Keep what can be read, and return all that is wrong."""
        errors: list[InputError] = []
        held: dict[str, Any] = {}
        object.__setattr__(self, "_held", held)
        for item in self._fields:
            if item.name in unreadable:
                continue
            value = values.get(item.name, item.default)
            try:
                if value is not None or item.default is not None:
                    value = item.spec.reader(item.spec, item.name, value)
            except InputError as error:
                errors.append(error)
                continue
            held[item.name] = value
        for rule in self._rules:
            if held.keys() >= set(rule.fields):
                errors.extend(rule.faults(self))
        return errors

    def _compared(self) -> tuple[Any, ...]:
        """Return what equality looks at: SI values, so that 12 mm equals 0.012 m."""
        return tuple(
            (value.si, *value[4:]) if isinstance(value, Stated) else value
            for value in self._held.values()
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, ValueClass) or type(self) is not type(other):
            return NotImplemented
        return self._compared() == other._compared()

    def __hash__(self) -> int:
        return hash(self._compared())

    def __repr__(self) -> str:
        words = (
            f"{name}={value.text if isinstance(value, Stated) else value!r}"
            for name, value in self._held.items()
        )
        return f"{type(self).__name__}({', '.join(words)})"

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(
            f"{type(self).__name__} is frozen: make another by linkcalc.replace(..., {name}=...)"
        )

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{type(self).__name__} is frozen")

    def __getstate__(self) -> dict[str, Any]:
        return self._held

    def __setstate__(self, held: dict[str, Any]) -> None:
        object.__setattr__(self, "_held", held)

    def __replace__(self, /, **new: Any) -> Self:
        """Make another with some fields changed, as `copy.replace` asks."""
        return type(self)(**(self._held | new))


def replace(owner: V, /, **new: Any) -> V:
    """Make a variant of a part of the model: some fields changed, the others exactly as stated.

    Parameters
    ----------
    owner : object
        An aircraft or any part of one.
    **new
        The fields to change.

    Returns
    -------
    object
        Of the same class; the original stays as it is.

    Raises
    ------
    InputError
        A new value cannot be used, or does not fit the others.

    Examples
    --------
    >>> from linkcalc import Lead
    >>> tail = Lead(name="tail", gauge="26 AWG", length="1.8 m ± 5 cm")
    >>> replace(tail, gauge="22 AWG")
    Lead(name='tail', length='1.8 m ± 5 cm', gauge='22 AWG (0.326 mm^2)', return_gauge=None, ...)
    """
    return owner.__replace__(**new)


def fields(cls: type[ValueClass]) -> tuple[Field, ...]:
    """Return the fields of a value class in the order in which they are written.

    Parameters
    ----------
    cls : type
        A value class.

    Returns
    -------
    tuple of Field
        Each with its name, its description and its default.
    """
    return cls._fields


def read(
    cls: type[V], values: Mapping[str, Any], unreadable: Collection[str] = ()
) -> tuple[V, list[InputError]]:
    """Build a value class as far as it goes, and tell all that is wrong.

    Parameters
    ----------
    cls : type
        A value class.
    values : mapping of str to object
        By field; what is left out takes its default.
    unreadable : collection of str
        Fields that are known to be wrong or missing: left empty, and rules about them not asked.

    Returns
    -------
    instance : object
        Of the class; complete where nothing is wrong and nothing was unreadable.
    errors : list of InputError
        Of single fields in their order, then of the rules.
    """
    made = cls.__new__(cls)
    return made, made._fill(values, unreadable)  # noqa: SLF001 - part of the class


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
    return owner._held[name]  # noqa: SLF001 - part of the class


def stated_by_all(owners: Sequence[Any], name: str) -> list[Any]:
    """Return the same of many instances of one class.

    Parameters
    ----------
    owners : sequence of object
        Instances of a value class.
    name : str
        The field.

    Returns
    -------
    list of Stated, str or None
        What the field of each keeps.
    """
    return [owner._held[name] for owner in owners]  # noqa: SLF001 - part of the class


def si(owner: Any, name: str, default: float = math.nan) -> float:
    """Return a quantity of a value class in SI, without building it.

    Parameters
    ----------
    owner : object
        An instance of a value class.
    name : str
        The field.
    default : float, optional
        What stands where it was not given.

    Returns
    -------
    float
        In SI.
    """
    held = stated(owner, name)
    return default if held is None else held.si  # or samples


def refuse_samples(part: ValueClass) -> None:
    """Refuse a part of the model whose quantities stand for many samples.

    Parameters
    ----------
    part : value class
        And all parts inside it.

    Raises
    ------
    Unsampled
        It has one.
    """
    for held in part._held.values():  # noqa: SLF001 - part of the class
        for item in held if isinstance(held, tuple) and not isinstance(held, Stated) else (held,):
            if isinstance(item, ValueClass):
                refuse_samples(item)
            elif isinstance(item, Stated) and is_sampled(item.si):
                raise Unsampled


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
