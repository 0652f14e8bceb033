"""The work of sound nodes: one task in, one result out. The only pass over a file is made here."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.store.results import Result


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
    recordings: dict[str, Result]


def recording_work(task: RecordingTask) -> Result:
    """Do one analysis. Its arrays are in the cache when this returns."""
    raise NotImplementedError


def sound_work(task: SoundTask) -> Result:
    """Do one mounting. Its arrays are in the cache when this returns."""
    raise NotImplementedError
