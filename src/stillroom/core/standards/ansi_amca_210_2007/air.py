"""Air in a fan test after ANSI/AMCA 210-07 (ANSI/ASHRAE 51-07), section 7.

The text of the standard was not at hand: formulas and their numbers are as transcribed in public
implementations that cite them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import require, require_positive

R = 287.1
"""Gas constant of air as the standard takes it [J/(kg K)]."""

STANDARD_DENSITY = 1.2
"""Density of standard air [kg/m³] (AMCA 210 in SI; also ISO 5801, ISO 5802)."""


def saturation_vapour_pressure(wet_bulb: ArrayLike) -> Array:
    """Saturation vapour pressure at the wet-bulb temperature.

    Parameters
    ----------
    wet_bulb : wet-bulb temperature t_w [K].

    Returns
    -------
    p_e [Pa], shape of `wet_bulb`.

    Limits
    ------
    4 to 32 °C (from memory): a quadratic fit, 0.3 % off a modern formula at 15 °C.

    Raises
    ------
    OutOfRange : a temperature is not above zero.

    Source: ANSI/AMCA 210-07, 7.2.1, as transcribed in public implementations.
    """
    t_w = require_positive("wet-bulb temperature", wet_bulb, "K") - 273.15
    return (3.25 * t_w + 18.6) * t_w + 692.0


def vapour_pressure(dry_bulb: ArrayLike, wet_bulb: ArrayLike, barometer: ArrayLike) -> Array:
    """Partial pressure of water vapour from dry and wet bulb.

    Parameters
    ----------
    dry_bulb : dry-bulb temperature t_d [K].
    wet_bulb : wet-bulb temperature t_w [K], not above the dry bulb.
    barometer : barometric pressure p_b [Pa].
        All three broadcast against each other.

    Returns
    -------
    p_p [Pa], of the broadcast shape.

    Raises
    ------
    OutOfRange : an impossible temperature or pressure; a wet bulb above the dry bulb; a wet bulb so low that
        the vapour pressure would be negative.

    Source: ANSI/AMCA 210-07, 7.2.1, as transcribed in public implementations.
    """
    t_d = require_positive("dry-bulb temperature", dry_bulb, "K")
    p_b = require_positive("barometric pressure", barometer, "Pa")
    depression = require(
        "wet-bulb depression",
        t_d - require_positive("wet-bulb temperature", wet_bulb, "K"),
        lambda v: v >= 0.0,
        "a wet bulb not above the dry bulb",
        "K",
    )
    p_p = saturation_vapour_pressure(wet_bulb) - p_b * depression / 1500.0
    return require("vapour pressure", p_p, lambda v: v >= 0.0, "a wet bulb that such air can have", "Pa")


def ambient_density(dry_bulb: ArrayLike, wet_bulb: ArrayLike, barometer: ArrayLike) -> Array:
    """Density of the air around the test, from dry and wet bulb.

    Parameters
    ----------
    dry_bulb, wet_bulb : t_d, t_w [K].
    barometer : p_b [Pa].
        All three broadcast against each other.

    Returns
    -------
    ρ₀ [kg/m³], of the broadcast shape; 0.03 to 0.07 % below CIPM-2007.

    Raises
    ------
    OutOfRange : as for `vapour_pressure`.

    Source: ANSI/AMCA 210-07, 7.2.1, as transcribed in public implementations.
    """
    p_p = vapour_pressure(dry_bulb, wet_bulb, barometer)
    p_b = np.asarray(barometer, dtype=np.float64)
    return (p_b - 0.378 * p_p) / (R * np.asarray(dry_bulb, dtype=np.float64))


def plane_density(
    ambient: ArrayLike,
    barometer: ArrayLike,
    ambient_temperature: ArrayLike,
    static_pressure: ArrayLike,
    temperature: ArrayLike,
) -> Array:
    """Density at a plane of the chamber from the density of the air around it.

    Parameters
    ----------
    ambient : density of the ambient air ρ₀ [kg/m³].
    barometer : p_b [Pa].
    ambient_temperature : t_d0 [K].
    static_pressure : static pressure p_sx at the plane, above the barometer [Pa].
    temperature : dry-bulb temperature t_dx at the plane [K].
        All broadcast against each other.

    Returns
    -------
    ρ_x [kg/m³], of the broadcast shape.

    Raises
    ------
    OutOfRange : an impossible input, or an absolute pressure at the plane that is not above zero.

    Source: ANSI/AMCA 210-07, 7.2.2, as transcribed in public implementations.
    """
    rho_0 = require_positive("ambient density", ambient, "kg/m³")
    p_b = require_positive("barometric pressure", barometer, "Pa")
    T_0 = require_positive("ambient temperature", ambient_temperature, "K")
    T_x = require_positive("temperature at the plane", temperature, "K")
    p_x = require_positive("absolute pressure at the plane", p_b + np.asarray(static_pressure), "Pa")
    return rho_0 * (p_x / p_b) * (T_0 / T_x)


def viscosity(temperature: ArrayLike) -> Array:
    """Dynamic viscosity of air.

    Parameters
    ----------
    temperature : dry-bulb temperature t_d [K], any shape.

    Returns
    -------
    μ [Pa s], shape of `temperature`; within 0.8 % of the viscosity of real air from 5 to 30 °C up to 60 %
    relative humidity; 1.2 % above it at 40 °C and 50 %, which moves a nozzle's coefficient by 0.04 %.

    Raises
    ------
    OutOfRange : a temperature is not above zero.

    Source: ANSI/AMCA 210-07, equation 7.6, as transcribed in public implementations.
    """
    t = require_positive("air temperature", temperature, "K") - 273.15
    return (17.23 + 0.048 * t) * 1e-6  # 7.6
