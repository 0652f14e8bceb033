"""The work of sound nodes: one task in, one result out. The only pass over a file is made here.

A worker reads originals and the cache, and writes the cache; it never touches the database. What could not be
worked out is a result that says so in words, and never stops the others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stillroom.core.sound.analysis import analyse
from stillroom.lab.outcomes import Parts, outcome
from stillroom.lab.readings import readings_of
from stillroom.lab.sound.band_tables import columns_of
from stillroom.lab.sound.nodes import Beside, RecordingNode, SoundNode
from stillroom.lab.sound.placing import SoundRun
from stillroom.methods.sound.kept import sound_parts, track_parts
from stillroom.methods.sound.mounting import Reduced, reduce_sound
from stillroom.methods.sound.recording import Heard, heard_in, heard_of, heard_parts
from stillroom.methods.sound.tables import Table, heard_in_table
from stillroom.methods.sound.told import Chain, FanTold, Item, Session, Sides, Told
from stillroom.readers.sound.audio import blocks
from stillroom.readers.source import Source
from stillroom.readers.words.kinds import Kind
from stillroom.readers.words.recordings import Recorded
from stillroom.store import originals
from stillroom.store.results import Result, load_arrays

TABLES: Mapping[Kind, Table] = {
    Kind.SOUND_SHEET: Table.SHEET,
    Kind.LEVEL_SERIES: Table.SERIES,
    Kind.BAND_LEVELS: Table.BANDS,
    Kind.NARROW_BAND: Table.NARROW_BAND,
}


@dataclass(frozen=True)
class RecordingTask:
    """Analyse one recording of the lab at a path."""

    lab: Path
    node: RecordingNode


@dataclass(frozen=True)
class SoundTask:
    """Reduce one sound node of the lab at a path, from the analyses of its recordings, {key: result}."""

    lab: Path
    node: SoundNode
    recordings: Mapping[str, Result]


def recording_work(task: RecordingTask) -> Result:
    """Do one analysis. Its arrays are in the cache when this returns.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    return outcome(task.lab, task.node, lambda: heard_parts(_heard(task.lab, task.node.run)))


def _heard(lab: Path, run: SoundRun) -> tuple[Heard, ...]:
    """What a recording or a table tells, from the original."""
    taken = run.placed.taken
    if run.is_recording:
        source = Source.of_path(originals.path_of(lab, taken.place, taken.sha256), taken.file)
        rate = float(taken.layout["rate"])
        ramp = run.recorded.is_ramp
        return (heard_in(analyse(blocks(source, run.channel), rate, spectrogram=ramp)),)
    return heard_in_table(TABLES[Kind(taken.content)], columns_of(readings_of(lab, taken)))


def sound_work(task: SoundTask) -> Result:
    """Do one mounting. Its arrays are in the cache when this returns."""
    return outcome(task.lab, task.node, lambda: _parts(task.node, _reduced(task)), recordings=[])


def _reduced(task: SoundTask) -> Reduced:
    node, items = task.node, _Items(task)
    return reduce_sound(
        [items.session(each) for each in node.recordings],
        fan=FanTold(node.blades, node.pulses, node.full_speed, node.top),
        chain=Chain(rig=node.rig, **vars(node.microphone)),
        geometry=node.geometry,
        identity=node.subject,
        trials=node.trials,
    )


def _parts(node: SoundNode, found: Reduced) -> Parts:
    body: dict[str, Any] = {
        "recordings": list(found.recordings),
        "calibration": found.calibrations[0] if found.calibrations else None,
        "calibrations": list(found.calibrations),
        "room_from": node.geometry.room_from,
        "self_noise": node.microphone.self_noise,
        "blades": node.blades,
        "marks": list(found.marks),
    }
    if found.sound is None:
        return {"failed": found.failed, **body}, {}
    curve, arrays = sound_parts(found.sound)
    for run, track in found.tracks.items():
        arrays |= track_parts(run, track)
    return {**body, "floor": found.sound.floor, "curve": curve}, arrays


class _Items:
    """What was heard in the recordings of a task, each loaded once."""

    def __init__(self, task: SoundTask) -> None:
        self.task = task
        self._known: dict[str, Item] = {}

    def session(self, node: RecordingNode) -> Session:
        """A recording with its calibrators and backgrounds."""
        scale = self.task.node.scales.get(node.name, Beside())
        room = self.task.node.rooms.get(node.name, Beside())
        return Session(self.item(node), self._sides(scale), self._sides(room))

    def _sides(self, beside: Beside) -> Sides:
        return Sides(tuple(map(self.item, beside.before)), tuple(map(self.item, beside.after)))

    def item(self, node: RecordingNode) -> Item:
        """One recording."""
        if node.name not in self._known:
            self._known[node.name] = self._loaded(node)
        return self._known[node.name]

    def _loaded(self, node: RecordingNode) -> Item:
        result = self.task.recordings.get(node.key)
        if result is None or result.failed:
            return Item(told_of(node), (), result.failed if result else "not analysed yet")
        arrays = load_arrays(self.task.lab, result.key) if result.arrays else {}
        return Item(told_of(node), heard_of(result.body, arrays))


def told_of(node: RecordingNode) -> Told:
    """What is told of a recording, as the method is given it."""
    run, placed = node.run, node.run.placed
    rising = run.recorded is Recorded.RAMP_UP if run.recorded.is_ramp else None
    return Told(
        run=node.name,
        key=node.key,
        file=node.subject,
        what=run.recorded.value,
        moment=run.moment,
        date=placed.date,
        setting=placed.setting,
        setting_kind=placed.setting_kind,
        setting_word=placed.setting_word,
        channel=run.channel,
        geometry=run.geometry,
        tachometer=run.tachometer,
        optical=run.optical,
        speed_from=run.speed_from,
        speed_to=run.speed_to,
        rising=rising,
        calibrator=run.calibrator_level,
    )
