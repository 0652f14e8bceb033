"""A mounting's readings thinned to what a drawing can show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.methods.heat.aligning import Aligned
from stillroom.methods.heat.channels import DRIVES, HOT, OPTICAL, SPEED, Channels, air_of, power_of
from stillroom.methods.heat.cutting import heated_of
from stillroom.methods.heat.series import MOST, HeatSeries, StepSpan
from stillroom.methods.heat.stepping import Followed, rise_of


def series_of(
    runs: Sequence[tuple[Aligned, float]], followed: Sequence[Followed], nominal: float
) -> HeatSeries:
    """The series of all runs of a mounting, with an empty row between two runs.

    Parameters
    ----------
    runs : with the second at which each begins on the mounting's clock.
    followed : the steps of all with the rise by which each was judged, on the mounting's clock. nominal : heat [W].
    """
    steps = [each.step for each in followed]
    kinds = [
        kind for kind, name in DRIVES.items() if any(run.channels.get(name) is not None for run, _ in runs)
    ]
    kind = kinds[0] if kinds else ""
    rows = [_rows(run.channels, began, nominal, followed, kind) for run, began in runs]
    gap = np.full((len(rows[0]), 1), np.nan)
    parts: list[Array] = []
    for each in rows:
        if parts:
            between = gap.copy()
            between[0] = parts[-1][0, -1] + 1e-3
            parts.append(between)
        parts.append(each)
    whole = np.concatenate(parts, axis=1)
    whole = whole[:, _kept(whole.shape[1], [np.searchsorted(whole[0], each.first) for each in steps])]
    moment, spans = runs[0][0].channels.moment, tuple(map(_span, steps))
    times, delta, hot, air, power, speed, setting = whole
    out = tuple(stretch for each in followed for stretch in _stretches(each))
    return HeatSeries(moment, times, delta, hot, air, power, speed, setting, kind, spans, out)


def _kept(count: int, begins: Sequence[np.intp]) -> Array:
    """Every so-manieth row, and those around the beginnings of steps."""
    every = np.arange(0, count, max(1, -(-count // (MOST - 2 * len(begins) - 1))))
    near = [int(at) + by for at in begins for by in (-1, 0)]
    rows = np.unique([*every, *near, count - 1])
    return rows[(rows >= 0) & (rows < count)]


def _stretches(followed: Followed) -> list[tuple[float, float]]:
    """The first and last moment of each row of neighbours that were left out [s]."""
    edges = np.diff(followed.left_out.astype(np.int8), prepend=0, append=0)
    firsts, lasts = np.flatnonzero(edges > 0), np.flatnonzero(edges < 0) - 1
    return [(float(followed.times[i]), float(followed.times[k])) for i, k in zip(firsts, lasts, strict=True)]


def _rise(channels: Channels, began: float, nominal: float, followed: Sequence[Followed]) -> Array:
    """Rise at nominal power of one run, (n,) [K]: in a step as it was judged, beside them by the mean power.

    Before the heater comes on and after it goes off there is none: a rise of no power belongs to none.
    """
    times = channels.times + began
    rise = np.full(len(times), np.nan)
    heated = heated_of(channels)
    first = int(np.searchsorted(channels.times, heated.times[0]))
    rise[first : first + len(heated.times)] = rise_of(heated, nominal, None)[0]
    for each in followed:
        at = np.searchsorted(times, each.times)
        at[at == len(times)] -= 1
        own = times[at] == each.times
        rise[at[own]] = each.rise[own]
    return rise


def _rows(channels: Channels, began: float, nominal: float, followed: Sequence[Followed], kind: str) -> Array:
    """Time, rise, hot, air, power, speed and setting of one run, (7, n)."""
    rise, power = _rise(channels, began, nominal, followed), power_of(channels)
    nothing = np.full(len(channels.times), np.nan)
    speed = channels.get(SPEED)
    speed = channels.get(OPTICAL) if speed is None else speed
    drive = channels.get(DRIVES[kind]) if kind else None
    return np.array(
        [
            channels.times + began,
            rise,
            channels.columns[HOT],
            air_of(channels)[0],
            nothing if power is None else power,
            nothing if speed is None else speed,
            nothing if drive is None else drive,
        ]
    )


def _span(step: HeatStep) -> StepSpan:
    since = (step.steadiness or {}).get("since")
    return StepSpan(step.number, step.first, step.last, step.how.value, since)
