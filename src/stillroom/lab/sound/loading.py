"""Sound results as objects, loaded by key."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.sound_mounting import SoundMounting
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.errors import NotPossible
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.methods.sound.kept import sound_of, track_of
from stillroom.methods.sound.recording import QUIETEST, Heard, heard_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


@dataclass(frozen=True)
class KeptSpectrum:
    """A narrow-band spectrum as levels.

    Parameters
    ----------
    levels : of each bin [dB re 20 µPa], (b,); None of a table of bands. resolution : spacing of the bins [Hz], the
    first at 0 Hz. noise_bandwidth : of a bin [bins].
    bands, bands_background : one-third octaves as read (31,) [dB], or None.
    """

    levels: Array | None
    resolution: float | None
    noise_bandwidth: float | None
    bands: Array | None
    bands_background: Array | None


@dataclass(frozen=True)
class KeptRamp:
    """The spectrogram of a ramp [power re full scale], what makes it dB re 20 µPa [dB], and its track."""

    spectrogram: Spectrogram
    offset: float
    track: RampTrack | None


def sound_result(lab: Lab, node: SoundNode) -> Result:
    """The result of a sound node.

    Raises
    ------
    NotPossible : it isn't there, or the method could not; with its words.
    """
    result = results.get(lab.database, node.key)
    if result is None:
        raise NotPossible(
            f"sound of {node.subject}", found="nothing yet", expected="`stillroom reduce` first"
        )
    if result.failed:
        raise NotPossible(f"sound of {node.subject}", found=result.failed)
    return result


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


def load_spectrum(lab: Lab, node: SoundNode, run: str) -> KeptSpectrum:
    """The spectrum of one recording of a node (a dwell, a background, a calibrator), on its scale.

    Raises
    ------
    NotPossible : the recording has none, or could not be used.
    """
    facts, heard = _recording(lab, node, run)
    offset = _offset(facts, heard, run)
    levels = None
    if heard.spectrum is not None:
        levels = offset + 10.0 * np.log10(np.maximum(heard.spectrum, 10.0 ** (QUIETEST / 10.0)))
    return KeptSpectrum(
        levels,
        heard.resolution,
        heard.noise_bandwidth,
        None if heard.bands is None else heard.bands + offset,
        _array(facts.get("bands_background")),
    )


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
    result = sound_result(lab, node)
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


def _array(values: list[float | None] | None) -> Array | None:
    return None if values is None else np.array([np.nan if each is None else each for each in values])
