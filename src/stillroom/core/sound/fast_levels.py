"""Levels against time: LAeq of each second, LAF and LAS, and the levels exceeded for a share of the time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.levels import level_of
from stillroom.core.sound.weighting import a_filter
from stillroom.core.standards import iec_61672_1_2013 as iec

Array32 = NDArray[np.float32]

STEPS = 900.0
"""The squared signal is averaged over steps, at least so many in a second, before it is time-weighted [1/s]."""

READ = 100.0
"""LAF is read about so often for maxima of shares of the time [1/s]."""

SHOWN = 0.125
"""Distance of the LAF values that are given [s]."""

SETTLED = 5.0 * iec.FAST
"""LAF starts from nothing: what it reads so long [s] doesn't count for shares of the time."""

AT_ONCE = 96_000
"""Samples that are filtered at once, at least a second: the filter takes them in double precision."""

SHARES = (1, 10, 50, 90)
"""Shares of the time for which an exceeded level is given [%]."""


@dataclass(frozen=True)
class FastLevels:
    """Time-weighted A-weighted levels [dB re full scale].

    Parameters
    ----------
    times : when each of `levels` was read [s], (m,), every 0.125 s.
    levels : LAF, (m,) [dB].
    fast_max, slow_max : LAFmax and LASmax [dB].
    exceeded : {1, 10, 50, 90: LAF exceeded for that share of the time, in per cent} [dB].
    """

    times: Array
    levels: Array
    fast_max: float
    slow_max: float
    exceeded: Mapping[int, float]


class LevelsInTime:
    """Levels of one stream of samples.

    Parameters
    ----------
    rate : sampling rate [Hz], a whole number.
    """

    def __init__(self, rate: float) -> None:
        self.second = round(rate)
        self._sections = a_filter(rate).copy()
        self._state: Array | None = None
        self._step = _step(self.second)
        self._weights = (
            _TimeWeighting(iec.FAST, self._step / rate),
            _TimeWeighting(iec.SLOW, self._step / rate),
        )
        self._every = max(1, round(self.second / self._step / READ))
        self._read: list[Array32] = []
        self._behind = 0  # steps since LAF was last read
        self._rest = np.zeros(0, dtype=np.float32)
        self.seconds: list[float] = []
        self.lengths: list[float] = []

    def feed(self, samples: Array32, *, last: bool = False) -> None:
        """Take the next samples, (F,), of any number; the rest of a second counts when they are the last."""
        joined = np.concatenate([self._rest, samples])
        whole = len(joined) // self.second * self.second
        at_once = max(1, AT_ONCE // self.second) * self.second
        for first in range(0, whole, at_once):
            self._add(joined[first : min(first + at_once, whole)].reshape(-1, self.second))
        self._rest = joined[whole:]
        if last and len(self._rest):
            self._add(self._rest[None, :])

    def done(self) -> FastLevels:
        """What the time-weighted levels were, after the last samples."""
        fast, slow = self._weights
        read = np.concatenate(self._read).astype(np.float64)
        step = self._step / self.second
        times: Array = step * self._every * np.arange(1.0, len(read) + 1.0)
        if not len(read):  # shorter than the distance of two readings
            read, times = np.array([fast.highest]), np.array([step])
        shown = np.searchsorted(times, np.arange(SHOWN, times[-1] + step, SHOWN) - step)
        levels = level_of(read)
        settled = levels[times > SETTLED] if np.any(times > SETTLED) else levels
        return FastLevels(
            times[shown],
            levels[shown],
            float(level_of(fast.highest)),
            float(level_of(slow.highest)),
            {share: float(np.percentile(settled, 100 - share)) for share in SHARES},
        )

    def _add(self, seconds: Array32) -> None:
        """Seconds of samples, (n, length), all of one length."""
        samples = seconds.ravel().astype(np.float64)
        if self._state is None:  # as if the first sample had always been there: no jump
            self._state = scipy.signal.sosfilt_zi(self._sections) * samples[0]
        filtered, self._state = scipy.signal.sosfilt(self._sections, samples, zi=self._state)
        over = -len(filtered) % self._step  # of the rest of a second only
        in_steps = (np.pad(filtered, (0, over)) if over else filtered).reshape(-1, self._step)
        steps = np.einsum("ij,ij->i", in_steps, in_steps) / self._step  # mean squares
        each = seconds.shape[1]
        self.seconds.extend(
            level_of(steps.reshape(len(seconds), -1).sum(axis=1) * self._step / each).tolist()
        )
        self.lengths.extend([each / self.second] * len(seconds))
        fast, _ = (weighting.feed(steps) for weighting in self._weights)
        self._read.append(fast[self._every - 1 - self._behind :: self._every].astype(np.float32))
        self._behind = (self._behind + len(fast)) % self._every


class _TimeWeighting:
    """Exponential averaging of mean squares of steps, from nothing."""

    def __init__(self, constant: float, step: float) -> None:
        self._keep = float(np.exp(-step / constant))
        self._state = np.zeros(1)
        self.highest = 0.0

    def feed(self, steps: Array) -> Array:
        weighted, self._state = scipy.signal.lfilter(
            [1.0 - self._keep], [1.0, -self._keep], steps, zi=self._state
        )
        self.highest = max(self.highest, float(weighted.max()))
        return np.asarray(weighted)


def _step(second: int) -> int:
    """Samples in a step: the most that fit a whole number of times into a second."""
    return max(each for each in range(1, max(int(second / STEPS), 1) + 1) if second % each == 0)
