"""The series behind a mounting's steps, as they are drawn."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array

MOST = 2000
"""So many points of a mounting are kept for drawing."""


@dataclass(frozen=True)
class StepSpan:
    """One step as it lies in the series.

    Parameters
    ----------
    number : of the step. first, last : its ends [s]. how : "measured", "forecast" or "not steady".
    steady_from : the moment from which on it was steady [s], None where it wasn't.
    """

    number: int
    first: float
    last: float
    how: str
    steady_from: float | None


@dataclass(frozen=True)
class HeatSeries:
    """A mounting's readings in step, thinned to `MOST` points; NaN where nothing was read.

    Parameters
    ----------
    moment : ISO 8601 of time 0. times : since then, (n,) [s].
    delta : rise of the hot probe over the air at nominal power, (n,) [K]: in a step as it was judged; none while the
    heater is off. hot, air : (n,) [K].
    power : electric heat, (n,) [W]. speed : (n,) [1/s]. setting : of the drive, (n,) [SI]; kind : of it, "" without.
    spans : of the steps. left_out : first and last moment of each stretch of readings that the steps leave out [s]:
    spikes, an opened door.
    """

    moment: str
    times: Array
    delta: Array
    hot: Array
    air: Array
    power: Array
    speed: Array
    setting: Array
    kind: str
    spans: tuple[StepSpan, ...]
    left_out: tuple[tuple[float, float], ...] = ()
