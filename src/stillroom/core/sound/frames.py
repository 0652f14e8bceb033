"""Overlapping frames of a stream of samples, and their power spectra.

Levels and bands are read from frames that cross over into each other: the squares of their windows add up to one,
so that every sample weighs alike, the first and the last as well. Rectangular blocks would do so too, but they
let a strong low rumble leak into all bands. Tones are read from Hann frames.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards import iec_61260_1_2014 as bands
from stillroom.errors import OutOfRange

Array32 = NDArray[np.float32]

HANN_BANDWIDTH = 1.5
"""Noise bandwidth of the Hann window [bins]."""

GROUP = 4
"""Frames transformed at once: as many as fit in a processor's vector registers."""

FADE = 0.01
"""The samples rise from zero and fall to it over so long at both ends of a recording [s]: they start anywhere."""


@lru_cache(maxsize=16)
def hann(length: int) -> Array32:
    """A periodic Hann window, (length,); of one sample it is 1."""
    if length == 1:
        return np.ones(1, dtype=np.float32)
    return (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(length) / length)).astype(np.float32)


@lru_cache(maxsize=16)
def crossing(length: int) -> Array32:
    """A window, (length,), that rises and falls over a third of its length each: its square and that of the next,
    two thirds later, add up to one, and it starts so gently that nothing leaks far."""
    rise = np.sin(np.pi / 2.0 * np.sin(np.pi / 2.0 * (np.arange(length // 3) + 0.5) / (length // 3)) ** 2)
    return np.concatenate([rise, np.ones(length - 2 * len(rise)), rise[::-1]]).astype(np.float32)


class Frames(NamedTuple):
    """Some frames, in order of time.

    Parameters
    ----------
    starts : first sample of each, which lies before 0 where a frame reaches out of the recording, (n,).
    weights : sum of the squared window over the samples that there are, (n,).
    powers : energy in each bin, (n, B): over all bins it sums to the energy in the frame.
    """

    starts: NDArray[np.int64]
    weights: Array
    powers: Array32


class FrameStream:
    """The frames of one stream of samples.

    Parameters
    ----------
    rate : sampling rate [Hz]. shortest : least length of a frame [s]; it is as near as a fast transform allows.
    window : gives the window of a length in samples.
    step : distance of the frames, in thirds of their length.
    """

    def __init__(self, rate: float, shortest: float, window: Callable[[int], Array32], step: int) -> None:
        third = int(scipy.fft.next_fast_len(math.ceil(rate * shortest / 3.0), real=True))
        self.length, self.hop = 3 * third, step * third
        self.resolution = rate / self.length
        bins = min(self.length // 2, math.ceil(float(bands.edges()[-1]) / self.resolution)) + 1
        self.frequencies: Array = self.resolution * np.arange(bins, dtype=np.float64)
        self._window = window(self.length)
        self._full = float(np.sum(self._window.astype(np.float64) ** 2))
        self._work = np.zeros((GROUP, self.length), dtype=np.float32)
        self._fade = round(FADE * rate)
        self._carry = np.zeros(self.length - self.hop, dtype=np.float32)
        self._start = -len(self._carry)  # of the next frame
        self._total = 0  # samples so far

    def feed(self, samples: Array32, *, last: bool = False) -> Iterator[Frames]:
        """The frames that further samples complete.

        Parameters
        ----------
        samples : the next ones, (F,); at the beginning and at the end longer than the fade, if there are so many.
        last : these are the last; frames that reach beyond them are given as well.
        """
        before, self._total = self._total, self._total + len(samples)
        stretch: Array32 = np.concatenate([self._carry, samples])
        origin = self._total - len(stretch)
        for at, gains in self._fades(last):
            if at >= before:
                stretch[at - origin : at - origin + len(gains)] *= gains
        if last:
            count = -(-len(stretch) // self.hop)
            stretch = np.pad(stretch, (0, max(0, (count - 1) * self.hop + self.length - len(stretch))))
        else:
            count = max(0, (len(stretch) - self.length) // self.hop + 1) // GROUP * GROUP
        for first in range(0, count, GROUP):
            until = min(first + GROUP, count)
            starts = self._start + self.hop * np.arange(first, until, dtype=np.int64)
            weights = np.array([self._weight(int(start), last) for start in starts])
            yield Frames(starts, weights, self._powers(stretch, first, until))
        self._start += count * self.hop
        self._carry = stretch[count * self.hop :].copy()

    def _fades(self, last: bool) -> Iterator[tuple[int, Array32]]:
        """Where samples are multiplied by less than one, and by what: at the beginning, and at the end."""
        length = min(self._fade, self._total // 2)
        rise = (0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / max(length, 1))).astype(np.float32)
        yield 0, rise
        if last:
            yield self._total - length, rise[::-1]

    def _weight(self, start: int, last: bool) -> float:
        """Sum of the squared window over what there is of a frame."""
        if start >= self._fade and not (last and start + self.length > self._total - self._fade):
            return self._full
        window = self._window.astype(np.float64)
        window[: max(0, -start)] = 0.0
        if last:
            window[max(0, self._total - start) :] = 0.0
        for at, gains in self._fades(last):
            inside = slice(max(0, at - start), max(0, at + len(gains) - start))
            cut = window[inside]
            skipped = inside.start - (at - start)
            cut *= gains[skipped : skipped + len(cut)]
        return float(window @ window)

    def _powers(self, stretch: Array32, first: int, until: int) -> Array32:
        """Spectra of frames `first` to `until` of a stretch, (n, B)."""
        frames = np.lib.stride_tricks.sliding_window_view(stretch, self.length)
        frames = frames[first * self.hop : (until - 1) * self.hop + 1 : self.hop]
        np.multiply(frames, self._window, out=self._work[: len(frames)])
        return powers(self._work, len(self.frequencies))[
            : len(frames)
        ]  # a whole group takes no longer than two


def powers(frames: Array32, bins: int) -> Array32:
    """Energy in the first bins of windowed frames: (…, length) → (…, bins); over all bins it sums to the frame's."""
    transformed = np.asarray(scipy.fft.rfft(frames, axis=-1), dtype=np.complex64)
    parts = transformed.view(np.float32)
    np.multiply(parts, parts, out=parts)
    found: Array32 = parts[..., 0 : 2 * bins : 2] + parts[..., 1 : 2 * bins : 2]
    found *= np.float32(2.0 / frames.shape[-1])
    return found


def in_batches(blocks: Iterable[Array32], size: int, spare: int) -> Iterator[tuple[Array32, bool]]:
    """The same samples in blocks of one size, whatever they came in, and whether a block is the last.

    The last is at least `spare` long (if there are so many), at most `size + spare`. So what is computed doesn't
    hang on how the samples were cut.
    """
    _keep_memory()
    buffer = np.empty(size + spare, dtype=np.float32)
    filled = 0
    for block in blocks:
        if block.ndim != 1:
            raise OutOfRange("a block of samples", found=f"shape {block.shape}", expected="one channel, (F,)")
        at = 0
        while at < len(block):
            if filled == len(buffer):
                yield buffer[:size], False
                rest, buffer = buffer[size:], np.empty(size + spare, dtype=np.float32)
                buffer[:spare], filled = rest, spare
            taken = min(len(buffer) - filled, len(block) - at)
            buffer[filled : filled + taken] = block[at : at + taken]
            filled, at = filled + taken, at + taken
    if filled:
        yield buffer[:filled], True


@cache
def _keep_memory() -> None:
    """Let the allocator keep what is freed, up to some tens of megabytes.

    glibc gives larger arrays back to the system at once and has them cleared anew for the next batch, which takes
    as long as the transforms themselves; it stops doing so for sizes that it has once seen freed (mallopt(3)).
    Nothing is touched here, so nothing is taken up.
    """
    np.empty(30 << 20, dtype=np.uint8)
