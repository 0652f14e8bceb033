"""Whether samples are what the microphone gave: clipping, drop-outs, silence, a constant offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import OutOfRange

Array32 = NDArray[np.float32]

FULL = 1.0 - 2.0**-14
"""From here on a sample is at full scale [of it]: within two steps of 16 bits."""

FLAT = 3
"""Equal samples in a row that make a flat top."""

LOWEST_CLIP = 0.01
"""Flat tops below it aren't looked for [of full scale]: there the steps of 16 bits make some by themselves."""

NEAR = 0.9
"""Clipped sound heaps up at its extreme value: what lies from here on [of it] is compared."""

HEAPED = 0.3
"""Clipped when so many samples lie on flat tops, against those near below [1]; a clean sine at 16 bits: 0.1."""

FEWEST_TOPS = 3
"""Flat tops below full scale that make a finding."""

DROPOUT = 0.001
"""Equal samples for at least so long are a drop-out [s] (common practice)."""

SILENT = 2.0**-15
"""All samples within one step of 16 bits: silence [of full scale]."""


@dataclass(frozen=True)
class Integrity:
    """What is wrong with the samples themselves.

    Parameters
    ----------
    clipped : samples on flat tops, at full scale or below it. clipped_runs : the flat tops.
    clipped_at : the largest value, where samples are clipped, else None [of full scale].
    dropouts : (start [s], length [s]) of each stretch of exact zeros or of one repeated value.
    silent : nothing but the last digit, or nothing at all.
    dc_offset : mean of all samples [of full scale].
    """

    clipped: int
    clipped_runs: int
    clipped_at: float | None
    dropouts: tuple[tuple[float, float], ...]
    silent: bool
    dc_offset: float


class SampleCheck:
    """The faults of one stream of samples.

    Parameters
    ----------
    rate : sampling rate [Hz].
    """

    def __init__(self, rate: float) -> None:
        self._rate = rate
        self._tops = (_Tops(), _Tops())
        self._repeats = _Repeats(max(round(DROPOUT * rate), 16))
        self._sum = 0.0
        self._count = 0

    def feed(self, samples: Array32) -> None:
        """Take the next samples, (F,), F > 0.

        Raises
        ------
        OutOfRange : a sample that is no number.
        """
        high, low = float(samples.max()), float(samples.min())
        if not (np.isfinite(high) and np.isfinite(low)):
            raise OutOfRange("samples", found="a value that is no finite number", expected="full scale 1.0")
        self._tops[0].feed(samples, high)
        self._tops[1].feed(-samples, -low)
        self._repeats.feed(samples)
        self._sum += float(np.sum(samples))
        self._count += len(samples)

    def done(self) -> Integrity:
        """What was found, after the last samples."""
        self._repeats.end()
        clipped = [each for each in self._tops if each.is_clipped]
        return Integrity(
            sum(each.flat for each in clipped),
            sum(each.runs for each in clipped),
            max((each.value for each in clipped), default=None),
            tuple((start / self._rate, length / self._rate) for start, length in self._repeats.found),
            self._tops[0].value + self._tops[1].value <= SILENT,
            self._sum / self._count,
        )


class _Tops:
    """The samples at the largest value so far, and near below it, on one side."""

    def __init__(self) -> None:
        self.value = -np.inf
        self.flat = self.runs = self.near = 0

    def feed(self, samples: Array32, highest: float) -> None:
        if highest > self.value:
            self.value, self.flat, self.runs, self.near = highest, 0, 0, 0
        if highest < max(NEAR * self.value, LOWEST_CLIP):
            return
        at = np.flatnonzero(samples >= NEAR * self.value)
        top = at[samples[at] >= min(self.value, FULL)]
        self.near += len(at) - len(top)
        starts = np.flatnonzero(np.diff(top, prepend=-2) > 1)
        lengths = np.diff(starts, append=len(top))
        lengths = lengths[lengths >= (1 if self.value >= FULL else FLAT)]
        self.flat += int(lengths.sum())
        self.runs += len(lengths)

    @property
    def is_clipped(self) -> bool:
        if self.value >= FULL:
            return self.flat > 0
        return self.runs >= FEWEST_TOPS and self.flat >= HEAPED * self.near


class _Repeats:
    """Stretches of one repeated value."""

    def __init__(self, shortest: int) -> None:
        self.found: list[tuple[int, int]] = []
        self._shortest = shortest
        self._at = 0  # samples so far
        self._last: np.float32 | None = None
        self._open = 1  # equal samples at the end of what was seen

    def feed(self, samples: Array32) -> None:
        before = samples[:1] if self._last is None else np.array([self._last])
        equal = samples == np.concatenate([before, samples[:-1]])  # to the sample before
        if self._last is None:
            equal[0] = False
            self._open = 0
        if self._open >= self._shortest or equal[0] or self._has_long(equal):
            self._runs(equal)
        else:
            self._open = 1 + _trailing(equal)
        self._at += len(samples)
        self._last = samples[-1]

    def end(self) -> None:
        """Close the last stretch."""
        self._close(self._at)

    def _has_long(self, equal: NDArray[np.bool_]) -> bool:
        """Whether there can be a long stretch: it would fill a word of eight samples."""
        words = equal[: len(equal) // 8 * 8].view(np.uint64)
        return bool(np.any(words == np.uint64(0x0101010101010101)))

    def _runs(self, equal: NDArray[np.bool_]) -> None:
        breaks = np.flatnonzero(~equal)
        if not len(breaks):
            self._open += len(equal)
            return
        self._open += int(breaks[0])
        self._close(self._at + int(breaks[0]))
        lengths = np.diff(breaks)
        for i in np.flatnonzero(lengths >= self._shortest):
            self.found.append((self._at + int(breaks[i]), int(lengths[i])))
        self._open = len(equal) - int(breaks[-1])

    def _close(self, end: int) -> None:
        if self._open >= self._shortest:
            self.found.append((end - self._open, self._open))


def _trailing(equal: NDArray[np.bool_]) -> int:
    """How many at the end are equal to the one before."""
    backwards = np.flatnonzero(~equal[::-1][:4096])
    return int(backwards[0]) if len(backwards) else len(equal)
