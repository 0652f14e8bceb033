"""Background noise correction after ISO 3745:2012: stricter in the middle bands than ISO 3744:2010.

The text of the standard was not at hand: formula and limits are as transcribed in a public test suite that
cites them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards import iso_3744_2010
from stillroom.core.standards.limits import require_positive

MIDDLE_BANDS = (250.0, 5000.0)
"""Nominal midband frequencies of the lowest and the highest band with the stricter limit [Hz] (9.4.2)."""

VALUE_FROM_MIDDLE = 10.0
"""ΔL from which a level in those bands is a value [dB] (9.4.2)."""

VALUE_FROM_OUTER = 6.0
"""The same in bands up to 200 Hz and from 6 300 Hz up [dB] (9.4.2)."""


def value_from(midband_frequency: ArrayLike) -> Array:
    """ΔL from which the corrected level of a one-third-octave band is a value [dB].

    Parameters
    ----------
    midband_frequency : nominal or exact [Hz], above zero, any shape.

    Raises
    ------
    OutOfRange : a frequency that can't exist.

    Source
    ------
    ISO 3745:2012, 9.4.2, as transcribed in a public test suite.
    """
    f = require_positive("midband frequency", midband_frequency, "Hz")
    low, high = MIDDLE_BANDS
    sixth = 2.0 ** (1.0 / 6.0)  # half a band on, so that nominal and exact frequencies fall on one side
    middle = (f > low / sixth) & (f < high * sixth)
    return np.where(middle, VALUE_FROM_MIDDLE, VALUE_FROM_OUTER)


def K1(level_difference: ArrayLike, midband_frequency: ArrayLike) -> Array:
    """Background noise correction of bands, to be taken off a level.

    Parameters
    ----------
    level_difference : ΔL of each band [dB].
    midband_frequency : nominal or exact [Hz]; the two broadcast.

    Returns
    -------
    K_1i [dB]: 0 from 15 dB up; at most 0.46 dB in the middle bands and 1.26 dB in the others.

    Raises
    ------
    OutOfRange : as for ISO 3744:2010, and a frequency that can't exist.

    Source
    ------
    ISO 3745:2012, 9.4.2, Formula (11), the same as ISO 3744:2010, Formula (16); as transcribed in a
    public test suite.
    """
    return iso_3744_2010.K1(level_difference, value_from(midband_frequency))  # (11)


def is_upper_bound(level_difference: ArrayLike, midband_frequency: ArrayLike) -> NDArray[np.bool_]:
    """Where the corrected level of a band is an upper bound; errors as for `K1`.

    Parameters
    ----------
    level_difference : ΔL of each band [dB].
    midband_frequency : nominal or exact [Hz]; the two broadcast.

    Source
    ------
    ISO 3745:2012, 9.4.2, as transcribed in a public test suite.
    """
    return iso_3744_2010.is_upper_bound(level_difference, value_from(midband_frequency))
