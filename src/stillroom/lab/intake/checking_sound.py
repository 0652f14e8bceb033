"""What is said of a sound recording right after it came in: its level at its speed beside the last mounting's curve."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.book import Placed
from stillroom.lab.curves import result_of
from stillroom.lab.intake.checked import Checked, Word, by_findings
from stillroom.lab.intake.resting import resting_on, with_last
from stillroom.lab.recipes import Graph
from stillroom.lab.reducing import Reducing
from stillroom.lab.sound.level_words import level_words, speed_in_words
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.sound.nodes import SoundNode
from stillroom.quality import Finding
from stillroom.readers.words.recordings import recorded_in
from stillroom.store import results
from stillroom.store.lab import Lab

FAR = 1.5
"""A level further than this from the last mounting's is to be looked at, whatever the rules say [dB]: about twice
what two samples of one fan differ by (common practice)."""


def hear(graph: Graph, runs: Collection[str], reducing: Reducing) -> dict[str, SoundNode]:
    """Work out the sound of the mountings that some runs belong to, and of those to compare them with.

    Parameters
    ----------
    runs : short identities of recordings and tables of levels; others are passed over.

    Returns
    -------
    {run: a mounting that rests on it}, in the order of the graph: dwells, ramps, calibrators and backgrounds.
    """
    holding = resting_on(graph.sounds, runs)
    reducing.sounds(with_last(holding, lambda node: last_heard(graph, node)))
    return holding


def check_sounds(
    lab: Lab, graph: Graph, holding: Mapping[str, SoundNode], found: Sequence[Finding], runs: Collection[str]
) -> list[Checked]:
    """One word for each run of sound that was worked out, or that belongs to no mounting yet.

    Parameters
    ----------
    holding : what `hear` gave. found : the findings that nobody has decided. runs : those that came in.
    """
    said = [
        _checked(lab, graph, node, run, _of_run(run, node, holding, found)) for run, node in holding.items()
    ]
    alone = [each for each in graph.recordings if each.name in runs and each.name not in holding]
    return said + [_alone(each.run.placed, graph) for each in alone]


def _alone(placed: Placed, graph: Graph) -> Checked:
    """The word for a recording that no mounting rests on: a calibrator before the fan's, or one that is left out."""
    if any(each.name == placed.run for node in graph.sounds for each in node.left_out):
        return Checked(placed, Word.STOP, "not used: excluded by a decision")
    return Checked(placed, Word.FIRST, "no recording of a fan belongs to it yet")


@dataclass(frozen=True)
class _Own:
    """The findings that are said of one run, and that which stops its mounting and is said of another; else None."""

    findings: tuple[Finding, ...]
    elsewhere: Finding | None = None


def _of_run(run: str, node: SoundNode, holding: Mapping[str, SoundNode], found: Sequence[Finding]) -> _Own:
    """What is said of a run: its own findings; and those of its mounting, each once, of the dwell or the ramp that it
    names where that came in too, else of the first that did.
    """
    came = [each for each in node.recordings if each.name in holding]
    own = [each for each in found if each.subject == f"run:{run}"]
    elsewhere = None
    for each in found:
        if each.subject not in {f"sound:{node.subject}", f"mounting:{node.subject}"}:
            continue
        named = (one.name for one in came if each.place.startswith(one.run.placed.taken.file))
        bearer = next(named, came[0].name if came else run if each.blocks else "")
        if bearer == run:
            own.append(each)
        elif each.blocks and any(one.name == run for one in came):
            elsewhere = elsewhere or each
    return _Own(tuple(each for each in found if each in own), elsewhere)


def _checked(lab: Lab, graph: Graph, node: SoundNode, run: str, own: _Own) -> Checked:
    placed = next(each.run.placed for each in node.members if each.name == run)
    try:
        by_level = replace(_by_levels(lab, graph, node, placed), findings=own.findings)
    except LabDamaged:
        raise
    except StillroomError as error:
        if any(each.name == run for each in node.recordings):
            return Checked(placed, Word.STOP, f"not used: {error.sentence()}", own.findings)
        by_level = Checked(placed, Word.FIRST, f"no level of {node.subject} could be had yet", own.findings)
    word, reason = by_findings(own.findings)
    if by_level.word is not Word.STOP and own.elsewhere and word is not Word.STOP:
        stopped = f"its mounting is stopped at by finding {own.elsewhere.id}"
        return replace(by_level, word=Word.STOP, reason=f"{by_level.reason}; {stopped}")
    if word is None or by_level.word is Word.STOP:
        return by_level
    return replace(by_level, word=word, reason=f"{by_level.reason}; {reason}")


