"""What is done of a long study, kept in a file so that it need not be done again."""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import time
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.evaluation.axes import leaves
from linkcalc.saving import save

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Kept"]

V = TypeVar("V", bound=tuple[Any, ...])

_EVERY = 20.0  # seconds between two savings
_FORMAT = "linkcalc.kept/1"


class Kept(Generic[V]):
    """Arrays that are filled part by part, and saved now and then.

    Parameters
    ----------
    values : NamedTuple of ndarray, shapes (place, ...)
        Room for the results; what cannot be written is not kept.
    path : str or path
        Where they are kept; empty for nowhere. What an earlier run of the same study left
        there is taken over.
    asked : tuple
        All that the results depend on, of arrays, numbers and text.

    Attributes
    ----------
    values : NamedTuple of ndarray
        The results.
    done : ndarray of bool, shape (place)
        Which of them are there.

    Raises
    ------
    InputFaults
        The file is none of these, or of another study.
    """

    def __init__(self, values: V, path: str | os.PathLike[str], asked: tuple[Any, ...]) -> None:
        self.values = values
        self.done: NDArray[np.bool_] = np.zeros(values[0].shape, dtype=np.bool_)
        self._path, self._saved = os.fspath(path), time.monotonic()
        self._mark = _digest(asked) if path else ""
        if path and Path(path).exists():
            self._take()

    def put(self, place: tuple[Any, ...], found: V) -> None:
        """Fill a part in.

        Parameters
        ----------
        place : tuple of slice or ndarray of int
            Which.
        found : NamedTuple of ndarray
            Its results.
        """
        for room, each in zip(self.values, found, strict=True):
            if room.flags.writeable:
                room[place] = each
        self.done[place] = True
        if time.monotonic() - self._saved > _EVERY:
            self.save()

    def save(self) -> None:
        """Write what is done, whole or not at all."""
        if not self._path:
            return
        written = io.BytesIO()
        columns = {f"values{index}": each for index, each in enumerate(self._rooms())}
        about = np.array([_FORMAT, self._mark])
        np.savez(written, allow_pickle=False, about=about, done=self.done, **columns)
        save(self._path, written.getvalue(), force=True)
        self._saved = time.monotonic()

    def _rooms(self) -> list[NDArray[Any]]:
        return [each for each in self.values if each.flags.writeable]

    def _take(self) -> None:
        """Take over what an earlier run has done."""
        remedy = "Choose another name, or delete the file to begin anew."
        try:
            content = io.BytesIO(Path(self._path).read_bytes())
            with np.load(content, allow_pickle=False) as read:
                about = [str(each) for each in read["about"]]
                names = [f"values{index}" for index in range(len(self._rooms()))]
                found = [read[name] for name in ("done", *names)]
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
            expected = "a file that an earlier run of the same study left"
            fault = Fault(
                self._path, "", f"no such file ({type(error).__name__})", expected, remedy
            )
            raise InputFaults([fault]) from None
        if about != [_FORMAT, self._mark]:
            expected = "the same aircraft, catalogue and question as before"
            raise InputFaults([Fault(self._path, "", "another study", expected, remedy)])
        for room, each in zip((self.done, *self._rooms()), found, strict=True):
            if room.shape != each.shape or room.dtype != each.dtype:
                raise InputFaults([Fault(self._path, "", "other shapes", "the same study", remedy)])
            room[...] = each


def _digest(asked: tuple[Any, ...]) -> str:
    """Return a mark of all that results depend on."""
    from linkcalc import __version__  # noqa: PLC0415 - it imports this

    made = hashlib.sha256(f"{__version__} {np.__version__}".encode())
    for path, leaf in leaves(asked):
        plain = isinstance(leaf, np.ndarray)
        told = f"{leaf.dtype} {leaf.shape}" if plain else type(leaf).__name__
        made.update(f"{path} {told};".encode())
        made.update(np.ascontiguousarray(leaf).tobytes() if plain else pickle.dumps(leaf))
    return made.hexdigest()
