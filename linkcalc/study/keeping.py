"""What is done of a long study, kept in a file so that it need not be done again."""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import time
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import numpy as np

from linkcalc.errors import Fault, InputFaults
from linkcalc.evaluation.axes import leaves
from linkcalc.saving import save
from linkcalc.version import __version__

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["Kept", "KeptFigures"]

V = TypeVar("V", bound=tuple[Any, ...])

_EVERY = 20.0  # seconds between two savings
_FORMAT = "linkcalc.kept/1"
_UNREADABLE = (
    OSError,
    ValueError,
    KeyError,
    EOFError,
    TypeError,  # one array, not several
    zipfile.BadZipFile,
    zlib.error,
)


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
        columns = {f"values{index}": each for index, each in enumerate(self._rooms())}
        _write(self._path, self._mark, {"done": self.done, **columns})
        self._saved = time.monotonic()

    def _rooms(self) -> list[NDArray[Any]]:
        return [each for each in self.values if each.flags.writeable]

    def _take(self) -> None:
        """Take over what an earlier run has done."""
        rooms = (self.done, *self._rooms())
        names = ["done", *(f"values{index}" for index in range(len(rooms) - 1))]
        found = _read(self._path, self._mark, names)
        for room, each in zip(rooms, found, strict=True):
            if room.shape != each.shape or room.dtype != each.dtype:
                raise _refusal(self._path, "other shapes", "the same study")
            room[...] = each


class KeptFigures:
    """Figures of things that are met one after another, saved now and then.

    Parameters
    ----------
    shape : tuple of int
        Whole numbers that name a thing, and figures of each.
    path : str or path
        Where they are kept; empty for nowhere. What an earlier run of the same study left
        there is taken over.
    asked : tuple
        All that the figures depend on, of arrays, numbers and text.

    Attributes
    ----------
    known : dict of tuple of int to tuple of float
        By name, the figures.

    Raises
    ------
    InputFaults
        The file is none of these, or of another study.
    """

    def __init__(
        self, shape: tuple[int, int], path: str | os.PathLike[str], asked: tuple[Any, ...]
    ) -> None:
        self.known: dict[tuple[int, ...], tuple[float, ...]] = {}
        self._shape = shape
        self._path, self._saved = os.fspath(path), time.monotonic()
        self._mark = _digest(asked) if path else ""
        if path and Path(path).exists():
            self._take()

    def put(self, names: Sequence[tuple[int, ...]], figures: Sequence[tuple[float, ...]]) -> None:
        """Keep some more.

        Parameters
        ----------
        names : sequence of tuple of int
            Whose figures they are.
        figures : sequence of tuple of float
            Of each.
        """
        self.known.update(zip(names, figures, strict=True))
        if time.monotonic() - self._saved > _EVERY:
            self.save()

    def save(self) -> None:
        """Write what is known, whole or not at all."""
        named, figures = self._shape
        columns = {
            "names": np.array(list(self.known), dtype=np.int64).reshape(-1, named),
            "figures": np.array(list(self.known.values()), dtype=np.float64).reshape(-1, figures),
        }
        _write(self._path, self._mark, columns)
        self._saved = time.monotonic()

    def _take(self) -> None:
        names, figures = _read(self._path, self._mark, ["names", "figures"])
        found = [names.ndim, figures.ndim, len(names), *names.shape[1:], *figures.shape[1:]]
        kinds = names.dtype.kind, figures.dtype.kind
        if found != [2, 2, len(figures), *self._shape] or kinds != ("i", "f"):
            raise _refusal(self._path, "other shapes", "the same study")
        pairs = zip(names.tolist(), figures.tolist(), strict=True)
        self.known = {tuple(name): tuple(each) for name, each in pairs}


def _write(path: str, mark: str, columns: dict[str, NDArray[Any]]) -> None:
    if not path:
        return
    written = io.BytesIO()
    np.savez(written, allow_pickle=False, about=np.array([_FORMAT, mark]), **columns)
    save(path, written.getvalue(), force=True)


def _read(path: str, mark: str, names: Sequence[str]) -> list[NDArray[Any]]:
    """Return the columns of a file that an earlier run left."""
    try:
        content = io.BytesIO(Path(path).read_bytes())
        with np.load(content, allow_pickle=False) as read:
            about = [str(each) for each in read["about"]]
            columns = [read[name] for name in names] if about == [_FORMAT, mark] else []
    except _UNREADABLE as error:
        found = f"no such file ({type(error).__name__})"
        raise _refusal(path, found, "a file that an earlier run of the same study left") from None
    if not columns:
        raise _refusal(path, "another study", "the same aircraft, catalogue and question as before")
    return columns


def _refusal(path: str, found: str, expected: str) -> InputFaults:
    remedy = "Choose another name, or delete the file to begin anew."
    return InputFaults([Fault(path, "", found, expected, remedy)])


def _digest(asked: tuple[Any, ...]) -> str:
    """Return a mark of all that results depend on."""
    made = hashlib.sha256(f"{__version__} {np.__version__}".encode())
    for path, leaf in leaves(asked):
        plain = isinstance(leaf, np.ndarray)
        told = f"{leaf.dtype} {leaf.shape}" if plain else type(leaf).__name__
        made.update(f"{path} {told};".encode())
        made.update(np.ascontiguousarray(leaf).tobytes() if plain else pickle.dumps(leaf))
    return made.hexdigest()
