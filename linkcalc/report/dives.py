"""Which of a case's values are those of its dive."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linkcalc.results import Value

__all__ = ["OF_ALL", "of", "without"]

OF_ALL = "source current at work"
"""A value that every case has which was evaluated."""

_FIRST, _OUTCOME = "terminal speed", "recovers"


def of(values: dict[str, Value]) -> dict[str, Value]:
    """Return the values of a dive that stand in a table.

    Parameters
    ----------
    values : dict of str to Value
        Of a case as a whole.

    Returns
    -------
    dict of str to Value
        Without the outcome, which is told in words; empty where no dive was followed.
    """
    names = list(values)
    if _FIRST not in values:
        return {}
    return {name: values[name] for name in names[names.index(_FIRST) :] if name != _OUTCOME}


def without(values: dict[str, Value]) -> dict[str, Value]:
    """Return the values that are not those of a dive.

    Parameters
    ----------
    values : dict of str to Value
        Of a case as a whole.

    Returns
    -------
    dict of str to Value
        Empty where the case could not be evaluated for want of its dive.
    """
    own = of(values)
    return {name: value for name, value in values.items() if name not in own and name != _OUTCOME}
