"""The one hierarchy of errors: every message says what, where and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Self

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["Fault", "InputError", "InputFaults", "LinkcalcError", "SolverError", "UnitError"]

_SHOWN = 60  # characters of a found value that a message repeats


def shown(found: object) -> str:
    """Return a value as a message shows it: short, on one line, printable.

    Parameters
    ----------
    found : object
        What was found; hostile text is cut and its control characters escaped.

    Returns
    -------
    str
        At most some sixty characters.

    Examples
    --------
    >>> shown("12 furlongs")
    "'12 furlongs'"
    >>> len(shown("9" * 1_000_000)) < 100
    True
    """
    if isinstance(found, str):
        head = found[:_SHOWN]
        return repr(head) + (f"... ({len(found)} characters)" if len(found) > _SHOWN else "")
    if isinstance(found, (list, tuple)):
        return f"a list of {len(found)}"
    if isinstance(found, dict):
        return f"a table of {len(found)}"
    if isinstance(found, bool):
        return str(found).lower()
    if isinstance(found, int) and found.bit_length() > 128:
        return f"a whole number of {found.bit_length()} bits"
    text = repr(found)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "..."


class Fault(NamedTuple):
    """One thing that is wrong with an input, told to the person who can mend it.

    Attributes
    ----------
    file : str
        The file that was read, or empty for values given in code.
    place : str
        Where in it: the path of the key.
    found : str
        What stands there.
    expected : str
        What should stand there, with an example.
    remedy : str
        What to do.
    """

    file: str
    place: str
    found: str
    expected: str
    remedy: str

    def __str__(self) -> str:
        """Return the fault as one sentence."""
        where = ": ".join(part for part in (self.file, self.place) if part)
        return f"{where}: found {self.found}; expected {self.expected}. {self.remedy}"


class LinkcalcError(Exception):
    """Everything that linkcalc raises on purpose."""


class InputError(LinkcalcError, ValueError):
    """A value that cannot be used.

    Parameters
    ----------
    place : str
        The argument, field or path of the key that holds it.
    found : object
        The value itself.
    expected : str
        What would be right, with an example.
    remedy : str
        What to do.
    """

    def __init__(self, place: str, found: object, expected: str, remedy: str) -> None:
        self.fault = Fault(
            "", place, found if isinstance(found, _Told) else shown(found), expected, remedy
        )
        super().__init__(str(self.fault))

    def __reduce__(self) -> tuple[object, ...]:
        """Let the error survive pickling, as a pool of processes needs."""
        _, place, found, expected, remedy = self.fault
        return type(self), (place, _Told(found), expected, remedy)


class _Told(str):
    """Words that say what was found, shown without quotation marks."""

    __slots__ = ()


def told(words: str) -> str:
    """Mark words as a description of what was found, not as the value itself.

    Parameters
    ----------
    words : str
        For instance ``"nothing"``.

    Returns
    -------
    str
        The same words; `InputError` shows them without quotation marks.

    Examples
    --------
    >>> str(InputError("span", told("nothing"), "a length", "Give it."))
    'span: found nothing; expected a length. Give it.'
    """
    return _Told(words)


class UnitError(InputError):
    """A quantity without a unit, with one of another dimension, or that does not parse."""


class InputFaults(LinkcalcError, ValueError):  # noqa: N818 - it holds faults, all of a file at once
    """All that is wrong with one input.

    Parameters
    ----------
    faults : iterable of Fault
        At least one.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[Self], tuple[tuple[Fault, ...]]]:
        """Let the error survive pickling."""
        return type(self), (self.faults,)


class SolverError(LinkcalcError, RuntimeError):
    """A solver that is missing, broken, or returned what it may not.

    Parameters
    ----------
    message : str
        Names the solver, the distribution it comes from and the reason.
    solver : str
        The name it is asked for by.
    """

    def __init__(self, message: str, solver: str = "") -> None:
        self.solver = solver
        super().__init__(message)

    def __reduce__(self) -> tuple[type[Self], tuple[str, str]]:
        """Let the error survive pickling."""
        return type(self), (str(self), self.solver)
