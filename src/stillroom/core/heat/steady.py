"""Whether a run is steady: an equivalence test, not the want of a significant slope."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Steadiness:
    """Whether a series is steady at its end.

    Parameters
    ----------
    is_steady : what still drifts is proven to be smaller than the tolerance.
    slope, u_slope : at the end of the series, and its standard uncertainty with autocorrelation [K/s].
    bound : |slope| τ + 1.96 u(slope) τ [K].
    tau : time constant that it was judged with [s].
    window : length of what was looked at [s].
    since : moment from which it has been steady without a break [s], None where it isn't.
    left_out : spikes and disturbances (an opened door) that were left out of the fit, shape (n,).
    """

    is_steady: bool
    slope: float
    u_slope: float
    bound: float
    tau: float
    window: float
    since: float | None
    left_out: Flags


def steadiness(
    times: Array, values: Array, tau: float, *, tolerance: float = 0.05, windows: float = 3.0
) -> Steadiness:
    """Whether a series is steady at its end."""
    raise NotImplementedError
