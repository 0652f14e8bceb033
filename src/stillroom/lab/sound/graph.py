"""From the runs of sound of a lab to the nodes of its graph of keys."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab.airflow.graph import Tops
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.judged import Excluded, Judged
from stillroom.lab.sound.nodes import Beside, RecordingNode, SoundNode
from stillroom.lab.sound.placing import SoundRun, sound_run
from stillroom.lab.sound.sessions import Sessions
from stillroom.methods.sound import versions
from stillroom.methods.sound.told import Microphone
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.records.bench import Rig
from stillroom.records.keys import key_of


@dataclass(frozen=True)
class Sounds:
    """The nodes of sound, and the runs that belong to none, with why.

    `judged` holds (subject, key) of all that a decision can exclude, as it stands now.
    """

    sounds: tuple[SoundNode, ...]
    recordings: tuple[RecordingNode, ...]
    unplaced: tuple[tuple[Placed, str], ...]
    judged: frozenset[Judged]


def sounds_of(book: Book, placed: Iterable[Placed], excluded: Excluded, tops: Tops) -> Sounds:
    """The nodes of all runs of sound.

    Parameters
    ----------
    book : the lab's records. placed : the runs of sound. excluded : by decisions.
    tops : the greatest setting of each fan's runs of airflow, {(fan, kind of setting): SI}.
    """
    nodes: list[RecordingNode] = []
    unplaced: list[tuple[Placed, str]] = []
    for each in placed:
        try:
            run = sound_run(book, each)
        except StillroomError as error:
            unplaced.append((each, error.sentence()))
            continue
        if run.recorded.is_of_fan and not each.fan:
            unplaced.append((each, "no fan is named for it"))
        else:
            nodes.append(RecordingNode(recording_key(run), run))
    made = _sound_nodes(book, nodes, excluded, tops)
    judged = {(f"run:{each.name}", each.key) for each in nodes}
    judged |= {(f"mounting:{each.subject}", each.judged) for each in made}
    used = tuple(each for each in made if each.recordings)
    return Sounds(used, tuple(nodes), tuple(unplaced), frozenset(judged))


def recording_key(run: SoundRun) -> str:
    """The key of a recording's analysis: of its bytes and how they are read, and of nothing that is told of it but
    whether it is a ramp, which keeps its spectrogram.
    """
    taken = run.placed.taken
    part = () if taken.part is None else (taken.first, taken.last)
    return key_of("recording", versions.RECORDING, READER_VERSION, taken.sha256, taken.layout,
                  run.recorded.is_ramp, *part)  # fmt: skip


def _sound_nodes(book: Book, nodes: list[RecordingNode], excluded: Excluded, tops: Tops) -> list[SoundNode]:
    groups: dict[tuple[Any, ...], list[RecordingNode]] = defaultdict(list)
    for each in nodes:
        if each.run.recorded.is_of_fan:
            groups[_group(each.run)].append(each)
    names = _subjects(groups)
    full = _tops(nodes, tops)
    every, kept = _Pools(nodes), _Pools(each for each in nodes if not _is_out(each, excluded))
    made: list[SoundNode] = []
    for group, members in groups.items():
        ordered = sorted(members, key=_in_order)
        leading = _leading(ordered)
        whole = _Maker(book, names[group], ordered, full.get((ordered[0].run.placed.fan, leading)))
        judged = whole.node(ordered, every).key
        out = (f"mounting:{names[group]}", judged) in excluded
        used = [each for each in ordered if not out and not _is_out(each, excluded)]
        left = tuple(each for each in ordered if out or _is_out(each, excluded))
        made.append(replace(whole.node(used, kept), judged=judged, left_out=left))
    return made


def _is_out(node: RecordingNode, excluded: Excluded) -> bool:
    return (f"run:{node.name}", node.key) in excluded


def _group(run: SoundRun) -> tuple[Any, ...]:
    placed = run.placed
    return placed.mounting, placed.fan, placed.sample, placed.obstacle, run.geometry.place, run.microphone


def _subjects(groups: Mapping[tuple[Any, ...], list[RecordingNode]]) -> dict[tuple[Any, ...], str]:
    """A name for each group: the mounting's, with what tells several of one mounting apart."""
    by_mounting: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    for group in groups:
        by_mounting[group[0]].append(group)
    names: dict[tuple[Any, ...], str] = {}
    for mounting, own in by_mounting.items():
        differs = [len({each[i] for each in own}) > 1 for i in range(6)]
        for group in own:
            run = groups[group][0].run
            words = (
                ("with " + group[3] if group[3] else "in free air") if differs[3] else "",
                "at " + run.geometry.words if differs[4] else "",
                "by " + (group[5] or "an unnamed microphone") if differs[5] else "",
            )
            names[group] = ", ".join([mounting, *filter(None, words)])
    return names


