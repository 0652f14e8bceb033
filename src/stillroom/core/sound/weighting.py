"""Frequency weightings as sound is analysed: powers at the bins of a spectrum, and a digital A filter."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from functools import lru_cache

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.standards import iec_61672_1_2013 as iec
from stillroom.errors import OutOfRange

FITTED_TO = 0.36
"""The digital filter follows the definition up to this share of the sampling rate [1], and up to 20 kHz."""

LOWEST_RATE = 2500.0
"""The A weighting's reference, 1 kHz, must lie well inside of what a recording holds [Hz]."""


class Weighting(Enum):
    """A frequency weighting of IEC 61672-1."""

    A = "A"
    C = "C"
    Z = "Z"


_RESPONSES: dict[Weighting, Callable[[Array], Array]] = {
    Weighting.A: iec.a_response,
    Weighting.C: iec.c_response,
    Weighting.Z: np.ones_like,
}


@lru_cache(maxsize=32)
def bin_weights(weighting: Weighting, resolution: float, bins: int) -> Array:
    """Factors on the power of each bin.

    Parameters
    ----------
    weighting : A, C or Z.
    resolution : distance of the bins, from 0 Hz [Hz].
    bins : how many, B.

    Returns
    -------
    factors [1], (B,); 0 below 10 Hz, where no weighting is specified and where an offset of the samples lies.

    Source
    ------
    IEC 61672-1:2013, Annex E and Table 3.
    """
    frequencies = resolution * np.arange(bins, dtype=np.float64)
    weights = np.where(frequencies >= iec.LOWEST, _RESPONSES[weighting](frequencies) ** 2, 0.0)
    weights.flags.writeable = False
    return weights


@lru_cache(maxsize=32)
def a_filter(rate: float) -> Array:
    """The A weighting as a digital filter.

    The poles are matched (z = exp(−2πf/rate)), four zeros lie at 0 Hz, and the two that are left are fitted to the
    definition: within 0.02 dB up to 12.5 kHz, and 0.1 dB up to 16 kHz, at 44.1 kHz and above.

    Parameters
    ----------
    rate : sampling rate [Hz].

    Returns
    -------
    second-order sections (3, 6) as in scipy.signal.

    Raises
    ------
    OutOfRange : a rate at which 1 kHz can't be recorded.

    Source
    ------
    IEC 61672-1:2013, Annex E, for the poles; the fit is our own.
    """
    if not rate >= LOWEST_RATE:
        raise OutOfRange("sampling rate", found=f"{rate:g} Hz", expected=f"at least {LOWEST_RATE:g} Hz")
    z_1, z_2, z_3, z_4 = np.exp(-2.0 * np.pi * np.array(iec.POLES) / rate)
    low = np.array(
        [
            [1.0, -2.0, 1.0, 1.0, -2.0 * z_1, z_1**2],
            [1.0, -2.0, 1.0, 1.0, -(z_2 + z_3), z_2 * z_3],
        ]
    )
    frequencies = np.linspace(500.0, min(FITTED_TO * rate, iec.HIGHEST), 1000)
    cosine = np.cos(2.0 * np.pi * frequencies / rate)
    _, reached = scipy.signal.sosfreqz(low, frequencies, fs=rate)
    poles = (1.0 - 2.0 * z_4 * cosine + z_4**2) ** 2
    wanted = (iec.a_response(frequencies) / np.abs(reached)) ** 2 * poles  # |numerator|², a parabola in cos ω
    powers = np.stack([np.ones_like(cosine), cosine, cosine**2], axis=1)
    parabola = np.linalg.lstsq(powers / wanted[:, None], np.ones_like(wanted), rcond=None)[0]
    sections = np.vstack([low, [*_minimum_phase(parabola), 1.0, -2.0 * z_4, z_4**2]])
    _, at_reference = scipy.signal.sosfreqz(sections, [iec.F_R], fs=rate)
    sections[2, :3] /= abs(at_reference[0])
    sections.flags.writeable = False
    return sections


def _minimum_phase(parabola: Array) -> Array:
    """The numerator whose squared magnitude is a parabola in cos ω, with its zeros inside the unit circle."""
    numerator = np.ones(1)
    for root in np.roots(parabola[::-1]):
        pair = np.roots([1.0, -2.0 * root, 1.0])
        numerator = np.convolve(numerator, [1.0, -pair[np.argmin(np.abs(pair))]])
    return np.asarray(numerator.real)
