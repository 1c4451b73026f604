"""Blocks of a study worked one after another, in several processes, or on a cluster."""

from __future__ import annotations

import collections
import os
from typing import TYPE_CHECKING, Any, NamedTuple, Self

import numpy as np

from linkcalc.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

__all__ = ["Crew", "Workers", "call_in", "worked"]

_COPIED = "forkserver"
_KEPT = 2**24  # bytes, twice of which hold all that a block has in hand


class Workers(NamedTuple):
    """Who works.

    Attributes
    ----------
    jobs : int
        Processes of this machine; 1 for this process alone.
    cluster : str or object
        Address of a dask scheduler, or a dask client; empty for none.
    """

    jobs: int = 1
    cluster: Any = ""


def call_in(workers: Workers, module: str) -> None:
    """Have processes prepared while there is something else to do, if any will be needed.

    Parameters
    ----------
    workers : Workers
        Who will work.
    module : str
        What they will work with.

    Notes
    -----
    Where the system can, one process imports the module and waits; workers are copies of it,
    now and whenever this interpreter asks again.
    """
    if workers.cluster or workers.jobs <= 1:
        return
    context = _context()
    if context.get_start_method() == _COPIED:
        from multiprocessing import forkserver  # noqa: PLC0415 - one process needs none of it

        context.set_forkserver_preload([module])
        forkserver.ensure_running()


def _context() -> Any:
    """Return how processes are started: never as copies of this one, with the threads it may have."""
    import multiprocessing  # noqa: PLC0415 - one process needs none of it

    able = multiprocessing.get_all_start_methods()
    return multiprocessing.get_context(_COPIED if _COPIED in able else "spawn")


def worked(
    function: Callable[..., Any], tasks: Iterable[tuple[Any, ...]], workers: Workers
) -> Iterator[tuple[int, Any]]:
    """Work tasks, and hand out results as they come.

    Parameters
    ----------
    function : callable
        Of a module, so that other processes find it; it computes the same wherever it runs.
    tasks : iterable of tuple
        Its arguments. No more of them are asked for than are being worked.
    workers : Workers
        Who works.

    Yields
    ------
    tuple
        Place of a task, and its result. In order with one process.

    Raises
    ------
    InputError
        The number of jobs is not one or more.
    """
    if workers.jobs < 1:
        raise InputError("jobs", repr(workers.jobs), "one or more", "Give a number of processes.")
    if workers.cluster:
        yield from _on_cluster(function, tasks, workers.cluster)
    elif workers.jobs == 1:
        _keep_freed()
        for place, task in enumerate(tasks):
            yield place, function(*task)
    else:
        yield from _in_processes(function, tasks, workers.jobs)


class Crew:
    """Workers that stay ready between one batch of tasks and the next, as a context.

    Parameters
    ----------
    workers : Workers
        Who works.

    Raises
    ------
    InputError
        The number of jobs is not one or more.
    """

    def __init__(self, workers: Workers) -> None:
        if workers.jobs < 1:
            expected = "one or more"
            raise InputError("jobs", repr(workers.jobs), expected, "Give a number of processes.")
        self._workers = workers
        self._pool: Any = None
        self._client: Any = None

    def __enter__(self) -> Self:
        """Make the workers ready."""
        from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - one process needs none

        if self._workers.cluster:
            import distributed  # noqa: PLC0415 - an extra

            library: Any = distributed
            named = isinstance(self._workers.cluster, str)
            self._client = library.Client(self._workers.cluster) if named else self._workers.cluster
        elif self._workers.jobs > 1:
            self._pool = ProcessPoolExecutor(
                self._workers.jobs, _context(), _at_home, (dict(os.environ),)
            )
        return self

    def __exit__(self, *_: object) -> None:
        """Let them go."""
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
        if self._client is not None and isinstance(self._workers.cluster, str):
            self._client.close()

    def each(self, function: Callable[..., Any], tasks: Sequence[tuple[Any, ...]]) -> list[Any]:
        """Work some tasks.

        Parameters
        ----------
        function : callable
            Of a module, so that other processes find it.
        tasks : sequence of tuple
            Its arguments.

        Returns
        -------
        list
            Results in the order of the tasks.
        """
        if self._client is not None:
            futures = [self._client.submit(function, *task, pure=False) for task in tasks]
            return list(self._client.gather(futures))
        if self._pool is not None:
            return [each.result() for each in [self._pool.submit(function, *t) for t in tasks]]
        return [function(*task) for task in tasks]


def _keep_freed() -> None:
    """Have the C library keep what a block frees for the next one.

    glibc takes the largest array that was ever mapped and freed for what will be wanted again,
    and from then on hands memory back only beyond twice as much. Before that a third of the time
    of a block goes to fresh pages. Elsewhere this changes nothing.
    """
    np.empty(_KEPT, dtype=np.uint8)


_held: Callable[..., Any] | None = None  # what a process works for, given to it once


def _hold(function: Callable[..., Any], environment: dict[str, str]) -> None:
    global _held  # noqa: PLW0603 - a process has no other place for it
    _held = function
    _keep_freed()
    _at_home(environment)


def _at_home(environment: dict[str, str]) -> None:
    """Give a process the environment of today: it may be a copy of one that was prepared before."""
    os.environ.clear()
    os.environ.update(environment)


def _work(*task: Any) -> Any:
    if _held is None:
        raise RuntimeError("a process that was given nothing to work for")
    return _held(*task)


def _in_processes(
    function: Callable[..., Any], tasks: Iterable[tuple[Any, ...]], jobs: int
) -> Iterator[tuple[int, Any]]:
    from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait  # noqa: PLC0415

    with ProcessPoolExecutor(jobs, _context(), _hold, (function, dict(os.environ))) as pool:
        places: dict[Any, int] = {}
        try:
            for place, task in enumerate(tasks):
                places[pool.submit(_work, *task)] = place
                if len(places) > 2 * jobs:
                    done, _ = wait(places, return_when=FIRST_COMPLETED)
                    for future in done:
                        yield places.pop(future), future.result()
            while places:
                done, _ = wait(places, return_when=FIRST_COMPLETED)
                for future in done:
                    yield places.pop(future), future.result()
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _called(function: Callable[..., Any], *task: Any) -> Any:
    return function(*task)


def _on_cluster(
    function: Callable[..., Any], tasks: Iterable[tuple[Any, ...]], cluster: Any
) -> Iterator[tuple[int, Any]]:
    import distributed  # noqa: PLC0415 - an extra

    library: Any = distributed  # it brings no types
    client = library.Client(cluster) if isinstance(cluster, str) else cluster
    try:
        waiting = collections.deque(enumerate(tasks))
        at_once = 2 * max(1, sum(client.ncores().values()))
        running = library.as_completed()
        places: dict[str, int] = {}
        held = client.scatter(function, broadcast=True)  # what it brings travels once

        def submit() -> None:
            place, task = waiting.popleft()
            future = client.submit(_called, held, *task, pure=False)
            places[future.key] = place
            running.add(future)

        for _ in range(min(at_once, len(waiting))):
            submit()
        for future in running:
            yield places.pop(future.key), future.result()
            if waiting:
                submit()
    finally:
        if isinstance(cluster, str):
            client.close()
