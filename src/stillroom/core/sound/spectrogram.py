"""Spectra against time, for ramps of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.frames import FrameStream, hann
from stillroom.core.sound.levels import level_of
from stillroom.core.sound.weighting import Weighting, bin_weights
from stillroom.errors import NotPossible

Array32 = NDArray[np.float32]

FRAME = 1.0 / 3.0
"""Length of a frame [s]: bins of 3 Hz, while the speed of a slow ramp stays within one."""

HIGHEST = 6000.0
"""Spectra are kept up to here [Hz]."""

LONGEST = 900.0
"""A sweep longer than this is no ramp of speed [s]: its spectrogram would take up too much memory."""


@dataclass(frozen=True)
class Spectrogram:
    """Spectra of short overlapping frames.

    Parameters
    ----------
    times : middle of each frame [s], (f,).
    frequencies : of the bins [Hz], (b,), up to about 6 kHz.
    power : mean square of each bin of a Hann window, (f, b) [full scale squared]: over all bins up to the
        highest it sums to the frame's mean square.
    resolution : distance of the bins [Hz].
    levels : LAeq of each frame, (f,) [dB re full scale].
    """

    times: Array
    frequencies: Array
    power: Array32
    resolution: float
    levels: Array


class SpectraInTime:
    """The spectrogram of one stream of samples.

    Parameters
    ----------
    rate : sampling rate [Hz].
    """

    def __init__(self, rate: float) -> None:
        self._rate = rate
        self._frames = FrameStream(rate, FRAME, hann, 1)
        self._weights = bin_weights(Weighting.A, self._frames.resolution, len(self._frames.frequencies))
        self._bins = min(int(HIGHEST / self._frames.resolution) + 1, len(self._frames.frequencies))
        self._starts: list[NDArray[np.int64]] = []
        self._powers: list[Array32] = []
        self._totals: list[Array] = []
        self._count = 0

    def feed(self, samples: Array32, *, last: bool = False) -> None:
        """Take the next samples, as `FrameStream.feed`.

        Raises
        ------
        NotPossible : the sweep is too long.
        """
        self._count += len(samples)
        if self._count > LONGEST * self._rate:
            raise NotPossible(
                "spectrogram of the recording",
                found=f"more than {LONGEST / 60.0:g} minutes",
                expected="a ramp of speed of one to a few minutes",
            )
        for group in self._frames.feed(samples, last=last):
            powers: Array32 = np.divide(
                group.powers, group.weights[:, None], dtype=np.float32, casting="same_kind"
            )
            self._starts.append(group.starts)
            self._powers.append(powers[:, : self._bins])
            self._totals.append(powers @ self._weights)

    def done(self) -> Spectrogram:
        """The frames that lie wholly in the recording; of one shorter than a frame, all that there are."""
        starts = np.concatenate(self._starts)
        inside = (starts >= 0) & (starts + self._frames.length <= self._count)
        if not inside.any():
            inside[:] = True
        power = np.concatenate(self._powers)
        return Spectrogram(
            np.asarray((starts[inside] + self._frames.length / 2.0) / self._rate, dtype=np.float64),
            self._frames.frequencies[: self._bins].copy(),
            power if inside.all() else power[inside],
            self._frames.resolution,
            level_of(np.concatenate(self._totals)[inside]),
        )
