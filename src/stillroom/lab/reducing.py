"""Bring every curve, sound and heat of the lab up to date: find what is missing, work it out, keep it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TypeVar

from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.control.work import ControlTask, control_work
from stillroom.lab.executor import Progress, each_done, shared_workers, silent
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.heat.work import HeatTask, heat_work
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.lab.sound.work import RecordingTask, SoundTask, recording_work, sound_work
from stillroom.lab.work import CurveTask, work
from stillroom.store import results
from stillroom.store.lab import Lab

Node = TypeVar("Node", CurveNode, RecordingNode, SoundNode, HeatNode, ControlNode)


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
    used = _used(graph.sounds)
    with shared_workers():
        made = work_out(lab, graph.curves, workers=workers, progress=progress, executor=executor)
        heard = work_out_sounds(lab, graph.sounds, workers=workers, progress=progress, executor=executor)
        heated = work_out_heats(lab, graph.heats, workers=workers, progress=progress, executor=executor)
        tested = work_out_controls(lab, graph.controls, workers=workers, progress=progress, executor=executor)
    return Reduced(
        curves=len(graph.curves),
        made=made,
        failed=_failed(lab, graph, used),
        unplaced={placed.taken.words: why for placed, why in graph.unplaced},
        sounds=len(graph.sounds),
        sounds_made=heard[1],
        recordings=len(used),
        recordings_made=heard[0],
        heats=len(graph.heats),
        heats_made=heated,
        controls=len(graph.controls),
        controls_made=tested,
    )


def work_out_sounds(
    lab: Lab,
    sounds: Sequence[SoundNode],
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> tuple[int, int]:
    """Work out those of some sounds that are missing, their recordings first; how many recordings and sounds."""
    recordings = _without_result(lab, _used(sounds))
    if recordings:
        progress("recordings", 0, len(recordings))
    tasks = [RecordingTask(lab.path, each) for each in recordings]
    for done, result in enumerate(
        each_done(recording_work, tasks, workers=workers, executor=executor), start=1
    ):
        lab.put_results([result])
        progress("recordings", done, len(recordings))
    wanted = _without_result(lab, sounds)
    if wanted:
        progress("sounds", 0, len(wanted))
    of_sounds = [SoundTask(lab.path, each, _analyses(lab, each)) for each in wanted]
    for done, result in enumerate(
        each_done(sound_work, of_sounds, workers=workers, executor=executor), start=1
    ):
        lab.put_results([result])
        progress("sounds", done, len(wanted))
    return len(recordings), len(wanted)


def work_out_heats(
    lab: Lab,
    heats: Sequence[HeatNode],
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> int:
    """Work out those of some heats that are missing; how many they were."""
    wanted = _without_result(lab, heats)
    if wanted:
        progress("heat runs", 0, len(wanted))
    tasks = [HeatTask(lab.path, each) for each in wanted]
    for done, result in enumerate(each_done(heat_work, tasks, workers=workers, executor=executor), start=1):
        lab.put_results([result])
        progress("heat runs", done, len(wanted))
    return len(wanted)


def work_out_controls(
    lab: Lab,
    controls: Sequence[ControlNode],
    *,
    workers: int = 0,
    progress: Progress = silent,
    executor: Executor | None = None,
) -> int:
    """Work out those of some tests of the control that are missing; how many they were."""
    wanted = _without_result(lab, controls)
    if wanted:
        progress("tests of the control", 0, len(wanted))
    tasks = [ControlTask(lab.path, each) for each in wanted]
    for done, result in enumerate(each_done(control_work, tasks, workers=workers, executor=executor), start=1):
        lab.put_results([result])
        progress("tests of the control", done, len(wanted))
    return len(wanted)


def _analyses(lab: Lab, node: SoundNode) -> dict[str, results.Result]:
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