def _in_order(node: RecordingNode) -> tuple[float, str, int]:
    """By setting, then by file and part."""
    placed = node.run.placed
    return placed.setting or 0.0, placed.taken.file, placed.taken.part or 0


KINDS = ("duty", "volts", "speed")
"""The kinds of setting, the one first by which full setting is told where a mounting has several."""


def _leading(nodes: Iterable[RecordingNode]) -> str:
    kinds = {each.run.placed.setting_kind for each in nodes}
    return next((each for each in KINDS if each in kinds), "")


def _tops(nodes: Iterable[RecordingNode], tops: Tops) -> dict[tuple[str, str], float]:
    """The greatest setting of each fan by kind, of its runs of airflow and of sound."""
    found = dict(tops)
    for each in nodes:
        placed = each.run.placed
        if placed.fan and placed.setting is not None:
            kind = (placed.fan, placed.setting_kind)
            found[kind] = max(found.get(kind, 0.0), placed.setting)
    return found


class _Pools:
    """The calibrators and backgrounds that may be used."""

    def __init__(self, nodes: Iterable[RecordingNode]) -> None:
        several = list(nodes)
        self.calibrators = Sessions(each for each in several if each.run.recorded.is_calibrator)
        self.backgrounds = Sessions(each for each in several if each.run.recorded.is_background)


@dataclass(frozen=True)
class _Maker:
    """Makes the node of one group from those of its recordings that are used."""

    book: Book
    subject: str
    members: list[RecordingNode]
    top: float | None

    def node(self, used: list[RecordingNode], pools: _Pools) -> SoundNode:
        """The node with its key."""
        scales = {each.name: pools.calibrators.beside(each) for each in used if each.run.is_recording}
        rooms = {each.name: pools.backgrounds.beside(each) for each in used}
        run = self.members[0].run
        fan = self.book.fans.get(run.placed.fan)
        node = SoundNode(
            key="",
            subject=self.subject,
            fan=run.placed.fan,
            sample=run.placed.sample,
            mounting=run.placed.mounting,
            obstacle=run.placed.obstacle,
            rig=run.placed.rig,
            geometry=run.geometry,
            recordings=tuple(used),
            backgrounds=_unique(rooms.values()),
            calibrators=_unique(scales.values()),
            scales=scales,
            rooms=rooms,
            microphone=_microphone(self.book, run),
            blades=fan.blades if fan else None,
            pulses=fan.pulses if fan else None,
            full_speed=fan.full_speed if fan else None,
            top=self.top,
            trials=self.book.settings.trials,
            judged="",
        )
        return replace(node, key=_key(node))


def _unique(several: Iterable[Beside]) -> tuple[RecordingNode, ...]:
    return tuple({each.name: each for one in several for each in one.all}.values())


def _microphone(book: Book, run: SoundRun) -> Microphone:
    """The chain as it is told: the instrument's own record, else the rig's stated accuracy."""
    rig = rig_on(book.rigs, run.placed.rig, run.placed.date)
    instrument = book.instruments.get(run.microphone)
    calibrator = book.instruments.get(run.calibrator)
    made = Microphone(
        run.microphone or run.placed.rig,
        accuracy=_accuracy(rig, run),
        calibrator=run.calibrator,
        calibrator_accuracy=calibrator.accuracy_absolute if calibrator else None,
    )
    if instrument is None:
        return made
    return replace(
        made,
        name=instrument.instrument,
        self_noise=instrument.self_noise,
        full_scale=instrument.full_scale,
        accuracy=instrument.accuracy_absolute,
    )


def _accuracy(rig: Rig | None, run: SoundRun) -> float | None:
    """A stated accuracy in dB: of `--as`, else of the rig; None where none is told."""
    said = (run.placed.taken.said or {}).get("accuracy_absolute")
    return float(said) if said else rig.accuracy_absolute if rig else None


def _key(node: SoundNode) -> str:
    settings = (node.subject, node.fan, node.sample, node.obstacle, node.rig, node.geometry, node.microphone,
                node.blades, node.pulses, node.full_speed, node.top, node.trials)  # fmt: skip
    return key_of("sound", versions.MOUNTING, settings, [_told(each, node) for each in node.recordings])


def _told(each: RecordingNode, node: SoundNode) -> tuple[Any, ...]:
    """Of one recording, all that the method reads: its analysis, what was told, what belongs to it."""
    run = each.run
    scale, room = node.scales.get(each.name, Beside()), node.rooms[each.name]
    return (
        each.key, run.recorded, run.placed.date, run.placed.setting, run.placed.setting_kind, run.tachometer,
        run.optical, run.speed_from, run.speed_to,
        [[(one.key, one.run.calibrator_level, one.run.placed.date) for one in side]
         for side in (scale.before, scale.after)],
        [[one.key for one in side] for side in (room.before, room.after)],
    )  # fmt: skip
