"""What a decibel is worth in kelvins at a noise limit: the slope of heat against speed over that of level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.combine import VarianceParts
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


def parts_with_sound(parts: VarianceParts, levels: FanLevels, speed: float, own: str) -> VarianceParts:
    """A variance at a noise limit with what is the fan's own in the quiet room parted into samples and mountings.

    So "further mountings" are ones that are run on the rig and heard: heat runs alone leave the limit as it is.

    Parameters
    ----------
    parts : as mountings were combined. levels : of the fan. speed : that the limit allows [1/s].
    own : identity of the source that is the fan's own in the quiet room.
    """
    loadings = dict(parts.loadings)
    of_limit = loadings.pop(own, 0.0) ** 2
    at = int(np.argmin(np.abs(levels.speeds - speed)))
    heard = VarianceParts(
        levels.sample_variance, float(levels.mounting_variance[at]), levels.mountings_per_sample
    )
    share = of_limit / max(heard.private, 1e-30)
    samples, counts = len(heard.mountings_per_sample), parts.mountings_per_sample
    of_samples = share * heard.sample / samples
    of_mountings = of_limit - of_samples
    per_mounting = sum(1.0 / count for count in counts) / len(counts) ** 2
    return VarianceParts(
        parts.sample + of_samples * len(counts),
        parts.mounting + of_mountings / per_mounting,
        counts,
        loadings,
    )


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
