"""The power spectrum of a recording, kept apart by how loud it was, so that loud seconds can be left out later.

Which seconds are transients is known only at the end, when their median is; all spectra can't be held so long.
So they are added up in classes of the loudest second that each touches.
"""

from __future__ import annotations

import math
from collections import deque
from typing import NamedTuple

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.frames import NOISE_BANDWIDTH, Array32, Frames, HannFrames, hann, powers

FRAME = 1.0
"""Shortest length of a frame [s]: bins of 1 Hz, and one-third octaves well within class 1 from 20 Hz."""

CLASS = 0.25
"""Width of a class of loudness [dB]."""


class Spectrum(NamedTuple):
    """Mean square of each bin, (B,), its distance [Hz] and the window's noise bandwidth [bins]."""

    power: Array
    resolution: float
    noise_bandwidth: float


class _Waiting(NamedTuple):
    """A frame whose last second isn't complete yet."""

    first: int
    last: int
    inside: bool
    weight: float
    power: Array32


class _Sum:
    """Powers of some frames, and the weight that they divide by."""

    def __init__(self, bins: int) -> None:
        self.power = np.zeros(bins, dtype=np.float32)
        self.weight = 0.0

    def add(self, power: Array32, weight: float) -> None:
        self.power += power
        self.weight += weight


class SortedSpectra:
    """The spectra of one stream of samples.

    Parameters
    ----------
    rate : sampling rate [Hz]. sort : keep loud seconds apart; else all is one class.
    """

    def __init__(self, rate: float, *, sort: bool) -> None:
        self._rate = rate
        self._sort = sort
        self.frames = HannFrames(rate, FRAME)
        self._waiting: deque[_Waiting] = deque()
        self._inside: dict[int, _Sum] = {}
        self._ends: list[tuple[int, _Waiting]] = []  # frames that reach beyond the recording
        self._short: Spectrum | None = None

    def feed(self, samples: Array32, seconds: list[float], *, last: bool = False, total: int) -> None:
        """Take the next samples.

        Parameters
        ----------
        samples : as `HannFrames.feed`. seconds : levels of all seconds that are complete [dB].
        last : these are the last. total : samples so far, these included.
        """
        if last and total < self.frames.length:
            self._short = self._spectrum_of_short(samples)
        for group in self.frames.feed(samples, last=last):
            self._waiting.extend(self._row(group, i, total) for i in range(len(group.starts)))
        while self._waiting and self._waiting[0].last < len(seconds):
            frame = self._waiting.popleft()
            loudest = max(seconds[frame.first : frame.last + 1])
            self._keep(frame, math.floor(loudest / CLASS) if self._sort else 0)

    def _row(self, group: Frames, i: int, total: int) -> _Waiting:
        start, second = int(group.starts[i]), round(self._rate)
        end = start + self.frames.length
        inside = start >= 0 and end <= total
        return _Waiting(
            max(start, 0) // second,
            (min(end, total) - 1) // second,
            inside,
            float(group.weights[i]),
            group.powers[i],
        )

    def _keep(self, frame: _Waiting, loudness: int) -> None:
        if frame.inside:
            kept = self._inside.setdefault(loudness, _Sum(len(frame.power)))
            kept.add(frame.power, frame.weight)
        else:
            self._ends.append((loudness, frame))

    def everything(self, up_to: float = math.inf, *, ends: bool = True) -> Array:
        """Mean square of each bin over frames that touch no second above a level.

        Parameters
        ----------
        up_to : the level [dB]; where each frame touches a louder second, the quietest class of them counts.
        ends : with the frames that reach beyond the recording, so that all samples weigh alike.
        """
        classes = {*self._inside, *(loudness for loudness, _ in self._ends if ends)}
        most = max(math.floor(up_to / CLASS) - 1 if math.isfinite(up_to) else max(classes), min(classes))
        power, weight = np.zeros(len(self.frames.frequencies)), 0.0
        for loudness, part in self._inside.items():
            if loudness <= most:
                power, weight = power + part.power, weight + part.weight
        for loudness, frame in self._ends if ends else ():
            if loudness <= most:
                power, weight = power + frame.power, weight + frame.weight
        return power / weight

    def spectrum(self, up_to: float = math.inf) -> Spectrum:
        """The narrow-band spectrum over frames that lie wholly in the recording and touch no louder second."""
        if self._short is not None:
            return self._short
        return Spectrum(self.everything(up_to, ends=False), self.frames.resolution, NOISE_BANDWIDTH)

    def _spectrum_of_short(self, samples: Array32) -> Spectrum:
        """Of a recording shorter than a frame: one window over all of it, on the same bins."""
        window = hann(len(samples))
        frame = np.pad(samples * window, (0, self.frames.length - len(samples)))
        power = powers(frame, len(self.frames.frequencies))
        energy = float(np.sum(window.astype(np.float64) ** 2))
        bandwidth = NOISE_BANDWIDTH * self.frames.length / len(samples)
        return Spectrum(power.astype(np.float64) / energy, self.frames.resolution, bandwidth)
