"""From mean squares to levels."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array

QUIETEST = -200.0
"""Level of no sound at all [dB re full scale]; it always stands beside a mark that says so."""


def level_of(mean_square: ArrayLike) -> Array:
    """10 lg of mean squares re 1 [dB], of any shape; not below `QUIETEST`."""
    power = np.maximum(np.asarray(mean_square, dtype=np.float64), 10.0 ** (QUIETEST / 10.0))
    return np.asarray(10.0 * np.log10(power))
