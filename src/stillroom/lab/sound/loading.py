"""Sound results as objects, loaded by key."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from stillroom.core.arrays import Array
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.sound_mounting import SoundMounting
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.lab.sound.nodes import SoundNode
from stillroom.store.lab import Lab
from stillroom.store.results import Result


@dataclass(frozen=True)
class KeptSpectrum:
    """A narrow-band spectrum as levels.

    Parameters
    ----------
    levels : of each bin [dB re 20 µPa], (b,). resolution : spacing of the bins [Hz], the first at 0 Hz.
    noise_bandwidth : of a bin [bins]. bands, bands_background : one-third octaves (31,) [dB], or None.
    """

    levels: Array
    resolution: float
    noise_bandwidth: float
    bands: Array | None
    bands_background: Array | None


def sound_result(lab: Lab, node: SoundNode) -> Result:
    """The result of a sound node.

    Raises
    ------
    NotPossible : it isn't there, or the method could not; with its words.
    """
    raise NotImplementedError


def load_sound(lab: Path, result: Result) -> SoundMounting:
    """A mounting's sound from its result."""
    raise NotImplementedError


def load_spectrum(lab: Lab, node: SoundNode, run: str) -> KeptSpectrum:
    """The spectrum of one recording of a node, calibrated.

    Raises
    ------
    NotPossible : the recording has none, or could not be used.
    """
    raise NotImplementedError


def load_spectrogram(lab: Lab, node: SoundNode, run: str) -> tuple[Spectrogram, float, RampTrack | None]:
    """The spectrogram of a ramp [power re full scale], the offset that makes it dB re 20 µPa, and its track.

    Raises
    ------
    NotPossible : the run is no ramp, or could not be used.
    """
    raise NotImplementedError
