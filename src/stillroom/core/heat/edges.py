"""Sudden changes in the readings of a logger: steps, and kinks of what follows slowly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import NORMAL_MAD

SIGNS_OF_A_STEP = 8.0
"""A step is this many robust standard deviations of the differences between windows."""

MOST_PLACES = 1_000_000
"""A record is looked at in so many even places at most: a long gap in a quick log doesn't make it endless."""

LEAST_SHARE = 0.05
"""A step is at least this share of the range of the values [1]."""


@dataclass(frozen=True)
class Edge:
    """A sudden change.

    Parameters
    ----------
    time : when it was half done [s]. u : standard uncertainty by the times of the readings and its length [s].
    size : by how much the value changed (a step), or its slope (a kink).
    """

    time: float
    u: float
    size: float


def step_edges(times: Array, values: Array, *, window: int = 6) -> tuple[Edge, ...]:
    """The steps of a channel, in order of time.

    Parameters
    ----------
    times : rising, (n,) [s].
    values : (n,), any unit; NaN is a gap.
    window : readings on either side that are compared.

    Returns
    -------
    Edges where the medians before and after differ by eight robust standard deviations and 5 % of the range.
    """
    finite = np.isfinite(values)
    t, v = times[finite], values[finite]
    if len(v) < 2 * window + 1:
        return ()
    medians = np.median(np.lib.stride_tricks.sliding_window_view(v, window), axis=1)
    change = medians[window:] - medians[:-window]  # number i: between reading i + window − 1 and i + window
    # steps are rare, so the median of differences is that of noise; what can be read off is never below a count
    noise = NORMAL_MAD * float(np.median(np.abs(change - np.median(change))))
    span = float(np.quantile(v, 0.995) - np.quantile(v, 0.005))
    threshold = max(SIGNS_OF_A_STEP * noise, LEAST_SHARE * span)
    if not threshold > 0.0:
        return ()
    return tuple(_step(t, v, at + window, window) for at in peaks(np.abs(change), threshold, 2 * window))


def peaks(values: Array, threshold: float, apart: int) -> list[int]:
    """Places of the greatest value within each stretch above a threshold, at least so many places apart."""
    above = np.flatnonzero(values > threshold)
    found: list[int] = []
    for part in np.split(above, np.flatnonzero(np.diff(above) > apart) + 1):
        if part.size:
            top = part[values[part] >= values[part].max() * (1.0 - 1e-9)]
            found.append(int(top[len(top) // 2]))  # of a flat top, its middle
    return found


def _step(t: Array, v: Array, at: int, window: int) -> Edge:
    """The edge near reading `at`: where the values pass half of the way."""
    first, last = max(0, at - window), min(len(v), at + window)
    low = float(np.median(v[max(0, first - window) : max(first, 1)]))
    high = float(np.median(v[min(last, len(v) - 1) : last + window]))
    share = (v[first:last] - low) / (high - low) if high != low else np.linspace(0.0, 1.0, last - first)
    passed = int(np.argmax(share >= 0.5))  # the first reading past half
    if passed == 0:
        return Edge(float(t[first]), float(t[last - 1] - t[first]) / math.sqrt(12.0), high - low)
    one, two = first + passed - 1, first + passed
    between = np.clip((0.5 - share[passed - 1]) / max(share[passed] - share[passed - 1], 1e-12), 0.0, 1.0)
    time = float(t[one] + between * (t[two] - t[one]))
    # a change seen over several readings is placed by its shape; a sudden one lies anywhere between two
    moving = int(np.count_nonzero((share > 0.1) & (share < 0.9)))
    return Edge(time, float(t[two] - t[one]) / math.sqrt(12.0) / math.sqrt(1.0 + moving), high - low)


KINK_WINDOW = 90.0
"""Readings on either side of a kink from which its place is told [s]."""

SIGNS_OF_A_KINK = 6.0


def kink_edges(times: Array, values: Array, *, window: float = KINK_WINDOW) -> tuple[Edge, ...]:
    """The kinks of a channel that follows slowly (a temperature): where its slope changes at once.

    Parameters
    ----------
    times : rising, (n,) [s].
    values : (n,), any unit; NaN is a gap.
    window : looked at on either side [s].

    Returns
    -------
    Edges whose u comes from how sharply two straight lines with a bend fit better at one place than beside it.
    """
    finite = np.isfinite(values)
    t, v = times[finite], values[finite]
    step = max(float(np.median(np.diff(t))), float(t[-1] - t[0]) / MOST_PLACES) if len(t) > 1 else math.inf
    if not step < window / 4.0 or t[-1] - t[0] < 4.0 * window:
        return ()
    even = np.arange(t[0], t[-1], step)
    w = round(window / step)
    slopes = _slopes(np.interp(even, t, v), w) / step
    change = slopes[w:] - slopes[:-w]  # number i: at place i + w
    noise = NORMAL_MAD * float(np.median(np.abs(change - np.median(change))))
    threshold = max(SIGNS_OF_A_KINK * noise, 0.1 * float(np.abs(change).max(initial=0.0)))
    if not threshold > 0.0:
        return ()
    found = (_kink(t, v, float(even[at + w]), window) for at in peaks(np.abs(change), threshold, w))
    return tuple(each for each in found if each is not None)


def _slopes(values: Array, w: int) -> Array:
    """Slope per place of the straight line through each w + 1 neighbours, (n − w,)."""
    weights = np.arange(w + 1) - w / 2.0
    return np.asarray(np.convolve(values, weights[::-1] / np.sum(weights**2), mode="valid"))


def _kink(t: Array, v: Array, near: float, window: float) -> Edge | None:
    """The best place of a bend near a time, and how well it is known."""
    inside = np.abs(t - near) <= window
    at, value = t[inside] - near, v[inside]
    if at.size < 12:
        return None
    tries = np.linspace(-0.5 * window, 0.5 * window, 61)
    fits = [_bent(at, value, shift) for shift in tries]
    squares = np.array([each[0] for each in fits])
    best = int(np.argmin(squares))
    if best in (0, len(tries) - 1):
        return None
    freedom = at.size - 4.0
    residual = fits[best][2]
    r = float(
        np.clip(float(residual[1:] @ residual[:-1]) / max(float(residual @ residual), 1e-30), 0.0, 0.98)
    )
    variance = squares[best] / freedom * (1.0 + r) / (1.0 - r)  # neighbours that follow one another tell less
    bend = np.polynomial.polynomial.polyfit(
        tries[max(0, best - 6) : best + 7], squares[max(0, best - 6) : best + 7], 2
    )
    if not bend[2] > 0.0:
        return None
    place = float(np.clip(-bend[1] / (2.0 * bend[2]), tries[0], tries[-1]))
    return Edge(near + place, math.sqrt(variance / bend[2]), fits[best][1])


def _bent(t: Array, v: Array, place: float) -> tuple[float, float, NDArray[np.float64]]:
    """Sum of squares about a line with a bend (and a curve after it), the change of slope, and the residuals."""
    past = np.maximum(0.0, t - place)
    design = np.stack([np.ones_like(t), t, past, past * past], axis=1)
    solved, *_ = np.linalg.lstsq(design, v, rcond=None)
    residual = v - design @ solved
    return float(residual @ residual), float(solved[2]), residual
