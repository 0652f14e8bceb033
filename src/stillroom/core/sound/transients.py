"""Sounds that are not the fan's: seconds that are louder than the rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

OVER = 3.0
"""A second so far over the median second is a transient [dB] (common practice)."""

SHORTEST = 0.125
"""The rest of a second at the end is judged when it is at least so long [s]: less scatters too much."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Transient:
    """A stretch of seconds that was left out.

    Parameters
    ----------
    start, length [s].
    over : its loudest second over the median second [dB].
    """

    start: float
    length: float
    over: float


def limit(seconds: Array) -> float:
    """The level above which a second is a transient [dB], from the levels of all seconds (n,), n > 0."""
    return float(np.median(seconds)) + OVER


def kept_seconds(seconds: Array, lengths: Array) -> Flags:
    """Which seconds are no transients, (n,), from their levels [dB] and lengths [s], (n,) each, n > 0."""
    kept: Flags = (seconds <= limit(seconds)) | (lengths < SHORTEST)
    return kept


def transients(seconds: Array, lengths: Array, kept: Flags) -> tuple[Transient, ...]:
    """The stretches that are left out, as evidence; levels [dB] and lengths [s] of the seconds, (n,) each."""
    change = np.flatnonzero(np.diff(np.concatenate([[True], kept, [True]])))
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    median = float(np.median(seconds))
    return tuple(
        Transient(float(starts[a]), float(starts[b] - starts[a]), float(seconds[a:b].max()) - median)
        for a, b in zip(change[::2], change[1::2], strict=True)
    )


def unsteadiness(seconds: Array, lengths: Array, kept: Flags) -> tuple[float, float] | tuple[None, None]:
    """How far the kept seconds drift and scatter.

    Parameters
    ----------
    seconds : their levels, (n,) [dB].
    lengths : theirs, (n,) [s].
    kept : which of them count, (n,).

    Returns
    -------
    slope times duration, and standard deviation about the slope [dB]; None where under three seconds are left.
    """
    middles = np.cumsum(lengths) - lengths / 2.0
    used = kept & (lengths > 0.5)
    if np.count_nonzero(used) < 3:
        return None, None
    time, level = middles[used] - np.mean(middles[used]), seconds[used]
    slope = float(time @ level / (time @ time))
    rest = level - level.mean() - slope * time
    return slope * float(lengths.sum()), float(np.sqrt(rest @ rest / (len(rest) - 2)))
