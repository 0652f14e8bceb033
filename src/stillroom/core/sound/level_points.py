"""Levels at speeds, as a level curve is fitted to them: one point per dwell, one per narrow step of a ramp."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.background import CorrectedBands, corrected_bands
from stillroom.errors import BadInput

RAMP_STEP = 10.0 / 60.0
"""Width of the steps of speed into which the frames of a ramp are gathered [1/s]."""

LEAST_RAMP_U = 0.1
"""Smallest standard uncertainty of the level of one step of a ramp [dB] (common practice)."""


@dataclass(frozen=True)
class LevelPoint:
    """A level at a speed.

    Parameters
    ----------
    speed, u_speed : shaft speed and its own standard uncertainty [1/s].
    level : corrected level [dB re 20 µPa].
    u : standard uncertainty of its own (repeat, averaging time), without what is shared [dB].
    is_bound : the level is at most `level`; nobody knows how far below it lies.
    from_ramp : taken while the speed was swept, not in a dwell.
    run : the run that it comes from.
    mounting : the mounting that the run belongs to; "" where there is one only.
    """

    speed: float
    u_speed: float
    level: float
    u: float
    is_bound: bool
    from_ramp: bool
    run: str
    mounting: str = ""


def ramp_points(
    speeds: Array,
    levels: Array,
    *,
    run: str,
    u_speeds: Array | float = 0.0,
    trusted: NDArray[np.bool_] | None = None,
    background: float | None = None,
    floor: float | None = None,
    width: float = RAMP_STEP,
) -> tuple[LevelPoint, ...]:
    """The frames of a ramp gathered into narrow steps of speed, and corrected for background.

    Parameters
    ----------
    speeds, levels : of each frame, in order of time, shape (f,) [1/s], [dB], not corrected.
    run : identity of the ramp.
    u_speeds : standard uncertainty of the speeds [1/s], (f,) or one for all.
    trusted : the frames to use, (f,); None: all.
    background, floor : as for `background.corrected` [dB].
    width : of a step [1/s].

    Returns
    -------
    One point for each step that has a frame, by rising speed: the energy mean of its frames at the mean of
    their speeds. u comes from how much neighbouring frames differ, over the root of their number; near the background
    the fan's own part moves by more, by 1/(1 − 10^(−ΔL/10)).

    Raises
    ------
    BadInput : fewer than three frames that can be used.
    OutOfRange : a level that is not a finite number.
    """
    use = np.ones(len(speeds), dtype=np.bool_) if trusted is None else trusted
    speed, level = np.asarray(speeds)[use], np.asarray(levels)[use]
    u_speed = np.broadcast_to(np.asarray(u_speeds, dtype=np.float64), np.shape(speeds))[use]
    if speed.size < 3:
        raise BadInput(
            "frames of a ramp", place=run, found=f"{speed.size}", expected="3 or more with a speed"
        )
    scatter = frame_scatter(level)
    step, member = np.unique(np.floor(speed / width).astype(np.int64), return_inverse=True)
    count = np.bincount(member, minlength=step.size)
    mean = _means(member, count, 10.0 ** (0.1 * (level - level.max())))
    read = level.max() + 10.0 * np.log10(mean)
    own = corrected_bands(
        read,
        None if background is None else np.full(read.shape, background),
        None if floor is None else np.full(read.shape, floor),
    )
    u = np.maximum(LEAST_RAMP_U, _grown(own) * scatter / np.sqrt(count))
    at, u_at = _means(member, count, speed), _means(member, count, u_speed)
    return tuple(
        LevelPoint(
            float(at[i]), float(u_at[i]), float(own.level[i]), float(u[i]), bool(own.is_bound[i]), True, run
        )
        for i in range(step.size)
    )


def frame_scatter(levels: Array) -> float:
    """Standard deviation of the levels of frames about a smooth course [dB].

    From second differences, by their median: a resonance or a wild frame hardly moves it.
    """
    bends = np.abs(np.diff(levels, 2))
    return (
        float(np.median(bends)) / 0.6745 / math.sqrt(6.0)
    )  # 0.6745: upper quartile of the normal distribution


def _grown(own: CorrectedBands) -> Array:
    """By how much a corrected level moves as the level read does [1]: the derivative of ISO 3744:2010, Formula (16)."""
    if own.delta is None:
        return np.ones(own.level.shape)
    corrected = (own.correction > 0.0) & ~own.is_bound
    return np.where(corrected, 1.0 / (1.0 - 10.0 ** (-0.1 * np.where(corrected, own.delta, 1.0))), 1.0)


def _means(member: NDArray[np.int64], count: NDArray[np.int64], values: Array) -> Array:
    return np.asarray(np.bincount(member, weights=values, minlength=count.size) / count)
