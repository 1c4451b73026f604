"""Blocks of a study worked one after another, in several processes, or on a cluster."""

from __future__ import annotations

import collections
from typing import TYPE_CHECKING, Any, NamedTuple, Self

from linkcalc.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

__all__ = ["Crew", "Workers", "worked"]


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
        import multiprocessing  # noqa: PLC0415 - one process needs none of it
        from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - as above

        if self._workers.cluster:
            import distributed  # noqa: PLC0415 - an extra

            library: Any = distributed
            named = isinstance(self._workers.cluster, str)
            self._client = library.Client(self._workers.cluster) if named else self._workers.cluster
        elif self._workers.jobs > 1:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self._workers.jobs, mp_context=context)
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


def _in_processes(
    function: Callable[..., Any], tasks: Iterable[tuple[Any, ...]], jobs: int
) -> Iterator[tuple[int, Any]]:
    import multiprocessing  # noqa: PLC0415 - one process needs none of it
    from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait  # noqa: PLC0415

    context = multiprocessing.get_context("spawn")  # the same everywhere, and no threads are copied
    with ProcessPoolExecutor(jobs, mp_context=context) as pool:
        places: dict[Any, int] = {}
        try:
            for place, task in enumerate(tasks):
                places[pool.submit(function, *task)] = place
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

        def submit() -> None:
            place, task = waiting.popleft()
            future = client.submit(function, *task, pure=False)
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
