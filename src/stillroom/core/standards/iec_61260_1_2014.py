"""IEC 61260-1:2014, one-third-octave bands: midbands, edges, class 1 limits, and band powers of a spectrum.

The standard itself was not at hand: formulas and Table 1 are as transcribed in PyOctaveBand 2.0.0
(`compliance.py`) and in the test suite of phonometry, which cite it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require_positive

G = 10.0**0.3
"""Octave frequency ratio of the base-ten system (5.2)."""

F_R = 1000.0
"""Reference frequency f_r [Hz] (5.3)."""

FRACTION = 3
"""Bandwidth designator 1/b: b = 3."""

NUMBERS = tuple(range(-17, 14))
"""Band numbers x of 20 Hz to 20 kHz."""

NOMINAL: tuple[float, ...] = (
    *(20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0),
    *(200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0, 1250.0, 1600.0),
    *(2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10_000.0, 12_500.0, 16_000.0, 20_000.0),
)
"""Nominal midband frequencies, by which the bands are named [Hz] (Annex E)."""

# Table 1, class 1: exponent of G at an octave band's breakpoint, limit of the relative attenuation [dB].
PASS_LEAST = -0.4
PASS_MOST = ((0.0, 0.4), (1 / 8, 0.5), (1 / 4, 0.7), (3 / 8, 1.4), (1 / 2, 5.3))
STOP_LEAST = ((1 / 2, 1.2), (1.0, 16.6), (2.0, 40.5), (3.0, 60.0), (4.0, 70.0))


def midbands() -> Array:
    """Exact midband frequencies of 20 Hz to 20 kHz, shape (31,) [Hz].

    Source
    ------
    IEC 61260-1:2014, Formula (2).
    """
    return np.asarray(F_R * G ** (np.array(NUMBERS) / FRACTION))  # (2) f_m = f_r G^(x/b)


def edges() -> Array:
    """Edges of the bands, which adjoin, shape (32,) [Hz].

    Source
    ------
    IEC 61260-1:2014, Formulas (4) and (5).
    """
    numbers = np.array([*NUMBERS, NUMBERS[-1] + 1])
    return np.asarray(F_R * G ** ((2.0 * numbers - 1.0) / (2 * FRACTION)))  # (4), (5) f_m G^(∓1/(2b))


def breakpoint_ratio(exponent: ArrayLike) -> Array:
    """Breakpoint Ω of a one-third-octave band above its midband; below the midband it is 1/Ω, Formula (10).

    Parameters
    ----------
    exponent : of G at an octave band's breakpoint [1], any shape.

    Returns
    -------
    frequency over midband frequency [1].

    Source
    ------
    IEC 61260-1:2014, Formula (9).
    """
    part = (G ** (1 / (2 * FRACTION)) - 1.0) / (G**0.5 - 1.0)
    return np.asarray(1.0 + part * (G ** np.asarray(exponent, dtype=np.float64) - 1.0))  # (9)


def class_1_limits(ratio: ArrayLike) -> tuple[Array, Array]:
    """Least and most attenuation, relative to that at the midband, of a class 1 filter.

    Parameters
    ----------
    ratio : frequency over midband frequency Ω [1], any shape.

    Returns
    -------
    least, most [dB]; most is infinite outside the band.

    Raises
    ------
    OutOfRange : a ratio not above zero.

    Source
    ------
    IEC 61260-1:2014, Table 1, between its breakpoints by Formula (11): linear in lg Ω.
    """
    distance = np.abs(np.log10(require_positive("frequency over midband frequency", ratio)))
    pass_at, most = np.array(PASS_MOST).T
    stop_at, least = np.array(STOP_LEAST).T
    pass_at, stop_at = np.log10(breakpoint_ratio(pass_at)), np.log10(breakpoint_ratio(stop_at))
    inside = distance <= pass_at[-1]
    return (
        np.where(inside, PASS_LEAST, np.interp(distance, stop_at, least)),
        np.where(inside, np.interp(distance, pass_at, most), np.inf),
    )


def band_powers(spectrum: ArrayLike, resolution: float) -> Array:
    """Mean squares in the bands, from a spectrum of equally spaced bins.

    Each bin is taken as spread evenly over the half a bin on either side, and what lies between the edges of a
    band counts: for broadband sound the ideal band, without the bias of a filter's skirts. Of a Hann window
    of at least 0.7 s the response to a sine is well within class 1 down to 20 Hz.

    Parameters
    ----------
    spectrum : mean square of each bin, shape (…, B), bins at 0, 1, 2 … times the resolution.
    resolution : distance of the bins [Hz].

    Returns
    -------
    mean squares, shape (…, 31); a band above the spectrum's last bin holds what there is of it, so mark it.

    Source
    ------
    IEC 61260-1:2014, Formulas (2), (4), (5): the ideal band.
    """
    power = np.asarray(spectrum, dtype=np.float64)
    below = np.zeros((*power.shape[:-1], power.shape[-1] + 1))
    np.cumsum(power, axis=-1, out=below[..., 1:])
    place = np.minimum(edges() / resolution + 0.5, power.shape[-1])  # how many bins lie below each edge
    whole = np.minimum(place.astype(np.intp), power.shape[-1] - 1)
    up_to = below[..., whole] + (place - whole) * power[..., whole]
    return np.asarray(np.diff(up_to, axis=-1))
