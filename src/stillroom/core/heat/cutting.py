"""Where the settings of a run begin and end."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import NORMAL_MAD
from stillroom.core.heat.edges import MOST_PLACES, peaks

LEAST = 60.0
"""Shortest setting by a record of the drive [s]; shorter ones are ramps and slips."""

LEAST_BY_CHANGE = 180.0
"""Shortest setting by changes of what was measured [s], which is also how long it rests after one."""

SAME_SHARE = 0.005
"""Values of a drive within this share of its greatest value are one setting [1]."""

AT_ONCE = 2_000_000
"""So many readings are looked at at once."""

RAMP_PATIENCE = 3
"""So many readings in a row beyond a setting end it; fewer are slips."""


@dataclass(frozen=True)
class Cut:
    """One setting within a run.

    Parameters
    ----------
    first, last : its first and last reading [s]. value : the setting, in the unit of the record; None where a change
        of what was measured tells of it, not a drive.
    """

    first: float
    last: float
    value: float | None


def by_drive(times: Array, drive: Array, *, least: float = LEAST) -> tuple[Cut, ...]:
    """Cut a run by its record of duty, volts or set speed.

    Parameters
    ----------
    times : rising, (n,) [s].
    drive : (n,), NaN in gaps.
    least : shortest setting [s].

    Returns
    -------
    The settings in order of time. Noise of a count or two, single slips and gaps cut nothing; ramps between two
    settings belong to neither. A setting that comes again later is a new one.
    """
    finite = np.isfinite(drive)
    t, v = times[finite], drive[finite]
    if not len(v):
        return ()
    tolerance = _tolerance(v)
    pieces = [each for each in _plateaus(v, tolerance) if t[each[1]] - t[each[0]] >= least]
    level = [(first, last, float(np.median(v[first : last + 1]))) for first, last in pieces]
    return tuple(Cut(float(t[a]), float(t[b]), value) for a, b, value in _joined(level, tolerance))


def _tolerance(v: Array) -> float:
    """Within what values are one setting: noise, a count and a half, or 0.5 % of the greatest."""
    steps = np.abs(np.diff(v))
    noise = NORMAL_MAD * float(np.median(steps)) / np.sqrt(2.0) if steps.size else 0.0
    counts = np.diff(np.unique(v))
    frequent = steps[steps > 0.0]
    count = float(np.median(frequent)) if frequent.size > len(v) // 50 and counts.size else 0.0
    return max(5.0 * float(noise), 1.6 * count, SAME_SHARE * float(np.abs(v).max()), 1e-12)


def _plateaus(v: Array, tolerance: float) -> list[tuple[int, int]]:
    """Stretches of readings about one value: numbers of their first and last."""
    found: list[tuple[int, int]] = []
    values, ends = v.tolist(), iter([*(np.flatnonzero(np.diff(v)) + 1).tolist(), len(v)])
    first, last, mean, count, beyond, i, end = 0, 0, values[0], 1, 0, 0, 0
    while (i := i + 1) < len(values):
        value = values[i]
        if value == mean:  # and so is what follows, to where the value changes
            while end <= i:
                end = next(ends)
            last, beyond, count, i = end - 1, 0, count + end - i, end - 1
            continue
        if abs(value - mean) <= tolerance:
            last, beyond, count = i, 0, count + 1
            mean += (value - mean) / (count if count < 200 else 200)
            continue
        beyond += 1
        if beyond >= RAMP_PATIENCE:
            found.append((first, last))
            alike = [
                j for j in range(i + 1 - RAMP_PATIENCE, i) if np.all(np.abs(v[j:i] - value) <= tolerance)
            ]
            first, last = min(alike, default=i), i
            mean, count, beyond = value, 1, 0
    found.append((first, last))
    return found


def _joined(pieces: list[tuple[int, int, float]], tolerance: float) -> list[tuple[int, int, float]]:
    """Neighbours about one value, parted by a slip of some readings only, as one."""
    joined: list[tuple[int, int, float]] = []
    for first, last, value in pieces:
        if joined and abs(joined[-1][2] - value) <= tolerance and first - joined[-1][1] <= 10 * RAMP_PATIENCE:
            joined[-1] = (joined[-1][0], last, joined[-1][2])
        else:
            joined.append((first, last, value))
    return joined


SIGNS_OF_A_CHANGE = 7.0
LEAST_SPEED_SHARE = 0.02
LEAST_TEMPERATURE = 0.5
"""The smallest change of setting that is looked for: a share of the speed [1], a temperature at the end [K]."""

WINDOW = 30.0
"""Windows on either side of a place that are compared [s]."""


def by_change(
    times: Array, values: Array, *, least: float = LEAST_BY_CHANGE, tau: float | None = None
) -> tuple[Cut, ...]:
    """Cut a run by changes of measured speed or temperature, where no drive was recorded.

    A temperature goes to its end as its rig's time constant lets it; T + τ dT/dt is where it goes, and steps.

    Parameters
    ----------
    times, values : rising, (n,) [s], [1/s] or [K]; NaN in gaps.
    least : shortest setting [s].
    tau : time constant of a temperature [s]; None: a speed, which follows at once.

    Returns
    -------
    The settings in order of time, without a value. One where nothing changes.

    Limits
    ------
    Changes of 2 % of the speed or 0.5 K of the final temperature on; smaller ones aren't told from drift. A drift over
    many minutes is no change. A temperature must have been logged from the time constant's twentieth.
    """
    finite = np.isfinite(values)
    t, v = times[finite], values[finite]
    if len(v) < 3:
        return ()
    step = max(float(np.median(np.diff(t))), float(t[-1] - t[0]) / MOST_PLACES)
    even = np.arange(float(t[0]), float(t[-1]) + 0.5 * step, step)
    window = WINDOW if tau is None else min(max(2.0 * WINDOW, tau / 3.0), 0.9 * least)
    w = max(3, round(window / step))
    if len(even) < 4 * w:
        return (Cut(float(t[0]), float(t[-1]), None),)
    value = np.interp(even, t, v)
    change = _changes(value, w, step, tau)
    smallest = LEAST_TEMPERATURE if tau is not None else LEAST_SPEED_SHARE * float(np.median(np.abs(v)))
    threshold = max(SIGNS_OF_A_CHANGE * _sd(change), smallest)
    places = _resting(change, threshold, max(1, round(least / step)))
    begins = [at + w if tau is not None else _split(value, at, w) for at in places]
    edges = [float(even[0]) - step, *(float(even[at]) - 0.5 * step for at in begins), float(even[-1]) + step]
    if len(edges) > 2 and edges[1] - edges[0] < least:
        del edges[1]  # the start from cold, which a time constant that isn't quite right doesn't undo
    found = []
    for begin, end in pairwise(edges):
        inside = t[(t > begin) & (t <= end)]
        if inside.size and (inside[-1] - inside[0] >= least or len(edges) == 2):
            found.append(Cut(float(inside[0]), float(inside[-1]), None))
    return tuple(found)


def _split(v: Array, at: int, w: int) -> int:
    """The reading with which a change begins: the fewest readings then lie nearer to the other side's median."""
    around = v[at : at + 2 * w]
    before, after = np.median(around[: w // 2]), np.median(around[-(w // 2) :])
    late = np.abs(around - after) < np.abs(around - before)
    wrong = np.concatenate([[0], np.cumsum(late)]) + np.concatenate([np.cumsum(~late[::-1])[::-1], [0]])
    return at + int(np.argmin(wrong))


def _changes(v: Array, w: int, step: float, tau: float | None) -> Array:
    """By how much what it goes to differs between the w readings before and after each place, (n − 2 w + 1,)."""
    windows = np.lib.stride_tricks.sliding_window_view(v, w)
    if tau is None:
        some = max(1, AT_ONCE // w)  # the median copies what it looks at
        parts = [np.median(windows[at : at + some], axis=1) for at in range(0, len(windows), some)]
        goal = np.concatenate(parts)
    else:
        weights = np.arange(w) - (w - 1) / 2.0
        slope = windows @ (weights / np.sum(weights**2)) / step
        goal = windows.mean(axis=1) + tau * slope
    return np.asarray(goal[w:] - goal[:-w])


def _sd(change: Array) -> float:
    """Robust standard deviation of the changes where nothing changes."""
    return NORMAL_MAD * float(np.median(np.abs(change - np.median(change))))


def _resting(change: Array, threshold: float, rest: int) -> NDArray[np.int64]:
    """Places of changes, the greatest first, none within the resting time of another."""
    size = np.abs(change)
    chosen: list[int] = []
    for at in sorted(peaks(size, threshold, 1), key=lambda each: -size[each]):
        if all(abs(at - other) >= rest for other in chosen):
            chosen.append(at)
    return np.array(sorted(chosen), dtype=np.int64)
