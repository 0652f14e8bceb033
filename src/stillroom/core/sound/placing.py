"""Where the next speed of a level curve should lie.

What a dwell tells about a noise-limited speed depends on where it lies, more than on how levels are joined: the
best place is where it is least known whether the fan keeps to the limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_curve import LevelCurve

APART = 25.0 / 60.0
"""Least distance from a speed that was measured [1/s]."""

SETTLED = 0.01
"""P(1 − P) under which a further dwell is not worth it [1]."""


@dataclass(frozen=True)
class NextSpeed:
    """A speed worth a dwell.

    Parameters
    ----------
    speed : [1/s].
    limit : the limit that it serves [dB].
    probability : that the level there keeps to the limit [1].
    """

    speed: float
    limit: float
    probability: float

    @property
    def doubt(self) -> float:
        """How little is known whether the fan keeps to the limit there: P(1 − P), at most 0.25 [1]."""
        return self.probability * (1.0 - self.probability)


def next_speed(curve: LevelCurve, limits: Sequence[float]) -> NextSpeed | None:
    """The speed where P(level ≤ limit) is nearest one half, at least 25 rpm from every dwell.

    Parameters
    ----------
    curve : of one mounting. Its own deviations count, not what is shared: another dwell can't tell a microphone's
        error.
    limits : noise limits that matter [dB].

    Returns
    -------
    NextSpeed for the limit that has most to gain; None where no further dwell is worth it.

    Source: tried on invented fans: with 4 speeds placed so after 8 even ones, the interval of the noise-limited
    speed is less than half as wide as with 12 even ones.
    """
    dwells = np.array([each.speed for each in curve.points if not each.from_ramp])
    free = _apart(curve.speeds, dwells) & ~curve.bound
    best: NextSpeed | None = None
    for limit in limits:
        keeps = np.mean(curve.noise <= (limit - curve.central), axis=0)
        worth = np.where(free, keeps * (1.0 - keeps), 0.0)
        at = int(np.argmax(worth))
        found = NextSpeed(float(curve.speeds[at]), float(limit), float(keeps[at]))
        if worth[at] >= SETTLED and (best is None or found.doubt > best.doubt):
            best = found
    return best


def _apart(speeds: Array, measured: Array) -> NDArray[np.bool_]:
    if measured.size == 0:
        return np.ones(speeds.shape, dtype=np.bool_)
    return np.asarray(np.abs(speeds[:, None] - measured[None, :]).min(axis=1) >= APART * (1.0 - 1e-9))
