"""Noise of any spectrum, quickly: independent blocks drawn in the frequency domain, overlapped and added.

A normal number is made of the count of ones in 32 random bits: mean 16, variance 8, and the sum of
thousands of them that a sample is can't be told from a normal number. The bits come from NumPy's SFC64, whose raw
stream is promised; so the same seed gives the same noise.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Array32 = NDArray[np.float32]

BLOCK = 16384
"""Samples of a block; half of it is the step from one block to the next."""
HOP = BLOCK // 2
_VARIANCE = 8.0
_ROWS = 32
"""Blocks that are worked on at once."""


def bin_frequencies(rate: float) -> Array:
    """The frequencies [Hz] at which a spectrum is told."""
    return np.asarray(np.arange(BLOCK // 2 + 1) * (rate / BLOCK), np.float64)


def blocks_for(frames: int) -> int:
    """How many blocks `frames` samples take."""
    return -(-frames // HOP) + 1


def block_times(frames: int, rate: float) -> Array:
    """The middle of each block [s]; the first lies at the beginning."""
    return np.arange(blocks_for(frames)) * HOP / rate


class Noise:
    """A stream of noise belonging to one named thing.

    Parameters
    ----------
    seed : the laboratory's seed. name : what it is for.
    """

    def __init__(self, seed: int, name: str) -> None:
        digest = hashlib.sha256(f"{seed}/{name}".encode()).digest()
        self._bits = np.random.SFC64(int.from_bytes(digest[:16], "big"))

    def shaped(self, power: Array, frames: int) -> Array32:
        """Noise of a given spectrum.

        Parameters
        ----------
        power : mean square in each bin of `bin_frequencies`, of shape (B,), or (K, B) with one row a block
            (`blocks_for`) where the spectrum changes with time.
        frames : samples wanted.
        """
        count = blocks_for(frames)
        gains = np.sqrt(np.atleast_2d(power) / _VARIANCE).astype(np.float32) * np.float32(BLOCK / 2)
        out = np.zeros((count + 1, HOP), np.float32)
        window = np.sin(np.pi * (np.arange(BLOCK) + 0.5) / BLOCK).astype(np.float32)
        for start in range(0, count, _ROWS):
            rows = min(_ROWS, count - start)
            spectrum = self._normals(rows)
            spectrum *= gains if len(gains) == 1 else gains[start : start + rows]
            blocks = np.fft.irfft(spectrum, BLOCK, axis=1) * window
            out[start : start + rows] += blocks[:, :HOP]
            out[start + 1 : start + rows + 1] += blocks[:, HOP:]
        return out.reshape(-1)[HOP : HOP + frames]

    def _normals(self, rows: int) -> NDArray[np.complex64]:
        """Complex normal numbers, one for each bin: each part of variance 8."""
        bins = BLOCK // 2 + 1
        ones = np.bitwise_count(self._bits.random_raw(rows * bins).view(np.uint32))
        parts = ones.astype(np.float32) - np.float32(16.0)
        return parts.view(np.complex64).reshape(rows, bins)
