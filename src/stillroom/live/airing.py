"""The air going in while a step grows: what one of its probes does alone is told of that probe, not of the air."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.methods.heat.channels import Channels, air_of
from stillroom.records.limits import Limits

LEAST = 8
"""With fewer readings of a probe nothing is told of it."""

NEWEST = 120.0
"""Whether probes read apart now is told by the means of so many seconds [s]."""


def as_now(step: HeatStep, channels: Channels, limits: Limits, apart: float) -> HeatStep:
    """A growing step with what its probes of the air show now, and with no drift that is one probe's alone.

    A probe that fell into the warm air and was put back is no reason any more to check the rig; it is one again where
    the step ends before its mean is free of that.

    Parameters
    ----------
    channels : of this step. limits : in force. apart : what probes may read apart here [K].

    Returns
    -------
    The step with the spread of its newest readings, and, where the air's mean drifts because one probe alone moves,
    with the drift that all share.
    """
    end = float(channels.times[-1])
    newest = [float(np.mean(each)) for each in _probes(channels.between(end - NEWEST, end))]
    if len(newest) > 1:
        step = replace(step, air_spread=max(newest) - min(newest))
    lines = _lines(_window(step, channels))
    if len(lines) < 2 or abs(step.air_drift) <= limits.air_drift:
        return step
    begin, finish = np.asarray(lines).T
    drifts = finish - begin
    is_alone = float(np.ptp(drifts)) > abs(step.air_drift)
    if not is_alone or max(float(np.ptp(begin)), float(np.ptp(finish))) <= apart:
        return step
    return replace(step, air_drift=float(drifts[np.argmin(np.abs(drifts))]))


def _window(step: HeatStep, channels: Channels) -> Channels:
    """The rows that a step's means are of: its last time constant, of a shorter step its last third."""
    times = channels.times
    length = float(times[-1] - times[0])
    reach = length / 3.0 if step.tau is None else min(step.tau, length / 2.0)
    return channels.between(float(times[-1]) - reach, float(times[-1]))


def _probes(channels: Channels) -> Iterator[Array]:
    """The readings of each probe of the air that was read often enough."""
    for name in air_of(channels)[1]:
        values = channels.columns[name]
        there = values[np.isfinite(values)]
        if len(there) >= LEAST:
            yield there


def _lines(channels: Channels) -> Sequence[tuple[float, float]]:
    """A straight line through each probe's readings: its values at both ends [K]."""
    since = channels.times - channels.times[0]
    found = []
    for name in air_of(channels)[1]:
        values: Array = channels.columns[name]
        there = np.isfinite(values)
        if np.count_nonzero(there) < LEAST:
            continue
        slope, level = np.polyfit(since[there], values[there], 1)
        found.append((float(level), float(level + slope * since[-1])))
    return found
