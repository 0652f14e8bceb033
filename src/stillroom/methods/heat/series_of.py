"""A mounting's readings thinned to what a drawing can show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.methods.heat.aligning import Aligned
from stillroom.methods.heat.channels import DRIVES, HOT, OPTICAL, SPEED, Channels, air_of
from stillroom.methods.heat.series import MOST, HeatSeries, StepSpan
from stillroom.methods.heat.stepping import rise_of


def series_of(runs: Sequence[tuple[Aligned, float]], steps: Sequence[HeatStep], nominal: float) -> HeatSeries:
    """The series of all runs of a mounting, with an empty row between two runs.

    Parameters
    ----------
    runs : with the second at which each begins on the mounting's clock. steps : of all. nominal : heat [W].
    """
    tau = next((each.tau for each in steps if each.tau), None)
    kinds = [
        kind for kind, name in DRIVES.items() if any(run.channels.get(name) is not None for run, _ in runs)
    ]
    kind = kinds[0] if kinds else ""
    rows = [_rows(run.channels, began, nominal, tau, kind) for run, began in runs]
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
    return HeatSeries(moment, times, delta, hot, air, power, speed, setting, kind, spans)


def _kept(count: int, begins: Sequence[np.intp]) -> Array:
    """Every so-manieth row, and those around the beginnings of steps."""
    every = np.arange(0, count, max(1, -(-count // (MOST - 2 * len(begins) - 1))))
    near = [int(at) + by for at in begins for by in (-1, 0)]
    rows = np.unique([*every, *near, count - 1])
    return rows[(rows >= 0) & (rows < count)]


def _rows(channels: Channels, began: float, nominal: float, tau: float | None, kind: str) -> Array:
    """Time, rise, hot, air, power, speed and setting of one run, (7, n)."""
    rise, _, power, _ = rise_of(channels, nominal, tau)
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
            power,
            nothing if speed is None else speed,
            nothing if drive is None else drive,
        ]
    )


def _span(step: HeatStep) -> StepSpan:
    since = (step.steadiness or {}).get("since")
    return StepSpan(step.number, step.first, step.last, step.how.value, since)
