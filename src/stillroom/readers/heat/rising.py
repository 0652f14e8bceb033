"""Times of a log made to rise: past midnight, repeated stamps spread, small steps back taken out, gaps told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.readers.heat.stamps import DAY, Stamped
from stillroom.readers.words.numbers import Array

SLIP = 2.0
"""A stamp may lie so far before the one above it [s]: a clock that was put right while it ran. More is refused."""

GAP, LEAST_GAP = 3.0, 2.0
"""A step counts as a gap from so many usual steps, and so many seconds, on."""


@dataclass(frozen=True)
class Gap:
    """Between two readings nothing was logged: [s] since the first row."""

    first: float
    last: float


@dataclass(frozen=True)
class Rising:
    """The times of a log, rising.

    Parameters
    ----------
    seconds : of each reading since the first (n,) [s]. begin : of the first, on the scale of the stamps [s].
    step : the usual distance of two readings [s]. repeated : how many readings had the stamp of the one before, and
    were spread evenly to the next stamp. slips : how many stamps lay a little before the one above.
    midnights : how often a clock passed midnight. gaps : where nothing was logged.
    """

    seconds: Array
    begin: float
    step: float
    repeated: int
    slips: int
    midnights: int
    gaps: tuple[Gap, ...]

    @property
    def span(self) -> float:
        """From the first reading to the last [s]."""
        return float(self.seconds[-1])


class GoesBack(ValueError):
    """A stamp lies far before the one above it.

    Parameters
    ----------
    at : its index. by : how far [s].
    """

    def __init__(self, at: int, by: float) -> None:
        super().__init__(at)
        self.at, self.by = at, by


def rising(stamps: Array, kind: Stamped) -> Rising:
    """The times of a log from its stamps [s].

    Raises
    ------
    GoesBack : a stamp lies more than `SLIP` before the one above it (of a clock: and it isn't midnight).
    """
    stamps, midnights = _past_midnight(stamps) if kind is Stamped.CLOCK else (stamps, 0)
    back = np.diff(stamps)
    worst = np.flatnonzero(back < -SLIP)
    if worst.size:
        raise GoesBack(int(worst[0]) + 1, float(-back[worst[0]]))
    slips = int(np.count_nonzero(back < 0.0))
    level = np.maximum.accumulate(stamps) if slips else stamps
    groups = np.flatnonzero(np.concatenate(([True], np.diff(level) > 0.0)))
    repeated = len(level) - len(groups)
    if repeated:
        level = _spread(level, groups)
    seconds = level - level[0]
    steps = np.diff(seconds)
    step = float(np.median(steps)) if steps.size else 0.0
    wide = np.flatnonzero(steps > max(GAP * step, LEAST_GAP + step))
    gaps = tuple(Gap(float(seconds[i]), float(seconds[i + 1])) for i in wide)
    return Rising(seconds, float(level[0]), step, repeated - slips, slips, midnights, gaps)


def _past_midnight(stamps: Array) -> tuple[Array, int]:
    """Clocks with a day more from each fall of more than half a day on."""
    falls = np.diff(stamps) < -DAY / 2
    count = int(np.count_nonzero(falls))
    days = np.concatenate(([0.0], np.cumsum(falls))) if count else 0.0
    return np.asarray(stamps + DAY * days), count


def _spread(level: Array, groups: NDArray[np.intp]) -> Array:
    """Readings of one stamp spread evenly up to the next stamp, at most over the usual distance of stamps.

    The first stamp may have begun before the log: its readings are its last ones.
    """
    distinct = level[groups]
    sizes = np.diff(np.append(groups, len(level)))
    usual = float(np.median(np.diff(distinct))) if len(distinct) > 1 else 0.0
    after = np.append(np.diff(distinct), usual)
    often = int(np.median(sizes))
    within = np.arange(len(level)) - np.repeat(groups, sizes)
    parts = np.maximum(sizes, 1).astype(np.float64)
    if often > sizes[0]:
        within[: sizes[0]] += often - sizes[0]
        parts[0] = often
    room = np.minimum(after, usual)
    return np.asarray(level + within * np.repeat(room / parts, sizes))
