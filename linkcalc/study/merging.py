"""Parts of one kind made one part whose quantities are those of all of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from linkcalc.model.value_classes import ValueClass, fields, replace, stated, stated_by_all
from linkcalc.sampled import sampled
from linkcalc.units import KINDS, Stated

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

    from numpy.typing import NDArray

    V = TypeVar("V", bound=ValueClass)

__all__ = ["kinds", "merged", "of_samples"]


def kinds(parts: Sequence[ValueClass], leaving_out: Sequence[str] = ("name",)) -> list[int]:
    """Number the kinds of some parts: those of one kind differ in quantities alone.

    Parameters
    ----------
    parts : sequence of value classes
        Any.
    leaving_out : sequence of str
        Fields of the parts themselves that do not tell kinds apart.

    Returns
    -------
    list of int
        Of each part, from 0.
    """
    known: dict[Hashable, int] = {}
    return [known.setdefault(_shape(part, leaving_out), len(known)) for part in parts]


def _shape(part: ValueClass, leaving_out: Sequence[str] = ()) -> Hashable:
    made: list[Any] = [type(part).__name__]
    for field in fields(type(part)):
        if field.name in leaving_out:
            continue
        held = stated(part, field.name)
        if isinstance(held, Stated):
            made.append(Stated)
        elif isinstance(held, ValueClass):
            made.append(_shape(held))
        elif field.spec.form == "parts":
            made.append(tuple(_shape(item) for item in held))
        else:
            made.append(held)
    return tuple(made)


def merged(parts: Sequence[V], which: NDArray[np.intp]) -> V:
    """Make one part of some.

    Parameters
    ----------
    parts : sequence of value classes
        Those that are chosen are of one kind.
    which : ndarray of int, shape (sample,)
        Which stand for the samples, each as often as it is named.

    Returns
    -------
    value class
        The first of them, with quantities that differ as samples.
    """
    made: V = _merged([parts[place] for place in which.tolist()])
    return made


def _merged(parts: Sequence[Any]) -> Any:  # one alone stays as it is
    first = parts[0]
    new: dict[str, Any] = {}
    for field in fields(type(first)):
        every = stated_by_all(parts, field.name)
        held = every[0]
        if isinstance(held, Stated):
            values = np.array([each.si for each in every])
            if (values != held.si).any():
                new[field.name] = of_samples(field.spec.kind, values)
        elif isinstance(held, ValueClass):
            if any(each is not held for each in every):
                new[field.name] = _merged(every)
        elif field.spec.form == "parts" and any(each is not held for each in every):
            new[field.name] = tuple(_merged(items) for items in zip(*every, strict=True))
    return replace(first, **new) if new else first


def of_samples(kind: str, values: Any) -> Stated:
    """State a quantity that has a value for every sample.

    Parameters
    ----------
    kind : str
        A key of `linkcalc.units.KINDS`.
    values : array_like, shape (sample,)
        In its SI unit.

    Returns
    -------
    Stated
        In words the first.
    """
    made, unit = sampled(values), KINDS[kind].unit
    return Stated(made, unit, made, f"{made:.10g} {unit}")
