"""What is said of a heat log right after it came in: what the file holds, and what its mounting's steps gave."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from stillroom import wording
from stillroom.core.characteristic import Part
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.book import Placed
from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.intake.checked import Checked, Word, by_findings
from stillroom.lab.intake.heat_parts import log_words, span_words
from stillroom.lab.intake.resting import resting_on, with_last
from stillroom.lab.recipes import Graph
from stillroom.lab.reducing import Reducing
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.quality import Finding
from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source
from stillroom.store.lab import Lab

FAR = 0.5
"""A rise further than this from the last mounting's is to be looked at, whatever the rules say [K]: about three times
what two mountings of one fan differ by (common practice)."""


def warm(graph: Graph, runs: Collection[str], reducing: Reducing) -> dict[str, HeatNode]:
    """Work out the heat of the mountings that some runs belong to, and of those to compare them with.

    Returns
    -------
    {run: a mounting that rests on it}, in the order of the graph.
    """
    holding = resting_on(graph.heats, runs)
    reducing.heats(with_last(holding, lambda node: last_warmed(graph, node)))
    return holding


def check_heats(
    lab: Lab, graph: Graph, holding: Mapping[str, HeatNode], found: Sequence[Finding], runs: Collection[str]
) -> list[Checked]:
    """One word for each heat log that came in.

    Parameters
    ----------
    holding : what `warm` gave. found : the findings that nobody has decided. runs : those that came in.
    """
    said = [_checked(lab, graph, node, run, found) for run, node in holding.items()]
    lonely = [each for each, _ in graph.unplaced if each.run in runs and is_beside(each)]
    baths = [each for each in _baths(graph) if each.run in runs and each.run not in holding]
    return said + [
        Checked(each, Word.FIRST, f"{_file_words(lab, each)}; no run of a fan belongs to it yet")
        for each in (*lonely, *baths)
    ]


def is_beside(placed: Placed) -> bool:
    """Whether a log lies beside those of a fan: it may come in before them."""
    return placed.is_heat and not placed.fan


def _baths(graph: Graph) -> list[Placed]:
    return [each.run.placed for each in graph.logs if each.run.placed.is_bath]


def _checked(lab: Lab, graph: Graph, node: HeatNode, run: str, found: Sequence[Finding]) -> Checked:
    placed = next(each.run.placed for each in node.members if each.name == run)
    subjects = {f"run:{run}"} | ({f"mounting:{node.subject}"} if run == _main(node) else set())
    of_mounting = [each for each in found if each.subject in subjects]
    own = tuple(each for each in of_mounting if not each.mountings or node.blocked_as in each.mountings)
    file = _file_words(lab, placed)
    word, reason = by_findings(own)
    if word is not None:
        return Checked(placed, word, f"{file}; {wording.in_lab_units(reason, lab.settings.units)}", own)
    if run != _main(node):
        beside = "offsets of its probes" if placed.is_bath else "beside"
        return Checked(placed, Word.FIRST, f"{file}; {beside}, for {node.subject}", own)
    try:
        heat = load_heat(lab.path, result_of(lab, node))
        return replace(_by_steps(lab, graph, node, placed, heat, file), findings=own)
    except LabDamaged:
        raise
    except StillroomError as error:
        return Checked(placed, Word.STOP, f"{file}; not used: {error.sentence()}", own)


def _main(node: HeatNode) -> str:
    """The log of a mounting of which its steps are said: the first with the hot probe."""
    hot = (each.name for each in node.logs if "hot_temperature" in each.run.placed.taken.quantities)
    return next(hot, node.logs[0].name)


def _file_words(lab: Lab, placed: Placed) -> str:
    """What a log's file holds; "" where it can't be read any more."""
    taken = placed.taken
    try:
        recording = read(Source.of_path(lab.path / taken.place, taken.file), Layout.from_dict(taken.layout))
        return log_words(recording)
    except LabDamaged:
        raise
    except StillroomError as error:
        return error.sentence()


def _by_steps(
    lab: Lab, graph: Graph, node: HeatNode, placed: Placed, heat: HeatMounting, file: str
) -> Checked:
    told = f"{file}; {steps_words(heat.steps)}"
    before = last_warmed(graph, node)
    if not heat.results:
        return Checked(placed, Word.LOOK, told)
    if before is None:
        return Checked(placed, Word.FIRST, told)
    away = departures(heat, load_heat(lab.path, result_of(lab, before)))
    if not away.size:
        return Checked(placed, Word.FIRST, f"{told}; at no speed of mounting {before.subject}")
    size = float(np.sqrt(np.mean(away**2)))
    word = Word.LOOK if size > FAR else Word.AGREES
    side = "above" if float(np.mean(away)) > 0.0 else "below"
    return Checked(placed, word, f"{told}; {size:.2f} K {side} mounting {before.subject}", away=size)


def departures(heat: HeatMounting, other: HeatMounting) -> np.ndarray:
    """How far the rises of one mounting lie above the curve of another, at the speeds that it reaches [K]."""
    if other.curve is None:
        return np.zeros(0)
    low, high = other.curve.reach
    used = [each for each in heat.results if each.speed is not None and low <= each.speed <= high]
    if not used:
        return np.zeros(0)
    speeds = np.array([each.speed for each in used], dtype=np.float64)
    rises = np.array([each.delta_nominal for each in used])
    return np.asarray(rises - other.curve.rows(Part.CENTRAL, (), speeds)[0])


def steps_words(steps: Sequence[HeatStep]) -> str:
    """The steps of a mounting in a few words: each up to three, else their reach; and which are no steady ones."""
    if len(steps) <= 3:
        return "; ".join(_step(each) for each in steps) or "no step found"
    results = [each for each in steps if each.is_result]
    words = [wording.plural(len(steps), "step")]
    if results:
        low, high = (f(each.delta_nominal for each in results) for f in (min, max))
        words.append(f"ΔT {low:.1f} to {high:.1f} K")
    for how in (StepHow.FORECAST, StepHow.NOT_STEADY):
        if count := sum(each.how is how for each in steps):
            words.append(f"{count} {how.value}")
    return ", ".join(words)


def _step(step: HeatStep) -> str:
    at = f" at {speed_in_words(step.speed)}" if step.speed is not None else ""
    since = (step.steadiness or {}).get("since")
    if step.how is StepHow.STEADY:
        steady = (
            f", steady after {span_words(since - step.first)}"
            if since is not None and since > step.first
            else ""
        )
        return f"ΔT {step.delta_nominal:.2f} K{at}{steady}"
    if step.how is StepHow.FORECAST:
        return f"ΔT {step.delta_nominal:.2f} K{at}, forecast after {span_words(step.last - step.first)}"
    return f"settling{at}: {span_words(step.last - step.first)} is too short for a result"


def last_warmed(graph: Graph, node: HeatNode) -> HeatNode | None:
    """The mounting of the same fan on the same rig and radiator that was measured last before this one; else None."""
    earlier = [
        each
        for each in graph.heating(node.fan)
        if each.subject != node.subject
        and (each.rig, each.radiator) == (node.rig, node.radiator)
        and _started(each) <= _started(node)
    ]
    return max(earlier, key=lambda each: (_started(each), each.subject), default=None)


def _started(node: HeatNode) -> str:
    return min(each.run.placed.moment for each in node.logs)
