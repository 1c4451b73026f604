"""What a stranger's code may do while it works: neither change what it was given, nor print."""

from __future__ import annotations

import contextlib
import io
import sys
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from numpy.typing import NDArray

__all__ = ["read_only", "without_printing"]


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
