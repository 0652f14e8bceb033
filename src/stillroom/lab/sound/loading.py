"""Sound results as objects, loaded by key."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.sound_mounting import SoundMounting
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.errors import NotPossible
from stillroom.lab.curves import result_of
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.methods.sound.kept import sound_of, track_of
from stillroom.methods.sound.recording import Heard, heard_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


@dataclass(frozen=True)
class KeptRamp:
    """The spectrogram of a ramp [power re full scale], what makes it dB re 20 µPa [dB], and its track."""

    spectrogram: Spectrogram
    offset: float
    track: RampTrack | None


def load_sound(lab: Path, result: Result) -> SoundMounting:
    """A mounting's sound from its result."""
    return sound_of(result.body["curve"], results.load_arrays(lab, result.key))


def load_heard(lab: Lab, node: SoundNode, run: str) -> tuple[Heard, float]:
    """What was heard in one recording of a node, and what makes its levels dB re 20 µPa [dB].

    Raises
    ------
    NotPossible : the recording could not be used, or has no scale.
    """
    facts, heard = _recording(lab, node, run)
    return heard, _offset(facts, heard, run)


def load_spectrogram(lab: Lab, node: SoundNode, run: str) -> KeptRamp:
    """The spectrogram of a ramp of a node.

    Raises
    ------
    NotPossible : the run is no ramp, or could not be used.
    """
    facts, heard = _recording(lab, node, run)
    if heard.spectrogram is None:
        raise NotPossible(f"run {run}", found=f"a {facts['what']}", expected="the recording of a ramp")
    arrays = results.load_arrays(lab.path, node.key)
    return KeptRamp(heard.spectrogram, _offset(facts, heard, run), track_of(run, arrays))


def _recording(lab: Lab, node: SoundNode, run: str) -> tuple[dict[str, Any], Heard]:
    result = result_of(lab, node)
    facts = next((each for each in result.body["recordings"] if each["run"] == run), None)
    members: tuple[RecordingNode, ...] = (*node.recordings, *node.calibrators, *node.backgrounds)
    member = next((each for each in members if each.name == run), None)
    kept = results.get(lab.database, member.key) if member else None
    if facts is None or kept is None or kept.failed:
        why = kept.failed if kept else "no such recording"
        raise NotPossible(f"run {run} of {node.subject}", found=why, expected="one of its recordings")
    arrays = results.load_arrays(lab.path, kept.key) if kept.arrays else {}
    return facts, heard_of(kept.body, arrays)[0]


def _offset(facts: dict[str, Any], heard: Heard, run: str) -> float:
    """What makes its levels dB re 20 µPa: the level that was worked out less the one that was heard."""
    if facts.get("level") is None:
        raise NotPossible(
            f"run {run}", found=facts.get("failed", "no scale"), expected="a calibrated recording"
        )
    return float(facts["level"]) - heard.level
