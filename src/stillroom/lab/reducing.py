"""Bring every curve, sound and heat of the lab up to date: find what is missing, work it out, keep it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TypeVar

from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.airflow.work import CurveTask, work
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.control.work import ControlTask, control_work
from stillroom.lab.executor import Progress, each_done, shared_workers, silent
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.heat.work import HeatTask, heat_work
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.lab.sound.work import RecordingTask, SoundTask, recording_work, sound_work
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

Node = TypeVar("Node", CurveNode, RecordingNode, SoundNode, HeatNode, ControlNode)
Task = TypeVar("Task")


@dataclass(frozen=True)
class Reduced:
    """What a reduction did.

    Parameters
    ----------
    curves : number of curves in the lab. made : how many were worked out now.
    failed : {subject: why} of the curves that could not be had.
    unplaced : {file: why} of the files that belong to no curve.
    sounds, sounds_made : mountings whose sound was recorded. recordings, recordings_made : what they rest on.
    heats, heats_made : mountings on heat rigs. controls, controls_made : mountings whose control was tested.
    """

    curves: int
    made: int
    failed: dict[str, str]
    unplaced: dict[str, str]
    sounds: int = 0
    sounds_made: int = 0
    recordings: int = 0
    recordings_made: int = 0
    heats: int = 0
    heats_made: int = 0
    controls: int = 0
    controls_made: int = 0


def missing(lab: Lab, graph: Graph) -> list[CurveNode | SoundNode | HeatNode | ControlNode]:
    """The curves, sounds, heats and tests of the control that have no result for their key."""
    heats = _without_result(lab, graph.heats)
    controls = _without_result(lab, graph.controls)
    return [*_without_result(lab, graph.curves), *missing_sounds(lab, graph), *heats, *controls]


def missing_sounds(lab: Lab, graph: Graph) -> list[SoundNode]:
    """The sounds that have no result for their key, or whose recordings have none."""
    without = {each.key for each in _without_result(lab, _used(graph.sounds))}
    lacking = {each.subject for each in _without_result(lab, graph.sounds)}
    return [
        each
        for each in graph.sounds
        if each.subject in lacking or not without.isdisjoint(one.key for one in each.members)
    ]


def _used(sounds: Iterable[SoundNode]) -> list[RecordingNode]:
    """The recordings that sounds rest on, each analysis once."""
    return list({one.key: one for each in sounds for one in each.members}.values())


def _without_result(lab: Lab, nodes: Iterable[Node]) -> list[Node]:
    wanted = list(nodes)
    there = results.known(lab.database, lab.path, [each.key for each in wanted])
    return [each for each in wanted if each.key not in there]


@dataclass(frozen=True)
class Reducing:
    """Works out what is missing in a lab; each result is kept as soon as it is there.

    Parameters
    ----------
    lab : whose it is. workers : how many processes; 0 for the usual number, 1 for this process.
    progress : told how far it is. executor : another executor (a cluster's, say) to do it.
    """

    lab: Lab
    workers: int = 0
    progress: Progress = silent
    executor: Executor | None = None

    def curves(self, nodes: Iterable[CurveNode]) -> int:
        """Work out those of some curves that are missing; how many they were."""
        wanted = _without_result(self.lab, nodes)
        if not wanted:
            self.progress("curves", 0, 0)  # a lab that is up to date says so
        return self._done("curves", work, [CurveTask(self.lab.path, each) for each in wanted])

    def sounds(self, nodes: Sequence[SoundNode]) -> tuple[int, int]:
        """Work out those of some sounds that are missing, their recordings first; how many recordings and sounds."""
        recordings = _without_result(self.lab, _used(nodes))
        heard = [RecordingTask(self.lab.path, each) for each in recordings]
        made = self._done("recordings", recording_work, heard)
        wanted = _without_result(self.lab, nodes)
        tasks = [SoundTask(self.lab.path, each, _analyses(self.lab, each)) for each in wanted]
        return made, self._done("sounds", sound_work, tasks)

    def heats(self, nodes: Iterable[HeatNode]) -> int:
        """Work out those of some heats that are missing; how many they were."""
        wanted = _without_result(self.lab, nodes)
        return self._done("heat runs", heat_work, [HeatTask(self.lab.path, each) for each in wanted])

    def controls(self, nodes: Iterable[ControlNode]) -> int:
        """Work out those of some tests of the control that are missing; how many they were."""
        wanted = [ControlTask(self.lab.path, each) for each in _without_result(self.lab, nodes)]
        return self._done("tests of the control", control_work, wanted)

    def _done(self, what: str, work_of: Callable[[Task], Result], tasks: Sequence[Task]) -> int:
        if tasks:
            self.progress(what, 0, len(tasks))
        outcomes = each_done(work_of, tasks, workers=self.workers, executor=self.executor)
        for done, result in enumerate(outcomes, start=1):
            self.lab.put_results([result])
            self.progress(what, done, len(tasks))
        return len(tasks)


def reduce_lab(
    lab: Lab,
    graph: Graph,
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> Reduced:
    """Work out what is missing. Each result is kept as soon as it is there."""
    used, reducing = _used(graph.sounds), Reducing(lab, workers, progress, executor)
    with shared_workers():
        made = reducing.curves(graph.curves)
        heard, sounds = reducing.sounds(graph.sounds)
        heats = reducing.heats(graph.heats)
        controls = reducing.controls(graph.controls)
    return Reduced(
        curves=len(graph.curves),
        made=made,
        failed=_failed(lab, graph, used),
        unplaced={placed.taken.words: why for placed, why in graph.unplaced},
        sounds=len(graph.sounds),
        sounds_made=sounds,
        recordings=len(used),
        recordings_made=heard,
        heats=len(graph.heats),
        heats_made=heats,
        controls=len(graph.controls),
        controls_made=controls,
    )


def _analyses(lab: Lab, node: SoundNode) -> dict[str, Result]:
    found = {each.key: results.get(lab.database, each.key) for each in node.members}
    return {key: each for key, each in found.items() if each is not None}


def _failed(lab: Lab, graph: Graph, used: Iterable[RecordingNode]) -> dict[str, str]:
    """{subject: why} of curves, sounds, recordings, heats and tests of the control that could not be had."""
    subjects = {each.key: each.subject for each in used}
    subjects |= {each.key: f"control of {each.subject}" for each in graph.controls}
    subjects |= {each.key: f"heat of {each.subject}" for each in graph.heats}
    subjects |= {each.key: f"sound of {each.subject}" for each in graph.sounds}
    subjects |= {each.key: each.subject for each in graph.curves}
    return {subjects[key]: why for key, why in results.failures(lab.database, subjects).items()}
