"""One pass over a recording: all that its levels, tones and faults are read from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.fast_levels import FastLevels
from stillroom.core.sound.integrity import Integrity
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.core.sound.transients import Transient
from stillroom.core.sound.weighting import Weighting

__all__ = ["Analysis", "Weighting", "analyse"]

Array32 = NDArray[np.float32]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Analysis:
    """What one recording holds; levels are 10 lg of the mean square [dB re full scale].

    Parameters
    ----------
    rate : sampling rate [Hz]. frames : samples in all.
    equivalent : A-, C- and Z-weighted levels over what is kept: without transients [dB].
    whole : the same over everything [dB].
    seconds : LAeq of each second, (n,) [dB]; the rest of a second at the end counts with its own length.
    bands : one-third-octave levels of 20 Hz to 20 kHz over what is kept, (31,) [dB].
    band_valid : where a band has a level, (31,): below half of the rate, and wide enough for the duration.
    spectrum : mean square of each bin of a Hann window, (B,); over all bins it sums to the mean square.
    resolution : distance of its bins, from 0 Hz [Hz]. noise_bandwidth : of the window [bins].
    fast : time-weighted levels. integrity : what is wrong with the samples.
    transients : what was left out. kept : the seconds that were not, (n,). rejected : share that was [1].
    drift : slope of the kept seconds times the duration [dB]; None under three seconds.
    scatter : standard deviation of the kept seconds about that slope [dB]; None under three seconds.
    spectrogram : where it was asked for.
    """

    rate: float
    frames: int
    equivalent: Mapping[Weighting, float]
    whole: Mapping[Weighting, float]
    seconds: Array
    bands: Array
    band_valid: Flags
    spectrum: Array
    resolution: float
    noise_bandwidth: float
    fast: FastLevels
    integrity: Integrity
    transients: tuple[Transient, ...]
    kept: Flags
    rejected: float
    drift: float | None
    scatter: float | None
    spectrogram: Spectrogram | None


def analyse(blocks: Iterable[Array32], rate: float, *, spectrogram: bool = False) -> Analysis:
    """Everything about a recording in one pass.

    Parameters
    ----------
    blocks : its samples in order, full scale 1.0, each (F,) of any length.
    rate : sampling rate [Hz].
    spectrogram : the recording is a sweep of speed: keep spectra against time, and leave nothing out.

    Raises
    ------
    NotPossible : no samples at all.
    """
    raise NotImplementedError
