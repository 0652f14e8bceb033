"""The shaft's speed against time over a ramp, from its spectrogram."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class RampTrack:
    """Speed against time.

    Parameters
    ----------
    times : middle of each frame [s], shape (f,).
    speed, u : the shaft's speed and its standard uncertainty [1/s], shape (f,).
    trusted : where the frame itself tells the speed; elsewhere it is bridged, with a wider `u`, shape (f,).
    """

    times: Array
    speed: Array
    u: Array
    trusted: NDArray[np.bool_]
