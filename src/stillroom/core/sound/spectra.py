"""The power spectrum of a recording, kept apart by how loud it was, so that loud seconds can be left out later.

Which seconds are transients is known only at the end, when their median is; all spectra can't be held so long.
So they are added up in classes of the loudest second that each touches.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.frames import Array32, FrameStream

CLASS = 0.25
"""Width of a class of loudness [dB]."""


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
    frames : its frames. second : samples in a second.
    sort : keep loud seconds apart; else all is one class.
    """

    def __init__(self, frames: FrameStream, second: int, *, sort: bool) -> None:
        self.frames = frames
        self._second = second
        self._sort = sort
        self._total = 0
        self._waiting: deque[_Waiting] = deque()
        self._inside: dict[int, _Sum] = {}
        self._ends: list[tuple[int, _Waiting]] = []  # frames that reach beyond the recording

    def feed(self, samples: Array32, seconds: Sequence[float], *, last: bool = False) -> None:
        """Take the next samples.

        Parameters
        ----------
        samples : as `FrameStream.feed`. last : these are the last.
        seconds : levels of all seconds that are complete [dB]; where nothing is sorted it isn't looked at.
        """
        self._total += len(samples)
        for group in self.frames.feed(samples, last=last):
            self._waiting.extend(map(self._row, group.starts.tolist(), group.weights.tolist(), group.powers))
        while self._waiting and not (self._sort and self._waiting[0].last >= len(seconds)):
            frame = self._waiting.popleft()
            loudest = max(seconds[frame.first : frame.last + 1]) if self._sort else 0.0
            self._keep(frame, math.floor(loudest / CLASS))

    def _row(self, start: int, weight: float, power: Array32) -> _Waiting:
        end = start + self.frames.length
        first, last = max(start, 0) // self._second, (min(end, self._total) - 1) // self._second
        return _Waiting(first, last, start >= 0 and end <= self._total, weight, power)

    def _keep(self, frame: _Waiting, loudness: int) -> None:
        if frame.inside:
            kept = self._inside.setdefault(loudness, _Sum(len(frame.power)))
            kept.add(frame.power, frame.weight)
        else:
            self._ends.append((loudness, frame))

    def mean(self, up_to: float = math.inf, *, ends: bool = True) -> Array:
        """Mean square of each bin over the frames that touch no second above a level, (B,).

        Parameters
        ----------
        up_to : the level [dB]; where each frame touches a louder second, the quietest class of them counts.
        ends : with the frames that reach beyond the recording, so that all samples weigh alike; without them
            lines are as narrow as the window makes them. Where there are no others, they count anyway.
        """
        parts = [(loudness, part.power, part.weight) for loudness, part in self._inside.items()]
        if ends or not parts:
            parts += [(loudness, frame.power, frame.weight) for loudness, frame in self._ends]
        quietest = min(loudness for loudness, _, _ in parts)
        power, weight = np.zeros(len(self.frames.frequencies)), 0.0
        for loudness, its_power, its_weight in parts:
            if loudness == quietest or (loudness + 1) * CLASS <= up_to:
                power += its_power
                weight += its_weight
        return power / weight
