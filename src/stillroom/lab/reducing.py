"""Bring every curve of the lab up to date: find what is missing, work it out, keep it."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Executor
from dataclasses import dataclass

from stillroom.lab.executor import Progress, each_done, silent
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.lab.work import CurveTask, work
from stillroom.store import results
from stillroom.store.lab import Lab


@dataclass(frozen=True)
class Reduced:
    """What a reduction did.

    Parameters
    ----------
    curves : number of curves in the lab. made : how many were worked out now.
    failed : {subject: why} of the curves that could not be had.
    unplaced : {file: why} of the files that belong to no curve.
    """

    curves: int
    made: int
    failed: dict[str, str]
    unplaced: dict[str, str]


def missing(lab: Lab, graph: Graph) -> list[CurveNode]:
    """The curves that have no result for their key."""
    return _without_result(lab, graph.curves)


def _without_result(lab: Lab, nodes: Iterable[CurveNode]) -> list[CurveNode]:
    wanted = list(nodes)
    there = results.known(lab.database, lab.path, [each.key for each in wanted])
    return [each for each in wanted if each.key not in there]


def work_out(
    lab: Lab,
    nodes: Iterable[CurveNode],
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> int:
    """Work out those of some curves that are missing; how many they were."""
    wanted = _without_result(lab, nodes)
    progress("curves", 0, len(wanted))
    tasks = [CurveTask(lab.path, each) for each in wanted]
    for done, result in enumerate(each_done(work, tasks, workers=workers, executor=executor), start=1):
        lab.put_results([result])
        progress("curves", done, len(wanted))
    return len(wanted)


def reduce_lab(
    lab: Lab,
    graph: Graph,
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> Reduced:
    """Work out what is missing. Each result is kept as soon as it is there."""
    made = work_out(lab, graph.curves, workers=workers, progress=progress, executor=executor)
    return Reduced(
        curves=len(graph.curves),
        made=made,
        failed=_failed(lab, graph),
        unplaced={placed.taken.words: why for placed, why in graph.unplaced},
    )


def _failed(lab: Lab, graph: Graph) -> dict[str, str]:
    subjects = {each.key: each.subject for each in graph.curves}
    return {subjects[key]: why for key, why in results.failures(lab.database, subjects).items()}
