"""ECMA-418-1:2024, prominent discrete tones: critical bands, tone-to-noise ratio, prominence ratio, criteria.

The standard itself was not at hand: the formulas are as given in the project's check values (examples of clauses
10 to 12 read in public implementations) and as transcribed in mosqito 1.2.1 (`sq_metrics/tonality/`); what
rests on memory says so. Neither a background nor an environment correction is applied to tones (scope).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require_positive

RANGE = (89.1, 11_220.0)
"""Frequencies of discrete tones that the standard covers [Hz]: one-third octaves of 100 Hz to 10 kHz (scope)."""

GEOMETRIC_FROM = 500.0
"""Above this a critical band lies geometrically about its centre, else arithmetically [Hz] (12.2, from memory)."""

LOW_FREQUENCY = 171.4
"""Up to here the lower neighbour is cut at 20 Hz and its power scaled to 100 Hz [Hz] (clause 12)."""

UPPER_RANGE = 1600.0
"""Where the formulas of the neighbours' edges change [Hz] (clause 12)."""

PROXIMITY_TO = 1000.0
"""Below this Formula (14) gives the proximity spacing [Hz]; there it reaches half a critical band."""

TONE_SHARE = 0.15
"""A tone's own band is at most this share of the critical bandwidth [1] (clause 11, from memory)."""


def critical_bandwidth(frequency: ArrayLike) -> Array:
    """The bandwidth of the critical band at a frequency.

    Parameters
    ----------
    frequency : centre of the band [Hz], any shape.

    Returns
    -------
    bandwidth [Hz].

    Source
    ------
    ECMA-418-1:2024, Formula (2).
    """
    f = require_positive("a frequency", frequency, "Hz")
    return 25.0 + 75.0 * (1.0 + 1.4 * (f / 1000.0) ** 2) ** 0.69  # (2)


def critical_band(frequency: ArrayLike) -> tuple[Array, Array]:
    """The lower and upper edge of the critical band about a tone.

    Parameters
    ----------
    frequency : the tone's [Hz], any shape.

    Returns
    -------
    f1 and f2 [Hz].

    Source
    ------
    ECMA-418-1:2024, 12.2 (geometric: f1·f2 = ft²; arithmetic up to 500 Hz, from memory).
    """
    f = require_positive("a frequency", frequency, "Hz")
    width = critical_bandwidth(f)
    geometric = (np.sqrt(width**2 + 4.0 * f**2) - width) / 2.0
    f1 = np.where(f > GEOMETRIC_FROM, geometric, f - width / 2.0)
    return f1, f1 + width


def neighbour_edges(frequency: ArrayLike) -> tuple[Array, Array]:
    """The outer edges of the critical bands next below and next above the one about a tone.

    Parameters
    ----------
    frequency : the tone's [Hz], any shape.

    Returns
    -------
    f1L and f2U [Hz].

    Source
    ------
    ECMA-418-1:2024, clause 12.
    """
    f = require_positive("a frequency", frequency, "Hz")
    middle = -149.5 + 1.001 * f - 6.90e-5 * f**2
    high = 6.8 + 0.806 * f - 8.20e-6 * f**2
    lower = np.where(f <= LOW_FREQUENCY, 20.0, np.where(f <= UPPER_RANGE, middle, high))
    upper = np.where(f <= UPPER_RANGE, 149.5 + 1.035 * f + 7.70e-5 * f**2, 3.3 + 1.215 * f + 2.16e-5 * f**2)
    return lower, upper


def proximity_spacing(frequency: ArrayLike) -> Array:
    """How near two tones of one critical band must lie to be heard, and judged, as one.

    Parameters
    ----------
    frequency : of the stronger one, the primary tone [Hz], any shape.

    Returns
    -------
    spacing [Hz]. From 1 kHz up it is half the critical bandwidth (every tone of the band is combined), where
    the formula arrives at 1 kHz within 1 % (from memory).

    Source
    ------
    ECMA-418-1:2024, 11.6, Formula (14).
    """
    f = require_positive("a frequency", frequency, "Hz")
    low = 21.0 * 10.0 ** (1.2 * np.abs(np.log10(np.minimum(f, PROXIMITY_TO) / 212.0)) ** 1.8)  # (14)
    return np.where(f < PROXIMITY_TO, low, critical_bandwidth(f) / 2.0)


def tone_to_noise_criterion(frequency: ArrayLike) -> Array:
    """From which tone-to-noise ratio on a tone is prominent.

    Parameters
    ----------
    frequency : the tone's [Hz], any shape.

    Returns
    -------
    criterion [dB].

    Source
    ------
    ECMA-418-1:2024, Formulae (12) and (13).
    """
    f = require_positive("a frequency", frequency, "Hz")
    return 8.0 + 8.33 * np.log10(1000.0 / np.minimum(f, 1000.0))


def prominence_criterion(frequency: ArrayLike) -> Array:
    """From which prominence ratio on a tone is prominent.

    Parameters
    ----------
    frequency : the tone's [Hz], any shape.

    Returns
    -------
    criterion [dB].

    Source
    ------
    ECMA-418-1:2024, Formulae (25) and (26).
    """
    f = require_positive("a frequency", frequency, "Hz")
    return 9.0 + 10.0 * np.log10(1000.0 / np.minimum(f, 1000.0))


def in_range(frequency: ArrayLike) -> NDArray[np.bool_]:
    """Where a tone lies within the frequencies that the standard covers.

    Parameters
    ----------
    frequency : the tone's [Hz], any shape.

    Returns
    -------
    True within 89.1 Hz to 11.22 kHz.

    Source
    ------
    ECMA-418-1:2024, scope.
    """
    f = np.asarray(frequency, dtype=np.float64)
    within: NDArray[np.bool_] = (f >= RANGE[0]) & (f <= RANGE[1])
    return within


def tone_to_noise(tone: Array, band: Array, lines: Array, tone_width: Array, bandwidth: Array) -> Array:
    """The tone-to-noise ratio.

    Parameters
    ----------
    tone : mean square of the tone, or of the tones that are combined, any shape.
    band : mean square of everything in the critical band.
    lines : mean square of everything within the bands of all tones in the critical band.
    tone_width : width of those bands together [Hz].
    bandwidth : width of the critical band [Hz].

    Returns
    -------
    tone-to-noise ratio [dB]; inf where there is no noise between the tones.

    Source
    ------
    ECMA-418-1:2024, clause 11: the noise of the critical band is what is left without the tones, scaled up to
    the whole bandwidth.
    """
    between = np.maximum(bandwidth - tone_width, 1e-12)
    noise = np.maximum(band - lines, 0.0) * bandwidth / between
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(tone / noise)


def prominence(middle: Array, lower: Array, upper: Array, frequency: Array) -> Array:
    """The prominence ratio.

    Parameters
    ----------
    middle, lower, upper : mean square of the critical band about the tone and of its two neighbours, any shape.
    frequency : the tone's [Hz].

    Returns
    -------
    prominence ratio [dB]; inf where the neighbours are without sound.

    Source
    ------
    ECMA-418-1:2024, clause 12; up to 171.4 Hz the lower neighbour, cut at 20 Hz, is scaled to 100 Hz.
    """
    f = require_positive("a frequency", frequency, "Hz")
    f1, _ = critical_band(f)
    scale = np.where(f <= LOW_FREQUENCY, 100.0 / (f1 - 20.0), 1.0)
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(middle / ((scale * lower + upper) / 2.0))
