"""Background noise correction after ISO 3744:2010.

The text of the standard was not at hand: formula and limits are as transcribed in a public test suite that
cites them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require

NO_CORRECTION_FROM = 15.0
"""ΔL from which the background is left alone [dB]."""

VALUE_FROM = 6.0
"""ΔL from which the corrected level is a value; under it, an upper bound [dB]."""


def K1(level_difference: ArrayLike, value_from: ArrayLike = VALUE_FROM) -> Array:
    """Background noise correction, to be taken off a level.

    Parameters
    ----------
    level_difference : ΔL, level with the source running less level of the background [dB]; any shape, and
        any sign.
    value_from : ΔL under which the correction grows no further [dB], above zero.

    Returns
    -------
    K_1 [dB], of the broadcast shape: 0 from 15 dB up, and at most K_1(`value_from`) (1.26 dB for 6 dB).

    Limits
    ------
    Under `value_from` a corrected level is an upper bound, never a value; `is_upper_bound` says where.

    Raises
    ------
    OutOfRange : a difference that is not a number, or `value_from` not above zero.

    Source
    ------
    ISO 3744:2010, 8.2.3, Formula (16), as transcribed in a public test suite.
    """
    least = require("ΔL from which a level is a value", value_from, lambda v: v > 0.0, "above zero", "dB")
    delta_L = np.maximum(_difference(level_difference), least)
    K_1 = -10.0 * np.log10(1.0 - 10.0 ** (-0.1 * delta_L))  # (16)
    return np.where(delta_L >= NO_CORRECTION_FROM, 0.0, K_1)


def is_upper_bound(level_difference: ArrayLike, value_from: ArrayLike = VALUE_FROM) -> NDArray[np.bool_]:
    """Where a corrected level is an upper bound, since the background lies too near.

    Parameters
    ----------
    level_difference, value_from : as for `K1` [dB].

    Source
    ------
    ISO 3744:2010, 8.2.3, as transcribed in a public test suite.
    """
    return np.asarray(_difference(level_difference) < np.asarray(value_from, dtype=np.float64))


def _difference(values: ArrayLike) -> Array:
    return require("level over background", values, lambda v: ~np.isnan(v), "a number", "dB")
