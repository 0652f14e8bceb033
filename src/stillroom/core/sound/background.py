"""What of a level is the fan's, and what the room's and the microphone's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Corrected:
    """A level with its background taken off.

    Parameters
    ----------
    level : corrected level; where `is_bound`, the fan's level is at most this [dB].
    is_bound : too near the background or the microphone's own noise to be a value.
    correction : what was taken off, at most 1.26 dB [dB].
    delta : level read less background; None where no background was measured [dB].
    uncorrected : the level as read [dB].
    """

    level: float
    is_bound: bool
    correction: float
    delta: float | None
    uncorrected: float


@dataclass(frozen=True)
class CorrectedBands:
    """Band levels with their background taken off; fields as in `Corrected`, each of shape (n,)."""

    level: Array
    is_bound: Flags
    correction: Array
    delta: Array | None
    uncorrected: Array


def corrected(level: float, background: float | None, floor: float | None = None) -> Corrected:
    """A level with its background taken off; `floor` is the microphone's self-noise."""
    raise NotImplementedError


def corrected_bands(levels: Array, background: Array | None, floor: Array | None = None) -> CorrectedBands:
    """Band levels, each with its own background taken off."""
    raise NotImplementedError


def mean_background(before: float | None, after: float | None) -> float | None:
    """The energy mean of the background before and after; the one there is; or None [dB]."""
    raise NotImplementedError
