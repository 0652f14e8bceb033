"""One nozzle after ANSI/AMCA 210-07 (ANSI/ASHRAE 51-07), section 7.

The text of the standard was not at hand: formulas and their numbers are as transcribed in public
implementations that cite them. Limits marked "from memory" have not been read in the standard.
"""

from __future__ import annotations

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.polynomial import polynomial
from stillroom.core.standards.limits import (
    Flag,
    Limit,
    require,
    require_positive,
)

GAMMA = 1.4
"""Isentropic exponent of air [1]."""

COEFFICIENT_UNCERTAINTY = 0.012
"""Relative expanded uncertainty (95 %) of the discharge coefficient within its range [1] (from memory)."""

COEFFICIENT_UNCERTAINTY_AT_OUT = 0.03
"""The same at Re = 5000, the end of what is used; it grows linearly from Re = 12 000 [1] (our choice)."""

REYNOLDS = Limit(
    "nozzle Reynolds number", "Re", "1", 12_000.0, np.inf, Flag.REYNOLDS_LOW, "AMCA 210, from memory"
)
REYNOLDS_USED = Limit(
    "nozzle Reynolds number", "Re", "1", 5_000.0, np.inf, Flag.REYNOLDS_OUT, "common practice, our choice"
)
NOZZLE_PRESSURE = Limit(
    "nozzle differential pressure", "Δp", "Pa", 25.0, np.inf, Flag.NOZZLE_PRESSURE_LOW,
    "AMCA and ASHRAE practice, from memory",
)  # fmt: skip
LIMITS = (REYNOLDS, REYNOLDS_USED, NOZZLE_PRESSURE)


class LengthRatio(Enum):
    """Length of the throat over its diameter; the value holds (a, b, c) of C = a - b/√Re + c/Re."""

    L_0_6 = (0.9986, 7.006, 134.6)  # 7.19
    L_0_5 = (0.9986, 6.688, 131.5)  # 7.20

    @property
    def turning_reynolds(self) -> float:
        """Where the printed equation stops falling with Re and turns upwards [1]."""
        _, b, c = self.value
        return float((2.0 * c / b) ** 2)


def discharge_coefficient(reynolds: ArrayLike, length_ratio: LengthRatio) -> Array:
    """Discharge coefficient of one nozzle.

    Parameters
    ----------
    reynolds : Reynolds number of the throat Re [1], any shape, above zero.
    length_ratio : L/D of the nozzle.

    Returns
    -------
    C [1], shape of `reynolds`.

    Limits
    ------
    `REYNOLDS`. Below Re of about 1500 the printed equation rises again, which no nozzle does: its lowest
    value is held there (our choice; results there are marked as not to be used).

    Raises
    ------
    OutOfRange : a Reynolds number is not above zero.

    Source: ANSI/AMCA 210-07, equations 7.19 (L/D 0.6) and 7.20 (L/D 0.5).
    """
    a, b, c = length_ratio.value
    x = 1.0 / np.sqrt(require_positive("nozzle Reynolds number", reynolds))
    return polynomial(np.minimum(x, b / (2.0 * c)), c, -b, a)  # 7.19, 7.20


def coefficient_uncertainty(reynolds: ArrayLike) -> Array:
    """Relative standard uncertainty of the discharge coefficient.

    Parameters
    ----------
    reynolds : Re [1], any shape, not below zero.

    Returns
    -------
    u(C)/C [1], shape of `reynolds`: 0.6 % from Re 12 000 up; below, growing linearly to 1.5 % at Re 5000 and
    on at the same rate.

    Source: 1.2 % at 95 %: AMCA 210, from memory. The growth below Re 12 000: our choice.
    """
    Re = require("nozzle Reynolds number", reynolds, lambda v: v >= 0.0, "not below zero")
    growth = (COEFFICIENT_UNCERTAINTY_AT_OUT - COEFFICIENT_UNCERTAINTY) / (REYNOLDS.low - REYNOLDS_USED.low)
    u = np.maximum(REYNOLDS.low - Re, 0.0)
    u *= growth / 2.0
    u += COEFFICIENT_UNCERTAINTY / 2.0
    return u


def expansibility(nozzle_pressure: ArrayLike, upstream_pressure: ArrayLike) -> Array:
    """Expansibility factor of a nozzle that draws from a large chamber (β = 0), isentropic.

    Parameters
    ----------
    nozzle_pressure : differential pressure Δp [Pa], below the upstream pressure.
    upstream_pressure : absolute pressure before the nozzles [Pa]; broadcasts against Δp.

    Returns
    -------
    Y [1], of the broadcast shape; 1 at Δp = 0.

    Limits
    ------
    Flow below the speed of sound: Δp up to 47 % of the upstream pressure.

    Raises
    ------
    OutOfRange : an upstream pressure is not above zero; Δp is not a number or as large as the pressure.

    Source: ANSI/AMCA 210-07, equation 7.14 with γ = 1.4, β = 0.
    """
    p_5 = require_positive("absolute pressure before the nozzles", upstream_pressure, "Pa")
    x = require(
        "nozzle differential pressure over the absolute pressure before it",
        np.asarray(nozzle_pressure, dtype=np.float64) / p_5,
        lambda v: (v < 0.47) & (v > -0.47),
        "subsonic flow, a share below 0.47",
    )
    still = x == 0.0
    safe = np.where(still, 1e-9, x) if still.any() else x
    log_alpha = np.log1p(-safe)  # α = 1 - Δp/p₅
    squared = np.expm1(log_alpha * ((GAMMA - 1.0) / GAMMA))  # α^((γ-1)/γ) - 1
    squared *= np.exp(log_alpha * (2.0 / GAMMA))
    squared *= -GAMMA / (GAMMA - 1.0)
    squared /= safe  # 7.14
    return np.where(still, 1.0, np.sqrt(squared)) if still.any() else np.sqrt(squared)
