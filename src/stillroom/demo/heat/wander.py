"""Arrays of random numbers belonging to one named thing: white, correlated, and slow wanderings.

The bits come from NumPy's SFC64, whose raw stream is promised; normal numbers by the Box–Muller transform.
"""

from __future__ import annotations

import hashlib
import math

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.draws import Draws

Array = NDArray[np.float64]


def normals(seed: int, name: str, count: int) -> Array:
    """Independent normal numbers of standard deviation 1."""
    digest = hashlib.sha256(f"{seed}/{name}".encode()).digest()
    bits = np.random.SFC64(int.from_bytes(digest[:16], "big"))
    half = (count + 1) // 2
    first, second = (np.asarray(bits.random_raw(half) >> 11, np.float64) / 2**53 for _ in range(2))
    radius, angle = np.sqrt(-2.0 * np.log1p(-first)), 2.0 * np.pi * second
    return np.concatenate([radius * np.cos(angle), radius * np.sin(angle)])[:count]


def correlated(seed: int, name: str, count: int, interval: float, correlation: float) -> Array:
    """Normal numbers of standard deviation 1 of which each remembers the one before.

    Parameters
    ----------
    interval : between two of them [s]. correlation : time after which they have forgotten all but 1/e [s].
    """
    r = math.exp(-interval / correlation)
    fresh = normals(seed, name, count) * math.sqrt(1 - r * r)
    kept = [0.0] * count
    last = float(fresh[0]) / math.sqrt(1 - r * r)
    for i, each in enumerate(fresh.tolist()):
        last = last * r + each if i else last
        kept[i] = last
    return np.asarray(kept)


def slow(seed: int, name: str, times: Array, amplitude: float, periods: tuple[float, float]) -> Array:
    """A slow wandering about zero: three sines with periods of a range [s]; `amplitude` is that of each."""
    draws = Draws(seed, f"slow {name}")
    found = np.zeros_like(times)
    for _ in range(3):
        period, phase = draws.between(*periods), draws.between(0.0, 2 * math.pi)
        found += amplitude * draws.between(0.4, 1.0) * np.sin(2 * np.pi * times / period + phase)
    return found
