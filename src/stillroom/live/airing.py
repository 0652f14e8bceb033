"""The air going in while a step grows: what one of its probes does alone is told of that probe, not of the air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.methods.heat.channels import Channels, air_of
from stillroom.records.limits import Limits

LEAST = 8
"""With fewer readings of a probe nothing is told of it."""


def told_of_its_probe(step: HeatStep, channels: Channels, limits: Limits, apart: float) -> HeatStep:
    """A growing step whose air drifts because one probe alone moves: with what it shows beside the others.

    Parameters
    ----------
    channels : of this step. limits : in force. apart : what probes may read apart here [K].

    Returns
    -------
    The step with the drift that all probes share, and with the greatest difference at either end of its window.
    """
    if abs(step.air_drift) <= limits.air_drift:
        return step
    lines = _lines(_window(step, channels))
    if len(lines) < 2:
        return step
    begin, end = np.asarray(lines).T
    drifts = end - begin
    farthest = max(float(np.ptp(begin)), float(np.ptp(end)))
    if float(np.ptp(drifts)) <= abs(step.air_drift) or farthest <= apart:
        return step
    shared = float(drifts[np.argmin(np.abs(drifts))])
    return replace(step, air_drift=shared, air_spread=max(step.air_spread or 0.0, farthest))


def _window(step: HeatStep, channels: Channels) -> Channels:
    """The rows that a step's means are of: its last time constant, of a shorter step its last third."""
    times = channels.times
    length = float(times[-1] - times[0])
    reach = length / 3.0 if step.tau is None else min(step.tau, length / 2.0)
    return channels.between(float(times[-1]) - reach, float(times[-1]))


def _lines(channels: Channels) -> Sequence[tuple[float, float]]:
    """A straight line through each probe's readings: its values at both ends [K]."""
    times = channels.times
    found = []
    for name in air_of(channels)[1]:
        values: Array = channels.columns[name]
        there = np.isfinite(values)
        if np.count_nonzero(there) < LEAST:
            continue
        slope, level = np.polyfit(times[there] - times[0], values[there], 1)
        found.append((float(level), float(level + slope * (times[-1] - times[0]))))
    return found
