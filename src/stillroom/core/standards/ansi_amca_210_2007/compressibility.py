"""Compressibility coefficient K_p after ANSI/AMCA 210-07, 7.9."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import (
    Flag,
    Flags,
    Limit,
    require_finite,
    require_not_negative,
    require_positive,
)

GAMMA = 1.4
"""Isentropic exponent of air [1]."""

AS_ONE = Limit(
    "compressibility coefficient",
    "K_p",
    "1",
    1.0 - 2e-4,
    1.0 + 2e-4,
    Flag.COMPRESSIBILITY,
    "our choice: a fan of a cooling bench stays within it",
)
LIMITS = (AS_ONE,)


def coefficient(
    pressure: ArrayLike, flow: ArrayLike, power: ArrayLike, inlet_pressure: ArrayLike, gamma: float = GAMMA
) -> Array:
    """Compressibility coefficient of a fan.

    Parameters
    ----------
    pressure : fan total pressure P_t [Pa].
    flow : flow at the fan inlet Q [m³/s], above zero.
    power : power put into the air H [W].
    inlet_pressure : absolute total pressure at the fan inlet [Pa].
    gamma : isentropic exponent [1].
        All broadcast against each other.

    Returns
    -------
    K_p [1], of the broadcast shape; 1 where neither pressure nor power is put in.

    Raises
    ------
    OutOfRange : an impossible input (flow or inlet pressure not above zero, negative power).

    Source: ANSI/AMCA 210-07, equations 7.54 to 7.56, as transcribed in public implementations.
    """
    p_1 = require_positive("absolute pressure at the fan inlet", inlet_pressure, "Pa")
    Q = require_positive("flow at the fan inlet", flow, "m³/s")
    x = require_finite("fan total pressure", pressure, "Pa") / p_1  # 7.54
    require_positive("absolute pressure at the fan outlet", 1.0 + x, "of that at the inlet")
    z = (gamma - 1.0) / gamma * (require_not_negative("fan power", power, "W") / Q) / p_1  # 7.55
    return _log_ratio(x) / _log_ratio(z)  # 7.56


def _log_ratio(x: Array) -> Array:
    """ln(1 + x)/x, 1 at x = 0."""
    still = x == 0.0
    return np.where(still, 1.0, np.log1p(x) / np.where(still, 1.0, x))


def validity(coefficients: ArrayLike) -> Flags:
    """Flags beside a conversion that took K_p as 1: where it is not 1 within 2e-4."""
    return AS_ONE.flags(coefficients)
