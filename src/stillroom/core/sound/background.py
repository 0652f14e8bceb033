"""What of a level is the fan's, and what the room's and the microphone's.

The background is taken off as energy (ISO 3744:2010). A level less than 6 dB above it, or less than 6 dB above
the microphone's own noise, is an upper bound and stays one wherever it is used: never a value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards import iso_3744_2010
from stillroom.core.standards.limits import require_finite
from stillroom.errors import BadInput

Flags = NDArray[np.bool_]

ABOVE_SELF_NOISE = 6.0
"""How far a corrected level must lie above the microphone's self-noise to be a value [dB] (common practice)."""


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

    @property
    def drowned(self) -> bool:
        """Whether the background was as loud as the fan with it, or louder."""
        return self.delta is not None and self.delta <= 0.0

    @property
    def by_background(self) -> float:
        """By how much the corrected level falls as the background rises by 1 dB; 0 where no correction is made.

        An upper bound does not move with the background: its correction is the greatest there is.
        """
        if self.delta is None or self.is_bound or self.correction == 0.0:
            return 0.0
        noise = 10.0 ** (-0.1 * self.delta)
        return float(noise / (1.0 - noise))


@dataclass(frozen=True)
class CorrectedBands:
    """Band levels with their background taken off; fields as in `Corrected`, each of shape (n,)."""

    level: Array
    is_bound: Flags
    correction: Array
    delta: Array | None
    uncorrected: Array


@dataclass(frozen=True)
class Background:
    """The background of a recording, from recordings before and after it.

    Parameters
    ----------
    level : energy mean [dB]. difference : after less before; None where one is missing [dB].
    u : standard uncertainty of the background while the fan ran: half the difference as a rectangular
        distribution; `UNKNOWN_CHANGE` where one is missing [dB].
    """

    level: float
    difference: float | None
    u: float


UNKNOWN_CHANGE = 1.0
"""Standard uncertainty of a background that was recorded on one side only [dB] (common practice)."""


def corrected(level: float, background: float | None, floor: float | None = None) -> Corrected:
    """A level with its background taken off.

    Parameters
    ----------
    level : with the fan running [dB].
    background : fan mounted and off [dB]; None where it was not measured: nothing is taken off.
    floor : self-noise of the microphone, weighted as the level is [dB]; None where it is not known.

    Returns
    -------
    Corrected. ΔL ≥ 15 dB: no correction. 6 to 15 dB: K_1. Under 6 dB, a background louder than the fan
    among it: an upper bound, the level less 1.26 dB. Less than 6 dB above the self-noise: an upper bound too.

    Raises
    ------
    OutOfRange : a level that is not a finite number.

    Source: ISO 3744:2010, 8.2.3; self-noise: common practice.
    """
    one = corrected_bands(
        np.array([level]),
        None if background is None else np.array([background]),
        None if floor is None else np.array([floor]),
    )
    delta = None if one.delta is None else float(one.delta[0])
    return Corrected(float(one.level[0]), bool(one.is_bound[0]), float(one.correction[0]), delta, level)


def corrected_bands(levels: Array, background: Array | None, floor: Array | None = None) -> CorrectedBands:
    """Band levels, each with its own background taken off.

    Parameters
    ----------
    levels, background, floor : as for `corrected`, each of shape (n,); `floor` may broadcast.

    Returns
    -------
    CorrectedBands; errors and source as for `corrected`.
    """
    levels = require_finite("level", levels, "dB")
    if background is None:
        level, correction, delta = levels, np.zeros(levels.shape), None
        bound = np.zeros(levels.shape, dtype=np.bool_)
    else:
        delta = levels - require_finite("level of the background", background, "dB")
        correction = iso_3744_2010.K1(delta)
        level, bound = levels - correction, iso_3744_2010.is_upper_bound(delta)
    if floor is not None:
        bound = bound | (level < require_finite("self-noise", floor, "dB") + ABOVE_SELF_NOISE)
    return CorrectedBands(level, bound, correction, delta, levels)


def mean_background(before: float | None, after: float | None) -> Background | None:
    """The background from recordings before and after: their energy mean, or the one that there is.

    Returns
    -------
    Background, None where neither was recorded. How far the two may differ is a rule's to judge.

    Raises
    ------
    OutOfRange : a level that is not a finite number.
    """
    levels = [require_finite("level of the background", each) for each in (before, after) if each is not None]
    if not levels:
        return None
    level = float(10.0 * np.log10(np.mean([10.0 ** (0.1 * each) for each in levels])))
    if before is None or after is None:
        return Background(level, None, UNKNOWN_CHANGE)
    difference = after - before
    return Background(level, difference, abs(difference) / 2.0 / math.sqrt(3.0))


def chain_floor(background: float | None, self_noise: float | None) -> float | None:
    """The lowest level that a chain can give as a value [dB]; None where neither noise is known.

    Parameters
    ----------
    background : [dB]: a reading 6 dB above it, corrected, is 4.7 dB above it.
    self_noise : of the microphone [dB]: the corrected level must lie 6 dB above it.
    """
    least = iso_3744_2010.VALUE_FROM - float(iso_3744_2010.K1(iso_3744_2010.VALUE_FROM))
    floors = [] if background is None else [background + least]
    floors += [] if self_noise is None else [self_noise + ABOVE_SELF_NOISE]
    return max(floors, default=None)


def energy_mean(levels: Array) -> float:
    """Energy mean of levels [dB].

    Raises
    ------
    BadInput : there are none.
    """
    if len(levels) == 0:
        raise BadInput("levels to average", found="none", expected="one or more")
    highest = float(np.max(levels))
    return highest + 10.0 * math.log10(float(np.mean(10.0 ** (0.1 * (np.asarray(levels) - highest)))))
