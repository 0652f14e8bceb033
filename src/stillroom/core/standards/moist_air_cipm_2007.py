"""Density of moist air, CIPM-2007.

Source: A. Picard, R. S. Davis, M. Gläser, K. Fujii (2008): Revised formula for the density of moist air
(CIPM-2007). Metrologia 45, 149-155. The constants were read in public implementations that cite it.
The real-gas formulation of ASHRAE RP-1485 gives densities 4e-5 higher.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.polynomial import polynomial
from stillroom.core.standards.limits import (
    Flag,
    Flags,
    Limit,
    require_fraction,
    require_positive,
)

CO2_FRACTION = 0.0004
"""Mole fraction of carbon dioxide where it was not measured [1] (appendix A1 of the source)."""

RELATIVE_STANDARD_UNCERTAINTY = 22e-6
"""Relative standard uncertainty of the formula itself, without its inputs [1] (from memory)."""

TEMPERATURE = Limit(
    "air temperature", "T", "K", 288.15, 300.15, Flag.AIR_TEMPERATURE, "CIPM-2007, 15 to 27 °C, from memory"
)
PRESSURE = Limit(
    "air pressure", "p", "Pa", 60e3, 110e3, Flag.AIR_PRESSURE, "CIPM-2007, 600 to 1100 hPa, from memory"
)
LIMITS = (TEMPERATURE, PRESSURE)

R = 8.314472  # J/(mol K), molar gas constant
M_V = 18.01528e-3  # kg/mol, molar mass of water


def saturation_vapour_pressure(temperature: ArrayLike) -> Array:
    """Saturation vapour pressure over water.

    Parameters
    ----------
    temperature : thermodynamic temperature T [K], any shape.

    Returns
    -------
    p_sv [Pa], shape of `temperature`.

    Raises
    ------
    OutOfRange : a temperature is not above zero.

    Source: CIPM-2007, equation (A1.1).
    """
    return _saturation(require_positive("air temperature", temperature, "K"))


def _saturation(T: Array) -> Array:
    exponent = polynomial(T, 1.2378847e-5, -1.9121316e-2, 33.93711047)
    exponent -= 6.3431645e3 / T
    return np.exp(exponent)  # (A1.1)


def vapour_mole_fraction(temperature: ArrayLike, pressure: ArrayLike, humidity: ArrayLike) -> Array:
    """Mole fraction of water vapour in moist air.

    Parameters
    ----------
    temperature : T [K].
    pressure : absolute pressure p [Pa].
    humidity : relative humidity h [1].
        All three broadcast against each other.

    Returns
    -------
    x_v [1], of the broadcast shape.

    Raises
    ------
    OutOfRange : an impossible temperature, pressure or humidity.

    Source: CIPM-2007, equations (A1.2) and (A1.3).
    """
    T = require_positive("air temperature", temperature, "K")
    p = require_positive("absolute air pressure", pressure, "Pa")
    h = require_fraction("relative humidity", humidity)
    t = T - 273.15
    f = polynomial(t, 5.6e-7, 0.0, 1.00062) + 3.14e-8 * p  # (A1.2), enhancement factor
    f *= _saturation(T) / p
    return f * h  # (A1.3)


def density(
    temperature: ArrayLike,
    pressure: ArrayLike,
    humidity: ArrayLike,
    co2_fraction: ArrayLike = CO2_FRACTION,
) -> Array:
    """Density of moist air.

    Parameters
    ----------
    temperature : dry-bulb temperature T [K].
    pressure : absolute pressure p [Pa].
    humidity : relative humidity h [1].
    co2_fraction : mole fraction of carbon dioxide x_CO2 [1].
        All four broadcast against each other.

    Returns
    -------
    ρ [kg/m³], of the broadcast shape.

    Limits
    ------
    `LIMITS`; `validity` gives the flags.

    Raises
    ------
    OutOfRange : an impossible temperature, pressure, humidity or fraction.

    Source: CIPM-2007, equation (1) with appendix A1.
    """
    x_co2 = require_fraction("mole fraction of carbon dioxide", co2_fraction)
    T = np.asarray(temperature, dtype=np.float64)
    p = np.asarray(pressure, dtype=np.float64)
    x_v = vapour_mole_fraction(T, p, humidity)
    M_a = (28.96546 + 12.011 * (x_co2 - 0.0004)) * 1e-3  # (3), molar mass of dry air
    p_T = p / T
    Z = _compressibility(T, p_T, x_v)
    return p_T * (M_a / (Z * R)) * (1.0 - x_v * (1.0 - M_V / M_a))  # (1)


def _compressibility(T: Array, p_T: Array, x_v: Array) -> Array:
    """Compressibility factor Z [1] of moist air, (A1.4), with p_T = p/T [Pa/K]."""
    t = T - 273.15
    inner = polynomial(t, -2.376e-6, 1.9898e-4) * x_v  # (c1 t + c0) x_v
    inner += polynomial(t, -2.051e-8, 5.707e-6)  # b1 t + b0
    inner *= x_v
    inner += polynomial(t, 1.1043e-10, -2.9331e-8, 1.58123e-6)  # a2 t² + a1 t + a0
    virial = polynomial(x_v * x_v, -0.765e-8, 1.83e-11) * p_T  # (d + e x_v²) p/T
    Z = virial - inner
    Z *= p_T
    Z += 1.0
    return Z


def validity(temperature: ArrayLike, pressure: ArrayLike) -> Flags:
    """Flags beside a density: where temperature [K] or pressure [Pa] leave the range of the formula."""
    return TEMPERATURE.flags(temperature) | PRESSURE.flags(pressure)
