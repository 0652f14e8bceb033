"""What a decibel is worth in kelvins at a noise limit: the slope of heat against speed over that of level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.lab.heat.valuing import Warmed

ABOUT = 0.05
"""Over how much of the speed on either side slopes are taken [1]: about a decibel."""

LEAST_SLOPE = 10.0
"""A level that rises by less than so many dB for a factor of ten in speed is flat there [dB]; usual are 50."""


def kelvin_per_decibel(mountings: Sequence[Warmed], levels: FanLevels, speed: float) -> float | None:
    """By how much the rise falls for each decibel that a fan may be louder [K/dB]; None where its level is flat there,
    or falls with speed: then a decibel more is worth a jump, and no slope tells it.

    Parameters
    ----------
    mountings : of a fan, those with a curve count. levels : of the fan. speed : that the limit allows [1/s].
    """
    slopes = [each for warmed in mountings if (each := _rise_slope(warmed, speed)) is not None]
    level = _slope(np.log10(levels.speeds), levels.central, speed)
    if not slopes or level is None or level < LEAST_SLOPE:
        return None
    return -float(np.mean(slopes)) / level


def _rise_slope(warmed: Warmed, speed: float) -> float | None:
    """dΔT/d lg N of a mounting about a speed [K]; None without a curve there."""
    curve = warmed.heat.curve
    return None if curve is None else _slope(np.log10(curve.speeds), curve.central, speed)


def _slope(x: Array, y: Array, speed: float) -> float | None:
    """Over a few per cent on either side of a speed, or as much of it as the curve has."""
    ends = np.clip(np.log10(np.array([1.0 - ABOUT, 1.0 + ABOUT]) * speed), x[0], x[-1])
    if ends[1] <= ends[0]:
        return None
    low, high = np.interp(ends, x, y)
    return float((high - low) / (ends[1] - ends[0]))
