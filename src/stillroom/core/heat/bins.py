"""A long series thinned to means of equal spans of time, after single spikes are taken out.

Spans are 2ᵏ seconds, counted from the first reading: where a growing series has too many, neighbours join in
pairs. So a series that is kept up to date and one that is thinned at once give the same means.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array

Flags = NDArray[np.bool_]

NEIGHBOURS = 15
"""Readings from whose median a spike stands out, itself in the middle."""

HALF = NEIGHBOURS // 2
"""So many of them on either side."""

CORNER = 1.5
"""So many times what a series rises by at an end is taken for no spike there: a fast mode makes it steeper first."""

SPIKE_FLOOR = 0.15
"""A departure from the neighbours up to this is none to speak of [K]."""

SPIKE = 6.0
"""Robust standard deviations of the neighbours beyond which a reading is a spike."""

NORMAL_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

CONTEXT = 2 * (NEIGHBOURS - 1)
"""Readings before a reading on which it hangs whether that one is a spike."""

MOST = 64
"""Spans of a series; more are joined in pairs. Few, so that neighbours tell of a slow wander and not of the noise
of single readings: with hundreds of spans the same wander makes intervals that are too narrow."""

DISTURBED = 5.0
"""Robust standard deviations off the curve from which a span is disturbed (an opened door)."""

AROUND = 2.5
"""And the spans next to a disturbed one, from so many on."""

NO_NOISE = 1e-3
"""Standard deviation that any mean is given at least, where it is asked for disturbances [K]."""

MOST_LEFT_OUT = 0.25
"""Share of a series that may be left out as disturbed; beyond it the disturbance is what happened."""


@dataclass(frozen=True)
class Binned:
    """A series as means of equal spans.

    Parameters
    ----------
    times, values : mean time [s] and mean value of each span that holds a reading, shape (m,).
    width : length of a span [s].
    spans : which span each is, counted from the first, shape (m,).
    """

    times: Array
    values: Array
    width: float
    spans: NDArray[np.intp]

    def raster(self, left: Array) -> Array:
        """Residuals of the spans with the missing ones as NaN, so that neighbours are neighbours."""
        if self.spans[-1] - self.spans[0] == self.spans.size - 1:
            return left
        full = np.full(int(self.spans[-1] - self.spans[0]) + 1, np.nan)
        full[self.spans - self.spans[0]] = left
        return full

    def only(self, kept: Flags) -> Binned:
        """Those that are kept, the others as gaps."""
        return Binned(self.times[kept], self.values[kept], self.width, self.spans[kept])


def spikes(values: Array) -> Flags:
    """Single readings that stand out from their neighbours, shape (n,); a step of several readings isn't one.

    Parameters
    ----------
    values : finite readings in their order [K], shape (n,).

    Notes
    -----
    Source: F. R. Hampel, J. Am. Stat. Assoc. 69 (1974) 383, the median and its deviations (from memory).
    """
    off = np.abs(values - scipy.ndimage.median_filter(values, NEIGHBOURS, mode="mirror"))
    beyond = off.copy()
    if (
        values.size >= NEIGHBOURS
    ):  # a mirrored end makes a corner of a rise: what it rises by there is no spike
        beyond[:HALF] -= CORNER * _rise(values)
        beyond[-HALF:] -= CORNER * _rise(values[::-1])
    flags: Flags = beyond > SPIKE_FLOOR
    asked = np.flatnonzero(flags)  # only of these is it asked how far their neighbours scatter
    if asked.size:
        scale = NORMAL_MAD * _middles(off, asked)
        flags[asked] = beyond[asked] > SPIKE_FLOOR + SPIKE * scale
    return flags


def _rise(values: Array) -> float:
    """By how much a series rises or falls over half the neighbours of its first reading [K], one spike or not."""
    return abs(middle(values[HALF - 1 : HALF + 2]) - middle(values[:3]))


def _middles(values: Array, places: NDArray[np.intp]) -> Array:
    """The median of the neighbours at some places, the series mirrored at its ends as in `spikes`."""
    last = values.size - 1
    around = (places[:, None] + np.arange(-HALF, HALF + 1)) % max(2 * last, 1)
    out: Array = np.partition(values[last - np.abs(last - around)], HALF, axis=1)[:, HALF]
    return out


def disturbed(left: Array) -> Flags:
    """Spans that stand out from the curve, with their neighbours as far as those stand out too, shape (m,).

    Parameters
    ----------
    left : what the curve leaves of each span [K], shape (m,).
    """
    off = np.abs(left - middle(left))
    off /= max(NORMAL_MAD * middle(off), NO_NOISE)
    flags: Flags = off > DISTURBED
    while flags.any():
        around = flags.copy()
        around[1:] |= flags[:-1]
        around[:-1] |= flags[1:]
        wider = around & (flags | (off > AROUND))
        if np.array_equal(wider, flags):
            break
        flags = wider
    return flags


def middle(values: Array) -> float:
    """The median, of an even number the upper one."""
    return float(np.partition(values, values.size // 2)[values.size // 2])


def width_for(length: float, most: int = MOST) -> float:
    """The span that gives a series of some length [s] no more than so many means: 2ᵏ s, at least 1 s."""
    width = 1.0
    while length >= width * most:
        width *= 2.0
    return width


def binned(times: Array, values: Array, first: float, width: float) -> Binned:
    """Means over spans of a width [s], counted from a first moment [s].

    Parameters
    ----------
    times, values : readings in their order [s], [K], none before the first moment, shape (n,).
    first : the first moment [s].
    width : of a span [s].
    """
    spans = np.floor((times - first) / width).astype(np.intp)
    ends = np.flatnonzero(spans[1:] != spans[:-1]) + 1
    starts = np.concatenate([[0], ends])
    counts = np.concatenate([ends, [spans.size]]) - starts
    return Binned(
        np.add.reduceat(times, starts) / counts,
        np.add.reduceat(values, starts) / counts,
        width,
        spans[starts],
    )
