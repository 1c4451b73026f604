"""What a stranger's code may do while it works: not change what it was given, print or exit."""

from __future__ import annotations

import contextlib
import io
import sys
from collections.abc import Collection, Mapping
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

__all__ = ["ANY_FAULT", "misdescribed", "read_only", "without_printing"]

ANY_FAULT = (Exception, SystemExit)
"""What a stranger's code may raise, each kept as a reason: an exit would else end our command,
with a code of the stranger's choice, and 0 is that of a pass."""


def misdescribed(solver: Any) -> str:
    """Tell which member of a solver cannot be used as what it has to be, if one cannot.

    Parameters
    ----------
    solver : Any
        What a stranger's distribution calls a solver, with every member that one needs.

    Returns
    -------
    str
        Such as ``"has fields that are no mapping of texts"``; empty where all can be used.
    """
    words = (str,)
    for name in ("name", "description", "caution"):
        if not isinstance(getattr(solver, name, ""), words):
            return f"has a {name} that is no text"
    if not _all(solver.sources, words) or isinstance(solver.sources, str):
        return "has sources that are no tuple of texts"
    for name, told in (("fields", "fields"), ("optional", "optional fields")):
        held = getattr(solver, name, {})
        if not (isinstance(held, Mapping) and _all((*held, *held.values()), words)):
            return f"has {told} that are no mapping of texts"
    held = solver.validity
    if not (isinstance(held, Mapping) and _all(held, words)):
        return "has a validity that is no mapping by names of fields"
    if not all(_all(pair, (Real,)) and len(pair) == 2 for pair in held.values()):
        return "has a validity that is not two numbers for each field"
    return ""


def _all(held: Any, kinds: tuple[type, ...]) -> bool:
    return isinstance(held, Collection) and all(isinstance(item, kinds) for item in held)


def read_only(fields: Mapping[str, Any]) -> dict[str, NDArray[Any]]:
    """Return arrays that whoever gets them cannot change.

    Parameters
    ----------
    fields : mapping of str to array_like
        By name.

    Returns
    -------
    dict of str to ndarray
        Views, nothing is copied; the arrays themselves stay as they are.
    """
    made = {}
    for name, value in fields.items():
        made[name] = view = np.asarray(value).view()
        view.flags.writeable = False
    return made


@contextlib.contextmanager
def without_printing(who: Callable[[], str]) -> Iterator[None]:
    """Keep what is printed out of the answer, and tell who did on standard error.

    Parameters
    ----------
    who : callable
        Tells whose code runs, if that is to be told.
    """
    heard = io.StringIO()
    try:
        with contextlib.redirect_stdout(heard):
            yield
    finally:
        words = heard.getvalue().strip()
        if words:
            sys.stderr.write(f"{who()} printed {shown(words)}: not part of the answer.\n")
