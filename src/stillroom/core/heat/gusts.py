"""Short changes of the air that goes in: an opened door, somebody who walks by, a probe that was knocked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import NORMAL_MAD
from stillroom.core.heat.edges import MOST_PLACES

AROUND = 600.0
"""The air's usual course is its median over so long on either side [s]."""

LEAST_DEPTH = 0.25
"""Smaller changes are no gust [K] (common practice)."""

SIGNS = 6.0
"""A gust is so many robust standard deviations from the usual course."""

SHORT = 480.0
"""What lasts longer is a drift, not a gust [s]."""


@dataclass(frozen=True)
class AirGust:
    """A short change: begin and end [s], and its greatest change, with its sign [K]."""

    first: float
    last: float
    depth: float


def air_gusts(times: Array, air: Array) -> tuple[AirGust, ...]:
    """The gusts in a record of the air going in.

    Parameters
    ----------
    times : rising, (n,) [s].
    air : mean of its probes (n,) [K]; NaN is a gap.

    Returns
    -------
    Changes of at least 0.25 K that last for less than eight minutes, in order of time.

    Limits
    ------
    A record of ten minutes or more, read every minute or more often; a shorter one has none.
    """
    there = np.isfinite(air) & np.isfinite(times)
    t, value = times[there], air[there]
    if len(t) < 20 or t[-1] - t[0] < AROUND:
        return ()
    step = max(float(np.median(np.diff(t))), float(t[-1] - t[0]) / MOST_PLACES)
    even = np.arange(float(t[0]), float(t[-1]) + 0.5 * step, step)
    course = np.interp(even, t, value)
    size = min(2 * round(AROUND / step) + 1, 2 * (len(even) // 2) - 1)
    off = course - scipy.ndimage.median_filter(course, size=size, mode="nearest")
    noise = NORMAL_MAD * float(np.median(np.abs(off)))
    outside = np.flatnonzero(np.abs(off) > max(LEAST_DEPTH, SIGNS * noise))
    found = []
    for part in np.split(outside, np.flatnonzero(np.diff(outside) > max(1, round(60.0 / step))) + 1):
        if part.size and (part[-1] - part[0]) * step < SHORT:
            deepest = part[np.argmax(np.abs(off[part]))]
            found.append(AirGust(float(even[part[0]]), float(even[part[-1]]), float(off[deepest])))
    return tuple(found)
