"""Who works it out: this process for a few tasks, worker processes (spawn) for many, or another executor.

Starting a worker takes seconds of processor time, so work that belongs together shares its workers
(`shared_workers`).

Linear algebra uses one thread (see `stillroom/__init__`), so that the same tasks give the same bits on any
number of workers. What is finished is written at once, each in a transaction of its own: stopped at any
moment, the next run goes on where this one ended.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import connection
from typing import TypeVar

from stillroom.errors import NotPossible

FEW = 3
"""Up to this many tasks are done in this process: starting workers takes longer."""

Task = TypeVar("Task")
Outcome = TypeVar("Outcome")
Progress = Callable[[str, int, int], None]
"""Told of progress: what is being done, how many are done, how many there are."""


def silent(_what: str, _done: int, _all: int) -> None:
    """The progress that nobody looks at."""


class _Shared:
    """The workers that all work within `shared_workers` has in common; none before the first need."""

    depth = 0
    pool: ProcessPoolExecutor | None = None


@contextmanager
def shared_workers() -> Iterator[None]:
    """Within it, all that is worked out by the usual number of workers is worked out by the same ones.

    They are started at the first need and end with the outermost of these.
    """
    _Shared.depth += 1
    try:
        yield
    finally:
        _Shared.depth -= 1
        if not _Shared.depth:
            pool, _Shared.pool = _Shared.pool, None
            if pool is not None:
                pool.shutdown(cancel_futures=True)


def start_workers() -> None:
    """Start the shared workers before they are needed, where they are shared: they load while this process works."""
    if _Shared.depth and _Shared.pool is None and usual_workers() > 1:
        _Shared.pool = _pool(usual_workers())
        for _ in range(usual_workers()):
            _Shared.pool.submit(_loaded)


def _loaded() -> None:
    """Load what work needs."""
    importlib.import_module("stillroom.lab.sound.work")
    importlib.import_module("stillroom.lab.valuing")
    importlib.import_module("scipy.signal")  # SciPy loads its parts at their first use


def usual_workers() -> int:
    """One worker a core, at most eight."""
    return min(8, os.cpu_count() or 1)


def each_done(
    function: Callable[[Task], Outcome],
    tasks: Sequence[Task],
    *,
    workers: int = 0,
    executor: Executor | None = None,
) -> Iterator[Outcome]:
    """The outcomes of all tasks, as they are finished.

    Parameters
    ----------
    function : a module's own function, so that it can be sent to a process. tasks : picklable.
    workers : how many processes; 0 for the usual number, 1 for this process.
    executor : another executor (a cluster's, say) to do it.
    """
    count = workers or usual_workers()
    few = 1 if _Shared.pool is not None and not workers else FEW
    if executor is not None:
        yield from _through(executor, function, tasks)
    elif count == 1 or len(tasks) <= few:
        yield from map(function, tasks)
    elif _Shared.depth and not workers:
        start_workers()
        assert _Shared.pool is not None
        yield from _through(_Shared.pool, function, tasks)
    else:
        with _pool(min(count, len(tasks))) as pool:
            yield from _through(pool, function, tasks)


def _pool(count: int) -> ProcessPoolExecutor:
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(count, mp_context=context, initializer=_one_of_many)


def are_started() -> bool:
    """Whether shared workers run, so that a few tasks more cost no start."""
    return _Shared.pool is not None


def one_worker() -> ProcessPoolExecutor:
    """A single worker process beside this one, that an interrupt from the keyboard leaves alone."""
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=context, initializer=_beside_parent)


def _one_of_many() -> None:
    """Let a worker end without words at an interrupt from the keyboard: this process says what there is to say."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    _end_with_parent()


def _beside_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _end_with_parent()


def _end_with_parent() -> None:
    """Let a worker end when the process that started it is gone, even if that was killed."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _through(pool: Executor, function: Callable[[Task], Outcome], tasks: Iterable[Task]) -> Iterator[Outcome]:
    futures = [pool.submit(function, each) for each in tasks]
    try:
        for future in as_completed(futures):
            yield future.result()
    except BrokenProcessPool:
        _Shared.pool = None if pool is _Shared.pool else _Shared.pool
        raise NotPossible(
            "work in processes",
            found="a worker that was ended from outside (out of memory?)",
            expected="another try; what is done is kept, --workers 1 needs least memory",
        ) from None
    finally:
        for future in futures:
            future.cancel()
