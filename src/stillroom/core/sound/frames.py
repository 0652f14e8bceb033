"""Overlapping Hann frames of a stream of samples, and their power spectra.

Frames follow each other by a third of their length: then the squares of their windows add up to a constant, so
that the powers of all frames weigh every sample alike, the first and the last as well. A rectangular block would
do so too, but it lets a strong low rumble leak into all bands; a Hann frame doesn't.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from stillroom.core.arrays import Array
from stillroom.core.standards import iec_61260_1_2014 as bands
from stillroom.errors import OutOfRange

Array32 = NDArray[np.float32]

OVERLAP = 3
"""Frames over each sample."""

NOISE_BANDWIDTH = 1.5
"""Of the Hann window [bins]."""

GROUP = 4
"""Frames transformed at once: as many as fit in a processor's vector registers."""

FADE = 0.01
"""The samples rise from zero and fall to it over so long at both ends of a recording [s]: they start anywhere."""


class Frames(NamedTuple):
    """Some frames, in order of time.

    Parameters
    ----------
    starts : first sample of each, which lies before 0 where a frame reaches out of the recording, (n,).
    weights : sum of the squared window over the samples that there are, (n,).
    powers : squared magnitude of each bin, times two over the length, (n, B): over all bins it sums to
        the energy in the frame.
    """

    starts: NDArray[np.int64]
    weights: Array
    powers: Array32


class HannFrames:
    """The frames of one stream.

    Parameters
    ----------
    rate : sampling rate [Hz]. longest : of a frame [s], as near as a fast transform allows; not below it.
    """

    def __init__(self, rate: float, longest: float) -> None:
        self.hop = int(fft.next_fast_len(math.ceil(rate * longest / OVERLAP), real=True))
        self.length = OVERLAP * self.hop
        self.resolution = rate / self.length
        bins = min(self.length // 2, math.ceil(float(bands.edges()[-1]) / self.resolution)) + 1
        self.frequencies: Array = self.resolution * np.arange(bins, dtype=np.float64)
        self._window = hann(self.length)
        self._full = float(np.sum(self._window.astype(np.float64) ** 2))
        self._work = np.empty((GROUP, self.length), dtype=np.float32)
        self._fade = round(FADE * rate)
        self._carry = np.zeros(self.length - self.hop, dtype=np.float32)
        self._at = 0

    def feed(self, samples: Array32, *, last: bool = False) -> Iterator[Frames]:
        """The frames that further samples complete.

        Parameters
        ----------
        samples : the next ones, (F,); at the beginning and at the end longer than the fade, if there are so many.
        last : these are the last; frames that reach beyond them are given as well.
        """
        first = self._at == 0
        gains = self._gains(len(samples), first, last) if first or last else None
        stretch: Array32 = np.concatenate([self._carry, samples if gains is None else samples * gains])
        start = self._at - len(self._carry)
        carried = len(self._carry)
        if last:
            count = -(-len(stretch) // self.hop)
            stretch = np.pad(stretch, (0, (count + OVERLAP - 1) * self.hop - len(stretch)))
        else:
            count = (len(stretch) - self.length) // self.hop + 1
        self._at += len(samples)
        self._carry = stretch[count * self.hop :].copy()
        if gains is not None:
            there = np.zeros_like(stretch)
            there[carried : carried + len(gains)] = gains
            there[:carried] = 0.0 if first else 1.0
        for group in range(0, count, GROUP):
            until = min(group + GROUP, count)
            weights = np.full(until - group, self._full)
            if gains is not None:
                windows = (self._cut(there, group, until) * self._window).astype(np.float64)
                weights = np.asarray(np.sum(windows**2, axis=1))
            starts = start + self.hop * np.arange(group, until, dtype=np.int64)
            yield Frames(starts, weights, self._powers(self._cut(stretch, group, until)))

    def is_inside(self, starts: NDArray[np.int64], total: int) -> NDArray[np.bool_]:
        """Which frames lie wholly within a recording of so many samples, (n,)."""
        inside: NDArray[np.bool_] = (starts >= 0) & (starts + self.length <= total)
        return inside

    def _gains(self, count: int, first: bool, last: bool) -> Array32:
        gains = np.ones(count, dtype=np.float32)
        length = min(self._fade, count // 2)
        rise = (0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / max(length, 1))).astype(np.float32)
        if first:
            gains[:length] = rise
        if last:
            gains[count - length :] = rise[::-1]
        return gains

    def _cut(self, stretch: Array32, first: int, until: int) -> Array32:
        """Frames `first` to `until` of a stretch, (n, length), without copying."""
        frames = np.lib.stride_tricks.sliding_window_view(stretch, self.length)
        return frames[first * self.hop : (until - 1) * self.hop + 1 : self.hop]

    def _powers(self, frames: Array32) -> Array32:
        windowed = np.multiply(frames, self._window, out=self._work[: len(frames)])
        return powers(windowed, len(self.frequencies))


def powers(frames: Array32, bins: int) -> Array32:
    """Squared magnitudes of the first bins, times two over the length: (…, length) → (…, bins)."""
    transformed = np.asarray(fft.rfft(frames, axis=-1), dtype=np.complex64)
    parts = transformed.view(np.float32)
    np.multiply(parts, parts, out=parts)
    found: Array32 = parts[..., 0 : 2 * bins : 2] + parts[..., 1 : 2 * bins : 2]
    found *= np.float32(2.0 / frames.shape[-1])
    return found


def hann(length: int) -> Array32:
    """A periodic Hann window, (length,); of one sample it is 1."""
    if length == 1:
        return np.ones(1, dtype=np.float32)
    return (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(length) / length)).astype(np.float32)


def in_batches(blocks: Iterable[Array32], size: int, spare: int) -> Iterator[tuple[Array32, bool]]:
    """The same samples in blocks of one size, whatever they came in, and whether a block is the last.

    The last is at least `spare` long (if there are so many), at most `size + spare`; an array is given once and
    overwritten afterwards. So what is computed doesn't hang on how the samples were cut.
    """
    buffer = np.empty(size + spare, dtype=np.float32)
    filled = 0
    for block in blocks:
        if block.ndim != 1:
            raise OutOfRange("a block of samples", found=f"shape {block.shape}", expected="one channel, (F,)")
        at = 0
        while at < len(block):
            if filled == len(buffer):
                yield buffer[:size].copy(), False
                buffer[:spare] = buffer[size:].copy()
                filled = spare
            taken = min(len(buffer) - filled, len(block) - at)
            buffer[filled : filled + taken] = block[at : at + taken]
            filled, at = filled + taken, at + taken
    if filled:
        yield buffer[:filled].copy(), True
