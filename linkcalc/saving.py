"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import TYPE_CHECKING

from linkcalc.errors import Fault, InputFaults

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["PAGE", "refuse_existing", "refuse_name", "save", "save_all"]

PAGE = (".html", ".htm")
"""How the name of a page ends."""

_REMEDY = "Choose another name, move the file away, or say --force to replace it."


def save(
    path: str | os.PathLike[str], content: bytes, *, force: bool = False, remedy: str = _REMEDY
) -> None:
    """Write a file, whole or not at all.

    Parameters
    ----------
    path : str or path
        Where to.
    content : bytes
        What is to stand in it.
    force : bool
        Whether a file of that name may be replaced.
    remedy : str
        What to do when the name is taken.

    Raises
    ------
    InputFaults
        The name is taken or cannot be written; nothing is left behind.
    """
    save_all({os.fspath(path): content}, force=force, remedy=remedy)


def save_all(contents: Mapping[str, bytes], *, force: bool = False, remedy: str = _REMEDY) -> None:
    """Write several files, each whole, or none of them.

    Parameters
    ----------
    contents : mapping of str to bytes
        What is to stand in each, by its path.
    force : bool
        Whether files of these names may be replaced.
    remedy : str
        What to do when a name is taken.

    Raises
    ------
    InputFaults
        A name is taken or cannot be written; what was there before stays.

    Notes
    -----
    All drafts are complete before the first of them gets its name. A machine that stops
    between two names leaves some of the files, each of them whole.
    """
    if not force:
        refuse_existing(contents, remedy)
    drafts: dict[Path, Path] = {}
    target = Path()
    try:
        for path, content in contents.items():
            target = Path(path)
            draft = target.with_name(f".linkcalc-{secrets.token_hex(8)}")
            drafts[draft] = target
            with draft.open("xb") as file:
                file.write(content)
        for draft, target in drafts.items():
            _give_name(draft, target, force=force)
    except FileExistsError:
        raise _taken(target, remedy) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        remedy = "Choose a folder that exists and that you may write to."
        raise _refused(target, reason.lower(), "a place to write to", remedy) from None
    finally:
        for draft in drafts:
            _discard(draft)


def refuse_name(path: str | None, endings: tuple[str, ...], *, force: bool = False) -> None:
    """Refuse a name of another kind, or one that is taken, before any work is done for it.

    Parameters
    ----------
    path : str or None
        Where a file is to be written; None where none is.
    endings : tuple of str
        That it may have.
    force : bool
        Whether a file of this name is replaced.

    Raises
    ------
    InputFaults
        The name ends otherwise, or it is taken.
    """
    if path is None:
        return
    if not path.lower().endswith(endings):
        expected = f"a name that ends in {' or '.join(endings)}"
        remedy = "The ending says what is written: choose one of these."
        raise InputFaults([Fault(path, "", "a name of another kind", expected, remedy)])
    if not force:
        refuse_existing([path])


def refuse_existing(paths: Iterable[str], remedy: str = _REMEDY) -> None:
    """Refuse names that are taken, before any work is done for them.

    Parameters
    ----------
    paths : iterable of str
        Where files are to be written.
    remedy : str
        What to do about one.

    Raises
    ------
    InputFaults
        One for each name that is taken.
    """
    faults = [
        fault for path in paths if os.path.lexists(path) for fault in _taken(path, remedy).faults
    ]
    if faults:
        raise InputFaults(faults)


def _give_name(draft: Path, target: Path, *, force: bool) -> None:
    """Give a complete file its name; of two that try at once without force, one fails."""
    if force:
        draft.replace(target)
        return
    try:
        os.link(draft, target)  # never replaces a file, as renaming would
    except FileExistsError:
        raise
    except OSError:  # no hard links on this file system: write it where it belongs
        content = draft.read_bytes()
        with target.open("xb") as file:
            try:
                file.write(content)
                file.flush()
            except OSError:
                target.unlink()
                raise


def _discard(draft: Path) -> None:
    try:
        draft.unlink(missing_ok=True)
    except (OSError, ValueError):  # a folder that is none, a name that no file can have
        return


def _taken(path: str | os.PathLike[str], remedy: str) -> InputFaults:
    return _refused(path, "a file of this name", "a name that is free", remedy)


def _refused(path: str | os.PathLike[str], found: str, expected: str, remedy: str) -> InputFaults:
    return InputFaults([Fault(os.fspath(path), "", found, expected, remedy)])
