"""Bands of speed in which a fan is louder than at a faster one: resonances, as a curve of level shows them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require_finite
from stillroom.errors import BadInput

LEAST_RISE = 1.0
"""From how much more level on a band is told [dB]: the practical margin of levels."""

LEAST_SPEEDS = 3
"""As few tell no band: the loudest needs one on either side [1]."""

SURE = 0.975
"""Share of trials in which the peak must lie above the faster speed [1]."""


@dataclass(frozen=True)
class Fold:
    """One band of speed that is louder than its upper end.

    Parameters
    ----------
    low, high : from where the level is over that at `high`, up to `high` [1/s].
    peak : the loudest speed of the band [1/s]. rise : by how much it is louder than `high` [dB].
    """

    low: float
    high: float
    peak: float
    rise: float


def folds(
    speeds: Array,
    levels_rows: Array,
    *,
    sources: int = 0,
    bound: NDArray[np.bool_] | None = None,
    least: float = LEAST_RISE,
) -> tuple[Fold, ...]:
    """The bands in which the central curve is louder than at a faster speed, as far as the trials bear it out.

    Parameters
    ----------
    speeds : of the grid, rising, (g,) [1/s].
    levels_rows : row 0 central, k rows moved by sources, trials, (1 + k + M, g) [dB]; the central row alone will do.
    sources : k.
    bound : where the curve rests on bounds only, (g,): no band is told there.
    least : smallest rise that is told [dB].

    Returns
    -------
    By rising speed. Where one resonance stands on the flank of another, the two are one band.

    Raises
    ------
    BadInput : fewer than three speeds, or another number of levels. OutOfRange : a level that isn't finite.
    """
    speeds = np.asarray(speeds, dtype=np.float64)
    levels = require_finite("level", levels_rows, "dB")
    if levels.ndim != 2 or speeds.size < LEAST_SPEEDS or levels.shape[1] != speeds.size:
        raise BadInput(
            "curve of level against speed",
            found=f"{levels.shape[-1]} levels at {speeds.size} speeds",
            expected="one level at each of three or more speeds: dwells further apart, or a ramp",
        )
    central, trials = levels[0], levels[1 + sources :]
    quietest = np.minimum.accumulate(central[::-1])[::-1]  # of this speed and all faster ones
    over = central > quietest
    found = []
    for start, end in _runs(over):
        peak = start + int(np.argmax(central[start:end]))
        rise = float(central[peak] - central[end])
        sure = float(np.mean(trials[:, peak] > trials[:, end])) if len(trials) else 1.0
        bounded = bound is not None and bool(bound[peak] or bound[end])
        if rise >= least and sure >= SURE and not bounded:
            low = _crossing(speeds, central, start, float(central[end]))
            found.append(Fold(low, float(speeds[end]), float(speeds[peak]), rise))
    return tuple(found)


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """From where to where (exclusive) flags hold; the last place never does, since no faster speed follows it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(edges[i]), int(edges[i + 1])) for i in range(0, len(edges), 2)]


def _crossing(speeds: Array, central: Array, start: int, level: float) -> float:
    """Where the line into the band's first place meets a level [1/s]."""
    if start == 0:
        return float(speeds[0])
    below, above = float(central[start - 1]), float(central[start])
    share = (level - below) / (above - below)
    return float(speeds[start - 1] + share * (speeds[start] - speeds[start - 1]))
