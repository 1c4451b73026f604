"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from linkcalc.errors import Fault, InputFaults

__all__ = ["write_whole"]


def write_whole(
    path: str | os.PathLike[str], content: str | bytes, *, force: bool = False, remedy: str
) -> None:
    """Write a file, whole or not at all.

    Parameters
    ----------
    path : str or path
        Where to.
    content : str or bytes
        What to write; text is encoded as UTF-8.
    force : bool
        Whether a file of that name is replaced.
    remedy : str
        What to do when the name is taken.

    Raises
    ------
    InputFaults
        The name is taken or cannot be written; nothing is left behind, and a file that was
        there is as it was.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(f"{folder}/page.html", "<p>", remedy="Choose another name.")
    ...     Path(f"{folder}/page.html").read_text(encoding="utf-8")
    '<p>'
    """
    target = Path(path)
    encoded = content.encode() if isinstance(content, str) else content
    try:
        draft = target.with_name(f".linkcalc-{secrets.token_hex(8)}")
        try:
            with draft.open("xb") as file:
                file.write(encoded)
            if force:
                draft.replace(target)
            else:
                _give_name(draft, target)
        finally:
            draft.unlink(missing_ok=True)
    except FileExistsError:
        raise _refused(path, "a file of this name", "a name that is free", remedy) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        place = "Choose a folder that exists and that you may write to."
        raise _refused(path, reason.lower(), "a place to write to", place) from None


def _give_name(draft: Path, target: Path) -> None:
    """Give a complete file its name; of two that try at once, one fails."""
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


def _refused(path: str | os.PathLike[str], found: str, expected: str, remedy: str) -> InputFaults:
    return InputFaults([Fault(os.fspath(path), "", found, expected, remedy)])
