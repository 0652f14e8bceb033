"""Spectra against time, for ramps of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Spectrogram:
    """Spectra of short overlapping frames.

    Parameters
    ----------
    times : middle of each frame [s], (f,).
    frequencies : of the bins [Hz], (b,), up to about 6 kHz.
    power : mean square of each bin, (f, b) [full scale squared]; over all bins it sums to the frame's mean square.
    resolution : distance of the bins [Hz].
    levels : LAeq of each frame, (f,) [dB re full scale].
    """

    times: Array
    frequencies: Array
    power: NDArray[np.float32]
    resolution: float
    levels: Array
