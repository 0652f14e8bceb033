"""The invented laboratory's recordings, read and analysed: for the demo's tests of sound."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from stillroom.core.sound.analysis import Analysis, analyse
from stillroom.demo.sound.truth import RecordingTruth, SoundTruth, ToneTruth


@dataclass(frozen=True)
class Recorded:
    """A recording with its truth: `wave` is of full scale 1, of the microphone's channel."""

    truth: RecordingTruth
    wave: NDArray[np.float32]
    rate: int

    def analysis(self) -> Analysis:
        return analyse([self.wave], self.rate, spectrogram="ramp" in self.truth.what)


def recorded(folder: Path, truth: RecordingTruth) -> Recorded:
    wave, rate = soundfile.read(folder / truth.file, dtype="float32", always_2d=True)
    return Recorded(truth, np.ascontiguousarray(wave[:, -1]), rate)


def of_what(truth: SoundTruth, *whats: str) -> list[RecordingTruth]:
    return [each for each in truth.recordings if each.what in whats]


def tone_to_noise(tone: ToneTruth) -> float:
    """A tone's level over that of the noise in its critical band [dB]; its width after ECMA-418-1 (from memory)."""
    width = 25 + 75 * (1 + 1.4 * (tone.frequency / 1000) ** 2) ** 0.69
    return tone.level - tone.density - 10 * math.log10(width)


def criterion(frequency: float) -> float:
    """The tone-to-noise ratio from which a tone is prominent [dB]; ECMA-418-1 (from memory)."""
    return 8.0 + (8.33 * math.log10(1000 / frequency) if frequency < 1000 else 0.0)
