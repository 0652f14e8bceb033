"""IEC 61672-1:2013, sound level meters: frequency weightings A, C and Z, time weightings F and S, class 1 limits.

The standard itself was not at hand: the analytical expressions and the limits are as given in public
implementations and test suites that cite it (phonometry, pyfar, PyOctaveBand); clause numbers are from memory.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require_positive

F_R = 1000.0
"""Reference frequency f_r [Hz]: every weighting is 0 dB there."""

F_L = 10.0**1.5
"""Lower frequency at which the C weighting is 3 dB below the reference, f_L [Hz] (Annex E)."""

F_H = 10.0**3.9
"""Upper frequency at which the C weighting is 3 dB below the reference, f_H [Hz] (Annex E)."""

F_A = 10.0**2.45
"""Cut-off frequency of the high-pass pair that makes A of C, f_A [Hz] (Annex E)."""


def _poles() -> tuple[float, float, float, float]:
    """f_1 to f_4 [Hz], by the expressions of Annex E."""
    D = math.sqrt(0.5)
    b = (F_R**2 + F_L**2 * F_H**2 / F_R**2 - D * (F_L**2 + F_H**2)) / (1.0 - D)
    c = F_L**2 * F_H**2
    root = math.sqrt(b**2 - 4.0 * c)
    f_1, f_4 = math.sqrt((-b - root) / 2.0), math.sqrt((-b + root) / 2.0)
    f_2, f_3 = (3.0 - math.sqrt(5.0)) / 2.0 * F_A, (3.0 + math.sqrt(5.0)) / 2.0 * F_A
    return f_1, f_2, f_3, f_4


POLES = _poles()
"""Frequencies f_1, f_2, f_3, f_4 of the poles of the A weighting [Hz]; C has f_1 and f_4, each double (Annex E)."""

FAST = 0.125
"""Time constant of the time weighting F [s]."""

SLOW = 1.0
"""Time constant of the time weighting S [s]."""

LOWEST, HIGHEST = 10.0, 20_000.0
"""Nominal frequencies over which the weightings, Z included, are specified [Hz] (Table 3)."""

# Class 1 acceptance limits of Table 3: nominal frequency [Hz], upper, lower [dB].
CLASS_1: tuple[tuple[float, float, float], ...] = (
    (10.0, 3.0, -math.inf),
    (12.5, 2.5, -math.inf),
    (16.0, 2.0, -4.0),
    (20.0, 2.0, -2.0),
    (25.0, 2.0, -1.5),
    (31.5, 1.5, -1.5),
    *((f, 1.0, -1.0) for f in (40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0)),
    *((f, 1.0, -1.0) for f in (500.0, 630.0, 800.0)),
    (1000.0, 0.7, -0.7),
    *((f, 1.0, -1.0) for f in (1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0)),
    (5000.0, 1.5, -1.5),
    (6300.0, 1.5, -2.0),
    (8000.0, 1.5, -2.5),
    (10_000.0, 2.0, -3.0),
    (12_500.0, 2.0, -5.0),
    (16_000.0, 2.5, -16.0),
    (20_000.0, 3.0, -math.inf),
)


def c_response(frequency: ArrayLike) -> Array:
    """The C weighting as a factor on amplitudes.

    Parameters
    ----------
    frequency : [Hz], not below zero, any shape.

    Returns
    -------
    factor [1], 1 at 1 kHz.

    Source
    ------
    IEC 61672-1:2013, Annex E.
    """
    f = np.asarray(frequency, dtype=np.float64)
    f_1, _, _, f_4 = POLES

    def shape(f: Array) -> Array:
        return f_4**2 * f**2 / ((f**2 + f_1**2) * (f**2 + f_4**2))  # Annex E, C weighting

    return shape(f) / shape(np.array(F_R))


def a_response(frequency: ArrayLike) -> Array:
    """The A weighting as a factor on amplitudes.

    Parameters
    ----------
    frequency : [Hz], not below zero, any shape.

    Returns
    -------
    factor [1], 1 at 1 kHz.

    Source
    ------
    IEC 61672-1:2013, Annex E.
    """
    f = np.asarray(frequency, dtype=np.float64)
    f_1, f_2, f_3, f_4 = POLES

    def shape(f: Array) -> Array:
        high_pass = f**2 / np.sqrt((f**2 + f_2**2) * (f**2 + f_3**2))
        return f_4**2 * f**2 / ((f**2 + f_1**2) * (f**2 + f_4**2)) * high_pass  # Annex E, A weighting

    return shape(f) / shape(np.array(F_R))


def a_weighting(frequency: ArrayLike) -> Array:
    """The A weighting.

    Parameters
    ----------
    frequency : above zero, any shape [Hz].

    Returns
    -------
    weighting [dB], 0 at 1 kHz.

    Raises
    ------
    OutOfRange : a frequency not above zero.

    Source
    ------
    IEC 61672-1:2013, Annex E and Table 3.
    """
    return 20.0 * np.log10(a_response(require_positive("frequency", frequency, "Hz")))


def c_weighting(frequency: ArrayLike) -> Array:
    """The C weighting.

    Parameters
    ----------
    frequency : above zero, any shape [Hz].

    Returns
    -------
    weighting [dB], 0 at 1 kHz.

    Raises
    ------
    OutOfRange : a frequency not above zero.

    Source
    ------
    IEC 61672-1:2013, Annex E and Table 3.
    """
    return 20.0 * np.log10(c_response(require_positive("frequency", frequency, "Hz")))


def toneburst_response(duration: ArrayLike, time_constant: float) -> Array:
    """Maximum of a time-weighted level over the level of the steady tone, for a single burst of it.

    Parameters
    ----------
    duration : of the burst [s], any shape.
    time_constant : `FAST` or `SLOW` [s].

    Returns
    -------
    response, at most 0 [dB].

    Raises
    ------
    OutOfRange : a duration not above zero.

    Source
    ------
    IEC 61672-1:2013, 5.9: reference toneburst response of Table 4.
    """
    T_b = require_positive("duration of a toneburst", duration, "s")
    return 10.0 * np.log10(-np.expm1(-T_b / time_constant))  # 10 lg(1 − e^(−T_b/τ))
