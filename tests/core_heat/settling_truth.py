"""Runs of a first-order system with correlated readings, of which the end is known.

y(t) = y∞ + A ((1 − s) exp(−t/τ) + s exp(−q t/τ)) with AR(1) readings, and what happens at a rig.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from stillroom.core.arrays import Array

READING = 0.0335
"""Hot minus the mean of four air probes, each reading with 0.03 K [K]."""

CORRELATIONS = (0.0, 0.3, 0.6, 0.8, 0.9, 0.95)


def correlated(rng: np.random.Generator, n: int, r: float, sd: float) -> Array:
    """An AR(1) series of a standard deviation."""
    noise = rng.standard_normal(n) * sd
    noise[1:] *= np.sqrt(1.0 - r * r)
    out: Array = lfilter([1.0], [1.0, -r], noise)
    return out


@dataclass(frozen=True)
class Settled:
    """A run: y∞ [K], τ [s], amplitude [K], share and speed of a second mode, drift of the air [K/h]."""

    end: float = 12.0
    tau: float = 300.0
    amplitude: float = -12.0
    share: float = 0.2
    faster: float = 8.0
    drift: float = 0.0

    def curve(self, t: Array) -> Array:
        """Without noise; the air's drift d leaves the hot side d τ behind."""
        x = t / self.tau
        modes = (1.0 - self.share) * np.exp(-x) + self.share * np.exp(-self.faster * x)
        out: Array = self.end + self.amplitude * modes - self.lag * (1.0 - np.exp(-x))
        return out

    @property
    def lag(self) -> float:
        """What a steady drift of the air takes off the end [K]."""
        return self.drift / 3600.0 * self.tau

    def readings(self, rng: np.random.Generator, span: float, r: float) -> tuple[Array, Array]:
        """Times and readings at 1 Hz over so many time constants."""
        t = np.arange(int(span * self.tau), dtype=np.float64)
        return t, self.curve(t) + correlated(rng, t.size, r, READING)


def opened_door(t: Array, at: float, lasts: float, size: float) -> Array:
    """Air that warms within seconds while a door is open [s], and recovers within half a minute."""
    since = t - at
    during = 1.0 - np.exp(-np.clip(since, 0.0, None) / 10.0)
    after = np.exp(-np.clip(since - lasts, 0.0, None) / 20.0)
    return size * np.where(since > 0.0, during * after, 0.0)


def any_run(rng: np.random.Generator, **more: float) -> tuple[Settled, float]:
    """A run of some rig, and the correlation of its readings."""
    end = float(rng.uniform(8.0, 20.0))
    run = Settled(**{"end": end, "tau": float(rng.uniform(200.0, 600.0)), "amplitude": -end, **more})
    return run, float(rng.choice(CORRELATIONS))
