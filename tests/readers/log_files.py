"""Logs of a heat rig as a dozen invented loggers would write them, all of the same readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.readers.words.numbers import Array

BEGIN = dt.datetime(2026, 11, 26, 9, 15, 3)
COUNT, STEP = 120, 2.0


@dataclass(frozen=True)
class Truth:
    """What was measured, in the units of the rig: °C, W, l/min, rpm."""

    seconds: Array
    power: Array
    hot: Array
    air: Array
    air_2: Array
    flow: Array
    speed: Array


def truth(count: int = COUNT, step: float = STEP) -> Truth:
    """A hot probe that rises, and everything else nearly still; each value with as many digits as it is written."""
    at = np.arange(count) * step
    wave = np.sin(at / 7.0)
    return Truth(
        seconds=at,
        power=np.round(299.4 + 0.5 * wave, 1),
        hot=np.round(38.0 - 9.0 * np.exp(-at / 90.0) + 0.02 * wave, 2),
        air=np.round(22.0 + 0.03 * wave, 2),
        air_2=np.round(22.1 - 0.02 * wave, 2),
        flow=np.round(1.502 + 0.004 * wave, 3),
        speed=np.round(1200.0 + 3.0 * wave),
    )


def rows(true: Truth, time: Callable[[int], str], channels: Sequence[str], form: str = "") -> list[str]:
    """The lines of a log: the time, then the channels by their names in `Truth`, joined by the first letter of `form`;
    a second letter is the decimal mark."""
    mark, decimal = (form or ",")[0], form[1:2] or "."
    return [
        mark.join([time(i), *(f"{getattr(true, each)[i]:.10g}".replace(".", decimal) for each in channels)])
        for i in range(len(true.seconds))
    ]


def at(i: int, step: float = STEP) -> dt.datetime:
    """When a reading was taken."""
    return BEGIN + dt.timedelta(seconds=i * step)
