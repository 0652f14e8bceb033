"""How fast the fan turned in a step: by its tachometer wire, by an optical one, or as it was set."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import NORMAL_MAD
from stillroom.methods.heat.channels import OPTICAL, SPEED, Channels

TACHOMETER = 0.002
OPTICAL_U = 0.001
TOLD = 0.01
"""Relative standard uncertainty of a mean reading, and of a speed that was only set [1] (common practice)."""

RATIOS = (0.5, 1.5, 2.0, 3.0)
"""Tachometer over optical where the pulses of a turn are told wrongly [1]."""

WITHIN = 0.01


@dataclass(frozen=True)
class Turning:
    """Speed of a step and its standard uncertainty [1/s]; None where nothing tells it. marks : what must be said.

    sd : standard deviation of its means of 30 s. tachometer, optical : means of both [1/s]; None where not read.
    """

    speed: float | None
    u: float | None
    marks: tuple[str, ...] = ()
    sd: float | None = None
    tachometer: float | None = None
    optical: float | None = None


def turning_of(channels: Channels, window: slice, kind: str, setting: float | None) -> Turning:
    """The speed in a step's window: the tachometer's; the optical one where they are a wrong count of pulses apart;
    without either the speed that was set, of a step whose setting is a speed.
    """
    tachometer, optical = _mean(channels, SPEED, window), _mean(channels, OPTICAL, window)
    turning = _turning(tachometer, optical, kind, setting)
    read = OPTICAL if turning.speed is not None and optical and turning.speed == optical[0] else SPEED
    return replace(
        turning,
        sd=_wandering(channels, read, window),
        tachometer=tachometer[0] if tachometer else None,
        optical=optical[0] if optical else None,
    )


def _turning(
    tachometer: tuple[float, float] | None,
    optical: tuple[float, float] | None,
    kind: str,
    setting: float | None,
) -> Turning:
    if tachometer is None and optical is None:
        if kind == "speed" and setting:
            return Turning(setting, TOLD * setting, ("speed as it was set",))
        return Turning(None, None, ("speed not read",))
    if tachometer is None or (optical is not None and _wrong_pulses(tachometer[0] / optical[0])):
        assert optical is not None
        marks = () if tachometer is None else (_against(tachometer[0] / optical[0]),)
        return Turning(optical[0], float(np.hypot(optical[1], OPTICAL_U * optical[0])), marks)
    return Turning(tachometer[0], float(np.hypot(tachometer[1], TACHOMETER * tachometer[0])))


def _wrong_pulses(ratio: float) -> bool:
    return any(abs(ratio / each - 1.0) <= WITHIN for each in RATIOS)


def _against(ratio: float) -> str:
    return f"tachometer shows {ratio:.2f} times the optical speed: pulses of a turn told wrongly"


def _mean(channels: Channels, name: str, window: slice) -> tuple[float, float] | None:
    """Median speed in the window with the standard uncertainty by its scatter; None where it stood or wasn't read."""
    values: Array | None = channels.get(name)
    inside = values[window][np.isfinite(values[window])] if values is not None else np.empty(0)
    inside = inside[inside > 0.0]
    if not len(inside):
        return None
    return float(np.median(inside)), float(inside.std() / np.sqrt(max(1.0, len(inside) / 10.0)))


BLOCK = 30.0
"""Readings are taken together over so long before it is asked how steady they are [s]: a tachometer's steps go out."""


def _wandering(channels: Channels, name: str, window: slice) -> float | None:
    """Standard deviation of the means of 30 s of a speed in the window, by their median absolute deviation, since the
    last of them may hold a reading of the next setting; None with fewer than five of them.
    """
    values: Array | None = channels.get(name)
    if values is None:
        return None
    inside, times = values[window], channels.times[window]
    there = np.isfinite(inside) & (inside > 0.0)
    if not there.any():
        return None
    _, block = np.unique((times[there] - times[0]) // BLOCK, return_inverse=True)
    means = np.bincount(block, weights=inside[there]) / np.bincount(block)
    return float(NORMAL_MAD * np.median(np.abs(means - np.median(means)))) if len(means) >= 5 else None
