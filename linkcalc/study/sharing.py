"""Samples of an aircraft in pieces that this process works, or several."""

from __future__ import annotations

import copy
import functools
import threading
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from linkcalc.errors import InputError
from linkcalc.study.samples import AT_ONCE, SHARED, Together

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from types import TracebackType

    from numpy.typing import NDArray

    from linkcalc.study.uncertain import UncertainAircraft

    Floats = NDArray[np.float64]
    Piece = dict[str, Floats]

__all__ = ["Shared"]

MOST_JOBS = 64


def _nobody(done: int, total: int) -> None:
    """Tell nobody."""


class Shared:
    """Evaluates samples of an aircraft in pieces, with as many processes as are given.

    It answers as `linkcalc.study.samples.Together` does, to the last digit the same with any
    number of processes. Several threads may call it at once. It is a context manager.

    Parameters
    ----------
    uncertain : UncertainAircraft
        What is varied.
    speeds : bool
        Whether placard speeds are sought too.
    jobs : int
        Processes; 1 for this one alone.

    Attributes
    ----------
    uncertain : UncertainAircraft
        As given.
    keys, speed_keys : list
        As those of `linkcalc.study.samples.Together`.
    refused : dict of str to int
        Why samples could not be evaluated, and how many.

    Raises
    ------
    InputError
        The number of processes is not from 1 to 64.
    """

    def __init__(
        self, uncertain: UncertainAircraft, *, speeds: bool = False, jobs: int = 1
    ) -> None:
        if not 1 <= jobs <= MOST_JOBS:
            raise InputError("jobs", jobs, f"1 to {MOST_JOBS} processes", "Give another number.")
        self.uncertain = uncertain
        self._here, self._speeds = Together(uncertain, speeds=speeds), speeds
        self.keys, self.speed_keys = self._here.keys, self._here.speed_keys
        self.refused: dict[str, int] = {}
        self._told: Callable[[int, int], None] = _nobody
        self._lock = threading.Lock()
        self._pool: Any = None
        if jobs > 1:
            self._pool = _pool(jobs, uncertain)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def plain(self, told: Callable[[int, int], None] | None = None) -> Shared:
        """Return an evaluator of the margins alone, by the same processes.

        Parameters
        ----------
        told : callable, optional
            Told after each piece of a call how many of its samples are done, and of how many.

        Returns
        -------
        Shared
            Without placard speeds; it counts refusals with this one.
        """
        made = copy.copy(self)
        made._here, made._speeds = Together(self.uncertain), False  # noqa: SLF001 - of this class
        made.speed_keys, made._told = [], told or _nobody  # noqa: SLF001 - as above
        return made

    def __call__(self, values: Mapping[str, Floats]) -> Piece:
        """Evaluate samples.

        Parameters
        ----------
        values : mapping of str to ndarray, shape (sample,)
            By place, in SI.

        Returns
        -------
        dict of str to ndarray, shape (sample,)
            As `linkcalc.study.samples.Together` returns them.
        """
        number = len(next(iter(values.values())))
        size = SHARED if self._pool else AT_ONCE
        pieces = [
            {name: at[start : start + size] for name, at in values.items()}
            for start in range(0, number, size)
        ]
        found = []
        for one in self._in_processes(pieces) if self._pool else self._in_this(pieces):
            found.append(one)
            self._told(min(len(found) * size, number), number)
        with self._lock:
            for _, refused in found:
                for words, count in refused.items():
                    self.refused[words] = self.refused.get(words, 0) + count
        return {name: np.concatenate([values[name] for values, _ in found]) for name in found[0][0]}

    def _in_this(self, pieces: list[Piece]) -> Iterator[tuple[Piece, dict[str, int]]]:
        for piece in pieces:
            yield _evaluated(self._here, piece)

    def _in_processes(self, pieces: list[Piece]) -> Iterator[tuple[Piece, dict[str, int]]]:
        futures = [self._pool.submit(_work, piece, self._speeds) for piece in pieces]
        try:
            for future in futures:
                yield future.result()
        finally:
            for future in futures:
                future.cancel()  # of no use to anybody after an exception


def _evaluated(evaluator: Together, piece: Piece) -> tuple[Piece, dict[str, int]]:
    """Return what a piece gives, and why samples of it were refused."""
    evaluator.refused.clear()
    return evaluator(piece), dict(evaluator.refused)


_OF_THIS_PROCESS: list[UncertainAircraft] = []


def _pool(jobs: int, uncertain: UncertainAircraft) -> Any:
    """Return processes that the keyboard does not stop: it stops this one, which ends them."""
    import multiprocessing  # noqa: PLC0415 - one process needs none of it
    import signal  # noqa: PLC0415 - as above
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - as above

    context = multiprocessing.get_context("spawn")  # the same everywhere, and no threads are copied
    pool = ProcessPoolExecutor(jobs, context, _begin, (uncertain,))
    main = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, signal.SIG_IGN) if main else None
    try:
        for _ in range(jobs):  # each starts one; what is ignored here they ignore for life
            pool.submit(len, ())
    finally:
        if main:
            signal.signal(signal.SIGINT, before)
    return pool


def _begin(uncertain: UncertainAircraft) -> None:
    _OF_THIS_PROCESS.append(uncertain)


@functools.cache
def _evaluator(speeds: bool) -> Together:  # noqa: FBT001 - a key
    return Together(_OF_THIS_PROCESS[0], speeds=speeds)


def _work(piece: Piece, speeds: bool) -> tuple[Piece, dict[str, int]]:  # noqa: FBT001 - a pool passes no names
    return _evaluated(_evaluator(speeds), piece)