def _by_levels(lab: Lab, graph: Graph, node: SoundNode, placed: Placed) -> Checked:
    facts = _facts(lab, node, placed.run)
    failed = [each["failed"] for each in facts if each.get("failed")]
    if failed:
        return Checked(placed, Word.STOP, f"not used: {failed[0]}")
    if not any(each.name == placed.run for each in node.recordings):
        return Checked(placed, Word.FIRST, _of_beside(node, placed, facts))
    curve = load_sound(lab.path, result_of(lab, node)).levels
    points = [each for each in curve.points if each.run == placed.run]
    if not points:
        return Checked(placed, Word.LOOK, "no level could be had from it")
    before = last_heard(graph, node)
    told = _level(points, node)
    if all(each.is_bound for each in points):
        return Checked(placed, Word.LOOK, f"{told}: an upper bound, the background is too near")
    if before is None:
        return Checked(placed, Word.FIRST, f"{told}; nothing to compare it with yet")
    return _beside_last(lab, placed, points, before, told)


def _beside_last(
    lab: Lab, placed: Placed, points: Sequence[LevelPoint], before: SoundNode, told: str
) -> Checked:
    """The word for levels beside the curve of the mounting before."""
    other = load_sound(lab.path, result_of(lab, before)).levels
    away = departures(points, other)
    if not away.size:
        low, high = (speed_in_words(each) for each in other.reach)
        return Checked(
            placed, Word.FIRST, f"{told}; mounting {before.subject} was heard from {low} to {high}"
        )
    mean = float(np.mean(away))
    size = float(np.sqrt(np.mean(away**2)))
    side = "above" if mean > 0.0 else "below"
    words = (
        f"{abs(mean):.1f} dB {side}"
        if away.size == 1
        else f"{size:.1f} dB (root mean square of {away.size} levels) from"
    )
    word = Word.LOOK if size > FAR else Word.AGREES
    return Checked(placed, word, f"{told}, {words} mounting {before.subject}", away=size)


def departures(points: Sequence[LevelPoint], other: LevelCurve) -> Array:
    """How far levels lie above a curve, at those of their speeds that it reaches and where both are values [dB]."""
    low, high = other.reach
    used = [each for each in points if low <= each.speed <= high and not each.is_bound]
    if not used:
        return np.zeros(0)
    speeds = np.array([each.speed for each in used])
    levels = np.array([each.level for each in used])
    bounds = np.interp(speeds, other.speeds, other.bound.astype(np.float64)) > 0.0
    away = levels - other.rows(Part.CENTRAL, speeds=speeds)[0]
    return np.asarray(away[~bounds])


def _level(points: Sequence[LevelPoint], node: SoundNode) -> str:
    """Of one level the level and the speed; of several their number and reach."""
    if len(points) == 1:
        (one,) = points
        at_most = "at most " if one.is_bound else ""
        return f"{at_most}{level_words(one.level, node.geometry)} at {speed_in_words(one.speed)}"
    speeds = [each.speed for each in points]
    return f"{len(points)} levels from {speed_in_words(min(speeds))} to {speed_in_words(max(speeds))}"


def _of_beside(node: SoundNode, placed: Placed, facts: Sequence[Mapping[str, Any]]) -> str:
    """What a calibrator, at no distance, or a background gives."""
    level = facts[0].get("level") if facts else None
    if level is None:
        return "recorded"
    known = recorded_in(placed.recording)
    is_calibrator = known is not None and known.is_calibrator
    said = f"{float(level):.1f} dB" if is_calibrator else level_words(float(level), node.geometry)
    return f"{said}, for {node.subject}"


def _facts(lab: Lab, node: SoundNode, run: str) -> list[Mapping[str, Any]]:
    """What was found of one recording, a row of a sheet each.

    Raises
    ------
    NotPossible : the whole mounting could not be had, and nothing says why of this recording.
    """
    kept = results.get(lab.database, node.key)
    own = [each for each in kept.body["recordings"] if each["run"] == run] if kept else []
    if not any(each.get("failed") for each in own):
        result_of(lab, node)
    return own


def last_heard(graph: Graph, node: SoundNode) -> SoundNode | None:
    """The mounting of the same fan, with the same obstacle and microphone place, that was recorded last before this
    one; else None.
    """
    started = _started(node)
    earlier = [
        each
        for each in graph.sounding(node.fan)
        if each.key != node.key
        and each.subject != node.subject
        and each.obstacle == node.obstacle
        and each.geometry.place == node.geometry.place
        and _started(each) <= started
    ]
    return max(earlier, key=lambda each: (_started(each), each.subject), default=None)


def _started(node: SoundNode) -> str:
    return min(each.run.moment for each in node.recordings)
