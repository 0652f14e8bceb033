"""Who works it out: this process for a few tasks, worker processes (spawn) for many, or another executor.

Linear algebra uses one thread (see `stillroom/__init__`), so that the same tasks give the same bits on any
number of workers. What is finished is written at once, each in a transaction of its own: stopped at any
moment, the next run goes on where this one ended.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
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
    if executor is not None:
        yield from _through(executor, function, tasks)
    elif count == 1 or len(tasks) <= FEW:
        yield from map(function, tasks)
    else:
        context = multiprocessing.get_context("spawn")
        count = min(count, len(tasks))
        with ProcessPoolExecutor(count, mp_context=context, initializer=_end_with_parent) as pool:
            yield from _through(pool, function, tasks)


def one_worker() -> ProcessPoolExecutor:
    """A single worker process beside this one, that an interrupt from the keyboard leaves alone."""
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=context, initializer=_beside_parent)


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
        raise NotPossible(
            "work in processes",
            found="a worker that was ended from outside (out of memory?)",
            expected="another try; what is done is kept, --workers 1 needs least memory",
        ) from None
    finally:
        for future in futures:
            future.cancel()
