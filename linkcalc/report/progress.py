"""How far a long study has come: a bar with its rate and the time left, on a terminal."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.progress import Task
    from rich.text import Text

__all__ = ["shown_progress"]


@contextmanager
def shown_progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Show how far a study has come while it runs.

    Parameters
    ----------
    what : str
        What is counted, such as ``"combinations"``.

    Yields
    ------
    callable or None
        To be told how many are done, and of how many; None where the error output is no
        terminal, and nothing is shown. The bar is taken away in the end.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console  # noqa: PLC0415 - only for a terminal
    from rich.progress import (  # noqa: PLC0415 - as above  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        ProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )
    from rich.text import Text  # noqa: PLC0415

    class Rate(ProgressColumn):
        """How many in a second."""

        def render(self, task: Task) -> Text:
            speed = task.finished_speed or task.speed
            return Text("" if speed is None else f"{speed:,.0f}/s")

    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Rate()
    left = TextColumn("left"), TimeRemainingColumn()
    with Progress(*columns, *left, console=Console(stderr=True), transient=True) as bar:
        counted = bar.add_task(what, total=None)

        def told(done: int, total: int) -> None:
            bar.update(counted, completed=done, total=total)

        yield told
