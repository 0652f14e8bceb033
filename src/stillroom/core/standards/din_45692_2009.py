"""DIN 45692:2009, sharpness of a sound from its specific loudness."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.iso_532_1_2017.loudness import STEPS
from stillroom.core.standards.limits import require_not_negative
from stillroom.errors import NotPossible, OutOfRange

K = 0.11
"""The constant that makes narrow-band noise at 1 kHz with 60 dB 1 acum; the standard allows 0.105 … 0.115."""

Z = np.arange(1, STEPS + 1) / 10.0
"""Critical-band rate of the specific loudness."""


def weighting(rate: ArrayLike) -> Array:
    """The weight of each part of the specific loudness.

    Parameters
    ----------
    rate : critical-band rate, any shape.

    Returns
    -------
    weight [1].

    Source
    ------
    DIN 45692:2009, Formula (2) (number from memory), as transcribed in mosqito 1.2.1.
    """
    z = np.asarray(rate, dtype=np.float64)
    return np.where(z > 15.8, 0.15 * np.exp(0.42 * (np.maximum(z, 15.8) - 15.8)) + 0.85, 1.0)


def sharpness(specific: ArrayLike) -> float:
    """The sharpness of a stationary sound.

    Parameters
    ----------
    specific : specific loudness of ISO 532-1 at 0.1, 0.2 … 24 of the critical-band rate [sone], shape (240,).

    Returns
    -------
    sharpness [acum].

    Raises
    ------
    OutOfRange : not 240 values, or one below zero.
    NotPossible : a sound that can't be heard has no sharpness.

    Source
    ------
    DIN 45692:2009, Formula (1) (number from memory), as transcribed in mosqito 1.2.1.
    """
    n = require_not_negative("a specific loudness", specific, "sone")
    if n.shape != (STEPS,):
        raise OutOfRange("specific loudness", found=f"{n.size} values", expected="240")
    total = float(n.sum())
    if total <= 0.0:
        raise NotPossible("sharpness", found="a sound below the threshold of hearing", expected="a sound")
    return float(K * (n * weighting(Z) * Z).sum() / total)
