"""Invented fans' levels against speed, independent of the code under test.

Broadband 50 to 56 dB per decade of speed; tones at h·Z·N/60 that meet resonances, Q 8 to 25, capped at 13 to
16 dB over the broadband; the case Z = 9, 165 Hz, Q = 22 inverts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint, ramp_points

LOW, HIGH = 500.0, 2000.0


@dataclass(frozen=True)
class TrueFan:
    at_1500: float
    slope: float
    blades: int
    resonances: tuple[tuple[float, float], ...]  # Hz, Q
    under: float  # a tone away from resonances, under the broadband, dB
    cap: float

    def level(self, rpm: Array | float) -> Array:
        rpm = np.asarray(rpm, dtype=np.float64)
        broad = self.at_1500 + self.slope * np.log10(rpm / 1500.0)
        power = np.ones(rpm.shape)
        for harmonic in (1, 2, 3):
            f = harmonic * self.blades * rpm / 60.0
            gain = np.ones(rpm.shape)
            for at, q in self.resonances:
                r = f / at
                gain = gain + 1.0 / ((1.0 - r * r) ** 2 + (r / q) ** 2)
            over = -self.under - 6.0 * (harmonic - 1) + 10.0 * np.log10(gain)
            power = power + 10.0 ** (0.1 * np.minimum(over, self.cap))
        return broad + 10.0 * np.log10(power)

    def limit_rpm(self, limit: float, *, strict: bool = False) -> float:
        """By brute force on a grid of 0.1 rpm; the ends where it tops out or is too loud."""
        rpm = np.arange(LOW, HIGH + 0.05, 0.1)
        keeps = self.level(rpm) <= limit
        if strict:
            return float(HIGH if keeps.all() else rpm[max(int(np.argmin(keeps)) - 1, 0)])
        return float(rpm[np.flatnonzero(keeps)[-1]]) if keeps.any() else LOW


INVERTED = TrueFan(27.0, 53.0, 9, ((165.0, 22.0),), 12.0, 14.0)


def random_fan(draw: np.random.Generator) -> TrueFan:
    count = 1
    return TrueFan(
        at_1500=draw.uniform(26.0, 33.0),
        slope=draw.uniform(50.0, 56.0),
        blades=int(draw.choice([5, 7, 9, 11])),
        resonances=tuple((draw.uniform(150.0, 450.0), draw.uniform(8.0, 25.0)) for _ in range(count)),
        under=draw.uniform(10.0, 20.0),
        cap=draw.uniform(13.0, 16.0),
    )


def dwells(fan: TrueFan, rpm: Array, draw: np.random.Generator, sd: float = 0.15) -> list[LevelPoint]:
    levels = fan.level(rpm) + sd * draw.standard_normal(len(rpm))
    return [
        LevelPoint(float(n) / 60.0, 0.0, float(level), sd, False, False, f"dwell {n:.0f}")
        for n, level in zip(rpm, levels, strict=True)
    ]


def ramp(
    fan: TrueFan, draw: np.random.Generator, *, name: str = "up", sd: float = 0.6, step: float = 5.0
) -> list[LevelPoint]:
    """A sweep as it is read: an offset, an error that neighbouring frames share, and noise of each frame."""
    rpm = np.arange(LOW, HIGH + 0.5 * step, step)
    shared = np.zeros(len(rpm))
    hold = np.exp(-step / 30.0)
    for i in range(1, len(rpm)):
        shared[i] = hold * shared[i - 1] + 0.15 * np.sqrt(1.0 - hold**2) * draw.standard_normal()
    read = fan.level(rpm) + 0.15 * draw.standard_normal() + shared + sd * draw.standard_normal(len(rpm))
    told = rpm + draw.normal(0.0, 1.0)
    return list(ramp_points(told / 60.0, read, run=name, u_speeds=1.0 / 60.0))
