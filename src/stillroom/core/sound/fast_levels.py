"""Time-weighted levels: LAF and LAS, their maxima, and the levels exceeded for a share of the time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class FastLevels:
    """Time-weighted A-weighted levels [dB re full scale].

    Parameters
    ----------
    times : when each of `levels` was read [s], (m,), every 0.125 s.
    levels : LAF, (m,) [dB].
    fast_max, slow_max : LAFmax and LASmax [dB].
    exceeded : {1, 10, 50, 90: LAF exceeded for that share of the time, in per cent} [dB].
    """

    times: Array
    levels: Array
    fast_max: float
    slow_max: float
    exceeded: Mapping[int, float]
