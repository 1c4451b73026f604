"""Entry points of installed distributions, found without the library that reads all metadata.

That library, `importlib.metadata`, takes a sixth of the time of importing numpy, and a check
needs a few lines of a few files. These are read here, in the format of the packaging
specification "Entry points"; where a distribution may be found in another way than as a
folder on the path - in an archive, by a finder of its own - the library is asked after all.
"""

from __future__ import annotations

import os
import sys
from importlib.machinery import PathFinder
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator
    from importlib.metadata import Distribution

__all__ = ["Entry", "entries"]

_INFO = (".dist-info", ".egg-info")


class Entry(NamedTuple):
    """An entry point.

    Attributes
    ----------
    name : str
        The name that it is asked for by.
    target : str
        The object it names: ``"module:object"``.
    key : str
        The distribution that brings it, by its normalised name.
    home : str or importlib.metadata.Distribution
        The folder of that distribution's metadata, or what the library has found.
    """

    name: str
    target: str
    key: str
    home: str | Distribution

    @property
    def origin(self) -> str:
        """Name and version of the distribution."""
        from importlib.metadata import Distribution  # noqa: PLC0415 - 15 ms, paid by who asks
        from pathlib import Path  # noqa: PLC0415 - as above

        home = self.home
        found = Distribution.at(Path(home)) if isinstance(home, str) else home
        told = found.metadata
        name, version = (told[key] if key in told else "" for key in ("Name", "Version"))  # noqa: SIM401 - it has no get
        return f"{name} {version}" if name else f"an unknown distribution in {home}"

    def load(self) -> Any:
        """Import the object.

        Returns
        -------
        object
            What the entry point names.

        Raises
        ------
        Exception
            Whatever importing it raises.
        """
        from importlib import import_module  # noqa: PLC0415 - paid when a solver is asked for

        module, _, path = self.target.partition("[")[0].partition(":")
        found = import_module(module.strip())
        for part in filter(None, path.strip().split(".")):
            found = getattr(found, part)
        return found


def entries(group: str) -> list[Entry]:
    """Return the entry points of a group, as `importlib.metadata.entry_points` does.

    Parameters
    ----------
    group : str
        The group.

    Returns
    -------
    list of Entry
        Of two distributions of one name the first on the path counts. A line that is
        malformed is an entry without a target: it is listed, and told when it is loaded.

    Examples
    --------
    >>> sorted(entry.name for entry in entries("linkcalc.supply"))
    ['tree']
    """
    if _only_folders():
        first: dict[str, str] = {}
        for folder in map(str, sys.path):
            for child in _children(folder):
                key = _normalised(os.path.splitext(child)[0].partition("-")[0])
                first.setdefault(key, os.path.join(folder, child))
        return [entry for key, home in first.items() for entry in _written(group, key, home)]
    return _asked(group)


def _only_folders() -> bool:
    """Tell whether all that is installed lies in plain folders on the path."""
    finders = [item for item in sys.meta_path if hasattr(item, "find_distributions")]
    plain = finders == [PathFinder]
    return plain and not any(
        os.path.isfile(folder) or str(folder).lower().rstrip("/\\").endswith(".egg")
        for folder in sys.path
    )


def _children(folder: str) -> list[str]:
    """Return the folders and files of metadata in a folder; one that is not there has none."""
    try:
        names = os.listdir(folder or ".")
    except OSError:  # a path may name what does not exist or is closed; nothing is imported from it
        return []
    return [name for name in names if name.lower().endswith(_INFO)]


def _normalised(name: str) -> str:
    """Return the name of a distribution as all its spellings have in common."""
    for separator in "-.":
        name = name.replace(separator, "_")
    return name.lower()


def _written(group: str, key: str, home: str) -> Iterator[Entry]:
    """Read the entry points of a group in a folder of metadata."""
    try:
        with open(os.path.join(home, "entry_points.txt"), "rb") as file:
            content = file.read()
    except (FileNotFoundError, NotADirectoryError):  # it brings none
        return
    heading, inside = f"[{group}]", False
    if heading.encode() not in content:
        return
    for line in map(str.strip, content.decode(errors="backslashreplace").splitlines()):
        if line.startswith("[") and line.endswith("]"):
            inside = line == heading
        elif inside and line and not line.startswith("#"):
            name, _, target = line.partition("=")
            yield Entry(name.strip(), target.strip(), key, home)


def _asked(group: str) -> list[Entry]:
    """Ask the library."""
    from importlib.metadata import entry_points  # noqa: PLC0415 - 15 ms, paid where it has to be

    found = entry_points(group=group)
    return [
        Entry(item.name, item.value, _normalised(item.dist.name), item.dist)
        for item in found
        if item.dist
    ]
