"""A stretch of a recording to be listened to: the steadiest one, faded in and out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.transients import kept_seconds
from stillroom.errors import NotPossible

FADE = 0.3
"""Length of the fade at either end [s]."""

Array32 = NDArray[np.float32]


def steadiest(seconds: Array, length: float) -> int:
    """Where the steadiest stretch begins that no transient touches.

    Parameters
    ----------
    seconds : LAeq of each second of a recording, (n,) [dB]; the last may be shorter and isn't used.
    length : of the stretch [s].

    Returns
    -------
    its first second: of all stretches the one whose seconds stray least from the median of the recording.

    Raises
    ------
    NotPossible : no stretch is so long.
    """
    whole = np.asarray(seconds[:-1] if len(seconds) > 1 else seconds, dtype=np.float64)
    needed = math.ceil(length)
    kept = kept_seconds(whole, np.ones(len(whole)))
    if len(whole) < needed:
        raise NotPossible(
            "excerpt", found=f"{len(whole)} s of sound", expected=f"at least {needed} s for {length:g} s"
        )
    stray = np.where(kept, np.abs(whole - np.median(whole)), np.inf)
    worst = np.lib.stride_tricks.sliding_window_view(stray, needed).max(axis=1)
    if not np.isfinite(worst).any():
        raise NotPossible(
            "excerpt",
            found=f"no stretch of {needed} s without a transient",
            expected="fewer --seconds, or a quieter recording",
        )
    return int(np.argmin(worst))


def faded(samples: Array32, rate: float) -> Array:
    """The samples, (F,), rising from and falling to silence by raised cosines of 0.3 s, at most half of them each."""
    length = min(round(FADE * rate), len(samples) // 2)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / max(length, 1))
    found = samples.astype(np.float64)
    found[:length] *= rise
    found[len(found) - length :] *= rise[::-1]
    return found
