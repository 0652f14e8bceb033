"""Saves recordings as a recorder would: WAV or FLAC, with the moment at which they were begun."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from stillroom.demo.sound.plan import Form

Array32 = NDArray[np.float32]

RESOLVED = 20
"""Bits that the recorder's converter resolves; its FLAC files of 24 bits leave the rest out, half of their size."""
LEAST = 0.0
"""Effort that FLAC makes to save space, 0 to 1."""


def save_recording(
    path: Path, pressure: Array32, form: Form, full_scale: float, moment: datetime, beside: Array32 | None
) -> None:
    """Write a recording.

    Parameters
    ----------
    pressure : in 20 µPa. full_scale : level of a mean square of 1.0 [dB]; what is louder is cut off.
    moment : when it was begun. beside : what is on the channels before the microphone's, of full scale 1.
    """
    wave = np.clip(pressure * np.float32(10 ** (-full_scale / 20)), -1.0, 1.0)
    frames = wave if beside is None else np.stack([beside, wave], axis=1)
    path.parent.mkdir(parents=True, exist_ok=True)
    effort = {"compression_level": LEAST} if form.suffix == "flac" else {}
    with soundfile.SoundFile(path, "w", form.rate, form.channels, form.subtype, **effort) as out:
        out.date = moment.isoformat(timespec="seconds")
        out.write(_resolved(frames) if effort else frames)


def _resolved(frames: Array32) -> NDArray[np.int32]:
    """Samples as a converter of so many bits gives them, in the upper bits of 32."""
    top = 2 ** (RESOLVED - 1)
    steps = np.clip(np.rint(frames * np.float32(top)), -top, top - 1).astype(np.int32)
    return np.asarray(steps << (32 - RESOLVED), np.int32)
